"""What a probe check is told: its body, and the sheet that the plan writes, the bench fills in, the check reads.

One row a sparkover. Columns are known by their name and unit; those of a setting (its weather, time and remark) may be
filled in on one of its rows or on all of them. A decimal comma is read where cells are parted by semicolons or tabs.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from service import units
from service.answers.situation import ATMOSPHERE, WAVEFORM
from service.answers.situation import readings as peak_readings
from service.bench.divider import NETWORK
from service.bench.settings import FiftyPercent, Sparkovers
from service.bench.spheres import IMPULSES
from service.electrodes.sphere_gap import EARTHING
from service.errors import BadQuestion, Fault, did_you_mean, quoted
from service.parameters import Given, Listed, Members, Parameter, Part, Question

MOST_SETTINGS = 200
"""Most settings of a check."""
VOLTAGES = ("indicated_voltages", "instrument_voltages")
FIFTY = ("levels", "up_and_down")
"""Ways to give the 50 % voltage of impulses."""
VOLTAGE = Parameter("voltage", "voltage", "A reading of the instrument.", high=1e8)
DIAMETER_SHARE = 1e-3
"""Tolerance of a sphere diameter over the diameter, where none is given."""
ONE_SIDED = ("lightning-impulse", "switching-impulse", "pulse-train")

INDICATED_AS = Parameter(
    "measure",
    "choice",
    "How the instrument was read.",
    default="peak",
    choices=("peak", "rms", "peak-to-peak-symmetrical"),
)
FLAT = (
    Parameter(
        "sphere_diameter",
        "length",
        "Diameter of the spheres; a reading may give its own.",
        low=1e-4,
        high=10.0,
        example="20mm",
    ),
    EARTHING,
    *ATMOSPHERE,
    replace(WAVEFORM[0], default=None, required=True, example="dc"),
    replace(WAVEFORM[1], meaning="Polarity of the un-earthed sphere; needed for one-sided impulses."),
    *WAVEFORM[2:],
    Parameter("attenuation", "number", "Nominal ratio of the divider.", low=1e-3, high=1e9, example="1000"),
    INDICATED_AS,
    Parameter(
        "spacing_uncertainty",
        "length",
        "How far the spacing may be off, to either side; half width of a rectangular distribution.",
        default="0.02mm",
        low=0.0,
        high=0.1,
    ),
    Parameter(
        "diameter_uncertainty",
        "length",
        "How far the sphere diameter may be off, to either side; 0.1 percent of the diameter where it is not given.",
        low=0.0,
        high=1.0,
        example="0.05mm",
    ),
    Parameter(
        "density_uncertainty",
        "fraction",
        "How far the air density may be off, to either side, from barometer and thermometer.",
        default="0.5percent",
        low=0.0,
        high=0.2,
    ),
    Parameter(
        "humidity_uncertainty",
        "humidity",
        "How far the absolute humidity may be off, to either side.",
        default="1g/m3",
        low=0.0,
        high=0.05,
    ),
    Parameter(
        "resolution",
        "voltage",
        "How far a reading may be off by its digits, to either side; half the last digit of the readings where it is "
        "not given.",
        low=0.0,
        high=1e8,
        example="0.05kV",
    ),
    Parameter(
        "irradiated",
        "choice",
        "Whether the gap was irradiated; where it needs to be and was not, or nothing is said, sparks may be late.",
        default="unknown",
        choices=("unknown", "yes", "no"),
    ),
    Parameter("device", "text", "What is checked.", example="divider 1000:1"),
    Parameter("serial", "text", "Its serial number or mark."),
    Parameter("operator", "text", "Who reads."),
    Parameter("date", "text", "Day of the check.", example="2026-11-02"),
    Parameter("unfilled_rows", "count", "Rows of the sheet that were left empty."),
)
_INDICATED = Parameter(
    "indicated", "voltage", "Peak voltage of the impulses, attenuation applied.", required=True, high=1e8
)
LEVEL = Members(
    (
        _INDICATED,
        Parameter("impulses", "count", "How many there were.", required=True, low=1, high=10_000),
        Parameter("flashovers", "count", "How many of them jumped.", required=True, high=10_000),
    )
)
SHOT = Members((_INDICATED, Parameter("flashover", "boolean", "Whether it jumped.", required=True)))
READING = Members(
    (
        Parameter("spacing", "length", "Spacing of the spheres.", required=True, low=1e-6, high=10.0),
        Parameter("sphere_diameter", "length", "Diameter of the spheres, where it is another.", low=1e-4, high=10.0),
        *(replace(one, default=None) for one in ATMOSPHERE),
        Parameter("time", "text", "When this setting was read.", example="2026-11-02 14:05"),
        Parameter("remark", "text", "What is to be said of it."),
    ),
    (
        Part("indicated_voltages", "One voltage per sparkover, attenuation applied.", Listed(VOLTAGE)),
        Part("instrument_voltages", "One voltage per sparkover, attenuation not applied.", Listed(VOLTAGE)),
        Part("levels", "Impulses by levels: indicated voltage, and how many of them jumped.", Listed(LEVEL, most=20)),
        Part(
            "up_and_down",
            "Impulses up and down, in order: indicated voltage, and whether it jumped.",
            Listed(SHOT, most=100),
        ),
    ),
)
_PARTS = (
    Part(
        "readings",
        "One entry per setting: spacing, and one voltage per sparkover.",
        Listed(READING, most=MOST_SETTINGS),
        required=True,
    ),
    Part("network", "The divider, and the frequency that it is wanted for.", NETWORK),
)
RECORD = Members(
    (), (Part("given", "The body of the check as given.", Members(FLAT, _PARTS), required=True),), open=True
)
"""A record as it is posted back: what was given is read again, the rest is kept as it is."""
BODY = Members(FLAT, (*_PARTS, Part("earlier", "The record of an earlier check, to tell the drift since.", RECORD)))


@dataclass(frozen=True, eq=False)
class SettingReadings:
    """The readings at one setting.

    Parameters
    ----------
    question : Question
        What was said of the setting, its own weather over that of the whole check.
    own : Question
        What was said of this setting alone.
    spacing, diameter : float
        [m].
    sparkovers : Sparkovers or FiftyPercent
        Indicated voltages, peak, attenuation applied.
    half_digit : float
        How far each may be off by its digits [V].
    """

    question: Question
    own: Question
    spacing: float
    diameter: float
    sparkovers: Sparkovers | FiftyPercent
    half_digit: float


def read(given: Given) -> tuple[SettingReadings, ...]:
    """Return the settings of a check as understood.

    Raises
    ------
    BadQuestion
        Naming every member that is missing or contradicts another.
    """
    faults = list(_contradictions(given))
    found = [_reading(one, given.question, faults) for one in given.parts["readings"]]
    if faults:
        unique = list(dict.fromkeys((one.parameter, one.detail) for one in faults))
        raise BadQuestion(" ".join(detail for _, detail in unique), [Fault(*one) for one in unique])
    return tuple(one for one in found if one is not None)


def _contradictions(given: Given) -> Iterator[Fault]:
    question, network = given.question, given.parts.get("network")
    if question.key("waveform") in ONE_SIDED and question.values.get("polarity", "weaker") == "weaker":
        yield Fault("polarity", f"polarity is needed for waveform={question.key('waveform')}: positive or negative.")
    if network is not None and ("upper_capacitance" in network.question) != ("lower_capacitance" in network.question):
        yield network.fault("upper_capacitance", "upper_capacitance and lower_capacitance go together.")


def _reading(given: Given, question: Question, faults: list[Fault]) -> SettingReadings | None:
    own = given.question
    sized = own if "sphere_diameter" in own else question
    if "sphere_diameter" not in sized:
        faults.append(Fault("sphere_diameter", "sphere_diameter is needed, for all readings or for each."))
    names = [name for name in (*VOLTAGES, *FIFTY) if name in given.parts]
    if len(names) != 1:
        why = "is needed" if not names else "and another contradict each other; give one"
        which = ", ".join((*VOLTAGES, *FIFTY[:1])) + f" or {FIFTY[1]}"
        faults.append(given.fault(VOLTAGES[0], f"{VOLTAGES[0]} {why}: {which}."))
        return None
    if names[0] in FIFTY and question.key("waveform") not in IMPULSES:
        faults.append(given.fault(names[0], f"{names[0]} belongs to impulses."))
        return None
    factor = _factor(names[0], question, faults)
    if factor is None or "sphere_diameter" not in sized:
        return None
    spacing, diameter = own.number("spacing"), sized.number("sphere_diameter")
    off = question.number("spacing_uncertainty"), diameter_tolerance(question, diameter)
    if off[0] >= spacing or off[1] >= diameter:
        detail = "spacing_uncertainty and diameter_uncertainty must be smaller than every spacing and diameter."
        faults.append(Fault("spacing_uncertainty", detail))
        return None
    half = question.optional("resolution")
    if half is None:
        # a spreadsheet drops trailing noughts: the finest reading says how the instrument was read
        half = min(units.half_digit(text, "voltage") for text in _texts(given, names[0]))
    found = _found(given, names[0], factor, half, faults)
    if found is None:
        return None
    return SettingReadings(_merged(question, own), own, spacing, diameter, found, factor * half)


def _texts(given: Given, name: str) -> set[str]:
    if name in VOLTAGES:
        return set(given.parts[name].texts)
    return {one.question.typed["indicated"] for one in given.parts[name]}


def _found(
    given: Given, name: str, factor: float, half: float, faults: list[Fault]
) -> Sparkovers | FiftyPercent | None:
    """Return the sparkovers, or the impulses of which some jumped."""
    part = given.parts[name]
    if name in VOLTAGES:
        return Sparkovers(factor * np.array(part.values, dtype=np.float64), 2 * factor * half)
    volts = factor * np.array([one.question.number("indicated") for one in part])
    if name == "up_and_down":
        jumped = np.array([float(bool(one.question.values["flashover"])) for one in part])
        return FiftyPercent(volts, np.ones(volts.size), jumped, up_and_down=True)
    impulses, jumped = (np.array([one.question.number(key) for one in part]) for key in ("impulses", "flashovers"))
    for one, too_many in zip(part, jumped > impulses, strict=True):
        if too_many:
            faults.append(one.fault("flashovers", "flashovers must be at most the number of impulses."))
    return FiftyPercent(volts, impulses, jumped, up_and_down=False)


def diameter_tolerance(question: Question, diameter: float) -> float:
    """Return how far a sphere diameter [m] may be off [m]."""
    given = question.optional("diameter_uncertainty")
    return DIAMETER_SHARE * diameter if given is None else given


GROUPS = (
    ("pressure", "altitude", "sea_level_pressure"),
    ("temperature",),
    ("relative_humidity", "absolute_humidity", "dew_point"),
)
"""What of the weather replaces each other."""


def _merged(question: Question, own: Question) -> Question:
    """Return the question of one setting: its own weather in place of that of the whole check."""
    taken = [group for group in GROUPS if any(own.given(name) for name in group)]
    if not taken:
        return question
    gone = {name for group in taken for name in group}
    if own.given("sea_level_pressure") and not own.given("altitude"):
        gone.discard("altitude")  # one place, many weathers
    defaults = {name: question.parameters[name] for name in gone if question.parameters[name].default is not None}
    values = {name: value for name, value in question.values.items() if name not in gone}
    values |= {name: one.read(str(one.default)) for name, one in defaults.items()}
    values |= {name: own.values[name] for name in gone if own.given(name)}
    assumed = (question.assumed - gone) | {name for name in defaults if not own.given(name)}
    typed = {name: text for name, text in question.typed.items() if name not in gone}
    typed |= {name: own.typed[name] for name in gone if own.given(name)}
    return replace(question, values=values, assumed=assumed, typed=typed)


def _factor(name: str, question: Question, faults: list[Fault]) -> float | None:
    """Return what turns a reading into an indicated peak voltage."""
    attenuation = 1.0
    if name == VOLTAGES[1]:
        if "attenuation" not in question:
            faults.append(Fault("attenuation", f"attenuation is needed with {VOLTAGES[1]}."))
            return None
        attenuation = question.number("attenuation")
    try:
        return attenuation * peak_readings(1.0, question.key("measure"), question.key("waveform"))[0].high
    except BadQuestion as error:
        faults.extend(error.faults)
        return None


MOST_ROWS = 20_000
"""Most rows of a sheet."""
MOST_FAULTS = 20
"""Most faults that one error names."""
RULE = re.compile(r":?-+:?")
"""What a column holds in the line below a heading of a table in markdown."""
NUMBER = re.compile(r"[+-]?[0-9]+([.,][0-9]+)?(e[+-]?[0-9]{1,3})?", re.ASCII | re.IGNORECASE)
SEPARATOR = re.compile(r'"?sep=(.)"?[,;\t]*', re.IGNORECASE)
"""The line by which a spreadsheet is told what parts its cells."""
LONGEST = 200
"""Most characters of a cell that is read."""


@dataclass(frozen=True)
class SheetColumn:
    """A column of the sheet.

    Parameters
    ----------
    name : str
        As in the heading.
    member : str
        What it becomes in the body; empty where it is for people.
    unit : str
        Put behind the number; empty where the cell is taken as text.
    parameter : Parameter or None
        Reads it.
    """

    name: str
    member: str = ""
    unit: str = ""
    parameter: Parameter | None = None


_OF_A_SETTING = {one.name: one for one in READING.parameters}
_OF_ALL = {one.name: one for one in FLAT if one.name in ("waveform", "polarity", "earthing")}


def _setting(name: str, member: str, unit: str) -> SheetColumn:
    return SheetColumn(name, member, unit, _OF_A_SETTING[member])


SPACING = _setting("spacing_mm", "spacing", "mm")
DIAMETER = _setting("sphere_diameter_mm", "sphere_diameter", "mm")
READINGS = (
    SheetColumn("indicated_kV", "indicated_voltages", "kV", VOLTAGE),
    SheetColumn("instrument_V", "instrument_voltages", "V", VOLTAGE),
)
WEATHER = (
    _setting("pressure_kPa", "pressure", "kPa"),
    _setting("pressure_hPa", "pressure", "hPa"),
    _setting("sea_level_pressure_hPa", "sea_level_pressure", "hPa"),
    _setting("altitude_m", "altitude", "m"),
    _setting("temperature_degC", "temperature", "degC"),
    _setting("relative_humidity_percent", "relative_humidity", "percent"),
    _setting("absolute_humidity_g_m3", "absolute_humidity", "g_m3"),
    _setting("dew_point_degC", "dew_point", "degC"),
)
WORDS = (_setting("time", "time", ""), _setting("remark", "remark", ""))
WHOLE = tuple(SheetColumn(name, name, "", parameter) for name, parameter in _OF_ALL.items())
FOR_PEOPLE = (
    *map(SheetColumn, ("setting", "sparkover", "expected_kV")),
    *map(SheetColumn, ("earth_height_from_mm", "earth_height_to_mm", "side_clearance_mm")),
)
KNOWN = {one.name: one for one in (SPACING, DIAMETER, *READINGS, *WEATHER, *WORDS, *WHOLE, *FOR_PEOPLE)}
COLUMNS = (
    *("setting", "sphere_diameter_mm", "spacing_mm", "expected_kV", "sparkover"),
    *("waveform", "polarity", "earthing", "earth_height_from_mm", "earth_height_to_mm", "side_clearance_mm"),
    *("time", "pressure_kPa", "temperature_degC", "relative_humidity_percent", "remark", "indicated_kV"),
)
"""Columns of the sheet that the plan writes, in order."""
BY_HAND = tuple(
    name
    for name in COLUMNS
    if not name.startswith(("earth_height", "side_clearance")) and name not in ("time", "earthing")
)
"""Columns of the table that is printed and filled in by hand; the others stand above it."""


EMPTY = f"The sheet is empty (row 1, column 1); it needs the columns {SPACING.name} and {READINGS[0].name}."
TOO_LONG = f"The sheet has more than {MOST_ROWS} rows (row {MOST_ROWS + 2}, column 1); no more are read."


class Refused(Exception):  # it says what is wrong with one cell, and is caught here
    """What is wrong with a cell."""


@dataclass(frozen=True)
class FilledSheet:
    """A sheet, split into cells.

    Parameters
    ----------
    rows : tuple
        Line number and cells of every row below it, as many as the heading has.
    comma : bool
        Whether a decimal mark may be a comma.
    """

    heading: tuple[SheetColumn, ...]
    rows: tuple[tuple[int, dict[str, str]], ...]
    comma: bool

    def place(self, column: SheetColumn) -> int:
        """Return where a column stands, from nought."""
        return self.heading.index(column)

    def fault(self, row: int, column: SheetColumn, detail: str, accepted: Iterable[str] = ()) -> Fault:
        """Return what is wrong with one cell."""
        where = f"Row {row}: {column.name} (column {self.place(column) + 1})"
        return Fault(column.name, f"{where}: {detail}", tuple(accepted))

    @property
    def reading(self) -> SheetColumn:
        """The column of the readings."""
        return next(one for one in READINGS if one in self.heading)


def body_from_csv(text: str, pairs: Mapping[str, str]) -> dict[str, object]:
    """Return the JSON structure of a check from a filled-in sheet and the query beside it.

    Raises
    ------
    BadQuestion
        Naming row and column of every cell that cannot be read, or the column that is missing or unknown.
    """
    sheet = _split(text)
    faults: list[Fault] = []
    entries, signs = _entries(sheet, faults)
    body = _nested(pairs)
    _say(sheet, body, faults)
    _polarity(sheet, signs, body, faults)
    if faults:
        left = len(faults) - MOST_FAULTS
        words = [one.detail for one in faults[:MOST_FAULTS]]
        raise BadQuestion(" ".join([*words, *[f"And {left} more."] * (left > 0)]), faults[:MOST_FAULTS])
    if not entries:
        place = f"row 1, column {sheet.place(sheet.reading) + 1}"
        raise _at(sheet.reading.name, f"The sheet has no row with an {sheet.reading.name} ({place}).")
    body["readings"] = entries
    left = sum(not cells[sheet.reading.name] for _, cells in sheet.rows)
    return body | ({"unfilled_rows": left} if left else {})


def _at(column: str, detail: str, accepted: Iterable[str] = ()) -> BadQuestion:
    """Return the error about one place of the sheet, whose detail names row and column."""
    return BadQuestion.about(column[: units.LONGEST], detail, accepted)


def _nested(pairs: Mapping[str, str]) -> dict[str, object]:
    body: dict[str, Any] = {}
    for name, text in pairs.items():
        outer, dot, inner = name.partition(".")
        if dot and outer == "network":
            body.setdefault("network", {})[inner] = text
        elif name in ("readings", "network", "earlier"):
            raise BadQuestion.about(name, f"{name} does not go into the query beside a sheet.")
        else:
            body[name] = text
    return body


def _split(text: str) -> FilledSheet:
    """Return a sheet in cells: comma, semicolon or tab separated, or a table in markdown."""
    text = text.removeprefix("\ufeff")
    lines = list(enumerate(re.split(r"\r\n|\n|\r", text), start=1))
    kept = [
        (number, line) for number, line in lines if line.strip(' \t,;"') and not line.lstrip(' "\t').startswith("#")
    ]
    delimiter = ""
    if kept and (said := SEPARATOR.fullmatch(kept[0][1].strip(" "))):
        delimiter = said[1]
        kept = kept[1:]
    if not kept:
        raise _at(SPACING.name, EMPTY)
    if len(kept) > MOST_ROWS + 1:
        raise _at(SPACING.name, TOO_LONG)
    tabular = [one for one in kept if one[1].lstrip().startswith("|")]
    if tabular:
        return _sheet(list(_of_markdown(tabular)), comma=False)
    delimiter = delimiter or next((one for one in ("\t", ";", ",") if one in kept[0][1]), ",")
    if delimiter not in ",;\t|":
        raise _at("sep", "Row 1, column 1: cells are parted by a comma, a semicolon or a tab.")
    return _sheet([(number, _cells(number, line, delimiter)) for number, line in kept], comma=delimiter != ",")


def _of_markdown(lines: Iterable[tuple[int, str]]) -> Iterator[tuple[int, list[str]]]:
    for number, line in lines:
        cells = [cell.strip().replace("\\|", "|") for cell in re.split(r"(?<!\\)\|", line.strip().strip("|"))]
        if not all(RULE.fullmatch(cell) for cell in cells):
            yield number, cells


def _cells(number: int, line: str, delimiter: str) -> list[str]:
    try:
        return [cell.strip() for cell in next(csv.reader([line], delimiter=delimiter, strict=True))]
    except (csv.Error, StopIteration) as error:
        raise _at(f"row {number}", f"Row {number}, column 1 and following, cannot be read: {error}.") from error


def _sheet(rows: Sequence[tuple[int, list[str]]], *, comma: bool) -> FilledSheet:
    heading = _heading(*rows[0])
    names = [one.name for one in heading]
    found = []
    for number, cells in rows[1:]:
        if not any(cells):
            continue
        over = [place for place, cell in enumerate(cells) if place >= len(heading) and cell]
        if over:
            mark = "" if comma else "; a decimal mark is a point"
            detail = f"Row {number} has {len(cells)} cells under {len(heading)} columns{mark} (column {over[0] + 1})."
            raise _at(f"row {number}", detail)
        padded = [*cells, *[""] * (len(heading) - len(cells))][: len(heading)]
        found.append((number, dict(zip(names, padded, strict=True))))
    return FilledSheet(heading, tuple(found), comma)


def _heading(number: int, cells: Sequence[str]) -> tuple[SheetColumn, ...]:
    known = {name.casefold(): one for name, one in KNOWN.items()}
    while cells and not cells[-1]:
        cells = cells[:-1]
    for cell in cells:
        if cell.casefold() not in known:
            where = f"(row {number}, column {list(cells).index(cell) + 1})"
            detail = f"The sheet has an unknown column '{quoted(cell)}'{did_you_mean(cell, KNOWN)} {where}."
            raise _at(cell or "without a name", detail, KNOWN)
    found = tuple(known[cell.casefold()] for cell in cells)
    names = [one.name for one in found]
    for name in names:
        if names.count(name) > 1:
            twice = len(names) - names[::-1].index(name)
            raise _at(name, f"The sheet needs the column {name} once (row {number}, column {twice}).")
    if SPACING not in found:
        detail = f"The sheet needs the column {SPACING.name} once (row {number}, column missing)."
        raise _at(SPACING.name, detail, [SPACING.name])
    given = [one.name for one in READINGS if one in found]
    if len(given) != 1:
        wanted = " or ".join(one.name for one in READINGS)
        detail = f"The sheet needs the column {READINGS[0].name} once (row {number}, column missing), or {wanted}."
        raise _at(READINGS[0].name, detail, [one.name for one in READINGS])
    return found


def _entries(sheet: FilledSheet, faults: list[Fault]) -> tuple[list[dict[str, Any]], list[tuple[int, int]]]:
    """Return the settings, and the sign of every reading with its row."""
    found: dict[tuple[float, float], dict[str, Any]] = {}
    said: dict[tuple[float, float], dict[str, list[str]]] = {}
    signs: list[tuple[int, int]] = []
    reading = sheet.reading
    for row, cells in sheet.rows:
        if not cells[reading.name]:
            continue
        if not cells[SPACING.name]:
            where = f"(column {sheet.place(SPACING) + 1})"
            detail = f"Row {row} has an {reading.name} but no {SPACING.name} {where}."
            faults.append(Fault(SPACING.name, detail))
            continue
        written = [one for one in sheet.heading if one.member and cells[one.name]]
        texts = [_read(sheet, row, one, cells, faults) for one in written]
        own = {one: text for one, text in zip(written, texts, strict=True) if text is not None}
        if len(own) < len(written):
            continue
        text = own.pop(reading)
        signs.append((row, -1 if text.startswith("-") else 1))
        key = (_number(SPACING, own[SPACING]), _number(DIAMETER, own.get(DIAMETER, "0")))
        entry = found.setdefault(key, {})
        entry.setdefault(reading.member, []).append(text.lstrip("+-"))
        for column, value in own.items():
            if column in (SPACING, DIAMETER):
                entry.setdefault(column.member, value)
            elif column not in WHOLE:
                said.setdefault(key, {}).setdefault(column.name, []).append(value)
    for key, values in said.items():
        found[key] |= {KNOWN[name].member: _together(KNOWN[name], texts) for name, texts in values.items()}
    return list(found.values()), signs


def _number(column: SheetColumn, text: str) -> float:
    return float(text.removesuffix(column.unit))


def _together(column: SheetColumn, texts: Sequence[str]) -> str:
    """Return what the rows of a setting say of it: the mean of numbers, one digit finer; words one after another."""
    once = list(dict.fromkeys(texts))
    if len(once) == 1:
        return once[0]
    if not column.unit:
        return "; ".join(once)[:LONGEST]
    numbers = [text.removesuffix(column.unit) for text in texts]
    places = max(len(text.partition(".")[2]) for text in numbers) + 1
    return f"{np.mean([_number(column, text) for text in numbers]):.{places}f}{column.unit}"


def _read(
    sheet: FilledSheet, row: int, column: SheetColumn, cells: Mapping[str, str], faults: list[Fault]
) -> str | None:
    """Return a cell as text of the body, or ``None`` after a fault."""
    text = cells[column.name]
    try:
        if column.unit:
            text = _plain(text, comma=sheet.comma) + column.unit
        elif len(text) > LONGEST:
            raise Refused(f"at most {LONGEST} characters are read.")
        if column.parameter is not None:
            column.parameter.read(text.lstrip("+-") if column in READINGS else text)
    except Refused as error:
        faults.append(sheet.fault(row, column, str(error)))
        return None
    except BadQuestion as error:
        fault = error.faults[0]
        faults.append(sheet.fault(row, column, fault.detail, fault.accepted))
        return None
    return text


def _plain(text: str, *, comma: bool) -> str:
    text = text.replace("\u2212", "-")
    if len(text) > units.LONGEST or not NUMBER.fullmatch(text):
        raise Refused(f"'{quoted(text)}' is not a plain number.{'' if comma else ' A decimal mark is a point.'}")
    if "," in text and not comma:
        raise Refused(f"'{quoted(text)}': a decimal mark is a point where cells are parted by commas.")
    return text.replace(",", ".")


def _say(sheet: FilledSheet, body: dict[str, Any], faults: list[Fault]) -> None:
    """Put what the sheet says of the whole check into the body; it says one thing, and what the query says."""
    for column in WHOLE:
        if column not in sheet.heading:
            continue
        found = [(row, cells[column.name]) for row, cells in sheet.rows if cells[column.name]]
        for row, text in found:
            if text != body.setdefault(column.name, text):
                faults.append(
                    sheet.fault(
                        row,
                        column,
                        f"'{quoted(text)}' contradicts '{quoted(str(body[column.name]))}'.",
                    )
                )
                break


def _polarity(sheet: FilledSheet, signs: Sequence[tuple[int, int]], body: dict[str, Any], faults: list[Fault]) -> None:
    """Take negative readings as magnitudes with a polarity; an alternating voltage has none."""
    negative = [row for row, sign in signs if sign < 0]
    if not negative:
        return
    if len(negative) < len(signs):
        faults.append(
            sheet.fault(
                negative[0],
                sheet.reading,
                "some readings are negative and some are not: give magnitudes.",
            )
        )
    elif body.get("waveform") == "ac":
        faults.append(
            sheet.fault(
                negative[0],
                sheet.reading,
                "a negative reading belongs to no alternating voltage: give peaks.",
            )
        )
    elif body.setdefault("polarity", "negative") != "negative":
        said = quoted(str(body["polarity"]))
        faults.append(
            sheet.fault(
                negative[0],
                sheet.reading,
                f"a negative reading contradicts the polarity '{said}'.",
            )
        )


def sheet(rows: Iterable[Mapping[str, str]]) -> str:
    """Return the sheet to be filled in."""
    target = io.StringIO()
    writer = csv.DictWriter(target, COLUMNS, restval="", lineterminator="\r\n")
    writer.writeheader()
    writer.writerows(rows)
    return target.getvalue()


def table(rows: Iterable[Mapping[str, str]]) -> str:
    """Return what is filled in by hand as a table in markdown."""
    written = ([row.get(name, "") for name in BY_HAND] for row in rows)
    heading = [BY_HAND, ["---"] * len(BY_HAND)]
    return "".join(f"| {' | '.join(cells)} |\n" for cells in [*heading, *written])
