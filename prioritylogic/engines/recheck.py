"""The second opinion on an exploration: the reference looks at what was explored.

An exhaustive answer is a certificate: a set of states that contains the start, is closed under every
step, and is safe. Here the reference, which shares nothing with the explorer but `System`, checks
the three: each explored state is written out as a full state, its steps are taken by the reference,
and what comes out must lie in the explored set again. Below `FULL` steps all of them are checked;
above, a seeded sample is, and random runs of the reference are followed besides; the verdict says
which. A miss is a bug of ours and is raised as a disagreement.
"""

from __future__ import annotations

import dataclasses
import itertools
import random
from collections.abc import Iterator
from fractions import Fraction
from typing import Any

from prioritylogic.engines.explore import Explorer, Node, step_of
from prioritylogic.engines.parts import Still, plain_value
from prioritylogic.engines.replay import exact_value
from prioritylogic.errors import DisagreementError
from prioritylogic.evidence.words import counted
from prioritylogic.model.formula import Formula, Value
from prioritylogic.model.system import Flag, OneOf, Real, Whole
from prioritylogic.semantics.reference import Reference
from prioritylogic.semantics.state import AlertState, Moment, Phase, Run, State, Stay, Timer

FULL = 800  # steps; about a third of a second of the reference's time
SAMPLE = 60
DRAWS = 4  # of what the environment does, in each state of a sample
SEED = 1


class Recheck:
    """Checks one exploration of a system.

    Args:
        explorer: after `run` ended without a failure.
        reference: of the same system.
    """

    def __init__(self, explorer: Explorer, reference: Reference) -> None:
        self.explorer = explorer
        self.reference = reference
        self.system = reference.system
        self.tick = explorer.tick
        self.random = random.Random(SEED)
        self._latches = explorer.table.parts.compiler.latches
        self._remembered = sorted(explorer.table.remembered)
        self._met: dict[tuple[Still, tuple[int, ...]], list[tuple[Any, ...]]] = {}
        for node in explorer.parents:
            still = explorer.stills[node.still]
            met = self._met.setdefault((still._replace(inputs=()), node.clocks), [])
            if still.inputs not in met:
                met.append(still.inputs)
        corners = explorer.table.cells.corners()
        self._figures = {self.system.inputs[number].name: values for number, values in corners.items()}

    # ----------------------------------------------------------------- states there and back

    def projected(self, state: State) -> tuple[Still, tuple[int, ...]]:
        """What the explorer would store of a state, as the reference sees it."""
        reference = self.reference
        rest = reference.rest_view(state)
        first = len(self.system.inputs)
        still = Still(
            values=tuple(plain_value(value) for value in state.values[first:]),
            expired=tuple(stay.expired for stay in state.stays),
            waiting=tuple(reference.waiting(rule, rest) for rule in reference.takes_rules),
            counting=tuple(clock is not None for clock in state.takes),
            phases=tuple(phase.name for phase in state.timed),
            alerts=tuple(
                (at.status, reference.true(alert.raise_, rest), at.silence is not None)
                for alert, at in zip(self.system.alerts, state.alerts, strict=True)
            ),
            inputs=(),
            latches=tuple(reference.true(latch, rest) for latch in self._latches),
            settled=reference.settled(state),
        )
        clocks = (
            *(stay.clock for stay in state.stays),
            *(clock or Fraction(0) for clock in state.takes),
            *(phase.clock for phase in state.timed),
            *(at.repeat or Fraction(0) for at in state.alerts),
            *(at.silence or Fraction(0) for at in state.alerts),
        )
        return still, self.explorer.figures(still, [clock / self.tick for clock in clocks])

    def covered(self, state: State) -> bool:
        """Whether the explorer met this state."""
        met = self._met.get(self.projected(state), [])
        return any(
            all(
                inputs[number] is None or exact_value(inputs[number]) == state.values[number]
                for number in self._remembered
            )
            for inputs in met
        )

    def written_out(self, node: Node) -> State:
        """A full state that the explorer's node stands for."""
        explorer, system = self.explorer, self.system
        still = explorer.stills[node.still]
        at: Node | None = node
        known = None
        while at is not None and known is None:
            at, edge = explorer.parents[at]
            known = None if edge is None else step_of(edge)
        assert known is not None, "every node comes from a reaction"
        wanted: dict[int, Fraction] = {}
        inputs: dict[int, Value] = {}
        for number, variable in enumerate(system.inputs):
            if isinstance(variable.domain, Real):
                wanted[number] = self.random.choice(self._figures[variable.name])
            elif known.values[number] is None:
                inputs[number] = exact_value(self.random.choice(explorer.table.domains[number]))
            else:
                inputs[number] = exact_value(known.values[number])
        if wanted:
            inputs.update(explorer.table.cells.point(known.cell, wanted))
        clocks = iter(count * self.tick for count in explorer.exact(node))
        stays = tuple(Stay(next(clocks), expired) for expired in still.expired)
        takes = tuple(
            clock if counts else None for counts, clock in zip(still.counting, clocks, strict=False)
        )
        timed = tuple(Phase(name, next(clocks)) for name in still.phases)
        repeats = [next(clocks) for _ in system.alerts]
        silences = [next(clocks) for _ in system.alerts]
        alerts = tuple(
            AlertState(
                status,
                repeats[n] if status == "on" and system.alerts[n].repeat is not None else None,
                silences[n] if silenced else None,
            )
            for n, (status, _, silenced) in enumerate(still.alerts)
        )
        values = (
            *(inputs[number] for number in range(len(system.inputs))),
            *(exact_value(value) for value in still.values),
        )
        return State(values, stays, takes, timed, alerts)

    # ----------------------------------------------------------------- the three checks

    def confirm(self, safe: tuple[Formula, ...] = ()) -> str:
        """Checks that the explored set contains the start, is closed, and that in every reaction
        seen the formulas in `safe` are true. Says how much of it was checked.

        Raises:
            DisagreementError: a step of the reference leaves the set, or one is not safe.
        """
        nodes = list(self.explorer.parents)
        chosen, whole = self.chosen()
        self._starts(safe, whole)
        for node in chosen:
            self.explorer.limits.check_time()
            state = self.written_out(node)
            if not self.covered(state):
                raise DisagreementError("an explored state does not stand for itself")
            self._passing(state, node)
            for inputs, expired in self.choices(state, whole):
                for moment in self.reference.reactions(state, inputs, expired):
                    self._step(moment, safe)
        # Without the clock of a requirement: a watched exploration has more states than the logic.
        states = f"{amount(len(nodes), 'state')} of the logic"
        if whole:
            return f"the reference rechecked every step from {states}"
        some = f"{DRAWS * len(chosen)} steps from {len(chosen)} of {states}"
        return f"the reference rechecked {some} (a sample, seed {SEED})"

    def chosen(self) -> tuple[list[Node], bool]:
        """The nodes to look at, and whether each step from them can be: all, or a sample."""
        nodes = list(self.explorer.parents)
        if len(nodes) * self._steps_per_state() <= FULL and not self._joint():
            return nodes, True
        return self.random.sample(nodes, min(len(nodes), SAMPLE // DRAWS)), False

    def _joint(self) -> bool:
        """Whether figures of single inputs cannot stand for all cells."""
        return bool(self._figures) and self.explorer.table.cells.joint

    def _steps_per_state(self) -> int:
        sizes = 1
        for variable in self.system.inputs:
            match variable.domain:
                case Flag():
                    sizes *= 2
                case OneOf(values):
                    sizes *= len(values)
                case Whole(low, high):
                    sizes *= high - low + 1
                case Real():
                    sizes *= len(self._figures[variable.name])
        return sizes

    def choices(self, state: State, whole: bool) -> Iterator[tuple[tuple[Value, ...], frozenset[Timer]]]:
        """What the environment may do in a state: all of it, or a few things at random."""
        due = sorted(self.reference.due(state))
        subsets = [
            frozenset(subset)
            for size in range(len(due) + 1)
            for subset in itertools.combinations(due, size)
        ]
        if whole:
            for inputs in self.reference.input_choices(state, self._figures):
                for subset in subsets:
                    yield inputs, subset
            return
        for _ in range(DRAWS):
            yield self.some_inputs(state), self.random.choice(subsets)

    def some_inputs(self, state: State | None) -> tuple[Value, ...]:
        """Inputs at random, most of them unchanged."""
        chosen: list[Value] = []
        changing = self.random.randrange(len(self.system.inputs)) if self.system.inputs else 0
        for number, variable in enumerate(self.system.inputs):
            keep = self.system.one_input_at_a_time and number != changing
            if state is not None and (keep or self.random.random() < 0.5):
                chosen.append(state.values[number])
            elif state is None and variable.start is not None:
                chosen.append(variable.start)
            else:
                values: tuple[Any, ...] = self.explorer.table.domains[number]
                chosen.append(exact_value(self.random.choice(values or self._figures[variable.name])))
        return tuple(chosen)

    def _starts(self, safe: tuple[Formula, ...], whole: bool) -> None:
        """The reaction at time 0: under every input where all steps are taken, else under some."""
        for inputs in self.start_choices(whole):
            for moment in self.reference.starts(inputs):
                self._step(moment, safe)

    def start_choices(self, whole: bool) -> Iterator[tuple[Value, ...]]:
        """How inputs may start: in every way, or in a few at random."""
        drawn = (self.some_inputs(None) for _ in range(8))
        yield from self.reference.input_choices(None, self._figures) if whole else drawn

    def _step(self, moment: Moment, safe: tuple[Formula, ...]) -> None:
        view = self.reference.reaction_view(moment)
        if not all(self.reference.true(formula, view) for formula in safe):
            raise DisagreementError(
                "the reference reaches a reaction that the explorer calls impossible"
            )
        if not moment.out_of_range and not self.covered(moment.after):
            raise DisagreementError("the reference reaches a state that the explorer never met")

    def _passing(self, state: State, node: Node) -> None:
        """Time passes on both sides or on neither, and to the same place."""
        wait = self.tick * self.explorer.stretch(node)
        reference = self.reference.may_pass(state, wait)
        if reference != (self.explorer.later(node) is not None):
            raise DisagreementError("the reference and the explorer let time pass differently")
        if reference and not self.covered(self.reference.passed(state, wait)):
            raise DisagreementError("time leads the reference to a state that the explorer never met")


def random_runs(recheck: Recheck, tick: Fraction, count: int, length: int) -> list[Run]:
    """Seeded random runs of the reference, in whole ticks, for judging requirements directly."""
    reference, dice = recheck.reference, recheck.random
    runs = []
    for _ in range(count):
        moments = [m for m in reference.starts(recheck.some_inputs(None)) if not m.out_of_range]
        taken: list[Moment] = []
        time = Fraction(0)
        while moments and len(taken) < length:
            moment = dataclasses.replace(dice.choice(moments), time=time)
            taken.append(moment)
            state = moment.after
            while dice.random() < 0.7 and reference.may_pass(state, tick):
                state, time = reference.passed(state, tick), time + tick
            expired = frozenset(timer for timer in sorted(reference.due(state)) if dice.random() < 0.6)
            offered = reference.reactions(state, recheck.some_inputs(state), expired)
            moments = [m for m in offered if not m.out_of_range]
        if taken:
            runs.append(Run(tuple(taken), time))
    return runs


def amount(number: int, one: str) -> str:
    """A number of things: `1 state`, `52 states`."""
    return counted(number, one)
