"""How the service is run: settings, stopping, listening, what it logs and counts, and what caches may keep."""

from __future__ import annotations

import contextlib
import json
import logging
import os
import re
import signal
import socket
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest
import requests

from service.errors import BadSetting, Busy
from service.render import png
from service.turns import Turns
from service.web import create_app
from service.web.responses import BytesCache

ROOT = Path(__file__).parents[2]
WAIT = 20.0
QUESTION = "/v1/breakdown?gap=8mm&electrodes=uniform-field"


def started(*arguments, **environment):
    command = [sys.executable, "-m", "service", *arguments]
    given = {**os.environ, **environment}
    return subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=given)


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("SERVICE_TRUSTED_PROXIES", "abc"),
        ("SERVICE_TRUSTED_PROXIES", "-1"),
        ("SERVICE_TRUSTED_PROXIES", "\u00b2"),
        ("SERVICE_PUBLIC_URL", "hv.example.org"),
        ("SERVICE_PUBLIC_URL", "javascript:alert(1)"),
        ("SERVICE_PUBLIC_URL", "https://a b"),
        ("SERVICE_PUBLIC_URL", "https://hv.example.org/?x"),
        ("SERVICE_PUBLIC_URL", "https://hv\n.example.org"),
        ("SERVICE_PUBLIC_URL", "https://[::1"),
        ("SERVICE_PUBLIC_URL", "https://hv.example.org:99999"),
        ("SERVICE_PUBLIC_URL", "https://."),
        ("SERVICE_PUBLIC_URL", "https://hv.example.org/a/../b"),
        ("SERVICE_FRAME_ANCESTORS", "'none' https://wiki.example.org"),
        ("SERVICE_FRAME_ANCESTORS", "x;script-src *"),
        ("SERVICE_FRAME_ANCESTORS", "https://wiki.example.org\n; x"),
        ("SERVICE_METRICS", "perhaps"),
        ("SERVICE_METRIC", "on"),
        ("SERVICE_TRUSTED_PROXY", "1"),
    ],
)
def test_a_setting_that_cannot_be_used_is_refused_at_start(name, text, monkeypatch):
    monkeypatch.setenv(name, text)
    with pytest.raises(BadSetting, match=name):
        create_app()


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("SERVICE_TRUSTED_PROXIES", ""),
        ("SERVICE_TRUSTED_PROXIES", "2"),
        ("SERVICE_PUBLIC_URL", "https://hv.example.org:8443/sparks/"),
        ("SERVICE_PUBLIC_URL", "http://[::1]:8000"),
        ("SERVICE_FRAME_ANCESTORS", "https://wiki.example.org  https://*.example.org:8443"),
        ("SERVICE_FRAME_ANCESTORS", "'self'"),
        ("SERVICE_FRAME_ANCESTORS", "'none'"),
    ],
)
def test_a_setting_that_can_be_used_is_taken(name, text):
    assert create_app({name: text}).test_client().get("/health/live").status_code == 200


def test_a_wrong_setting_is_one_line_and_status_two():
    with started("--port", "0", SERVICE_TRUSTED_PROXIES="abc") as process:
        out, errors = process.communicate(timeout=WAIT)
    assert (process.returncode, out, errors.count("\n")) == (2, "", 1)
    assert "SERVICE_TRUSTED_PROXIES" in errors


def test_a_port_in_use_is_one_line_and_status_two():
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        with started("--port", str(port)) as process:
            _, errors = process.communicate(timeout=WAIT)
    assert process.returncode == 2
    assert errors.count("\n") == 1
    assert f"port {port}" in errors


@pytest.mark.parametrize("port", ["70000", "-1", "x", "\u00b2", "\u0668\u0660"])
def test_a_port_that_is_none_is_refused(port):
    with started("--port", port) as process:
        _, errors = process.communicate(timeout=WAIT)
    assert process.returncode == 2
    assert "Traceback" not in errors


def test_a_file_that_cannot_be_written_is_told_in_one_line(tmp_path):
    command = [sys.executable, "-m", "service.web.openapi", str(tmp_path / "nowhere" / "openapi.yaml")]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False, timeout=WAIT)
    assert done.returncode == 2
    assert "cannot be written: No such file or directory" in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize(("host", "shown"), [("*", "127.0.0.1"), ("::1", "[::1]"), ("0.0.0.0", "127.0.0.1")])
def test_every_form_of_an_address_is_served_and_shown(host, shown):
    with started("--port", "0", "--host", host) as process:
        line = process.stdout.readline()
        process.send_signal(signal.SIGTERM)
        _, errors = process.communicate(timeout=WAIT)
    assert line.startswith(f"ready: curl 'http://{shown}:"), line + errors
    assert process.returncode == 0, errors


@pytest.mark.parametrize("ended", [signal.SIGTERM, signal.SIGHUP])
def test_what_is_in_flight_is_finished_at_a_signal(ended):
    body = {"lookup": "gap", "given": {"electrodes": "parallel-wires", "wire_diameter": "1mm"}}
    body["columns"] = {"voltage": {"unit": "kV", "values": [10 + i / 1000 for i in range(20000)]}}
    answers = []
    with started("--port", "0") as process:
        base = re.search(r"http://[^/]+", process.stdout.readline())[0]
        asking = threading.Thread(
            target=lambda: answers.append(requests.post(f"{base}/v1/batch", json=body, timeout=WAIT).status_code)
        )
        asking.start()
        time.sleep(0.2)
        process.send_signal(ended)
        asking.join(timeout=WAIT)
        _, errors = process.communicate(timeout=WAIT)
    assert answers == [200], errors
    assert process.returncode == 0


def test_a_server_whose_output_nobody_reads_serves_all_the_same():
    reader, writer = os.pipe()
    os.close(reader)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    command = [sys.executable, "-m", "service", "--port", str(port)]
    with subprocess.Popen(command, cwd=ROOT, stdout=writer, stderr=subprocess.DEVNULL) as process:
        os.close(writer)
        status = None
        deadline = time.monotonic() + WAIT
        while status is None and process.poll() is None and time.monotonic() < deadline:
            with contextlib.suppress(requests.ConnectionError):
                status = requests.get(f"http://127.0.0.1:{port}/health/live", timeout=WAIT).status_code
            time.sleep(0.05)
        process.send_signal(signal.SIGTERM)
        process.wait(timeout=WAIT)
    assert status == 200


def test_a_picture_for_which_there_is_no_room_is_asked_later(monkeypatch):
    def refused(*_arguments, **_named):
        raise OSError(24, "Too many open files")

    monkeypatch.setattr(png.subprocess, "Popen", refused)
    monkeypatch.setattr(png, "_PROCESS", png._Process())
    response = create_app().test_client().get("/v1/breakdown.png?gap=8.125mm")
    assert response.status_code == 503
    assert response.headers["Retry-After"]
    assert ".svg" in response.json["detail"]


def test_idle_connections_do_not_keep_others_waiting():
    with started("--port", "0") as process:
        host, port = re.search(r"http://([^:]+):(\d+)", process.stdout.readline()).groups()
        idle = [socket.create_connection((host, int(port)), timeout=WAIT) for _ in range(150)]
        try:
            for one in idle:
                one.sendall(b"GET /health/live HTTP/1.1\r\nHost: x\r\n\r\n")
            assert requests.get(f"http://{host}:{port}/health/live", timeout=5).status_code == 200
        finally:
            for one in idle:
                one.close()
            process.send_signal(signal.SIGTERM)
            process.communicate(timeout=WAIT)


def test_a_large_body_needs_no_temporary_folder():
    body = {"lookup": "breakdown", "given": {"electrodes": "uniform-field"}}
    body["columns"] = {"gap": {"unit": "mm", "values": [1 + i / 1e5 + 1e-9 for i in range(60000)]}}
    text = json.dumps(body)
    assert len(text) > 600_000
    with started("--port", "0", TMPDIR="/nonexistent") as process:
        base = re.search(r"http://[^/]+", process.stdout.readline())[0]
        response = requests.post(
            f"{base}/v1/batch", data=text, headers={"Content-Type": "application/json"}, timeout=WAIT
        )
        process.send_signal(signal.SIGTERM)
        process.communicate(timeout=WAIT)
    assert response.status_code == 200
    assert response.json()["count"] == 60000


@pytest.fixture
def lines(caplog):
    caplog.set_level(logging.INFO, logger="service.requests")
    return lambda: [json.loads(record.getMessage()) for record in caplog.records]


def test_a_request_is_one_line_of_json(lines):
    client = create_app().test_client()
    for _ in range(2):
        client.get(QUESTION)
    client.get("/v1/breakdown;gap=8mm\r\nforged.svg")
    first, second, third = lines()
    assert set(first) == {"time", "method", "asked", "lookup", "status", "milliseconds", "bytes", "cache"}
    assert (first["lookup"], first["status"], first["cache"], second["cache"]) == ("breakdown", 200, "miss", "hit")
    assert first["asked"] == third["asked"] == "/v1/breakdown"
    assert first["bytes"] > 500
    assert first["milliseconds"] > 0


def test_a_question_is_logged_where_wanted_and_not_without_end(lines):
    client = create_app({"SERVICE_LOG_QUERIES": "on"}).test_client()
    client.get(QUESTION)
    client.get(f"/v1/breakdown?gap={'8' * 5000}mm")
    first, second = lines()
    assert first["asked"] == QUESTION
    assert len(second["asked"]) == 1000


def test_metrics_are_counted_by_lookup():
    pytest.importorskip("prometheus_client")
    client = create_app({"SERVICE_METRICS": "on"}).test_client()
    client.get(QUESTION)
    client.get("/v1/no-such-lookup-x")
    text = client.get("/metrics").text
    assert re.search(r'service_requests_total\{lookup="breakdown",status="200"\} [1-9]', text)
    assert re.search(r'service_requests_total\{lookup="other",status="404"\} [1-9]', text)


def test_a_weak_tag_is_answered_not_modified():
    """RFC 9110, section 13.1.2: If-None-Match compares weakly; a proxy that compresses makes the tag weak."""
    client = create_app().test_client()
    tag = client.get(QUESTION).headers["ETag"]
    assert client.get(QUESTION, headers={"If-None-Match": f"W/{tag}"}).status_code == 304


def test_another_public_address_is_another_tag():
    """Seven of nine formats print the address, so an answer confirmed after a change of address would be wrong."""
    tags = {
        create_app({"SERVICE_PUBLIC_URL": url}).test_client().get(QUESTION).headers["ETag"]
        for url in ("https://a.example.org", "https://b.example.org")
    }
    assert len(tags) == 2


@pytest.mark.parametrize("path", ["/v1/tables/iec-60052-table-2", "/v1/gases", QUESTION])
def test_what_was_negotiated_says_so(path):
    client = create_app().test_client()
    assert client.get(path).headers.get("Vary") == "Accept"
    bare, _, query = path.partition("?")
    assert "Vary" not in client.get(f"{bare}.csv" + (f"?{query}" if query else "")).headers


def test_an_embedding_made_of_the_request_s_own_host_is_not_stored():
    address = f"/oembed?url={QUESTION.replace('&', '%26')}"
    hostile = create_app().test_client().get(address, headers={"Host": "evil.example"})
    assert hostile.headers["Cache-Control"] == "no-store"
    known = create_app({"SERVICE_PUBLIC_URL": "https://hv.example.org"}).test_client()
    answer = known.get(address, headers={"Host": "evil.example"})
    assert answer.headers["Cache-Control"].startswith("public")
    assert "evil" not in answer.text


def test_a_cache_of_many_small_bodies_is_bounded():
    cache = BytesCache(limit=100_000)
    for number in range(10_000):
        cache.put(str(number), b"3.0\n", 4)
    assert len(cache.kept) < 250


def test_the_same_question_asked_at_once_is_computed_once():
    cache, made = BytesCache(), []

    def make():
        made.append(threading.get_ident())
        time.sleep(0.2)
        return b"17.4"

    found = []
    asking = [threading.Thread(target=lambda: found.append(cache.once("tag", make))) for _ in range(8)]
    for one in asking:
        one.start()
    for one in asking:
        one.join(timeout=WAIT)
    assert found == [b"17.4"] * 8
    assert len(made) == 1


def test_a_computation_that_fails_leaves_the_next_one_its_turn():
    cache = BytesCache()
    with pytest.raises(ZeroDivisionError):
        cache.once("tag", lambda: bytes(1 // 0))
    assert cache.once("tag", lambda: b"17.4") == b"17.4"


def test_all_that_wait_for_a_computation_are_told_its_refusal():
    cache, made, told = BytesCache(), [], []

    def refuse():
        made.append(1)
        time.sleep(0.2)
        raise Busy("Other pictures come first.", 5)

    def ask():
        try:
            cache.once("tag", refuse)
        except Busy as error:
            told.append(error.retry_after)

    asking = [threading.Thread(target=ask) for _ in range(6)]
    for one in asking:
        one.start()
    for one in asking:
        one.join(timeout=WAIT)
    assert told == [5] * 6
    assert len(made) == 1
    assert cache.under_way == {}


def test_turns_come_in_the_order_in_which_they_were_asked():
    turns, order, asking = Turns("pictures", at_work=1, waiting=5, patience=WAIT), [], []

    def take(number):
        with turns.taken():
            order.append(number)

    with turns.taken():
        for number in range(5):
            asking.append(threading.Thread(target=take, args=(number,)))
            asking[-1].start()
            while len(turns._queue) <= number:
                time.sleep(0.001)
    for one in asking:
        one.join(timeout=WAIT)
    assert order == [0, 1, 2, 3, 4]


def test_nobody_waits_for_a_turn_where_enough_wait_or_longer_than_is_told():
    turns = Turns("pictures", at_work=2, waiting=1, patience=0.1)
    refused = []

    def wait():
        try:
            with turns.taken():
                refused.append("none")
        except Busy:
            refused.append("late")

    with turns.taken(), turns.taken():
        waiting = threading.Thread(target=wait)
        waiting.start()
        while not turns._queue:
            time.sleep(0.001)
        began = time.perf_counter()
        with pytest.raises(Busy, match="Other pictures come first"), turns.taken():
            pass
        assert time.perf_counter() - began < 0.09
        waiting.join(timeout=WAIT)
    assert refused == ["late"]
    with turns.taken(), turns.taken():  # each came back
        pass


@pytest.mark.parametrize(("kind", "size"), [("application/json", 9_000_000), ("text/csv", 1_100_000)])
def test_a_body_beyond_its_limit_is_refused_before_it_is_read(kind, size):
    client = create_app().test_client()
    answer = client.post("/v1/probe-check", data=b"3\n" * (size // 2), headers={"Content-Type": kind})
    assert answer.status_code == 413
