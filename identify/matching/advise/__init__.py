"""What to measure next, and what it would tell."""
