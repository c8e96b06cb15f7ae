"""The first pass: one table of everything that has a name.

Groups, settings, inputs, memory, terms, machines, outputs and alerts share one name space, because
they meet in expressions. Ids of rules, and of assumptions, requirements and stories, are name spaces
of their own: a rule `take` may well be about a button `take`.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from prioritylogic.errors import Span, did_you_mean
from prioritylogic.model.draft import Declaration, Draft, Scope, Sort
from prioritylogic.model.lower import Lowering
from prioritylogic.syntax import nodes
from prioritylogic.syntax.show import text_of

_WORD = re.compile(r"[^\W\d]\w*")


def declare(draft: Draft, lowering: Lowering) -> None:
    """Fill the groups and the table of names."""
    spec = draft.spec
    for entry in spec.groups or ():
        members = tuple(member.value for member in entry.value)
        no_repeats(draft, ((m.value, m.span) for m in entry.value), f"the group '{entry.key.value}'")
        draft.groups.setdefault(entry.key.value, tuple(dict.fromkeys(members)))
        _enter(draft, Declaration("group", entry.key.value, entry.key.span, entry))
    sorts: tuple[tuple[Sort, tuple[nodes.Entry, ...] | None], ...] = (
        ("setting", spec.settings),
        ("input", spec.inputs),
        ("memory", spec.memory),
        ("term", spec.terms),
        ("machine", spec.machines),
        ("output", spec.outputs),
        ("alert", spec.alerts),
    )
    for sort, entries in sorts:
        for entry in entries or ():
            key: nodes.Declared = entry.key
            _enter(draft, Declaration(sort, key.base, key.span, entry, key.indices))
    for declaration in draft.names.values():
        _check_indices(draft, lowering, declaration)
    with_ids = {"assumption": spec.assume, "requirement": spec.requirements, "story": spec.stories}
    for kind, items in with_ids.items():
        for item in items or ():
            _enter_id(draft, item.id, kind)


def _enter(draft: Draft, declaration: Declaration) -> None:
    earlier = draft.names.get(declaration.name)
    if earlier is not None:
        draft.add(
            "declared-twice",
            f"'{declaration.name}' is already {a(earlier.sort)}, declared in line {earlier.span.line}",
            declaration.span,
            "give one of the two another name",
        )
        return
    draft.names[declaration.name] = declaration


def _check_indices(draft: Draft, lowering: Lowering, declaration: Declaration) -> None:
    bound: set[str] = set()
    for index in declaration.indices:
        known_group(draft, index.group, index.span)
        if index.binder is not None:
            lowering.check_binder(index.binder, index.span, Scope())
            if index.binder in bound:
                remedy = "give each index a name of its own"
                draft.add("shadowed", f"'{index.binder}' is bound twice", index.span, remedy)
            bound.add(index.binder)


def known_group(draft: Draft, name: str, span: Span) -> bool:
    """Whether it is a group; a fault if not."""
    draft.used.add(name)
    if name in draft.groups:
        return True
    draft.add(
        "unknown-group",
        f"no group is '{name}'",
        span,
        did_you_mean(name, draft.groups, "declare it under `groups`"),
    )
    return False


def no_member(draft: Draft, each: nodes.Binders) -> None:
    """A fault: what is said about no member says nothing, and would look as if it held."""
    draft.add(
        "no-member", f"'{text_of(each)}' leaves no member", each.span, "let `where` leave at least one"
    )


def no_repeats(draft: Draft, items: Iterable[tuple[str, Span]], where: str) -> None:
    """A fault for each item that a list has twice."""
    seen: set[str] = set()
    for item, span in items:
        if item in seen:
            draft.add("listed-twice", f"{where} lists '{item}' twice", span, "delete one of the two")
        seen.add(item)


def _enter_id(draft: Draft, id_: nodes.Text, kind: str) -> None:
    earlier = draft.ids.get(id_.value)
    if earlier is not None:
        draft.add(
            "declared-twice",
            f"'{id_.value}' is already the id of {a(earlier[0])} in line {earlier[1].line}",
            id_.span,
            "give one of the two another id",
        )
    draft.ids.setdefault(id_.value, (kind, id_.span))
    check_id(draft, id_, re.compile(r"[\w.\-/]+"), "letters, digits, '-', '_' and '.'")


def check_rule_id(draft: Draft, id_: nodes.Text) -> None:
    """A rule's id must be a word, since `taken(...)` names it."""
    check_id(draft, id_, _WORD, "letters, digits and '_', a letter first")


def check_id(draft: Draft, id_: nodes.Text, pattern: re.Pattern[str], allowed: str) -> None:
    """A fault if an id holds more than is allowed."""
    if not pattern.fullmatch(id_.value):
        draft.add("bad-id", f"'{id_.value}' cannot be an id", id_.span, f"use {allowed}")


def a(noun: str) -> str:
    """The noun with its article."""
    if noun == "memory":
        return noun
    return f"{'an' if noun[0] in 'aeiou' else 'a'} {noun}"
