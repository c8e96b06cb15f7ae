"""A requirement's text taken apart: each place, and the requirement that asks most there.

The text is taken apart as its author wrote it, down to comparisons, names, terms, events and timed
conditions, which are not entered. `and`, `or`, `not`, `implies`, the branches of `if ... else`, `any`,
`all` and `before` keep or turn the direction in which a part makes the whole truer. The condition of an
`if`, `begins`, `ends` and `changed` do both, so what is in them is left out. So each place has one
direction, and true or false, put there, asks at least as much as anything else would.

That the requirement then asks more needs an argument for each key, by `semantics/judgement.py`:

* `always`, `never`: a condition that is true less often fails more often.
* `at_once`, `expect` and `until` end what is asked: true less often, they end it later. `keep` is asked.
* `unless` cancels, in the reaction of a start and later: true less often, more starts and longer asking.
* `after`, and `during` beside it: only where it is an event, before the change and after. An event is
  false at rest, so it starts in each reaction in which it is true; true more often, every start stays
  one. A condition starts where it *begins*, and one that is true more often may begin less often.
* `while`, and `during` beside it: each stretch of the old lies in one of the new that began no later,
  so every gap in the old is one in the new. That needs a condition that reads the same in a reaction and
  at rest (no event, no `before`, nothing timed), and no `unless`, which would cancel all of the longer
  stretch.

Where the argument does not go through, the place is left out. So is one that would need a timed
condition which the spec does not have.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cached_property, partial
from typing import Any, TypeAlias

from prioritylogic.errors import NOWHERE, Span
from prioritylogic.model import formula as f
from prioritylogic.model.build import drafted
from prioritylogic.model.complaints import Complaints
from prioritylogic.model.demands import requirement_of, scopes_of
from prioritylogic.model.draft import Scope
from prioritylogic.model.formula import Formula
from prioritylogic.model.system import (
    Always,
    Every,
    Member,
    Possible,
    Recoverable,
    Requirement,
    System,
)
from prioritylogic.syntax import nodes
from prioritylogic.syntax.reader import read
from prioritylogic.syntax.show import text_of

Expression: TypeAlias = nodes.Expression
Put: TypeAlias = Callable[[Expression], Expression]

# Each key with an expression, the node's field for it, and the constant that asks most there.
KEYS = (
    ("always", "always", False),
    ("never", "never", True),
    ("after", "after", True),
    ("while", "while_", True),
    ("during", "during", True),
    ("at_once", "at_once", False),
    ("expect", "expect", False),
    ("keep", "keep", False),
    ("until", "until", False),
    ("unless", "unless", False),
)


@dataclass(frozen=True)
class Part:
    """A place in a requirement's text. What would be asked is worked out when it is first wanted.

    Attributes:
        key: where it stands: `unless`.
        said: what stands there, as written.
        wanted: the constant that asks most there.
        making: makes `stronger`.
        parts: the smaller places in it. Where one of them makes a difference, it does.
        given: of what `always` and `never` ask in the end: the condition on which they ask it. Then
            `stronger` says that this never comes about.
        given_at: where that condition begins.
    """

    key: str
    said: str
    span: Span
    wanted: bool
    making: Callable[[], Requirement | None] = field(repr=False, compare=False)
    parts: tuple[Part, ...] = ()
    given: str = ""
    given_at: Span = NOWHERE

    @cached_property
    def stronger(self) -> Requirement | None:
        """The requirement with that constant there; None where it is not known to ask more."""
        return self.making()


class Strengthening:
    """Takes the requirements of one system apart, for which it reads the system's text again.

    Requirements that are not those of the text have no parts.
    """

    def __init__(self, system: System) -> None:
        self._timers = len(system.timed)
        self._places: dict[tuple[str, Member], tuple[nodes.Requirement, Scope]] = {}
        if system.text:
            self._draft, self._lowering = drafted(read(system.text, system.file), system.text)
            self._draft.instances = 0  # its families are expanded once more
            self._begin_afresh()
            for node in self._draft.spec.requirements or ():
                for scope in scopes_of(self._draft, self._lowering, node.each):
                    self._places[node.id.value, scope.member] = node, scope

    def parts(self, requirement: Requirement) -> tuple[Part, ...]:
        """The places of a requirement: one for each of its keys, smaller ones inside. What asks for a
        run (`possible`, `recoverable`) has none: it would not hold the more for asking more."""
        if isinstance(requirement.form, Possible | Recoverable):
            return ()
        place = self._places.get((requirement.id, requirement.member))
        same = None if place is None else self.lowered(*place)
        if place is None or same is None or _asked(same) != _asked(requirement):
            return ()
        return tuple(_Taking(self, same, *place).parts())

    def lowered(self, node: nodes.Requirement, scope: Scope) -> Requirement | None:
        """One member of what a node asks; None if it cannot be asked, or not of this system."""
        self._begin_afresh()
        made = requirement_of(self._draft, self._lowering, node, scope)
        if made is None or self._draft.complaints.problems.found:
            return None
        reads = [part for formula in made.formulas for part in f.walk(formula)]
        new = any(isinstance(part, f.TimedRead) and part.timer >= self._timers for part in reads)
        return None if new else made

    def _begin_afresh(self) -> None:
        """Forgets faults and the work done: each requirement may take as much as a spec."""
        self._draft.complaints = Complaints()
        self._lowering.work, self._lowering.gave_up = 0, False

    def is_event(self, node: Expression, scope: Scope) -> bool:
        """Whether an expression is true in reactions only."""
        found = self._lowering.truth(node, scope)
        return found.kind == "event" and found.formula != f.TRUE


class _Taking:
    """Takes one member of one requirement apart."""

    def __init__(
        self, making: Strengthening, requirement: Requirement, node: nodes.Requirement, scope: Scope
    ) -> None:
        self._making = making
        self._requirement = requirement
        self._node = node
        self._scope = scope

    def parts(self) -> Iterator[Part]:
        """One place for each key, smaller ones inside."""
        for key, name, wanted in KEYS:
            root = getattr(self._node, name)
            if root is not None and key in ("always", "never"):
                yield self._told(key, root, wanted, _itself, self._node.during)
            elif root is not None:
                yield self._part(key, root, wanted, _itself)

    def _told(
        self, key: str, node: Expression, wanted: bool, put: Put, given: Expression | None
    ) -> Part:
        """What `always` or `never` asks, or asks where something is given."""
        if key == "always" and isinstance(node, nodes.Binary) and node.operator == "implies":
            (left, _, at_left), (right, _, at_right) = _inside(node)
            both = left if given is None else nodes.Binary(given.span, "and", given, left, node.at)
            inside = (
                self._part(key, left, not wanted, _after(at_left, put)),
                self._told(key, right, wanted, _after(at_right, put), both),
            )
            return Part(key, text_of(node), node.span, wanted, _nothing, inside)
        whole = self._part(key, node, wanted, put)
        if given is None:  # never true, it would fail at time 0
            return replace(whole, making=_nothing)
        return replace(whole, given=text_of(given), given_at=given.span)

    def _part(self, key: str, node: Expression, wanted: bool, put: Put) -> Part:
        inside = tuple(
            self._part(key, child, wanted != turned, _after(at, put))
            for child, turned, at in _inside(node)
        )
        root = put(_constant(node.span, wanted))
        return Part(key, text_of(node), node.span, wanted, partial(self._stronger, key, root), inside)

    def _stronger(self, key: str, root: Expression) -> Requirement | None:
        """The requirement with another expression for a key, if that is known to ask more."""
        changed: dict[str, Any] = {name: root for known, name, _ in KEYS if known == key}
        made = self._making.lowered(replace(self._node, **changed), self._scope)
        if made is None or key not in ("after", "while", "during"):
            return made
        match self._requirement.form, made.form:
            case Always(), _:
                return made
            case Every(while_=old), Every(while_=new):
                known = made.unless is None and _lasts(old) and _lasts(new)
            case _:
                event, after = self._making.is_event, self._node.after
                assert after is not None
                known = event(after, self._scope) and (key != "after" or event(root, self._scope))
        return made if known else None


def _nothing() -> None:
    return None


def _asked(requirement: Requirement) -> tuple[object, ...]:
    return requirement.form, requirement.during, requirement.unless, requirement.assuming


def _constant(span: Span, value: bool) -> Expression:
    """What is always true, or never, as an expression."""
    left, right = (nodes.Number(span, Fraction(number), None) for number in (1, int(value)))
    return nodes.Binary(span, "=", left, right, span)


def _lasts(formula: Formula) -> bool:
    """Whether a formula says the same in a reaction and at rest after it."""
    for part in f.walk(formula):
        match part:
            case f.Read(_, True) | f.AlertRead(_, _, True) | f.AlertRead(_, "sounds"):
                return False
            case f.Taken() | f.TimedRead():
                return False
    return True


# --------------------------------------------------------------------------- places


def _itself(node: Expression) -> Expression:
    return node


def _after(inner: Put, outer: Put) -> Put:
    return lambda new: outer(inner(new))


def _inside(node: Expression) -> Iterator[tuple[Expression, bool, Put]]:
    """The truth values that one is made of: each, whether the whole is truer when it is false, and the
    whole with another one there. What `not` and `before` are around is no place of its own."""

    def at(name: str, turned: bool = False) -> tuple[Expression, bool, Put]:
        return getattr(node, name), turned, _field(node, name)

    match node:
        case nodes.Binary(operator="and" | "or"):
            yield from (at("left"), at("right"))
        case nodes.Binary(operator="implies"):
            yield from (at("left", turned=True), at("right"))
        case nodes.IfElse():
            yield from (at("then"), at("other"))
        case nodes.Aggregate(function="any" | "all"):
            yield at("body")
        case nodes.Call(function="any" | "all", arguments=arguments):
            yield from ((argument, False, _argument(node, n)) for n, argument in enumerate(arguments))
        case nodes.Call(function="before", arguments=(argument,)):
            yield from _through(argument, _argument(node, 0), turning=False)
        case nodes.Unary(operator="not", operand=operand):
            yield from _through(operand, _field(node, "operand"), turning=True)


def _through(operand: Expression, put: Put, turning: bool) -> Iterator[tuple[Expression, bool, Put]]:
    for child, turned, at in _inside(operand):
        yield child, turned != turning, _after(at, put)


def _field(node: Any, name: str) -> Put:
    def put(new: Expression) -> Expression:
        made: Expression = replace(node, **{name: new})
        return made

    return put


def _argument(call: nodes.Call, n: int) -> Put:
    def put(new: Expression) -> Expression:
        return replace(call, arguments=(*call.arguments[:n], new, *call.arguments[n + 1 :]))

    return put
