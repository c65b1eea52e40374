"""Matches and builds on a Dask cluster: the same to the last bit, also when a worker dies."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from distributed import Client

from identify import Measurement
from identify.candidates.collection import BuildOptions, build_collection
from identify.candidates.partitions import PartitionedTable, TablePart
from identify.candidates.table import CandidateTable, TableError
from identify.cluster import ClusterError, cluster, executor, sharing_out
from identify.matching.large import ShareOfPart, ShareOut, match_large
from identify.matching.likelihood import Tolerances
from identify.matching.shares import Share
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

    def __init__(self, folder: Path, workers: int) -> None:
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

    @staticmethod
    def _start(folder: Path, what: str, *arguments: str) -> subprocess.Popen[bytes]:
        with (folder / "dask.log").open("ab") as log:
            return subprocess.Popen(
                [sys.executable, "-m", "distributed.cli.dask_" + what, *arguments],
                env={**os.environ, "PYTHONPATH": str(CHECKOUT)},
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

    def __call__(self, part: TablePart) -> Share:
        if part.path.name == self.at and not self.mark.exists():
            self.mark.touch()
            os.kill(os.getpid(), signal.SIGKILL)
        return self.compared(part)


def answer(run: Measurement, parted: PartitionedTable, share_out: ShareOut = map) -> Any:
    return match_large(run, parted, Tolerances(), "commerce", share_out).to_dict()


def test_a_worker_is_killed_in_the_middle(
    tmp_path: Path, running: Running, parted: PartitionedTable
) -> None:
    mark = tmp_path / "killed"
    run = RUNS["weighed and card"]
    with cluster(running.address) as client:
        whole = sharing_out(client)

        def killing(compared: ShareOfPart, parts: Sequence[TablePart]) -> Iterable[Share]:
            return whole(DiesOnce(compared, "part-00011.parquet", mark), parts)

        assert answer(run, parted, killing) == answer(run, parted)
    assert mark.exists()
    ended = [worker.poll() for worker in running.workers]
    assert sorted(ended, key=str) == [-signal.SIGKILL, None]


def test_command_and_build(
    tmp_path: Path, running: Running, parted: PartitionedTable, invoke: Run
) -> None:
    asked = ["match", "--boiling-point", "78.3 C", "--percent", "C=52.1 H=13.1"]
    asked += ["--candidates", str(parted.folder)]
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
        with cluster(running.address) as client, pytest.raises(TableError, match="part-00007"):
            answer(RUNS["card"], parted, sharing_out(client))
    finally:
        parted.parts[7].path.write_bytes(kept)


def test_no_scheduler(
    monkeypatch: pytest.MonkeyPatch, parted: PartitionedTable, invoke: Run
) -> None:
    monkeypatch.setattr("identify.cluster._PATIENCE", 0.5)
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
        monkeypatch.setattr("identify.cluster._PATIENCE", 1.0)
        with pytest.raises(ClusterError, match="has no workers"):
            cluster(started.address).__enter__()
    finally:
        started.stop()


def test_without_dask(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(ClusterError, match=r"pip install 'identify-unknown\[cluster\]'"):
        cluster("tcp://127.0.0.1:1").__enter__()
