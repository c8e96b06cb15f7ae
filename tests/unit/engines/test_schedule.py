"""Whoever decides a requirement, in whatever order, the answer is the same; and nobody is waited for in
vain."""

from __future__ import annotations

import multiprocessing
import pickle
import random
import threading
import time
from collections.abc import Callable
from concurrent.futures import BrokenExecutor, Executor, Future, ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest

import prioritylogic
from prioritylogic.engines import explore, part, schedule
from prioritylogic.engines.check import check
from prioritylogic.engines.deciding import Attempt, Deciding
from prioritylogic.engines.limits import Limits
from prioritylogic.engines.part import Options
from prioritylogic.engines.schedule import Job, Workers, asked_of, decided, one_decided
from prioritylogic.errors import DisagreementError
from prioritylogic.evidence.results import CheckResult

SPECS = Path(__file__).parents[3] / "specs"
SPEC = """
system: lamp
inputs:
  b: button
  x: 0 % to 100 %
machines:
  m:
    states: [off, on, stuck]
    start: off
    rules:
      - {id: light, from: off, if: pressed(b), to: on}
      - {id: fade, from: on, after: 2 s, to: off}
      - {id: jam, from: on, if: x > 50 %, may: yes, to: stuck}
requirements:
  - {id: FADES, after: m is on, expect: m is not on, within: 2 s}
  - {id: SOON, after: m is on, expect: m is off, within: 1 s}
  - {id: JAMS, possible: m is stuck}
  - {id: BACK, recoverable: m is off}
  - {id: SOME-DAY, after: pressed(b), expect: m is off}
  - {id: HIGH, never: m is stuck and before(m) is off}
"""


def answers(system: prioritylogic.System, workers: Workers, **options: Any) -> CheckResult:
    return check(system, options=Options(vacuity=True, **options), workers=workers)


@pytest.mark.parametrize("options", [{}, {"both": True, "slack": True}])
def test_any_number_of_workers_gives_the_same(options: dict[str, bool]) -> None:
    system = prioritylogic.load(SPEC)
    alone = answers(system, Workers(), **options)
    assert {a.verdict for a in alone.requirements} == {"holds", "fails"}
    for count in (2, 3):
        assert answers(system, Workers(count, patience=-1), **options) == alone


def test_any_executor_will_do() -> None:
    system = prioritylogic.load(SPEC)
    with ThreadPoolExecutor(1) as threads:
        shared = answers(system, Workers(executor=threads, patience=-1))
    assert shared == answers(system, Workers())


GALLERY = ["drive_states", "fischer", "released_pilot", "semaphore_fair", "watch_alarm_suppressed"]
SHIPPED = [SPECS / f"{name}.yaml" for name in ("ferry_helm", "stations")]
SHIPPED += [SPECS / "gallery" / f"{name}.yaml" for name in GALLERY]


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_answers_do_not_depend_on_what_was_asked_before(path: Path) -> None:
    """In any order, and each read anew from what another process would be sent."""
    system = prioritylogic.load(path)
    numbers = asked_of(system, frozenset())
    limits, options = Limits(), Options()

    def deciding() -> Deciding:
        return Deciding(system, list(system.requirements), limits, options)

    in_order = deciding()
    wanted = {n: decided(in_order, n, limits, options) for n in numbers}
    random.Random(1).shuffle(numbers)
    shuffled = deciding()
    assert {n: decided(shuffled, n, limits, options) for n in numbers} == wanted
    job = Job(system.text, system.file, frozenset(), options, None, None, None, 5_000_000)
    for number in numbers[:5]:
        schedule._kept.job = None
        sent = pickle.loads(pickle.dumps(one_decided(job, number)))
        assert sent == wanted[number]


RINGS = """
system: rings
inputs: {b: button, c: button}
machines:
  one:
    states: [p, q, r, s, t]
    start: p
    rules:
      - {id: q, from: p, if: pressed(b), to: q}
      - {id: r, from: q, if: pressed(b), to: r}
      - {id: s, from: r, if: pressed(b), to: s}
      - {id: t, from: s, if: pressed(b), to: t}
  two:
    states: [p, q, r, s, t]
    start: p
    rules:
      - {id: q2, from: p, if: pressed(c), to: q}
      - {id: r2, from: q, if: pressed(c), to: r}
      - {id: s2, from: r, if: pressed(c), to: s}
      - {id: t2, from: s, if: pressed(c), to: t}
requirements:
  - {id: HOLDS, never: one is t and before(one) is p}
  - {id: EARLY, never: one is q and two is p}
  - {id: LATE, never: one is t and two is t}
"""


@pytest.mark.parametrize("most", [16, 1_000_000], ids=["stopped", "ended"])
def test_more_that_was_explored_for_another_one_does_not_count(
    most: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is found with little work stands for little work, also if it comes after much."""
    for module in (explore, part):
        monkeypatch.setattr(module, "LOOKS", 4)
    attempts = tuple(Attempt("explorer", True, work) for work in (4, most))
    monkeypatch.setattr("prioritylogic.engines.deciding.ATTEMPTS", attempts)
    system = prioritylogic.load(RINGS)
    limits, options = Limits(), Options()
    said = []
    for order in ((0, 1, 2), (2, 1, 0), (1, 2, 0)):
        deciding = Deciding(system, list(system.requirements), limits, options)
        answers = {n: decided(deciding, n, limits, options) for n in order}
        said.append([answers[n] for n in range(3)])
    assert said[0] == said[1] == said[2]
    assert said[0][1][0].verdict == "fails"


def test_each_thread_has_what_is_its_own() -> None:
    system = prioritylogic.load(SPEC)
    with ThreadPoolExecutor(2) as threads:
        shared = answers(system, Workers(executor=threads, patience=-1), both=True)
    assert shared == answers(system, Workers(), both=True)


class Dying(Executor):
    """Decides the first requirement it is given, and dies."""

    def __init__(self) -> None:
        self.asked = 0

    def submit(self, fn: Callable[..., Any], /, *given: Any, **named: Any) -> Future[Any]:
        self.asked += 1
        future: Future[Any] = Future()
        if self.asked == 1:
            future.set_result(fn(*given))
        else:
            future.set_exception(BrokenExecutor("killed"))
        return future


def test_what_a_dead_process_was_to_decide_is_decided_here() -> None:
    system, dying = prioritylogic.load(SPEC), Dying()
    assert answers(system, Workers(executor=dying, patience=-1)) == answers(system, Workers())
    assert dying.asked == 6


def test_a_process_that_dies_at_once_is_not_waited_for() -> None:
    class Dead(Executor):
        def submit(self, *_: Any, **named: Any) -> Future[Any]:
            raise BrokenExecutor("killed")

    system = prioritylogic.load(SPEC)
    assert answers(system, Workers(executor=Dead(), patience=-1)) == answers(system, Workers())


def test_a_process_that_is_killed_is_not_waited_for() -> None:
    killed = []

    def kill() -> None:
        while not (children := multiprocessing.active_children()):
            time.sleep(0.01)
        killed.append(children[0])
        children[0].kill()

    system, killing = prioritylogic.load(SPEC), threading.Thread(target=kill)
    killing.start()
    shared = answers(system, Workers(2, patience=-1))
    killing.join()
    assert killed and shared == answers(system, Workers())
    assert not multiprocessing.active_children()


def test_a_time_limit_only_leaves_open() -> None:
    """As expected, or undecided for want of time: nobody has stopped it."""
    system = prioritylogic.load(SPECS / "stations.yaml")
    options, limits = Options(both=True, slack=True), Limits(seconds=2.5)
    result = check(system, limits=limits, options=options, workers=Workers(2, patience=0.5))
    open_ = [answer for answer in result.requirements if answer.verdict == "undecided"]
    assert open_ and all("the time limit of 2.5 s was reached" in answer.reason for answer in open_)
    for answer in result.requirements:
        assert answer in open_ or answer.verdict == answer.expected


def test_what_wants_more_memory_than_its_share_is_decided_here() -> None:
    system = prioritylogic.load(SPEC)
    job = Job(system.text, system.file, frozenset(), Options(), None, None, 1, 5_000_000)
    assert one_decided(job, 0) is None
    limits = Limits(memory=1 << 40)
    with ThreadPoolExecutor(1) as threads:
        shared = check(system, limits=limits, workers=Workers(executor=threads, patience=-1))
    assert shared == check(system)


def test_where_memory_is_short_nobody_helps(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(schedule, "LEAST", 1 << 50)
    monkeypatch.setattr(schedule, "_executor", None)
    system, limits = prioritylogic.load(SPEC), Limits(memory=1 << 40)
    assert check(system, limits=limits, workers=Workers(2, patience=-1)) == check(system)


def test_what_others_have_not_begun_is_taken_back() -> None:
    class Idle(Executor):
        def __init__(self) -> None:
            self.given: list[Future[Any]] = []

        def submit(self, *_: Any, **named: Any) -> Future[Any]:
            self.given.append(Future())
            return self.given[-1]

    idle, system = Idle(), prioritylogic.load(SPEC)
    limits = Limits(stop=lambda: len(idle.given) == 6)
    result = check(system, limits=limits, workers=Workers(executor=idle, patience=-1))
    assert all(future.cancelled() for future in idle.given)
    assert {answer.verdict for answer in result.requirements} == {"undecided"}


def test_a_system_that_is_not_what_its_text_says_is_decided_here() -> None:
    from dataclasses import replace

    system, dying = prioritylogic.load(SPEC), Dying()
    changed = replace(system, requirements=system.requirements[:3])
    result = answers(changed, Workers(executor=dying, patience=-1))
    assert len(result.requirements) == 3 and not dying.asked


def test_a_disagreement_elsewhere_is_one_here(monkeypatch: pytest.MonkeyPatch) -> None:
    def wrong(*_: object) -> None:
        raise DisagreementError("two differ")

    monkeypatch.setattr(schedule, "one_decided", wrong)
    with ThreadPoolExecutor(1) as threads, pytest.raises(DisagreementError, match="two differ"):
        answers(prioritylogic.load(SPEC), Workers(executor=threads, patience=-1))


def test_what_is_decided_when_somebody_stops_it_stands() -> None:
    system = prioritylogic.load(SPEC)
    told: list[str] = []
    result = prioritylogic.check(system, progress=told.append, stop=lambda: len(told) > 3)
    verdicts = [answer.verdict for answer in result.requirements]
    assert verdicts[:5] == ["holds", "fails", "holds", "undecided", "undecided"]
    assert "it was stopped by hand; it would have to run on" in result.requirements[3].reason
    assert result.exit_code == 1
    assert {question.verdict for question in result.questions} == {"undecided"}


def test_a_pool_that_closes_while_it_begins_a_process_is_left_alone() -> None:
    class Closing(Dying):
        def submit(self, fn: Callable[..., Any], /, *given: Any, **named: Any) -> Future[Any]:
            if self.asked:
                raise OSError("handle is closed")
            return super().submit(fn, *given, **named)

    system = prioritylogic.load(SPEC)
    assert answers(system, Workers(executor=Closing(), patience=-1)) == answers(system, Workers())
