"""All reference data said otherwise, in other units, numerals, orders and quotes, give the very same answers."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import math
import random
import shutil
from decimal import Decimal

import pytest

from service import units
from service.reference import shipped_folder
from service.web import create_app
from tests.spoil import QUESTIONS

DIGITS = ".16g"
ALIKE = 1e-9
NAMING = {"E_over_p_min_V_per_cm_Torr", "E_over_p_max_V_per_cm_Torr"}
"""Columns by whose printed text rows are told apart, beside keys and groups."""


def shuffled(value, dice):
    """Return a structure with the members of its objects in another order."""
    if isinstance(value, dict):
        return {name: shuffled(value[name], dice) for name in dice.sample(list(value), len(value))}
    return [shuffled(one, dice) for one in value] if isinstance(value, list) else value


def in_another_unit(field, column, dice):
    """Convert a column, and its bounds, to another unit of its dimension, as far as sixteen digits carry them."""
    kind = units.DIMENSIONS.get(field.get("dimension"))
    if kind is None or field.get("unit") not in kind.spellings:
        return column
    before = kind.spellings[field["unit"]]
    name = dice.choice(list(kind.spellings))
    after = kind.spellings[name]

    def converted(text):
        return (Decimal(text) * before.scale + before.offset - after.offset) / after.scale

    bounds = field.get("constraints", {})
    for end, wider in (("minimum", -1), ("maximum", 1)):
        if end in bounds:
            bound = float(converted(repr(bounds[end])))
            bounds[end] = bound + wider * abs(bound) * ALIKE
    field["unit"] = name
    return [f"{converted(cell):{DIGITS}}" if units.PLAIN_NUMBER.fullmatch(cell) else cell for cell in column]


def written_otherwise(cell, dice):
    """Return a numeral of the same number."""
    if not units.PLAIN_NUMBER.fullmatch(cell) or dice.random() < 0.5:
        return cell
    number = Decimal(cell)
    return dice.choice((f"{number:E}", f"{number:f}", f"{number + Decimal(0):f}"))


def say_otherwise(package, dice):
    path = package / "datapackage.json"
    stated = json.loads(path.read_text(encoding="utf-8"))
    for resource in stated["resources"]:
        file, schema = package / resource["path"], resource["schema"]
        head, *rows = csv.reader(io.StringIO(file.read_text(encoding="utf-8")))
        columns = [list(column) for column in zip(*rows, strict=True)]
        naming = NAMING | {*schema.get("primaryKey", ()), *resource.get("within", ())}
        for field, place in zip(schema["fields"], range(len(head)), strict=True):
            if field["type"] == "number" and field["name"] not in naming:
                column = in_another_unit(field, columns[place], dice)
                columns[place] = [written_otherwise(cell, dice) for cell in column]
        order = dice.sample(range(len(head)), len(head))
        schema["fields"] = [schema["fields"][place] for place in order]
        text = io.StringIO()
        table = csv.writer(text, lineterminator="\n", quoting=csv.QUOTE_ALL)
        table.writerow([head[place] for place in order])
        table.writerows(zip(*(columns[place] for place in order), strict=True))
        file.write_text(text.getvalue(), encoding="utf-8")
        resource["hash"] = f"sha256:{hashlib.sha256(file.read_bytes()).hexdigest()}"
    path.write_text(json.dumps(shuffled(stated, dice)), encoding="utf-8")


@pytest.fixture(scope="module")
def otherwise(tmp_path_factory):
    folder = tmp_path_factory.mktemp("otherwise") / "data"
    shutil.copytree(shipped_folder(), folder)
    dice = random.Random(20261126)
    for package in sorted(path for path in folder.iterdir() if path.is_dir()):
        say_otherwise(package, dice)
    return create_app({"SERVICE_REFERENCE_DATA": str(folder)}).test_client()


def leaves(value, place=""):
    if isinstance(value, dict | list):
        pairs = value.items() if isinstance(value, dict) else enumerate(value)
        for name, one in pairs:
            if name != "data_version":
                yield from leaves(one, f"{place}.{name}")
    else:
        yield place, value


def examples():
    found = create_app().extensions["workshop"].lookups
    return [f"/v1/{key}?{one.example}" for key, one in found.items() if not one.post]


@pytest.mark.parametrize("question", [*examples(), *(one for one in QUESTIONS if "?" in one)])
def test_answers_are_the_same(otherwise, question):
    shipped, other = (dict(leaves(client.get(question).json)) for client in (create_app().test_client(), otherwise))
    assert shipped.keys() == other.keys()
    for place, value in shipped.items():
        if isinstance(value, float) and not isinstance(other[place], str):
            assert math.isclose(value, other[place], rel_tol=ALIKE, abs_tol=1e-12), place
        elif not isinstance(value, str):  # rows are told in printed digits and units
            assert value == other[place], place
