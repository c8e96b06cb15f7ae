"""What each engine behind the protocol must keep to, asked one by one, without what `check` makes of it.

The verdicts of `players.yaml` are in its ids. For `possible` to be broken is to be reached.
"""

from __future__ import annotations

import inspect
from pathlib import Path

import pytest

import prioritylogic
from prioritylogic.engines import proving
from prioritylogic.engines.deciding import ATTEMPTS, PROVERS_FIRST
from prioritylogic.engines.exploring import Exploring
from prioritylogic.engines.induction import Inducting
from prioritylogic.engines.limits import Limits
from prioritylogic.engines.part import ENGINES, Options
from prioritylogic.engines.protocol import Broken, Engine, Found, Unbroken
from prioritylogic.engines.proving import Bounded, Reaching
from prioritylogic.errors import LimitError
from prioritylogic.model.system import Possible, System
from prioritylogic.requirements.observer import observer
from prioritylogic.semantics.compile import Declined
from prioritylogic.semantics.judgement import Judgement
from prioritylogic.semantics.reference import Reference

KINDS: dict[str, type[Engine]] = {kind.name: kind for kind in (Exploring, Reaching, Bounded, Inducting)}
PLENTY = 100_000_000
IDS = [r.id for r in prioritylogic.load(Path(__file__).parent / "players.yaml").requirements]


@pytest.fixture(scope="module")
def system() -> System:
    return prioritylogic.load(Path(__file__).parent / "players.yaml")


def made(name: str, system: System, limits: Limits | None = None) -> Engine:
    requirements = list(system.requirements)
    watching = {number: observer(r) for number, r in enumerate(requirements)}
    known = {number: found for number, found in watching.items() if found is not None}
    return KINDS[name](system, requirements, known, limits or Limits(), Options())  # type: ignore[call-arg]


@pytest.fixture(scope="module")
def engines(system: System) -> dict[str, Engine]:
    return {name: made(name, system) for name in KINDS}


def breaks(id_: str) -> bool:
    """Whether some run breaks it; what is possible is broken where it holds."""
    return id_.endswith("-F") != id_.startswith("POSSIBLE")


def test_the_names_are_those_that_may_be_asked() -> None:
    assert tuple(KINDS) == ENGINES
    assert {attempt.engine for attempt in ATTEMPTS} == set(ENGINES)
    assert sorted(ATTEMPTS) == sorted(PROVERS_FIRST)


@pytest.mark.parametrize("name", KINDS)
def test_each_is_asked_in_the_same_way(name: str) -> None:
    assert list(inspect.signature(KINDS[name].seek).parameters) == ["self", "number", "whole", "work"]
    assert KINDS[name].seek.__doc__


@pytest.mark.parametrize("id_", IDS)
@pytest.mark.parametrize("whole", [False, True])
@pytest.mark.parametrize("name", ["explorer", "reachability"])
def test_each_that_can_do_both_tells_which(
    engines: dict[str, Engine], name: str, whole: bool, id_: str
) -> None:
    found = engines[name].seek(IDS.index(id_), whole, PLENTY)
    assert isinstance(found, Broken if breaks(id_) else Unbroken)
    if isinstance(found, Unbroken):
        assert found.reason and found.brief and not found.reason.endswith((".", " "))
        assert len(found.brief) < len(found.reason)


@pytest.mark.parametrize("id_", [id_ for id_ in IDS if breaks(id_)])
@pytest.mark.parametrize("name", ["explorer", "bounded search"])
def test_a_run_that_is_shown_is_one_that_breaks_it(
    engines: dict[str, Engine], system: System, name: str, id_: str
) -> None:
    requirement = system.requirements[IDS.index(id_)]
    found = engines[name].seek(IDS.index(id_), True, PLENTY)
    assert isinstance(found, Broken) and found.run is not None and found.shortest
    judgement = Judgement(Reference(system), requirement, found.run)
    seen = judgement.reached() if isinstance(requirement.form, Possible) else judgement.failure()
    assert seen is not None


def test_those_that_find_runs_find_as_short_ones(engines: dict[str, Engine]) -> None:
    def length(found: Found) -> int:
        assert isinstance(found, Broken) and found.run is not None
        return len(found.run.moments)

    for id_ in filter(breaks, IDS):
        number = IDS.index(id_)
        found = [engines[name].seek(number, True, PLENTY) for name in ("explorer", "bounded search")]
        assert length(found[0]) == length(found[1]), id_


@pytest.mark.parametrize("id_", ["ALWAYS-H", "WITHIN-H", "POSSIBLE-F"])
def test_bounded_search_never_says_that_nothing_breaks_it(
    engines: dict[str, Engine], monkeypatch: pytest.MonkeyPatch, id_: str
) -> None:
    monkeypatch.setattr(proving, "MOST_REACTIONS", 5)
    with pytest.raises(LimitError, match="no run of up to 5 reactions breaks it") as caught:
        engines["bounded search"].seek(IDS.index(id_), True, PLENTY)
    assert not caught.value.final


def test_bounded_search_leaves_parts_to_others(engines: dict[str, Engine]) -> None:
    with pytest.raises(Declined, match="no run of the whole"):
        engines["bounded search"].seek(0, False, PLENTY)


@pytest.mark.parametrize("id_", ["ALWAYS-H", "POSSIBLE-F", "WITHIN-H", "FOR-H", "EVERY-H", "HELD-H"])
def test_induction_proves_what_holds(engines: dict[str, Engine], id_: str) -> None:
    assert isinstance(engines["induction"].seek(IDS.index(id_), False, PLENTY), Unbroken)


@pytest.mark.parametrize("id_", ["ALWAYS-F", "NEVER-F", "HELD-F"])
def test_induction_never_proves_what_fails(engines: dict[str, Engine], id_: str) -> None:
    with pytest.raises(LimitError, match="no set of template clauses"):
        engines["induction"].seek(IDS.index(id_), False, PLENTY)


@pytest.mark.parametrize("work", [1, 100, 10_000])
@pytest.mark.parametrize("name", KINDS)
def test_little_work_only_ever_leaves_it_open(system: System, name: str, work: int) -> None:
    engine = made(name, system)
    for id_ in ("ALWAYS-F", "WITHIN-H", "APART-H", "EVERY-F", "POSSIBLE-H"):
        try:
            found = engine.seek(IDS.index(id_), True, work)
        except LimitError as stop:
            assert not stop.final and str(stop)
        else:
            assert isinstance(found, Broken) == breaks(id_)


@pytest.mark.parametrize("name", KINDS)
@pytest.mark.parametrize(
    "limits, said", [({"seconds": 0.0}, "time limit of 0 s"), ({"memory": 1}, "memory limit")]
)
def test_no_time_or_memory_ends_it(
    system: System, name: str, limits: dict[str, float], said: str
) -> None:
    engine = made(name, system, Limits(**limits))  # type: ignore[arg-type]
    with pytest.raises(LimitError, match=said) as caught:
        engine.seek(IDS.index("APART-H"), True, PLENTY)
    assert caught.value.final


@pytest.mark.parametrize("name", KINDS)
def test_asked_again_and_made_again_it_says_the_same(
    engines: dict[str, Engine], system: System, name: str
) -> None:
    fresh = made(name, system)
    ids = ["APART-H", "NEVER-H", "WITHIN-F", "EVERY-F"]
    for id_ in {"bounded search": ids[2:], "induction": ids[1:2]}.get(name, ids):
        answers = [engine.seek(IDS.index(id_), True, PLENTY) for engine in (engines[name], fresh, fresh)]
        assert answers[0] == answers[1] == answers[2]
