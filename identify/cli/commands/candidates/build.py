"""``identify-unknown candidates build``: a table of compounds from structures."""

from __future__ import annotations

from contextlib import ExitStack
from dataclasses import MISSING, dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from identify.cli.commands.large import Machines
from identify.cli.options.options import Text, argument, option, takes, written_as
from identify.cli.terminal.output import OutputFormat, write_answer
from identify.cli.terminal.progress import progress_bar
from identify.cli.terminal.streams import INTERRUPTED, UNUSABLE, complain

if TYPE_CHECKING:
    from identify.compounds.collection import Built

_GO_ON = "give the same command again, and the build goes on from there"
# What is said of each kind of record in the list; the kinds are those of its column.
_KINDS = {
    "cannot be read": "set aside, cannot be read",
    "no volatile liquid": "set aside, no volatile liquid: salts, mixtures, ions, radicals and such",
    "no boiling point": "set aside, no boiling point is known and none can be estimated",
    "same compound": "set aside, the same compound as another row",
    "kept": "in the table, but for something that the list names",
}


@dataclass(frozen=True)
class _Collection:
    """The structures, and where the table goes."""

    inputs: list[Path] = argument(
        "INPUT", "SMILES (.smi), CSV, TSV, XLSX or SDF files, each also gzipped."
    )
    out: Path = option("TABLE", "The table (Parquet); replaced if it is there.", default=MISSING)
    set_aside: Path | None = option(
        "FILE", "List of what is in no row (CSV); else beside the table."
    )
    format: OutputFormat = written_as()
    quick: bool = option(
        None,
        "For millions: SMILES stay as they are written and only what is written alike "
        "is one compound; InChIKeys, functional groups and log P are left out.",
        default=False,
    )
    jobs: int | None = option("N", "Processes; one a core else.", min=1)
    partition_rows: int | None = option("N", "Make TABLE a folder of files of N rows.", min=1000)


@dataclass(frozen=True)
class _NamedColumns:
    """Which columns of a table, or tags of an SDF, hold what."""

    smiles_column: Text = option("NAME", "Column of SMILES, if no usual name says it;")
    name_column: Text = option("NAME", "of names (of an SDF: tag; else its title);")
    cas_column: Text = option("NAME", "of CAS numbers;")
    inchi_column: Text = option("NAME", "of InChI;")
    boiling_point_column: Text = option(
        "NAME", "of boiling points at 760 mmHg, in C unless its name ends in K or F."
    )


@takes(_Collection, _NamedColumns, Machines)
def build_command(collection: _Collection, columns: _NamedColumns, machines: Machines) -> int:
    r"""Build a table of compounds from structures, for --candidates of the other commands.

    Published constants are taken over where the built-in table has the compound. A boiling point
    in the file stands before them; where there is neither, it is estimated from the structure, and
    the row says so. What is not a single neutral compound with carbon, cannot be read, or is
    outside what the estimate knows, is listed in a second file with its row and the reason.

    \b
    Example: a stockroom, and a collection with its own boiling points.
      identify-unknown candidates build stockroom.sdf --out stockroom.parquet
      identify-unknown candidates build big.csv.gz --out big.parquet \
        --boiling-point-column bp_K

    A build that was interrupted goes on when the same command is given again. Exit status: 0 the
    table is written; 2 it is not, or some records cannot be read (the table holds the others).
    """
    from identify.compounds.collection import InputFault, StoppedError
    from identify.large.cluster import ClusterError

    try:
        built = _built(collection, columns, machines)
    except InputFault as fault:
        complain(str(fault))
        return UNUSABLE
    except (StoppedError, ClusterError) as stopped:
        complain(f"{stopped}; {_GO_ON}")
        return UNUSABLE
    except OSError as error:
        complain(f"{collection.out}: cannot be written ({error.strerror or error}); {_GO_ON}")
        return UNUSABLE
    except KeyboardInterrupt:
        complain(f"stopped; {_GO_ON}")
        return INTERRUPTED
    _say(built, collection.format)
    return UNUSABLE if built.unreadable else 0


def _built(collection: _Collection, columns: _NamedColumns, machines: Machines) -> Built:
    from identify.compounds.collection import BuildOptions, Headings, build_collection
    from identify.large.cluster import cluster, executor

    options = BuildOptions(
        Headings(
            **{name.removesuffix("_column"): text or "" for name, text in vars(columns).items()}
        ),
        quick=collection.quick,
        jobs=collection.jobs or 0,
        partition_rows=collection.partition_rows or 0,
        set_aside=collection.set_aside,
    )
    inputs, out = collection.inputs, collection.out
    with ExitStack() as opened:
        bar = opened.enter_context(progress_bar())
        if machines.cluster is not None:
            client = opened.enter_context(cluster(machines.cluster))
            options = replace(options, executor=executor(client))
            inputs, out = [path.resolve() for path in inputs], out.resolve()
        told = (lambda fraction: None) if bar is None else bar.part_of("Building")
        return build_collection(inputs, out, options, complain, told)


def _say(built: Built, form: OutputFormat) -> None:
    from identify.answers.text.numbers import counted

    for kind, count in built.counts.items():
        complain(f"{counted(count, 'record')} {_KINDS.get(kind, kind)}")
    if built.counts:
        complain(f"{built.set_aside} lists them, with reasons")
    compounds = counted(built.rows, "compound")
    row = {
        "table": str(built.table),
        "compounds": built.rows,
        "set_aside": str(built.set_aside),
        **{kind.replace(" ", "_"): built.counts.get(kind, 0) for kind in _KINDS},
    }
    line = f"{built.table}: {compounds}"
    write_answer(form, lambda page: [line], lambda: row, lambda: [row])
