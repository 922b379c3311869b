"""What a guidance question holds, voltages and place of a barrier, and what tables ask of it; the largest governs."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from service import units
from service.answers.document import NO_MEASURES, Echo
from service.errors import BadQuestion
from service.parameters import Parameter, Question
from service.reference import Table
from service.spoken import said, speak
from service.standards.ladder import VARIES, ReadValue, provenance_block, vary
from service.units import Quantity


@dataclass(frozen=True)
class ReadFor:
    """What a requirement was read for, in SI; a plain number has no dimension."""

    value: float
    dimension: str = ""
    measure: str | None = None

    @property
    def shown(self) -> Quantity | float:
        """What answers show."""
        return quantity(self.value, self.dimension, self.measure) if self.dimension else self.value


def peak(value: float) -> ReadFor:
    """Return a peak voltage [V]."""
    return ReadFor(value, "voltage")


@dataclass(frozen=True)
class Requirement:
    """A distance that is asked for [m]: where it was read, for what (``given``, and which other one: ``of``).

    ``ended`` says that the table ends below what was asked: the distance is that of its last row, and no less is asked.
    """

    key: str
    title: str
    distance: float
    table: Table
    row: str
    rule: str
    provenance: str
    given: Mapping[str, ReadFor] = field(default_factory=dict)
    of: str = ""
    ended: bool = False

    @classmethod
    def read(
        cls,
        key: str,
        title: str,
        found: ReadValue,
        table: Table,
        rule: str = "",
        given: Mapping[str, ReadFor] | None = None,
    ) -> Requirement:
        """Return a requirement as found in a table; ``rule`` is what was done before the table was read."""
        rules = "; ".join(part for part in (rule, found.rule) if part)
        return cls(key, title, found.value, table, found.row, rules, found.provenance, given or {})

    @property
    def doubtful(self) -> bool:
        """Whether a row that was read was doubted by its collector."""
        return "doubtful" in self.provenance

    def block(self, name: str) -> dict[str, object]:
        """Return the requirement as answers show it; ``name`` is the field of the distance."""
        block: dict[str, object] = {"key": self.key, "title": self.title, name: distance(self.distance)}
        block |= {"of": self.of} if self.of else {}
        block |= {field_: given.shown for field_, given in self.given.items()}
        return block | {
            "table": self.table.key,
            "row": self.row,
            "rule": self.rule,
            "source": self.table.source.block(),
            **provenance_block(self.provenance),
        }

    def method(self) -> dict[str, object]:
        """Return the method block of an answer that this requirement governs."""
        block: dict[str, object] = {"key": self.table.key, "title": self.table.title, "kind": "table"}
        parts = {"validity": self.table.description.validity, "doubts": self.table.description.doubts}
        block |= {name: text for name, text in parts.items() if text}
        return block | {
            "source": self.table.source.block(),
            "row": self.row,
            "rule": self.rule,
            **provenance_block(self.provenance),
        }

    def beside(self, name: str, answered: float) -> dict[str, object]:
        """Return this requirement beside an answered distance [m], with the difference."""
        difference = round((self.distance / answered - 1) * 100, 2)
        return self.block(name) | {"difference_percent": difference}


def governing(requirements: Sequence[Requirement]) -> Requirement:
    """Return the requirement of the largest distance; of equal ones the first."""
    return max(requirements, key=lambda one: one.distance)


FINEST = 0.01e-3
"""Distance from which the trade says millimetres [m]."""


def in_words(metres: float) -> str:
    """Return a distance that is asked for [m] in words, rounded up."""
    unit = "mm" if FINEST <= metres < 1 else ""
    return str(speak(metres, "length", toward="up", zeros=False, unit=unit))


def doubts(requirements: Sequence[Requirement]) -> list[str]:
    """Return a sentence for every requirement that read a row which its collector doubted."""
    return [
        f"Doubtful: a row read for '{one.key}' ({one.table.key}, {one.row}) was doubted by its collector."
        for one in requirements
        if one.doubtful
    ]


def largest(requirements: Sequence[Requirement], name: str) -> dict[str, object]:
    """Return a part of an answer: the largest distance, and every requirement with the governing one marked."""
    of = governing(requirements)
    rows = [{**one.block(name), "governs": one is of} for one in requirements]
    return {**distance(of.distance).block(), "governed_by": of.key, "requirements": rows}


CATEGORIES = ("I", "II", "III", "IV")
INSULATION = ("functional", "basic", "supplementary", "reinforced")
REINFORCED = "reinforced"
DIRECT = "dc"
UNEARTHED = "unearthed"
SUPPLIES = ("ac", DIRECT, UNEARTHED)
LISTED = "listed"
NONE = "none"

VOLTAGES = (
    Parameter(
        "system_voltage",
        "voltage",
        "Voltage line to neutral of the mains that feed the circuit, rms or direct; line to line for unearthed and "
        "corner-earthed systems.",
        example="230V",
    ),
    Parameter("overvoltage_category", "choice", "Overvoltage category of that supply.", choices=CATEGORIES),
    Parameter(
        "supply",
        "choice",
        "That supply: ac with earthed neutral, dc, or unearthed (then system_voltage is line to line).",
        default="ac",
        choices=SUPPLIES,
    ),
    Parameter(
        "impulse_voltage", "voltage", "Peak of the impulses that reach a circuit without category.", example="4kV"
    ),
    Parameter(
        "recurring_peak_voltage", "voltage", "Highest peak or direct voltage that stays or recurs.", example="12kV"
    ),
    Parameter(
        "temporary_overvoltage",
        "text",
        "Overvoltage of seconds to hours across basic insulation, rms (direct of a dc supply): listed (what the basic "
        "standard lists for the supply), none (where a product standard does not ask for it), or a voltage.",
        default=LISTED,
        example="1430V",
    ),
)
PLACE = (
    Parameter(
        "pollution_degree",
        "count",
        "1 sealed or clean, 2 rooms and benches, 3 conductive dust or condensation.",
        low=1,
        high=3,
        required=True,
        example="2",
    ),
    Parameter(
        "insulation",
        "choice",
        "Grade of the insulation: functional, basic, supplementary, or reinforced where it alone protects.",
        choices=INSULATION,
        required=True,
        example="basic",
    ),
    Parameter(
        "field",
        "choice",
        "Shape of the field: inhomogeneous (points and edges), or homogeneous, which a test must prove.",
        default="inhomogeneous",
        choices=("inhomogeneous", "homogeneous"),
    ),
    Parameter("altitude", "altitude", "Altitude above sea level; above 2000 m clearances grow.", example="3000m"),
    Parameter(
        "frequency", "frequency", "Frequency of the recurring peak voltage; it matters above 30 kHz.", example="40kHz"
    ),
)
NEEDED = ("system_voltage", "impulse_voltage", "recurring_peak_voltage")


@dataclass(frozen=True)
class ClearanceQuestion:
    """A clearance question in SI: voltages [V], altitude [m], frequency [Hz].

    ``temporary_overvoltage`` is rms (direct of a direct supply); with ``listed`` that of the supply is taken where none
    is given. ``steady_peak`` is the peak of the working voltage, which counts where no recurring peak is given.
    """

    pollution_degree: int
    insulation: str
    homogeneous: bool = False
    altitude: float | None = None
    frequency: float | None = None
    system_voltage: float | None = None
    category: str | None = None
    impulse_voltage: float | None = None
    recurring_peak_voltage: float | None = None
    printed_wiring: bool = False
    supply: str = "ac"
    temporary_overvoltage: float | None = None
    listed: bool = True
    steady_peak: float | None = None

    @property
    def case(self) -> str:
        """Case of the tables: A inhomogeneous, B homogeneous."""
        return "B" if self.homogeneous else "A"

    @property
    def reinforced(self) -> bool:
        """Whether the insulation is reinforced."""
        return self.insulation == REINFORCED

    @property
    def direct(self) -> bool:
        """Whether the supply is a direct voltage."""
        return self.supply == DIRECT

    @property
    def any_voltage(self) -> bool:
        """Whether there is a voltage that asks for a clearance, that of the surface apart."""
        given = (self.system_voltage, self.impulse_voltage, self.recurring_peak_voltage, self.temporary_overvoltage)
        return any(value is not None for value in given)


def asked_of(question: Question, peak: str = "recurring_peak_voltage") -> ClearanceQuestion:
    """Return the clearance part of a question; ``peak`` is the name under which the recurring peak was given.

    Raises
    ------
    BadQuestion
        When parameters contradict each other, or one needs another that is missing.
    """
    check(question)
    overvoltage = question.key("temporary_overvoltage")
    supply = question.key("supply")
    return ClearanceQuestion(
        pollution_degree=int(question.number("pollution_degree")),
        insulation=question.key("insulation"),
        homogeneous=question.key("field") == "homogeneous",
        altitude=question.optional("altitude"),
        frequency=question.optional("frequency"),
        system_voltage=question.optional("system_voltage"),
        category=question.key("overvoltage_category") if "overvoltage_category" in question else None,
        impulse_voltage=question.optional("impulse_voltage"),
        recurring_peak_voltage=question.optional(peak),
        printed_wiring=question.values.get("surface") == "printed-wiring",
        supply=supply,
        temporary_overvoltage=None if overvoltage in (LISTED, NONE) else _overvoltage(overvoltage),
        listed=overvoltage == LISTED,
    )


def _overvoltage(text: str) -> float:
    try:
        return units.read("temporary_overvoltage", text, "voltage")
    except BadQuestion as error:
        detail = f"temporary_overvoltage is {LISTED}, {NONE}, or a voltage as 1430V. {error.detail}"
        accepted = (LISTED, NONE, *units.accepted("voltage"))
        raise BadQuestion.about("temporary_overvoltage", detail, accepted) from error


def check(question: Question) -> None:
    """Check the voltages of a clearance question against each other.

    Raises
    ------
    BadQuestion
        A category without a system voltage, a system voltage without a category, or both ways to an impulse voltage.
    """
    if "overvoltage_category" in question and "system_voltage" not in question:
        detail = "overvoltage_category needs system_voltage, the voltage of the mains that it belongs to."
        raise BadQuestion.about(("system_voltage",), detail)
    if "system_voltage" in question and "overvoltage_category" not in question:
        detail = (
            "system_voltage needs overvoltage_category: I protected equipment, II appliances, III fixed installation, "
            "IV origin of the installation."
        )
        raise BadQuestion.about(("overvoltage_category",), detail)
    if "system_voltage" in question and "impulse_voltage" in question:
        why = "The category of the mains already fixes the impulse voltage."
        raise BadQuestion.contradiction("system_voltage", "impulse_voltage", why)


def require_voltage(asked: ClearanceQuestion) -> None:
    """Check that there is a voltage to dimension for.

    Raises
    ------
    BadQuestion
        Naming what is needed.
    """
    if not asked.any_voltage:
        detail = (
            "A voltage is needed: system_voltage with overvoltage_category, or impulse_voltage, and/or "
            "recurring_peak_voltage."
        )
        raise BadQuestion.about(NEEDED, detail)


def measures(question: Question) -> dict[str, str]:
    """Return the measure of the voltages of a question that are not peak values."""
    supplied = DIRECT if question.values.get("supply") == DIRECT else "rms"
    # a form that was only assumed follows the supply
    waveform = question.values.get("waveform") if question.given("waveform") else None
    working = supplied if waveform is None else DIRECT if waveform == DIRECT else "rms"
    return {"system_voltage": supplied, "working_voltage": working, "temporary_overvoltage": supplied}


NEWEST = "newest"


def edition_parameter(meaning: str, years: Iterable[float]) -> Parameter:
    """Return the parameter that names the year whose editions are asked."""
    choices = (NEWEST, *(f"{year:.0f}" for year in years))
    return Parameter("edition", "choice", meaning, default=NEWEST, choices=choices)


def year_of(question: Question) -> int | None:
    """Return the year whose editions are asked; nothing for the newest."""
    edition = question.key("edition")
    return None if edition == NEWEST else int(edition)


def as_understood(question: Question) -> Question:
    """Return the question without defaults that nothing was read with: of a supply without voltage, of a direct one."""
    idle: set[str] = set()
    if "system_voltage" not in question and not question.given("temporary_overvoltage"):
        forms_the_working_voltage = "working_voltage" in question and "waveform" not in question
        idle |= {"temporary_overvoltage"} | (set() if forms_the_working_voltage else {"supply"})
    if question.values.get("supply") == DIRECT:
        idle.add("waveform")
    idle &= question.assumed
    return replace(question, values={name: value for name, value in question.values.items() if name not in idle})


def echo(
    question: Question, measures: Mapping[str, str] = NO_MEASURES, further: Mapping[str, object] | None = None
) -> Echo:
    """Return the echo: every value as understood, and what else was taken.

    Parameters
    ----------
    measures : mapping of str to str
        Measure of the voltages that are not peak values.
    further : mapping, optional
        Values that were taken without being a parameter, in answer units; they are assumptions.
    """
    asked = Echo.of(question, measures=measures)
    name = "temporary_overvoltage"
    if name in asked.values and asked.values[name] not in (LISTED, NONE):
        volts = Quantity(_overvoltage(question.key(name)), "voltage", measure=measures.get(name))
        asked |= Echo({name: volts})
    return asked | Echo.taken({name: value for name, value in (further or {}).items() if name not in asked.values})


FINE = 6
"""Digits of what a standard prints, or is reckoned from it."""


def volts(value: float, unit: str = "") -> str:
    """Return a voltage [V] in words."""
    if vary(value):
        return VARIES
    return said(value, "voltage", unit=unit or ("V" if value < 1e3 else "kV"), digits=FINE)


def millimetres(value: float) -> str:
    """Return a length [m] in words."""
    return VARIES if vary(value) else said(value, "length", unit="mm", digits=FINE)


def kilohertz(value: float, digits: int = FINE) -> str:
    """Return a frequency [Hz] in words."""
    return VARIES if vary(value) else said(value, "frequency", unit="kHz", digits=digits)


CLEAN = 12
"""Digits of a calculated value that are shown: without the last binary ones of products and conversions."""


def quantity(value: float, dimension: str, measure: str | None = None) -> Quantity:
    """Return a calculated SI value."""
    return Quantity(value, dimension, measure=measure, digits=CLEAN)


def distance(value: float) -> Quantity:
    """Return a calculated length [m]."""
    return quantity(value, "length")


def metres(value: float) -> str:
    """Return an altitude [m] in words."""
    return VARIES if vary(value) else said(value, "altitude", unit="m", digits=FINE)
