"""Whatever is given: a documented status, clear lines, no traceback; in bounded time and memory.

What is drawn was valid before something in it was changed. A run is short and the same every time;
``--hypothesis-profile long`` draws other inputs, and many.
"""

from __future__ import annotations

from collections.abc import Sequence

from hypothesis import given
from hypothesis import strategies as st

from identify.tables.headings.dictionary import (
    COLLECTION_HEADINGS,
    STOCK_HEADINGS,
    TRIAL_HEADINGS,
    Dictionary,
)
from identify.tables.headings.spellings import HEADINGS
from tests.fuzz import valid
from tests.fuzz.commands import READINGS, anything_typed, options
from tests.fuzz.files import (
    ODD_CELLS,
    arrow_file,
    collections,
    parquet_file,
    structures,
    table_file,
    workbook,
)
from tests.fuzz.profiles import share
from tests.fuzz.running import Typed, held
from tests.fuzz.spoiling import Draw, encoded, spoiled, spoiled_cells

Way = tuple[str, ...]
_UNITS = ("", "", "_C", "_K", "_kPa", "_mmHg", "_g", "_mL", "_u", " (°F)", "_furlong")


def headings(dictionary: Dictionary) -> tuple[str, ...]:
    known = [one.field for one in HEADINGS if dictionary.kind in one.tables.split()]
    return tuple(f"{field}{unit}" for field in known for unit in _UNITS)


TRIALS = spoiled_cells(st.sampled_from(valid.trial_tables()), headings(TRIAL_HEADINGS))
STOCKS = spoiled_cells(st.sampled_from(valid.stock_tables()), headings(STOCK_HEADINGS))
BOOK_TRIALS = spoiled_cells(
    st.sampled_from(valid.trial_tables()), headings(TRIAL_HEADINGS), ODD_CELLS
)
BOOK_STOCKS = spoiled_cells(
    st.sampled_from(valid.stock_tables()), headings(STOCK_HEADINGS), ODD_CELLS
)
COLLECTED = spoiled_cells(collections(), headings(COLLECTION_HEADINGS), ODD_CELLS)

OF_A_PAGE: Sequence[Way] = (
    ("match", "{}"),
    ("match", "{}"),
    ("match", "{}", "section.csv", "--top", "2"),
    ("match", "{}", "--explain", "acetone"),
    ("match", "{}", "--candidates", "stock.csv"),
    ("match", "{}", "--candidates", "index.arrow"),
    ("match", "{}", "--candidates", "parts"),
    ("molar-mass", "{}"),
    ("molar-mass", "{}", "--as", "acetone"),
)
OF_TRIALS: Sequence[Way] = (
    ("match", "{}"),
    ("match", "{}", "--candidates", "stock.csv", "--strict"),
    ("molar-mass", "{}"),
    ("section", "{}"),
    ("section", "{}", "--key", "stock.csv"),
    ("section", "{}", "--key", "stock.csv", "--candidates", "stock.csv", "--out", "out.json"),
    ("section", "{}", "--key", "stock.csv", "--feedback", "feedback.csv"),
)
OF_A_TABLE: Sequence[Way] = (
    ("match", "page.toml", "--candidates", "{}"),
    ("match", "page.toml", "--candidates", "{}", "--prior", "uniform"),
    ("candidates", "find", "--elements", "C H O", "--candidates", "{}"),
    ("candidates", "show", "ethanol", "--candidates", "{}"),
    ("formula", "C=59.9", "H=13.4", "O=26.7", "--candidates", "{}"),
    ("molar-mass", "page.toml", "--as", "ethanol", "--candidates", "{}"),
)
OF_STOCK: Sequence[Way] = (
    ("check-stock", "{}"),
    ("check-stock", "{}"),
    ("check-stock", "{}", "--fix", "fixed.csv"),
    ("check-stock", "{}", "--fix", "fixed.xlsx"),
    ("section", "section.csv", "--key", "{}"),
    ("cards", "{}", "--html", "cards.html", "--key", "key.html", "--anyway"),
    ("cards", "{}", "--pdf", "cards.pdf"),
    *OF_A_TABLE,
)
OF_STRUCTURES: Sequence[Way] = (
    ("candidates", "build", "{}", "--out", "new.parquet", "--jobs", "1"),
    ("candidates", "build", "{}", "--out", "new.parquet", "--jobs", "1", "--quick"),
    ("candidates", "build", "{}", "stock.csv", "--out", "new.parquet", "--jobs", "1"),
)
OF_LARGE: Sequence[Way] = (
    *OF_A_TABLE[:2],
    ("candidates", "index", "{}", "--out", "new.arrow"),
)


@st.composite
def typed(draw: Draw, ways: Sequence[Way], file: st.SearchStrategy[tuple[str, bytes]]) -> Typed:
    """Draw a way to give a file to a command, and at times further options of that."""
    way, (name, content) = draw(st.sampled_from(ways)), draw(file)
    given_as = "parts" if name.startswith("parts") else name
    arguments = tuple(given_as if one == "{}" else one for one in way)
    form = draw(st.sampled_from([("--format", "json")] * 3 + [("--format", "csv"), ()]))
    command = way[:2] if way[0] == "candidates" else way[:1]
    # Instead of a file, nothing is typed that could stand in it.
    without = READINGS if way[0] in ("match", "molar-mass") else ()
    further = draw(options(command, without=without)) if draw(st.sampled_from([0, 0, 1])) else ()
    return Typed((*arguments, *form, *further), {name: content})


PAGES = st.tuples(
    st.sampled_from(["new.toml"] * 20 + ["new.txt"]),
    encoded(spoiled(st.sampled_from(valid.pages()), 3)),
)


@share(1.0)
@given(typed(OF_A_PAGE, PAGES))
def test_a_page(given: Typed) -> None:
    held("pages", given)


@share(0.2)
@given(typed(OF_TRIALS, table_file(TRIALS, "new")))
def test_a_trial_table(given: Typed) -> None:
    held("trials", given)


@share(0.8)
@given(typed(OF_STOCK, table_file(STOCKS, "new")))
def test_a_stock_table(given: Typed) -> None:
    held("stocks", given)


@share(0.1)
@given(typed(OF_TRIALS, workbook(BOOK_TRIALS, "new")))
def test_a_workbook_of_trials(given: Typed) -> None:
    held("books", given)


@share(0.2)
@given(typed(OF_STOCK, workbook(BOOK_STOCKS, "new")))
def test_a_workbook_of_bottles(given: Typed) -> None:
    held("books", given)


@share(0.6)
@given(
    typed(OF_STRUCTURES, structures() | table_file(COLLECTED, "new") | workbook(COLLECTED, "new"))
)
def test_structures(given: Typed) -> None:
    held("structures", given)


@share(0.6)
@given(typed((*OF_A_TABLE, *OF_LARGE), parquet_file()))
def test_a_parquet_file(given: Typed) -> None:
    held("parquet", given)


@share(0.4)
@given(typed(OF_LARGE, arrow_file()))
def test_an_index_or_parts(given: Typed) -> None:
    held("arrow", given)


@share(1.0)
@given(anything_typed(), st.text(st.sampled_from("ynC-14.5 \n\t\x1b"), max_size=40))
def test_any_options(arguments: tuple[str, ...], answers: str) -> None:
    held("options", Typed(arguments, answers=answers))


@share(1.0)
@given(st.sampled_from(valid.typed()), st.data())
def test_a_command_with_one_word_spoiled(words: tuple[str, ...], data: st.DataObject) -> None:
    place = data.draw(st.integers(1, max(len(words) - 1, 1)))
    spoilt = [*words[:place], data.draw(spoiled(st.just(" ".join(words[place : place + 1])), 2))]
    held("typed", Typed((*spoilt, *words[place + 1 :])))
