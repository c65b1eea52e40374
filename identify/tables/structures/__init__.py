"""Files of structures, from any program, into rows."""
