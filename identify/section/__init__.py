"""The check of a section: every student, every unknown, and what all of them share."""
