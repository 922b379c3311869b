"""The deployment of the README under load, minute by minute.

``python -m tests.load --minutes 30`` starts gunicorn and nginx from the blocks of the README, asks a mix of questions
with sixteen clients that keep their connections, kills a worker after a third of the time and reloads all of them after
two thirds, and prints a table: answers, failures, median and 99th percentile of the time, and memory of the workers. It
ends with 1 where an answer failed, or where a worker's memory went on growing.
"""

from __future__ import annotations

import argparse
import http.client
import json
import os
import random
import signal
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from tests.deployment import children, proxy_in, workers_in

CLIENTS = 16
FRESH = 0.3
"""Share of the questions that nobody asked before, so that no cache holds their answer."""
MOST_GROWTH, SPARE = 1.10, 15.0
"""How much a worker's memory may still grow in the last half of its life, as a factor, and what is no growth [MiB]."""

QUESTIONS = (
    "/v1/breakdown{form}?gap={x}mm&electrodes=uniform-field",
    "/v1/breakdown{form}?gap={x}mm&electrodes=needle-gap",
    "/v1/breakdown{form}?gap={x}mm&electrodes=sphere-gap&sphere_diameter=5cm&pressure=98kPa",
    "/v1/breakdown{form}?gap={x}mm&electrodes=wire-plane&wire_diameter=1mm",
    "/v1/breakdown{form}?gap={x}mm",
    "/v1/gap{form}?voltage={x}kV",
    "/v1/gap{form}?voltage={x}kV&electrodes=sphere-gap&sphere_diameter=2cm",
    "/v1/pressure{form}?voltage={x}kV&gap=10mm&electrodes=uniform-field",
    "/v1/paschen{form}?gas=argon,helium",
    "/v1/spark{form}?length={x}mm&claimed_voltage=12kV",
    "/v1/source-check{form}?input_voltage=24V&input_current=2.{n}A&output_voltage=12kV&output_current=3mA",
    "/v1/sphere-gaps{form}?voltage={x}kV",
    "/v1/switch-on-sheet{form}?voltage={x}kV&capacitance=10nF&bleed_resistance=100Mohm",
    "/v1/hazard{form}?voltage={x}kV&capacitance=4.4nF",
    "/v1/clearance{form}?impulse_voltage={x}kV&pollution_degree=2&insulation=basic",
    "/v1/creepage{form}?working_voltage=25{n}V&pollution_degree=2&insulation=basic&material_group=II",
    "/v1/conductor-spacing{form}?voltage={x}kV&place=external-uncoated",
    "/v1/insulation-stress{form}?voltage={x}kV&thickness=0.8mm&material=polyethylene",
    "/v1/probe-plan{form}?voltage_from=8kV&voltage_to=2{n}kV&sphere_diameter=2cm",
    "/v1/protective-gap{form}?hold={x}kV&fire_below=60kV",
    "/v1/approach{form}?nominal_voltage=13.8kV",
    "/v1/breakdown{form}?gap={x}",
    "/v1/breakdown{form}?gap={x}mm&electrodes=uniform-field&pressure=5.8Pa",
    "/?lookup=gap&voltage={x}kV",
    "/docs",
    "/v1/gases",
    "/v1/tables/iec-60052-table-2.csv",
    "/openapi.yaml",
    "/health/ready",
)
"""The mix; ``{x}`` and ``{n}`` make a question another one, the form is drawn."""
MOST_DEAR = 5
"""Questions that took longest, kept of each minute."""
CHEAP = "/v1/breakdown"
"""How the address of a question begins that costs little."""
PNG = ".png"
FORMS = ("", "", "", "", ".json", ".txt", ".csv", ".md", ".html", ".svg")
PICTURE, BATCH = 0.02, 0.02
"""Shares of PNG pictures and of batches."""
REFUSED = frozenset({400, 422})
"""What a question that cannot be answered is refused with; the mix holds some."""
BUSY = 503
"""A batch or a picture that waits for its turn too long is told to come again; that is no failure."""


@dataclass
class Minute:
    """What a minute brought.

    Parameters
    ----------
    times, cheap : list of float
        Of each answer [s]; of those to questions that cost little.
    dear : list of (float, str)
        Of the answers that took longest [s], with their questions.
    failures : list of str
        Of each that is none.
    cut, busy : int
        Answers cut off with their worker; batches and pictures that were told to come again.
    memory : list of float
        Of each worker [MiB].
    drawing : float
        Of the processes that draw [MiB].
    event : str
    """

    times: list[float] = field(default_factory=list)
    cheap: list[float] = field(default_factory=list)
    dear: list[tuple[float, str]] = field(default_factory=list)
    failures: list[str] = field(default_factory=list)
    cut: int = 0
    busy: int = 0
    memory: list[float] = field(default_factory=list)
    drawing: float = 0.0
    event: str = ""


def requests_of(dice: random.Random) -> Iterator[tuple[str, str, bytes]]:
    """Yield method, address and body of one request after another, without end."""
    while True:
        roll = dice.random()
        if roll < BATCH:
            values = [dice.uniform(1, 60) for _ in range(dice.choice((10, 100, 1000)))]
            body = {"lookup": "breakdown", "given": {"electrodes": "sphere-gap", "sphere_diameter": "10cm"}}
            yield (
                "POST",
                "/v1/batch",
                json.dumps({**body, "columns": {"gap": {"unit": "mm", "values": values}}}).encode(),
            )
            continue
        fresh = dice.random() < FRESH
        x = dice.uniform(2, 30) if fresh else dice.choice((3, 8, 12, 20))
        form = PNG if roll < BATCH + PICTURE else dice.choice(FORMS)
        n = dice.randrange(10) if fresh else 4
        yield "GET", dice.choice(QUESTIONS).format(form=form, x=f"{x:.6g}", n=n), b""


class Client(threading.Thread):
    """A client that keeps its connection, and asks until it is told to stop."""

    def __init__(self, address: str, seed: int, clock: Clock) -> None:
        super().__init__(daemon=True)
        self.host, self.clock = address.removeprefix("http://"), clock
        self.asked = requests_of(random.Random(seed))
        self.connection = self._connected()

    def _connected(self) -> http.client.HTTPConnection:
        return http.client.HTTPConnection(self.host, timeout=90)

    def run(self) -> None:
        """Ask."""
        for method, address, body in self.asked:
            if self.clock.stopped.is_set():
                return
            headers = {"Content-Type": "application/json"} if body else {}
            started = time.perf_counter()
            try:
                self.connection.request(method, address, body or None, headers)
                response = self.connection.getresponse()
                status, whole = response.status, response.read()
            except http.client.IncompleteRead:
                self.clock.cut()
                self.connection = self._connected()
                continue
            except (http.client.HTTPException, OSError) as error:
                self.clock.failed(f"{type(error).__name__} {error} {method} {address}")
                self.connection = self._connected()
                continue
            if status == BUSY and (address == "/v1/batch" or PNG in address):
                self.clock.busy()
            elif status == 200 or status in REFUSED:
                self.clock.answered(time.perf_counter() - started, address)
            else:
                self.clock.failed(f"{status} {method} {address} {whole[:200]!r}")


class Clock:
    """Minutes that clients write into."""

    def __init__(self) -> None:
        self.minutes = [Minute()]
        self.stopped = threading.Event()
        self.lock = threading.Lock()

    def answered(self, seconds: float, address: str) -> None:
        """Note an answer."""
        with self.lock:
            minute = self.minutes[-1]
            minute.times.append(seconds)
            minute.dear = sorted([*minute.dear, (seconds, address)])[-MOST_DEAR:]
            if address.startswith(CHEAP) and PNG not in address:
                minute.cheap.append(seconds)

    def failed(self, why: str) -> None:
        """Note a failure."""
        with self.lock:
            self.minutes[-1].failures.append(why)

    def cut(self) -> None:
        """Note an answer that was cut off with its worker."""
        with self.lock:
            self.minutes[-1].cut += 1

    def busy(self) -> None:
        """Note a batch or a picture that was told to come again."""
        with self.lock:
            self.minutes[-1].busy += 1

    def next(self) -> Minute:
        """Begin another minute, and return the one that is over."""
        with self.lock:
            self.minutes.append(Minute())
            return self.minutes[-2]


def resident(number: int) -> float:
    """Return the resident memory of a process [MiB]; nought where it is gone."""
    try:
        pages = int(Path(f"/proc/{number}/statm").read_text(encoding="utf-8").split()[1])
    except (FileNotFoundError, ProcessLookupError):
        return 0.0
    return pages * os.sysconf("SC_PAGE_SIZE") / 2**20


def run(minutes: int, seed: int, length: float = 60.0) -> Clock:
    """Ask for some minutes, with a worker killed and all of them reloaded meanwhile.

    Parameters
    ----------
    minutes, seed : int
    length : float
        Of a minute [s].
    """
    with tempfile.TemporaryDirectory() as name:
        for part in ("workers", "proxy"):
            (Path(name) / part).mkdir()
        with workers_in(Path(name) / "workers") as (port, process), proxy_in(Path(name) / "proxy", port) as address:
            clock = Clock()
            clients = [Client(address, seed + number, clock) for number in range(CLIENTS)]
            for one in clients:
                one.start()
            print(HEADS, flush=True)
            for number in range(minutes):
                event = {minutes // 3: "a worker is killed", 2 * minutes // 3: "all are reloaded"}.get(number, "")
                if event and number:
                    time.sleep(length / 4)
                    if "killed" in event:
                        os.kill(children(process.pid)[0], signal.SIGKILL)
                    else:
                        process.send_signal(signal.SIGHUP)
                    time.sleep(length * 3 / 4)
                else:
                    time.sleep(length)
                over = clock.next()
                over.event = event if number else ""
                workers = children(process.pid)
                over.memory = sorted(resident(one) for one in workers)
                over.drawing = sum(resident(other) for one in workers for other in children(one))
                _print(number + 1, over)
            clock.stopped.set()
            for one in clients:
                one.join(timeout=100)
    return clock


HEADS = "minute  answers  failed  cut  busy  p50 [ms]  p99 [ms]  cheap p99  slowest  workers [MiB]  drawing  event"


def _print(number: int, minute: Minute) -> None:
    p50, p99, slowest = (_share(minute.times, share) for share in (0.5, 0.99, 1.0))
    memory = " + ".join(f"{one:.0f}" for one in minute.memory)
    counts = f"{len(minute.times):8} {len(minute.failures):7} {minute.cut:4} {minute.busy:5}"
    times = f"{p50:9.1f} {p99:9.1f} {_share(minute.cheap, 0.99):10.1f} {slowest:8.0f}"
    print(f"{number:6} {counts} {times}  {memory:13}  {minute.drawing:7.0f}  {minute.event}", flush=True)


def _share(times: list[float], share: float) -> float:
    """Return the time below which a share of the answers came [ms]."""
    known = sorted(times) or [float("nan")]
    return 1e3 * known[min(int(share * len(known)), len(known) - 1)]


def grown(minutes: list[Minute]) -> bool:
    """Return whether the largest worker went on growing after the reload, from one half of that time to the other."""
    since = next((place for place, one in enumerate(minutes) if "reloaded" in one.event), 0)
    sizes = [max(one.memory) for one in minutes[since + 1 :] if one.memory]
    half = len(sizes) // 2
    if half < 2:
        return False
    before, after = (sum(some) / len(some) for some in (sizes[:half], sizes[half:]))
    return after > before * MOST_GROWTH + SPARE


def main(arguments: list[str] | None = None) -> int:
    """Ask, print the table, and return 1 where an answer failed or memory grew."""
    parser = argparse.ArgumentParser(prog="python -m tests.load", description=__doc__)
    parser.add_argument("--minutes", type=int, default=30)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args(arguments)
    minutes = run(given.minutes, given.seed).minutes[: given.minutes]
    times, cheap = ([one for minute in minutes for one in getattr(minute, name)] for name in ("times", "cheap"))
    failures = Counter(why for one in minutes for why in one.failures)
    cut = sum(one.cut for one in minutes)
    print(f"{len(times)} answers: p50 {_share(times, 0.5):.1f} ms, p99 {_share(times, 0.99):.1f} ms")
    print(f"{len(cheap)} of them cheap: p50 {_share(cheap, 0.5):.1f} ms, p99 {_share(cheap, 0.99):.1f} ms")
    for seconds, address in sorted(one for minute in minutes for one in minute.dear)[: -MOST_DEAR - 1 : -1]:
        print(f"  {seconds:6.1f} s {address}")
    print(f"failed: {failures.total()}, cut off with their worker: {cut}")
    for why, count in failures.most_common(20):
        print(f"  {count} {why[:300]}")
    grew = grown(minutes)
    print(f"memory {'grew' if grew else 'did not grow'} after the reload")
    return 1 if failures or cut > CLIENTS or grew else 0


if __name__ == "__main__":
    sys.exit(main())
