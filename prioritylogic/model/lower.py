"""Lowering: an expression of the syntax tree becomes a typed, flat formula.

Operators are here; names are in `lookup.py`, functions in `calls.py`, the three make one class. An
expression is lowered afresh for each member and each reading machine, since binders become constants
and own names mean their value as the reaction starts. Every fault is noted where it is; what it
spoils becomes `LOST`, which nothing complains about again.

Text can be hostile: depth, the size of one formula and the work of a whole spec are bounded.
"""

from __future__ import annotations

from dataclasses import replace

from prioritylogic.errors import Span, did_you_mean
from prioritylogic.model import fold
from prioritylogic.model.compare import Comparisons
from prioritylogic.model.draft import Scope
from prioritylogic.model.formula import FALSE, Const, TimedRead, negation
from prioritylogic.model.lookup import MAX_DEPTH, MAX_SIZE, MAX_WORK
from prioritylogic.model.system import Cases, TimedCondition
from prioritylogic.model.types import (
    LOST,
    Names,
    Quantity,
    Truth,
    Type,
    Typed,
    Unknown,
    denied,
    in_words,
)
from prioritylogic.model.units import UNITS, power, unit
from prioritylogic.syntax import nodes
from prioritylogic.syntax.show import text_of


class Lowering(Comparisons):
    """Expressions to formulas, for one draft."""

    def lower(self, node: nodes.Expression, scope: Scope, expected: Type | None = None) -> Typed:
        """The expression, typed and flat.

        Args:
            node: what is written.
            scope: its binders, and who reads it.
            expected: the type of the other side, whose values names are looked up in first.

        Returns:
            The formula with its type; LOST after a fault, which is noted in the draft.
        """
        self.work += 1
        if self.work > MAX_WORK or self.depth > MAX_DEPTH:
            self._too_large(
                node.span, "is nested too deeply" if self.depth > MAX_DEPTH else "goes on too long"
            )
            return LOST
        self.depth += 1
        found = self._lower(node, scope, expected)
        self.depth -= 1
        if found.size > MAX_SIZE or found.depth > 2 * MAX_DEPTH:
            self._too_large(node.span, "becomes too large a formula")
            return LOST
        return found

    def _too_large(self, span: Span, what: str) -> None:
        """Say so once: after the first, most others follow from it."""
        if not self.gave_up:
            self.draft.add(
                "too-large",
                f"this {what} once groups and terms are expanded",
                span,
                "use smaller groups, fewer binders, or memory for what is worked out again and again",
            )
        self.gave_up = True

    def _lower(self, node: nodes.Expression, scope: Scope, expected: Type | None) -> Typed:
        match node:
            case nodes.Name():
                return self.name(node, scope, expected)
            case nodes.Number():
                return self._number(node)
            case nodes.Binary():
                return self._binary(node, scope)
            case nodes.Membership():
                return self.membership(node, scope)
            case nodes.Unary(operator="not"):
                part = self.truth(node.operand, scope)
                return LOST if isinstance(part.type, Unknown) else denied(part, negation(part.formula))
            case nodes.Unary():
                part = self.quantity(node.operand, scope)
                return (
                    part
                    if isinstance(part.type, Unknown)
                    else replace(part, formula=fold.minus(part.formula))
                )
            case nodes.IfElse():
                return self._if_else(node, scope, expected)
            case nodes.Call():
                return self.call(node, scope, expected)
            case nodes.Aggregate():
                return self.aggregate(node, scope)
            case nodes.Timed():
                return self._timed(node, scope)

    def _number(self, node: nodes.Number) -> Typed:
        if node.unit is None:
            dimension = None if node.value == 0 else (0, 0, 0, 0)
            return Typed(Const(node.value), Quantity(dimension, node.value.denominator == 1))
        found = unit(node.unit)
        if found is None:
            self.draft.add(
                "unknown-unit",
                f"no unit is '{node.unit}'",
                node.span,
                did_you_mean(node.unit, UNITS, f"units are {', '.join(UNITS)}"),
            )
            return LOST
        return Typed(Const(node.value * found.factor), Quantity(found.dimension, False, node.unit))

    def _arithmetic(self, node: nodes.Binary, scope: Scope) -> Typed:
        left, right = self.quantity(node.left, scope), self.quantity(node.right, scope)
        if not isinstance(left.type, Quantity) or not isinstance(right.type, Quantity):
            return LOST
        if node.operator in "+-":
            result = self.common([(node.left, left), (node.right, right)])
            if result is None:
                return LOST
            second = right.formula if node.operator == "+" else fold.minus(right.formula)
            return self.together(fold.add(left.formula, second), result, [left, right])
        if node.operator == "/":
            divisor = fold.number(right.formula)
            if not divisor:
                self.draft.add(
                    "bad-division",
                    f"'{text_of(node.right)}' is {'0' if divisor == 0 else 'not constant'}; "
                    "only a constant other than 0 can divide",
                    node.right.span,
                    "multiply the other side of the comparison instead",
                )
                return LOST
            formula = fold.multiply(left.formula, Const(1 / divisor))
        else:
            formula = fold.multiply(left.formula, right.formula)
        return self.together(formula, _product(left.type, right.type, node.operator), [left, right])

    def _binary(self, node: nodes.Binary, scope: Scope) -> Typed:
        match node.operator:
            case "and" | "or":
                parts = [self.truth(n, scope) for n in _spine(node)]
                if any(isinstance(p.type, Unknown) for p in parts):
                    return LOST
                return self.conjoin(parts) if node.operator == "and" else self.disjoin(parts)
            case "implies":
                left, right = self.truth(node.left, scope), self.truth(node.right, scope)
                if isinstance(left.type, Unknown) or isinstance(right.type, Unknown):
                    return LOST
                return self.disjoin([denied(left, negation(left.formula)), right])
            case "is" | "is not":
                return self.is_(node, scope)
            case "+" | "-" | "*" | "/":
                return self._arithmetic(node, scope)
            case _:
                return self.compare(node, scope)

    def _if_else(self, node: nodes.IfElse, scope: Scope, expected: Type | None) -> Typed:
        condition = self.truth(node.condition, scope)
        then = self.lower(node.then, scope, expected)
        other = self.lower(node.other, scope, expected if expected is not None else then.type)
        if any(isinstance(p.type, Unknown) for p in (condition, then, other)):
            return LOST
        return self.either_of(condition, (node.then, then), (node.other, other))

    def either_of(
        self,
        condition: Typed,
        first: tuple[nodes.Expression, Typed],
        second: tuple[nodes.Expression, Typed],
    ) -> Typed:
        """`first if condition else second`, of one type."""
        then, other = first[1], second[1]
        formula = fold.choose(condition.formula, then.formula, other.formula)
        result: Type | None
        match then.type, other.type:
            case Quantity(), Quantity():
                result = self.common([first, second])
            case Names(a), Names(b):
                result = Names(tuple(dict.fromkeys(a + b)))
            case Truth(), Truth():
                opposite = denied(condition, negation(condition.formula))
                if isinstance(condition.formula, Const):
                    return then if condition.formula.value else other
                whole = self.disjoin([self.conjoin([condition, then]), self.conjoin([opposite, other])])
                return replace(whole, formula=formula)
            case _:
                self.draft.add(
                    "wrong-type",
                    f"'{text_of(first[0])}' is {in_words(then.type)}, "
                    f"but '{text_of(second[0])}' is {in_words(other.type)}",
                    second[0].span,
                    "let all branches give the same kind of value",
                )
                result = None
        return LOST if result is None else self.together(formula, result, [condition, then, other])

    def _timed(self, node: nodes.Timed, scope: Scope) -> Typed:
        own = self._timed_operand(node, scope)
        now = (
            own
            if scope.reader is None and not scope.before
            else self._timed_operand(node, Scope(scope.binders))
        )
        time = self.duration(node.duration, scope, positive=True)
        if isinstance(own.type, Unknown) or isinstance(now.type, Unknown) or time is None:
            return LOST
        if own.formula == FALSE:
            return Typed(FALSE, Truth())
        key = (node.kind, now.formula, time)
        if key not in self.draft.timers:
            self.draft.timers[key] = len(self.draft.timed)
            timed = TimedCondition(node.kind, now.formula, time, True, text_of(node), node.span)
            self.draft.timed.append(timed)
        formula = TimedRead(self.draft.timers[key], own.formula)
        return Typed(formula, Truth(), size=own.size + 1, depth=own.depth + 1)

    def _timed_operand(self, node: nodes.Timed, scope: Scope) -> Typed:
        if node.kind == "for":
            remedy = "an event lasts no time; write `within last`, or name a condition"
            return self.condition(node.operand, scope, "`for`", remedy)
        return self.truth(node.operand, scope)

    def table(self, cases: tuple[nodes.Case, ...], scope: Scope, name: str, place: nodes.Entry) -> Typed:
        """A table of cases as nested choices: the first true case wins."""
        lines = self._lines(cases)
        if not lines:
            return LOST
        values_type = self._values_of([value for _, value in lines], scope)
        whens = [self.truth(when, scope) for when, _ in lines if when is not None]
        values = [(value, self.lower(value, scope, values_type)) for _, value in lines]
        if any(isinstance(p.type, Unknown) for p in (*whens, *(v for _, v in values))):
            return LOST
        if scope.reader is None and not scope.before:
            spans = tuple(case.span for case in cases)
            formulas = tuple(w.formula for w in whens)
            self.draft.cases[name] = Cases(
                name, formulas, tuple(v.formula for _, v in values), spans, place.span
            )
        result = values[-1][1]
        node = values[-1][0]
        for when, value in reversed(list(zip(whens, values[: len(lines) - 1], strict=False))):
            result = self.either_of(when, value, (node, result))
            if isinstance(result.type, Unknown):
                return LOST
        return result

    def _lines(
        self, cases: tuple[nodes.Case, ...]
    ) -> list[tuple[nodes.Expression | None, nodes.Expression]]:
        """The lines as (when, value); of `otherwise` the first part is None. Empty after a fault."""
        lines: list[tuple[nodes.Expression | None, nodes.Expression]] = []
        for at, case in enumerate(cases):
            last = at == len(cases) - 1
            if case.otherwise is not None and case.when is None and case.is_ is None and last and at:
                lines.append((None, case.otherwise))
            elif case.otherwise is None and case.when is not None and case.is_ is not None:
                lines.append((case.when, case.is_))
            else:
                self.draft.add(
                    "bad-cases",
                    "a line of cases is `when` with `is`, or, as the last of several, `otherwise`",
                    case.span,
                    "write `- when: C` with `is: V` below it, and `- otherwise: V` at the end",
                )
                return []
        return lines

    def _values_of(self, values: list[nodes.Expression], scope: Scope) -> Type | None:
        """What the values of a table are: words that mean nothing else make up a list of names."""
        words = [v for v in values if isinstance(v, nodes.Name) and not v.indices and not v.attribute]
        free = [v.base for v in words if not self.is_known(v.base, scope)]
        if free and set(free) <= {"yes", "no"}:
            return Truth()
        return Names(tuple(dict.fromkeys(free))) if free else None


def _spine(node: nodes.Binary) -> list[nodes.Expression]:
    """The operands of a chain of one operator, left to right."""
    found: list[nodes.Expression] = []
    left: nodes.Expression = node
    while isinstance(left, nodes.Binary) and left.operator == node.operator:
        found.append(left.right)
        left = left.left
    return [left, *reversed(found)]


def _product(left: Quantity, right: Quantity, operator: str) -> Quantity:
    whole = left.whole and right.whole and operator == "*"
    if left.dimension is None or right.dimension is None:
        return Quantity(None, whole)
    dimension = power(left.dimension, right.dimension, 1 if operator == "*" else -1)
    keeps = next((q.unit for q in (left, right) if q.unit and q.dimension == dimension), "")
    return Quantity(dimension, whole, keeps if operator == "*" or keeps == left.unit else "")
