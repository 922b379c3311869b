"""A rod over a plane: long gaps at impulse voltage, and what other arrangements of the same gap hold more."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping

from service.methods.laws import constants
from service.methods.method import Arrangement, Case, FloatArray
from service.methods.rods import ADVICE, STANDARD, GapFactor, RodLaw, rod_methods
from service.parameters import Parameter
from service.physics.long_gaps import logarithmic_law, power_law, saturating_quotient, straight_line
from service.reference import Reference

BAND = 0.10
"""Half width of the band of the long-gap formulas; common practice, no source."""
FACTOR_BAND = 0.05
"""What a typical gap factor adds to it; common practice, no source."""
SHORTEST = 1.0
"""Gap from which the logarithmic and the lightning law are used [m]; common practice, no source."""
LONGEST_LIGHTNING = 10.0
"""Gap to which the lightning law is used [m]; common practice, no source."""
PLAIN = "rod-plane"
NOTE = "The 50 % voltage at the critical time to crest."


def arrangement(reference: Reference) -> Arrangement:
    """Return the arrangement.

    Parameters
    ----------
    reference : Reference
        Loaded tables.
    """
    factors = gap_factors(reference)
    configuration = Parameter(
        "configuration",
        "choice",
        "Arrangement of a long gap at switching impulse, by its gap factor over rod and plane.",
        default=PLAIN,
        choices=tuple(factors),
    )
    return Arrangement(
        "rod-plane",
        "Rod and plane",
        "A long rod pointing at the ground, metres away: the weakest arrangement of outdoor insulation.",
        rod_methods(reference, _laws(reference, factors)),
        (configuration,),
        advice=ADVICE,
    )


def gap_factors(reference: Reference) -> Mapping[str, GapFactor]:
    """Return the gap factors for switching impulse, by key.

    Parameters
    ----------
    reference : Reference
    """
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
    value = constants(reference, "rod-plane-formulas")

    def by_power(gap: FloatArray) -> FloatArray:
        return power_law(gap, value["power-coefficient"], value["power-exponent"])

    def by_fraction(gap: FloatArray) -> FloatArray:
        return saturating_quotient(gap, value["fraction-numerator"], value["fraction-length"])

    def by_logarithm(gap: FloatArray) -> FloatArray:
        return logarithmic_law(gap, value["logarithm-coefficient"], value["logarithm-slope"])

    def lightning(gap: FloatArray) -> FloatArray:
        return straight_line(gap, value["lightning-impulse-gradient"])

    spans = {name: (value[f"{name}-lowest-gap"], value[f"{name}-largest-gap"]) for name in ("power", "fraction")}
    to = (SHORTEST, value["logarithm-largest-gap"])
    # the widest range first, so that the preferred value has no step; the others differ by 4 % at 3 m, 11 % at 2 m
    return (
        _switching(reference, "fraction", "3400/(1 + 8/d)", by_fraction, spans["fraction"], factors),
        _switching(reference, "logarithm", "1080 ln(0.46 d + 1)", by_logarithm, to, factors),
        _switching(reference, "power", "500 d^0.6", by_power, spans["power"], factors),
        _lightning(reference, lightning),
    )


def _switching(
    reference: Reference,
    name: str,
    formula: str,
    volts: Callable[[FloatArray], FloatArray],
    span: tuple[float, float],
    factors: Mapping[str, GapFactor],
) -> RodLaw:
    def factor(case: Case) -> GapFactor:
        return factors[case.options.get("configuration", PLAIN)]

    return RodLaw(
        f"rod-plane-{name}",
        f"Rod-plane gap, positive switching impulse, {formula}",
        "formula",
        reference.table("rod-plane-formulas"),
        volts,
        span,
        STANDARD,
        "impulse",
        BAND,
        frozenset({"switching-impulse"}),
        frozenset({"positive"}),
        (NOTE,),
        gap_factor=factor,
    )


def _lightning(reference: Reference, volts: Callable[[FloatArray], FloatArray]) -> RodLaw:
    return RodLaw(
        "rod-plane-lightning",
        "Rod-plane gap, positive lightning impulse, 530 kV/m",
        "formula",
        reference.table("rod-plane-formulas"),
        volts,
        (SHORTEST, LONGEST_LIGHTNING),
        STANDARD,
        "impulse",
        BAND,
        frozenset({"lightning-impulse"}),
        frozenset({"positive"}),
        ("The 50 % voltage.",),
        configurations=frozenset({PLAIN}),
    )
