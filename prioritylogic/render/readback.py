"""A System said back in plain words: what was understood, for its author to hear.

It is made from the checked System, never from the source text, so that a rule that means something
else than its author thinks shows itself here. Prose that the author wrote is quoted where it stands
beside what was understood.
"""

from __future__ import annotations

from collections.abc import Iterator

from prioritylogic.evidence.words import counted
from prioritylogic.model.formula import Formula
from prioritylogic.model.system import Flag, Input, Machine, Memory, System
from prioritylogic.render.layout import PLAIN, Ink, beside, column_for, paragraph
from prioritylogic.render.sentences import (
    alert_sentence,
    assumption_sentence,
    requirement_sentence,
    rule_sentence,
    story_sentence,
)
from prioritylogic.render.values import domain_words, indexed, listed, value
from prioritylogic.render.wording import Wording

LEGEND = (
    "How to read this. 'Is' speaks of the present reaction, 'was' of the moment before it. A button is "
    "'pressed' in the one reaction in which it goes down, and is 'down' as long as it stays so. What "
    "happens 'as soon as' something is so takes no time."
)
Item = tuple[str, str, str]  # its name, what was understood, what its author wrote about it


def read_back(system: System, width: int = 80, ink: Ink = PLAIN) -> str:
    """The whole System in words.

    Args:
        system: a checked spec.
        width: of the terminal, in characters.
        ink: how to style.
    """
    lines = [ink("bold", f"{system.name}, as it was understood from {system.file}")]
    lines += paragraph(system.about, width) if system.about else []
    lines += ["", *paragraph(LEGEND, width)]
    if system.one_input_at_a_time:
        lines += paragraph("At most one input changes in a reaction.", width)
    sections: tuple[tuple[str, list[Item]], ...] = (
        ("What comes from outside", [(v.name, _variable(v), "") for v in system.inputs]),
        ("What is remembered", [(v.name, _variable(v), "") for v in system.memory]),
        ("What the words mean", list(_meanings(system))),
    )
    for title, items in sections:
        lines += _section(title, items, width, ink)
    for machine in system.machines:
        lines += _machine(system, machine, width, ink)
    if len(system.order) > 1:
        lines += ["", *paragraph(f"In a reaction the order is {', then '.join(system.order)}.", width)]
    if system.interleaved:
        one = listed(sorted(system.interleaved))
        lines += paragraph(
            f"Of {one} only one takes a rule in a reaction, any of those that can.", width
        )
    sections = (
        (
            "What calls for attention",
            [(a.name, alert_sentence(system, a), a.about) for a in system.alerts],
        ),
        ("What the world is shown", list(_outputs(system))),
        (
            "What the environment is trusted with",
            [
                (indexed(a.id, a.member), assumption_sentence(system, a), a.text)
                for a in system.assumptions
            ],
        ),
        (
            "What must be true",
            [
                (indexed(r.id, r.member), requirement_sentence(system, r), r.text)
                for r in system.requirements
            ],
        ),
        (
            "What is rehearsed",
            [(indexed(s.id, s.member), story_sentence(system, s), s.text) for s in system.stories],
        ),
        ("Findings accepted in advance", [(id_, reason, "") for id_, reason in system.waived]),
    )
    for title, items in sections:
        lines += _section(title, items, width, ink)
    return "\n".join(lines) + "\n"


def _section(title: str, items: list[Item], width: int, ink: Ink) -> list[str]:
    return ["", ink("bold", title), *_items(items, width, ink)] if items else []


def _items(items: list[Item], width: int, ink: Ink) -> list[str]:
    """Names with what was understood; prose that several in a row share is quoted once above them."""
    at = column_for(name for name, _, _ in items)
    lines: list[str] = []
    quoted = ""
    for name, understood, prose in items:
        if prose and prose != quoted:
            lines += [""] if lines else []
            lines += [ink("faint", line) for line in paragraph(f'"{prose}"', width, 2)]
        quoted = prose
        lines += beside(name, understood, width, at)
    return lines


def _variable(variable: Input | Memory) -> str:
    start = "starts at any value that the assumptions allow"
    if variable.start is not None:
        said = value(variable.start, variable.domain)
        start = f"starts {'' if isinstance(variable.domain, Flag) else 'at '}{said}"
    return f"{domain_words(variable.domain)}; {start}"


def _meanings(system: System) -> Iterator[Item]:
    for term in system.terms:
        yield term.name, _meaning(system, term.name, term.formula), ""


def _outputs(system: System) -> Iterator[Item]:
    for output in system.outputs:
        yield output.name, _meaning(system, output.name, output.formula), ""


def _meaning(system: System, name: str, formula: Formula) -> str:
    wording = Wording(system, but=name)
    if wording.sort(formula) != "truth":
        return wording.quantity(formula)
    when = "in the reaction in which" if wording.is_event(formula) else "as long as"
    return f"{when} {wording.condition(formula)}"


def _machine(system: System, machine: Machine, width: int, ink: Ink) -> list[str]:
    said = counted(len(machine.rules), "rule") if machine.rules else "no rules"
    lines = ["", ink("bold", f"Machine {machine.name}") + f", {said}"]
    lines += paragraph(f'"{machine.about}"', width, 2) if machine.about else []
    lines += paragraph(
        f"Its states are {listed(machine.states)}; it starts in {machine.start}.", width, 2
    )
    if machine.tie_either:
        lines += paragraph("Where its rules tie, either may win, and that is intended.", width, 2)
    rules = [(rule.id, rule_sentence(system, machine, rule), rule.about) for rule in machine.rules]
    return [*lines, "", *_items(rules, width, ink)]
