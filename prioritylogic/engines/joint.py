"""What runs without an end are asked, watched over the reaction table in one go.

`Joint` takes along the observer of the requirement and one for each assumed answer, and marks every
step of the exploration with what a cycle must meet:

    time        time passes (on region clocks: one more tick of a clock that always runs is over)
    open        the requirement is broken for good, or the same answer stays owed
    goals       one for each thing that must come again and again: an assumed condition; an assumed
                answer is not owed; a `takes` rule without upper end does not wait, or starts over
    strong      for each `fair` rule a pair: it can be taken here; it is taken
    there       the condition of `recoverable` is true

A fair rule *can be taken* in a reaction if under the same inputs and expiries some outcome takes it, and
with it no other optional rule that is not taken here anyway; and while time passes, if the same is true
of the reaction in which no input changes and nothing expires. A reaction that breaks an assumption is no
step. What it does not do: look for cycles (cycles.py).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import NamedTuple, TypeAlias

from prioritylogic.engines.clockwork import Tick
from prioritylogic.engines.explore import Edge, Node
from prioritylogic.engines.oracle import Choices
from prioritylogic.engines.parts import Parts, Ready, Still
from prioritylogic.engines.reacting import Course, Frame, Reacting
from prioritylogic.engines.table import Table
from prioritylogic.engines.watch import Outcome
from prioritylogic.model.formula import Formula
from prioritylogic.model.system import Requirement, Rule, Seconds, System
from prioritylogic.requirements.observer import Fact, Mode, Observer, ReadFact

Marks: TypeAlias = int  # one bit each
Hop: TypeAlias = tuple[Node | None, Edge | None]  # where a step leaves from, and by what; None: time
TIME, OPEN, THERE = 1, 2, 4
FIRST = 8  # the first goal; then the other goals; then two bits for each fair rule


@dataclass(frozen=True)
class Asked:
    """What is asked of runs without an end.

    Attributes:
        watching: the requirement's observer; None where nothing is watched (`recoverable`).
        requirement: the requirement itself.
        endless: broken if it stays pending for ever; else where its observer is broken.
        answers: observers of the assumed answers.
        again: what is assumed to be true again and again.
        there: the condition of `recoverable`.
        strong: whether `fair` rules bind.
    """

    watching: Observer | None
    endless: bool
    answers: tuple[Observer, ...] = ()
    again: tuple[Formula, ...] = ()
    there: Formula | None = None
    strong: bool = True
    requirement: Requirement | None = None

    @property
    def observers(self) -> tuple[Observer, ...]:
        """The requirement's observer, if there is one, then the others."""
        return (*([self.watching] if self.watching else []), *self.answers)

    @property
    def formulas(self) -> tuple[Formula, ...]:
        """Everything that is read."""
        facts = [fact.formula for observer in self.observers for fact in observer.facts]
        return (*facts, *self.again, *([self.there] if self.there is not None else []))


class Joined(NamedTuple):
    """The still part: each observer's mode, whether the requirement is broken, and what is met while
    time passes from here."""

    modes: tuple[Mode, ...]
    broken: bool = False
    rests: Marks = 0


def weak_rules(system: System) -> list[Rule]:
    """The `takes` rules that must be taken some day."""
    rules = (rule for machine in system.machines for rule in machine.rules)
    return [r for r in rules if r.takes and r.takes.high is None and not r.may]


def strong_rules(system: System) -> list[Rule]:
    """The rules that must be taken if they can be again and again."""
    return [rule for machine in system.machines for rule in machine.rules if rule.fair]


class Joint:
    """What is asked, watched over a table; see `Watcher`.

    Attributes:
        goals: every goal, as marks.
        again: those of the assumed conditions, together.
        weak: each rule that must be taken some day, with its goal.
        pairs: (it can be taken, it is taken) of each fair rule.
        fair: the fair rules, in the same order.

    Args:
        table: made for `asked.formulas`.
        asked: the question.
        tick: seconds of one tick, which divides every duration.
        unit: of a clock's figure, for one tick; more than 1 on region clocks.
    """

    def __init__(self, table: Table, asked: Asked, tick: Seconds, unit: int = 1) -> None:
        self.table, self.asked, self.parts = table, asked, table.parts
        self._unit = unit
        self._observers = asked.observers
        self._first_answer = 1 if asked.watching else 0
        self._figures = [int((o.figure or 0) / tick) * unit for o in self._observers]
        function = table.parts.compiler.function
        self._read = {
            id(fact): function(fact.formula) for observer in self._observers for fact in observer.facts
        }
        self._again = [function(formula) for formula in asked.again]
        self._there = None if asked.there is None else function(asked.there)
        bits = iter(FIRST << number for number in range(10_000))
        self.again_bits = [next(bits) for _ in asked.again]
        self._answer_bits = [0 if o.figure is not None else next(bits) for o in asked.answers]
        self.again: Marks = sum(self.again_bits)
        numbers = {rule.id: number for number, rule in enumerate(self.parts.takes_rules)}
        self.weak = [(rule, next(bits)) for rule in weak_rules(table.system)]
        self._weak = [(numbers[rule.id], bit) for rule, bit in self.weak]
        self.goals: list[Marks] = [TIME, *self.again_bits, *filter(None, self._answer_bits)]
        self.goals += [bit for _, bit in self.weak]
        self.fair = strong_rules(table.system) if asked.strong else []
        self.pairs: list[tuple[Marks, Marks]] = [(next(bits), next(bits)) for _ in self.fair]
        self._optional = {r.id for m in table.system.machines for r in m.rules if r.optional}
        self._ready_bits = [_ready_bit(self.parts, rule, numbers) for rule in self.fair]

    # ----------------------------------------------------------------- reactions

    @property
    def start(self) -> tuple[Joined, tuple[Tick, ...]]:
        """Before the first reaction."""
        clocks = len(self._observers) + (self._unit > 1)
        return Joined(tuple(Mode() for _ in self._observers)), (0,) * clocks

    def outcomes(self, course: Course, joined: Joined) -> list[Outcome]:
        """Every effect of a course that keeps the assumptions; the end of a run is none."""
        if course.out_of_range:
            return []
        answers = self.table.read(course, lambda: self.react(course, joined))
        return [
            Outcome(after, keeps, False, oracle, marks)
            for answer, oracle in answers
            if answer is not None
            for after, keeps, marks in [answer]
        ]

    def react(self, course: Course, joined: Joined) -> tuple[Joined, tuple[int, ...], Marks] | None:
        """What a course does, along the answers of the oracle that is asked at the moment."""
        observed = self.observed(joined, partial(self._fact, course.reaction, course.rest))
        if observed is None:
            return None
        after, keeps, marks = observed
        rests = after.rests | self._at_rest(course)
        marks |= self._met(course) | (rests & self.again)
        return after._replace(rests=rests), keeps, marks

    def observed(self, joined: Joined, read: ReadFact) -> tuple[Joined, tuple[int, ...], Marks] | None:
        """What a reaction does to the observers: how they are then, which of their clocks go on, and the
        marks that they give; None if it breaks an assumption."""
        modes, keeps, marks, broken = [], [], 0, joined.broken
        rests = TIME
        for number, (observer, mode) in enumerate(zip(self._observers, joined.modes, strict=True)):
            watched = number < self._first_answer
            if watched and broken:
                modes.append(mode)
                keeps.append(0)
                continue
            effect = observer.step(mode, read)
            same = mode.pending and effect.mode.pending and not effect.restart
            if watched:
                broken = effect.broken
                marks |= OPEN if self.asked.endless and same else 0
                rests |= OPEN if self.asked.endless and effect.mode.pending else 0
            elif effect.broken:
                return None
            else:
                bit = self._answer_bits[number - self._first_answer]
                marks |= 0 if same else bit
                rests |= 0 if effect.mode.pending else bit
            modes.append(Mode() if watched and broken else effect.mode)
            runs = modes[-1].pending and not effect.restart and not effect.mode.paused
            keeps.append(int(runs and observer.figure is not None))
        if broken:
            marks, rests = marks | OPEN * joined.broken, rests | OPEN
        clock = [1] if self._unit > 1 else []
        return Joined(tuple(modes), broken, rests), (*keeps, *clock), marks

    def _fact(self, reaction: Frame, rest: Frame, fact: Fact) -> bool:
        return bool(self._read[id(fact)](rest if fact.at_rest else reaction))

    def _met(self, course: Course) -> Marks:
        """What a reaction meets, apart from the observers."""
        marks = THERE if self._there is not None and self._there(course.reaction) else 0
        for again, bit in zip(self._again, self.again_bits, strict=True):
            marks |= bit if again(course.reaction) else 0
        for number, bit in self._weak:
            over = not (course.after.waiting[number] and course.after.counting[number])
            marks |= bit if over or not course.keeps[self.parts.clocks.takes + number] else 0
        for rule, (can, does) in zip(self.fair, self.pairs, strict=True):
            marks |= can | does if rule.id in course.taken else 0
        here = [rule for rule in self.fair if rule.id not in course.taken]
        taken = course.taken & self._optional
        make = partial(self._other, course)
        return marks | self._takeable(course.before, here, make, taken, course.expired)

    def _other(self, course: Course, choose: Callable[[int], int]) -> Reacting:
        oracle = course.reaction.o
        return Reacting(
            self.parts, course.before, course.ready, oracle, first=course.first, choose=choose
        )

    def _takeable(
        self,
        still: Still,
        rules: list[Rule],
        make: Callable[[Callable[[int], int]], Reacting],
        taken: frozenset[str],
        expired: frozenset[object],
    ) -> Marks:
        """The marks of the fair rules that some outcome takes."""
        places = self.parts.machine_numbers
        rules = [rule for rule in rules if still.values[places[rule.machine]] in rule.sources]
        marks, choices = 0, Choices()
        while rules:
            other = make(choices.choose)
            found = (other.takes() if other.expired == expired else None) or frozenset()
            for rule in rules:
                if rule.id in found and (found & self._optional) - taken == {rule.id}:
                    marks |= self.pairs[self.fair.index(rule)][0]
            if not choices.turn():
                break
        return marks

    # ----------------------------------------------------------------- at rest

    def _at_rest(self, course: Course) -> Marks:
        """What is met while time passes after a course, apart from the observers."""
        after, marks = course.after, 0
        for again, bit in zip(self._again, self.again_bits, strict=True):
            marks |= bit if again(course.rest) else 0
        for number, bit in self._weak:
            marks |= 0 if after.waiting[number] and after.counting[number] else bit
        if after.settled:
            make = partial(self._stutter, course)
            marks |= self._takeable(after, self.fair, make, frozenset(), frozenset())
        return marks

    def _stutter(self, course: Course, choose: Callable[[int], int]) -> Reacting:
        """Nothing changes and nothing expires, but whatever may be offered once its time has come."""
        ready = sum(set(self._ready_bits))
        oracle = course.rest.o
        return Reacting(self.parts, course.after, ready, oracle, choose=choose, stutter_of=course.rest)

    def waiting(self, joined: Joined, ready: Ready) -> Marks:
        """What is met while time passes, where these delays may end."""
        marks = joined.rests
        for (can, _), bit in zip(self.pairs, self._ready_bits, strict=True):
            if bit and not ready & bit:
                marks &= ~can
        return marks

    # ----------------------------------------------------------------- time

    def running(self, joined: Joined) -> tuple[int, ...]:
        """The places of the clocks that run; the last one always does."""
        pairs = enumerate(zip(self._observers, joined.modes, strict=True))
        own = [n for n, (observer, mode) in pairs if observer.counts(mode)]
        return (*own, *([len(self._observers)] if self._unit > 1 else []))

    def changed(self, joined: Joined, clocks: tuple[Tick, ...]) -> tuple[Joined, tuple[Tick, ...], bool]:
        """When its instant is over; nothing then changes."""
        return joined, clocks, False

    def judged(self, joined: Joined, clocks: tuple[Tick, ...]) -> tuple[Joined, tuple[Tick, ...], bool]:
        """When the clocks have come so far; broken: an assumption is."""
        modes, figures, broken = list(joined.modes), list(clocks), joined.broken
        for number in self.running(joined):
            if number == len(self._observers):  # the clock of time itself, a tick long
                figures[number] %= self._unit
                continue
            mode, figure, late = self._observers[number].judged(
                modes[number], clocks[number], self._figures[number]
            )
            assert isinstance(figure, int)
            if late and number >= self._first_answer:
                return joined, clocks, True
            broken = broken or late
            modes[number], figures[number] = (Mode(), 0) if late else (mode, figure)
        rests = joined.rests | (OPEN if broken else 0)
        return Joined(tuple(modes), broken, rests), tuple(figures), False

    def later(self, joined: Joined, clocks: tuple[Tick, ...]) -> tuple[Joined, tuple[Tick, ...], bool]:
        """One tick later."""
        running = self.running(joined)
        moved = tuple(figure + (place in running) for place, figure in enumerate(clocks))
        return self.judged(joined, moved)


def _ready_bit(parts: Parts, rule: Rule, takes: dict[str, int]) -> Ready:
    """The bit that says that a rule's time has come; 0 if it has no clock of its own."""
    if rule.takes is not None:
        return parts.offer_bit(takes[rule.id])
    over = rule.delay is not None and rule.delay.strict
    return parts.over_bit(parts.over_rules.index(rule)) if over else 0
