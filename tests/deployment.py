"""The deployment of the README, from its own blocks: gunicorn with its workers, nginx with a cache before it."""

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
import time
from collections.abc import Iterator
from pathlib import Path

import requests

ROOT = Path(__file__).parents[1]
GUNICORN = Path(sys.executable).parent / "gunicorn"
NGINX = shutil.which("nginx") or shutil.which("nginx", path="/usr/sbin")


def file_of(name: str) -> str:
    """Return a file that the README holds."""
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    found = re.search(rf"<!-- file: {re.escape(name)} -->\n```[a-z]*\n(.*?)```", readme, re.DOTALL)
    assert found, name
    return found[1]


def free_port() -> int:
    """Return a port that nobody listens on."""
    with socket.socket() as opened:
        opened.bind(("127.0.0.1", 0))
        return int(opened.getsockname()[1])


def wait_for(address: str) -> None:
    """Wait until an address answers."""
    for _ in range(300):
        with contextlib.suppress(requests.RequestException):
            if requests.get(address, timeout=5).status_code == 200:
                return
        time.sleep(0.1)
    raise AssertionError(f"{address} does not answer")


@contextlib.contextmanager
def workers_in(folder: Path) -> Iterator[tuple[int, subprocess.Popen[bytes]]]:
    """Serve with the settings of the README; yield the port and the process whose children the workers are."""
    port = free_port()
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
    try:
        wait_for(f"http://127.0.0.1:{port}/health/ready")
        yield port, process
    finally:
        process.send_signal(signal.SIGTERM)
        process.wait(timeout=40)


@contextlib.contextmanager
def proxy_in(folder: Path, behind: int) -> Iterator[str]:
    """Start nginx with the site of the README before a port; yield its address."""
    assert NGINX is not None
    port = free_port()
    site = file_of("nginx.conf").replace("127.0.0.1:8000", f"127.0.0.1:{behind}")
    site = site.replace("listen 443 ssl;", f"listen 127.0.0.1:{port};").replace("/var/cache/nginx", str(folder))
    places = "".join(
        f"{kind}_temp_path {folder}/{kind}; " for kind in ("client_body", "proxy", "fastcgi", "uwsgi", "scgi")
    )
    # its workers must reach this folder, which belongs to who runs it
    user = f"user {getpass.getuser()};" if os.geteuid() == 0 else ""
    own = f"daemon off; {user} pid {folder}/pid; error_log {folder}/error.log;"
    file = folder / "nginx.conf"
    file.write_text(f"{own} events {{}} http {{ access_log off; {places} {site} }}", encoding="utf-8")
    process = subprocess.Popen([NGINX, "-p", str(folder), "-c", str(file)], stderr=subprocess.DEVNULL)
    try:
        wait_for(f"http://127.0.0.1:{port}/health/live")
        yield f"http://127.0.0.1:{port}"
    finally:
        process.terminate()
        process.wait(timeout=20)


def children(number: int) -> list[int]:
    """Return the processes that a process started; none where it is gone."""
    try:
        tasks = [Path(f"/proc/{number}/task/{task}/children") for task in os.listdir(f"/proc/{number}/task")]
        return [int(text) for task in tasks for text in task.read_text(encoding="utf-8").split()]
    except (FileNotFoundError, ProcessLookupError):
        return []
