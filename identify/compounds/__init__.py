"""Candidate compounds: structures, published constants, estimates, and the table of them."""

from identify.compounds.table import ELEMENTS, CandidateTable, TableError, load_candidates

__all__ = ["ELEMENTS", "CandidateTable", "TableError", "load_candidates"]
