"""What clearance questions hold: the voltages that air must bear, grade and place; refusals of contradictions."""

from __future__ import annotations

from dataclasses import dataclass

from service.parameters import Parameter, Question
from service.standards.asking import contradiction, needed

CATEGORIES = ("I", "II", "III", "IV")
INSULATION = ("functional", "basic", "supplementary", "reinforced")
REINFORCED = "reinforced"

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
        "impulse_voltage", "voltage", "Peak of the impulses that reach a circuit without category.", example="4kV"
    ),
    Parameter(
        "recurring_peak_voltage", "voltage", "Highest peak or direct voltage that stays or recurs.", example="12kV"
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
class Asked:
    """A clearance question in SI.

    Parameters
    ----------
    pollution_degree : int
        1 to 3.
    insulation : str
        Grade.
    homogeneous : bool
        Case B of the tables.
    altitude : float or None
        [m].
    frequency : float or None
        Of the recurring peak voltage [Hz].
    system_voltage : float or None
        [V].
    category : str or None
        Overvoltage category.
    impulse_voltage, recurring_peak_voltage : float or None
        Peak [V].
    printed_wiring : bool
        Whether the distance lies on a board.
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

    @property
    def case(self) -> str:
        """Case of the tables: A inhomogeneous, B homogeneous."""
        return "B" if self.homogeneous else "A"

    @property
    def reinforced(self) -> bool:
        """Whether the insulation is reinforced."""
        return self.insulation == REINFORCED

    @property
    def any_voltage(self) -> bool:
        """Whether there is a voltage that asks for a clearance."""
        given = (self.system_voltage, self.impulse_voltage, self.recurring_peak_voltage)
        return any(value is not None for value in given)


def asked_of(question: Question, peak: str = "recurring_peak_voltage") -> Asked:
    """Return the clearance part of a question.

    Parameters
    ----------
    question : Question
    peak : str
        Name under which the recurring peak voltage was given.

    Raises
    ------
    BadQuestion
        When parameters contradict each other, or one needs another that is missing.
    """
    check(question)
    return Asked(
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
    )


def check(question: Question) -> None:
    """Check the voltages of a clearance question against each other.

    Raises
    ------
    BadQuestion
        A category without a system voltage, a system voltage without a category, or both ways to an impulse voltage.
    """
    if "overvoltage_category" in question and "system_voltage" not in question:
        detail = "overvoltage_category needs system_voltage, the voltage of the mains that it belongs to."
        raise needed(("system_voltage",), detail)
    if "system_voltage" in question and "overvoltage_category" not in question:
        detail = (
            "system_voltage needs overvoltage_category: I protected equipment, II appliances, III fixed installation, "
            "IV origin of the installation."
        )
        raise needed(("overvoltage_category",), detail)
    if "system_voltage" in question and "impulse_voltage" in question:
        why = "The category of the mains already fixes the impulse voltage."
        raise contradiction("system_voltage", "impulse_voltage", why)


def require_voltage(asked: Asked) -> None:
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
        raise needed(NEEDED, detail)
