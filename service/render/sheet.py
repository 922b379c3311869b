"""The one model between an answer and its formats for reading: sections of lines, tables and sentences."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import takewhile
from typing import Any, TypeGuard

from service.render.grids import Grid, grid, grids, pivot
from service.render.layout import visible
from service.render.page import Page
from service.render.records import (
    OWN,
    PARTS,
    PROVENANCE,
    capital,
    flat,
    has_series,
    is_block_list,
    is_quantity,
    is_sequence,
    label,
    plain,
    text_of,
)

SENTENCE = 48
"""A text longer than this is set as a sentence of its own."""

FRAME = (
    *("lookup", "sentence", "headline", "asked", "method", "also", "corrections", "notes", "cautions"),
    *("service_version", "data_version"),
)
"""Fields of every answer; the others are its results."""

OTHERS = ("breakdown_voltage", "difference_percent", "provenance", "uncertainty_percent")
"""Fields of another method that are read first, in order."""


@dataclass(frozen=True)
class Line:
    """A label and what it says."""

    label: str
    text: str


Part = Line | Grid | str
"""A labelled line, a table or a sentence."""


@dataclass(frozen=True)
class Headline:
    """What is read first.

    Parameters
    ----------
    sentence, label, headline, caution : str
        Empty where the answer has none.
    """

    sentence: str = ""
    label: str = ""
    headline: str = ""
    caution: str = ""

    def __bool__(self) -> bool:
        return bool(self.sentence)

    @property
    def words(self) -> str:
        """All of it, for a reader who does not see it."""
        return " ".join(part for part in (self.sentence, self.caution) if part)


@dataclass(frozen=True)
class SheetSection:
    """Parts under one heading.

    Parameters
    ----------
    key : str
        ``because``, ``answer``, ``conditions``, ``method``, ``also``, ``corrections``, ``notes`` or ``cautions``; or
        the name of a result that is a list of sentences.
    title : str
        Heading.
    parts : tuple
        In order.
    """

    key: str
    title: str
    parts: tuple[Part, ...]

    @property
    def lines(self) -> list[Line]:
        """The labelled lines."""
        return [part for part in self.parts if isinstance(part, Line)]

    @property
    def tables(self) -> list[Grid]:
        """The tables."""
        return [part for part in self.parts if isinstance(part, Grid)]

    @property
    def sentences(self) -> list[str]:
        """The sentences."""
        return [part for part in self.parts if isinstance(part, str)]


@dataclass(frozen=True)
class Sheet:
    """An answer for reading.

    Parameters
    ----------
    title : str
        One line.
    sections : tuple of SheetSection
        The answer first, unless the answer itself puts its cautions first.
    versions, address : str
        Of service and data, and of this answer; empty where there is none.
    lead : Headline
        What stands before everything.
    """

    title: str
    sections: tuple[SheetSection, ...]
    versions: str
    address: str
    lead: Headline = Headline()


def sheet(page: Page, keys: Collection[str] = ()) -> Sheet:
    """Return a page's answer for reading.

    Parameters
    ----------
    page : Page
    keys : collection of str
        The only sections that are wanted; all where none is named.
    """
    document = page.document
    wanted = {key: one for key, one in SECTIONS.items() if not keys or key in keys}
    sections = {key: SheetSection(key, title, tuple(make(document))) for key, (title, make) in wanted.items()}
    order = list(sections)
    if "cautions" in sections and "cautions" in document and list(document).index("cautions") <= 1 < len(document):
        order = ["cautions", *(key for key in order if key != "cautions")]
    filled = tuple(one for key in order for one in _with_lists(sections[key], document) if one.parts)
    return Sheet(visible(page.title), filled, _versions(document), visible(page.address), lead_of(document))


def lead_of(document: Mapping[str, Any]) -> Headline:
    """Return what is read first of an answer.

    Parameters
    ----------
    document : mapping
        An answer.
    """
    headline = document.get("headline", {})
    spoken = {one["key"]: one["text"] for one in document.get("cautions", ()) if "key" in one}
    return Headline(
        visible(document.get("sentence", "")),
        visible(headline.get("label", "")),
        visible(headline.get("text", "")),
        visible(spoken.get(headline.get("caution", ""), "")),
    )


def _with_lists(section: SheetSection, document: Mapping[str, Any]) -> list[SheetSection]:
    """Return a section; the answer with its lists of sentences.

    They stand before it where the answer itself begins with them, or is tables only.
    """
    if section.key != "answer":
        return [section]
    found = results(document)
    lists = {
        key: SheetSection(key, label(key), tuple(map(text_of, value)))
        for key, value in found.items()
        if is_list_of_sentences(value)
    }
    if not section.lines:
        return [*lists.values(), section]
    ahead = list(takewhile(lists.__contains__, found))
    return [*(lists[key] for key in ahead), section, *(one for key, one in lists.items() if key not in ahead)]


def is_list_of_sentences(value: object) -> TypeGuard[Sequence[str]]:
    """Return whether a result is a list of texts of which one at least is long."""
    if not is_sequence(value) or len(value) < 2 or not all(isinstance(one, str) for one in value):
        return False
    return any(len(one) > SENTENCE for one in value)


def results(document: Mapping[str, object]) -> dict[str, object]:
    """Return the result fields; columns of a batch take its lists of equal length beside them.

    Parameters
    ----------
    document : mapping
        An answer.
    """
    fields = {key: value for key, value in document.items() if key not in FRAME}
    columns = fields.get("columns")
    if isinstance(columns, Mapping) and has_series(columns):
        lists = {key: document[key] for key in ("method", "status") if is_sequence(document.get(key))}
        fields["columns"] = {**columns, **lists}
        fields.pop("status", None)
    return fields


def _answer(document: Mapping[str, object]) -> Iterator[Part]:
    for key, value in results(document).items():
        if not is_list_of_sentences(value):
            yield from _parts(key, label(key), value)


def _parts(key: str, name: str, value: Any, *, given: bool = False) -> Iterator[Part]:
    if is_quantity(value):
        yield from _quantity(key, name, value, given=given)
    elif isinstance(value, Mapping) and "citation" not in value:
        if has_series(value):
            yield from grids(key, value)
        else:
            for inner, one in value.items():
                yield from _parts(inner, f"{name}, {plain(inner)}", one, given=given)
    elif is_block_list(value):
        yield from _listed(key, name, value)
    elif is_sequence(value) and any(isinstance(one, str) and len(one) > SENTENCE for one in value):
        yield from (f"{name}: {visible(one)}" for one in value)
    elif isinstance(value, str) and len(value) > SENTENCE:
        yield f"{name}: {visible(value)}"
    else:
        yield Line(name, text_of(value, key, given=given))


def _quantity(key: str, name: str, value: Any, *, given: bool) -> Iterator[Part]:
    """Yield a quantity, and what stands beside it in its block."""
    for path, one in flat(value, OWN).items():
        title = f"{name}, {_words(path)}" if path else name
        if is_block_list(one):
            yield from (replace(each, title=title) for each in grids(path, one))
        else:
            yield Line(title, text_of(one, path.rpartition(".")[2] or key, given=given))


def _listed(key: str, name: str, value: Any) -> Iterator[Part]:
    if all(set(one) <= {"key", "text"} and "text" in one for one in value):
        yield from (f"{name}: {visible(one['text'])}" for one in value)
    elif all(is_quantity(one) and set(one) <= set(PARTS) for one in value):
        yield Line(name, text_of(value))
    else:
        yield from _methods(value)
        crossed = pivot(key, value)
        yield from [crossed] if crossed is not None else []
        yield from grids(key, value)


def _methods(curves: Any) -> Iterator[Part]:
    """Yield which methods each of several curves was computed by."""
    for curve in curves:
        methods = curve.get("method") if has_series(curve) else None
        if methods is not None and is_sequence(methods):
            names = [visible(value) for key, value in curve.items() if isinstance(value, str)]
            used = dict.fromkeys(visible(one) for one in methods if one is not None)
            yield Line(capital(", ".join(["method", *names])), ", ".join(used) or "none")


def _words(path: str) -> str:
    return ", ".join(plain(part) for part in path.split("."))


def _because(document: Mapping[str, Any]) -> Iterator[Part]:
    """Yield in a few lines why: the method and how well it is known, its source, and what nobody said."""
    method = document.get("method", {})
    if isinstance(method, Mapping) and method:
        name = visible(method.get("title", method.get("key", "")))
        percent = method.get("uncertainty_percent")
        yield Line("Method", name + (f", ± {text_of(percent)} %" if percent is not None else ""))
        if "source" in method:
            known = PROVENANCE.get(str(method.get("provenance", "")), visible(method.get("provenance", "")))
            yield Line("Source", "; ".join(part for part in (text_of(method["source"]), known) if part))
    asked = document.get("asked", {})
    assumed = [
        f"{plain(name)} {text_of(asked[name], name, given=True)}" if name in asked else plain(name)
        for name in asked.get("assumed", ())
    ]
    if assumed:
        yield Line("Assumed, not said", "; ".join(assumed))


def _conditions(document: Mapping[str, Any]) -> Iterator[Part]:
    asked = document.get("asked", {})
    for name, value in asked.items():
        if name != "assumed" and name not in asked.get("assumed", ()):
            yield from _parts(name, label(name), value, given=True)


def _method(document: Mapping[str, Any]) -> Iterator[Part]:
    method = document.get("method", {})
    if isinstance(method, Mapping):
        yield from (Line(name, text_of(method[key])) for key, name in HOLDS.items() if key in method)


def _also(document: Mapping[str, Any]) -> Iterator[Part]:
    others = document.get("also", ())
    if not is_block_list(others):
        return
    records = []
    for one in others:
        fields = {key: one[key] for key in (*OTHERS, *one) if key in one and key not in ("title", "key", "kind")}
        records.append({"method": visible(one.get("title", one.get("key", ""))), **fields})
    yield grid("Other methods valid here", records, "value")


def _corrections(document: Mapping[str, Any]) -> Iterator[Part]:
    for key, value in document.get("corrections", {}).items():
        yield from _parts(key, label(key), value)


def _sentences(key: str) -> Callable[[Mapping[str, Any]], Iterable[Part]]:
    return lambda document: [text_of(one) for one in document.get(key, ())]


def _cautions(document: Mapping[str, Any]) -> Iterator[Part]:
    """Yield the cautions that do not stand first already."""
    first = document.get("headline", {}).get("caution")
    yield from (text_of(one) for one in document.get("cautions", ()) if one.get("key") != first)


def _versions(document: Mapping[str, Any]) -> str:
    names = {"service_version": "service", "data_version": "data"}
    parts = [f"{word} {visible(document[key])}" for key, word in names.items() if key in document]
    return capital(", ".join(parts))


HOLDS: Mapping[str, str] = {"validity": "Holds for", "row": "Read at"}
"""What is told of a method beside its name, and under which words."""

SECTIONS: Mapping[str, tuple[str, Callable[[Mapping[str, Any]], Iterable[Part]]]] = {
    "because": ("Because", _because),
    "answer": ("Answer", _answer),
    "notes": ("Notes", _sentences("notes")),
    "cautions": ("Cautions", _cautions),
    "conditions": ("Asked", _conditions),
    "method": ("Where the method holds", _method),
    "also": ("Other methods", _also),
    "corrections": ("Corrections applied", _corrections),
}
"""Heading and content of every section, in order of reading."""

FOLDED = ("conditions", "method", "also", "corrections")
"""Sections that a format may fold away."""
