"""Standard output, standard error, and progress."""
