"""The commands that look up, index and build tables of compounds."""
