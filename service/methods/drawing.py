"""Drawings of electrodes to scale: outlines of metal and dimension lines, in metres, the gap upright from zero."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from service.methods.case import NOTHING
from service.spoken import said
from service.units import ROUNDING

Places = NDArray[np.complex128]
Sizes = Mapping[str, float | str]
"""Lengths [m], angles [rad] and options of an arrangement, by parameter name."""

WHOLE = 14.0
"""Gaps that the window is high at most where whole electrodes are shown; of larger ones, what is near the gap."""
NEAR = (-2.0, 3.0)
"""Lower and upper end of the window then, in gaps."""
FINEST = 1 / 40
"""Smallest diameter that is drawn, in heights of the window; what is finer is drawn so thick, and said."""
CORNER = 9
"""Points of a quarter circle of a rounded corner."""


@dataclass(frozen=True)
class Metal:
    """An outline.

    Parameters
    ----------
    places : ndarray
        Complex places [m].
    solid : bool
        Whether the outline bounds metal; else it is a wall, or a line.
    vague : bool
        Whether it only stands for something: it is dashed.
    """

    places: Places
    solid: bool = True
    vague: bool = False


@dataclass(frozen=True)
class DimensionLine:
    """A dimension line between two places [m], named by the parameter that it shows, or in words of its own.

    Parameters
    ----------
    start, end : complex
        Places [m].
    name : str
    dimension : str
        ``length``, or ``angle`` where the line only points at one.
    """

    start: complex
    end: complex
    name: str
    dimension: str = "length"


@dataclass(frozen=True)
class Drawing:
    """Electrodes, and how they are shown.

    Parameters
    ----------
    metals, dimensions : tuple
        What is drawn.
    reach : tuple of float
        Half width, lower and upper end of all that is worth showing [m].
    earthed : bool
        Whether the lower electrode is at earth.
    remarks : tuple of str
        What is not to scale, and what is left out.
    labels : tuple of str
        Of the dimension lines; filled in by `drawn`.
    cut : bool
        Whether the window cuts electrodes off.
    """

    metals: tuple[Metal, ...]
    dimensions: tuple[DimensionLine, ...]
    reach: tuple[float, float, float]
    earthed: bool = True
    remarks: tuple[str, ...] = ()
    labels: tuple[str, ...] = ()
    cut: bool = False

    @property
    def to_scale(self) -> bool:
        """Whether every proportion that is shown is the true one."""
        return not any("to scale" in remark.lower() for remark in self.remarks)

    @property
    def scaled(self) -> str:
        """What is to scale, in a few words."""
        if self.to_scale:
            return "to scale"
        return "not to scale" if any("not to scale" in one.lower() for one in self.remarks) else "gap to scale"


@dataclass(frozen=True)
class Sketch:
    """How an arrangement is drawn.

    Parameters
    ----------
    draws : callable
        From sizes and gap [m] to a `Drawing`.
    fixed : mapping of str to float
        Lengths of the arrangement itself [m], in words.
    """

    draws: Callable[[Sizes, float], Drawing]
    fixed: Mapping[str, float] = field(default_factory=lambda: NOTHING)


def drawn(sketch: Sketch, sizes: Sizes, gap: float) -> Drawing:
    """Return a drawing whose gap and finest part can be seen, with what that took.

    Parameters
    ----------
    sketch : Sketch
    sizes : mapping
        Lengths [m] and options by parameter name.
    gap : float
        In metres.
    """
    true = {**sketch.fixed, **sizes}
    found = _windowed(sketch.draws(true, gap), gap)
    least = FINEST * (found.reach[2] - found.reach[1])
    fine = {name: size for name, size in true.items() if isinstance(size, float) and size < _least(name, least)}
    lengths = {one.name for one in found.dimensions if one.dimension == "length"}
    fine = {name: size for name, size in fine.items() if name in lengths}
    if fine:
        found = _windowed(sketch.draws({**true, **{name: _least(name, least) for name in fine}}, gap), gap)
    named = {**true, "gap": gap}
    labels = tuple(_label(one, named) for one in found.dimensions)
    thick = tuple(
        f"Not to scale: the {_words(name)} of {said(size, 'length')} is drawn "
        f"{_least(name, least) / size:.0f} times as large, to be seen."
        if _least(name, least) / size >= 2
        else f"Not to scale: the {_words(name)} of {said(size, 'length')} is drawn larger, to be seen."
        for name, size in fine.items()
    )
    return replace(found, labels=labels, remarks=(*found.remarks, *thick))


def _least(name: str, least: float) -> float:
    return least / 2 if name.endswith("radius") else least


def _words(name: str) -> str:
    return name.replace("_", " ")


def _label(one: DimensionLine, sizes: Sizes) -> str:
    size = sizes.get(one.name)
    length = size if isinstance(size, float) else abs(one.end - one.start)
    return f"{_words(one.name)} {said(float(length), one.dimension)}"


def _windowed(found: Drawing, gap: float) -> Drawing:
    half, low, high = found.reach
    cut = high - low > WHOLE * gap
    if cut:
        low, high = max(low, NEAR[0] * gap), min(high, NEAR[1] * gap)
    tall = high - low
    wide = min(max(half, 0.5 * tall), 1.2 * tall)
    cut = cut or half > wide * (1 + ROUNDING)
    return replace(found, reach=(wide, low, high), cut=cut)


def disc(centre: complex, radius: float, facing: float = -1.0) -> Places:
    """Return a circle, its points closest together below (-1) or above (1), where the gap is."""
    turn = np.pi * np.linspace(-1, 1, 121)[:-1]
    near = np.sign(turn) * np.abs(turn / np.pi) ** 3 * np.pi
    return np.asarray(centre + radius * np.exp(1j * (facing * np.pi / 2 + near)))


def box(half: float, low: float, high: float) -> Places:
    """Return a rectangle about the axis."""
    return np.array([-half + 1j * low, half + 1j * low, half + 1j * high, -half + 1j * high])


def plane(reach: float) -> Metal:
    """Return a plate without end below the gap; a tenth of what is shown is enough of its thickness."""
    return Metal(box(1e3 * reach, -reach, 0.0))


def rounded_rectangle(half: float, low: float, high: float, radius: float) -> Places:
    """Return a rectangle about the axis with rounded corners."""
    arc = np.exp(1j * np.linspace(0, np.pi / 2, CORNER))
    right, upper, lower = half - radius, high - radius, low + radius
    middles = (right + 1j * upper, -right + 1j * upper, -right + 1j * lower, right + 1j * lower)
    return np.concatenate([middle + radius * arc * 1j**turn for turn, middle in enumerate(middles)])


def gap_line(gap: float) -> DimensionLine:
    """Return the dimension line of the gap, on the axis."""
    return DimensionLine(0j, 1j * gap, "gap")


def across(centre: complex, radius: float, name: str) -> DimensionLine:
    """Return the dimension line of a diameter, level."""
    return DimensionLine(centre - radius, centre + radius, name)


def pair_of_discs(name: str, sizes: Sizes, gap: float, *, earthed: bool = True) -> Drawing:
    """Return two equal circles of a named diameter."""
    radius = float(sizes[name]) / 2
    upper, lower = 1j * (gap + radius), -1j * radius
    return Drawing(
        (Metal(disc(upper, radius)), Metal(disc(lower, radius, 1.0))),
        (gap_line(gap), across(upper, radius, name)),
        (1.1 * radius, -2.2 * radius, gap + 2.2 * radius),
        earthed=earthed,
    )


def disc_over_plane(name: str, sizes: Sizes, gap: float) -> Drawing:
    """Return a circle of a named diameter over a plate."""
    radius = float(sizes[name]) / 2
    upper, high = 1j * (gap + radius), gap + 2.2 * radius
    return Drawing(
        (Metal(disc(upper, radius)), plane(high)),
        (gap_line(gap), across(upper, radius, name)),
        (1.5 * radius, -0.12 * high, high),
    )


def edged_over_plane(width: str, height: str | None, sizes: Sizes, gap: float) -> Drawing:
    """Return a rectangle over a plate, its corners rounded by ``edge_radius``; without a height it has no upper end.

    Parameters
    ----------
    width, height : str
        Names of its sizes.
    """
    wide = float(sizes[width])
    half, tall = wide / 2, float(sizes[height]) if height else 1e3 * (gap + wide)
    radius = min(float(sizes["edge_radius"]), half, tall / 2)
    high = gap + (1.2 * tall if height else max(gap, wide))
    level, corner = gap + min(0.7 * tall, 0.6 * wide), complex(half - radius, gap + radius)
    lines = [gap_line(gap), DimensionLine(complex(-half, level), complex(half, level), width)]
    lines.append(DimensionLine(corner, corner + radius * complex(0.5**0.5, -(0.5**0.5)), "edge_radius"))
    if height:
        lines.append(DimensionLine(complex(0.6 * half, gap), complex(0.6 * half, gap + tall), height))
    metals = (Metal(rounded_rectangle(half, gap, gap + tall, radius)), plane(high))
    return Drawing(metals, tuple(lines), (1.4 * half, -0.12 * high, high))


SLANTED = complex(np.exp(-0.5j))
"""Direction of the outer diameter, so that it does not lie on the inner one."""


def one_in_another(sizes: Sizes, gap: float) -> Drawing:
    """Return a circle of ``inner_diameter`` within a circle, the gap below it."""
    inner = float(sizes["inner_diameter"]) / 2
    outer = inner + gap
    middle = 1j * outer
    return Drawing(
        (Metal(disc(middle, inner)), Metal(disc(middle, outer), solid=False)),
        (
            gap_line(gap),
            across(middle, inner, "inner_diameter"),
            DimensionLine(middle - outer * SLANTED, middle + outer * SLANTED, "outer_diameter"),
        ),
        (1.08 * outer, -0.08 * outer, 2.08 * outer),
    )


def described(title: str, found: Drawing) -> str:
    """Return a drawing in words, for a reader who does not see it."""
    parts = [f"{title}, {found.scaled}", *found.labels]
    return re.sub(r"\s+", " ", f"{'; '.join(parts)}. {' '.join(found.remarks)}").strip()
