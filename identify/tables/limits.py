"""How much of an input is read: what is larger is refused before it is held in memory.

Each limit lies far above what a class or a stockroom writes, and low enough that what is refused is
refused within seconds, and in less than half a gigabyte. Collections of structures are read piece
by piece and may be of any size; their workbooks may not.
"""

from __future__ import annotations

KILOBYTE, MEGABYTE = 1_000, 1_000_000

MAX_FILE = 32 * MEGABYTE
"""Bytes of a table: 100,000 trials take 15 MB."""

MAX_RESULTS = 16 * MEGABYTE
"""Bytes of a section's results as JSON, which take up to thirty times that in memory."""

MAX_RECORD = 200_000
"""Bytes of a run record: a page with a hundred trials takes 10 kB."""

MAX_KEYS = 3_000
"""Keys of a run record, those in its trials too: one that is not known is compared with all."""

MAX_NESTING = 20
"""Tables within tables of a run record; it has two."""

MAX_LINES_PUT_RIGHT = 2_000
"""Lines of a run record that is not TOML, which are read one by one."""

MAX_UNPACKED = 64 * MEGABYTE
"""Bytes of a workbook once unpacked: zip makes a thousandth of what repeats itself."""

MAX_TAGS = 2_000_000
"""Tags in all parts of a workbook, four a cell; they are read at half a million a second."""

MAX_TAGS_TOGETHER = 400_000
"""Tags of a workbook between the ends of two rows or texts, which are held at 600 bytes each."""

MAX_ROWS = 100_000
"""Rows of a table that hold anything: more than a hundred sections."""

MAX_SHEET_ROWS = 1_048_576
"""Rows of a table, blank ones too: a sheet of XLSX has no more (ECMA-376)."""

MAX_COLUMNS = 1_000
"""Columns of a table: a heading that is not known is compared with all that are."""

MAX_CELLS = 2_000_000
"""Cells of a table, in rows that hold anything: twenty columns of `MAX_ROWS`."""

MAX_TEXT = 500
"""Characters of a label, a name or a SMILES: longer than any of a volatile liquid."""

MAX_BROKEN_ROWS = 10_000
"""Rows of a table that cannot be read at all, such as those whose quotation marks do not pair."""

MAX_BLANK_LINES = 1_000_000
"""Blank lines of a collection, where not a tenth as many hold anything: an SDF has three in ten."""

MAX_SMALL_PARQUET = 500_000
"""Rows of a candidate table that are not held against the size of its file, see below."""

MAX_UNPACKING = 100
"""Times that a packed file of compounds may grow, beyond `MAX_UNPACKED`: they shrink tenfold."""

MAX_CARDS = 10_000
"""Cards of a stock table, each copy counted: two hundred sections of fifty bottles."""

MAX_SIMULATED_RUNS = 10_000
"""Runs of each liquid that a plan simulates: a share is known to 0.2 points by then."""

PIPE_PATIENCE = 3.0
"""Seconds that a pipe may give nothing."""

MAX_PIPE_TIME = 5.0
"""Seconds that a pipe may take to its end: a table is there at once, and a trickle never ends."""


def size_text(size: int) -> str:
    """Return a number of bytes for a message.

    Examples
    --------
    >>> size_text(MAX_FILE), size_text(MAX_RECORD)
    ('32 MB', '200 kB')
    """
    return f"{size // MEGABYTE} MB" if size >= MEGABYTE else f"{size // KILOBYTE} kB"
