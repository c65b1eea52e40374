"""``identify-unknown cards``: cards for the bottles of a stock table, and the instructor's key."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from identify.answers.cards import Paper, Sheet
from identify.cli.options.options import Text, argument, option, takes
from identify.cli.options.targets import same_file
from identify.cli.terminal.output import OutputFormat, write_answer
from identify.cli.terminal.streams import UNUSABLE, Faults, complain
from identify.notebook.saving import written_beside
from identify.tables.limits import MAX_CARDS

if TYPE_CHECKING:
    from identify.answers.cards import Deck
    from identify.answers.text import Page

_MOST_COPIES = 100
_PDF, _HTML = (".pdf",), (".html", ".htm")


@dataclass(frozen=True)
class _StockFile:
    """The stock table."""

    stock: Path = argument("STOCK", "A stock table (CSV, XLSX).")


@dataclass(frozen=True)
class _CardFiles:
    """What to write."""

    pdf: Path | None = option("FILE", "Write the cards as PDF.")
    html: Path | None = option("FILE", "Write the cards as a page for a browser.")
    key: Path | None = option("FILE", "Write the key, .pdf or .html: for the instructor only.")
    pressure: Text = option("QUANTITY", "Boiling points at this pressure; else at 760 mmHg.")
    paper: Paper = option(None, "What it is printed on.", default=Paper.a4)
    copies: int = option("N", "Of each card.", default=1, min=1, max=_MOST_COPIES)
    anyway: bool = option(None, "Make cards of rows that are wrong, too.", default=False)
    format: OutputFormat = option(None, "How to list the cards.", default=OutputFormat.table)


@takes(_StockFile, _CardFiles)
def cards_command(stock: _StockFile, wanted: _CardFiles) -> int:
    r"""Make cards for the bottles of a stock table, without identities, and the key to them.

    A card has the label, the boiling point and the percent composition. Keep the key apart.

    \b
    Example: cards to cut out, at the laboratory's pressure, and the key.
      identify-unknown cards stock.csv --pdf cards.pdf --key key.pdf \
        --pressure "742 mmHg"
    """
    faults = Faults()
    _check_files(stock.stock, wanted, faults)
    if faults.count:
        return UNUSABLE
    deck = _deck(stock.stock, wanted, faults)
    if deck is None:
        return UNUSABLE
    deck = replace(deck, remarks=(*deck.remarks, *_spellings(stock.stock, deck, wanted)))
    for line in deck.remarks:
        complain(f"warning: {line}")
    for line in deck.refused:
        faults(line)
    if not deck.entries:
        faults(f"{stock.stock}: no row can have a card; nothing is written")
        return UNUSABLE
    if (count := len(deck.entries) * wanted.copies) > MAX_CARDS:
        faults(
            f"{stock.stock}: {count:,} cards are too many at once, the most are {MAX_CARDS:,}; "
            "make fewer copies, or split the table"
        )
        return UNUSABLE
    written = _written(deck, wanted, faults)
    _list(deck, written, wanted)
    return faults.status


def _check_files(stock: Path, wanted: _CardFiles, faults: Faults) -> None:
    if wanted.pdf is None and wanted.html is None:
        faults("give --pdf FILE or --html FILE, or both: where the cards are written")
    taken = {"the stock table": stock}
    for name, path, endings in (
        ("--pdf", wanted.pdf, _PDF),
        ("--html", wanted.html, _HTML),
        ("--key", wanted.key, _PDF + _HTML),
    ):
        if path is None:
            continue
        if path.suffix.lower() not in endings:
            faults(f'{name}: "{path}" does not end in {" or ".join(endings[:2])}')
        for other, there in taken.items():
            if same_file(path, there):
                faults(f"{name}: {path} is {other}; give another name")
        if not path.parent.is_dir():
            faults(f"{name}: {path.parent}: there is no such folder; make it first")
        taken[f"that of {name}"] = path


def _deck(stock: Path, wanted: _CardFiles, faults: Faults) -> Deck | None:
    from identify.answers.card_rows import STANDARD, deck_of
    from identify.bench.laboratory import Laboratory
    from identify.notebook.quantity.quantities import QuantityError, as_quantity
    from identify.stock import check_stock
    from identify.tables.stock_rows import read_stock_sheet

    try:
        laboratory = Laboratory.of(wanted.pressure)
        pressure = as_quantity(wanted.pressure, "pressure", "mmHg") or STANDARD
    except QuantityError as error:
        faults.of_option("pressure", error)
        return None
    try:
        check = check_stock(stock, laboratory)
        bottles = read_stock_sheet(stock).bottles
    except (OSError, ValueError) as error:
        faults.of_table(error)
        return None
    if told := check.columns.line(check.file):
        complain(told)
    return deck_of(check, bottles, pressure, wanted.anyway)


def _spellings(stock: Path, deck: Deck, wanted: _CardFiles) -> Iterator[str]:
    from identify.answers.cards import spelled, spelled_out
    from identify.answers.text import elided

    spell: Callable[[str], str] = spelled
    where = "a label cannot hold"
    if any(path and path.suffix.lower() in _PDF for path in (wanted.pdf, wanted.key)):
        from identify.answers.files.typesetting import settable

        spell, where = settable, "the PDF cannot set"
    for row, label in spelled_out(deck.entries, spell):
        yield f"{stock}, row {row}, label: what {where} is spelled out there: {elided(label, 80)}"


def _written(deck: Deck, wanted: _CardFiles, faults: Faults) -> list[Path]:
    """Write what is wanted; return what was."""
    from identify.answers.card_files import cards_page, key_page

    sheet = Sheet(wanted.paper, wanted.copies)

    tasks = [(wanted.pdf, cards_page), (wanted.html, cards_page), (wanted.key, key_page)]
    written = []
    made = [(path, make(deck, path, sheet)) for path, make in tasks if path is not None]
    for path, content in made:
        try:
            with written_beside(path) as beside:
                beside.write_bytes(content)
            written.append(path)
        except OSError as error:
            faults(f"{path}: {error.strerror or error}")
    return written


def _list(deck: Deck, written: list[Path], wanted: _CardFiles) -> None:
    """Print what is on the cards, which is nothing that a student may not see, and the files."""
    data = deck.to_dict()
    records = data.pop("cards")
    answer = {"cards": records, "files": [str(path) for path in written], **data}
    write_answer(
        wanted.format,
        lambda page: _lines(deck, written, wanted, page),
        lambda: answer,
        lambda: [_flat(record) for record in records],
    )


def _lines(deck: Deck, written: list[Path], wanted: _CardFiles, page: Page) -> Iterator[str]:
    from identify.answers.text import TextTable, ending_lines
    from identify.answers.text.last_line import cards_answer

    cells = [
        [
            page.elided(card.label, _WIDEST_LABEL),
            page.text(card.boiling_point.removesuffix(" °C")),
            ", ".join(f"{element} {share}" for element, share in card.composition),
        ]
        for card in deck.cards
    ]
    headings = ["label", f"{page.text('boils, °C')}\nat {deck.pressure}", "percent by mass"]
    yield from TextTable.of(headings, cells, left=(0, 2)).lines()
    yield ""
    if wanted.key in written:
        yield from (*page.wrapped(f"key, for the instructor only: {wanted.key}"), "")
    files = [str(path) for path in written if path != wanted.key]
    answer = cards_answer(len(deck.cards), files, len(deck.refused))
    yield from ending_lines(page, answer, caution=False)


_WIDEST_LABEL = 30


def _flat(record: dict[str, Any]) -> dict[str, Any]:
    percent = record.pop("percent")
    return record | {f"percent_{element}": share for element, share in percent.items()}
