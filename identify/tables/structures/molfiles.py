"""Records from SDF: split by text here, read by RDKit where the rows are made."""

from __future__ import annotations

import re
import zlib
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import fields

from identify.tables.faults import UnreadableError
from identify.tables.lines import TextLine
from identify.tables.structures.columns import choose_columns
from identify.tables.structures.source import Gathering, Headings, Record, StructureFile

_END = "$$$$"
_LONGEST_RECORD = 1_000_000  # characters
_TAG = re.compile(r">.*?<([^>]+)>")
_END_OF_STRUCTURE = "M  END"
_NO_END = f"is longer than {_LONGEST_RECORD} characters; a line {_END} must end each record"
_TWO = f"holds more than one structure; a line {_END} must end each record"


def read_molfiles(
    lines: Iterator[TextLine], wanted: Headings, gathering: Gathering
) -> Iterator[None]:
    """Turn the records of an SDF into `Record`; pauses after each, so that chunks can be taken.

    Raises
    ------
    UnreadableError
        If a tag that the user named is not there, or two may be meant.
    """
    names = _tags(gathering.source)
    chosen = choose_columns(names, wanted)
    gathering.begin(chosen.unit, chosen.said)
    tags = {field: names[place] for field, place in chosen.places.items()}
    for number, (block, fault) in enumerate(_blocks(lines), start=1):
        if fault:
            gathering.refuse(number, block.partition("\n")[0], fault)
        else:
            gathering.add(_record(number, block, tags))
        yield


def _tags(source: StructureFile) -> list[str]:
    """Return the tags of all records: a late one may be the only one with a boiling point."""
    found: dict[str, None] = {}
    # What cannot be read is told where its records are.
    with suppress(OSError, EOFError, zlib.error, UnreadableError), source.opened() as opened:
        for line in opened.lines():
            if line.text[:1] == ">" and (tag := _TAG.match(line.text)):
                found[tag[1]] = None
    return list(found)


def _blocks(lines: Iterator[TextLine]) -> Iterator[tuple[str, str]]:
    """Yield the text of each record, or its beginning and why it cannot be read."""
    texts: list[str] = []
    size, structures, fault = 0, 0, ""
    for line in lines:
        if line.text.startswith(_END):
            yield "\n".join(texts), fault
            texts, size, structures, fault = [], 0, 0, ""
            continue
        fault = fault or line.fault
        structures += line.text.startswith(_END_OF_STRUCTURE)
        if structures > 1:
            fault = fault or _TWO
        size += len(line.text) + 1
        if size > _LONGEST_RECORD:
            fault = fault or _NO_END
            del texts[1:]
        texts.append(line.text)
    if any(text.strip() for text in texts):
        yield "\n".join(texts), fault


def _record(number: int, block: str, tags: dict[str, str]) -> Record:
    texts = block.split("\n")
    values: dict[str, str] = {}
    for place, text in enumerate(texts):
        if text.startswith(">") and (tag := _TAG.match(text)):
            values.setdefault(tag[1], texts[place + 1].strip() if place + 1 < len(texts) else "")
    cells = {
        one.name: values.get(tags[one.name], "")
        for one in fields(Headings)
        if one.name in tags and one.name != "smiles"
    }
    cells["name"] = cells.get("name") or texts[0].strip()
    return Record(number, block=block, **cells)
