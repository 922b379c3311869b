"""The errors of the service, each saying what was wrong and what would be accepted.

::

    ServiceError (ValueError)
    |-- BadQuestion           unreadable, unknown, missing, repeated, contradictory: the asker can mend it (400)
    |   `-- UnknownName       a key that no list knows, with the nearest spelling (400)
    |-- NotFound              a path segment or suffix that does not exist (404)
    |-- OutsideValidity       readable, but no method covers it: the nearest range is named (422)
    |-- TooCostly             readable, but it would hold a worker for too long: how many may be asked is named (413)
    |-- BadReferenceData      the reference data do not load: file, row and reason (503)
    |-- Busy                  too many costly questions at once: ask again (503)
    `-- BadSetting            a setting of the process that cannot be used: told in one line at start
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Self

NOTHING: Mapping[str, object] = MappingProxyType({})
ECHO_LIMIT = 32
"""Most characters of input that an error repeats."""
REASON_LIMIT = 1000
"""Most characters of a file's name, and of what is wrong with it."""


def quoted(text: str) -> str:
    """Return at most 32 characters of input for an error text, control characters replaced."""
    return shown(text, ECHO_LIMIT)


def shown(text: str, most: int) -> str:
    """Return at most so many characters of a text, those that cannot be printed replaced."""
    begun = "".join(character if character.isprintable() else "?" for character in text[:most])
    return begun + ("..." if len(text) > most else "")


@dataclass(frozen=True)
class Fault:
    """One thing that is wrong: the parameter, why, what is accepted, and the nearest valid range.

    Parameters
    ----------
    parameter : str
        Name as in the query; empty when no single parameter is at fault.
    detail : str
        One sentence.
    accepted : tuple of str
        Accepted spellings or values.
    valid : mapping
        ``low`` and ``high`` as quantities (each optional), for a value outside every method's validity.
    """

    parameter: str
    detail: str
    accepted: tuple[str, ...] = ()
    valid: Mapping[str, object] = field(default_factory=lambda: NOTHING)


class ServiceError(ValueError):
    """Base of all errors that the service raises on purpose.

    Parameters
    ----------
    detail : str
        What is wrong, for a person.
    faults : iterable of Fault
        The same, per parameter, for a program.
    """

    key = "service-error"

    def __init__(self, detail: str, faults: Iterable[Fault] = ()) -> None:
        super().__init__(detail)
        self.detail = detail
        self.faults = tuple(faults)

    @classmethod
    def about(
        cls,
        parameters: str | Iterable[str],
        detail: str,
        accepted: Iterable[str] = (),
        valid: Mapping[str, object] = NOTHING,
    ) -> Self:
        """Return the error for one parameter, or for each of several.

        Parameters
        ----------
        parameters : str or iterable of str
            Their names.
        detail : str
            What is wrong.
        accepted, valid
            As in `Fault`.
        """
        names = (parameters,) if isinstance(parameters, str) else parameters
        taken = tuple(accepted)
        return cls(detail, [Fault(name, detail, taken, valid) for name in names])

    def called(self, names: Mapping[str, str]) -> Self:
        """Return this error with the parameters at fault called as another question calls them.

        Parameters
        ----------
        names : mapping of str to str
        """
        self.faults = tuple(replace(one, parameter=names.get(one.parameter, one.parameter)) for one in self.faults)
        return self


class BadQuestion(ServiceError):
    """A parameter is unknown, missing, repeated, empty, unreadable or contradictory."""

    key = "bad-question"

    @classmethod
    def contradiction(cls, first: str, second: str, why: str = "") -> Self:
        """Return the error that two parameters contradict each other."""
        also = f" {why}" if why else ""
        return cls.about((first, second), f"{first} and {second} contradict each other; give one of them.{also}")


class UnknownName(BadQuestion):
    """A value that no list knows; the nearest known spelling is offered."""

    key = "unknown-name"

    @classmethod
    def among(cls, parameter: str, given: str, known: Iterable[str], meant: str = "") -> UnknownName:
        """Return the error for a name that is not among the known ones.

        Parameters
        ----------
        parameter : str
            Where the name was given.
        given : str
            The name.
        known : iterable of str
            All accepted names.
        meant : str
            The accepted name that is surely meant, where that is known; else the nearest spelling is offered.
        """
        names = tuple(known)
        detail = f"{parameter} does not know '{quoted(given)}'{did_you_mean(meant or given, names)}."
        return cls.about(parameter, detail, names)


class NotFound(ServiceError):
    """A path segment, a table key or a suffix that does not exist."""

    key = "not-found"


class OutsideValidity(ServiceError):
    """The question is readable, but outside every method's validity.

    ``suggestion`` holds the parameters, as query text, whose change makes a request that works, where one is known.
    """

    key = "outside-validity"
    suggestion: Mapping[str, str] = MappingProxyType({})


class TooCostly(ServiceError):
    """An answer would take more processor time than one request may."""

    key = "too-large"


class BadReferenceData(ServiceError):
    """A data package does not load.

    Parameters
    ----------
    file : str
        The file, relative to the data folder.
    row : int or None
        Line number in the file, counted from 1, where one is at fault.
    reason : str
        What is wrong.
    column : str or None
        Header of the column, where one is at fault.
    """

    key = "bad-reference-data"

    def __init__(self, file: str, row: int | None, reason: str, column: str | None = None) -> None:
        file, reason = (shown(text, REASON_LIMIT) for text in (file, reason))
        where = file if row is None else f"{file}, row {row}"
        super().__init__(f"{where}: {reason}", [Fault(file, reason)])
        self.file = file
        self.row = row
        self.column = column
        self.reason = reason


class Busy(ServiceError):
    """The service has its hands full: the same question may be asked again.

    Parameters
    ----------
    detail : str
    retry_after : int
        When [s].
    """

    key = "busy"

    def __init__(self, detail: str, retry_after: int) -> None:
        super().__init__(detail)
        self.retry_after = retry_after


class BadSetting(ServiceError):
    """A setting of the process that cannot be used; it does not start."""

    key = "bad-setting"


PART = 3
"""A name of up to so many letters is not looked for inside another."""


def did_you_mean(given: str, known: Iterable[str], cutoff: float | None = None) -> str:
    """Return ``; did you mean 'x'``, or nothing when nothing is near.

    Near is a slip of a letter or two, or a name that is part of the other: another word of the same ending, such as
    one voltage for another, is none.
    """
    names = list(known)
    cutoff = cutoff or (0.6 if len(given) <= PART + 1 else 0.75)
    near = difflib.get_close_matches(given[:64], names, n=1, cutoff=cutoff)
    parts = [name for name in names if min(len(name), len(given)) > PART and (name in given or given in name)]
    near = near or sorted(parts, key=len, reverse=True)[:1]
    return f"; did you mean '{near[0]}'" if near else ""
