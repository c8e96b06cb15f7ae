"""The reaction table: what can happen in one reaction, without the figures of clocks.

Idea. A reaction depends on the clocks of a state only through which timers are due and which delays
may end; and it does to each clock one of two things: keep it, or set it to nought. So the state is
split into a *still* part (values, phases, what has expired: everything but the figures) and the
clock figures, and the courses of a reaction are tabulated by (still part, what is ready). An
exploration with many clock figures meets each row many times and evaluates it once; how time is
represented (ticks here) is not this file's concern.

Soundness of the two reductions, each of which can be switched off:

* *Live projection.* Of the inputs only those are stored whose earlier value some formula reads
  (`before`, `pressed`, `changed`, ...), and of analog ones only the truth of comparisons read so.
  Everything else that a later reaction needs from the inputs is what was true at rest, and that is
  stored as such: running conditions, held alert causes, waiting rules, and whether the state is
  settled. The environment may choose all inputs afresh in each reaction, so nothing else can matter.
* *Branch when read.* Two ways to set the inputs that no part of a reaction asks about lead to the
  same course; see `oracle.py`. A stored input that was not read is stored as unknown: both values
  belong to runs with this very course.

With `inputs_change: one at a time` the inputs of the next reaction depend on all of these, so then
all are stored and read, whatever the switches say.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import Any, TypeAlias, TypeVar

from prioritylogic.engines.cells import AtomId, Cell, Cells
from prioritylogic.engines.limits import Limits
from prioritylogic.engines.oracle import UNREAD, Oracle
from prioritylogic.engines.parts import Parts, Ready, Still, plain_value, values_of
from prioritylogic.engines.reacting import Course, Reacting
from prioritylogic.model.formula import Formula
from prioritylogic.model.system import Real, System
from prioritylogic.semantics.compile import Declined
from prioritylogic.semantics.linear import pieces

T = TypeVar("T")
StillId: TypeAlias = int


class Table:
    """The reaction table of one System.

    Args:
        system: what is explored.
        facts: further formulas that will be read of its reactions.
        project: live projection; off: every discrete input is stored.
        lazily: branch when read; off: every discrete input is read in every reaction.
        stored: inputs to store and read in any case, for counting over them.
        limits: asked now and then while a row is made, since one row can be large.
        dense: whether the clocks will be exact, so that strict bounds can be read.

    Raises:
        Declined: what exploration cannot read exactly.
    """

    def __init__(
        self,
        system: System,
        facts: tuple[Formula, ...] = (),
        project: bool = True,
        lazily: bool = True,
        stored: frozenset[str] = frozenset(),
        limits: Limits | None = None,
        dense: bool = False,
    ) -> None:
        self.system = system
        self._limits = limits or Limits()
        self.parts = Parts(system, facts, dense)
        self.domains = tuple(values_of(variable.domain) for variable in system.inputs)
        analog = {n: v.domain for n, v in enumerate(system.inputs) if isinstance(v.domain, Real)}
        self.cells = Cells(analog)
        self.cuts: list[AtomId] = []
        self.prepare_cuts()
        discrete = tuple(n for n, values in enumerate(self.domains) if values)
        if system.one_input_at_a_time:
            if analog:
                name = system.inputs[min(analog)].name
                raise Declined(f"inputs change one at a time and {name} is analog: it would be stored")
            project = lazily = False
        wanted = {n for n, variable in enumerate(system.inputs) if variable.name in stored}
        self.remembered = frozenset(self.parts.compiler.remembered | wanted if project else discrete)
        self._eager = tuple(sorted(wanted)) if lazily else discrete
        self.start_values: tuple[Any, ...] = tuple(
            UNREAD if v.start is None or isinstance(v.domain, Real) else plain_value(v.start)
            for v in system.inputs
        )
        self.start_cell: Cell = frozenset().union(
            *(
                self.cells.exactly(n, v.start)
                for n, v in enumerate(system.inputs)
                if isinstance(v.domain, Real) and isinstance(v.start, Fraction)
            )
        )
        self._made = 0  # courses; sixteen of them weigh as much as a state
        self.stills: list[Still] = []
        self._ids: dict[Still, StillId] = {}
        self._rows: dict[tuple[StillId, Ready], list[Course]] = {}

    def prepare_cuts(self) -> None:
        """Numbers the conditions on analog inputs that have been compiled so far."""
        for cut in self.parts.compiler.cuts[len(self.cuts) :]:
            self.cuts.append(self._cut(cut))

    def _cut(self, formula: Formula) -> AtomId:
        """A condition on analog inputs alone as an atom."""
        number_of = self.parts.compiler.analog_number
        true, false = (pieces(formula, truth, number_of) for truth in (True, False))
        assert true is not None and false is not None, "the compiler has seen them"
        return self.cells.condition(true, false)

    def still_id(self, still: Still) -> StillId:
        """The number of a still part; `stills` has them in order."""
        known = self._ids.get(still)
        if known is None:
            known = self._ids[still] = len(self.stills)
            self.stills.append(still)
        return known

    def row(self, still: StillId, ready: Ready) -> list[Course]:
        """Every course of a reaction from this still part with these timers and delays ready."""
        known = self._rows.get((still, ready))
        if known is None:
            known = self._rows[still, ready] = self._courses(self.stills[still], ready)
        return known

    def starts(self) -> list[Course]:
        """Every course of the reaction at time 0."""
        return self._courses(None, 0)

    def _courses(self, still: Still | None, ready: Ready) -> list[Course]:
        found = []
        values: tuple[Any, ...] = (UNREAD,) * len(self.domains)
        cell: Cell = frozenset()
        if still is None:
            values, cell = self.start_values, self.start_cell
        script: list[int] | None = []
        while script is not None:
            previous = values if still is None else still.inputs
            oracle = Oracle(self.domains, self.cuts, self.cells, values, previous, cell, script)
            if still is not None and self.system.one_input_at_a_time:
                oracle.change_one()
            for number in self._eager:
                oracle.get(number)
            before = self.parts.blank() if still is None else still
            course = Reacting(self.parts, before, ready, oracle, first=still is None).course()
            self._made += 1
            if self._made % 512 == 0:
                self._limits.check(self._made // 16)
            if course is not None:
                course.after = course.after._replace(inputs=self.remember(oracle))
                course.after_id = self.still_id(course.after)
                found.append(course)
            script = oracle.next_script()
        return found

    def stutters(self, course: Course) -> list[Course]:
        """Every course of the stutter reaction after this one: the same inputs, nothing expires and
        nothing is offered. What it asks about the inputs besides is asked of both."""
        found = []
        script: list[int] | None = []
        while script is not None:
            oracle = Oracle(
                self.domains, self.cuts, self.cells, course.values, course.values, course.cell, script
            )
            oracle.previous = oracle.values  # the same inputs before and after, known or not
            following = Reacting(self.parts, course.after, 0, oracle, offers=False).course()
            if following is not None:
                following.after = following.after._replace(inputs=self.remember(oracle))
                found.append(following)
            script = oracle.next_script()
        return found

    def read(self, course: Course, ask: Callable[[], T]) -> list[tuple[T, Oracle]]:
        """Every answer of `ask`, a question about a course's two readings, with the oracle that
        knows what had to be asked about the inputs besides."""
        found = []
        script: list[int] | None = []
        while script is not None:
            oracle = Oracle(
                self.domains, self.cuts, self.cells, course.values, course.previous, course.cell, script
            )
            course.reaction.ask(oracle, at_rest=course.first)  # at time 0 `before(x)` is `x`
            course.rest.ask(oracle, at_rest=True)
            found.append((ask(), oracle))
            script = oracle.next_script()
        return found

    def remember(self, oracle: Oracle) -> tuple[Any, ...]:
        """What is stored of the inputs: remembered ones, unknown where nothing asked."""
        return tuple(v if n in self.remembered else UNREAD for n, v in enumerate(oracle.values))
