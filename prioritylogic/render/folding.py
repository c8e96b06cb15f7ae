"""A machine as boxes and arrows, families drawn as one where that loses nothing.

A machine with one state per station has as many arrows as the square of the stations, and nobody
sees in them that all stations are alike. So states of a family (`held[fore]`, `held[aft]`) become
one box, and rules of a family one arrow (`lock[w]`), provided that every rule of the machine says
the same of each member, and starts from the member that it is about, from each member, or from none.
Otherwise the machine is drawn as it is, every state for itself.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from prioritylogic.model.formula import TRUE
from prioritylogic.model.system import Machine, Member, Rule, System, Takes
from prioritylogic.render.values import duration, indexed, listed, one_of
from prioritylogic.render.wording import Wording

ANYWHERE = "any state"
BUT = "any but "


@dataclass(frozen=True, slots=True)
class Box:
    """A state, or a family of states. `members` are the indexes of a family, else none."""

    name: str
    states: tuple[str, ...]
    members: tuple[str, ...] = ()
    binder: str = ""

    @property
    def title(self) -> str:
        """What stands in the box."""
        return f"{self.name}[{self.binder or 'each'}]" if self.members else self.name


@dataclass(frozen=True, slots=True)
class Arrow:
    """A rule, or a family of rules, between two boxes. The tail ANYWHERE stands for every state.

    Attributes:
        note: from which members it starts, where the boxes leave that open.
        guard: the condition, in the notation of the spec.
        more: when it may be taken, what it sets, what it wins over.
    """

    tail: str
    head: str
    name: str
    note: str
    guard: str
    more: tuple[str, ...]
    optional: bool
    stays: bool


@dataclass(frozen=True, slots=True)
class Sketch:
    """What is drawn of a machine."""

    boxes: tuple[Box, ...]
    arrows: tuple[Arrow, ...]

    def box(self, state: str) -> Box:
        """The box of a state."""
        return next(box for box in self.boxes if state in box.states)


def sketch(system: System, machine: Machine) -> Sketch:
    """The boxes and arrows of a machine, folded if that loses nothing."""
    said = {rule.id: _said(system, machine, rule) for rule in machine.rules}
    families: dict[str, list[Rule]] = {}
    for rule in machine.rules:
        families.setdefault(rule.family, []).append(rule)
    boxes = _family_boxes(machine)
    if any(box.members for box in boxes):
        ends = {family: _ends(boxes, rules, said) for family, rules in families.items()}
        if all(ends.values()):
            known = {family: found for family, found in ends.items() if found}
            boxes = [_with_binder(box, known.values()) for box in boxes]
            arrows = (
                a for name, found in known.items() for a in _folded(boxes, families[name], found, said)
            )
            return Sketch(tuple(boxes), tuple(arrows))
    plain = tuple(Box(state, (state,)) for state in machine.states)
    return Sketch(plain, tuple(a for rules in families.values() for a in _plain(machine, rules, said)))


# --------------------------------------------------------------------------- what a rule says


@dataclass(frozen=True, slots=True)
class _Said:
    """The words of one rule: its guard with binders, the rest with members."""

    guard: str
    more: tuple[str, ...]


def _said(system: System, machine: Machine, rule: Rule) -> _Said:
    wording = Wording(system, rule.said, machine)
    guard = " ".join(rule.said.split())
    if not guard and rule.guard != TRUE:
        guard = wording.condition(rule.guard)
    more = (
        [] if rule.delay is None else [f"after {'over ' * rule.delay.strict}{duration(rule.delay.time)}"]
    )
    if rule.takes is not None:
        more.append(_stretch(rule.takes, wording))
    more += ["not put off for ever"] if rule.fair else []
    more += [f"set {n} to {wording.quantity(right, wording.unit_of(n))}" for n, right in rule.writes]
    if rule.beats:
        more.append(f"wins over {listed(wording.families(rule.beats))}")
    return _Said(guard, tuple(more))


def _stretch(takes: Takes, wording: Wording) -> str:
    low, high = duration(takes.low), duration(takes.high or takes.low)
    above, below = "over " * takes.low_strict, "under " * takes.high_strict
    if takes.high is None:
        said = f"takes {above or 'at least '}{low}" if takes.low or takes.low_strict else "some day"
    elif takes.low or takes.low_strict:
        said = f"takes {above}{low} to {below}{high}"
    else:
        said = f"takes {below or 'at most '}{high}"
    return f"{said}, since {one_of(wording.families(takes.since))}" if takes.since else said


def _special(text: str, member: Member) -> str:
    """A text with members in place of binders; what follows a figure is a unit, not a binder."""
    return _renamed(text, dict(member), r"(?<![\w.])(?<!\d\s)")


def _general(text: str, member: Member) -> str:
    """A text with binders in place of members."""
    return _renamed(text, {who: binder for binder, who in reversed(member)}, r"(?<!\w)")


def _renamed(text: str, names: dict[str, str], before: str) -> str:
    """The text with each name replaced where it stands as a word, all at once."""
    if not names:
        return text
    known = "|".join(map(re.escape, names))
    return re.sub(rf"{before}({known})(?!\w)", lambda found: names[found[1]], text)


# --------------------------------------------------------------------------- folded


def _family_boxes(machine: Machine) -> list[Box]:
    found: dict[str, list[str]] = {}
    for state in machine.states:
        found.setdefault(state.partition("[")[0], []).append(state)
    boxes = []
    for base, states in found.items():
        if len(states) > 1 and all("[" in state for state in states):
            boxes.append(Box(base, tuple(states), tuple(state[len(base) + 1 : -1] for state in states)))
        else:
            boxes += [Box(state, (state,)) for state in states]
    return boxes


@dataclass(frozen=True, slots=True)
class _Ends:
    """Where the arrows of a family begin and end: boxes, each with the binders that pick its member.

    No binder: every member of the box, or a box that is one state. BUT before it: every other member.
    """

    tails: dict[str, str]
    heads: dict[str, str]


def _ends(boxes: list[Box], rules: list[Rule], said: dict[str, _Said]) -> _Ends | None:
    """The ends of a family's arrows between folded boxes; None if its members differ."""
    first = _widest(rules)
    general = [_general(text, first.member) for text in said[first.id].more]
    for rule in rules:
        there = [_special(text, rule.member) for text in general]
        if said[rule.id].guard != said[first.id].guard or list(said[rule.id].more) != there:
            return None
        if (rule.optional, rule.target is None) != (first.optional, first.target is None):
            return None
    tails = _side(boxes, [(rule, rule.sources) for rule in rules])
    heads = _side(boxes, [(rule, frozenset(filter(None, [rule.target]))) for rule in rules])
    return None if tails is None or heads is None or len(heads) > 1 else _Ends(tails, heads)


def _widest(rules: list[Rule]) -> Rule:
    """The rule whose members differ most, so that a member tells its binder."""
    return max(rules, key=lambda rule: len({who for _, who in rule.member}))


def _side(boxes: list[Box], ends: list[tuple[Rule, frozenset[str]]]) -> dict[str, str] | None:
    """The boxes at one side of a family's arrows, each with the binder that picks its member."""
    found: dict[str, str] = {}
    for box in boxes:
        touched = [(rule, states & set(box.states)) for rule, states in ends]
        if not any(inside for _, inside in touched):
            continue
        if all(len(inside) == len(box.states) for _, inside in touched):
            found[box.name] = ""
            continue
        others = [(rule, frozenset(box.states) - inside) for rule, inside in touched]
        fitting = [binder for binder in _binders(ends[0][0]) if _picks(box, binder, touched)]
        fitting += [BUT + binder for binder in _binders(ends[0][0]) if _picks(box, binder, others)]
        if not fitting:
            return None
        found[box.name] = fitting[0]
    return found


def _binders(rule: Rule) -> list[str]:
    """What can stand in an index: one binder, or all of them."""
    names = [binder for binder, _ in rule.member]
    return [*names, ", ".join(names)] if len(names) > 1 else names


def _picks(box: Box, binder: str, touched: list[tuple[Rule, frozenset[str]]]) -> bool:
    """Whether each rule is about the box's state of its own member, and all members have a rule."""
    own = [f"{box.name}[{_special(binder, rule.member)}]" for rule, _ in touched]
    right = all({state} == inside for state, (_, inside) in zip(own, touched, strict=True))
    return right and len(set(own)) == len(box.states)


def _with_binder(box: Box, families: Iterable[_Ends]) -> Box:
    """The box with the index that all rules use for its members, if they agree."""
    told = {side.get(box.name, "") for ends in families for side in (ends.tails, ends.heads)}
    used = {binder.removeprefix(BUT) for binder in told} - {""}
    return replace(box, binder=used.pop()) if len(used) == 1 else box


def _folded(boxes: list[Box], rules: list[Rule], ends: _Ends, said: dict[str, _Said]) -> Iterator[Arrow]:
    """The arrows of a family, each said for all members at once."""
    first = _widest(rules)
    named = {box.name: box for box in boxes}
    index = tuple((binder, binder) for binder, _ in first.member)
    more = tuple(_general(text, first.member) for text in said[first.id].more)
    for tail, picked in ends.tails.items():
        head = next(iter(ends.heads), tail)
        note = []
        if named[tail].members and picked != named[tail].binder:
            note.append(f"from {tail}[{picked}]" if picked else f"from any {tail}")
        if (into := ends.heads.get(head, "")) != named[head].binder and into:
            note.append(f"to {head}[{into}]")
        yield Arrow(
            tail,
            head,
            indexed(first.family, index),
            " ".join(note),
            said[first.id].guard,
            more,
            first.optional,
            stays=first.target is None,
        )


# --------------------------------------------------------------------------- not folded


def _plain(machine: Machine, rules: list[Rule], said: dict[str, _Said]) -> Iterator[Arrow]:
    """The arrows of a family between single states."""
    for rule in rules:
        everywhere = len(rule.sources) == len(machine.states) > 2
        words = said[rule.id]
        for tail in [ANYWHERE] if everywhere else [s for s in machine.states if s in rule.sources]:
            yield Arrow(
                tail,
                rule.target or tail,
                rule.id,
                "",
                _special(words.guard, rule.member),
                words.more,
                rule.optional,
                stays=rule.target is None,
            )
