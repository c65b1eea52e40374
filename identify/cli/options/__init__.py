"""What can be typed behind a command."""
