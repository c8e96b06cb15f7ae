"""Vacuity, decided: does what a requirement waits for ever happen, and does all that it says matter?

Asked of requirements that hold, by way of other ones (requirements/vacuity.py), on what was explored for
them. Answers are cheap as a rule, since nearly all of these others are broken soon; so little work is
allowed, and what that does not decide is left open. A run that breaks one is taken on the reference and
judged there; that one holds is known as it is of any requirement. Runs met on the way are kept, and
looked at before others are looked for: they decide two questions out of three.

A place in the text is the same for all members of a family. It makes no difference if it makes none for
any member that is triggered; so the first member for which it does ends the question.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from typing import TypeAlias

from prioritylogic.engines.deciding import FEW, Attempt, Deciding, Decision
from prioritylogic.engines.limits import Limits
from prioritylogic.engines.protocol import Unbroken
from prioritylogic.engines.questions import Finding
from prioritylogic.errors import DisagreementError
from prioritylogic.evidence.results import Trace
from prioritylogic.model.draft import label
from prioritylogic.model.system import Always, KeepFor, Possible, Recoverable, Requirement
from prioritylogic.requirements.observer import observer
from prioritylogic.requirements.strengthening import Part, Strengthening
from prioritylogic.requirements.vacuity import Trigger, examples, no_run, trigger
from prioritylogic.semantics.judgement import Judgement, Observation, judge, observations
from prioritylogic.semantics.reading import observed_timers
from prioritylogic.semantics.state import Run

LITTLE, LESS = 4_000, 3_000_000  # states; Z3's resource units
EXPLORERS = ("explorer", "cycles")
PROVED = (
    Attempt("bounded search", True, LESS),
    Attempt("reachability", False, LESS),
    Attempt("reachability", True, LESS),
)

Place: TypeAlias = tuple[Part, ...]  # one place of a text, as each of several members has it
KINDS = ("vacuous", "needless-part")
RUNS = Possible | Recoverable  # forms without parts


@dataclass(frozen=True, slots=True)
class Told:
    """What is said of a requirement that holds.

    Attributes:
        vacuous: None where it is open.
        why: what never happens, or makes no difference.
        example: a run that shows it at work.
    """

    vacuous: bool | None = None
    why: str = ""
    example: Trace | None = None


@dataclass(slots=True)
class _Member:
    """A requirement that holds, under question."""

    number: int
    requirement: Requirement
    engine: str
    parts: tuple[Part, ...]
    trigger: Trigger | None
    happens: bool | None = True

    @property
    def label(self) -> str:
        return label(self.requirement.id, tuple(value for _, value in self.requirement.member))


class Vacuity:
    """Asks whether requirements hold vacuously.

    Args:
        deciding: has decided them.
        limits: on work.
        examples: whether each that does not is to be shown at work.
    """

    def __init__(self, deciding: Deciding, limits: Limits, examples: bool = False) -> None:
        self._deciding = deciding
        self._limits = limits
        self._examples = examples
        self._runs: list[tuple[Run, list[Observation]]] = []

    def told(self, decisions: Sequence[Decision]) -> tuple[list[Told], list[Finding]]:
        """What is said of each requirement, in their order, and what is found."""
        told = [Told() for _ in decisions]
        findings: list[Finding] = []
        if not any(decision.verdict == "holds" for decision in decisions):
            return told, findings
        strengthening = Strengthening(self._deciding.system)
        requirements = self._deciding.requirements[: len(decisions)]
        for _, numbers in groupby(range(len(decisions)), key=lambda n: requirements[n].id):
            family = list(numbers)
            members: list[_Member] = []
            for number in family:
                requirement, decision = requirements[number], decisions[number]
                if decision.verdict == requirement.expected == "holds":
                    parts = strengthening.parts(requirement)
                    waits = trigger(requirement, parts)
                    if decision.empty:
                        waits = no_run(requirement)
                    member = _Member(number, requirement, decision.engine, parts, waits)
                    member.happens = not decision.empty
                    members.append(member)
            findings += self._family(members, len(family), told)
        return told, findings

    # ----------------------------------------------------------------- a family

    def _family(self, members: list[_Member], size: int, told: list[Told]) -> Iterator[Finding]:
        """What is found about the members of a family that hold, of so many in all."""
        for member in members:
            if member.trigger is not None and member.happens is not False:
                member.happens = self._broken(member, member.trigger.never)
        yield from self._untriggered([m for m in members if m.happens is False], size, told)
        alive = [member for member in members if member.happens]
        if not alive:
            return
        known = all(member.happens is not None for member in members)
        known &= all(member.parts or isinstance(member.requirement.form, RUNS) for member in alive)
        rows = list(zip(*(member.parts for member in alive if known), strict=True))
        looks = [self._look(alive, place, len(alive) == size) for place in rows]
        idle = [place[0] for _, places in looks for place in places]
        open_ = not known or any(matters is None for matters, _ in looks)
        vacuous = True if idle else None if open_ else False
        why = f"in part vacuously: it would hold {_otherwise(idle)}" if idle else ""
        for member in alive:
            example = self._example(member) if self._examples else None
            told[member.number] = Told(vacuous, why, example)
        for key, group in groupby(idle, key=lambda part: part.key):
            parts = list(group)
            name = alive[0].requirement.id
            alone = "none of these parts makes a difference by itself"
            so = alone if len(parts) > 1 else "this part makes no difference"
            message = f"{name} would hold {_otherwise(parts)}: {so}"
            yield Finding(KINDS[1], f"{name}.{key}", "note", message, parts[0].span)

    def _untriggered(self, members: list[_Member], size: int, told: list[Told]) -> Iterator[Finding]:
        for member in members:
            assert member.trigger is not None
            told[member.number] = Told(True, f"vacuously: {member.trigger.said}, so nothing was tested")
        for member in members[:1] if len(members) == size else members:
            assert member.trigger is not None
            name = member.requirement.id if len(members) == size else member.label
            message = f"{name} holds, but vacuously: {member.trigger.said}, so nothing was tested"
            yield Finding(KINDS[0], name, "warning", message, member.trigger.span)

    def _look(
        self, members: list[_Member], place: Place, everyone: bool
    ) -> tuple[bool | None, list[Place]]:
        """Whether a place makes a difference (None: open), and the largest places in it that do not.
        `everyone`: whether these are all members of the family."""
        inside = zip(*(part.parts for part in place), strict=True)
        looks = [self._look(members, smaller, everyone) for smaller in inside]
        idle = [smaller for _, found in looks for smaller in found]
        if any(matters is not False for matters, _ in looks):
            return (True if any(matters for matters, _ in looks) else None), idle
        matters = self._matters(members, place, everyone)
        return matters, ([place] if matters is False else idle)

    def _matters(self, members: list[_Member], place: Place, everyone: bool) -> bool | None:
        """Whether a place makes a difference for some member; also true where it cannot be asked, and
        where it is constant for all of these, but perhaps not for the others."""
        asked: list[tuple[_Member, Requirement]] = []
        for member, part in zip(members, place, strict=True):
            if part.stronger is None or _needed(member.requirement, part):
                return True
            if part.stronger.formulas != member.requirement.formulas:  # else it is constant here
                asked.append((member, part.stronger))
        if not asked and not everyone:
            return True
        open_ = False
        for member, stronger in asked:
            broken = self._broken(member, stronger)
            if broken:
                return True
            open_ = open_ or broken is None
        return None if open_ else False

    # ----------------------------------------------------------------- one question

    def _broken(self, member: _Member, other: Requirement) -> bool | None:
        """Whether some run breaks another requirement; None if this is open."""
        if self._is_endless(other):
            verdict = self._endless(member, other).verdict
            return None if verdict == "undecided" else verdict == "fails"
        if self._is_known(other):
            return True
        found = self._sought(member, other)
        return None if found is None else isinstance(found, Run)

    def _is_known(self, other: Requirement) -> bool:
        """Whether a run met before breaks it."""
        reference = self._deciding.reference
        if observed_timers(reference.system, other.formulas):
            return False
        judged = (Judgement(reference, other, run, seen) for run, seen in self._runs)
        return any(judgement.failure() is not None for judgement in judged)

    def _sought(self, member: _Member, other: Requirement) -> Run | Unbroken | None:
        """A run that breaks it, or that none does, or (None) that this is open.

        Raises:
            DisagreementError: the reference does not see that it does.
        """
        number = self._deciding.add(other, member.number)
        found = self._deciding.sought(number, self._attempts(number, member, other))
        if found is None or isinstance(found, Unbroken):
            return found
        assert found.run is not None
        reference = self._deciding.reference
        if judge(reference, other, found.run) is None:
            raise DisagreementError(
                f"{other.id}: the reference does not see what breaks it asked otherwise"
            )
        self._runs.append((found.run, observations(reference, found.run, ())))
        return found.run

    def _attempts(self, number: int, member: _Member, other: Requirement) -> list[Attempt]:
        """What is cheap. Only the spec and the options decide it, not what happens to be explored."""
        attempts = list(PROVED)
        if member.engine in EXPLORERS:
            attempts.insert(0, Attempt("explorer", False, LITTLE))
        if self._deciding.explored(number):
            work = FEW if isinstance(other.form, Always) else LITTLE
            attempts.insert(0, Attempt("explorer", True, work))
        return attempts

    def _is_endless(self, other: Requirement) -> bool:
        """Whether only runs without an end can break it."""
        return observer(other) is None or bool(self._deciding.bound(other))

    def _endless(self, member: _Member, other: Requirement) -> Decision:
        """What runs without an end say."""
        with self._limits.at_most(FEW):
            return self._deciding.decide(self._deciding.add(other, member.number))

    def _example(self, member: _Member) -> Trace | None:
        """A run that shows a requirement at work."""
        for other, note in (*examples(member.requirement), *_plain(member)):
            trace = self._shown(member, other)
            if trace is not None:
                return replace(trace, note=note)
        return None

    def _shown(self, member: _Member, other: Requirement) -> Trace | None:
        """A run that breaks another requirement, as it is shown."""
        if self._is_endless(other):
            return self._endless(member, other).trace
        found = self._sought(member, other)
        return self._deciding.trace(other, found) if isinstance(found, Run) else None


def _plain(member: _Member) -> Iterator[tuple[Requirement, str]]:
    """Plain examples: what it waits for happens; where it waits for nothing, a part matters."""
    if member.trigger is not None:
        yield member.trigger.never, "what it waits for happens"
        return
    for part in _smallest(member.parts):
        if part.stronger is not None:
            yield part.stronger, f"it would fail if {_constant(part)}"


def _needed(requirement: Requirement, part: Part) -> bool:
    """Whether a place is known to make a difference, once what the requirement waits for happens: it
    asks that this never happens, or it is all of what is kept for a time."""
    whole = part.key == "keep" and dict(requirement.said).get("keep") == part.said
    return bool(part.given) or (whole and isinstance(requirement.form, KeepFor))


def _smallest(parts: tuple[Part, ...]) -> Iterator[Part]:
    for part in parts:
        yield from _smallest(part.parts) if part.parts else (part,)


def _otherwise(parts: list[Part]) -> str:
    """What would be otherwise in a text."""
    return "even if " + ", or if ".join(map(_constant, parts))


def _constant(part: Part) -> str:
    return f"`{part.said}` under `{part.key}` were always {'true' if part.wanted else 'false'}"
