"""Passes that lower assumptions and requirements: from the keys written to one of the forms.

`FORMS` is the design's table of forms: which keys make up which. `during: D` is joined to the
trigger (`after and D`, `while and D`), makes an `always` ask `D implies C`, and narrows what is to be
reached to `C and D` for `possible` and `recoverable`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any, Literal

from prioritylogic.errors import Span, did_you_mean
from prioritylogic.model import system
from prioritylogic.model.declare import no_member
from prioritylogic.model.draft import Draft, Scope
from prioritylogic.model.formula import TRUE, Formula, conjunction, disjunction, negation
from prioritylogic.model.lower import Lowering
from prioritylogic.model.machines import note_mixed
from prioritylogic.syntax import nodes
from prioritylogic.syntax.show import text_of

# The keys of each form, in the order in which they are said.
FORMS: tuple[tuple[str, ...], ...] = (
    ("always",),
    ("never",),
    ("possible",),
    ("recoverable",),
    ("after", "at_once"),
    ("after", "expect", "within"),
    ("after", "expect"),
    ("after", "keep", "until"),
    ("after", "keep", "for"),
    ("while", "expect", "every"),
    ("after", "apart"),
)
ASSUMED: tuple[tuple[str, ...], ...] = (
    ("always",),
    ("never",),
    ("after", "expect"),
    ("after", "expect", "within"),
    ("again_and_again",),
)
_FIELDS = {"for": "for_", "while": "while_"}
_TIMES = ("within", "for", "every", "apart")
_WARNED = ("after", "expect", "keep", "while", "until")  # where a mixed condition is warned of
_LASTING = {
    "keep": "write what must stay true as a condition",
    "while": "write what lasts as a condition, or use `after`",
    "during": "write what lasts as a condition, or use `after`",
}


@dataclass(slots=True)
class _Parts:
    """The lowered keys of one member."""

    formulas: dict[str, Formula] = field(default_factory=dict)
    times: dict[str, Fraction] = field(default_factory=dict)
    strict: bool = False


# --------------------------------------------------------------------------- assumptions


def lower_assumptions(draft: Draft, lowering: Lowering) -> None:
    """Lower every member of every assumption."""
    for node in draft.spec.assume or ():
        keys = _form(draft, node, ASSUMED)
        for scope in scopes_of(draft, lowering, node.each):
            parts = _parts(draft, lowering, node, keys, scope)
            if parts is None:
                continue
            get = parts.formulas.get
            holds = get("always") if "always" in keys else None
            if "never" in keys:
                holds = negation(parts.formulas["never"])
            draft.assumptions.append(
                system.Assumption(
                    id=node.id.value,
                    member=scope.member,
                    text=_prose(node.text),
                    holds=holds,
                    after=get("after"),
                    expect=get("expect"),
                    within=parts.times.get("within"),
                    under=parts.strict,
                    again_and_again=get("again_and_again"),
                    span=node.id.span,
                )
            )


# --------------------------------------------------------------------------- requirements


def lower_requirements(draft: Draft, lowering: Lowering) -> None:
    """Lower every member of every requirement."""
    known = [a.id.value for a in draft.spec.assume or ()]
    for node in draft.spec.requirements or ():
        keys = _form(draft, node, FORMS)
        if node.unless is not None and keys and keys[0] not in ("after", "while"):
            draft.add(
                "bad-unless",
                f"`unless` cancels what `after` or `while` began; '{keys[0]}' begins nothing",
                node.key_spans.get("unless", node.unless.span),
                f"write the exception into `{keys[0]}` with `or`, `and`, or `during:`",
            )
        for text in node.assuming or ():
            if text.value not in known:
                draft.add(
                    "unknown-assumption",
                    f"no assumption has the id '{text.value}'",
                    text.span,
                    did_you_mean(text.value, known, "declare it under `assume`"),
                )
        scopes = scopes_of(draft, lowering, node.each)
        expected = expectations(draft, node, scopes)
        for scope in scopes:
            requirement = _requirement(draft, lowering, node, keys, scope, expected)
            if requirement is not None:
                draft.requirements.append(requirement)


def _requirement(
    draft: Draft,
    lowering: Lowering,
    node: nodes.Requirement,
    keys: tuple[str, ...],
    scope: Scope,
    expected: Expectations,
) -> system.Requirement | None:
    parts = _parts(draft, lowering, node, keys, scope)
    during = _formula(draft, lowering, node, "during", scope) if node.during is not None else None
    unless = lowering.truth(node.unless, scope).formula if node.unless is not None else None
    if parts is None:
        return None
    said = (*keys, *(key for key in ("during", "unless") if getattr(node, key) is not None))
    return system.Requirement(
        id=node.id.value,
        member=scope.member,
        text=_prose(node.text),
        keys=" ".join(keys),
        form=_build(keys, parts, TRUE if during is None else during),
        during=during,
        unless=unless,
        assuming=tuple(text.value for text in node.assuming or ()),
        expected=expected.of(scope),
        reason=expected.reason,
        said=tuple((key, text_of(_field(node, key), "under")) for key in said),
        span=node.id.span,
    )


def requirement_of(
    draft: Draft, lowering: Lowering, node: nodes.Requirement, scope: Scope
) -> system.Requirement | None:
    """One member as it is read, whatever is expected of it; None after a fault."""
    return _requirement(draft, lowering, node, _form(draft, node, FORMS), scope, Expectations())


def _build(keys: tuple[str, ...], parts: _Parts, during: Formula) -> system.Form:
    f, t = parts.formulas, parts.times
    match keys:
        case ("always",):
            return system.Always(_implied(during, f["always"]))
        case ("never",):
            return system.Always(_implied(during, negation(f["never"])))
        case ("possible",):
            return system.Possible(conjunction(f["possible"], during))
        case ("recoverable",):
            return system.Recoverable(conjunction(f["recoverable"], during))
        case ("while", _, _):
            while_ = conjunction(f["while"], during)
            return system.Every(while_, f["expect"], t["every"], parts.strict)
    after = conjunction(f["after"], during)
    match keys[1:]:
        case ("at_once",):
            return system.Respond(after, f["at_once"], Fraction(0))
        case ("keep", "until"):
            return system.KeepUntil(after, f["keep"], f["until"])
        case ("keep", "for"):
            return system.KeepFor(after, f["keep"], t["for"])
        case ("apart",):
            return system.Apart(after, t["apart"])
        case _:
            return system.Respond(after, f["expect"], t.get("within"), parts.strict)


def _implied(during: Formula, condition: Formula) -> Formula:
    return condition if during == TRUE else disjunction(negation(during), condition)


# --------------------------------------------------------------------------- keys


def _field(node: Any, key: str) -> Any:
    return getattr(node, _FIELDS.get(key, key), None)


def _form(draft: Draft, node: Any, forms: tuple[tuple[str, ...], ...]) -> tuple[str, ...]:
    """The keys of the form that is written; empty, with a fault, if they make up none."""
    written = {key for form in forms for key in form if _field(node, key) is not None}
    for form in forms:
        if set(form) == written:
            return form
    if not written:
        message = f"'{node.id.value}' asks nothing"
        fitting = list(forms)
    else:
        order = [key for key in dict.fromkeys(k for form in forms for k in form) if key in written]
        message = f"'{node.id.value}' has {' with '.join(f'`{k}`' for k in order)}, which is no form"
        most = max(len(written & set(form)) for form in forms)
        fitting = [form for form in forms if len(written & set(form)) == most]
    listed = "; ".join(" ".join(f"`{key}`" for key in form) for form in fitting)
    draft.add("no-form", message, node.id.span, f"the forms with such keys are: {listed}")
    return ()


def _parts(
    draft: Draft, lowering: Lowering, node: Any, keys: tuple[str, ...], scope: Scope
) -> _Parts | None:
    """The lowered expressions and durations; None after a fault."""
    parts = _Parts()
    for key in keys:
        if key in _TIMES:
            value = _field(node, key)
            if isinstance(value, nodes.Bound):
                parts.strict, value = value.strict, value.duration
            positive = key != "within" or parts.strict
            time = lowering.duration(value, scope, positive=positive)
            if time is None:
                return None
            parts.times[key] = time
        else:
            parts.formulas[key] = _formula(draft, lowering, node, key, scope)
    return parts if keys else None


def _formula(draft: Draft, lowering: Lowering, node: Any, key: str, scope: Scope) -> Formula:
    expression = _field(node, key)
    if key in _LASTING:
        found = lowering.condition(expression, scope, f"`{key}`", _LASTING[key])
    else:
        found = lowering.truth(expression, scope)
    if key in _WARNED:
        note_mixed(draft, found, f"{node.id.value}.{key}", expression)
    return found.formula


# --------------------------------------------------------------------------- families and expectations


def scopes_of(draft: Draft, lowering: Lowering, each: nodes.Binders | None) -> list[Scope]:
    """One scope for each member of a family; one without binders if there is no `each`."""
    if each is None:
        return [Scope()]
    scopes = lowering.expand(each.binders, each.where, Scope())
    if scopes is None or not draft.room_for(len(scopes), each.span):
        return []
    if not scopes:
        no_member(draft, each)
    return scopes


@dataclass(frozen=True, slots=True)
class Expectations:
    """Which members are known to fail, and why that is accepted. `members` None: all."""

    fails: bool = False
    members: frozenset[str] | None = None
    reason: str = ""

    def of(self, scope: Scope) -> Literal["holds", "fails"]:
        """What is expected of this member."""
        if not self.fails:
            return "holds"
        chosen = self.members is None or any(m in self.members for _, m in scope.member)
        return "fails" if chosen else "holds"


def expectations(draft: Draft, node: Any, scopes: list[Scope]) -> Expectations:
    """What `expected` says about a requirement or story."""
    written = node.expected
    reason = _prose(node.reason)
    if written is None or (isinstance(written, nodes.Text) and written.value == "holds"):
        return Expectations()
    members: frozenset[str] | None = None
    if isinstance(written, nodes.Expected):
        reason = _prose(written.reason) or reason
        if not (isinstance(written.fails, nodes.Text) and written.fails.value == "all"):
            members = _members(draft, written, scopes)
    if not reason:
        draft.remark(
            "expected-without-reason",
            node.id.value,
            f"'{node.id.value}' is expected to fail, but no reason says why that is accepted",
            node.key_spans.get("expected", node.id.span),
        )
    return Expectations(True, members, reason)


def _members(draft: Draft, written: nodes.Expected, scopes: list[Scope]) -> frozenset[str]:
    listed: Mapping[str, Span]
    if isinstance(written.fails, nodes.Text):
        listed = {written.fails.value: written.fails.span}
    else:
        listed = {text_of(name): name.span for name in written.fails}
    known = [scope.member[0][1] for scope in scopes if len(scope.member) == 1]
    for member, span in listed.items():
        if member not in known:
            remedy = did_you_mean(member, [*known, "all"], f"the members are {', '.join(known[:8])}")
            draft.add(
                "bad-expected",
                f"'{member}' is no member that could fail",
                span,
                remedy if known else "write `fails: all`; members are named where `each` has one binder",
            )
    return frozenset(listed)


def _prose(text: nodes.Text | None) -> str:
    return text.value if text is not None else ""
