"""The standing questions of one check: on what was explored, else by the provers, else on more that is
explored. What a limit interrupts is looked through as far as it came; what was found there stands.
"""

from __future__ import annotations

from typing import TypeAlias

from prioritylogic.engines.deciding import FEW, undecided_reason
from prioritylogic.engines.limits import Limits
from prioritylogic.engines.losing import lost_events
from prioritylogic.engines.part import Part
from prioritylogic.engines.questions import QUESTIONS as SEEN
from prioritylogic.engines.questions import Finding, QuestionOf
from prioritylogic.engines.unused import unused
from prioritylogic.errors import LimitError
from prioritylogic.evidence.results import Question, Verdict
from prioritylogic.semantics.compile import Declined

EXPLORER, PROVER = "explorer", "reachability"
# What can be found in what is seen; then what is missing from all there is.
QUESTIONS: tuple[tuple[tuple[str, ...], QuestionOf], ...] = (
    *SEEN,
    (("lost-event",), lost_events),
    (("rule-never-taken", "state-never-reached"), unused),
)
Answers: TypeAlias = tuple[list[Question], list[Finding]]


class Questioning:
    """Asks the standing questions of a whole system; `exploring`: whether it may be explored."""

    def __init__(self, whole: Part, limits: Limits, exploring: bool = True) -> None:
        self._whole = whole
        self._limits = limits
        self._exploring = exploring

    def answers(self) -> Answers:
        """An answer for each kind of question, and everything found."""
        try:
            return self._explored(FEW)
        except Declined as stop:
            return self._proved(stop)
        except LimitError as stop:
            return self._explored_in_part(stop) if stop.final else self._proved(stop)

    def _explored(self, states: int) -> Answers:
        """The answers on the explored whole.

        Raises:
            Declined, LimitError: it cannot be explored, with so many states.
        """
        if not self._exploring:
            raise Declined("it is not asked to")
        if states < self._limits.states and self._whole.too_many_ticks():
            raise LimitError("some duration has very many ticks")
        with self._limits.at_most(states):
            self._whole.explore()
        reason = self._whole.confirm()
        return self._asked_of_explored("holds", reason)

    def _explored_in_part(self, stop: LimitError) -> Answers:
        """The answers on what was explored before a limit: what is found there stands."""
        self._limits.grant_grace()
        return self._asked_of_explored("undecided", undecided_reason(stop))

    def _asked_of_explored(self, missing: Verdict, reason: str) -> Answers:
        questions: list[Question] = []
        issues: list[Finding] = []
        for kinds, question in QUESTIONS:
            found: list[Finding] = []
            try:
                if question is not unused or missing == "holds":  # nothing is missing from a part
                    for finding in question(self._whole.explorer):
                        found.append(finding)  # what came before a limit stands
            except LimitError as stop:
                missing, reason = "undecided", undecided_reason(stop)
            questions += self._answers_to(kinds, found, missing, EXPLORER, reason)
            issues += found
        return questions, issues

    def _answers_to(
        self, kinds: tuple[str, ...], found: list[Finding], missing: Verdict, engine: str, reason: str
    ) -> list[Question]:
        return [
            Question(kind, "fails" if any(f.kind == kind for f in found) else missing, engine, reason)
            for kind in kinds
        ]

    def _proved(self, stop: Declined | LimitError) -> Answers:
        """The answers of the provers; of exploring further where they leave something open."""
        from prioritylogic.engines.standing import Standing

        questions: list[Question] = []
        issues: list[Finding] = []
        try:
            standing = Standing(self._whole.system, self._limits)
            answers = [(kinds, standing.answer(kinds)) for kinds, _ in QUESTIONS]
        except Declined:
            answers = []
        if not answers or any(answer.reason is None for _, answer in answers):
            try:
                return self._explored(self._limits.states)
            except LimitError as more:
                stop = more
                if more.final or not answers:
                    return self._explored_in_part(more)
            except Declined:
                pass
        for kinds, answer in answers:
            missing: Verdict = "undecided" if answer.reason is None else "holds"
            reason = answer.reason or undecided_reason(answer.stopped or stop)
            questions += self._answers_to(kinds, list(answer.found), missing, PROVER, reason)
            issues += answer.found
        return questions or self._all_open(stop), issues

    def _all_open(self, stop: Declined | LimitError) -> list[Question]:
        asked = [kind for kinds, _ in QUESTIONS for kind in kinds]
        return [Question(kind, "undecided", EXPLORER, undecided_reason(stop)) for kind in asked]
