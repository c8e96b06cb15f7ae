"""Small systems to draw, and what is read off a picture."""

from __future__ import annotations

import xml.etree.ElementTree as ET

from prioritylogic.evidence.results import Answer, CheckResult, Trace
from prioritylogic.model.build import build
from prioritylogic.model.system import System
from prioritylogic.semantics.reference import Reference
from prioritylogic.semantics.state import Run
from prioritylogic.syntax.reader import read

SVG = "{http://www.w3.org/2000/svg}"
LAMP = """
system: lamp
about: "A <b>lamp</b> & its \\"knob\\""
inputs: {knob: button}
machines:
  lamp:
    states: [dark, lit]
    start: dark
    rules: [{id: light, from: dark, if: pressed(knob), to: lit}]
outputs: {click: taken(light)}
requirements:
  - {id: DARK, text: "It <script>stays</script> dark.", never: lamp is lit}
  - {id: LIT, possible: lamp is lit}
"""


def system_of(text: str) -> System:
    return build(read(text, "drawn.yaml"), text)


def lamp_result() -> CheckResult:
    """The lamp breaks DARK: somebody presses the knob."""
    system = system_of(LAMP)
    reference = Reference(system)
    first = next(iter(reference.starts((False,))))
    second = next(iter(reference.reactions(first.after, (True,), frozenset())))
    trace = Trace(Run((first, second), second.time), 1, "the lamp is <lit>")
    answers = (
        Answer(
            "DARK", (), "never", system.requirements[0].text, "fails", "holds", "explorer", "", trace
        ),
        Answer(
            "LIT", (), "possible", "", "undecided", "holds", "explorer", "the time limit was reached"
        ),
    )
    return CheckResult(system, answers, (), (), (), None)


def texts(svg: str) -> list[str]:
    """What is written in a picture, in its order."""
    return ["".join(found.itertext()).strip() for found in ET.fromstring(svg).iter(f"{SVG}text")]
