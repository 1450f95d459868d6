"""What the command line can do, one file a subject; imported only when asked for."""
