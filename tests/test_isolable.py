"""What no laboratory can bottle is said to be so, and carries next to no prior."""

from __future__ import annotations

import numpy as np
import pytest
from build_candidates import CORRECTIONS
from rdkit import Chem

from identify.chemistry.isolable import why_not_isolable
from identify.compounds.published.corrections import read_corrections
from identify.compounds.table import CandidateTable

# Of each kind one, with a word of the reason. Textbook chemistry; from memory.
_NOT_ISOLABLE = [
    ("ClC#CCl", "explodes"),
    ("C#CC#CC#C", "polyyne"),
    ("COO", "peroxide"),
    ("CCOCl", "halogen"),
    ("CN(Cl)Cl", "halogen"),
    ("O=NOC(=O)C(F)(F)F", "anhydride"),
    ("C=[N+]=[N-]", "diazo"),
    ("CN=[N+]=[N-]", "azide"),
    ("C=CO", "enol"),
    ("CC(C)=N", "imine"),
    ("CC(O)O", "loses water"),
    ("COC(C)O", "loses water"),
    ("CCC(=C=O)CC", "ketene"),
    ("CC=S", "thioaldehyde"),
    ("N#CO", "cyan"),
    ("CN=O", "nitroso"),
    ("C1=CC1", "ring"),
    ("CB(C)B(C)C", "borane"),
]
# Their nearest neighbors in bottles.
_BOTTLED = [
    "C#CCCl",
    "CC#CC#CC",
    "CC(C)(C)OOC(C)(C)C",
    "CC(C)(C)OCl",
    "CON",
    "CC(=O)OC(C)=O",
    "CCOC(=O)C=[N+]=[N-]",
    "C[Si](C)(C)N=[N+]=[N-]",
    "CC(=O)CC(C)=O",
    "CC(=O)C=C(C)O",
    "OC(O)C(Cl)(Cl)Cl",
    "COC(O)C(F)(F)F",
    "OC1CCCCO1",
    "COCOC",
    "C[Si](C)(C)C=C=O",
    "NC(C)=S",
    "CN=C=O",
    "CCON=O",
    "CC1(C)C=C1",
    "CCB(CC)CC",
    "Oc1ccccc1",
    "CC(=O)C(C)=O",
    "CC(=O)O",
    "CCO[N+](=O)[O-]",
    "C[N+](=O)[O-]",
]


@pytest.mark.parametrize(("smiles", "word"), _NOT_ISOLABLE)
def test_what_no_laboratory_can_bottle(smiles: str, word: str) -> None:
    assert word in why_not_isolable(Chem.MolFromSmiles(smiles), 1)


@pytest.mark.parametrize("smiles", _BOTTLED)
def test_what_is_bottled(smiles: str) -> None:
    assert why_not_isolable(Chem.MolFromSmiles(smiles), 0) == ""


def test_no_rule_speaks_against_what_is_sold() -> None:
    assert why_not_isolable(Chem.MolFromSmiles("CC(C)(C)OO"), 6) == ""


def test_it_carries_next_to_no_prior(table: CandidateTable) -> None:
    marked = np.array([bool(reason) for reason in table.text("not_bottled")])
    assert 60 < marked.sum() < 250
    for prior in ("commerce", "classroom"):
        weights = table.weights(prior)
        assert weights[marked].max() < 0.05 * weights[~marked].min()


def test_the_isomers_stand_for_a_form_that_names_none(table: CandidateTable) -> None:
    flat = table.find("540-59-0")[0]
    assert table.text("not_bottled")[flat].startswith("no choice of its own beside ")
    for cas in ("156-59-2", "156-60-5"):
        assert table.text("not_bottled")[table.find(cas)[0]] == ""
        assert cas in table.text("not_bottled")[flat]


def test_every_mark_by_hand_says_why() -> None:
    by_hand = [one for one in read_corrections(CORRECTIONS) if one.column == "not_bottled"]
    assert all(one.reason and one.source and not one.value for one in by_hand)
