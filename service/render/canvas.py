"""A picture as a list of shapes and texts in roles, before it is written as SVG."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import cached_property, partial

from service.render.clean import visible
from service.render.layout import SPACE, Measure, wrap
from service.render.text_metrics import width

LEADING = 1.4
"""Distance of two lines in parts of the font size."""


@dataclass(frozen=True)
class Shape:
    """A path.

    Parameters
    ----------
    path : str
        Path data.
    fill, stroke : str
        Roles of the palette; empty for none.
    thickness, opacity : float
        Of the stroke, of the whole.
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
        return sum(width(run.text, self.size * (RAISED if run.raised else 1), bold=run.bold) for run in self.runs)


PINNED = 60.0
"""Longer lines keep their width whatever the face."""

RAISED = 0.72
"""Size of an exponent in parts of the font size."""


def measure(size: float, *, bold: bool = False) -> Measure:
    """Return the function from a text to its width in a face."""
    return partial(width, size=size, bold=bold)


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
    items: list[Shape | Text] = field(default_factory=list)
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
            Shape(f"M{number(x1)} {number(y1)}L{number(x2)} {number(y2)}", "", stroke, thickness, dashes=dashes)
        )

    def box(self, x: float, y: float, wide: float, high: float, fill: str, opacity: float = 1.0) -> None:
        """Draw a filled rectangle."""
        path = f"M{number(x)} {number(y)}h{number(wide)}v{number(high)}h{number(-wide)}z"
        self.items.append(Shape(path, fill, opacity=opacity))

    def disc(self, x: float, y: float, radius: float, fill: str, stroke: str, thickness: float = 1.5) -> None:
        """Draw a circle."""
        half = f"a{number(radius)} {number(radius)} 0 1 0 "
        across = number(2 * radius)
        path = f"M{number(x - radius)} {number(y)}{half}{across} 0{half}-{across} 0z"
        self.items.append(Shape(path, fill, stroke, thickness))

    def path(self, points: Iterable[tuple[float, float]], stroke: str, thickness: float, dashes: str = "") -> None:
        """Draw a line through points."""
        self.items.append(Shape(polyline(points), "", stroke, thickness, dashes=dashes))

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

    def headed(self, head: str, words: str, size: float, role: str = "ink") -> None:
        """Set a paragraph that begins with a bold word."""
        tokens = [(word, True) for word in SPACE.split(visible(head))]
        tokens += [(word, False) for word in SPACE.split(visible(words))]
        for runs in broken(tokens, size, self.room):
            left = self.margin
            for run in runs:
                part = Text(left, self.y + size, (run,), size, role, fixed=len(runs) > 1)
                self.items.append(part)
                left += part.width + width(" ", size)
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
        wide = width(word, size, bold=bold)
        space = width(" ", size) if lines[-1] else 0.0
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
    return "M" + "L".join(f"{number(x)} {number(y)}" for x, y in points)


def number(value: float) -> str:
    """Return a coordinate with one decimal at most, the same everywhere.

    Examples
    --------
    >>> number(12.0), number(-0.04), number(3.26)
    ('12', '0', '3.3')
    """
    return f"{round(value, 1) + 0.0:.1f}".removesuffix(".0")
