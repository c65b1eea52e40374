"""The liquids of a pool that are farthest apart."""
