"""A third opinion on bounded search where there are no clocks and no numbers: a SAT solver must find a run
that goes wrong at the very same depth, on random systems and on the textbook programs."""

from __future__ import annotations

from collections import Counter
from itertools import count, islice
from pathlib import Path

import pytest
from blasting import least_depth
from boolean import Plain
from proving import transition_of
from systems import load, text_of

import prioritylogic
from prioritylogic.engines.bounded import Unrolled
from prioritylogic.engines.limits import Limits
from prioritylogic.engines.transition import Transition
from prioritylogic.model.system import Always, KeepUntil, Possible
from prioritylogic.semantics.compile import Declined

HOMES = (
    Path(__file__).parents[1] / "published" / "specs",
    Path(__file__).parents[2] / "specs" / "gallery",
)
TEXTBOOK = (
    "ben_ari_second",
    "ben_ari_third",
    "huth_ryan_first",
    "huth_ryan_second",
    "hyman",
    "peterson_one_step",
    "peterson_separate_writes",
    "peterson_swapped_writes",
)
SYSTEMS, ASKED, MOST = 40, 2, 6
WORK = 30_000_000


def z3_depth(transition: Transition, most: int) -> int | None:
    found = Unrolled(transition, WORK, Limits()).first(most)
    return None if found is None else len(found.steps) - 1


@pytest.mark.parametrize("stretch", [0, 1])
def test_the_same_depth(stretch: int) -> None:
    seen: Counter[int | None] = Counter()
    usable = ((seed, load(Plain(seed).spec())) for seed in count(10_000 * (1 + stretch)))
    for seed, system in islice(((s, made) for s, made in usable if made is not None), SYSTEMS):
        for number in range(ASKED):
            requirement = system.requirements[(seed + number) % 5]
            try:
                transition = transition_of(system, requirement)
            except Declined:
                continue
            depth = least_depth(transition, MOST)
            said = z3_depth(transition, MOST)
            assert said == depth, (seed, requirement.id, text_of(Plain(seed).spec()))
            seen[depth] += 1
    assert seen[None] >= 10 and sum(seen.values()) - seen[None] >= 10, seen


@pytest.mark.parametrize("name", TEXTBOOK)
def test_textbook_programs(name: str) -> None:
    files = (home / f"{name}.yaml" for home in HOMES)
    system = prioritylogic.load(next(file for file in files if file.exists()))
    asked = [r for r in system.requirements if isinstance(r.form, Always | Possible | KeepUntil)]
    assert asked
    for requirement in asked:
        transition = transition_of(system, requirement)
        most = 12
        assert z3_depth(transition, most) == least_depth(transition, most), requirement.id
