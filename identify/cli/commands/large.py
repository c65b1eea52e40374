"""Matches against tables of millions: indexed, in parts, or on a cluster."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from identify.cli.options.options import Reasons, Text, option
from identify.cli.terminal.progress import with_progress
from identify.cli.terminal.streams import Faults
from identify.notebook.errors import RunFault

if TYPE_CHECKING:
    from identify.cli.options.targets import PageOut
    from identify.large.large_table import ShareOut
    from identify.matching.answer import Ranking
    from identify.matching.settings import MatchSettings
    from identify.notebook.measurement import Measurement


@dataclass(frozen=True)
class Machines:
    """Where the work is done."""

    cluster: Text = option(
        "ADDRESS",
        "A Dask scheduler (tcp://host:8786) whose workers share the work; they see the same "
        "folders.",
    )


def answers(
    runs: Sequence[Measurement],
    match: Callable[[Measurement], Ranking],
    faults: Faults,
    ending: tuple[type[Exception], ...] = (),
) -> list[tuple[Measurement, Ranking]]:
    """Match every record, and report those that cannot be; errors that end the work are raised."""
    answered = []
    for run in with_progress(runs, "Matching"):
        try:
            answered.append((run, match(run)))
        except ending:
            raise
        except Exception as error:
            faults(RunFault.of(run.place, error))
    return answered


def needs_large(candidates: Path | None, cluster: str | None) -> bool:
    """Say whether a table is compared otherwise than as a whole in memory."""
    from identify.compounds.loading import is_large

    return cluster is not None or (candidates is not None and is_large(candidates))


def large_answers(
    runs: Sequence[Measurement],
    candidates: Path | None,
    settings: MatchSettings,
    cluster: str | None,
    faults: Faults,
) -> list[tuple[Measurement, Ranking]]:
    """Match every record against an indexed or partitioned table."""
    from identify.compounds.loading import is_large
    from identify.large.large_table import PartitionedTable, match_large, open_large
    from identify.tables.faults import TableError

    try:
        large = candidates is not None and is_large(candidates)
        table = open_large(candidates) if candidates is not None and large else None
    except TableError as error:
        faults(error)
        return []
    if table is None or (cluster is not None and not isinstance(table, PartitionedTable)):
        faults("--cluster: works on a table in parts; name its folder with --candidates")
        return []
    with ExitStack() as open_cluster:
        share_out: ShareOut = map
        ending: tuple[type[Exception], ...] = ()
        if cluster is not None:
            from identify.large.cluster import ClusterError, losses, sharing_out
            from identify.large.cluster import cluster as connected

            try:
                client = open_cluster.enter_context(connected(cluster))
            except ClusterError as error:
                faults(error)
                return []
            share_out, ending = sharing_out(client), losses()
        match = partial(match_large, table=table, settings=settings, share_out=share_out)
        return answers(runs, match, faults, ending)


def refuse_reasons(reasons: Reasons, output: PageOut, faults: Faults) -> None:
    """Report what is not there for a table that is not in memory as a whole."""
    asked = {
        "--explain": reasons.explain,
        "--plot": reasons.plot,
        "--report": output.report,
    }
    for name, value in asked.items():
        if value is not None:
            faults(
                f"{name}: not for an index or a table in parts; build a smaller table of the "
                "compounds that matter, and name it with --candidates"
            )
