"""The check of a stock table: what stands in it, and whether a class can use it."""
