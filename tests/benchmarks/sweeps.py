"""Sweeps: what a point costs from 10^2 to 10^7 of them, the memory that takes, and 10^7 points in parallel.

``python -m pytest -q -s tests/benchmarks/sweeps.py``; not part of the normal run; it takes some minutes. Costs are
processor time of the whole process, over WSGI, as Arrow streams both ways. The sweeps in parallel are those of Dask, in
processes with the physics in each and over HTTP; without Dask they are left out.
"""

from __future__ import annotations

import io
import json
import os
import subprocess
import sys
import threading
import time
from http.client import HTTPConnection
from pathlib import Path

import numpy as np
import pytest
from werkzeug.test import EnvironBuilder

from service.lookups import batch
from service.web import create_app
from tests.asking import SHIPPED

pa = pytest.importorskip("pyarrow", reason="the extra 'arrow' is not installed")

ROOT = Path(__file__).parents[2]
ARROW = "application/vnd.apache.arrow.stream"
SIZES = [10**n for n in range(2, 8)]
SWEPT, CHUNK = 10**7, 10**6
ASKED = {  # lookup, given, column, unit, lowest, highest
    "uniform": ("breakdown", {"electrodes": "uniform-field"}, "gap", "mm", 0.1, 900),
    "spheres": ("breakdown", {"electrodes": "sphere-gap", "sphere_diameter": "25cm"}, "gap", "mm", 12, 120),
    "criterion": (
        "breakdown", {"electrodes": "coaxial-cylinders", "inner_diameter": "10mm"}, "outer_diameter", "mm", 14, 30,
    ),
    "clearance": (
        "clearance", {"pollution_degree": "2", "insulation": "basic"}, "impulse_voltage", "V", 400, 12000,
    ),
    "inverse": ("gap", {"electrodes": "uniform-field"}, "voltage", "kV", 3, 900),
}  # fmt: skip
FLAT = 1.5
"""Most that a point may cost at 10^7 points, over what it costs at 10^5, less what a batch costs at all."""
MOST_MEMORY = 64
"""Most memory that 10^7 points may take beside what the process has [MiB]; pages of files that are mapped apart."""
KEPT = Path(__file__).with_name("sweeps.json")


def keep(name, found):
    known = json.loads(KEPT.read_text()) if KEPT.exists() else {}
    KEPT.write_text(json.dumps(known | {name: found}, indent=1) + "\n")
    sys.stdout.write(f"\n{name}: {found}\n")


def values(kind, start, stop):
    """Return points between lowest and highest, in no order."""
    *_, low, high = ASKED[kind]
    return low + (high - low) * (np.arange(start, stop) * 0.6180339887498949 % 1)


def written(kind, start, stop, sink):
    """Write points as an Arrow stream."""
    lookup, given, name, unit, *_ = ASKED[kind]
    question = {"question": json.dumps({"lookup": lookup, "given": given})}
    schema = pa.schema([pa.field(name, pa.float64(), metadata={"unit": unit})], metadata=question)
    with pa.ipc.new_stream(sink, schema) as stream:
        for first in range(start, stop, CHUNK):
            some = pa.array(values(kind, first, min(first + CHUNK, stop)))
            stream.write_batch(pa.record_batch([some], schema=schema))


@pytest.fixture(scope="module")
def app():
    return create_app()


def ask(app, body):
    """Ask and throw the answer away as it comes; return how much it was."""
    size = body.seek(0, io.SEEK_END)
    body.seek(0)
    environment = EnvironBuilder(
        method="POST", path="/v1/batch", input_stream=body, content_length=size, content_type=ARROW,
        headers={"Accept": ARROW},
    ).get_environ()  # fmt: skip
    statuses = []
    told = sum(map(len, app.wsgi_app(environment, lambda status, headers, *error: statuses.append(status))))
    assert statuses == ["200 OK"]
    return told


def memory():
    """Return the memory that belongs to this process alone [MiB]."""
    status = dict(line.split(":", 1) for line in Path("/proc/self/status").read_text().splitlines())
    return int(status["RssAnon"].split()[0]) / 1024


@pytest.mark.parametrize("kind", ASKED)
def test_what_a_point_costs(kind, app, tmp_path):
    costs, most = {}, 0.0
    for size in [2, *SIZES]:
        with (tmp_path / "body").open("w+b") as body:
            written(kind, 0, size, body)
            body.flush()
            times = []
            for _ in range(1 if size > 10**5 else 5):
                stop, seen, before = threading.Event(), [0.0], memory()
                watch = threading.Thread(target=watched, args=(stop, seen))
                watch.start()
                began = time.process_time()
                ask(app, body)
                times.append(time.process_time() - began)
                stop.set()
                watch.join()
                most = max(most, seen[0] - before) if size == SIZES[-1] else most
            costs[size] = min(times)
    fixed = costs.pop(2)
    each = {f"10^{len(str(size)) - 1}": round((cost - fixed) / size * 1e6, 3) for size, cost in costs.items()}
    whole = {f"10^{len(str(size)) - 1}": round(cost / size * 1e6, 3) for size, cost in costs.items()}
    told = {"at all [ms]": round(fixed * 1e3, 1), "more a point [us]": each, "a point with it [us]": whole}
    keep(f"cost of {kind}", told | {"memory of 10^7 [MiB]": round(most)})
    assert each["10^7"] <= FLAT * each["10^5"]
    assert most <= MOST_MEMORY


def watched(stop, seen):
    while not stop.wait(0.02):
        seen[0] = max(seen[0], memory())


# --- in parallel ----------------------------------------------------------------------------------------------------


def swept(kind, start):
    """Return how many points of a chunk are answered, and the lowest and highest value of the first column."""
    lookup, given, name, unit, *_ = ASKED[kind]
    columns = {name: {"unit": unit, "values": values(kind, start, start + CHUNK)}}
    results = batch.answer({"lookup": lookup, "given": given, "columns": columns}, SHIPPED.found).results
    found = np.concatenate(list(next(iter(results["columns"].values()))["values"].pieces()))
    return int(np.isfinite(found).sum()), float(np.nanmin(found)), float(np.nanmax(found))


def swept_over_http(kind, start, port):
    """Return the same, asked as an Arrow stream."""
    body = io.BytesIO()
    written(kind, start, start + CHUNK, body)
    connection = HTTPConnection("127.0.0.1", port, timeout=300)
    connection.request("POST", "/v1/batch", body.getvalue(), {"Content-Type": ARROW, "Accept": ARROW})
    answer = connection.getresponse()
    assert answer.status == 200
    found = pa.ipc.open_stream(answer).read_all().column(0).to_numpy()
    connection.close()
    return int(np.isfinite(found).sum()), float(np.nanmin(found)), float(np.nanmax(found))


@pytest.fixture(scope="module")
def port():
    port = 18_900 + os.getpid() % 90
    command = [sys.executable, "-m", "gunicorn", "-b", f"127.0.0.1:{port}", "-w", "2", "--threads", "4", "-t", "120"]
    environment = {**os.environ, "OPENBLAS_NUM_THREADS": "1"}
    with subprocess.Popen(
        [*command, "service.web:create_app()"], cwd=ROOT, env=environment, stderr=subprocess.DEVNULL
    ) as server:
        for _ in range(300):
            try:
                HTTPConnection("127.0.0.1", port, timeout=5).connect()
                break
            except OSError:
                time.sleep(0.1)
        yield port
        server.terminate()


@pytest.mark.filterwarnings("ignore::ResourceWarning", "ignore::pytest.PytestUnraisableExceptionWarning")
@pytest.mark.parametrize("way", ["in processes", "over HTTP"])
def test_a_sweep_in_parallel(way, request):
    dask = pytest.importorskip("dask", reason="Dask is not installed: python -m pip install dask")
    kind, starts = "spheres", range(0, SWEPT, CHUNK)
    if way == "over HTTP":
        port = request.getfixturevalue("port")
        tasks, scheduler = [dask.delayed(swept_over_http)(kind, start, port) for start in starts], "threads"
    else:
        tasks, scheduler = [dask.delayed(swept)(kind, start) for start in starts], "processes"
    began = time.perf_counter()
    found = dask.compute(*tasks, scheduler=scheduler, num_workers=2)
    seconds = time.perf_counter() - began
    load = round(os.getloadavg()[0], 1)
    keep(f"10^7 spheres {way}", {"seconds": round(seconds, 1), "points a second": round(SWEPT / seconds), "load": load})
    assert sum(answered for answered, _, _ in found) == SWEPT
    # IEC 60052 Table 2 (from memory), spheres of 25 cm: 37.4 kV at 1.2 cm, 275 kV at 12 cm
    assert min(low for _, low, _ in found) == pytest.approx(37.4, rel=1e-3)
    assert max(high for _, _, high in found) == pytest.approx(275, rel=1e-3)
