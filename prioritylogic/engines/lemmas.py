"""Facts about states in the spec's own words, there and back.

A solver's invariant is only worth what a person can read of it, and only what is written down is
proved again. A fact is written in the notation of expressions, over the spec's names and a few more:

    command.time            how long the machine has been in its state
    command.over1           the first (second ...) of its delays has run out in this stay
    alert.since             since it last sounded; alert.silenced, alert.silence: its silence
    RULE.clock              the clock of a rule with `takes`; RULE.counting: it runs
    timer0.time, .done      the first timed condition of the spec ...
    asked, asked.time       the requirement waits for something, and for how long

>>> # lemmas.written(fact)  ->  "asked implies asked.time <= command.time"
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from fractions import Fraction
from functools import reduce
from math import gcd, lcm

from prioritylogic.engines.transition import Transition
from prioritylogic.errors import NOWHERE, LimitError, Problems, Span, did_you_mean
from prioritylogic.model.system import Input, Memory, OneOf, Real, System
from prioritylogic.model.units import PLAIN, Dimension, unit
from prioritylogic.semantics.parametric import ParametricTerms
from prioritylogic.semantics.terms import Term, Terms
from prioritylogic.syntax import nodes
from prioritylogic.syntax.expressions import parse
from prioritylogic.syntax.show import text_of

SECONDS = ("s", Fraction(1))
OPPOSITES: Mapping[str, nodes.Operator] = {"<": ">=", "<=": ">", ">": "<=", ">=": "<", "=": "!="}


class Lemmas:
    """Writes and reads facts over the variables of one transition."""

    def __init__(self, transition: Transition) -> None:
        self.terms: Terms = transition.terms
        self.variables = transition.everything
        self._lost = self.terms.var("?", "Bool")  # what could not be read, and was complained about
        self._values = _values(transition.system)
        clocks = {name: SECONDS for name, v in self.variables.items() if v.sort == "Real"}
        self._units = clocks | _units(transition.system)
        if isinstance(transition.terms, ParametricTerms):
            self._units[str(transition.terms.setting.leaf)] = transition.terms.unit

    # ----------------------------------------------------------------- writing

    def written(self, fact: Term) -> str:
        """A fact as an expression.

        Raises:
            LimitError: it holds something that the notation has no words for.
        """
        return text_of(self._said(fact))

    def _said(self, fact: Term) -> nodes.Expression:
        match fact.op:
            case "or":
                causes = [part.args[0] for part in fact.args if part.op == "not"]
                effects = [part for part in fact.args if part.op != "not"]
                if causes and effects:
                    said = _joined("and", [self._said(cause) for cause in causes])
                    return _binary("implies", said, self._either(effects))
                if causes:
                    *others, last = map(self._said, causes)
                    return _binary("implies", _joined("and", others), self._opposite(last))
                return self._either(effects)
            case "and":
                return _joined("and", [self._said(part) for part in fact.args])
            case "not" if fact.args[0].op == "and":
                parts = map(self.terms.negation, fact.args[0].args)
                return self._said(self.terms.any(*parts))
            case "not":
                return self._opposite(self._said(fact.args[0]))
            case "ite":
                condition, then, other = map(self._said, fact.args)
                return nodes.IfElse(NOWHERE, condition, then, other)
            case "=" if fact.args[0].sort == "Bool":
                t, (left, right) = self.terms, fact.args
                return self._said(t.all(t.implies(left, right), t.implies(right, left)))
            case "=" | "<" | "<=":
                return self._compared(fact)
            case "var" if fact.sort == "Bool":
                return parse("expression", str(fact.leaf))  # type: ignore[no-any-return]
            case "const" if fact.sort == "Bool":
                zero = nodes.Number(NOWHERE, Fraction(0), None)
                return _binary("=" if fact.leaf else "!=", zero, zero)
        raise LimitError("the invariant that was found has no words in the notation")

    def _either(self, parts: list[Term]) -> nodes.Expression:
        """At least one of these; `x is a or x is b` as `x in (a, b)`."""
        said = [self._said(part) for part in parts]
        names: dict[str, list[nodes.Expression]] = {}
        for each in said:
            if isinstance(each, nodes.Binary) and each.operator == "is":
                names.setdefault(text_of(each.left), []).append(each.right)
        joined: list[nodes.Expression] = []
        for each in said:
            if isinstance(each, nodes.Binary) and each.operator == "is":
                members = names.pop(text_of(each.left), [])
                if not members:
                    continue
                if len(members) > 1:
                    joined.append(self._one_of(each.left, members))
                    continue
            joined.append(each)
        return _joined("or", joined)

    def _one_of(self, left: nodes.Expression, members: list[nodes.Expression]) -> nodes.Expression:
        """`x in (a, b)`, or what is left out if that is shorter."""
        given = {text_of(member) for member in members}
        others = [value for value in self._values[text_of(left)] if value not in given]
        if len(others) >= len(members) or not others:
            return nodes.Membership(NOWHERE, left, tuple(members), False)
        rest = [parse("expression", value) for value in others]
        if len(rest) == 1:
            return _binary("is not", left, rest[0])
        return nodes.Membership(NOWHERE, left, tuple(rest), True)

    def _opposite(self, said: nodes.Expression) -> nodes.Expression:
        match said:
            case nodes.Binary(_, "is", left, right):
                return _binary("is not", left, right)
            case nodes.Binary(_, operator, left, right) if operator in OPPOSITES:
                return _binary(OPPOSITES[operator], left, right)
        return nodes.Unary(NOWHERE, "not", said)

    def _compared(self, fact: Term) -> nodes.Expression:
        """`left <= right` with every figure positive, and a lone figure on the right."""
        line = _line(fact.args[1])
        for name, factor in _line(fact.args[0]).items():
            line[name] = line.get(name, Fraction(0)) - factor
        constant = line.pop("", Fraction(0))
        line = {name: factor for name, factor in line.items() if factor}
        if len({self.dimension(name) for name in line}) > 1:
            raise LimitError("the invariant that was found compares what has no common unit")
        shown = next((self._units[name] for name in line if name in self._units), ("", Fraction(1)))
        scale = Fraction(
            lcm(*(f.denominator for f in line.values())),
            reduce(gcd, (f.numerator for f in line.values()), 0) or 1,
        )
        left = [self._part(name, -factor * scale) for name, factor in line.items() if factor < 0]
        right = [self._part(name, factor * scale) for name, factor in line.items() if factor > 0]
        if constant < 0:
            left.append(_figure(-constant * scale, shown))
        if constant > 0 or not right:
            right.append(_figure(max(constant, Fraction(0)) * scale, shown))
        if not left:
            left.append(_figure(Fraction(0), shown))
        operator: nodes.Operator = "=" if fact.op == "=" else "<" if fact.op == "<" else "<="
        if all(isinstance(part, nodes.Number) for part in left):
            turned: dict[str, nodes.Operator] = {"=": "=", "<": ">", "<=": ">="}
            left, right, operator = right, left, turned[operator]
        return _binary(operator, _joined("+", left), _joined("+", right))

    def _part(self, name: str, factor: Fraction) -> nodes.Expression:
        read: nodes.Expression = parse("expression", name)
        if factor == 1:
            return read
        return _binary("*", nodes.Number(NOWHERE, factor, None), read)

    # ----------------------------------------------------------------- reading

    def read(self, text: str, name: str = "<invariant>") -> Term:
        """The fact that a text says.

        Raises:
            SpecError: it says none; with the place and a remedy.
        """
        problems = Problems()
        fact = self._read(parse("expression", text, name), problems)
        problems.stop_if_any(text)
        if fact.sort != "Bool":
            place = Span(name, 1, 1, max(1, len(text)))
            problems.add("not-a-fact", f"'{text}' is a figure", place, "compare it with something")
            problems.stop_if_any(text)
        return fact

    def _read(self, node: nodes.Expression, problems: Problems) -> Term:
        t = self.terms

        def read(part: nodes.Expression) -> Term:
            return self._read(part, problems)

        match node:
            case nodes.Number(_, value, None):
                return t.const(value)
            case nodes.Number(_, value, written):
                known = unit(str(written))
                if known is None:
                    problems.add(
                        "unknown-unit",
                        f"no unit is called '{written}'",
                        node.span,
                        "use a unit of the spec",
                    )
                    return t.zero
                return t.const(value * known.factor)
            case nodes.Binary(_, "is" | "is not", left, right):
                found = self._is(left, right, problems)
                return found if node.operator == "is" else t.negation(found)
            case nodes.Membership(_, left, members, negated):
                found = t.any(*(self._is(left, member, problems) for member in members))
                return t.negation(found) if negated else found
            case nodes.Unary(_, "not", operand):
                return t.negation(self._sorted(read(operand), True, operand, problems))
            case nodes.Unary(_, _, operand):
                return t.multiply(t.const(-1), self._sorted(read(operand), False, operand, problems))
            case nodes.IfElse(_, condition, then, other):
                chosen = self._sorted(read(condition), True, condition, problems)
                first = read(then)
                second = self._sorted(read(other), first.sort == "Bool", other, problems)
                return t.choose(chosen, first, second)
            case nodes.Name():
                return self._named(text_of(node), node, problems)
            case nodes.Binary(_, operator, left, right):
                logical = operator in ("and", "or", "implies")
                if operator not in ("and", "or", "implies", "*", "/"):
                    self._like(node, problems)
                one = self._sorted(read(left), logical, left, problems)
                other_ = self._sorted(read(right), logical, right, problems)
                return self._operated(operator, one, other_, node, problems)
        problems.add(
            "not-in-facts",
            f"'{text_of(node)}' has no place in a fact",
            node.span,
            "use names and comparisons",
        )
        return self._lost

    def _operated(
        self, operator: str, left: Term, right: Term, node: nodes.Binary, problems: Problems
    ) -> Term:
        t = self.terms
        match operator:
            case "and":
                return t.all(left, right)
            case "or":
                return t.any(left, right)
            case "implies":
                return t.implies(left, right)
            case "=":
                return t.same(left, right)
            case "!=":
                return t.negation(t.same(left, right))
            case "<" | "<=":
                return t.below(left, right, operator == "<=")
            case ">" | ">=":
                return t.below(right, left, operator == ">=")
            case "+":
                return t.add(left, right)
            case "-":
                return t.add(left, t.multiply(t.const(-1), right))
            case "*":
                return t.multiply(left, right)
        if right.op == "const" and right.leaf:
            assert not isinstance(right.leaf, str)
            return t.multiply(left, t.const(1 / Fraction(right.leaf)))
        problems.add(
            "not-in-facts", "only a figure other than 0 can divide", node.span, "write a factor instead"
        )
        return left

    def _sorted(self, term: Term, truth: bool, node: nodes.Expression, problems: Problems) -> Term:
        """The term, if it is a condition (a figure) as it must be here."""
        if (term.sort == "Bool") == truth or term is self._lost:
            return term if (term.sort == "Bool") == truth else self.terms.zero
        wanted = "a condition" if truth else "a figure"
        problems.add(
            "wrong-kind", f"'{text_of(node)}' is not {wanted}", node.span, f"write {wanted} here"
        )
        return self.terms.false if truth else self.terms.zero

    def _like(self, node: nodes.Binary, problems: Problems) -> None:
        """Notes where the two sides measure different things."""
        one, other = self._measure(node.left), self._measure(node.right)
        if one is not None and other is not None and one != other:
            wrong = f"'{text_of(node.left)}' and '{text_of(node.right)}' measure different things"
            problems.add(
                "wrong-unit", wrong, node.at, "compare and add only what has the same dimension"
            )

    def dimension(self, name: str) -> Dimension:
        """What a variable measures."""
        written, _ = self._units.get(name, ("", Fraction(1)))
        known = unit(written) if written else None
        return PLAIN if known is None else known.dimension

    def _measure(self, node: nodes.Expression) -> Dimension | None:
        """What a figure measures; None if it fits anything."""
        match node:
            case nodes.Number(_, value, None):
                return PLAIN if value else None
            case nodes.Number(_, _, written):
                known = unit(str(written))
                return None if known is None else known.dimension
            case nodes.Name():
                name = text_of(node)
                return self.dimension(name) if name in self.variables else None
            case nodes.Unary(_, "-", operand) | nodes.IfElse(_, _, operand, _):
                return self._measure(operand)
            case nodes.Binary(_, "+" | "-", left, right):
                found = self._measure(left)
                return self._measure(right) if found is None else found
            case nodes.Binary(_, "*" | "/", left, right):
                found = self._measure(left)
                return self._measure(right) if found == PLAIN else found
        return None

    def _named(self, name: str, node: nodes.Expression, problems: Problems) -> Term:
        found = self.variables.get(name)
        if found is None:
            problems.add(
                "unknown-name",
                f"nothing that a state has is called '{name}'",
                node.span,
                did_you_mean(name, self.variables, "use the spec's names of inputs, memory and alerts"),
            )
            return self._lost
        return found

    def _is(self, left: nodes.Expression, right: nodes.Expression, problems: Problems) -> Term:
        name, value = text_of(left), text_of(right)
        values = self._values.get(name)
        if values is None or value not in values:
            known = self._values if values is None else values
            problems.add(
                "unknown-name",
                f"nothing here is '{name} is {value}'",
                left.span if values is None else right.span,
                did_you_mean(name if values is None else value, known, f"known are {', '.join(known)}"),
            )
            return self._lost
        if len(values) == 1:
            return self.terms.true
        if len(values) == 2 and value == values[1]:
            return self.terms.negation(self.variables[f"{name} is {values[0]}"])
        return self.variables[f"{name} is {value}"]


def _values(system: System) -> dict[str, tuple[str, ...]]:
    """The values of everything that has names for values."""
    found = {machine.name: machine.states for machine in system.machines}
    for variable in _variables(system):
        if isinstance(variable.domain, OneOf):
            found[variable.name] = variable.domain.values
    return found


def _units(system: System) -> dict[str, tuple[str, Fraction]]:
    """The unit of each analog value."""
    return {
        variable.name: (variable.domain.unit, variable.domain.factor)
        for variable in _variables(system)
        if isinstance(variable.domain, Real)
    }


def _variables(system: System) -> list[Input | Memory]:
    return [*system.inputs, *system.memory]


def _line(term: Term) -> dict[str, Fraction]:
    """A linear term as factors by name; the constant under "".

    Raises:
        LimitError: it is not linear in the variables.
    """
    match term.op:
        case "var":
            return {str(term.leaf): Fraction(1)}
        case "const":
            assert not isinstance(term.leaf, str)
            return {"": Fraction(term.leaf)}
        case "to_real":
            return _line(term.args[0])
        case "+":
            total: dict[str, Fraction] = {}
            for part in map(_line, term.args):
                for name, factor in part.items():
                    total[name] = total.get(name, Fraction(0)) + factor
            return total
        case "*":
            one, other = map(_line, term.args)
            for scalar, line in ((one, other), (other, one)):
                if set(scalar) <= {""}:
                    return {name: factor * scalar.get("", Fraction(0)) for name, factor in line.items()}
    raise LimitError("the invariant that was found has no words in the notation")


def _figure(value: Fraction, shown: tuple[str, Fraction]) -> nodes.Number:
    name, factor = shown
    return nodes.Number(NOWHERE, value / factor if name else value, name or None)


def _binary(operator: nodes.Operator, left: nodes.Expression, right: nodes.Expression) -> nodes.Binary:
    return nodes.Binary(NOWHERE, operator, left, right, NOWHERE)


def _joined(operator: nodes.Operator, parts: Iterable[nodes.Expression]) -> nodes.Expression:
    return reduce(lambda left, right: _binary(operator, left, right), parts)
