"""The runs of a result that are worth a picture: what breaks a requirement, reaches a possibility, or
shows a finding, each with what is said about it.

Accepted findings are left out, as in the text of a check.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from prioritylogic.evidence.results import CheckResult, Trace
from prioritylogic.render.dot import ALARM, NEWS
from prioritylogic.render.sentences import requirement_sentence
from prioritylogic.render.values import indexed

CAUTION = "Caution: a verdict is about this text and its assumptions, not about anything built."


@dataclass(frozen=True, slots=True)
class ShownRun:
    """A run and its words.

    Attributes:
        id: of the requirement, story or finding, with its member.
        title: what happens, in one line.
        about: what was asked, or found, in a sentence.
        mark: what is written where it is decided, such as "fails here".
    """

    id: str
    title: str
    about: str
    mark: str
    trace: Trace

    @property
    def color(self) -> str:
        """The colour of what decides; the mark says the same in words."""
        return NEWS if self.mark == "reached here" else ALARM

    @property
    def file(self) -> str:
        """The id as a part of a file's name."""
        return re.sub(r"[^\w.+-]+", "-", self.id).strip("-")


def runs(result: CheckResult) -> Iterator[ShownRun]:
    """Every run that a result shows."""
    asked = {(r.id, r.member): r for r in result.system.requirements}
    for answer in (*result.requirements, *result.stories):
        if answer.trace is not None:
            name = indexed(answer.id, answer.member)
            fails = answer.verdict == "fails"
            how, mark = ("fails", "fails here") if fails else ("is reached", "reached here")
            requirement = asked.get((answer.id, answer.member))
            said = (
                answer.text if requirement is None else requirement_sentence(result.system, requirement)
            )
            yield ShownRun(name, f"{result.system.name}: how {name} {how}", said, mark, answer.trace)
    for found in result.findings:
        if found.trace is not None and not found.waived:
            title = f"{result.system.name}: how {found.id} comes about"
            yield ShownRun(found.id, title, found.message, "seen here", found.trace)


def alone(trace: Trace) -> ShownRun:
    """A run by itself, without the result that it came from."""
    name = trace.system.name if trace.system else ""
    return ShownRun("run", f"{name}: a run", trace.note, "decided here", trace)
