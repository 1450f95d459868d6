"""A winter cover as a grower builds it: layers, sizes, cap, extras; and its three states."""

from enum import StrEnum


class CoverState(StrEnum):
    """How a cover stands: not on the tree, on with its cap open, on with its cap shut."""

    BARE = "bare"
    VENTED = "vented"
    CLOSED = "closed"
