"""What one bottle held, from all students who had it."""
