"""The service as it is run: a process that listens on a socket, and one answer in the terminal."""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
from pathlib import Path

import pytest
import requests

ROOT = Path(__file__).parents[2]
WAIT = 20.0


def interruptible():
    """Let a process be interrupted, also where the tests run in the background and inherit that they are not."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


@pytest.fixture(scope="module")
def ready():
    """The ready line of a server on a free port."""
    command = [sys.executable, "-m", "service", "--port", "0"]
    with subprocess.Popen(
        command,
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        preexec_fn=interruptible,  # noqa: PLW1509  # no threads here
    ) as process:
        assert process.stdout is not None
        try:
            yield process.stdout.readline()
            process.send_signal(signal.SIGINT)
            _, errors = process.communicate(timeout=WAIT)
        finally:
            process.kill()
        assert process.returncode == 0
        assert "Traceback" not in errors


@pytest.fixture(scope="module")
def server(ready):
    found = re.fullmatch(r"ready: curl '(http://127\.0\.0\.1:\d+)/v1/breakdown\?gap=8mm'\n", ready)
    assert found, ready
    return found[1]


def raw(server, request):
    """Send bytes and return the whole answer."""
    host, port = server.removeprefix("http://").split(":")
    with socket.create_connection((host, int(port)), timeout=WAIT) as connection:
        connection.sendall(request)
        return b"".join(iter(lambda: connection.recv(65536), b""))


def asked_raw(server, target, method=b"GET"):
    return raw(server, method + b" " + target + b" HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n")


def test_the_address_of_the_ready_line_answers(server):
    response = requests.get(f"{server}/v1/breakdown?gap=8mm", timeout=WAIT)
    volts = response.json()["breakdown_voltage"]
    assert response.status_code == 200
    assert volts["value"] is None
    assert 6.3 < volts["low"] < 7.1  # a point over a plane
    assert 25 < volts["high"] < 27


def test_the_server_does_not_name_its_software(server):
    headers = requests.get(f"{server}/health/live", timeout=WAIT).headers
    assert "waitress" not in headers.get("Server", "").lower()


@pytest.mark.parametrize(
    "query", ["gap=8000%C2%B5m", "gap=8000%CE%BCm", "gap=8+mm", "gap=8%20mm", "gap=8mm&relative_humidity=50%25"]
)
def test_percent_encoded_questions_arrive(server, query):
    response = requests.get(f"{server}/v1/breakdown?{query}", timeout=WAIT)
    assert response.status_code == 200
    assert response.json()["asked"]["gap"] == {"value": 8.0, "unit": "mm"}


@pytest.mark.parametrize("micro", ["\u00b5", "\u03bc"])
@pytest.mark.parametrize("target", ["/v1/breakdown?gap=8000{}m", "/v1/breakdown;gap=8000{}m"])
def test_a_raw_micro_sign_is_answered_or_cleanly_refused(server, target, micro):
    answer = asked_raw(server, target.format(micro).encode())
    assert re.match(rb"HTTP/1\.1 (200|400) ", answer)
    if answer.startswith(b"HTTP/1.1 200"):
        assert b'"gap":{"value":8.0,"unit":"mm"}' in answer
    assert requests.get(f"{server}/health/live", timeout=WAIT).status_code == 200


def test_a_path_form_arrives_undamaged(server):
    answer = asked_raw(server, b"/v1/breakdown;gap=5.5mm;absolute_humidity=11g/m3;electrodes=needle-gap.txt")
    head, _, body = answer.partition(b"\r\n\r\n")
    assert b"200 OK" in head.splitlines()[0]
    assert b"text/plain; charset=utf-8" in head
    assert b"11 g/m3" in body


def test_head_has_the_length_and_no_body(server):
    url = f"{server}/v1/breakdown?gap=8mm"
    head, whole = requests.head(url, timeout=WAIT), requests.get(url, timeout=WAIT)
    assert head.status_code == 200
    assert head.content == b""
    assert head.headers["Content-Length"] == str(len(whole.content))
    assert head.headers["ETag"] == whole.headers["ETag"]


def test_an_unchanged_answer_is_not_sent_again(server):
    url = f"{server}/v1/breakdown.png?gap=8mm"
    tag = requests.get(url, timeout=WAIT).headers["ETag"]
    again = requests.get(url, headers={"If-None-Match": tag}, timeout=WAIT)
    assert (again.status_code, again.content) == (304, b"")


def test_a_method_that_is_not_allowed_is_told_which_are(server):
    response = requests.delete(f"{server}/v1/breakdown?gap=8mm", timeout=WAIT)
    assert response.status_code == 405
    assert "GET" in response.headers["Allow"]
    assert response.headers["Content-Type"] == "application/problem+json"


def test_a_batch_goes_over_the_wire(server):
    columns = {"gap": {"unit": "mm", "values": [1, None, 8]}}
    body = {"lookup": "breakdown", "given": {"electrodes": "uniform-field"}, "columns": columns}
    batch = requests.post(f"{server}/v1/batch", json=body, timeout=WAIT).json()
    assert batch["status"] == ["ok", "unreadable", "ok"]


def test_a_body_that_is_too_large_is_a_clean_413(server):
    length = 33 * 1024 * 1024
    response = requests.post(
        f"{server}/v1/batch", data=b"[" * length, headers={"Content-Type": "application/json"}, timeout=WAIT
    )
    assert response.status_code == 413
    assert response.json()["status"] == 413


def test_a_malformed_request_line_does_not_end_the_server(server):
    raw(server, b"GET /v1/breakdown?gap=8 mm HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n")
    assert requests.get(f"{server}/health/ready", timeout=WAIT).status_code == 200


def in_terminal(path, **environment):
    command = [sys.executable, "-m", "service", "ask", path]
    return subprocess.run(
        command, cwd=ROOT, capture_output=True, env={**os.environ, **environment}, timeout=WAIT, check=False
    )


def test_a_question_is_answered_in_the_terminal():
    done = in_terminal("/v1/breakdown?electrodes=sphere-gap&sphere_diameter=2cm&gap=5mm")
    text = done.stdout.decode("ascii")
    assert done.returncode == 0
    assert "17.4 kV peak" in text  # IEC 60052 Table 2
    assert "Assumed, not said" in text


def test_the_terminal_gives_the_format_of_the_suffix():
    done = in_terminal("/v1/breakdown.csv?gap=8mm")
    assert done.stdout.startswith(b"breakdown_voltage_kV,")


def test_a_refusal_in_the_terminal_ends_with_status_one():
    done = in_terminal("/v1/breakdown?gap=8")
    assert done.returncode == 1
    assert b"gap" in done.stdout


@pytest.mark.parametrize("path", ["", "breakdown", b"/v1/breakdown?gap=\xff", "/v1/gap\n"])
def test_what_is_no_path_is_told_in_one_line_in_the_terminal(path):
    done = in_terminal(path)
    assert done.returncode == 2
    assert b"it begins with '/'" in done.stderr
    assert b"Traceback" not in done.stderr


def test_data_that_do_not_load_end_with_status_one_in_the_terminal(tmp_path):
    done = in_terminal("/v1/breakdown?gap=8mm", SERVICE_REFERENCE_DATA=str(tmp_path / "nowhere"))
    assert done.returncode == 1
    assert b'"status":503' in done.stdout


@pytest.mark.parametrize("host", ["999.1.1.1", "no such host", "-"])
def test_a_host_that_is_none_is_one_line_at_start(host):
    command = [sys.executable, "-m", "service", "--host", host, "--port", "0"]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False, timeout=WAIT)
    assert done.returncode == 2
    assert len(done.stderr.splitlines()) == 1
    assert done.stderr.startswith("service: Cannot serve on")


def test_two_host_lines_or_none_are_refused_on_the_wire(server):
    for hosts in (b"", b"Host: a\r\nHost: b\r\n"):
        answer = raw(server, b"GET /health/live HTTP/1.1\r\n" + hosts + b"Connection: close\r\n\r\n")
        assert answer.startswith(b"HTTP/1.1 400 "), hosts
    assert raw(server, b"GET /health/live HTTP/1.0\r\n\r\n").startswith(b"HTTP/1.0 200 ")


def test_a_first_answer_loads_no_library_that_it_does_not_need():
    """A worker starts in half the time, and in half the memory, without them."""
    dear = ("scipy", "pyarrow", "resvg_py")
    code = (
        "import sys; from service.web import create_app; create_app().test_client().get('/v1/breakdown?gap=8mm'); "
        f"print([name for name in {dear!r} if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=WAIT)
    assert done.stdout.strip() == "[]"


def test_a_collection_of_garbage_does_not_look_through_what_was_loaded():
    """Counted, not timed: 90,000 objects are 40 ms in which every thread waits."""
    code = (
        "import gc; from service.web import create_app; client = create_app().test_client()\n"
        "for form in ('svg', 'html', 'csv'): client.get(f'/v1/breakdown.{form}?gap=8mm')\n"
        "gc.collect(); print(gc.get_freeze_count(), len(gc.get_objects()))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=WAIT)
    frozen, others = map(int, done.stdout.split())
    assert frozen > 50_000
    assert others < 20_000


def test_no_lookup_that_is_asked_by_address_loads_what_solves_and_minimizes():
    """Each part of it is 20 to 50 MiB of a worker, and up to a third of a second of its first question."""
    dear = ("scipy",)
    code = (
        "import sys; from service.web import create_app; from service.web.workshop import workshop\n"
        "app = create_app(); client = app.test_client(); client.get('/v1/breakdown?gap=8mm')\n"
        "with app.app_context():\n"
        "    asked = [(one.key, query) for one in workshop().lookups.values() if not one.post "
        "for query in (one.example, *one.more)]\n"
        "assert all(client.get(f'/v1/{key}?{query}').status_code == 200 for key, query in asked)\n"
        f"print([name for name in {dear!r} if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=WAIT)
    assert done.stdout.strip() == "[]"
