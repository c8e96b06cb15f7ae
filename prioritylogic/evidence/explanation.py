"""Why a verdict is what it is, as data; the words are found in render/explanation.py.

Three kinds. A *proof*: what each fact of the invariant rests on, and the step that plain induction
stumbles over. *Causes*: what a run could not do without. A *told* one: the verdict's own reason is all
there is to say, with what was looked for in vain.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

from prioritylogic.errors import NOWHERE, Span
from prioritylogic.model.formula import Formula, Value
from prioritylogic.model.system import RuleId, Seconds
from prioritylogic.semantics.state import Run


@dataclass(frozen=True, slots=True)
class Cause:
    """Something that a run could not do without.

    Attributes:
        kind: an input's change; the taking of an optional rule; a rule, wherever it is taken.
        name: of the input or the rule.
        time: when; of a rule, when it is first taken.
        row: of the run, counted from 1; of a rule, where it is first taken.
        value: that the input gets.
        span: where the rule, or the input, stands.
    """

    kind: Literal["input", "offer", "rule"]
    name: str
    time: Seconds
    row: int
    value: Value | None = None
    span: Span = NOWHERE


@dataclass(frozen=True, slots=True)
class DecisivePart:
    """A part of a condition that decided: it is true, or false, with the values that it reads."""

    formula: Formula
    true: bool
    values: tuple[tuple[str, Value], ...] = ()


@dataclass(frozen=True, slots=True)
class Causes:
    """Why a run breaks a requirement, or gets to what is possible.

    Attributes:
        run: what is left of it without anything that makes no difference.
        causes: in order of time; without any one of them no run that is the same otherwise shows it.
        marked, at, note: where it shows, as in a Trace.
        parts: of the decisive condition, there.
        asked: since when something was waited for, or had to be kept; None where that is not asked.
        settled: whether each thing in the run was tried (else some may be missing).
    """

    run: Run
    causes: tuple[Cause, ...]
    marked: int | None = None
    at: Seconds | None = None
    note: str = ""
    parts: tuple[DecisivePart, ...] = ()
    asked: Seconds | None = None
    settled: bool = True


@dataclass(frozen=True, slots=True)
class Fact:
    """A fact of an invariant, and what it rests on. Facts are counted from 1.

    Attributes:
        text: in the spec's words.
        starts: the part of it that is true after every run's first reaction; "" if it is no one part.
        risks: the rules in whose steps it may come to be true by another of its parts than before.
        at_rest: whether that may happen in a step that takes no rule, too.
        needs: the facts before a step, besides itself, that it rests on after it.
    """

    text: str
    starts: str
    risks: tuple[RuleId, ...]
    at_rest: bool
    needs: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Blocking:
    """A step from a state that cannot be reached to what is forbidden.

    Attributes:
        before: names with their values in that state, as text; clocks of it, in seconds.
        wait: how long time passes first.
        changes: the inputs that change.
        taken: the rules.
        after: what names have become.
        late: whether passing time alone breaks it; then nothing changes.
        excluded: the facts that are false in that state.
    """

    before: tuple[tuple[str, Value], ...]
    wait: Seconds
    changes: tuple[tuple[str, Value], ...]
    taken: tuple[RuleId, ...]
    after: tuple[tuple[str, Value], ...]
    late: bool
    excluded: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Proof:
    """Why no run breaks it (or gets there).

    Attributes:
        facts: the invariant; none: no step from any state breaks it, or (`several`) none from several
            different states in a row.
        enough: the facts that the last step of the argument rests on.
        blocking: what plain induction stumbles over; None: over nothing, or (`blocked`) nobody knows.
        besides: the verdict came from elsewhere, and this is a second argument for it.
        several: how an induction over more than one state is said, or "".
    """

    facts: tuple[Fact, ...]
    enough: tuple[int, ...]
    blocking: Blocking | None
    blocked: bool
    besides: bool
    several: str = ""


@dataclass(frozen=True, slots=True)
class Told:
    """There is no more to say than the reason, and these sentences."""

    sentences: tuple[str, ...]


Explanation: TypeAlias = Causes | Proof | Told
