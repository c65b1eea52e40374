"""The molar mass of one unknown as weighed, and what it is uncertain by.

What a match and a molar mass alone have in common: *readings* (the weighings and what each reading
is uncertain by) and *liquids* (the constants that the corrections need) → *model* (molar mass trial
by trial, for any deviations of the inputs) → *weighed* (the trials together) → *budget* (first
order).
"""
