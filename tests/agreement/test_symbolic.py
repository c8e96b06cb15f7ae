"""The symbolic step accepts random runs of the reference and refuses what the reference refuses.

Each recorded step is put to Z3 as it is, and then with one thing changed: an input, a state, memory, a
clock's figure, an expiry, the time that passed, a rule taken, an alert; and steps of the system without its
priorities and assumptions, and steps that end out of range. Both must say the same of each.
The systems are those of the agreement tests, and richer ones that no oracle could enumerate.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable, Iterator
from itertools import count, islice
from pathlib import Path

import pytest
from phrases import Phrases, Spec
from richer import Richer
from stepping import Stepping, loosened, mutated, records, strayed
from systems import Maker, load, text_of

import prioritylogic
from prioritylogic.model.system import System
from prioritylogic.semantics.compile import Declined
from prioritylogic.semantics.reference import Reference

STRETCHES, SYSTEMS = 4, 30
RUNS, LENGTH, MUTANTS = 3, 7, 2
ROOT = Path(__file__).parents[2]
SHIPPED = sorted([*ROOT.glob("specs/**/*.yaml"), *ROOT.glob("tests/published/specs/*.yaml")])
MAKERS: dict[str, Callable[[int], Phrases]] = {"small": Maker, "richer": Richer}


def loaded(make: Callable[[int], Phrases], first: int) -> Iterator[tuple[int, Spec, System]]:
    """Usable systems, without requirements."""
    for seed in count(first):
        spec: Spec = make(seed).spec()  # type: ignore[attr-defined]
        del spec["requirements"]
        system = load(spec)
        if system is not None:
            yield seed, spec, system


def step_differences(system: System, seed: int, seen: Counter[str]) -> Iterator[str]:
    """Steps and mutated steps on which the two differ."""
    stepping, dice = Stepping(system), random.Random(seed)
    loose = Reference(loosened(system))
    for _ in range(RUNS):
        for record in records(stepping.reference, dice, LENGTH):
            seen["steps"] += 1
            if not stepping.allowed(record):
                yield f"a step of the reference is refused: {record}"
            mutants = [mutated(system, record, dice) for _ in range(MUTANTS)]
            for mutant in (*mutants, strayed(loose, record, dice)):
                if mutant is None or mutant == record:
                    continue
                known = stepping.known(mutant)
                seen["also steps" if known else "mutants"] += 1
                if stepping.allowed(mutant) != known:
                    yield f"the reference says {known} of {mutant}"


@pytest.mark.parametrize("file", SHIPPED, ids=lambda file: file.stem)
def test_the_same_steps_of_a_shipped_spec(file: Path) -> None:
    seen: Counter[str] = Counter()
    found = list(islice(step_differences(prioritylogic.load(file), 1, seen), 3))
    assert not found, found
    assert seen["steps"] >= RUNS, seen


@pytest.mark.parametrize("kind", MAKERS)
@pytest.mark.parametrize("stretch", range(STRETCHES))
def test_the_same_steps(kind: str, stretch: int) -> None:
    seen: Counter[str] = Counter()
    for seed, spec, system in islice(loaded(MAKERS[kind], 10_000 * (1 + stretch)), SYSTEMS):
        try:
            found = list(islice(step_differences(system, seed, seen), 3))
        except Declined:
            seen["declined"] += 1
            continue
        assert not found, "\n".join([f"seed {seed}", *found, text_of(spec)])
    assert seen["declined"] <= 0.1 * SYSTEMS
    assert seen["steps"] >= 10 * SYSTEMS and seen["mutants"] >= 10 * SYSTEMS, seen
    assert seen["also steps"] >= SYSTEMS / 2, seen  # refusing whatever is new would not do
