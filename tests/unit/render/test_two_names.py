"""Two terms that mean the same: neither name is put in the other's mouth."""

from __future__ import annotations

from prioritylogic import load
from prioritylogic.render.sentences import requirement_sentence

TEXT = """\
system: twins
groups: {side: [left, right]}
inputs: {on: signal}
terms:
  acts[s in side]: on
requirements:
  - {id: R, never: "acts[left] and acts[right]"}
  - {id: S, never: "acts[left]"}
"""


def test_what_two_terms_share_is_spelled_out() -> None:
    system = load(TEXT)
    first, second = (requirement_sentence(system, requirement) for requirement in system.requirements)
    assert "acts" not in first and "on is" in first
    assert "acts" not in second
