"""For which values of a setting a requirement holds: exact ends, reasons, and nothing guessed."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import Any

import pytest

from prioritylogic import DisagreementError, RequestError, load
from prioritylogic.engines import cellwise, failing, halfspaces
from prioritylogic.engines.halfspaces import Constraint
from prioritylogic.engines.limits import Limits
from prioritylogic.engines.ranges import find
from prioritylogic.evidence.ranges import FindResult, RangeAnswer
from prioritylogic.model.unknown import Sample
from prioritylogic.semantics.parametric import ParametricTerms

LOCK = """
system: lock
settings:
  hold: {value: 9 s, range: 5 s to 20 s}
inputs: {take: button}
machines:
  m:
    states: [idle, held, locked]
    start: idle
    rules:
      - {id: grab, from: idle, if: pressed(take), to: held}
      - {id: let, from: held, if: not take, to: idle, beats: lock}
      - {id: lock, from: held, after: hold, to: locked}
      - {id: ease, from: locked, after: 6 s, to: idle}
requirements:
"""
SOON = "after: m is held, expect: m is locked, within: 10 s, unless: not take"
LATE = "after: begins(m is held), keep: m is not locked, for: 7 s"


def found(requirement: str, text: str = LOCK, setting: str = "hold", **given: Any) -> RangeAnswer:
    system = load(f"{text}  - {{id: R, {requirement}}}\n")
    (answer,) = find(system, setting, **given).answers
    return answer


def parts(answer: RangeAnswer) -> list[str]:
    """The verdicts with their values, in the way of mathematics."""
    return [
        f"{part.verdict} {'[' if part.values.low_in else '('}{part.values.low}, {part.values.high}"
        f"{']' if part.values.high_in else ')'}"
        for part in answer.parts
    ]


# --------------------------------------------------------------------------- ends


def test_a_bound_from_above_and_its_counterexample_just_beyond() -> None:
    answer = found(SOON)
    assert parts(answer) == ["holds [5, 10]", "fails (10, 20]"]
    (example,) = answer.parts[1].examples
    assert (example.value, example.end) == (Fraction(101, 10), Fraction(10))
    assert example.system.rule("lock").delay.time == Fraction(101, 10)  # type: ignore[union-attr]
    assert example.trace.note == "no answer came"
    assert answer.parts[0].examples == () and Fraction(9) in answer.parts[0].checked
    assert all("cvc5" in ground.reason for ground in answer.parts[0].grounds if not ground.values.single)


def test_a_closed_end_of_a_failure_has_its_run_there() -> None:
    answer = found(SOON.replace("within: 10 s", "within: under 10 s"))
    assert parts(answer) == ["holds [5, 10)", "fails [10, 20]"]
    assert answer.parts[1].examples[0].value == 10
    answer = found("never: (m is held) for 10 s and take")
    assert parts(answer) == ["holds [5, 10]", "fails (10, 20]"]
    answer = found("after: begins(m is held), keep: m is not locked, for: 10 s")
    assert parts(answer) == ["fails [5, 10)", "holds [10, 20]"]
    answer = found("possible: taken(lock) and not (take for 8 s)")
    assert parts(answer) == ["holds [5, 8]", "fails (8, 20]"]
    answer = found("never: taken(lock) and not (take for 8 s)")
    assert parts(answer) == ["fails [5, 8]", "holds (8, 20]"]
    (example,) = answer.parts[0].examples
    assert example.value == example.end == 8


def test_an_interval_in_the_middle_and_single_values() -> None:
    both = "hold > 8 s and (hold < 11 s or hold = 13 s) and m is held"
    answer = found(f"never: {both}")
    assert parts(answer) == [
        "holds [5, 8]",
        "fails (8, 11)",
        "holds [11, 13)",
        "fails [13, 13]",
        "holds (13, 20]",
    ]
    assert [e.end for e in answer.parts[1].examples] == [8, 11]


def test_everywhere_and_nowhere() -> None:
    assert parts(found("never: m is locked and before(m is idle)")) == ["holds [5, 20]"]
    nowhere = found("never: m is locked")
    assert parts(nowhere) == ["fails [5, 20]"]
    assert [example.value for example in nowhere.parts[0].examples] == [9]  # the author's own value


def test_two_delays_that_become_one_are_asked_about_by_themselves() -> None:
    """At 6 s two rules of one stay share an expiry: only then can neither come first."""
    tie = LOCK.replace("{id: ease, from: locked,", "{id: ease, from: held,")
    answer = found("possible: m is idle and before(m is held) and take", tie)
    reasons = {str(g.values.low): g.engine for p in answer.parts for g in p.grounds if g.values.single}
    assert reasons == {"6": "explorer"}
    assert parts(answer)[-1] == "holds [6, 20]"


def test_timed_conditions_that_become_one() -> None:
    """`X for 7 s` and `X for hold` are one timer at 7 s, and two that may expire one by one else."""
    text = LOCK.replace(
        "{id: ease, from: locked, after: 6 s, to: idle}",
        "{id: ease, from: locked, if: (take for 7 s) and not (take for hold), to: idle}",
    )
    answer = found("possible: m is idle and before(m is locked)", text)
    assert "7" in {str(g.values.low) for p in answer.parts for g in p.grounds if g.values.single}
    assert parts(answer) == ["fails [5, 7]", "holds (7, 20]"]


def test_analog_limits_are_ranges_too() -> None:
    text = """
system: band
settings: {band: {value: 5 %, range: 1 % to 60 %}}
inputs: {x: 0 % to 100 %}
machines:
  m: {states: [a, b], start: a, rules: [{id: go, from: a, if: x > band and x <= 40 %, to: b}]}
requirements:
"""
    assert parts(found("possible: m is b", text, "band")) == ["holds [1/100, 2/5)", "fails [2/5, 3/5]"]


def test_whole_numbers_are_checked_one_by_one() -> None:
    text = """
system: count
settings: {most: {value: 2, range: whole 0 to 4}}
inputs: {go: button}
memory: {n: {values: whole 0 to 9, start: 0}}
machines:
  m: {states: [a], start: a, rules: [{id: up, from: a, if: pressed(go) and n < most, set: {n: n + 1}}]}
requirements:
"""
    answer = found("never: n > 2", text, "most")
    assert parts(answer) == ["holds [0, 2]", "fails [3, 4]"]
    assert [example.value for example in answer.parts[1].examples] == [3]


# --------------------------------------------------------------------------- honest gaps


def reason(answer: RangeAnswer) -> str:
    (part,) = answer.parts
    assert part.verdict == "undecided" and part.examples == () == part.checked
    return part.grounds[0].reason


def test_forms_that_only_single_values_decide_are_left_open() -> None:
    assert "only single values" in reason(found("recoverable: m is idle"))
    assert "only single values" in reason(found("after: m is held, expect: m is idle"))


def test_a_setting_that_is_multiplied_by_itself_is_left_open() -> None:
    text = LOCK.replace("after: hold", "after: hold * hold / 1 s")
    assert "multiplied by itself" in reason(found(SOON, text))


def test_a_setting_that_is_multiplied_by_a_lever_is_left_open() -> None:
    text = LOCK.replace("{take: button}", "{take: button, x: 0 % to 100 %}")
    assert "multiplied by what changes" in reason(found("never: x * hold > 30 s and m is held", text))


def test_an_assumed_answer_leaves_failures_open_and_proofs_as_they_are() -> None:
    assumed = "assume:\n  - {id: A, after: m is held, expect: not take, within: 1 s}\nrequirements:\n"
    answer = found(f"{SOON}, assuming: A", LOCK.replace("requirements:\n", assumed))
    assert parts(answer) == ["holds [5, 10]", "undecided (10, 20]"]
    assert "whether A holds" in answer.parts[1].grounds[0].reason


def test_values_with_which_the_spec_is_refused_are_left_open() -> None:
    text = LOCK.replace("from: held, after: hold", "from: held, takes: hold to 8 s")
    answer = found("never: m is locked and before(m is idle)", text.replace("value: 9 s", "value: 6 s"))
    assert parts(answer) == ["holds [5, 8]", "undecided (8, 20]"]
    assert "the spec is refused" in answer.parts[1].grounds[0].reason


def test_a_limit_leaves_open_and_never_decides() -> None:
    assert "time limit" in reason(found(SOON, limits=Limits(seconds=0.0)))


def test_little_work_leaves_open(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cellwise, "SOME", 1)
    monkeypatch.setattr(cellwise, "MUCH", 1)
    answer = found(SOON)
    undecided = [part for part in answer.parts if part.verdict == "undecided"]
    assert undecided and "work limit" in undecided[0].grounds[0].reason


# --------------------------------------------------------------------------- the whole


def test_an_exit_code_tells_of_the_own_value_first() -> None:
    def code(*requirements: str) -> int:
        rows = "".join(f"  - {{id: R{n}, {row}}}\n" for n, row in enumerate(requirements))
        result: FindResult = find(load(LOCK + rows), "hold")
        return result.exit_code

    assert code(SOON) == 0
    assert code("recoverable: m is idle", SOON) == 3
    assert code("recoverable: m is idle", "never: m is locked") == 1
    assert code("never: m is locked, expected: fails, reason: it is meant to") == 0


def test_requirements_that_there_are_not() -> None:
    system = load(f"{LOCK}  - {{id: R, {SOON}}}\n")
    with pytest.raises(RequestError, match="no requirement is called 'Q'"):
        find(system, "hold", ["Q"])


def test_the_same_twice() -> None:
    assert found(SOON).parts[0] == found(SOON).parts[0]


# --------------------------------------------------------------------------- planted faults


def strict_as_not(facts: Any, point: Any) -> tuple[Constraint, ...]:
    """Reasons in which every strict comparison has become one that is not."""
    return tuple(
        Constraint(line, "<=" if relation == "<" else relation)
        for line, relation in REASONS(facts, point)
    )


def without_the_last(facts: Any, point: Any) -> tuple[Constraint, ...]:
    return REASONS(facts, point)[:4]


def unnoted(self: Sample, base: Fraction, slope: Fraction, answer: Callable[[int], bool]) -> bool:
    """A comparison of which nothing is remembered."""
    sign = base + slope * self.value
    return answer((sign > 0) - (sign < 0))


def at_the_sample(self: ParametricTerms, value: Any) -> Any:
    """The setting is taken for a constant."""
    return super(ParametricTerms, self).const(
        Fraction(str(value)) if isinstance(value, Fraction) else value
    )


REASONS = halfspaces.reasons
FAULTS = [
    pytest.param(failing, "reasons", strict_as_not, LATE, id="a_strict_end_is_taken_in"),
    pytest.param(failing, "reasons", without_the_last, LATE, id="reasons_are_lost"),
    pytest.param(Sample, "asked", unnoted, "never: hold > 8 s and m is held", id="not_noted"),
    pytest.param(ParametricTerms, "const", at_the_sample, SOON, id="the_setting_is_a_constant"),
]


@pytest.mark.parametrize(("owner", "name", "fault", "requirement"), FAULTS)
def test_a_fault_of_ours_is_seen(
    monkeypatch: pytest.MonkeyPatch, owner: Any, name: str, fault: Any, requirement: str
) -> None:
    assert not any(part.verdict == "undecided" for part in found(requirement).parts)
    monkeypatch.setattr(owner, name, fault)
    with pytest.raises(DisagreementError):
        found(requirement)
