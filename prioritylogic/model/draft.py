"""The draft: what the passes have found out so far about one spec.

Mutable, and local to one run of `build`. Each pass fills a part of it and reads what earlier passes
filled; the frozen `System` is made of it at the end.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import Any, Literal, TypeAlias

from prioritylogic.errors import Span
from prioritylogic.model import system
from prioritylogic.model.complaints import Complaints
from prioritylogic.model.formula import Formula
from prioritylogic.model.types import Type, Typed
from prioritylogic.syntax import nodes

MAX_INSTANCES = 20_000

Sort: TypeAlias = Literal["group", "setting", "input", "memory", "term", "machine", "output", "alert"]


@dataclass(frozen=True, slots=True)
class Declaration:
    """A name of the spec: `take[cabin]: button`."""

    sort: Sort
    name: str
    span: Span
    node: Any
    indices: tuple[nodes.Index, ...] = ()


@dataclass(frozen=True, slots=True)
class Bound:
    """What a binder stands for: a member, and the members of its group."""

    member: str
    members: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Reader:
    """The machine instance in whose rules an expression is read.

    Attributes:
        machine: its name.
        own: names that mean their value as the reaction starts.
        untakeable: rules of which it cannot be known there whether they are taken.
    """

    machine: str
    own: frozenset[str]
    untakeable: frozenset[str]


@dataclass(frozen=True, slots=True)
class Scope:
    """Where an expression stands: its binders, who reads it, and whether `before` is around it."""

    binders: Mapping[str, Bound] = field(default_factory=dict)
    reader: Reader | None = None
    before: bool = False

    def bind(self, name: str, bound: Bound) -> Scope:
        """The scope with one more binder."""
        return replace(self, binders={**self.binders, name: bound})

    @property
    def member(self) -> system.Member:
        """The binders and their members, in order."""
        return tuple((name, bound.member) for name, bound in self.binders.items())


@dataclass(slots=True)
class RuleDraft:
    """A rule instance before its formulas are lowered."""

    id: str
    node: nodes.Rule
    scope: Scope
    machine: str
    members: tuple[str, ...]  # of the machine's indices, the rule's binders, and `known`
    known: system.Member = ()  # memory that is an index of what is set, and its value in this instance
    targets: list[tuple[str, nodes.Expression]] = field(default_factory=list)  # memory, right side


@dataclass(slots=True)
class MachineDraft:
    """A machine instance before its rules are lowered."""

    name: str
    family: str
    node: nodes.Machine
    scope: Scope
    states: tuple[str, ...]
    span: Span
    members: tuple[str, ...]
    rules: list[RuleDraft] = field(default_factory=list)

    @property
    def writes(self) -> frozenset[str]:
        """The memory that its rules write."""
        return frozenset(name for rule in self.rules for name, _ in rule.targets)


@dataclass(slots=True)
class Draft:
    """Everything known so far. The comments say which pass fills a part."""

    spec: nodes.Spec
    text: str
    complaints: Complaints = field(default_factory=Complaints)
    remarks: list[system.Remark] = field(default_factory=list)
    used: set[str] = field(default_factory=set)
    instances: int = 0
    settled: bool = False  # what inputs, memory and machines can be is known
    expanded: dict[str, list[tuple[str, ...]]] = field(default_factory=dict)
    # declare
    groups: dict[str, tuple[str, ...]] = field(default_factory=dict)
    names: dict[str, Declaration] = field(default_factory=dict)
    ids: dict[str, tuple[str, Span]] = field(default_factory=dict)  # all but rules'
    # settle_settings
    constants: dict[str, Typed] = field(default_factory=dict)
    # settle_variables
    types: dict[str, Type] = field(default_factory=dict)
    inputs: list[system.Input] = field(default_factory=list)
    memory: list[system.Memory] = field(default_factory=list)
    # settle_machines
    drafts: dict[str, MachineDraft] = field(default_factory=dict)
    families: dict[str, list[RuleDraft]] = field(default_factory=dict)  # by rule id
    homes: dict[str, str] = field(default_factory=dict)  # rule id: the machine that has it
    rule_ids: dict[str, RuleDraft] = field(default_factory=dict)  # by instance
    interleaved: frozenset[str] = frozenset()
    # lowering, as it meets them
    timers: dict[tuple[str, Formula, Fraction], int] = field(default_factory=dict)
    timed: list[system.TimedCondition] = field(default_factory=list)
    cases: dict[str, system.Cases] = field(default_factory=dict)
    # the other passes, one each
    machines: list[system.Machine] = field(default_factory=list)
    alerts: list[system.Alert] = field(default_factory=list)
    outputs: list[system.Output] = field(default_factory=list)
    terms: list[system.Output] = field(default_factory=list)
    assumptions: list[system.Assumption] = field(default_factory=list)
    requirements: list[system.Requirement] = field(default_factory=list)
    stories: list[system.Story] = field(default_factory=list)
    order: tuple[str, ...] = ()
    waived: tuple[tuple[str, str], ...] = ()

    def add(self, code: str, message: str, span: Span, remedy: str) -> None:
        """Note a fault."""
        self.complaints.add(code, message, span, remedy)

    def remark(self, kind: str, subject: str, message: str, span: Span) -> None:
        """Note a warning, once for a family."""
        found = system.Remark(kind, "warning", subject, message, span)
        if found not in self.remarks:
            self.remarks.append(found)

    def of_sort(self, sort: Sort) -> Iterator[Declaration]:
        """The declarations of one sort, in the spec's order."""
        return (d for d in self.names.values() if d.sort == sort)

    def members(self, declaration: Declaration) -> list[tuple[str, ...]]:
        """The members of each instance of a declared name; `[()]` for one without indices."""
        if declaration.name not in self.expanded:
            groups = [self.groups.get(index.group, ()) for index in declaration.indices]
            fits = self.room_for(math.prod(map(len, groups)), declaration.span)
            self.expanded[declaration.name] = list(itertools.product(*groups)) if fits else []
        return self.expanded[declaration.name]

    def room_for(self, count: int, span: Span) -> bool:
        """Whether so many more instances stay within reason; a fault if not."""
        self.instances += count
        if self.instances > MAX_INSTANCES:
            self.add(
                "too-large",
                f"the groups of this spec expand to more than {MAX_INSTANCES} instances here",
                span,
                "use smaller groups or fewer binders",
            )
            return False
        return True

    def scope_of(self, declaration: Declaration, members: tuple[str, ...]) -> Scope:
        """The scope with the declaration's own binders bound."""
        scope = Scope()
        for index, member in zip(declaration.indices, members, strict=True):
            if index.binder is not None:
                scope = scope.bind(index.binder, Bound(member, self.groups[index.group]))
        return scope


def label(base: str, members: tuple[str, ...]) -> str:
    """The name of an instance.

    >>> label("x", ("left", "top")), label("x", ())
    ('x[left,top]', 'x')
    """
    return f"{base}[{','.join(members)}]" if members else base
