"""Candidate compounds: the table of them, loading, looking up, filtering, and how it is made."""
