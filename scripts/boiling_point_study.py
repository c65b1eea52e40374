#!/usr/bin/env python3
"""What the boiling-point estimate is worth, and which published values it speaks against.

Usage: python scripts/boiling_point_study.py [--model data/boiling_model.npz]
                                             [--scaffolds | --audit [--beyond 1.5] | --speed]

Without options: errors and intervals by class, of estimates in random folds as the model's file
keeps them, beside the group-contribution estimate that `chemicals` tabulates (Joback, K. G.; Reid,
R. C. Chem. Eng. Commun. 1987, 57, 233). ``--scaffolds``: the same in folds that share no scaffold,
trained anew, twelve minutes. ``--audit``: published boiling points of the built-in table far
outside their interval, the farthest first, each estimated without having been seen. ``--speed``:
structures a second.
"""

from __future__ import annotations

import argparse
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from boiling_compounds import Compounds, published_by_smiles, scaffold_folds
from boiling_figures import (
    crossed_intervals,
    print_accuracy,
    print_singly_published,
    print_table,
)
from boiling_training import Drawn, cross_validated
from numpy.typing import NDArray
from threadpoolctl import threadpool_limits

from identify.compounds.boiling.model import MODEL, BoilingModel, load_boiling_model
from identify.compounds.loading import load_candidates
from identify.compounds.published.literature import group_contribution_boiling_point
from identify.compounds.table import CandidateTable
from identify.physics.constants import ICE_POINT

DATA = Path(__file__).parents[1] / "data"
Array = NDArray[np.float64]


@threadpool_limits.wrap(limits=1)
def main() -> None:
    """Print what was asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--model", type=Path, default=DATA / MODEL)
    parser.add_argument("--scaffolds", action="store_true")
    parser.add_argument("--audit", action="store_true")
    parser.add_argument("--beyond", type=float, default=1.5, help="halves of the interval")
    parser.add_argument("--speed", action="store_true")
    options = parser.parse_args()
    model, table = load_boiling_model(options.model), load_candidates()
    if options.audit:
        print_audit(model, table, options.beyond)
    elif options.speed:
        print_speed(model, table)
    elif options.scaffolds:
        print_scaffolds(trained_compounds(model, table), float(model.content["widening"]))
    else:
        print_random_folds(model, table)


def trained_compounds(model: BoilingModel, table: CandidateTable) -> Compounds:
    """Return the compounds that a model was trained on, in its order."""
    place = {key: row for row, key in enumerate(table.text("inchikey"))}
    return Compounds.of(table, [place[str(key)] for key in model.content["inchikeys"]])


def print_random_folds(model: BoilingModel, table: CandidateTable) -> None:
    """Print the table of the estimates in random folds, group contributions beside it."""
    compounds = trained_compounds(model, table)
    content = model.content
    names = ("unseen_estimate", "unseen_terms", "unseen_inside", "unseen_fold")
    estimate, terms, inside, fold = (content[name] for name in names)
    groups = np.array(
        [group_contribution_boiling_point(table.text("cas")[row]) for row in compounds.rows]
    )
    print_table(
        "random folds",
        compounds.smiles,
        content["kelvin"],
        (estimate, terms, inside, fold),
        float(content["widening"]),
        groups,
    )
    print_singly_published(content)
    both = np.isfinite(groups)
    print(
        f"where group contributions have an estimate ({both.sum()}): this one "
        f"{np.abs(estimate - content['kelvin'])[both].mean():.2f} K, "
        f"group contributions {np.abs(groups - content['kelvin'])[both].mean():.2f} K"
    )


def print_scaffolds(compounds: Compounds, widening: float) -> None:
    """Train in folds that share no scaffold, and print the table."""
    everyone = np.arange(len(compounds))
    unseen = cross_validated(
        Drawn(compounds.smiles), scaffold_folds(compounds.smiles), compounds.kelvin, everyone
    )
    print_accuracy(
        "folds by scaffold", compounds.smiles, everyone, compounds.kelvin, unseen, widening
    )


def print_speed(model: BoilingModel, table: CandidateTable) -> None:
    """Print how many structures a second are estimated on one core."""
    smiles = table.text("smiles")[::4]
    model.estimate(smiles[:100])
    started = time.perf_counter()
    model.estimate(smiles)
    seconds = time.perf_counter() - started
    print(f"{len(smiles)} structures in {seconds:.1f} s: {len(smiles) / seconds:.0f} a second")


@dataclass(frozen=True)
class Suspect:
    """A published boiling point far outside its interval; kelvins, and the row of the table."""

    row: int
    estimate: float
    half: float
    consensus: float

    @property
    def beyond(self) -> float:
        """By how many halves of the interval the consensus lies off, below counted negative."""
        return (self.consensus - self.estimate) / self.half


def suspects(model: BoilingModel, table: CandidateTable, beyond: float) -> list[Suspect]:
    """Return published rows whose consensus is far off an estimate that had not seen it."""
    content = model.content
    error = np.abs(content["unseen_estimate"] - content["kelvin"])
    half, _ = crossed_intervals(
        error, content["unseen_terms"], content["unseen_inside"], content["unseen_fold"]
    )
    folds = {
        str(key): (content["unseen_estimate"][place], half[place])
        for place, key in enumerate(content["inchikeys"])
        if content["unseen_inside"][place]
    }
    trained = {str(key) for key in content["inchikeys"]}
    keys, consensus = table.text("inchikey"), table.number("boiling_point_C") + ICE_POINT
    published = np.flatnonzero(table.number("boiling_point_published"))
    others = [int(row) for row in published if keys[row] not in trained]
    found = model.estimate([table.text("smiles")[row] for row in others])
    judged = {
        row: (found.value_C[place] + ICE_POINT, found.high_C[place] - found.value_C[place])
        for place, row in enumerate(others)
        if found.in_domain[place]
    }
    judged |= {int(row): folds[keys[row]] for row in published if keys[row] in folds}
    print(f"{len(published)} published boiling points, {len(judged)} of them inside the domain")
    far = [
        Suspect(row, float(estimate), float(half), float(consensus[row]))
        for row, (estimate, half) in judged.items()
    ]
    outside = [suspect for suspect in far if abs(suspect.beyond) > beyond]
    print(f"outside their interval: {sum(abs(suspect.beyond) > 1 for suspect in far)}")
    return sorted(outside, key=lambda suspect: (-abs(suspect.beyond), suspect.row))


def print_audit(model: BoilingModel, table: CandidateTable, beyond: float) -> None:
    """Print the published boiling points that the estimate speaks against."""
    listed = suspects(model, table, beyond)
    values = published_by_smiles()
    print(f"off by more than {beyond:g} halves of the interval: {len(listed)}")
    print("halves off; name (CAS number); SMILES; consensus and estimate [C]; published values [C]")
    for suspect in listed:
        row = suspect.row
        smiles = table.text("smiles")[row]
        sources = ", ".join(
            f"{name} {value - ICE_POINT:.1f}" for name, value in values[smiles].items()
        )
        mark = " VACUUM?" if may_be_under_vacuum(suspect) else ""
        print(
            f"{suspect.beyond:+6.2f}{mark} {table.text('name')[row]} ({table.text('cas')[row]}) "
            f"{smiles} {suspect.consensus - ICE_POINT:.1f} against "
            f"{suspect.estimate - ICE_POINT:.0f} ± {suspect.half:.0f}; {sources}"
        )


_VACUUM_K = 25.0  # a pump takes off this much at least, even at a third of an atmosphere


def may_be_under_vacuum(suspect: Suspect) -> bool:
    """Return whether a consensus is so far below the estimate that it may be under vacuum.

    Below the ice point nothing is distilled under vacuum.
    """
    return suspect.consensus < suspect.estimate - _VACUUM_K and suspect.consensus > ICE_POINT


if __name__ == "__main__":
    main()
