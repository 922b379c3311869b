"""The record of a probe check as a printable page: A4, what was found first, lines to sign last."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from service.render import svg
from service.render.html_card import address_of
from service.render.layout import FAMILIES
from service.render.page import Page
from service.render.records import label, text_of
from service.render.templating import ENVIRONMENT

SETTING = (
    *("sphere_diameter", "spacing", "time", "pressure", "temperature", "absolute_humidity", "reference_voltage"),
    "sparkovers",
    *("mean", "standard_deviation_percent", "ratio_error_percent", "ratio_error_uncertainty_percent", "trend_percent"),
    *("step_percent", "low_outliers", "high_outliers", "why_not", "remark", "method"),
)
"""Fields of a setting that are printed, as far as any setting has them."""
BUDGET = (
    *("quantity", "value", "half_width", "distribution", "divisor", "sensitivity", "sensitivity_unit"),
    *("degrees_of_freedom", "contribution_percent"),
)
FIRST = ("discharge-first", "divider-earth")
"""Cautions at the head of the page; the others stand in the JSON."""
CONDITIONS = (
    *("sphere_diameter", "earthing", "waveform", "polarity", "frequency", "pressure", "temperature"),
    *("relative_humidity", "absolute_humidity", "irradiated", "measure", "attenuation"),
)
"""What was asked that is printed in one line."""
NUMBERS = int | float
SPAN = ", no single value"
"""What a span says of itself elsewhere; in a column of spans it is plain."""


@dataclass(frozen=True)
class Cell:
    """A cell of a table."""

    text: str
    number: bool = False


@dataclass(frozen=True)
class Printed:
    """A table of the page."""

    title: str
    heads: Sequence[str]
    rows: Sequence[Sequence[Cell]]
    small: bool = False


def render(page: Page) -> bytes:
    """Return the record as a complete page."""
    record = page.document
    figure = page.figure
    headline, overall = record.get("headline", {}), record.get("overall", {})
    return (
        ENVIRONMENT.get_template("record.html")
        .render(
            title=page.title,
            families=Markup(FAMILIES),
            cautions=[one["text"] for one in record.get("cautions", ()) if one["key"] in FIRST],
            headline=headline.get("text", overall.get("verdict", "")),
            sentence=record.get("sentence", ""),
            drift=record.get("drift", {}).get("explanation", ""),
            about=list(_about(record)),
            lines=list(_lines(record)),
            picture=Markup(address_of(svg.plot(figure, "light"))) if figure else "",
            description=figure.description if figure else "",
            tables=list(_tables(record)),
            notes=record.get("notes", ()),
            versions=f"Service {record['service_version']}, data {record['data_version']}",
            hash=record.get("hash", ""),
            sign=record.get("sign", ()),
        )
        .encode("utf-8")
    )


def _about(record: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    yield from ((label(name), str(text)) for name, text in record.get("about", {}).items())
    overall = record.get("overall", {})
    for name in ("scale_factor", "expanded_uncertainty_percent", "corrected_attenuation", "linearity_percent"):
        if name in overall:
            yield label(name), text_of(overall[name])
    for name in ("possible_error_percent", "valid_for"):
        if name in overall:
            yield label(name), text_of(overall[name]).replace(SPAN, "")


def _lines(record: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    asked = record.get("asked", {})
    said = [f"{label(name).lower()} {text_of(asked[name])}" for name in CONDITIONS if name in asked]
    yield "Conditions", "; ".join(said)
    assumed = asked.get("assumed", ())
    if assumed:
        yield "Assumed, not said", ", ".join(label(name).lower() for name in assumed)


def _tables(record: Mapping[str, Any]) -> Iterator[Printed]:
    settings = record.get("settings", ())
    yield _table("Settings", SETTING, settings)
    readings = record.get("given", {}).get("readings", ())
    rows = [
        [Cell(str(place)), Cell(str(one.get("spacing", ""))), Cell(", ".join(_volts(one)))]
        for place, one in enumerate(readings, start=1)
    ]
    yield Printed("Readings as given", ("Setting", "Spacing", "One voltage per sparkover"), rows, small=True)
    if "budget" in record:
        yield _table("Uncertainty, standard contributions to the scale factor", BUDGET, record["budget"])


def _volts(reading: Mapping[str, Any]) -> Iterable[str]:
    found = reading.get("indicated_voltages") or reading.get("instrument_voltages") or ()
    return (str(one) for one in found)


def _table(title: str, names: Sequence[str], entries: Sequence[Mapping[str, Any]]) -> Printed:
    kept = [name for name in names if any(entry.get(name) not in (None, [], "") for entry in entries)]
    rows = [[_cell(entry.get(name)) for name in kept] for entry in entries]
    return Printed(title, [label(name) for name in kept], rows, small=True)


def _cell(value: Any) -> Cell:
    if value is None or value == []:
        return Cell("")
    number = isinstance(value, NUMBERS) or (isinstance(value, Mapping) and "unit" in value)
    return Cell(text_of(value).removesuffix(SPAN), number and not isinstance(value, bool))
