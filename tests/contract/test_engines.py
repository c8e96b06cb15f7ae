"""What any engine behind `check` must keep to: right verdicts, traces that replay, reasons, limits that
only ever make things undecided, and the same answer for the same question.

`OPTIONS` names the ways to get a `CheckResult`: each kind of engine alone, both against each other, and
what a person gets. Each test runs for each of them. The verdicts of
`players.yaml` are in its ids: ...-H holds, ...-F fails; each was worked out by hand.
"""

from __future__ import annotations

import dataclasses
import os
import subprocess
import sys
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import pytest

import prioritylogic
from prioritylogic.engines.check import check
from prioritylogic.engines.limits import Limits
from prioritylogic.engines.part import Options
from prioritylogic.evidence.results import CheckResult, Trace
from prioritylogic.model.system import Possible, System
from prioritylogic.render.json import check_document, dump
from prioritylogic.semantics.judgement import Judgement
from prioritylogic.semantics.reference import Reference

HERE = Path(__file__).parent
OPTIONS = {
    "check": Options(),
    "explorer": Options(engines=("explorer",)),
    "provers": Options(engines=("reachability", "bounded search")),
    "both": Options(both=True),
}
WORKING = ("holds", "fails")
Asked = Callable[..., CheckResult]
PROVED = ("an inductive invariant", "no step from any state")


def asked_with(options: Options) -> Asked:
    """A check with these options."""

    def asked(system: System, **limits: float) -> CheckResult:
        return check(system, (), Limits(seconds=limits.get("time_limit")), options)

    return asked


@pytest.fixture(scope="module")
def system() -> System:
    return prioritylogic.load(HERE / "players.yaml")


@pytest.fixture(params=OPTIONS)
def engine(request: pytest.FixtureRequest) -> Asked:
    return asked_with(OPTIONS[request.param])


@pytest.fixture(scope="module")
def results(system: System) -> dict[str, CheckResult]:
    return {name: asked_with(options)(system) for name, options in OPTIONS.items()}


@pytest.fixture(params=OPTIONS)
def result(request: pytest.FixtureRequest, results: dict[str, CheckResult]) -> CheckResult:
    return results[request.param]


def expected(id_: str) -> str:
    return {"H": "holds", "F": "fails"}[id_.rpartition("-")[2]]


# --------------------------------------------------------------------------- verdicts and reasons


def test_every_verdict_is_the_one_worked_out_by_hand(result: CheckResult) -> None:
    answers = (*result.requirements, *result.stories)
    assert {a.id: a.verdict for a in answers} == {a.id: expected(a.id) for a in answers}


def test_every_answer_says_who_decided_it_and_why(result: CheckResult) -> None:
    for answer in (*result.requirements, *result.stories):
        assert answer.engine and answer.reason, answer.id
        assert not answer.reason.endswith((".", " ")), "reasons are phrases; the renderer ends them"
        assert "None" not in answer.reason and "Error" not in answer.reason
    for question in result.questions:
        assert question.engine and question.verdict in WORKING


def test_what_holds_for_all_runs_says_how_much_was_seen(result: CheckResult) -> None:
    for answer in result.requirements:
        if answer.trace is not None:
            continue
        if answer.engine == "explorer":
            assert "exhaustive" in answer.reason and " state" in answer.reason, answer.reason
        else:
            assert any(way in answer.reason for way in PROVED) and "cvc5" in answer.reason, answer.reason


def test_each_answer_is_from_an_engine_that_was_asked(results: dict[str, CheckResult]) -> None:
    for name, options in OPTIONS.items():
        assert {answer.engine for answer in results[name].requirements} <= set(options.engines)
    assert {answer.engine for answer in results["provers"].requirements} == {
        "reachability",
        "bounded search",
    }


def test_where_both_are_asked_each_answer_names_both(results: dict[str, CheckResult]) -> None:
    for answer in results["both"].requirements:
        assert answer.engine == "explorer" and " agrees" in answer.reason, answer.reason


def test_the_facts_of_a_proof_are_told(results: dict[str, CheckResult]) -> None:
    for name in ("provers", "both"):
        for answer in results[name].requirements:
            told = any(way in answer.reason for way in PROVED[:1])
            assert bool(answer.invariant) == told, answer.reason


def test_all_find_runs_as_short(results: dict[str, CheckResult]) -> None:
    def lengths(name: str) -> dict[str, int]:
        return {a.id: a.trace.steps for a in results[name].requirements if a.trace is not None}

    assert lengths("explorer") == lengths("provers") == lengths("both")


def test_a_run_is_shown_exactly_where_one_decides(result: CheckResult) -> None:
    for answer in result.requirements:
        assert (answer.trace is not None) == ((answer.verdict == "holds") == (answer.form == "possible"))


# --------------------------------------------------------------------------- traces


def traces(result: CheckResult) -> list[Trace]:
    told = (*result.requirements, *result.stories, *result.findings)
    return [thing.trace for thing in told if thing.trace is not None]


def replays(reference: Reference, trace: Trace) -> bool:
    """Every step taken again, by nothing but the reference."""
    run = trace.run
    first, *others = run.moments
    inputs = len(reference.system.inputs)
    starts = reference.starts(first.after.values[:inputs])
    if first.time != 0 or not any(same(first, moment) for moment in starts):
        return False
    state, time = first.after, Fraction(0)
    for moment in others:
        state = later(reference, state, moment.time - time)
        if state is None:
            return False
        time = moment.time
        offered = reference.reactions(state, moment.after.values[:inputs], moment.expired)
        if not moment.expired <= reference.due(state) or not any(same(moment, m) for m in offered):
            return False
        state = moment.after
    return later(reference, state, run.end - time) is not None


def later(reference: Reference, state, passed: Fraction):  # type: ignore[no-untyped-def]
    """The state when so much time has passed, or None if it may not."""
    if passed == 0:
        return state
    allowed = passed > 0 and reference.may_pass(state, passed)
    return reference.passed(state, passed) if allowed else None


def same(one: object, other: object) -> bool:
    """The same reaction, whenever it was."""
    return dataclasses.replace(one, time=Fraction(0)) == dataclasses.replace(other, time=Fraction(0))  # type: ignore[type-var]


def test_every_trace_is_a_run_of_the_reference(system: System, result: CheckResult) -> None:
    reference = Reference(system)
    assert len(traces(result)) >= 10
    assert all(replays(reference, trace) for trace in traces(result))


def test_every_trace_breaks_its_requirement_and_only_at_its_end(
    system: System, result: CheckResult
) -> None:
    reference = Reference(system)
    for requirement, answer in zip(system.requirements, result.requirements, strict=True):
        if answer.trace is None:
            continue
        judgement = Judgement(reference, requirement, answer.trace.run)
        last = len(answer.trace.run.moments) - 1
        if isinstance(requirement.form, Possible):
            assert judgement.reached() == last
        else:
            failure = judgement.failure()
            assert failure is not None and failure.moment in (None, last), answer.id
            assert answer.trace.marked == failure.moment
            assert failure.time <= answer.trace.run.end


# --------------------------------------------------------------------------- limits


@pytest.mark.parametrize("seconds", [0.0, 0.001, 0.01, 0.05])
def test_no_time_makes_undecided_and_nothing_wrong(
    system: System, engine: Asked, seconds: float
) -> None:
    result = engine(system, time_limit=seconds)
    for answer in (*result.requirements, *result.stories):
        assert answer.verdict in ("undecided", expected(answer.id)), answer
        if answer.verdict == "undecided":
            assert "time limit" in answer.reason and "would help" in answer.reason
    assert len(result.requirements) == len(system.requirements)
    if seconds == 0.0:
        assert "undecided" in {answer.verdict for answer in result.requirements}
        assert "undecided" in {question.verdict for question in result.questions}
        for question in result.questions:  # what the text alone answers needs no time
            assert question.verdict != "holds" or question.engine != "explorer", question


def test_no_memory_makes_undecided(system: System) -> None:
    result = prioritylogic.check(system, memory_limit=1)
    assert {answer.verdict for answer in result.requirements} == {"undecided"}
    assert all("memory limit" in answer.reason for answer in result.requirements)


@pytest.mark.parametrize("states", [0, 1, 5, 20, 60, 200])
def test_a_work_limit_makes_undecided_and_nothing_wrong(system: System, states: int) -> None:
    result = check(system, (), Limits(states=states), OPTIONS["explorer"])
    for answer in result.requirements:
        assert answer.verdict in ("undecided", expected(answer.id)), answer
    again = check(system, (), Limits(states=states), OPTIONS["explorer"])
    assert dump(check_document([result])) == dump(check_document([again])), "work is counted, not time"


def test_only_the_first_failure_needs_finding_before_a_limit(system: System) -> None:
    """What a limit interrupts still stands: a run that fails at once is found in few states."""
    requirement = next(r for r in system.requirements if r.id == "ONCE-F")
    alone = dataclasses.replace(system, requirements=(requirement,))
    (answer,) = check(alone, (), Limits(states=4_000), OPTIONS["explorer"]).requirements
    assert answer.verdict == "fails"


# --------------------------------------------------------------------------- the same again


@pytest.mark.parametrize("name", OPTIONS)
def test_the_same_question_gives_the_same_bytes(
    system: System, results: dict[str, CheckResult], name: str
) -> None:
    again = asked_with(OPTIONS[name])(system)
    assert dump(check_document([again])) == dump(check_document([results[name]]))
    assert [a.invariant for a in again.requirements] == [a.invariant for a in results[name].requirements]


PRINT = """
import sys, prioritylogic
from pathlib import Path
from prioritylogic.render.json import check_document, dump
print(dump(check_document([prioritylogic.check(prioritylogic.load(Path(sys.argv[1])), both=True)])))
"""


def test_another_process_with_other_hashes_gives_the_same_bytes() -> None:
    def run(seed: str) -> bytes:
        root = str(Path(prioritylogic.__file__).parents[1])
        environment = {**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": root}
        command = [sys.executable, "-c", PRINT, str(HERE / "players.yaml")]
        return subprocess.run(command, env=environment, check=True, capture_output=True).stdout

    one, other = run("1"), run("4242")
    assert one == other and len(one) > 10_000


def test_verdicts_do_not_depend_on_the_order_of_the_requirements(system: System, engine: Asked) -> None:
    turned = dataclasses.replace(system, requirements=tuple(reversed(system.requirements)))
    assert {a.id: a.verdict for a in engine(turned).requirements} == {
        r.id: expected(r.id) for r in system.requirements
    }


@pytest.mark.parametrize("id_", ["WITHIN-H", "WITHIN-F", "EVERY-F", "POSSIBLE-H", "STORY-F"])
def test_one_alone_is_answered_as_among_all(
    system: System, results: dict[str, CheckResult], id_: str
) -> None:
    alone = prioritylogic.check(system, only=[id_])
    (answer,) = (*alone.requirements, *alone.stories)
    everything = results["check"]
    among = next(a for a in (*everything.requirements, *everything.stories) if a.id == id_)
    assert (answer.verdict, answer.trace is None) == (among.verdict, among.trace is None)
    if answer.trace is not None and among.trace is not None:
        assert answer.trace.steps == among.trace.steps


def test_an_id_that_is_not_there_is_refused(system: System, engine: Asked) -> None:
    with pytest.raises(prioritylogic.RequestError, match="ALWAYS-H"):
        prioritylogic.check(system, only=["ALWAYS-HH"])
    assert engine(system).system is system
