"""Why k-induction asks for different states.

Source: Sheeran, Singh, Stalmarck, "Checking safety properties using induction and a SAT-solver" (2000);
the chain itself is recomputed by hand. Reachable are 0, 1, 2, in a circle. Not reachable is the chain 3, 4,
5, 6, 7, where 7 stays. "Not 7" is proved from exactly 5 states in a row: 3, 4, 5, 6 is the longest way to go
without 7. With a loop on 3 one can stay there as long as one likes, so only different states prove it.
"""

from __future__ import annotations

import pytest

import prioritylogic
from prioritylogic.engines import unwinding
from prioritylogic.engines.limits import Limits
from prioritylogic.engines.transition import Transition
from prioritylogic.engines.unwinding import Proved, Unwinding
from prioritylogic.errors import LimitError
from prioritylogic.requirements.observer import observer

WORK = 10_000_000
WAYS = {0: 1, 1: 2, 2: 0, 3: 4, 4: 5, 5: 6, 6: 7, 7: 7}


def chain(loop: bool) -> Unwinding:
    """Each press goes one further; `loop`: at 3 it may also stay. (What is no press is no step, so that one
    stays nowhere else.)"""
    rules = [
        f"      - {{id: r{n}, from: s{n}, if: changed(b){' and c' * (loop and n == 3)}, to: s{to}}}"
        for n, to in WAYS.items()
    ]
    states = ", ".join(f"s{n}" for n in WAYS)
    text = f"""
system: chain
inputs: {{b: button, c: signal}}
machines:
  m:
    states: [{states}]
    start: s0
    rules:
{chr(10).join(rules)}
assume:
  - {{id: MOVES, always: changed(b) or m is s0 and before(m) is s0}}
requirements:
  - {{id: NOT-7, never: m is s7}}
"""
    system = prioritylogic.load(text)
    watching = observer(system.requirements[0])
    return Unwinding(Transition(system, watching))


def test_the_chain_is_proved_from_exactly_five_states() -> None:
    assert chain(loop=False).decided(WORK, Limits()) == Proved(5)


def test_with_a_loop_only_different_states_prove_it(monkeypatch: pytest.MonkeyPatch) -> None:
    found = chain(loop=True).decided(WORK, Limits())
    assert isinstance(found, Proved) and 5 <= found.k <= 10
    monkeypatch.setattr(unwinding, "combinations", lambda *_: [])  # any states
    with pytest.raises(LimitError, match="states in a row are not enough"):
        chain(loop=True).decided(WORK, Limits())
