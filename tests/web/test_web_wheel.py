"""The wheel, laid into a folder of its own and asked from elsewhere: data, pages, fonts and specification inside."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
ASK = """
import service, sys
from service.web import create_app
client = create_app().test_client()
print(service.__file__)
for path in sys.argv[1:]:
    answer = client.get(path)
    print(answer.status_code, len(answer.data))
"""
PATHS = (
    "/v1/breakdown?gap=5mm&electrodes=sphere-gap&sphere_diameter=2cm",
    "/v1/breakdown.png?gap=8mm",
    "/",
    "/docs",
    "/openapi.yaml",
    "/static/handbook.css",
    "/v1/tables/iec-60052-table-2.csv",
    "/health/ready",
)


@pytest.fixture(scope="module")
def installed(tmp_path_factory):
    folder = tmp_path_factory.mktemp("wheel")
    pip = [sys.executable, "-m", "pip", "-q", "--disable-pip-version-check"]
    subprocess.run([*pip, "wheel", "--no-deps", "-w", str(folder), str(ROOT)], check=True, timeout=300)
    [wheel] = folder.glob("*.whl")
    subprocess.run([*pip, "install", "--no-deps", "--target", str(folder / "lib"), str(wheel)], check=True, timeout=300)
    return folder


def test_a_wheel_answers_wherever_it_is_laid(installed):
    environment = {**os.environ, "PYTHONPATH": str(installed / "lib")}
    command = [sys.executable, "-c", ASK, *PATHS]
    done = subprocess.run(
        command, cwd=installed, env=environment, capture_output=True, text=True, check=False, timeout=120
    )
    assert done.returncode == 0, done.stderr
    place, *answers = done.stdout.splitlines()
    assert place.startswith(str(installed / "lib"))
    assert [line.split()[0] for line in answers] == ["200"] * len(PATHS), answers


def test_an_installed_package_is_not_written_into(installed):
    environment = {**os.environ, "PYTHONPATH": str(installed / "lib")}
    kept = installed / "lib" / "service" / "openapi.yaml"
    before = {path: path.stat().st_mtime_ns for path in installed.rglob("*") if path.suffix == ".yaml"}
    command = [sys.executable, "-m", "service.web.openapi"]
    done = subprocess.run(
        command, cwd=installed, env=environment, capture_output=True, text=True, check=False, timeout=120
    )
    assert done.returncode == 2
    assert "name the file to write" in done.stderr
    assert {path: path.stat().st_mtime_ns for path in installed.rglob("*") if path.suffix == ".yaml"} == before
    done = subprocess.run([*command, "here.yaml"], cwd=installed, env=environment, check=False, timeout=120)
    assert done.returncode == 0
    assert (installed / "here.yaml").read_bytes() == kept.read_bytes()
