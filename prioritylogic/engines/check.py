"""`check`: everything that is asked of one spec, decided.

The order, always the same: the stories; then each requirement (deciding.py); then the whole system is
explored once, for its counts and the standing questions. Every trace is replayed on the reference and
judged there directly; every explored set that a `holds` rests on is rechecked by the reference, and
random runs are judged besides; every invariant is proved again by a second solver.
"""

from __future__ import annotations

import hashlib
import tempfile
from collections.abc import Collection
from pathlib import Path

from prioritylogic.engines.counting import count, default_over
from prioritylogic.engines.deciding import Deciding, Decision, undecided_reason
from prioritylogic.engines.explaining import Explaining
from prioritylogic.engines.limits import Limits, rare_collection
from prioritylogic.engines.losing import told_lost
from prioritylogic.engines.part import Options
from prioritylogic.engines.questioning import EXPLORER, Questioning
from prioritylogic.engines.questions import Finding
from prioritylogic.engines.replay import replay
from prioritylogic.engines.schedule import Decided, Workers, all_decided, asked_of, named, own_name
from prioritylogic.engines.simplify import simplify
from prioritylogic.engines.stories import Teller, needs_figures, start_figures
from prioritylogic.engines.vacuity import KINDS, Told, Vacuity
from prioritylogic.errors import DisagreementError, Level, LimitError, RequestError, Span, did_you_mean
from prioritylogic.evidence.results import (
    Answer,
    CheckResult,
    FoundIssue,
    Question,
    Trace,
    Verdict,
)
from prioritylogic.model.formula import TimedRead, walk
from prioritylogic.model.system import Always, Possible, Requirement, Story, System
from prioritylogic.semantics.compile import Declined
from prioritylogic.semantics.losing import contests, lost
from prioritylogic.semantics.state import Run

TIMELESS = ("endless-loop", "stuck-time", "nothing-possible")


def check(
    system: System,
    only: Collection[str] = (),
    limits: Limits | None = None,
    options: Options | None = None,
    workers: Workers | None = None,
    explain: Collection[str] = (),
) -> CheckResult:
    """Decides the requirements, stories and standing questions of a system.

    Args:
        system: from `load`.
        only: ids of requirements and stories; () for all.
        limits: on time, memory and states.
        options: switches of the reductions.
        workers: who may help; nobody, unless said.
        explain: which answers are explained, by id or as `ID[member]`; nothing else is then asked, but
            what `only` names.

    Returns:
        Verdicts, findings and counts, the same whoever helps. At a limit what was found stands and the
        rest is undecided.

    Raises:
        RequestError: an id in `only` or `explain` is not in the spec.
        DisagreementError: two of our own answers differ.
    """
    asked = [(r.id, r.member) for r in system.requirements] + [(s.id, s.member) for s in system.stories]
    known = {id_ for id_, _ in asked}
    members = known | {own_name(*each) for each in asked}
    for name in (*only, *explain):
        if name not in members:
            remedy = did_you_mean(name, members, "the spec's ids are " + ", ".join(sorted(known)))
            raise RequestError(f"no requirement or story is called '{name}': {remedy}")
    only = (*only, *(name.partition("[")[0] for name in explain))
    with rare_collection():
        try:
            checking = Checking(system, frozenset(only), limits or Limits(), options or Options())
            result = checking.result(workers or Workers(), frozenset(explain))
            checking.deciding.release()
            return result
        except DisagreementError as error:
            error.reproducer = keep_case(system, str(error))
            raise


def keep_case(system: System, message: str) -> str:
    """Saves a spec on which our own answers differ, with what differed; gives the file's name."""
    text = "".join(f"# {line}\n" for line in message.splitlines()) + system.text
    name = f"prioritylogic-{hashlib.sha256(text.encode()).hexdigest()[:12]}.yaml"
    path = Path(tempfile.gettempdir()) / name
    try:
        path.write_text(text, encoding="utf-8")
    except OSError:
        return ""
    return str(path)


class Checking:
    """One check under way."""

    def __init__(self, system: System, only: frozenset[str], limits: Limits, options: Options) -> None:
        self.system = system
        self.limits = limits
        self.options = options
        self.only = only
        self.requirements = [system.requirements[number] for number in asked_of(system, only)]
        self.stories = [s for s in system.stories if not only or named(only, s.id, s.member)]
        self.deciding = Deciding(system, self.requirements, limits, options)
        self.reference = self.deciding.reference
        self.whole = self.deciding.whole
        self.timeless = False  # whether time may stop in some run

    def result(self, workers: Workers, explain: frozenset[str] = frozenset()) -> CheckResult:
        """The whole check: what is cheap first, so that a limit takes as little as it must."""
        stories = self._tell()
        decided = all_decided(self.deciding, self.only, self.limits, self.options, workers)
        decisions = [decision for decision, _ in decided]
        questions, findings = self._questions()
        told, more = self._vacuity(decisions)
        findings += more
        findings += self._stale_waivers(questions, findings, told)
        rows = zip(self.requirements, decided, told, strict=True)
        answers = [self._answer(*row) for row in rows]
        if explain:
            explaining = Explaining(self.deciding, self.limits, self.options)
            answers = [explaining.of(n, answer, explain) for n, answer in enumerate(answers)]
            stories = [explaining.of(None, story, explain) for story in stories]
        counts = None
        explored = any(question.engine == EXPLORER for question in questions)  # not: by chance
        if explored and self.whole.ended is not None:
            explorer = self.whole.explorer
            counts = count(explorer, default_over(self.system), self.whole.ended.reactions)
        return CheckResult(
            system=self.system,
            requirements=tuple(answers),
            stories=tuple(stories),
            questions=tuple(questions),
            findings=tuple(findings),
            counts=counts,
            tick=None if self.whole.dense else self.whole.tick,
        )

    def _answer(self, requirement: Requirement, decided: Decided, told: Told) -> Answer:
        decision, tightest = decided
        reason, holds = decision.reason, decision.verdict == "holds"
        timed = not isinstance(requirement.form, Always | Possible) or any(
            isinstance(part, TimedRead) for formula in requirement.formulas for part in walk(formula)
        )
        if holds and self.timeless and timed:
            reason += "; but time can stop in this spec, and then no deadline ever passes"
        return Answer(
            id=requirement.id,
            member=requirement.member,
            form=requirement.keys,
            text=requirement.text,
            verdict=decision.verdict,
            expected=requirement.expected,
            engine=decision.engine,
            reason=reason,
            trace=decision.trace,
            span=requirement.span,
            invariant=decision.invariant,
            slack=tightest,
            vacuous=told.vacuous,
            vacuity=told.why,
            witness=told.example,
        )

    def _vacuity(self, decisions: list[Decision]) -> tuple[list[Told], list[FoundIssue]]:
        """What is said of whether each requirement says something, and what is found."""
        if not self.options.vacuity:
            return [Told() for _ in decisions], []
        told, findings = Vacuity(self.deciding, self.limits, self.options.witnesses).told(decisions)
        return told, [self._found(finding) for finding in findings]

    # ----------------------------------------------------------------- standing questions

    def _questions(self) -> tuple[list[Question], list[FoundIssue]]:
        issues = [
            self._issue(f"{r.kind}:{r.subject}", r.kind, r.level, r.message, r.span, None)
            for r in self.system.remarks
        ]
        exploring = EXPLORER in self.options.engines
        questions, found = Questioning(self.whole, self.limits, exploring).answers()
        for finding in found:
            issues.append(self._found(finding))
            self.timeless = self.timeless or finding.kind in TIMELESS
        return questions, issues

    def _stale_waivers(
        self, questions: list[Question], found: list[FoundIssue], told: list[Told]
    ) -> list[FoundIssue]:
        """Waivers of what was not found; none where a question is open."""
        if any(question.verdict == "undecided" for question in questions):
            return []
        asked = len(told) == len(self.system.requirements) and all(
            one.vacuous is not None for one in told
        )
        known = {issue.id for issue in found}
        return [
            self._issue(
                f"stale-waiver:{name}",
                "stale-waiver",
                "note",
                f"{name} is waived, but nothing of this id is found; "
                + did_you_mean(name, known, "take it out of `waive`"),
                Span(),
                None,
            )
            for name, _ in self.system.waived
            if name not in known and (asked or not name.startswith(KINDS))
        ]

    def _found(self, finding: Finding) -> FoundIssue:
        trace, run = None, finding.run
        if finding.path is not None:
            run = replay(self.reference, self.whole.table.cells, self.whole.tick, finding.path)
        if run is not None:
            last = len(run.moments) - 1
            ticked = finding.path is not None and finding.path[-1].course is None
            loop = len(run.moments) - finding.loop if finding.loop else None
            if finding.kind in ("rule-conflict", "write-clash", "value-out-of-range"):
                decisive = run.moments[-1]
                shown = (decisive.ties, decisive.out_of_range)

                def same(other: Run) -> bool:
                    return (other.moments[-1].ties, other.moments[-1].out_of_range) == shown

                run = simplify(self.reference, run, same, self.limits)
            if finding.kind == "lost-event":
                run = self._losing(run, finding)
            trace = Trace(run, None if ticked else last, finding.message, loop)
        name = f"{finding.kind}:{finding.subject}"
        return self._issue(name, finding.kind, finding.level, finding.message, finding.span, trace)

    def _losing(self, run: Run, finding: Finding) -> Run:
        """The run in whose last reaction an event is lost, as simple as it can be.

        Raises:
            DisagreementError: the reference does not see it lost there.
        """
        asked = [c for c in contests(self.system) if c.subject == finding.subject]

        def same(other: Run) -> bool:
            return any(
                told_lost(found, other.moments[-1].taken).message == finding.message
                for found in lost(self.reference, other.moments[-1], asked)
            )

        if not same(run):
            raise DisagreementError(f"the reference does not see this: {finding.message}")
        return simplify(self.reference, run, same, self.limits)

    def _issue(
        self, name: str, kind: str, level: Level, message: str, span: Span, trace: Trace | None
    ) -> FoundIssue:
        waived = dict(self.system.waived).get(name, "")
        return FoundIssue(name, kind, level, message, span, trace, waived)

    # ----------------------------------------------------------------- stories

    def _tell(self) -> list[Answer]:
        if not self.stories:
            return []
        try:
            figures = start_figures(self.whole.table) if needs_figures(self.system) else [{}]
        except Declined as stop:
            return [self._story(s, "undecided", undecided_reason(stop), None) for s in self.stories]
        teller = Teller(self.reference, figures, self.limits)
        answers = []
        for story in self.stories:
            try:
                told = teller.tell(story)
            except LimitError as stop:
                answers.append(self._story(story, "undecided", undecided_reason(stop), None))
                continue
            trace = None if told.run is None else Trace(told.run, len(told.run.moments) - 1, told.why)
            if told.undecided:
                answers.append(self._story(story, "undecided", told.undecided, None))
            elif told.why:
                answers.append(self._story(story, "fails", told.why, trace))
            else:
                ways = "played" if told.branches == 1 else f"played in all {told.branches} ways"
                answers.append(self._story(story, "holds", f"{ways}, it ends as told", None))
        return answers

    def _story(self, story: Story, verdict: Verdict, reason: str, trace: Trace | None) -> Answer:
        return Answer(
            id=story.id,
            member=story.member,
            form="story",
            text=story.text,
            verdict=verdict,
            expected=story.expected,
            engine="reference",
            reason=reason,
            trace=trace,
            span=story.span,
        )
