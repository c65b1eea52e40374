"""Whether a class can use the bottles: told apart, boiling off, hazards."""
