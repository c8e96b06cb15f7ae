"""The standing questions, put to the provers: what they say is what the oracle finds; and the slack of
random requirements is where the oracle says that they begin to fail."""

from __future__ import annotations

from collections import Counter

import pytest
from compare import QUESTIONS as TRUE
from compare import Case, cases
from test_tightening import FIGURES, first_failing

from prioritylogic.engines.limits import Limits
from prioritylogic.engines.part import Options
from prioritylogic.engines.questioning import QUESTIONS
from prioritylogic.engines.slack import slack
from prioritylogic.engines.standing import Standing
from prioritylogic.semantics.compile import Declined


def told(case: Case) -> Counter[str]:
    """How often a kind of question was answered, and how often left open."""
    seen: Counter[str] = Counter()
    try:
        standing = Standing(case.system, Limits())
    except Declined:
        return seen
    for kinds, _ in QUESTIONS:
        answer = standing.answer(kinds)
        for kind in set(kinds) & set(TRUE):
            said = {finding.subject for finding in answer.found if finding.kind == kind}
            if answer.reason is None:
                seen[f"{kind} open"] += 1
            else:
                seen["decided"] += 1
                assert said == TRUE[kind](case.graph), (case.seed, kind)
    return seen


@pytest.mark.parametrize("stretch", [70, 71, 72])
def test_questions(stretch: int) -> None:
    seen: Counter[str] = Counter()
    for case in cases(stretch, 20):
        seen += told(case)
    left = {kind.removesuffix(" open") for kind in seen if kind.endswith(" open")}
    assert left <= {"endless-loop", "stuck-time", "nothing-possible"}
    assert seen["decided"] >= 3 * (sum(seen.values()) - seen["decided"])


def test_slack_ends_where_the_oracle_says() -> None:
    tried = 0
    for case in cases(73, 25):
        for requirement in case.system.requirements:
            if type(requirement.form) not in FIGURES or case.verdict(requirement.id) != "holds":
                continue
            pair = first_failing(case, requirement)
            if pair is None:
                continue
            found = slack(case.system, requirement, Limits(), Options())
            if found is None or found.tightest is None:
                continue
            tried += 1
            key = FIGURES[type(requirement.form)]
            last, failing = (getattr(asked.form, key) for asked in pair)
            low, high = sorted((last, failing))
            assert low <= found.tightest <= high, (case.seed, requirement.id, found)
    assert tried >= 8
