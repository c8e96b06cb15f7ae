"""The boundary instant: what happens just before, with, or just after an expiry."""

from __future__ import annotations

from playing import Play, spec

STAY = spec(
    rules="""
- {id: leave, from: a, if: not go, after: 3 s, to: b}
- {id: push, from: a, if: pressed(go), to: c}
"""
)


def at_three_seconds(text: str) -> Play:
    play = Play(text)
    play.wait(3)
    return play


def test_time_may_not_pass_a_due_instant() -> None:
    """Time may not pass a running timer's due instant."""
    play = Play(STAY)
    assert play.may_pass(3) and not play.may_pass("3.1")
    play.wait(3)
    assert not play.may_pass("0.1")


def test_a_press_just_before_together_with_and_just_after_an_expiry() -> None:
    """An input can change just before, together with, or just after a timer's expiry."""
    before, together, after = (at_three_seconds(STAY) for _ in range(3))
    before.react("go")
    assert before["m"] == "c"
    together.react("go", expire="stay")
    assert together["m"] == "c"  # the guard of `leave` means the button as it is now
    after.react(expire="stay")
    assert after["m"] == "b"
    after.react("go")
    assert after["m"] == "b"


def test_an_expiry_is_stored_for_the_stay() -> None:
    """The expiry is stored for the stay, so a later `if` fires at once."""
    play = Play(spec(rules="- {id: r, from: a, if: on, after: 3 s, to: b}"))
    play.wait(3)
    play.react(expire="stay")
    assert play["m"] == "a" and play.may_pass(100)
    play.wait(7)
    play.react("on")
    assert play["m"] == "b"


def test_an_event_counts_only_in_or_after_the_expiring_reaction() -> None:
    """An event in `if` counts only in or after the reaction in which the stay expires."""
    text = spec(rules="- {id: r, from: a, if: pressed(go), after: 3 s, to: b}")
    before, together, after = (at_three_seconds(text) for _ in range(3))
    before.react("go")
    before.react(expire="stay")
    assert before["m"] == "a"
    together.react("go", expire="stay")
    assert together["m"] == "b"
    after.react(expire="stay")
    after.react("go")
    assert after["m"] == "b"


def test_rules_with_the_same_time_share_one_expiry() -> None:
    """Rules of one machine with the same T share one expiry per stay."""
    play = Play(
        spec(
            rules="""
- {id: r, from: a, if: on, after: 3 s, to: b}
- {id: q, from: a, if: go, after: 3 s, to: c}
- {id: p, from: a, after: 5 s, to: c}
"""
        )
    )
    play.wait(3)
    assert len(play.reference.due(play.state)) == 1
    play.react(expire="stay")
    play.wait(2)
    assert len(play.reference.due(play.state)) == 1


def test_from_any_counts_per_state() -> None:
    """With `from: any` the stay is still counted per state."""
    play = Play(
        spec(rules="- {id: r, from: any, after: 3 s, to: c}\n- {id: q, from: a, if: pressed(go), to: b}")
    )
    play.wait(2)
    play.react("go")
    play.wait(2)
    assert play["m"] == "b" and not play.reference.due(play.state)
    play.wait(1)
    play.react(expire="stay")
    assert play["m"] == "c"


def test_entering_the_own_state_starts_the_stay_over_and_no_to_does_not() -> None:
    """`to` enters the state anew, even from itself; a rule without `to` restarts nothing."""
    text = "- {{id: r, from: a, if: pressed(go), {} }}\n- {{id: q, from: a, after: 3 s, to: b}}"
    memory = "{k: {values: whole 0 to 9, start: 0}}"
    for effect, restarts in (("to: a", True), ("set: {k: 1}", False)):
        play = Play(spec(rules=text.format(effect), memory=memory))
        play.wait(2)
        play.react("go")
        assert play.may_pass(3) is restarts
        play.wait(1)
        assert bool(play.reference.due(play.state)) is not restarts


def test_any_subset_of_the_due_timers_expires() -> None:
    """Any subset of the timers now due expires; the others stay due and time stands still."""
    play = Play(
        spec(
            rules="- {id: r, from: a, after: 3 s, to: b}",
            machines_too="""
n:
  states: [a, b]
  start: a
  rules: [{id: q, from: a, after: 3 s, to: b}]
""",
        )
    )
    play.wait(3)
    play.react(expire="stay n")
    assert (play["m"], play["n"]) == ("a", "b")
    assert not play.may_pass("0.1")
    play.react(expire="stay m")
    assert (play["m"], play["n"]) == ("b", "b")


def test_two_buttons_in_one_reaction_and_one_after_the_other() -> None:
    """Two buttons can be pressed in one reaction, in consecutive reactions at one instant, or apart."""
    text = spec(
        rules="""
- {id: both, from: a, if: pressed(go) and pressed(stop), to: c}
- {id: one, from: a, if: pressed(go) and not pressed(stop), to: b}
"""
    )
    together, apart = Play(text), Play(text)
    together.react("go", "stop")
    assert together["m"] == "c"
    apart.react("go")
    apart.react("stop")
    assert apart["m"] == "b"


def test_inputs_may_change_before_the_next_rule_is_taken() -> None:
    """In an unsettled instant inputs may change before the next rule is taken."""
    play = Play(
        spec(
            rules="""
- {id: r, from: a, if: pressed(go), to: b}
- {id: q, from: b, if: on, to: c, beats: p}
- {id: p, from: b, to: a}
"""
        )
    )
    play.react("go")
    assert not play.may_pass("0.1")
    play.react("on")
    assert play["m"] == "c"
