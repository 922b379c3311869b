"""A requirement: a distance that a table asks for, with row, rule and provenance; the largest governs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from service.answers.blocks import source_block
from service.reference import Table
from service.standards.asking import distance
from service.standards.reading import Found


@dataclass(frozen=True)
class Requirement:
    """A distance that is asked for.

    Parameters
    ----------
    key : str
        Which requirement.
    title : str
        For a person.
    distance : float
        [m].
    table : Table
        Where it was read.
    row : str
        Which row or rows.
    rule : str
        How it was read, and what was done with it.
    provenance : str
        Of the rows.
    given : mapping
        What it was read for, in answer units.
    """

    key: str
    title: str
    distance: float
    table: Table
    row: str
    rule: str
    provenance: str
    given: Mapping[str, Any] = field(default_factory=dict)

    @classmethod
    def of(
        cls, key: str, title: str, found: Found, table: Table, rule: str = "", given: Mapping[str, Any] | None = None
    ) -> Requirement:
        """Return a requirement as found in a table.

        Parameters
        ----------
        key, title : str
        found : Found
            The distance.
        table : Table
        rule : str
            What was done before the table was read.
        given : mapping, optional
        """
        rules = "; ".join(part for part in (rule, found.rule) if part)
        return cls(key, title, found.value, table, found.row, rules, found.provenance, given or {})

    def block(self, name: str) -> dict[str, Any]:
        """Return the requirement as answers show it.

        Parameters
        ----------
        name : str
            Field of the distance: ``clearance``, ``creepage`` or ``spacing``.
        """
        block: dict[str, Any] = {"key": self.key, "title": self.title, name: distance(self.distance)}
        block |= self.given
        return block | {
            "table": self.table.key,
            "row": self.row,
            "rule": self.rule,
            "source": source_block(self.table.source),
            "provenance": self.provenance,
        }

    def method(self) -> dict[str, Any]:
        """Return the method block of an answer that this requirement governs."""
        block: dict[str, Any] = {"key": self.table.key, "title": self.table.title, "kind": "table"}
        parts = {"validity": self.table.description.validity, "doubts": self.table.description.doubts}
        block |= {name: text for name, text in parts.items() if text}
        return block | {
            "source": source_block(self.table.source),
            "row": self.row,
            "rule": self.rule,
            "provenance": self.provenance,
        }

    def beside(self, name: str, answered: float) -> dict[str, Any]:
        """Return this requirement beside an answered distance [m], with the difference."""
        difference = round((self.distance / answered - 1) * 100, 2)
        return self.block(name) | {"difference_percent": difference}


def governing(requirements: Sequence[Requirement]) -> Requirement:
    """Return the requirement of the largest distance; of equal ones the first."""
    return max(requirements, key=lambda one: one.distance)
