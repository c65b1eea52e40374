"""Files are written whole, with the permissions that are asked for, and through links."""

from __future__ import annotations

import os
import stat
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from identify.notebook.saving import written_anew, written_beside
from tests.command import Run, invoke

__all__ = ["invoke"]

pytestmark = pytest.mark.skipif(os.name == "nt", reason="permissions and links of POSIX")

CARDS = "label,identity,boiling_point_C\nC-1,acetone,56.1\nC-2,ethanol,78.3\n"
ROWS = "label,student,boiling_point_C\nC-1,Ada,56.1\nC-2,Ben,78.4\n"


@pytest.fixture
def umask() -> Iterator[Callable[[int], int]]:
    """Set the umask for one test."""
    before = os.umask(0o022)
    yield os.umask
    os.umask(before)


def mode(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


def write(path: Path, text: str = "dry") -> None:
    with written_beside(path) as beside:
        assert mode(beside) == 0o600  # nobody reads along
        beside.write_text(text)


@pytest.mark.parametrize(("mask", "wanted"), [(0o022, 0o644), (0o077, 0o600), (0o027, 0o640)])
def test_a_new_file_follows_the_umask(
    tmp_path: Path, umask: Callable[[int], int], mask: int, wanted: int
) -> None:
    umask(mask)
    write(tmp_path / "note.txt")
    with written_anew(tmp_path / "key.csv") as beside:
        beside.write_text("C-1,acetone")
    assert [mode(one) for one in sorted(tmp_path.iterdir())] == [wanted, wanted]
    assert os.umask(mask) == mask  # which is as it was


@pytest.mark.parametrize("kept", [0o600, 0o640, 0o444, 0o664])
def test_what_is_replaced_keeps_its_permissions(tmp_path: Path, kept: int) -> None:
    file = tmp_path / "note.txt"
    file.write_text("wet")
    file.chmod(kept)
    write(file)
    assert (file.read_text(), mode(file)) == ("dry", kept)


def test_a_link_is_followed(tmp_path: Path) -> None:
    (tmp_path / "far").mkdir()
    file, link = tmp_path / "far" / "note.txt", tmp_path / "link.txt"
    file.write_text("wet")
    file.chmod(0o600)
    link.symlink_to(file)
    write(link)
    assert link.is_symlink()
    assert (file.read_text(), mode(file)) == ("dry", 0o600)
    assert [one.name for one in file.parent.iterdir()] == ["note.txt"]
    file.unlink()
    write(link, "anew")  # to where there is nothing yet
    assert (link.is_symlink(), file.read_text()) == (True, "anew")


def test_a_device_is_not_replaced(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.txt")
    (tmp_path / "link.txt").symlink_to("/dev/null")
    for name in ("pipe.txt", "link.txt"):
        with pytest.raises(OSError, match="is not a file that can be replaced"):
            write(tmp_path / name)
    assert sorted(one.name for one in tmp_path.iterdir()) == ["link.txt", "pipe.txt"]
    assert Path("/dev/null").is_char_device()


def test_two_writers_at_once_leave_one_whole_file(tmp_path: Path) -> None:
    texts = {letter: letter * 200_000 for letter in "abcd"}
    start = threading.Barrier(len(texts))

    def go(text: str) -> None:
        start.wait()
        for _ in range(20):
            write(tmp_path / "note.txt", text)

    threads = [threading.Thread(target=go, args=(text,)) for text in texts.values()]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    (file,) = tmp_path.iterdir()
    assert file.read_text() in texts.values()


# ----------------------------------------------------------------------- as commands write files

WRITTEN = {
    "cards": (("cards", "stock.csv", "--pdf", "cards.pdf", "--key", "key.pdf"), ("key.pdf",)),
    "report": (("match", "rows.csv", "--report", "new.html"), ("new.html",)),
    "plot": (("match", "rows.csv", "--plot", "{label}.svg"), ("C-1.svg", "C-2.svg")),
    "section": (("section", "rows.csv", "--out", "new.xlsx"), ("new.xlsx",)),
    "feedback": (("section", "rows.csv", "--feedback", "."), ("Ada.html", "feedback.pdf")),
}


@pytest.mark.parametrize("name", WRITTEN)
def test_private_files_stay_private(
    invoke: Run,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    umask: Callable[[int], int],
    name: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    umask(0o077)
    Path("stock.csv").write_text(CARDS, encoding="utf-8")
    Path("rows.csv").write_text(ROWS, encoding="utf-8")
    arguments, files = WRITTEN[name]
    assert invoke(*arguments).complaints == ""
    assert {file: mode(Path(file)) for file in files} == dict.fromkeys(files, 0o600)
    umask(0o022)  # and now that they are there, also without it
    if name != "cards":  # which never writes over a file
        assert invoke(*arguments).complaints == ""
    assert {file: mode(Path(file)) for file in files} == dict.fromkeys(files, 0o600)


@pytest.mark.parametrize("target", ["rows.svg", "link.svg", "far/../rows.svg"])
def test_a_plot_overwrites_no_input(
    invoke: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, target: str
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("far").mkdir()
    Path("rows.svg").write_text("label,boiling_point_C\nC-1,56.1\n", encoding="utf-8")
    Path("link.svg").symlink_to("rows.svg")
    outcome = invoke("match", "rows.svg", "--plot", target)
    assert outcome.status == 2
    assert outcome.said == [
        f"--plot: {target}: is what is read here, and would be lost; give another name"
    ]
    assert Path("rows.svg").read_text(encoding="utf-8").startswith("label,")


def test_an_index_overwrites_no_table(
    invoke: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("big.parquet").write_bytes(b"PAR1")
    Path("big.arrow").symlink_to("big.parquet")
    outcome = invoke("candidates", "index", "big.parquet", "--out", "big.arrow")
    assert outcome.status == 2
    assert outcome.said == ["big.arrow: is what is read here, and would be lost"]
