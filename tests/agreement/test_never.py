"""Lost events, rules never taken and states never reached, on small random systems rich in them.

`semantics/losing.py` tells from a rule's text which events it reads. Here the text is not looked at: a
rule reads a press in a reaction if its guard is true, and false of that reaction had the button been
all the while as it is, or as it was. Every event lost in that sense must be told, and nothing that no
reaction shows; by the explorer and by the provers. More systems, by hand: `PYTHONPATH=tests/agreement
python -c "import test_never; test_never.hunt(1000, 500)"`.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace

import pytest
from compare import QUESTIONS as TRUE
from oracle import Graph, TooBig

import prioritylogic
from prioritylogic.engines.check import check
from prioritylogic.engines.limits import Limits
from prioritylogic.engines.standing import Standing
from prioritylogic.model import formula as f
from prioritylogic.model.system import Flag, Rule, System
from prioritylogic.semantics.state import Moment

KINDS = ("lost-event", "rule-never-taken", "state-never-reached")
MOST = 80  # states on quarter ticks
STATES = ("s0", "s1", "s2")
EVENTS = ["pressed(b)", "released(b)", "changed(b)", "pressed(c)", "b and not before(b)", "ends(c)"]
LEVELS = ["b", "not c", "before(b)", "not pressed(b)", "pressed(b) within last 1 s", "g", "c for 1 s"]


def text_of(seed: int) -> str:
    """A small spec: one or two machines, two buttons, a signal that an assumption may tie down."""
    dice = random.Random(seed)
    machines = {"m": "", "n": ""} if dice.random() < 0.4 else {"m": ""}
    lines = ["system: never", "inputs: {b: button, c: button, g: signal}", "machines:"]
    for name in machines:
        lines += [f"  {name}:", f"    states: [{', '.join(STATES)}]", "    start: s0"]
        lines += ["    order: first"] if dice.random() < 0.6 else []
        lines += ["    rules:"]
        lines += [f"      - {{id: {name}{n}, {rule_of(dice)}}}" for n in range(dice.randint(2, 5))]
    lines += ["interleaved: [m, n]"] if len(machines) == 2 and dice.random() < 0.4 else []
    lines += ["assume:", "  - {id: A, never: b and c}"] if dice.random() < 0.3 else []
    return "\n".join([*lines, "requirements: [{id: R, possible: m is s0}]"])


def rule_of(dice: random.Random) -> str:
    """The keys of one rule."""
    here, there = dice.choice(STATES[:2] if dice.random() < 0.8 else STATES), dice.choice(STATES)
    parts = [dice.choice(EVENTS)] if dice.random() < 0.6 else []
    parts += [dice.choice(LEVELS)] if dice.random() < 0.4 else []
    parts += [f"({dice.choice(EVENTS)} or {dice.choice(EVENTS)})"] if dice.random() < 0.1 else []
    keys = [f"from: {here}", f"to: {there}"]
    keys += [f"if: {' and '.join(parts)}"] if parts else []
    keys += ["after: 1 s"] if not parts or dice.random() < 0.2 else []
    keys += ["may: yes"] if dice.random() < 0.1 else []
    return ", ".join(keys)


def graphs(first: int, count: int) -> Iterator[tuple[int, Graph]]:
    """So many systems, with all that the reference reaches in them."""
    found = 0
    for seed in range(first * 100_000, (first + 1) * 100_000):
        try:
            graph = Graph(prioritylogic.load(text_of(seed)), [], MOST)
        except (prioritylogic.PriorityLogicError, TooBig):
            continue
        yield seed, graph
        found += 1
        if found == count:
            return


def lost(graph: Graph, moment: Moment) -> Iterator[str]:
    """What is lost in a reaction: a rule could be taken because of an event, and no rule taken names it."""
    system, reference, view = graph.system, graph.reference, graph.reference.reaction_view(moment)
    buttons = [v.name for v in system.inputs if v.domain == Flag("button")]
    happened = [name for name in buttons if view.now[name] != view.was[name]]
    named = set().union(*(names(system.rule(rule)) for rule in moment.taken))
    for rule in rules_of(system) if moment.before else ():
        if rule.optional or rule.id in moment.taken or not reference.candidate(rule, moment):
            continue
        for name in happened:
            still = replace(view, was={**view.was, name: view.now[name]})
            never = replace(view, now={**view.now, name: view.was[name]})
            if name not in named and not any(reference.true(rule.guard, v) for v in (still, never)):
                yield f"{rule.id}:{name}"


def rules_of(system: System) -> list[Rule]:
    """All rules."""
    return [rule for machine in system.machines for rule in machine.rules]


def names(rule: Rule) -> set[str]:
    """Every name that a rule reads."""
    return {part.name for part in f.walk(rule.guard) if isinstance(part, f.Read)}


def hunt(first: int, count: int, provers: int = 25) -> Counter[str]:
    """Both ways of asking, held against the oracle on so many systems; the provers on one of so many."""
    seen: Counter[str] = Counter()
    for number, (seed, graph) in enumerate(graphs(first, count)):
        true = {kind: TRUE[kind](graph) for kind in KINDS}
        must = {one for moment, _ in graph.moments for one in lost(graph, moment)}
        assert must <= true["lost-event"], (seed, must)
        seen["lost for the event alone"] += len(must)
        result = check(graph.system)
        assert {q.verdict for q in result.questions if q.kind in KINDS} <= {"holds", "fails"}, seed
        said = {(i.kind, i.id.removeprefix(f"{i.kind}:")) for i in result.findings if i.kind in KINDS}
        assert said == {(kind, one) for kind in KINDS for one in true[kind]}, seed
        seen += Counter(kind for kind, _ in said) + Counter({"systems": 1})
        standing = Standing(graph.system, Limits()) if number % provers == 0 else None
        for kinds in ((KINDS[0],), KINDS[1:]) if standing else ():
            assert standing is not None
            answer = standing.answer(kinds)
            seen["proved" if answer.reason else "left open"] += 1
            if answer.reason:
                found = {(finding.kind, finding.subject) for finding in answer.found}
                assert found == {(kind, one) for kind in kinds for one in true[kind]}, seed
    return seen


@pytest.mark.parametrize("stretch", [1, 2, 3])
def test_what_is_told_is_what_the_reference_shows(stretch: int) -> None:
    seen = hunt(stretch, 50)
    assert seen["systems"] == 50 and seen["left open"] == 0, seen
    assert seen["lost for the event alone"] >= 0.8 * seen["lost-event"] > 0, seen
    assert min(seen[kind] for kind in KINDS) >= 5, seen
