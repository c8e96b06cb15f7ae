"""Why a verdict is what it is: which kind of explanation fits, and where it comes from.

A run that ends is taken apart into its causes. What no run does is argued for by an invariant: the one
that the verdict rests on, or, where the verdict came from exploring, one that the provers find with a
little work. All else (runs without an end, dead ends, what is undecided) is told as it is, with what the
explanation cannot say.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from prioritylogic.engines.causes import causes
from prioritylogic.engines.deciding import SOME, Attempt, Deciding
from prioritylogic.engines.decisive import decisive
from prioritylogic.engines.limits import Limits
from prioritylogic.engines.part import Options
from prioritylogic.engines.protocol import Unbroken
from prioritylogic.engines.schedule import own_name
from prioritylogic.errors import LimitError, SpecError
from prioritylogic.evidence.explanation import Causes, Explanation, Proof, Told
from prioritylogic.evidence.results import Answer, Trace
from prioritylogic.model import formula as f
from prioritylogic.model.formula import Formula
from prioritylogic.model.system import Always, Recoverable, Requirement, Rule, System
from prioritylogic.requirements.observer import observer
from prioritylogic.semantics.compile import Declined

if TYPE_CHECKING:
    from prioritylogic.engines.arguing import Argument

PROVERS = tuple(
    Attempt(engine, whole, SOME) for engine in ("reachability", "induction") for whole in (False, True)
)
STORY = "A story is played on the reference, step by step, along every tie; that is the whole argument."
RECOVERABLE = (
    "From every state that was met, the explored graph was followed backwards from those at which it "
    "is so; a state that this does not come to has no way there."
)
DEAD_END = "No single cause is named: what is missing is a way out, and any rule that gave one would do."
ENDLESS = (
    "No causes are named for a run without an end: what is missing is something that never comes, and "
    "any part of the run may be taken for the reason."
)
EXPLORED = (
    "Every state that can be reached was looked at, with every reaction and every passing of time from "
    "it, and in none is it broken. There is no shorter argument at hand: {why}."
)
NO_LOOP = (
    "A run without an end that breaks it would come to a loop in which time grows, no rule that may not "
    "wait for ever is owed a turn, and what is assumed is kept. The explored states were searched for "
    "one, and there is none."
)
OPEN = "Nothing is known, so there is nothing to explain; the reason says what stopped it."


class Explaining:
    """Explains the answers of one check."""

    def __init__(self, deciding: Deciding, limits: Limits, options: Options) -> None:
        self._deciding = deciding
        self._limits = limits
        self._options = options

    def of(self, number: int | None, answer: Answer, wanted: frozenset[str]) -> Answer:
        """The answer with its explanation, if it is wanted: by its id, or as one member."""
        if wanted.isdisjoint({answer.id, own_name(answer.id, answer.member)}):
            return answer
        return replace(
            answer, explanation=Told((STORY,)) if number is None else self.explained(number, answer)
        )

    def explained(self, number: int, answer: Answer) -> Explanation:
        """Why a requirement (by its number in the check) got its verdict."""
        requirement = self._deciding.requirements[number]
        if answer.verdict == "undecided":
            return Told((OPEN,))
        if isinstance(requirement.form, Recoverable):
            return Told((RECOVERABLE, DEAD_END) if answer.verdict == "fails" else (RECOVERABLE,))
        if answer.trace is not None:
            if answer.trace.loop is not None:
                return Told((_loop(self._deciding.system, requirement, answer.trace), ENDLESS))
            return self._causes(requirement, answer.trace)
        return self._proof(number, requirement, answer)

    # ----------------------------------------------------------------- a run

    def _causes(self, requirement: Requirement, trace: Trace) -> Explanation:
        system = self._deciding.system
        try:
            found = causes(system, requirement, trace.run, self._limits)
        except LimitError as stop:
            return Told((f"Its causes are not singled out, since {stop}.",))
        if found is None:
            return Told(("Its causes are not singled out: too many runs follow the same deeds.",))
        place, parts, asked = decisive(self._deciding.reference, requirement, found.run)
        where = (place.moment, place.time, place.why)
        return Causes(found.run, found.causes, *where, parts, asked, found.settled)

    # ----------------------------------------------------------------- no run

    def _proof(self, number: int, requirement: Requirement, answer: Answer) -> Explanation:
        if self._deciding.bound(requirement) or observer(requirement) is None:
            return Told((NO_LOOP,))
        facts, several, besides = answer.invariant, "", False
        if not facts:
            found = None
            if answer.engine in ("reachability", "induction") and "induction from" not in answer.reason:
                found = Unbroken(answer.reason, "")
            else:
                besides = answer.engine == "explorer"
                found = self._found(number)
            if found is None:
                return Told((EXPLORED.format(why="the provers find none with a little work"),))
            facts = found.invariant
            several = found.reason.partition(";")[0] if found.reason.startswith("induction from") else ""
        try:
            argument = self._argument(requirement, facts)
            blocking, known = argument.blocking()
            return Proof(argument.facts(), argument.enough(), blocking, not known, besides, several)
        except (Declined, LimitError) as stop:
            return Told((f"The argument is not taken apart, since {stop}.",))

    def _found(self, number: int) -> Unbroken | None:
        found = self._deciding.sought(number, PROVERS)
        return found if isinstance(found, Unbroken) else None

    def _argument(self, requirement: Requirement, facts: tuple[str, ...]) -> Argument:
        """The argument on the part that the facts are about: the cone, where it has all their names."""
        from prioritylogic.engines.arguing import Argument
        from prioritylogic.engines.proving import Asking

        system: System = self._deciding.system
        watching = observer(requirement)
        assert watching is not None
        asking = Asking(system, [requirement], {0: watching}, self._limits, self._options)
        before = hypothesis(requirement)
        try:
            return Argument(asking.transition(0, False), facts, self._limits, before)
        except (SpecError, Declined):
            return Argument(asking.transition(0, True), facts, self._limits, before)


def hypothesis(requirement: Requirement) -> Formula | None:
    """What plain induction may assume of the state before a step: the requirement, where it is a
    condition on a state, with no event and nothing of the moment before."""
    form = requirement.form
    if not isinstance(form, Always):
        return None
    for part in f.walk(form.condition):
        match part:
            case f.Taken() | f.TimedRead() | f.AlertRead(_, "sounds", _) | f.AlertRead(_, _, True):
                return None
            case f.Read(_, True):
                return None
    return form.condition


def _loop(system: System, requirement: Requirement, trace: Trace) -> str:
    """Why a run may go on like this for ever."""
    moments = trace.run.moments
    if trace.loop == len(moments):
        said = ["from its last reaction on only time passes, and nothing is due or owed"]
    else:
        said = ["time passes in each turn of the loop, so that it grows beyond all bounds"]
    bound = [r.id for m in system.machines for r in m.rules if _owed_some_day(r)]
    if bound:
        there = frozenset[str]().union(*(moment.taken for moment in moments[trace.loop :]))
        taken = [rule for rule in bound if rule in there]
        left = [rule for rule in bound if rule not in there]
        does = [f"takes {', '.join(taken)}"] if taken else []
        does += [f"owes no turn to {', '.join(left)}"] if left else []
        said.append(f"of the rules that may not wait for ever it {' and '.join(does)}")
    if requirement.assuming:
        said.append(f"what is assumed is kept ({', '.join(requirement.assuming)})")
    return (
        f"The run may go on like this for ever: {'; '.join(said)}. The reference has judged all of it."
    )


def _owed_some_day(rule: Rule) -> bool:
    """Whether a rule may wait as long as it likes, but not for ever."""
    return rule.fair or (rule.takes is not None and rule.takes.high is None)
