"""The commands that make something to fill in."""
