"""Lists of an answer as tables of text: plain, crossed over two quantities, turned, or long columns as running text."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from service.render.layout import Measure, fit, visible, wrap
from service.render.records import (
    OWN,
    SINGULAR,
    Record,
    amount,
    capital,
    different,
    flat,
    has_series,
    in_unit,
    is_number,
    is_quantity,
    label,
    plain,
    quantity_text,
    rows_of,
    series_records,
    shared_unit,
    text_of,
    union,
    unit_of,
)
from service.spoken import ABSENT

LONGEST = 24
"""Most rows of a column of points for reading; JSON and CSV have all."""

SEVERAL = 12
"""Most rows where there are several such columns."""

LONG = 24
"""A longer text that every row repeats is said once, under the table."""

WIDE = 7
"""Most columns of a table in a page of text, if there is another way."""

FEWEST = 2
"""Columns that are worth gathering."""

NOTHING = (ABSENT, "-")
"""Cells of fields that do not apply, as printed and in ASCII."""

EQUAL = 3
"""From this number of rows, what all of them say is said once, under the table."""

FEW = 4
"""Most rows of a table that may be turned, so that its rows stand side by side."""


UPRIGHT, PADDING, READABLE = 105, 2, 20
"""Letters of a line on an upright sheet, those between two columns, and a column of text that can be read."""


@dataclass(frozen=True)
class Grid:
    """A table for reading.

    Parameters
    ----------
    title : str
        Caption.
    heads : tuple of str
        Column heads, with units.
    rows : tuple of tuple of str
        Cells.
    numeric : tuple of bool
        Which columns hold numbers.
    remark : str
        Under the table; empty for none.
    crossed : bool
        Whether rows and columns are both values: a card to be read off.
    series : bool
        Whether the rows are points of a curve.
    """

    title: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numeric: tuple[bool, ...]
    remark: str = ""
    crossed: bool = False
    series: bool = False

    @property
    def columns(self) -> list[list[str]]:
        """Head and cells of each column."""
        return [[head, *(row[place] for row in self.rows)] for place, head in enumerate(self.heads)]

    @property
    def record(self) -> list[tuple[str, str]]:
        """Head and cell of every field that applies, where there is one row only; else nothing."""
        pairs = zip(self.heads, self.rows[0], strict=True) if len(self.rows) == 1 else ()
        return [(head, cell) for head, cell in pairs if cell not in NOTHING]

    @property
    def broad(self) -> bool:
        """Whether it needs more than the width of an upright sheet, its texts broken between words."""
        wide = 0.0
        for column, numeric in zip(self.columns, self.numeric, strict=True):
            words = [part for cell in column[:1] for part in cell.split()]
            words += column[1:] if numeric else [part for cell in column[1:] for part in cell.split()]
            longest = max(map(len, words), default=0)
            wide += longest + PADDING + (min(max(map(len, column)), READABLE) - longest if not numeric else 0)
        return wide > UPRIGHT

    def without(self, out: Collection[int]) -> Grid:
        """Return the table without some columns.

        Parameters
        ----------
        out : collection of int
            Their places.
        """
        kept = [place for place in range(len(self.heads)) if place not in out]
        rows = tuple(tuple(row[place] for place in kept) for row in self.rows)
        heads = tuple(self.heads[place] for place in kept)
        return replace(self, heads=heads, rows=rows, numeric=tuple(self.numeric[place] for place in kept))

    def details(self, out: Collection[int]) -> tuple[str, ...]:
        """Return, row by row, what some columns say, as running text.

        Parameters
        ----------
        out : collection of int
            Their places.
        """
        return tuple(
            _joined([_detail(self.heads[n], row[n]) for n in sorted(out) if row[n] not in NOTHING]) for row in self.rows
        )

    def longest(self, out: Collection[int] = ()) -> int | None:
        """Return the place of the column of text with the longest cell, the first and some others left out.

        Where only numbers are left it is the last of them.

        Parameters
        ----------
        out : collection of int
            Places that are not wanted.
        """
        left = [n for n in range(1, len(self.heads)) if n not in out]
        texts = [n for n in left if not self.numeric[n]]
        return max(texts, key=lambda n: max(map(len, self.columns[n])), default=left[-1] if left else None)

    def upright(self) -> Grid:
        """Return the table for a page of text: one that is too wide is turned, or has its longest columns as one."""
        if len(self.heads) <= WIDE:
            return self
        return self.turned() or self._gathered()

    def spread(self) -> tuple[Grid, tuple[str, ...]]:
        """Return the table for a page that can set text under its rows: turned or parted where it is too wide."""
        turned = self.turned() if len(self.heads) > WIDE else None
        return (turned, ()) if turned is not None else self.parted()

    def _gathered(self) -> Grid:
        left, details = self.parted()
        if not details:
            return self
        rows = tuple((*row, text) for row, text in zip(left.rows, details, strict=True))
        return replace(left, heads=(*left.heads, "Further"), rows=rows, numeric=(*left.numeric, False))

    def parted(self) -> tuple[Grid, tuple[str, ...]]:
        """Return the table with its longest columns taken out where it is too wide, and what they say of each row."""
        out: list[int] = []
        while len(self.heads) - len(out) >= WIDE and (longest := self.longest(out)) is not None:
            out.append(longest)
        return (self.without(out), self.details(out)) if len(out) >= FEWEST else (self, ())

    def turned(self) -> Grid | None:
        """Return the table with its rows side by side, headed by their first cells; nothing where they are many."""
        if not 1 < len(self.rows) <= FEW or len(self.heads) < FEW or self.crossed:
            return None
        first, *rest = self.columns
        numeric = (False,) * len(first)
        return replace(self, heads=tuple(first), rows=tuple(map(tuple, rest)), numeric=numeric)


def grids(key: str, value: Sequence[Mapping[str, object]] | Mapping[str, object]) -> Iterator[Grid]:
    """Yield the tables of a result: one of a list of blocks, one per curve of a list of curves.

    Parameters
    ----------
    key : str
        Name of the result.
    value : list of mapping or mapping
        Blocks, or a block of columns.
    """
    if isinstance(value, Mapping):
        yield _thinned(label(key), value, LONGEST)
    elif any(has_series(one) for one in value):
        for one in value:
            yield _thinned(_curve_title(key, one), one, SEVERAL if len(value) > 1 else LONGEST)
    else:
        yield grid(label(key), [flat(one) for one in value], SINGULAR.get(key, key))


def _curve_title(key: str, block: Mapping[str, object]) -> str:
    names = [f"{plain(name)} {visible(value)}" for name, value in block.items() if isinstance(value, str)]
    return ", ".join([label(key), *names])


def _thinned(title: str, block: Mapping[str, object], most: int) -> Grid:
    count = rows_of(block)
    if count <= most:
        return replace(grid(title, series_records(block), OWN), series=True)
    kept = series_records(block, [round(place * (count - 1) / (most - 1)) for place in range(most)])
    remark = f"{most} of {count} points; the answer as CSV or JSON has all."
    return replace(grid(title, kept, OWN, remark), series=True)


def grid(title: str, records: Sequence[Record], own: str, remark: str = "") -> Grid:
    """Return records as a table; a unit that a whole column shares stands in its head.

    Parameters
    ----------
    title : str
        Caption.
    records : sequence of mapping
        One per row.
    own : str
        What the elements are called where they are themselves quantities.
    remark : str
        Under the table.
    """
    names = union(records)
    names = [name for name in names if name != "key" or "title" not in names]
    records, cited = _cited_once(names, records)
    columns = [
        _column(name.rpartition(".")[2], _head(name, own), [one.get(name, OWN) for one in records]) for name in names
    ]
    answered = _answered([cells for _, cells, _ in columns])
    said_once = [n > 0 and _repeated(cells, answered) for n, (_, cells, _) in enumerate(columns)]
    same = [_detail(one[0], one[1][answered[0]]) for one, once in zip(columns, said_once, strict=True) if once]
    columns = [one for one, once in zip(columns, said_once, strict=True) if not once]
    which = "All rows" if len(answered) == len(records) else "All rows that are answered"
    remarks = [f"{which}: {'; '.join(same).rstrip('.')}." if same else "", cited, remark]
    heads = tuple(head for head, _, _ in columns)
    rows = tuple(zip(*(cells for _, cells, _ in columns), strict=True))
    numeric = tuple(numeric for _, _, numeric in columns)
    return Grid(title, heads, rows, numeric, " ".join(remark for remark in remarks if remark))


def _cited_once(names: Sequence[str], records: Sequence[Record]) -> tuple[Sequence[Record], str]:
    """Return records whose sources, where they repeat, are numbers, and what the numbers stand for."""
    for name in names:
        sources = [one.get(name) for one in records]
        texts = [text_of(one) for one in sources if isinstance(one, Mapping) and "citation" in one]
        listed = list(dict.fromkeys(texts))
        if len(texts) == len(records) >= EQUAL and 1 < len(listed) < len(records):
            numbered = [{**one, name: f"[{listed.index(text) + 1}]"} for one, text in zip(records, texts, strict=True)]
            return numbered, f"Sources: {'; '.join(f'[{n}] {text}' for n, text in enumerate(listed, 1))}."
    return records, ""


def _answered(columns: Sequence[Sequence[str]]) -> list[int]:
    """Return the rows of which more than half of the fields apply."""
    rows = list(zip(*columns, strict=True))
    return [n for n, row in enumerate(rows) if sum(cell == ABSENT for cell in row) <= len(row) / 2]


def _repeated(cells: Sequence[str], answered: Sequence[int]) -> bool:
    """Return whether all answered rows say the same, and the others nothing else."""
    said = {cells[n] for n in answered} | (set(cells) - {ABSENT})
    if len(said) != 1 or ABSENT in said:
        return False
    return len(answered) >= EQUAL or (len(answered) > 1 and len(cells[answered[0]]) > LONG)


def _joined(parts: Sequence[str]) -> str:
    """Return what is said as one sentence: a full stop stands at its end only."""
    return "; ".join([*(part.rstrip(".") for part in parts[:-1]), *parts[-1:]])


def _detail(head: str, cell: str) -> str:
    return f"{head[:1].lower() + head[1:] if head[1:2].islower() else head} {cell}"


def _head(name: str, own: str) -> str:
    return capital(", ".join(plain(part) for part in (name or own).split(".")))


def _column(name: str, head: str, cells: Sequence[Any]) -> tuple[str, tuple[str, ...], bool]:
    values, places = different(cells)
    present = [value for value in values if value is not OWN]
    if _shared_unit(present) is not None:
        wanted = shared_unit(present)
        values = [value if value is OWN else in_unit(value, wanted) for value in values]
        present = [value for value in values if value is not OWN]
    shared = _shared_unit(present)
    zeros = shared is not None and any(_broken(value) for value in present)
    texts = [ABSENT if value is OWN else _cell(value, name, shared is not None, zeros) for value in values]
    numeric = all(is_number(value) or is_quantity(value) for value in present)
    return (f"{head} ({shared})" if shared else head), tuple(texts[place] for place in places), numeric


def _broken(value: Mapping[str, Any]) -> bool:
    """Return whether a quantity has digits behind the point, so that its column keeps idle zeros."""
    one = value.get("value")
    return one is not None and abs(one) < 100 and float(one) != round(float(one), 9) // 1


def _cell(value: Any, name: str, shared: bool, zeros: bool) -> str:
    if shared and is_quantity(value):
        return amount(value, name, zeros=zeros)
    return text_of(value, name)


def _shared_unit(values: list[Any]) -> str | None:
    """Return the unit that every value of a column has, or nothing."""
    if not values or not all(is_quantity(value) for value in values):
        return None
    alike = {(value.get("unit"), value.get("measure")): value for value in values}
    names = {visible(unit_of(value)) for value in alike.values()}
    return names.pop() if len(names) == 1 else None


TALLEST = 4
"""Most lines of a row."""


@dataclass(frozen=True)
class Fitted:
    """A table that fits.

    Parameters
    ----------
    grid : Grid
        The columns that are set as columns.
    widths : list of float
        Theirs.
    details : tuple of str
        Running text under each row; empty where there is none.
    """

    grid: Grid
    widths: list[float]
    details: tuple[str, ...]


def shaped(grid: Grid, room: float, gap: float, measure: Measure = len) -> Fitted:
    """Return a table as it fits.

    Parameters
    ----------
    room, gap : float
        Width to be shared, and between two columns.
    measure : callable
        Width of a text.
    """
    for one, details in _candidates(grid):
        widths = fit(one.columns, room, gap, measure)
        if widths is not None and _tallest(one, widths, measure) <= TALLEST:
            return Fitted(one, widths, details)
    rest = range(1, len(grid.heads))
    return Fitted(grid.without(rest), [room], grid.details(rest))


def _candidates(grid: Grid) -> Iterator[tuple[Grid, tuple[str, ...]]]:
    yield grid, ()
    turned = grid.turned()
    if turned is not None:
        yield turned, ()
    out: list[int] = []
    while (longest := grid.longest(out)) is not None:
        out.append(longest)
        yield grid.without(out), grid.details(out)


def _tallest(grid: Grid, widths: list[float], measure: Measure) -> int:
    cells = (len(wrap(cell, width, measure)) for row in grid.rows for cell, width in zip(row, widths, strict=True))
    return max(cells, default=0)


@dataclass(frozen=True)
class Cross:
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


CROSSED: Mapping[str, Cross] = {
    "settings": Cross(
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
    crossing = CROSSED.get(key)
    if crossing is None or not all(is_quantity(one.get(name)) for one in elements for name in _crossed_keys(crossing)):
        return None
    downs, acrosses = (_texts([one[name] for one in elements]) for name in _crossed_keys(crossing))
    found = dict(zip(zip(downs, acrosses, strict=True), elements, strict=True))
    downs, acrosses = (list(dict.fromkeys(pair[place] for pair in found)) for place in (0, 1))
    if len(downs) < 2 or len(acrosses) < 2 or len(found) != len(elements):
        return None
    rows = tuple((down, *(_crossed_cell(found.get((down, across)), crossing) for across in acrosses)) for down in downs)
    unit = next(unit_of(one[crossing.cell]) for one in elements if is_quantity(one.get(crossing.cell)))
    title = f"{label(crossing.cell)} ({unit}) by {plain(crossing.down)} and {plain(crossing.across)}"
    flagged = any("*" in cell for row in rows for cell in row)
    heads = (label(crossing.down), *acrosses)
    return Grid(title, heads, rows, (True,) * len(heads), f"* {crossing.meaning}." if flagged else "", crossed=True)


def _texts(quantities: Sequence[Mapping[str, Any]]) -> list[str]:
    values, places = different(quantities)
    texts = [quantity_text(value) for value in values]
    return [texts[place] for place in places]


def _crossed_keys(crossing: Cross) -> tuple[str, str]:
    return crossing.down, crossing.across


def _crossed_cell(block: Mapping[str, Any] | None, crossing: Cross) -> str:
    if block is None or not is_quantity(block.get(crossing.cell)):
        return ABSENT
    return amount(block[crossing.cell], zeros=True) + (" *" if block.get(crossing.flag) is False else "")
