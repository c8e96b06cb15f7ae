"""Terms: the small logical language that solvers are spoken to in.

What: truth values, whole numbers and reals, with the operations of SMT-LIB's core and arithmetic
theories under their standard names. Equal terms of one `Terms` are one object, so a term is a graph
in which nothing is written twice, and comparing is `is`.

Why our own: what is proved must not depend on the solver that proves it. A term is turned into one
solver's objects (engines/solving.py), into text for another (smtlib.py), or into a value (`evaluate`).
The constructors only do what is obviously right, constants and opposites; that is enough to make an
event vanish at rest, which halves what the solvers see.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from fractions import Fraction
from typing import Literal, TypeAlias

Sort: TypeAlias = Literal["Bool", "Int", "Real"]
Figure: TypeAlias = bool | int | Fraction


class Term:
    """One term. `op` is an SMT-LIB symbol, or "var" or "const", whose name or figure is `leaf`."""

    __slots__ = ("args", "leaf", "op", "sort")

    def __init__(self, op: str, sort: Sort, args: tuple[Term, ...], leaf: str | Figure) -> None:
        self.op = op
        self.sort = sort
        self.args = args
        self.leaf = leaf

    def __repr__(self) -> str:
        if self.op in ("var", "const"):
            return str(self.leaf)
        return f"({self.op} {' '.join(map(repr, self.args))})"


class Terms:
    """Makes terms.

    >>> t = Terms()
    >>> x, y = t.var("x", "Bool"), t.var("y", "Bool")
    >>> t.all(x, y, t.negation(x))
    False
    >>> t.choose(x, t.true, y)
    (or x y)
    """

    def __init__(self) -> None:
        self._known: dict[tuple[object, ...], Term] = {}
        self.true = self.const(True)
        self.false = self.const(False)
        self.zero = self.const(Fraction(0))

    def _make(self, op: str, sort: Sort, *args: Term) -> Term:
        key = (op, *map(id, args))
        known = self._known.get(key)
        if known is None:
            known = self._known[key] = Term(op, sort, args, "")
        return known

    def _leaf(self, op: str, sort: Sort, leaf: str | Figure) -> Term:
        key = (op, sort, leaf)
        known = self._known.get(key)
        if known is None:
            known = self._known[key] = Term(op, sort, (), leaf)
        return known

    # ----------------------------------------------------------------- leaves

    def var(self, name: str, sort: Sort) -> Term:
        """A variable."""
        return self._leaf("var", sort, name)

    def const(self, value: Figure) -> Term:
        """A constant; a Fraction is a real, an int is whole."""
        if isinstance(value, bool):
            return self._leaf("const", "Bool", value)
        return self._leaf("const", "Int" if isinstance(value, int) else "Real", value)

    def figure(self, value: bool | Fraction) -> Term:
        """A figure of a spec; one that is whole is an Int."""
        whole = isinstance(value, Fraction) and value.denominator == 1
        return self.const(int(value) if whole else value)

    # ----------------------------------------------------------------- truth

    def negation(self, part: Term) -> Term:
        """Not this."""
        if part.op == "const":
            return self.const(not part.leaf)
        return part.args[0] if part.op == "not" else self._make("not", "Bool", part)

    def all(self, *parts: Term) -> Term:
        """All of these."""
        return self._join("and", self.true, self.false, parts)

    def any(self, *parts: Term) -> Term:
        """At least one of these."""
        return self._join("or", self.false, self.true, parts)

    def _join(self, op: str, neutral: Term, absorbing: Term, parts: Iterable[Term]) -> Term:
        flat: dict[int, Term] = {}
        for part in parts:
            for inner in part.args if part.op == op else (part,):
                if inner is absorbing or id(self.negation(inner)) in flat:
                    return absorbing
                if inner is not neutral:
                    flat[id(inner)] = inner
        if not flat:
            return neutral
        first, *others = flat.values()
        return self._make(op, "Bool", first, *others) if others else first

    def implies(self, left: Term, right: Term) -> Term:
        """If left, then right."""
        return self.any(self.negation(left), right)

    def at_most_one(self, parts: Iterable[Term]) -> Term:
        """No two of these."""
        listed = tuple(parts)
        return self.all(
            *(
                self.negation(self.all(one, other))
                for number, one in enumerate(listed)
                for other in listed[:number]
            )
        )

    def choose(self, condition: Term, then: Term, other: Term) -> Term:
        """`then` if condition, else `other`; of truth values or numbers."""
        if condition is self.true or then is other:
            return then
        if condition is self.false:
            return other
        if then.sort == "Bool":
            if then.op == "const" or other.op == "const" or then is condition or other is condition:
                return self.all(self.any(self.negation(condition), then), self.any(condition, other))
        else:
            then, other = self._alike(then, other)
        return self._make("ite", then.sort, condition, then, other)

    def same(self, left: Term, right: Term) -> Term:
        """Equality."""
        if left.sort == "Bool":
            for one, other in ((left, right), (right, left)):
                if one.op == "const":
                    return other if one.leaf else self.negation(other)
            if left is right:
                return self.true
            if left is self.negation(right):
                return self.false
            return self._make("=", "Bool", left, right)
        left, right = self._alike(left, right)
        if left is right or (left.op == right.op == "const"):
            return self.const(left.leaf == right.leaf)
        return self._make("=", "Bool", left, right)

    # ----------------------------------------------------------------- numbers

    def real(self, part: Term) -> Term:
        """A number as a real."""
        if part.sort == "Real":
            return part
        if part.op == "const":
            assert not isinstance(part.leaf, str)
            return self.const(Fraction(part.leaf))
        return self._make("to_real", "Real", part)

    def _alike(self, left: Term, right: Term) -> tuple[Term, Term]:
        if left.sort == right.sort:
            return left, right
        return self.real(left), self.real(right)

    def below(self, left: Term, right: Term, or_equal: bool = False) -> Term:
        """`left < right`, or `left <= right`."""
        left, right = self._alike(left, right)
        if left is right:
            return self.const(or_equal)
        if left.op == right.op == "const":
            assert not isinstance(left.leaf, str) and not isinstance(right.leaf, str)
            return self.const(left.leaf < right.leaf or (or_equal and left.leaf == right.leaf))
        return self._make("<=" if or_equal else "<", "Bool", left, right)

    def add(self, *parts: Term) -> Term:
        """The sum; of none 0."""
        if any(part.sort == "Real" for part in parts):
            parts = tuple(map(self.real, parts))
        flat = [inner for part in parts for inner in (part.args if part.op == "+" else (part,))]
        kept = [part for part in flat if part.op != "const"]
        total = sum(part.leaf for part in flat if part.op == "const")  # type: ignore[misc]
        if total or not kept:
            whole = all(part.sort == "Int" for part in flat) and bool(flat)
            kept.append(self.const(int(total) if whole else Fraction(total)))
        return kept[0] if len(kept) == 1 else self._make("+", kept[0].sort, *kept)

    def multiply(self, left: Term, right: Term) -> Term:
        """The product."""
        left, right = self._alike(left, right)
        for one, other in ((left, right), (right, left)):
            if one.op == "const":
                if other.op == "const":
                    return self.const(one.leaf * other.leaf)  # type: ignore[operator,arg-type]
                if one.leaf == 0:
                    return one
                if one.leaf == 1:
                    return other
        return self._make("*", left.sort, left, right)

    def is_whole(self, part: Term) -> Term:
        """Whether a number is whole."""
        if part.sort == "Int" or part.op == "to_real":
            return self.true
        if part.op == "const":
            return self.const(Fraction(part.leaf).denominator == 1)
        return self._make("is_int", "Bool", part)

    def whole(self, part: Term) -> Term:
        """A number that is whole, as a whole number."""
        if part.sort == "Int":
            return part
        if part.op == "to_real":
            return part.args[0]
        if part.op == "const":
            return self.const(int(Fraction(part.leaf)))
        return self._make("to_int", "Int", part)

    # ----------------------------------------------------------------- rebuilding

    def rebuild(self, term: Term, args: tuple[Term, ...]) -> Term:
        """The same operation on other parts, simplified again."""
        match term.op:
            case "not":
                return self.negation(args[0])
            case "and":
                return self.all(*args)
            case "or":
                return self.any(*args)
            case "ite":
                return self.choose(*args)
            case "=":
                return self.same(*args)
            case "<" | "<=":
                return self.below(args[0], args[1], term.op == "<=")
            case "+":
                return self.add(*args)
            case "*":
                return self.multiply(*args)
            case "to_real":
                return self.real(args[0])
            case "is_int":
                return self.is_whole(args[0])
            case "to_int":
                return self.whole(args[0])
        return term

    def substitute(self, roots: Iterable[Term], by: Mapping[str, Term]) -> list[Term]:
        """The terms with variables, by name, replaced."""
        done: dict[int, Term] = {}
        roots = tuple(roots)
        for term in subterms(roots):
            if term.op == "var":
                done[id(term)] = by.get(str(term.leaf), term)
            elif not term.args:
                done[id(term)] = term
            else:
                args = tuple(done[id(arg)] for arg in term.args)
                same = all(a is b for a, b in zip(args, term.args, strict=True))
                done[id(term)] = term if same else self.rebuild(term, args)
        return [done[id(root)] for root in roots]


def subterms(roots: Iterable[Term]) -> Iterator[Term]:
    """Every different part of these terms once, parts before what they are part of."""
    seen: set[int] = set()
    for root in roots:
        stack = [(root, False)]
        while stack:
            term, done = stack.pop()
            if done:
                yield term
            elif id(term) not in seen:
                seen.add(id(term))
                stack.append((term, True))
                stack.extend((arg, False) for arg in reversed(term.args))


def variables(*roots: Term) -> dict[str, Term]:
    """The variables of these terms by name, in the order in which they are met."""
    return {str(term.leaf): term for term in subterms(roots) if term.op == "var"}


def evaluate(root: Term, values: Mapping[str, Figure]) -> Figure:
    """The value of a term."""
    return evaluated([root], values)[id(root)]


def evaluated(roots: Iterable[Term], values: Mapping[str, Figure]) -> dict[int, Figure]:
    """The values of terms and of all their parts, by the id of each."""
    done: dict[int, Figure] = {}
    for term in subterms(roots):
        done[id(term)] = _value(term, [done[id(arg)] for arg in term.args], values)
    return done


def _value(term: Term, args: list[Figure], values: Mapping[str, Figure]) -> Figure:
    match term.op:
        case "var":
            return values[str(term.leaf)]
        case "not":
            return not args[0]
        case "and":
            return all(args)
        case "or":
            return any(args)
        case "ite":
            return args[1] if args[0] else args[2]
        case "=":
            return args[0] == args[1]
        case "<":
            return args[0] < args[1]
        case "<=":
            return args[0] <= args[1]
        case "+":
            return sum(args)
        case "*":
            return args[0] * args[1]
        case "to_real":
            return Fraction(args[0])
        case "is_int":
            return Fraction(args[0]).denominator == 1
        case "to_int":
            return Fraction(args[0]).__floor__()
    assert not isinstance(term.leaf, str)
    return term.leaf
