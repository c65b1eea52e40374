"""Matches and builds on a Dask cluster: the same to the last bit, also when a worker dies."""

from __future__ import annotations

import logging
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from distributed import Client

from identify import Measurement
from identify.compounds.collection import BuildOptions, build_collection
from identify.compounds.collection.manifest import TablePart
from identify.compounds.table import CandidateTable
from identify.large.cluster import ClusterError, cluster, executor, sharing_out
from identify.large.large_table import ShareOfPart, ShareOut, match_large
from identify.large.partitions import PartitionedTable
from identify.large.shares import PartShare
from identify.matching.settings import MatchSettings
from identify.tables.faults import TableError
from tests.command import Run
from tests.parted import write_parts
from tests.test_shares import RUNS

CHECKOUT = Path(__file__).resolve().parents[1]
PARTS = 24


def free_port() -> int:
    with socket.socket() as opened:
        opened.bind(("127.0.0.1", 0))
        return int(opened.getsockname()[1])


class Running:
    """A scheduler and its workers on loopback, each a process of its own."""

    def __init__(self, folder: Path, workers: int, failures: int = 3) -> None:
        self.failures = failures  # of a task, before the scheduler gives it up
        self.address = f"tcp://127.0.0.1:{free_port()}"
        port = self.address.rpartition(":")[2]
        listen = ["--host", "127.0.0.1", "--no-dashboard"]
        self.processes = [self._start(folder, "scheduler", *listen, "--port", port)]
        self.workers = [
            self._start(
                folder, "worker", self.address, *listen, "--no-nanny", "--nthreads", "1",
                "--local-directory", str(folder / f"worker-{number}"),
            )
            for number in range(workers)
        ]  # fmt: skip
        self.processes += self.workers

    def _start(self, folder: Path, what: str, *arguments: str) -> subprocess.Popen[bytes]:
        with (folder / "dask.log").open("ab") as log:
            return subprocess.Popen(
                [sys.executable, "-m", "distributed.cli.dask_" + what, *arguments],
                env={
                    **os.environ,
                    "PYTHONPATH": str(CHECKOUT),
                    "DASK_DISTRIBUTED__SCHEDULER__ALLOWED_FAILURES": str(self.failures),
                },
                stdout=log,
                stderr=log,
            )

    def wait_for_workers(self) -> None:
        with Client(self.address, timeout=60, set_as_default=False) as client:
            if self.workers:
                client.wait_for_workers(len(self.workers), timeout=60)

    def stop(self) -> None:
        for process in self.processes:
            process.kill()
            process.wait()


@pytest.fixture
def running(tmp_path: Path) -> Iterator[Running]:
    started = Running(tmp_path, workers=2)
    try:
        started.wait_for_workers()
        yield started
    finally:
        started.stop()


@pytest.fixture(scope="module")
def parted(tmp_path_factory: pytest.TempPathFactory, table: CandidateTable) -> PartitionedTable:
    folder = tmp_path_factory.mktemp("parted") / "table"
    return PartitionedTable.open(write_parts(table, folder, PARTS))


@dataclass(frozen=True)
class DiesOnce:
    """Compares parts, but at one of them, the first time, its worker is killed."""

    compared: ShareOfPart
    at: str
    mark: Path

    def __call__(self, part: TablePart) -> PartShare:
        if part.path.name == self.at and not self.mark.exists():
            self.mark.touch()
            os.kill(os.getpid(), signal.SIGKILL)
        return self.compared(part)


def answer(run: Measurement, parted: PartitionedTable, share_out: ShareOut = map) -> Any:
    return match_large(run, parted, MatchSettings.of(), share_out).to_dict()


def test_a_worker_is_killed_in_the_middle(
    tmp_path: Path, running: Running, parted: PartitionedTable
) -> None:
    mark = tmp_path / "killed"
    run = RUNS["weighed and card"]
    with cluster(running.address) as client:
        whole = sharing_out(client)

        def killing(compared: ShareOfPart, parts: Sequence[TablePart]) -> Iterable[PartShare]:
            return whole(DiesOnce(compared, "part-00011.parquet", mark), parts)

        assert answer(run, parted, killing) == answer(run, parted)
    assert mark.exists()
    ended = [worker.poll() for worker in running.workers]
    assert sorted(ended, key=str) == [-signal.SIGKILL, None]


def test_command_and_build(
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
    running: Running,
    parted: PartitionedTable,
    invoke: Run,
) -> None:
    monkeypatch.chdir(parted.folder.parent)  # the workers are elsewhere
    asked = ["match", "--boiling-point", "78.3 C", "--percent", "C=52.1 H=13.1"]
    asked += ["--candidates", parted.folder.name]
    alone, shared = invoke(*asked), invoke(*asked, "--cluster", running.address)
    assert shared == alone
    assert alone.status == 0

    source = tmp_path / "course.smi"
    source.write_text("".join(f"{'C' * size}O alcohol-{size}\n" for size in range(3, 23)))
    build_collection([source], tmp_path / "alone.parquet", BuildOptions(jobs=1, chunk=4))
    with cluster(running.address) as client:
        options = BuildOptions(chunk=4, executor=executor(client))
        build_collection([source], tmp_path / "shared.parquet", options)
    written = [(tmp_path / name).read_bytes() for name in ("alone.parquet", "shared.parquet")]
    assert written[0] == written[1]
    outcome = invoke(
        "candidates", "build", source, "--out", tmp_path / "c.parquet", "--cluster", running.address
    )
    assert outcome.status == 0
    assert (tmp_path / "c.parquet").exists()

    # A part that is gone is told, whoever looks for it.
    kept = parted.parts[7].path.read_bytes()
    parted.parts[7].path.unlink()
    try:
        seen = r"part-00007\.parquet: .* missing.* \(as worker tcp://127\.0\.0\.1:\d+ sees it\)"
        with cluster(running.address) as client, pytest.raises(TableError, match=seen):
            answer(RUNS["card"], parted, sharing_out(client))
    finally:
        parted.parts[7].path.write_bytes(kept)


@dataclass(frozen=True)
class Kills:
    """Kills processes once this is worked at, and is never done."""

    processes: tuple[int, ...]

    def __call__(self, part: Any, *more: Any, **others: Any) -> PartShare:
        for process in self.processes:
            os.kill(process, signal.SIGKILL)
        time.sleep(60)
        raise AssertionError("was to be given up")


def compare(client: Client, kills: Kills, parted: PartitionedTable) -> None:
    sharing_out(client)(kills, parted.parts[:3])


def build(client: Client, kills: Kills, parted: PartitionedTable) -> None:
    executor(client).submit(kills, 1).result()


WORKERS, SCHEDULER = slice(1, None), slice(0, 1)


@pytest.fixture
def logged(caplog: pytest.LogCaptureFixture) -> Iterator[pytest.LogCaptureFixture]:
    """What Dask's loggers say, which hand nothing up to the root."""
    loggers = [logging.getLogger("distributed" + name) for name in ("", ".client", ".comm")]
    for one in loggers:
        one.addHandler(caplog.handler)
    yield caplog
    for one in loggers:
        one.removeHandler(caplog.handler)


@pytest.mark.parametrize(
    ("killed", "work"), [(WORKERS, build), (SCHEDULER, compare)], ids=["workers", "scheduler"]
)
def test_lost_in_the_middle(
    monkeypatch: pytest.MonkeyPatch,
    logged: pytest.LogCaptureFixture,
    running: Running,
    parted: PartitionedTable,
    killed: slice,
    work: Callable[[Client, Kills, PartitionedTable], None],
) -> None:
    monkeypatch.setattr("identify.large.cluster._WORKERLESS_TIMEOUT", 1.0)
    monkeypatch.setattr("identify.large.cluster._POLL_INTERVAL", 0.2)
    monkeypatch.setattr("identify.large.cluster._ANSWER_TIMEOUT", 3.0)
    others_first = reversed(running.processes[killed])
    kills = Kills(tuple(process.pid for process in others_first))
    lost = pytest.raises(ClusterError, match="were lost in the middle")
    with lost as raised, cluster(running.address) as client:
        work(client, kills, parted)
    assert str(raised.value).startswith(running.address)
    assert logged.messages == []


def test_a_part_that_no_worker_survives(tmp_path: Path, parted: PartitionedTable) -> None:
    started = Running(tmp_path, workers=2, failures=0)
    try:
        started.wait_for_workers()
        never = DiesOnce(share_nothing, "part-00000.parquet", tmp_path / "never")
        lost = pytest.raises(ClusterError, match="lost again and again")
        with lost, cluster(started.address) as client:
            sharing_out(client)(never, parted.parts[:1])
    finally:
        started.stop()


def share_nothing(part: TablePart) -> PartShare:
    raise AssertionError("its worker was to be killed")


def test_command_when_lost(
    monkeypatch: pytest.MonkeyPatch, running: Running, parted: PartitionedTable, invoke: Run
) -> None:
    monkeypatch.setattr("identify.large.cluster._WORKERLESS_TIMEOUT", 1.0)
    kills = Kills(tuple(worker.pid for worker in running.workers[::-1]))
    monkeypatch.setattr(
        "identify.large.cluster.sharing_out",
        lambda client: lambda compared, parts: sharing_out(client)(kills, parts),
    )
    outcome = invoke(
        "match", "--molar-mass", "46", "--candidates", parted.folder, "--cluster", running.address
    )
    assert (outcome.status, outcome.output, len(outcome.said)) == (2, "", 1)
    assert "were lost in the middle" in outcome.complaints


def test_no_scheduler(
    monkeypatch: pytest.MonkeyPatch, parted: PartitionedTable, invoke: Run
) -> None:
    monkeypatch.setattr("identify.large.cluster._ANSWER_TIMEOUT", 0.5)
    address = f"tcp://127.0.0.1:{free_port()}"
    outcome = invoke(
        "match", "--molar-mass", "46", "--candidates", parted.folder, "--cluster", address
    )
    assert outcome.status == 2
    assert outcome.said[0].startswith(f"{address}: no Dask scheduler answers there")
    assert len(outcome.said) == 1


def test_no_workers(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    started = Running(tmp_path, workers=0)
    try:
        started.wait_for_workers()
        monkeypatch.setattr("identify.large.cluster._ANSWER_TIMEOUT", 1.0)
        with pytest.raises(ClusterError, match="has no workers"):
            cluster(started.address).__enter__()
    finally:
        started.stop()


def test_without_dask(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(ClusterError, match=r"pip install 'identify-unknown\[cluster\]'"):
        cluster("tcp://127.0.0.1:1").__enter__()
