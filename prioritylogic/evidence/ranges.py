"""What finding the good values of a setting gives back.

Plain frozen data. The parts of one requirement's answer are intervals that follow each other without
gap and together are the setting's whole range.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from prioritylogic.errors import NOWHERE, Span
from prioritylogic.evidence.results import Trace, Verdict
from prioritylogic.model.intervals import Interval
from prioritylogic.model.system import Member, System


@dataclass(frozen=True, slots=True)
class Varied:
    """The setting.

    Attributes:
        value: what the spec gives it; with `range` in base units, shown = figure / factor.
        whole: only whole numbers are asked about.
    """

    name: str
    value: Fraction
    range: Interval
    whole: bool
    unit: str
    factor: Fraction
    is_time: bool


@dataclass(frozen=True, slots=True)
class Example:
    """A run at one value: the counterexample there, or for what is possible the run that gets there.

    Attributes:
        value: of the setting.
        end: the end of the part that it stands for; `value` itself, if that is in the part.
        system: the spec read with that value; the run is one of its runs.
    """

    value: Fraction
    end: Fraction
    trace: Trace
    system: System


@dataclass(frozen=True, slots=True)
class Ground:
    """Why the verdict of a part is known for some of its values.

    Attributes:
        values: which.
        engine: what decided it for all of them at once; for a single value, for that one.
        reason: how; for undecided: what stopped it.
        invariant: the facts that a proof rests on, in the spec's words, the setting's name among them.
    """

    values: Interval
    engine: str
    reason: str
    invariant: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Part:
    """Values for which a requirement has one verdict.

    Attributes:
        values: which.
        grounds: how that is known, for one interval after the other.
        examples: runs at its ends, where it has a neighbour; else one somewhere in it.
        checked: single values for which a plain check gave the same verdict.
    """

    values: Interval
    verdict: Verdict
    grounds: tuple[Ground, ...]
    examples: tuple[Example, ...] = ()
    checked: tuple[Fraction, ...] = ()


@dataclass(frozen=True, slots=True)
class RangeAnswer:
    """One member of a requirement, for every value of the setting."""

    id: str
    member: Member
    form: str
    text: str
    expected: Verdict
    parts: tuple[Part, ...]
    span: Span = NOWHERE

    def at(self, value: Fraction) -> Part:
        """The part that has a value."""
        return next(part for part in self.parts if part.values.has(value))


@dataclass(frozen=True)
class FindResult:
    """Every requirement, for every value of one setting."""

    system: System
    setting: Varied
    answers: tuple[RangeAnswer, ...]

    @property
    def exit_code(self) -> int:
        """1: not as expected at the spec's own value; 3: undecided for some value; else 0."""
        own = [(answer, answer.at(self.setting.value).verdict) for answer in self.answers]
        if any(verdict not in (answer.expected, "undecided") for answer, verdict in own):
            return 1
        parts = (part for answer in self.answers for part in answer.parts)
        return 3 if any(part.verdict == "undecided" for part in parts) else 0
