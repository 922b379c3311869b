"""The files of the README's chapter on deployment, run as they stand: workers, a worker killed, a reload, the proxy."""

from __future__ import annotations

import contextlib
import getpass
import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest
import requests

ROOT = Path(__file__).parents[2]
GUNICORN = Path(sys.executable).parent / "gunicorn"
NGINX = shutil.which("nginx") or shutil.which("nginx", path="/usr/sbin")
QUESTION = "/v1/breakdown?gap=8mm&electrodes=uniform-field"
CLIENTS = 4

if not GUNICORN.exists() and not os.environ.get("CI"):
    pytest.skip("gunicorn is not installed", allow_module_level=True)

pytestmark = pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")


def file_of(name: str) -> str:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    found = re.search(rf"<!-- file: {re.escape(name)} -->\n```[a-z]*\n(.*?)```", readme, re.DOTALL)
    assert found, name
    return found[1]


def free_port() -> int:
    with socket.socket() as opened:
        opened.bind(("127.0.0.1", 0))
        return opened.getsockname()[1]


def wait_for(address: str) -> None:
    for _ in range(300):
        with contextlib.suppress(requests.RequestException):
            if requests.get(address, timeout=5).status_code == 200:
                return
        time.sleep(0.1)
    raise AssertionError(f"{address} does not answer")


@pytest.fixture(scope="module")
def workers(tmp_path_factory):
    folder, port = tmp_path_factory.mktemp("gunicorn"), free_port()
    settings = folder / "gunicorn.conf.py"
    settings.write_text(file_of("gunicorn.conf.py").replace(":8000", f":{port}"), encoding="utf-8")
    unit = file_of("sparkover-reference.service")
    given = dict(pair.split("=", 1) for line in re.findall(r"^Environment=(.*)$", unit, re.M) for pair in line.split())
    # the address of the users' own proxy stays as in the file; here it ends no TLS
    environment = {**os.environ, **given, "PYTHONPATH": str(ROOT)}
    command = [str(GUNICORN), "-c", str(settings), "service.web:create_app()"]
    process = subprocess.Popen(
        command, cwd=folder, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    wait_for(f"http://127.0.0.1:{port}/health/ready")
    yield port, process
    process.send_signal(signal.SIGTERM)
    process.wait(timeout=40)


@pytest.fixture(scope="module")
def proxy(workers, tmp_path_factory):
    assert NGINX is not None or not os.environ.get("CI"), "nginx is not installed, and CI is set"
    if NGINX is None:
        pytest.skip("nginx is not installed")
    folder, port = tmp_path_factory.mktemp("nginx"), free_port()
    site = file_of("nginx.conf").replace("127.0.0.1:8000", f"127.0.0.1:{workers[0]}")
    site = site.replace("listen 443 ssl;", f"listen 127.0.0.1:{port};").replace("/var/cache/nginx", str(folder))
    places = "".join(
        f"{kind}_temp_path {folder}/{kind}; " for kind in ("client_body", "proxy", "fastcgi", "uwsgi", "scgi")
    )
    # its workers must reach the folder of this test, which belongs to who runs it
    user = f"user {getpass.getuser()};" if os.geteuid() == 0 else ""
    own = f"daemon off; {user} pid {folder}/pid; error_log {folder}/error.log;"
    whole = f"{own} events {{}} http {{ access_log off; {places} {site} }}"
    file = folder / "nginx.conf"
    file.write_text(whole, encoding="utf-8")
    process = subprocess.Popen([NGINX, "-p", str(folder), "-c", str(file)], stderr=subprocess.DEVNULL)
    wait_for(f"http://127.0.0.1:{port}/health/live")
    yield f"http://127.0.0.1:{port}"
    process.terminate()
    process.wait(timeout=20)


def children(process) -> list[int]:
    tasks = Path(f"/proc/{process.pid}/task/{process.pid}/children").read_text(encoding="utf-8")
    return [int(text) for text in tasks.split()]


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
    statuses = asked_meanwhile(proxy, lambda: os.kill(children(process)[0], signal.SIGKILL))
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
