"""One thing that came in becomes records and answers."""
