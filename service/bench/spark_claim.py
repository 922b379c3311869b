"""What a first spark says of a claimed voltage."""

from __future__ import annotations

import math
from dataclasses import dataclass

from service import units

RUNNING = (
    "cannot-tell",
    "A burning or drawn-out spark tells no voltage: hot gas carries it far beyond what it could jump.",
)


def kilovolts(volts: float) -> str:
    """Return a voltage [V] in words."""
    return f"{units.shown(volts, 'voltage'):.3g} kV"


def claimed(low: float, high: float) -> str:
    """Return a claimed peak voltage, or its range, in words."""
    return kilovolts(low) if low == high else f"{kilovolts(low)} to {kilovolts(high)}"


@dataclass(frozen=True)
class Zones:
    """Peak voltages that divide what a first spark of one length needs, by the shape of the electrodes.

    Parameters
    ----------
    points_from : float
        Least voltage that even sharp points need [V]; NaN where it is not known.
    points_to : float
        Most that points need [V]; NaN where it is not known.
    uniform_from, uniform_to : float
        Band of a uniform field [V].
    points_by : str
        Where ``points_to`` comes from, in words.
    sharp : bool
        Whether what points need is tabulated, so that more than that asks for rounder electrodes.
    """

    points_from: float
    points_to: float
    uniform_from: float
    uniform_to: float
    points_by: str = ""
    sharp: bool = False

    def verdict(self, low: float, high: float) -> tuple[str, str]:
        """Return verdict and explanation for a claimed peak voltage.

        Parameters
        ----------
        low, high : float
            Its ends [V]; of a range the least demanding end decides.
        """
        said = f"A claim of {claimed(low, high)} peak"
        if high < self.points_from:
            return "too-low", f"{said} is less than the {kilovolts(self.points_from)} that even sharp points need."
        if low > self.uniform_to:
            most = kilovolts(self.uniform_to)
            return "too-high", f"{said} would have jumped further: even a uniform field holds no more than {most}."
        if low <= self.points_to:
            return "fits-points", f"{said} fits sharp points, which need {self._points()} ({self.points_by})."
        if low >= self.uniform_from:
            return "needs-uniform-field", f"{said} needs large flat or well-rounded electrodes, {self._uniform()}."
        return self._between(said)

    def _between(self, said: str) -> tuple[str, str]:
        if self.sharp:
            words = f"{said} is more than sharp points need ({self._points()}) and less than a uniform field does"
            return "needs-rounder-electrodes", f"{words} ({self._uniform()}): it needs rounder electrodes than points."
        if math.isnan(self.points_from):
            known = "what sharp points need in this gas is not known"
        else:
            known = f"sharp points need at least {kilovolts(self.points_from)}, how much at most is not tabulated here"
        return "cannot-tell", f"{said} is less than a uniform field needs ({self._uniform()}); {known}."

    def _points(self) -> str:
        return f"{kilovolts(self.points_from)} to {kilovolts(self.points_to)}"

    def _uniform(self) -> str:
        return f"{kilovolts(self.uniform_from)} to {kilovolts(self.uniform_to)}"


@dataclass(frozen=True)
class Band:
    """What named electrodes need for a first spark of one length.

    Parameters
    ----------
    low, high : float
        Peak voltages [V]; NaN where there is no bound.
    sharp : bool
        Whether there is a value between them, or only a bracket.
    """

    low: float
    high: float
    sharp: bool

    def holds(self, low: float, high: float) -> bool:
        """Return whether a claimed range overlaps the band."""
        return low <= self.high and high >= self.low

    def verdict(self, low: float, high: float) -> tuple[str, str]:
        """Return verdict and explanation for a claimed peak voltage, from its ends [V]."""
        said = f"A claim of {claimed(low, high)} peak"
        if low > self.high:
            return (
                "too-high",
                f"{said} would have jumped further: these electrodes hold at most {kilovolts(self.high)}.",
            )
        if high < self.low:
            return "too-low", f"{said} is less than the {kilovolts(self.low)} that these electrodes need."
        if math.isnan(self.low) or math.isnan(self.high):
            return (
                "cannot-tell",
                f"{said} lies within what is known, but these electrodes are bounded on one side only.",
            )
        kind = "need" if self.sharp else "need by a bracket only"
        return "consistent", f"{said} is what these electrodes {kind}: {kilovolts(self.low)} to {kilovolts(self.high)}."
