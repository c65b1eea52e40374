"""A boiling point estimated from structure."""
