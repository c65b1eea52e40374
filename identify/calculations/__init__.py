"""The bench calculations, each on its own: its result, its uncertainty, and its working."""
