"""The second opinion notices a planted wrong set, and confirms the right one."""

from __future__ import annotations

import pytest
from making import DOOR, explorer_of, spec

from prioritylogic.engines.explore import Explorer
from prioritylogic.engines.recheck import Recheck, random_runs
from prioritylogic.errors import DisagreementError
from prioritylogic.model import formula as f
from prioritylogic.semantics.reference import Reference


def explored() -> tuple[Explorer, Reference]:
    system = spec(text=DOOR)
    explorer = explorer_of(system)
    explorer.run()
    return explorer, Reference(system)


def test_the_right_set_is_confirmed_as_a_whole() -> None:
    explorer, reference = explored()
    said = Recheck(explorer, reference).confirm((f.Not(f.Taken(("nothing",))),))
    assert said == f"the reference rechecked every step from {len(explorer.parents)} states of the logic"


@pytest.mark.parametrize("place", [0, 1, -1])
def test_a_set_that_lacks_a_state_is_noticed(place: int) -> None:
    explorer, reference = explored()
    alike = explorer.stills[list(explorer.parents)[place].still]._replace(inputs=())
    for node in list(explorer.parents):  # the same state under other inputs would stand for it
        if explorer.stills[node.still]._replace(inputs=()) == alike:
            del explorer.parents[node]
    with pytest.raises(DisagreementError, match="never met"):
        Recheck(explorer, reference).confirm()


def test_a_state_that_is_wrong_about_being_settled_is_noticed() -> None:
    explorer, reference = explored()
    node = list(explorer.parents)[-1]
    wrong = explorer.stills[node.still]._replace(settled=False)
    explorer.parents[node._replace(still=explorer.table.still_id(wrong))] = explorer.parents[node]
    with pytest.raises(DisagreementError, match="let time pass differently"):
        Recheck(explorer, reference).confirm()


def test_a_formula_that_is_not_safe_is_noticed() -> None:
    explorer, reference = explored()
    with pytest.raises(DisagreementError, match="calls impossible"):
        Recheck(explorer, reference).confirm((f.Not(f.Taken(("lock",))),))


def test_time_that_passes_on_one_side_only_is_noticed(monkeypatch: pytest.MonkeyPatch) -> None:
    explorer, reference = explored()
    monkeypatch.setattr(explorer, "later", lambda node: None)
    with pytest.raises(DisagreementError, match="let time pass differently"):
        Recheck(explorer, reference).confirm()


def test_above_a_size_a_sample_is_checked_and_said_to_be_one(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("prioritylogic.engines.recheck.FULL", 5)
    explorer, reference = explored()
    assert "a sample, seed" in Recheck(explorer, reference).confirm()


def test_random_runs_are_runs_and_the_same_each_time() -> None:
    explorer, reference = explored()
    one, other = (random_runs(Recheck(explorer, reference), explorer.tick, 3, 8) for _ in range(2))
    assert one == other and len(one) == 3
    for run in one:
        times = [moment.time for moment in run.moments]
        assert times == sorted(times) and run.end >= times[-1]
