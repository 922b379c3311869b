"""Answers of the workshop that builds the 12 kV supply of an electrostatic smoke precipitator, for the renderers.

Their numbers only have to look like answers: what they are is tested elsewhere.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from service.answers.figure import Bar, Curve, Figure, Mark, PlotAxis
from service.render.page import Page

VERSIONS = {"service_version": "0.1.0", "data_version": "2026.11+3f9c2a1b"}
AIR = {
    "gas": "air",
    "pressure": {"value": 101.3, "unit": "kPa"},
    "temperature": {"value": 20.0, "unit": "degC"},
    "absolute_humidity": {"value": 8.5, "unit": "g/m3"},
    "waveform": "dc",
    "polarity": "weaker",
}
ASSUMED = ["gas", "pressure", "temperature", "absolute_humidity", "waveform", "polarity"]
ESTIMATE = {
    "key": "estimate",
    "text": "An estimate for clean, dry electrodes of exactly this shape; a burr, dust, a flame or the spark before it "
    "lowers the voltage.",
}
BARRIER = {
    "key": "not-a-barrier",
    "text": "Never let this distance be the only thing between a person and a live part.",
}
BOOK = {
    "key": "kuffel",
    "citation": "E. Kuffel, W. S. Zaengl and J. Kuffel, High Voltage Engineering: Fundamentals, Newnes",
    "edition": "2nd edition, 2000",
    "table": "eq. 5.81",
}
METHOD = {
    "key": "uniform-air",
    "title": "Published formula for uniform fields in air",
    "kind": "formula",
    "validity": "air; pressure times gap 0.01 to 13 kPa m; relative density 0.9 to 1.1",
    "uncertainty_percent": 3,
    "source": BOOK,
    "provenance": "memory",
}


def volts(value: float | None, low: float | None = None, high: float | None = None) -> dict[str, Any]:
    """Return a peak voltage."""
    ends = {name: end for name, end in (("low", low), ("high", high)) if end is not None}
    return {"value": value, **ends, "unit": "kV", "measure": "peak"}


def length(value: float | None, low: float | None = None, high: float | None = None) -> dict[str, Any]:
    """Return a length."""
    ends = {name: end for name, end in (("low", low), ("high", high)) if end is not None}
    return {"value": value, **ends, "unit": "mm"}


def whole(lookup: str, asked: Mapping[str, Any], results: Mapping[str, Any], **frame: Any) -> dict[str, Any]:
    """Return a document of the interface."""
    ending = {"also": [], "corrections": {}, "notes": [], "cautions": [ESTIMATE, BARRIER], **frame}
    return {"lookup": lookup, "asked": dict(asked), **results, **ending, **VERSIONS}


def breakdown() -> Page:
    """Return plates 8 mm apart, with another method beside it."""
    other = {
        "key": "townsend-criterion",
        "title": "Avalanche criterion with published ionization coefficients",
        "kind": "model",
        "validity": "air; 0.05 to 20 Pa m",
        "uncertainty_percent": 8,
        "source": {"key": "boltzmann", "citation": "Two-term Boltzmann solution for dry air", "table": "1"},
        "provenance": "computed",
        "breakdown_voltage": volts(26.3, 24.2, 28.4),
        "difference_percent": 1.98,
    }
    document = whole(
        "breakdown",
        {"gap": length(8.0), "electrodes": "uniform-field", **AIR, "assumed": ASSUMED},
        {
            "breakdown_voltage": volts(25.79, 25.0, 26.6),
            "withstand_estimate": volts(23.9),
            "mean_field": {"value": 3.22375, "unit": "kV/mm"},
            "field_utilization_factor": 1.0,
        },
        method=METHOD,
        also=[other],
        corrections={"relative_air_density": 1.0},
        notes=["Edges must be rounded; at a sharp edge the field is not uniform."],
    )
    address = "https://bench.example/v1/breakdown?electrodes=uniform-field&gap=8mm&waveform=dc"
    return Page(document, "Breakdown voltage, parallel plates", address=address)


def unknown_bracket() -> Page:
    """Return the same gap between electrodes of unknown shape."""
    document = whole(
        "breakdown",
        {"gap": length(8.0), "electrodes": "unknown", **AIR, "assumed": ["electrodes", *ASSUMED]},
        {"breakdown_voltage": volts(None, 9.03, 25.79)},
        method={**METHOD, "title": "Between sharp points and a uniform field", "kind": "bracket"},
        notes=["The shape is not known: between points the same gap breaks down at about a third of the upper end."],
    )
    document["method"].pop("uncertainty_percent")
    return Page(document, "Breakdown voltage, electrodes of unknown shape")


def gaps() -> Page:
    """Return every gap that 12 kV jumps between plates in thin air."""
    left = {**length(0.0123, 0.0116, 0.0131), "branch": "left"}
    right = {**length(3.367, 3.245, 3.489), "branch": "right", "sparks_below": 3.245, "holds_above": 3.489}
    document = whole(
        "gap",
        {"voltage": volts(12.0), "measure": "peak", "electrodes": "uniform-field", **AIR, "assumed": ASSUMED},
        {"gaps": [left, right]},
        method=METHOD,
        cautions=[
            ESTIMATE,
            {"key": "which-end", "text": "To keep apart, use the larger distance; to make it jump, the smaller."},
        ],
    )
    return Page(document, "Gap for a voltage, parallel plates")


def no_gap() -> Page:
    """Return a voltage that jumps nothing."""
    asked = {"voltage": volts(0.2), "electrodes": "uniform-field", **AIR, "assumed": ASSUMED}
    results = {"gaps": [], "smallest_breakdown_voltage": volts(0.327, 0.31, 0.345)}
    return Page(whole("gap", asked, results, method=METHOD), "Gap for a voltage, parallel plates")


def readings() -> Page:
    """Return gaps for each reading of a voltage."""
    results = {
        "readings": [
            {"measure": "peak", "peak_voltage": volts(12.0), "gaps": [{**length(3.367, 3.2, 3.5), "branch": "right"}]},
            {"measure": "rms", "peak_voltage": volts(16.97), "gaps": [{**length(4.98, 4.8, 5.2), "branch": "right"}]},
        ]
    }
    asked = {"voltage": volts(12.0) | {"measure": "unknown"}, "electrodes": "uniform-field", "assumed": []}
    return Page(whole("gap", asked, results, method=METHOD), "Gap for a voltage")


def sphere_gaps() -> Page:
    """Return the spheres that could check the divider at 12 kV."""
    rows = ((20.0, 3.71, True, 3, "recommended"), (50.0, 3.63, True, 3, "recommended"), (62.5, 3.6, False, 5, "needed"))
    settings = [
        {
            "sphere_diameter": length(diameter),
            "spacing": length(spacing, spacing * 0.97, spacing * 1.03),
            "spacing_over_diameter": spacing / diameter,
            "within_limits": inside,
            "uncertainty_percent": percent,
            "irradiation_needed": irradiation,
            "earth_height": {"low": 7 * diameter, "high": 9 * diameter, "unit": "mm"},
            "side_clearance": length(14 * diameter),
            "series_resistor": {"value": 0.1, "unit": "Mohm"},
            "sparkovers": 10,
            "interval": {"value": 30.0, "unit": "s"},
        }
        for diameter, spacing, inside, percent, irradiation in rows
    ]
    document = whole(
        "sphere-gaps",
        {"voltage": volts(12.0), "measure": "peak", **AIR, "assumed": ASSUMED[:-1]},
        {"settings": settings},
        method={**METHOD, "title": "Standard sphere-gap table", "kind": "table", "row": "spacing 3.5 and 4.0 mm"},
        cautions=[
            {
                "key": "discharge-first",
                "text": "Switch off, discharge and short before a hand goes near the spheres, every time.",
            }
        ],
    )
    return Page(document, "Sphere gaps for 12 kV")


def hazard() -> Page:
    """Return what the supply's smoothing capacitor stores."""
    limits = [
        {
            "key": "charge-45-uc",
            "title": "45 uC",
            "limit": {"value": 45.0, "unit": "uC"},
            "asked": {"value": 120.0, "unit": "uC"},
            "exceeded": True,
            "source": BOOK,
            "provenance": "memory",
        },
        {
            "key": "energy-350-mj",
            "title": "350 mJ",
            "limit": {"value": 0.35, "unit": "J"},
            "asked": {"value": 0.72, "unit": "J"},
            "exceeded": True,
            "source": BOOK,
            "provenance": "reproduction",
        },
        {
            "key": "current-2-ma",
            "title": "2 mA",
            "limit": {"value": 2.0, "unit": "mA"},
            "exceeded": None,
            "source": BOOK,
            "provenance": "memory",
        },
    ]
    times = [
        {"limit": "45 uC", "time": {"value": 1.96, "unit": "s"}},
        {"limit": "60 V", "time": {"value": 5.3, "unit": "s"}},
    ]
    document = whole(
        "hazard",
        {"voltage": volts(12.0), "capacitance": {"value": 10.0, "unit": "nF"}, "assumed": []},
        {
            "stored_energy": {"value": 0.72, "unit": "J"},
            "charge": {"value": 120.0, "unit": "uC"},
            "limits": limits,
            "discharge_times": times,
        },
        cautions=[
            {
                "key": "below-a-limit",
                "text": "Below a limit is not the same as out of danger: these limits were written for enclosed and "
                "tested products, and a small shock can throw a hand into a greater danger.",
            }
        ],
    )
    return Page(document, "Stored energy and charge against published limits")


def clearance() -> Page:
    """Return the clearance inside the supply."""
    requirements = [
        {
            "requirement": "impulse voltage 6 kV, case A",
            "clearance": length(5.5),
            "source": {"key": "iec-60664-1", "citation": "IEC 60664-1", "edition": "2020", "table": "F.2"},
            "provenance": "memory",
        },
        {
            "requirement": "recurring peak voltage 12 kV",
            "clearance": length(20.4),
            "source": {"key": "iec-60664-1", "citation": "IEC 60664-1", "edition": "2020", "table": "F.7a"},
            "provenance": "reproduction",
        },
    ]
    document = whole(
        "clearance",
        {
            "recurring_peak_voltage": volts(12.0),
            "impulse_voltage": volts(6.0),
            "pollution_degree": 2,
            "insulation": "basic",
            "field": "inhomogeneous",
            "assumed": ["field"],
        },
        {
            "clearance": length(20.4),
            "governed_by": "recurring peak voltage 12 kV",
            "requirements": requirements,
            "breakdown_at_clearance": {
                "unknown": volts(None, 18.2, 59.7),
                "uniform-field": volts(59.7, 57.9, 61.5),
            },
        },
        cautions=[
            {
                "key": "local-codes",
                "text": "Guidance from tables, some of them from memory; local codes, the printed standard and "
                "licensed practice decide.",
            }
        ],
    )
    return Page(document, "Clearance in air")


def switch_on_sheet() -> Page:
    """Return the sheet beside the switch: its cautions come first."""
    document = whole(
        "switch-on-sheet",
        {
            "voltage": volts(12.0),
            "capacitance": {"value": 10.0, "unit": "nF"},
            "waveform": "dc",
            "assumed": ["waveform"],
        },
        {
            "keeps_apart_above": length(11.1),
            "jumps_at": length(3.2),
            "board_distance": length(20.4),
            "stored_energy": {"value": 0.72, "unit": "J"},
            "discharge_time": {"value": 5.3, "unit": "s"},
        },
        notes=["A probe must bear 12 kV peak and whatever the supply reaches without load."],
    )
    leading = {key: document[key] for key in ("lookup", "cautions")}
    return Page({**leading, **document}, "Switch-on sheet for 12 kV")


def paschen(names: tuple[str, ...] = ("air",)) -> Page:
    """Return curves over pressure times distance."""
    pd = np.geomspace(0.5, 200, 200)
    constants = {"air": (11.2, 274.0, 3.1), "argon": (9.0, 135.0, 2.4), "nitrogen": (8.9, 257.0, 2.9)}
    curves, marks = [], []
    for name in names:
        a, b, c = constants[name]
        with np.errstate(invalid="ignore", divide="ignore"):
            bottom = np.log(a * pd / c)
            voltage = np.where(bottom > 0.2, b * pd / bottom, np.nan)
        curves.append(Curve(name.capitalize(), pd, voltage, voltage * 0.93, voltage * 1.07))
        at = int(np.nanargmin(voltage))
        marks.append(Mark(f"{name.capitalize()} minimum {voltage[at]:.0f} V", pd[at : at + 1], voltage[at : at + 1]))
    a, b, c = constants[names[0]]
    points = np.geomspace(0.7, 120, 9)
    marks += [
        Mark("measured", points, b * points / np.log(a * points / c) * 1.04, "measured"),
        Mark("streamer criterion from here", np.array([30.0]), b * np.array([30.0]) / np.log(a * 30 / c), "hand-over"),
    ]
    kept = np.isfinite(curves[0].y)
    document = whole(
        "paschen",
        {"gas": names[0], "points": int(kept.sum()), "assumed": ["points"]},
        {
            "curve": {
                "pd": {"unit": "Pa_m", "values": pd[kept]},
                "voltage": {"unit": "V", "measure": "peak", "values": curves[0].y[kept]},
            },
            "minimum": {
                "pd": {"value": 0.756, "unit": "Pa_m"},
                "voltage": {"value": 327.0, "unit": "V", "measure": "peak"},
            },
        },
        method=METHOD,
    )
    figure = Figure(
        "Paschen curve" + ("s" if len(names) > 1 else ""),
        "Breakdown voltage over pressure times distance, both logarithmic, with the minimum marked.",
        PlotAxis("Pressure times distance at 20 °C", "Pa_m"),
        PlotAxis("Breakdown voltage, peak", "V"),
        tuple(curves),
        tuple(marks),
        sentences=("Uniform field at 20 °C. Bands are each method's stated uncertainty.",),
    )
    return Page(document, figure.title, figure)


def gap_curves() -> Page:
    """Return breakdown voltage against gap for three arrangements."""
    gap = np.geomspace(1, 50, 160)
    plates = 2.44 * gap + 2.12 * np.sqrt(gap)
    spheres = np.where(gap < 25, plates * (1 - 0.004 * gap), np.nan)
    low, high = 2.0 + 0.75 * gap, plates
    figure = Figure(
        "Breakdown voltage against gap",
        "Peak breakdown voltage over the gap, logarithmic axes, for plates, spheres and unknown electrodes.",
        PlotAxis("Gap", "mm"),
        PlotAxis("Breakdown voltage, peak", "kV"),
        (
            Curve("Parallel plates", gap, plates, plates * 0.97, plates * 1.03),
            Curve("Sphere gap 50 mm", gap, spheres, spheres * 0.97, spheres * 1.03),
            Curve("Unknown, low end", gap, low, dashed=True),
            Curve("Unknown, high end", gap, high, dashed=True),
        ),
        (Mark("asked", np.array([8.0]), np.array([25.8])), Mark("asked", np.array([8.0, 8.0]), np.array([8.0, 25.5]))),
        lines=(("asked 8 mm", 8.0),),
        sentences=(
            "In air at 101.3 kPa, 20 degC; dc.",
            "Bands are each method's stated uncertainty; a dashed line is only a bound.",
        ),
    )
    blocks = [
        {
            "electrodes": key,
            "gap": {"unit": "mm", "values": gap.tolist()},
            "breakdown_voltage": {
                "unit": "kV",
                "measure": "peak",
                "values": [None if np.isnan(one) else float(one) for one in volts],
            },
            "method": ["uniform-air"] * len(gap),
        }
        for key, volts in (("uniform-field", plates), ("sphere-gap", spheres))
    ]
    asked = {"gap_from": length(1.0), "gap_to": length(50.0), "electrodes": ["uniform-field", "sphere-gap"], **AIR}
    document = whole("breakdown", {**asked, "assumed": ASSUMED}, {"curves": blocks})
    return Page(document, figure.title, figure)


def claim() -> Page:
    """Return the claim of a spark seller against what each shape would need."""
    explanation = (
        "A 10 mm spark needs 10 to 32 kV, by the shape of its electrodes. 60 kV peak would have jumped further even in "
        "a uniform field: the claim is too high for a first jump between cold electrodes."
    )
    by_shape = (
        ("Needle gap", 9.5, 12.5, 11.0),
        ("Rod gap", 12.0, 17.0, 14.2),
        ("Sphere gap 20 mm", 28.5, 31.0, 29.8),
        ("Uniform field", 30.2, 32.1, 31.1),
        ("Unknown", 9.5, 32.1, float("nan")),
    )
    figure = Figure(
        "What a 10 mm spark tells of 60 kV",
        "One bar per electrode shape for the voltage that jumps 10 mm, with the claimed voltage as vertical lines.",
        PlotAxis("Voltage, peak", "kV"),
        PlotAxis("", ""),
        bars=tuple(Bar(*one) for one in by_shape),
        lines=(("claimed as peak", 60.0), ("as rms", 84.9), ("as peak-to-peak, symmetrical", 30.0)),
        sentences=(explanation,),
    )
    results = {
        "voltage_by_electrodes": [
            {"electrodes": name, "voltage": volts(None if np.isnan(value) else value, low, high)}
            for name, low, high, value in by_shape
        ],
        "bracket": volts(None, 9.5, 32.1),
        "claim": {"verdict": "too-high", "electrodes_that_fit": [], "explanation": explanation},
    }
    asked = {"length": length(10.0), "claimed_voltage": volts(60.0), **AIR, "assumed": ASSUMED}
    return Page(whole("spark", asked, results), figure.title, figure)


def several_gases() -> Page:
    """Return Paschen curves of three gases."""
    return paschen(("air", "argon", "nitrogen"))


def spacing_card() -> Page:
    """Return spacings for three spheres and four voltages, one of them beyond the smallest sphere."""
    settings = []
    for volts_ in (10.0, 15.0, 20.0, 30.0):
        for diameter in (20.0, 50.0, 100.0):
            setting = {"voltage": volts(volts_), "sphere_diameter": length(diameter)}
            if volts_ < 30 or diameter > 20:
                spacing = volts_ / 3.8 * (1 + volts_ / 40 / diameter)
                setting |= {
                    "spacing": length(spacing),
                    "within_limits": spacing < diameter / 2.5,
                    "sparkovers": 10,
                    "interval": {"value": 30.0, "unit": "s"},
                    "row": f"sphere diameter {diameter / 10:g} cm, spacing {spacing // 1 / 10:g} cm and the next",
                    "method": "sphere-gap-table-2",
                    "provenance": "reproduction+memory" if diameter < 50 else "memory",
                    "why": "The number of sparkovers and the time between them are those of the standard.",
                }
            else:
                setting |= {"within_limits": False, "why_not": "No method gives a spacing of these spheres for this."}
            settings.append(setting)
    asked = {
        "voltage_from": volts(10.0),
        "voltage_to": volts(30.0),
        "sphere_diameter": [length(20.0), length(50.0), length(100.0)],
        **AIR,
        "assumed": ASSUMED,
    }
    return Page(whole("sphere-gaps", asked, {"settings": settings}, method=METHOD), "Spacing card")


SAMPLES = {
    "breakdown": breakdown,
    "unknown": unknown_bracket,
    "gap": gaps,
    "no-gap": no_gap,
    "readings": readings,
    "sphere-gaps": sphere_gaps,
    "spacing-card": spacing_card,
    "hazard": hazard,
    "clearance": clearance,
    "switch-on-sheet": switch_on_sheet,
    "paschen": paschen,
    "several-gases": several_gases,
    "gap-curves": gap_curves,
    "claim": claim,
}
