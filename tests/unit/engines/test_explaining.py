"""Each verdict gets the explanation that fits it; what an argument says is so."""

from __future__ import annotations

from dataclasses import replace

import pytest
from claiming import question
from making import DOOR, spec

import prioritylogic
from prioritylogic.engines.arguing import Argument
from prioritylogic.engines.decisive import decisive
from prioritylogic.engines.explaining import hypothesis
from prioritylogic.engines.limits import Limits
from prioritylogic.errors import RequestError
from prioritylogic.evidence.explanation import Causes, Explanation, Proof, Told
from prioritylogic.semantics.reference import Reference

ANSWER = "after: m is b, expect: m is c, within: 2 s"
FACTS = ("asked implies m is b", "asked implies asked.time <= m.time")
HELD = DOOR.replace("after: 2 s, to: c", "if: pressed(stop), to: c")


def explained(requirement: str, text: str = DOOR) -> Explanation:
    answer = prioritylogic.check(spec(requirement, text), explain=["R"]).requirements[0]
    assert answer.explanation is not None
    return answer.explanation


@pytest.fixture(scope="module")
def argument() -> Argument:
    return Argument(question(f"{DOOR}requirements: [{{id: R, {ANSWER}}}]\n"), FACTS, Limits())


def test_a_proof_names_the_rules_at_stake_and_the_facts_needed(argument: Argument) -> None:
    asked, timely = argument.facts()
    assert asked.starts == timely.starts == "not asked"
    assert asked.risks == ("open", "lock") and asked.needs == () and not asked.at_rest
    assert timely.needs == (1,)
    assert argument.enough() == (1, 2)


def test_induction_is_blocked_by_a_step_that_a_fact_excludes(argument: Argument) -> None:
    blocking, known = argument.blocking()
    assert known and blocking is not None
    assert blocking.late and blocking.wait > 0 and len(blocking.excluded) == 1
    assert dict(blocking.before)["asked"] is True


def test_without_a_fact_that_it_needs_a_fact_is_not_excluded() -> None:
    alone = Argument(question(f"{DOOR}requirements: [{{id: R, {ANSWER}}}]\n"), FACTS[:1], Limits())
    (asked,) = alone.facts()
    assert asked.needs == ()
    blocking, _ = alone.blocking()
    assert blocking is not None  # it is not enough, and says so: no fact excludes the step
    assert blocking.excluded == ()


def test_what_is_explored_is_argued_for_besides() -> None:
    proof = explained(ANSWER)
    assert isinstance(proof, Proof) and proof.besides and proof.facts
    assert proof.blocking is not None and proof.blocking.excluded


def test_a_requirement_that_each_step_keeps_is_its_own_invariant() -> None:
    proof = explained("never: m is b and stop and not stop or m is c and m is b")
    assert isinstance(proof, Proof) and proof.blocking is None and not proof.blocked


def test_what_plain_induction_may_assume() -> None:
    (plain,) = spec("never: m is c and stop").requirements
    assert hypothesis(plain) is not None
    for said in ("never: pressed(stop) and m is c", "never: taken(open) and m is c", ANSWER):
        assert hypothesis(spec(said).requirements[0]) is None


@pytest.mark.parametrize(
    ("requirement", "kind"),
    [
        ("never: m is c", Causes),
        ("possible: m is c", Causes),
        ("possible: m is c and m is a", Proof),
        ("recoverable: m is a", Told),
        ("after: m is b, expect: m is a", Told),
    ],
)
def test_each_verdict_gets_what_fits(requirement: str, kind: type[Explanation]) -> None:
    assert isinstance(explained(requirement), kind)


def test_an_undecided_one_says_so() -> None:
    result = prioritylogic.check(spec(ANSWER), explain=["R"], time_limit=0)
    assert isinstance(result.requirements[0].explanation, Told)


def test_nothing_is_explained_unasked() -> None:
    assert prioritylogic.check(spec(ANSWER)).requirements[0].explanation is None


def test_a_story_is_its_own_argument() -> None:
    told = "stories: [{id: S, text: s, steps: [press go], end: m is b}]\n"
    result = prioritylogic.check(spec("", DOOR + told), explain=["S"])
    assert isinstance(result.stories[0].explanation, Told) and not result.requirements


def test_one_member_of_a_family() -> None:
    text = "groups: {g: [one, two]}\n" + DOOR
    system = spec("each: x in g, never: m is c and x is two", text)
    result = prioritylogic.check(system, explain=["R[two]"])
    first, second = result.requirements
    assert first.explanation is None and isinstance(second.explanation, Causes)
    with pytest.raises(RequestError, match=r"'R\[tow\]'.*R\[two\]"):
        prioritylogic.check(system, explain=["R[tow]"])


@pytest.mark.parametrize(
    ("requirement", "said", "asked"),
    [
        ("never: m is b and go", [("m", True), ("go", True)], None),
        ("after: m is b, expect: m is a, within: 1 s", [("m", False)], 0),
        ("after: m is b, keep: m is b, for: 9 s", [("m", False)], 0),
        ("after: pressed(go), keep: m is b, until: stop", [("m", False)], 0),
        ("while: m is b, expect: stop, every: 1 s", [("stop", False)], 0),
        ("after: go, apart: 1 s", [("go", True)], 0),
    ],
)
def test_what_decides(requirement: str, said: list[tuple[str, bool]], asked: int | None) -> None:
    system = spec(requirement)
    trace = prioritylogic.check(system).requirements[0].trace
    assert trace is not None
    place, parts, since = decisive(Reference(system), system.requirements[0], trace.run)
    assert (place.moment, since) == (trace.marked, asked)
    found = [(str(part.formula), part.true) for part in parts]
    assert len(found) == len(said)
    for (formula, true), (name, wanted) in zip(found, said, strict=True):
        assert f"'{name}'" in formula and true == wanted


def test_the_same_every_time(argument: Argument) -> None:
    again = Argument(question(f"{DOOR}requirements: [{{id: R, {ANSWER}}}]\n"), FACTS, Limits())
    assert again.facts() == argument.facts() and again.blocking() == argument.blocking()
    assert replace(again.facts()[0]) == argument.facts()[0]


@pytest.mark.parametrize(
    ("rule", "said"),
    [
        ("", "only time passes"),
        ("      - {id: again, from: c, fair: yes, may: yes, to: b}\n", "for ever it takes again"),
        ("      - {id: off, from: a, takes: some day, to: a}\n", "owes no turn to off"),
    ],
)
def test_why_a_loop_may_go_on(rule: str, said: str) -> None:
    told = explained("after: m is b, expect: m is a", DOOR + rule)
    assert isinstance(told, Told) and said in told.sentences[0]


def test_that_there_is_no_loop_is_said() -> None:
    told = explained("after: m is b, expect: m is c")
    assert isinstance(told, Told) and "there is none" in told.sentences[0]


def test_what_explains_is_public() -> None:
    assert {"Causes", "Cause", "DecisivePart", "Proof", "Fact", "Blocking", "Told"} <= {
        *prioritylogic.__all__
    }
    assert prioritylogic.__all__ == sorted(prioritylogic.__all__)
    assert prioritylogic.Causes is Causes and prioritylogic.Proof is Proof and prioritylogic.Told is Told
