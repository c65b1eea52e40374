"""Building a table from structures: streamed, on all cores, and going on where it was stopped."""

from __future__ import annotations

import hashlib
import os
import shutil
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor, ThreadPoolExecutor
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from identify.compounds.collection.merging import Merging
from identify.compounds.collection.parts import WorkFolder
from identify.compounds.collection.workers import PartMaker, cores, make_parts, model_path
from identify.notebook.saving import written_beside
from identify.tables.structures.inputs import read_chunks
from identify.tables.structures.source import (
    UNREADABLE,
    Chunk,
    Headings,
    InputFault,
    ReadingFault,
    StructureFile,
)

_CHUNK = 5_000  # records
_MAX_MERGING_THREADS = 2  # more would wait for the one that writes
_ENDING = ".parquet"
_FORM = 4  # of the chunks in the work folder; raise it when their rows change

_Say = Callable[[str], None]
_Progress = Callable[[float], None]


@dataclass(frozen=True)
class BuildOptions:
    """How a table is built.

    Parameters
    ----------
    headings : Headings
        Columns that the user named.
    quick : bool
        Whether to leave out what the match does not need: SMILES stay as written, duplicates are
        found where they are written alike, and InChIKey, functional groups and log P are missing
        but for compounds of the built-in table.
    jobs : int
        Processes; 0 is one a core.
    chunk : int
        Records that are worked on at a time.
    partition_rows : int
        Rows of each file where the table is to be a folder of files; 0 for one file.
    set_aside : Path, optional
        Where the list of records that are in no row goes; beside the table where not given.
    executor : Executor, optional
        Other machines that make the parts; they see the same folders.
    """

    headings: Headings = field(default_factory=Headings)
    quick: bool = False
    jobs: int = 0
    chunk: int = _CHUNK
    partition_rows: int = 0
    set_aside: Path | None = None
    executor: Executor | None = None


@dataclass(frozen=True)
class Built:
    """What a build came to.

    Parameters
    ----------
    rows : int
        Compounds in the table.
    counts : dict of str to int
        Records set aside, by kind.
    table, set_aside : Path
    """

    rows: int
    counts: dict[str, int]
    table: Path
    set_aside: Path

    @property
    def unreadable(self) -> int:
        """Records that could not be read."""
        return self.counts.get(UNREADABLE, 0)


def build_collection(
    inputs: Sequence[Path],
    out: Path,
    options: BuildOptions = BuildOptions(),
    say: _Say = lambda line: None,
    progress: _Progress = lambda fraction: None,
) -> Built:
    """Build a candidate table from structures.

    Parameters
    ----------
    inputs : sequence of Path
        SMILES, CSV, TSV, XLSX or SDF files, also compressed by gzip.
    out : Path
        The table, Parquet. It appears when it is complete; until then finished chunks lie beside it
        in a folder with ``.parts`` behind its name, and an interrupted build goes on from there.
    options : BuildOptions
    say : callable
        Takes notes, one line each.
    progress : callable
        Takes how much of the inputs is done, 0 to 1.

    Raises
    ------
    InputFault
        If an input cannot be read to its end, or no record makes a row.
    StoppedError
        If a process of the build was ended from outside.
    OSError
        If something cannot be written; the finished chunks stay, as with `StoppedError`.
    """
    sources = [StructureFile.of(path) for path in inputs]
    if not out.name:
        raise InputFault(f"{out}: is a folder; name a file, or one that is new")
    set_aside = options.set_aside or out.with_name(
        f"{out.name.removesuffix(_ENDING)}.set-aside.csv"
    )
    _refuse_targets(inputs, (out, set_aside), options)
    folder = WorkFolder(out.with_name(f"{out.name}.parts"))
    with folder.held():
        _begin(folder, _manifest(sources, options), say)
        chunks = read_chunks(sources, options.headings, options.chunk, say)
        try:
            count = _work(folder, chunks, sources, options, progress)
        except ReadingFault:
            raise
        except InputFault:
            folder.remove()  # a repaired input is another one: nothing could go on from here
            raise
        built = _merged(folder, count, sources, (out, set_aside), options)
        folder.remove()
    if not built.rows:
        raise InputFault(f"{out}: no record makes a row, no table is written; see {set_aside}")
    return built


def _begin(folder: WorkFolder, manifest: dict[str, Any], say: _Say) -> None:
    state = folder.begin(manifest)
    if state == "goes on" and (there := folder.finished()):
        chunks_are = "chunk is" if there == 1 else "chunks are"
        say(f"goes on from an interrupted build: {there} {chunks_are} there already")
    elif state == "anew":
        say("an interrupted build of other inputs or options is there; starts anew")


def _merged(
    folder: WorkFolder,
    count: int,
    sources: Sequence[StructureFile],
    targets: tuple[Path, Path],
    options: BuildOptions,
) -> Built:
    """Put the finished chunks together, and the table where it belongs when it is complete."""
    out, set_aside = targets
    jobs = options.jobs or cores()
    files = [str(source.path) for source in sources]
    merging = Merging(folder, count, files, min(jobs, _MAX_MERGING_THREADS))
    merging.find_duplicates()
    table = None
    with written_beside(set_aside) as beside, ThreadPoolExecutor(1) as meanwhile:
        listed = meanwhile.submit(merging.write_set_aside, beside)
        if jobs == 1:
            listed.result()  # the other cores are left to others
        # In the work folder first, so that nothing half-written ever lies beside it.
        if merging.merged.rows and options.partition_rows:
            table = merging.write_partitions(folder.table, options.partition_rows)
        elif merging.merged.rows:
            table = merging.write_table(folder.table.with_suffix(".parquet"))
        listed.result()
    if table is not None and table.is_dir():
        os.replace(table, out)
    elif table is not None:
        with written_beside(out) as whole:
            shutil.move(table, whole)  # a link may lead to another disk
    return Built(merging.merged.rows, dict(merging.merged.counts), out, set_aside)


def _refuse_targets(inputs: Sequence[Path], targets: Sequence[Path], options: BuildOptions) -> None:
    """Refuse to write where something else is, or could not be written to the end."""
    for target in targets:
        _refuse_target(inputs, target)
    out, aside = targets
    if out.resolve() == aside.resolve():
        raise InputFault(f"{out}: is named twice, for the table and for what is set aside")
    if aside.is_dir():
        raise InputFault(f"{aside}: is a folder; name a file for what is set aside")
    if not os.access(aside.parent, os.W_OK):
        raise InputFault(f"{aside}: cannot be written; name another by --set-aside")
    if options.partition_rows:
        _refuse_folder(out, aside)
    elif out.is_dir():
        raise InputFault(f"{out}: is a folder; name a file, or give --partition-rows")
    elif out.suffix.lower() != _ENDING:
        raise InputFault(f"{out}: a table ends in {_ENDING}, by which the other commands know it")


def _refuse_folder(out: Path, aside: Path) -> None:
    if out.exists() and not (out.is_dir() and not any(out.iterdir())):
        raise InputFault(f"{out}: is there already; name a folder that is new or empty")
    if out.resolve() in aside.resolve().parents:
        raise InputFault(f"{aside}: is in the table's own folder; name another place")


def _refuse_target(inputs: Sequence[Path], target: Path) -> None:
    if not target.parent.is_dir():
        raise InputFault(f"{target.parent}: there is no such folder")
    if any(one.resolve() == target.resolve() for one in inputs):
        raise InputFault(f"{target}: is one of the inputs, which are never written")
    if target.exists() and not (target.is_file() or target.is_dir()):
        raise InputFault(f"{target}: is not an ordinary file; name another")


def _manifest(sources: Sequence[StructureFile], options: BuildOptions) -> dict[str, Any]:
    """Return what the chunks are made from: when any of it changes, they are made anew."""
    import rdkit

    from identify.compounds.parquet import built_in_path

    stats = [source.path.stat() for source in sources]
    learned_from = [path for path in (built_in_path(), model_path()) if path.exists()]
    return {
        "form": _FORM,
        "inputs": [
            [str(source.path), stat.st_size, stat.st_mtime_ns]
            for source, stat in zip(sources, stats, strict=True)
        ],
        "options": {
            "headings": asdict(options.headings),
            "quick": options.quick,
            "chunk": options.chunk,
        },
        "rdkit": rdkit.__version__,
        "learned_from": [
            hashlib.blake2b(path.read_bytes(), digest_size=16).hexdigest() for path in learned_from
        ],
    }


def _work(
    folder: WorkFolder,
    chunks: Iterator[Chunk],
    sources: Sequence[StructureFile],
    options: BuildOptions,
    progress: _Progress,
) -> int:
    """Have all chunks made into parts that are not there yet, and return how many there are."""
    worker = PartMaker(folder.path, [str(source.path) for source in sources], options.quick)
    count = 0

    def missing() -> Iterator[tuple[int, Chunk]]:
        nonlocal count
        for index, chunk in enumerate(chunks):
            count = index + 1
            if not folder.has(index):
                yield index, chunk

    def done(chunk: Chunk) -> None:
        progress((chunk.source + chunk.fraction) / len(sources))

    make_parts(worker, missing(), options.jobs or cores(), options.executor, done)
    return count
