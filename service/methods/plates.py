"""The methods of a uniform field in every gas that has data, and what gas and waveform add to what they say.

A new gas is a row of data, no code.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from service.errors import BadReferenceData
from service.methods import forms
from service.methods.bands import FASTEST, WeakField
from service.methods.case import AIR
from service.methods.gas_rows import Form, GasRow, Surface, gas_rows, own_band
from service.methods.method import FREQUENCY, TEMPERATURE, Case, Estimate, Limit, Method, Validity
from service.reference import Reference, once


class Reads(NamedTuple):
    """A functional form, and what the ``data`` of its row names.

    Parameters
    ----------
    form : callable
        From a row and the tables.
    data : str
        The table that it reads, or the method that it goes on from, and in capitals what says which of its rows.
    """

    form: Callable[[GasRow, Reference], Form]
    data: str

    @property
    def pattern(self) -> str:
        """A pattern of the data that it reads."""
        return re.sub("[A-Z]+", "[^:]+", self.data.replace("[", "(?:").replace("]", ")?"))


FORMS: Mapping[str, Reads] = {
    "quadratic-root": Reads(forms.quadratic_root, "uniform-field-formulas:KEY"),
    "left-branch": Reads(forms.left, "townsend-air"),
    "micro-gap": Reads(forms.micro_gap, "gas-constants"),
    "table-schumann": Reads(forms.table_schumann, "schumann-table"),
    "townsend-table": Reads(forms.townsend_table, "ionization-alpha-over-n"),
    "closed-form": Reads(forms.closed, "townsend-ab:SOURCE:FORM[:RANGE]"),
    "measured": Reads(forms.points, "norman-2022-points"),
    "linear": Reads(forms.linear, "gas-constants"),
    "linear-criterion": Reads(forms.linear_criterion, "gas-constants:AUTHOR"),
    "criterion-below": Reads(forms.criterion_below, "gas-constants:AUTHOR"),
    "relative": Reads(forms.relative, "relative-strength"),
    "streamer-table": Reads(forms.streamer_table, "ionization-alpha-over-n"),
    "mixture-rule": Reads(forms.mixture_rule, "gas-constants"),
    "mixture-table": Reads(forms.mixture_table, "ionization-alpha-over-n"),
    "vacuum": Reads(forms.vacuum_gap, "gas-constants"),
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


def _form(row: GasRow, reference: Reference) -> Form:
    """Return the form of a row.

    Raises
    ------
    BadReferenceData
        With the row, when its form is not known, its data name nothing, or no form can be made of its numbers.
    """
    if row.form not in FORMS:
        raise row.fault("form", f"the forms are {', '.join(FORMS)}")
    reads = FORMS[row.form]
    if not re.fullmatch(reads.pattern, row.data):
        raise row.fault("data", f"the form '{row.form}' reads {reads.data}")
    try:
        return reads.form(row, reference)
    except BadReferenceData:
        raise
    except Exception as error:
        raise row.fault("form", f"none can be made of this row: {error}") from error


def _method(row: GasRow, reference: Reference, weak: WeakField, hottest: float) -> Method:
    form = _form(row, reference)
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
