"""Comparisons: `is`, `in` and their negations between names, `=`, `<` and the like between numbers.

Names are looked up among the values of the other side. The wrong sign for a kind of value is a fault
with a hint, and so is a comparison that could never be true.
"""

from __future__ import annotations

from dataclasses import replace

from prioritylogic.model import fold
from prioritylogic.model.calls import Calls
from prioritylogic.model.draft import Scope
from prioritylogic.model.formula import Const, disjunction, negation
from prioritylogic.model.operands import measure
from prioritylogic.model.types import LOST, Names, Quantity, Truth, Typed, Unknown, in_words
from prioritylogic.syntax import nodes
from prioritylogic.syntax.show import text_of


class Comparisons(Calls):
    """Comparisons of numbers and of names."""

    def compare(self, node: nodes.Binary, scope: Scope) -> Typed:
        """`=`, `!=`, `<`, `<=`, `>`, `>=` between numbers."""
        left = self.lower(node.left, scope, Quantity())
        right = LOST
        if isinstance(left.type, Quantity):
            right = self.lower(node.right, scope, Quantity())
        for side, found in ((node.left, left), (node.right, right)):
            if isinstance(found.type, Truth | Names):
                remedy = "names have no order; ask with `is` or `in`"
                if isinstance(found.type, Truth):
                    remedy = f"write '{text_of(side)}' or 'not {text_of(side)}'"
                elif node.operator in ("=", "!="):
                    remedy = f"write `{'is' if node.operator == '=' else 'is not'}` between names"
                self.draft.add(
                    "wrong-comparison",
                    f"'{text_of(side)}' is {in_words(found.type)}; '{node.operator}' compares numbers",
                    node.at,
                    remedy,
                )
                return LOST
        if self.common([(node.left, left), (node.right, right)]) is None:
            return LOST
        parts, a, b = [left, right], left.formula, right.formula
        match node.operator:
            case "=":
                formula = fold.same(a, b)
            case "!=":
                formula = negation(fold.same(a, b))
            case "<" | "<=":
                formula = fold.less(a, b, node.operator == "<=")
            case _:
                formula = fold.less(b, a, node.operator == ">=")
        return self.together(formula, Truth(), parts)

    def is_(self, node: nodes.Binary, scope: Scope) -> Typed:
        """`is` and `is not` between names."""
        left, right = self._sides(node.left, node.right, scope, node)
        if isinstance(left.type, Unknown) or isinstance(right.type, Unknown):
            return LOST
        if not self._comparable(node, left, right):
            return LOST
        formula = fold.same(left.formula, right.formula)
        if node.operator == "is not":
            formula = negation(formula)
        return self.together(formula, Truth(), [left, right])

    def _sides(
        self, left_node: nodes.Expression, right_node: nodes.Expression, scope: Scope, node: nodes.Binary
    ) -> tuple[Typed, Typed]:
        """Both sides of `is`, each looked up among the other's values; lost after a wrong type."""
        bare = isinstance(left_node, nodes.Name) and left_node.attribute is None
        if bare and not self.is_known(left_node.base, scope):  # type: ignore[union-attr]
            right = self.lower(right_node, scope)
            left = self.lower(left_node, scope, right.type)
        else:
            left = self.lower(left_node, scope)
            right = self.lower(right_node, scope, left.type) if isinstance(left.type, Names) else LOST
        if not isinstance(left.type, Names):
            self._not_names(left_node, left, node, right_node)
            return LOST, LOST
        if not isinstance(right.type, Names):
            self._not_names(right_node, right, node, left_node)
            return LOST, LOST
        return left, right

    def _not_names(
        self, side: nodes.Expression, found: Typed, node: nodes.Expression, other: nodes.Expression
    ) -> None:
        if isinstance(found.type, Unknown):
            return
        text = text_of(side)
        negative = isinstance(node, nodes.Binary) and node.operator == "is not"
        if isinstance(found.type, Truth):
            if text_of(other) == "no":
                negative = not negative
            remedy = f"write '{'not ' if negative else ''}{text}'"
        else:
            remedy = f"write `{'!=' if negative else '='}` between numbers"
        self.draft.add(
            "wrong-comparison",
            f"'{text}' is {in_words(found.type)}; `is` and `in` compare names",
            node.at if isinstance(node, nodes.Binary) else node.span,
            remedy,
        )

    def _comparable(self, node: nodes.Expression, left: Typed, right: Typed) -> bool:
        """Two names can be equal: they share a value; a binder's member is one the other has."""
        assert isinstance(left.type, Names) and isinstance(right.type, Names)
        sides = [set(left.type.values), set(right.type.values)]
        fixed = [side.formula for side in (left, right) if isinstance(side.formula, Const)]
        possible = sides[0] & sides[1]
        if possible and (len(fixed) != 1 or fixed[0].value in possible):
            return True
        self.draft.add(
            "never-equal",
            f"'{text_of(node)}' compares {in_words(left.type)} with {in_words(right.type)}, never equal",
            node.span,
            "compare a name with one of its values, or with a name that has values in common",
        )
        return False

    def membership(self, node: nodes.Membership, scope: Scope) -> Typed:
        """`in` and `is not in`: a list, or a group by its name."""
        left = self.lower(node.left, scope)
        if not isinstance(left.type, Names):
            self._not_names(node.left, left, node, node.left)
            return LOST
        parts = []
        for member in node.members:
            group = self._as_group(member, left.type, scope)
            if group is not None:
                parts += [Typed(Const(value), left.type) for value in group if value in left.type.values]
                continue
            found = self.lower(member, scope, left.type)
            if not isinstance(found.type, Names):
                self._not_names(member, found, node, node.left)
                return LOST
            if not self._comparable(node, left, found):
                return LOST
            parts.append(found)
        formula = disjunction(*(fold.same(left.formula, part.formula) for part in parts))
        size, depth = measure([left] * len(parts) + parts)
        result = self.together(formula, Truth(), [left, *parts])
        result = replace(result, size=size + len(parts), depth=depth + 1)
        return replace(result, formula=negation(formula)) if node.negated else result

    def _as_group(self, node: nodes.Expression, values: Names, scope: Scope) -> tuple[str, ...] | None:
        """The members, if this is the name of a group (and no value or binder)."""
        if (
            not isinstance(node, nodes.Name)
            or node.indices
            or node.base in (*values.values, *scope.binders)
        ):
            return None
        members = self.draft.groups.get(node.base)
        if members is None:
            return None
        self.draft.used.add(node.base)
        if not set(members) & set(values.values):
            self.draft.add(
                "never-equal",
                f"the group '{node.base}' has no member that is one of {', '.join(values.values[:8])}",
                node.span,
                "name a group or list whose members the left side can have",
            )
        return members
