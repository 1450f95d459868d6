"""Which program does what: who leads, who looks at which garden, when each was last heard of."""
