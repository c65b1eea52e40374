"""A composition as people write it: percentages, a formula, masses of a combustion."""
