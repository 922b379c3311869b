"""A requirement: a distance that a table asks for, with row, rule and provenance; the largest governs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from service.reference import Table
from service.spoken import speak
from service.standards.asking import distance, quantity
from service.standards.ladder import ReadValue, provenance_block
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
