"""Formulas in plain words.

*Is* speaks of this reaction, *was* of the moment before it; a button is *pressed* in the one
reaction in which it goes down, and *down* as long as it stays so. Quantities keep the notation of
the spec, since `clamp(a + b, -100 %, 100 %)` is clearer than any sentence about it. Terms and
outputs are recognised by their formula and called by the name that the author wrote.

Parentheses stand only where `and`, `or` and `if` would be read two ways.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

from prioritylogic.model import formula as f
from prioritylogic.model.formula import Formula
from prioritylogic.model.system import Flag, Machine, OneOf, Output, Real, System
from prioritylogic.render import numbering
from prioritylogic.render.numbering import Numbering, Segment
from prioritylogic.render.values import duration, one_of, quantity

LONGEST = 3000
ATOM, AND, OR, IF = range(4)


@dataclass(frozen=True, slots=True)
class Prose:
    """Words, and how loosely they hang together."""

    text: str
    binding: int = ATOM

    def within(self, binding: int) -> str:
        """The words, in parentheses where they would come apart."""
        return f"({self.text})" if self.binding > binding else self.text


@dataclass(frozen=True, slots=True)
class Named:
    """A term or output that a formula is equal to."""

    output: Output
    was: bool = False


class Wording:
    """Says the formulas of one System.

    Args:
        system: whose terms, outputs, timers and values are used.
        said: what the author wrote, if known; then the names in it are used, and no others.
        machine: whose rules the formulas belong to: there its own state is read as it was.
        but: a term or output that is not called by name, since its meaning is asked.
    """

    def __init__(
        self, system: System, said: str = "", machine: Machine | None = None, but: str = ""
    ) -> None:
        self.system = system
        self.number = Numbering()
        self._memo: dict[tuple[int, bool], Prose] = {}
        self._names = self._name_table(set(re.findall(r"\w+", said)), machine, but)
        self._labels = {number: named.output.name for number, named in self._names.items()}

    def _name_table(self, said: set[str], machine: Machine | None, but: str) -> dict[int, Named]:
        own = {machine.name, *(n for r in machine.rules for n, _ in r.writes)} if machine else set()

        def as_own(part: Formula) -> Formula | None:
            return f.Read(part.name, True) if isinstance(part, f.Read) and part.name in own else None

        # What the author wrote, if that is known; else the terms that shorten what they stand for.
        known = (*self.system.terms, *self.system.outputs) if said else self.system.terms
        table: dict[int, Named | None] = {}
        for output in known:
            formula = output.formula
            wanted = output.name.partition("[")[0] in said if said else not numbering.is_simple(formula)
            if output.name == but or not wanted or isinstance(formula, f.Const):
                continue
            found = {self.number(formula): Named(output)}
            past = f.earlier(formula)
            if not isinstance(past, f.Const) and not numbering.is_event(formula, self.number):
                found.setdefault(self.number(past), Named(output, was=True))
            if own:
                found.setdefault(self.number(f.replace(formula, as_own)), Named(output))
            for number, named in found.items():
                # Of two names for one thing nobody knows which was written, so neither is said.
                table[number] = named if number not in table else None
        return {number: named for number, named in table.items() if named is not None}

    # ------------------------------------------------------------------ truth

    def condition(self, formula: Formula, negated: bool = False) -> str:
        """A condition or event.

        >>> from prioritylogic.model.build import build
        >>> from prioritylogic.syntax.reader import read
        >>> text = "system: s\\ninputs: {mode: [slow, fast]}"
        >>> slow = f.Same(f.Read("mode"), f.Const("slow"))
        >>> Wording(build(read(text), text)).condition(slow, negated=True)
        'mode is not slow'
        """
        return self._say(formula, not negated).text

    def claim(self, formula: Formula, implied: bool) -> str:
        """A condition that is claimed; when `implied`, `not A or B` is said as `if A, then B`."""
        if implied and isinstance(formula, f.Some) and len(formula.parts) > 1:
            premise = self._say(formula.parts[0], False).text
            return f"if {premise}, then {self.condition(f.disjunction(*formula.parts[1:]))}"
        return self.condition(formula)

    def is_event(self, formula: Formula) -> bool:
        """Whether it is true in a reaction only."""
        return numbering.is_event(formula, self.number)

    def _say(self, formula: Formula, yes: bool) -> Prose:
        key = self.number(formula), yes
        if key not in self._memo:
            prose = self._say_anew(formula, yes)
            if len(prose.text) > LONGEST:
                prose = Prose("a condition that is too long to be said here")
            self._memo[key] = prose
        return self._memo[key]

    def _say_anew(self, formula: Formula, yes: bool) -> Prose:
        if named := self._names.get(self.number(formula)):
            return Prose(f"{named.output.name} {_verb(named.was)} {'true' if yes else 'false'}")
        match formula:
            case f.Const(value):
                return Prose("always" if value is yes else "never")
            case f.Read(name, before):
                button = self.system.domain(name) == Flag("button")
                state = ("up", "down")[yes] if button else ("no", "yes")[yes]
                return Prose(f"{name} {_verb(before)} {state}")
            case f.Not(operand):
                return self._say(operand, not yes)
            case f.All(parts):
                return self._all(parts, yes)
            case f.Some(parts):
                return self._some(parts, yes)
            case f.Same(left, right):
                return self._same(left, right, yes)
            case f.Less(left, right, or_equal):
                return self._less(left, right, or_equal, yes)
            case f.TimedRead():
                return self._timed(formula, yes)
            case f.AlertRead(alert, "sounds", _):
                return Prose(f"{alert} sounds" if yes else f"{alert} does not sound")
            case f.AlertRead(alert, what, before):
                return Prose(f"{alert} {_verb(before)} {'' if yes else 'not '}{what}")
            case f.Taken(rules):
                return Prose(f"{self.rules(rules)} is {'' if yes else 'not '}taken")
            case f.Choose(condition, then, other):
                said = (self._say(condition, True), self._say(then, yes), self._say(other, yes))
                test, first, second = (prose.within(OR) for prose in said)
                return Prose(f"if {test} then {first}, else {second}", IF)
            case _:
                return Prose(self.quantity(formula))

    def _all(self, parts: tuple[Formula, ...], yes: bool) -> Prose:
        found = list(numbering.segments(parts, self.number, self._labels))
        if len(found) == 1:
            return self._segment(found[0], yes)
        said = _joined([self._segment(piece, True) for piece in found], "and", AND)
        return said if yes else Prose(f"not ({said.text})")

    def _segment(self, piece: Segment, yes: bool) -> Prose:
        if not piece.begins:
            return self._say(piece.core, yes)
        match piece.core:
            case f.Read(name) | f.Not(f.Read(name)):
                goes = isinstance(piece.core, f.Read)
                if self.system.domain(name) == Flag("button"):
                    done = ("released", "pressed")[goes]
                    return Prose(f"{name} is {'' if yes else 'not '}{done}")
                return Prose(f"{name} {'turns' if yes else 'does not turn'} {('no', 'yes')[goes]}")
            case _:
                return self._change(piece.core, yes)

    def _change(self, core: Formula, yes: bool) -> Prose:
        """The event that something else than a yes or no begins."""
        if named := self._names.get(self.number(core)):
            return Prose(f"{named.output.name} {'becomes' if yes else 'does not become'} true")
        if isinstance(core, f.Not) and (named := self._names.get(self.number(core.operand))):
            return Prose(f"{named.output.name} {'becomes' if yes else 'does not become'} false")
        match core:
            case f.Same(f.Read(name, False), f.Const(str() as value)):
                return Prose(f"{name} {'becomes' if yes else 'does not become'} {value}")
            case f.Not(f.Same(f.Read(name, False), f.Const(str() as value))):
                return Prose(f"{name} {'leaves' if yes else 'does not leave'} {value}")
        ends = isinstance(core, f.Not)
        said = self._say(core, not ends).within(ATOM)
        return Prose(
            f"it {'ends' if ends else 'begins'} that {said}"
            if yes
            else (f"it does not {'end' if ends else 'begin'} that {said}")
        )

    def _some(self, parts: tuple[Formula, ...], yes: bool) -> Prose:
        said: list[Prose] = []
        waiting = numbering.gathered(numbering.runs(parts, self.number, self._labels))
        while waiting:
            first = waiting.pop(0)
            values = [numbering.choice(first)]
            while (
                values[0]
                and waiting
                and (next_ := numbering.choice(waiting[0]))
                and next_[0] == values[0][0]
            ):
                values.append(next_)
                waiting.pop(0)
            if values[0] and len(values) > 1:
                read, names = values[0][0], [v[1] for v in values if v]
                kept = one_of(names) if yes else f"neither {' nor '.join(names)}"
                said.append(Prose(f"{read.name} {_verb(read.before)} {kept}", OR if yes else ATOM))
            else:
                said.append(self._say(first, yes))
        return _joined(said, "or", OR) if yes else _joined(said, "and", AND)

    def _same(self, left: Formula, right: Formula, yes: bool) -> Prose:
        no = "" if yes else "not "
        if self.number(right) == self.number(f.earlier(left)):
            return Prose(f"{self.quantity(left)} {'does not change' if yes else 'changes'}")
        sort = self.sort(left, right)
        if sort == "truth":
            one, two = (self._say(side, True).within(ATOM) for side in (left, right))
            sides = f"{one} exactly when {two}"
            return Prose(sides, IF) if yes else Prose(f"not ({sides})")
        verb, subject = self._subject(left, self.unit(left, right))
        about = self.quantity(right, self.unit(left, right))
        if sort == "name":
            return Prose(f"{subject} {verb} {no}{about}")
        if verb == "was":
            return Prose(f"{subject} was {no}equal to {about}")
        return Prose(f"{subject} {'equals' if yes else 'differs from'} {about}")

    def _less(self, left: Formula, right: Formula, or_equal: bool, yes: bool) -> Prose:
        words = {(True, False): "below", (True, True): "at most"}
        words |= {(False, False): "at least", (False, True): "above"}
        flipped = {"below": "above", "at most": "at least", "at least": "at most", "above": "below"}
        word, unit = words[yes, or_equal], self.unit(left, right)
        if isinstance(left, f.Const):
            left, right, word = right, left, flipped[word]
        verb, subject = self._subject(left, unit)
        return Prose(f"{subject} {verb} {word} {self.quantity(right, unit)}")

    def _subject(self, formula: Formula, unit: tuple[str, Fraction]) -> tuple[str, str]:
        """The verb and the subject of a comparison: what is read before takes `was`."""
        named = self._names.get(self.number(formula))
        if named:
            return _verb(named.was), named.output.name
        if isinstance(formula, f.Read) and formula.before:
            return "was", formula.name
        return "is", self.quantity(formula, unit)

    def _timed(self, read: f.TimedRead, yes: bool) -> Prose:
        timed = self.system.timed[read.timer]
        operand = self._say(timed.condition if read.before else read.operand, True).within(ATOM)
        lasting = f"for {duration(timed.time)} without a break"
        said = (
            f"{operand} {lasting}"
            if timed.kind == "for"
            else (f"{operand} now or within the last {duration(timed.time)}")
        )
        if read.before:
            said = f"before this reaction, {said}"
        return Prose(said, AND) if yes else Prose(f"not ({said})")

    # ------------------------------------------------------------------ quantities and names

    def quantity(self, formula: Formula, unit: tuple[str, Fraction] = ("", Fraction(1))) -> str:
        """A number, a name or a truth value, in the notation of the spec."""
        if named := self._names.get(self.number(formula)):
            return f"before({named.output.name})" if named.was else named.output.name
        shown = unit if unit[0] else self.unit(formula)

        def inner(part: Formula) -> str:
            return self.quantity(part, shown)

        match formula:
            case f.Const(bool() as value):
                return "yes" if value else "no"
            case f.Const(Fraction() as value):
                return quantity(value, *shown)
            case f.Const(value):
                return str(value)
            case f.Read(name, before):
                return f"before({name})" if before else name
            case f.Sum(parts) if tallied := numbering.tallied(parts):
                return f"count({', '.join(map(self.condition, tallied))})"
            case f.Sum((first, *rest)):
                return inner(first) + "".join(self._added(part, shown) for part in rest)
            case f.Product(f.Const(Fraction(numerator=-1, denominator=1)), other):
                return f"-{inner(other)}"
            case f.Product(f.Const(Fraction() as value), other):
                return f"{quantity(value)} * {inner(other)}"
            case f.Product(left, right):
                return f"{inner(left)} * {inner(right)}"
            case f.Greatest((x, f.Product(f.Const(Fraction(numerator=-1, denominator=1)), y))) if (
                self.number(x) == self.number(y)
            ):
                return f"abs({inner(x)})"
            case f.Greatest((low, f.Least((x, high)))):
                return f"clamp({inner(x)}, {inner(low)}, {inner(high)})"
            case f.Least(parts):
                return f"min({', '.join(map(inner, parts))})"
            case f.Greatest(parts):
                return f"max({', '.join(map(inner, parts))})"
            case f.Choose(condition, then, other):
                return f"({inner(then)} if {self._say(condition, True).within(OR)} else {inner(other)})"
            case _:
                return self.condition(formula)

    def _added(self, part: Formula, unit: tuple[str, Fraction]) -> str:
        match part:
            case f.Product(f.Const(Fraction(numerator=-1, denominator=1)), other):
                return f" - {self.quantity(other, unit)}"
            case f.Const(Fraction() as value) if value < 0:
                return f" - {quantity(-value, *unit)}"
            case _:
                return f" + {self.quantity(part, unit)}"

    def unit(self, *formulas: Formula) -> tuple[str, Fraction]:
        """The unit in which the numbers of these formulas are shown: that of the first analog value."""
        for formula in formulas:
            match formula:
                case f.Read(name):
                    domain = self.system.domain(name)
                    if isinstance(domain, Real):
                        return domain.unit, domain.factor
                case f.Sum() | f.Least() | f.Greatest() | f.Product() | f.Choose():
                    parts = f.children(formula)[isinstance(formula, f.Choose) :]
                    if (found := self.unit(*parts))[0]:
                        return found
                case _:
                    pass
        return "", Fraction(1)

    def unit_of(self, name: str) -> tuple[str, Fraction]:
        """The unit of an input or memory name."""
        return self.unit(f.Read(name))

    def sort(self, *formulas: Formula) -> str:
        """What kind of value these have: number, name or truth."""
        for formula in formulas:
            match formula:
                case f.Const(value) if not isinstance(value, bool):
                    return "number" if isinstance(value, Fraction) else "name"
                case f.Read(name):
                    domain = self.system.domain(name)
                    return {Flag: "truth", OneOf: "name"}.get(type(domain), "number")
                case f.Choose(_, then, other):
                    return self.sort(then, other)
                case f.Sum() | f.Product() | f.Least() | f.Greatest():
                    return "number"
                case _:
                    pass
        return "truth"

    def rules(self, ids: tuple[str, ...]) -> str:
        """Rules by id, whole families by their name."""
        return f"rule {one_of(self.families(ids))}"

    def families(self, ids: tuple[str, ...] | frozenset[str]) -> list[str]:
        """The ids in the spec's order, those of a complete family as one."""
        families: dict[str, list[str]] = {}
        for machine in self.system.machines:
            for rule in machine.rules:
                families.setdefault(rule.family, []).append(rule.id)
        said: list[str] = []
        for family, members in families.items():
            inside = [rule for rule in members if rule in ids]
            said += [family] if len(inside) == len(members) else inside
        return said


def states(machine: Machine, sources: frozenset[str]) -> str:
    """The states that a rule starts from."""
    if len(sources) == len(machine.states) > 1:
        return "any state"
    return one_of(state for state in machine.states if state in sources)


def _verb(before: bool) -> str:
    return "was" if before else "is"


def _joined(parts: list[Prose], word: str, binding: int) -> Prose:
    if len(parts) == 1:
        return parts[0]
    # `and` inside `or` (and the other way round) is put in parentheses: prose has no precedence.
    said = [part.within(ATOM if part.binding != binding else binding) for part in parts]
    return Prose(f" {word} ".join(said), binding)
