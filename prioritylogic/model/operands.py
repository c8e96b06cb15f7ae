"""Operands: what an expression must be where it stands, and how several are joined.

Shared by functions, operators and passes: a truth value, a condition, a number, numbers of one
dimension, a constant, a duration; and the members that binders run over.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import replace
from fractions import Fraction

from prioritylogic.errors import Span, did_you_mean
from prioritylogic.model import fold
from prioritylogic.model.draft import MAX_INSTANCES, Bound, Declaration, Scope, label
from prioritylogic.model.formula import TRUE, Const, Formula, conjunction, disjunction
from prioritylogic.model.lookup import Lookup
from prioritylogic.model.types import (
    LOST,
    Kind,
    Names,
    Quantity,
    Truth,
    Type,
    Typed,
    Unknown,
    both,
    denied,
    either,
    in_words,
)
from prioritylogic.model.units import TIME, Dimension, describe, example
from prioritylogic.syntax import nodes
from prioritylogic.syntax.show import text_of


class Operands(Lookup):
    """Checked operands."""

    # ------------------------------------------------------------------ kinds of value

    def truth(self, node: nodes.Expression, scope: Scope) -> Typed:
        """An operand that must be true or false."""
        found = self.lower(node, scope, Truth())
        if isinstance(found.type, Truth | Unknown):
            return found
        hint = "compare it, such as with `is` or `=`"
        if isinstance(found.type, Names):
            hint = f"write '{text_of(node)} is {found.type.values[0]}' or the like"
        self.draft.add(
            "wrong-type",
            f"'{text_of(node)}' is {in_words(found.type)}, where something true or false is needed",
            node.span,
            hint,
        )
        return LOST

    def condition(self, node: nodes.Expression, scope: Scope, where: str, remedy: str) -> Typed:
        """An operand that must be a condition (a mixed one is left to the caller)."""
        found = self.truth(node, scope)
        if found.kind != "event":
            return found
        self.draft.add(
            "event-not-allowed",
            f"'{text_of(node)}' is an event, true in a reaction only; {where} needs a condition",
            node.span,
            remedy,
        )
        return LOST

    def quantity(self, node: nodes.Expression, scope: Scope) -> Typed:
        """An operand that must be a number."""
        found = self.lower(node, scope, Quantity())
        if isinstance(found.type, Quantity | Unknown):
            return found
        self.draft.add(
            "wrong-type",
            f"'{text_of(node)}' is {in_words(found.type)}, where a number is needed",
            node.span,
            "write a number or the name of one"
            + ("; `count(...)` counts what is true" if isinstance(found.type, Truth) else ""),
        )
        return LOST

    # ------------------------------------------------------------------ several together

    def common(
        self, pairs: list[tuple[nodes.Expression, Typed]], at: Span | None = None
    ) -> Quantity | None:
        """The one dimension of several numbers; None after a fault, or if one was lost before."""
        types = [part.type for _, part in pairs]
        if not all(isinstance(t, Quantity) for t in types):
            return None
        quantities = [t for t in types if isinstance(t, Quantity)]
        strong = [
            t.dimension
            for (node, _), t in zip(pairs, quantities, strict=True)
            if t.dimension is not None and not _is_bare(node)
        ]
        dimension = strong[0] if strong else next((t.dimension for t in quantities if t.dimension), None)
        for (node, _), found in zip(pairs, quantities, strict=True):
            if found.dimension in (None, dimension):
                continue
            assert dimension is not None
            if _is_bare(node):
                unit = example(dimension)
                self.draft.add(
                    "bare-number",
                    f"the bare number '{text_of(node)}' stands beside {describe(dimension)}",
                    node.span,
                    f"give it a unit, such as '{text_of(node)} {unit}'" if unit else "give it a unit",
                )
            else:
                self.draft.add(
                    "wrong-dimension",
                    f"'{text_of(node)}' is {describe(found.dimension)}, beside {describe(dimension)}",
                    node.span,
                    "add and compare only quantities of one dimension",
                )
            return None
        whole = all(t.whole for t in quantities)
        return Quantity(dimension, whole, next((t.unit for t in quantities if t.unit), ""))

    def together(self, formula: Formula, result: Type, parts: list[Typed]) -> Typed:
        """A number or name made of parts: mixed if any part hangs on an event."""
        kind: Kind = "condition" if all(p.kind == "condition" for p in parts) else "mixed"
        return Typed(formula, result, kind, kind, *measure(parts))

    def conjoin(self, parts: list[Typed]) -> Typed:
        """All of these."""
        formula = conjunction(*(p.formula for p in parts))
        kind = both(parts)
        # What never holds at rest has a negation that always does, whatever its parts are.
        opposite = "condition" if kind == "event" else either([denied(p, p.formula) for p in parts])
        return Typed(formula, Truth(), kind, opposite, *measure(parts))

    def disjoin(self, parts: list[Typed]) -> Typed:
        """At least one of these."""
        formula = disjunction(*(p.formula for p in parts))
        opposite = both([denied(p, p.formula) for p in parts])
        return Typed(formula, Truth(), either(parts), opposite, *measure(parts))

    # ------------------------------------------------------------------ constants

    def constant(
        self, node: nodes.Expression, scope: Scope, dimension: Dimension | None
    ) -> Fraction | None:
        """A number known beforehand, of this dimension (None: of any); None after a fault."""
        found = self.quantity(node, Scope(scope.binders))
        if not isinstance(found.type, Quantity):
            return None
        value = fold.number(found.formula)
        if value is None:
            self.draft.add(
                "not-constant",
                f"'{text_of(node)}' is not known beforehand",
                node.span,
                "use numbers and settings only",
            )
            return None
        if dimension is not None and found.type.dimension not in (None, dimension):
            self.draft.add(
                "wrong-dimension",
                f"'{text_of(node)}' is {in_words(found.type)}, where {describe(dimension)} is needed",
                node.span,
                "write a duration with its unit, such as '2 s'"
                if dimension == TIME
                else "check the unit",
            )
            return None
        return value

    def duration(
        self, node: nodes.Expression, scope: Scope, *, positive: bool = False
    ) -> Fraction | None:
        """A constant time in seconds; None after a fault."""
        found = self.constant(node, scope, TIME)
        if found is None:
            return None
        if found < 0 or (positive and found == 0):
            self.draft.add(
                "bad-duration",
                f"the duration '{text_of(node)}' is {'negative' if found < 0 else 'zero'}",
                node.span,
                "write a duration above 0, such as '2 s'" if positive else "write 0 s or more",
            )
            return None
        return found

    def constant_of(self, declaration: Declaration, members: tuple[str, ...]) -> Typed:
        """The constant that a setting is, worked out when first needed."""
        name = label(declaration.name, members)
        if name not in self.draft.constants:
            if not self.enter(name, declaration):
                return LOST
            node = self._setting_value(declaration, members)
            scope = self.draft.scope_of(declaration, members)
            result = LOST
            if node is not None and self.constant(node, scope, None) is not None:
                result = self.quantity(node, scope)
            self.leave()
            self.draft.constants[name] = result
        return self.draft.constants[name]

    def _setting_value(
        self, declaration: Declaration, members: tuple[str, ...]
    ) -> nodes.Expression | None:
        value = declaration.node.value
        if isinstance(value, nodes.Setting):
            return value.value
        if not isinstance(value, tuple):
            return value  # type: ignore[no-any-return]
        return next((entry.value for entry in value if (entry.key.value,) == members), None)

    # ------------------------------------------------------------------ binders

    def expand(
        self, binders: tuple[nodes.Binder, ...], where: nodes.Expression | None, scope: Scope
    ) -> list[Scope] | None:
        """One scope for each choice of members, in the groups' order; None after a fault."""
        self.draft.used.update(b.group for b in binders)
        groups = []
        for binder in binders:
            if binder.group not in self.draft.groups:
                self.draft.add(
                    "unknown-group",
                    f"no group is '{binder.group}'",
                    binder.span,
                    did_you_mean(binder.group, self.draft.groups, "declare it under `groups`"),
                )
                return None
            groups.append(self.draft.groups[binder.group])
            self.check_binder(binder.name, binder.span, scope)
        count = math.prod(map(len, groups))
        if count > MAX_INSTANCES:
            self.draft.room_for(count, binders[0].span)
            return None
        scopes = [scope]
        for at, (binder, group) in enumerate(zip(binders, groups, strict=True)):
            if any(b.name == binder.name for b in binders[:at]):
                self.check_binder(binder.name, binder.span, scopes[0])
                return None
            scopes = [s.bind(binder.name, Bound(member, group)) for s in scopes for member in group]
        if where is None:
            return scopes
        chosen = [self._is_chosen(where, s) for s in scopes]
        return None if None in chosen else list(itertools.compress(scopes, chosen))

    def check_binder(self, name: str, span: Span, scope: Scope) -> None:
        """A binder may have no other thing's name."""
        taken = "a binder around it" if name in scope.binders else ""
        if name in self.draft.names:
            taken = f"the {self.draft.names[name].sort} '{name}'"
        elif any(name in group for group in self.draft.groups.values()):
            taken = "a member of a group"
        if taken:
            self.draft.add(
                "shadowed",
                f"the binder '{name}' has the name of {taken}",
                span,
                "give the binder a name of its own",
            )

    def _is_chosen(self, where: nodes.Expression, scope: Scope) -> bool | None:
        """Whether `where` keeps this member; None after a fault."""
        found = self.truth(where, replace(scope, reader=None))
        if isinstance(found.type, Unknown):
            return None
        if isinstance(found.formula, Const):
            return found.formula == TRUE
        self.draft.add(
            "not-constant",
            f"'{text_of(where)}' after `where` hangs on more than binders",
            where.span,
            "use binders and settings only; put the rest into the expression with `and` or `if`",
        )
        return None


def measure(parts: list[Typed]) -> tuple[int, int]:
    """Size and depth of something made of these parts."""
    return 1 + sum(p.size for p in parts), 1 + max((p.depth for p in parts), default=0)


def _is_bare(node: nodes.Expression) -> bool:
    if isinstance(node, nodes.Unary):
        return _is_bare(node.operand)
    return isinstance(node, nodes.Number) and node.unit is None
