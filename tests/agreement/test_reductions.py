"""Each reduction switched off alone, then all together: the answers are the oracle's all the same."""

from __future__ import annotations

import pytest
from compare import Case, cases, checked_differences, report

from prioritylogic.engines import recheck
from prioritylogic.engines.part import Options

SWITCHES = {
    "no projection": Options(project=False),
    "inputs read eagerly": Options(lazily=False),
    "no cones": Options(cones=False),
    "none at all": Options(project=False, lazily=False, cones=False),
}


@pytest.mark.parametrize("name", SWITCHES)
def test_the_same_verdicts(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(recheck, "FULL", 150)

    def differences(case: Case) -> list[str]:
        return checked_differences(case, SWITCHES[name])

    for case in cases(50, 40):
        assert not differences(case), report(case, differences)
