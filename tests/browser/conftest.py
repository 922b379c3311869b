"""The system's Chromium and a server to look at; skipped where there is no Chromium, a failure where CI is set."""

from __future__ import annotations

import os
import shutil
import threading

import pytest
from waitress.server import create_server

from service.web import create_app

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
SWITCHES = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-sync", "--no-first-run"]


@pytest.fixture(scope="session")
def serve():
    """Return a function that serves an application and returns its address."""
    servers = []

    def start(app):
        server = create_server(app, host="127.0.0.1", port=0)
        servers.append(server)
        threading.Thread(target=server.run, daemon=True).start()
        return f"http://127.0.0.1:{server.effective_port}"

    yield start
    for server in servers:
        server.close()


@pytest.fixture(scope="session")
def address(serve):
    return serve(create_app())


@pytest.fixture(scope="session")
def browser():
    if CHROMIUM is None and not os.environ.get("CI"):
        pytest.skip("Chromium is not installed")
    assert CHROMIUM is not None, "Chromium is not installed, and CI is set"
    from playwright.sync_api import sync_playwright

    with sync_playwright() as play:
        opened = play.chromium.launch(executable_path=CHROMIUM, args=SWITCHES)
        yield opened
        opened.close()
