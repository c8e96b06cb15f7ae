"""The pass that lowers rules: guards, writes, delays and who beats whom.

What a rule says about time is checked here too, so that an engine meets only combinations that have
a meaning (design, section 3, "Rules").
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from graphlib import CycleError, TopologicalSorter

from prioritylogic.errors import Span, did_you_mean
from prioritylogic.model import fold, system
from prioritylogic.model.draft import Draft, MachineDraft, Reader, RuleDraft, Scope
from prioritylogic.model.formula import TRUE, Const, Formula, Read, Same, conjunction
from prioritylogic.model.lower import Lowering
from prioritylogic.model.states import reader_of, state
from prioritylogic.model.types import Names, Quantity, Truth, Typed, in_words
from prioritylogic.syntax import nodes
from prioritylogic.syntax.show import text_of


def lower_machines(draft: Draft, lowering: Lowering) -> None:
    """Turn every machine draft into a machine."""
    for machine in draft.drafts.values():
        reader = reader_of(draft, machine)
        start = state(draft, lowering, machine, machine.node.start, machine.scope)
        rules = [_rule(draft, lowering, machine, rule, reader) for rule in machine.rules]
        if machine.node.order is not None:
            _by_order(machine, rules)
        _no_circle(draft, machine, rules)
        draft.machines.append(
            system.Machine(
                name=machine.name,
                states=machine.states,
                start=start or "",
                rules=tuple(rules),
                tie_either=machine.node.tie is not None,
                about=machine.node.about.value if machine.node.about else "",
                span=machine.span,
                places=tuple(_place(machine, name) for name in machine.states),
            )
        )


def _place(machine: MachineDraft, name: str) -> Span:
    """Where a state is listed."""
    base = name.partition("[")[0]
    return next((s.span for s in machine.node.states if s.base == base), machine.span)


def _rule(
    draft: Draft, lowering: Lowering, machine: MachineDraft, rule: RuleDraft, reader: Reader
) -> system.Rule:
    node, scope = rule.node, replace(rule.scope, reader=reader)
    guard = Typed(TRUE, Truth()) if node.if_ is None else lowering.truth(node.if_, scope)
    if node.if_ is not None:
        note_mixed(draft, guard, f"{node.id.value}.if", node.if_)
        if node.takes is not None and guard.kind == "event":
            _event_with_takes(draft, node)
    delay, takes = _timing(draft, lowering, machine, rule)
    known = {Read(n, n in reader.own): Const(value) for n, value in rule.known}
    chosen = (Same(read, value) for read, value in known.items())
    return system.Rule(
        id=rule.id,
        family=node.id.value,
        member=(*rule.scope.member, *rule.known),
        machine=machine.name,
        sources=_sources(draft, lowering, machine, rule),
        guard=conjunction(fold.known(guard.formula, known), *chosen),
        target=state(draft, lowering, machine, node.to, rule.scope) if node.to is not None else None,
        writes=tuple((n, fold.known(f, known)) for n, f in _writes(draft, lowering, rule, scope)),
        delay=delay,
        takes=takes,
        may=_yes(node.may),
        fair=_yes(node.fair),
        beats=_beats(draft, machine, node),
        about=node.about.value if node.about else "",
        said=text_of(node.if_) if node.if_ is not None else "",
        span=node.id.span,
    )


def note_mixed(draft: Draft, found: Typed, subject: str, node: nodes.Expression) -> None:
    """A warning where an event `or` a condition stands in a place that wants one of the two."""
    if found.kind == "mixed" and not isinstance(found.formula, Const):
        draft.remark(
            "mixed-condition",
            subject,
            f"'{text_of(node)}' is true in a reaction with the event and besides whenever the condition "
            "holds; say which is meant, or split it in two",
            node.span,
        )


def _yes(word: nodes.Text | None) -> bool:
    return word is not None and word.value == "yes"


def _sources(draft: Draft, lowering: Lowering, machine: MachineDraft, rule: RuleDraft) -> frozenset[str]:
    names = rule.node.from_
    if [text_of(name) for name in names] == ["any"] and "any" not in machine.states:
        return frozenset(machine.states)
    found = (state(draft, lowering, machine, name, rule.scope) for name in names)
    return frozenset(s for s in found if s is not None)


# --------------------------------------------------------------------------- writes


def _writes(
    draft: Draft, lowering: Lowering, rule: RuleDraft, scope: Scope
) -> tuple[tuple[str, Formula], ...]:
    written = []
    for name, node in rule.targets:
        wanted = draft.types.get(name)
        if wanted is None:
            continue
        found = lowering.lower(node, scope, wanted)
        if _fits(draft, wanted, found, node):
            written.append((name, found.formula))
    return tuple(written)


def _fits(draft: Draft, wanted: object, found: Typed, node: nodes.Expression) -> bool:
    """Whether a value is of the memory's kind. (Whether it is in range is asked of runs.)"""
    match wanted, found.type:
        case Truth(), Truth():
            return True
        case Names(values), Names(others):
            possible = {found.formula.value} if isinstance(found.formula, Const) else set(others)
            if possible & set(values):
                return True
            draft.add(
                "unknown-value",
                f"'{text_of(node)}' is never a value of this memory",
                node.span,
                f"its values are {', '.join(values[:8])}",
            )
        case Quantity() as memory, Quantity() as given:
            if given.dimension not in (None, memory.dimension):
                draft.add(
                    "wrong-dimension",
                    f"'{text_of(node)}' is {in_words(given)}, but the memory holds {in_words(memory)}",
                    node.span,
                    "write a value of the memory's own dimension",
                )
            elif memory.whole and not given.whole and not _is_whole(found):
                draft.add(
                    "wrong-type",
                    f"'{text_of(node)}' may have a fraction, but the memory holds whole numbers",
                    node.span,
                    "write a whole number, or compare and write one of several",
                )
            else:
                return True
        case _, Truth() | Names() | Quantity():
            assert isinstance(wanted, Truth | Names | Quantity)
            draft.add(
                "wrong-type",
                f"'{text_of(node)}' is {in_words(found.type)}, but the memory holds {in_words(wanted)}",
                node.span,
                "write one of the memory's own values",
            )
    return False


def _is_whole(found: Typed) -> bool:
    value = found.formula.value if isinstance(found.formula, Const) else None
    return isinstance(value, Fraction) and value.denominator == 1


# --------------------------------------------------------------------------- time


def _timing(
    draft: Draft, lowering: Lowering, machine: MachineDraft, rule: RuleDraft
) -> tuple[system.Delay | None, system.Takes | None]:
    node, may = rule.node, _yes(rule.node.may)
    delay = takes = None
    if node.after is not None:
        time = lowering.duration(node.after.duration, rule.scope)
        delay = None if time is None else system.Delay(time, node.after.strict)
        if node.takes is not None:
            message = "`after` and `takes` cannot both say when"
            _refuse(draft, node, "takes", message, "keep one of the two")
        if node.after.strict and not may:
            _refuse(
                draft,
                node,
                "after",
                "`after: over T` has no first instant at which the rule must be taken",
                "write `after: T`, or add `may: yes`",
            )
    if node.since is not None and node.takes is None:
        message = "`since` says from when `takes` counts, and there is no `takes`"
        _refuse(draft, node, "since", message, "add `takes:`")
    if node.takes is not None:
        takes = _takes(draft, lowering, machine, rule, node.takes)
        if may and node.takes.upper is not None:
            _refuse(
                draft,
                node,
                "may",
                "`takes` with an upper end must be taken by then; `may: yes` says it need not",
                "delete `may`, or write `takes: at least ...`",
            )
    if _yes(node.fair) and not may and node.takes is None:
        _refuse(
            draft,
            node,
            "fair",
            "`fair: yes` is about rules that can be put off, but this one is taken at once",
            "delete `fair`, or add `may: yes`",
        )
    return delay, takes


def _refuse(draft: Draft, node: nodes.Rule, key: str, message: str, remedy: str) -> None:
    draft.add("bad-timing", message, node.key_spans.get(key, node.span), remedy)


def _takes(
    draft: Draft, lowering: Lowering, machine: MachineDraft, rule: RuleDraft, node: nodes.Takes
) -> system.Takes | None:
    ends: list[Fraction | None] = []
    for bound in (node.lower, node.upper):
        time = None if bound is None else lowering.duration(bound.duration, rule.scope)
        if bound is not None and time is None:
            return None
        ends.append(time)
    low, high = ends
    low_strict = node.lower is not None and node.lower.strict
    high_strict = node.upper is not None and node.upper.strict
    low = Fraction(0) if low is None else low
    if high is not None and (low > high or (low == high and (low_strict or high_strict))):
        draft.add(
            "bad-duration",
            f"'{text_of(node)}' leaves no time at which the rule could be taken",
            node.span,
            "write the lower end first, and the ends apart if one is `over` or `under`",
        )
    since: tuple[str, ...] = ()
    text = rule.node.since
    if text is not None:
        family = draft.families.get(text.value)
        if family is None:
            draft.add(
                "unknown-rule",
                f"no rule has the id '{text.value}'",
                text.span,
                did_you_mean(text.value, draft.families, "name the `id` of a rule"),
            )
        else:
            # Of a machine that is itself a family, only this instance's rules count.
            near = [r.id for r in family if r.machine == machine.name]
            home = draft.homes[text.value] == machine.family
            since = tuple(near if home else (r.id for r in family))
    return system.Takes(low, low_strict, high, high_strict, since)


def _event_with_takes(draft: Draft, node: nodes.Rule) -> None:
    assert node.if_ is not None
    draft.add(
        "event-with-takes",
        f"'{text_of(node.if_)}' is an event, but `takes` counts while `if` holds at rest",
        node.if_.span,
        "count from when a rule was last taken, `since: its_id`, and keep only a condition in `if`",
    )


# --------------------------------------------------------------------------- priority


def _beats(draft: Draft, machine: MachineDraft, node: nodes.Rule) -> frozenset[str]:
    own = [r.id.value for r in machine.node.rules or ()]
    found: set[str] = set()
    for text in node.beats or ():
        if text.value not in draft.families:
            remedy = did_you_mean(text.value, own, f"rules of '{machine.family}' are {', '.join(own)}")
            if "[" in text.value and text.value.partition("[")[0] in own:
                remedy = f"write '{text.value.partition('[')[0]}'; an id means its whole family"
            draft.add("unknown-rule", f"no rule has the id '{text.value}'", text.span, remedy)
        elif draft.homes[text.value] != machine.family:
            draft.add(
                "beats-elsewhere",
                f"'{text.value}' is a rule of another machine, '{draft.homes[text.value]}'",
                text.span,
                "`beats` settles ties within a machine; else read the other's state in `if`",
            )
        else:
            found.update(r.id for r in draft.families[text.value] if r.machine == machine.name)
    return frozenset(found)


def _by_order(machine: MachineDraft, rules: list[system.Rule]) -> None:
    """`order: first`: every rule beats all that come later in the list (within `each`, in the group)."""
    for at, rule in enumerate(rules):
        later = frozenset(r.id for r in rules[at + 1 :])
        rules[at] = replace(rule, beats=rule.beats | later)


def _no_circle(draft: Draft, machine: MachineDraft, rules: list[system.Rule]) -> None:
    try:
        TopologicalSorter({rule.id: sorted(rule.beats) for rule in rules}).prepare()
    except CycleError as error:
        circle = list(reversed(error.args[1]))
        first = min(rules, key=lambda r: (r.id not in circle, r.span))
        written = draft.rule_ids[first.id].node
        spans = [t.span for t in written.beats or ()] or [written.id.span]
        draft.add(
            "beats-circle",
            f"these rules of '{machine.name}' beat each other in a circle: {' -> '.join(circle)}",
            spans[0],
            "take one of them out of `beats`, or out of the order",
        )
