"""Fischer's timed exclusion: the twelve verdicts, for two processes and for three.

Source: Lamport 1987; Lynch 1996, 24.2 (see `specs/gallery/fischer.yaml`), both from memory. The table is worked
out here as well, by plain enumeration of clock regions (Alur and Dill 1994, "A theory of timed automata"),
with a process written from the published listing. It shares nothing with the package, and reads the check
as one step where the spec has two. Whole ticks are wrong for a strict bound beside one of the same size.
"""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from places import file_of
from textbook import Configuration, Program, reach

import prioritylogic

SPEC = file_of("fischer").read_text(encoding="utf-8")
NAMES = ("first", "second", "third")

# How long a write may take, how long a process waits, and whether exclusion holds when the first figure is
# less than the second, as great, and greater.
TABLE = {
    ("at most", "at least"): (True, False, False),
    ("under", "at least"): (True, True, False),
    ("at most", "over"): (True, True, False),
    ("under", "over"): (True, True, False),
}
FIGURES = ((1, 2), (2, 2), (2, 1))
TWELVE = [
    pytest.param(write, a, wait, b, safe, id=f"{write} {a} s, {wait} {b} s".replace(" ", "_"))
    for (write, wait), row in TABLE.items()
    for (a, b), safe in zip(FIGURES, row, strict=True)
]
every_variant = pytest.mark.parametrize(("write", "a", "wait", "b", "safe"), TWELVE)
two_and_three = pytest.mark.parametrize("processes", [2, 3])

# A clock is its whole seconds and the rank of its fraction among all fractions, 0 for none. It runs from
# a test to a write and from a write to a check, and is None besides, and once it is past all figures.
Clock = tuple[int, int] | None


def passed(clocks: tuple[Clock, ...], figures: tuple[int, int]) -> tuple[Clock, ...]:
    """The next region: clocks on a whole second leave it, else the greatest fractions reach one."""
    ranks = [rank for _, rank in filter(None, clocks)]

    def later(whole: int, rank: int) -> Clock:
        if 0 in ranks:
            return whole, rank + 1
        return (whole + 1, 0) if rank == max(ranks) else (whole, rank)

    moved = [clock and later(*clock) for clock in clocks]
    return tuple(clock if clock and clock <= (max(figures), 0) else None for clock in moved)


def ranked(clocks: list[Clock]) -> tuple[Clock, ...]:
    """The same region with ranks that have no gaps."""
    fractions = [0, *sorted({rank for _, rank in filter(None, clocks)} - {0})]
    return tuple(clock and (clock[0], fractions.index(clock[1])) for clock in clocks)


def fischer(write: str, a: int, wait: str, b: int) -> Program:
    """The listing: (places, turn, clocks) to what comes next. Turn 0 is free, else one more than whose."""

    def may_write(clock: Clock) -> bool:
        return clock is not None and (clock < (a, 0) if write == "under" else clock <= (a, 0))

    def may_check(clock: Clock) -> bool:
        return clock is None or (clock > (b, 0) if wait == "over" else clock >= (b, 0))

    def steps(now: Configuration) -> Iterator[Configuration]:
        places, turn, clocks = now
        later = passed(clocks, (a, b))
        if all(place != "set" or may_write(clock) for place, clock in zip(places, later, strict=True)):
            yield places, turn, ranked([*later])
        for i, (place, clock) in enumerate(zip(places, clocks, strict=True)):

            def step(to: str, turn: int, starts: Clock = None, i: int = i) -> Configuration:
                begun = ranked([*clocks[:i], starts, *clocks[i + 1 :]])
                return (*places[:i], to, *places[i + 1 :]), turn, begun

            match place:
                case "test" if turn == 0:
                    yield step("set", turn, (0, 0))
                case "set" if may_write(clock):
                    yield step("check", i + 1, (0, 0))
                case "check" if may_check(clock):
                    yield step("critical" if turn == i + 1 else "test", turn)
                case "critical":
                    yield step("test", 0)

    return steps


@two_and_three
@every_variant
def test_the_listing_has_the_published_verdict(
    write: str, a: int, wait: str, b: int, safe: bool, processes: int
) -> None:
    start = (("test",) * processes, 0, (None,) * processes)
    reached = reach(fischer(write, a, wait, b), start)
    assert safe == all(places.count("critical") <= 1 for places, _, _ in reached)


@every_variant
def test_the_spec_has_the_published_verdict(write: str, a: int, wait: str, b: int, safe: bool) -> None:
    verdicts = said(write, a, wait, b, NAMES[:2], ["EXCLUSION", "ENTRY"])
    assert verdicts == {"EXCLUSION": "holds" if safe else "fails", "ENTRY": "holds"}


@pytest.mark.parametrize(("write", "wait"), TABLE)
def test_three_processes_with_equal_figures(write: str, wait: str) -> None:
    """Where the kind of bound decides."""
    safe = TABLE[write, wait][FIGURES.index((2, 2))]
    assert said(write, 2, wait, 2, NAMES, ["EXCLUSION"]) == {"EXCLUSION": "holds" if safe else "fails"}


def said(
    write: str, a: int, wait: str, b: int, names: tuple[str, ...], only: list[str]
) -> dict[str, str]:
    """The verdict on each requirement, which is the same for every process."""
    text = SPEC.replace("at most 1 s", f"{write} {a} s").replace("at least 2 s", f"{wait} {b} s")
    text = text.replace(", ".join(NAMES[:2]), ", ".join(names))
    answers = prioritylogic.check(prioritylogic.load(text), only=only).requirements
    verdicts = {(answer.id, answer.verdict) for answer in answers}
    assert len(verdicts) == len(only)
    return dict(verdicts)
