"""The page that holds an answer: one HTML file that needs nothing else, and how it is saved."""

from __future__ import annotations

import re
from functools import lru_cache
from importlib import resources
from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING, Any

from identify.answers.text import CAUTION, percent_text, signed
from identify.answers.text.numbers import counted
from identify.answers.text.ranking import UNCERTAIN_BOILING_POINT, is_boiling_point_uncertain
from identify.notebook.findings import worst_first
from identify.notebook.printable import on_one_line
from identify.notebook.saving import written_beside

if TYPE_CHECKING:
    from jinja2 import Environment
    from markupsafe import Markup

    from identify.notebook.findings import Finding

DASH = "\N{EN DASH}"  # where there is no number
_MINUS, _NO_BREAK = "\N{MINUS SIGN}", "\N{NO-BREAK SPACE}"
_FORMULA = re.compile(r"(?:[A-Z][a-z]?\d*)+")
_COUNT = re.compile(r"(\d+)")
_UNIT = re.compile(r"(?<=\d) (?=%|°C|g/mol|mmHg|ppm\b|h\b)")


def render(template: str, **contents: Any) -> str:
    """Return a page.

    Parameters
    ----------
    template : str
        One of ``identify.answers.html.templates``.
    **contents
        What it holds. Text is escaped, so that nothing from a file becomes part of the page.
    """
    environment = _environment()
    return environment.get_template(template).render(caution=CAUTION, **contents)


def save_page(html: str, target: Path) -> None:
    """Write a page: whole, or not at all.

    Raises
    ------
    OSError
        If its folder is missing, or nothing can be written there.
    """
    with written_beside(target) as beside:
        beside.write_text(html, encoding="utf-8", newline="\n")


def shown(value: Any) -> Any:
    r"""Return what a page can show of a value; see `identify.notebook.printable`.

    Examples
    --------
    >>> shown("C\x00-1\u202e4"), shown(3)
    ('C�-1�4', 3)
    """
    is_text = isinstance(value, str) and not hasattr(value, "__html__")
    return on_one_line(value) if is_text else value


def number_text(value: float | None, digits: int) -> str:
    """Return a number with so many decimals, a dash for none.

    Examples
    --------
    >>> number_text(-12.345, 1), number_text(None, 1), number_text(float("nan"), 1)
    ('−12.3', '–', '–')
    """
    if value is None or not isfinite(value):
        return DASH
    return f"{value:.{digits}f}".replace("-", _MINUS)


def deviation_text(value: float | None, digits: int) -> str:
    """Return a deviation with its sign, a dash for none.

    Examples
    --------
    >>> deviation_text(-0.31, 1), deviation_text(2.0, 1), deviation_text(None, 1)
    ('−0.3', '+2.0', '–')
    """
    text = signed(value, digits)
    return DASH if text == "-" else text.replace("-", _MINUS)


def _formula_markup(formula: str) -> str | Markup:
    """Return a formula with its numbers lowered; what is none, as it is.

    Examples
    --------
    >>> print(_formula_markup("C2H6O"), _formula_markup("2 <b>"))
    C<sub>2</sub>H<sub>6</sub>O 2 <b>
    """
    from markupsafe import Markup

    if not _FORMULA.fullmatch(formula):
        return formula
    return Markup(_COUNT.sub(r"<sub>\1</sub>", formula))


def _unbroken(text: str) -> str:
    r"""Return text in which no line ends between a number and its unit.

    Examples
    --------
    >>> _unbroken("at 64.6 °C and 742 mmHg").split(" ")
    ['at', '64.6\xa0°C', 'and', '742\xa0mmHg']
    """
    return _UNIT.sub(_NO_BREAK, text)


def _counts_text(findings: list[Finding] | tuple[Finding, ...]) -> str:
    """Return how many findings there are of each severity.

    Examples
    --------
    >>> from identify.notebook.findings import Finding
    >>> _counts_text([Finding("few-students", kind, "", "") for kind in ("error", "note", "note")])
    '1 error, 2 notes'
    """
    severities = [finding.severity for finding in findings]
    return ", ".join(
        counted(severities.count(severity), severity)
        for severity in ("error", "warning", "note")
        if severity in severities
    )


@lru_cache(maxsize=1)
def _environment() -> Environment:
    from jinja2 import Environment, PackageLoader, StrictUndefined
    from markupsafe import Markup

    environment = Environment(
        loader=PackageLoader("identify.answers.html", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=shown,
    )
    templates = resources.files("identify.answers.html.templates")
    # Ours, and no text of a user's: the one thing beside drawings that is not escaped.
    environment.globals["style"] = Markup(templates.joinpath("style.css").read_text("utf-8"))
    environment.tests["uncertain"] = is_boiling_point_uncertain
    environment.globals["uncertain_beyond"] = UNCERTAIN_BOILING_POINT
    environment.filters |= {
        "chance": lambda probability: _unbroken(percent_text(probability)),
        "counted": counted,
        "counts": _counts_text,
        "deviation": deviation_text,
        "formula": _formula_markup,
        "number": number_text,
        "unbroken": _unbroken,
        "worst_first": worst_first,
    }
    return environment
