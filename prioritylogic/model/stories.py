"""The pass that lowers stories: each step becomes something the environment can do.

What a story sets or presses does not count as a use of the name; what it checks does.
"""

from __future__ import annotations

from fractions import Fraction

from prioritylogic.errors import did_you_mean
from prioritylogic.model import system
from prioritylogic.model.demands import expectations, scopes_of
from prioritylogic.model.draft import Draft, Scope
from prioritylogic.model.formula import Const, Formula, Read, Value
from prioritylogic.model.lower import Lowering
from prioritylogic.model.types import Names, Quantity, Truth, Type, Typed, in_words
from prioritylogic.syntax import nodes
from prioritylogic.syntax.show import text_of

_PRESSES = {"pressed": True, "released": False}
_AT_REST = "a check is made once all has settled; check what the event leaves behind"


def lower_stories(draft: Draft, lowering: Lowering) -> None:
    """Lower every member of every story."""
    for node in draft.spec.stories or ():
        scopes = scopes_of(draft, lowering, node.each)
        expected = expectations(draft, node, scopes)
        for scope in scopes:
            steps = [_step(draft, lowering, step, scope) for step in node.steps]
            end = None
            if node.end is not None:
                end = lowering.condition(node.end, scope, "`end`", _AT_REST).formula
            draft.stories.append(
                system.Story(
                    id=node.id.value,
                    member=scope.member,
                    text=node.text.value if node.text else "",
                    steps=tuple(step for step in steps if step is not None),
                    end=end,
                    unsettled=node.unsettled is not None and node.unsettled.value == "yes",
                    expected=expected.of(scope),
                    reason=expected.reason,
                    said=text_of(node.end) if node.end is not None else "",
                    span=node.id.span,
                )
            )


def _step(draft: Draft, lowering: Lowering, step: nodes.Step, scope: Scope) -> system.Step | None:
    said = text_of(step)
    match step.verb:
        case "together":
            return _together(draft, lowering, step, scope)
        case "wait":
            assert step.target is not None
            time = lowering.duration(step.target, scope, positive=True)
            return None if time is None else system.Step("wait", said, time=time, span=step.span)
        case "check":
            assert step.target is not None
            formula: Formula = lowering.condition(step.target, scope, "`check`", _AT_REST).formula
            return system.Step("check", said, condition=formula, span=step.span)
        case "take":
            assert isinstance(step.target, nodes.Name)
            rules = lowering.rules(step.target, scope)
            if rules is None or not _optional(draft, step, rules):
                return None
            said = f"take {rules[0]}" if len(rules) == 1 else said
            return system.Step("take", said, rules=rules, span=step.span)
        case "press" | "release":
            name = _input(draft, lowering, step, scope)
            wanted = draft.types.get(name or "")
            if name is None or wanted is None:
                return None
            if isinstance(wanted, Truth) and wanted.button:
                return system.Step(step.verb, f"{step.verb} {name}", name=name, span=step.span)
            remedy = f"write 'set {name} to ...'"
            _refuse(draft, step, f"only a button can be {step.verb}ed; '{name}' is none", remedy)
            return None
    return _set(draft, lowering, step, scope)


def _together(draft: Draft, lowering: Lowering, step: nodes.Step, scope: Scope) -> system.Step | None:
    parts: list[system.Step] = []
    for inner in step.parts:
        if inner.verb in ("wait", "check", "together"):
            _refuse(
                draft,
                inner,
                f"'{inner.verb}' cannot be one of the things that happen together",
                "put it before or after `together`",
            )
            continue
        part = _step(draft, lowering, inner, scope)
        if part is None:
            continue
        if part.name and any(part.name == earlier.name for earlier in parts):
            _refuse(draft, inner, f"'{part.name}' is given two values at once", "keep one of the two")
        parts.append(part)
    said = "together: " + "; ".join(part.said for part in parts)
    return system.Step("together", said, parts=tuple(parts), span=step.span)


def _set(draft: Draft, lowering: Lowering, step: nodes.Step, scope: Scope) -> system.Step | None:
    name = _input(draft, lowering, step, scope)
    wanted = draft.types.get(name or "")
    if name is None or wanted is None or step.value is None:
        return None
    domain = next(i.domain for i in draft.inputs if i.name == name)
    node = step.value
    found = _value(lowering, node, scope, wanted)
    value = found.formula.value if isinstance(found.formula, Const) else None
    if not isinstance(found.type, Truth | Names | Quantity):
        return None
    if value is None or not _is_within(value, domain, found.type, wanted):
        remedy = f"write a value of '{name}': {in_words(wanted)}"
        if isinstance(domain, system.Whole | system.Real):
            remedy = f"write a number within the values of '{name}'"
        _refuse(draft, step, f"'{name}' cannot be set to '{text_of(node)}'", remedy)
        return None
    said = f"set {name} to {_shown(node, value)}"
    return system.Step("set", said, name=name, value=value, span=step.span)


def _shown(node: nodes.Expression, value: Value) -> str:
    return value if isinstance(value, str) else text_of(node)


def _value(lowering: Lowering, node: nodes.Expression, scope: Scope, wanted: Type) -> Typed:
    if isinstance(wanted, Truth) and wanted.button and isinstance(node, nodes.Name):
        if node.base in _PRESSES and not lowering.is_known(node.base, scope):
            return Typed(Const(_PRESSES[node.base]), wanted)
    return lowering.lower(node, scope, wanted)


def _is_within(value: Value, domain: system.Domain, found: Type, wanted: Type) -> bool:
    match domain, value:
        case system.Flag(), bool():
            return True
        case system.OneOf(values), str():
            return value in values
        case system.Whole(low, high), Fraction():
            return low <= value <= high and value.denominator == 1 and _same(found, wanted)
        case system.Real(low, high), Fraction():
            return low <= value <= high and _same(found, wanted)
    return False


def _same(found: Type, wanted: Type) -> bool:
    assert isinstance(found, Quantity) and isinstance(wanted, Quantity)
    return found.dimension in (None, wanted.dimension)


def _input(draft: Draft, lowering: Lowering, step: nodes.Step, scope: Scope) -> str | None:
    """The input instance that a step is about; None after a fault."""
    node = step.target
    assert isinstance(node, nodes.Name)
    declaration = draft.names.get(node.base)
    if declaration is None or declaration.sort != "input" or node.attribute:
        inputs = [d.name for d in draft.of_sort("input")]
        what = "is not declared" if declaration is None else "is no input"
        remedy = did_you_mean(node.base, inputs, "name an input")
        _refuse(draft, step, f"'{text_of(node)}' {what}", remedy)
        return None
    was_used = declaration.name in draft.used
    found = lowering.name(node, scope, None)
    if not was_used:
        draft.used.discard(declaration.name)
    if isinstance(found.formula, Read):
        return found.formula.name
    if not isinstance(found.type, Truth | Names | Quantity):
        return None
    remedy = "use a member or a binder as its index"
    _refuse(draft, step, f"'{text_of(node)}' is not one input", remedy)
    return None


def _optional(draft: Draft, step: nodes.Step, rules: tuple[str, ...]) -> bool:
    for rule in rules:
        node = draft.rule_ids[rule].node
        if node.takes is None and not (node.may is not None and node.may.value == "yes"):
            _refuse(
                draft,
                step,
                f"'{rule}' is taken at once whenever it can be, so nobody chooses it",
                "press or set what its `if` asks for; `take` is for rules with `takes` or `may: yes`",
            )
            return False
    return True


def _refuse(draft: Draft, step: nodes.Step, message: str, remedy: str) -> None:
    draft.add("bad-step", message, step.span, remedy)
