"""Explanations in words: why a verdict is what it is, for somebody who is to be able to check it.

Three kinds, as in evidence/explanation.py. Every rule is named with the line where it stands.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import Any

from prioritylogic.evidence.explanation import Blocking, Cause, Causes, DecisivePart, Fact, Proof, Told
from prioritylogic.evidence.results import Answer, CheckResult, Trace
from prioritylogic.evidence.words import counted
from prioritylogic.model.formula import Value
from prioritylogic.model.system import RuleId, System
from prioritylogic.render.layout import PLAIN, Ink, beside, paragraph
from prioritylogic.render.logbook import Scribe, show_log
from prioritylogic.render.proofs import HELP
from prioritylogic.render.values import duration, indexed, instant, listed, value
from prioritylogic.render.wording import Wording

AT = 19  # the column of what is said of a fact


def explanations(result: CheckResult, width: int, ink: Ink = PLAIN) -> list[str]:
    """What explains each answer that is to be explained, one after the other."""
    lines: list[str] = []
    helped = False
    for answer in (*result.requirements, *result.stories):
        if answer.explanation is None:
            continue
        verdict = {"undecided": "is undecided"}.get(answer.verdict, answer.verdict)
        lines += ["", ink("bold", f"Why {indexed(answer.id, answer.member)} {verdict}")]
        match answer.explanation:
            case Causes() as causes:
                lines += _causes(result.system, answer, causes, width, ink)
            case Proof() as proof:
                if proof.facts and not helped:
                    lines += [ink("faint", line) for line in paragraph(HELP, width, 2)]
                    helped = True
                lines += _proof(result.system, answer, proof, width, ink)
            case Told(sentences):
                lines += paragraph(f"{answer.reason[:1].upper()}{answer.reason[1:]}.", width, 2)
                for sentence in sentences:
                    lines += paragraph(sentence, width, 2)
    return lines


# --------------------------------------------------------------------------- causes


def _causes(system: System, answer: Answer, causes: Causes, width: int, ink: Ink) -> list[str]:
    reaches = answer.verdict == "holds"
    does = "gets there" if reaches else "breaks it"
    lines: list[str] = []
    if answer.trace is not None and causes.run != answer.trace.run:
        lines += paragraph("What makes no difference is left out of the run here:", width, 2)
        less = Trace(causes.run, causes.marked, causes.note, at=causes.at)
        lines += show_log(
            system, less, width, ink, "fails here" if answer.verdict == "fails" else "here"
        )
    if causes.causes:
        few = len(causes.causes) > 1
        without = "Without any one of these, with all else" if few else "Without this, with all else"
        lines += paragraph(f"{without} as it is, no run {does}:", width, 2)
        for cause in causes.causes:
            lines += beside(instant(cause.time).rjust(6), cause_words(system, cause), width, 12, 4)
    else:
        lines += paragraph("There is nothing without which no run would do the same.", width, 2)
    if not causes.settled:
        lines += paragraph("There may be more: too many runs would have to be tried.", width, 2)
    lines += paragraph(_decided(system, answer, causes), width, 2)
    read: set[object] = set()
    for part in causes.parts:
        shown = replace(part, values=()) if part.values in read else part  # values are said once
        read.add(part.values)
        lines += paragraph(part_words(system, shown), width, 4, 4)
    return lines


def cause_words(system: System, cause: Cause) -> str:
    """A cause, with its place in the run and in the spec."""
    line = f"(row {cause.row}; line {cause.span.line})"
    if cause.kind == "input":
        assert cause.value is not None
        variable = next(variable for variable in system.inputs if variable.name == cause.name)
        return f"{cause.name} {Scribe(system).move(variable, cause.value)} {line}"
    about = system.rule(cause.name).about.strip().rstrip(".")
    why = f": {about}" if about else ""
    if cause.kind == "offer":
        return f"rule {cause.name} is taken, though it could wait {line}{why}"
    return f"rule {cause.name} {line}{why}"


def _decided(system: System, answer: Answer, causes: Causes) -> str:
    """How the place is said at which it shows."""
    since = "" if causes.asked is None else f", asked since {instant(causes.asked)},"
    if not causes.parts:
        return f"It shows at the end{since}." if since else "It shows at the end."
    if answer.verdict == "holds":
        return "There, this makes its condition true:"
    if answer.form.endswith(("within", "every", "at_once")):
        return f"What is to come{since} has not come, because at the end"
    return f"There, what must be true{since} is not, because"


def part_words(system: System, part: DecisivePart) -> str:
    """A part that decided, with what it read."""
    said = Wording(system).condition(part.formula, negated=not part.true)
    read = [f"{name} is {_shown(system, name, found)}" for name, found in part.values]
    return f"{said} ({listed(read)})" if read else said


def _shown(system: System, name: str, found: Value) -> str:
    inner = name.removeprefix("before(").removesuffix(")") if name.startswith("before(") else name
    return value(found, system.domain(inner))


# --------------------------------------------------------------------------- proofs


def _proof(system: System, answer: Answer, proof: Proof, width: int, ink: Ink) -> list[str]:
    lines = paragraph(" ".join(_opening(answer, proof)), width, 2)
    for said in _timers(system, proof):
        lines += paragraph(said, width, 2)
    for number, fact in enumerate(proof.facts, 1):
        lines += beside(ink("bold", f"fact {number}"), fact.text, width, AT)
        lines += beside("starts true", _starts(fact), width, AT, 4)
        lines += beside("stays true", _stays(system, fact), width, AT, 4)
    if proof.facts:
        lines += beside(ink("bold", "is enough"), _enough(answer, proof), width, AT)
    lines += _blocking(system, proof, width)
    return lines


def _opening(answer: Answer, proof: Proof) -> Iterator[str]:
    does = "gets there" if answer.form == "possible" else "breaks it"
    if proof.besides:
        yield "The verdict comes from looking at every state; here is an argument that needs no list."
    if proof.several:
        yield (
            f"By {proof.several}: no run {does} in its first reactions, and no state after so many "
            "different ones that go well, reached or not, goes wrong."
        )
    elif proof.facts:
        facts = counted(len(proof.facts), "fact")
        yield f"{facts} about the state: true at the start, passed on by every step, and enough."
    else:
        yield f"No step from any state {does}, whether the state can be reached or not."


def _timers(system: System, proof: Proof) -> Iterator[str]:
    """What the timed conditions are of which facts speak."""
    numbers = {n for fact in proof.facts for n in re.findall(r"\btimer(\d+)\.", fact.text)}
    for number in sorted(map(int, numbers)):
        if number < len(system.timed):
            timed = system.timed[number]
            yield f"timer{number} is the one behind `{timed.said}` (line {timed.span.line})."


def _starts(fact: Fact) -> str:
    return f"at first, {fact.starts}" if fact.starts else "it is so after every first reaction"


def _stays(system: System, fact: Fact) -> str:
    others = f"; there it rests on {_facts(fact.needs)} before the step, too" if fact.needs else ""
    if not fact.risks and not fact.at_rest:
        rests = f", given {_facts(fact.needs)}" if fact.needs else ""
        return f"no step touches what makes it true{rests}"
    steps = [f"a step with {_rules(system, fact.risks)}"] if fact.risks else []
    steps += ["one" if fact.risks else "a step"] if fact.at_rest else []
    where = ", or in ".join(steps) + (" without any rule" if fact.at_rest else "")
    return f"what makes it true may change only in {where}; then another part of it is true{others}"


def _rules(system: System, rules: Iterable[RuleId]) -> str:
    """Rules with their lines, a whole family by its name."""
    rules = tuple(rules)
    lines: dict[int, list[str]] = {}
    for name in Wording(system).families(rules):
        first = next(rule for rule in rules if name in (rule, system.rule(rule).family))
        lines.setdefault(system.rule(first).span.line, []).append(name)
    return listed((f"{' or '.join(names)} (line {line})" for line, names in lines.items()), "or")


def _facts(numbers: Iterable[int]) -> str:
    found = [str(number) for number in numbers]
    return f"fact{'s' if len(found) > 1 else ''} {listed(found)}"


def _enough(answer: Answer, proof: Proof) -> str:
    does = "gets there" if answer.form == "possible" else "breaks it"
    if not proof.enough:
        return f"no step {does}, even from states without these facts"
    return f"from a state with {_facts(proof.enough)}, no step {does}, nor does time as it passes"


def _blocking(system: System, proof: Proof, width: int) -> list[str]:
    if proof.blocked:
        return paragraph("What plain induction would stumble over was not found.", width, 2)
    step = proof.blocking
    if step is None:
        said = "Plain induction goes through: the requirement itself is passed on by every step."
        return paragraph(said, width, 2) if proof.facts else []
    without = "From one state alone" if proof.several else "Without the facts"
    lines = paragraph(f"{without}, induction stumbles over a step that no run takes:", width, 2)
    lines += beside("before", "; ".join(_named(system, step.before)), width, AT, 4)
    lines += beside("step", "; ".join(_step(system, step)), width, AT, 4)
    if step.after:
        lines += beside("after", "; ".join(_named(system, step.after)), width, AT, 4)
    if step.excluded:
        false = "is false" if len(step.excluded) == 1 else "are false"
        said = f"{_facts(step.excluded).capitalize()} {false} in the state before: no run comes to it."
        lines += paragraph(said, width, 2)
    elif proof.several:
        lines += paragraph("The state before does not follow on so many different ones.", width, 2)
    return lines


def _named(system: System, values: Iterable[tuple[str, Value]]) -> Iterator[str]:
    """Names and what they are; clocks and what is asked, too."""
    known = {each.name for each in system.inputs} | {each.name for each in system.machines}
    known |= {each.name for each in system.memory}
    for name, found in values:
        if name in known:
            yield f"{name} is {value(found, system.domain(name))}"
        elif isinstance(found, bool):
            yield name if found else f"not {name}"
        else:
            assert not isinstance(found, str)
            yield f"{name} = {duration(found)}"


def _step(system: System, step: Blocking) -> Iterator[str]:
    if step.wait:
        yield f"{duration(step.wait)} pass"
    if step.late:
        yield "and time has broken it"
        return
    inputs = {variable.name: variable for variable in system.inputs}
    scribe = Scribe(system)
    for name, found in step.changes:
        yield f"{name} {scribe.move(inputs[name], found)}"
    if step.taken:
        yield f"rule {listed(f'{rule} (line {system.rule(rule).span.line})' for rule in step.taken)}"
    if not (step.changes or step.taken):
        yield "a reaction in which nothing happens"
    yield "and that breaks it"


# --------------------------------------------------------------------------- for programs


def explanation_data(system: System, answer: Answer) -> dict[str, Any] | None:
    """An explanation as JSON data, by its `kind`: causes, proof or told; null if none was asked for."""
    match answer.explanation:
        case Causes() as causes:
            return {
                "kind": "causes",
                "causes": [
                    {
                        "kind": cause.kind,
                        "name": cause.name,
                        "time": str(cause.time),
                        "row": cause.row,
                        "text": cause_words(system, cause),
                        "line": cause.span.line,
                        "column": cause.span.column,
                    }
                    for cause in causes.causes
                ],
                "complete": causes.settled,
                "asked": None if causes.asked is None else str(causes.asked),
                "decisive": [part_words(system, part) for part in causes.parts],
            }
        case Proof() as proof:
            return {
                "kind": "proof",
                "facts": [
                    {
                        "text": fact.text,
                        "starts": fact.starts or None,
                        "rules": list(fact.risks),
                        "no_rule": fact.at_rest,
                        "needs": list(fact.needs),
                    }
                    for fact in proof.facts
                ],
                "enough": list(proof.enough),
                "blocking": None if proof.blocking is None else _blocking_data(system, proof.blocking),
            }
        case Told(sentences):
            return {"kind": "told", "sentences": list(sentences)}
    return None


def _blocking_data(system: System, step: Blocking) -> dict[str, Any]:
    return {
        "before": list(_named(system, step.before)),
        "step": list(_step(system, step)),
        "after": list(_named(system, step.after)),
        "excluded_by": list(step.excluded),
    }
