"""The command as the tests run it: in this process, its answer and complaints caught."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any, NamedTuple

import pytest

from identify.cli.app import main


class Outcome(NamedTuple):
    """What a command gave: exit status, standard output, standard error."""

    status: int
    output: str
    complaints: str

    @property
    def data(self) -> Any:
        """The output as JSON."""
        return json.loads(self.output)

    @property
    def said(self) -> list[str]:
        """Standard error, line by line."""
        return self.complaints.splitlines()


Run = Callable[..., Outcome]


@pytest.fixture
def invoke(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Run:
    """Run a command in 80 columns, each argument as it is typed."""
    monkeypatch.setenv("COLUMNS", "80")

    def call(*arguments: object) -> Outcome:
        status = main([str(argument) for argument in arguments])
        return Outcome(status, *capsys.readouterr())

    return call
