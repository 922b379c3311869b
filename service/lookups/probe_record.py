"""/v1/probe-record: does a record still say what was checked? Its hash, and the check done again."""

from __future__ import annotations

from collections.abc import Mapping

from service.answers.lookup import Answer, Lead, Lookup, only_posted
from service.answers.registry import Registry
from service.bench import probe_record
from service.bench.probe_sheet import RECORD
from service.lookups import probe_check
from service.parameters import Given

__all__ = ["BODY", "answer", "lookup"]

BODY = RECORD
FORMATS = ("json", "txt", "csv", "md", "html")
MOST_DIFFERENCES = 50
"""Most differences that are listed."""
RESULTS: Mapping[str, str] = {
    "verdict": "unchanged, changed (the hash does not fit what the record says), or no-hash.",
    "hash": "Of the record as posted.",
    "recorded_hash": "That stands in the record.",
    "same_result": "Whether the check done again, with the data in use now, says the same.",
    "differences": "What the record says otherwise than the check done again: place, recorded, now.",
    "overall": "Of the check done again.",
}
WORDS = {
    "unchanged": "The hash fits: the record says what it said when it was made.",
    "changed": "The hash does not fit: something in the record was changed after it was made.",
    "no-hash": "The record has no hash, so nothing is known of changes to it.",
}


def lookup(registry: Registry) -> Lookup:
    """Return the lookup; its question comes in a body."""
    return Lookup(
        "probe-record",
        "Probe record",
        "Whether the record of a probe check is as it was made, and what the check says when it is done again.",
        (),
        only_posted("given", "A record is posted: the answer of /v1/probe-check, as JSON."),
        example="",
        formats=FORMATS,
        results=RESULTS,
        body=BODY,
        answer_given=lambda given: answer(given, registry),
    )


def answer(given: Given, registry: Registry) -> Answer:
    """Return what a record is found to be.

    Raises
    ------
    BadQuestion
        Naming every member that cannot be read.
    """
    record = {**given.rest, "given": probe_record.as_given(given.parts["given"])}
    stated, found = record.get("hash"), probe_record.hash_of(record)
    verdict = "no-hash" if not isinstance(stated, str) else "unchanged" if stated == found else "changed"
    again = probe_check.checked(given.parts["given"], registry)
    document = again.answer.document(registry)
    unlike = probe_record.differences(record, document)
    results: dict[str, object] = {"verdict": verdict, "hash": found}
    if isinstance(stated, str):
        results["recorded_hash"] = stated[:80]
    moved = [one for one in unlike if not one.of_versions]
    results |= {"same_result": not moved, "differences": unlike[:MOST_DIFFERENCES], "overall": document["overall"]}
    notes = [WORDS[verdict]]
    if any(one.what == "data_version" for one in unlike):
        notes.append("The record was made with other reference data: see data_version among the differences.")
    if len(unlike) > MOST_DIFFERENCES:
        notes.append(f"{len(unlike) - MOST_DIFFERENCES} more differences are not listed.")
    says = "the same" if not moved else f"otherwise in {len(moved)} places"
    sentence = f"{WORDS[verdict]} Done again, the check says {says}: {again.verdict.replace('-', ' ')}."
    return Answer(
        "probe-record",
        again.answer.asked,
        results,
        again.answer.method,
        notes=notes,
        cautions=again.answer.cautions,
        title=f"Probe record: {verdict}",
        lead=Lead(sentence, "Record", verdict.replace("-", " "), "ratio-only"),
    )
