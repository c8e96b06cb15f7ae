"""What becomes one box or one arrow, and what must not."""

from __future__ import annotations

import pytest
from drawing import system_of

from prioritylogic.render.folding import ANYWHERE, Sketch, sketch

HEAD = """
system: s
groups: {cab: [left, right]}
settings:
  wait: 3 s
inputs:
  take[cab]: button
  m[cab]: {values: 0 m to 9 m, start: 0 m}
memory:
  last: {values: cab, start: left}
machines:
  who:
    states:
      - nobody
      - held[cab]
    start: nobody
    rules:
"""


def drawn(*rules: str, head: str = HEAD) -> Sketch:
    system = system_of(head + "".join(f"      - {{{rule}}}\n" for rule in rules))
    return sketch(system, system.machines[0])


TAKE = "id: take, each: c in cab, from: nobody, if: 'pressed(take[c]) and not take[other(c)]', to: 'held[c]'"
DROP = "id: drop, each: d in cab, from: 'held[d]', after: wait, to: nobody"


def test_alike_members_are_one() -> None:
    found = drawn(TAKE, DROP.replace("d in", "c in").replace("[d]", "[c]"))
    assert [box.title for box in found.boxes] == ["nobody", "held[c]"]
    take, drop = found.arrows
    assert (take.tail, take.head, take.name) == ("nobody", "held", "take[c]")
    assert take.guard == "pressed(take[c]) and not take[other(c)]"
    assert (drop.tail, drop.head, drop.more) == ("held", "nobody", ("after 3 s",))
    assert not take.note and not drop.note


def test_other_binders_are_told_apart() -> None:
    found = drawn(TAKE, DROP)
    assert found.boxes[1].title == "held[each]"
    assert [arrow.note for arrow in found.arrows] == ["to held[c]", "from held[d]"]


def test_what_starts_from_every_member_says_so() -> None:
    found = drawn(TAKE.replace("from: nobody", "from: [nobody, 'held[left]', 'held[right]']"))
    assert [arrow.note for arrow in found.arrows] == ["", "from any held"]


def test_what_starts_from_every_other_member_says_so() -> None:
    found = drawn(TAKE.replace("from: nobody", "from: [nobody, 'held[other(c)]']"))
    assert found.boxes[1].title == "held[c]"
    assert [arrow.note for arrow in found.arrows] == ["", "from held[any but c]"]


def test_two_binders_are_told_apart_though_they_may_meet() -> None:
    found = drawn(
        TAKE, "id: off, each: 'c in cab, d in cab', from: 'held[c]', if: 'pressed(take[d])', to: nobody"
    )
    assert found.boxes[1].members
    assert (found.arrows[1].name, found.arrows[1].guard) == ("off[c, d]", "pressed(take[d])")


def test_what_is_set_names_the_member() -> None:
    (take,) = drawn(TAKE + ", set: {last: c}").arrows
    assert take.more == ("set last to c",)


@pytest.mark.parametrize(
    "rules",
    [
        pytest.param((TAKE, "id: one, from: 'held[left]', to: nobody"), id="one member only"),
        pytest.param((TAKE + ", set: {last: left}", DROP), id="a member in what is set"),
        pytest.param(
            (TAKE, "id: pass, each: c in cab, from: 'held[c]', if: 'take[c]', to: 'held[left]'"),
            id="a member as target",
        ),
        pytest.param(
            (TAKE.replace("from: nobody", "from: [nobody, 'held[left]']"),), id="a member as source"
        ),
    ],
)
def test_unlike_members_are_drawn_each_for_itself(rules: tuple[str, ...]) -> None:
    found = drawn(*rules)
    assert [box.title for box in found.boxes] == ["nobody", "held[left]", "held[right]"]
    assert found.arrows[0].guard == "pressed(take[left]) and not take[other(left)]"


def test_a_delay_of_its_own_keeps_members_apart() -> None:
    head = HEAD.replace("wait: 3 s", "wait[c in cab]: {left: 3 s, right: 4 s}")
    found = drawn(TAKE, DROP.replace("wait", "'wait[d]'"), head=head)
    assert [box.title for box in found.boxes] == ["nobody", "held[left]", "held[right]"]


def test_a_unit_is_no_binder() -> None:
    rule = "id: go, each: m in cab, from: nobody, if: 'm[left] > 4 m', to: 'held[m]'"
    text = HEAD.replace("m[cab]", "far[cab]")
    one = (
        "id: one, from: 'held[left]', to: nobody"  # keeps members apart, so that guards are written out
    )
    found = drawn(rule.replace("m[left]", "far[m]"), one, head=text)
    assert found.arrows[0].guard == "far[left] > 4 m"


def test_from_everywhere_is_one_arrow() -> None:
    text = "system: s\ninputs: {stop: button}\nmachines:\n  m:\n    states: [a, b, c]\n    start: a\n    rules:\n"
    system = system_of(text + "      - {id: halt, from: [a, b, c], if: pressed(stop), to: a}\n")
    assert [arrow.tail for arrow in sketch(system, system.machines[0]).arrows] == [ANYWHERE]
