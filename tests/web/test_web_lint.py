"""The specification is clean by the linters that its readers use, and small; the rules are the linters' own."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest

SPECIFICATION = Path(__file__).parents[2] / "openapi.yaml"
MOST_BYTES = 200_000


def linted(tmp_path, package, *arguments):
    """Return what a linter of the npm registry says of the specification, with its status."""
    npx = shutil.which("npx")
    if npx is None:
        pytest.skip("npx is not installed")
    shutil.copy(SPECIFICATION, tmp_path / "openapi.yaml")
    (tmp_path / ".spectral.yaml").write_text('extends: ["spectral:oas"]\n', encoding="utf-8")
    command = [npx, "--yes", package]
    try:
        subprocess.run([*command, "--version"], cwd=tmp_path, capture_output=True, check=True, timeout=120)
    except (subprocess.CalledProcessError, subprocess.TimeoutExpired) as error:
        pytest.skip(f"{package} cannot be installed: {error}")
    return subprocess.run(
        [*command, *arguments], cwd=tmp_path, capture_output=True, text=True, check=False, timeout=300
    )


def test_redocly_finds_nothing(tmp_path):
    done = linted(tmp_path, "@redocly/cli@2.77.0", "lint", "--max-problems=20", "--format=json", "openapi.yaml")
    assert done.returncode == 0, done.stdout + done.stderr
    assert '"errors": 0' in done.stdout, done.stdout
    assert '"warnings": 0' in done.stdout, done.stdout


def test_spectral_finds_nothing(tmp_path):
    done = linted(tmp_path, "@stoplight/spectral-cli@6.16.3", "lint", "--fail-severity=hint", "openapi.yaml")
    assert done.returncode == 0, done.stdout + done.stderr


def test_the_specification_is_small():
    assert SPECIFICATION.stat().st_size < MOST_BYTES
