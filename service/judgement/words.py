"""From an interval to a word: one word for every value that was not said, else ``cannot-tell`` and what to say."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from service.judgement.unsaid import Unsaid

CANNOT_TELL = "cannot-tell"


@dataclass(frozen=True)
class Agreed:
    """What the words of all combinations agree on.

    Parameters
    ----------
    word : str
        Their one word, or ``cannot-tell``.
    among : tuple of str
        The words that there are, each once.
    depends_on : tuple of Unsaid
        What to say so that fewer words are left; empty where all agree.
    """

    word: str
    among: tuple[str, ...]
    depends_on: tuple[Unsaid, ...] = ()

    @property
    def sentence(self) -> str:
        """What to say, as a sentence; empty where all agree."""
        if not self.depends_on:
            return ""
        return f"It depends on what was not said: say {listed([one.say for one in self.depends_on])}."


def agreed(words: np.ndarray, choice: np.ndarray, unsaid: Sequence[Unsaid]) -> Agreed:
    """Return the one word of all combinations, or ``cannot-tell`` and what it depends on.

    Parameters
    ----------
    words : ndarray of str, shape (m,)
        One per combination.
    choice : ndarray of int, shape (len(unsaid), m)
        As in `Needs`: all combinations.
    """
    among = tuple(dict.fromkeys(words.tolist()))
    if len(among) == 1:
        return Agreed(among[0], among)
    grid = np.empty([len(one.values) for one in unsaid], dtype=object)
    grid[tuple(choice)] = words
    alike = [bool((grid == np.take(grid, [0], axis=axis)).all()) for axis in range(grid.ndim)]
    return Agreed(CANNOT_TELL, among, tuple(one for one, same in zip(unsaid, alike, strict=True) if not same))


def listed(names: Sequence[str], joint: str = "and") -> str:
    """Return names as a list in words; nothing where there are none.

    Examples
    --------
    >>> listed(["the pressure", "the waveform", "the polarity"])
    'the pressure, the waveform and the polarity'
    """
    first, last = names[:-1], "".join(names[-1:])
    return f"{', '.join(first)} {joint} {last}" if first else last
