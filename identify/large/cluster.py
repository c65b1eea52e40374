"""Work shared out over the machines of a Dask cluster; needs ``identify-unknown[cluster]``.

The workers read the parts of a table, and write the parts of a build, by their paths: all machines
see the same folders, and have the same version of this package.
"""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Iterator, Sequence
from concurrent.futures import CancelledError, Executor
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from identify.compounds.collection.manifest import TablePart
from identify.large.large_table import ShareOfPart, ShareOut
from identify.large.shares import PartShare
from identify.notebook.errors import WorkStopped
from identify.tables.faults import TableError

if TYPE_CHECKING:
    from distributed import Client

_ANSWER_TIMEOUT = 10.0  # seconds for the scheduler to answer
_WORKERLESS_TIMEOUT = 30.0  # seconds without any worker; a nanny starts one anew sooner
_POLL_INTERVAL = 1.0  # seconds between two looks whether there are workers
_RETRIES = 3  # of a part whose worker was lost


def losses() -> tuple[type[Exception], ...]:
    """Return what a cluster raises where no further unknown would fare better.

    `cluster` puts it in words.
    """
    from distributed.comm import CommClosedError
    from distributed.scheduler import KilledWorker

    return CancelledError, CommClosedError, KilledWorker, ModuleNotFoundError


class ClusterError(WorkStopped):
    """A cluster that cannot be used, or lost its work; says why in one line."""


@contextmanager
def cluster(address: str) -> Iterator[Client]:
    """Connect to a Dask scheduler that is running.

    Parameters
    ----------
    address : str
        As ``tcp://host:8786``.

    Raises
    ------
    ClusterError
        Where Dask is not installed, nothing answers there, workers were lost once too often, or
        the scheduler or all workers were lost and do not come back.
    """
    try:
        from distributed import Client
        from distributed.comm import CommClosedError
        from distributed.scheduler import KilledWorker
    except ImportError:
        raise ClusterError(
            "a cluster needs Dask: pip install 'identify-unknown[cluster]'"
        ) from None
    try:
        client = Client(address, timeout=_ANSWER_TIMEOUT, set_as_default=False)
    except (OSError, ValueError) as error:
        raise ClusterError(
            f"{address}: no Dask scheduler answers there ({_first_line(error)})"
        ) from error
    ended = threading.Event()
    try:
        _wait_for_a_worker(client, address)
        threading.Thread(target=_give_up_alone, args=(client, ended), daemon=True).start()
        with _without_log():
            yield client
    except (CancelledError, CommClosedError):
        raise ClusterError(
            f"{address}: its scheduler or all of its workers were lost in the middle of the work"
        ) from None
    except KilledWorker as error:
        raise ClusterError(
            f"{address}: workers were lost again and again at the same work, for want of memory "
            f"perhaps ({_first_line(error)})"
        ) from error
    except ModuleNotFoundError as error:
        raise ClusterError(
            f"{address}: its workers lack a package ({error.name}); install identify-unknown there"
        ) from error
    finally:
        ended.set()
        with _without_log():
            client.close()


def _give_up_alone(client: Client, ended: threading.Event) -> None:
    """Cancel all work when there was no worker for long; Dask would wait for one forever."""
    from distributed import Future

    seen = time.monotonic()
    while not ended.wait(_POLL_INTERVAL):
        try:
            if client.nthreads():
                seen = time.monotonic()
        except (OSError, RuntimeError, ValueError):  # the scheduler is lost, or this is the end
            return
        if time.monotonic() - seen > _WORKERLESS_TIMEOUT:
            client.cancel([Future(key, client) for key in list(client.futures)])


@contextmanager
def _without_log() -> Iterator[None]:
    """Keep Dask from writing tracebacks of lost connections: one line says it in the end."""
    log = logging.getLogger("distributed")
    loggers = [log, *(logging.getLogger(f"distributed.{name}") for name in ("client", "comm"))]
    levels = [one.level for one in loggers]
    for one in loggers:
        one.setLevel(logging.CRITICAL + 1)
    try:
        yield
    finally:
        for one, level in zip(loggers, levels, strict=True):
            one.setLevel(level)


def _wait_for_a_worker(client: Client, address: str) -> None:
    try:
        client.wait_for_workers(1, timeout=_ANSWER_TIMEOUT)
    except TimeoutError:
        raise ClusterError(f"{address}: the scheduler has no workers; start one") from None


def sharing_out(client: Client) -> ShareOut:
    """Return what has the parts of a table compared by a cluster's workers.

    A part whose worker is lost is compared anew by another one. The shares come in the order of
    the parts, whichever is done first, so that the answer is the same to the last bit.
    """

    def share_out(compared: ShareOfPart, parts: Sequence[TablePart]) -> list[PartShare]:
        # A worker's own folder is another one: only a full path leads to the same file.
        placed = [replace(part, path=part.path.absolute()) for part in parts]
        futures = client.map(_OnWorker(compared), placed, retries=_RETRIES, pure=False)
        shares: list[PartShare] = client.gather(futures)
        return shares

    return share_out


@dataclass(frozen=True)
class _OnWorker:
    """Compares a part, and says which worker could not."""

    compared: ShareOfPart

    def __call__(self, part: TablePart) -> PartShare:
        from distributed import get_worker

        try:
            return self.compared(part)
        except TableError as error:
            place = f"as worker {get_worker().address} sees it"
            raise TableError(*(f"{reason} ({place})" for reason in error.args)) from None


def executor(client: Client) -> Executor:
    """Return a cluster as what functions are submitted to."""
    pool: Executor = client.get_executor(retries=_RETRIES, pure=False)
    return pool


def _first_line(error: Any) -> str:
    return (str(error) or type(error).__name__).splitlines()[0]
