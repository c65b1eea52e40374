"""Elements, formulas, structures and functional groups; knows no table."""
