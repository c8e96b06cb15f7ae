"""What the two Z3 engines say of one requirement, held against the oracle: every difference, as a
sentence. They are asked by themselves, one requirement at a time, with no second opinion.

The oracle's answers are kept in a file that all processes of a test run share, so that it is asked once
for the systems of `test_agreement.py`.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from compare import Case, cases
from phrases import Spec
from systems import Maker, load

from prioritylogic.engines import reach
from prioritylogic.engines.bounded import Found, Unrolled, rerun
from prioritylogic.engines.limits import Limits
from prioritylogic.engines.templates import clauses
from prioritylogic.engines.transition import Transition
from prioritylogic.engines.unwinding import Unwinding
from prioritylogic.errors import DisagreementError, LimitError
from prioritylogic.model.system import Possible, Requirement, System
from prioritylogic.requirements.observer import observer
from prioritylogic.semantics.compile import Declined
from prioritylogic.semantics.judgement import Judgement, judge
from prioritylogic.semantics.reference import Reference

WORK = 3_000_000  # of Z3's steps, for each question
INDUCED = 12  # of so many systems one is put to induction
DEEP = 3  # reactions within which the bounded search must find nothing where nothing is to be found


@dataclass(frozen=True)
class Answered:
    """A system, and the oracle's least number of reactions for each requirement (None: no run).

    `surely`: an oracle that finds nothing, or only a run of more reactions than this, may have missed
    a shorter one that is longer than this (None: it misses nothing)."""

    seed: int
    spec: Spec
    system: System
    lengths: dict[str, int | None]
    surely: int | None = None

    @classmethod
    def by(cls, case: Case, surely: int | None = None) -> Answered:
        """What the oracle knows of a case."""
        return cls(case.seed, case.spec, case.system, case.lengths, surely)


def answered(stretch: int, count: int, folder: Path) -> Iterator[Answered]:
    """The first so many usable systems of a stretch of seeds; what is known is read from the folder."""
    file = folder / f"lengths-{stretch}.json"
    try:
        known = json.loads(file.read_text())
    except (OSError, ValueError):
        yield from kept([Answered.by(case) for case in cases(stretch, count)], stretch, folder)
        return
    for seed, lengths in known:
        spec = Maker(seed).spec()
        system = load(spec)
        assert system is not None
        yield Answered(seed, spec, system, lengths)


def kept(found: list[Answered], stretch: int, folder: Path) -> list[Answered]:
    """The same, after they have been written down for other processes."""
    known = json.dumps([(one.seed, one.lengths) for one in found])
    (folder / f"lengths-{stretch}.json").write_text(known)
    return found


# --------------------------------------------------------------------------- differences


def transition_of(system: System, requirement: Requirement) -> Transition:
    """The question of one requirement, as terms."""
    watching = observer(requirement)
    assert watching is not None
    return Transition(system, watching)


def replay_difference(system: System, requirement: Requirement, found: Found) -> str:
    """What is wrong with a run that was found: it must be one of the reference, and must fail exactly
    at its end, in its last reaction or in the time after it."""
    reference = Reference(system)
    try:
        run = rerun(reference, found)
    except DisagreementError as error:
        return f"is not replayed: {error}"
    last = len(run.moments) - 1
    if isinstance(requirement.form, Possible):
        judgement = Judgement(reference, requirement, run)
        reached = judgement.reached()
        if reached is None:
            return "is replayed, and does not get there"
        return "" if reached == len(judgement.seen) - 1 else "gets there before its end"
    failure = judge(reference, requirement, run)
    if failure is None:
        return "is replayed, and breaks nothing"
    in_time = failure.moment is None and run.moments[last].time <= failure.time <= run.end
    return "" if failure.moment == last or in_time else f"fails before its end: {failure}"


def proved_differences(
    asked: Answered, requirement: Requirement, seen: Counter[str] | None = None
) -> Iterator[str]:
    """Where the engines differ from the oracle on one requirement; what they did is counted."""
    seen = Counter() if seen is None else seen
    try:
        transition = transition_of(asked.system, requirement)
    except Declined:
        seen["declined"] += 1
        return
    seen["accepted"] += 1
    yield from _reach_differences(asked, requirement, transition, seen)
    yield from _bounded_differences(asked, requirement, transition, seen)
    if asked.seed % INDUCED == 0:
        yield from _induction_differences(asked, requirement, transition, seen)


def _induction_differences(
    asked: Answered, requirement: Requirement, transition: Transition, seen: Counter[str]
) -> Iterator[str]:
    length = asked.lengths[requirement.id]
    kind = "template clauses"
    try:
        try:
            unwinding, kind = Unwinding(transition), "states in a row"
        except Declined:
            wrong = clauses(transition, WORK, Limits()) is None
        else:
            wrong = isinstance(unwinding.decided(WORK, Limits()), Found)
    except LimitError:
        seen[f"{kind}: open"] += length is None
        return
    seen[kind] += 1
    if wrong != (length is not None) and asked.surely is None:
        yield f"{requirement.id} {kind} say it {'goes wrong' if wrong else 'holds'}, the oracle: {length}"


def _reach_differences(
    asked: Answered, requirement: Requirement, transition: Transition, seen: Counter[str]
) -> Iterator[str]:
    length = asked.lengths[requirement.id]
    try:
        wrong = reach.invariant(transition, WORK, Limits()) is None
    except LimitError:
        return
    seen["reach"] += 1
    if wrong and length is None and asked.surely is not None:
        if Unrolled(transition, WORK, Limits()).first(2 * asked.surely) is not None:
            return  # the oracle's grid is too coarse for so long a run, which is replayed below
    if wrong != (length is not None):
        said = "goes wrong" if wrong else "holds"
        yield f"{requirement.id} reach says it {said}, the oracle: {length}"


def _bounded_differences(
    asked: Answered, requirement: Requirement, transition: Transition, seen: Counter[str]
) -> Iterator[str]:
    length = asked.lengths[requirement.id]
    try:
        found = Unrolled(transition, WORK, Limits()).first(DEEP if length is None else length)
    except LimitError:
        return
    seen["bounded"] += 1
    if found is None:
        if length is not None:
            yield f"{requirement.id} bounded search finds nothing, the oracle: {length}"
        return
    steps = len(found.steps) - 1
    coarse = asked.surely is not None and steps > asked.surely
    if steps != length and not coarse:
        yield f"{requirement.id} bounded search finds {steps} reactions, the oracle: {length}"
    wrong = replay_difference(asked.system, requirement, found)
    if wrong:
        yield f"{requirement.id} the run {wrong}"
