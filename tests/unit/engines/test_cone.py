"""Cones: what a requirement depends on is kept, the rest is dropped, and no verdict changes."""

from __future__ import annotations

from pathlib import Path

import pytest

from prioritylogic import load
from prioritylogic.engines.check import check
from prioritylogic.engines.cone import cone
from prioritylogic.engines.part import Options
from prioritylogic.model import formula as f

FERRY = Path(__file__).parents[3] / "specs" / "ferry_helm.yaml"
PARTS = """
system: parts
inputs: {i: button, j: button, k: button, s: signal, z: signal}
memory: {n: {values: whole 0 to 1, start: 0}}
machines:
  p: {states: [p0, p1], start: p0, rules: [{id: rp, from: p0, if: pressed(i), to: p1}]}
  q: {states: [q0, q1], start: q0, rules: [{id: rq, from: q0, if: pressed(j) and n = 1, to: q1}]}
  w: {states: [w0], start: w0, rules: [{id: rw, from: w0, if: "s for 2 s", set: {n: 1}}]}
  t: {states: [t0, t1], start: t0, rules: [{id: rt, from: t0, takes: at most 1 s, since: rp, to: t1}]}
  lone: {states: [l0, l1], start: l0, rules: [{id: rl, from: l0, if: "k for 3 s", to: l1}]}
alerts:
  al: {raise: q is q1, clear: z}
"""


def kept(formula: f.Formula, more: str = "") -> set[str]:
    part = cone(load(PARTS + more), [formula])
    groups = (part.inputs, part.memory, part.machines, part.alerts)
    return {thing.name for group in groups for thing in group}


@pytest.mark.parametrize(
    ("formula", "names"),
    [
        (f.Read("i"), {"i"}),
        (f.Read("p"), {"p", "i"}),
        (f.Read("q"), {"q", "j", "n", "w", "s"}),  # through memory, to its writer's timed condition
        (f.Read("n"), {"n", "w", "s"}),
        (f.Read("t"), {"t", "p", "i"}),  # `since` another machine's rule
        (f.Taken(("rp",)), {"p", "i"}),
        (f.AlertRead("al", "raised"), {"al", "z", "q", "j", "n", "w", "s"}),
    ],
)
def test_what_is_read_is_kept_directly_or_through_rules(formula: f.Formula, names: set[str]) -> None:
    assert kept(formula) == names


def test_an_assumption_ties_what_it_reads() -> None:
    more = "assume:\n  - {id: A, never: i and k}\n  - {id: B, never: z and s}\n"
    assert kept(f.Read("p"), more) == {"p", "i", "k"}
    part = cone(load(PARTS + more), [f.Read("p")])
    assert [a.id for a in part.assumptions] == ["A"]


def test_interleaved_machines_stay_together() -> None:
    more = "interleaved: [p, lone]\n"
    assert kept(f.Read("p"), more) == {"p", "i", "lone", "k"}
    assert kept(f.Read("n"), more) == {"n", "w", "s"}


def test_timed_conditions_that_nothing_kept_reads_stand_still() -> None:
    system = load(PARTS)
    part = cone(system, [f.Read("q")])
    assert len(part.timed) == len(system.timed) == 2
    assert [t.said for t in part.timed if not t.observed] == [
        t.said for t in system.timed if t.time == 2
    ]


def test_the_cone_of_everything_is_the_system_itself() -> None:
    system = load(PARTS)
    everything = [f.Read(x.name) for g in (system.inputs, system.machines) for x in g]
    assert cone(system, [*everything, f.AlertRead("al", "raised")]) is system


def test_cones_change_no_verdict() -> None:
    system = load(FERRY)
    found = [check(system, options=Options(cones=cones)) for cones in (True, False)]
    one, other = [[(a.id, a.member, a.verdict) for a in result.requirements] for result in found]
    assert one == other
    assert any("of the part" in a.reason for a in found[0].requirements)
    assert not any("of the part" in a.reason for a in found[1].requirements)
