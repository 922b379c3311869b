"""What a renderer gets: one answer, its title, its picture if it has one, and how it is to be shown."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from service.answers.figure import Figure
from service.answers.lookup import Answer
from service.answers.registry import Registry

THEMES = ("light", "dark", "auto")
"""Looks of pictures and cards; ``auto`` follows the reader's preference."""

VIEWS = ("brief", "plot", "full")
"""How much a picture shows: the headline alone, the drawing alone, or everything; by default the drawing with its
headline."""


@dataclass(frozen=True)
class Page:
    """One answer to be rendered.

    Parameters
    ----------
    document : mapping
        The answer as the interface defines it, in its order.
    title : str
        One line for headings.
    figure : Figure, optional
        The picture, where a curve or bars were asked for; otherwise pictures show the card.
    theme : str
        One of `THEMES`.
    address : str
        Of this very answer, as text; may be empty.
    view : str
        One of `VIEWS`, or empty.
    width : int
        Of a picture, in its own units; 0 for what its content wants.
    """

    document: Mapping[str, Any]
    title: str
    figure: Figure | None = None
    theme: str = "auto"
    address: str = ""
    view: str = ""
    width: int = 0

    @classmethod
    def of(
        cls,
        answer: Answer,
        registry: Registry,
        title: str,
        *,
        drawn: bool = True,
        theme: str = "auto",
        address: str = "",
        view: str = "",
        width: int = 0,
    ) -> Page:
        """Return the page of an answer; its title where the answer has none, its picture where one is drawn."""
        figure = answer.figure() if drawn and answer.figure is not None else None
        return cls(answer.document(registry), answer.title or title, figure, theme, address, view, width)
