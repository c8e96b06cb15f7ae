"""One course of one reaction, evaluated along an oracle's answers.

This is the design's account of a reaction as ordinary code over compiled formulas: machines and
alerts in dependency order, then timed conditions, waiting rules and latches from what is true at
rest, then the question whether the state is settled. The reference tells the same story with exact
clocks and every choice at once; the two are held against each other in tests.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from prioritylogic.engines.cells import Cell
from prioritylogic.engines.oracle import Choices, Oracle
from prioritylogic.engines.parts import CompiledRule, Parts, PhaseName, Ready, Status, Still
from prioritylogic.model.system import Machine
from prioritylogic.semantics.compile import Evaluate
from prioritylogic.semantics.state import Tie, Timer


class Frame:
    """What compiled formulas are evaluated over: one reading of a reaction (see `compile.py`)."""

    __slots__ = (
        "alerts", "alerts_before", "before_timed", "latched", "latches", "n", "o", "origin", "sounds",
        "taken", "timed", "w", "was",
    )  # fmt: skip
    timed: list[bool]
    before_timed: Callable[[int], bool]
    was: Callable[[int], Any]

    def __init__(self, oracle: Oracle, now: Any, was: Any, alerts: Any, alerts_before: Any) -> None:
        self.n, self.w = now, was
        self.alerts, self.alerts_before = alerts, alerts_before
        self.sounds: set[int] = set()
        self.taken: set[str] = set()
        self.origin: Frame | None = None  # at time 0: the frame that stands for `before`
        self.latches: tuple[Evaluate, ...] = ()
        self.latched: tuple[bool, ...] | None = None  # None: they read as now, or as in `origin`
        self.o = oracle
        self.was = oracle.was

    def latch(self, number: int) -> Any:
        """The truth before the reaction of an analog comparison."""
        if self.latched is not None:
            return self.latched[number]
        return self.latches[number](self.origin or self)

    def ask(self, oracle: Oracle, at_rest: bool = False) -> None:
        """Directs the questions about inputs to this oracle."""
        self.o = oracle
        self.was = oracle.get if at_rest else oracle.was
        if self.origin is not None:
            self.origin.ask(oracle, at_rest)


@dataclass(slots=True)
class Course:
    """One course of a reaction.

    Attributes:
        after: the still part after it.
        keeps: for each clock 1 where it is kept, 0 where it is set to nought.
        reaction, rest: its two readings, for facts about it.
        before, ready: the still part before it, and what was ready then.
        after_id: the table's number of `after`.
        values, previous, cell: what was asked about the inputs now and before, and answered.
    """

    after: Still
    keeps: tuple[int, ...]
    expired: frozenset[Timer]
    taken: frozenset[str]
    ties: frozenset[Tie]
    out_of_range: str
    first: bool
    reaction: Frame
    rest: Frame
    before: Still
    ready: Ready
    values: tuple[Any, ...]
    previous: tuple[Any, ...]
    cell: Cell
    after_id: int = -1


class Reacting:
    """The evaluation of one course; `course()` gives it, or None if an assumption excludes it or the
    answers do not fit together."""

    def __init__(
        self,
        parts: Parts,
        before: Still,
        ready: Ready,
        oracle: Oracle,
        *,
        first: bool = False,
        offers: bool = True,
        choose: Callable[[int], int] | None = None,
        stutter_of: Frame | None = None,
    ) -> None:
        self.parts = parts
        self.offers = offers
        self.choose = choose or oracle.choose
        self.before = before
        self.ready = ready
        self.oracle = oracle
        self.first = first
        due = parts.timers_in(ready)
        self.expired = {timer for timer in due if self.choose(2)} if due else set()
        self.stays = list(before.expired)
        for timer in self.expired:
            if timer.kind == "stay":
                self.stays[parts.machine_numbers[timer.name]] += 1
        statuses = [alert[0] for alert in before.alerts]
        self.frame = Frame(oracle, list(before.values), before.values, statuses, tuple(statuses))
        if first:
            origin = self.frame.origin = Frame(oracle, before.values, before.values, statuses, statuses)
            origin.timed = [False] * len(before.phases)
            origin.before_timed = origin.timed.__getitem__
            self.frame.ask(oracle, at_rest=True)
            self.frame.latches = origin.latches = parts.latches
        elif stutter_of is not None:
            self.frame.origin = stutter_of
            self.frame.was = oracle.get
            self.frame.latches = parts.latches
        else:
            self.frame.latched = before.latches
        self._read_timed()
        self.entered: set[str] = set()
        self.writers: dict[int, list[tuple[str, Any]]] = {}
        self.ties: set[Tie] = set()
        self.restarted: set[int] = set()  # alerts whose repeat starts over
        self.silence_restarted: set[int] = set()
        self.silenced = [alert[2] for alert in before.alerts]

    def _read_timed(self) -> None:
        """What readers of timed conditions see in the reaction, and before it."""
        if not self.before.phases:
            self.frame.timed = []
            self.frame.before_timed = self.frame.timed.__getitem__
            return
        phases, expiring = self.before.phases, {t.index for t in self.expired if t.kind == "timed"}
        kinds = [timed.kind for timed in self.parts.system.timed]
        self.frame.before_timed = [
            phase == "holding" or (kind == "within last" and phase == "running")
            for kind, phase in zip(kinds, phases, strict=True)
        ].__getitem__
        self.frame.timed = [
            phase == "holding" or (phase == "running" and (number in expiring) == (kind == "for"))
            for number, (kind, phase) in enumerate(zip(kinds, phases, strict=True))
        ]

    def course(self) -> Course | None:
        """The course along the oracle's answers."""
        parts, frame, oracle = self.parts, self.frame, self.oracle
        if not self._possible():
            return None
        values = tuple(frame.n)
        spoilt = self._out_of_range()
        rest = Frame(oracle, values, values, frame.alerts, frame.alerts)
        rest.ask(oracle, at_rest=True)
        rest.latches = parts.latches
        keeps = [0] * parts.clocks.count
        phases = self._phases(rest, keeps)
        waiting, counting = self._waiting(rest, keeps)
        self._stays(values, keeps)
        alerts = self._alerts(rest, keeps)
        after = Still(
            values=values,
            expired=tuple(self.stays),
            waiting=waiting,
            counting=counting,
            phases=phases,
            alerts=alerts,
            inputs=(),
            latches=tuple(latch(rest) for latch in parts.latches),
            settled=False,
        )
        settled = not spoilt and self._settled(after, rest)
        return Course(
            after=after._replace(settled=settled),
            keeps=tuple(keeps),
            expired=frozenset(self.expired),
            taken=frozenset(frame.taken),
            ties=frozenset(self.ties),
            out_of_range=spoilt,
            first=self.first,
            reaction=frame,
            rest=rest,
            before=self.before,
            ready=self.ready,
            values=tuple(oracle.values),
            previous=tuple(oracle.previous),
            cell=oracle.cell,
        )

    def takes(self) -> frozenset[str] | None:
        """The rules taken along the answers; None if a run cannot go on so."""
        return frozenset(self.frame.taken) if self._possible() and not self._out_of_range() else None

    def _possible(self) -> bool:
        """Evaluates it. False: there is no such outcome, or an assumption excludes it."""
        return self._happens() and all(assumed(self.frame) for assumed in self.parts.assumed)

    def _out_of_range(self) -> str:
        """The first memory name that is written a value that it cannot have."""
        memory = self.frame.n[len(self.parts.system.machines) :]
        names = zip(self.parts.system.memory, self.parts.allowed, memory, strict=True)
        return next((variable.name for variable, allowed, value in names if not allowed(value)), "")

    def _happens(self) -> bool:
        """Evaluates the machines and alerts in order. False: there is no such outcome."""
        mover = self.parts.movers[self.choose(len(self.parts.movers))]
        for item in self.parts.order:
            if not isinstance(item, Machine):
                self._alert(item)
            elif not self._machine(item, mover):
                return False
        return True

    # ----------------------------------------------------------------- machines

    def _machine(self, machine: Machine, mover: str | None) -> bool:
        """Takes one rule of the machine, or none. False: this mover has nothing to do."""
        interleaved = machine.name in self.parts.system.interleaved
        if interleaved and mover not in (machine.name, None):
            return True
        number = self.parts.machine_numbers[machine.name]
        here = self.frame.w[number]
        rules, optional = self.parts.rules[machine.name, here]
        enabled = [rule for rule in rules if self._enabled(rule, here, number)]
        if interleaved and mover is None:
            return not enabled
        offered = [rule for rule in optional if self.offers and self._enabled(rule, here, number)]
        takeable = [rule for rule in enabled if not beaten(rule, enabled)]
        rivals = takeable if len(takeable) > 1 and not machine.tie_either else []
        takeable = takeable + [rule for rule in offered if not beaten(rule, enabled)]
        choices: list[CompiledRule | None] = [*takeable]
        if not enabled and not interleaved:
            choices.insert(0, None)
        if not choices:
            return False
        rule = choices[self.choose(len(choices))]
        if rule is not None:
            self._note_ties(rule, rivals)
            self._take(rule, number)
        return True

    def _enabled(self, rule: CompiledRule, here: str, number: int) -> bool:
        if rule.needs and self.stays[number] < rule.needs[here]:
            return False
        if rule.takes is not None and not self.ready & self.parts.offer_bit(rule.takes):
            return False
        if rule.over is not None and not self.ready & self.parts.over_bit(rule.over):
            return False
        return bool(rule.guard(self.frame))

    def _note_ties(self, rule: CompiledRule, rivals: list[CompiledRule]) -> None:
        """The conflicts that taking this at-once rule settles by chance."""
        if rule in rivals:
            effect = self._effect(rule)
            for rival in rivals:
                if self._effect(rival) != effect:
                    ids = sorted((rule.rule.id, rival.rule.id))
                    self.ties.add(Tie((ids[0], ids[1])))

    def _effect(self, rule: CompiledRule) -> tuple[str | None, dict[int, Any]]:
        return rule.rule.target, {slot: right(self.frame) for slot, right in rule.writes}

    def _take(self, rule: CompiledRule, number: int) -> None:
        now, frame = self.frame.n, self.frame
        written = [(slot, right(frame)) for slot, right in rule.writes]
        frame.taken.add(rule.rule.id)
        if rule.rule.target is not None:
            now[number] = rule.rule.target
            self.entered.add(rule.rule.machine)
        for slot, value in written:
            earlier = self.writers.setdefault(slot, [])
            for other, wrote in earlier:
                if wrote != value:
                    ids = sorted((other, rule.rule.id))
                    name = self.parts.system.memory[slot - len(self.parts.system.machines)].name
                    self.ties.add(Tie((ids[0], ids[1]), name))
            if not earlier or now[slot] == value or self.choose(2):
                now[slot] = value
            earlier.append((rule.rule.id, value))

    # ----------------------------------------------------------------- alerts

    def _alert(self, number: int) -> None:
        """The alert's next status; the first line that applies."""
        parts, frame = self.parts, self.frame
        alert = parts.system.alerts[number]
        status, held, _ = self.before.alerts[number]
        raised = parts.raises[number][0](frame)
        clear = parts.clears[number]
        if raised and (self.first or not held):
            frame.alerts[number] = "on"
            frame.sounds.add(number)
            self.restarted.add(number)
            self.silenced[number] = False
        elif status == "on" and clear is not None and clear(frame):
            frame.alerts[number] = "cleared" if raised else "idle"
            self.silenced[number] = False
        elif status == "on" and clear is None and not raised:
            frame.alerts[number] = "idle"
            self.silenced[number] = False
        elif status == "on":
            if alert.silence_for is not None:
                if Timer("silence", alert.name, alert.silence_for) in self.expired:
                    self.silenced[number] = False
                silencer = parts.silencers[number]
                if silencer is not None and silencer(frame):
                    self.silenced[number] = True
                    self.silence_restarted.add(number)
            if alert.repeat is not None and Timer("repeat", alert.name, alert.repeat) in self.expired:
                self.restarted.add(number)
                if not self.silenced[number]:
                    frame.sounds.add(number)
        elif status == "cleared" and not raised:
            frame.alerts[number] = "idle"

    def _alerts(self, rest: Frame, keeps: list[int]) -> tuple[tuple[Status, bool, bool], ...]:
        found = []
        clocks = self.parts.clocks
        for number, (before, _, silenced) in enumerate(self.before.alerts):
            raised, simple = self.parts.raises[number]
            status = self.frame.alerts[number]
            held = raised(self.frame if simple else rest)
            if status == before == "on" and self.parts.system.alerts[number].repeat is not None:
                keeps[clocks.repeat + number] = number not in self.restarted
            if silenced and self.silenced[number]:
                keeps[clocks.silence + number] = number not in self.silence_restarted
            found.append((status, held, self.silenced[number]))
        return tuple(found)

    # ----------------------------------------------------------------- what is true at rest

    def _phases(self, rest: Frame, keeps: list[int]) -> tuple[PhaseName, ...]:
        """The next phase of each timed condition, inner ones first; fills in `rest.timed`."""
        phases = list(self.before.phases)
        rest.timed = [False] * len(phases)
        rest.before_timed = rest.timed.__getitem__
        expiring = {t.index for t in self.expired if t.kind == "timed"}
        for index, condition in enumerate(self.parts.conditions):
            if condition is None:  # only requirements read it: their observers keep it
                continue
            holds, simple = condition
            in_reaction = holds(self.frame)
            at_rest = in_reaction if simple else holds(rest)
            kind = self.parts.system.timed[index].kind
            phase = phases[index]
            if kind == "for":
                if not at_rest:
                    phases[index] = "idle"
                elif not in_reaction or phase == "idle":
                    phases[index] = "running"
                elif index in expiring:
                    phases[index] = "holding"
                else:
                    keeps[self.parts.clocks.timed + index] = 1
            elif at_rest:
                phases[index] = "holding"
            elif in_reaction or phase == "holding":
                phases[index] = "running"
            elif index in expiring:
                phases[index] = "idle"
            else:
                keeps[self.parts.clocks.timed + index] = 1
            shows = phases[index] == "holding" or (kind == "within last" and phases[index] == "running")
            rest.timed[index] = shows
        return tuple(phases)

    def _waiting(self, rest: Frame, keeps: list[int]) -> tuple[tuple[bool, ...], tuple[bool, ...]]:
        """For each `takes` rule whether it waits, and whether its clock runs."""
        waiting, counting = [], []
        for number, rule in enumerate(self.parts.takes_rules):
            assert rule.takes is not None
            here = rest.n[self.parts.machine_numbers[rule.machine]]
            waits = here in rule.sources and bool(self.parts.compiler.function(rule.guard)(rest))
            counted = self.before.counting[number]
            if rule.takes.since:
                restarted = rule.id in self.frame.taken or not self.frame.taken.isdisjoint(
                    rule.takes.since
                )
                counts = counted or restarted
            else:
                restarted = rule.machine in self.entered or rule.id in self.frame.taken
                counts = waits
            keeps[self.parts.clocks.takes + number] = counted and counts and not restarted
            waiting.append(waits)
            counting.append(counts)
        return tuple(waiting), tuple(counting)

    def _stays(self, values: tuple[Any, ...], keeps: list[int]) -> None:
        for number, machine in enumerate(self.parts.system.machines):
            if machine.name in self.entered:
                self.stays[number] = 0
            else:
                here = (number, values[number])
                waits = self.stays[number] < len(self.parts.delays[here]) or self.parts.over[here]
                keeps[number] = int(bool(waits))

    # ----------------------------------------------------------------- settled

    def _settled(self, after: Still, rest: Frame) -> bool:
        """Whether every outcome of the stutter reaction would enter no state, change no value and no
        alert, and sound nothing. Its inputs are those of this reaction; its ties are all tried."""
        choices = Choices()
        while True:
            stutter = Reacting(
                self.parts, after, 0, self.oracle, offers=False, choose=choices.choose, stutter_of=rest
            )
            if stutter._happens() and not stutter._effectless():
                return False
            if not choices.turn():
                return True

    def _effectless(self) -> bool:
        before = self.before
        return (
            not self.entered
            and not self.frame.sounds
            and all(now == was for now, was in zip(self.frame.n, before.values, strict=True))
            and all(
                (status, silenced) == (old[0], old[2])
                for status, silenced, old in zip(
                    self.frame.alerts, self.silenced, before.alerts, strict=True
                )
            )
        )


def beaten(rule: CompiledRule, rivals: list[CompiledRule]) -> bool:
    """Whether a rival, itself beaten or not, beats the rule."""
    return any(rule.rule.id in rival.rule.beats for rival in rivals)
