"""The rows of a stock table, each by itself and beside the others.

The cells beside the identity (`stated_values`) -> the compound that the row is (`identity`) -> what
is not this compound's (`composition`, `boiling_points`) -> rows that repeat another (`duplicates`),
all called by `row_checks` -> cards that stand at the wrong bottle (`exchanged_cards`). Corrections
are written in the manner of the cell that they replace (`cell_writer`).
"""
