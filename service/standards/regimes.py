"""Beside the limits of a hazard: current bands, what the spark can light, ozone and X-rays by regime."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np

from service import units
from service.answers.blocks import source_block
from service.reference import Reference
from service.standards.circuit import FAST, Circuit
from service.standards.limits import above
from service.standards.reading import origin

X_RAY_ONSET = "onset of concern"
"""Beginning of the row that says from which voltage across a vacuum X-rays are a matter."""

DISCHARGE = "discharge practice"
"""Scheme of the rows that say how capacitors are discharged."""


def current_bands(circuit: Circuit, reference: Reference) -> list[dict[str, Any]]:
    """Return the thresholds of effects of current on the body, lowest first, beside the available current.

    Parameters
    ----------
    circuit : Circuit
    reference : Reference
    """
    table = reference.table("iec-60479-zones")
    wanted = _current_types(circuit)
    rows = [
        row
        for row, kind in enumerate(table.text("current_type"))
        if any(kind.startswith(one) for one in wanted) and np.isfinite(table["current"][row])
    ]
    bands = []
    for row in sorted(rows, key=lambda place: float(table["current"][place])):
        threshold = float(table["current"][row])
        band: dict[str, Any] = {
            "current_type": table.text("current_type")[row],
            "line": table.text("line")[row],
            "duration": table.text("duration_printed")[row],
            "current": units.quantity(threshold, "current"),
            "reached": above(circuit.current, threshold, reached=True),
        }
        if circuit.current is not None:
            band["asked"] = units.quantity(circuit.current, "current")
        if note := table.text("note")[row]:
            band["note"] = note
        bands.append(band | {"source": source_block(table.source), "provenance": origin(table, row)})
    return bands


def _current_types(circuit: Circuit) -> tuple[str, ...]:
    if circuit.frequency is None:
        return ("ac 15-100 Hz", "ac", "dc")
    return ("ac >100 kHz",) if circuit.frequency > FAST else ("ac",)


def ignition(circuit: Circuit, reference: Reference) -> list[dict[str, Any]]:
    """Return the published minimum ignition energies, lowest first, beside the stored energy.

    Parameters
    ----------
    circuit : Circuit
    reference : Reference
    """
    table = reference.table("minimum-ignition-energy")
    listed = []
    for row in np.argsort(table["energy"], kind="stable"):
        energy = float(table["energy"][row])
        entry: dict[str, Any] = {
            "fuel": table.text("fuel")[row],
            "oxidiser": table.text("oxidiser")[row],
            "minimum_energy": units.quantity(energy, "energy"),
            "reached": above(circuit.energy, energy, reached=True),
        }
        source = {**source_block(table.source), "row": table.text("row_source")[row]}
        listed.append(entry | {"source": source, "provenance": origin(table, int(row))})
    return listed


def exposure(circuit: Circuit, reference: Reference) -> list[dict[str, Any]]:
    """Return the workplace limits for what sparks give off, by regime: ozone where a spark can be, X-rays above 5 kV.

    Parameters
    ----------
    circuit : Circuit
    reference : Reference
    """
    table = reference.table("exposure-limits")
    wanted = {"ozone"} if sparks(circuit, reference) else set()
    wanted |= {"x-ray"} if x_rays(circuit, reference) else set()
    return [
        {
            "hazard": hazard,
            "limit": table.text("limit")[row],
            "value_printed": table.text("value_printed")[row],
            "unit_printed": table.text("unit")[row],
            "source": source_block(table.source),
            "provenance": origin(table, row),
        }
        for row, hazard in enumerate(table.text("hazard"))
        if hazard in wanted and np.isfinite(table["number"][row])
    ]


def sparks(circuit: Circuit, reference: Reference) -> bool:
    """Return whether the voltage can break down air at all: unknown, or at least the smallest published minimum."""
    table = reference.table("paschen-minima")
    return circuit.voltage is None or circuit.voltage >= float(table.where(gas_key="air")["voltage"].min())


def x_rays(circuit: Circuit, reference: Reference) -> bool:
    """Return whether the voltage is one from which X-rays are a matter across a vacuum; unknown is."""
    table = reference.table("exposure-limits")
    onsets = [
        units.to_si(float(table["number"][row]), "kV", "voltage")
        for row, words in enumerate(table.text("limit"))
        if words.startswith(X_RAY_ONSET)
    ]
    return circuit.voltage is None or any(circuit.voltage > onset for onset in onsets)


def regime_notes(circuit: Circuit, reference: Reference) -> Iterator[str]:
    """Yield the sentences on ignition, ozone and X-rays that belong to the circuit.

    Parameters
    ----------
    circuit : Circuit
    reference : Reference
    """
    if circuit.energy is None:
        yield "Ignition: the stored energy is not known; no spark of this circuit can be called too weak to light gas."
    else:
        yield (
            "Ignition: the whole stored energy is compared; a spark releases at most that, and the minimum energies "
            "hold for the most ignitable mixture at room conditions."
        )
    if sparks(circuit, reference):
        yield "Ozone: every spark and every corona makes it; the workplace limits stand under exposure."
    if x_rays(circuit, reference):
        yield (
            "X-rays: across a vacuum or very thin gas they are a matter from about 5 kV on; a spark in open air is no "
            "source worth measuring below about 100 kV, from memory."
        )
    if circuit.capacitance is not None or circuit.charge is not None:
        yield from _discharge_practice(reference)
    if circuit.frequency is not None and 100 < circuit.frequency <= FAST:
        yield (
            "Current bands: the alternating thresholds hold for 15 to 100 Hz; at higher frequency more current is "
            "needed for the same effect, while burns remain."
        )


def _discharge_practice(reference: Reference) -> Iterator[str]:
    table = reference.table("energy-source-practice")
    rows = zip(
        *(table.text(name) for name in ("scheme", "source_kind", "threshold_printed", "provenance")), strict=True
    )
    for scheme, kind, printed, provenance in rows:
        if scheme == DISCHARGE:
            yield f"Discharge practice, {kind}: {printed} ({provenance})."
