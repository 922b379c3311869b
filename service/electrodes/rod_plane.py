"""A rod over a plane: long gaps at impulse voltage."""

from __future__ import annotations

from collections.abc import Callable

from service.electrodes._base import Arrangement, FloatArray
from service.electrodes._laws import constants
from service.electrodes._rods import STANDARD, RodLaw, rod_method
from service.physics.long_gaps import logarithmic_law, power_law, saturating_quotient, straight_line
from service.reference import Reference

BAND = 0.10
"""Half width of the band of the long-gap formulas; common practice, no source."""
SHORTEST = 1.0
"""Gap from which the logarithmic and the lightning law are used [m]; common practice, no source."""


def arrangement(reference: Reference) -> Arrangement:
    """Return the arrangement.

    Parameters
    ----------
    reference : Reference
        Loaded tables.
    """
    return Arrangement(
        "rod-plane",
        "Rod and plane",
        "A long rod pointing at the ground, metres away: the weakest arrangement of outdoor insulation.",
        tuple(rod_method(reference, law) for law in _laws(reference)),
    )


def _laws(reference: Reference) -> tuple[RodLaw, ...]:
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
    switching = frozenset({"switching-impulse"})
    return (
        _law(reference, "power", "500 d^0.6", by_power, spans["power"], switching),
        _law(reference, "fraction", "3400/(1 + 8/d)", by_fraction, spans["fraction"], switching),
        _law(
            reference,
            "logarithm",
            "1080 ln(0.46 d + 1)",
            by_logarithm,
            (SHORTEST, value["logarithm-largest-gap"]),
            switching,
        ),
        _law(reference, "lightning", "530 kV/m", lightning, (SHORTEST, 10.0), frozenset({"lightning-impulse"})),
    )


def _law(
    reference: Reference,
    name: str,
    formula: str,
    volts: Callable[[FloatArray], FloatArray],
    span: tuple[float, float],
    waveforms: frozenset[str],
) -> RodLaw:
    return RodLaw(
        f"rod-plane-{name}",
        f"Rod-plane gap, positive impulse, {formula}",
        "formula",
        reference.table("rod-plane-formulas"),
        volts,
        span,
        STANDARD,
        "impulse",
        BAND,
        waveforms,
        frozenset({"positive"}),
        "The 50 % voltage at the critical time to crest; other arrangements of the same gap hold more by a gap factor.",
    )
