"""What a check, an exploration and a story give back.

Plain frozen data, in the words of the user's spec; rendering is elsewhere. A `fails` or `possible`
verdict carries a Trace whose run the reference has replayed.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import TYPE_CHECKING, Any, Literal, TypeAlias

from prioritylogic.errors import NOWHERE, Level, Span
from prioritylogic.evidence.explanation import Explanation
from prioritylogic.model.system import Member, Seconds, System
from prioritylogic.semantics.state import Run

if TYPE_CHECKING:
    import networkx

Verdict: TypeAlias = Literal["holds", "fails", "undecided"]


@dataclass(frozen=True, slots=True)
class Trace:
    """A replayed run.

    Attributes:
        run: reactions in time order, and the time until which time passed after the last.
        marked: the index of the reaction that decides (fails, reaches, shows the finding); None when
            the passing of time does, which is then at `run.end`.
        at: the instant that decides; when the passing of time does, as soon as it is over.
        note: what happens there, in a person's words.
        loop: the index of the first reaction of a part that repeats for ever, one turn of which is
            over at `run.end`; the number of reactions, where after the last of them only time passes,
            for ever; None where the run just ends.
        steps: how many reactions after the one at time 0.
        system: whose run it is, once it is part of a CheckResult; then a notebook can show it.
    """

    run: Run
    marked: int | None
    note: str
    loop: int | None = None
    at: Fraction | None = None
    system: System | None = field(default=None, repr=False, compare=False)

    @property
    def steps(self) -> int:
        """The reactions after the one at time 0."""
        return len(self.run.moments) - 1


@dataclass(frozen=True, slots=True)
class Slack:
    """How much tighter a timed requirement could be.

    Attributes:
        figure: the requirement's own.
        tightest: the last figure at which it holds; None if that is not known, or there is none.
        attained: whether it holds at `tightest` itself (else only for every figure above it).
        endless: it holds for any figure, however long.
    """

    figure: Fraction
    tightest: Fraction | None = None
    attained: bool = True
    endless: bool = False


@dataclass(frozen=True, slots=True)
class Answer:
    """The verdict on one requirement member or one story."""

    id: str
    member: Member
    form: str  # the keys of its form, or "story"
    text: str
    verdict: Verdict
    expected: Verdict
    engine: str
    reason: str  # for undecided: the limit that stopped it and what would help
    trace: Trace | None = None
    vacuous: bool | None = None
    seconds: float = 0.0  # never printed where output must be the same bytes
    span: Span = NOWHERE
    invariant: tuple[str, ...] = ()  # the facts that a proof rests on, in the spec's words
    slack: Slack | None = None  # of a timed requirement that holds, when asked for
    vacuity: str = ""  # if it is vacuous: in which way
    witness: Trace | None = None  # of one that holds: a run that shows it at work, when asked for
    explanation: Explanation | None = None  # why, when asked for

    @property
    def as_expected(self) -> bool:
        """Whether the verdict is the one the spec expects."""
        return self.verdict == self.expected


@dataclass(frozen=True, slots=True)
class Question:
    """A question that every spec is asked. `holds`: nothing of the kind was found."""

    kind: str
    verdict: Verdict
    engine: str
    reason: str = ""


@dataclass(frozen=True, slots=True)
class FoundIssue:
    """A finding: something about the spec that its author must know.

    Attributes:
        id: kind and subject, such as "rule-conflict:take+let_go"; `waive` names it.
        waived: the spec's reason for accepting it, or "".
    """

    id: str
    kind: str
    level: Level
    message: str
    span: Span = NOWHERE
    trace: Trace | None = None
    waived: str = ""


@dataclass(frozen=True, slots=True)
class Counts:
    """Different reachable valuations of the names in `over`; `explored` counts the explorer's own
    states (with clocks) and reactions."""

    over: tuple[str, ...]
    states: int
    explored: int
    reactions: int
    complete: bool = True


@dataclass(frozen=True)
class CheckResult:
    """Everything `check` found out about one spec."""

    system: System
    requirements: tuple[Answer, ...]
    stories: tuple[Answer, ...]
    questions: tuple[Question, ...]
    findings: tuple[FoundIssue, ...]
    counts: Counts | None
    tick: Fraction | None = None  # seconds, if explored in whole ticks (else on region clocks)

    def __post_init__(self) -> None:
        """Tells each trace whose run it is."""

        def owned(item: Answer | FoundIssue) -> Answer | FoundIssue:
            names = ("trace", "witness") if isinstance(item, Answer) else ("trace",)
            traces = {name: trace for name in names if (trace := getattr(item, name)) is not None}
            own = {name: replace(trace, system=self.system) for name, trace in traces.items()}
            return replace(item, **own) if own else item

        for name in ("requirements", "stories", "findings"):
            object.__setattr__(self, name, tuple(map(owned, getattr(self, name))))

    @property
    def exit_code(self) -> int:
        """1: not as expected, or an error finding that is not waived; 3: undecided; 0: all well."""
        answers = (*self.requirements, *self.stories)
        wrong = any(a.verdict != "undecided" and not a.as_expected for a in answers)
        if wrong or any(i.level == "error" and not i.waived for i in self.findings):
            return 1
        open_ = any(a.verdict == "undecided" for a in answers)
        return 3 if open_ or any(q.verdict == "undecided" for q in self.questions) else 0


@dataclass(frozen=True)
class Exploration:
    """What `explore` gives back.

    Attributes:
        counts: different valuations over the chosen names.
        rows: each valuation (values as text, in the order of `counts.over`) with the number of
            explored states that have it, in the order in which they were first met.
        tick: seconds of one tick; None on region clocks.
        graph: a networkx MultiDiGraph when asked for, else None. Nodes are numbers, and "start";
            `label`, `settled`, `clocks` and each machine and memory name are node attributes; edges
            have `kind` ("tick" or "reaction"), `taken`, `expired` and `label`.
    """

    system: System
    counts: Counts
    rows: tuple[tuple[tuple[str, ...], int], ...]
    tick: Seconds | None
    graph: networkx.MultiDiGraph[Any] | None = None
