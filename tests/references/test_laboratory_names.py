"""Names and spellings of the laboratory, and what each must mean.

`laboratory_names.csv` holds what is written on labels, in handouts, price lists and lists of
synonyms: the text, the CAS number that it means, or the CAS numbers that the list of a refused one
must hold, and where it was found. The CAS numbers were looked up apart from the resolver, and are
compared here with the collection of identifiers that the library `chemicals` draws from PubChem.
"""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from identify.compounds.naming.lookup import NameFault, row_meant
from identify.compounds.naming.resolver import built_in_resolver
from identify.compounds.parquet import built_in_table

with Path(__file__).with_name("laboratory_names.csv").open(encoding="utf-8", newline="") as file:
    ROWS = list(csv.DictReader(file))
MEANT = [(row["text"], row["means"]) for row in ROWS if row["means"]]
REFUSED = [(row["text"], row["among"].split()) for row in ROWS if not row["means"]]

# The collection has these words as names of other compounds; those of a laboratory mean what the
# table says. Common practice.
OTHER_IN_COLLECTION = {"methylacetate", "EtBr", "CyH", "PhH", "BTF", "TEA", "DMM", "dioxolan"}


def test_there_are_enough_of_each_kind_with_their_source() -> None:
    assert len(MEANT) >= 350
    assert sum(len(among) > 0 for _, among in REFUSED) >= 60
    assert all(row["source"] for row in ROWS)
    assert len({row["text"] for row in ROWS}) == len(ROWS)


@pytest.mark.parametrize(("text", "cas"), MEANT)
def test_a_name_means_its_compound(text: str, cas: str) -> None:
    table = built_in_table()
    assert table.text("cas")[row_meant(table, text)] == cas


@pytest.mark.parametrize(("text", "among"), REFUSED)
def test_what_is_not_one_compound_is_refused_with_the_list(text: str, among: list[str]) -> None:
    with pytest.raises(NameFault) as refused:
        row_meant(built_in_table(), text)
    message = str(refused.value)
    assert len(message.splitlines()) == 1
    assert [number for number in among if number not in message] == []


def test_the_collection_says_the_same_of_the_names_that_it_has() -> None:
    from chemicals.identifiers import pubchem_db

    pubchem_db.finish_loading()
    called: dict[str, set[str]] = {}
    for entry in set(pubchem_db.CAS_index.values()):
        for name in {*map(str.lower, entry.synonyms), entry.common_name.lower()}:
            called.setdefault(name, set()).add(entry.CASs)
    both = [(text, cas) for text, cas in MEANT if text.lower() in called]
    differing = {text for text, cas in both if cas not in called[text.lower()]}
    assert len(both) > 900
    assert differing == OTHER_IN_COLLECTION


def test_a_name_that_is_usually_one_of_several_is_the_straight_chain_and_said() -> None:
    for name in ("butyl chloride", "propyl bromide", "dipropyl ether"):
        meaning = built_in_resolver().meaning(name)
        assert meaning.is_usual
        assert meaning.problem is not None
        assert "straight chain" in meaning.problem.line(name)
