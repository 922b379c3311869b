"""CSV: one header row with the unit in each name, one row per element, full digits, nothing that a spreadsheet runs."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import groupby, repeat
from typing import Any

import numpy as np

from service.render.layout import visible
from service.render.page import Page
from service.render.records import (
    OWN,
    SINGULAR,
    Record,
    expanded,
    flat,
    has_series,
    is_block_list,
    is_mapping,
    is_number,
    is_quantity,
    is_sequence,
    is_series,
    rows_of,
    union,
)
from service.render.sheet import results

FORMULA = ("=", "+", "-", "@", "＝", "＋", "－", "＠")
"""First characters by which a spreadsheet takes a text for a formula."""

COLUMN_UNITS: Mapping[str, str] = {"kV/mm": "kV_per_mm", "g/m3": "g_per_m3"}
"""Units that are no part of a plain column name."""

END = "\r\n"
"""End of a line after RFC 4180."""

TRUTH: Mapping[bool, str] = {True: "true", False: "false"}


def render(page: Page) -> bytes:
    """Return an answer as CSV after RFC 4180.

    Notes
    -----
    Lists and columns give one row per element; where there are several, the column ``list`` names the one that a row
    belongs to. What holds for every row, such as the question and the method, is repeated in each; a result that has
    the name of a column of the list is called ``answer_`` and its name.
    """
    fields = results(page.document)
    lists = {key: value for key, value in fields.items() if _is_table(value)}
    if not lists:
        lists = _inner(fields)
        fields = {key: _without_lists(value) for key, value in fields.items()}
    # an empty list says nothing in a table: what stands beside it does
    single = {
        key: value for key, value in fields.items() if key not in lists and not (is_sequence(value) and len(value) == 0)
    }
    stretches = list(_stretches(lists)) or [Stretch({}, {}, 1)]
    constant = _spread(flat(single) | _frame(page.document))
    names = union([one.named for one in stretches])
    varying = set(names)
    fixed = {f"answer_{name}" if name in varying else name: value for name, value in constant.items()}
    names = union([dict.fromkeys(names), fixed])
    written = {name: _cell(value) for name, value in fixed.items()}
    lines = [line for one in stretches for line in one.lines(names, written)]
    return "".join([*_lines([[guarded(name) for name in names]]), *lines]).encode("utf-8")


@dataclass(frozen=True)
class Stretch:
    """Rows of one element of a list.

    Parameters
    ----------
    columns : mapping of str to sequence
        Cells that differ from row to row, as they are written.
    fixed : mapping
        What holds for every row.
    count : int
        Of rows.
    """

    columns: Mapping[str, Sequence[str]]
    fixed: Record
    count: int

    @property
    def named(self) -> Record:
        """The fields, in order."""
        return dict.fromkeys([*self.fixed, *self.columns])

    def lines(self, names: Sequence[str], others: Mapping[str, str]) -> list[str]:
        """Return the lines of the rows, each with its end.

        Parameters
        ----------
        names : sequence of str
            Columns of the sheet; what stands in all rows is written once where these end with it.
        others : mapping of str to str
            Cells of what holds for the whole answer.
        """
        same = {**others, **{name: _cell(value) for name, value in self.fixed.items()}}
        end = 1 + max((at for at, name in enumerate(names) if name in self.columns), default=-1)
        if min(end, len(names) - end) < 2:  # a lone empty cell would be quoted
            end = len(names)
        cells = [self.columns.get(name) or repeat(same.get(name, ""), self.count) for name in names[:end]]
        lines = _lines(zip(*cells, strict=False))
        if end == len(names):
            return lines
        (rest,) = _lines([[same.get(name, "") for name in names[end:]]])
        return [f"{line[: -len(END)]},{rest}" for line in lines]


class _Lines(list[str]):
    """Lines as the writer gives them."""

    write = list.append


def _lines(rows: Iterable[Sequence[str]]) -> list[str]:
    found = _Lines()
    csv.writer(found, lineterminator=END).writerows(rows)
    return found


def csv_bytes(names: Sequence[str], rows: Iterable[Sequence[object]]) -> bytes:
    """Return header and rows as CSV bytes.

    Parameters
    ----------
    names : sequence of str
        Header.
    rows : iterable of sequence
        Cells; numbers with all digits, texts guarded.
    """
    return "".join(_lines([[guarded(name) for name in names], *(_cells(row) for row in rows)])).encode("utf-8")


@lru_cache(maxsize=1024)
def guarded(text: str) -> str:
    """Return a text that no spreadsheet takes for a formula: an apostrophe stands before what would be one.

    Examples
    --------
    >>> guarded("=cmd()"), guarded("-0.5"), guarded("rod-gap")
    ("'=cmd()", '-0.5', 'rod-gap')
    """
    clean = visible(text)
    runs = len(clean) > 1 and clean.startswith(FORMULA) and not _numeral(clean)
    return f"'{clean}" if runs else clean


def _numeral(text: str) -> bool:
    try:
        return bool(np.isfinite(float(text)))
    except ValueError:
        return False


def _cells(values: Iterable[object]) -> list[str]:
    return [repr(one) if type(one) is float else _cell(one) for one in values]


def _cell(value: object) -> str:
    if type(value) is str:
        return guarded(value)
    if isinstance(value, bool | np.bool_):
        return TRUTH[bool(value)]
    if value is None:
        return ""
    if is_number(value):
        return repr(value.item() if isinstance(value, np.generic) else value)
    if is_sequence(value):
        return guarded("; ".join(_cell(one) for one in value))
    if isinstance(value, Mapping):
        return guarded("; ".join(f"{key} {_cell(one)}" for key, one in value.items()))
    return guarded(str(value))


def _is_table(value: object) -> bool:
    return is_block_list(value) or (isinstance(value, Mapping) and has_series(value))


def _inner(fields: Mapping[str, object]) -> dict[str, object]:
    """Return the lists of blocks inside the parts of an answer that has no list of its own."""
    return {
        f"{key}.{name}": one
        for key, value in fields.items()
        if isinstance(value, Mapping)
        for name, one in value.items()
        if is_block_list(one)
    }


def _without_lists(value: object) -> object:
    if not isinstance(value, Mapping) or has_series(value):
        return value
    return {name: one for name, one in value.items() if not is_block_list(one)}


def _stretches(lists: Mapping[str, Any]) -> Iterator[Stretch]:
    """Yield the rows of every element of every list; with several lists each says to which it belongs."""
    for key, value in lists.items():
        named = {"list": key} if len(lists) > 1 else {}
        rows: list[Record] = []
        for block in [value] if isinstance(value, Mapping) else value:
            if has_series(block):
                yield from _of_rows(rows)
                rows = []
                yield _of_columns(named, block)
                continue
            for record in expanded(block):
                own = {SINGULAR.get(key, key): record.pop(OWN)} if OWN in record else {}
                rows.append(_spread({**named, **own, **record}))
        yield from _of_rows(rows)


def _of_rows(rows: Sequence[Record]) -> Iterator[Stretch]:
    """Yield rows, those with the same fields one after another together."""
    for names, some in groupby(rows, tuple):
        alike = list(some)
        if len(alike) == 1:
            yield Stretch({}, alike[0], 1)
        else:
            yield Stretch({name: _cells(row[name] for row in alike) for name in names}, {}, len(alike))


def _of_columns(named: Record, block: Mapping[str, Any]) -> Stretch:
    """Return a block of columns, each written at once; a column takes the place of a field of that name."""
    count = rows_of(block)
    columns: dict[str, Sequence[str]] = {}
    found = {name: value for name, value in block.items() if is_series(value) or _is_column(value, count)}
    for name, value in found.items():
        columns |= _series(name, value, count) if is_series(value) else {_plain(name): _cells(value)}
    alone = {name: value for name, value in flat(block).items() if name not in found and not is_block_list(value)}
    return Stretch(columns, _spread({**named, **alone}), count)


def _is_column(value: Any, count: int) -> bool:
    return is_sequence(value) and len(value) == count


def _series(name: str, series: Mapping[str, Any], count: int) -> dict[str, Sequence[str]]:
    """Return values and bands in columns of their own; a band that is nowhere known has none."""
    values = series["values"] if len(series["values"]) == count else [series["values"][0]] * count
    bands = {end: series[end] for end in ("low", "high") if is_sequence(series.get(end))}
    known = {end: cells for end, cells in bands.items() if any(one is not None for one in cells)}
    said = {part: series[part] for part in ("unit", "measure") if part in series}
    parts = _columns(_plain(name), {"value": values, **known, **said})
    return {end: _cells(cells) if is_sequence(cells) else [str(cells)] * count for end, cells in parts.items()}


def _frame(document: Mapping[str, Any]) -> Record:
    """Return what holds for the whole answer: the question, the method, cautions and versions."""
    asked = {f"asked_{name}": value for name, value in flat(document.get("asked", {})).items()}
    method = document.get("method")
    named: Record = {}
    if isinstance(method, Mapping):
        source = method.get("source", {})
        named = {
            "method": method.get("key", ""),
            "method_source": source.get("key", "") if isinstance(source, Mapping) else source,
            "method_provenance": method.get("provenance", ""),
        }
    cautions = [one["key"] for one in document.get("cautions", ())]
    versions = {name: document[name] for name in ("service_version", "data_version") if name in document}
    return {**asked, **named, **({"cautions": cautions} if cautions else {}), **versions}


def _spread(record: Record) -> Record:
    """Return a record with each quantity in columns of its own, named with their unit."""
    row: Record = {}
    for name, value in record.items():
        key = _plain(name)
        row |= _columns(key, value) if is_quantity(value) else {key: _source_key(value)}
    return row


def _plain(name: str) -> str:
    return name.replace(".", "_").replace("-", "_")


def _columns(key: str, quantity: Mapping[str, Any]) -> Record:
    spelled = str(quantity.get("unit", ""))
    unit = COLUMN_UNITS.get(spelled, spelled)
    ends = {name: quantity[name] for name in ("value", "low", "high") if name in quantity}
    measure = {f"{key}_measure": quantity["measure"]} if quantity.get("measure", "peak") != "peak" else {}
    return {_name(key, end, unit): value for end, value in ends.items()} | measure


def _name(key: str, end: str, unit: str) -> str:
    return "_".join(part for part in (key, "" if end == "value" else end, unit) if part)


def _source_key(value: Any) -> Any:
    return value.get("key", "") if is_mapping(value) and "citation" in value else value
