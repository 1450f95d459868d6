"""The half of bedstraw that touches the world: services, storage, chat and time."""

import os

# The matrices of a reply are small: threads that share one take ten times as long while anything else runs beside them.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
