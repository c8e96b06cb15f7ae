"""Timed conditions: on-delays and off-delays, read by rules and by requirements."""

from __future__ import annotations

from playing import Play, spec

HELD = spec(rules="- {id: r, from: a, if: on for 3 s, to: b}")
RECENT = spec(rules="- {id: r, from: a, if: pressed(stop) and (pressed(go) within last 3 s), to: b}")


def test_an_on_delay_needs_its_time_without_a_break() -> None:
    """X has held without a break for T; a break starts it over."""
    play = Play(HELD)
    play.react("on")
    play.wait(2)
    play.react("-on")
    play.react("on")
    play.wait(2)
    assert not play.reference.due(play.state)
    play.wait(1)
    play.react(expire="timed")
    assert play["m"] == "b"


def test_an_on_delay_runs_from_the_first_reaction() -> None:
    """A condition that holds at the start starts its on-delay there."""
    play = Play(HELD, on=True)
    play.wait(3)
    play.react(expire="timed")
    assert play["m"] == "b"


def test_an_on_delay_at_the_boundary_has_the_order_of_the_reactions() -> None:
    """The boundary instant has whatever order the reactions have."""
    first, together = Play(HELD, on=True), Play(HELD, on=True)
    for play in (first, together):
        play.wait(3)
    first.react("-on")
    assert first["m"] == "a" and not first.reference.due(first.state)
    together.react("-on", expire="timed")
    assert together["m"] == "a"  # expired now, but X is false as this reader reads it


def test_an_on_delay_starts_over_in_a_reaction_in_which_it_is_false() -> None:
    """`X for T` starts over in each reaction in which X is false, even if X is true at rest."""
    text = spec(rules="- {id: r, from: a, if: (not changed(on)) for 3 s, to: b}")
    play = Play(text)
    play.wait(2)
    play.react("on")
    play.wait(2)
    assert not play.reference.due(play.state)
    play.wait(1)
    play.react(expire="timed")
    assert play["m"] == "b"


def test_an_on_delay_stays_true_once_expired() -> None:
    """Expired before or now, and X: it stays true as long as X does."""
    play = Play(spec(rules="- {id: r, from: a, if: (on for 3 s) and pressed(go), to: b}"), on=True)
    play.wait(3)
    play.react(expire="timed")
    play.wait(50)
    play.react("go")
    assert play["m"] == "b"


def test_an_off_delay_of_an_event() -> None:
    """X held at some time in the last T; X may be an event."""
    for waited, expected in ((0, "b"), (2, "b"), (3, "b")):
        play = Play(RECENT)
        play.react("go")
        if waited:
            play.wait(waited)
        play.react("stop")
        assert play["m"] == expected
    late = Play(RECENT)
    late.react("go")
    late.wait(3)
    late.react("stop", expire="timed")
    assert late["m"] == "a"  # expiring now: no longer running


def test_an_off_delay_is_true_in_the_reaction_of_its_event() -> None:
    """A reader sees `X within last T` with X itself."""
    play = Play(RECENT)
    play.react("go", "stop")
    assert play["m"] == "b"


def test_an_off_delay_of_a_condition_counts_from_its_end() -> None:
    """An off-delay of a condition: while X, and T after it was last true."""
    play = Play(spec(rules="- {id: r, from: a, if: not (on within last 3 s), to: b}"), on=True)
    play.wait(50)
    play.react("-on")
    assert play["m"] == "a"
    play.wait(3)
    play.react(expire="timed")
    assert play["m"] == "b"


def test_an_off_delay_is_restarted_by_each_event() -> None:
    """`within last` restarts in each reaction in which X is true."""
    play = Play(RECENT)
    play.react("go")
    play.wait(2)
    play.react("-go")
    play.react("go")
    play.wait(2)
    play.react("stop")
    assert play["m"] == "b"


def test_one_timer_is_shared_wherever_it_is_written() -> None:
    """Each timed condition is one timer, shared wherever written (and however its time is said)."""
    play = Play(
        spec(
            rules="- {id: r, from: a, if: on for 3 s, to: b}\n"
            "- {id: q, from: b, if: (on) for 3000 ms, to: c}",
            outputs="{lamp: on for 0.05 min}",
        )
    )
    assert len(play.system.timed) == 1


def test_negation_of_a_timed_condition_is_exact() -> None:
    """The value is a stored bit, never a clock comparison: at T it has not expired until it does."""
    play = Play(spec(rules="- {id: r, from: a, if: pressed(go) and not (on for 3 s), to: b}"), on=True)
    play.wait(3)
    assert len(play.ways("go")) == 1
    assert play.ways("go")[0].taken == {"r"}
    assert play.ways("go", expire=None)[0].taken == set()


def test_nested_timed_conditions() -> None:
    """A timed condition may stand inside another: 2 s after it was last true for 3 s."""
    play = Play(spec(rules="- {id: r, from: a, if: (on for 3 s) within last 2 s, to: b}"), on=True)
    play.wait(3)
    play.react(expire="timed")
    assert play["m"] == "b"


def observed(requirement: str) -> Play:
    return Play(
        spec(
            rules="- {id: r, from: a, if: pressed(go), to: b}",
            requirements=f"- id: R\n  {requirement}",
        )
    )


def test_at_the_boundary_an_observed_on_delay_is_not_yet_true() -> None:
    """One that only requirements read changes last in its instant: at T `X for T` is not yet true."""
    play = observed("never: m is a and (on for 3 s)")
    play.react("on")
    assert not play.reference.due(play.state) and play.may_pass(100)
    play.wait(3)
    play.react("go")
    play.wait(10)
    assert play.failure() is None
    late = observed("never: m is a and (on for 3 s)")
    late.react("on")
    late.wait(3)
    assert late.failure() is None
    late.wait("0.1")
    failure = late.failure()
    assert failure is not None and failure.time == 3


def test_at_the_boundary_an_observed_off_delay_is_still_true() -> None:
    """At T after its last X, `X within last T` still is true for requirements."""
    play = observed("always: m is b implies (on within last 3 s)")
    play.react("on")
    play.react("-on")
    play.wait(3)
    play.react("go")
    assert play.failure() is None
    play.wait("0.1")
    assert play.failure() is not None
