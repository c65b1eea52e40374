"""What was read at the bench, in SI units: each reading once, with its stated uncertainty.

*readings* (one number) → *trials* (a pair of weighings with all that belongs to it) → *bench* (a
whole run, as it is compared with candidates). What is not written is NaN, or assumed and marked so.
*laboratory*: where a class works, for which nothing has been read yet.
"""
