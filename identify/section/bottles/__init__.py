"""One bottle by all of its students: their card, their weighings, and the key."""
