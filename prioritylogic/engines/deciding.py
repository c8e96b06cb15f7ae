"""Deciding requirements: which engine is asked, about what, and with how much work; in a fixed order.

The order never depends on the clock, so the same spec gets the same answer for the same reason
everywhere. Cheap attempts come first. What holds on a requirement's cone holds (cone.py). What breaks
there is looked for again on the whole system: only its runs are runs, and the shortest one there is
wanted. Every run is judged by the reference before it is believed.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from typing import NamedTuple

from prioritylogic.engines.cycling import Cycling
from prioritylogic.engines.exploring import Exploring
from prioritylogic.engines.limits import STOPPED, Limits
from prioritylogic.engines.part import Options
from prioritylogic.engines.protocol import Engine, Found, Unbroken
from prioritylogic.engines.recovering import recoverable
from prioritylogic.engines.simplify import simplify
from prioritylogic.errors import DisagreementError, LimitError
from prioritylogic.evidence.results import Trace, Verdict
from prioritylogic.evidence.words import counted
from prioritylogic.model.system import Possible, Recoverable, Requirement, Seconds, System
from prioritylogic.requirements.observer import Observer, observer
from prioritylogic.semantics.compile import Declined
from prioritylogic.semantics.judgement import Judgement
from prioritylogic.semantics.reference import Reference
from prioritylogic.semantics.state import Run

FEW, MANY = 60_000, 1_000_000_000  # states of an exploration; the second leaves it to `Limits`
SOME, MUCH = 30_000_000, 300_000_000  # Z3's resource units


class Attempt(NamedTuple):
    """One engine asked about a requirement's cone, or the whole."""

    engine: str
    whole: bool
    work: int


ATTEMPTS = (
    Attempt("explorer", False, FEW),
    Attempt("explorer", True, FEW),
    Attempt("reachability", False, SOME),
    Attempt("reachability", True, SOME),
    Attempt("bounded search", True, SOME),
    Attempt("induction", False, SOME),
    Attempt("explorer", False, MANY),
    Attempt("explorer", True, MANY),
    Attempt("reachability", False, MUCH),
    Attempt("reachability", True, MUCH),
    Attempt("bounded search", True, MUCH),
    Attempt("induction", True, MUCH),
)


@dataclass(frozen=True, slots=True)
class Decision:
    """What is known about one requirement."""

    verdict: Verdict
    reason: str
    engine: str = "none"
    trace: Trace | None = None
    invariant: tuple[str, ...] = ()
    brief: str = ""
    empty: bool = False  # no run counts at all


# Runs without an end: a cycle's steps weigh more than states, so there are fewer of them.
ENDLESS = (
    Attempt("cycles", False, FEW),
    Attempt("cycles", True, FEW),
    Attempt("cycles", False, 250_000),
    Attempt("cycles", True, 250_000),
)
# Where durations are long beside the tick, real clocks come first: they do not care.
PROVERS_FIRST = tuple(sorted(ATTEMPTS, key=lambda attempt: attempt.engine == "explorer"))


class Deciding:
    """The requirements of one check.

    Attributes:
        whole: the whole system, for exploring.
    """

    def __init__(
        self,
        system: System,
        requirements: list[Requirement],
        limits: Limits,
        options: Options,
        provers_first: bool = False,
    ) -> None:
        self.system = system
        self._provers_first = provers_first
        self._limits = limits
        self.requirements = requirements = list(requirements)
        self.reference = Reference(system)
        self._options = options
        watching = enumerate(map(observer, requirements))
        self._observers: dict[int, Observer] = {n: found for n, found in watching if found is not None}
        given = (system, requirements, self._observers, limits, options)
        self._exploring = Exploring(*given)
        self._cycling = Cycling(system, requirements, limits, options, self._exploring.whole)
        self._engines: dict[str, Engine] = {
            engine.name: engine for engine in (self._exploring, self._cycling)
        }
        self._given = given
        self.whole = self._exploring.whole

    def release(self) -> None:
        """Lets go of everything explored."""
        self._exploring.release()

    def add(self, requirement: Requirement, like: int) -> int:
        """Takes up one more requirement, which reads no more than another one; its number."""
        number, watching = len(self.requirements), observer(requirement)
        self.requirements.append(requirement)
        if watching is not None:
            self._observers[number] = watching
            self._exploring.add(number, like)
        return number

    def explored(self, number: int) -> bool:
        """Whether a requirement can be asked of the whole as it was explored with a little work."""
        return self._exploring.explored(number, FEW)

    def sought(self, number: int, attempts: Iterable[Attempt]) -> Found | None:
        """What the first of these attempts that gets to the end finds, a run or that there is none."""
        for name, whole, work in attempts:
            if number not in self._observers or name not in self._options.engines:
                continue
            try:
                found = self._engine(name).seek(number, whole, work)
            except Declined:
                continue
            except LimitError as stop:
                if stop.final:
                    break
            else:
                if isinstance(found, Unbroken) or found.run is not None:
                    return found
        return None

    # ----------------------------------------------------------------- one requirement

    def decide(self, number: int) -> Decision:
        """The decision on a requirement."""
        requirement = self.requirements[number]
        if isinstance(requirement.form, Recoverable) and not self.bound(requirement):
            return self._recoverable(requirement, requirement.form)
        if number not in self._observers or self.bound(requirement):
            return self._endless(number)
        decision = self._attempted(number, self._options.engines)
        if self._options.both and decision.verdict != "undecided":
            return self._asked_again(number, decision)
        return decision

    def _engine(self, name: str) -> Engine:
        """An engine, made when it is first asked: most specs never need Z3, which is dear to load."""
        if name not in self._engines:
            from prioritylogic.engines.induction import Inducting
            from prioritylogic.engines.proving import Bounded, Reaching

            for kind in (Reaching, Bounded, Inducting):
                engine: Engine = kind(*self._given)
                self._engines[engine.name] = engine
        return self._engines[name]

    def _endless(self, number: int) -> Decision:
        """What runs without an end say. What no run does, none that keeps some assumptions does."""
        if number in self._observers:
            decision = self._attempted(number, self._options.engines)
            if decision.verdict != "undecided":
                return decision
        if Exploring.name not in self._options.engines:
            return Decision(
                "undecided", "only exploring finds runs without an end, and it was not asked"
            )
        return self._attempted(number, [Cycling.name], ENDLESS)

    def _attempted(
        self, number: int, engines: Collection[str], attempts: tuple[Attempt, ...] = ()
    ) -> Decision:
        """What the first of these engines that decides it says."""
        stops: dict[str, Declined | LimitError] = {}
        broken_by = ""
        if not attempts:
            last = self._provers_first or self._exploring.too_many_ticks(number)
            attempts = PROVERS_FIRST if last else ATTEMPTS
        for name, whole, work in attempts:
            if name not in engines or isinstance(stops.get(name), Declined) or (broken_by and not whole):
                continue
            try:
                found = self._engine(name).seek(number, whole, work)
            except Declined as stop:
                stops[name] = stop
            except LimitError as stop:
                stops[name] = stop
                if stop.final:
                    break
            else:
                if isinstance(found, Unbroken) or found.run is not None:
                    return self._decision(self.requirements[number], name, found)
                broken_by = name
        return Decision("undecided", _undecided(stops, broken_by))

    def _decision(self, requirement: Requirement, engine: str, found: Found) -> Decision:
        possible = isinstance(requirement.form, Possible)
        if isinstance(found, Unbroken):
            proof = (None, found.invariant, found.brief, found.empty)
            if possible:
                return Decision("fails", f"no run gets there ({found.reason})", engine, *proof)
            return Decision("holds", found.reason, engine, *proof)
        assert found.run is not None
        if found.lasso is not None:
            trace = self._cycling.trace(requirement, found.lasso)
            reason = f"{trace.note}; a run without an end, replayed and judged by the reference"
            return Decision("holds" if possible else "fails", reason, engine, trace)
        if bound := self.bound(requirement):
            known = "some run gets there" if possible else "some run breaks it"
            return Decision("undecided", f"{known}, but perhaps none that keeps {bound}", engine)
        trace = self.trace(requirement, found.run)
        if possible:
            reason = f"reached after {counted(trace.steps, 'reaction')}; the run is shown"
            return Decision("holds", reason, engine, trace)
        run = "shortest run" if found.shortest else "a run, not always the shortest at a limit"
        return Decision("fails", f"{trace.note}; {run}, replayed by the reference", engine, trace)

    def _recoverable(self, requirement: Requirement, form: Recoverable) -> Decision:
        """Decided by exploring, and by nothing else."""
        try:
            found = recoverable(self.system, form.condition, self._limits, self._options)
        except Declined as stop:
            return Decision("undecided", f"only exploring decides it, and {_stopped(stop)}")
        except LimitError as stop:
            return Decision("undecided", undecided_reason(stop))
        if isinstance(found, Unbroken):
            return Decision("holds", found.reason, Exploring.name)
        assert found.run is not None
        run, last = found.run, found.run.moments[-1].time
        note = "from here no run gets there"
        trace = Trace(run, len(run.moments) - 1 if run.end == last else None, note, at=run.end)
        reason = f"{note}; shortest run, replayed by the reference"
        return Decision("fails", reason, Exploring.name, trace)

    def bound(self, requirement: Requirement) -> str:
        """An assumed response that the requirement names, if it does."""
        bound = [a for a in self.system.assumptions if a.holds is None and a.id in requirement.assuming]
        return bound[0].id if bound else ""

    def _asked_again(self, number: int, first: Decision) -> Decision:
        """The decision, when the other kind of engine has been asked, too.

        Raises:
            DisagreementError: it decides otherwise.
        """
        explored = first.engine == Exploring.name
        others = [name for name in self._options.engines if (name == Exploring.name) != explored]
        second = self._attempted(number, others)
        if second.verdict == "undecided":
            return replace(first, reason=f"{first.reason}; nothing else decides it")
        if second.verdict != first.verdict:
            raise DisagreementError(
                f"{self.requirements[number].id}: {first.engine} says that it {first.verdict}, "
                f"{second.engine} that it {second.verdict}"
            )
        agrees = f"{second.engine} agrees" + (f": {second.brief}" if second.brief else "")
        invariant = first.invariant or second.invariant
        return replace(first, reason=f"{first.reason}; {agrees}", invariant=invariant)

    # ----------------------------------------------------------------- runs

    def trace(self, requirement: Requirement, run: Run) -> Trace:
        """The run, as simple as it can be, judged by the reference.

        Raises:
            DisagreementError: the reference does not see the failure there.
        """
        place = self._shown(requirement, run)
        if place is None:
            raise DisagreementError(
                f"{requirement.id}: the reference does not see this at the run's end"
            )

        def same(other: Run) -> bool:
            return self._shown(requirement, other) == place

        run = simplify(self.reference, run, same, self._limits)
        shown = self._shown(requirement, run)
        assert shown is not None
        return Trace(run, shown[0], shown[1], at=shown[2])

    def _shown(self, requirement: Requirement, run: Run) -> tuple[int | None, str, Seconds] | None:
        """Where a run fails (or reaches what is `possible`) and how, if that is at its very end."""
        judgement = Judgement(self.reference, requirement, run)
        last = len(run.moments) - 1
        if isinstance(requirement.form, Possible):
            reached = judgement.reached()
            if reached is None or judgement.seen[reached].moment not in (None, last):
                return None
            return judgement.seen[reached].moment, "it is reached here", judgement.seen[reached].time
        failure = judgement.failure()
        if failure is None or failure.moment not in (None, last):
            return None
        return failure.moment, failure.why, failure.time


def _undecided(stops: Mapping[str, Declined | LimitError], broken_by: str) -> str:
    """Why nothing has decided a requirement, and what would help."""
    for stop in stops.values():
        if isinstance(stop, LimitError) and stop.final:
            return undecided_reason(stop)
    called = {Cycling.name: "only exploring finds runs without an end"}
    said = [f"{called.get(name, name)}: {_stopped(stop)}" for name, stop in stops.items()]
    if broken_by:
        said.insert(0, f"{broken_by} finds that some run of a part breaks it, but no run of the whole")
    limited = any(isinstance(stop, LimitError) for stop in stops.values())
    return "; ".join([*dict.fromkeys(said), *([_advice(stops.values())] if limited else [])])


def undecided_reason(stop: Declined | LimitError) -> str:
    """Why something is undecided, and what would help."""
    if isinstance(stop, LimitError):
        return f"{_stopped(stop)}; {_advice([stop])}"
    return f"not applicable: {_stopped(stop)}; requirements are proved all the same"


def _stopped(stop: Declined | LimitError) -> str:
    if isinstance(stop, LimitError):
        return str(stop)
    return f"exploring whole ticks is not exact here, because {stop}"


def _advice(stops: Iterable[Declined | LimitError]) -> str:
    stops = list(stops)
    if any(str(stop) == STOPPED for stop in stops):
        return "it would have to run on"
    limits = " ".join(str(stop) for stop in stops if isinstance(stop, LimitError) and stop.final)
    kinds = [kind for kind in ("time", "memory") if kind in limits]
    more = "".join(f"more {kind} (`--{kind}-limit`), " for kind in kinds)
    return f"{more}one requirement alone (`--only`) or a smaller spec would help"
