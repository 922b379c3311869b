"""The methods of a uniform field in every gas that has data, and what gas and waveform add to what they say.

A new gas is a row of data, no code.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

import numpy as np

from service.methods import forms
from service.methods.bands import FASTEST, WeakField
from service.methods.case import AIR
from service.methods.gas_rows import Form, GasRow, Surface, gas_rows, own_band
from service.methods.method import FREQUENCY, TEMPERATURE, Case, Estimate, Limit, Method, Validity
from service.reference import Reference, once

FORMS: Mapping[str, Callable[[GasRow, Reference], Form]] = {
    "quadratic-root": forms.quadratic_root,
    "left-branch": forms.left,
    "micro-gap": forms.micro_gap,
    "table-schumann": forms.table_schumann,
    "townsend-table": forms.townsend_table,
    "closed-form": forms.closed,
    "measured": forms.points,
    "linear": forms.linear,
    "linear-criterion": forms.linear_criterion,
    "criterion-below": forms.criterion_below,
    "relative": forms.relative,
    "streamer-table": forms.streamer_table,
    "mixture-rule": forms.mixture_rule,
    "mixture-table": forms.mixture_table,
    "vacuum": forms.vacuum_gap,
}
"""Functional forms by the name that rows of data use."""


@once
def plates(reference: Reference) -> tuple[Method, ...]:
    """Return the methods of parallel plates, in order of trust.

    Parameters
    ----------
    reference : Reference
        Loaded tables.
    """
    weak = WeakField.of(reference)
    hottest = dict(zip(reference.table("gases").text("key"), reference.table("gases")["temperature_to"], strict=True))
    return tuple(_method(row, reference, weak, float(hottest[row.gas])) for row in gas_rows(reference))


def _method(row: GasRow, reference: Reference, weak: WeakField, hottest: float) -> Method:
    form = FORMS[row.form](row, reference)
    heat = Limit("temperature", TEMPERATURE, high=hottest)
    limits = (*form.limits, heat, Limit("frequency", FREQUENCY, 0.0, FASTEST))
    remarks = gas_remarks(reference, row.gas)
    surface = Surface.of(reference, row.gas, row.pressure_to)
    banded = own_band(row, reference)

    def function(case: Case) -> Estimate:
        volts = form.voltage(case)
        low, high = form.band(case, volts) if form.band else banded(case, volts)
        notes = (*form.said(case), *remarks(case))
        if not form.widens:
            return weak.corrected(case, Estimate(volts, low, high, notes=notes), humid=form.similarity)
        widened, of_surface = surface.low(case, volts, low, form.floor)
        found = weak.corrected(case, Estimate(volts, widened, high, notes=(*notes, *of_surface)), humid=form.similarity)
        if not of_surface or not form.floor:
            return found
        # humidity and frequency lower the floor as they lower the band that stands on it: no end falls with the gap
        own = weak.corrected(case, Estimate(volts, low, high), humid=form.similarity).low
        of = case.of
        return replace(found, low=of.maximum(found.low, of.minimum(own, form.floor * (own / low))))

    return Method(
        row.key,
        f"{form.heading or row.title}{form.title} ({row.gas.replace('-', ' ')})",
        form.kind,
        function,
        Validity(frozenset({row.gas}), limits=limits, given_secondary=form.given_secondary),
        None if form.kind == "bracket" else round(np.nanmax([row.low, row.high, form.widest]) * 100, 2),
        row.source,
        row.provenance,
        form.similarity,
        form.place_uncertainty,
        form.thin,
        form.by_numbers,
    )


COLD = 250.0
"""Temperature below which an answer says that condensation is not checked [K]; common practice, no source."""
DENSE = 5e5
"""Pressure above which an answer says that the gas is taken as ideal [Pa]; common practice, no source."""
IMPULSES = ("lightning-impulse", "switching-impulse", "pulse-train")

IMPULSE_NOTE = (
    "For slowly rising voltages. An impulse finds a short gap without irradiation late: it scatters upward by an "
    "amount that is not known here."
)
FREQUENCY_NOTE = "The fall at high frequency was measured in air near atmospheric pressure."
COLD_NOTE = "Whether the gas condenses at this temperature and pressure is not checked."
DENSE_NOTE = "The gas is taken as ideal; near condensation it is denser and holds more."
NOT_AIR = ("gas", "mixture")


def gas_remarks(reference: Reference, gas: str) -> Callable[[Case], tuple[str, ...]]:
    """Return a function from a case to the sentences that its gas and waveform add.

    Parameters
    ----------
    reference : Reference
        Loaded tables.
    gas : str
        Gas key.
    """
    table = reference.table("gases")
    row = table.text("key").index(gas)
    other = table.text("kind")[row] in NOT_AIR
    always = tuple(table.text(name)[row] for name in ("doubts", "purity") if other and table.text(name)[row])

    def remarks(case: Case) -> tuple[str, ...]:
        some = case.of.any
        conditional = {
            IMPULSE_NOTE: case.waveform in IMPULSES,
            FREQUENCY_NOTE: gas != AIR and some(case.frequency > 20e3),
            COLD_NOTE: other and some(case.temperature < COLD),
            DENSE_NOTE: other and some(case.pressure > DENSE),
        }
        return (*always, *(note for note, applies in conditional.items() if applies))

    return remarks
