"""A rod over a plane: long gaps, and what other arrangements of the same gap hold more."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import replace

from service.methods.brackets import OTHER_GAS
from service.methods.drawing import Drawing, Metal, Sizes, Sketch, box, gap_line, plane
from service.methods.laws import LongGapLaw, constants, long_gap_laws
from service.methods.method import Arrangement, Case
from service.methods.rods import STANDARD, GapFactor, RodLaw, rod_methods
from service.parameters import Parameter
from service.reference import Reference

BAND = 0.10
"""Half width of the band of the long-gap formulas; common practice, no source."""
FACTOR_BAND = 0.05
"""What a typical gap factor adds to it; common practice, no source."""
PLAIN = "rod-plane"
SLOW_NOTE = "The 50 % voltage at the critical time to crest."
HALF_NOTE = "The 50 % voltage."
DIRECT_NOTE = (
    "Mean gradients of handbooks, from memory, dry air; space charge, wind and rain move them. No source for the range."
)


def arrangement(reference: Reference) -> Arrangement:
    """Return the arrangement."""
    factors = gap_factors(reference)
    configuration = Parameter(
        "configuration",
        "choice",
        "Arrangement of a long gap, by its gap factor over rod and plane.",
        default=PLAIN,
        choices=tuple(factors),
    )
    return Arrangement(
        "rod-plane",
        "Rod and plane",
        "A long rod pointing at the ground, metres away: the weakest arrangement of outdoor insulation.",
        rod_methods(reference, _laws(reference, factors)),
        (configuration,),
        advice=OTHER_GAS,
        sketch=Sketch(drawing),
    )


def drawing(sizes: Sizes, gap: float) -> Drawing:
    """Return a rod over the ground; of another configuration only the gap is shown."""
    high = 2 * gap
    said = ("Only the gap is to scale: the laws do not state how thick the rod was.",)
    other = str(sizes["configuration"])
    if other != PLAIN:
        said = (f"Not to scale, and another shape: rod and plane stand for {other.replace('-', ' ')}.",)
    return Drawing(
        (Metal(box(gap / 40, gap, 2 * high)), plane(high)),
        (gap_line(gap),),
        (0.5 * gap, -0.12 * high, high),
        remarks=said,
    )


def gap_factors(reference: Reference) -> Mapping[str, GapFactor]:
    """Return the gap factors for switching impulse, by key."""
    table = reference.table("gap-factors-iec-60071")
    rows = zip(table.text("configuration"), table["gap_factor"], table.text("note"), strict=True)
    return {_key(words): _factor(words, float(value), note) for words, value, note in rows}


def _key(words: str) -> str:
    return re.sub(r"[^a-z]+", "-", words.lower()).strip("-")


def _factor(words: str, value: float, note: str) -> GapFactor:
    if _key(words) == PLAIN:
        return GapFactor()
    said = f"Gap factor {value:g} of IEC 60071-2 for {words} ({note}): a typical value."
    return GapFactor(value, FACTOR_BAND, f"gap factor of {words}", (said,))


def _laws(reference: Reference, factors: Mapping[str, GapFactor]) -> tuple[RodLaw, ...]:
    value, laws = constants(reference, "rod-plane-formulas"), long_gap_laws(reference)
    direct = constants(reference, "rod-plane-direct")
    linear, quadratic = (value[f"alternating-factor-{name}"] for name in ("linear", "quadratic"))
    constant, slope = (value[f"lightning-factor-{name}"] for name in ("constant", "slope"))

    def law(
        key: str, kind: str, waveform: str, polarity: str | None, by: Callable[[float], float] | None, note: str
    ) -> RodLaw:
        return _law(reference, key, laws[kind], waveform, polarity, _by(factors, by), note)

    def front(k: float) -> float:
        return constant + slope * k

    negative = direct["negative-highest"] / (direct["negative-lowest"] + direct["negative-highest"]) * 2 - 1
    # the widest range first, so that the preferred value has no step; the others differ by 4 % at 3 m, 11 % at 2 m
    return (
        law("fraction", "switching-fraction", "switching-impulse", "positive", lambda k: k, SLOW_NOTE),
        law("logarithm", "switching-logarithm", "switching-impulse", "positive", lambda k: k, SLOW_NOTE),
        law("power", "switching-power", "switching-impulse", "positive", lambda k: k, SLOW_NOTE),
        law("switching-negative", "switching-negative", "switching-impulse", "negative", None, HALF_NOTE),
        law("lightning", "lightning-positive", "lightning-impulse", "positive", front, HALF_NOTE),
        law("lightning-negative", "lightning-negative", "lightning-impulse", "negative", None, HALF_NOTE),
        law("alternating", "alternating", "ac", None, lambda k: linear * k - quadratic * k * k, HALF_NOTE),
        law("direct-positive", "direct-positive", "dc", "positive", None, DIRECT_NOTE),
        replace(law("direct-negative", "direct-negative", "dc", "negative", None, DIRECT_NOTE), band=negative),
    )


WORDS: Mapping[str, str] = {
    "switching-impulse": "switching impulse",
    "lightning-impulse": "lightning impulse",
    "ac": "power frequency",
    "dc": "direct voltage",
}
HUMIDITY: Mapping[str, str] = {"ac": "alternating", "dc": "direct"}
"""Humidity law by waveform; that of impulses for all others."""


def _by(factors: Mapping[str, GapFactor], by: Callable[[float], float] | None) -> Mapping[str, GapFactor]:
    """Return the gap factors of a kind of voltage by its rule over those for slow fronts; without one, plain rods."""
    if by is None:
        return {PLAIN: factors[PLAIN]}
    return {key: replace(one, value=by(one.value)) if key != PLAIN else one for key, one in factors.items()}


def _law(
    reference: Reference,
    key: str,
    law: LongGapLaw,
    waveform: str,
    polarity: str | None,
    factors: Mapping[str, GapFactor],
    note: str,
) -> RodLaw:
    def factor(case: Case) -> GapFactor:
        return factors[case.options.get("configuration", PLAIN)]

    sign = f"{polarity} " if polarity else ""
    return RodLaw(
        f"rod-plane-{key}",
        f"Rod-plane gap, {sign}{WORDS[waveform]}, {law.formula}",
        "formula",
        reference.table("rod-plane-direct" if waveform == "dc" else "rod-plane-formulas"),
        law.volts,
        law.span,
        STANDARD,
        HUMIDITY.get(waveform, "impulse"),
        BAND,
        frozenset({waveform}),
        frozenset({polarity}) if polarity else frozenset(),
        (note,),
        gap_factor=factor,
        configurations=frozenset() if len(factors) > 1 else frozenset(factors),
        ceiling_of=frozenset({"ac"}) if waveform == "ac" else frozenset(),
    )
