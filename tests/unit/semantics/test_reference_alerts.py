"""Alerts: what raises, sounds, repeats, clears and silences, and which of these wins."""

from __future__ import annotations

from playing import Play, spec


def alarm(*keys: str, **parts: str) -> str:
    lines = "\n  ".join(("raise: on", *keys))
    return spec(
        alerts=f"alarm:\n  {lines}",
        inputs="{on: {values: signal, start: no}, ack: button, hush: button}",
        **parts,
    )


FULL = alarm("repeat: 4 s", "clear: pressed(ack)", "silence: {by: pressed(hush), for: 6 s}")


def raised(text: str = FULL) -> Play:
    play = Play(text)
    assert play.alert() == "idle"
    assert play.react("on").sounds == {"alarm"}
    return play


def test_an_alert_comes_on_and_sounds_when_its_cause_begins() -> None:
    """When `raise` begins, in any state: on, it sounds."""
    play = raised()
    assert play.alert() == "on"


def test_an_alert_starts_in_the_first_reaction() -> None:
    """In the first reaction alerts also start if their condition holds."""
    play = Play(FULL, on=True)
    assert play.alert() == "on" and play.moments[0].sounds == {"alarm"}


def test_it_repeats() -> None:
    """On and the repeat expires: it sounds."""
    play = raised()
    play.wait(4)
    assert play.react(expire="repeat").sounds == {"alarm"}
    play.wait(4)
    assert play.react(expire="repeat").sounds == {"alarm"}


def test_it_is_cleared_while_the_cause_lasts_and_idle_after() -> None:
    """On and `clear` holds: cleared if `raise` still holds, no sound; then idle when it is gone."""
    play = raised()
    assert not play.react("ack").sounds
    assert play.alert() == "cleared" and play.may_pass(100)
    play.react("-on")
    assert play.alert() == "idle"


def test_it_is_idle_when_cleared_with_the_cause_gone() -> None:
    """On and `clear` holds with `raise` gone: idle."""
    play = raised()
    play.react("-on")
    assert play.alert() == "on"  # it has a `clear`, so it waits for it
    play.react("ack")
    assert play.alert() == "idle"


def test_without_clear_it_ends_with_its_cause() -> None:
    """Without `clear` it ends with `raise`."""
    play = raised(alarm("repeat: 4 s"))
    play.react("-on")
    assert play.alert() == "idle"


def test_a_cause_that_goes_and_comes_back_rearms_it() -> None:
    """A cause gone and back re-arms it if these are two reactions, even at one instant."""
    play = raised()
    play.react("ack")
    play.react("-on")
    assert play.react("on").sounds == {"alarm"}
    assert play.alert() == "on"
    cleared_and_back = raised()
    cleared_and_back.wait(1)
    cleared_and_back.react("-on")
    cleared_and_back.react("on")
    cleared_and_back.wait(4)  # the repeat started over
    assert cleared_and_back.reference.due(cleared_and_back.state)


def test_a_beginning_wins_over_clear() -> None:
    """`raise` begins and `clear` holds in one reaction: it is on and sounds."""
    play = Play(FULL)
    assert play.react("on", "ack").sounds == {"alarm"}
    assert play.alert() == "on"


def test_a_beginning_wins_over_silence() -> None:
    """`raise` begins and `silence` comes in one reaction: no silence."""
    play = Play(FULL)
    play.react("on", "hush")
    play.wait(4)
    assert play.react(expire="repeat").sounds == {"alarm"}


def test_a_beginning_wins_over_a_repeat_due_and_ends_a_silence() -> None:
    """A beginning at the repeat's instant: one sound, the repeat starts over, a silence ends."""
    play = raised()
    play.react("hush")
    play.react("-on")
    play.wait(4)
    assert play.react("on", expire="repeat").sounds == {"alarm"}
    assert not play.reference.due(play.state)
    play.wait(4)
    assert play.react(expire="repeat").sounds == {"alarm"}


def test_a_clear_wins_over_a_repeat_due() -> None:
    """On and `clear` holds in the reaction in which the repeat expires: no sound."""
    play = raised()
    play.wait(4)
    assert not play.react("ack", expire="repeat").sounds
    assert play.alert() == "cleared"


def test_a_silence_stops_the_sound_and_the_repeat_keeps_its_beat() -> None:
    """`silence` stops the sound for T, and the repeat keeps its beat."""
    play = raised()
    play.wait(1)
    assert not play.react("hush").sounds  # silent until 7 s
    sounds = []
    for step in (3, 3, 1, 4):
        play.wait(step)
        sounds.append((play.time, bool(play.react(expire=None).sounds)))
    assert sounds == [(4, False), (7, False), (8, True), (12, True)]


def test_a_silence_that_ends_with_a_repeat() -> None:
    """Silence and repeat due at one instant: together it sounds; the repeat first does not."""
    text = alarm("repeat: 4 s", "silence: {by: pressed(hush), for: 4 s}")
    together, first = raised(text), raised(text)
    for play in (together, first):
        play.react("hush")
        play.wait(4)
    assert together.react(expire=None).sounds == {"alarm"}
    assert not first.react(expire="repeat").sounds
    assert not first.react(expire="silence").sounds


def test_a_silence_acts_only_when_on() -> None:
    """`silence` acts only when on: idle or cleared, it leaves nothing behind."""
    play = Play(FULL)
    play.react("hush")
    play.react("on")
    play.wait(4)
    assert play.react(expire="repeat").sounds == {"alarm"}


def test_silence_starts_over_when_pressed_again() -> None:
    """A second press while silenced silences for T from then."""
    play = raised()
    play.react("hush")
    play.wait(4)
    play.react(expire="repeat")
    play.react("-hush")
    play.react("hush")
    play.wait(4)
    assert not play.react(expire="repeat").sounds
    play.wait(2)
    play.react(expire="silence")
    play.wait(2)
    assert play.react(expire="repeat").sounds == {"alarm"}


def test_any_one_of_several_clears() -> None:
    """`clear` may be a list: any one of them."""
    text = alarm("clear:\n    - pressed(ack)\n    - pressed(hush)")
    for button in ("ack", "hush"):
        play = raised(text)
        play.react(button)
        assert play.alert() == "cleared"


def test_raised_and_cleared_are_conditions_and_sounds_an_event() -> None:
    """`raised` is on or cleared, `cleared` is cleared, `sounds` is an event."""
    play = Play(
        alarm(
            "clear: pressed(ack)",
            requirements="- id: R\n  always: (alarm.cleared implies alarm.raised) "
            "and (alarm.sounds implies alarm.raised and not alarm.cleared)",
        )
    )
    play.react("on")
    play.react("ack")
    play.react("-on")
    assert play.failure() is None


def test_an_event_may_raise() -> None:
    """An event as `raise`: each press begins it, also at one instant and while it is on."""
    text = spec(
        alerts="alarm:\n  raise: pressed(ack)\n  repeat: 4 s\n  clear: pressed(hush)",
        inputs="{ack: button, hush: button}",
    )
    play = Play(text)
    assert play.react("ack").sounds
    play.settle()
    assert play.alert() == "on"
    play.react("-ack")
    assert play.react("ack").sounds
    play.react("hush")
    assert play.alert() == "idle"
