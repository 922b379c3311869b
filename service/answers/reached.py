"""Where one reading of a voltage is reached, or why no place is told."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from service.answers.inverse import Branch, Curves, Ends
from service.answers.waveform import Reading
from service.errors import OutsideValidity
from service.spoken import said
from service.units import Quantity


def reached(curves: Curves, reading: Reading) -> dict[str, Ends]:
    """Return the branches on which a voltage is reached, by name; none where nothing breaks down.

    Parameters
    ----------
    curves : Curves
        Of one situation.
    reading : Reading

    Raises
    ------
    OutsideValidity
        When the voltage lies where no method answers.
    """
    lowest = None if reading.sharp else np.array([reading.low])
    found: Mapping[str, Branch] = curves.branches(("left", "right"), np.array([reading.high]), lowest)
    ends = {name: Ends.of(branch) for name, branch in found.items()}
    there = {name: one for name, one in ends.items() if one is not None}
    if not there:
        _refuse_beyond(curves, reading)
    return there


def _refuse_beyond(curves: Curves, reading: Reading) -> None:
    """Refuse a voltage that no place reaches, unless it lies below a minimum, so that nothing breaks down.

    Raises
    ------
    OutsideValidity
        When the voltage is higher than any method reaches, or lower and the methods end before a minimum.
    """
    value, _, high = curves.smallest
    smallest = float(np.nanmin([value, high]))
    if reading.high > smallest:
        raise _too_high(curves)
    if not curves.has_minimum:
        raise _too_low(curves, smallest)


def _too_high(curves: Curves) -> OutsideValidity:
    top = float(np.nanmax(np.fmax(curves.on_grid.value, curves.on_grid.high)))
    highest = f"the highest is {said(top, 'voltage', unit='kV')}"
    detail = f"No method for electrodes={curves.arrangement.key} reaches this voltage; {highest}."
    # no smaller voltage is proposed: the gap that holds it is too small for the one that was asked
    return OutsideValidity.about("voltage", detail, valid={"high": Quantity(top, "voltage")})


def _too_low(curves: Curves, smallest: float) -> OutsideValidity:
    detail = (
        f"The methods for electrodes={curves.arrangement.key} end at {said(smallest, 'voltage', unit='kV')}; this "
        "voltage lies below, which does not mean that nothing breaks down."
    )
    # no larger voltage is proposed
    return OutsideValidity.about("voltage", detail, valid={"low": Quantity(smallest, "voltage")})
