"""Deviations as a picture: what is drawn where, and the files that hold it."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections.abc import Callable, Sequence
from itertools import pairwise
from pathlib import Path

import pytest
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from identify import Measurement, load_candidates, match, read_runs
from identify.answers.pictures import PLOT_KINDS, plots
from identify.answers.text import percent_text
from identify.cli import main
from identify.compounds.naming.lookup import row_meant
from identify.matching.evidence import Matcher

CHECKOUT = Path(__file__).resolve().parents[1]
DEMO = CHECKOUT / "data" / "demo"
MATCHER = Matcher(load_candidates())
CARD = Measurement("C-9", boiling_point="78.4 C", percent={"C": 52.1, "H": 13.1})
STARTS = {"png": b"\x89PNG\r\n", "svg": b"<?xml", "pdf": b"%PDF-"}


def drawn(run: Measurement, *names: str) -> Figure:
    return plots.deviation_figure(run, MATCHER, [row_meant(MATCHER.table, name) for name in names])


def panels(figure: Figure) -> dict[str, Axes]:
    """Return the axes by the first line of their heading."""
    return {axes.get_title().split("\n")[0]: axes for axes in figure.axes}


def marks(axes: Axes) -> list[tuple[str, float]]:
    """Return the markers' shapes and places, from the top: of the readings as written."""
    besides = ("None", None, "", "s")  # a square is a reading with its slip set right
    lines = [line for line in axes.get_lines() if line.get_marker() not in besides]
    lines.sort(key=lambda line: float(line.get_ydata()[0]))
    return [(str(line.get_marker()), float(line.get_xdata()[0])) for line in lines]


def numbers(axes: Axes) -> list[str]:
    return [text.get_text() for text in axes.texts]


# ------------------------------------------------------------------------------- what is drawn


def test_one_row_a_compound_and_one_panel_an_observable() -> None:
    figure = drawn(CARD, "ethanol", "dimethyl ether", "acetone")
    assert list(panels(figure)) == ["carbon", "hydrogen", "boiling point"]
    labels = [text.get_text() for text in figure.axes[0].get_yticklabels()]
    assert [label.split("\n")[0] for label in labels] == ["ethanol", "dimethyl ether", "acetone"]
    assert all(label.endswith("%") for label in labels)
    lowest, highest = figure.axes[0].get_ylim()
    assert lowest > highest  # the first is at the top
    assert figure.get_suptitle().startswith("C-9: ")
    assert {axes.get_xlabel() for axes in figure.axes} == {"tolerances"}
    assert figure.axes[0].get_ylabel()
    assert "read 78.4 °C" in panels(figure)["boiling point"].get_title()


@pytest.mark.parametrize(
    ("boils", "mark", "place", "text"),
    [
        (78.4, "o", 0.0, None),
        (80.3, "o", 0.95, None),
        (82.4, "D", 2.0, r"\+2\.0"),
        (74.4, "D", -2.0, r"−2\.0"),
        (80.46, "D", 1.02, r"\+1\.0\d"),  # not rounded to what would agree
        (90.2, "D", 5.9, r"\+5\.9"),
        (91.4, ">", 5.5, r"\+6\.5"),
        (58.3, "<", -5.5, r"−10\.\d"),
        (878.4, ">", 5.5, r"\+399|\+400"),
    ],
)
def test_markers_say_by_shape_whether_it_agrees(
    boils: float, mark: str, place: float, text: str | None
) -> None:
    figure = drawn(Measurement("C-9", boiling_point=boils), "ethanol")
    (axes,) = figure.axes
    ((shape, at),) = marks(axes)
    assert shape == mark
    assert at == pytest.approx(place, abs=0.03)
    if text is None:
        assert numbers(axes) == []
    else:
        (number,) = numbers(axes)
        assert re.fullmatch(text, number)


def test_the_band_is_the_tolerance_and_the_edges_are_the_same_everywhere() -> None:
    for axes in drawn(CARD, "ethanol", "acetone").axes:
        (band,) = axes.patches
        left, right = band.get_extents().transformed(axes.transData.inverted()).intervalx
        assert (left, right) == pytest.approx((-1.0, 1.0))
        assert axes.get_xlim() == (-plots.EDGE, plots.EDGE)


def test_a_constant_that_is_not_known_is_said_to_be() -> None:
    run = Measurement("C-9", melting_point="-114 C")
    known = MATCHER.table.number("melting_point_C")
    unknown = next(row for row, value in enumerate(known) if value != value)
    figure = plots.deviation_figure(run, MATCHER, [unknown, row_meant(MATCHER.table, "ethanol")])
    (axes,) = figure.axes
    assert numbers(axes) == ["not known"]
    assert [shape for shape, _ in marks(axes)] == ["o"]


@pytest.mark.parametrize("has_meant", [False, True])
def test_what_the_marks_are(has_meant: bool) -> None:
    told = [one.get_label() for one in plots._legend(has_meant)]
    always = ["within tolerance", "agrees", "outside", "off by more than 6, as numbered"]
    assert told == [*always, *["with the slip set right"] * has_meant]


@pytest.mark.parametrize("record", sorted(file.stem for file in DEMO.glob("*.toml")))
def test_nothing_is_cut_off(record: str) -> None:
    (run,) = read_runs(DEMO / f"{record}.toml")
    rows = [one.index for one in match(run).candidates[:8]]
    longest = max(range(len(MATCHER.table)), key=lambda row: len(MATCHER.table.text("name")[row]))
    figure = plots.deviation_figure(run, MATCHER, [*rows, longest])
    figure.draw_without_rendering()
    page = figure.bbox
    shown = [*figure.texts, *figure.legends]
    shown += [text for axes in figure.axes for text in (axes.title, axes.xaxis.label)]
    shown += [figure.axes[0].yaxis.label, *figure.axes[0].get_yticklabels()]
    for one in shown:
        box = one.get_window_extent()
        assert box.x0 >= -1.0
        assert box.y0 >= -1.0
        assert box.x1 <= page.x1 + 1.0
        assert box.y1 <= page.y1 + 1.0
    labels = [text.get_window_extent() for text in figure.axes[0].get_yticklabels()]
    for upper, lower in pairwise(labels):
        assert upper.y0 > lower.y1


def test_nothing_measured() -> None:
    with pytest.raises(plots.NothingToDraw, match="nothing was measured"):
        drawn(Measurement("C-9"), "ethanol")


# --------------------------------------------------------------------------------- the files


@pytest.mark.parametrize("kind", PLOT_KINDS)
def test_files(kind: str, tmp_path: Path, recwarn: pytest.WarningsRecorder) -> None:
    run = Measurement("C-$9_$ 漢\x07^{2}", boiling_point=78.4)
    figure = drawn(run, "ethanol", "acetone")
    for name in (f"one.{kind}", f"two.{kind.upper()}"):
        plots.save(figure, tmp_path / name)
    one, two = sorted(tmp_path.iterdir())  # and no temporary neighbor
    assert one.read_bytes().startswith(STARTS[kind])
    assert one.read_bytes() == two.read_bytes()
    assert recwarn.list == []


@pytest.mark.parametrize("name", ["plot.jpg", "plot", "plot.png.txt"])
def test_other_kinds_are_refused(name: str, tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="png, svg, pdf"):
        plots.save(drawn(CARD, "ethanol"), tmp_path / name)
    assert list(tmp_path.iterdir()) == []


def test_what_was_there_stays_where_drawing_fails(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "plot.png"
    file.write_text("before")
    figure = drawn(CARD, "ethanol")

    def fail(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(figure, "savefig", fail)
    with pytest.raises(OSError, match="No space left"):
        plots.save(figure, file)
    assert [(one.name, one.read_text()) for one in tmp_path.iterdir()] == [("plot.png", "before")]


# ------------------------------------------------------------------------------- the command

Command = Callable[..., tuple[int, str, str]]
ETHANOL = ("--boiling-point", "78.4 C", "--percent", "C=52.1 H=13.1")


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Command:
    monkeypatch.setenv("COLUMNS", "80")

    def call(*arguments: object) -> tuple[int, str, str]:
        status = main([str(argument) for argument in arguments])
        return (status, *capsys.readouterr())

    return call


@pytest.mark.parametrize("kind", PLOT_KINDS)
def test_a_plot_beside_the_answer(run: Command, tmp_path: Path, kind: str) -> None:
    file = tmp_path / f"plot.{kind}"
    status, output, complaints = run("match", *ETHANOL, "--plot", file)
    assert (status, complaints) == (0, "")
    assert "One match: ethanol" in output
    assert file.read_bytes().startswith(STARTS[kind])
    assert list(tmp_path.iterdir()) == [file]


def table(folder: Path, rows: Sequence[str]) -> Path:
    file = folder / "section.csv"
    file.write_text("\n".join(["label,student,boiling_point_C", *rows]) + "\n")
    return file


@pytest.mark.parametrize(
    ("rows", "name", "files"),
    [
        (["C-1,,56.1"], "plot.png", ["plot.png"]),
        (["C-1,,56.1", "C-2,,78.4"], "{label}.png", ["C-1.png", "C-2.png"]),
        (["C/1,,56.1", "../C,,78.4"], "a {label}.svg", ["a C_1.svg", "a _C.svg"]),
        (
            ["C-1,Ada,56.1", "C-1,Bo,56.3"],
            "{label} {student}.png",
            ["C-1 Ada.png", "C-1 Bo.png"],
        ),
    ],
)
def test_names_of_the_files(
    run: Command, tmp_path: Path, rows: list[str], name: str, files: list[str]
) -> None:
    folder = tmp_path / "plots"
    folder.mkdir()
    status, _, complaints = run("match", table(tmp_path, rows), "--top=2", "--plot", folder / name)
    assert (status, complaints) == (0, "")
    assert sorted(file.name for file in folder.iterdir()) == files


@pytest.mark.parametrize(
    ("rows", "name", "fault"),
    [
        (["C-1,,56.1"], "plot.jpg", "ends in none of .png, .svg, .pdf"),
        (["C-1,,56.1"], "plot", "ends in none of"),
        (["C-1,,56.1"], "missing/plot.png", "there is no such folder"),
        (["C-1,,56.1", "C-2,,78.4"], "plot.png", "put {label} into the name"),
        (["C-1,A,56.1", "C-1,B,56.1"], "{label}.png", "put {student} into the name"),
        (["c-1,A,56.1", "C-1,B,56.1"], "{label}.png", "2 unknowns would all be drawn into"),
        (["C-1,,56.1"], "folder.png", "folder.png: "),
    ],
)
def test_faults_are_one_line(
    run: Command, tmp_path: Path, rows: list[str], name: str, fault: str
) -> None:
    folder = tmp_path / "plots"
    (folder / "folder.png").mkdir(parents=True)
    status, output, complaints = run("match", table(tmp_path, rows), "--plot", folder / name)
    assert status == 2
    assert complaints.count("\n") == 1
    assert complaints.startswith("--plot: ")
    assert fault in complaints
    assert "C-1" in output  # what can be answered is
    assert [file.name for file in folder.iterdir()] == ["folder.png"]


def test_the_compound_explained_is_drawn_too(
    run: Command, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: list[list[int]] = []
    draw = plots.deviation_figure

    def spy(run: Measurement, matcher: Matcher, rows: Sequence[int]) -> Figure:
        seen.append(list(rows))
        return draw(run, matcher, rows)

    monkeypatch.setattr(plots, "deviation_figure", spy)
    for name in ("benzene", "ethanol"):
        options = ("--top=1", "--explain", name, "--plot", tmp_path / "plot.png")
        assert run("match", *ETHANOL, *options)[0] == 0
    ethanol, benzene = (row_meant(MATCHER.table, name) for name in ("ethanol", "benzene"))
    assert seen == [[ethanol, benzene], [ethanol]]


def test_without_a_display_or_a_place_for_caches(tmp_path: Path) -> None:
    closed = tmp_path / "closed"
    closed.write_text("a file, so that no folder can be made in it")
    environment = {key: value for key, value in os.environ.items() if key != "DISPLAY"}
    environment |= {"MPLCONFIGDIR": str(closed / "config"), "HOME": str(closed)}
    # What one library finds outdated in another is theirs.
    warnings = "default,ignore::DeprecationWarning"
    environment |= {"MPLBACKEND": "tkagg", "PYTHONWARNINGS": warnings}
    done = subprocess.run(
        [sys.executable, "-m", "identify", "match", *ETHANOL, "--plot", str(tmp_path / "a.png")],
        cwd=CHECKOUT,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.returncode, done.stderr) == (0, "")
    assert (tmp_path / "a.png").read_bytes().startswith(STARTS["png"])


def test_the_probabilities_are_those_of_the_answer() -> None:
    """A slip that the answer allows for is allowed for here too."""
    run = read_runs("data/demo/C-31.toml").measurements[0]
    first = match(run).candidates[0]
    figure = plots.deviation_figure(run, MATCHER, [first.index])
    (name,) = (text.get_text() for text in figure.axes[0].get_yticklabels())
    assert name == f"{first.name}\n{percent_text(first.probability)}"
