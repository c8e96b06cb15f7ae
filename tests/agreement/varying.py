"""Random specs in which one figure has become a setting with a range, held against single values.

A setting `p` takes the place of one length of time, or of one limit of a lever, somewhere in the rules,
alerts or requirements of a random spec; sometimes of all that are as long, sometimes doubled. What is
found for all values at once must be what exploring says at single values: at the ends found, at both
sides of them, and at a few more.
"""

from __future__ import annotations

import random
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, TypeAlias

from phrases import Spec
from systems import Maker, text_of

import prioritylogic
from prioritylogic.engines.deciding import Deciding
from prioritylogic.engines.limits import Limits
from prioritylogic.engines.part import Options
from prioritylogic.engines.ranges import find
from prioritylogic.model.ranged import ranged
from prioritylogic.model.system import Requirement, System

FIGURE = re.compile(r"\b([1-9]\d*) (s\b|ms\b|%)")
WORK = 3_000  # states, at each single value
EXPLORER = Options(engines=("explorer",))
PARTS = 16  # of the range, for values beside an end
Place: TypeAlias = tuple[str | int, ...]


@dataclass(frozen=True)
class Varied:
    """A spec with a setting p."""

    seed: int
    text: str
    system: System
    place: Place


class Apt(Maker):
    """Asks about one rule's or alert's own time wherever it can, so that figures matter."""

    def ask(self, number: int) -> Spec:
        apt = self.apt()
        return {"id": f"R{number}"} | apt if apt else super().ask(number)


def varied(seed: int, maker: type[Maker] = Apt) -> Varied | None:
    """The spec of a seed; None if it is refused or has no figure."""
    spec, pick = maker(seed).spec(), random.Random(seed)
    figures = list(_figures({key: spec.get(key, {}) for key in ("machines", "alerts", "requirements")}))
    kinds = [
        [each for each in figures if each[2] == "%"],
        [each for each in figures if each[0][0] == "requirements" and each[2] != "%"],
        [each for each in figures if each[0][0] == "requirements" and each[2] != "%"],
        [each for each in figures if each[0][0] != "requirements" and each[2] != "%"],
    ]
    figures = next((kind for kind in pick.sample(kinds, 4) if kind), [])
    if not figures:
        return None
    place, count, unit = pick.choice(figures)
    written, said = f"{count} {unit}", "p" if pick.random() < 0.8 else "2 * p"
    everywhere = pick.random() < 0.3
    for other, *figure in figures:
        if other == place or (everywhere and figure == [count, unit]):
            _put(spec, other, re.sub(rf"\b{written}", said, _at(spec, other)))
    low, high = count / 2, count * (2 if unit == "%" else 3)
    setting = {"value": written, "range": f"{low:g} {unit} to {high} {unit}"}
    text = text_of({"system": "random", "settings": {"p": setting}, **spec})
    try:
        return Varied(seed, text, prioritylogic.load(text), place)
    except prioritylogic.SpecError:
        return None


def _figures(part: Any, place: Place = ()) -> Iterator[tuple[Place, int, str]]:
    """Each figure of a spec with its place."""
    if isinstance(part, str):
        yield from ((place, int(found[1]), found[2]) for found in FIGURE.finditer(part))
        return
    inner = part.items() if isinstance(part, dict) else enumerate(part) if isinstance(part, list) else ()
    for key, value in inner:
        yield from _figures(value, (*place, key))


def _at(spec: Any, place: Place) -> str:
    for key in place:
        spec = spec[key]
    return str(spec)


def _put(spec: Spec, place: Place, text: str) -> None:
    part: Any = spec
    for key in place[:-1]:
        part = part[key]
    part[place[-1]] = text


def asked(case: Varied) -> str:
    """The requirement that the setting is likeliest to matter to: its own, or one with a figure about
    the machine that has it."""
    top, number, *_ = (*case.place, 0)
    if top == "requirements":
        return case.system.requirements[int(number)].id

    def unlikely(requirement: Requirement) -> tuple[bool, bool]:
        named = any(re.search(rf"\b{number}\b", said) for _, said in requirement.said)
        return not requirement.keys.endswith(("within", "for", "every", "apart")), not named

    return min(case.system.requirements, key=unlikely).id


def differences(case: Varied, only: tuple[str, ...] = ()) -> tuple[list[str], Counter[str]]:
    """Where single values say otherwise, and what was compared."""
    found, setting = find(case.system, "p", only), ranged(case.system, "p")
    step = (setting.range.high - setting.range.low) / PARTS
    ends = {end for a in found.answers for p in a.parts for end in (p.values.low, p.values.high)}
    beside = {end + side * step for end in ends for side in (-1, 0, 1)}
    wrong: list[str] = []
    seen = Counter({"systems": 1})
    for answer in found.answers:
        verdicts = {part.verdict for part in answer.parts}
        seen["with ends"] += {"holds", "fails"} <= verdicts
        seen["undecided"] += "undecided" in verdicts
    for value in sorted(value for value in beside if setting.range.has(value)):
        try:
            system = setting.build(value)
        except prioritylogic.SpecError:
            continue
        deciding = Deciding(system, list(system.requirements), Limits(states=WORK), EXPLORER)
        for answer in found.answers:
            number = next(n for n, r in enumerate(system.requirements) if r.id == answer.id)
            verdict, single = answer.at(value).verdict, deciding.decide(number).verdict
            if "undecided" in (verdict, single):
                continue
            seen["values"] += 1
            if verdict != single:
                wrong.append(
                    f"seed {case.seed}: {answer.id} {verdict} at p = {value}, but exploring says that it "
                    f"{single}\n{case.text}"
                )
    return wrong, seen
