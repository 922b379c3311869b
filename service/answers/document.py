"""An answer from what was asked to what is shown: the echo, what of it nobody said, and typed results as mappings."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any

from service.parameters import Question
from service.units import Quantity, Series

NO_MEASURES: Mapping[str, str] = MappingProxyType({})


@dataclass(frozen=True)
class Echo:
    """What was asked, as understood.

    Parameters
    ----------
    values : mapping
        Typed and in SI, in order.
    assumed : tuple of str
        Names of the values that nobody said.
    """

    values: Mapping[str, object] = field(default_factory=dict)
    assumed: tuple[str, ...] = ()

    @classmethod
    def of(
        cls, question: Question, names: Iterable[str] | None = None, measures: Mapping[str, str] = NO_MEASURES
    ) -> Echo:
        """Return the echo of parameters of a question, of all where none are named; those without a value are left out.

        Parameters
        ----------
        measures : mapping of str to str
            How a value was read where the question's ``measure`` does not say it.
        """
        values: dict[str, object] = {}
        for name in question.parameters if names is None else names:
            if name in question.values:
                parameter = question.parameters[name]
                read = question.values.get("measure") if parameter.measured else None
                values[name] = parameter.show(question.values[name], measures.get(name, read))
        return cls(values, tuple(name for name in values if name in question.assumed))

    @classmethod
    def taken(cls, values: Mapping[str, object]) -> Echo:
        """Return the echo of values that were taken though nobody said them."""
        return cls(values, tuple(values))

    def __or__(self, other: Echo) -> Echo:
        """Return this echo and another behind it, which knows better where both have a name."""
        return Echo({**self.values, **other.values}, (*self.assumed, *other.assumed))

    def without(self, *names: str) -> Echo:
        """Return the echo of the other names."""
        values = {name: value for name, value in self.values.items() if name not in names}
        return Echo(values, tuple(name for name in self.assumed if name not in names))

    def block(self) -> dict[str, object]:
        """Return the ``asked`` block: the values, then what was assumed, parts of a value last."""
        parts = [name for name in self.assumed if name not in self.values]
        return {**self.values, "assumed": [*(name for name in self.values if name in self.assumed), *parts]}


PLAIN = frozenset({str, int, float, bool, type(None)})


def document(thing: Any) -> Any:
    """Return a result as answers show it: what has a ``block`` becomes that, all the way down.

    Examples
    --------
    >>> document({"gap": Quantity(8e-3, "length"), "branches": [Quantity(None, "pressure", low=2e3)]})
    {'gap': {'value': 8.0, 'unit': 'mm'}, 'branches': [{'value': None, 'low': 2.0, 'unit': 'kPa'}]}
    """
    kind = type(thing)
    if kind is Quantity or kind is Series:
        return thing.block()
    if kind is dict or isinstance(thing, Mapping):
        return {name: one if type(one) in PLAIN else document(one) for name, one in thing.items()}
    if kind is list or kind is tuple:
        return [one if type(one) in PLAIN else document(one) for one in thing]
    block = getattr(thing, "block", None)
    return thing if block is None else document(block())


class Shown:
    """A class of data that answers show as its fields, in order; an absent one, ``None``, is left out."""

    def block(self) -> dict[str, object]:
        """Return the fields that are there."""
        return {name: part for name, part in vars(self).items() if part is not None}
