"""`check`: everything that is asked of one spec, decided.

The order, always the same: the whole system is explored once (its counts, the standing questions);
then each requirement on its cone of influence, requirements with the same cone sharing one table;
what fails there is looked for again on the whole system, for a shortest run of the whole; then the
stories. Every trace is replayed on the reference and judged there directly; every explored set that
a `holds` rests on is rechecked by the reference, and random runs are judged besides.
"""

from __future__ import annotations

import hashlib
import tempfile
from collections.abc import Collection
from fractions import Fraction
from pathlib import Path

from prioritylogic.engines.counting import count, default_over
from prioritylogic.engines.explore import PathStep
from prioritylogic.engines.limits import Limits, rare_collection
from prioritylogic.engines.part import Options, Part, parts_for
from prioritylogic.engines.questions import QUESTIONS, Finding
from prioritylogic.engines.recheck import amount
from prioritylogic.engines.replay import replay
from prioritylogic.engines.simplify import simplify
from prioritylogic.engines.stories import Teller, needs_figures, start_figures
from prioritylogic.errors import DisagreementError, Level, LimitError, RequestError, Span, did_you_mean
from prioritylogic.evidence.results import Answer, CheckResult, FoundIssue, Question, Trace, Verdict
from prioritylogic.model.system import Always, Possible, Recoverable, Requirement, Seconds, Story, System
from prioritylogic.requirements.observer import Observer, observer
from prioritylogic.semantics.compile import Declined
from prioritylogic.semantics.judgement import Judgement
from prioritylogic.semantics.reading import observed_timers
from prioritylogic.semantics.reference import Reference
from prioritylogic.semantics.state import Run

EXPLORER = "explorer"
TIMELESS = ("endless-loop", "stuck-time", "nothing-possible")


def check(
    system: System,
    only: Collection[str] = (),
    limits: Limits | None = None,
    options: Options | None = None,
) -> CheckResult:
    """Decides the requirements, stories and standing questions of a system.

    Args:
        system: from `load`.
        only: ids of requirements and stories; () for all.
        limits: on time, memory and states.
        options: switches of the reductions.

    Returns:
        Verdicts, findings and counts. At a limit what was found stands and the rest is undecided.

    Raises:
        RequestError: an id in `only` is not in the spec.
        DisagreementError: two of our own answers differ.
    """
    known = {r.id for r in system.requirements} | {s.id for s in system.stories}
    for name in only:
        if name not in known:
            remedy = did_you_mean(name, known, "the spec's ids are " + ", ".join(sorted(known)))
            raise RequestError(f"no requirement or story is called '{name}': {remedy}")
    with rare_collection():
        try:
            return Checking(system, frozenset(only), limits or Limits(), options or Options()).result()
        except DisagreementError as error:
            error.reproducer = keep_case(system, str(error))
            raise


def keep_case(system: System, message: str) -> str:
    """Saves a spec on which our own answers differ, with what differed; gives the file's name."""
    text = f"# {message}\n{system.text}"
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
        self.reference = Reference(system)
        self.requirements = [r for r in system.requirements if not only or r.id in only]
        self.stories = [s for s in system.stories if not only or s.id in only]
        self.observers: dict[int, Observer] = {}
        for number, requirement in enumerate(self.requirements):
            watching = observer(requirement)
            if watching is not None:
                self.observers[number] = watching
        self.whole, self.parts = parts_for(system, self.requirements, self.observers, limits, options)
        self.timeless = False  # whether time may stop in some run

    def result(self) -> CheckResult:
        """The whole check."""
        questions, findings = self._questions()
        findings += self._stale_waivers(questions, findings)
        answers = [self._answer(n, requirement) for n, requirement in enumerate(self.requirements)]
        stories = self._tell()
        counts = None
        if self.whole.ended is not None:
            explorer = self.whole.explorer
            counts = count(explorer, default_over(self.system), self.whole.ended.reactions)
        return CheckResult(
            system=self.system,
            requirements=tuple(answers),
            stories=tuple(stories),
            questions=tuple(questions),
            findings=tuple(findings),
            counts=counts,
            tick=self.whole.tick,
        )

    # ----------------------------------------------------------------- standing questions

    def _questions(self) -> tuple[list[Question], list[FoundIssue]]:
        issues = [
            self._issue(f"{r.kind}:{r.subject}", r.kind, r.level, r.message, r.span, None)
            for r in self.system.remarks
        ]
        questions: list[Question] = []
        missing: Verdict = "holds"
        try:
            self.whole.explore()
            reason = self.whole.confirm()
        except Declined as stop:
            reason = undecided_reason(stop)
            asked = [kind for kinds, _ in QUESTIONS for kind in kinds]
            return [Question(kind, "undecided", EXPLORER, reason) for kind in asked], issues
        except LimitError as stop:  # what was found so far stands
            missing, reason = "undecided", undecided_reason(stop)
            self.limits.grant_grace()
        for kinds, question in QUESTIONS:
            found = []
            try:
                for finding in question(self.whole.explorer):
                    found.append(finding)
            except LimitError as stop:
                missing, reason = "undecided", undecided_reason(stop)
            for kind in kinds:
                verdict: Verdict = "fails" if any(f.kind == kind for f in found) else missing
                questions.append(Question(kind, verdict, EXPLORER, reason))
            issues += [self._found(finding) for finding in found]
            self.timeless = self.timeless or any(f.kind in TIMELESS for f in found)
        return questions, issues

    def _stale_waivers(self, questions: list[Question], found: list[FoundIssue]) -> list[FoundIssue]:
        """Waivers of what was not found; none where a question is open."""
        if any(question.verdict == "undecided" for question in questions):
            return []
        known = {issue.id for issue in found}
        return [
            self._issue(
                f"stale-waiver:{name}",
                "stale-waiver",
                "note",
                f"{name} is waived, and not found",
                Span(),
                None,
            )
            for name, _ in self.system.waived
            if name not in known
        ]

    def _found(self, finding: Finding) -> FoundIssue:
        trace = None
        if finding.path is not None:
            run = self._replay(self.whole, self.whole.tick, finding.path)
            last = len(run.moments) - 1
            ticked = finding.path[-1].course is None
            loop = len(run.moments) - finding.loop if finding.loop else None
            if finding.kind in ("rule-conflict", "write-clash", "value-out-of-range"):
                decisive = run.moments[-1]
                shown = (decisive.ties, decisive.out_of_range)

                def same(other: Run) -> bool:
                    return (other.moments[-1].ties, other.moments[-1].out_of_range) == shown

                run = simplify(self.reference, run, same)
            trace = Trace(run, None if ticked else last, finding.message, loop)
        name = f"{finding.kind}:{finding.subject}"
        return self._issue(name, finding.kind, finding.level, finding.message, finding.span, trace)

    def _issue(
        self, name: str, kind: str, level: Level, message: str, span: Span, trace: Trace | None
    ) -> FoundIssue:
        waived = dict(self.system.waived).get(name, "")
        return FoundIssue(name, kind, level, message, span, trace, waived)

    # ----------------------------------------------------------------- requirements

    def _answer(self, number: int, requirement: Requirement) -> Answer:
        verdict, reason, trace = self._decide(number, requirement)
        return Answer(
            id=requirement.id,
            member=requirement.member,
            form=requirement.keys,
            text=requirement.text,
            verdict=verdict,
            expected=requirement.expected,
            engine=EXPLORER,
            reason=reason,
            trace=trace,
            span=requirement.span,
        )

    def _decide(self, number: int, requirement: Requirement) -> tuple[Verdict, str, Trace | None]:
        possible = isinstance(requirement.form, Possible)
        if number not in self.observers:
            needs = "recoverable" if isinstance(requirement.form, Recoverable) else "an answer some day"
            return "undecided", f"{needs} needs the cycle engine, which is not there yet", None
        try:
            part = self.parts[number]
            path = self._search(part, number, requirement)
            if path is not None and part.system is not self.system:
                # Only the whole system's runs are runs; and the shortest there is wanted.
                part = self._whole_for(number, requirement)
                path = self._search(part, number, requirement)
            if path is None:
                return self._unbroken(part, number, requirement)
            trace = self._trace(part, number, requirement, path)
        except (Declined, LimitError) as stop:
            return "undecided", undecided_reason(stop), None
        bound = [a for a in self.system.assumptions if a.holds is None and a.id in requirement.assuming]
        if bound:
            found = "some run gets there" if possible else "some run breaks it"
            reason = f"{found}, but whether {bound[0].id} holds in that run needs the cycle engine"
            return "undecided", reason, None
        if possible:
            return "holds", f"reached after {amount(trace.steps, 'reaction')}; the run is shown", trace
        return "fails", f"{trace.note}; shortest run, replayed by the reference", trace

    def _whole_for(self, number: int, requirement: Requirement) -> Part:
        """The whole system as a part that can decide this requirement."""
        if self.whole.adopt(number, requirement):
            return self.whole
        asked = {number: requirement}
        return Part(self.system, asked, self.observers, self.limits, self.options, whole=False)

    def _search(self, part: Part, number: int, requirement: Requirement) -> tuple[PathStep, ...] | None:
        """The shortest path that breaks the requirement (reaches what is `possible`), or None."""
        if part.stateless(number):
            try:
                part.explore()
            except LimitError:  # a failure among what was explored stands
                path = part.first_broken(number)
                if path is None:
                    raise
                return path
            return part.first_broken(number)
        return part.watched(number, requirement).broken

    def _unbroken(
        self, part: Part, number: int, requirement: Requirement
    ) -> tuple[Verdict, str, Trace | None]:
        """The verdict when no run breaks the requirement, after the second opinion."""
        part.explore()
        confirmed = part.confirm()
        for run, seen in part.random_runs:
            own = observed_timers(self.system, requirement.formulas)
            judgement = Judgement(part.reference, requirement, run, None if own else seen)
            possible = isinstance(requirement.form, Possible)
            if judgement.reached() is not None if possible else judgement.failure():
                raise DisagreementError(f"{requirement.id}: a random run of the reference breaks it")
        counted = amount(part.states(number), "state")
        states = counted if part.system is self.system else f"{counted} of the part that it depends on"
        runs = amount(len(part.random_runs), "random run")
        reason = f"exhaustive over {states}; {confirmed}, and judged {runs}"
        if isinstance(requirement.form, Possible):
            return "fails", f"no run gets there ({reason})", None
        if self.timeless and not isinstance(requirement.form, Always):
            reason += "; but time can stop in this spec, and then no deadline ever passes"
        return "holds", reason, None

    def _trace(
        self, part: Part, number: int, requirement: Requirement, path: tuple[PathStep, ...]
    ) -> Trace:
        """The path as a run, judged by the reference.

        Raises:
            DisagreementError: the reference does not see the failure there.
        """
        run = self._replay(part, part.tick_for(number, requirement), path)
        place = self._shown(requirement, run)
        if place is None:
            raise DisagreementError(
                f"{requirement.id}: the reference does not see this at the run's end"
            )
        run = simplify(self.reference, run, lambda other: self._shown(requirement, other) == place)
        shown = self._shown(requirement, run)
        assert shown is not None
        return Trace(run, shown[0], shown[1], at=shown[2])

    def _shown(self, requirement: Requirement, run: Run) -> tuple[int | None, str, Seconds] | None:
        """Where a run fails (or reaches what is `possible`) and how, if that is at its very end."""
        judgement = Judgement(self.reference, requirement, run)
        last = len(run.moments) - 1
        if isinstance(requirement.form, Possible):
            reached = judgement.reached()
            if reached is None or judgement.seen[reached].moment not in (None, last):
                return None
            return judgement.seen[reached].moment, "it is reached here", judgement.seen[reached].time
        failure = judgement.failure()
        if failure is None or failure.moment not in (None, last):
            return None
        return failure.moment, failure.why, failure.time

    def _replay(self, part: Part, tick: Fraction, path: tuple[PathStep, ...]) -> Run:
        assert part.system is self.system, "runs are runs of the whole system"
        return replay(self.reference, part.table.cells, tick, path)

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


def undecided_reason(stop: Declined | LimitError) -> str:
    """Why something is undecided, and what would help."""
    if isinstance(stop, LimitError):
        return f"{stop}; a larger limit, or a smaller spec, would help"
    return f"not applicable: exploring whole ticks is not exact here, because {stop}"
