"""Mistakes in what is asked about vacuity, put in on purpose: each is noticed on a few small systems.

What is wrong with a question shows in the agreement test: one that should ask more holds where the
requirement fails, or something else is told than the oracle finds.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable
from dataclasses import replace

import emptiness
import pytest
from compare import Case, case_of
from emptiness import Asked, small_cases
from phrases import Spec

from prioritylogic.engines import vacuity
from prioritylogic.requirements import strengthening
from prioritylogic.requirements.strengthening import Strengthening

# What lasts, but not in the reaction of r1, is never taken up again: to ask about it is not to ask more.
CHAIN: Spec = {
    "system": "chain",
    "machines": {
        "m": {
            "states": ["a", "b", "c"],
            "start": "a",
            "rules": [
                {"id": "r1", "from": "a", "after": "1 s", "to": "b"},
                {"id": "r2", "from": "b", "after": "1 s", "to": "c"},
            ],
        }
    },
    "requirements": [
        {"id": "R1", "while": "m is c and not taken(r1)", "expect": "m is a", "every": "1 s"}
    ],
}

Patch = pytest.MonkeyPatch
FAULTS: dict[str, Callable[[Patch], None]] = {}


def fault(plant: Callable[[Patch], None]) -> Callable[[Patch], None]:
    """Names a fault after its function."""
    FAULTS[plant.__name__.replace("_", " ")] = plant
    return plant


@fault
def a_condition_is_taken_for_an_event(patch: Patch) -> None:
    patch.setattr(Strengthening, "is_event", lambda *_: True)


@fault
def an_event_is_taken_to_last(patch: Patch) -> None:
    patch.setattr(strengthening, "_lasts", lambda _: True)


@fault
def a_negation_turns_nothing(patch: Patch) -> None:
    through = strengthening._through
    patch.setattr(strengthening, "_through", lambda operand, put, turning: through(operand, put, False))


@fault
def an_end_is_asked_sooner(patch: Patch) -> None:
    keys = [(key, name, wanted != (key == "until")) for key, name, wanted in strengthening.KEYS]
    patch.setattr(strengthening, "KEYS", tuple(keys))


@fault
def what_is_cancelled_at_once_counts_as_begun(patch: Patch) -> None:
    trigger = vacuity.trigger

    def uncancelled(*given):  # type: ignore[no-untyped-def]
        found = trigger(*given)
        return found and replace(found, never=replace(found.never, unless=None))

    patch.setattr(vacuity, "trigger", uncancelled)


@fault
def every_run_is_taken_to_break_everything(patch: Patch) -> None:
    patch.setattr(vacuity.Vacuity, "_is_known", lambda self, other: bool(self._runs))


@fault
def every_part_is_taken_to_be_needed(patch: Patch) -> None:
    patch.setattr(vacuity, "_needed", lambda *_: True)


@fault
def only_whole_keys_are_asked(patch: Patch) -> None:
    patch.setattr(vacuity.Vacuity, "_look", lambda self, m, p, e: (self._matters(m, p, e), []))


def noticed(cases: Iterable[Case | None]) -> bool:
    """Whether some difference shows on some of these systems."""
    return any(difference for case in cases if case for difference in Asked(case).differences())


@pytest.mark.parametrize("name", FAULTS)
def test_is_noticed(name: str, monkeypatch: Patch) -> None:
    FAULTS[name](monkeypatch)
    assert noticed(itertools.chain([case_of(CHAIN)], small_cases(90, 30)))


def test_without_a_fault_nothing_is_noticed() -> None:
    assert emptiness.trigger is vacuity.trigger
    assert not noticed([case_of(CHAIN), *small_cases(90, 4)])
