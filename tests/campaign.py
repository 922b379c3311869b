"""Hostile and ordinary questions without end, and whether every answer keeps the promises of the interface.

``python -m tests.campaign --questions 1000000 --workers 2 --state FILE`` asks in process, on as many processes as
wanted, writes after every thousand where it is (so that it goes on where it was stopped), and prints a table; it ends
with status 1 where a promise was broken, and prints the question that broke it. A seed and a number make a question, so
that any one can be asked again: ``--again SEED:NUMBER``.
"""

from __future__ import annotations

import argparse
import itertools
import json
import math
import multiprocessing
import random
import re
import resource
import string
import sys
import time
import warnings
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import quote

from service import units
from service.parameters import Parameter
from service.web import create_app

STATUSES = frozenset({200, 304, 400, 404, 405, 406, 413, 415, 422, 501})
"""What a request may be answered with; 501 belongs to oEmbed in another format than JSON."""
SLOW, SLOW_PICTURE = 1.0, 4.0
"""Seconds of processor time that no question may take, and no PNG."""
PART = 1000
"""Questions between two notes of where it is."""
NUMBERS = (
    "0",
    "1",
    "-1",
    "8",
    "0.5",
    "1e-320",
    "1e-30",
    "1e-9",
    "1e3",
    "1e9",
    "1e155",
    "1.79e308",
    "1e999",
    "nan",
    "inf",
)
ODD = (
    "",
    " ",
    "8",
    "8 mm",
    "8mm ",
    "5,3mm",
    "²mm",
    "8µm",
    "8%C2%B5m",
    "٣mm",
    "<b>",
    "'; --",
    "\x00",
    "\ud7ff",
    "%",
    "+",
    "a" * 300,
)
NAMES = ("depth", "Gap", "gap ", "only", "theme", "view", "width", "digits", "format", "url", "")
FIELDS = (
    "breakdown_voltage",
    "gaps",
    "method.title",
    "asked.gap",
    "gaps.holds_above",
    "gaps.0",
    "nothing",
    "verdict",
    "²",
)
ACCEPTS = (
    None,
    None,
    "*/*",
    "application/json",
    "text/html",
    "image/png;q=0.1",
    "text/csv",
    "nonsense",
    "image/*, text/*;q=0.1",
)
BAD_WORD = re.compile(r"\b(?:NaN|nan|Infinity|-?inf|Traceback)\b")


@dataclass(frozen=True)
class Asked:
    """One request.

    Parameters
    ----------
    address : str
    method : str
    headers : mapping of str to str
    body : bytes
    """

    address: str
    method: str = "GET"
    headers: Mapping[str, str] = field(default_factory=dict)
    body: bytes = b""


def question(dice: random.Random, lookups: Mapping[str, Any]) -> Asked:
    """Return a random request: mostly nearly right ones, some of nothing."""
    kind = dice.random()
    if kind < 0.04:
        return _posted(dice, lookups)
    if kind < 0.08:
        return _elsewhere(dice)
    lookup = dice.choice([one for one in lookups.values() if not one.post])
    pairs = dict(pair.split("=", 1) for pair in lookup.example.split("&") if pair)
    for parameter in dice.sample(lookup.parameters, k=min(len(lookup.parameters), dice.choice((0, 1, 1, 2, 3, 5)))):
        pairs[parameter.name] = _text(parameter, dice)
    if dice.random() < 0.15:
        pairs[dice.choice(NAMES)] = dice.choice(ODD)
    if dice.random() < 0.1:
        pairs["only"] = dice.choice(FIELDS)
    if dice.random() < 0.1 and pairs:
        pairs.pop(dice.choice(list(pairs)))
    suffix = dice.choice(
        ("", "", "", "", *(f".{form}" for form in lookup.formats if form != "png" or dice.random() < 0.2))
    )
    parts = [f"{quote(name)}={quote(text.encode('utf-8', 'surrogatepass'), safe='')}" for name, text in pairs.items()]
    dice.shuffle(parts)
    if dice.random() < 0.15:
        address = f"/v1/{lookup.key};" + ";".join(parts) + suffix
    else:
        address = f"/v1/{lookup.key}{suffix}?" + "&".join(parts)
    accept = dice.choice(ACCEPTS)
    return Asked(address, "HEAD" if dice.random() < 0.02 else "GET", {"Accept": accept} if accept else {})


def _text(parameter: Parameter, dice: random.Random) -> str:
    if dice.random() < 0.12:
        return dice.choice(ODD)
    if parameter.choices and dice.random() < 0.95:
        return ",".join(
            dice.sample(parameter.choices, k=min(len(parameter.choices), 1 + (parameter.many and dice.randrange(3))))
        )
    if parameter.dimension not in units.DIMENSIONS:
        return dice.choice((parameter.example or "1", *NUMBERS))
    unit = dice.choice(tuple(units.DIMENSIONS[parameter.dimension].spellings))
    if dice.random() < 0.25:
        return f"{dice.choice(NUMBERS)}{unit}"
    if parameter.example and dice.random() < 0.3:
        return parameter.example
    return f"{10 ** dice.uniform(-3, 3):.{dice.choice((1, 3, 17))}g}{unit}"


def _elsewhere(dice: random.Random) -> Asked:
    junk = "".join(dice.choices(string.printable[:95], k=dice.randrange(40)))
    places = (
        "/",
        "/v1",
        "/v1/",
        "/docs",
        "/wiki?url=",
        "/oembed?url=/v1/breakdown?gap=8mm%26format=xml",
        "/v1/tables/",
        "/v1/gases/",
        "/health/ready",
        "/problems/",
        "/v1/breakdown/",
        "/tables",
        "/static/card.css",
        "/metrics",
        "/openapi.yaml",
    )
    method = dice.choice(("GET", "GET", "GET", "POST", "PUT", "DELETE", "OPTIONS", "PATCH"))
    return Asked(dice.choice(places) + quote(junk, safe="/;=.?&"), method)


def _posted(dice: random.Random, lookups: Mapping[str, Any]) -> Asked:
    keys = ["batch", *(key for key, lookup in lookups.items() if lookup.post)]
    lookup = dice.choice([one for one in lookups.values() if not one.post])
    given = dict(pair.split("=", 1) for pair in lookup.example.split("&") if pair)
    values = [dice.choice((1, 2.5, 8, -1, 0, 1e308, None, "x", True, [], {})) for _ in range(dice.randrange(6))]
    bodies: tuple[Any, ...] = (
        {
            "lookup": lookup.key,
            "given": given,
            "columns": {dice.choice(("gap", "voltage", "pressure")): {"unit": "mm", "values": values}},
        },
        {
            "lookup": dice.choice(("gap", "breakdown", "clearance", 3, None)),
            "given": dice.choice(({}, [], given)),
            "columns": {},
        },
        [],
        None,
        "text",
        {"": {"": [{}]}},
        {"readings": values, "sphere_diameter": "2cm", "waveform": "dc"},
        {"electrodes": values, "symmetry": dice.choice(("axis", "section", 1))},
    )
    text = (
        json.dumps(dice.choice(bodies))
        if dice.random() < 0.9
        else dice.choice(("{", "[" * 5000, '{"a":1e999}', '{"a":1,"a":2}'))
    )
    kind = dice.choice(("application/json", "application/json", "text/csv", "text/plain", ""))
    return Asked(f"/v1/{dice.choice(keys)}", "POST", {"Content-Type": kind} if kind else {}, text.encode())


def broken(asked: Asked, response: Any, seconds: float) -> Iterator[str]:
    """Yield every promise that an answer breaks."""
    status, kind = response.status_code, response.mimetype
    if status not in STATUSES:
        yield f"status {status}"
        return
    if seconds > (SLOW_PICTURE if kind == "image/png" else SLOW):
        yield f"{seconds:.1f} s of processor time"
    if asked.method == "HEAD" or status == 304:
        return
    if status >= 400:
        yield from _refusal(response, kind)
        return
    if kind == "application/json" and asked.address.startswith("/v1/"):
        document = json.loads(response.data, parse_constant=no_constant)
        yield from numbers(document)
    elif kind in ("text/plain", "text/markdown", "text/csv", "text/html", "image/svg+xml"):
        found = BAD_WORD.search(response.get_data(as_text=True))
        if found and asked.address.startswith("/v1/") and "agreement" not in asked.address:
            yield f"the word {found[0]}"


def no_constant(word: str) -> float:
    """Return what no JSON of ours may hold, as a number that is not finite."""
    return float(word.replace("Infinity", "inf"))


def _refusal(response: Any, kind: str) -> Iterator[str]:
    if kind == "text/html":
        return
    if kind != "application/problem+json":
        yield f"a refusal of type {kind}"
        return
    problem = json.loads(response.data)
    if not {"type", "title", "status", "detail", "errors"} <= set(problem) or problem["status"] != response.status_code:
        yield "a problem without its members"
    if "<" in response.get_data(as_text=True):
        yield "markup in a problem"
    if response.headers.get("Cache-Control") != "no-store":
        yield "a refusal that may be stored"
    for error in problem["errors"]:
        valid = error.get("valid", {})
        ends = [valid[end]["value"] if isinstance(valid.get(end), dict) else valid.get(end) for end in ("low", "high")]
        if None not in ends and ends[0] > ends[1]:
            yield "an empty valid range"
    if len(response.data) > 100_000:
        yield "a refusal without end"


def numbers(value: Any, place: str = "") -> Iterator[str]:
    """Yield every number of a document that is not finite, and every band that is not in order."""
    if isinstance(value, float) and not math.isfinite(value):
        yield f"{place} is not finite"
    elif isinstance(value, list):
        for one in value:
            yield from numbers(one, place)
    elif isinstance(value, dict):
        ends = [value.get(name) for name in ("low", "value", "high")]
        if "unit" in value and all(one is None or isinstance(one, int | float) for one in ends):
            known = [one for one in ends if one is not None]
            if any(first > second * (1 + 1e-9) + 1e-300 for first, second in itertools.pairwise(known)):
                yield f"{place} has its band out of order"
        for below, above in (("sparks_below", "holds_above"), ("withstand_estimate", "breakdown_voltage")):
            first, second = (_low(value.get(name)) for name in (below, above))
            if first is not None and second is not None and first > second * (1 + 1e-9):
                yield f"{place} has {below} above {above}"
        for name, one in value.items():
            yield from numbers(one, f"{place}.{name}")


def _low(value: Any) -> float | None:
    if isinstance(value, dict):
        value = next((value[name] for name in ("low", "value", "high") if value.get(name) is not None), None)
    return float(value) if isinstance(value, int | float) else None


def run(seed: int, first: int, count: int) -> tuple[Counter[str], list[str], list[float]]:
    """Ask a part of the questions of a seed, and return statuses, broken promises, and seconds of the slowest."""
    warnings.simplefilter("error")
    client = WORKER.get("client")
    if client is None:
        client = WORKER["client"] = create_app().test_client()
    lookups = client.application.extensions["workshop"].lookups
    counts: Counter[str] = Counter()
    faults: list[str] = []
    times: list[float] = []
    for number in range(first, first + count):
        asked = question(random.Random(f"{seed}:{number}"), lookups)
        started = time.process_time()
        try:
            response = client.open(asked.address, method=asked.method, headers=dict(asked.headers), data=asked.body)
            seconds = time.process_time() - started
            counts[str(response.status_code)] += 1
            times.append(seconds)
            found = [
                f"{seed}:{number} {why}: {asked.method} {asked.address[:300]}"
                for why in broken(asked, response, seconds)
            ]
        except Exception as error:  # noqa: BLE001  # whatever escapes is a broken promise
            body = f"{asked.body[:200]!r}"
            found = [f"{seed}:{number} {type(error).__name__} {error}: {asked.method} {asked.address[:300]} {body}"]
        faults += found
    return counts, faults, sorted(times)[-5:]


WORKER: dict[str, Any] = {}


def main(arguments: list[str] | None = None) -> int:
    """Ask, print a table, and return 1 where a promise was broken."""
    parser = argparse.ArgumentParser(prog="python -m tests.campaign", description=__doc__)
    parser.add_argument("--questions", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--state", type=Path, help="file that remembers where it is")
    parser.add_argument("--again", help="SEED:NUMBER of one question")
    given = parser.parse_args(arguments)
    if given.again:
        seed, number = map(int, given.again.split(":"))
        client = create_app().test_client()
        print(question(random.Random(f"{seed}:{number}"), client.application.extensions["workshop"].lookups))
        print(run(seed, number, 1))
        return 0
    state = {"done": [], "counts": {}, "faults": [], "slowest": []}
    if given.state and given.state.exists():
        state = json.loads(given.state.read_text(encoding="utf-8"))
    parts = [first for first in range(0, given.questions, PART) if first not in state["done"]]
    with multiprocessing.Pool(given.workers) as pool:
        asked = [(given.seed, first, min(PART, given.questions - first)) for first in parts]
        for first, (counts, faults, slowest) in zip(parts, pool.imap(_run, asked), strict=True):
            state["done"].append(first)
            state["counts"] = dict(Counter(state["counts"]) + counts)
            state["faults"] += faults
            state["slowest"] = sorted([*state["slowest"], *slowest])[-5:]
            if given.state:
                given.state.write_text(json.dumps(state), encoding="utf-8")
    _print(state)
    return 1 if state["faults"] else 0


def _run(asked: tuple[int, int, int]) -> tuple[Counter[str], list[str], list[float]]:
    return run(*asked)


def _print(state: Mapping[str, Any]) -> None:
    print(f"{sum(state['counts'].values())} questions")
    for status, count in sorted(state["counts"].items()):
        print(f"  {status}  {count}")
    print(f"slowest [s]: {', '.join(f'{seconds:.2f}' for seconds in state['slowest'])}")
    print(f"memory of a process [MiB]: {resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024:.0f}")
    print(f"broken promises: {len(state['faults'])}")
    for fault in state["faults"][:50]:
        print(f"  {fault}")


if __name__ == "__main__":
    sys.exit(main())
