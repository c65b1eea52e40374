"""What a run of the fuzzer prints at its end."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.fuzz.profiles import is_long
from tests.fuzz.running import TALLY


@pytest.fixture(autouse=True)
def nothing_failed() -> Iterator[None]:
    """Fail at the end of a test that went on, with what did not hold."""
    TALLY.failures.clear()
    yield
    told = [f"{count}: {kind}\n    {one}" for kind, (count, one) in TALLY.failures.items()]
    if told:
        pytest.fail("\n".join(told), pytrace=False)


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Print how many inputs of each class ended how, as long as any were tried in this process."""
    if not TALLY.outcomes:
        return
    terminalreporter.section("inputs by class and outcome")
    for line in TALLY.lines(12 if is_long() else 0):
        terminalreporter.write_line(line)
