"""The on-delay, off-delay and pulse timers against their published timing diagrams.

Source: IEC 61131-3, standard function blocks; the diagrams are from memory. They draw intervals and
leave open what happens when the input changes at the very instant at which the preset time ends.
There the order of the two decides, and the tests at the end walk through each order.
"""

from __future__ import annotations

import itertools
from fractions import Fraction

import pytest
from places import file_of

import prioritylogic
from prioritylogic.model.system import System
from prioritylogic.semantics.reference import Reference
from prioritylogic.semantics.state import Moment

PRESET = Fraction(4)


@pytest.mark.parametrize("name", ["on_delay", "off_delay", "pulse"])
def test_requirements_and_stories_hold(name: str) -> None:
    result = prioritylogic.check(prioritylogic.load(file_of(name)))
    assert [a.id for a in (*result.requirements, *result.stories) if a.verdict != "holds"] == []
    assert result.exit_code == 0


class Bench:
    """One timer with its contact, driven reaction by reaction on the reference semantics."""

    def __init__(self, name: str) -> None:
        system: System = prioritylogic.load(file_of(name))
        self.reference = Reference(system)
        self.output = system.outputs[0].formula
        (self.moment,) = self.reference.starts((False,))

    def contact(self, shut: bool, *, expires: bool = False) -> bool:
        """One reaction that sets the contact; whether the output is up in it."""
        due = self.reference.due(self.moment.after)
        assert len(due) == 1 or not expires
        self.moment = only(
            self.reference.reactions(self.moment.after, (shut,), due if expires else frozenset())
        )
        return self.reference.true(self.output, self.reference.reaction_view(self.moment))

    def wait(self, time: Fraction) -> None:
        """Time passes, up to an expiry at most."""
        assert self.reference.may_pass(self.moment.after, time)
        state = self.reference.passed(self.moment.after, time)
        self.moment = Moment(self.moment.before, state)

    def at_rest(self) -> bool:
        """Whether the output is up between reactions."""
        return self.reference.true(self.output, self.reference.rest_view(self.moment.after))


def only(moments: object) -> Moment:
    """The one outcome: these timers leave nothing to chance."""
    (moment,) = moments  # type: ignore[misc]
    return moment


# Pulses of the input as (length of the gap before, length of the pulse), and the intervals in which
# the output is up, read off the definition of each timer, in plain arithmetic.
LENGTHS = [Fraction(n) for n in (1, 3, 5)] + [Fraction(7, 2)]
PULSES = [list(zip(p[::2], p[1::2], strict=True)) for p in itertools.product(LENGTHS, repeat=4)]


def diagram(name: str, pulses: list[tuple[Fraction, Fraction]]) -> list[tuple[Fraction, Fraction]]:
    """The output's intervals for a train of pulses; at one instant, an expiry comes first."""
    now, up = Fraction(0), []
    for gap, length in pulses:
        rise, fall = now + gap, now + gap + length
        match name:
            case "on_delay" if length > PRESET:
                up.append((rise + PRESET, fall))
            case "off_delay":
                start = up.pop()[0] if up and up[-1][1] > rise else rise
                up.append((start, fall + PRESET))
            case "pulse" if not up or up[-1][1] <= rise:
                up.append((rise, rise + PRESET))
        now = fall
    return up


@pytest.mark.parametrize("name", ["on_delay", "off_delay", "pulse"])
def test_the_output_follows_the_diagram(name: str) -> None:
    """Each train of two pulses, sampled every quarter second between the instants that matter."""
    step = Fraction(1, 4)
    for pulses in PULSES:
        expected = diagram(name, pulses)
        changes = set(itertools.accumulate(length for pair in pulses for length in pair))
        bench, now, shut = Bench(name), Fraction(0), False
        while now < 2 * max(changes):
            bench.wait(step)
            now += step
            if bench.reference.due(bench.moment.after):
                bench.contact(shut, expires=True)
            if now in changes:
                shut = not shut
                bench.contact(shut)
            boundary = any(now in interval for interval in expected)
            assert boundary or bench.at_rest() == any(a < now < b for a, b in expected), (pulses, now)


def test_on_delay_when_the_contact_opens_at_the_preset_time() -> None:
    """Open first, or together with the expiry: never up. Expiry first: up, for no time at all."""
    first, together, after = Bench("on_delay"), Bench("on_delay"), Bench("on_delay")
    for bench in (first, together, after):
        bench.contact(True)
        bench.wait(PRESET)
    assert not first.contact(False)
    assert not first.reference.due(first.moment.after)
    assert not together.contact(False, expires=True)
    assert after.contact(True, expires=True)
    assert not after.contact(False)


def test_on_delay_is_up_at_the_preset_time_and_not_before() -> None:
    bench = Bench("on_delay")
    bench.contact(True)
    bench.wait(PRESET)
    assert not bench.at_rest()
    assert not bench.reference.may_pass(bench.moment.after, Fraction(1, 1000))
    assert bench.contact(True, expires=True)
    assert bench.at_rest()


def test_off_delay_when_the_contact_shuts_at_the_preset_time() -> None:
    """Shut first, or together with the expiry: no gap. Expiry first: down, for no time at all."""
    first, together, after = Bench("off_delay"), Bench("off_delay"), Bench("off_delay")
    for bench in (first, together, after):
        bench.contact(True)
        assert bench.contact(False)
        bench.wait(PRESET)
        assert bench.at_rest()
    assert first.contact(True)
    assert not first.reference.due(first.moment.after)
    assert together.contact(True, expires=True)
    assert not after.contact(False, expires=True)
    assert after.contact(True)


def test_off_delay_is_down_at_the_preset_time_and_not_before() -> None:
    bench = Bench("off_delay")
    bench.contact(True)
    bench.contact(False)
    bench.wait(PRESET)
    assert bench.at_rest()
    assert not bench.reference.may_pass(bench.moment.after, Fraction(1, 1000))
    assert not bench.contact(False, expires=True)
    assert not bench.at_rest()
