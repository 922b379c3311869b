"""A picture as a list of shapes and texts in roles, and the colours of the roles, light and dark.

Ink on paper, one accent, and six for curves: they stay apart for readers who do not see red, green or blue apart, and
all of them can be read as text on the paper. No colour means good or bad.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property, partial

import numpy as np

from service.render.layout import SPACE, Measure, text_width, visible, wrap

LIGHT: dict[str, str] = {
    "paper": "#ffffff",
    "ink": "#1d2226",
    "soft": "#525a61",
    "rule": "#c9c6bd",
    "grid": "#e7e4dc",
    "accent": "#1f4e79",
    "curve-1": "#0f62d0",
    "curve-2": "#6a7311",
    "curve-3": "#78094e",
    "curve-4": "#97539f",
    "curve-5": "#4b2f06",
    "curve-6": "#491284",
}

DARK: dict[str, str] = {
    "paper": "#1d2125",
    "ink": "#e6e3dc",
    "soft": "#a9b0b6",
    "rule": "#4a5157",
    "grid": "#2d3338",
    "accent": "#8fbce6",
    "curve-1": "#5bf1fa",
    "curve-2": "#c68225",
    "curve-3": "#fee887",
    "curve-4": "#ae79e0",
    "curve-5": "#6e9c71",
    "curve-6": "#c4f4c5",
}

PAGE_LIGHT: dict[str, str] = {"ground": "#fbfaf7", "code": "#f1efe9", "fault": "#7a2e0e"}
PAGE_DARK: dict[str, str] = {"ground": "#16191c", "code": "#24292e", "fault": "#f0b48f"}
"""What a page needs beside the colours of a card: its ground, the ground of code, and what is wrong."""

CURVES = tuple(role for role in LIGHT if role.startswith("curve"))

BASE: Mapping[str, Mapping[str, str]] = {"light": LIGHT, "dark": DARK, "auto": LIGHT}
"""Theme to the colours that stand in the shapes themselves; ``auto`` overrides them by a style sheet."""


LEADING = 1.4
"""Distance of two lines in parts of the font size."""


@dataclass(frozen=True)
class DrawnPath:
    """A path.

    Parameters
    ----------
    path : str
        Path data.
    fill, stroke : str
        Roles of the palette; empty for none.
    thickness, opacity : float
        Of the stroke; of the fill, else of the stroke. Opacity of the whole would be drawn as a picture of its own,
        which took half the time of a plot with bands.
    dashes : str
        Dash pattern; empty for a full line.
    """

    path: str
    fill: str = ""
    stroke: str = ""
    thickness: float = 1.0
    opacity: float = 1.0
    dashes: str = ""

    kind = "shape"


@dataclass(frozen=True)
class Run:
    """A stretch of a line in one face; ``raised`` makes it an exponent."""

    text: str
    bold: bool = False
    raised: bool = False


@dataclass(frozen=True)
class Text:
    """A line of text.

    Parameters
    ----------
    x, y : float
        Of the anchor on the base line.
    runs : tuple of Run
        In order.
    size : float
        Of the font.
    role : str
        Of the palette.
    anchor : str
        ``start``, ``middle`` or ``end``.
    fixed : bool
        Whether something follows in the same line, so that its width must not depend on the face.
    """

    x: float
    y: float
    runs: tuple[Run, ...]
    size: float
    role: str = "ink"
    anchor: str = "start"
    fixed: bool = False

    kind = "text"

    @property
    def plain(self) -> str:
        """The text without faces."""
        return "".join(run.text for run in self.runs)

    @property
    def left(self) -> float:
        """Left end."""
        return self.x - {"start": 0.0, "middle": 0.5, "end": 1.0}[self.anchor] * self.width

    @property
    def pinned(self) -> bool:
        """Whether its width is fixed, so that it fits even where the reader has only wider faces."""
        return len(self.runs) == 1 and (self.fixed or self.width > PINNED)

    @cached_property
    def width(self) -> float:
        """Width of the line."""
        return sum(text_width(run.text, self.size * (RAISED if run.raised else 1), bold=run.bold) for run in self.runs)


PINNED = 60.0
"""Longer lines keep their width whatever the face."""

RAISED = 0.72
"""Size of an exponent in parts of the font size."""


def measure(size: float, *, bold: bool = False) -> Measure:
    """Return the function from a text to its width in a face."""
    return partial(text_width, size=size, bold=bold)


@dataclass
class Canvas:
    """What is drawn, in order, on a sheet that grows downwards.

    Parameters
    ----------
    width : float
        Of the sheet.
    margin : float
        Left and right.
    y : float
        Where the next line of running text has its top.
    plotted : tuple of str
        Of a plot with a logarithmic scale: its left, right, top and bottom, the scale's ends, and its unit.
    """

    width: float
    margin: float
    y: float = 0.0
    items: list[DrawnPath | Text] = field(default_factory=list)
    plotted: tuple[str, ...] = ()

    @property
    def room(self) -> float:
        """Width between the margins."""
        return self.width - 2 * self.margin

    def line(
        self, x1: float, y1: float, x2: float, y2: float, stroke: str, thickness: float = 1.0, dashes: str = ""
    ) -> None:
        """Draw a straight line."""
        self.items.append(
            DrawnPath(
                f"M{coordinate(x1)} {coordinate(y1)}L{coordinate(x2)} {coordinate(y2)}",
                "",
                stroke,
                thickness,
                dashes=dashes,
            )
        )

    def box(self, x: float, y: float, wide: float, high: float, fill: str, opacity: float = 1.0) -> None:
        """Draw a filled rectangle."""
        path = f"M{coordinate(x)} {coordinate(y)}h{coordinate(wide)}v{coordinate(high)}h{coordinate(-wide)}z"
        self.items.append(DrawnPath(path, fill, opacity=opacity))

    def disc(self, x: float, y: float, radius: float, fill: str, stroke: str, thickness: float = 1.5) -> None:
        """Draw a circle."""
        half = f"a{coordinate(radius)} {coordinate(radius)} 0 1 0 "
        across = coordinate(2 * radius)
        path = f"M{coordinate(x - radius)} {coordinate(y)}{half}{across} 0{half}-{across} 0z"
        self.items.append(DrawnPath(path, fill, stroke, thickness))

    def path(self, points: Iterable[tuple[float, float]], stroke: str, thickness: float, dashes: str = "") -> None:
        """Draw a line through points."""
        self.items.append(DrawnPath(polyline(points), "", stroke, thickness, dashes=dashes))

    def text(
        self,
        x: float,
        y: float,
        words: str,
        size: float,
        role: str = "ink",
        anchor: str = "start",
        *,
        bold: bool = False,
    ) -> None:
        """Set one line of text, its base line at ``y``."""
        self.items.append(Text(x, y, (Run(visible(words), bold),), size, role, anchor))

    def rule(self, stroke: str = "rule", thickness: float = 1.0) -> None:
        """Draw a line across the text."""
        self.line(self.margin, self.y, self.width - self.margin, self.y, stroke, thickness)

    def paragraph(
        self,
        words: str,
        size: float,
        role: str = "ink",
        *,
        bold: bool = False,
        x: float | None = None,
        wide: float | None = None,
    ) -> None:
        """Set text in lines from where the sheet stands, and move on."""
        left = self.margin if x is None else x
        for line in wrap(visible(words), wide or self.room, measure(size, bold=bold)):
            self.text(left, self.y + size, line, size, role, bold=bold)
            self.y += LEADING * size

    def headed(self, head: str, words: str, size: float) -> None:
        """Set a paragraph that begins with a bold word."""
        tokens = [(word, True) for word in SPACE.split(visible(head))]
        tokens += [(word, False) for word in SPACE.split(visible(words))]
        for runs in broken(tokens, size, self.room):
            left = self.margin
            for run in runs:
                part = Text(left, self.y + size, (run,), size, "ink", fixed=len(runs) > 1)
                self.items.append(part)
                left += part.width + text_width(" ", size)
            self.y += LEADING * size


def broken(tokens: Sequence[tuple[str, bool]], size: float, room: float) -> list[tuple[Run, ...]]:
    """Return words of two faces broken into lines that fit.

    Parameters
    ----------
    tokens : sequence of (str, bool)
        Words, and whether each is bold.
    size, room : float
        Font size, and width of a line.
    """
    lines: list[list[tuple[str, bool]]] = [[]]
    taken = 0.0
    for word, bold in _short(tokens, size, room):
        wide = text_width(word, size, bold=bold)
        space = text_width(" ", size) if lines[-1] else 0.0
        if lines[-1] and taken + space + wide > room:
            lines.append([])
            taken, space = 0.0, 0.0
        lines[-1].append((word, bold))
        taken += space + wide
    return [_runs(line) for line in lines if line]


def _short(tokens: Sequence[tuple[str, bool]], size: float, room: float) -> list[tuple[str, bool]]:
    return [(piece, bold) for word, bold in tokens for piece in wrap(word, room, measure(size, bold=bold))]


def _runs(line: Sequence[tuple[str, bool]]) -> tuple[Run, ...]:
    bold = " ".join(word for word, heavy in line if heavy)
    rest = " ".join(word for word, heavy in line if not heavy)
    return tuple(run for run in (Run(bold, True), Run(rest)) if run.text)


def polyline(points: Iterable[tuple[float, float]]) -> str:
    """Return the path data of a line through points."""
    return "M" + "L".join(f"{coordinate(x)} {coordinate(y)}" for x, y in points)


def strokes(pieces: np.ndarray) -> str:
    """Return the path data of straight pieces that stand alone, ``(pieces, 2, 2)``: all in one go, since they are many.

    Examples
    --------
    >>> strokes(np.array([[[12.0, -0.04], [3.26, -10.0]]]))
    'M12 0L3.3 -10'
    """
    text = "M%.1f %.1fL%.1f %.1f" * len(pieces) % tuple(pieces.ravel().tolist()) + "M"
    for end in " LM":
        text = text.replace(f".0{end}", end).replace(f"-0{end}", f"0{end}")
    return text[:-1]


def coordinate(value: float) -> str:
    """Return a coordinate with one decimal at most, the same everywhere.

    Examples
    --------
    >>> coordinate(12.0), coordinate(-0.04), coordinate(3.26), coordinate(-10.0)
    ('12', '0', '3.3', '-10')
    """
    text = f"{value:.1f}".removesuffix(".0")
    return "0" if text == "-0" else text
