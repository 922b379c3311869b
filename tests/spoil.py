"""Overlays spoiled at random: each is refused with file and reason, or answers every question; nothing else happens.

``python -m tests.spoil --count 500 --seed 1`` prints how many of each kind were refused and how many were laid over.
"""

from __future__ import annotations

import argparse
import csv
import hashlib
import io
import json
import logging
import random
import shutil
import sys
import tempfile
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from service.reference import shipped_folder
from service.web import create_app
from tests.campaign.promises import numbers

NUMERIC = ("number", "integer")


@dataclass
class Spoiled:
    """One table of a copied package, as a spoiler may change it; ``written`` makes the file of its text."""

    resource: dict[str, Any]
    rows: list[list[str]]
    draw: random.Random
    written: Callable[[str], bytes] = str.encode

    @property
    def fields(self) -> list[dict[str, Any]]:
        fields: list[dict[str, Any]] = self.resource["schema"]["fields"]
        return fields

    def place(self, *, numeric: bool) -> tuple[int, int]:
        """Return row and column of a filled cell of a numeric column, or of a column of text."""
        columns = [at for at, field in enumerate(self.fields) if (field["type"] in NUMERIC) == numeric]
        filled = [(row, at) for at in columns for row in range(1, len(self.rows)) if self.rows[row][at]]
        return self.draw.choice(filled) if filled else (1, 0)

    def field(self, *, numeric: bool = True) -> dict[str, Any]:
        """Return a numeric field, or any where the table has none."""
        return self.draw.choice([one for one in self.fields if (one["type"] in NUMERIC) == numeric] or self.fields)


def _cell(change: Callable[[str, random.Random], str], *, numeric: bool = True) -> Callable[[Spoiled], None]:
    def spoil(one: Spoiled) -> None:
        row, at = one.place(numeric=numeric)
        one.rows[row][at] = change(one.rows[row][at], one.draw)

    return spoil


def _number(factor: float) -> Callable[[Spoiled], None]:
    def change(cell: str, _draw: random.Random) -> str:
        try:
            return repr(float(cell) * factor)
        except ValueError:
            return cell

    return _cell(change)


def _rows(change: Callable[[list[list[str]], random.Random], list[list[str]]]) -> Callable[[Spoiled], None]:
    def spoil(one: Spoiled) -> None:
        one.rows[1:] = change(one.rows[1:], one.draw)

    return spoil


def _without_column(one: Spoiled) -> None:
    at = one.draw.randrange(len(one.fields))
    del one.fields[at]
    for row in one.rows:
        del row[at]


def _unchecked(one: Spoiled) -> None:
    """Take away every rule that the package states for itself, then spoil a cell."""
    for field in one.fields:
        field.get("constraints", {}).clear()
    for name in ("rises", "within", "pairs", "named"):
        one.resource.pop(name, None)
    for name in ("primaryKey", "foreignKeys"):
        one.resource["schema"].pop(name, None)
    _number(one.draw.choice([-1.0, 0.0, 1e6]))(one)


def _set(name: str, value: Any) -> Callable[[Spoiled], None]:
    def spoil(one: Spoiled) -> None:
        one.field()[name] = value

    return spoil


def _quantity(one: Spoiled) -> None:
    one.field(numeric=one.draw.random() < 0.5)["quantity"] = "something_else"


def _swapped(rows: list[list[str]], draw: random.Random) -> list[list[str]]:
    first, second = draw.randrange(len(rows)), draw.randrange(len(rows))
    rows[first], rows[second] = rows[second], rows[first]
    return rows


def _doubled(rows: list[list[str]], draw: random.Random) -> list[list[str]]:
    return [*rows, list(draw.choice(rows))]


def _missing_value(one: Spoiled) -> None:
    row, at = one.place(numeric=True)
    one.resource["schema"].setdefault("missingValues", [""]).append(one.rows[row][at])


def _swapped_units(one: Spoiled) -> None:
    one.field()["unit"] = one.draw.choice(["V", "mm", "kPa", "s"])


def _column(change: Callable[[list[str], random.Random], list[str]]) -> Callable[[Spoiled], None]:
    """Change the filled cells of a numeric column together."""

    def spoil(one: Spoiled) -> None:
        at = one.place(numeric=True)[1]
        filled = [row for row in one.rows[1:] if row[at]]
        for row, cell in zip(filled, change([row[at] for row in filled], one.draw), strict=True):
            row[at] = cell

    return spoil


def _times(factor: float) -> Callable[[list[str], random.Random], list[str]]:
    def change(cells: list[str], _draw: random.Random) -> list[str]:
        return [repr(float(cell) * factor) if cell.replace(".", "", 1).isdecimal() else cell for cell in cells]

    return change


def _columns_swapped(one: Spoiled) -> None:
    first, second = (one.place(numeric=True)[1] for _ in range(2))
    for row in one.rows[1:]:
        row[first], row[second] = row[second], row[first]


def _heads_swapped(one: Spoiled) -> None:
    head = one.rows[0]
    head[0], head[-1] = head[-1], head[0]


def _twice_and_changed(one: Spoiled) -> None:
    _rows(_doubled)(one)
    _number(1.01)(Spoiled(one.resource, [one.rows[0], one.rows[-1]], one.draw))


def _file(written: Callable[[str, random.Random], bytes]) -> Callable[[Spoiled], None]:
    def spoil(one: Spoiled) -> None:
        one.written = partial(written, draw=one.draw)

    return spoil


def _flipped(text: str, draw: random.Random) -> bytes:
    content = bytearray(text.encode())
    content[draw.randrange(len(content))] ^= 1 << draw.randrange(8)
    return bytes(content)


STRANGE: tuple[Any, ...] = (None, 5, -1.5, "", [], {}, True, "x" * 5000, ["a"], {"a": 1}, [None], "\u202e")
"""What may stand where a descriptor has something else."""


def _member(one: Spoiled) -> None:
    """Put something strange in place of a member of the descriptor, or take it away."""
    places = [place for place in _places(one.resource) if place[0] not in ("hash", "path")]
    *path, last = one.draw.choice(places)
    at: Any = one.resource
    for step in path:
        at = at[step]
    if one.draw.random() < 0.3:
        del at[last]
    else:
        at[last] = one.draw.choice(STRANGE)


def _places(value: Any, place: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    members = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for name, inner in members:
        yield (*place, name)
        yield from _places(inner, (*place, name))


KINDS: Mapping[str, Callable[[Spoiled], None]] = {
    "cell emptied": _cell(lambda _cell, _draw: ""),
    "cell negative": _number(-1.0),
    "cell zero": _number(0.0),
    "cell a million times": _number(1e6),
    "cell a millionth": _number(1e-6),
    "cell doubled": _number(2.0),
    "cell huge": _cell(lambda _cell, _draw: "1e308"),
    "cell tiny": _cell(lambda _cell, _draw: "1e-308"),
    "cell words": _cell(lambda cell, _draw: f"about {cell}"),
    "text emptied": _cell(lambda _cell, _draw: "", numeric=False),
    "text changed": _cell(lambda cell, _draw: f"{cell}x", numeric=False),
    "text of a page": _cell(lambda _cell, _draw: "<script>{{7*7}}</script>", numeric=False),
    "row deleted": _rows(lambda rows, draw: [row for at, row in enumerate(rows) if at != draw.randrange(len(rows))]),
    "first row deleted": _rows(lambda rows, _draw: rows[1:]),
    "last row deleted": _rows(lambda rows, _draw: rows[:-1]),
    "half the rows": _rows(lambda rows, _draw: rows[: len(rows) // 2]),
    "one row left": _rows(lambda rows, draw: [draw.choice(rows)]),
    "rows reversed": _rows(lambda rows, _draw: rows[::-1]),
    "rows shuffled": _rows(lambda rows, draw: draw.sample(rows, len(rows))),
    "rows swapped": _rows(_swapped),
    "row twice": _rows(_doubled),
    "column deleted": _without_column,
    "quantity renamed": _quantity,
    "unit changed": _swapped_units,
    "type made text": _set("type", "string"),
    "dimension made a number": _set("dimension", "number"),
    "another mark for nothing": _missing_value,
    "rules taken away": _unchecked,
    "cell no number": _cell(lambda _cell, draw: draw.choice(["NaN", "inf", "1e999", "1e-400", "0x10", "1_000", "1e"])),
    "cell as elsewhere": _cell(
        lambda cell, draw: draw.choice([cell.replace(".", ","), "\uff11", "\u22125", f"{cell} mm"])
    ),
    "cell with a space": _cell(lambda cell, _draw: f"{cell} "),
    "text without end": _cell(lambda _cell, _draw: "x" * 100_000, numeric=False),
    "text turned around": _cell(lambda cell, _draw: f"\u202e{cell}\x00", numeric=False),
    "column ten times": _column(_times(10.0)),
    "column half as much": _column(_times(0.5)),
    "column reversed": _column(lambda cells, _draw: cells[::-1]),
    "column shuffled": _column(lambda cells, draw: draw.sample(cells, len(cells))),
    "column of one number": _column(lambda cells, draw: [draw.choice(cells)] * len(cells) if cells else cells),
    "columns swapped": _columns_swapped,
    "heads swapped": _heads_swapped,
    "row twice, changed": _twice_and_changed,
    "mark of byte order": _file(lambda text, draw: b"\xef\xbb\xbf" + text.encode()),
    "other line ends": _file(lambda text, draw: text.replace("\n", draw.choice(["\r\n", "\r", "\n\n"])).encode()),
    "semicolons": _file(lambda text, draw: text.replace(",", ";").encode()),
    "other encoding": _file(lambda text, draw: text.encode("utf-16")),
    "file cut off": _file(lambda text, draw: text.encode()[: draw.randrange(len(text))]),
    "file empty": _file(lambda _text, draw: b""),
    "quote left open": _file(lambda text, draw: text.encode() + b'"'),
    "bit flipped": _file(_flipped),
    "member strange": _member,
    "member strange again": _member,
}
"""Kinds of spoiling, each sealed with a right hash: what is wrong can only be seen in what is said."""


def spoiled_packages(count: int, seed: int, folder: Path) -> Iterator[tuple[str, str, Path]]:
    """Yield kind, table and folder of spoiled overlays."""
    draw = random.Random(seed)
    packages = sorted(path for path in shipped_folder().iterdir() if path.is_dir())
    kinds = draw.sample(list(KINDS), len(KINDS))
    for number in range(count):
        package, kind = draw.choice(packages), kinds[number % len(kinds)]
        overlay = folder / f"overlay-{number}"
        copy = overlay / package.name
        shutil.copytree(package, copy)
        stated = json.loads((copy / "datapackage.json").read_text(encoding="utf-8"))
        tables = [one for one in stated["resources"] if one["name"] != "worked-examples"]
        if not tables:
            tables = stated["resources"]
        resource = draw.choice(tables)
        path = copy / resource["path"]
        spoiled = Spoiled(resource, list(csv.reader(io.StringIO(path.read_text(encoding="utf-8")))), draw)
        KINDS[kind](spoiled)
        text = io.StringIO()
        csv.writer(text, lineterminator="\n").writerows(spoiled.rows)
        path.write_bytes(spoiled.written(text.getvalue()))
        resource["hash"] = f"sha256:{hashlib.sha256(path.read_bytes()).hexdigest()}"
        (copy / "datapackage.json").write_text(json.dumps(stated), encoding="utf-8")
        yield kind, path.name, overlay
        shutil.rmtree(overlay)


QUESTIONS = (
    "/v1/breakdown?gap=8mm",
    "/v1/breakdown?gap=5mm&electrodes=sphere-gap&sphere_diameter=2cm",
    "/v1/breakdown?gap=5cm&electrodes=rod-plane&waveform=lightning-impulse&polarity=positive",
    "/v1/breakdown?gap=30mm&electrodes=needle-gap",
    "/v1/breakdown?gap=30cm&electrodes=rod-gap",
    "/v1/breakdown?gap=1mm&gas=sulfur-hexafluoride&pressure=300kPa",
    "/v1/breakdown?gap=5um",
    "/v1/breakdown?gap=1mm&gas=vacuum",
    "/v1/breakdown?gap=1cm&electrodes=unknown",
    "/v1/breakdown?gap=1cm&gas=nitrogen&altitude=1500m",
    "/v1/breakdown?gap=1cm&relative_humidity=60%25&temperature=30degC&electrodes=rod-gap",
    "/v1/gap?voltage=12kV&electrodes=wire-plane&wire_diameter=1mm",
    "/v1/paschen?gas=argon",
    "/v1/clearance?system_voltage=230V&overvoltage_category=III&pollution_degree=2&insulation=reinforced&altitude=4000m",
    "/v1/clearance?recurring_peak_voltage=1kV&pollution_degree=1&insulation=basic&frequency=100kHz",
    "/v1/creepage?working_voltage=12kV&pollution_degree=2&insulation=basic&material=pla",
    "/v1/creepage?working_voltage=800V&pollution_degree=3&insulation=basic&ribbed=true&cti=175V",
    "/v1/conductor-spacing?voltage=600V&place=internal",
    "/v1/insulation-stress?voltage=12kV&thickness=1.6mm&material=fr-4&air_film=0.1mm",
    "/v1/approach?nominal_voltage=230V&supply=dc&person=qualified",
    "/v1/hazard?voltage=330V&capacitance=120uF&everything=true",
    "/v1/hazard?available_current=5mA&frequency=150kHz&everything=true",
    "/v1/tables",
    "/v1/gases",
    "/v1/materials",
    "/v1/methods",
    "/v1/sources",
)
"""Asked of whatever was laid over; the example of every lookup was asked when it was read."""


LONGEST = 2500
"""Most characters of a refusal."""


def outcome(overlay: Path) -> tuple[str, str]:
    """Return ``refused``, ``laid over`` or ``FAULT``, and why."""
    try:
        application = create_app({"SERVICE_REFERENCE_DATA": str(overlay)})
    except BaseException as error:  # noqa: BLE001  # whatever ends the process is what is looked for
        return "FAULT", f"the process ends: {type(error).__name__}: {error}"
    client = application.test_client()
    first = client.get(QUESTIONS[0])
    if first.status_code == 503:
        detail = str(first.get_json()["detail"])
        named = (".csv" in detail or ".json" in detail) and len(detail) < LONGEST
        return ("refused", detail) if named else ("FAULT", f"no file is named: {detail}")
    for question in QUESTIONS:
        response = client.get(question)
        if response.status_code >= 500:
            return "FAULT", f"{question} answers {response.status_code}: {response.get_data(as_text=True)[:300]}"
        disordered = next(numbers(response.get_json()), None)
        if disordered is not None:
            return "FAULT", f"{question}: {disordered}"
    return "laid over", ""


def main(arguments: list[str] | None = None) -> int:
    """Spoil overlays, print what became of them, and return 1 where one was neither refused nor answered."""
    parser = argparse.ArgumentParser(prog="python -m tests.spoil", description=__doc__)
    parser.add_argument("--count", type=int, default=60)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--verbose", action="store_true", help="print every refusal")
    chosen = parser.parse_args(arguments)
    logging.disable(logging.CRITICAL)
    results: Counter[tuple[str, str]] = Counter()
    faults = []
    with tempfile.TemporaryDirectory() as folder:
        for kind, table, overlay in spoiled_packages(chosen.count, chosen.seed, Path(folder)):
            found, why = outcome(overlay)
            results[kind, found] += 1
            if found == "FAULT":
                faults.append(f"{kind}, {table}: {why}")
            elif chosen.verbose:
                sys.stdout.write(f"{kind}, {table}: {found} {why}\n")
    for kind in KINDS:
        counts = ", ".join(f"{count} {found}" for (name, found), count in sorted(results.items()) if name == kind)
        sys.stdout.write(f"{kind:<28} {counts}\n")
    sys.stdout.write("\n".join([*faults, f"{chosen.count} overlays, {len(faults)} faults", ""]))
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
