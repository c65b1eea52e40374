"""One dictionary of headings for every kind of table.

`wording` takes a heading apart into words, unit and condition; `phrases` are sets of words in any
order; `spellings` lists for each column the phrases that mean it, or only seem to; `dictionary`
looks a heading up among them, and `header` those of a whole table: what is read as what, what says
the same twice, and what is not read.
"""
