"""The command line: parses what was typed, calls the rooms that know chemistry, prints."""

import gc

# What is made while a command starts stays: looking through it for garbage again and again takes a
# fifteenth of the time of a match.
gc.set_threshold(100_000, 20, 20)

from identify.cli.app import app, main  # noqa: E402

__all__ = ["app", "main"]
