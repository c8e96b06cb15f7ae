"""Questions about runs without an end: a requirement holds exactly if no such run breaks it.

Asked here: answers that must come some day, and every form under assumptions that only runs without an
end keep or break (`assuming` an answer, or what comes again and again). Only runs count in which time
grows without bound, in which no `takes` rule without upper end waits for ever, in which a `fair` rule
that can be taken again and again is, and which keep the assumptions named. A requirement is broken by
such a run if it owes the same answer from some reaction on for ever, or if some part of it breaks the
requirement.

How: everything is explored together with observers (joint.py), and a strongly connected set of steps is
looked for that meets all that must come again and again (loops.py). A run is found as a prefix and a
loop, taken on the reference, and judged there by the sentences (semantics/lasso.py).

Why whole ticks are exact here too, wherever they are for the system and the requirement (clockwork.py):
rounding all instants of a run by one threshold keeps its reactions and their order, and time still
grows without bound. What must come again and again is asked of reactions and of rest, not of figures.
Where no time passes after rounding perhaps some passed before, but not the other way round; so at most
a fair rule can be taken less often. A delay that runs for ever without upper end still does. A run on
ticks is a run. Only a fair rule whose own delay has a lower end may seem to be free too early; such
systems, strict bounds, `under` in an assumption and `recoverable` are asked on region clocks, with one
more clock that starts over each tick: time grows without bound exactly if it does so for ever.

Timed conditions of the requirement's own are taken along (timely.py). What it does not do: such a
condition where `recoverable` asks (declined by name).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import replace

from prioritylogic.engines.clockwork import durations, tick_of
from prioritylogic.engines.joint import OPEN, THERE, Asked, strong_rules
from prioritylogic.engines.limits import Limits
from prioritylogic.engines.loops import Step, fair_components, nearest, tour
from prioritylogic.engines.part import Options, has_strict_bounds
from prioritylogic.engines.product import DenseProduct, Hop, Product
from prioritylogic.engines.replay import replay
from prioritylogic.engines.table import Table
from prioritylogic.errors import DisagreementError
from prioritylogic.model.system import Assumption, Recoverable, Requirement, Respond, Seconds, System
from prioritylogic.requirements.observer import assumed, observer, some_day
from prioritylogic.semantics.compile import Declined
from prioritylogic.semantics.judgement import Failure
from prioritylogic.semantics.lasso import Lasso
from prioritylogic.semantics.reading import observed_timers
from prioritylogic.semantics.reference import Reference
from prioritylogic.semantics.state import Run

CANDIDATES = 8  # components whose loops are compared
TURNS = 6  # at most, until a loop comes back to the same state


def bound(system: System, requirement: Requirement) -> tuple[Assumption, ...]:
    """The assumptions about runs without an end that a requirement names."""
    return tuple(a for a in system.assumptions if a.holds is None and a.id in requirement.assuming)


def asked_of(system: System, requirement: Requirement, strong: bool = True) -> Asked:
    """What a requirement asks of runs without an end; without `strong`, fair rules do not bind."""
    form, binding = requirement.form, bound(system, requirement)
    endless = isinstance(form, Respond) and form.limit is None
    return Asked(
        watching=some_day(requirement) if endless else observer(requirement),
        endless=endless,
        answers=tuple(assumed(a) for a in binding if a.after is not None),
        again=tuple(a.again_and_again for a in binding if a.again_and_again is not None),
        there=form.condition if isinstance(form, Recoverable) else None,
        strong=strong,
        requirement=requirement,
    )


class Search:
    """One question asked of one system.

    Attributes:
        product: the exploration.
        reference: of the same system.
        dense: whether it is on region clocks.
        own: whether the requirement has timed conditions of its own.
        counts: whether any run counts.
        broken: whether one that counts breaks it.

    Args:
        system: the whole, or a part.
        asked: of it.
        limits: on work.
        options: switches of the reductions.
        table: of the system, if one that can be asked this is at hand.

    Raises:
        Declined: it cannot be asked exactly.
        LimitError: it takes more states, time or memory than there is.
    """

    def __init__(
        self,
        system: System,
        asked: Asked,
        limits: Limits,
        options: Options,
        table: Table | None = None,
    ) -> None:
        facts = [] if asked.watching is None else [fact.formula for fact in asked.watching.facts]
        own = observed_timers(system, facts)
        if own != observed_timers(system, asked.formulas):
            raise Declined("its condition is timed, and no rule, alert or output reads that")
        self.system, self.asked, self.own = system, asked, bool(own)
        self._limits = limits
        self.reference = Reference(system)
        self.dense = needs_regions(system, asked)
        times = [o.figure for o in asked.observers if o.figure] + [system.timed[n].time for n in own]
        self.tick = tick_of([*durations(system), *times])
        table = table or Table(
            system, asked.formulas, options.project, options.lazily, limits=limits, dense=self.dense
        )
        self.product = self._product(table)
        self.product.run()
        self._nodes = list(self.product.parents)
        self._numbers = {node: number for number, node in enumerate(self._nodes)}
        steps = list(self._steps())
        self._ways: list[Step] = []
        self._lost: int | None = None
        if asked.there is None:
            self._found = self._fair([step for step in steps if step.marks & OPEN])
            self.broken = bool(self._found)
            self.counts = self.broken or bool(self._fair(steps))
        else:
            self._found = self._fair(steps)
            self.counts = bool(self._found)
            self._lose(steps)
            self.broken = self._lost is not None

    def _product(self, table: Table) -> Product:
        """The exploration, on the cheaper clocks that are exact."""
        if not self.dense:
            try:
                return Product(table, self.tick, self.asked, self._limits, self.own)
            except Declined:
                if not self.own:
                    raise
                self.dense = True
        return DenseProduct(table, self.tick, self.asked, self._limits, self.own)

    def lasso(self) -> Lasso:
        """A run without an end that breaks it, a short one. Requires `broken`."""
        if self._lost is not None:
            return self._away(self._lost)
        return min(map(self._short, self._nearest(self._found)), key=length)

    # ----------------------------------------------------------------- the graph

    def _steps(self) -> Iterator[Step]:
        """Every step of the exploration, in its order."""
        product, numbers = self.product, self._numbers
        for tail, node in enumerate(self._nodes):
            if tail % 256 == 0:
                self._limits.check(tail)
            if (later := product.later(node)) is not None:
                yield Step(tail, numbers[later[0]], product.waiting(node, later[0]), None)
            for edge in product.edges_of(node):
                yield Step(tail, numbers[product.follow(node, edge)], edge.marks, edge)

    def _fair(self, steps: list[Step]) -> list[list[Step]]:
        """The sets of steps that a run which counts can stay in."""
        joint = self.product.joint
        self._limits.check()
        return fair_components(steps, sum(joint.goals), joint.pairs)

    def _nearest(self, found: list[list[Step]]) -> list[list[Step]]:
        """Some sets that are reached soon; those in which only time passes besides."""
        found = sorted(found, key=lambda steps: min(step.tail for step in steps))
        quiet = self._fair([step for steps in found for step in steps if step.edge is None])
        quiet.sort(key=lambda steps: min(step.tail for step in steps))
        return [*quiet[:CANDIDATES], *found[:CANDIDATES]]

    # ----------------------------------------------------------------- lassos

    def _short(self, steps: list[Step]) -> Lasso:
        """A run into a set of steps and around it."""
        joint = self.product.joint
        loop = tour(steps, sum(joint.goals), joint.pairs)
        return self._lasso(self.product.trail(self._nodes[loop[0].tail]), loop)

    def _lasso(self, prefix: list[Hop], steps: list[Step]) -> Lasso:
        """The run on the reference. The loop begins with a reaction, if it has any."""
        loop = self._hops(steps)
        turned = next((n for n, (_, edge) in enumerate(loop) if edge is not None), None)
        if turned is None:
            run = self._replayed(prefix)
            end = run.moments[-1].time if self.asked.endless and not self.own else run.end
            return Lasso(self.reference, Run(run.moments, end), len(run.moments), self._unit)
        loop, prefix = loop[turned:] + loop[:turned], prefix + loop[:turned]
        long = self._replayed(prefix + TURNS * loop)
        first = sum(edge is not None for _, edge in prefix)
        turn = sum(edge is not None for _, edge in loop)
        for start in range(first, first + (TURNS - 1) * turn, turn):
            again = start + turn
            end = time_before(long, again)
            lasso = Lasso(self.reference, Run(long.moments[:again], end), start, self._unit)
            if lasso.returns:
                return lasso
        raise DisagreementError(f"a loop does not come back to the same state within {TURNS} turns")

    def _hops(self, steps: list[Step]) -> list[Hop]:
        return [(self._nodes[step.tail], step.edge) for step in steps]

    def _replayed(self, hops: list[Hop]) -> Run:
        product = self.product
        return replay(self.reference, product.table.cells, self.tick, product.told(hops))

    @property
    def _unit(self) -> Seconds | None:
        """The tick up to which states count as the same, on region clocks."""
        return self.tick if self.dense else None

    # ----------------------------------------------------------------- recoverable

    def _lose(self, steps: list[Step]) -> None:
        """Looks for the first place on a run that counts from which none that counts gets there."""
        self._ways = steps
        alive = backwards({step.tail for inner in self._found for step in inner}, steps)
        ways = [step for step in steps if step.head in alive]
        there = backwards({step.tail for step in ways if step.marks & THERE}, ways)
        self._lost = min(alive - there, default=None)

    def _away(self, lost: int) -> Lasso:
        """A run that counts through that place."""
        home = {step.tail: inner for inner in self._found for step in inner}
        prefix = self.product.trail(self._nodes[lost])
        on = [] if lost in home else nearest(self._ways, lost, lambda step: step.head in home)
        at = on[-1].head if on else lost
        joint = self.product.joint
        loop = tour(home[at], sum(joint.goals), joint.pairs, at)
        lasso = self._lasso(prefix + self._hops(on), loop)
        last = sum(edge is not None for _, edge in prefix) - 1
        time = self._replayed(prefix).end
        moment = last if lasso.run.moments[last].time == time else None
        return replace(lasso, mark=Failure(time, moment, "from here no run that counts gets there"))


def needs_regions(system: System, asked: Asked) -> bool:
    """Whether whole ticks would not be exact; see the module."""
    late = asked.strong and any(rule.takes and rule.takes.low for rule in strong_rules(system))
    under = any(answer.kind == "reached" for answer in asked.answers)
    return late or under or asked.there is not None or has_strict_bounds(system)


def backwards(there: Iterable[int], steps: Iterable[Step]) -> set[int]:
    """The nodes from which some steps lead there."""
    before: dict[int, list[int]] = defaultdict(list)
    for step in steps:
        before[step.head].append(step.tail)
    found, waiting = set(there), list(there)
    while waiting:
        for node in before[waiting.pop()]:
            if node not in found:
                found.add(node)
                waiting.append(node)
    return found


def time_before(run: Run, index: int) -> Seconds:
    """When the reaction of this index comes; the run's end, if there is none."""
    return run.moments[index].time if index < len(run.moments) else run.end


def length(lasso: Lasso) -> tuple[int, Seconds]:
    """What makes a lasso short: few reactions, then little time."""
    return len(lasso.run.moments), lasso.run.end
