"""The files of the README's chapter on deployment, run as they stand: workers, a worker killed, a reload, the proxy."""

from __future__ import annotations

import os
import signal
import threading
import time

import pytest
import requests

from tests import load
from tests.deployment import GUNICORN, NGINX, children, proxy_in, workers_in

QUESTION = "/v1/breakdown?gap=8mm&electrodes=uniform-field"
CLIENTS = 4

if not GUNICORN.exists() and not os.environ.get("CI"):
    pytest.skip("gunicorn is not installed", allow_module_level=True)

pytestmark = pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")


@pytest.fixture(scope="module")
def workers(tmp_path_factory):
    with workers_in(tmp_path_factory.mktemp("gunicorn")) as started:
        yield started


@pytest.fixture(scope="module")
def proxy(workers, tmp_path_factory):
    assert NGINX is not None or not os.environ.get("CI"), "nginx is not installed, and CI is set"
    if NGINX is None:
        pytest.skip("nginx is not installed")
    with proxy_in(tmp_path_factory.mktemp("nginx"), workers[0]) as address:
        yield address


def asked_meanwhile(base, act, seconds=3.0):
    """Return the statuses of questions asked one after another while something happens to the service."""
    statuses: list[object] = []
    stop = threading.Event()

    def ask():
        number = 0
        while not stop.is_set():
            number += 1
            try:
                address = f"{base}/v1/breakdown?gap={8 + number / 1000}mm&electrodes=uniform-field"
                statuses.append(requests.get(address, timeout=20).status_code)
            except requests.RequestException as error:
                statuses.append(repr(error))

    asking = [threading.Thread(target=ask) for _ in range(CLIENTS)]
    for one in asking:
        one.start()
    time.sleep(0.5)
    act()
    time.sleep(seconds)
    stop.set()
    for one in asking:
        one.join(timeout=30)
    return statuses


def test_a_worker_killed_under_load_fails_no_answer_behind_the_proxy(workers, proxy):
    _, process = workers
    statuses = asked_meanwhile(proxy, lambda: os.kill(children(process.pid)[0], signal.SIGKILL))
    # what a proxy had begun to pass on when the worker was killed cannot be asked again; one a client at the most
    cut = [one for one in statuses if "prematurely" in str(one)]
    assert len(cut) <= CLIENTS
    assert {one for one in statuses if one not in cut} == {200}


def test_a_reload_under_load_fails_no_answer_behind_the_proxy(workers, proxy):
    _, process = workers
    statuses = asked_meanwhile(proxy, lambda: process.send_signal(signal.SIGHUP))
    assert set(statuses) == {200}


def test_the_proxy_keeps_compresses_and_confirms(proxy):
    first = requests.get(proxy + QUESTION, headers={"Accept-Encoding": "gzip"}, timeout=10)
    assert first.headers["Content-Encoding"] == "gzip"
    tag = first.headers["ETag"]
    assert requests.get(proxy + QUESTION, headers={"If-None-Match": tag}, timeout=10).status_code == 304
    assert requests.get(proxy + QUESTION, headers={"Accept": "text/html"}, timeout=10).text.startswith("<!doctype")
    assert requests.get(proxy + QUESTION, timeout=10).json()["lookup"] == "breakdown"


def test_a_forged_host_reaches_no_link_of_others(proxy):
    forged = {"Host": "evil.example", "X-Forwarded-Host": "evil.example", "X-Forwarded-Proto": "javascript"}
    address = f"{proxy}/oembed?url={QUESTION.replace('&', '%26')}"
    assert "evil" not in requests.get(address, headers=forged, timeout=10).text
    assert "hv.example.org" in requests.get(address, timeout=10).text


def test_a_cheap_question_is_answered_beside_a_dear_one(workers):
    base = f"http://127.0.0.1:{workers[0]}"
    values = [1 + i / 1e4 for i in range(20_000)]
    body = {"lookup": "breakdown", "given": {"electrodes": "wire-plane", "wire_diameter": "1mm"}}
    body["columns"] = {"gap": {"unit": "mm", "values": values}}
    dear = threading.Thread(target=lambda: requests.post(f"{base}/v1/batch", json=body, timeout=60))
    dear.start()
    assert requests.get(base + QUESTION, timeout=5).status_code == 200
    dear.join(timeout=60)


def test_a_mix_of_questions_is_answered_while_workers_come_and_go():
    """``python -m tests.load`` for a few seconds; the thirty minutes are asked by command."""
    if NGINX is None:
        pytest.skip("nginx is not installed")
    minutes = load.run(3, 5, length=2.5).minutes
    assert [why for one in minutes for why in one.failures] == []
    assert sum(one.cut for one in minutes) <= load.CLIENTS
    assert all(one.times and one.memory for one in minutes[:3])


def test_growth_is_told_from_what_comes_and_goes():
    def grew(*sizes):
        after = [load.Minute(memory=[100.0, size]) for size in sizes]
        return load.grown([load.Minute(event="all are reloaded", memory=[900.0]), *after])

    assert not grew(120, 140, 150, 149, 150, 148)
    assert grew(120, 140, 160, 180, 200, 220)
