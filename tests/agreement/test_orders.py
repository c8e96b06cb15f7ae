"""Random systems: what is decided of a requirement does not depend on what was decided before, nor where.

Each is decided in the order of the text, in another order, and alone by a process that reads the text
again. All that is said must be the same, byte for byte.
"""

from __future__ import annotations

import multiprocessing
import random
from collections.abc import Iterator
from concurrent.futures import Executor, ProcessPoolExecutor

import pytest
from families import Families
from richer import Richer
from systems import Maker, load

from prioritylogic.engines.deciding import Deciding
from prioritylogic.engines.limits import Limits
from prioritylogic.engines.part import Options
from prioritylogic.engines.schedule import Job, asked_of, decided, one_decided
from prioritylogic.model.system import System

KINDS: tuple[type[Maker], ...] = (Maker, Richer, Families)
SYSTEMS = 4
FIRST = 31_000  # of the seeds


@pytest.fixture(scope="module")
def other() -> Iterator[Executor]:
    with ProcessPoolExecutor(1, multiprocessing.get_context("spawn")) as pool:
        yield pool


def systems(kind: type[Maker]) -> Iterator[tuple[int, System]]:
    """Systems with something to decide, and their seeds."""
    for seed in range(FIRST, FIRST + SYSTEMS):
        system = load(kind(seed).spec())
        if system is not None and len(system.requirements) > 1:
            yield seed, system


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.__name__)
def test_the_order_does_not_matter(kind: type[Maker], other: Executor) -> None:
    looked_at = 0
    for seed, system in systems(kind):
        limits, options, numbers = Limits(), Options(both=seed % 2 == 0), asked_of(system, frozenset())
        orders = [numbers, random.Random(seed).sample(numbers, len(numbers))]
        said = []
        for order in orders:
            deciding = Deciding(system, list(system.requirements), limits, options)
            answers = {n: repr(decided(deciding, n, limits, options)) for n in order}
            said.append([answers[n] for n in numbers])
        alone = Deciding(system, list(system.requirements), limits, options)
        last = repr(decided(alone, numbers[-1], limits, options))
        job = Job(system.text, system.file, frozenset(), options, None, None, None, limits.states)
        sent = repr(other.submit(one_decided, job, numbers[-1]).result())
        assert said[0] == said[1] and last == sent == said[0][-1], f"{kind.__name__}, seed {seed}"
        looked_at += 1
    assert looked_at >= SYSTEMS // 2
