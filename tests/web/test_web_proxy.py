"""Behind a real proxy: nginx passes the path form on as it came, and its forwarding headers make the links."""

from __future__ import annotations

import os
import re
import shutil
import socket
import subprocess
import sys
import time

import pytest
import requests

NGINX = shutil.which("nginx") or shutil.which("nginx", path="/usr/sbin")
if NGINX is None and not os.environ.get("CI"):
    pytest.skip("nginx is not installed", allow_module_level=True)

pytestmark = pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")

CONFIGURATION = """
daemon off; pid {folder}/pid; error_log {folder}/error.log;
events {{}}
http {{
  access_log off; client_body_temp_path {folder}; proxy_temp_path {folder}; fastcgi_temp_path {folder};
  uwsgi_temp_path {folder}; scgi_temp_path {folder};
  server {{
    listen 127.0.0.1:{port};
    location / {{
      proxy_pass http://127.0.0.1:{behind};
      proxy_set_header Host $http_host;
      proxy_set_header X-Forwarded-For $remote_addr;
      proxy_set_header X-Forwarded-Proto https;
      proxy_set_header X-Forwarded-Host hv.example.org;
    }}
  }}
}}
"""


def free_port() -> int:
    with socket.socket() as opened:
        opened.bind(("127.0.0.1", 0))
        return opened.getsockname()[1]


@pytest.fixture(scope="module")
def proxy(tmp_path_factory):
    assert NGINX is not None, "nginx is not installed, and CI is set"
    folder, port = tmp_path_factory.mktemp("nginx"), free_port()
    command = [sys.executable, "-m", "service", "--port", "0"]
    environment = {**os.environ, "SERVICE_TRUSTED_PROXIES": "1"}
    server = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, env=environment)
    behind = re.search(r"127\.0\.0\.1:(\d+)", server.stdout.readline())[1]
    file = folder / "nginx.conf"
    file.write_text(CONFIGURATION.format(folder=folder, port=port, behind=behind), encoding="utf-8")
    process = subprocess.Popen([NGINX, "-p", str(folder), "-c", str(file)], stderr=subprocess.DEVNULL)
    for _ in range(100):
        with socket.socket() as tried:
            if tried.connect_ex(("127.0.0.1", port)) == 0:
                break
        time.sleep(0.05)
    yield f"http://127.0.0.1:{port}"
    for one in (process, server):
        one.terminate()
        one.wait(10)
    server.stdout.close()


@pytest.mark.parametrize(
    "path",
    [
        "/v1/breakdown;gap=8mm;electrodes=uniform-field",
        "/v1/breakdown;gap=8000%C2%B5m;electrodes=uniform-field",
        "/v1/breakdown?gap=8+mm&electrodes=uniform-field",
        "/v1/breakdown;gap=8mm;electrodes=uniform-field;absolute_humidity=8.5g/m3",
    ],
)
def test_a_question_passes_the_proxy_as_it_came(proxy, path):
    answer = requests.get(proxy + path, timeout=10)
    assert answer.status_code == 200
    assert answer.json()["breakdown_voltage"]["value"] == pytest.approx(25.79, abs=0.01)


def test_links_have_the_address_that_users_see(proxy):
    found = requests.get(f"{proxy}/oembed", params={"url": "/v1/breakdown.svg?gap=8mm"}, timeout=10).json()
    assert found["url"].startswith("https://hv.example.org/v1/breakdown")


def test_a_tag_passes_the_proxy(proxy):
    first = requests.get(f"{proxy}/v1/breakdown?gap=8mm", timeout=10)
    tag = {"If-None-Match": first.headers["ETag"]}
    assert requests.get(f"{proxy}/v1/breakdown?gap=8mm", headers=tag, timeout=10).status_code == 304
