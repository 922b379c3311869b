"""How long a cheap question takes while eight batches of 10^5 points are asked all the time, over HTTP.

``python -m pytest -q -s tests/benchmarks/beside_batches.py``; not part of the normal run. The server is gunicorn with
the settings of the README, its clients are processes of their own on the same machine. Times are those of a clock, so
the load of the machine is told beside them, and the question alone, without batches, before them.
"""

from __future__ import annotations

import json
import multiprocessing
import os
import re
import statistics
import subprocess
import sys
import time
from http.client import HTTPConnection
from pathlib import Path

import numpy as np
import pytest

pytestmark = pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning", "ignore::ResourceWarning")

ROOT = Path(__file__).parents[2]
SECONDS, SIZE, BATCHES = 12.0, 100_000, 8
WANTED = 0.1
"""Time within which 99 of 100 cheap questions are answered [s]."""
CHEAP = "/v1/breakdown?electrodes=uniform-field&gap={:.6g}mm"
ASKED = [  # lookup, given, column, unit, lowest, highest
    ("breakdown", {"electrodes": "uniform-field"}, "gap", "mm", 0.1, 900),
    ("breakdown", {"electrodes": "sphere-gap", "sphere_diameter": "25cm"}, "gap", "mm", 12, 120),
    ("breakdown", {"electrodes": "coaxial-cylinders", "inner_diameter": "10mm"}, "outer_diameter", "mm", 14, 30),
    ("gap", {"electrodes": "uniform-field"}, "voltage", "kV", 3, 900),
]
KEPT = Path(__file__).with_name("beside_batches.json")


def body(lookup, given, column, unit, low, high):
    values = np.geomspace(low, high, SIZE).tolist()
    return json.dumps(
        {"lookup": lookup, "given": given, "columns": {column: {"unit": unit, "values": values}}}
    ).encode()


def ask_batches(port, number, until, counted):
    """Ask one batch after another."""
    sent, done = body(*ASKED[number % len(ASKED)]), 0
    while time.time() < until:
        connection = HTTPConnection("127.0.0.1", port, timeout=120)
        connection.request("POST", "/v1/batch", sent, {"Content-Type": "application/json"})
        answer = connection.getresponse()
        while answer.read(1 << 20):
            pass
        if answer.status == 200:
            done += 1
        else:  # the others take too long for all to have their turn
            time.sleep(float(answer.headers["Retry-After"]))
    counted.put(done)


def ask_cheaply(port, until):
    """Return the times of cheap questions, each different and on a connection of its own [s]."""
    times = []
    while time.time() < until:
        gap = 2 + 40 * (len(times) * 0.6180339887498949 % 1)
        began = time.perf_counter()
        connection = HTTPConnection("127.0.0.1", port, timeout=120)
        connection.request("GET", CHEAP.format(gap))
        assert connection.getresponse().read()
        times.append(time.perf_counter() - began)
        connection.close()
        time.sleep(0.01)
    return times


@pytest.fixture
def port(tmp_path):
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    settings = re.search(r"<!-- file: gunicorn.conf.py -->\n```python\n(.*?)```", readme, re.DOTALL)
    assert settings is not None
    port, file = 18_700 + os.getpid() % 200, tmp_path / "gunicorn.conf.py"
    file.write_text(settings[1].replace(":8000", f":{port}"))
    environment = {**os.environ, "OPENBLAS_NUM_THREADS": "1"}
    command = [sys.executable, "-m", "gunicorn", "-c", str(file), "service.web:create_app()"]
    with subprocess.Popen(command, cwd=ROOT, env=environment, stderr=subprocess.DEVNULL) as server:
        for _ in range(300):
            try:
                connection = HTTPConnection("127.0.0.1", port, timeout=5)
                connection.request("GET", CHEAP.format(8))
                assert connection.getresponse().status == 200
                break
            except OSError:
                time.sleep(0.1)
        yield port
        server.terminate()


def told(times):
    ordered = sorted(times)
    return {
        "asked": len(times),
        "p50_ms": round(statistics.median(times) * 1e3, 1),
        "p99_ms": round(ordered[int(0.99 * (len(ordered) - 1))] * 1e3, 1),
        "most_ms": round(ordered[-1] * 1e3, 1),
        "load": round(os.getloadavg()[0], 1),
    }


def test_a_cheap_question_beside_eight_batches(port):
    alone = told(ask_cheaply(port, time.time() + SECONDS / 2))
    counted: multiprocessing.Queue[int] = multiprocessing.Queue()
    until = time.time() + SECONDS
    clients = [multiprocessing.Process(target=ask_batches, args=(port, n, until, counted)) for n in range(BATCHES)]
    for one in clients:
        one.start()
    time.sleep(1.0)
    beside = told(ask_cheaply(port, until))
    for one in clients:
        one.join()
    beside["batches"] = sum(counted.get(timeout=1) for _ in clients)
    KEPT.write_text(json.dumps({"alone": alone, "beside": beside}, indent=1) + "\n")
    sys.stdout.write(f"\nalone {alone}\nbeside {BATCHES} batches of {SIZE} {beside}\n")
    assert beside["p99_ms"] <= WANTED * 1e3
