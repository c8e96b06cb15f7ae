"""Requirements watched over a table: their own timed conditions, and what whole ticks cannot decide."""

from __future__ import annotations

import pytest
from making import explorer_of, spec

from prioritylogic.engines.replay import replay
from prioritylogic.semantics.compile import Declined
from prioritylogic.semantics.judgement import judge
from prioritylogic.semantics.reference import Reference

OWN = [  # the requirement, whether some run breaks it, and the time at which the shortest one does
    ("never: (m is b) for 1 s", 1),
    ("never: (m is b) for 2 s", None),  # it leaves b at 2 s, and at the boundary it is not yet true
    ("never: (m is b) for 3 s", None),
    ("always: m is a or go within last 2 s", 4),  # it locks at 2 s, and go is released with it
    ("always: m is not c or go within last 2 s", 4),
    ("after: go for 1 s, expect: stop, within: 1 s", 2),
    ("after: go for 1 s, keep: m is not c, until: pressed(stop)", 2),
    ("while: go for 1 s, expect: pressed(stop), every: 2 s", 3),
]


@pytest.mark.parametrize(("requirement", "time"), OWN)
def test_a_requirements_own_timed_conditions_change_last_in_their_instant(
    requirement: str, time: int | None
) -> None:
    system = spec(requirement)
    explorer = explorer_of(system, watched=True)
    broken = explorer.run().broken
    assert (broken is None) == (time is None)
    if broken is not None:
        reference = Reference(system)
        run = replay(reference, explorer.table.cells, explorer.tick, broken)
        failure = judge(reference, system.requirements[0], run)
        assert failure is not None
        assert failure.time == time


@pytest.mark.parametrize(
    ("requirement", "why"),
    [
        ("after: pressed(go), keep: (stop within last 3 s), until: m is a", "more than its trigger"),
        ("after: m is b, expect: m is c, within: 3 s, unless: go for 1 s", "more than its trigger"),
        ("after: go for 1 s, expect: m is c, within: 3 s, during: m is b", "more than its trigger"),
        ("after: pressed(go) within last 1 s, expect: m is c, within: 3 s", "more than its trigger"),
        ("never: (go for 1 s) for 2 s", "holds another one"),
        ("never: begins(go for 1 s)", "asks what a timed condition was"),
    ],
)
def test_what_whole_ticks_cannot_decide_is_declined_by_name(requirement: str, why: str) -> None:
    with pytest.raises(Declined, match=why):
        explorer_of(spec(requirement), watched=True)


def test_the_answer_is_asked_about_only_while_something_is_pending() -> None:
    explorer = explorer_of(spec("after: m is b, expect: stop, within: 9 s"), watched=True)
    assert explorer.watch is not None
    idle = explorer.watch.start[0]
    courses = [c for c in explorer.table.row(explorer.starts()[0].still, 0) if not c.taken]
    assert courses
    for course in courses:
        (outcome,) = explorer.watch.outcomes(course, idle)
        assert not outcome.oracle.asked and not outcome.watching.mode.pending
