"""``identify-unknown candidates``: tables of compounds, looked up, searched and built."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer
from typer.core import TyperGroup

from identify.cli.commands.candidates.build import build_command
from identify.cli.commands.candidates.compounds import write_compounds
from identify.cli.commands.candidates.find import find_command
from identify.cli.commands.candidates.index import index_command
from identify.cli.options.options import Output, argument, candidates_file, takes
from identify.cli.terminal.streams import UNUSABLE, Faults, complain
from identify.cli.terminal.tables import candidate_table

if TYPE_CHECKING:
    from identify.answers.text import Page

_HELP = """
Look compounds up in the table, search it by conditions, build a table of your own, or index one.

\b
Example: everything that is known of two compounds (show may be left out).
  identify-unknown candidates show ethanol 67-64-1
  identify-unknown candidates ethanol 67-64-1

\b
Example: what has this formula, and what boils between two temperatures.
  identify-unknown candidates find --formula C4H8O
  identify-unknown candidates find --boiling-between "60 C" "80 C" \\
    --commonly-sold

\b
Example: a table from structures, for --candidates everywhere else.
  identify-unknown candidates build stockroom.sdf --out stockroom.parquet

\b
Example: a table of millions, sorted so that a match takes a moment.
  identify-unknown candidates index big.parquet --out big.arrow
"""


class _ShownWhereNotSaid(TyperGroup):
    """A group whose command ``show`` may be left out."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Put ``show`` before names that come without a command."""
        if args and args[0] not in (*self.commands, *ctx.help_option_names):
            args = ["show", *args]
        return super().parse_args(ctx, args)


candidates_app = typer.Typer(
    cls=_ShownWhereNotSaid,
    help=_HELP,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)
candidates_app.command("find")(find_command)
candidates_app.command("build")(build_command)
candidates_app.command("index")(index_command)


@dataclass(frozen=True)
class _Named:
    """The compounds to look up, and where."""

    names: list[str] = argument("NAME", "Names, CAS numbers, SMILES or formulas.")
    candidates: Path | None = candidates_file()


@takes(_Named, Output)
def _show_command(named: _Named, output: Output) -> int:
    r"""Show what the table holds on a compound: its constants and where they come from.

    \b
    Example: by name, by CAS number, by formula.
      identify-unknown candidates show ethanol
      identify-unknown candidates show 67-64-1 C4H8O2 --top 5
    """
    from identify.compounds.naming.lookup import NameFault, rows_meant

    faults = Faults()
    table = candidate_table(named.candidates, faults)
    if table is None:
        return UNUSABLE
    found: list[int] = []
    for name in named.names:
        try:
            rows = sorted(rows_meant(table, name), key=lambda row: -table.number("prior")[row])
        except NameFault as fault:
            faults(str(fault))
            continue
        found += rows[: output.top]
        if len(rows) > output.top:
            complain(f'"{name}": {len(rows)} compounds, {output.top} shown; see --top')
    rows = list(dict.fromkeys(found))
    write_compounds(table, rows, output.format, _lines)
    return faults.status


candidates_app.command("show")(_show_command)


def _lines(records: list[dict[str, Any]], page: Page) -> list[str]:
    from identify.answers.text.compound import SOURCES, compound_lines

    blocks = [[*compound_lines(record, page), ""] for record in records]
    return [*(line for block in blocks for line in block), *page.wrapped(SOURCES)]
