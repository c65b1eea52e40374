#!/usr/bin/env python3
"""Train the boiling-point estimate on the trustworthy part of the built-in table.

Usage: python scripts/train_boiling_points.py [--out data/boiling_model.npz] [--interval-only]

Cross-validates in five random folds (kernel weights learned anew in each), takes the prediction
intervals from what was unseen there and from compounds that one collection alone lists, trains on
all folds together, and prints how well it does. One thread, fixed seeds: the same file from the
same table. About twelve minutes. With --interval-only, one minute: the width of a trained model's
intervals is worked out anew, all else stays.
`boiling_point_study.py` prints more about what it wrote, and takes it to new scaffolds.
"""

from __future__ import annotations

import argparse
import time
from pathlib import Path
from typing import Any

import numpy as np
import rdkit
from boiling_compounds import (
    RULE,
    Compounds,
    SinglyPublished,
    is_kept_out,
    published_by_smiles,
    random_folds,
    trustworthy_rows,
)
from boiling_figures import print_accuracy, print_singly_published
from boiling_training import (
    MISPRINT_K,
    Drawn,
    Solution,
    Unseen,
    apply,
    coordinates,
    cross_validated,
    fitted_scale,
    interval_factor,
    interval_widening,
    train,
)
from rdkit import Chem
from threadpoolctl import threadpool_limits

from identify.compounds.boiling.features import Counts
from identify.compounds.boiling.interval import error_scale
from identify.compounds.boiling.model import MODEL, BoilingModel
from identify.compounds.loading import load_candidates
from identify.notebook.saving import written_beside
from identify.physics.constants import ICE_POINT

DATA = Path(__file__).parents[1] / "data"


@threadpool_limits.wrap(limits=1)
def main() -> None:
    """Cross-validate, train, write, report."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path, default=DATA / MODEL)
    parser.add_argument("--interval-only", action="store_true", help="the model stays as it is")
    options = parser.parse_args()
    if options.interval_only:
        widen_again(options.out)
        return
    started = time.perf_counter()
    table = load_candidates()
    published = published_by_smiles()
    compounds = Compounds.of(table, trustworthy_rows(table, published))
    kept_out = np.array([is_kept_out(key) for key in compounds.inchikeys])
    among = np.flatnonzero(~kept_out)
    print(f"{len(compounds)} compounds: {RULE}")
    print(f"{kept_out.sum()} of them kept out; {len(among)} take part")
    drawn = Drawn(compounds.smiles)
    fold = random_folds([compounds.skeletons[place] for place in among])
    unseen = cross_validated(drawn, fold, compounds.kelvin, among)
    solution = train(drawn, among, compounds.kelvin)
    content = model_content(compounds, drawn, solution, unseen)
    known = set(compounds.skeletons)
    content |= widened(content, SinglyPublished.of(table, published, known))
    content |= _kept_out_estimates(content, compounds, np.flatnonzero(kept_out))
    with written_beside(options.out) as beside:
        np.savez_compressed(beside, **content)
    widening = float(content["widening"])
    print_accuracy("random folds", compounds.smiles, among, compounds.kelvin, unseen, widening)
    print_singly_published(content)
    new = apply(drawn, solution, np.flatnonzero(kept_out))
    missed = np.abs(new.estimate - compounds.kelvin[kept_out])
    print(f"kept out: mean {missed.mean():.2f} K, median {np.median(missed):.2f} K")
    minutes = (time.perf_counter() - started) / 60.0
    print(f"{options.out}: {options.out.stat().st_size / 1e6:.2f} MB, {minutes:.1f} minutes")


def model_content(
    compounds: Compounds, drawn: Drawn, solution: Solution, unseen: Unseen
) -> dict[str, Any]:
    """Return what the model's file holds."""
    places, scaling, learned = solution.places, solution.scaling, solution.learned
    trained = Compounds(
        compounds.rows[places],
        [compounds.smiles[place] for place in places],
        [compounds.inchikeys[place] for place in places],
        compounds.kelvin[places],
    )
    inside = unseen.inside(unseen.farthest)
    error = np.abs(unseen.estimate - trained.kelvin)
    scale = fitted_scale(unseen.terms[inside], error[inside])
    width = error_scale(unseen.terms, scale)
    content: dict[str, Any] = {
        # From a structure to its coordinates.
        "descriptors": np.array(scaling.descriptors),
        "frequent": scaling.frequent,
        "center": scaling.center,
        "spread": scaling.spread,
        "weight": scaling.weight,
        # The kernel.
        "amplitudes": np.array(learned.shape.amplitudes),
        "rates": np.array(learned.shape.rates),
        # The compounds trained on: scaled features, dual coefficients, what was missed.
        "scaled": coordinates(drawn, scaling, places),
        "coefficients": solution.coefficients,
        "noise": solution.noise,
        "middle_K": np.array(solution.middle),
        "residuals": solution.residuals,
        "inchikeys": np.array(trained.inchikeys),
        "kelvin": trained.kelvin,
        # The interval and the domain.
        "scale": scale,
        "factor": np.array(interval_factor(error[inside], width[inside])),
        "farthest": np.array(unseen.farthest),
        # What the folds made of each compound while it was unseen.
        "unseen_estimate": unseen.estimate,
        "unseen_terms": unseen.terms,
        "unseen_inside": inside,
        "unseen_fold": unseen.fold,
        # What it was made from, and with.
        "rule": np.array(RULE),
        "digest": np.array(trained.digest()),
        "rdkit": np.array(rdkit.__version__),
    }
    for name, counted in drawn.counted.items():
        counts = Counts.of([counted[place] for place in places])
        for part in ("keys", "ends", "places", "numbers"):
            content[f"{name}_{part}"] = getattr(counts, part)
    return content


def widened(content: dict[str, Any], single: SinglyPublished) -> dict[str, Any]:
    """Return the factor of the interval that holds for compounds of one collection too.

    And what becomes of these: their published values, estimates and halves of the interval [K].
    """
    found = BoilingModel(content).estimate(single.smiles)
    value, half = found.value_C + ICE_POINT, found.high_C - found.value_C
    error = np.abs(value - single.kelvin)
    used = found.in_domain & (error < MISPRINT_K)
    inside = content["unseen_inside"]
    width = error_scale(content["unseen_terms"], content["scale"]) * float(content["factor"])
    folds = np.abs(content["unseen_estimate"] - content["kelvin"])[inside] / width[inside]
    calibrating = used & single.calibrates
    widening = interval_widening(folds, error[calibrating] / half[calibrating])
    return {
        "factor": np.array(widening * float(content["factor"])),
        "widening": np.array(widening),
        "single_smiles": np.array(single.smiles)[used],
        "single_kelvin": single.kelvin[used],
        "single_estimate": value[used],
        "single_half": widening * half[used],
        "single_calibrates": single.calibrates[used],
        "single_misprints": np.array(int((found.in_domain & ~used).sum())),
    }


def widen_again(path: Path) -> None:
    """Work out the widening of a trained model's intervals anew, and write it into its file."""
    with np.load(path, allow_pickle=False) as kept:
        content = {name: kept[name] for name in kept.files}
    content["factor"] = content["factor"] / content.get("widening", 1.0)
    keys = [*content["inchikeys"], *_inchikeys(content["kept_out_smiles"])]
    known = {str(key)[:14] for key in keys}
    single = SinglyPublished.of(load_candidates(), published_by_smiles(), known)
    content |= widened(content, single)
    model = BoilingModel(content).estimate([str(one) for one in content["kept_out_smiles"]])
    content |= {"kept_out_low_C": model.low_C, "kept_out_high_C": model.high_C}
    with written_beside(path) as beside:
        np.savez_compressed(beside, **content)
    print_singly_published(content)


def _inchikeys(smiles: np.ndarray) -> list[str]:
    return [Chem.MolToInchiKey(Chem.MolFromSmiles(str(one))) for one in smiles]


def _kept_out_estimates(
    content: dict[str, Any], compounds: Compounds, places: np.ndarray
) -> dict[str, Any]:
    """Estimates of the compounds kept out, for a test that the file says the same elsewhere."""
    smiles = [compounds.smiles[place] for place in places]
    found = BoilingModel(content).estimate(smiles)
    return {
        "kept_out_smiles": np.array(smiles),
        "kept_out_kelvin": compounds.kelvin[places],
        "kept_out_value_C": found.value_C,
        "kept_out_low_C": found.low_C,
        "kept_out_high_C": found.high_C,
    }


if __name__ == "__main__":
    main()
