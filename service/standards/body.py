"""What current does to a body, what a spark can light, and what sparks give off: beside the limits of a hazard."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from service import units
from service.answers.document import Shown
from service.methods.case import AIR
from service.reference import Reference, Table
from service.spoken import said
from service.standards.circuit import FAST, MAINS, Circuit, Span
from service.standards.limits import EXCEEDED, NOT_EXCEEDED, UNKNOWN, Between, above, spanned, state_of
from service.units import Quantity

DISCHARGE = "discharge practice"
"""Scheme of the rows that say how capacitors are discharged."""


def body_current(circuit: Circuit, reference: Reference, year: int | None = None) -> Span | None:
    """Return the current that can flow through a body from hand to hand [A], where anything about it is known.

    It is at most what the source keeps up and what voltage and smallest impedance allow (saltwater-wet, 5 %), at least
    what the largest impedance leaves (dry, 95 %). Below the first voltage of the table nothing is known of the largest.

    Parameters
    ----------
    year : int, optional
        Of the edition of the impedances; the newest otherwise.
    """
    volts = circuit.volts(frozenset(), "rms")
    if volts is None:
        return None if circuit.current is None else Span(0.0, circuit.current)
    table = reference.table("iec-60479-body-impedance").as_of(year)
    fast = circuit.frequency is not None and circuit.frequency > MAINS
    most = volts.high / _impedance(table, "impedance_5", volts.high, fast=fast)
    known = volts.low >= float(np.nanmin(table["touch_voltage"]))
    least = volts.low / _impedance(table, "impedance_95", volts.low, fast=False) if known and not fast else 0.0
    source = np.inf if circuit.current is None else circuit.current
    return Span(0.0 if circuit.current is None else min(least, source), min(most, source))


def _impedance(table: Table, column: str, volts: float, *, fast: bool) -> float:
    """Return the smallest (5 %) or largest (95 %) impedance over the skins at a touch voltage [ohm]."""
    extreme = min if column == "impedance_5" else max
    return extreme(
        _on_line(table.where(skin=skin), column, volts, fast=fast) for skin in dict.fromkeys(table.text("skin"))
    )


def _on_line(table: Table, column: str, volts: float, *, fast: bool) -> float:
    voltages, impedances = table["touch_voltage"], table[column]
    asymptotic = float(impedances[np.isnan(voltages)].min())
    rows = ~np.isnan(voltages)
    if fast or volts > voltages[rows][-1]:
        return asymptotic
    return float(np.interp(volts, voltages[rows], impedances[rows]))


@dataclass(frozen=True)
class EffectThreshold(Shown):
    """A threshold of an effect of current on the body, and whether what may flow reaches it."""

    current_type: str
    line: str
    duration: str
    current: Quantity
    state: str
    asked: Quantity | Between | None
    note: str | None
    source: Mapping[str, str]
    provenance: str


def current_bands(circuit: Circuit, reference: Reference, year: int | None = None) -> list[EffectThreshold]:
    """Return the thresholds of effects of current on the body, lowest first, beside the current through a body."""
    table = reference.table("iec-60479-zones")
    through = body_current(circuit, reference, year)
    rows = [
        row
        for row, kind in enumerate(table.text("kind"))
        if kind in circuit.kinds and np.isfinite(table["current"][row])
    ]
    return [
        EffectThreshold(
            table.text("current_type")[row],
            table.text("line")[row],
            table.text("duration_printed")[row],
            Quantity(float(table["current"][row]), "current"),
            state_of(True, above(through, float(table["current"][row]), reached=True)),
            None if through is None else spanned(through, "current"),
            table.text("note")[row] or None,
            table.source.block(),
            table.provenance[row],
        )
        for row in sorted(rows, key=lambda place: float(table["current"][place]))
    ]


@dataclass(frozen=True)
class Ignition(Shown):
    """A published minimum ignition energy, and whether the stored energy reaches it."""

    fuel: str
    oxidiser: str
    minimum_energy: Quantity
    state: str
    source: Mapping[str, str]
    provenance: str


def ignition(circuit: Circuit, reference: Reference) -> list[Ignition]:
    """Return the published minimum ignition energies, lowest first, beside the stored energy."""
    table = reference.table("minimum-ignition-energy")
    return [
        Ignition(
            table.text("fuel")[row],
            table.text("oxidiser")[row],
            Quantity(float(table["energy"][row]), "energy"),
            state_of(True, above(circuit.energy, float(table["energy"][row]), reached=True)),
            {**table.source.block(), "row": table.text("row_source")[row]},
            table.provenance[row],
        )
        for row in map(int, np.argsort(table["energy"], kind="stable"))
    ]


def exposure(circuit: Circuit, reference: Reference) -> list[dict[str, object]]:
    """Return the workplace limits for what sparks give off: ozone where a spark can be, X-rays above 5 kV."""
    table = reference.table("exposure-limits")
    wanted = {"ozone"} if sparks(circuit, reference) else set()
    wanted |= {"x-ray"} if x_rays(circuit, reference) else set()
    return [
        {
            "hazard": hazard,
            "limit": table.text("limit")[row],
            "value_printed": table.text("value_printed")[row],
            "unit_printed": table.text("unit")[row],
            "source": table.source.block(),
            "provenance": table.provenance[row],
        }
        for row, hazard in enumerate(table.text("hazard"))
        if hazard in wanted and np.isfinite(table["number"][row])
    ]


def sparks(circuit: Circuit, reference: Reference) -> bool:
    """Return whether the voltage can break down air at all: unknown, or at least the smallest published minimum."""
    table = reference.table("paschen-minima")
    highest = circuit.volts(frozenset())
    return highest is None or highest.high >= float(table.where(gas_key=AIR)["voltage"].min())


def x_rays(circuit: Circuit, reference: Reference) -> bool:
    """Return whether the voltage is one from which X-rays are a matter across a vacuum; unknown is."""
    stated = reference.table("exposure-limits")["x_rays_from"]
    onset = min(stated[np.isfinite(stated)].tolist(), default=0.0)
    highest = circuit.volts(frozenset())
    return highest is None or highest.high > onset


def reaches(circuit: Circuit, reference: Reference, year: int | None = None) -> Iterator[str]:
    """Yield, each in a sentence, what the current can do to a body and what the stored energy can light."""
    bands = current_bands(circuit, reference, year)
    reached, open_ = ([band for band in bands if band.state == state] for state in (EXCEEDED, UNKNOWN))
    if reached:
        yield f"Through a body, hand to hand, the current reaches {_band(reached[-1])} ({reached[-1].provenance})."
    if open_:
        yield (
            f"Not known from what was said, so to be reckoned with: {_band(open_[-1])}; wet skin, a larger contact and "
            "a path through the chest make it worse."
        )
    fuels = ignition(circuit, reference)
    lit = [entry for entry in fuels if entry.state == EXCEEDED]
    if circuit.energy is None:
        yield "The stored energy is not known; no spark of this circuit can be called too weak to light gas."
    elif lit:
        names = list(dict.fromkeys(f"{entry.fuel} in {entry.oxidiser}" for entry in lit))
        some = f"{len(lit)} of {len(fuels)} listed mixtures, among them {', '.join(names[-3:])}"
        yield f"A spark of the whole stored energy can light {some}."
    elif all(entry.state == NOT_EXCEEDED for entry in fuels):
        yield (
            "The stored energy is below every listed ignition energy; the source behind it may still keep a spark "
            "burning, which lights gas too."
        )


def _band(band: EffectThreshold) -> str:
    threshold = said(band.current.value or 0.0, "current", unit=units.DIMENSIONS["current"].shown)
    words = f"{band.current_type.split()[0]} line {band.line} of IEC 60479-1, {threshold} for {band.duration}"
    return words.replace(" for -", "").replace(" for any", "")


def regime_notes(circuit: Circuit, reference: Reference) -> Iterator[str]:
    """Yield the sentences on paths, ignition, ozone and X-rays that belong to the circuit."""
    if circuit.energy is not None:
        yield (
            "Ignition: the whole stored energy is compared; a spark releases at most that, and the minimum energies "
            "hold for the most ignitable mixture at room conditions."
        )
    factors = reference.table("iec-60479-heart-current-factors")
    worst = int(np.argmax(factors["factor"]))
    yield (
        "Current through a body: at most what the source keeps up and what the smallest published impedance allows, at "
        "least what the largest leaves, hand to hand. The bands hold from left hand to feet; other paths are as "
        f"dangerous to the heart at the current divided by their factor, from {factors.text('factor')[worst]} "
        f"({factors.text('path')[worst]}) down, from memory."
    )
    if sparks(circuit, reference):
        yield "Ozone: every spark and every corona makes it; everything=true lists the workplace limits."
    if x_rays(circuit, reference):
        yield (
            "X-rays: across a vacuum or very thin gas they are a matter from about 5 kV on; a spark in open air is no "
            "source worth measuring below about 100 kV, from memory."
        )
    if circuit.frequency is not None and MAINS < circuit.frequency <= FAST:
        yield (
            "Current bands: the alternating thresholds hold for 15 to 100 Hz; at higher frequency more current is "
            "needed for the same effect, while burns remain."
        )


def discharge_practice(reference: Reference) -> Iterator[str]:
    """Yield how capacitors are discharged in practice."""
    table = reference.table("energy-source-practice")
    names = ("scheme", "source_kind", "threshold_printed", "provenance")
    for scheme, kind, printed, provenance in zip(*(table.text(name) for name in names), strict=True):
        if scheme == DISCHARGE:
            yield f"Discharge practice, {kind}: {printed} ({provenance})."
