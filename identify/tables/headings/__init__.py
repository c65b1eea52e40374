"""One dictionary of headings for every kind of table.

`spellings` is the plain list of columns and of how people head them; `dictionary` looks the
headings of a table up in it.
"""
