"""What must be true of an invariant is asked by three scripts; each says no when it should."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest
import z3
from claiming import EVERY_KIND, Facts, question
from making import DOOR

import prioritylogic
from prioritylogic.engines import obligations as module
from prioritylogic.engines.lemmas import Lemmas
from prioritylogic.engines.limits import Limits
from prioritylogic.engines.obligations import Obligation, discharged, obligations
from prioritylogic.engines.transition import Transition
from prioritylogic.errors import DisagreementError, LimitError

KEEP = DOOR + "requirements: [{id: R, after: m is b, keep: m is b, for: 2 s}]\n"
ANSWER = DOOR + "requirements: [{id: R, after: m is b, expect: m is c, within: 2 s}]\n"
LOST = DOOR + "requirements: [{id: R, never: m is c and go}]\n"
KEPT = ("asked implies m is b", "m.time <= asked.time")
ANSWERED = ("m is b implies asked.time <= m.time", "asked implies m is b")

ASKED = [
    # a spec, facts, and which of the obligations they fail
    (KEEP, KEPT, ()),
    (ANSWER, ANSWERED, ()),
    (KEEP, (*KEPT, "m is c implies not asked"), ()),  # one fact more, also true
    (KEEP, ("asked implies m is b and m.time < 2 s", KEPT[1]), ()),
    # weaker than needed: it is true and stays so, but proves nothing
    (KEEP, (), ("is enough",)),
    (KEEP, KEPT[:1], ("is enough",)),
    (ANSWER, ANSWERED[1:], ("is enough",)),
    # stronger than true: some step leaves it
    (KEEP, (*KEPT, "m is not c"), ("stays true",)),
    (KEEP, (*KEPT, "not asked"), ("stays true",)),
    (KEEP, (KEPT[0], "m.time < asked.time"), ("starts true", "stays true")),
    (KEEP, ("asked implies m is b and m.time < 1 s", KEPT[1]), ("stays true",)),
    # the opposite: not even the start has it
    (KEEP, (*KEPT, "not (m is a)"), ("starts true", "stays true")),
    (KEEP, ("not (asked implies m is b)",), ("starts true", "stays true", "is enough")),
    (ANSWER, (*ANSWERED, "asked"), ("starts true", "stays true")),
    # contradictory facts prove everything but the start
    (ANSWER, ("1 = 0",), ("starts true",)),
    # nothing proves what is not so
    (LOST, (), ("is enough",)),
    (LOST, ("m is not c",), ("stays true", "is enough")),
]


def asked_of(text: str, facts: tuple[str, ...]) -> tuple[Obligation, ...]:
    transition = question(text)
    lemmas = Lemmas(transition)
    return obligations(transition, [lemmas.read(fact) for fact in facts])


def by_z3(obligation: Obligation) -> bool:
    """Whether Z3's own front end proves it."""
    solver = z3.Solver(ctx=z3.Context())
    solver.from_string(obligation.text)
    return bool(solver.check() == z3.unsat)


def by_cvc5(obligation: Obligation) -> bool | None:
    """The same by cvc5; here an invariant that is refuted is no fault."""
    try:
        return discharged(obligation, Limits())
    except DisagreementError as error:
        assert obligation.name in str(error)
        return False


@pytest.mark.parametrize(("text", "facts", "failed"), ASKED)
def test_exactly_the_right_obligation_fails(
    text: str, facts: tuple[str, ...], failed: tuple[str, ...]
) -> None:
    asked = asked_of(text, facts)
    assert [o.name for o in asked] == ["starts true", "stays true", "is enough"]
    assert tuple(o.name for o in asked if by_cvc5(o) is False) == failed
    assert all(by_cvc5(o) is not None for o in asked)


@pytest.mark.parametrize(("text", "facts", "failed"), ASKED)
def test_another_reader_of_the_same_text_says_the_same(
    text: str, facts: tuple[str, ...], failed: tuple[str, ...]
) -> None:
    assert tuple(o.name for o in asked_of(text, facts) if not by_z3(o)) == failed


@pytest.mark.parametrize("text", [KEEP, ANSWER, EVERY_KIND])
@pytest.mark.parametrize("seed", range(3))
def test_both_readers_agree_on_whatever_is_claimed(text: str, seed: int) -> None:
    transition = question(text)
    facts = Facts(transition, seed)
    for _ in range(4):
        for obligation in obligations(transition, [facts.fact(2), facts.fact(1)]):
            assert by_cvc5(obligation) == by_z3(obligation), obligation.text


def test_no_facts_at_all_prove_what_is_not_so() -> None:
    transition = question(LOST)
    facts = Facts(transition, 11)
    for _ in range(40):
        claimed = [facts.fact(1) for _ in range(3)]
        assert not all(map(by_z3, obligations(transition, claimed))), claimed


def test_a_state_that_the_facts_exclude_is_where_a_step_may_not_come_from() -> None:
    """The facts of a state's kind are proved with the rest: without them the proof has a hole."""
    transition = question(KEEP)
    lemmas = Lemmas(transition)
    transition.bounds.append(lemmas.read("m is not c"))  # not so
    asked = obligations(transition, [lemmas.read(fact) for fact in KEPT])
    assert [o.name for o in asked if not by_z3(o)] == ["stays true"]


# --------------------------------------------------------------------------- limits


def hard() -> Obligation:
    """Pigeons and holes: hard for every solver of this kind."""
    n = 9
    lines = ["(set-logic QF_UF)"]
    lines += [f"(declare-const p{i}-{j} Bool)" for i in range(n + 1) for j in range(n)]
    lines += [f"(assert (or {' '.join(f'p{i}-{j}' for j in range(n))}))" for i in range(n + 1)]
    lines += [
        f"(assert (or (not p{i}-{j}) (not p{k}-{j})))"
        for j in range(n)
        for i in range(n + 1)
        for k in range(i)
    ]
    return Obligation("stays true", "\n".join([*lines, "(check-sat)", ""]))


def test_too_much_work_leaves_it_open(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "WORK", 2_000)
    assert discharged(hard(), Limits()) is None
    assert discharged(asked_of(KEEP, KEPT)[0], Limits()) is True


def test_no_time_ends_it() -> None:
    limits = Limits(seconds=0.3)
    with pytest.raises(LimitError, match=r"time limit of 0\.3 s"):
        discharged(hard(), limits)


def test_a_person_can_stop_it() -> None:
    threading.Timer(0.3, lambda: os.kill(os.getpid(), signal.SIGINT)).start()
    began = time.monotonic()
    with pytest.raises(KeyboardInterrupt):
        discharged(hard(), Limits())
    assert time.monotonic() - began < 2.3


def test_no_memory_ends_it() -> None:
    with pytest.raises(LimitError, match="memory limit"):
        discharged(hard(), Limits(memory=1))


@pytest.mark.parametrize(
    "text",
    [
        "(set-logic QF_LRA)(declare-const x Real)(assert (> (* x x) 1.0))(check-sat)",
        "(set-logic QF_LRA)(assert (> x 1.0))(check-sat)",
        "(set-logic QF_LRA",
        "",
    ],
)
def test_a_script_that_cannot_be_read_is_a_fault_of_ours(text: str) -> None:
    with pytest.raises(DisagreementError, match="cannot read what it is asked"):
        discharged(Obligation("is enough", text), Limits())


def test_what_is_refuted_is_a_fault_of_ours() -> None:
    for obligation in asked_of(KEEP, ("1 = 0",)):
        if obligation.name == "starts true":
            with pytest.raises(DisagreementError, match="it is not so that it starts true"):
                discharged(obligation, Limits())


# --------------------------------------------------------------------------- the same again

PRINT = """
from claiming import EVERY_KIND, Facts, question
from prioritylogic.engines.obligations import obligations
transition = question(EVERY_KIND)
facts = Facts(transition, 3)
for obligation in obligations(transition, [facts.fact() for _ in range(5)]):
    print(obligation.name, obligation.text)
"""


def test_another_process_with_other_hashes_asks_the_same() -> None:
    def run(seed: str) -> bytes:
        root = Path(prioritylogic.__file__).parents[1]
        path = os.pathsep.join(map(str, (root, Path(__file__).parent)))
        environment = {
            **os.environ,
            "PYTHONHASHSEED": seed,
            "PYTHONPATH": path,
            "PYTHONIOENCODING": "utf-8",
        }
        command = [sys.executable, "-c", PRINT]
        return subprocess.run(command, env=environment, check=True, capture_output=True).stdout

    one, other = run("1"), run("4242")
    assert one == other and len(one) > 5_000


def test_the_question_is_asked_of_the_whole_state() -> None:
    """Also of what the requirement does not depend on: a fact may speak of it."""
    transition: Transition = question(EVERY_KIND)
    fact = Lemmas(transition).read("wer is links or gut or wer is rechts")
    assert all(map(by_z3, obligations(transition, [fact])[:2]))
