"""Whether a class can use the bottles.

The compounds of all rows, each once (`shelf`) -> whether they boil off in the bath (`method`),
which of them cannot be told apart (`groups`), and which are dangerous (`hazards`).
"""
