"""The command line: parses what was typed, calls the rooms that know chemistry, prints."""

from identify.cli.app import app, main

__all__ = ["app", "main"]
