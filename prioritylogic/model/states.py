"""The pass that settles machines: their states, the instances of their rules, and what they write.

It comes before anything is lowered, because what a name means in a rule depends on which memory the
machine writes, and `taken(RULE)` may stand before the rule.

A rule that sets `n[who]`, where `who` is memory, becomes one instance for each value of `who`: it sets
the name which that value picks, and is enabled only while `who` has that value. So the instances
exclude each other, and which names a rule writes is known beforehand.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator

from prioritylogic.errors import did_you_mean, nearest
from prioritylogic.model import fold
from prioritylogic.model.declare import a, check_rule_id, known_group, no_member, no_repeats
from prioritylogic.model.draft import Declaration, Draft, MachineDraft, Reader, RuleDraft, Scope, label
from prioritylogic.model.formula import Choose, Const, Formula, Read, Same, walk
from prioritylogic.model.lower import Lowering
from prioritylogic.model.types import Names
from prioritylogic.syntax import nodes
from prioritylogic.syntax.show import text_of

MAX_RULES = 1000  # of one machine: who beats whom is a relation over them


def settle_machines(draft: Draft, lowering: Lowering) -> None:
    """Expand machines and their rules, and note who is interleaved."""
    first: dict[str, nodes.Text] = {}
    each: dict[str, nodes.Binders] = {}
    for declaration in draft.of_sort("machine"):
        node: nodes.Machine = declaration.node.value
        for rule in node.rules or ():
            check_rule_id(draft, rule.id)
            if rule.id.value in first:
                line = first[rule.id.value].span.line
                draft.add(
                    "declared-twice",
                    f"'{rule.id.value}' is already a rule's id, in line {line}",
                    rule.id.span,
                    "give one of the two another id; `beats` and `taken` name rules by id alone",
                )
            first.setdefault(rule.id.value, rule.id)
            draft.families.setdefault(rule.id.value, [])
            draft.homes.setdefault(rule.id.value, declaration.name)
        for members in draft.members(declaration):
            machine = _machine(draft, declaration, members)
            draft.drafts[machine.name] = machine
            draft.types[machine.name] = Names(machine.states)
    draft.settled = True
    for machine in draft.drafts.values():
        for rule in machine.node.rules or ():
            if _instances(draft, lowering, machine, rule) and rule.each is not None:
                each[rule.id.value] = rule.each
    for rule_id, binders in each.items():
        if not draft.families[rule_id]:
            no_member(draft, binders)
    draft.interleaved = _interleaved(draft)


def _machine(draft: Draft, declaration: Declaration, members: tuple[str, ...]) -> MachineDraft:
    node: nodes.Machine = declaration.node.value
    states: list[str] = []
    for state in node.states:
        names = [state.base]
        if state.indices:
            known = [known_group(draft, index.group, index.span) for index in state.indices]
            if not all(known):
                continue
            family = f"{declaration.name}.{text_of(state)}"
            inner = Declaration("group", family, state.span, None, state.indices)
            names = [label(state.base, chosen) for chosen in draft.members(inner)]
        no_repeats(draft, ((n, state.span) for n in (*states, *names)), f"'{declaration.name}'")
        states += names
    return MachineDraft(
        name=label(declaration.name, members),
        family=declaration.name,
        node=node,
        scope=draft.scope_of(declaration, members),
        states=tuple(dict.fromkeys(states)),
        span=declaration.span,
        members=members,
    )


def _instances(draft: Draft, lowering: Lowering, machine: MachineDraft, node: nodes.Rule) -> bool:
    """Expand a rule into the machine instance; False after a fault."""
    scopes: list[Scope] | None = [machine.scope]
    if node.each is not None:
        scopes = lowering.expand(node.each.binders, node.each.where, machine.scope)
    if scopes is None or not draft.room_for(len(scopes), node.span):
        return False
    inherited = len(machine.scope.binders)
    for scope in scopes:
        chosen = (*machine.members, *(member for _, member in scope.member[inherited:]))
        targets = [_target(draft, lowering, entry.key, scope) for entry in node.set or ()]
        splits = _splits(draft, node, targets)
        count = math.prod(len(values) for values in splits.values())
        if len(machine.rules) + count > MAX_RULES:
            draft.add(
                "too-large",
                f"'{machine.name}' has more than {MAX_RULES} rules once `each` and indices are expanded",
                node.id.span,
                "use smaller groups or fewer binders",
            )
            return False
        for values in itertools.product(*splits.values()):
            members = (*chosen, *values)
            known = tuple(zip(splits, values, strict=True))
            rule = RuleDraft(label(node.id.value, members), node, scope, machine.name, members, known)
            _set(draft, rule, targets)
            if rule.id not in draft.rule_ids:
                machine.rules.append(rule)
                draft.families[node.id.value].append(rule)
                draft.rule_ids[rule.id] = rule
    return True


def _set(draft: Draft, rule: RuleDraft, targets: list[list[Formula] | None]) -> None:
    """Note what a rule instance writes."""
    known = {Read(name): Const(value) for name, value in rule.known}
    for entry, indices in zip(rule.node.set or (), targets, strict=True):
        if indices is None:
            continue
        picked = [fold.known(index, known) for index in indices]
        name = label(entry.key.base, tuple(str(p.value) for p in picked if isinstance(p, Const)))
        if any(name == earlier for earlier, _ in rule.targets):
            draft.add("bad-write", f"'{name}' is set twice", entry.span, "keep one of the two")
            continue
        rule.targets.append((name, entry.value))


def _splits(
    draft: Draft, node: nodes.Rule, targets: list[list[Formula] | None]
) -> dict[str, tuple[str, ...]]:
    """The memory that is an index of what a rule sets, with its values."""
    found: dict[str, tuple[str, ...]] = {}
    for entry, indices in zip(node.set or (), targets, strict=True):
        for name in _reads(indices or []):
            kind = draft.types[name]
            assert isinstance(kind, Names)
            found[name] = kind.values
            _refuse_clocks(draft, node, entry.key, name)
    return found


def _refuse_clocks(draft: Draft, node: nodes.Rule, target: nodes.Name, index: str) -> None:
    """What is said about a rule over time would be said about each of its instances instead."""
    fair = node.fair is not None and node.fair.value == "yes"
    for key, given in (("takes", node.takes is not None), ("fair", fair)):
        if given:
            draft.add(
                "bad-timing",
                f"'{text_of(target)}' makes one rule for each value of '{index}', and `{key}` would "
                "start over whenever that changes",
                node.key_spans.get(key, target.span),
                f"write `each:` with a binder, '{index} is' that binder in `if`, and set by the binder",
            )


def _reads(formulas: list[Formula]) -> Iterator[str]:
    return (part.name for formula in formulas for part in walk(formula) if isinstance(part, Read))


def _target(draft: Draft, lowering: Lowering, node: nodes.Name, scope: Scope) -> list[Formula] | None:
    """The indices of the memory that a `set` line writes; None after a fault."""
    declaration = draft.names.get(node.base)
    memory = [d.name for d in draft.of_sort("memory")]
    if declaration is None or declaration.sort != "memory" or node.attribute:
        what = "is not declared" if declaration is None else f"is {a(declaration.sort)}, not memory"
        remedy = "only memory can be set; declare it under `memory`"
        if declaration is not None and declaration.sort == "machine":
            remedy = "a machine enters states by `to:` of its own rules"
        near = nearest(node.base, memory)
        draft.add(
            "bad-write",
            f"'{text_of(node)}' {what}",
            node.span,
            f"did you mean '{near}'?" if near else remedy,
        )
        return None
    groups = [draft.groups.get(index.group, ()) for index in declaration.indices]
    indices = lowering.indices(node, groups, scope)
    if indices is None:
        return None
    for index, written in zip(indices, node.indices, strict=True):
        if not all(_can_pick(draft, part) for part in walk(index.formula)):
            draft.add(
                "bad-index",
                f"'{text_of(written)}' cannot be the index of what is set",
                written.span,
                "name memory with values of the group, `other(...)` of it, a binder, or a member",
            )
            return None
    return [index.formula for index in indices]


def _can_pick(draft: Draft, part: Formula) -> bool:
    match part:
        case Read(name):
            return isinstance(draft.types.get(name), Names)
        case Const() | Choose() | Same():
            return True
    return False


def _interleaved(draft: Draft) -> frozenset[str]:
    found: set[str] = set()
    for text in draft.spec.interleaved or ():
        name = text.value.replace(" ", "")
        instances = [m.name for m in draft.drafts.values() if name in (m.name, m.family)]
        if not instances:
            known = {n for m in draft.drafts.values() for n in (m.name, m.family)}
            draft.add(
                "unknown-machine",
                f"no machine is '{text.value}'",
                text.span,
                did_you_mean(name, known, "name machines declared under `machines`"),
            )
        found.update(instances)
    return frozenset(found)


def reader_of(draft: Draft, machine: MachineDraft) -> Reader:
    """What the rules of a machine instance read as the reaction starts, and cannot know."""
    still = {machine.name}
    if machine.name in draft.interleaved:
        still |= draft.interleaved
    own = still.union(*(draft.drafts[name].writes for name in still))
    rules = frozenset(rule.id for name in still for rule in draft.drafts[name].rules)
    return Reader(machine.name, frozenset(own), rules)


def state(
    draft: Draft, lowering: Lowering, machine: MachineDraft, node: nodes.Name, scope: Scope
) -> str | None:
    """The one state that `from`, `to` or `start` names; None after a fault."""
    known = ", ".join(machine.states[:8])
    is_binder = not node.indices and node.base in scope.binders
    if not is_binder and not any(node.base == s.partition("[")[0] for s in machine.states):
        draft.add(
            "unknown-state",
            f"'{machine.family}' has no state '{text_of(node)}'",
            node.span,
            did_you_mean(text_of(node), machine.states, f"its states are {known}"),
        )
        return None
    found = lowering.lower(node, scope, Names(machine.states))
    if not isinstance(found.type, Names):
        return None
    if isinstance(found.formula, Const) and found.formula.value in machine.states:
        return str(found.formula.value)
    draft.add(
        "unknown-state",
        f"'{text_of(node)}' is not one state of '{machine.family}', known beforehand",
        node.span,
        f"name one of {known}",
    )
    return None
