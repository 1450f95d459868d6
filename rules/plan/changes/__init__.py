"""Which changes of a cover are offered to the search: when one may come off, and when none is put on open."""
