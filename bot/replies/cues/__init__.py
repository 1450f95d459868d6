"""A reply by its cues: what a clause of many words tells, where no line of the grammar fits it whole."""
