"""Vacuity as it was first described, on the example it was described with.

Source: I. Beer, S. Ben-David, C. Eisner, Y. Rodeh, "Efficient detection of vacuity in ACTL formulas", 1997
(and "... in temporal model checking", 2001); both from memory. Three claims are held against the tool:

1. "Every request is granted" holds in a model in which nothing is ever requested, and must be said to
   hold vacuously.
2. It is enough to ask about the smallest parts of a formula, each replaced by the constant that makes the
   formula hardest to satisfy; a part without effect is one for which that still holds.
3. A requirement that holds, and not vacuously, has an interesting witness: a run that breaks what is
   asked with such a constant. It satisfies the requirement and shows why that is not trivial.
"""

from __future__ import annotations

import pytest

from prioritylogic import Answer, CheckResult, check, load
from prioritylogic.semantics.judgement import judge
from prioritylogic.semantics.reference import Reference

# An arbiter of two clients. What is assumed decides whether anybody ever asks.
ARBITER = """
system: arbiter
groups: {client: [one, two]}
inputs:
  request[client]: button
machines:
  grant:
    states:
      - nobody
      - given[client]
    start: nobody
    rules:
      - id: give
        each: c in client
        from: nobody
        if: request[c] and not (c is two and request[one])
        to: given[c]
      - id: end
        each: c in client
        from: given[c]
        after: 1 s
        to: nobody
assume:
  - id: ASKED
    never: QUIET
requirements:
  - id: GRANTED
    each: c in client
    after: request[c]
    expect: grant is given[c]
    within: 3 s
    unless: not request[c] or request[other(c)]
  - id: DEAF
    each: c in client
    after: request[c] and grant is given[c]
    expect: grant is nobody or grant is given[other(c)]
    within: 1 s
  - id: SINGLE
    never: grant is given[one] and grant is given[two]
"""


def checked(quiet: str, witnesses: bool = False) -> CheckResult:
    return check(load(ARBITER.replace("QUIET", quiet)), witnesses=witnesses)


def answers(result: CheckResult, name: str) -> list[Answer]:
    return [answer for answer in result.requirements if answer.id == name]


@pytest.mark.parametrize(
    ("quiet", "vacuous", "finding"),
    [
        ("request[one] or request[two]", [True, True], "vacuous:GRANTED"),  # nobody ever asks
        ("request[two]", [False, True], "vacuous:GRANTED[two]"),  # one of them never does
        ("request[one] and request[two]", [False, False], None),  # both do, by turns
    ],
)
def test_every_request_is_granted(quiet: str, vacuous: list[bool], finding: str | None) -> None:
    result = checked(quiet)
    granted = answers(result, "GRANTED")
    assert [answer.verdict for answer in granted] == ["holds", "holds"]
    told = [issue.id for issue in result.findings if issue.kind == "vacuous" and "GRANTED" in issue.id]
    assert told == ([] if finding is None else [finding])
    assert [answer.vacuity.startswith("vacuously") for answer in granted] == vacuous


def test_the_smallest_parts_decide() -> None:
    """A grant ends with nobody in charge: that the other client might have it at once is never needed."""
    result = checked("request[one] and request[two]")
    (deaf,) = (issue for issue in result.findings if "DEAF" in issue.id)
    assert deaf.id == "needless-part:DEAF.expect" and "`grant is given[other(c)]`" in deaf.message
    assert all(answer.vacuous for answer in answers(result, "DEAF"))


def test_an_interesting_witness_meets_the_requirement_and_is_not_trivial() -> None:
    result = checked("request[one] and request[two]", witnesses=True)
    reference = Reference(result.system)
    for requirement, answer in zip(result.system.requirements, result.requirements, strict=True):
        assert answer.verdict == "holds" and answer.witness is not None
        run = answer.witness.run
        assert judge(reference, requirement, run) is None
        moment = run.moments[answer.witness.marked or 0]
        assert moment.after.values[-1].startswith("given") or requirement.id == "DEAF"
