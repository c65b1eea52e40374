"""How a result shows itself to a programmer: a short line, frames, tables in a notebook."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property
from html import escape
from typing import TYPE_CHECKING, Any

from identify.notebook.printable import on_one_line, printable

if TYPE_CHECKING:
    import pandas as pd

_MAX_ROWS_SHOWN = 20


class Shown:
    """A result with plain data (`to_dict`) that shows itself.

    A class has a `headline`, and says which list of its plain data is the main table.
    """

    main_table = ""

    @property
    def headline(self) -> str:
        """The result in a few words."""
        raise NotImplementedError

    if TYPE_CHECKING:

        def to_dict(self) -> dict[str, Any]:
            """Return the result as plain data, ready for JSON."""

    @cached_property
    def tables(self) -> dict[str, pd.DataFrame]:
        """Each list of the plain data as a pandas frame, a row an entry.

        What an entry holds of its own is in columns ``outer_inner``; of findings, slips and other
        lists the codes or names, of compounds the first with its probability.
        """
        import pandas as pd

        return {
            name: pd.DataFrame([_flat(entry) for entry in entries])
            for name, entries in self.to_dict().items()
            if isinstance(entries, list) and entries and isinstance(entries[0], Mapping)
        }

    @property
    def table(self) -> pd.DataFrame:
        """The main one of the tables, the next one where that has no row."""
        import pandas as pd

        order = [self.main_table, *self.tables]
        return next((self.tables[name] for name in order if name in self.tables), pd.DataFrame())

    def __repr__(self) -> str:
        return f"<{on_one_line(self.headline)}>"

    def _repr_html_(self) -> str:
        shown = [f"<p><b>{escape(self.headline)}</b></p>"]
        findings = "".join(
            f"<li><b>{escape(one['severity'])}</b>: {escape(one['message'])} "
            f"{escape(one['advice'])}</li>"
            for one in self.to_dict().get("findings", ())
        )
        others = {name: frame for name, frame in self.tables.items() if name != "findings"}
        # The main table first, and open.
        for name in sorted(others, key=lambda name: name != self.main_table):
            frame = self.tables[name]
            rows = frame.head(_MAX_ROWS_SHOWN).to_html(index=False, na_rep="")
            more = len(frame) - _MAX_ROWS_SHOWN
            if more > 0:
                rows += f"<p>and {more} more in .tables[{name!r}]</p>"
            is_open = " open" if len(shown) == 1 else ""
            title = escape(name.replace("_", " "))
            shown.append(f"<details{is_open}><summary>{title}</summary>{rows}</details>")
        html = "".join([*shown, f"<ul>{findings}</ul>" if findings else ""])
        return printable(html, kept="\n")


def _flat(entry: Mapping[str, Any], above: str = "") -> dict[str, Any]:
    """Return an entry's values side by side.

    Examples
    --------
    >>> _flat({"student": "A", "graded": {"answer": "acetone"}, "slips": [{"code": "bath-unit"}]})
    {'student': 'A', 'graded_answer': 'acetone', 'slips': 'bath-unit'}
    """
    flat: dict[str, Any] = {}
    for name, value in entry.items():
        if isinstance(value, Mapping):
            flat |= _flat(value, f"{above}{name}_")
        elif isinstance(value, list):
            flat |= _listed(f"{above}{name}", value)
        else:
            flat[f"{above}{name}"] = value
    return flat


def _listed(name: str, values: list[Any]) -> dict[str, Any]:
    if not values or not isinstance(values[0], Mapping):
        return {name: ", ".join(map(str, values))}
    if "probability" in values[0] and "name" in values[0]:
        return {"first": values[0]["name"], "first_probability": values[0]["probability"]}
    key = next((one for one in ("code", "name") if one in values[0]), "")
    return {name: ", ".join(str(one[key]) for one in values)} if key else {}
