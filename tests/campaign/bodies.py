"""Random bodies of everything that is posted: right ones, right ones spoiled, and bodies made of declarations."""

from __future__ import annotations

import json
import random
from collections.abc import Callable, Mapping
from typing import Any
from urllib.parse import quote

from service import units
from service.parameters import Listed, Members, Parameter

Texts = Callable[[Parameter, random.Random], str]
"""From a declaration to a value of it."""

HOSTILE: tuple[Any, ...] = (
    *(
        0,
        -1,
        1,
        1e308,
        -1e308,
        1e-320,
        5e-324,
        2**64,
        10**40,
        None,
        True,
        False,
        "",
        "x",
        "²",
        "<b>",
        "8",
        "8mm",
        "1e999",
    ),
    *("0e-99999999mm", "nan", [], {}, [[]], [{}], {"": {}}, "a" * 1000, [None], [1] * 300, "\u0000", "＜"),
)
BROKEN = ("", "{", "[" * 5000, '{"a":1e999}', '{"a":NaN}', '{"a":1,"a":2}', "[]", "null", '"text"', "1", "\ufeff{}")
MEDIA = ("application/json", "application/json", "application/json; charset=latin-1", "text/csv", "text/plain", "")
DRAWINGS: tuple[dict[str, Any], ...] = (
    {"plane": "earthed", "electrodes": [{"potential": 1, "shape": "ball", "diameter": "20mm", "tip": "5mm"}]},
    {
        "symmetry": "section",
        "waveform": "dc",
        "voltage": "12kV",
        "plane": "earthed",
        "electrodes": [{"name": "wire", "potential": 1, "shape": "wire", "diameter": "0.5mm", "at": ["0mm", "25mm"]}],
    },
    {
        "plane": "earthed",
        "electrodes": [
            {
                "potential": 1,
                "edge_radius": "0.5mm",
                "start": ["0mm", "8mm"],
                "path": [{"line": ["10mm", "8mm"]}, {"line": ["10mm", "30mm"]}, {"line": ["0mm", "30mm"]}],
            }
        ],
    },
)
"""Drawings that are solved: a ball and a turned part over a plane, a wire of the precipitator."""


def posted(dice: random.Random, lookups: Mapping[str, Any], text: Texts) -> tuple[str, str, str, bytes]:
    """Return kind, address, type and bytes of a posted question.

    Parameters
    ----------
    dice : random.Random
    lookups : mapping
    text : callable
        From a declaration to a value of it.
    """
    known = [key for key, lookup in lookups.items() if lookup.body is not None]
    if dice.random() < 0.08:
        key = dice.choice(("batch", *known, "breakdown", "nothing"))
        return "body of nothing", f"/v1/{key}", dice.choice(MEDIA), dice.choice(BROKEN).encode("utf-8", "replace")
    roll = dice.random()
    if roll < 0.5:
        return "batch", "/v1/batch", "application/json", _written(_batch(dice, lookups, text))
    if roll < 0.6 and "probe-check" in known:
        return f"probe-check sheet{_form(dice)}", *_sheet(dice, lookups["probe-check"], text)
    # a drawing takes a hundred times as long as a question
    weights = [1.0 if key == "profile" else 8.0 for key in known]
    key = dice.choices(known, weights)[0]
    body = _right(dice, key, lookups) if dice.random() < 0.8 else _declared(lookups[key].body, dice, text)
    for _ in range(dice.choice((0, 1, 1, 2, 4))):
        body = spoiled(body, dice)
    suffix = _form(dice)
    return f"{key} body{suffix}", f"/v1/{key}{suffix}", "application/json", _written(body)


def _form(dice: random.Random) -> str:
    return dice.choice(("", "", "", ".txt", ".md", ".html", ".csv", ".svg", ".xyz"))


def _written(body: Any) -> bytes:
    return json.dumps(body).encode()


def _right(dice: random.Random, key: str, lookups: Mapping[str, Any]) -> Any:
    check = json.loads(lookups["probe-check"].example)
    record = {"given": check, "hash": dice.choice(("", "0" * 64))}
    rights = {
        "probe-check": {**check, **dice.choice(({}, {"earlier": record}, {"device": "divider", "date": "2026-11-02"}))},
        "probe-record": record,
        "reading": {"indicated": "9.30kV", "record": record},
    }
    return rights.get(key) or json.loads(json.dumps(dice.choice(DRAWINGS)))


def _declared(members: Members, dice: random.Random, text: Texts, depth: int = 0) -> dict[str, Any]:
    """Return an object made of its declaration."""
    made: dict[str, Any] = {}
    for one in members.parameters:
        if one.required or dice.random() < 0.15:
            made[one.name] = text(one, dice)
    for part in members.parts:
        if part.required or (depth < 3 and dice.random() < 0.3):
            made[part.name] = _part(part.kind, dice, text, depth + 1)
    return made


def _part(kind: Any, dice: random.Random, text: Texts, depth: int) -> Any:
    if isinstance(kind, Members):
        return _declared(kind, dice, text, depth)
    if isinstance(kind, Listed):
        count = min(kind.most, max(kind.least, dice.choice((1, 1, 2, 3, 5))))
        return [_part(kind.of, dice, text, depth) for _ in range(count)]
    return text(kind, dice) if isinstance(kind, Parameter) else {}


def spoiled(value: Any, dice: random.Random) -> Any:
    """Return a structure with one place of it changed, left out or doubled."""
    if isinstance(value, dict) and value and dice.random() < 0.9:
        key = dice.choice(list(value))
        roll = dice.random()
        if roll < 0.1:
            return {name: one for name, one in value.items() if name != key}
        if roll < 0.15:
            return {**value, dice.choice((key.upper(), "x", "", "²", "<b>", key + " ")): value[key]}
        return {**value, key: spoiled(value[key], dice)}
    if isinstance(value, list) and value and dice.random() < 0.9:
        place = dice.randrange(len(value))
        roll = dice.random()
        if roll < 0.1:
            return value[:place] + value[place + 1 :]
        if roll < 0.2:
            return [*value, value[place]]
        return [*value[:place], spoiled(value[place], dice), *value[place + 1 :]]
    return dice.choice(HOSTILE)


# --- batches --------------------------------------------------------------------------------------------------------


def _batch(dice: random.Random, lookups: Mapping[str, Any], text: Texts) -> Any:
    """Return a batch: columns of numbers, some of them hostile, beside what a lookup's example gives."""
    often = ("breakdown", "breakdown", "gap", "gap", "pressure", "clearance", "creepage", "conductor-spacing")
    lookup = lookups[dice.choice((*often, *(key for key, one in lookups.items() if not one.post)))]
    given = dict(pair.split("=", 1) for pair in dice.choice((lookup.example, *lookup.more)).split("&") if pair)
    numeric = [one for one in lookup.parameters if one.dimension in units.DIMENSIONS and not one.many]
    if not numeric:
        return {"lookup": lookup.key, "given": given, "columns": {}}
    asked = [one for one in numeric if one.name in given] or numeric
    chosen = {
        one.name: one
        for one in [dice.choice(asked), *dice.sample(numeric, k=min(len(numeric), dice.choice((0, 0, 1, 2))))]
    }
    count = dice.choice((1, 2, 3, 10, 30))
    columns = {name: _column(one, dice, count) for name, one in chosen.items()}
    given = {name: one for name, one in given.items() if name not in columns}
    for parameter in dice.sample(lookup.parameters, k=dice.choice((0, 0, 1, 2))):
        given[parameter.name] = text(parameter, dice)
    body: Any = {"lookup": lookup.key, "given": given, "columns": columns}
    return spoiled(body, dice) if dice.random() < 0.15 else body


def _column(parameter: Parameter, dice: random.Random, count: int) -> dict[str, Any]:
    kind = units.DIMENSIONS[parameter.dimension]
    unit = dice.choice(tuple(kind.spellings)) if dice.random() < 0.3 else kind.shown
    centre = 1.0
    if parameter.example:
        centre = (
            abs(units.shown(units.read("", parameter.example.split(",")[0], parameter.dimension), parameter.dimension))
            or 1
        )
    values: list[Any] = [centre * 10 ** dice.gauss(0, 0.7) for _ in range(count)]
    for _ in range(dice.choice((0, 0, 0, 1, 2))):
        values[dice.randrange(count)] = dice.choice(HOSTILE)
    return {"unit": unit, "values": values}


# --- sheets ---------------------------------------------------------------------------------------------------------

HEADS = ("sphere_diameter_mm", "spacing_mm", "indicated_kV")
FURTHER = ("setting", "sparkover", "waveform", "polarity", "temperature_degC", "pressure_kPa", "remark", "nonsense", "")


def _sheet(dice: random.Random, lookup: Any, text: Texts) -> tuple[str, str, bytes]:
    """Return address, type and bytes of a sheet that is filled in, some of it spoiled."""
    mark = dice.choice((",", ",", ",", ";", "\t", "|"))
    heads = [*HEADS, *dice.sample(FURTHER, k=dice.choice((0, 0, 1, 3)))]
    rows = [heads]
    for spacing, volts in ((3, 11.2), (5, 17.4), (8, 25.8))[: dice.randrange(1, 4)]:
        for _ in range(dice.choice((1, 10, 10))):
            indicated = f"{volts * dice.gauss(1.0, 0.01):.4g}"
            rows.append(["20", f"{spacing}", indicated.replace(".", ",") if dice.random() < 0.1 else indicated])
            rows[-1] += [dice.choice(("", "dc", "1", "positive", "20", "x")) for _ in heads[3:]]
    for _ in range(dice.choice((0, 0, 1, 3))):
        row = dice.choice(rows)
        row[dice.randrange(len(row))] = dice.choice(
            ("", "x", "-1", "1e308", "1e-320", '"', "nan", "²", "a" * 300, "8;9", "=1")
        )
    sheet = dice.choice(("", "", "# a comment\n", "\ufeff", "sep=;\n")) + "\n".join(mark.join(row) for row in rows)
    body = sheet.encode("utf-8") if dice.random() < 0.95 else sheet.encode("utf-16")
    if dice.random() < 0.05:
        body = body[: dice.randrange(len(body))]
    beside = {"waveform": "dc", "irradiated": "yes", "temperature": "20degC"}
    flat = lookup.body.parameters
    for parameter in dice.sample(flat, k=dice.choice((0, 0, 1, 2))):
        beside[parameter.name] = text(parameter, dice)
    query = "&".join(f"{name}={_safe(one)}" for name, one in beside.items())
    return (
        f"/v1/probe-check{_form(dice)}?{query}",
        dice.choice(("text/csv", "text/csv", "text/plain", "text/markdown")),
        body,
    )


def _safe(one: str) -> str:
    return quote(one.encode("utf-8", "surrogatepass"), safe="")
