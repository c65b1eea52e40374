"""Templates of the pages and cards."""
