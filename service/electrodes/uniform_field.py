"""Parallel plates: a uniform field, in every gas that has data. A new gas is a row of data, no code."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from service.electrodes import _air_forms, _attaching_forms, _gas_forms
from service.electrodes._base import Arrangement, Case, Estimate, Limit, Method, Validity
from service.electrodes._form import Form
from service.electrodes._gas_remarks import gas_remarks
from service.electrodes._gas_rows import GasRow, gas_rows
from service.electrodes._weak import WeakField
from service.reference import Reference
from service.reference.kept import once

FORMS: Mapping[str, Callable[[GasRow, Reference], Form]] = {
    "quadratic-root": _air_forms.quadratic_root,
    "left-branch": _air_forms.left,
    "micro-gap": _air_forms.micro_gap,
    "table-schumann": _air_forms.table_schumann,
    "townsend-table": _gas_forms.townsend_table,
    "closed-form": _gas_forms.closed,
    "measured": _gas_forms.points,
    "linear": _attaching_forms.linear,
    "linear-criterion": _attaching_forms.linear_criterion,
    "mixture-rule": _attaching_forms.mixture_rule,
    "mixture-table": _attaching_forms.mixture_table,
    "vacuum": _attaching_forms.vacuum_gap,
}
"""Functional forms by the name that rows of data use."""

NOTES = (
    "Plates with rounded rims, several gaps wide; a sharp rim or a burr breaks down earlier.",
    "The first sparks of new or dusty plates lie low, and an insulator across the gap flashes over earlier.",
)


@once
def arrangement(reference: Reference) -> Arrangement:
    """Return the arrangement.

    Parameters
    ----------
    reference : Reference
        Loaded tables.
    """
    weak = WeakField.of(reference)
    hottest = dict(zip(reference.table("gases").text("key"), reference.table("gases")["temperature_to"], strict=True))
    methods = tuple(_method(row, reference, weak, float(hottest[row.gas])) for row in gas_rows(reference))
    return Arrangement(
        "uniform-field",
        "Uniform field",
        "Two flat plates with rounded rims, much wider than their gap; also the middle of a very gentle curve.",
        methods,
        notes=NOTES,
    )


def _method(row: GasRow, reference: Reference, weak: WeakField, hottest: float) -> Method:
    form = FORMS[row.form](row, reference)
    heat = Limit("temperature", "temperature", high=hottest)
    limits = (*form.limits, heat, Limit("frequency", "frequency", 0.0, 10e6))
    humid = row.gas == "air" and form.similarity
    remarks = gas_remarks(reference, row.gas)

    def function(case: Case) -> Estimate:
        volts = form.voltage(case)
        low, high = form.band(case, volts) if form.band else (volts * (1 - row.low), volts * (1 + row.high))
        notes = (*form.said(case), *remarks(case))
        return weak.corrected(case, Estimate(volts, low, high, notes=notes), humid=humid)

    return Method(
        row.key,
        f"{row.title}{form.title} ({row.gas.replace('-', ' ')})",
        form.kind,
        function,
        Validity(frozenset({row.gas}), limits=limits, words=form.words),
        round(max(widest for widest in (row.low, row.high, form.widest) if widest > 0) * 100, 2),
        row.source,
        row.provenance,
        form.similarity,
        form.place_uncertainty,
    )
