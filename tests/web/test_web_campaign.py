"""Two thousand hostile questions: every promise of the interface is kept; ``python -m tests.campaign`` asks more."""

from __future__ import annotations

from tests.campaign import run

QUESTIONS = 2000


def test_no_question_breaks_a_promise():
    tally = run(seed=20261126, first=0, count=QUESTIONS)
    assert tally.faults == []
    assert sum(tally.counts.values()) == QUESTIONS
    assert tally.counts["200"] > QUESTIONS / 5
