"""The mutants themselves: guards follow the code, drawn ones are code that says something else, tests are found."""

import ast

import pytest

from tests.mutants import EVERY, GUARDS, ROOT, Map, Mutant, drawn


@pytest.mark.parametrize("guard", GUARDS, ids=lambda one: one.what)
def test_a_guard_spoils_code_that_is_there_and_names_tests_that_are_there(guard):
    text = (ROOT / "service" / guard.file).read_text(encoding="utf-8")
    assert text.count(guard.old) == 1
    assert ast.dump(ast.parse(text)) != ast.dump(ast.parse(text.replace(guard.old, guard.new)))
    assert all((ROOT / one).exists() for one in guard.tests)


def test_a_drawn_mutant_is_code_that_says_something_else_at_its_line():
    found = list(drawn(30, 5, ["judgement"]))
    assert [one.what for one in found] == [one.what for one in drawn(30, 5, ["judgement"])]
    for one in found:
        assert one.old == (ROOT / "service" / one.file).read_text(encoding="utf-8")
        assert ast.dump(ast.parse(one.old)) != ast.dump(ast.parse(one.new)), one.what
        before = one.line - 1
        assert one.old.splitlines()[:before] == one.new.splitlines()[:before]


def test_the_tests_of_a_line_are_those_that_run_it_the_quickest_first():
    tests = {"a": 3.0, "b": 1.0, "c": 2.0, "d": 9.0}
    known = Map(tests, {"bench/x.py": {"return LIMIT": ["a", "b", EVERY], "return 1": ["c"]}})
    text = "LIMIT = (\n    2.0\n)\ndef f():\n    return LIMIT\ndef g():\n    return 1\n"
    mutants = [Mutant("bench/x.py", text, "", (), "", line) for line in (5, 7, 2)]
    assert [known.tests_of(one, 100.0) for one in mutants] == [("b", "c", "a"), ("c",), ("b", "c", "a")]
    assert known.tests_of(mutants[1], 0.5) == ("c",)


def test_what_is_made_once_is_held_by_tests_that_name_it_too():
    known = Map(
        {"tests/x.py::a": 9.0, HERE: 3.0, f"{HERE}[rod-gap]": 1.0}, {"electrodes/rod_gap.py": {"x = 1": [EVERY]}}
    )
    mutant = Mutant("electrodes/rod_gap.py", "x = 1", "", (), "", 1)
    assert known.tests_of(mutant, 2.0) == (f"{HERE}[rod-gap]",)
    assert known.tests_of(mutant, 4.0) == (f"{HERE}[rod-gap]", HERE)


HERE = "tests/test_mutants.py::test_what_is_made_once_is_held_by_tests_that_name_it_too"
