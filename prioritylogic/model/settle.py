"""Passes that settle what names can be: settings, inputs and memory.

After them every setting is a constant and every input and memory name has a domain, a type and (where
it must) a start. Machines follow in `states.py`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from prioritylogic.errors import did_you_mean
from prioritylogic.model import fold, system
from prioritylogic.model.declare import no_repeats
from prioritylogic.model.draft import Declaration, Draft, Scope, label
from prioritylogic.model.formula import Const, Value
from prioritylogic.model.lower import Lowering
from prioritylogic.model.types import Names, Quantity, Truth, Type, type_of
from prioritylogic.model.units import PLAIN, Dimension, unit
from prioritylogic.syntax import nodes
from prioritylogic.syntax.show import text_of

_WORDS = ("button", "signal", "yes_no")
_PRESSES = {"pressed": True, "released": False}


@dataclass(frozen=True, slots=True)
class _Values:
    domain: system.Domain
    dimension: Dimension = PLAIN

    @property
    def type(self) -> Type:
        return type_of(self.domain, self.dimension)


def settle_settings(draft: Draft, lowering: Lowering) -> None:
    """Work out every setting, and see that it lies in its range."""
    for declaration in draft.of_sort("setting"):
        value = declaration.node.value
        if isinstance(value, tuple):
            _check_members(draft, declaration, value)
        tried = value.range if isinstance(value, nodes.Setting) else None
        for members in draft.members(declaration):
            found = lowering.constant_of(declaration, members)
            if tried is not None and isinstance(found.type, Quantity):
                ends = _ends(
                    draft, lowering, tried, draft.scope_of(declaration, members), found.type.dimension
                )
                figure = fold.number(found.formula)
                if ends and figure is not None and not ends[0] <= figure <= ends[1]:
                    draft.add(
                        "outside-range",
                        f"the value of '{declaration.name}' is not in its range {text_of(tried)}",
                        tried.span,
                        "widen the range or change the value",
                    )
                elif tried.whole and ends and figure is not None:
                    _refuse_parts(draft, tried, (*ends, figure))


def _refuse_parts(draft: Draft, tried: nodes.Range, figures: tuple[Fraction, ...]) -> None:
    """Whole numbers are whole, the value among them and the ends."""
    if any(figure.denominator != 1 for figure in figures):
        message = f"'{text_of(tried)}' is a range of whole numbers, but an end or the value is not whole"
        draft.add("bad-range", message, tried.span, "use whole numbers, or leave `whole` out")


def _check_members(draft: Draft, declaration: Declaration, entries: tuple[nodes.Entry, ...]) -> None:
    """An indexed setting gives each member one value."""
    if len(declaration.indices) != 1:
        draft.add(
            "bad-setting",
            f"'{declaration.name}' has values by member, so it needs one index",
            declaration.span,
            f"write '{declaration.name}[c in group]:'",
        )
        return
    group = draft.groups.get(declaration.indices[0].group, ())
    given = [entry.key.value for entry in entries]
    for entry in entries:
        if entry.key.value not in group:
            draft.add(
                "bad-setting",
                f"'{entry.key.value}' is no member of '{declaration.indices[0].group}'",
                entry.span,
                did_you_mean(entry.key.value, group, f"the members are {', '.join(group)}"),
            )
    missing = [member for member in group if member not in given]
    if missing:
        draft.add(
            "bad-setting",
            f"'{declaration.name}' has no value for {', '.join(missing)}",
            declaration.span,
            "give each member of the group one value",
        )


def _ends(
    draft: Draft, lowering: Lowering, node: nodes.Range, scope: Scope, dimension: Dimension | None
) -> tuple[Fraction, Fraction] | None:
    """Both ends of a range, in order and of this dimension (None: of whichever one they share)."""
    pairs = [(end, lowering.quantity(end, scope)) for end in (node.low, node.high)]
    if lowering.common(pairs) is None:
        return None
    low, high = (lowering.constant(end, scope, dimension) for end, _ in pairs)
    if low is None or high is None:
        return None
    if low > high:
        message = f"the range '{text_of(node)}' is upside down"
        draft.add("bad-range", message, node.span, "write the low end first")
        return None
    return low, high


def settle_variables(draft: Draft, lowering: Lowering) -> None:
    """Give every input and memory name its domain and start."""
    for declaration, name, scope in _instances(draft, "input"):
        values, start = _written(declaration.node.value)
        found = _domain(draft, lowering, values, scope, declaration)
        if found is not None:
            draft.types[name] = found.type
            value = _start(draft, lowering, start, scope, found) if start is not None else None
            if start is None and found.domain == system.Flag("button"):
                value = False
            draft.inputs.append(system.Input(name, found.domain, value, declaration.span))
    for declaration, name, scope in _instances(draft, "memory"):
        values, start = _written(declaration.node.value)
        found = _domain(draft, lowering, values, scope, declaration)
        if found is None:
            continue
        draft.types[name] = found.type
        if start is None:
            draft.add(
                "bad-start",
                f"the memory '{declaration.name}' has no start",
                declaration.span,
                "write `{values: ..., start: ...}`",
            )
            continue
        value = _start(draft, lowering, start, scope, found)
        if value is not None:
            draft.memory.append(system.Memory(name, found.domain, value, declaration.span))


def _instances(draft: Draft, sort: Any) -> Iterator[tuple[Declaration, str, Scope]]:
    for declaration in draft.of_sort(sort):
        for members in draft.members(declaration):
            yield declaration, label(declaration.name, members), draft.scope_of(declaration, members)


def _written(value: Any) -> tuple[Any, nodes.Expression | None]:
    return (value.values, value.start) if isinstance(value, nodes.Variable) else (value, None)


def _domain(
    draft: Draft, lowering: Lowering, values: Any, scope: Scope, declaration: Declaration
) -> _Values | None:
    """The domain that `values:` says; None after a fault."""
    match values:
        case nodes.Range():
            return _range(draft, lowering, values, scope)
        case nodes.Name(base=word, indices=(), attribute=None) if word in draft.groups:
            draft.used.add(word)
            return _Values(system.OneOf(draft.groups[word]))
        case nodes.Name(base="button" | "signal" | "yes_no" as word, indices=(), attribute=None):
            if declaration.sort == "memory" and word != "yes_no":
                draft.add("bad-values", f"memory cannot be a {word}", values.span, "write `yes_no`")
                return None
            return _Values(system.Flag(word))
        case nodes.Name():
            draft.add(
                "bad-values",
                f"'{text_of(values)}' says no values",
                values.span,
                did_you_mean(
                    values.base,
                    [*_WORDS, *draft.groups],
                    "write button, signal, yes_no, a range such as `0 % to 100 %`, a group or a list",
                ),
            )
            return None
    return _listed(draft, values, declaration)


def _listed(draft: Draft, values: tuple[nodes.Name, ...], declaration: Declaration) -> _Values | None:
    for value in values:
        if value.indices or value.attribute:
            message = f"'{text_of(value)}' is no plain word"
            draft.add("bad-values", message, value.span, "list plain words")
            return None
    no_repeats(draft, ((v.base, v.span) for v in values), f"'{declaration.name}'")
    return _Values(system.OneOf(tuple(dict.fromkeys(v.base for v in values))))


def _range(draft: Draft, lowering: Lowering, node: nodes.Range, scope: Scope) -> _Values | None:
    ends = _ends(draft, lowering, node, scope, PLAIN if node.whole else None)
    if ends is None:
        return None
    low, high = ends
    if node.whole:
        if low.denominator == high.denominator == 1:
            return _Values(system.Whole(int(low), int(high)))
        message = f"'{text_of(node)}' has ends that are not whole"
        draft.add("bad-values", message, node.span, "use whole numbers")
        return None
    pairs = [(end, lowering.quantity(end, scope)) for end in (node.low, node.high)]
    common = lowering.common(pairs)
    assert common is not None
    shown = unit(common.unit)
    real = system.Real(low, high, common.unit, shown.factor if shown else Fraction(1))
    return _Values(real, common.dimension or PLAIN)


def _start(
    draft: Draft, lowering: Lowering, node: nodes.Expression, scope: Scope, values: _Values
) -> Value | None:
    """The start, one of the values; None after a fault."""
    if isinstance(values.type, Truth) and values.type.button and isinstance(node, nodes.Name):
        if node.base in _PRESSES and not lowering.is_known(node.base, scope):
            return _PRESSES[node.base]
    if isinstance(values.type, Quantity):
        number = lowering.constant(node, scope, values.dimension)
        if number is None:
            return None
        domain = values.domain
        assert isinstance(domain, system.Whole | system.Real)
        whole = number.denominator == 1 or isinstance(domain, system.Real)
        if domain.low <= number <= domain.high and whole:
            return number
        _refuse(draft, node, "is outside its values", "start within the values given")
        return None
    found = lowering.lower(node, scope, values.type)
    fits = isinstance(found.type, Truth) and isinstance(values.type, Truth)
    if isinstance(found.type, Names) and isinstance(values.domain, system.OneOf):
        fits = not isinstance(found.formula, Const) or found.formula.value in values.domain.values
    if fits and isinstance(found.formula, Const):
        return found.formula.value
    if isinstance(found.type, Names | Truth | Quantity):
        remedy = "start with yes or no"
        if isinstance(values.type, Names):
            remedy = f"start with one of {', '.join(values.type.values)}"
        _refuse(draft, node, "is not one of its values", remedy)
    return None


def _refuse(draft: Draft, node: nodes.Expression, why: str, remedy: str) -> None:
    draft.add("bad-start", f"the start '{text_of(node)}' {why}", node.span, remedy)
