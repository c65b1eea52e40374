"""The bench calculations as text for a terminal."""
