"""Answers to two thousand seeded questions, written to a file, and the comparison of two such files.

``python -m tests.corpus write FILE`` asks every lookup in every format, with refusals among them;
``python -m tests.corpus compare OLD NEW`` lists what differs by more than 1e-9. Ask it before and after a change that
should change no answer.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import random
import re
import sys
from collections.abc import Iterator
from itertools import zip_longest
from pathlib import Path
from typing import Any
from urllib.parse import quote

from service.parameters import Parameter
from service.web import create_app

QUESTIONS, SEED, CLOSE = 2000, 20260101, 1e-9
"""How many, from where, and the relative difference that is none."""
BODIES = 120
"""Batches among them."""
NUMBER = re.compile(r"[-+]?\d+(?:\.\d+)?(?:[eE][-+]?\d+)?")
PLACES = (
    "/v1",
    "/v1/gases",
    "/v1/tables",
    "/v1/methods",
    "/v1/electrodes",
    "/v1/nothing",
    "/",
    "/docs",
    "/openapi.yaml",
)
WRONG = ("", "8", "-1mm", "8parsecs", "1e400kV", "nonsense")
STATED = re.compile(r'"service_version": ?"[^"]*",?|20\d\d\.\d\d\+[0-9a-f]{8}')


def questions(lookups: dict[str, Any]) -> Iterator[tuple[str, Any]]:
    """Yield addresses with the body to post, or ``None``."""
    dice = random.Random(SEED)
    asked = [lookup for lookup in lookups.values() if not lookup.post]
    for place in PLACES:
        yield place, None
    for _ in range(BODIES):
        yield "/v1/batch", _batch(dice)
    for number in range(QUESTIONS - BODIES - len(PLACES)):
        lookup = asked[number % len(asked)]
        pairs = _pairs(lookup, dice)
        suffix = dice.choice(("", "", "", *(f".{form}" for form in lookup.formats)))
        query = "&".join(f"{name}={quote(value)}" for name, value in pairs.items())
        yield f"/v1/{lookup.key}{suffix}?{query}", None


def _pairs(lookup: Any, dice: random.Random) -> dict[str, str]:
    """Return the example, changed: numbers by up to a factor of three, choices, and sometimes something wrong."""
    pairs = dict(pair.split("=", 1) for pair in lookup.example.split("&") if pair)
    declared = {one.name: one for one in lookup.parameters}
    for name in dice.sample(sorted(declared), min(len(declared), dice.choice((0, 0, 1, 1, 2)))):
        example = _example(declared[name], dice)
        if example:
            pairs[name] = example
    for name, text in pairs.items():
        found = re.match(r"^(\d+(?:\.\d+)?)([^\d,]+)$", text)
        if found:
            pairs[name] = f"{float(found[1]) * 3 ** dice.uniform(-1, 1):.4g}{found[2]}"
    if pairs and dice.random() < 0.08:
        pairs[dice.choice(sorted(pairs))] = dice.choice(WRONG)
    return pairs


def _example(parameter: Parameter, dice: random.Random) -> str:
    if parameter.choices:
        return dice.choice(list(parameter.choices))
    return parameter.example


def _batch(dice: random.Random) -> dict[str, Any]:
    shape = dice.choice(("unknown", "uniform-field", "needle-gap", "rod-gap", "sphere-gap", "coaxial-cylinders"))
    sizes = {"sphere-gap": {"sphere_diameter": "5cm"}, "coaxial-cylinders": {"inner_diameter": "10mm"}}.get(shape, {})
    lookup = dice.choice(("breakdown", "gap"))
    name, unit = ("gap", "mm") if lookup == "breakdown" else ("voltage", "kV")
    if shape == "coaxial-cylinders" and lookup == "breakdown":
        name = "outer_diameter"
    columns = {
        name: {"unit": unit, "values": [round(3.0 * 30 ** dice.random(), 6) for _ in range(6)]},
        "pressure": {"unit": "kPa", "values": [round(dice.uniform(60, 120), 4) for _ in range(6)]},
    }
    return {"lookup": lookup, "given": {"electrodes": shape, **sizes}, "columns": columns}


def write(path: Path) -> None:
    """Ask everything and write the answers."""
    app = create_app()
    client, answers = app.test_client(), []
    for address, body in questions(app.extensions["workshop"].lookups):
        response = client.get(address) if body is None else client.post(address, json=body)
        said = response.get_data()
        picture = response.mimetype == "image/png"
        text = hashlib.sha256(said).hexdigest() if picture else STATED.sub("", said.decode())
        answers.append({"ask": address, "body": body, "status": response.status_code, "text": text})
    path.write_text(json.dumps(answers))
    sys.stdout.write(f"{len(answers)} answers in {path}\n")


def compare(old: Path, new: Path) -> int:
    """List what differs; return how many answers do. What was asked in one file only is counted, not compared."""
    before, after = (_by_question(path) for path in (old, new))
    both = [asked for asked in before if asked in after]
    count = 0
    for asked in both:
        why = difference(before[asked], after[asked])
        if why:
            count += 1
            sys.stdout.write(f"{asked.removesuffix(' null')}\n    {why}\n")
    sys.stdout.write(f"{count} of {len(both)} answers differ by more than {CLOSE:g}\n")
    alone = len(before) + len(after) - 2 * len(both)
    if alone:
        sys.stdout.write(f"{alone} questions stand in one file only: what may be asked has changed.\n")
    return count


def _by_question(path: Path) -> dict[str, dict[str, Any]]:
    return {f"{one['ask']} {json.dumps(one['body'])}": one for one in json.loads(path.read_text())}


def difference(before: dict[str, Any], after: dict[str, Any]) -> str:
    """Return how two answers differ, or nothing."""
    if before["status"] != after["status"]:
        return f"status {before['status']} is {after['status']}"
    one, other = before["text"], after["text"]
    if one == other:
        return ""
    words = list(zip_longest(NUMBER.split(one), NUMBER.split(other)))
    numbers = list(zip_longest(NUMBER.findall(one), NUMBER.findall(other)))
    for was, now in words:
        if was != now:
            return f"words: {str(was)[-60:]!r} is {str(now)[-60:]!r}"
    for was, now in numbers:
        if abs(float(was) - float(now)) > CLOSE * max(abs(float(was)), abs(float(now))):
            return f"{was} is {now}"
    return ""


if __name__ == "__main__":
    parser = argparse.ArgumentParser(prog="python -m tests.corpus", description=__doc__)
    commands = parser.add_subparsers(dest="command", required=True)
    commands.add_parser("write").add_argument("file", type=Path)
    both = commands.add_parser("compare")
    both.add_argument("old", type=Path)
    both.add_argument("new", type=Path)
    given = parser.parse_args()
    if given.command == "write":
        write(given.file)
    else:
        sys.exit(1 if compare(given.old, given.new) else 0)
