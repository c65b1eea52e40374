"""Parts made by other processes, on this machine or on others."""

from __future__ import annotations

import gc
import os
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import FIRST_COMPLETED, Executor, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, field, replace
from functools import lru_cache, partial
from itertools import chain, islice
from pathlib import Path
from typing import TYPE_CHECKING, Any

from identify.compounds.collection.parts import WorkFolder
from identify.notebook.errors import WorkStopped
from identify.notebook.garbage import collected_by_hand
from identify.tables.structures.source import Chunk

if TYPE_CHECKING:
    from identify.compounds.collection.rows import Estimator, RowMaker

_Tasks = Iterator[tuple[int, Chunk]]
_Make = Callable[[int, Chunk], None]

_ON_A_CLUSTER = 64  # workers that are kept busy there, if it has so many


class StoppedError(WorkStopped):
    """A build that something outside of it ended; its finished chunks stay."""


def make_parts(
    worker: PartMaker,
    tasks: _Tasks,
    jobs: int,
    executor: Executor | None,
    done: Callable[[Chunk], None],
) -> None:
    """Have chunks made into parts, by other machines, by processes of this one, or right here.

    Parameters
    ----------
    worker : PartMaker
    tasks : iterator of (int, Chunk)
    jobs : int
        Processes of this machine, this one among them.
    executor : Executor or None
        The other machines, which see the same folder.
    done : callable
        Called here with each chunk whose part is made.

    Raises
    ------
    StoppedError
        If a process was ended from outside.
    """
    with collected_by_hand() as look_for_garbage:

        def made(chunk: Chunk) -> None:
            done(chunk)
            look_for_garbage()

        first = list(islice(tasks, 2))
        tasks = chain(first, tasks)
        if executor is not None:
            _share_out(executor, partial(_make_elsewhere, worker), _ON_A_CLUSTER, tasks, made)
        elif jobs == 1 or len(first) < 2:
            for index, chunk in tasks:
                worker.make(index, chunk)
                made(chunk)
        else:
            _in_parallel(worker, tasks, jobs, made)


def cores() -> int:
    """Return how many cores this process may use."""
    if hasattr(os, "sched_getaffinity"):  # not on every system: those that this process may use
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _in_parallel(
    worker: PartMaker,
    tasks: _Tasks,
    jobs: int,
    done: Callable[[Chunk], None],
) -> None:
    """Have chunks made by several processes of this machine, this one among them."""
    import multiprocessing

    # Not forked: threads of the libraries would be missing in the copy.
    context = multiprocessing.get_context("spawn")
    pool = _Processes(jobs - 1, context, _begin, (worker,))
    here = replace(worker)  # made ready while the others are
    is_unfinished = True
    try:
        _share_out(pool, _make, jobs - 1, tasks, done, here.make)
        is_unfinished = False
    except BrokenProcessPool:
        raise StoppedError(
            "a process of the build was ended from outside, for want of memory perhaps: --jobs 1 "
            "needs least"
        ) from None
    finally:
        # None may write into a folder that was given up; idle ones may linger.
        pool.shutdown(wait=is_unfinished, cancel_futures=True)


class _Processes(ProcessPoolExecutor):
    """Processes that the keyboard does not interrupt, not even while they start."""

    def submit(self, *call: Any, **named: Any) -> Future[Any]:
        """Have a call made by one of them, which may be started for it."""
        import signal

        if not hasattr(signal, "pthread_sigmask"):  # not on every system
            return super().submit(*call, **named)
        before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
        try:  # a process that is started holds back what is held back here
            return super().submit(*call, **named)
        finally:
            signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _share_out(
    pool: Executor,
    make: _Make,
    jobs: int,
    tasks: _Tasks,
    done: Callable[[Chunk], None],
    make_here: _Make | None = None,
) -> None:
    """Have chunks made elsewhere, with a few waiting, never the whole file.

    Parameters
    ----------
    pool : Executor
    make : callable
        Makes the part of a chunk there.
    jobs : int
        Chunks that are made there at a time; as many more wait there.
    tasks : iterator of (int, Chunk)
    done : callable
        Called here with each chunk whose part is made.
    make_here : callable, optional
        Makes the part of a chunk here, while enough wait there.
    """
    waiting: dict[Future[None], Chunk] = {}
    for index, chunk in tasks:
        _take_finished(waiting, done, 0.0)
        if len(waiting) < 2 * jobs:
            waiting[pool.submit(make, index, chunk)] = chunk
        elif make_here is not None:
            make_here(index, chunk)
            done(chunk)
        else:
            _take_finished(waiting, done)
            waiting[pool.submit(make, index, chunk)] = chunk
    while waiting:
        _take_finished(waiting, done)


def _take_finished(
    waiting: dict[Future[None], Chunk], done: Callable[[Chunk], None], patience: float | None = None
) -> None:
    finished, _ = wait(waiting, patience, return_when=FIRST_COMPLETED)
    for future in finished:
        chunk = waiting.pop(future)
        future.result()
        done(chunk)


@dataclass
class PartMaker:
    """Makes parts of chunks; sent to each process, and made ready there with its first chunk."""

    folder: Path
    files: list[str]
    quick: bool
    _maker: RowMaker | None = field(default=None, init=False)

    def prepare(self) -> None:
        """Load what rows are made with."""
        from rdkit import rdBase
        from threadpoolctl import ThreadpoolController

        from identify.compounds.collection.rows import RowMaker
        from identify.compounds.parquet import built_in_table

        # RDKit writes lines of its own for each structure that it cannot read.
        rdBase.DisableLog("rdApp.*")
        self._maker = RowMaker(built_in_table(), self.files, self.quick, trained_estimator())
        self._threads = ThreadpoolController()  # of the libraries that have been loaded by now

    def make(self, index: int, chunk: Chunk) -> None:
        """Make the rows of a chunk, and keep them."""
        if self._maker is None:
            self.prepare()
        assert self._maker is not None
        # One thread: sums in the same order in any process, and so the same table.
        with self._threads.limit(limits=1):
            part = self._maker.part(chunk)
        WorkFolder(self.folder).write(index, part)


def trained_estimator() -> Estimator | None:
    """Return what estimates boiling points, None where the trained model is not there."""
    if not model_path().exists():
        return None
    from identify.compounds.boiling.model import estimate_boiling_points

    return estimate_boiling_points


def model_path() -> Path:
    """Return where the trained estimate of boiling points lies."""
    from identify.compounds.boiling.model import MODEL
    from identify.compounds.parquet import shipped

    return shipped(MODEL)


_worker: PartMaker | None = None


def _begin(worker: PartMaker) -> None:
    """Make a process ready, and have it end when the one that started it does."""
    global _worker
    import signal

    # The first process answers the keyboard, and ends the others.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_leave_with_parent, daemon=True).start()
    worker.prepare()
    gc.freeze()  # the tables stay
    gc.disable()
    _worker = worker


def _leave_with_parent() -> None:
    from multiprocessing import parent_process

    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


def _make(index: int, chunk: Chunk) -> None:
    assert _worker is not None
    _worker.make(index, chunk)
    gc.collect(1)


def _make_elsewhere(worker: PartMaker, index: int, chunk: Chunk) -> None:
    """Make the part of a chunk on another machine, which sees the same folder."""
    _ready(str(worker.folder), tuple(worker.files), worker.quick).make(index, chunk)


@lru_cache(maxsize=1)
def _ready(folder: str, files: tuple[str, ...], quick: bool) -> PartMaker:
    return PartMaker(Path(folder), list(files), quick)
