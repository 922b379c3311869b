"""CSV: one header row with the unit in each name, one row per element, full digits, nothing that a spreadsheet runs."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

import numpy as np

from service.render.clean import visible
from service.render.page import Page
from service.render.quantities import SINGULAR, is_number, is_quantity, is_sequence
from service.render.records import OWN, Record, expanded, flat, has_series, is_block_list, union
from service.render.sheet import results

FORMULA = ("=", "+", "-", "@", "＝", "＋", "－", "＠")
"""First characters by which a spreadsheet takes a text for a formula."""

COLUMN_UNITS: Mapping[str, str] = {"kV/mm": "kV_per_mm", "g/m3": "g_per_m3"}
"""Units that are no part of a plain column name."""

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
    single = {key: value for key, value in fields.items() if key not in lists and not _is_empty(value)}
    elements = [_spread(record) for record in _elements(lists)] or [{}]
    constant = _spread(flat(single) | _frame(page.document))
    varying = set(union(elements))
    fixed = {f"answer_{name}" if name in varying else name: value for name, value in constant.items()}
    names = union([*elements, fixed])
    return csv_bytes(names, ([{**fixed, **one}.get(name, "") for name in names] for one in elements))


def csv_bytes(names: Sequence[str], rows: Iterable[Sequence[Any]]) -> bytes:
    """Return header and rows as CSV bytes.

    Parameters
    ----------
    names : sequence of str
        Header.
    rows : iterable of sequence
        Cells; numbers with all digits, texts guarded.
    """
    buffer = io.StringIO()
    writer = csv.writer(buffer, lineterminator="\r\n")
    writer.writerow([guarded(name) for name in names])
    writer.writerows([_cell(cell) for cell in row] for row in rows)
    return buffer.getvalue().encode("utf-8")


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


def _cell(value: Any) -> str:
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


def _is_table(value: Any) -> bool:
    return is_block_list(value) or (isinstance(value, Mapping) and has_series(value))


def _inner(fields: Mapping[str, Any]) -> dict[str, Any]:
    """Return the lists of blocks inside the parts of an answer that has no list of its own."""
    return {
        f"{key}.{name}": one
        for key, value in fields.items()
        if isinstance(value, Mapping)
        for name, one in value.items()
        if is_block_list(one)
    }


def _without_lists(value: Any) -> Any:
    if not isinstance(value, Mapping) or has_series(value):
        return value
    return {name: one for name, one in value.items() if not is_block_list(one)}


def _is_empty(value: Any) -> bool:
    return is_sequence(value) and len(value) == 0


def _elements(lists: Mapping[str, Any]) -> Iterator[Record]:
    """Yield one record per element of every list; with several lists each says to which it belongs."""
    for key, value in lists.items():
        named = {"list": key} if len(lists) > 1 else {}
        for block in [value] if isinstance(value, Mapping) else value:
            for record in expanded(block):
                own = {SINGULAR.get(key, key): record.pop(OWN)} if OWN in record else {}
                yield {**named, **own, **record}


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
        key = name.replace(".", "_").replace("-", "_")
        row |= _columns(key, value) if is_quantity(value) else {key: _source_key(value)}
    return row


def _columns(key: str, quantity: Mapping[str, Any]) -> Record:
    spelled = str(quantity.get("unit", ""))
    unit = COLUMN_UNITS.get(spelled, spelled)
    ends = {name: quantity[name] for name in ("value", "low", "high") if name in quantity}
    measure = {f"{key}_measure": quantity["measure"]} if quantity.get("measure", "peak") != "peak" else {}
    return {_name(key, end, unit): value for end, value in ends.items()} | measure


def _name(key: str, end: str, unit: str) -> str:
    return "_".join(part for part in (key, "" if end == "value" else end, unit) if part)


def _source_key(value: Any) -> Any:
    return value.get("key", "") if isinstance(value, Mapping) and "citation" in value else value
