"""The functions of the expression grammar: what each means, as formulas.

Every function is a method of its name; lists (`min(x, y)`) and runs over a group (`min(x[c] over c in
cabin)`) end in the same method. How a function may be written is checked by the reader of syntax.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

from prioritylogic.errors import Span, did_you_mean
from prioritylogic.model import fold
from prioritylogic.model.draft import Scope
from prioritylogic.model.formula import (
    AlertRead,
    Const,
    Formula,
    Read,
    Same,
    Taken,
    TimedRead,
    begins,
    conjunction,
    earlier,
    negation,
    walk,
)
from prioritylogic.model.operands import Operands, measure
from prioritylogic.model.types import (
    LOST,
    Names,
    Quantity,
    Truth,
    Type,
    Typed,
    Unknown,
)
from prioritylogic.syntax import nodes
from prioritylogic.syntax.show import text_of

ZERO, ONE = Const(Fraction(0)), Const(Fraction(1))


class Calls(Operands):
    """Functions."""

    def aggregate(self, node: nodes.Aggregate, scope: Scope) -> Typed:
        """`any(E over c in group)`."""
        scopes = self.expand(node.binders, node.where, scope)
        if scopes is None:
            return LOST
        return self._run(node.function, [(node.body, inner) for inner in scopes], node.span)

    def call(self, node: nodes.Call, scope: Scope, expected: Type | None) -> Typed:
        """A function of its arguments."""
        if node.function in ("any", "all", "count", "sum", "min", "max"):
            return self._run(node.function, [(a, scope) for a in node.arguments], node.span)
        if node.function == "other":
            return self._other(node, scope, expected)
        functions: dict[str, Callable[[nodes.Call, Scope], Typed]] = {
            "begins": self._begins,
            "ends": self._ends,
            "before": self._before,
            "changed": self._changed,
            "pressed": self._pressed,
            "released": self._pressed,
            "taken": self._taken,
            "abs": self._abs,
            "clamp": self._clamp,
        }
        return functions[node.function](node, scope)

    def _run(self, function: str, items: list[tuple[nodes.Expression, Scope]], span: Span) -> Typed:
        if function in ("any", "all", "count"):
            parts = [self.truth(node, scope) for node, scope in items]
            if any(isinstance(p.type, Unknown) for p in parts):
                return LOST
            if function == "any":
                return self.disjoin(parts)
            if function == "all":
                return self.conjoin(parts)
            counted = [fold.choose(p.formula, ONE, ZERO) for p in parts]
            return self.together(fold.add(*counted), Quantity(whole=True), parts)
        parts = [self.quantity(node, scope) for node, scope in items]
        if not parts and function != "sum":
            self.draft.add(
                "nothing-to-compare",
                f"`{function}` of nothing has no value",
                span,
                "let the group or `where` leave at least one member",
            )
            return LOST
        if not parts:
            return Typed(ZERO, Quantity(None, whole=True))
        result = self.common([(node, part) for (node, _), part in zip(items, parts, strict=True)])
        if result is None:
            return LOST
        build = {"sum": fold.add, "min": fold.least, "max": fold.greatest}[function]
        return self.together(build(*(p.formula for p in parts)), result, parts)

    def _abs(self, node: nodes.Call, scope: Scope) -> Typed:
        part = self.quantity(node.arguments[0], scope)
        if isinstance(part.type, Unknown):
            return LOST
        formula = fold.greatest(part.formula, fold.minus(part.formula))
        return self.together(formula, part.type, [part, part])

    def _clamp(self, node: nodes.Call, scope: Scope) -> Typed:
        pairs = [(argument, self.quantity(argument, scope)) for argument in node.arguments]
        result = self.common(pairs)
        if result is None:
            return LOST
        value, low, high = (part for _, part in pairs)
        bottom, top = fold.number(low.formula), fold.number(high.formula)
        if bottom is not None and top is not None and bottom > top:
            self.draft.add(
                "bad-range",
                f"'{text_of(node)}' has its lowest value above its highest",
                node.span,
                "write `clamp(x, lowest, highest)`",
            )
            return LOST
        formula = fold.greatest(low.formula, fold.least(value.formula, high.formula))
        return self.together(formula, result, [value, low, high])

    def _other(self, node: nodes.Call, scope: Scope, expected: Type | None) -> Typed:
        argument = node.arguments[0]
        found = self.lower(argument, scope, expected if isinstance(expected, Names) else None)
        if isinstance(found.type, Unknown):
            return LOST
        groups = [set(g) for g in self.draft.groups.values()]
        if (
            not isinstance(found.type, Names)
            or len(found.type.values) != 2
            or set(found.type.values) not in groups
        ):
            self.draft.add(
                "wrong-arguments",
                f"`other` needs a member of a group of two, and '{text_of(argument)}' is none",
                argument.span,
                "use a binder with `where d is not c` instead",
            )
            return LOST
        first, second = found.type.values
        formula = fold.choose(fold.same(found.formula, Const(first)), Const(second), Const(first))
        return self.together(formula, found.type, [found])

    def _before(self, node: nodes.Call, scope: Scope) -> Typed:
        argument = node.arguments[0]
        if scope.before:
            self.draft.add(
                "nested-before",
                f"'{text_of(node)}' stands inside another `before`",
                node.span,
                "only one reaction back can be asked; remember older values in memory",
            )
            return LOST
        found = self.lower(argument, replace(scope, before=True))
        if isinstance(found.type, Unknown):
            return LOST
        if found.kind != "condition":
            self.draft.add(
                "event-not-allowed",
                f"'{text_of(argument)}' holds an event, which has no value before a reaction",
                argument.span,
                "write `before` around names, not around events",
            )
            return LOST
        return replace(found, formula=earlier(found.formula))

    def _begins(self, node: nodes.Call, scope: Scope) -> Typed:
        return self._edge(node, scope, begins)

    def _ends(self, node: nodes.Call, scope: Scope) -> Typed:
        return self._edge(node, scope, lambda f: conjunction(negation(f), earlier(f)))

    def _edge(self, node: nodes.Call, scope: Scope, build: Callable[[Formula], Formula]) -> Typed:
        argument = node.arguments[0]
        remedy = "an event has no beginning of its own; write the event itself"
        found = self.condition(argument, scope, f"`{node.function}`", remedy)
        if isinstance(found.type, Unknown) or self._stands_still(node, found, scope):
            return LOST
        size, depth = measure([found, found])
        return Typed(build(found.formula), Truth(), "event", "condition", size, depth + 1)

    def _stands_still(self, node: nodes.Call, found: Typed, scope: Scope) -> bool:
        """Whether the operand reads only values as the reaction starts: then nothing can begin."""
        reads = [p for p in walk(found.formula) if isinstance(p, Read | TimedRead | AlertRead | Taken)]
        if not reads or not all(isinstance(p, Read | AlertRead | TimedRead) and p.before for p in reads):
            return False
        if scope.reader is None:
            why, remedy = "reads only values before the reaction", "leave out `before`"
        else:
            why = f"reads only what stands still in the rules of '{scope.reader.machine}'"
            remedy = (
                "inside a machine its own state and memory mean their value as the reaction starts; "
                "use `after:` for a stay, or `taken(...)` in another machine"
            )
            machine = self.draft.drafts[scope.reader.machine]
            own = {machine.name, *machine.writes}
            if any(isinstance(part, Read) and part.name not in own for part in reads):
                why += ": machines that are `interleaved` move one at a time"
                remedy = (
                    "read the state that the other machine leaves behind, or take one of the two out of "
                    "`interleaved`"
                )
        self.draft.add("never-begins", f"'{text_of(node)}' is never true: it {why}", node.span, remedy)
        return True

    def _changed(self, node: nodes.Call, scope: Scope) -> Typed:
        argument = node.arguments[0]
        found = self.lower(argument, scope)
        if isinstance(found.type, Unknown):
            return LOST
        if found.kind != "condition":
            self.draft.add(
                "event-not-allowed",
                f"'{text_of(argument)}' holds an event; `changed` needs a value that lasts",
                argument.span,
                "write the event itself",
            )
            return LOST
        if self._stands_still(node, found, scope):
            return LOST
        formula = negation(Same(found.formula, earlier(found.formula)))
        size, depth = measure([found, found])
        return Typed(formula, Truth(), "event", "condition", size + 1, depth + 1)

    def _pressed(self, node: nodes.Call, scope: Scope) -> Typed:
        argument = node.arguments[0]
        found = self.lower(argument, scope, Truth())
        if isinstance(found.type, Unknown):
            return LOST
        if not isinstance(found.type, Truth) or not found.type.button:
            word = "begins" if node.function == "pressed" else "ends"
            self.draft.add(
                "wrong-arguments",
                f"only a button can be {node.function}; '{text_of(argument)}' is none",
                argument.span,
                f"write '{word}({text_of(argument)})'"
                if isinstance(found.type, Truth)
                else f"compare it with a value inside `{word}(...)`",
            )
            return LOST
        now, was = found.formula, earlier(found.formula)
        formula = conjunction(now, negation(was))
        if node.function == "released":
            formula = conjunction(negation(now), was)
        return Typed(formula, Truth(), "event", "condition", 2 * found.size + 2, found.depth + 2)

    def _taken(self, node: nodes.Call, scope: Scope) -> Typed:
        argument = node.arguments[0]
        assert isinstance(argument, nodes.Name)
        rules = self.rules(argument, scope)
        if rules is None:
            return LOST
        reader = scope.reader
        if reader is not None and not scope.before and any(rule in reader.untakeable for rule in rules):
            self.draft.add(
                "own-rule",
                f"'{text_of(node)}' cannot be asked in the rules of '{reader.machine}': it is not known "
                "there which of these rules is taken, or it is never true",
                node.span,
                "read the state or memory that the rule leaves behind, or write "
                f"'before({text_of(node)} within last ...)'",
            )
            return LOST
        return Typed(Taken(rules), Truth(), "event", "condition")

    def rules(self, node: nodes.Name, scope: Scope) -> tuple[str, ...] | None:
        """The rule instances that a name means: a family, or one of its members.

        Memory that is an index of what the rule sets may be left out.
        """
        family = self.draft.families.get(node.base)
        if family is None or node.attribute is not None:
            self.draft.add(
                "unknown-rule",
                f"no rule has the id '{text_of(node)}'",
                node.span,
                did_you_mean(node.base, self.draft.families, "name the `id` of a rule"),
            )
            return None
        if not node.indices or not family:
            return tuple(rule.id for rule in family)
        columns = zip(*(rule.members for rule in family), strict=True)
        groups = [tuple(dict.fromkeys(column)) for column in columns]
        bound = len(groups) - len(family[0].known)
        if len(node.indices) == bound:
            del groups[bound:]
        indices = self.indices(node, groups, scope)
        if indices is None:
            return None
        members = tuple(str(i.formula.value) for i in indices if isinstance(i.formula, Const))
        found = tuple(rule.id for rule in family if rule.members[: len(groups)] == members)
        if found:
            return found
        self.draft.add(
            "unknown-rule",
            f"no rule is '{text_of(node)}'",
            node.span,
            f"its members are {', '.join(rule.id for rule in family[:8])}",
        )
        return None
