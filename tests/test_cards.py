"""Bottle cards and the key: what they say, what they must not say."""

from __future__ import annotations

import io
import re
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path

import pypdf
import pytest

from identify import load_candidates
from identify.answers.card_rows import deck_of
from identify.answers.cards import KEY_FIRST_LINE, Deck, KeyEntry, Paper, PrintedCard, Sheet
from identify.answers.files.cards_pdf import cards_pdf, key_pdf
from identify.answers.html.cards import cards_html, key_html
from identify.compounds.naming.meaning import Compound
from identify.notebook.findings import Finding
from identify.notebook.quantity.quantities import Quantity, read_quantity
from identify.physics.constants import ELEMENTS
from identify.stock.result import Hazards, StockCheck, StockRow
from identify.tables.stock_rows import read_stock_sheet

A4 = Sheet(Paper.a4)
LIQUIDS = (
    ("K-10", "methanol"),
    ("K-2", "acetone"),
    ("K-7", "chloroform"),
    ("D-02", "ethyl acetate"),
    ("D-01", "acetonitrile"),
    ("K-1", "hexane"),
    ("K-3", "ethanol"),
    ("K-4", "diethyl ether"),
    ("K-5", "1-bromopropane"),
    ("K-6", "isopropanol"),
)


def compound(name: str) -> Compound:
    """Return a compound of the built-in table."""
    table = load_candidates()
    (place,) = table.find(name)
    percent = {element: float(table.number(f"percent_{element}")[place]) for element in ELEMENTS}
    return Compound(
        *(table.text(column)[place] for column in ("name", "cas", "smiles", "inchikey", "formula")),
        molar_mass=float(table.number("molar_mass")[place]),
        percent={element: share for element, share in percent.items() if share > 0.0},
        boiling_point_C=float(table.number("boiling_point_C")[place]),
        boiling_point_u=float(table.number("boiling_point_u")[place]),
        place=place,
    )


MakeDeck = Callable[..., Deck]


@pytest.fixture
def deck(tmp_path: Path) -> MakeDeck:
    def make(
        rows: Iterable[tuple[str, ...]],
        columns: str = "label,identity",
        findings: Mapping[int, Finding] | None = None,
        pressure: str = "760 mmHg",
        anyway: bool = False,
    ) -> Deck:
        """Return the deck of rows whose second cell names the compound, or nothing known."""
        cells = list(rows)
        path = tmp_path / "stock.csv"
        lines = [columns, *(",".join(f'"{_quoted(cell)}"' for cell in row) for row in cells)]
        path.write_text("\n".join(lines), encoding="utf-8")
        checked = []
        for number, (label, name, *_) in enumerate(cells, start=2):
            found = compound(name) if load_candidates().find(name) else None
            own = (findings or {}).get(number)
            hazards = None if found is None else Hazards(-20.0, "a list: suspected")
            said = () if own is None else (own,)
            checked.append(StockRow(number, label, name, found, said, hazards=hazards))
        bottles = read_stock_sheet(path).bottles
        check = StockCheck("stock.csv", tuple(checked))
        return deck_of(check, bottles, read_quantity(pressure, "pressure", "mmHg"), anyway)

    return make


def _quoted(cell: str) -> str:
    return cell.replace('"', '""')


def card(label: str, boiling_point: float = 64.5, **percent: float) -> PrintedCard:
    return PrintedCard(label, boiling_point, percent or {"C": 37.484, "H": 12.583, "O": 49.933})


def pages(document: bytes) -> list[str]:
    reader = pypdf.PdfReader(io.BytesIO(document))
    return [" ".join(page.extract_text().split()) for page in reader.pages]


def text_of_html(html: str) -> str:
    body = html.partition("<body>")[2]
    return " ".join(re.sub(r"<[^>]*>", " ", body).split())


# -------------------------------------------------------------------------- what a card says


def test_card_has_label_boiling_point_and_composition(deck: MakeDeck) -> None:
    (made,) = deck([("K-10", "methanol")]).cards
    assert (made.label, made.boiling_point) == ("K-10", "64.5 °C")
    assert made.composition == (("C", "37.49"), ("H", "12.58"), ("O", "49.93"))
    for text in (
        *pages(cards_pdf([made], "760 mmHg", A4)),
        text_of_html(cards_html([made], "760 mmHg", A4)),
    ):
        for part in ("K-10", "64.5 °C", "at 760 mmHg", "C 37.49", "H 12.58", "O 49.93", "hood"):
            assert part in text
        assert "Do not taste or sniff it" in text


@pytest.mark.parametrize(
    ("percent", "said"),
    [
        ({"C": 52.144, "H": 13.128, "O": 34.728}, ""),
        ({"C": 10.061, "H": 0.844, "Cl": 89.094}, "(each is rounded; they add up to 99.99)"),
        ({"C": 22.045, "H": 4.625, "Br": 73.326}, "(each is rounded; they add up to 100.00)"),
        ({"C": 22.046, "H": 4.626, "Br": 73.328}, "(each is rounded; they add up to 100.01)"),
    ],
)
def test_what_rounding_leaves_is_said(percent: dict[str, float], said: str) -> None:
    made = card("K-1", 50.0, **percent)
    total = sum(float(share) for _, share in made.composition)
    assert made.rounding == (said if abs(total - 100.0) > 0.005 else "")
    (text,) = pages(cards_pdf([made], "760 mmHg", A4))
    assert ("add up to" in text) == bool(made.rounding)
    assert ("add up to" in cards_html([made], "760 mmHg", A4)) == bool(made.rounding)


def test_cards_and_key_are_in_natural_order(deck: MakeDeck) -> None:
    made = deck(LIQUIDS)
    expected = ["D-01", "D-02", "K-1", "K-2", "K-3", "K-4", "K-5", "K-6", "K-7", "K-10"]
    assert [one.label for one in made.cards] == expected
    for text in (" ".join(pages(key_pdf(made, A4))), text_of_html(key_html(made, A4))):
        places = [re.search(rf"{label}(?!\d)", text) for label in expected]
        starts = [place.start() for place in places if place is not None]
        assert len(starts) == len(expected)
        assert starts == sorted(starts)


# ------------------------------------------------------------------------ boiling points


@pytest.mark.parametrize(
    ("stated", "at", "pressure", "expected", "remark"),
    [
        ("", "", "760 mmHg", 78.4, None),
        ("78.1", "", "760 mmHg", 78.1, None),
        ("80.3", "", "760 mmHg", 80.3, None),
        ("81.5", "", "760 mmHg", 78.4, "81.5 °C does not agree with the published 78.4 °C"),
        ("351.25 K", "", "760 mmHg", 78.1, None),
        # Ethanol boils at 76.4 °C under 700 mmHg, as the doctest of the curve says.
        ("", "", "700 mmHg", 76.3, None),
        ("78.1", "", "700 mmHg", 76.0, None),
        ("76.3", "700", "700 mmHg", 76.3, None),
        ("76.3", "700", "760 mmHg", 78.4, None),
        ("70", "700", "700 mmHg", 76.3, "70.0 °C does not agree with the published 76.3 °C"),
    ],
)
def test_boiling_point_is_the_rows_own_where_it_is_right(
    deck: MakeDeck, stated: str, at: str, pressure: str, expected: float, remark: str | None
) -> None:
    columns = "label,identity,boiling_point_C,boiling_point_at_mmHg"
    made = deck([("K-1", "ethanol", stated, at)], columns, pressure=pressure)
    assert made.cards[0].boiling_point_C == pytest.approx(expected, abs=0.1)
    assert made.pressure == pressure
    if remark is None:
        assert made.remarks == ()
    else:
        (line,) = made.remarks
        assert line.startswith(f"stock.csv, row 2, boiling_point_C: {remark}; the card has the")


# Ethanol's 78.41 °C at 760 mmHg, by Young's relation: 1.0e-4 * 18 mmHg * 351.6 K lower.
YOUNG = 78.41 - 0.63


@pytest.mark.parametrize("written", ["742 mmHg", "98.93 kPa", "29.2 inHg", "742.0 ± 0.5 mmHg"])
def test_pressure_is_shown_as_it_was_given(deck: MakeDeck, written: str) -> None:
    made = deck([("K-1", "ethanol")], pressure=written)
    assert made.pressure == re.sub(r" ± [\d.]+", "", written)
    assert made.cards[0].boiling_point_C == pytest.approx(YOUNG, abs=0.05)


def test_boiling_point_below_zero_has_a_minus_sign() -> None:
    assert card("K-1", -0.5).boiling_point == "−0.5 °C"
    assert card("K-1", -0.02).boiling_point == "0.0 °C"


# --------------------------------------------------------------------------- rows without one

WRONG = Finding("formula-differs", "error", "The formula is not that.", "Correct it.")
DOUBT = Finding("bath-margin", "warning", "Boils near the bath.", "Mind it.")


@pytest.mark.parametrize(
    ("rows", "findings", "refused", "even_anyway"),
    [
        ([("", "ethanol")], {}, "row 2, label: is empty; a card needs the label", True),
        ([("K-1", "ethonal")], {}, "row 2, identity: is not a compound known here", True),
        ([("K-1", "ethonal")], {2: WRONG}, "row 2 (K-1): The formula is not that.", True),
        ([("K-1", "ethanol")], {2: WRONG}, "row 2 (K-1): The formula is not that.", False),
        ([("Ethanol 3", "ethanol")], {}, 'row 2, label: "Ethanol 3" gives away a liquid', False),
        ([("64-17-5", "ethanol")], {}, "gives away a liquid (64-17-5)", False),
        ([("C2H6O", "ethanol")], {}, "gives away a liquid (C2H6O)", False),
        ([("CCO", "ethanol")], {}, "gives away a liquid (CCO)", False),
    ],
)
def test_rows_without_a_card(
    deck: MakeDeck,
    rows: list[tuple[str, ...]],
    findings: dict[int, Finding],
    refused: str,
    even_anyway: bool,
) -> None:
    both = [*rows, ("K-9", "acetone")]
    made = deck(both, findings=findings)
    assert [one.label for one in made.cards] == ["K-9"]
    assert len(made.refused) == 1
    assert refused in made.refused[0]
    anyway = deck(both, findings=findings, anyway=True)
    assert (len(anyway.cards) == 1) is even_anyway
    assert refused in (anyway.refused if even_anyway else anyway.remarks)[0]


@pytest.mark.parametrize("name", ["ethanol", "acetone"])
@pytest.mark.parametrize("identity", ["name", "cas", "inchikey", "formula", "smiles"])
def test_a_label_by_any_name_of_a_liquid(deck: MakeDeck, name: str, identity: str) -> None:
    label = getattr(compound(name), identity)
    made = deck([(label, "methanol"), ("K-1", "ethanol"), ("K-2", "acetone")])
    assert [one.label for one in made.cards] == ["K-1", "K-2"]
    assert f"gives away a liquid ({label})" in made.refused[0]


@pytest.mark.parametrize("label", ["CO-3", "K-1 C", "Methanolic", "CCO-2", "O", "164-17-51"])
def test_labels_that_give_nothing_away(deck: MakeDeck, label: str) -> None:
    made = deck([(label, "ethanol"), ("K-2", "methanol")])
    assert made.refused == ()


def test_a_label_of_two_liquids_is_refused_to_both(deck: MakeDeck) -> None:
    rows = [("K-1", "ethanol"), ("k-1", "acetone"), ("K-2", "methanol")]
    twice = Finding("label-twice", "error", "Bottle k-1 stands in row 2 already.", "Change it.")
    made = deck(rows, findings={3: twice})
    assert [one.label for one in made.cards] == ["K-2"]
    assert len(made.refused) == 2
    assert all("stands in other rows too, for another liquid" in line for line in made.refused)
    assert len(deck(rows, anyway=True).cards) == 3


def test_two_bottles_of_one_liquid_may_share_a_label(deck: MakeDeck) -> None:
    made = deck([("K-1", "ethanol"), ("K-1", "64-17-5")])
    assert (len(made.cards), made.refused) == (2, ())


def test_warnings_of_the_check_refuse_nothing(deck: MakeDeck) -> None:
    made = deck([("K-1", "ethanol")], findings={2: DOUBT})
    assert (len(made.cards), made.refused, made.remarks) == (1, (), ())


def test_a_boiling_point_that_nobody_knows(tmp_path: Path) -> None:
    path = tmp_path / "stock.csv"
    path.write_text("label,identity,boiling_point_C\nK-1,CC(C)(C)OCC(F)F,\nK-2,same,91.4\n")
    new = Compound("", "", "CC(C)(C)OCC(F)F", "", "C6H12F2O", 138.16, {"C": 52.2, "H": 8.8})
    check = StockCheck("stock.csv", (StockRow(2, "K-1", "x", new), StockRow(3, "K-2", "y", new)))
    made = deck_of(check, read_stock_sheet(path).bottles, Quantity(700.0, "mmHg"))
    assert "row 2, boiling_point_C: is empty, and none is published" in made.refused[0]
    # Trouton's rule: 364.55 K / (1 - ln(700/760) / 10.6) = 361.74 K.
    assert made.cards[0].boiling_point_C == pytest.approx(88.6, abs=0.05)


def test_an_estimate_is_told(deck: MakeDeck) -> None:
    table = load_candidates()
    estimated = table.number("boiling_point_published") == 0.0
    name = table.text("cas")[int(estimated.argmax())]
    (remark,) = deck([("K-1", name)]).remarks
    assert "none is published; the card has an estimate" in remark


# ----------------------------------------------------------------------- what cards must not say


def test_cards_give_no_identity_away(deck: MakeDeck) -> None:
    made = deck(LIQUIDS)
    document = cards_pdf(made.cards, made.pressure, A4)
    reader = pypdf.PdfReader(io.BytesIO(document))
    texts = {
        "text": " ".join(pages(document)),
        "metadata": repr(dict(reader.metadata or {})),
        "bytes": document.decode("latin-1"),
        "page": cards_html(made.cards, made.pressure, A4),
    }
    assert len(made.entries) == len(LIQUIDS)
    for entry in made.entries:
        known = entry.compound
        names = (known.name, known.cas, known.inchikey)
        for where, text in texts.items():
            for name in names:
                assert name.casefold() not in text.casefold(), (where, name)
            # What is as short as these stands in compressed bytes by chance.
            if where != "bytes":
                for short in (known.formula, known.smiles, f"{known.molar_mass:.2f}"):
                    assert not re.search(rf"(?<!\w){re.escape(short)}(?!\w)", text), (where, short)
    assert "<!--" not in texts["page"]
    assert KEY_FIRST_LINE not in texts["page"] + texts["text"]


def test_cards_depend_on_nothing_that_they_do_not_show(deck: MakeDeck) -> None:
    first, second = (
        deck([("K-1", name, "36.5")], "label,identity,boiling_point_C", anyway=True)
        for name in ("methyl acetate", "ethyl formate")
    )
    same = [PrintedCard("K-1", 55.0, one.cards[0].percent) for one in (first, second)]
    assert cards_pdf(same[:1], "760 mmHg", A4) == cards_pdf(same[1:], "760 mmHg", A4)
    assert cards_html(same[:1], "760 mmHg", A4) == cards_html(same[1:], "760 mmHg", A4)


def test_title_and_language() -> None:
    reader = pypdf.PdfReader(io.BytesIO(cards_pdf([card("K-1")], "760 mmHg", A4)))
    assert reader.metadata is not None
    assert reader.metadata.title == "Bottle cards"
    assert not reader.metadata.subject
    assert reader.root_object["/Lang"] == "en"
    assert '<html lang="en">' in cards_html([card("K-1")], "760 mmHg", A4)


# -------------------------------------------------------------------------------------- the key


def test_key_has_what_the_instructor_needs(deck: MakeDeck) -> None:
    made = deck([("K-2", "acetone"), ("K-1", "methanol")], pressure="742 mmHg")
    for text in (*pages(key_pdf(made, A4)), text_of_html(key_html(made, A4))):
        text = text.replace("\xa0", " ")
        assert text.startswith(KEY_FIRST_LINE)
        assert "Boiling points at 742 mmHg" in text
        parts = (
            "K-2 acetone 67-64-1 C3H6O 58.08 55.4 C 62.04, H 10.41, O 27.55 −20 a list: suspected"
        )
        assert parts in text


def test_key_has_a_dash_where_nothing_is_known() -> None:
    new = Compound("new", "", "CC(C)(C)OCC(F)F", "", "C6H12F2O", 138.16, {"C": 52.16, "H": 8.75})
    made = Deck("760 mmHg", (KeyEntry(2, PrintedCard("K-1", 91.4, new.percent), new, Hazards()),))
    for text in (*pages(key_pdf(made, A4)), text_of_html(key_html(made, A4))):
        text = text.replace("\xa0", " ")
        assert "K-1 new – C6H12F2O 138.16 91.4 C 52.16, H 8.75 – –" in text
        assert "a dash says that those looked through have no entry" in text


def test_key_goes_over_pages_with_its_heading_on_each(deck: MakeDeck) -> None:
    made = deck([(f"K-{number}", "ethanol") for number in range(60)])
    every = pages(key_pdf(made, Sheet(Paper.letter)))
    assert len(every) > 1
    assert all(page.startswith(KEY_FIRST_LINE) and "CAS number" in page for page in every)
    assert sum(page.count("64-17-5") for page in every) == 60
