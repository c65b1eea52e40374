"""What the students of a section share: days, instruments, and a constant offset."""
