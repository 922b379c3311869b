"""Every command of the README and the contributors' guide is run, and prints what they say.

``README=write`` writes the outputs and the evidence table anew.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
import threading
from pathlib import Path

import pytest
from waitress.server import create_server

import service
from service.lookups import agreement
from service.web import create_app
from tests.asking import SHIPPED

ROOT = Path(service.__file__).parent.parent
README = ROOT / "README.md"
GUIDE = ROOT / "DEVELOPERS.md"
CONSOLE = re.compile(r"```console\n\$ (?P<command>.+)\n(?P<output>(?:.*\n)*?)```")
EVIDENCE = re.compile(r"(<!-- evidence -->\n)(.*?)(<!-- /evidence -->)", re.S)
WRITE = os.environ.get("README") == "write"

pytestmark = pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")


@pytest.fixture(scope="module")
def address():
    server = create_server(create_app(), host="127.0.0.1", port=0)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    yield f"127.0.0.1:{server.effective_port}"
    server.close()


def run(command: str, address: str) -> str:
    local = command.replace("127.0.0.1:8000", address).replace(".venv/bin/python", sys.executable)
    done = subprocess.run(["bash", "-c", local], capture_output=True, text=True, cwd=ROOT, check=False, timeout=60)
    return done.stdout.replace(address, "127.0.0.1:8000")


def commands() -> list[str]:
    return [match["command"] for match in CONSOLE.finditer(README.read_text(encoding="utf-8"))]


COLUMNS = ("method", "held against", "cells", "median", "95 %", "worst", "inside band", "within 3 %", "within 5 %")


def evidence_table(registry):
    """The comparisons as a table in Markdown, deviations in percent."""
    lines = [_line(COLUMNS), _line(("---", "---", *("---:",) * 7))]
    return "\n".join([*lines, *(_line(_cells(found.figures())) for found in agreement.comparisons(registry))]) + "\n"


def _cells(one):
    against = f"{one.table}, {one.part}" if one.part else one.table
    fitted = f" ({one.calibration_cells} fitted)" if one.calibration_cells else ""
    percents = (
        one.median_percent,
        one.p95_percent,
        one.worst_percent,
        one.inside_band_percent,
        one.within_3_percent,
        one.within_5_percent,
    )
    return (f"`{one.method}`", against, f"{one.cells}{fitted}", *(f"{figure:.1f}" for figure in percents))


def _line(cells):
    return f"| {' | '.join(cells)} |"


@pytest.mark.skipif(not WRITE, reason="README=write writes the outputs anew")
def test_the_readme_is_written_anew(address):
    text = README.read_text(encoding="utf-8")
    text = CONSOLE.sub(lambda m: f"```console\n$ {m['command']}\n{run(m['command'], address)}```", text)
    table = evidence_table(SHIPPED.registry)
    README.write_text(EVIDENCE.sub(lambda m: m[1] + table + m[3], text), encoding="utf-8")


@pytest.mark.skipif(WRITE, reason="the outputs are being written")
@pytest.mark.parametrize("command", commands())
def test_a_command_of_the_readme_prints_what_the_readme_says(command, address):
    said = {m["command"]: m["output"] for m in CONSOLE.finditer(README.read_text(encoding="utf-8"))}[command]
    assert said.strip(), "the README shows no output"
    assert run(command, address) == said


def test_the_evidence_table_has_not_drifted():
    shown = EVIDENCE.search(README.read_text(encoding="utf-8"))
    assert shown is not None
    assert shown[2] == evidence_table(SHIPPED.registry)


def test_the_python_example_runs(address):
    [code] = re.findall(r"From Python:\n\n```python\n(.*?)```", README.read_text(encoding="utf-8"), re.S)
    done = subprocess.run(
        [sys.executable, "-c", code.replace("127.0.0.1:8000", address)],
        capture_output=True,
        text=True,
        check=True,
        timeout=60,
    )
    assert "mm, band" in done.stdout


def test_the_table_correction_of_the_readme_works(tmp_path):
    [script] = re.findall(r"```sh\n(mkdir.*?)```", README.read_text(encoding="utf-8"), re.S)
    kept = [line for line in script.splitlines() if not line.startswith(("#", "SERVICE_"))]
    lines = "\n".join(kept).replace("corrections", str(tmp_path / "corrections"))
    command = lines.replace(".venv/bin/python", sys.executable)
    done = subprocess.run(["bash", "-euc", command], cwd=ROOT, capture_output=True, text=True, check=False, timeout=60)
    assert done.returncode == 0, done.stdout + done.stderr


QUICK = ("ruff check", "ruff format", "bin/mypy", "lint-imports", "service.reference check")


@pytest.mark.parametrize("words", QUICK)
def test_a_check_of_the_guide_runs(words):
    guide = GUIDE.read_text(encoding="utf-8")
    [command] = [one for one in re.findall(r"`(\.venv/bin/[^`]+)`", guide) if words in one]
    local = command.replace(".venv/bin/", f"{Path(sys.executable).parent}/")
    done = subprocess.run(["bash", "-c", local], cwd=ROOT, capture_output=True, text=True, check=False, timeout=300)
    assert done.returncode == 0, done.stdout[-2000:] + done.stderr[-2000:]


def test_the_specification_is_in_step(tmp_path):
    from service.web import openapi

    committed = (ROOT / "openapi.yaml").read_text(encoding="utf-8")
    assert committed == openapi.as_text(openapi.specification(SHIPPED.registry))
