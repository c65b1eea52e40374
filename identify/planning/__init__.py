"""Which liquids to put into the bottles, and how good the instruments must be.

A pool of liquids that meet all conditions (`pool`) -> those farthest apart (`choice`) -> a class
that measures and names them (`classroom`, `simulation`) -> how good each instrument must be
(`requirements`) -> what to know of them (`remarks`). `plan` walks this path and returns a `Plan`.
"""
