"""Looking names up: from `held[c]` to a value, an input, a machine, memory, a term or an alert.

The order is the design's: first the values of the other side of `is`, `in`, `to` or `start` (when
there is another side), then binders, then declared names. An index is a member, a binder, `other(..)`
of these, or memory over the group; memory as an index becomes a choice among the members.

Terms and outputs are lowered where they are first read and kept, once for every machine that reads
them, since own names mean something else there.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace

from prioritylogic.errors import Span, did_you_mean
from prioritylogic.model import fold
from prioritylogic.model.draft import Bound, Declaration, Draft, Scope, label
from prioritylogic.model.formula import FALSE, TRUE, AlertRead, Const, Formula, Read, walk
from prioritylogic.model.types import LOST, Names, Quantity, Truth, Type, Typed, Unknown
from prioritylogic.syntax import nodes
from prioritylogic.syntax.show import text_of

MAX_SIZE = 20_000
MAX_DEPTH = 120
MAX_WORK = 200_000
HOP = 3  # how much deeper a term or setting in another one is, counted as nested operators

YES_NO = {"yes": TRUE, "no": FALSE}


class Lookup(ABC):
    """What names mean. The rest of lowering (calls, operators) is built on top of it."""

    def __init__(self, draft: Draft) -> None:
        self.draft = draft
        self.work = 0
        self.depth = 0
        self.gave_up = False
        self._terms: dict[tuple[str, str, bool], Typed] = {}
        self._open: list[str] = []  # terms and settings being worked out, for finding circles

    @abstractmethod
    def lower(self, node: nodes.Expression, scope: Scope, expected: Type | None = None) -> Typed:
        """The expression, typed and flat. Faults are noted and give a result of Unknown type."""

    @abstractmethod
    def table(self, cases: tuple[nodes.Case, ...], scope: Scope, name: str, place: nodes.Entry) -> Typed:
        """A table of cases as nested choices."""

    # ------------------------------------------------------------------ names

    def is_known(self, name: str, scope: Scope) -> bool:
        """Whether it is a binder or a declared name."""
        return name in scope.binders or name in self.draft.names

    def name(self, node: nodes.Name, scope: Scope, expected: Type | None) -> Typed:
        """What a name means where it stands."""
        if isinstance(expected, Names) and node.attribute is None:
            found = self._value(node, scope, expected)
            if found is not None:
                return found
        if node.base in scope.binders and not node.indices and node.attribute is None:
            bound = scope.binders[node.base]
            return Typed(Const(bound.member), Names(bound.members))
        declaration = self.draft.names.get(node.base)
        if declaration is not None:
            return self._declared(declaration, node, scope)
        if node.base in YES_NO and isinstance(expected, Truth) and not node.indices:
            return Typed(YES_NO[node.base], Truth())
        return self._unknown(node, scope, expected)

    def _unknown(self, node: nodes.Name, scope: Scope, expected: Type | None) -> Typed:
        known = [*scope.binders, *self.draft.names]
        if isinstance(expected, Names):
            values = ", ".join(expected.values[:8])
            remedy = did_you_mean(text_of(node), [*expected.values, *known], f"the values are {values}")
            family = [v for v in expected.values if v.startswith(f"{node.base}[")]
            if family and not node.indices:
                remedy = f"'{node.base}' needs an index: {', '.join(family[:8])}"
            message = f"'{text_of(node)}' is no value here and no name"
            self.draft.add("unknown-value", message, node.span, remedy)
        else:
            self.draft.add(
                "unknown-name",
                f"no name is '{node.base}'",
                node.span,
                did_you_mean(node.base, known, "declare it under inputs, memory, terms or machines"),
            )
        return LOST

    def _value(self, node: nodes.Name, scope: Scope, expected: Names) -> Typed | None:
        """The name as one of the expected values, `held[c]` included; None if it is none."""
        if not node.indices:
            if node.base not in expected.values:
                return None
            if node.base in scope.binders:
                self._note_hidden(node, scope.binders[node.base])
            return Typed(Const(node.base), expected)
        prefix = node.base + "["
        alike = [v[len(prefix) : -1].split(",") for v in expected.values if v.startswith(prefix)]
        alike = [v for v in alike if len(v) == len(node.indices)]
        if not alike:
            return None
        groups = [tuple(dict.fromkeys(column)) for column in zip(*alike, strict=True)]
        indices = self.indices(node, groups, scope)
        if indices is None:
            return LOST

        def value(members: tuple[str, ...]) -> Typed:
            found = label(node.base, members)
            if found in expected.values:
                return Typed(Const(found), expected)
            self.draft.add(
                "unknown-value",
                f"'{found}' is no value here",
                node.span,
                did_you_mean(found, expected.values, f"the values are {', '.join(expected.values[:8])}"),
            )
            return LOST

        return self.pick(indices, groups, value)

    def _note_hidden(self, node: nodes.Name, bound: Bound) -> None:
        """A warning: a value with a binder's name means the same for every member."""
        self.draft.remark(
            "hidden-binder",
            node.base,
            f"'{node.base}' is read as the value '{node.base}' here, and not as the binder over "
            f"{', '.join(bound.members[:8])}; call the binder something else",
            node.span,
        )

    # ------------------------------------------------------------------ indices

    def indices(
        self, node: nodes.Name, groups: Sequence[tuple[str, ...]], scope: Scope
    ) -> list[Typed] | None:
        """The indices of a name, each over its group; None after a fault."""
        if len(node.indices) != len(groups):
            has, wanted = (
                f"{count} ind{'ex' if count == 1 else 'ices'}" if count else "no index"
                for count in (len(node.indices), len(groups))
            )
            self.draft.add(
                "index-count",
                f"'{text_of(node)}' has {has}, but '{node.base}' takes {wanted}",
                node.span,
                f"write '{label(node.base, tuple('...' for _ in groups))}'",
            )
            return None
        found = [
            self._index(index, group, scope) for index, group in zip(node.indices, groups, strict=True)
        ]
        return None if any(isinstance(f.type, Unknown) for f in found) else found

    def _index(self, node: nodes.Expression, group: tuple[str, ...], scope: Scope) -> Typed:
        found = self.lower(node, scope, Names(group))
        if isinstance(found.type, Unknown):
            return found
        members = ", ".join(group[:8])
        if isinstance(found.formula, Const):
            if found.formula.value in group:
                return found
            self.draft.add(
                "not-a-member",
                f"'{found.formula.value}' is no member here",
                node.span,
                did_you_mean(text_of(node), group, f"the members are {members}"),
            )
            return LOST
        names = isinstance(found.type, Names) and set(found.type.values) <= set(group)
        memory = all(self._is_memory(part) for part in _reads(found.formula))
        if names and memory:
            return found
        self.draft.add(
            "bad-index",
            f"'{text_of(node)}' cannot be an index here",
            node.span,
            f"an index is a binder, memory with values of the group, or a member: {members}",
        )
        return LOST

    def _is_memory(self, name: str) -> bool:
        declaration = self.draft.names.get(name.partition("[")[0])
        return declaration is not None and declaration.sort == "memory"

    def pick(
        self,
        indices: Sequence[Typed],
        groups: Sequence[tuple[str, ...]],
        build: Callable[[tuple[str, ...]], Typed],
        chosen: tuple[str, ...] = (),
    ) -> Typed:
        """What `build` gives for the indices; memory as an index becomes a choice of members."""
        if len(chosen) == len(indices):
            return build(chosen)
        index = indices[len(chosen)]
        if isinstance(index.formula, Const):
            return self.pick(indices, groups, build, (*chosen, str(index.formula.value)))
        assert isinstance(index.type, Names)
        members = [m for m in groups[len(chosen)] if m in index.type.values]
        parts = [self.pick(indices, groups, build, (*chosen, member)) for member in members]
        formula = parts[-1].formula
        for member, part in zip(reversed(members[:-1]), reversed(parts[:-1]), strict=True):
            formula = fold.choose(fold.same(index.formula, Const(member)), part.formula, formula)
        joined = _join([part.type for part in parts])
        kinds = {part.kind for part in parts}
        kind = kinds.pop() if len(kinds) == 1 else "mixed"
        denials = {part.denied for part in parts}
        denied = denials.pop() if len(denials) == 1 else "mixed"
        size = sum(part.size for part in parts) + len(parts) * (index.size + 2)
        depth = max(part.depth for part in parts) + len(parts)
        return Typed(formula, joined, kind, denied, size, depth)

    # ------------------------------------------------------------------ declared names

    def instances(
        self,
        declaration: Declaration,
        node: nodes.Name,
        scope: Scope,
        build: Callable[[tuple[str, ...]], Typed],
    ) -> Typed:
        """What `build` gives for the instance of the declared name that is meant."""
        groups = [self.draft.groups.get(index.group, ()) for index in declaration.indices]
        indices = self.indices(node, groups, scope)
        return LOST if indices is None else self.pick(indices, groups, build)

    def _declared(self, declaration: Declaration, node: nodes.Name, scope: Scope) -> Typed:
        self.draft.used.add(declaration.name)
        sort, name = declaration.sort, declaration.name
        if node.attribute is not None and sort != "alert":
            self.draft.add(
                "not-readable",
                f"'{name}' is no alert, so it has no '.{node.attribute}'",
                node.span,
                f"write '{name}', or name an alert",
            )
            return LOST
        match sort:
            case "group":
                self.draft.add(
                    "not-readable",
                    f"'{name}' is a group, not a value",
                    node.span,
                    f"write a binder over it, `c in {name}`, or a member: "
                    + ", ".join(self.draft.groups[name][:8]),
                )
                return LOST
            case "setting":
                return self.instances(
                    declaration, node, scope, lambda m: self.constant_of(declaration, m)
                )
            case "term" | "output":
                return self.instances(
                    declaration, node, scope, lambda m: self.definition(declaration, m, scope)
                )
            case "alert":
                return self.instances(
                    declaration, node, scope, lambda m: self._alert(node, label(name, m), scope)
                )
            case _:
                return self.instances(
                    declaration, node, scope, lambda m: self.read(label(name, m), scope, node.span)
                )

    @abstractmethod
    def constant_of(self, declaration: Declaration, members: tuple[str, ...]) -> Typed:
        """The constant that a setting is."""

    def read(self, name: str, scope: Scope, span: Span) -> Typed:
        """The value of an input, memory or machine instance."""
        if not self.draft.settled:
            self.draft.add(
                "not-constant",
                f"'{name}' changes, but this must be known beforehand",
                span,
                "use numbers, binders and settings only",
            )
            return LOST
        own = scope.reader is not None and name in scope.reader.own
        return Typed(Read(name, own), self.draft.types.get(name, Unknown()))

    def _alert(self, node: nodes.Name, name: str, scope: Scope) -> Typed:
        match node.attribute:
            case "raised":
                return Typed(AlertRead(name, "raised"), Truth())
            case "cleared":
                return Typed(AlertRead(name, "cleared"), Truth())
            case "sounds":
                return Typed(AlertRead(name, "sounds"), Truth(), "event", "condition")
        self.draft.add(
            "not-readable",
            f"'{text_of(node)}' is an alert, which has no value of its own",
            node.span,
            f"write '{node.base}.raised', '{node.base}.cleared' or the event '{node.base}.sounds'",
        )
        return LOST

    def definition(self, declaration: Declaration, members: tuple[str, ...], scope: Scope) -> Typed:
        """A term or output, as its reader reads it."""
        name = label(declaration.name, members)
        key = (name, scope.reader.machine if scope.reader else "", scope.before)
        if key not in self._terms:
            if not self.enter(name, declaration):
                return LOST
            inner = replace(
                self.draft.scope_of(declaration, members), reader=scope.reader, before=scope.before
            )
            self._terms[key] = self._defined(declaration, name, inner)
            self.leave()
        return self._terms[key]

    def _defined(self, declaration: Declaration, name: str, scope: Scope) -> Typed:
        written = declaration.node.value
        if not isinstance(written, nodes.Term | nodes.Output):
            return self.lower(written, scope)
        if written.value is not None and written.cases is None:
            return self.lower(written.value, scope)
        if written.cases is not None and written.value is None:
            return self.table(written.cases, scope, name, declaration.node)
        self.draft.add(
            "bad-cases",
            f"'{declaration.name}' needs either a value or cases",
            declaration.span,
            "write `value:` with a formula, or `cases:` with a list of lines",
        )
        return LOST

    # ------------------------------------------------------------------ circles

    def enter(self, name: str, declaration: Declaration) -> bool:
        """Begin to work out a definition; False, with a fault, if that is already going on."""
        if name not in self._open:
            self._open.append(name)
            self.depth += HOP
            return True
        circle = [*self._open[self._open.index(name) :], name]
        self.draft.add(
            "circular",
            f"'{name}' is defined by itself: {' -> '.join(circle)}",
            declaration.span,
            "take one of these out of the definition of another; memory and `before(...)` of a machine "
            "or memory name can carry a value from one reaction to the next",
        )
        return False

    def leave(self) -> None:
        """The definition begun last is done."""
        self._open.pop()
        self.depth -= HOP


def _reads(formula: Formula) -> Iterable[str]:
    return (part.name for part in walk(formula) if isinstance(part, Read))


def _join(types: Sequence[Type]) -> Type:
    first = types[0]
    if isinstance(first, Names):
        return Names(tuple(dict.fromkeys(v for t in types if isinstance(t, Names) for v in t.values)))
    if isinstance(first, Quantity):
        return next((t for t in types if isinstance(t, Quantity) and t.dimension is not None), first)
    return first
