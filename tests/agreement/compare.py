"""What `check` says of one system, held against the oracle: every difference, as a sentence."""

from __future__ import annotations

import itertools
import random
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

from oracle import Graph, TooBig, least_reactions, watched_failure
from phrases import Spec
from shrink import shrunk
from systems import Maker, figures_of, load, text_of

import prioritylogic
from prioritylogic.engines.check import check
from prioritylogic.engines.counting import explore
from prioritylogic.engines.limits import Limits
from prioritylogic.engines.part import Options
from prioritylogic.evidence.results import CheckResult
from prioritylogic.model.system import Possible, System
from prioritylogic.requirements.observer import observer
from prioritylogic.semantics.compile import Declined
from prioritylogic.semantics.judgement import judge
from prioritylogic.semantics.losing import contests, lost

MOST = 260  # states of a system on quarter ticks
WORK = 20_000  # states that an engine may explore; more than any of these systems has


@dataclass
class Case:
    """One random system with everything the oracle knows about it."""

    seed: int
    spec: Spec
    system: System
    graph: Graph
    lengths: dict[str, int | None] = field(default_factory=dict)

    def verdict(self, requirement_id: str) -> str:
        """What `check` must say of a requirement."""
        form = next(r.form for r in self.system.requirements if r.id == requirement_id)
        broken = self.lengths[requirement_id] is not None
        return "holds" if broken == isinstance(form, Possible) else "fails"


def case_of(spec: Spec, seed: int = 0, most: int = MOST) -> Case | None:
    """The spec with the oracle's answers; None if it is refused or too big."""
    system = load(spec)
    if system is None or any(observer(requirement) is None for requirement in system.requirements):
        return None
    try:
        graph = Graph(system, figures_of(spec), most)
    except TooBig:
        return None
    lengths = {r.id: least_reactions(graph, r) for r in system.requirements}
    return Case(seed, spec, system, graph, lengths)


def cases(first: int, count: int) -> Iterator[Case]:
    """The first so many usable systems of a stretch of seeds."""
    seeds = itertools.count(first * 1_000_000)
    found = (case for case in (case_of(Maker(s).spec(), s) for s in seeds) if case is not None)
    return itertools.islice(found, count)


def kind_counts(case: Case) -> Counter[str]:
    """What kind of system it is."""
    seen = Counter({"systems": 1})
    takes = any(rule.takes for machine in case.system.machines for rule in machine.rules)
    seen["chance"] += takes or any(moment.ties for moment, _ in case.graph.moments)
    for requirement in case.system.requirements:
        verdict = case.verdict(requirement.id)
        seen[verdict] += 1
        if verdict == "fails" and not isinstance(requirement.form, Possible):
            seen["broken"] += 1
            seen["needs time"] += least_reactions(case.graph, requirement, timeless=True) is None
    return seen


# --------------------------------------------------------------------------- differences


def checked_differences(case: Case, options: Options | None = None) -> list[str]:
    """What `check` says otherwise than the oracle; a crash or a disagreement of its own, too."""
    try:
        result = check(case.system, (), Limits(states=WORK), options)
    except Exception as error:  # whatever it is, it is the finding, and the shrinker needs it as one
        return [f"check raises {type(error).__name__}: {error}"]
    return [*verdict_differences(case, result), *question_differences(case, result)]


def report(case: Case, differences: Callable[[Case], list[str]]) -> str:
    """The differences, and the smallest spec that still has some of their kind."""
    kinds = {kind_of(difference) for difference in differences(case)}

    def fails(spec: Spec) -> bool:
        smaller = case_of(spec, case.seed)
        return smaller is not None and any(kind_of(d) in kinds for d in differences(smaller))

    spec = shrunk(case.spec, fails)
    last = case_of(spec, case.seed)
    assert last is not None
    return "\n".join([f"seed {case.seed}:", *differences(last), text_of(spec)])


def kind_of(difference: str) -> str:
    """What stays the same of a difference while its spec shrinks."""
    return difference.split()[1] if difference.startswith("R") else difference.split(":")[0]


def verdict_differences(case: Case, result: CheckResult) -> list[str]:
    """Differences in verdicts and in the lengths of shortest runs."""
    found = []
    for answer in result.requirements:
        true = case.verdict(answer.id)
        if "work limit" in answer.reason:
            found.append(f"{answer.id} takes more than {WORK} states")
        elif answer.verdict not in ("undecided", true):
            found.append(f"{answer.id} {answer.verdict}, the oracle says it {true}")
        elif answer.trace is not None and answer.trace.steps != case.lengths[answer.id]:
            length = case.lengths[answer.id]
            found.append(f"{answer.id} has a run of {answer.trace.steps} reactions, {length} is least")
    return found


def question_differences(case: Case, result: CheckResult) -> list[str]:
    """Differences in the standing questions."""
    found = []
    told: dict[str, set[str]] = {}
    for issue in result.findings:
        told.setdefault(issue.kind, set()).add(issue.id.removeprefix(f"{issue.kind}:"))
    undecided = {q.kind for q in result.questions if q.verdict == "undecided"}
    told["endless-loop"] = {"found"} if "endless-loop" in told else set()
    for kind, ask in QUESTIONS.items():
        true, said = ask(case.graph), told.get(kind, set())
        if kind not in undecided and true != said:
            found.append(f"{kind}: {sorted(said)} is told, the oracle finds {sorted(true)}")
    return found


def count_differences(case: Case) -> list[str]:
    """Differences in the reachable valuations of machines and memory."""
    system = case.system
    over = [thing.name for group in (system.machines, system.memory) for thing in group]
    try:
        explored = explore(system, over, False, Limits(states=WORK))
    except (prioritylogic.RequestError, Declined):
        return []  # strict bounds
    except prioritylogic.LimitError:
        return [f"counting takes more than {WORK} states"]
    first = len(system.inputs)
    true = {tuple(map(word, state.values[first:])) for state in case.graph.states}
    true.add(tuple(word(thing.start) for group in (system.machines, system.memory) for thing in group))
    said = {valuation for valuation, _ in explored.rows}
    if said == true and explored.counts.states == len(true):
        return []
    return [f"{explored.counts.states} valuations counted, the oracle meets {len(true)}"]


def word(value: object) -> str:
    """A value as `explore` writes it."""
    return {True: "yes", False: "no"}[value] if isinstance(value, bool) else str(value)


def judged_differences(case: Case, runs: int) -> list[str]:
    """Random runs on which an observer and the direct judgement differ."""
    found = []
    dice = random.Random(case.seed)
    for number in range(runs):
        run = case.graph.random_run(dice, dice.randint(1, 12))
        for requirement in case.system.requirements if run is not None else ():
            assert run is not None
            if isinstance(requirement.form, Possible):
                continue
            failure = judge(case.graph.reference, requirement, run)
            direct = None if failure is None else (failure.time, failure.moment)
            watched = watched_failure(case.graph, requirement, run)
            if direct != watched:
                found.append(f"{requirement.id} random run {number}: judged {direct}, watched {watched}")
    return found


# --------------------------------------------------------------------------- standing questions


def ties(graph: Graph, memory: bool) -> set[str]:
    """The pairs of rules that tie somewhere, as the findings name them."""
    found = set()
    for moment, _ in graph.moments:
        for tie in moment.ties:
            families = "+".join(sorted(graph.system.rule(rule).family for rule in tie.rules))
            if bool(tie.memory) == memory:
                found.add(f"{tie.memory}:{families}" if memory else families)
    return found


def out_of_range(graph: Graph) -> set[str]:
    """The memory names that are somewhere written outside their range."""
    return {moment.out_of_range for moment, _ in graph.moments if moment.out_of_range}


def endless_loop(graph: Graph) -> set[str]:
    """Whether stutter reactions can go round in a circle among unsettled states."""
    unsettled = {at for at, state in enumerate(graph.states) if not graph.reference.settled(state)}
    ways = {at: [to for to in stutters(graph, at) if to in unsettled] for at in unsettled}
    removed = True
    while removed:  # what has no way on is on no circle
        ended = {at for at, tos in ways.items() if not tos}
        removed = bool(ended)
        ways = {at: [to for to in tos if to not in ended] for at, tos in ways.items() if at not in ended}
    return {"found"} if ways else set()


def stutters(graph: Graph, at: int) -> list[int]:
    """Where the stutter reactions of a state lead."""
    inputs = len(graph.system.inputs)
    state = graph.states[at]
    found = []
    for number in graph.ways[at]:
        moment, after = graph.moments[number]
        same = moment.after.values[:inputs] == state.values[:inputs] and not moment.expired
        offered = any(graph.system.rule(rule).optional for rule in moment.taken)
        if same and not offered and after is not None:
            found.append(after)
    return found


def stuck_time(graph: Graph, possible: bool) -> set[str]:
    """Whether from some state no reactions lead to where time can pass; `possible`: though some
    reaction is possible there."""
    if not graph.starts:
        return set() if possible else {"start"}
    free = {at for at, later in enumerate(graph.later) if later is not None}
    grown = True
    while grown:
        before = len(free)
        for at, ways in enumerate(graph.ways):
            if at not in free and any(graph.moments[way][1] in free for way in ways):
                free.add(at)
        grown = len(free) > before
    stuck = [ways for at, ways in enumerate(graph.ways) if at not in free]
    return {"time"} if any(bool(ways) == possible for ways in stuck) else set()


def not_at_rest(graph: Graph) -> set[str]:
    """Assumptions that are false at rest somewhere."""
    found = set()
    for assumption in graph.system.assumptions:
        if assumption.holds is not None:
            rests = (graph.reference.rest_view(moment.after) for moment, _ in graph.moments)
            if not all(graph.reference.true(assumption.holds, rest) for rest in rests):
                found.add(assumption.id)
    return found


def case_tables(graph: Graph, gap: bool) -> set[str]:
    """Tables of cases with a gap, or with two true cases that differ."""
    true, value = graph.reference.true, graph.reference.value
    found = set()
    for table in graph.system.cases:
        for view in (graph.reference.reaction_view(moment) for moment, _ in graph.moments):
            chosen = [n for n, when in enumerate(table.whens) if true(when, view)]
            if gap and not chosen and len(table.values) == len(table.whens):
                found.add(table.name)
            if not gap and len({value(table.values[n], view) for n in chosen}) > 1:
                found.add(table.name)
    return found


def lost_events(graph: Graph) -> set[str]:
    """The presses, releases and changes that are lost somewhere."""
    asked = contests(graph.system)
    return {c.subject for moment, _ in graph.moments for c in lost(graph.reference, moment, asked)}


def never_taken(graph: Graph) -> set[str]:
    """The rules (families, if all members) that no reaction takes."""
    rules = [rule for machine in graph.system.machines for rule in machine.rules]
    taken = {rule for moment, _ in graph.moments for rule in moment.taken}
    used = {rule.family for rule in rules if rule.id in taken}
    return {r.id if r.family in used else r.family for r in rules if r.id not in taken}


def never_reached(graph: Graph) -> set[str]:
    """The states (for all members as one) that no reaction leads to and no machine starts in."""
    machines = graph.system.machines
    named = [graph.reference.named(moment.after) for moment, _ in graph.moments]
    reached = {(m.name, m.start) for m in machines} | {
        (m.name, n[m.name]) for m in machines for n in named
    }
    every = [(m.name, state) for m in machines for state in m.states]
    base = {pair: ".".join(name.partition("[")[0] for name in pair) for pair in every}
    used = {base[pair] for pair in every if pair in reached}
    return {
        ".".join(pair) if base[pair] in used else base[pair] for pair in every if pair not in reached
    }


QUESTIONS: dict[str, Callable[[Graph], set[str]]] = {
    "rule-conflict": lambda graph: ties(graph, False),
    "write-clash": lambda graph: ties(graph, True),
    "value-out-of-range": out_of_range,
    "endless-loop": endless_loop,
    "stuck-time": lambda graph: stuck_time(graph, True),
    "nothing-possible": lambda graph: stuck_time(graph, False),
    "assumption-not-at-rest": not_at_rest,
    "cases-gap": lambda graph: case_tables(graph, True),
    "cases-overlap": lambda graph: case_tables(graph, False),
    "lost-event": lost_events,
    "rule-never-taken": never_taken,
    "state-never-reached": never_reached,
}
