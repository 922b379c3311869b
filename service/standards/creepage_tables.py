"""What a creepage question asks, and the creepage tables in use."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from service.reference import Reference
from service.standards.asking import volts
from service.standards.ladder import Ladder, numbers

PRINTED = "printed-wiring"
FREQUENCIES: Mapping[str, float] = {
    f"creepage_to_{kilo}_khz": kilo * 1e3 for kilo in (100, 200, 400, 700, 1000, 2000, 3000)
}
"""Columns of Table 2 and the frequency that each reaches to [Hz]."""


@dataclass(frozen=True)
class Path:
    """A creepage question in SI: voltages [V], frequency [Hz]; ``direct`` where the working voltage is a direct one."""

    working_voltage: float
    pollution_degree: int
    insulation: str
    group: str
    surface: str = "general"
    ribbed: bool = False
    site_class: str | None = None
    frequency: float | None = None
    peak_voltage: float | None = None
    direct: bool = False

    @property
    def family(self) -> str:
        """Group as the columns of Table F.4 have it: IIIa and IIIb in one."""
        return self.group.rstrip("ab")

    @property
    def column(self) -> str:
        """Column of Table F.4."""
        if self.surface == PRINTED:
            return f"pcb_pollution_{self.pollution_degree}"
        return GENERAL.get(self.pollution_degree, f"pollution_{self.pollution_degree}_group_{self.family.lower()}")


GENERAL: Mapping[int, str] = {1: "pollution_1"}
"""Columns that hold for every material group."""


class CreepageTables:
    """The creepage tables in use.

    Parameters
    ----------
    reference : Reference
        Loaded tables.
    """

    def __init__(self, reference: Reference) -> None:
        f4 = reference.table("iec-60664-1-table-f4")
        ribs = reference.table("iec-60664-1-table-f4-ribs")
        self.table = f4
        names = [field.quantity for field in f4.fields if "pollution" in field.quantity]
        self.columns: Mapping[str, Ladder] = {name: Ladder.of(f4, "voltage", name, volts) for name in names}
        self.ribs: Mapping[str, Ladder] = {
            family: Ladder.of(ribs.where(material_group=family), "voltage", "creepage_with_rib", volts)
            for family in ("I", "II", "III")
        }
        fast = reference.table("iec-60664-4-table-2")
        self.fast: Mapping[str, Ladder] = {name: Ladder.of(fast, "voltage", name, volts) for name in FREQUENCIES}
        self.outdoor = reference.table("iec-60815-specific-creepage")
        self.rules = numbers(reference, "iec-60664-1-rules")
        self.fast_rules = numbers(reference, "iec-60664-4-rules")
