"""Hostile and ordinary questions without end, and whether every answer keeps the promises of the interface.

``python -m tests.campaign --questions 1000000 --workers 2 --state FILE`` asks in process, on as many processes as
wanted, writes after every thousand where it is (so that it goes on where it was stopped), and prints a table; it ends
with status 1 where a promise was broken, and prints the question that broke it. A seed and a number make a question, so
that any one can be asked again: ``--again SEED:NUMBER``.
"""

from __future__ import annotations

import random
import resource
import time
import warnings
from collections import Counter
from dataclasses import dataclass, field
from typing import Any

from service.web import create_app
from tests.campaign.promises import broken
from tests.campaign.questions import question

DEAR = 0.1
"""Processor time from which a question is counted as dear [s]."""
SHOWN = 300
"""Characters of a question and of a body that a fault shows."""


@dataclass
class Tally:
    """What became of some questions.

    Parameters
    ----------
    counts : Counter
        By status.
    faults : list of str
        Broken promises with the question that broke them.
    kinds : dict
        By kind of question: how many, how many of them dear, and seconds of the slowest.
    seconds : float
        Processor time.
    memory : float
        Most resident memory of the process so far [MiB].
    """

    counts: Counter[str] = field(default_factory=Counter)
    faults: list[str] = field(default_factory=list)
    kinds: dict[str, list[float]] = field(default_factory=dict)
    seconds: float = 0.0
    memory: float = 0.0

    def took(self, kind: str, seconds: float) -> None:
        """Count a question of a kind."""
        known = self.kinds.setdefault(kind, [0, 0, 0.0])
        known[0] += 1
        known[1] += seconds > DEAR
        known[2] = max(known[2], round(seconds, 3))
        self.seconds += seconds

    def add(self, other: Tally) -> None:
        """Take in another tally."""
        self.counts += other.counts
        self.faults += other.faults
        for kind, (count, dear, slowest) in other.kinds.items():
            known = self.kinds.get(kind, [0, 0, 0.0])
            self.kinds[kind] = [known[0] + count, known[1] + dear, max(known[2], slowest)]
        self.seconds += other.seconds
        self.memory = max(self.memory, other.memory)


_WORKER: dict[str, Any] = {}


def run(seed: int, first: int, count: int) -> Tally:
    """Ask a part of the questions of a seed.

    Parameters
    ----------
    seed, first, count : int
    """
    warnings.simplefilter("error")
    client = _WORKER.get("client") or _WORKER.setdefault("client", create_app().test_client())
    lookups = client.application.extensions["workshop"].lookups
    tally = Tally()
    for number in range(first, first + count):
        dice = random.Random(f"{seed}:{number}")
        asked = question(dice, lookups)
        words = f"{asked.method} {asked.address[:SHOWN]} {asked.body[:SHOWN]!r}"
        started = time.process_time()
        try:
            response = client.open(asked.address, method=asked.method, headers=dict(asked.headers), data=asked.body)
            seconds = time.process_time() - started
            tally.counts[str(response.status_code)] += 1
            tally.took(asked.kind, seconds)
            found = [f"{seed}:{number} {why}: {words}" for why in broken(asked, response, seconds, client, dice)]
        except Exception as error:  # noqa: BLE001  # whatever escapes is a broken promise
            found = [f"{seed}:{number} {type(error).__name__} {error}: {words}"]
        tally.faults += found
    tally.memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    return tally
