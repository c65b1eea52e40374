"""What a whole section has in common: instruments, days, and a constant offset."""
