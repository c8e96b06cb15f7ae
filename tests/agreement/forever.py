"""Runs without an end: random small specs about them, and the oracle that decides by brute force.

The oracle shares nothing with the engine: it walks the reference's graph on quarter ticks (oracle.py) with
every input, expiry and outcome, carries along what is owed by the sentence that says it, and looks for a
strongly connected set of steps with scipy. What must come again and again is a set of words on each step:
`time`; `kept n` for what the n-th assumption wants; `rests r` where the uncertain delay of r does not run
or starts over; `can r` and `does r` for a fair rule r.
"""

from __future__ import annotations

import itertools
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any, NamedTuple, TypeAlias

import numpy
from oracle import Graph, TooBig, Watch, Watching
from phrases import Spec
from scipy.sparse import csr_array
from scipy.sparse.csgraph import connected_components
from systems import Maker, figures_of, load

from prioritylogic.model import formula as f
from prioritylogic.model.system import (
    Assumption,
    Possible,
    Recoverable,
    Requirement,
    Respond,
    Rule,
    System,
)
from prioritylogic.semantics.reading import observed_timers
from prioritylogic.semantics.state import Moment

# --------------------------------------------------------------------------- specs


class Forever(Maker):
    """Makes a spec whose rules are often uncertain, and asks about runs without an end."""

    def rule(self, machine: str, number: int) -> Spec:
        made = super().rule(machine, number)
        dice = self.random.random()
        if dice < 0.30:
            for key in ("after", "takes", "since"):
                made.pop(key, None)
            made["may"] = "yes"
            if self.chance(0.75):
                made["fair"] = "yes"
            if self.chance(0.2):
                made["after"] = self.time(2)
        elif dice < 0.45:
            for key in ("after", "since"):
                made.pop(key, None)
            if self.chance(0.5):
                made.pop("if", None)
            elif "if" in made:
                made["if"] = self.condition(machine)
            made["takes"] = self.pick(["some day", "some day", f"at least {self.time(2)}"])
        if "takes" in made and self.chance(0.12):
            made["fair"] = "yes"
        return made

    def assumed(self) -> list[Spec]:
        made: list[Spec] = []
        again = self.pick([self.event("assume"), self.simple("assume"), self.either("assume", 0.5)])
        made.append({"id": "AGAIN", "again_and_again": again})
        answer: Spec = {"id": "ANSWER", "after": self.either("assume", 0.5), "expect": self.answer()}
        if self.chance(0.5):
            answer["within"] = self.pick(["", "", "", "under "]) + self.time(2)
        return [*made, answer]

    def ask(self, number: int) -> Spec:
        made: Spec = {"id": f"R{number}"}
        self.timed_left = int(self.chance(0.2))
        if self.chance(0.06):
            started = f"({self.condition('ask', 0)}) for {self.time(2)}"
            return made | {"after": started, "expect": self.answer()}
        dice = self.random.random()
        machine = self.pick(list(self.machines))
        state = self.pick(self.machines[machine])
        uncertain = [r for rules in self.rules.values() for r in rules if "may" in r or "takes" in r]
        if uncertain and self.chance(0.4):
            rule = self.pick(uncertain)
            machine = rule["id"][0]
            if rule["from"] in self.machines[machine]:
                made["after"] = f"{machine} is {rule['from']}"
                made["expect"] = self.pick([f"{machine} is not {rule['from']}", f"taken({rule['id']})"])
                if self.chance(0.3):
                    made["assuming"] = [self.pick(["AGAIN", "ANSWER"])]
                return made
        if dice < 0.30:
            gone = [f"{machine} is not {state}", f"changed({machine})", self.answer()]
            made |= {"after": f"{machine} is {state}", "expect": self.pick(gone)}
        elif dice < 0.55:
            made |= {"after": self.either("ask", 0.5), "expect": self.answer()}
        elif dice < 0.62:
            made["recoverable"] = f"{machine} is {state}"
            made["assuming"] = [self.pick(["AGAIN", "ANSWER"])]
            return made
        else:
            made = super().ask(number)
            self.timed_left = 0
        if "after" in made and "within" not in made and self.chance(0.2):
            made["unless"] = self.either("ask", 0.5)
        if self.chance(0.15):
            made["during"] = self.simple("ask")
        known = self.pick([["AGAIN"], ["ANSWER"], ["AGAIN", "ANSWER"]])
        if not ("expect" in made and "within" not in made and "every" not in made and self.chance(0.5)):
            made["assuming"] = known
        return made

    def spec(self) -> Spec:
        made = super().spec()
        made["assume"] = [*made.get("assume", []), *self.assumed()]
        return made


# --------------------------------------------------------------------------- the product


class Step(NamedTuple):
    """From node to node, with what it meets."""

    tail: int
    head: int
    words: frozenset[str]
    number: int | None  # of the moment; None: time


At: TypeAlias = tuple[Any, ...]


class Owed:
    """Whether an answer is owed: (was the trigger true at rest, is it owed)."""

    def __init__(
        self, graph: Graph, form: Respond, unless: f.Formula | None, during: f.Formula | None
    ) -> None:
        self.graph, self.form = graph, form
        self.unless, self.during = unless or f.FALSE, during or f.TRUE

    start = (False, False)

    def is_owed(self, at: tuple[bool, bool]) -> bool:
        return at[1]

    def passed(self, at: tuple[bool, bool], number: int) -> tuple[bool, bool]:
        """After a step of time from this state."""
        return at

    def react(self, at: tuple[bool, bool], number: int) -> tuple[tuple[bool, bool], bool]:
        """After a reaction, and whether what was owed before still is."""
        true = self.graph.reference.true
        reaction, rest = self.graph.readings_of(number)
        answered = true(self.form.expect, reaction)
        cancelled = true(self.unless, reaction) or not true(self.during, reaction)
        same = at[1] and not answered and not cancelled
        starts = true(self.form.after, reaction) and not at[0]
        starts = starts and not answered and not true(self.unless, rest)
        return (true(self.form.after, rest), same or starts), same


class OwedTimely:
    """The same where timed conditions of the requirement's own are read: the observer of an answer within
    a very long time, whose clock only says whether it started over."""

    def __init__(self, graph: Graph, requirement: Requirement) -> None:
        form = requirement.form
        assert isinstance(form, Respond)
        self.graph = graph
        self.watch = Watch(graph, replace(requirement, form=replace(form, limit=Fraction(10**6))))
        self.start = self.watch.start

    def is_owed(self, at: Watching) -> bool:
        return at.mode.pending

    def passed(self, at: Watching, number: int) -> Watching:
        return self.watch.pass_time(at, self.graph.states[number])[0]._replace(clock=0)

    def react(self, at: Watching, number: int) -> tuple[Watching, bool]:
        after, _ = self.watch.react(at._replace(clock=1), self.graph.moments[number][0])
        same = at.mode.pending and after.mode.pending and after.clock == 1
        return after._replace(clock=0), same


@dataclass
class Question:
    """One requirement asked of a graph."""

    graph: Graph
    requirement: Requirement

    def __post_init__(self) -> None:
        graph, system, form = self.graph, self.graph.system, self.requirement.form
        named = [a for a in system.assumptions if a.id in self.requirement.assuming]
        self.named = [a for a in named if a.holds is None]
        self.rules = [rule for machine in system.machines for rule in machine.rules]
        self.endless = isinstance(form, Respond) and form.limit is None
        self.owed: Owed | OwedTimely | None = None
        self.watch: Watch | None = None
        if isinstance(form, Respond) and form.limit is None:
            self.owed = Owed(graph, form, self.requirement.unless, self.requirement.during)
            if observed_timers(system, self.requirement.formulas):
                self.owed = OwedTimely(graph, self.requirement)
        elif not isinstance(form, Recoverable):
            self.watch = Watch(graph, self.requirement)
        self.kept: list[Owed | Watch | None] = [self._keeper(a) for a in self.named]
        self.numbers: dict[At, int] = {}
        self.nodes: list[At] = []
        self.steps: list[Step] = []
        self._can: dict[int, frozenset[str]] = {}
        self._walk()

    def _keeper(self, assumption: Assumption) -> Owed | Watch | None:
        if assumption.again_and_again is not None:
            return None
        assert assumption.after is not None and assumption.expect is not None
        form = Respond(assumption.after, assumption.expect, assumption.within, assumption.under)
        if form.limit is None:
            return Owed(self.graph, form, None, None)
        return Watch(self.graph, Requirement(assumption.id, (), "", "", form))

    # ----------------------------------------------------------------- walking

    def _number(self, at: At) -> int:
        if at not in self.numbers:
            if len(self.nodes) > 4_000:
                raise TooBig
            self.numbers[at] = len(self.nodes)
            self.nodes.append(at)
        return self.numbers[at]

    def _walk(self) -> None:
        start = (
            self.owed.start if self.owed else self.watch.start if self.watch else None,
            *(None if keeper is None else keeper.start for keeper in self.kept),
        )
        for number in self.graph.starts:
            if (found := self._react(start, False, number, ())) is not None:
                self._number(found[0])
        done = 0
        while done < len(self.nodes):
            state, broken, modes = self.nodes[done]
            for number in self.graph.ways[state]:
                found = self._react(modes, broken, number, self._group(state, number))
                if found is not None:
                    self.steps.append(Step(done, self._number(found[0]), found[1], number))
            if (passed := self._pass(state, modes, broken)) is not None:
                self.steps.append(Step(done, self._number(passed[0]), passed[1], None))
            done += 1

    def _react(
        self, modes: At, broken: bool, number: int, group: tuple[int, ...]
    ) -> tuple[At, frozenset[str]] | None:
        moment, after = self.graph.moments[number]
        if after is None:
            return None
        words, (asked, *keepers) = set(), modes
        was = broken
        if self.owed is not None:
            asked, same = self.owed.react(asked, number)
            words |= {"open"} if same else set()
        elif self.watch is not None and not broken:
            asked, broken = self.watch.react(asked, moment, number)
            asked = None if broken else asked
        words |= {"open"} if was else set()
        kept: list[Any] = []
        reaction, rest = self.graph.readings_of(number)
        true = self.graph.reference.true
        for index, (keeper, mode) in enumerate(zip(self.kept, keepers, strict=True)):
            if keeper is None:
                again = self.named[index].again_and_again
                assert again is not None
                words |= {f"kept {index}"} if true(again, reaction) or true(again, rest) else set()
                kept.append(None)
            elif isinstance(keeper, Owed):
                mode, same = keeper.react(mode, number)
                words |= set() if same else {f"kept {index}"}
                kept.append(mode)
            else:
                mode, late = keeper.react(mode, moment, number)
                if late:
                    return None
                kept.append(mode)
        for rule in self.rules:
            if rule.fair:
                words |= {f"does {rule.id}"} if rule.id in moment.taken else set()
                words |= {f"can {rule.id}"} if self._could(rule, moment, group) else set()
            if rule.takes is not None and self._delay_rests(rule, moment):
                words.add(f"rests {rule.id}")
        return (after, broken, (asked, *kept)), frozenset(words)

    def _pass(self, state: int, modes: At, broken: bool) -> tuple[At, frozenset[str]] | None:
        later = self.graph.later[state]
        if later is None:
            return None
        words, (asked, *keepers) = {"time"}, modes
        before = self.graph.states[state]
        if self.owed is not None:
            words |= {"open"} if self.owed.is_owed(asked) else set()
            asked = self.owed.passed(asked, state)
        words |= {"open"} if broken else set()
        if self.watch is not None and not broken:
            asked, late = self.watch.pass_time(asked, before)
            broken = late is not None
            asked = None if broken else asked
        kept: list[Any] = []
        reference = self.graph.reference
        rest = reference.rest_view(before)
        for index, (keeper, mode) in enumerate(zip(self.kept, keepers, strict=True)):
            if keeper is None:
                again = self.named[index].again_and_again
                assert again is not None
                words |= {f"kept {index}"} if reference.true(again, rest) else set()
                kept.append(None)
            elif isinstance(keeper, Owed):
                words |= set() if mode[1] else {f"kept {index}"}
                kept.append(mode)
            else:
                mode, broke = keeper.pass_time(mode, before)
                if broke is not None:
                    return None
                kept.append(mode)
        for rule in self.rules:
            if rule.takes is not None:
                clock = before.takes[reference.takes_rules.index(rule)]
                if clock is None or not reference.waiting(rule, rest):
                    words.add(f"rests {rule.id}")
            if rule.fair:
                strict = (rule.delay and rule.delay.strict) or (rule.takes and rule.takes.low_strict)
                at = later if strict else state
                inputs = before.values[: len(self.graph.system.inputs)]
                if self._takes_alone(
                    rule, self._grouped(at).get((inputs, frozenset()), ()), frozenset()
                ):
                    words.add(f"can {rule.id}")
        return (later, broken, (asked, *kept)), frozenset(words)

    # ----------------------------------------------------------------- fairness

    def _grouped(self, state: int) -> dict[Any, tuple[int, ...]]:
        """The reactions of a state by what the environment does in them."""
        if not hasattr(self, "_groups"):
            self._groups: dict[int, dict[Any, tuple[int, ...]]] = {}
        if state not in self._groups:
            found: dict[Any, list[int]] = defaultdict(list)
            for number in self.graph.ways[state]:
                found[self._key(self.graph.moments[number][0])].append(number)
            self._groups[state] = {key: tuple(numbers) for key, numbers in found.items()}
        return self._groups[state]

    def _key(self, moment: Moment) -> tuple[Any, ...]:
        return moment.after.values[: len(self.graph.system.inputs)], moment.expired

    def _group(self, state: int, number: int) -> tuple[int, ...]:
        return self._grouped(state)[self._key(self.graph.moments[number][0])]

    def _could(self, rule: Rule, moment: Moment, group: tuple[int, ...]) -> bool:
        return rule.id in moment.taken or self._takes_alone(rule, group, moment.taken)

    def _takes_alone(self, rule: Rule, group: tuple[int, ...], taken: frozenset[str]) -> bool:
        optional = {r.id for r in self.rules if r.optional}
        outcomes = (self.graph.moments[number] for number in group)
        return any(
            (moment.taken & optional) - taken == {rule.id}
            for moment, after in outcomes
            if after is not None
        )

    def _delay_rests(self, rule: Rule, moment: Moment) -> bool:
        assert rule.takes is not None
        reference = self.graph.reference
        clock = moment.after.takes[reference.takes_rules.index(rule)]
        if clock is None or not reference.waiting(rule, reference.rest_view(moment.after)):
            return True
        if rule.takes.since:
            return bool(moment.taken & {rule.id, *rule.takes.since})
        entered = any(
            r.machine == rule.machine and r.target and r.id in moment.taken for r in self.rules
        )
        return entered or rule.id in moment.taken

    # ----------------------------------------------------------------- deciding

    def fair(self, steps: list[Step]) -> list[list[Step]]:
        """The sets of steps in which a run that counts can stay."""
        if not steps:
            return []
        wanted = {"time"} | {f"kept {n}" for n, k in enumerate(self.kept) if not isinstance(k, Watch)}
        for rule in self.rules:
            if rule.takes is not None and rule.takes.high is None and not rule.may:
                wanted.add(f"rests {rule.id}")
        size = len(self.nodes)
        ends = ([s.tail for s in steps], [s.head for s in steps])
        _, labels = connected_components(
            csr_array((numpy.ones(len(steps)), ends), shape=(size, size)), connection="strong"
        )
        inner: dict[int, list[Step]] = defaultdict(list)
        for step in steps:
            if labels[step.tail] == labels[step.head]:
                inner[labels[step.tail]].append(step)
        found = []
        for together in inner.values():
            met = frozenset().union(*(step.words for step in together))
            if not wanted <= met:
                continue
            starved = {
                f"can {r.id}"
                for r in self.rules
                if r.fair and f"can {r.id}" in met and f"does {r.id}" not in met
            }
            if starved:
                found += self.fair([step for step in together if not step.words & starved])
            else:
                found.append(together)
        return found

    def verdict(self) -> str:
        """What `check` must say."""
        form = self.requirement.form
        if isinstance(form, Recoverable):
            return "holds" if self._recovers(form) else "fails"
        breaks = bool(self.fair([step for step in self.steps if "open" in step.words]))
        return "holds" if breaks == isinstance(form, Possible) else "fails"

    def _recovers(self, form: Recoverable) -> bool:
        alive = self._backwards({s.tail for inner in self.fair(self.steps) for s in inner}, self.steps)
        ways = [step for step in self.steps if step.head in alive]
        true = self.graph.reference.true
        there = {
            s.tail
            for s in ways
            if s.number is not None and true(form.condition, self.graph.readings_of(s.number)[0])
        }
        return alive <= self._backwards(there, ways)

    @staticmethod
    def _backwards(there: set[int], steps: list[Step]) -> set[int]:
        found, grown = set(there), True
        while grown:
            more = {s.tail for s in steps if s.head in found} - found
            found |= more
            grown = bool(more)
        return found


# --------------------------------------------------------------------------- cases


@dataclass
class Case:
    """One random system, with the verdicts of the oracle (None: too big for it)."""

    seed: int
    spec: Spec
    system: System
    verdicts: dict[str, str | None]


def case_of(spec: Spec, seed: int = 0, most: int = 110) -> Case | None:
    """The spec with the oracle's answers; None if it is refused or too big."""
    system = load(spec)
    if system is None:
        return None
    figures = [
        Requirement(a.id, (), "", "", Respond(f.TRUE, f.TRUE, a.within))
        for a in system.assumptions
        if a.within
    ]
    try:
        graph = Graph(
            replace(system, requirements=(*system.requirements, *figures)), figures_of(spec), most
        )
    except TooBig:
        return None
    verdicts: dict[str, str | None] = {}
    for requirement in system.requirements:
        try:
            verdicts[requirement.id] = Question(graph, requirement).verdict()
        except TooBig:
            verdicts[requirement.id] = None
    return Case(seed, spec, system, verdicts)


def cases(first: int, count: int) -> Iterator[Case]:
    """The first so many usable systems of a stretch of seeds."""
    seeds = itertools.count(first * 1_000_000)
    found = (case for case in (case_of(Forever(s).spec(), s) for s in seeds) if case is not None)
    return itertools.islice(found, count)
