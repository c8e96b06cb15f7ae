"""The questions that every spec is asked, answered on an exploration of the whole system.

Each question is one function from an explored system to what it finds, with the shortest path to
it. A finding's subject is in the spec's own ids, without members: two rules that tie at one
wheelhouse tie at the other, and are told once.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from functools import partial
from typing import TypeAlias

from prioritylogic.engines.explore import Explorer, Node, PathStep
from prioritylogic.engines.oracle import Oracle
from prioritylogic.engines.reacting import Course
from prioritylogic.errors import Level, Span
from prioritylogic.model.formula import Formula
from prioritylogic.model.system import Assumption, Cases, System
from prioritylogic.semantics.compile import Evaluate, plain
from prioritylogic.semantics.linear import Line
from prioritylogic.semantics.state import Run, Tie

Path: TypeAlias = tuple[PathStep, ...]


@dataclass(frozen=True, slots=True)
class Finding:
    """Something found: its kind and subject, what it means, where, and a path that shows it.

    `loop`: how many of the path's last reactions repeat for ever. `run`: the path, where it is one
    already.
    """

    kind: str
    subject: str
    level: Level
    message: str
    span: Span
    path: Path | None = None
    loop: int = 0
    run: Run | None = None


QuestionOf: TypeAlias = Callable[[Explorer], Iterator[Finding]]


def case_facts(system: System) -> tuple[Formula, ...]:
    """The formulas of the tables of cases about which a question is open."""
    open_ = [cases for cases in system.cases if is_open(cases)]
    return tuple(part for cases in open_ for part in (*cases.whens, *cases.values))


def is_open(cases: Cases) -> bool:
    """Whether a table of cases may have a gap or an overlap at all."""
    return len(cases.whens) > 1 or len(cases.values) == len(cases.whens)


def courses(explorer: Explorer) -> Iterator[tuple[Node | None, Course]]:
    """Every course that the exploration met, with the first node it leaves."""
    for node, row in explorer.rows():
        for course in row:
            yield node, course


def path_to(explorer: Explorer, node: Node | None, course: Course, asked: Oracle | None = None) -> Path:
    """The path to a node and along a course."""
    known = course if asked is None else asked
    step = PathStep(course, tuple(known.values), tuple(known.previous), known.cell)
    return (*(explorer.path(node) if node is not None else ()), step)


STUCK = {
    "nothing-possible": (
        "here no reaction is possible and no time can pass: the assumptions exclude every way on"
    ),
    "stuck-time": "from here time can never pass again, whatever the environment does at this instant",
}


# --------------------------------------------------------------------------- the questions


def rule_conflicts(explorer: Explorer) -> Iterator[Finding]:
    """Two at-once rules of one machine are enabled together and would do different things."""
    yield from _ties(explorer, "rule-conflict")


def write_clashes(explorer: Explorer) -> Iterator[Finding]:
    """Two machines write different values to one memory name in one reaction."""
    yield from _ties(explorer, "write-clash")


def _ties(explorer: Explorer, kind: str) -> Iterator[Finding]:
    system = explorer.table.system
    told: set[str] = set()
    for node, course in courses(explorer):
        for tie in sorted(course.ties, key=lambda tie: (tie.rules, tie.memory)):
            if bool(tie.memory) != (kind == "write-clash"):
                continue
            finding = told_tie(system, tie)
            if finding.subject not in told:
                told.add(finding.subject)
                yield replace(finding, path=path_to(explorer, node, course))


def told_tie(system: System, tie: Tie) -> Finding:
    """What is said of a tie."""
    one, other = (system.rule(rule) for rule in tie.rules)
    subject = "+".join(sorted((one.family, other.family)))
    if tie.memory:
        message = f"{one.id} and {other.id} write different values to {tie.memory} in one reaction"
        return Finding("write-clash", f"{tie.memory}:{subject}", "error", message, one.span)
    message = (
        f"{one.id} and {other.id} of {one.machine} are enabled together and do different "
        "things; nothing says which wins (`beats` would, or `tie: either`)"
    )
    return Finding("rule-conflict", subject, "error", message, one.span)


def values_out_of_range(explorer: Explorer) -> Iterator[Finding]:
    """A rule writes a value that its memory cannot have; the run ends there."""
    told: set[str] = set()
    for node, course in courses(explorer):
        name = course.out_of_range
        if name and name not in told:
            told.add(name)
            finding = told_range(explorer.table.system, name, course.taken)
            yield replace(finding, path=path_to(explorer, node, course))


def told_range(system: System, name: str, taken: Iterable[str]) -> Finding:
    """What is said of memory that is written a value that it cannot have."""
    span = next(memory.span for memory in system.memory if memory.name == name)
    message = f"a value outside the range of {name} is written by {' and '.join(sorted(taken))}"
    return Finding("value-out-of-range", name, "error", message, span)


def endless_loops(explorer: Explorer) -> Iterator[Finding]:
    """With unchanged inputs, rule follows rule within one instant and never comes to rest."""
    done: set[object] = set()
    for node, course in courses(explorer):
        if not course.after.settled and not course.out_of_range:
            loop = _loop(explorer, course, done)
            if loop is not None:
                chain, back = loop
                rules = sorted({rule for step in chain[back:] for rule in step.taken})
                families = sorted({explorer.table.system.rule(rule).family for rule in rules})
                what = f"{' and '.join(rules)} can follow each other"
                if len(rules) < 2:
                    what = f"{rules[0]} can be taken" if rules else "an alert can change"
                message = f"{what} for ever within one instant, while no input changes"
                span = explorer.table.system.rule(rules[0]).span if rules else Span()
                path = path_to(explorer, node, course)
                path += tuple(PathStep(c, c.values, c.previous, c.cell) for c in chain)
                yield Finding(
                    "endless-loop", "+".join(families), "error", message, span, path, len(chain) - back
                )
                return


def _loop(explorer: Explorer, course: Course, done: set[object]) -> tuple[list[Course], int] | None:
    """A chain of stutters from a course that comes back to itself, and where its loop begins."""

    def key(course: Course) -> object:
        return course.after, course.values, course.cell

    chain: list[Course] = []
    trail = [key(course)]
    branches = [iter(explorer.table.stutters(course))]
    while branches:
        following = next(branches[-1], None)
        if following is None:
            branches.pop()
            done.add(trail.pop())
            if chain:
                chain.pop()
            continue
        here = key(following)
        if here in trail:
            return [*chain, following], trail.index(here)
        if here in done or following.after.settled or following.out_of_range:
            continue
        chain.append(following)
        trail.append(here)
        branches.append(iter(explorer.table.stutters(following)))
    return None


def stuck_time(explorer: Explorer) -> Iterator[Finding]:
    """A reachable state from which no reactions lead to one where time can pass."""
    if not explorer.parents:
        ended = bool(explorer.table.starts())  # every first reaction wrote a value out of range
        why = "each run ends at once" if ended else "the assumptions exclude them all"
        message = f"no state is possible at time 0: {why}"
        yield Finding("nothing-possible", "start", "error", message, Span())
        return
    stuck = {node for node in explorer.parents if explorer.later(node) is None}
    ways: dict[Node, list[Node]] = {}
    for node in stuck:
        explorer.limits.check_time()
        ways[node] = [explorer.follow(node, edge) for edge in explorer.edges_of(node)]
    freed = True
    while freed:
        free = {node for node in stuck if any(after not in stuck for after in ways[node])}
        freed = bool(free)
        stuck -= free
    told: set[str] = set()
    for node in explorer.parents:
        if node in stuck:
            row = explorer.table.row(node.still, explorer.work(node.still).ready(node.clocks))
            kind = "stuck-time" if row else "nothing-possible"
            if kind not in told:
                told.add(kind)
                yield Finding(kind, "time", "error", STUCK[kind], Span(), explorer.path(node))


def assumptions_at_rest(explorer: Explorer) -> Iterator[Finding]:
    """An assumption is true of a reaction and false as soon as it is over."""
    system, told = explorer.table.system, set()
    asked = [
        (a, explorer.table.parts.compiler.function(a.holds))
        for a in system.assumptions
        if a.holds is not None and not plain(a.holds)
    ]
    if not asked:
        return
    for node, course in courses(explorer):
        for assumption, holds in asked:
            if assumption.id not in told:
                for true, oracle in explorer.table.read(course, partial(at_rest, holds, course)):
                    if not true and assumption.id not in told:
                        told.add(assumption.id)
                        path = path_to(explorer, node, course, oracle)
                        yield replace(told_assumption(assumption), path=path)


def told_assumption(assumption: Assumption) -> Finding:
    """What is said of an assumption that is not true at rest."""
    message = f"assumption {assumption.id} is not true at rest, between reactions"
    return Finding("assumption-not-at-rest", assumption.id, "error", message, assumption.span)


def at_rest(formula: Evaluate, course: Course) -> bool:
    """A condition at rest after a course."""
    return bool(formula(course.rest))


def case_tables(explorer: Explorer) -> Iterator[Finding]:
    """A table of cases has no true case, or two that differ."""
    function = explorer.table.parts.compiler.function
    told: set[tuple[str, str]] = set()
    for cases in filter(is_open, explorer.table.system.cases):
        whens = [function(when) for when in cases.whens]
        values = [function(value) for value in cases.values]
        for node, course in courses(explorer):
            for true, oracle in explorer.table.read(course, partial(true_cases, whens, values, course)):
                kind = "cases-gap" if not true else "cases-overlap" if len(true) > 1 else ""
                if not kind or (kind, cases.name) in told:
                    continue
                told.add((kind, cases.name))
                path = path_to(explorer, node, course, oracle)
                yield replace(told_cases(cases, true), path=path)


def told_cases(cases: Cases, true: tuple[int, ...]) -> Finding:
    """What is said of a table none of whose cases is true, or two (by number) that differ."""
    if not true:
        message = f"no case of {cases.name} is true here"
        return Finding("cases-gap", cases.name, "error", message, cases.span)
    one, other = true
    message = (
        f"cases {one + 1} and {other + 1} of {cases.name} are both true here, with different values; "
        "the first wins"
    )
    return Finding("cases-overlap", cases.name, "warning", message, cases.spans[other])


def true_cases(whens: list[Evaluate], values: list[Evaluate], course: Course) -> tuple[int, ...]:
    """The first true case and the first one after it with another value; () if none is true."""
    frame = course.reaction
    true = [number for number, when in enumerate(whens) if when(frame)]
    if not true:
        return () if len(values) == len(whens) else (len(whens),)

    def differs(number: int) -> bool:
        one, other = values[true[0]](frame), values[number](frame)
        if isinstance(one, Line) or isinstance(other, Line):
            return not frame.o.equal(one, other)
        return bool(one != other)

    return (true[0], *[number for number in true[1:] if differs(number)][:1])


QUESTIONS: tuple[tuple[tuple[str, ...], QuestionOf], ...] = (
    (("rule-conflict",), rule_conflicts),
    (("write-clash",), write_clashes),
    (("value-out-of-range",), values_out_of_range),
    (("endless-loop",), endless_loops),
    (("stuck-time", "nothing-possible"), stuck_time),
    (("assumption-not-at-rest",), assumptions_at_rest),
    (("cases-gap", "cases-overlap"), case_tables),
)
