"""One file a command: it parses, calls and prints."""
