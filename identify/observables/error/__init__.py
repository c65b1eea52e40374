"""How readings err: the density of one beside each candidate, and how classes work."""
