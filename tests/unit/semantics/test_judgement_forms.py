"""Each form of requirement on hand-made runs: what it asks, and the instant at which it fails."""

from __future__ import annotations

from fractions import Fraction

import pytest
from playing import Play

from prioritylogic.requirements.observer import Fact, Mode, observer
from prioritylogic.semantics.judgement import Observation, observations

HEAD = """\
system: tiny
inputs:
  a: {values: signal, start: no}
  b: {values: signal, start: no}
  c: {values: signal, start: no}
  d: {values: signal, start: no}
  e: button
  f: button
  g: button
"""


def told(form: str, script: str, **start: bool) -> str:
    """How a requirement fares on a scripted run: "ok", or when it fails first.

    The script: words are the changes of one reaction, `+` joins changes of one reaction, figures
    are waits.
    """
    play = Play(f"{HEAD}requirements:\n  - id: R\n    " + form.replace("; ", "\n    "), **start)
    for word in script.split():
        if word[0].isdigit():
            play.wait(word)
        else:
            play.react(*word.split("+"))
    failure = play.failure()
    assert watched(play) == (failure and failure.time), "the observer differs"
    return "ok" if failure is None else f"{float(failure.time):g}"


def watched(play: Play) -> Fraction | None:
    """When the requirement's observer, fed the same run, is first broken."""
    watching = observer(play.system.requirements[0])
    assert watching is not None
    mode, clock, time = Mode(), Fraction(0), Fraction(0)
    figure = watching.figure or Fraction(0)

    def passing(until: Fraction) -> Fraction | None:
        nonlocal mode, clock
        start = clock
        mode, clock, broken = watching.elapse(mode, clock, until - time, figure)
        return time + figure - start if broken else None

    for seen in observations(play.reference, play.run):
        if seen.time > time:
            if (broken := passing(seen.time)) is not None:
                return broken
            time = seen.time

        def read(fact: Fact, seen: Observation = seen) -> bool:
            return play.reference.true(fact.formula, seen.rest if fact.at_rest else seen.reaction)

        effect = watching.step(mode, read)
        mode, clock = effect.mode, Fraction(0) if effect.restart else clock
        if effect.broken:
            return time
    return passing(play.time) if play.time > time else None


@pytest.mark.parametrize(
    ("form", "script", "expected"),
    [
        # always, never: after every reaction
        ("always: not a", "1 a", "1"),
        ("never: a and b", "1 a 1 -a+b", "ok"),
        ("never: changed(a)", "1 a", "1"),
        ("never: a; during: d", "a", "ok"),
        ("never: a; during: d", "a 1 d", "1"),
        # `after A` starts when the condition begins (or holds at the start),
        # and each time an event comes
        ("after: a; expect: b; within: 3 s", "1 a 2 b", "ok"),
        ("after: a; expect: b; within: 3 s", "1 a 3 b", "ok"),  # an answer at T is in time
        ("after: a; expect: b; within: 3 s", "1 a 3.1 b", "4"),  # more than T
        ("after: a; expect: b; within: 3 s", "1 a 3", "ok"),
        (
            "after: a; expect: b; within: under 3 s",
            "1 a 3 b",
            "4",
        ),  # once T has passed, an answer at T too
        ("after: a; expect: b; within: under 3 s", "1 a 2.9 b 5", "ok"),
        ("after: a; expect: b; within: 3 s", "a+b 1 -b 9", "ok"),  # an answer in A's own reaction counts
        ("after: a; expect: b; within: 3 s", "b 1 a 9", "ok"),  # so does one that already lasts
        ("after: a; expect: pressed(e); within: 3 s", "e 1 a 9", "4"),
        ("after: a; expect: b; within: 3 s", "a 2 -a a 2 b", "3"),  # since the oldest unanswered
        ("after: a; expect: b; within: 3 s", "a 2 b 2 -a -b a 3 b", "ok"),
        ("after: pressed(e); expect: b; within: 3 s", "e 2 -e e 1 b", "ok"),
        ("after: pressed(e); expect: b; within: 3 s", "e 2 -e e 1.5 b", "3"),
        ("after: a; expect: b; within: 0 s", "a b", "ok"),
        ("after: a; at_once: b", "a b 1", "ok"),  # in the same instant
        ("after: a; at_once: b", "a 1 b", "0"),
        ("after: a; at_once: pressed(e)", "a e", "ok"),
        # keep ... until
        ("after: a; keep: b; until: c", "a", "0"),  # B is asked in A's reaction
        ("after: a; keep: b; until: c", "a+b 1 -b", "1"),
        ("after: a; keep: b; until: c", "a+b 1 -b+c", "ok"),  # not in C's
        ("after: a; keep: b; until: c", "a+c", "ok"),  # if C comes with A, nothing is asked
        ("after: a; keep: b; until: c", "c a", "ok"),
        ("after: a; keep: b; until: pressed(e)", "a+b 1 e 1 -b", "ok"),
        ("after: a; keep: b; until: c", "a+b 1 -a 1 -b", "2"),  # A need not last
        # keep ... for: false at less than T from the newest A
        ("after: a; keep: b; for: 3 s", "a", "0"),
        ("after: a; keep: b; for: 3 s", "a+b 2.9 -b", "2.9"),
        ("after: a; keep: b; for: 3 s", "a+b 3 -b", "ok"),
        ("after: pressed(e); keep: b; for: 3 s", "b e 2 -e e 2 -b", "4"),
        ("after: pressed(e); keep: b; for: 3 s", "b e 2 -e e 3 -b", "ok"),
        # while ... every: more than T since W began or B last came, W still holding
        ("while: a; expect: pressed(e); every: 3 s", "a 3 e 3 -e e 3", "ok"),
        ("while: a; expect: pressed(e); every: 3 s", "a 3 e 3.1", "6"),
        ("while: a; expect: pressed(e); every: 3 s", "a 3.1", "3"),
        ("while: a; expect: pressed(e); every: 3 s", "a 3 -a 5", "ok"),
        ("while: a; expect: pressed(e); every: under 3 s", "a 3 e", "3"),
        ("while: a; expect: pressed(e); every: under 3 s", "a 2.9 e 2.9 -a", "ok"),
        ("while: a; expect: pressed(e); every: 3 s", "a 2 -a a 3 e", "ok"),  # W began anew
        ("while: a; expect: b; every: 3 s", "a b 9 -b 3", "ok"),  # B lasting: it last came as it ended
        ("while: a; expect: b; every: 3 s", "a b 9 -b 3.1", "12"),
        # apart: the next beginning or event comes no sooner than T
        ("after: pressed(e); apart: 3 s", "e -e 3 e", "ok"),
        ("after: pressed(e); apart: 3 s", "e -e 2.9 e", "2.9"),
        ("after: a; apart: 3 s", "a 5 -a a", "ok"),  # from beginning to beginning
        ("after: a; apart: 3 s", "a -a a", "0"),
    ],
)
def test_forms(form: str, script: str, expected: str) -> None:
    """Each sentence about the forms, at its boundary."""
    assert told(form, script) == expected


def test_a_condition_that_holds_at_the_start_starts() -> None:
    """`after A` starts when A begins, or holds at the start."""
    assert told("after: a; expect: b; within: 3 s", "4", a=True) == "3"
    assert told("while: a; expect: pressed(e); every: 3 s", "4", a=True) == "3"


@pytest.mark.parametrize(
    ("form", "script", "expected"),
    [
        # during D: A is read as `A and D`, and D's end cancels
        ("after: a; expect: b; within: 3 s; during: d", "a 9", "ok"),
        ("after: a; expect: b; within: 3 s; during: d", "a 9 d 4", "12"),  # `A and D` begins with D
        ("after: a; expect: b; within: 3 s; during: d", "d a 2 -d 9", "ok"),
        ("after: a; expect: b; within: 3 s; during: d", "d a 2 -d d 3", "ok"),
        ("after: a; expect: b; within: 3 s; during: d", "d a 2 -d d 3.1", "5"),
        ("after: pressed(e); expect: b; within: 3 s; during: d", "e 1 d 9", "ok"),
        ("after: a; keep: b; until: c; during: d", "d a+b 1 -d 1 -b", "ok"),
        ("after: a; keep: b; until: c; during: d", "d a+b 1 -d+-b", "ok"),
        ("after: a; keep: b; for: 3 s; during: d", "d a+b 1 -d 1 -b", "ok"),
        ("while: a; expect: pressed(e); every: 3 s; during: d", "d a 2 -d 5", "ok"),
        ("while: a; expect: pressed(e); every: 3 s; during: d", "a 9 d 4", "12"),
        ("after: pressed(e); apart: 3 s; during: d", "d e 1 -e -d d e", "ok"),
        # unless C cancels
        ("after: a; expect: b; within: 3 s; unless: c", "a 2 c 9", "ok"),
        ("after: a; expect: b; within: 3 s; unless: c", "a 2 c -c 9", "ok"),
        ("after: a; expect: b; within: 3 s; unless: c", "c a 9", "ok"),  # a condition that already holds
        ("after: a; expect: b; within: 3 s; unless: pressed(e)", "a 2 e 9", "ok"),
        # an event in `unless` does not cancel what its own reaction starts
        ("after: a; expect: b; within: 3 s; unless: pressed(e)", "a+e 9", "3"),
        ("after: pressed(e); expect: b; within: 3 s; unless: pressed(f)", "e+f 9", "3"),
        ("after: pressed(e); expect: b; within: 3 s; unless: pressed(e)", "e 9", "3"),
        # ... but what an earlier one started; and this reaction starts it anew
        ("after: pressed(e); expect: b; within: 3 s; unless: pressed(e)", "e 2 -e e 3", "ok"),
        ("after: pressed(e); expect: b; within: 3 s; unless: pressed(e)", "e 2 -e e 3.1", "5"),
        ("after: a; keep: b; until: c; unless: pressed(e)", "a+b 1 e+-b", "ok"),
        ("after: a; keep: b; until: c; unless: pressed(e)", "a+b+e 1 -b", "1"),
        ("after: a; keep: b; for: 3 s; unless: d", "a+b 1 d 1 -b", "ok"),
        ("while: a; expect: pressed(e); every: 3 s; unless: c", "a 1 c -c 9", "ok"),
        ("after: pressed(e); apart: 3 s; unless: pressed(f)", "e 1 -e f e", "ok"),
        # mixed: the condition part cancels at rest, the event does not cancel its own start
        ("after: a; expect: b; within: 3 s; unless: pressed(e) or c", "a+e 9", "3"),
        ("after: a; expect: b; within: 3 s; unless: pressed(e) or c", "a+c 9", "ok"),
        ("after: a; expect: b; within: 3 s; unless: pressed(e) or c", "a 1 e 9", "ok"),
    ],
)
def test_during_and_unless(form: str, script: str, expected: str) -> None:
    """`during` narrows the trigger and its end cancels; `unless` cancels."""
    assert told(form, script) == expected


@pytest.mark.parametrize(
    ("condition", "script", "expected"),
    [
        # X for T: not yet true at its boundary instant, whatever happens in it
        ("not (a for 3 s)", "a 3 b -b", "ok"),
        ("not (a for 3 s)", "a 3.1", "3"),
        ("not (a for 3 s)", "a 2 -a a 3 b", "ok"),
        ("not (a for 3 s)", "a 3 -a 5", "ok"),
        ("b implies (a for 3 s)", "a 3.1 b", "ok"),
        ("b implies (a for 3 s)", "a 3 b", "3"),
        # X within last T: still true at it
        ("b implies (a within last 3 s)", "a -a 3 b", "ok"),
        ("b implies (a within last 3 s)", "a -a 3.1 b", "3.1"),
        ("b implies (pressed(e) within last 3 s)", "e 3 b", "ok"),
        ("b implies (pressed(e) within last 3 s)", "e 3.5 b", "3.5"),
        ("b implies (pressed(e) within last 3 s)", "e 2 -e e 3 b", "ok"),
        ("b implies (pressed(e) within last 3 s)", "e 3 b 1", "3"),
        ("not (pressed(e) within last 3 s)", "e", "0"),
        # nested
        ("not ((a for 3 s) within last 2 s)", "a 3 b", "ok"),
        ("b implies ((a for 3 s) within last 2 s)", "a 4 -a 2 b", "ok"),
        ("b implies ((a for 3 s) within last 2 s)", "a 4 -a 2.1 b", "6.1"),
        ("not ((a within last 1 s) for 3 s)", "a 2 -a 1 b", "ok"),
        ("not ((a within last 1 s) for 3 s)", "a 2 -a 1.1", "ok"),
        ("not ((a within last 1 s) for 2 s)", "a 2 -a 1.1", "2"),
    ],
)
def test_timed_conditions_that_only_requirements_read(
    condition: str, script: str, expected: str
) -> None:
    """One that only requirements read changes last in its instant."""
    assert told(f"always: {condition}", script) == expected
