"""The record of a probe check: everything to redo it, its uncertainty row by row, its picture, and a hash of it all."""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from service import units
from service.answers.document import Shown
from service.answers.figure import Bar, Curve, Figure, PlotAxis, plotted
from service.answers.lookup import ends_of, spread
from service.bench.probe import Check, Overall
from service.bench.settings import COVERAGE, Comparison
from service.parameters import Given, Values
from service.spoken import said
from service.units import ROUNDING, Quantity

HASHED = (
    *("given", "asked", "overall", "settings", "network", "budget", "drift"),
    *("service_version", "data_version"),
)
"""Fields of a record that its hash is taken over, as far as they are there."""
COMMON_OVER_TIME = ("gap",)
"""Parts of the uncertainty that are the same at every check with a gap, and so cancel in a drift."""
SAME_SETTINGS = ("setting",)
"""Parts that cancel too where the settings are the same."""


def hash_of(record: Mapping[str, object]) -> str:
    """Return the hash of a record: SHA-256 of its JSON with sorted names, whole numbers as such.

    Parameters
    ----------
    record : mapping
        The answer of a check, with or without its ``hash``.
    """
    kept = {name: _canonical(record[name]) for name in HASHED if name in record}
    text = json.dumps(kept, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)
    return f"sha256:{hashlib.sha256(text.encode()).hexdigest()}"


def _canonical(value: object) -> object:
    """Return a value so that it reads the same after another program wrote it: 3.0 and 3 are one number."""
    if isinstance(value, Mapping):
        return {str(name): _canonical(inner) for name, inner in value.items()}
    if isinstance(value, list | tuple):
        return [_canonical(inner) for inner in value]
    if isinstance(value, float) and value.is_integer() and abs(value) < 2**53:
        return int(value)
    return value


def as_given(given: Given) -> dict[str, object]:
    """Return a body as it was given, as text: what a check is done again from."""
    body: dict[str, object] = dict(given.question.typed)
    for name, part in given.parts.items():
        if name == "earlier":
            continue
        if isinstance(part, Given):
            body[name] = as_given(part)
        elif isinstance(part, Values):
            body[name] = list(part.texts)
        elif isinstance(part, tuple):
            body[name] = [as_given(one) for one in part]
    return body


def budget(check: Check, overall: Overall) -> list[dict[str, object]]:
    """Return the uncertainty row by row; the root of the sum of the squared contributions is the standard uncertainty.

    Parameters
    ----------
    overall : Overall
        Of the same check.
    """
    comparison = overall.comparison
    rows = list(_rows(check, comparison))
    left = (overall.uncertainty / COVERAGE) ** 2 - comparison.standard_uncertainty**2
    if len(overall.words) > 1 and left > 0:
        rows.append(
            {
                "quantity": "what was not said: " + ", ".join(one.name for one in overall.unsaid),
                "distribution": "every value it may have",
                "contribution_percent": 100 * math.sqrt(left),
            }
        )
    return rows


@dataclass(frozen=True)
class Percent(Shown):
    """A share in per cent, of a quantity that has no unit."""

    value: float
    unit: str = "%"


def _rows(check: Check, comparison: Comparison) -> Iterator[dict[str, object]]:
    question, places = check.question, check.accepted
    case = check.references.evaluation.case.take(places)
    freedom = float(sum(check.readings[place].sparkovers.count - 1 for place in places))
    tolerance = float(np.mean([check.tolerances["diameter"][place] for place in places]))
    inputs: Mapping[str, tuple[str, float, str, np.ndarray | None]] = {
        "spacing": ("spacing of the spheres", question.number("spacing_uncertainty"), "length", case.gap),
        "diameter": ("diameter of the spheres", tolerance, "length", case.dimensions["sphere_diameter"]),
        "humidity": ("absolute humidity", question.number("humidity_uncertainty"), "humidity", case.humidity),
    }
    density = float(np.mean(check.tolerances["density"][places] / case.pressure))
    for name, part in comparison.parts.items():
        if name in inputs:
            title, half, dimension, values = inputs[name]
            shown = Quantity(half, dimension)
            yield _row(title, part, "rectangular", math.sqrt(3), _span(values, dimension), shown)
        elif name == "density":
            ends = ends_of(case.relative_density)
            yield _row("relative air density", part, "rectangular", math.sqrt(3), ends, Percent(100 * density))
        elif name == "resolution":
            half = float(np.mean([check.readings[place].half_digit for place in places]))
            yield _row("digits of the readings", part, "rectangular", math.sqrt(3), None, Quantity(half, "voltage"))
        elif name == "repeatability":
            row = _row(
                "mean of the readings", part, "normal (type A)", 1.0, _span(comparison.indicated, "voltage"), None
            )
            yield row | {"degrees_of_freedom": freedom}
        else:
            title = {"gap": "gap, common to all settings", "setting": "gap, each setting of its own"}[name]
            span = _span(comparison.reference, "voltage")
            own = {"gap": comparison.common, "setting": comparison.of_reference}[name][name]
            wide = Percent(100 * COVERAGE * float(np.mean(own)))
            yield _row(title, part, "normal (k = 2)", COVERAGE, span, wide)


def _row(
    quantity: str, part: float, distribution: str, divisor: float, value: object, half: Quantity | Percent | None
) -> dict[str, object]:
    """Return a row; the sensitivity is what a unit of the quantity moves the scale factor, in per cent."""
    row: dict[str, object] = {"quantity": quantity}
    if value is not None:
        row["value"] = value
    if half is not None:
        row["half_width"] = half
    row |= {"distribution": distribution, "divisor": divisor}
    if half is not None and half.value:
        unit = "%" if isinstance(half, Percent) else units.DIMENSIONS[half.dimension].shown
        shown = half.value if isinstance(half, Percent) else units.shown(half.value, half.dimension)
        row["sensitivity"] = 100 * part * divisor / shown
        row["sensitivity_unit"] = f"% per {unit}"
    return row | {"contribution_percent": 100 * part}


def _span(values: np.ndarray | None, dimension: str) -> Quantity | None:
    if values is None or not np.isfinite(values).all():
        return None
    return spread(values, dimension)


def drift(
    check: Check, now: Overall, earlier: Check, before: Overall, record: Mapping[str, object]
) -> dict[str, object]:
    """Return how the scale factor moved since an earlier check, with its uncertainty.

    What is the same at both checks cancels: the gap's common part, and where the settings are the same their own parts
    too. The rest (setting of the spacing, density, humidity, readings) counts twice.
    """
    ratio = now.comparison.scale_factor / before.comparison.scale_factor
    alike = _settings(check) == _settings(earlier)
    gone = (*COMMON_OVER_TIME, *(SAME_SETTINGS if alike else ()))
    parts = [part for one in (now, before) for name, part in one.comparison.parts.items() if name not in gone]
    uncertainty = COVERAGE * math.hypot(*parts)
    change = ratio - 1
    known = f"known to {100 * uncertainty:.2g} % (k = 2)"
    moved = abs(change) > uncertainty * ratio
    word = "moved" if moved else "no-drift-shown"
    said = f"The scale factor is {100 * abs(change):.2g} % {'larger' if change > 0 else 'smaller'} than then, {known}"
    fields: dict[str, object] = {
        "drift_percent": 100 * change,
        "drift_uncertainty_percent": 100 * uncertainty * ratio,
        "verdict": word,
        "explanation": f"{said}{'.' if moved else ': no drift is shown.'}",
        "earlier_scale_factor": before.comparison.scale_factor,
    }
    if "date" in earlier.question:
        fields["earlier_date"] = earlier.question.key("date")
    stated = record.get("hash")
    if isinstance(stated, str):
        fields["earlier_hash"] = stated[:80]
        fields["earlier_hash_matches"] = stated == hash_of(record)
    return fields


def _settings(check: Check) -> Sequence[tuple[float, float]]:
    return sorted((check.readings[place].spacing, check.readings[place].diameter) for place in check.accepted)


@dataclass(frozen=True)
class Difference(Shown):
    """One thing that a record says otherwise than the check done again."""

    what: str
    recorded: str
    now: str

    @classmethod
    def of(cls, what: str, recorded: object, now: object) -> Difference:
        """Return the difference between two values."""
        return cls(what[:120], _shown(recorded), _shown(now))

    @property
    def of_versions(self) -> bool:
        """Whether only the service or its data are other ones."""
        return self.what in VERSIONS


VERSIONS = ("service_version", "data_version")


def differences(record: Mapping[str, object], now: Mapping[str, object]) -> list[Difference]:
    """Return what a record says otherwise than the check done again from what it was given.

    Parameters
    ----------
    record : mapping
        As it was posted.
    now : mapping
        The document of the check done again.
    """
    found = [
        Difference.of(name, record.get(name), now.get(name)) for name in VERSIONS if record.get(name) != now.get(name)
    ]
    for outer in ("overall", "settings", "budget", "network", "asked"):
        found += list(_unlike(outer, record.get(outer), now.get(outer)))
    return found


def _unlike(path: str, recorded: object, now: object) -> Iterator[Difference]:
    if isinstance(recorded, Mapping) and isinstance(now, Mapping):
        for name in (*now, *(name for name in recorded if name not in now)):
            yield from _unlike(f"{path}.{name}", recorded.get(name), now.get(name))
    elif isinstance(recorded, list) and isinstance(now, list) and len(recorded) == len(now):
        for place, (one, other) in enumerate(zip(recorded, now, strict=True)):
            yield from _unlike(f"{path}[{place}]", one, other)
    elif not _alike(recorded, now):
        yield Difference.of(path, recorded, now)


def _alike(one: Any, other: Any) -> bool:
    numbers = all(isinstance(each, int | float) and not isinstance(each, bool) for each in (one, other))
    return math.isclose(one, other, rel_tol=ROUNDING, abs_tol=ROUNDING) if numbers else bool(one == other)


def _shown(value: object) -> str:
    return "absent" if value is None else f"{value:.10g}" if isinstance(value, float) else str(value)[:120]


MOST_BARS = 24
"""Most settings that are drawn as bars; more make a curve."""


def figure(check: Check, overall: Overall) -> Figure:
    """Return the picture of a check with at least one accepted setting."""
    found = overall.comparison
    ratio = found.indicated / found.reference
    spread = COVERAGE * found.setting_uncertainty * ratio
    said = (overall.explanation, "Every band is that of a setting by itself (k = 2), for what was said and assumed.")
    description = "Indicated over reference voltage of every accepted setting, with its band, beside 1.00."
    axis = PlotAxis("indicated over reference voltage", "1", logarithmic=False)
    low, high = overall.ends
    if ratio.size > MOST_BARS:
        order = np.argsort(found.reference)
        volts = plotted(found.reference[order], "voltage")
        curve = Curve("ratio", volts, ratio[order], (ratio - spread)[order], (ratio + spread)[order])
        right = Curve("1.00", volts[[0, -1]], np.ones(2), dashed=True)
        across = PlotAxis("reference voltage, peak", "kV", logarithmic=False)
        return Figure("Probe check", description, across, axis, curves=(curve, right), sentences=said)
    bars = [
        Bar(_label(check, int(place)), float(ratio[i] - spread[i]), float(ratio[i] + spread[i]), float(ratio[i]))
        for i, place in enumerate(check.accepted)
    ]
    bars.append(Bar("all together", low, high if high < np.inf else float("nan"), overall.ratio))
    return Figure("Probe check", description, axis, axis, bars=tuple(bars), lines=(("1.00", 1.0),), sentences=said)


def _label(check: Check, place: int) -> str:
    reading = check.readings[place]
    spacing, diameter = (said(size, "length", unit="mm") for size in (reading.spacing, reading.diameter))
    return f"{spacing}, balls {diameter}"
