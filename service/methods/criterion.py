"""Inception as methods of any shape whose axis field is known, by a law or from a computed table.

In air the streamer criterion, brackets where it is not breakdown, and beside it, never in its place, corona onset by
the classical formulas; a criterion in sulfur hexafluoride; elsewhere a bound from above.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property, partial

import numpy as np

from service.methods.bands import FASTEST, WeakField
from service.methods.brackets import LONGEST, LOWER, MICRO_ADVICE, NO_HIGH, OTHER_GAS, WHY, Bounds, air_brackets, bounds
from service.methods.case import AIR, VACUUM
from service.methods.drawing import Drawing, Sizes, Sketch
from service.methods.forms import handover
from service.methods.gas_rows import NARROWEST_GAP, Surface, gas_rows
from service.methods.laws import constants, corona_laws, ionization_fits
from service.methods.method import (
    DENSITY,
    FREQUENCY,
    GAP,
    PRESSURE,
    PRODUCT,
    Arrangement,
    Case,
    Estimate,
    FloatArray,
    Limit,
    LimitedQuantity,
    Method,
    Validity,
    single,
)
from service.methods.plates import plates
from service.methods.shapes import Electrode, LineElectrode, Lines, Radius, fineness, strength, utilization_limits
from service.parameters import Parameter
from service.physics.criterion import Inception
from service.physics.formulas import onset_field
from service.physics.ionization import IonizationFit
from service.physics.panels import gauss
from service.reference import GridReader, Reference, Source, Table, TableGrid, interpolate
from service.reference.table import cubic
from service.spoken import said

NEARLY_UNIFORM, LESS_UNIFORM = 0.66, 0.60
"""Utilization factors between which the band grows; from the earthed-sphere table."""
NEAR_BAND, WEAK_BAND = 0.05, 0.10
"""Half widths of the band, nearly uniform and below 0.6; the 323 and 66 cells of that table lie within them."""
WEAK_BANDS = {"linear-branch": 0.12}
"""The same of fits that lie further off: of its 66 cells 12 % off the greatest."""
NEAR_IMPULSE, WEAK_IMPULSE = 0.10, 0.25
"""The same above the value for positive impulses: their table lies up to 9 and 21 % higher than the criterion."""
FINEST = 1.0
"""Smallest reduced pressure times radius [Pa m]: 10 um at 1 bar, where corona formulas are 12 to 30 % higher."""
WIDEST, WIDEST_BRACKET = 2.0, 10.0
"""Largest gaps [m]: breakdown to little beyond the widest cell of the table, 1.6 m; inception as far as it is asked."""
HIGHEST_PRESSURE = 1e6
"""Highest pressure [Pa]; from there on the state of the surface decides; kuffel-zaengl-kuffel-2000, from memory."""
HIGHEST_PD = 5e5
"""Upper end of the range printed with the quadratic fit [Pa m]; kuffel-zaengl-kuffel-2000, from memory."""
LOWEST_PD = {"linear-branch": 20.0}
"""Smallest pd [Pa m] of a fit that goes wrong earlier: there it is 5 % above the uniform field, at 6 Pa m 25 %."""
FEW = 8
"""Most elements for which all fits are solved at once: there the time is that of one fit."""

TITLES = {
    "quadratic": "Streamer criterion, quadratic fit",
    "linear-branch": "Streamer criterion, quadratic fit with linear branch",
    "calibrated": "Streamer criterion, calibrated on near-uniform sphere gaps",
}
SOURCES = {
    "quadratic": Source(
        "kuffel-zaengl-kuffel-2000",
        "Kuffel, Zaengl, Kuffel: High Voltage Engineering: Fundamentals",
        "2nd edition, 2000",
        "equations 5.103 to 5.107",
    ),
    "linear-branch": Source(
        "petcharaks-1995",
        "Petcharaks, thesis, ETH Zurich 1995; Zaengl and Petcharaks, Gaseous Dielectrics VII, 1994",
        "1995",
    ),
    "calibrated": Source(
        "streamer-criterion", "This project, fitted to 40 cells of IEC 60052 Table 2 with spacing up to 0.15 D", "2026"
    ),
}
PROVENANCE = {"quadratic": "memory", "linear-branch": "memory", "calibrated": "derived"}

CORONA_NOTE = (
    "Here corona comes before breakdown: the spark lies between inception and the uniform field, and no model of this "
    "service says where."
)
NO_CRITERION_NOTE = (
    "The criterion does not reach here: the ends are those of electrodes of unknown shape, the sharpest and a uniform "
    "field."
)
HELD_NOTE = (
    "The low end is what the sharpest electrode holds: corona starts earlier, at the inception voltage, and shields "
    "the electrode."
)
FAST = 30e3
"""Frequency above which corona may grow into a spark [Hz]; iec-60664-4, memory."""
FAST_NOTE = "Above 30 kHz inception may be breakdown."
IMPULSE_NOTE = (
    "The criterion is for slowly rising voltages; positive impulses take up to 21 % more, and impulses on small or "
    "unirradiated gaps scatter upward."
)
UNCHECKED_NOTE = (
    "The criterion is checked on equal spheres of 2 to 200 cm, one earthed, at atmospheric pressure, spacing to 0.8 of "
    "the diameter; here it rests on similarity."
)
FIELD_NOTE = (
    "The highest field lies beyond {:.0f} kV/(cm bar), where the range printed with the quadratic fit ends; at finer "
    "electrodes the corona formulas give a higher onset."
)


@dataclass(frozen=True, eq=False)
class Criterion:
    """One fit applied to one shape.

    Parameters
    ----------
    name : str
        ``quadratic``, ``linear-branch`` or ``calibrated``.
    fit : IonizationFit
    electrode : Electrode
    weak : WeakField
    surface : Surface
        How the low end widens at high pressure and field.
    ends : Bounds
        What holds for every shape.
    lowest_pd : float
        Where the Townsend criterion takes over in a uniform field [Pa m].
    """

    name: str
    fits: Mapping[str, IonizationFit]
    electrode: Electrode
    weak: WeakField
    surface: Surface
    ends: Bounds
    lowest_pd: float

    @property
    def fit(self) -> IonizationFit:
        """The fit of this name."""
        return self.fits[self.name]

    @property
    def weak_band(self) -> float:
        """Half width of the band below a utilization factor of 0.66."""
        return WEAK_BANDS.get(self.name, WEAK_BAND)

    def inception(self, case: Case) -> Inception:
        """Return the inception of a case; of few elements, where arrays are needed, that of all fits at once."""
        key, electrode = self.electrode.shape, self.electrode
        if case.size > FEW:
            found: Inception = case.kept((key, self.name), lambda: electrode.inception(case, self.fit))
        elif electrode.shape.axis is not None:
            found = case.kept((key, self.name), lambda: electrode.inceptions(case, [self.fit])[0])
        else:
            together = case.kept((key, "fits"), lambda: electrode.inceptions(case, list(self.fits.values())))
            found = together[list(self.fits).index(self.name)]
        return found

    def breakdown(self, case: Case) -> Estimate:
        """Return inception as breakdown."""
        found = self.inception(case)
        of, eta, volts = case.of, self.electrode.utilization(case), found.voltage
        less = of.minimum(of.maximum((NEARLY_UNIFORM - eta) / (NEARLY_UNIFORM - LESS_UNIFORM), 0.0), 1.0)
        notes = self._notes(case, found.maximum_reduced_field)
        below = above = NEAR_BAND + (self.weak_band - NEAR_BAND) * less
        if "impulse" in case.waveform and case.polarity == "positive":
            above = NEAR_IMPULSE + (WEAK_IMPULSE - NEAR_IMPULSE) * less
        low, of_surface = self.surface.low(case, volts, volts * (1 - below))
        notes = (*notes, *of_surface)
        estimate = Estimate(volts, low, volts * (1 + above), inception=volts, utilization=eta, notes=notes)
        return self.ends.within(case, self.weak.corrected(case, estimate))

    def bracket(self, case: Case) -> Estimate:
        """Return the bracket from inception, or what the sharpest electrode holds, to the uniform field."""
        found = self.inception(case)
        volts, lower = found.voltage, 1 - self.weak_band
        some, fast = case.of.any, case.of.any(case.frequency > FAST)
        nothing = case.filled(np.nan)
        estimate = Estimate(
            nothing,
            self.surface.low(case, volts, lower * volts)[0],
            nothing,
            inception=found.voltage,
            utilization=self.electrode.utilization(case),
            notes=(CORONA_NOTE, *((FAST_NOTE,) if fast else ()), *self._notes(case, found.maximum_reduced_field)),
        )
        corrected = self.weak.corrected(case, estimate)
        low, high = self.ends.bracket(case, corrected.low)
        held = (HELD_NOTE,) if not fast and some(low > corrected.low) else ()
        far = (NO_HIGH,) if some(case.of.isnan(high)) else ()
        return replace(corrected, low=low, high=high, notes=(*corrected.notes, *held, *far))

    def highest_field(self, case: Case) -> FloatArray:
        """Return the highest field over pressure [V/(m Pa)], or a bound above it where that is within the fit."""
        uniform = self.fit.uniform_field_voltage(case.gap, case.reduced_pressure)
        bound: FloatArray = uniform * self.electrode.maximum_field(case) / case.reduced_pressure
        if case.of.all(bound <= self.fit.highest):
            return bound
        field: FloatArray = self.inception(case).maximum_reduced_field
        return field

    def _notes(self, case: Case, highest_field: FloatArray) -> tuple[str, ...]:
        notes = self.electrode.remarks(case)
        if "impulse" in case.waveform or case.waveform == "pulse-train":
            notes = (*notes, IMPULSE_NOTE)
        if not self.electrode.checked(case):
            notes = (*notes, UNCHECKED_NOTE)
        printed = self.fit.field_at_printed_end
        if case.of.any(highest_field > printed):
            notes = (*notes, FIELD_NOTE.format(printed))
        return notes

    def validity(self, uniformity: Limit, widest: float) -> Validity:
        """Return where the fit answers, with a limit on the utilization factor.

        Parameters
        ----------
        uniformity : Limit
        widest : float
            Largest gap [m].
        """
        field = strength(self.electrode, self.fit.highest, self.highest_field)
        limits = (
            Limit("gap", PRODUCT, self.lowest_pd, HIGHEST_PD),
            Limit("pressure", PRESSURE, high=HIGHEST_PRESSURE),
            Limit("gap", GAP, NARROWEST_GAP, widest, below=MICRO_ADVICE),
            fineness(self.electrode, FINEST),
            Limit("frequency", FREQUENCY, 0.0, FASTEST),
            uniformity,
            *((field,) if np.isfinite(self.fit.highest) else ()),
        )
        return Validity(frozenset({AIR}), options=self.electrode.chosen, limits=limits)

    def methods(self) -> tuple[Method, Method]:
        """Return the method where inception is breakdown, and the bracket where it is not."""
        weakly, slender = utilization_limits(self.electrode)
        title, source, provenance = TITLES[self.name], SOURCES[self.name], PROVENANCE[self.name]
        return (
            Method(
                f"streamer-{self.name}",
                title,
                "model",
                self.breakdown,
                self.validity(weakly, WIDEST),
                self.weak_band * 100,
                source,
                provenance,
                by_numbers=True,
                by_criterion=True,
            ),
            Method(
                f"streamer-{self.name}-inception",
                f"{title}: inception to uniform field",
                "bracket",
                self.bracket,
                self.validity(slender, WIDEST_BRACKET),
                None,
                source,
                provenance,
                by_numbers=True,
                by_criterion=True,
            ),
        )


def criterion_methods(reference: Reference, electrode: Electrode) -> tuple[Method, ...]:
    """Return the methods of a shape: three fits where inception is breakdown, then where it is not, then other gases.

    Parameters
    ----------
    reference : Reference
    electrode : Electrode
    """
    weak, lowest, ends = WeakField.of(reference), handover(reference)[0], bounds(reference)
    surface = Surface.of(reference, AIR, HIGHEST_PRESSURE)
    fits = ionization_fits(reference)
    pairs = [
        Criterion(name, fits, electrode, weak, surface, ends, LOWEST_PD.get(name, lowest)).methods() for name in fits
    ]
    breakdown, brackets = zip(*pairs, strict=True)
    others = (*corona_method(reference, electrode), *gas_methods(reference, electrode, weak))
    return (*breakdown, *brackets, *(_of(electrode, one) for one in air_brackets(reference)), *others)


def of_inception(reference: Reference, case: Case, volts: FloatArray) -> Estimate:
    """Return an inception voltage in air below breakdown with its band, as of breakdown below a factor of 0.6."""
    low, _ = Surface.of(reference, AIR, HIGHEST_PRESSURE).low(case, volts, volts * (1 - WEAK_BAND))
    return WeakField.of(reference).corrected(case, Estimate(volts, low, volts * (1 + WEAK_BAND)))


def _of(electrode: Electrode, bracket: Method) -> Method:
    """Return a bracket of unknown electrodes as one of a shape that is too fine for the criterion."""
    validity = replace(bracket.validity, options=electrode.chosen)

    def function(case: Case) -> Estimate:
        found = bracket.estimate(case)
        notes = (NO_CRITERION_NOTE, *(note for note in found.notes if note != WHY))
        return replace(found, utilization=electrode.utilization(case), notes=notes)

    return replace(bracket, function=function, validity=validity)


ONSET_RADII = {"parallel-wires": (1e-4, 0.05), "coaxial-cylinders": (1e-4, 0.05), "spheres": (1e-3, 0.25)}
"""Radii times relative density at which the formulas are used [m]; about those they were measured on, memory."""
ONSET_DENSITIES, ONSET_FASTEST = (0.3, 3.0), 1e3
"""Relative densities, and the highest frequency [Hz], at which they are used; common practice, no source."""
ONSET_UNCERTAINTY_PERCENT = 10.0
"""Of the onset; common practice, no source. The criterion agrees with it within 10 % over these radii."""
ONSET_NOTE = (
    "Onset of corona on smooth, clean, dry conductors at power frequency, not breakdown; weathered or stranded wire "
    "starts at 0.8 to 0.98 of it."
)


def corona_method(reference: Reference, electrode: Electrode) -> tuple[Method, ...]:
    """Return the corona formula of a shape, or nothing where it has none.

    Parameters
    ----------
    reference : Reference
    electrode : Electrode
    """
    if electrode.corona is None:
        return ()
    key = electrode.corona
    law, table, ends = corona_laws(reference)[key], reference.table("peek-constants"), bounds(reference)

    def function(case: Case) -> Estimate:
        radius = electrode.radius(case)
        onset = onset_field(law, radius, case.relative_density) / electrode.maximum_field(case)
        low, high = ends.bracket(case, LOWER * onset)
        eta = electrode.utilization(case)
        return Estimate(case.filled(np.nan), low, high, inception=onset, utilization=eta, notes=(ONSET_NOTE,))

    name = "radius times relative density"
    scaled = LimitedQuantity(name, "length", name, lambda case: electrode.radius(case) * case.relative_density)
    smallest, largest = ONSET_RADII[key]
    limits = (
        Limit("gap", PRODUCT, handover(reference)[0], 5e5),
        Limit("gap", GAP, NARROWEST_GAP, LONGEST),
        Limit("pressure", DENSITY, *ONSET_DENSITIES),
        Limit(electrode.radius.parameter, scaled, smallest, largest),
        Limit("frequency", FREQUENCY, 0.0, ONSET_FASTEST),
    )
    method = Method(
        f"corona-onset-{key}",
        f"Corona onset by the classical formula ({key.replace('-', ' ')})",
        "formula",
        function,
        Validity(
            frozenset({AIR}),
            options=electrode.chosen,
            limits=limits,
        ),
        ONSET_UNCERTAINTY_PERCENT,
        table.source,
        table.provenance_words[-1],
        by_numbers=True,
    )
    return (method,)


SULFUR_HEXAFLUORIDE = "sulfur-hexafluoride"
GAS_LOW, GAS_HIGH = 0.25, 0.10
"""Band of the criterion in sulfur hexafluoride; wide below, as in a uniform field at 5 bar; not checked, no source."""
FINEST_OF_GASES = 100.0
"""Smallest reduced pressure times radius [Pa m]: 1 mm at 1 bar; below it the surface decides; no source."""
SURFACE_NOTE = (
    "Clean, smooth electrodes; in this gas roughness and particles lower the voltage by half and more. The criterion "
    "is checked in a uniform field only."
)
NO_CRITERION = (
    "No criterion is offered for this gas and shape: only the uniform-field voltage bounds it, from above; how early "
    "breakdown comes is not known here."
)


def gas_methods(reference: Reference, electrode: Electrode, weak: WeakField) -> tuple[Method, ...]:
    """Return the methods of a shape in other gases than air.

    Parameters
    ----------
    reference : Reference
    electrode : Electrode
    weak : WeakField
    """
    others = [method for method in plates(reference) if not method.validity.gases & {AIR, VACUUM}]
    return (_linear_gas(reference, electrode, weak), *(_from_above(method, electrode) for method in others))


def _linear_gas(reference: Reference, electrode: Electrode, weak: WeakField) -> Method:
    """Return the criterion with an ionization linear in the field."""
    value, ends = constants(reference, "gas-constants"), bounds(reference)
    row = next(row for row in gas_rows(reference) if row.key == "streamer-sulfur-hexafluoride-kuffel")
    fit = IonizationFit(
        row.far_exponent,
        branch=0.0,
        slope=value["sulfur-hexafluoride-kuffel-slope"],
        intercept=value["sulfur-hexafluoride-kuffel-offset"],
        highest=value["sulfur-hexafluoride-field-to"],
    )

    def function(case: Case) -> Estimate:
        volts = electrode.inception(case, fit).voltage
        eta = electrode.utilization(case)
        band = (volts * (1 - GAS_LOW), volts * (1 + GAS_HIGH))
        estimate = Estimate(volts, *band, inception=volts, utilization=eta, notes=(SURFACE_NOTE,))
        corrected = weak.corrected(case, estimate)
        return replace(corrected, high=np.fmax(np.fmin(corrected.high, ends.uniform(case)[1]), corrected.value))

    def highest_field(case: Case) -> FloatArray:
        field: FloatArray = electrode.inception(case, fit).maximum_reduced_field
        return field

    limits = (
        Limit("gap", PRODUCT, row.pd_from, row.pd_to),
        Limit("pressure", PRESSURE, high=row.pressure_to),
        Limit("gap", GAP, 1e-4, 1.0),
        fineness(electrode, FINEST_OF_GASES),
        Limit("frequency", FREQUENCY, 0.0, FASTEST),
        utilization_limits(electrode)[0],
        strength(electrode, fit.highest, highest_field),
    )
    return Method(
        "streamer-sulfur-hexafluoride",
        "Streamer criterion, ionization linear in the field",
        "model",
        function,
        Validity(
            frozenset({SULFUR_HEXAFLUORIDE}),
            options=electrode.chosen,
            limits=limits,
        ),
        GAS_LOW * 100,
        row.source,
        row.provenance,
        by_criterion=True,
    )


def _from_above(uniform_method: Method, electrode: Electrode) -> Method:
    """Return the bracket without a low end under a method of the uniform field."""

    def function(case: Case) -> Estimate:
        uniform = uniform_method.estimate(case)
        nothing = np.full(case.size, np.nan)
        eta = electrode.utilization(case)
        return Estimate(nothing, nothing, uniform.high, utilization=eta, notes=(NO_CRITERION, *uniform.notes))

    return Method(
        f"below-{uniform_method.key}",
        f"Bounded by the uniform field ({uniform_method.title})",
        "bracket",
        function,
        Validity(
            uniform_method.validity.gases,
            options=electrode.chosen,
            limits=uniform_method.validity.limits,
        ),
        None,
        uniform_method.source,
        uniform_method.provenance,
    )


NODES = ((1 - np.cos(np.pi * np.arange(25) / 24)) / 2) ** 2
"""Potential passed through, over the whole, at which the tables hold the field; close together at the start."""
_ROOTS = np.sqrt(NODES)
STEPS = 12
"""Steps between two nodes."""


def _steps() -> tuple[FloatArray, FloatArray]:
    """Return the matrix from values at the nodes to values at the steps, and the potential of each step."""
    x, w = gauss(STEPS)
    edges = np.linspace(0.0, 1.0, 13)
    half = np.diff(edges) / 2
    v = ((edges[:-1] + half)[:, None] + half[:, None] * x).ravel()
    weights = (half[:, None] * w).ravel() * 2 * v
    signs = (-1.0) ** np.arange(_ROOTS.size)
    signs[[0, -1]] /= 2
    apart = signs / (v[:, None] - _ROOTS)
    return apart / apart.sum(axis=1, keepdims=True), weights


_TO_STEPS, _POTENTIAL = _steps()

Proportions = Callable[[Case], tuple[FloatArray, ...]]
"""From a case to the proportions of its shape, in the order of the table."""


@dataclass(frozen=True, eq=False)
class Computed:
    """The rows of one shape.

    Parameters
    ----------
    reference : Reference
    key : str
        Of the rows.
    proportions : callable
        See `Proportions`.
    names : mapping of str to str
        Of the proportions to the parameter that changes them, for refusals.
    """

    reference: Reference
    key: str
    proportions: Proportions
    names: Mapping[str, str]

    @cached_property
    def _table(self) -> Table:
        return self.reference.table("field-lines").where(key=self.key)

    @cached_property
    def _grid(self) -> TableGrid:
        return TableGrid.of(self._table, ("first", "second", "third")[: len(self.names)], least=4)

    @property
    def axes(self) -> list[FloatArray]:
        """Proportions of the rows, each in rising order."""
        return self._grid.axes

    @cached_property
    def _between(self) -> GridReader:
        heads = ["highest", *(f"node_{k:02d}" for k in range(NODES.size))]
        values = np.stack([self._table[name] for name in heads], axis=-1)
        values[:, 0] = np.log(values[:, 0])
        return self._grid.read_by(lambda axis: cubic(np.log(axis)), values)

    def limits(self) -> tuple[Limit, ...]:
        """Return the ranges of the proportions."""
        return tuple(
            Limit(
                parameter,
                LimitedQuantity(name, "number", name, partial(self._proportion, k)),
                float(axis[0]),
                float(axis[-1]),
            )
            for k, ((name, parameter), axis) in enumerate(zip(self.names.items(), self.axes, strict=True))
        )

    def _proportion(self, place: int, case: Case) -> FloatArray:
        return np.asarray(self.proportions(case)[place])

    def lines(self, case: Case) -> Lines:
        """Return the lines of a case."""
        pairs = zip(self.proportions(case), self.axes, strict=True)
        found = self._between(
            np.stack([np.log(np.minimum(np.maximum(one, axis[0]), axis[-1])) for one, axis in pairs], axis=-1)
        )
        strength = np.exp(found[:, None, 1:] @ _TO_STEPS.T) / case.gap[:, None, None]
        # the potential along the line is one volt whatever the rounding of the table
        length = _POTENTIAL / strength
        return Lines(strength, length, np.exp(found[:, 0]) / case.gap)


RODS_NOTE = (
    "Half-inch square rods end to end break down at {} peak at this distance and 60 Hz (table, 25 degC): a "
    "hint of the size, no floor for other shapes."
)
SOURCE_NOTE = (
    "The field along the critical line is computed by boundary elements and read between rows of a table; it adds up "
    "to 2 % to the band of the criterion."
)
BETWEEN_ROWS = 0.02
"""Largest deviation between rows that tests allow, relative."""


def rods_note(reference: Reference, case: Case) -> tuple[str, ...]:
    """Return what the table of rods says of the distance of a case of one element at 50 or 60 Hz, if it does."""
    table = reference.table("rod-gap-60hz")
    spacing, voltage = table["spacing"], table["voltage"]
    slow = case.waveform == "ac" and case.size == 1 and single(case.frequency) <= SLOW
    if not case.in_air or not slow or not spacing[0] <= (gap := single(case.gap)) <= spacing[-1]:
        return ()
    return (RODS_NOTE.format(said(float(interpolate(spacing, voltage, gap)), "voltage", unit="kV", digits=3)),)


SLOW = 400.0
"""Frequency up to which the table of rods is quoted [Hz]; common practice, no source."""


def computed_arrangement(
    computed: Computed,
    title: str,
    on_the_bench: str,
    radius: Radius,
    parameters: tuple[Parameter, ...],
    drawing: Callable[[Sizes, float], Drawing],
    *notes: str,
) -> Arrangement:
    """Return the arrangement of a computed shape: the methods of the criterion, within the rows of its table.

    Parameters
    ----------
    computed : Computed
        The rows; the arrangement has their key.
    title, on_the_bench, parameters
        As in `Arrangement`.
    radius : Radius
        Where the critical line starts.
    drawing : callable
        Sizes and gap to a drawing.
    *notes : str
        Beside the one about the source of the rows.
    """
    shape = LineElectrode.of(computed.lines, radius, title)
    return Arrangement(
        computed.key,
        title,
        on_the_bench,
        tuple(_within(computed, method) for method in criterion_methods(computed.reference, shape)),
        parameters,
        notes=(SOURCE_NOTE, *notes),
        advice=OTHER_GAS,
        sketch=Sketch(drawing),
    )


def _within(computed: Computed, method: Method) -> Method:
    def function(case: Case) -> Estimate:
        found = method.estimate(case)
        bracket = bool(case.of.any(case.of.isnan(found.value)))
        if method.by_criterion:
            found = replace(found, low=found.low * (1 - BETWEEN_ROWS), high=found.high * (1 + BETWEEN_ROWS))
        return replace(found, notes=(*found.notes, *(rods_note(computed.reference, case) if bracket else ())))

    validity = method.validity
    limits = (*computed.limits(), *validity.limits)
    return replace(method, function=function, by_numbers=True, validity=replace(validity, limits=limits))
