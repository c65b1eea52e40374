"""What is handed out: the source distribution is the checkout, the wheel all that runs."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tarfile
import zipfile
from email.parser import Parser
from pathlib import Path

import page_output
import pytest

CHECKOUT = Path(__file__).resolve().parents[1]
DEMO = {file.name for file in (CHECKOUT / "data" / "demo").iterdir()}
_KEPT_OUT = re.compile(r"(^|/)(\.(?!ci|gitignore)|__pycache__|build/|dist/|[^/]*\.egg-info)")


def run(*command: str, folder: Path, **environment: str) -> str:
    """Run Python with these arguments in a folder, and return what it prints."""
    done = subprocess.run(
        [sys.executable, *command],
        cwd=folder,
        env={**os.environ, "COLUMNS": "80", **environment},
        capture_output=True,
        text=True,
        check=False,
    )
    # 1, 2: the demo's tables have faults and a row that cannot be used, on purpose.
    assert done.returncode in (0, 1, 2), done.stderr
    assert "the program itself failed" not in done.stderr
    return done.stdout


@pytest.fixture(scope="session")
def unpacked(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The source distribution, unpacked."""
    folder = tmp_path_factory.mktemp("sdist")
    run("-m", "hatchling", "build", "-t", "sdist", "-d", str(folder), folder=CHECKOUT)
    [archive] = folder.glob("*.tar.gz")
    with tarfile.open(archive) as opened:
        opened.extractall(folder, filter="data")
    return folder / archive.name.removesuffix(".tar.gz")


@pytest.fixture(scope="session")
def installed(unpacked: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with what the wheel holds, made of the unpacked source distribution."""
    folder = tmp_path_factory.mktemp("wheel")
    run("-m", "hatchling", "build", "-t", "wheel", "-d", str(folder), folder=unpacked)
    [archive] = folder.glob("*.whl")
    zipfile.ZipFile(archive).extractall(folder)
    return folder


def files(folder: Path) -> set[str]:
    every = (path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file())
    return {name for name in every if not _KEPT_OUT.search(name)}


def test_the_source_distribution_is_the_checkout(unpacked: Path) -> None:
    assert files(unpacked) - {"PKG-INFO"} == files(CHECKOUT)


def test_the_source_distribution_runs_its_tests(unpacked: Path) -> None:
    doctests = "identify/notebook/quantity/units.py"
    tests = ("tests/test_developers.py", "tests/test_quantities.py", doctests)
    done = run("-m", "pytest", "-q", "-p", "no:cacheprovider", *tests, folder=unpacked)
    assert re.search(r"\b\d{3} passed", done)


def test_the_wheel_holds_every_file_of_the_package_and_its_data(installed: Path) -> None:
    package = {f"identify/{name}" for name in files(CHECKOUT / "identify")}
    data = {f"identify/data/{name}" for name in files(CHECKOUT / "data")}
    told = next(installed.glob("*.dist-info"))
    besides = files(installed) - {f"{told.name}/{name}" for name in files(told)}
    assert besides - {name for name in besides if name.endswith(".whl")} == package | data
    assert "MIT License" in (told / "licenses" / "data" / "LICENSE.txt").read_text("utf-8")
    assert "identify.cli:main" in (told / "entry_points.txt").read_text("utf-8")


def test_the_wheel_tells_its_license_extras_and_pythons(installed: Path) -> None:
    told = Parser().parsestr(next(installed.glob("*.dist-info/METADATA")).read_text("utf-8"))
    assert told["License-Expression"] == "MIT"
    assert told["License-File"] == "data/LICENSE.txt"
    assert told["Requires-Python"] == ">=3.11"
    assert {"build", "cluster", "test"} <= set(told.get_all("Provides-Extra", []))


def test_the_readmes_commands_work_in_another_folder(installed: Path, tmp_path: Path) -> None:
    """As README says: the demo copied to data/demo, each command prints what README shows."""
    home = {"PYTHONPATH": str(installed)}
    where = "import identify; print(identify.__file__)"
    assert run("-c", where, folder=tmp_path, **home).startswith(str(installed))
    run("-m", "identify", "demo", "data/demo", folder=tmp_path, **home)
    assert {file.name for file in (tmp_path / "data" / "demo").iterdir()} == DEMO
    readme = (CHECKOUT / "README.md").read_text(encoding="utf-8")
    blocks = [block for block in page_output.BLOCK.finditer(readme) if block["kind"] == "output"]
    assert len(blocks) >= 2
    for block in blocks:
        printed = run("-m", "identify", *block["source"].split()[1:], folder=tmp_path, **home)
        assert block[0] == f"{block['head']}{printed}```\n"
    stock = ("check-stock", "data/demo/stock.csv", "--fix", "corrected.csv")
    run("-m", "identify", *stock, folder=tmp_path, **home)
    assert (tmp_path / "corrected.csv").is_file()
    assert "methanol" in run("-m", "identify", "guide", "student", folder=tmp_path, **home)


WITHOUT = """
import sys
for library in ("chemicals", "fluids"):
    sys.modules[library] = None
from identify.cli import main
sys.exit(main())
"""
STRANGERS = "label,identity,boiling_point_C\nK-1,acetone,56.1\nK-2,iodoform,218\nK-3,50-00-0,-19\n"


@pytest.mark.parametrize(
    "command",
    [
        "molar-mass data/demo/C-23.toml",  # the flask's volume from the water's mass
        "check-stock strangers.csv",  # liquids that the table lacks: their hazards
        "candidates build strangers.smi --out built.parquet",  # in how many inventories
        "section data/demo/section.csv --key data/demo/stock.csv",
        "plan data/demo/stock.csv --liquids 4",
    ],
)
def test_what_only_makes_the_table_is_not_needed(command: str, tmp_path: Path) -> None:
    shutil.copytree(CHECKOUT / "data" / "demo", tmp_path / "data" / "demo")
    (tmp_path / "strangers.csv").write_text(STRANGERS)
    (tmp_path / "strangers.smi").write_text("C(I)(I)I iodoform\nCC(C)=O acetone\n")
    assert run("-c", WITHOUT, *command.split(), folder=tmp_path, PYTHONPATH=str(CHECKOUT))


def test_making_the_table_names_its_extra(tmp_path: Path) -> None:
    script = CHECKOUT / "scripts" / "build_candidates.py"
    code = f"import sys, runpy; sys.modules['chemicals'] = None; runpy.run_path({str(script)!r})"
    done = subprocess.run(
        [sys.executable, "-c", code],
        env={**os.environ, "PYTHONPATH": str(CHECKOUT)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 1
    assert done.stderr.splitlines()[-1].endswith("pip install 'identify-unknown[build]'")
