"""``python -m tests.campaign``: ask, print a table, end with 1 where a promise was broken."""

from __future__ import annotations

import argparse
import json
import logging
import multiprocessing
import os
import random
import sys
from collections import Counter
from pathlib import Path

from service.web import create_app
from tests import campaign
from tests.campaign import Tally, run
from tests.campaign.questions import question

PART = 1000
"""Questions between two notes of where it is."""
MOST_FAULTS = 50


def main(arguments: list[str] | None = None) -> int:
    """Ask, print a table, and return 1 where a promise was broken."""
    parser = argparse.ArgumentParser(prog="python -m tests.campaign", description=campaign.__doc__)
    parser.add_argument("--questions", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--state", type=Path, help="file that remembers where it is")
    parser.add_argument("--again", help="SEED:NUMBER of one question")
    given = parser.parse_args(arguments)
    if given.again:
        return _again(*map(int, given.again.split(":")))
    logging.disable(logging.CRITICAL)  # a fault is told in the table, and asked again it is traced
    done, tally = _kept(given.state)
    parts = [first for first in range(0, given.questions, PART) if first not in done]
    asked = [(given.seed, first, min(PART, given.questions - first)) for first in parts]
    with multiprocessing.Pool(given.workers) as pool:
        for first, one in pool.imap_unordered(_part, asked):
            done.append(first)
            tally.add(one)
            if given.state:
                _keep(given.state, done, tally)
    _print(tally)
    return 1 if tally.faults else 0


def _part(asked: tuple[int, int, int]) -> tuple[int, Tally]:
    return asked[1], run(*asked)


def _again(seed: int, number: int) -> int:
    lookups = create_app().extensions["workshop"].lookups
    print(question(random.Random(f"{seed}:{number}"), lookups))
    tally = run(seed, number, 1)
    print(dict(tally.counts), *tally.faults, sep="\n")
    return 1 if tally.faults else 0


def _kept(state: Path | None) -> tuple[list[int], Tally]:
    if state is None or not state.exists():
        return [], Tally()
    kept = json.loads(state.read_text(encoding="utf-8"))
    done = kept.pop("done")
    return done, Tally(**{**kept, "counts": Counter(kept["counts"])})


def _keep(state: Path, done: list[int], tally: Tally) -> None:
    written = state.with_suffix(".new")
    written.write_text(json.dumps({"done": done, **vars(tally)}), encoding="utf-8")
    os.replace(written, state)  # a run that is stopped meanwhile leaves the former one whole


def _print(tally: Tally) -> None:
    whole = sum(tally.counts.values())
    print(f"{whole} questions, {tally.seconds:.0f} s of processor time")
    for status, count in sorted(tally.counts.items()):
        print(f"  {status}  {count}")
    print(f"kinds of question of which some took more than {campaign.DEAR:g} s (count, of them dear, slowest [s])")
    dear = sorted((one for one in tally.kinds.items() if one[1][1]), key=lambda one: -one[1][1])
    for kind, (count, above, slowest) in dear:
        print(f"  {kind:32} {count:8.0f} {above:7.0f} {slowest:8.2f}")
    print(f"memory of a process [MiB]: {tally.memory:.0f}")
    print(f"broken promises: {len(tally.faults)}")
    for fault in tally.faults[:MOST_FAULTS]:
        print(f"  {fault}")


if __name__ == "__main__":
    sys.exit(main())
