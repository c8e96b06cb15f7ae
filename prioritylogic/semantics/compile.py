"""Formulas as plain Python functions, for engines that evaluate them a million times.

What: `Compiler.function(formula)` writes one Python expression over a `Frame` and compiles it. The
frame says what the names mean (in the reaction or at rest), so one function serves both readings.

Why this way: inputs are not values in the frame but questions to it (`get`, `was`): an engine that
answers a question by trying each answer branches only on what is read. For the same reason the
parts of `and` and `or` are written cheapest first: what the state decides is asked before a button,
a button before a lever. Formulas have no side effects, so the order is free.

Analog inputs are not numbers here but linear forms; a comparison of two is a question too. A
condition on analog values *before* the reaction is a *latch*: its truth was found at the end of the
previous reaction and stored. What mixes both moments, or multiplies two analog values, is refused
by name (`Declined`).

What it does not do: decide which answers are possible (engines/oracle.py).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction
from typing import Any, TypeAlias

from prioritylogic.model import formula as f
from prioritylogic.model.formula import Formula
from prioritylogic.model.system import Real, System
from prioritylogic.semantics.linear import distributed, pieces

Evaluate: TypeAlias = Callable[[Any], Any]
READS = f.Read | f.TimedRead | f.AlertRead


class Declined(Exception):  # noqa: N818 - not an error: an honest "not by this engine"
    """A formula that exploration cannot read exactly; the message says which part and why."""


class Compiler:
    """Compiles the formulas of one System.

    Attributes:
        slots: the place of each machine and memory name in a frame's value lists.
        inputs: the number of each input.
        latches: conditions on analog inputs whose previous truth is read, as they read now; in the
            order in which they were met.
        cuts: conditions on analog inputs alone, each of which is one question.
        joint: whether some comparison of analog inputs depends on the state besides.
        remembered: the discrete inputs whose previous value is read.
    """

    def __init__(self, system: System) -> None:
        self.system = system
        names = (*(m.name for m in system.machines), *(m.name for m in system.memory))
        self.slots = {name: number for number, name in enumerate(names)}
        self.inputs = {variable.name: number for number, variable in enumerate(system.inputs)}
        self.alerts = {alert.name: number for number, alert in enumerate(system.alerts)}
        self.latches: list[Formula] = []
        self.cuts: list[Formula] = []
        self.joint = False
        self.remembered: set[int] = set()
        self._analog = {v.name for v in system.inputs if isinstance(v.domain, Real)}
        if any(isinstance(v.domain, Real) for v in system.memory):
            raise Declined("memory with analog values is stored, which whole ticks cannot enumerate")
        self._constants: dict[str, Any] = {}
        self._functions: dict[int, tuple[Formula, Evaluate]] = {}
        self._pasts: dict[int, tuple[Formula, bool]] = {}
        self._cuttable: dict[tuple[int, bool], tuple[Formula, bool]] = {}
        self._costs: dict[int, tuple[Formula, int]] = {}

    def function(self, formula: Formula) -> Evaluate:
        """The formula as a function of a frame. Raises Declined."""
        known = self._functions.get(id(formula))
        if known is None:
            source = self._write(formula, {})
            function: Evaluate = eval(f"lambda f: {source}", self._constants)
            known = self._functions[id(formula)] = (formula, function)
        return known[1]

    def cost(self, formula: Formula) -> int:
        """How dear it is to read: the worst of its parts."""
        known = self._costs.get(id(formula))
        if known is None:
            match formula:
                case f.Read(name, before) if name in self.inputs:
                    own = 3 if before else 100 if name in self._analog else 10
                case f.Const():
                    own = 0
                case _:
                    own = 1
            worst = max((self.cost(part) for part in f.children(formula)), default=0)
            known = self._costs[id(formula)] = (formula, max(own, worst))
        return known[1]

    # ----------------------------------------------------------------- writing

    def _constant(self, value: Any) -> str:
        if isinstance(value, Fraction):
            if value.denominator == 1:
                return str(value.numerator) if value >= 0 else f"({value.numerator})"
            name = f"k{len(self._constants)}"
            self._constants[name] = value
            return name
        return repr(value)

    def _write(self, formula: Formula, seen: dict[int, str]) -> str:
        """The Python expression; a part met before and not small is called, not written again."""
        known = seen.get(id(formula))
        if known is not None and len(known) > 60:
            name = f"t{id(formula)}"
            self._constants.setdefault(name, self.function(formula))
            return f"{name}(f)"
        written = self._form(formula, seen)
        if len(written) > 400 and depth(written) > 40:  # Python refuses deeply nested parentheses
            name = f"d{len(self._constants)}"
            self._constants[name] = eval(f"lambda f: {written}", self._constants)
            written = f"{name}(f)"
        seen[id(formula)] = written
        return written

    def _form(self, formula: Formula, seen: dict[int, str]) -> str:
        def write(part: Formula) -> str:
            return self._write(part, seen)

        if self._past(formula) and isinstance(formula, f.Not | f.All | f.Some | f.Less | f.Same):
            inner = list(f.walk(formula))
            if all(p.before for p in inner if isinstance(p, READS)) and not any(
                isinstance(p, f.Taken) for p in inner
            ):
                return self._latch(formula)
        if self.cost(formula) == 100 and isinstance(formula, f.Not | f.All | f.Some | f.Less | f.Same):
            if self._pieces(formula, True) and self._pieces(formula, False):
                return self._cut(formula)
            if isinstance(formula, f.All | f.Some):
                joined = self._joined(formula)
                if joined is not formula:
                    return write(joined)
        match formula:
            case f.Const(value):
                return self._constant(value)
            case f.Read(name, before) if name in self._analog:
                if before:
                    raise Declined(f"the value of {name} before the reaction is used as a number")
                return f"f.o.analog({self.inputs[name]})"
            case f.Read(name, before) if name in self.inputs:
                number = self.inputs[name]
                if before:
                    self.remembered.add(number)
                return f"f.was({number})" if before else f"f.o.get({number})"
            case f.Read(name, before):
                return f"f.{'w' if before else 'n'}[{self.slots[name]}]"
            case f.TimedRead(timer, operand, before):
                kind = self.system.timed[timer].kind
                if before:
                    return f"f.before_timed({timer})"
                joint = "and" if kind == "for" else "or"
                return f"(f.timed[{timer}] {joint} {write(operand)})"
            case f.AlertRead(alert, "sounds", _):
                return f"({self.alerts[alert]} in f.sounds)"
            case f.AlertRead(alert, what, before):
                status = f"f.{'alerts_before' if before else 'alerts'}[{self.alerts[alert]}]"
                return f"({status} == 'cleared')" if what == "cleared" else f"({status} != 'idle')"
            case f.Taken(rules):
                return (
                    "(" + " or ".join(f"{rule!r} in f.taken" for rule in rules) + ")"
                    if rules
                    else "False"
                )
            case f.Not(operand):
                return f"(not {write(operand)})"
            case f.All(parts) | f.Some(parts):
                word = " and " if isinstance(formula, f.All) else " or "
                ordered = sorted(parts, key=self.cost)
                return "(" + word.join(map(write, ordered)) + ")" if parts else repr(word == " and ")
            case f.Choose(condition, then, other):
                return f"({write(then)} if {write(condition)} else {write(other)})"
            case f.Same(left, right) | f.Less(left, right):
                return self._comparison(formula, left, right, write)
            case f.Sum(parts):
                return "(" + " + ".join(map(write, parts)) + ")" if parts else "0"
            case f.Product(left, right):
                if self._touches(left, False) and self._touches(right, False):
                    raise Declined("two analog values are multiplied")
                return f"({write(left)} * {write(right)})"
            case f.Least(parts) | f.Greatest(parts):
                least = isinstance(formula, f.Least)
                if not self._touches(formula, False):
                    return f"{'min' if least else 'max'}([{', '.join(map(write, parts))}])"
                return f"f.o.{'least' if least else 'greatest'}([{', '.join(map(write, parts))}])"

    def _comparison(
        self, formula: Formula, left: Formula, right: Formula, write: Callable[[Formula], str]
    ) -> str:
        if self._touches(formula, True):
            raise Declined("an analog value is compared across two moments")
        if isinstance(formula, f.Less):
            if self._touches(formula, False):
                simpler = distributed(formula)
                if simpler is not formula:
                    return write(simpler)
                self.joint = True
                return f"f.o.below({write(left)}, {write(right)}, {formula.or_equal})"
            return f"({write(left)} {'<=' if formula.or_equal else '<'} {write(right)})"
        if self._touches(formula, False):
            return write(f.All((f.Less(left, right, True), f.Less(right, left, True))))
        return f"({write(left)} == {write(right)})"

    def _past(self, formula: Formula) -> bool:
        """Whether it reads an analog input before the reaction."""
        known = self._pasts.get(id(formula))
        if known is None:
            own = isinstance(formula, f.Read) and formula.before and formula.name in self._analog
            past = own or any(self._past(part) for part in f.children(formula))
            known = self._pasts[id(formula)] = (formula, past)
        return known[1]

    def _pieces(self, formula: Formula, truth: bool) -> bool:
        """Whether it is a condition on analog inputs alone."""
        key = (id(formula), truth)
        if key not in self._cuttable:
            found = self.cost(formula) == 100 and pieces(formula, truth, self.analog_number) is not None
            self._cuttable[key] = (formula, found)
        return self._cuttable[key][1]

    def _latch(self, formula: Formula) -> str:
        """A condition about the time before the reaction alone: its truth was stored then."""
        now = f.replace(formula, lambda p: f.Read(p.name) if isinstance(p, f.Read) else None)
        if now not in self.latches:
            self.latches.append(now)
        return f"f.latch({self.latches.index(now)})"

    def analog_number(self, name: str) -> int:
        """The number of an analog input, -1 of anything else."""
        return self.inputs[name] if name in self._analog else -1

    def _cut(self, formula: Formula) -> str:
        if formula not in self.cuts:
            self.cuts.append(formula)
        return f"f.o.cut({self.cuts.index(formula)})"

    def _joined(self, formula: f.All | f.Some) -> f.All | f.Some:
        """The parts that concern analog inputs alone as one part, so that they are one question."""
        own = [part for part in formula.parts if self._pieces(part, True)]
        kind = type(formula)
        if len(own) < 2 or pieces(kind(tuple(own)), True, self.analog_number) is None:
            return formula
        others = tuple(part for part in formula.parts if part not in own)
        return kind((*others, kind(tuple(own)))) if others else formula

    def _touches(self, formula: Formula, before: bool) -> bool:
        """Whether the value depends on an analog value of that moment."""
        return any(
            isinstance(part, f.Read) and part.before is before and part.name in self._analog
            for part in numeric_parts(formula)
        )


def depth(source: str) -> int:
    """How deeply the parentheses of an expression are nested."""
    deepest = open_ = 0
    for character in source:
        open_ += (character == "(") - (character == ")")
        deepest = max(deepest, open_)
    return deepest


def numeric_parts(formula: Formula) -> Sequence[Formula]:
    """The parts whose numbers become this formula's number: the conditions of `if ... else` and the
    insides of comparisons below it are not among them."""
    found: list[Formula] = []
    compares = isinstance(formula, f.Less | f.Same)
    waiting: list[Formula] = list(f.children(formula)) if compares else [formula]
    while waiting:
        part = waiting.pop()
        found.append(part)
        match part:
            case f.Choose(_, then, other):
                waiting.extend((then, other))
            case f.Sum() | f.Product() | f.Least() | f.Greatest():
                waiting.extend(f.children(part))
    return found


def plain(formula: Formula) -> bool:
    """Whether it reads the same in a reaction and at rest after it: no earlier value, no event, no
    timer and no alert."""
    return not any(
        isinstance(part, f.TimedRead | f.AlertRead | f.Taken)
        or (isinstance(part, f.Read) and part.before)
        for part in f.walk(formula)
    )
