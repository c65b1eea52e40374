"""What a name means: one compound, several to choose from, or none that is known or fits."""
