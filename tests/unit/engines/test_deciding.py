"""Who is asked in which order, and what is done when two of our own answers differ."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from making import DOOR, spec

import prioritylogic
from prioritylogic.cli.main import run
from prioritylogic.engines import reach
from prioritylogic.engines.check import check
from prioritylogic.engines.deciding import ATTEMPTS, FEW, MUCH, PROVERS_FIRST, SOME, Deciding
from prioritylogic.engines.exploring import Exploring
from prioritylogic.engines.induction import Inducting
from prioritylogic.engines.limits import Limits
from prioritylogic.engines.part import ENGINES, Options
from prioritylogic.engines.protocol import Broken, Found, Unbroken
from prioritylogic.engines.proving import Bounded, Reaching
from prioritylogic.errors import DisagreementError, LimitError
from prioritylogic.semantics.compile import Declined

HOLDS, FAILS = "after: m is b, keep: m is b, for: 2 s", "never: m is c"
# Of two analog figures that are multiplied the explorer can make nothing.
PRODUCT = DOOR.replace("stop: button", "stop: button, x: 0 to 2, y: 0 to 2").replace(
    "if: pressed(stop)", "if: pressed(stop) and x * y > 1"
)
PROVERS = ("reachability", "bounded search")
LIE = Unbroken("a lie", "a lie")


def decide(requirement: str, text: str = DOOR, **options: Any):  # type: ignore[no-untyped-def]
    system = spec(requirement, text)
    return Deciding(system, list(system.requirements), Limits(), Options(**options)).decide(0)


class Script:
    """What each engine says to each question, instead of itself; and which were asked."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, **says: Any) -> None:
        self.asked: list[tuple[str, bool, int]] = []
        for kind in (Exploring, Reaching, Bounded, Inducting):
            said = says.get(kind.name.split()[0])
            monkeypatch.setattr(kind, "seek", self._seek(kind.name, said))

    def _seek(self, name: str, said: Any) -> Any:
        def seek(_: object, _number: int, whole: bool, work: int) -> Found:
            self.asked.append((name, whole, work))
            if isinstance(said, Exception):
                raise said
            assert said is not None, f"{name} must not be asked"
            return said  # type: ignore[no-any-return]

        return seek


# --------------------------------------------------------------------------- the order


def test_cheap_attempts_come_first_and_both_orders_ask_the_same() -> None:
    for engine in ENGINES:
        works = [attempt.work for attempt in ATTEMPTS if attempt.engine == engine]
        assert works == sorted(works)
    assert [a for a in PROVERS_FIRST if a.engine != "explorer"] == [
        a for a in ATTEMPTS if a.engine != "explorer"
    ]
    assert PROVERS_FIRST[-1].engine == "explorer" and ATTEMPTS[0].engine == "explorer"


def test_the_first_that_decides_is_believed_and_no_other_is_asked(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    script = Script(monkeypatch, explorer=LIE)
    assert decide(HOLDS).engine == "explorer"
    assert script.asked == [("explorer", False, FEW)]


def test_all_are_asked_in_their_order_before_it_is_left_open(monkeypatch: pytest.MonkeyPatch) -> None:
    stop = LimitError("it is too much")
    script = Script(monkeypatch, explorer=stop, reachability=stop, bounded=stop, induction=stop)
    decision = decide(HOLDS)
    assert script.asked == [tuple(attempt) for attempt in ATTEMPTS]
    assert decision.verdict == "undecided" and decision.engine == "none"
    for name in ENGINES:
        assert decision.reason.count(f"{name}: it is too much") == 1
    assert decision.reason.endswith("would help")


def test_one_that_declines_is_not_asked_again(monkeypatch: pytest.MonkeyPatch) -> None:
    stop = LimitError("it is too much")
    script = Script(
        monkeypatch, explorer=Declined("it is strict"), reachability=stop, bounded=stop, induction=stop
    )
    decision = decide(HOLDS)
    assert [name for name, *_ in script.asked].count("explorer") == 1
    assert "not exact here, because it is strict" in decision.reason
    assert ("reachability", True, MUCH) in script.asked


def test_at_a_limit_on_time_nothing_else_is_tried(monkeypatch: pytest.MonkeyPatch) -> None:
    stop = LimitError("the time limit of 3 s was reached", final=True)
    script = Script(monkeypatch, explorer=LimitError("it is too much"), reachability=stop)
    decision = decide(HOLDS)
    assert script.asked[-1] == ("reachability", False, SOME)
    assert decision.reason.startswith("the time limit of 3 s was reached; more time (`--time-limit`)")


def test_what_breaks_a_part_is_looked_for_on_the_whole_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    stop = LimitError("it is too much")
    script = Script(monkeypatch, explorer=stop, reachability=Broken(), bounded=stop, induction=stop)
    decision = decide(HOLDS)
    first = script.asked.index(("reachability", False, SOME))
    assert all(whole for _, whole, _ in script.asked[first + 1 :])
    assert decision.verdict == "undecided"
    assert "reachability finds that some run of a part breaks it" in decision.reason


@pytest.mark.parametrize(
    ("requirement", "verdict"), [(HOLDS, "holds"), (FAILS, "fails"), ("possible: m is c", "holds")]
)
def test_what_the_explorer_declines_is_decided_by_provers(requirement: str, verdict: str) -> None:
    decision = decide(requirement, PRODUCT, cones=False)
    assert (decision.verdict, decision.engine in PROVERS) == (verdict, True)


def test_where_there_is_no_second_engine_that_is_said() -> None:
    decision = decide(HOLDS, PRODUCT, both=True, cones=False)
    assert decision.verdict == "holds" and decision.reason.endswith("; nothing else decides it")
    assert "cvc5 proves the same" in decision.reason


# --------------------------------------------------------------------------- differing answers


def lying(monkeypatch: pytest.MonkeyPatch, lie: str) -> str:
    """One engine lies; gives a requirement of which it does."""

    def unbroken(*_: object) -> Found:
        return LIE

    real = Exploring.seek

    def misled(self: Exploring, number: int, whole: bool, work: int) -> Found:
        """Shows a run of something else."""
        other = spec(FAILS)
        observed = Deciding(other, list(other.requirements), Limits(), Options())
        found = real(observed._exploring, 0, True, work)
        assert isinstance(found, Broken)
        return found

    match lie:
        case "the explorer sees nothing":
            monkeypatch.setattr(Exploring, "seek", unbroken)
            return FAILS
        case "a prover proves anything":
            monkeypatch.setattr(Reaching, "seek", unbroken)
            return FAILS
        case "the solver calls anything an invariant":
            monkeypatch.setattr(reach.z3.Fixedpoint, "query", lambda *_: reach.z3.unsat)
            monkeypatch.setattr(reach, "_facts", lambda *_: [])
            return FAILS
        case "a run that breaks nothing":
            monkeypatch.setattr(Exploring, "seek", misled)
            return HOLDS
    raise AssertionError(lie)


LIES = [
    "the explorer sees nothing",
    "a prover proves anything",
    "the solver calls anything an invariant",
    "a run that breaks nothing",
]


@pytest.mark.parametrize("lie", LIES)
def test_a_lie_is_no_verdict_but_an_error_with_a_case_to_reproduce_it(
    monkeypatch: pytest.MonkeyPatch, lie: str
) -> None:
    system = spec(lying(monkeypatch, lie))
    with pytest.raises(DisagreementError) as caught:
        prioritylogic.check(system, both=True)
    kept = Path(caught.value.reproducer)
    try:
        text = kept.read_text(encoding="utf-8")
        assert text.startswith(f"# {caught.value}\n") and system.text in text
        assert [r.form for r in prioritylogic.load(kept).requirements] == [
            r.form for r in system.requirements
        ]
    finally:
        kept.unlink()


def test_the_error_says_who_says_what(monkeypatch: pytest.MonkeyPatch) -> None:
    requirement = lying(monkeypatch, "the explorer sees nothing")
    with pytest.raises(
        DisagreementError, match="R: explorer says that it holds, bounded search that it fails"
    ):
        decide(requirement, both=True)


@pytest.mark.parametrize("lie", LIES)
def test_the_program_ends_with_a_code_of_its_own(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str], lie: str
) -> None:
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    requirement = lying(monkeypatch, lie)
    path = tmp_path / "door.yaml"
    path.write_text(DOOR + f"requirements: [{{id: R, {requirement}}}]\n", encoding="utf-8")
    assert run(["check", str(path), "--both"]) == 70
    out, err = capsys.readouterr()
    assert out == "" and "Traceback" not in err
    assert err.startswith("prioritylogic: Two of our own answers differ, so nothing is decided:")
    (kept,) = tmp_path.glob("prioritylogic-*.yaml")
    assert f"A case to reproduce it is in {kept}." in err


def test_without_lies_both_agree() -> None:
    for requirement, verdict in ((HOLDS, "holds"), (FAILS, "fails"), ("possible: m is c", "holds")):
        decision = decide(requirement, both=True)
        assert decision.verdict == verdict and " agrees" in decision.reason


def test_one_engine_alone_never_has_anybody_to_agree_with() -> None:
    for engine in ("explorer", "reachability"):
        result = check(spec(HOLDS), (), None, Options(engines=(engine,), both=True))
        assert result.requirements[0].reason.endswith("nothing else decides it")
