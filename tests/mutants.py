"""Mutants of the rules that guard a person: code is spoiled on purpose, and the tests have to tell.

``python -m tests.mutants guards`` spoils the rules listed here, each on its unsafe side; ``sample --count 60`` spoils
operators, ends and numbers drawn at random from `FOLDERS`. Both work in a copy, print what survives, and end with
status 1 where something does. A mutant that means the same as the code is listed in `SAME` with its reason.
"""

from __future__ import annotations

import argparse
import ast
import copy
import random
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parent.parent
CARRIED = ("service", "tests", "reference_data", "pyproject.toml", "openapi.yaml", "README.md", "DEVELOPERS.md")
FOLDERS = {
    "standards": ("tests/standards",),
    "judgement": ("tests/judgement", "tests/bench/test_spark.py", "tests/bench/test_source_check.py"),
    "bench": ("tests/bench",),
    "methods": ("tests/physics", "tests/properties/test_safe_ends.py", "tests/properties/test_gas_properties.py"),
}
"""Folder of the service to the tests that hold it."""


@dataclass(frozen=True)
class Mutant:
    """A spoiled line.

    Parameters
    ----------
    file : str
        Below ``service``.
    old, new : str
        Text that occurs once, and what stands there instead; the whole file of a drawn mutant.
    tests : tuple of str
        The tests that have to tell.
    what : str
        What it would do to a reader.
    """

    file: str
    old: str
    new: str
    tests: tuple[str, ...]
    what: str


GUARDS = (
    Mutant(
        "physics/corrections.py",
        "(ratio < self.lowest - slack) | (ratio > self.highest + slack)",
        "ratio > self.highest + slack",
        ("tests/physics/test_widened_bands.py",),
        "humidity below the range of its law is neither noted nor widens the band",
    ),
    Mutant(
        "methods/criterion.py",
        'if "impulse" in case.waveform and case.polarity == "positive":',
        'if "impulse" in case.waveform:',
        ("tests/physics/test_widened_bands.py",),
        "negative impulses get the band of positive ones",
    ),
    Mutant(
        "methods/weak_field.py",
        "low=estimate.low * np.minimum(factor, low_factor)",
        "low=estimate.low * np.maximum(factor, low_factor)",
        ("tests/physics/test_widened_bands.py",),
        "the low end falls less than the value at high frequency",
    ),
    Mutant(
        "methods/form.py",
        "np.fmax(by_pressure, by_field), 0.0)",
        "by_pressure, 0.0)",
        ("tests/physics/test_uniform_field.py", "tests/properties/test_gas_properties.py"),
        "the low end of a gas at high field is not widened",
    ),
    Mutant(
        "methods/gas_forms.py",
        "return own(case, volts) if case.secondary is None else",
        "return own(case, volts) if case.secondary is None or volts.size else",
        ("tests/physics/test_widened_bands.py",),
        "a given secondary coefficient keeps the band of a known one",
    ),
    Mutant(
        "standards/clearance.py",
        "ReadValue(max(found.value, lowest), found.row",
        "ReadValue(found.value, found.row",
        ("tests/standards/test_creepage.py", "tests/standards/test_hand_overs.py"),
        "printed wiring has no floor of 0.04 mm",
    ),
    Mutant(
        "standards/clearance.py",
        "min(max(voltage * factor, below_asks), above_asks)",
        "min(voltage * factor, above_asks)",
        ("tests/standards/test_hand_overs.py",),
        "between steps reinforced insulation gets less than the step below asks for",
    ),
    Mutant(
        "lookups/creepage.py",
        "peak = math.sqrt(2) * working",
        "peak = working",
        ("tests/standards/test_creepage.py",),
        "above 30 kHz the rms value is taken for the peak that was not given",
    ),
    Mutant(
        "standards/limits.py",
        'self.limit * (SINE if self.measure == "rms" else 1.0)',
        "self.limit",
        ("tests/standards/test_hazard.py",),
        "rms limits are sorted as if they were peaks",
    ),
    Mutant(
        "standards/solid.py",
        "low = float(np.fmin(low, starts)) if np.isfinite(starts) else low",
        "low = low if np.isfinite(starts) else low",
        ("tests/standards/test_hand_overs.py",),
        "the low end of a film begins above its corona",
    ),
    Mutant(
        "bench/sparkovers.py",
        "max(float(np.median(np.abs(self.voltages - middle))), LEAST_SPREAD * middle, self.digit)",
        "max(float(np.mean(np.abs(self.voltages - middle))), LEAST_SPREAD * middle, self.digit)",
        ("tests/bench/test_probe_check.py", "tests/bench/test_probe_traps.py", "tests/bench/test_comparison.py"),
        "outliers are judged by a spread that they widen themselves",
    ),
    Mutant(
        "bench/comparison.py",
        "chdtri(n - 1, CHANCE)",
        "chdtri(n - 1, 0.1)",
        ("tests/bench/test_comparison.py", "tests/bench/test_probe_check.py"),
        "settings that chance explains are called not linear",
    ),
    Mutant(
        "lookups/switch_on_sheet.py",
        "effective = peak.high / STEADY[here.case.waveform]",
        "effective = peak.high",
        ("tests/bench/test_switch_on_sheet.py",),
        "the heat of a bleeder at alternating voltage is doubled",
    ),
    Mutant(
        "lookups/probe_plan.py",
        "(round(places), np.floor(places), np.ceil(places))",
        "(round(places),)",
        ("tests/bench/test_probe_plan.py",),
        "at the edge of the limits no second spacing of the gauge is tried",
    ),
    Mutant(
        "bench/divider.py",
        "squared = highest**2 / (2 if base else 1)",
        "squared = highest**2",
        ("tests/bench/test_divider.py", "tests/bench/test_probe_check.py"),
        "the power of a divider at alternating voltage is doubled",
    ),
)
"""Rules that guard a person, each spoiled where an earlier version's tests did not tell."""

SAME: dict[str, str] = {}
"""Drawn mutants, as printed, that mean the same as the code, and why."""


# --- drawn mutants --------------------------------------------------------------------------------------------------

SWAPPED = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.And: ast.Or,
    ast.Or: ast.And,
    ast.Lt: ast.GtE,
    ast.GtE: ast.Lt,
    ast.Gt: ast.LtE,
    ast.LtE: ast.Gt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
}
NAMES = {one: other for pair in ("min max", "low high", "minimum maximum", "fmin fmax", "floor ceil", "any all")
         for one, other in (pair.split(), pair.split()[::-1])}  # fmt: skip


def spoiled(node: ast.AST) -> ast.AST | None:
    """Return a node that says something else, where one can."""
    new = copy.deepcopy(node)
    if isinstance(new, ast.BinOp | ast.BoolOp) and type(new.op) in SWAPPED:
        new.op = SWAPPED[type(new.op)]()
    elif isinstance(new, ast.Compare) and type(new.ops[0]) in SWAPPED:
        new.ops[0] = SWAPPED[type(new.ops[0])]()
    elif isinstance(new, ast.Attribute) and new.attr in NAMES:
        new.attr = NAMES[new.attr]
    elif isinstance(new, ast.Name) and new.id in NAMES and isinstance(new.ctx, ast.Load):
        new.id = NAMES[new.id]
    elif isinstance(new, ast.Constant) and isinstance(new.value, float) and new.value:
        new.value = new.value * 1.1
    else:
        return None
    return new


def drawn(count: int, seed: int, folders: Sequence[str]) -> Iterator[Mutant]:
    """Yield mutants drawn from the functions of the folders, the same ones for the same seed."""
    places = []
    for folder in folders:
        for path in sorted((ROOT / "service" / folder).glob("*.py")):
            tree = ast.parse(path.read_text(encoding="utf-8"))
            bodies = [inner for node in ast.walk(tree) if isinstance(node, ast.FunctionDef) for inner in node.body]
            nodes = {id(node): node for body in bodies for node in ast.walk(body)}
            places += [(folder, path, node) for node in nodes.values() if spoiled(node) is not None]
    for folder, path, node in random.Random(seed).sample(places, min(count, len(places))):
        text = path.read_text(encoding="utf-8")
        old, new = ast.get_source_segment(text, node), ast.unparse(spoiled(node))
        lines = text.splitlines(keepends=True)
        start = len("".join(lines[: node.lineno - 1]).encode()) + node.col_offset
        whole = text.encode()
        changed = whole[:start] + f"({new})".encode() + whole[start + len(old.encode()) :]
        name = f"{folder}/{path.name}"
        yield Mutant(name, text, changed.decode(), FOLDERS[folder], f"line {node.lineno}: {old} -> {new}")


# --- running --------------------------------------------------------------------------------------------------------


def survives(mutant: Mutant, folder: Path) -> bool:
    """Return whether the tests pass with a mutant in the copy, which is as before afterwards."""
    file = folder / "service" / mutant.file
    text = file.read_text(encoding="utf-8")
    if text.count(mutant.old) != 1:
        raise SystemExit(f"{mutant.file}: this does not occur once:\n{mutant.old}")
    file.write_text(text.replace(mutant.old, mutant.new), encoding="utf-8")
    command = [sys.executable, "-B", "-m", "pytest", "-x", "-q", "-p", "no:cacheprovider", *mutant.tests]
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)
    file.write_text(text, encoding="utf-8")
    if done.returncode not in (0, 1, 2):
        raise SystemExit(f"{mutant.file}: the tests did not run\n{done.stdout[-2000:]}{done.stderr[-2000:]}")
    return done.returncode == 0


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the mutants that the command line asks for; return how the process ends."""
    parser = argparse.ArgumentParser(prog="python -m tests.mutants", description=__doc__)
    parser.add_argument("which", choices=("guards", "sample"))
    parser.add_argument("--only", default="", help="of the guards, those with this word in their file or meaning")
    parser.add_argument("--count", type=int, default=60)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--folder", choices=FOLDERS, action="append", help="draw from this folder only")
    chosen = parser.parse_args(arguments)
    guards = [one for one in GUARDS if chosen.only in f"{one.file} {one.what}"]
    mutants = guards if chosen.which == "guards" else drawn(chosen.count, chosen.seed, chosen.folder or list(FOLDERS))
    left = 0
    with tempfile.TemporaryDirectory() as place:
        for name in CARRIED:
            source, target = ROOT / name, Path(place) / name
            if source.is_dir():
                shutil.copytree(source, target, ignore=shutil.ignore_patterns("__pycache__"))
            else:
                shutil.copy(source, target)
        for mutant in mutants:
            words = f"{mutant.file}: {mutant.what}"
            alive = survives(mutant, Path(place))
            left += alive and words not in SAME
            print("SURVIVES" if alive else "killed  ", words, SAME.get(words, "") if alive else "", flush=True)
    print(f"{left} survive without a reason")
    return int(bool(left))


if __name__ == "__main__":
    sys.exit(main())
