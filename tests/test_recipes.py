"""The recipes of the contributors' guide, followed to the letter in a copy of the checkout, and asked."""

from __future__ import annotations

import json
import math
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
RECIPES = ("Add a table", "Add a gas", "Add an electrode shape", "Add a lookup")
BLOCK = re.compile(r"^```(\w+)(?: (append))?(?: (\S+))?\n(.*?)^```$", re.MULTILINE | re.DOTALL)
CARRIED = ("service", "reference_data", "openapi.yaml", "pyproject.toml", "DEVELOPERS.md")


def chapter(title):
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    return re.split(r"^## ", text.split(f"\n## {title}\n", 1)[1], maxsplit=1, flags=re.MULTILINE)[0]


def run(command, folder):
    """Run a command of the guide with the environment of this run, in the copy; return what it prints."""
    program = command.replace(".venv/bin/python", f'"{sys.executable}"')
    done = subprocess.run(program, shell=True, cwd=folder, capture_output=True, text=True, check=False)
    assert done.returncode == 0, f"{command}\n{done.stdout[-2000:]}{done.stderr[-2000:]}"
    return done.stdout


def follow(title, folder):
    """Write the files of a recipe and run its commands; return what was asked, and what was answered."""
    answers = {}
    for kind, append, path, text in BLOCK.findall(chapter(title)):
        if path:
            file = folder / path
            assert file.exists() == bool(append), path
            file.parent.mkdir(exist_ok=True)
            with file.open("a", encoding="utf-8") as opened:
                opened.write(text)
        for line in text.splitlines() if kind == "sh" else ():
            printed = run(line, folder)
            if " ask " in line:
                answers[line.split(" ask ")[1].strip("'")] = json.loads(printed)
    return answers


@pytest.fixture(scope="module")
def built(tmp_path_factory):
    """Return a checkout in which all recipes were followed one after the other, and the answers of each."""
    folder = tmp_path_factory.mktemp("recipes")
    for name in CARRIED:
        source = ROOT / name
        if source.is_dir():
            shutil.copytree(source, folder / name, ignore=shutil.ignore_patterns("__pycache__"))
        else:
            shutil.copy(source, folder / name)
    return folder, {title: follow(title, folder) for title in RECIPES}


@pytest.mark.parametrize("title", RECIPES)
def test_a_recipe_ends_with_a_question_that_is_answered(built, title):
    assert built[1][title]


def test_the_table_that_the_recipe_adds_is_published(built):
    [table] = built[1]["Add a table"].values()
    assert "84.556" in json.dumps(table)


def test_the_gas_that_the_recipe_adds_breaks_down_by_its_closed_form(built):
    # V = B pd / ln(A pd / ln(1 + 1/gamma)) with A = 20 and B = 370 per cm Torr (Raizer, Gas Discharge Physics, 1991,
    # Table 4.1, memory) and pd = 1 cm Torr, the middle of the three points
    [answer] = built[1]["Add a gas"].values()
    volts = 370.0 / math.log(20.0 / math.log(1.0 + 1.0 / 0.05))
    assert answer["curve"]["voltage"]["values"][1] == pytest.approx(volts, rel=1e-6)


def test_the_shape_that_the_recipe_adds_has_the_field_of_concentric_spheres(built):
    folder, answers = built
    [(address, answer)] = answers["Add an electrode shape"].items()
    known = address.replace("ball-in-cup", "concentric-spheres")
    same = json.loads(run(f".venv/bin/python -m service ask '{known}'", folder))
    assert answer["breakdown_voltage"] == same["breakdown_voltage"]


def test_the_lookup_that_the_recipe_adds_gives_the_density_of_the_standard_atmosphere(built):
    # 84.556 kPa at 1500 m (ISO 2533, a public reproduction), at the default of 20 degC
    [answer] = built[1]["Add a lookup"].values()
    assert answer["relative_density"] == pytest.approx(84.556 / 101.3, rel=1e-4)


def test_what_the_recipes_add_is_in_the_specification(built):
    text = (built[0] / "openapi.yaml").read_text(encoding="utf-8")
    for key in ("/v1/air-density", "ball-in-cup", "mercury-vapour"):
        assert key in text
