"""Work shared out over the machines of a Dask cluster; needs ``identify-unknown[cluster]``.

The workers read the parts of a table, and write the parts of a build, by their paths: all machines
see the same folders, and have the same version of this package.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from concurrent.futures import Executor
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from identify.candidates.partitions import TablePart
from identify.matching.large import ShareOfPart, ShareOut
from identify.matching.shares import Share

if TYPE_CHECKING:
    from distributed import Client

_PATIENCE = 10.0  # seconds for the scheduler to answer
_RETRIES = 3  # of a part whose worker was lost


class ClusterError(RuntimeError):
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
        Where Dask is not installed, nothing answers there, or workers were lost once too often.
    """
    try:
        from distributed import Client
        from distributed.scheduler import KilledWorker
    except ImportError:
        raise ClusterError(
            "a cluster needs Dask: pip install 'identify-unknown[cluster]'"
        ) from None
    try:
        client = Client(address, timeout=_PATIENCE, set_as_default=False)
    except (OSError, ValueError) as error:
        raise ClusterError(
            f"{address}: no Dask scheduler answers there ({_first_line(error)})"
        ) from error
    try:
        _wait_for_a_worker(client, address)
        yield client
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
        client.close()


def _wait_for_a_worker(client: Client, address: str) -> None:
    try:
        client.wait_for_workers(1, timeout=_PATIENCE)
    except TimeoutError:
        raise ClusterError(f"{address}: the scheduler has no workers; start one") from None


def sharing_out(client: Client) -> ShareOut:
    """Return what has the parts of a table compared by a cluster's workers.

    A part whose worker is lost is compared anew by another one. The shares come in the order of
    the parts, whichever is done first, so that the answer is the same to the last bit.
    """

    def share_out(compared: ShareOfPart, parts: Sequence[TablePart]) -> list[Share]:
        futures = client.map(compared, parts, retries=_RETRIES, pure=False)
        shares: list[Share] = client.gather(futures)
        return shares

    return share_out


def executor(client: Client) -> Executor:
    """Return a cluster as what functions are submitted to."""
    pool: Executor = client.get_executor(retries=_RETRIES, pure=False)
    return pool


def _first_line(error: Any) -> str:
    return (str(error) or type(error).__name__).splitlines()[0]
