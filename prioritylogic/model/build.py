"""From the syntax tree to the checked System.

The passes below run in this order; each is one function in the file that explains it. A pass goes on
after a fault and notes all it finds, so that an author sees every fault of a spec at once.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeAlias

from prioritylogic.model.alerts import lower_alerts, lower_terms
from prioritylogic.model.declare import declare
from prioritylogic.model.demands import lower_assumptions, lower_requirements
from prioritylogic.model.draft import Draft
from prioritylogic.model.finish import mark_observed, note_unused, note_waivers
from prioritylogic.model.lower import Lowering
from prioritylogic.model.machines import lower_machines
from prioritylogic.model.order import put_in_order
from prioritylogic.model.settle import settle_settings, settle_variables
from prioritylogic.model.states import settle_machines
from prioritylogic.model.stories import lower_stories
from prioritylogic.model.system import System
from prioritylogic.syntax.nodes import Spec

Pass: TypeAlias = Callable[[Draft, Lowering], None]

PASSES: tuple[Pass, ...] = (
    declare,
    settle_settings,
    settle_variables,
    settle_machines,
    lower_terms,
    lower_machines,
    lower_alerts,
    lower_assumptions,
    lower_requirements,
    lower_stories,
    put_in_order,
    mark_observed,
    note_unused,
    note_waivers,
)


def build(spec: Spec, text: str) -> System:
    """The checked System of a spec.

    >>> from prioritylogic.syntax.reader import read
    >>> text = '''
    ... system: lamp
    ... inputs: {knob: button}
    ... machines:
    ...   lamp:
    ...     states: [dark, lit]
    ...     start: dark
    ...     rules: [{id: light, from: dark, if: pressed(knob), to: lit}]
    ... '''
    >>> build(read(text), text).rule("light").target
    'lit'

    Args:
        spec: what the reader of syntax gave.
        text: the source, kept for showing.

    Raises:
        SpecError: with every problem found.
    """
    draft, _ = drafted(spec, text)
    draft.complaints.problems.stop_if_any(text)
    change = spec.inputs_change.value if spec.inputs_change else ""
    return System(
        name=spec.system.value,
        about=spec.about.value if spec.about else "",
        file=spec.span.file,
        inputs=tuple(draft.inputs),
        memory=tuple(draft.memory),
        machines=tuple(draft.machines),
        timed=tuple(draft.timed),
        alerts=tuple(draft.alerts),
        order=draft.order,
        outputs=tuple(draft.outputs),
        terms=tuple(draft.terms),
        cases=tuple(draft.cases.values()),
        assumptions=tuple(draft.assumptions),
        requirements=tuple(draft.requirements),
        stories=tuple(draft.stories),
        interleaved=draft.interleaved,
        one_input_at_a_time=change == "one at a time",
        waived=draft.waived,
        remarks=tuple(draft.remarks),
        text=text,
    )


def drafted(spec: Spec, text: str) -> tuple[Draft, Lowering]:
    """What all passes have made of a spec, and what lowers more expressions of it in the same way."""
    draft = Draft(spec, text)
    lowering = Lowering(draft)
    for each in PASSES:
        each(draft, lowering)
    return draft, lowering
