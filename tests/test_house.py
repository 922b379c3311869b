"""The house rules that a machine can keep: sizes, docstrings, annotations, registries, glossary, top level."""

from __future__ import annotations

import ast
import re
import subprocess
from pathlib import Path

import pytest

import service
from service.answers.cautions import GASES, SENTENCES
from tests.asking import SHIPPED

PACKAGE = Path(service.__file__).parent
ROOT = PACKAGE.parent
MODULES = sorted(PACKAGE.rglob("*.py"))
TOP_LEVEL = {
    "README.md",
    "DEVELOPERS.md",
    "LICENSE",
    "pyproject.toml",
    "openapi.yaml",
    "service",
    "tests",
    "reference_data",
}
FORBIDDEN_NAMES = {"utils", "helpers", "common", "core"}


def name_of(path: Path) -> str:
    return str(path.relative_to(ROOT))


def tracked() -> list[str]:
    if not (ROOT / ".git").exists():
        pytest.skip("not a git checkout")
    listing = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True)
    return listing.stdout.split("\n")[:-1]


def test_the_top_level_is_fixed():
    assert {path.split("/")[0] for path in tracked() if not path.startswith(".")} <= TOP_LEVEL


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_a_module_has_a_plain_name(path):
    assert path.stem not in FORBIDDEN_NAMES
    assert path.parent.name not in FORBIDDEN_NAMES


def public_nodes(tree: ast.Module):
    yield tree, "module"
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef | ast.ClassDef) and not node.name.startswith("_"):
            yield node, node.name


def nested(tree: ast.Module) -> set[ast.AST]:
    """Functions inside functions are not public."""
    outer = (node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef))
    return {inner for node in outer for inner in ast.walk(node) if inner is not node}


def private_members(tree: ast.Module) -> set[ast.AST]:
    classes = (n for n in ast.walk(tree) if isinstance(n, ast.ClassDef) and n.name.startswith("_"))
    return {inner for node in classes for inner in ast.walk(node)}


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_everything_public_has_a_docstring(path):
    tree = ast.parse(path.read_text(encoding="utf-8"))
    skipped = nested(tree) | private_members(tree)
    bare = [name for node, name in public_nodes(tree) if node not in skipped and not ast.get_docstring(node)]
    assert bare == []


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_no_function_takes_open_keyword_arguments(path):
    tree = ast.parse(path.read_text(encoding="utf-8"))
    found = [n.name for n in ast.walk(tree) if isinstance(n, ast.FunctionDef) and n.args.kwarg]
    # the columns by which `Table.where` selects are data, checked against the table
    assert found == (["where"] if path.name == "table.py" and path.parent.name == "reference" else [])


BELOW_THE_DOCUMENT = [
    path
    for path in MODULES
    if path.parent.name in ("answers", "lookups", "bench", "standards") or path.stem == "judgement"
]
READ_BACK = re.compile(r"""\["(?:low|high|unit)"\](?! =)|(?<!column)\.get\("(?:value|low|high|unit)\"""")


@pytest.mark.parametrize("path", BELOW_THE_DOCUMENT, ids=name_of)
def test_no_answer_is_read_back(path):
    """Results are typed, in SI, until an answer becomes a document: no number is taken out of a mapping again."""
    assert not READ_BACK.search(path.read_text(encoding="utf-8"))


def test_no_class_has_the_name_of_another():
    places: dict[str, list[str]] = {}
    for path in MODULES:
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                places.setdefault(node.name, []).append(name_of(path))
    assert {name: found for name, found in places.items() if len(found) > 1} == {}


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_the_slack_for_rounding_has_one_name(path):
    """Comparisons with a limit take `units.ROUNDING`; another tolerance has a name that says what it is for."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    sums = [n for n in ast.walk(tree) if isinstance(n, ast.BinOp)]
    terms = [term for n in sums for term in (n.left, n.right)]
    terms += [n.value for n in ast.walk(tree) if isinstance(n, ast.keyword) and n.arg in {"rtol", "rel_tol"}]
    bare = [n.lineno for n in terms if isinstance(n, ast.Constant) and n.value == 1e-9]
    assert bare == []


@pytest.mark.parametrize("path", sorted((PACKAGE / "physics").glob("*.py")), ids=name_of)
def test_a_physics_relation_states_units_and_source(path):
    tree = ast.parse(path.read_text(encoding="utf-8"))
    relations = [n for n in tree.body if isinstance(n, ast.FunctionDef) and not n.name.startswith("_")]
    # laws of one signature are documented once, where the signature is named
    laws = {("distance", "gap", "radius"), ("gap", "radius")}
    for node in (n for n in relations if tuple(a.arg for a in n.args.args) not in laws):
        text = ast.get_docstring(node) or ""
        assert "Parameters" in text, f"{path.stem}.{node.name}"
        assert "Returns" in text, f"{path.stem}.{node.name}"


def test_every_arrangement_is_built_from_its_own_file(registry):
    files = {p.stem.replace("_", "-") for p in (PACKAGE / "electrodes").glob("*.py") if not p.stem.startswith("_")}
    assert set(registry.arrangements) == files


def test_every_method_of_one_key_is_the_same_kind_with_the_same_source(registry):
    seen: dict[str, tuple[str, str]] = {}
    for arrangement in registry.arrangements.values():
        for method in arrangement.methods:
            facts = (method.kind, method.source.key)
            assert seen.setdefault(method.key, facts) == facts, method.key


def test_every_method_states_source_validity_and_provenance(registry):
    for method in registry.methods.values():
        assert method.source.key, method.key
        assert method.source.citation, method.key
        assert method.provenance, method.key
        assert method.validity.words, method.key
        assert method.kind in ("table", "formula", "model", "bracket")
        assert (method.uncertainty_percent is None) == (method.kind == "bracket"), method.key


def test_every_parameter_is_in_the_glossary():
    glossary = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    names = {p.name for lookup in SHIPPED.found.values() for p in lookup.parameters}
    assert sorted(name for name in names if f"`{name}`" not in glossary) == []


def test_every_lookup_has_an_example_that_is_answered():
    for lookup in SHIPPED.found.values():
        if not lookup.post:
            assert SHIPPED.answer(lookup.key, lookup.example).results, lookup.key


def test_the_gases_table_names_only_cautions_that_exist(registry):
    words = {word for text in registry.reference.table("gases").text("cautions") for word in text.split()}
    assert words <= set(GASES)


FORBIDDEN_WORDS = re.compile(r"\b(safe|safe distance|harmless|OK|may approach|may touch|withstands|complies)\b")


def test_no_caution_uses_a_forbidden_word():
    for text in [*SENTENCES.values(), *GASES.values()]:
        assert not FORBIDDEN_WORDS.search(text), text


def test_the_tree_names_no_machine_path_and_no_registry_host():
    # written in parts, so that this file does not name them either
    hosts = re.compile("|".join(["/" + "work/", "/" + "root/", "pypi" + r"\.org", "registry" + r"\.npmjs"]))
    found = []
    for path in tracked():
        file = ROOT / path
        if file.suffix in {".py", ".md", ".toml", ".yaml", ".json", ".csv", ".html", ".js", ".css"} and file.is_file():
            found += [path for _ in [0] if hosts.search(file.read_text(encoding="utf-8"))]
    assert found == []
