"""A list over two quantities as one table: a row per value of the first, a column per value of the second."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from service.render.grids import Grid
from service.render.quantities import amount, is_quantity, quantity_text, unit_of
from service.render.words import ABSENT, label, plain


@dataclass(frozen=True)
class Crossing:
    """What is crossed.

    Parameters
    ----------
    down, across, cell : str
        Fields of the rows, of the columns and of the cells.
    flag, meaning : str
        A field that marks a cell with an asterisk where it is false, and what that means.
    """

    down: str
    across: str
    cell: str
    flag: str
    meaning: str


CROSSINGS: Mapping[str, Crossing] = {
    "settings": Crossing(
        "voltage", "sphere_diameter", "spacing", "within_limits", "outside the limits of the published tables"
    )
}
"""Lists that are crossed where both quantities vary."""


def pivot(key: str, elements: Sequence[Mapping[str, Any]]) -> Grid | None:
    """Return a list as a crossed table, or nothing where it is not one over two quantities.

    Parameters
    ----------
    key : str
        Name of the list.
    elements : sequence of mapping
        Its blocks.
    """
    crossing = CROSSINGS.get(key)
    if crossing is None or not all(is_quantity(one.get(name)) for one in elements for name in _keys(crossing)):
        return None
    found = {tuple(quantity_text(one[name]) for name in _keys(crossing)): one for one in elements}
    downs, acrosses = (list(dict.fromkeys(pair[place] for pair in found)) for place in (0, 1))
    if len(downs) < 2 or len(acrosses) < 2 or len(found) != len(elements):
        return None
    rows = tuple((down, *(_cell(found.get((down, across)), crossing) for across in acrosses)) for down in downs)
    unit = next(unit_of(one[crossing.cell]) for one in elements if is_quantity(one.get(crossing.cell)))
    title = f"{label(crossing.cell)} ({unit}) by {plain(crossing.down)} and {plain(crossing.across)}"
    flagged = any("*" in cell for row in rows for cell in row)
    heads = (label(crossing.down), *acrosses)
    return Grid(title, heads, rows, (True,) * len(heads), f"* {crossing.meaning}." if flagged else "", crossed=True)


def _keys(crossing: Crossing) -> tuple[str, str]:
    return crossing.down, crossing.across


def _cell(block: Mapping[str, Any] | None, crossing: Crossing) -> str:
    if block is None or not is_quantity(block.get(crossing.cell)):
        return ABSENT
    return amount(block[crossing.cell], zeros=True) + (" *" if block.get(crossing.flag) is False else "")
