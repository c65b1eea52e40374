"""Drawings as part of a page: an SVG file becomes an element that takes the page's colors."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import TYPE_CHECKING
from xml.etree import ElementTree

from identify.notebook.errors import UnusableInput

if TYPE_CHECKING:
    from markupsafe import Markup

_SVG = "{http://www.w3.org/2000/svg}"
_COLOR = re.compile(r"#[0-9A-Fa-f]{6}\b")
_LINK = re.compile(r"#([A-Za-z][\w.-]*)")
# Two decimals are a hundredth of a point; the others differ from one processor to the next.
_LONG_NUMBER = re.compile(r"-?\d+\.\d{3,}")
_SPACES = re.compile(r"\s+")
_UNITS = {"pt": 4.0 / 3.0, "px": 1.0}  # CSS pixels, by definition
# What a drawing says to an SVG viewer, and is nothing to a page.
_LEFT_OUT = frozenset(f"{_SVG}{name}" for name in ("metadata", "style", "title"))
_KEPT_ON_TOP = ("viewBox", "class", "role", "aria-label", "width", "height")


class UnknownColor(UnusableInput):
    """A drawing holds a color that the page has none for; in dark mode it could not be seen."""


def inline_svg(text: str, name: str, label: str, colors: Mapping[str, str]) -> Markup:
    """Return a drawing as an element of a page.

    Parameters
    ----------
    text : str
        An SVG file.
    name : str
        Unique on the page: what the drawing's own ids begin with.
    label : str
        What it shows, for those who do not see it.
    colors : mapping of str to str
        What each of its colors, as ``#1d3557``, is on the page.

    Raises
    ------
    UnknownColor
        If it holds another color.

    Examples
    --------
    >>> svg = '<svg xmlns="http://www.w3.org/2000/svg" width="3pt" height="3pt" '
    >>> svg += 'viewBox="0 0 3 3"><path id="p" d="M 0 1.23456" stroke="#000000"/></svg>'
    >>> for part in inline_svg(svg, "one", "a dot", {"#000000": "currentColor"}).split("><"):
    ...     print(part)
    <svg viewBox="0 0 3 3" class="drawing" role="img" aria-label="a dot" width="4" height="4"
    path d="M 0 1.23" stroke="currentColor" /
    /svg>
    """
    from markupsafe import Markup

    root = ElementTree.fromstring(text)
    _drop(root)
    linked = {
        one
        for element in root.iter()
        for key, value in element.attrib.items()
        if _plain(key) in ("href", "clip-path")
        for one in _LINK.findall(value)
    }
    for element in root.iter():
        element.tag = element.tag.removeprefix(_SVG)
        attributes = {_plain(key): value for key, value in element.attrib.items()}
        attributes.pop("class", None)
        if attributes.get("id") not in linked:
            attributes.pop("id", None)
        element.attrib.clear()
        element.attrib.update(
            {key: _value(key, value, name, colors) for key, value in attributes.items()}
        )
        if element.tag != "text":
            element.text = None
        element.tail = None
    _on_top(root, label)
    return Markup(ElementTree.tostring(root, encoding="unicode"))


def _drop(element: ElementTree.Element) -> None:
    for child in list(element):
        _drop(child)
        empty = child.tag in (f"{_SVG}defs", f"{_SVG}g") and not len(child)
        if child.tag in _LEFT_OUT or not child.tag.startswith(_SVG) or empty:
            element.remove(child)


def _plain(key: str) -> str:
    return key.rpartition("}")[2]


def _value(key: str, value: str, name: str, colors: Mapping[str, str]) -> str:
    if key == "id":
        return f"{name}-{value}"
    if key in ("href", "clip-path"):
        return _LINK.sub(rf"#{name}-\1", value)

    def color(found: re.Match[str]) -> str:
        try:
            return colors[found[0].lower()]
        except KeyError:
            raise UnknownColor(f"{name}: {found[0]} in {key}") from None

    shortened = _LONG_NUMBER.sub(lambda found: f"{float(found[0]):.2f}", _COLOR.sub(color, value))
    return _SPACES.sub(" ", shortened).strip()


def _on_top(root: ElementTree.Element, label: str) -> None:
    size = {side: _pixels(root.attrib[side]) for side in ("width", "height")}
    root.attrib.update({"class": "drawing", "role": "img", "aria-label": label, **size})
    kept = {key: root.attrib[key] for key in _KEPT_ON_TOP if key in root.attrib}
    root.attrib.clear()
    root.attrib.update(kept)


def _pixels(length: str) -> str:
    unit = length[-2:] if length[-2:] in _UNITS else "px"
    return f"{float(length.removesuffix(unit)) * _UNITS[unit]:.0f}"
