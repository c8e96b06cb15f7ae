"""For which values of a setting each requirement holds: for people, and as "prioritylogic-find/1".

From top to bottom: the setting, for each requirement its verdicts with the values that have them, how
this is known, the runs at the boundaries, and a summary. Values are in the unit of the spec; in JSON
they are exact fractions of base units (seconds, plain numbers, degrees ...) as well.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby
from typing import Any

from prioritylogic.evidence.ranges import Example, FindResult, Part, RangeAnswer, Varied
from prioritylogic.evidence.words import counted
from prioritylogic.model.intervals import Interval
from prioritylogic.render.json import trace_data
from prioritylogic.render.layout import PLAIN, Ink, beside, column_for, paragraph
from prioritylogic.render.logbook import show_log
from prioritylogic.render.sentences import requirement_sentence
from prioritylogic.render.text import CAUTION, shape_of
from prioritylogic.render.values import indexed, listed, quantity

FORMAT = "prioritylogic-find/1"
_INKS = {"holds": "good", "fails": "bad", "undecided": "open"}
_VERDICTS = ("holds", "fails", "undecided")


@dataclass(frozen=True, slots=True)
class _Family:
    """Members of one requirement with the same answer."""

    answers: tuple[RangeAnswer, ...]

    @property
    def first(self) -> RangeAnswer:
        return self.answers[0]

    @property
    def label(self) -> str:
        alone = len(self.answers) == 1
        return indexed(self.first.id, self.first.member) if alone else self.first.id


def find_text(
    result: FindResult, width: int = 80, ink: Ink = PLAIN, with_invariants: bool = False
) -> str:
    """The whole result.

    Args:
        result: what `find` found out.
        width: of the terminal, in characters.
        ink: how to style.
        with_invariants: whether the facts behind proofs are shown.
    """
    setting, families = result.setting, _families(result.answers)
    lines = [ink("bold", result.system.name) + ink("faint", f"  {result.system.file}")]
    tried = "every whole number" if setting.whole else "every value"
    ends = f"{_shown(setting, setting.range.low)} to {_shown(setting, setting.range.high)}"
    own = _shown(setting, setting.value)
    lines += paragraph(f"{setting.name}: {tried} from {ends}; the spec has {own}", width, 2, 2)
    lines += ["", ink("bold", f"Values of {setting.name} for which requirements hold")]
    at = column_for((family.label for family in families), limit=20)
    for family in families:
        lines += _answer(result, family, width, ink, at)
    lines += _known(setting, families, width, ink)
    lines += _invariants(setting, families, width, ink) if with_invariants else []
    for family in families:
        lines += _runs(setting, family, width, ink)
    lines += ["", *_summary(result, width, ink)]
    return "\n".join(lines) + "\n"


def _families(answers: Iterable[RangeAnswer]) -> list[_Family]:
    """Neighbouring members of a family with the same parts, together."""

    def alike(answer: RangeAnswer) -> tuple[object, ...]:
        prose = answer.text or answer.member  # without prose each member is said for itself
        why = tuple(g.reason for p in answer.parts if p.verdict == "undecided" for g in p.grounds)
        return prose, why, tuple((part.values, part.verdict) for part in answer.parts)

    found: list[_Family] = []
    for _, members in groupby(answers, key=lambda answer: answer.id):
        kinds: dict[tuple[object, ...], list[RangeAnswer]] = {}
        for answer in members:
            kinds.setdefault(alike(answer), []).append(answer)
        found += [_Family(tuple(each)) for each in kinds.values()]
    return found


def _shown(setting: Varied, value: Fraction) -> str:
    return quantity(value, setting.unit, setting.factor)


def values_words(setting: Varied, values: Interval) -> str:
    """An interval in words: `5 s to 9 s, 9 s excluded`."""
    low, high = _shown(setting, values.low), _shown(setting, values.high)
    if values.single:
        return f"{low} alone"
    if values == setting.range:
        return f"every value, {low} to {high}"
    excluded = {(False, True): f", {low} excluded", (True, False): f", {high} excluded"}
    ends = excluded.get((values.low_in, values.high_in), "")
    return f"{low} to {high}" + (", both excluded" if not values.low_in and not values.high_in else ends)


def _answer(result: FindResult, family: _Family, width: int, ink: Ink, at: int) -> list[str]:
    answer = family.first
    text = answer.text or _sentence(result, answer)
    if len(family.answers) > 1:
        text += f" ({listed(indexed(each.id, each.member) for each in family.answers)})"
    lines = beside(family.label, text, width, at)
    for verdict in _VERDICTS:
        for part in (part for part in answer.parts if part.verdict == verdict):
            label = " " * (at - 2) + ink(_INKS[verdict], verdict)
            said = values_words(result.setting, part.values)
            own = part.values.has(result.setting.value) and part.values != result.setting.range
            said += f"; {_shown(result.setting, result.setting.value)} is among them" if own else ""
            if part.values.has(result.setting.value) and answer.expected != "holds":
                said += f"; '{answer.expected}' is expected there"
            lines += beside(label, said, width, at + 11)
    return lines


def _sentence(result: FindResult, answer: RangeAnswer) -> str:
    asked = {(r.id, r.member): r for r in result.system.requirements}
    return requirement_sentence(result.system, asked[answer.id, answer.member])


# --------------------------------------------------------------------------- how it is known


def _known(setting: Varied, families: list[_Family], width: int, ink: Ink) -> list[str]:
    """Each reason once, with what it is a reason for; single values are only counted."""
    reasons: dict[tuple[str, str], dict[str, None]] = {}
    open_: dict[str, dict[str, None]] = {}
    single: dict[Fraction, None] = {}
    for family in families:
        for part in family.first.parts:
            for ground in part.grounds:
                if part.verdict == "undecided":
                    whole = part.values == setting.range
                    said = "" if whole else f" ({values_words(setting, part.values)})"
                    open_.setdefault(ground.reason, {})[family.label + said] = None
                elif ground.values.single:
                    single[ground.values.low] = None
                else:
                    reasons.setdefault((part.verdict, ground.reason), {})[family.label] = None
    lines = ["", "  How this is known:"]
    for (verdict, reason), labels in reasons.items():
        verb = {"holds": "hold", "fails": "fail"}[verdict] if len(labels) > 1 else verdict
        lines += paragraph(f"{listed(labels)} {verb}: {reason}.", width, 4, 4)
    if single:
        said = listed(_shown(setting, value) for value in sorted(single))
        lines += paragraph(f"{said}: checked as a spec with that value.", width, 4, 4)
    checked = {value for f in families for a in f.answers for p in a.parts for value in p.checked}
    if checked:
        said = listed(_shown(setting, value) for value in sorted(checked))
        lines += paragraph(f"Plain checks at {said} give the same verdicts.", width, 4, 4)
    lines = [ink("faint", line) if line else line for line in lines] if len(lines) > 2 else []
    if open_:
        lines += ["", ink("bold", "Why undecided")]
        for reason, labels in open_.items():
            lines += paragraph(f"{listed(labels)}: {reason}.", width, 2, 4)
    return lines


def _invariants(setting: Varied, families: list[_Family], width: int, ink: Ink) -> list[str]:
    """The facts that each proof rests on, in the spec's words."""
    lines = ["", ink("bold", "Invariants")]
    for family in families:
        for part in family.first.parts:
            for ground in part.grounds:
                if ground.invariant:
                    said = f"{family.label}, {values_words(setting, ground.values)}"
                    lines += paragraph(said, width, 2)
                    for fact in ground.invariant:
                        lines += paragraph(fact, width, 4, 8)
    return lines if len(lines) > 2 else []


# --------------------------------------------------------------------------- runs


def _runs(setting: Varied, family: _Family, width: int, ink: Ink) -> list[str]:
    """The runs at the boundaries."""
    lines: list[str] = []
    shown: list[tuple[object, ...]] = []
    for answer in family.answers:
        for part in answer.parts:
            for example in part.examples:
                label = indexed(answer.id, answer.member)
                fails = part.verdict == "fails"
                how = f"{label} {'fails' if fails else 'is reached'} {_where(setting, part, example)}"
                shape = (example.value, *shape_of(example.system, example.trace))
                if shape in shown:
                    lines += ["", ink("bold", f"{how} in the same way.")]
                    continue
                shown.append(shape)
                lines += ["", ink("bold", f"How {how}")]
                mark = "fails here" if fails else "reached here"
                lines += show_log(example.system, example.trace, width, ink, mark)
    return lines


def _where(setting: Varied, part: Part, example: Example) -> str:
    """At which value a run is, and how that lies to the boundary."""
    at = f"at {setting.name} = {_shown(setting, example.value)}"
    if example.value == example.end:
        ends = (part.values.low, part.values.high)
        last = example.end in ends and part.values != setting.range and not part.values.single
        return at + (f", the {'least' if example.end == ends[0] else 'greatest'} value" if last else "")
    side = "above" if example.value > example.end else "below"
    return f"{at}, just {side} {_shown(setting, example.end)}"


# --------------------------------------------------------------------------- the end


def _summary(result: FindResult, width: int, ink: Ink) -> list[str]:
    setting = result.setting
    kinds = {"for every value": 0, "for some values": 0, "for no value": 0}
    open_ = 0
    for answer in result.answers:
        verdicts = {part.verdict for part in answer.parts}
        if "undecided" in verdicts:
            open_ += 1
        elif verdicts == {"holds"}:
            kinds["for every value"] += 1
        else:
            kinds["for some values" if "holds" in verdicts else "for no value"] += 1
    said = [
        f"{count} {'holds' if count == 1 else 'hold'} {how}" for how, count in kinds.items() if count
    ]
    said += [f"{open_} {'is' if open_ == 1 else 'are'} not decided for every value"] if open_ else []
    own = _shown(setting, setting.value)
    wrong = [a for a in result.answers if a.at(setting.value).verdict not in (a.expected, "undecided")]
    end = f"At {own}, as the spec has it, "
    if wrong:
        end += (
            f"{listed(indexed(a.id, a.member) for a in wrong)} {'is' if len(wrong) == 1 else 'are'} not"
        )
    else:
        end += "all is" if result.exit_code == 0 else "whatever is decided is"
    end += " as expected."
    total = counted(len(result.answers), "requirement")
    tally = f"of {total} {listed(said)}" if len(said) > 1 else "no requirement asks for anything"
    if len(said) == 1:
        tally = f"{total} {said[0].partition(' ')[2]}"
    words = {0: "Found", 1: "Not as it should be", 3: "Undecided"}[result.exit_code]
    lines = paragraph(f"{words}: {tally}. {end}", width)
    style = {0: "good", 1: "bad", 3: "open"}[result.exit_code]
    lines[0] = ink(style, lines[0][: len(words)]) + lines[0][len(words) :]
    return [*lines, *paragraph(f"Next: {_next(result)}", width), *paragraph(CAUTION, width)]


def _next(result: FindResult) -> str:
    if result.exit_code == 3:
        return "read under 'Why undecided' what stopped it, and what would help."
    return (
        "a plain `check` asks what is asked of every spec, such as ties, loops and time that stops, at "
        "the spec's own value."
    )


# --------------------------------------------------------------------------- as data


def find_document(result: FindResult) -> dict[str, Any]:
    """The result in the layout of `find.schema.json`."""
    setting = result.setting
    return {
        "format": FORMAT,
        "file": result.system.file,
        "system": result.system.name,
        "setting": {
            "name": setting.name,
            "value": _figure(setting, setting.value),
            "range": _values(setting, setting.range),
            "whole": setting.whole,
            "unit": setting.unit,
        },
        "exit_code": result.exit_code,
        "requirements": [_answer_data(setting, answer) for answer in result.answers],
    }


def _answer_data(setting: Varied, answer: RangeAnswer) -> dict[str, Any]:
    return {
        "id": answer.id,
        "member": dict(answer.member),
        "form": answer.form,
        "text": answer.text,
        "expected": answer.expected,
        "own_verdict": answer.at(setting.value).verdict,
        "line": answer.span.line,
        "column": answer.span.column,
        "parts": [
            {
                "values": _values(setting, part.values),
                "verdict": part.verdict,
                "grounds": [
                    {
                        "values": _values(setting, ground.values),
                        "engine": ground.engine,
                        "reason": ground.reason,
                        "invariant": list(ground.invariant),
                    }
                    for ground in part.grounds
                ],
                "checked": [_figure(setting, value) for value in part.checked],
                "examples": [
                    {
                        "value": _figure(setting, example.value),
                        "end": _figure(setting, example.end),
                        "trace": trace_data(example.system, example.trace),
                    }
                    for example in part.examples
                ],
            }
            for part in answer.parts
        ],
    }


def _figure(setting: Varied, value: Fraction) -> dict[str, Any]:
    """A value: exact in base units, as a float, and as a person writes it."""
    return {"exact": str(value), "figure": float(value), "shown": _shown(setting, value)}


def _values(setting: Varied, values: Interval) -> dict[str, Any]:
    return {
        "low": _figure(setting, values.low),
        "low_included": values.low_in,
        "high": _figure(setting, values.high),
        "high_included": values.high_in,
    }
