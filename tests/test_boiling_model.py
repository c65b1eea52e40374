"""The boiling-point estimate: its answers, its refusals, and its file against its training."""

from __future__ import annotations

import subprocess
import sys

import numpy as np
import pytest
from boiling_compounds import RULE, Compounds, is_kept_out
from boiling_figures import classes, crossed_intervals, print_table
from boiling_training import solved
from boiling_weights import slope
from rdkit import Chem

from identify.chemistry.structures import Structure, describe, descriptor_names
from identify.compounds.boiling import model as boiling_model
from identify.compounds.boiling.features import Counts, Describer
from identify.compounds.boiling.interval import Neighborhood, error_scale
from identify.compounds.boiling.kernel import KnownStructures, Shape, Traits, matern
from identify.compounds.boiling.model import (
    REMOTE,
    BoilingModel,
    estimate_boiling_points,
    load_boiling_model,
)
from identify.compounds.loading import load_candidates
from identify.compounds.published.corrections import BY_HAND

TABLE = load_candidates()


@pytest.fixture(scope="module")
def model() -> BoilingModel:
    return load_boiling_model()


@pytest.fixture(scope="module")
def trained(model: BoilingModel) -> Compounds:
    """Return the table's rows of the compounds that the file says it was trained on."""
    place = {key: row for row, key in enumerate(TABLE.text("inchikey"))}
    return Compounds.of(TABLE, [place[str(key)] for key in model.content["inchikeys"]])


# -------------------------------------------------------------------------------------- answers


def test_an_estimate_comes_with_its_interval():
    found = estimate_boiling_points(["CCCCCCO", "OCC(O)CO", "CC1CCC(C(C)C)C(O)C1"])
    half = found.high_C - found.value_C
    assert found.in_domain.all()
    assert found.reason == ["", "", ""]
    assert found.standard_uncertainty_K == pytest.approx(half / 1.96)
    assert found.value_C - found.low_C == pytest.approx(half)
    # Hexanol stands among its homologues, glycerol and menthol do not.
    assert half[0] < 8.0 < half[1]
    assert half[0] < half[2]


def test_the_answer_does_not_depend_on_how_many_are_asked_about(monkeypatch):
    smiles = TABLE.text("smiles")[::600]
    together = estimate_boiling_points(smiles)
    monkeypatch.setattr(boiling_model, "_CHUNK", 3)
    apart = estimate_boiling_points(smiles)
    assert together.reason == apart.reason
    assert together.value_C == pytest.approx(apart.value_C, abs=1e-8, nan_ok=True)
    assert together.high_C == pytest.approx(apart.high_C, abs=1e-8, nan_ok=True)


def test_nothing_asked_nothing_answered():
    found = estimate_boiling_points([])
    assert len(found.value_C) == len(found.in_domain) == len(found.reason) == 0


def test_two_spellings_of_a_structure_boil_alike():
    found = estimate_boiling_points(["CC(C)Cc1ccccc1", "c1ccc(CC(C)C)cc1"])
    assert found.value_C[0] == pytest.approx(found.value_C[1], abs=1e-8)


REFUSED = [
    ("", "cannot be read"),
    ("C1CC", "cannot be read"),
    ("[Na+].[Cl-]", "salt or a mixture"),
    ("CCO.CC", "salt or a mixture"),
    ("O", "no carbon"),
    ("C[Se]C", "Se"),
    ("C[CH2]", "radical"),
    ("[2H]C(Cl)(Cl)Cl", "isotopes"),
    ("CO", "too small"),
    ("C" * 41, "41 heavy atoms"),
    ("C" * 10_000, "10000 characters"),
    ("CN(C)P(=S)(N1CC1)OB(O)[Si]#C", "surroundings"),
]


@pytest.mark.parametrize(("smiles", "words"), REFUSED)
def test_what_it_knows_nothing_of_it_does_not_estimate(smiles, words):
    found = estimate_boiling_points(["CCCCO", smiles])
    assert found.in_domain.tolist() == [True, False]
    assert words in found.reason[1]
    for values in (found.value_C, found.standard_uncertainty_K, found.low_C, found.high_C):
        assert np.isfinite(values).tolist() == [True, False]


def test_what_is_far_from_all_that_it_knows_it_does_not_estimate():
    # Every atom's surroundings are familiar; so much of it in one molecule is not.
    tetraglycine = "NCC(=O)NCC(=O)NCC(=O)NCC(=O)O"
    assert estimate_boiling_points([tetraglycine]).reason == [REMOTE]


def test_an_estimate_loads_neither_scikit_learn_nor_scipy_nor_pandas():
    code = (
        "import sys; from identify.compounds.boiling.model import estimate_boiling_points; "
        "assert estimate_boiling_points(['CCCCO']).in_domain.all(); "
        "print([name for name in ('sklearn', 'scipy', 'pandas') if name in sys.modules])"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert ran.stdout.strip() == "[]"


# ------------------------------------------------------------------------------- pieces by hand


def test_the_kernel_is_what_it_says():
    """Two known structures and one asked about, the four distances counted by hand."""
    known = KnownStructures(
        np.array([[0.0, 1.0], [2.0, 1.0]]),
        {
            "surroundings": Counts.of([{1: 2}, {1: 1, 4: 3}]),
            "pairs": Counts.of([{9: 1}, {}]),
            "pieces": Counts.of([{3: 2}, {3: 1}]),
        },
        Shape((2.0, 3.0, 4.0, 5.0), (0.1, 0.2, 0.3)),
    )
    asked = Traits(
        np.array([[0.5, -1.0]]),
        {"surroundings": [{1: 2, 8: 1}], "pairs": [{9: 1, 6: 5}], "pieces": [{3: 2}]},
    )
    by_hand = [
        1 + 2 * matern(2.5) + 3 * matern(0.1) + 4 * matern(1.0) + 5,
        1 + 2 * matern(3.5) + 3 * matern(0.5) + 4 * matern(1.2) + 5 * matern(0.3),
    ]
    assert known.likeness(asked)[0] == pytest.approx(by_hand, rel=1e-12)


def test_the_kernel_is_positive_definite_even_without_noise(model):
    chosen = slice(None, None, 10)
    traits = Traits(
        model.coordinates[chosen],
        {name: _mappings(counts)[chosen] for name, counts in model.counted.items()},
    )
    own = model.known.likeness(traits)[:, chosen]
    assert own == pytest.approx(own.T, abs=1e-12)
    assert np.diag(own) == pytest.approx(1.0 + model.shape.largest, abs=1e-12)
    assert np.linalg.eigvalsh(own).min() > -1e-10


def test_slope_is_how_fast_the_kernel_falls():
    distance, step = np.array([0.01, 0.3, 1.0, 4.0]), 1e-6
    by_difference = (matern(distance - step) - matern(distance + step)) / (2.0 * step)
    assert slope(distance) == pytest.approx(by_difference, rel=1e-6)


@pytest.mark.filterwarnings("error")
def test_a_class_that_another_estimate_knows_nothing_of_shows_a_dash(capsys):
    """Ten boron compounds, without group contributions; the others' column is read off beside."""
    boron, alkanes = ["CB(C)C"] * 10, ["C" * size for size in range(4, 54)]
    kelvin = np.linspace(300.0, 400.0, 60)
    fold = np.arange(60) % 5
    unseen = (kelvin + fold, np.ones((60, 1)), np.arange(60) < 59, fold)
    beside = np.r_[np.full(10, np.nan), kelvin[10:]]
    print_table("few", boron + alkanes, kelvin, unseen, 1.0, beside)
    lines = capsys.readouterr().out.splitlines()
    assert next(line for line in lines if "boron" in line).endswith("       - of 0")
    assert next(line for line in lines if "hydrocarbons" in line).endswith("     0.0 of 50")


def test_descriptors_found_by_the_set_are_those_found_one_by_one():
    smiles = TABLE.text("smiles")[::500]
    describer = Describer(descriptor_names())
    found = np.array([describer(Chem.MolFromSmiles(written)) for written in smiles])
    assert found == pytest.approx(describe([Structure(written) for written in smiles]), rel=1e-9)


def test_a_descriptor_that_this_rdkit_lacks_is_named():
    with pytest.raises(RuntimeError, match="NoSuchThing"):
        Describer(["RingCount", "NoSuchThing"])


@pytest.mark.parametrize(
    ("place", "worse"),
    [("nearest", 0.2), ("four_nearest", 0.2), ("residuals", 20.0)],
)
def test_a_lonelier_place_has_a_wider_interval(model, place, worse):
    near = Neighborhood(np.array([0.05]), np.array([0.1]), np.array([5.0]))
    far = near._replace(**{place: np.array([worse])})
    widths = [
        error_scale(one.terms(np.array([0]), np.array([400.0])), model.content["scale"])[0]
        for one in (near, far)
    ]
    assert widths[1] > 1.02 * widths[0]


def test_no_interval_is_narrower_or_wider_than_any_that_is_known():
    terms = np.array([[1.0], [0.0], [-1.0]])
    assert error_scale(terms, np.array([100.0])) == pytest.approx([400.0, 1.0, 0.1], rel=1e-12)


# ----------------------------------------------------------------- the file against its training


def test_the_file_was_trained_on_the_table_by_the_rule(model, trained):
    assert str(model.content["rule"]) == RULE
    assert str(model.content["digest"]) == trained.digest(), (
        "the table's boiling points have changed: run scripts/train_boiling_points.py"
    )
    assert model.content["kelvin"] == pytest.approx(trained.kelvin, abs=1e-9)
    assert not any(is_kept_out(key) for key in trained.inchikeys)
    assert max(TABLE.number("boiling_point_u")[trained.rows]) < 2.0
    for row in trained.rows:
        source = TABLE.text("boiling_point_source")[row]
        # What was corrected by hand trains where two collections have it all the same.
        assert source == BY_HAND or int(source.split(" of ")[0]) >= 2


def test_the_features_kept_are_those_of_the_structures(model, trained):
    chosen = np.arange(0, len(trained), 40)
    mols = [Chem.MolFromSmiles(trained.smiles[place]) for place in chosen]
    found = [boiling_model.counted("surroundings", mol) for mol in mols]
    again = model.traits(mols, found)
    assert again.coordinates == pytest.approx(model.coordinates[chosen], abs=1e-6)
    for name, counts in model.counted.items():
        kept = _mappings(counts)
        for place, one in zip(chosen, again.counted[name], strict=True):
            assert kept[place] == {key: min(number, 255) for key, number in one.items()}


def test_the_coefficients_solve_the_training_again(model):
    content = model.content
    counted = {name: _mappings(counts) for name, counts in model.counted.items()}
    own = model.known.likeness(Traits(model.coordinates, counted))
    target = content["kelvin"] - float(content["middle_K"])
    coefficients = content["coefficients"]
    assert own @ coefficients + content["noise"] * coefficients == pytest.approx(target, abs=1e-6)
    again = solved(own, content["noise"], target)
    assert again == pytest.approx(coefficients, rel=1e-6, abs=1e-6 * np.abs(coefficients).max())


def _mappings(counts: Counts) -> list[dict[int, int]]:
    parts = np.split(np.arange(len(counts.places)), counts.ends[1:-1])
    keys = counts.keys[counts.places]
    return [dict(zip(keys[p].tolist(), counts.numbers[p].tolist(), strict=True)) for p in parts]


def test_the_file_says_here_what_it_said_where_it_was_written(model):
    content = model.content
    found = model.estimate([str(written) for written in content["kept_out_smiles"]])
    for name in ("value_C", "low_C", "high_C"):
        expected = content[f"kept_out_{name}"]
        assert getattr(found, name) == pytest.approx(expected, abs=1e-4, nan_ok=True)


def test_estimates_of_the_unseen_are_as_good_as_said(model, trained):
    """In random folds: mean errors, and how many of the 95 % intervals hold."""
    content = model.content
    error = np.abs(content["unseen_estimate"] - content["kelvin"])
    groups = classes(trained.smiles, content["kelvin"])
    inside = content["unseen_inside"]
    assert error.mean() < 6.5
    # What is outside the domain is refused, and never given to anybody.
    assert error[inside].mean() < 6.0
    assert error[groups["C, H, O, boiling at 0 to 150 C"]].mean() < 3.2
    assert inside.mean() > 0.95
    half, _ = crossed_intervals(error, content["unseen_terms"], inside, content["unseen_fold"])
    half = half * content["widening"]  # for compounds less known than these
    assert 0.95 < np.mean(error[inside] <= half[inside]) < 0.98
    ordered = np.flatnonzero(inside)[np.argsort(half[inside])]
    for part in np.array_split(ordered, 4):
        assert 0.94 < np.mean(error[part] <= half[part]) < 0.99
    assert half[ordered[-300]] > 4.0 * half[ordered[300]]


def test_stereoisomers_were_never_divided_between_folds(model, trained):
    folds: dict[str, set[int]] = {}
    for skeleton, fold in zip(trained.skeletons, model.content["unseen_fold"], strict=True):
        folds.setdefault(skeleton, set()).add(int(fold))
    assert max(len(held) for held in folds.values()) == 1
    assert len(set.union(*folds.values())) == 5
