"""Rules: the first reaction, delays that are uncertain, ties, writes and machines that take turns."""

from __future__ import annotations

from playing import Play, spec

COUNT = "{k: {values: whole 0 to 3, start: 0}}"


def taken(play: Play, *changes: str, **how: str | bool | None) -> set[frozenset[str]]:
    """Which sets of rules a reaction may take."""
    return {moment.taken for moment in play.ways(*changes, **how)}  # type: ignore[arg-type]


def starts(text: str, **inputs: bool) -> set[frozenset[str]]:
    """Which sets of rules the reaction at time 0 may take."""
    play = Play(text, **inputs)
    values = play.moments[0].after.values[: len(play.system.inputs)]
    return {moment.taken for moment in play.reference.starts(values)}


# ----------------------------------------------------------------- the first reaction


def test_in_the_first_reaction_nothing_is_pressed() -> None:
    """No input changes: a button that starts pressed is down, not pressed."""
    text = spec(
        rules="- {id: p, from: a, if: pressed(go), to: b}\n- {id: d, from: a, if: go, to: c}",
        inputs="{go: {values: button, start: pressed}}",
    )
    assert starts(text) == {frozenset({"d"})}


def test_in_the_first_reaction_before_is_now_for_inputs_and_the_start_for_machines() -> None:
    """`before(x)` of an input is `x` and of a machine its start state (which counts as reached)."""
    play = Play(
        spec(
            rules="- {id: r, from: a, if: before(on), to: b}",
            requirements="- {id: R, always: before(m) is a and m is b and before(on)}",
        ),
        on=True,
    )
    assert play["m"] == "b" and play.failure() is None


def test_in_the_first_reaction_may_rules_can_be_offered_and_takes_rules_not() -> None:
    """`may` rules can be offered and `takes` rules not; their clocks start at its end."""
    may = spec(rules="- {id: r, from: a, may: yes, to: b}")
    assert starts(may) == {frozenset(), frozenset({"r"})}
    some_day = spec(rules="- {id: r, from: a, takes: some day, to: b}")
    assert starts(some_day) == {frozenset()}
    assert taken(Play(some_day), offers=True) == {frozenset(), frozenset({"r"})}


# ----------------------------------------------------------------- takes


def test_an_uncertain_delay_is_offered_from_its_lower_end_and_owed_at_its_upper() -> None:
    """Offered from its lower end, taken by its upper; time stops while it is owed, still as an offer."""
    play = Play(spec(rules="- {id: r, from: a, takes: 1 s to 3 s, to: b}"))
    assert not play.ways(take="r")
    play.wait(1)
    assert play.ways(take="r")
    play.wait(2)
    assert taken(play, offers=True) == {frozenset(), frozenset({"r"})}
    assert not play.may_pass("0.1")


def test_strict_ends_are_not_reached() -> None:
    """`over 1 s to under 2 s`: neither end is an instant at which it is taken."""
    play = Play(spec(rules="- {id: r, from: a, takes: over 1 s to under 2 s, to: b}"))
    play.wait(1)
    assert not play.ways(take="r")
    assert play.may_pass("0.999") and not play.may_pass(1)
    play.wait("0.001")
    assert play.ways(take="r")


def test_no_upper_end_does_not_stop_time() -> None:
    """`at least`, `over` and `some day` have no upper end."""
    for takes, first in (("at least 5 s", 5), ("over 5 s", "5.1"), ("some day", "0.1")):
        play = Play(spec(rules=f"- {{id: r, from: a, takes: {takes}, to: b}}"))
        assert play.may_pass(1000)
        play.wait(first)
        assert play.ways(take="r")


def test_the_clock_starts_over_when_the_guard_breaks() -> None:
    """Its clock runs while the machine is in `from` and `if` holds at rest, and starts over when that
    breaks, at one instant too."""
    play = Play(spec(rules="- {id: r, from: a, if: on, takes: 2 s to 3 s, to: b}"), on=True)
    play.wait(2)
    play.react("-on")
    play.react("on")
    assert not play.ways(take="r")
    play.wait(2)
    assert play.ways(take="r")


def test_the_clock_starts_over_when_the_state_is_entered_anew() -> None:
    """...or the state is entered anew, even from itself."""
    play = Play(
        spec(
            rules="- {id: r, from: a, takes: 2 s to 3 s, to: b}\n"
            "- {id: q, from: a, if: pressed(go), to: a}"
        )
    )
    play.wait(2)
    play.react("go")
    assert not play.ways(take="r") and play.may_pass(3)


def test_moving_between_sources_of_a_rule_starts_its_clock_over() -> None:
    """The state is entered anew also when the rule has both states in `from`."""
    play = Play(
        spec(
            rules="- {id: r, from: [a, b], takes: 2 s to 3 s, to: c}\n"
            "- {id: q, from: a, if: pressed(go), to: b}"
        )
    )
    play.wait(2)
    play.react("go")
    assert not play.ways(take="r")


def test_taking_it_restarts_its_clock() -> None:
    """Taking it restarts its clock, though it enters no state."""
    play = Play(spec(rules="- {id: r, from: a, takes: 2 s to 3 s, set: {k: 1}}", memory=COUNT))
    play.wait(3)
    assert not play.may_pass("0.1")
    play.react(take="r")
    assert play.may_pass(3) and not play.ways(take="r")


def test_since_counts_from_the_other_rule() -> None:
    """`since: RULE` counts from when that rule was last taken, not offered before it ever was."""
    play = Play(
        spec(
            rules="- {id: r, from: a, if: pressed(go), to: b}\n"
            "- {id: q, from: b, if: on, takes: 1 s to 2 s, since: r, to: c}\n"
            "- {id: p, from: a, takes: some day, since: r, to: c}"
        )
    )
    play.wait(50)
    assert not play.ways(take="p")
    play.react("go")
    play.wait(1)
    play.react("on")  # the guard turns true later: the count is from the press
    assert play.ways(take="q")
    play.wait(1)
    assert not play.may_pass("0.1")


def test_past_the_end_since_is_owed_whenever_the_guard_holds() -> None:
    """Past the end it is owed whenever `if` holds."""
    play = Play(
        spec(
            rules="- {id: r, from: a, if: pressed(go), to: b}\n"
            "- {id: q, from: b, if: on, takes: 1 s to 2 s, since: r, to: c}"
        )
    )
    play.react("go")
    play.wait(50)
    play.react("on")
    assert play.ways(take="q") and not play.may_pass("0.1")
    play.react("-on")
    assert play.may_pass(50)


def test_an_owed_rule_makes_no_conflict() -> None:
    """Time stops while it is owed, still as an offer, so it makes no conflict."""
    play = Play(
        spec(
            rules="- {id: r, from: a, takes: 1 s to 2 s, to: b}\n"
            "- {id: q, from: a, if: pressed(go), to: c}"
        )
    )
    play.wait(2)
    ways = play.ways("go", offers=True)
    assert {moment.taken for moment in ways} == {frozenset({"r"}), frozenset({"q"})}
    assert not any(moment.ties for moment in ways)


def test_after_with_may_is_offered_once_the_stay_has_expired() -> None:
    """`after: T` with `may: yes`; strict, once the stay is longer than T."""
    play = Play(spec(rules="- {id: r, from: a, after: 3 s, may: yes, to: b}"))
    play.wait(3)
    assert not play.ways(take="r") and play.ways(take="r", expire=None)
    play.react(expire=None)
    assert play.may_pass(100) and play.ways(take="r")
    strict = Play(spec(rules="- {id: r, from: a, after: over 3 s, may: yes, to: b}"))
    assert strict.may_pass(100)
    strict.wait(3)
    assert not strict.ways(take="r")
    strict.wait("0.001")
    assert strict.ways(take="r")


# ----------------------------------------------------------------- ties


TWO = "- {id: r, from: a, if: go, to: b%s}\n- {id: q, from: a, if: stop, to: c%s}"


def test_a_tie_is_explored_both_ways_and_reported() -> None:
    """Two at-once rules enabled together, with other targets: both explored, and a conflict."""
    ways = Play(spec(rules=TWO % ("", ""))).ways("go", "stop")
    assert {m.taken for m in ways} == {frozenset({"r"}), frozenset({"q"})}
    assert all(tie.rules == ("q", "r") for m in ways for tie in m.ties) and all(m.ties for m in ways)


def test_beats_settles_a_tie() -> None:
    """`beats`: a candidate beaten by any candidate drops out."""
    (way,) = Play(spec(rules=TWO % ("", ", beats: r"))).ways("go", "stop")
    assert way.taken == {"q"} and not way.ties


def test_a_beaten_beater_still_beats() -> None:
    """...even if that one is beaten too."""
    play = Play(
        spec(
            rules="- {id: x, from: a, if: go, beats: y, to: a}\n"
            "- {id: y, from: a, if: go, beats: z, to: b}\n- {id: z, from: a, if: go, to: c}"
        )
    )
    assert taken(play, "go") == {frozenset({"x"})}


def test_equal_effects_are_no_conflict() -> None:
    """A conflict needs another target or other written values."""
    same = spec(rules="- {id: r, from: a, if: go, to: b}\n- {id: q, from: a, if: go, to: b}")
    assert not any(m.ties for m in Play(same).ways("go"))
    writes = spec(
        rules="- {id: r, from: a, if: go, to: b, set: {k: 1}}\n- {id: q, from: a, if: go, to: b}",
        memory=COUNT,
    )
    assert all(m.ties for m in Play(writes).ways("go"))


def test_a_rule_that_changes_nothing_stays_a_candidate() -> None:
    """A rule without `to` whose writes change nothing stays a candidate, so ties are not hidden."""
    text = spec(
        rules="- {id: r, from: a, if: on, set: {k: 0}}\n- {id: q, from: a, if: pressed(go), to: b}",
        memory=COUNT,
    )
    play = Play(text, on=True)
    assert play.may_pass(1)
    assert taken(play, "go") == {frozenset({"r"}), frozenset({"q"})}
    assert all(m.ties for m in play.ways("go"))


def test_tie_either_declares_it_intended() -> None:
    """`tie: either` on a machine: both explored, no conflict."""
    ways = Play(spec(rules=TWO % ("", ""), machine="    tie: either\n")).ways("go", "stop")
    assert len(ways) == 2 and not any(m.ties for m in ways)


def test_order_first_makes_list_order_the_priority() -> None:
    """`order: first`: list order, and group order within `each`, is the priority."""
    assert taken(Play(spec(rules=TWO % ("", ""), machine="    order: first\n")), "go", "stop") == {
        frozenset({"r"})
    }
    group = """\
  m:
    states:
      - a
      - b[side]
    start: a
    order: first
    rules:
      - id: r
        each: s in side
        from: a
        if: go
        to: b[s]
"""
    play = Play(spec(machines=group, groups="{side: [port, starboard]}"))
    assert taken(play, "go") == {frozenset({"r[port]"})}


def test_an_offered_rule_and_an_at_once_rule() -> None:
    """With an offered rule it is declared uncertainty: explored, no conflict."""
    play = Play(spec(rules="- {id: r, from: a, if: go, to: b}\n- {id: q, from: a, may: yes, to: c}"))
    ways = play.ways("go", offers=True)
    assert {m.taken for m in ways} == {frozenset({"r"}), frozenset({"q"})}
    assert not any(m.ties for m in ways)
    # An at-once candidate is taken if nothing else is: there is no reaction with none.
    assert frozenset() not in taken(play, "go", offers=True)


def test_an_offered_rule_beaten_by_an_at_once_rule() -> None:
    """An offered candidate beaten by an at-once one drops out, and the other way round."""
    rules = "- {id: r, from: a, if: go, to: b%s}\n- {id: q, from: a, may: yes, to: c%s}"
    assert taken(Play(spec(rules=rules % (", beats: q", ""))), "go", offers=True) == {frozenset({"r"})}
    assert taken(Play(spec(rules=rules % ("", ", beats: r"))), "go", offers=True) == {
        frozenset({"r"}),
        frozenset({"q"}),
    }


# ----------------------------------------------------------------- writes


def test_writes_read_as_the_reaction_starts_and_happen_together() -> None:
    """`set` reads its right sides as `if` does and writes them together."""
    play = Play(
        spec(
            rules="- {id: r, from: a, if: pressed(go), set: {k: j, j: k}}",
            memory="{k: {values: whole 0 to 3, start: 1}, j: {values: whole 0 to 3, start: 2}}",
        )
    )
    play.react("go")
    assert (play["k"], play["j"]) == (2, 1)


def test_out_of_range_ends_the_run() -> None:
    """A write outside the range is marked; the run ends there."""
    play = Play(spec(rules="- {id: r, from: a, if: pressed(go), set: {k: k - 1}}", memory=COUNT))
    assert play.react("go").out_of_range == "k"


def two_machines(second: str) -> str:
    return spec(
        rules="- {id: r, from: a, if: pressed(go), to: b, set: {k: 1}}",
        machines_too=f"""
n:
  states: [a, b]
  start: a
  rules: [{{id: q, from: a, if: pressed(go), to: b, set: {{k: {second}}}}}]
""",
        memory=COUNT,
    )


def test_a_write_clash_explores_each_value() -> None:
    """Two machines writing different values to one name in one reaction: each value is explored."""
    ways = Play(two_machines("2")).ways("go")
    assert {m.after.values[-1] for m in ways} == {1, 2}
    assert {tie.memory for m in ways for tie in m.ties} == {"k"}


def test_equal_writes_are_no_clash() -> None:
    """The same value twice is no clash."""
    (way,) = Play(two_machines("1")).ways("go")
    assert not way.ties


def test_own_state_and_written_memory_mean_the_start_of_the_reaction() -> None:
    """Inside a machine its own state and the memory it writes mean their value as the reaction starts;
    another machine reads them now."""
    play = Play(
        spec(
            rules="- {id: r, from: a, if: pressed(go) and m is a and k = 0, to: b, set: {k: 1}}",
            machines_too="""
n:
  states: [a, b]
  start: a
  rules: [{id: q, from: a, if: k = 1 and m is b and taken(r), to: b}]
""",
            memory=COUNT,
        )
    )
    assert play.react("go").taken == {"r", "q"}


# ----------------------------------------------------------------- interleaved


TURNS = spec(
    rules="- {id: r, from: a, if: go, to: b}",
    machines_too="""
n:
  states: [a, b]
  start: a
  rules: [{id: q, from: a, if: %s, to: b}]
""",
    interleaved="[m, n]",
)


def test_exactly_one_of_the_interleaved_moves() -> None:
    """Of those with candidates exactly one takes a rule, every choice explored, none a conflict."""
    play = Play(TURNS % "go")
    ways = play.ways("go")
    assert {m.taken for m in ways} == {frozenset({"r"}), frozenset({"q"})}
    assert not any(m.ties for m in ways)
    play.follow(ways[0])
    assert not play.may_pass(1)
    play.react()
    assert (play["m"], play["n"]) == ("b", "b") and play.may_pass(1)


def test_the_others_of_the_interleaved_stand_still() -> None:
    """Between interleaved machines `before` is implied: no circle, and each sees the others' start."""
    play = Play(TURNS.replace("if: go, to", "if: go and n is a, to") % "go and m is a")
    ways = play.ways("go")
    assert {m.taken for m in ways} == {frozenset({"r"}), frozenset({"q"})}
    play.follow(ways[0])
    assert play.may_pass(1)


def test_an_optional_rule_among_interleaved_machines() -> None:
    """An offered candidate may be the one; without at-once candidates also none."""
    play = Play(TURNS.replace("if: go, to", "may: yes, to") % "go")
    assert taken(play, offers=True) == {frozenset(), frozenset({"r"})}
    assert taken(play, "go", offers=True) == {frozenset({"r"}), frozenset({"q"})}


def test_one_input_at_a_time() -> None:
    """`inputs_change: one at a time` lets at most one input change in a reaction."""
    play = Play(spec(rules="- {id: r, from: a, if: pressed(go), to: b}", inputs_change="one at a time"))
    choices = set(play.reference.input_choices(play.state))
    assert len(choices) == 1 + len(play.system.inputs)
