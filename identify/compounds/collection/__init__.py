"""A table of candidates from whatever structures somebody has, of any size.

`building` streams the inputs in chunks (`inputs`, `sheets`, `molfiles`), has each made into rows
(`rows`) by processes here or elsewhere (`workers`), keeps finished chunks beside the table to
be (`parts`), and puts them together (`merging`).
"""

from identify.compounds.collection.building import BuildOptions, Built, build_collection
from identify.compounds.collection.workers import StoppedError
from identify.tables.structures.source import Headings, InputFault

__all__ = ["BuildOptions", "Built", "Headings", "InputFault", "StoppedError", "build_collection"]
