"""Published mutual-exclusion programs: verdicts, shortest failures and counts.

Each program stands here twice: as a spec in `specs/`, and as a few lines of Python written from the
published listing (sources in the specs' first lines and beside each function below). A count depends
on where steps are split, so the published number is compared with both.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import pytest
from places import file_of
from textbook import Configuration, Program, reach, stuck

import prioritylogic


def peterson_one_step(now: Configuration) -> Iterator[Configuration]:
    """Peterson 1981 as in Baier and Katoen 2008, ex. 2.25: <b := true; x := other> is one step."""
    *at, turn = now
    for i in (0, 1):
        if at[i] == "n":
            yield *moved(at, i, "w"), 1 - i
        elif at[i] == "w" and (at[1 - i] == "n" or turn == i):
            yield *moved(at, i, "c"), turn
        elif at[i] == "c":
            yield *moved(at, i, "n"), turn


def peterson_lines(first: str, second: str) -> Program:
    """Peterson 1981 with its two writes as two steps, in this order; the flags are variables."""

    def program(now: Configuration) -> Iterator[Configuration]:
        *at, turn = now
        for i in (0, 1):
            # What is up at a line follows from the line: line 0 rests, 1 between the writes, 2 waits.
            up = ("flag" in (first, second)[: int(str(at[1 - i]))]) if at[1 - i] != 3 else True
            match at[i]:
                case 0 | 1 as line:
                    write = (first, second)[line]
                    yield *moved(at, i, line + 1), 1 - i if write == "turn" else turn
                case 2 if not up or turn == i:
                    yield *moved(at, i, 3), turn
                case 3:
                    yield *moved(at, i, 0), turn

    return program


def huth_ryan_first(now: Configuration) -> Iterator[Configuration]:
    """Huth and Ryan 2004, 3.3, the first model."""
    for i in (0, 1):
        if now[i] == "n":
            yield moved(now, i, "t")
        elif now[i] == "t" and now[1 - i] != "c":
            yield moved(now, i, "c")
        elif now[i] == "c":
            yield moved(now, i, "n")


def huth_ryan_second(now: Configuration) -> Iterator[Configuration]:
    """Huth and Ryan 2004, 3.3, the second model: the nine states and arrows as drawn."""
    arrows = {
        "nn": ("tn", "nt"),
        "tn": ("cn", "tt first"),
        "nt": ("nc", "tt second"),
        "tt first": ("ct",),
        "tt second": ("tc",),
        "cn": ("nn", "ct"),
        "nc": ("nn", "tc"),
        "ct": ("nt",),
        "tc": ("tn",),
    }
    yield from ((after,) for after in arrows[str(now[0])])


def hyman(now: Configuration) -> Iterator[Configuration]:
    """Hyman, CACM 9(1), 1966, p. 45. The lines are C0, C1, C2, the write of k, the critical section."""
    *at, k = now
    for i in (0, 1):
        match at[i]:
            case "C0":
                yield *moved(at, i, "C1"), k
            case "C1":
                yield *moved(at, i, "critical" if k == i else "C2"), k
            case "C2" if at[1 - i] == "C0":  # b(other) is true only there
                yield *moved(at, i, "k := i"), k
            case "k := i":
                yield *moved(at, i, "C1"), i
            case "critical":
                yield *moved(at, i, "C0"), k


def semaphore(now: Configuration) -> Iterator[Configuration]:
    """Baier and Katoen 2008, ex. 2.24: y is 1 while nobody is in."""
    *at, y = now
    for i in (0, 1):
        if at[i] == "n":
            yield *moved(at, i, "w"), y
        elif at[i] == "w" and y == 1:
            yield *moved(at, i, "c"), 0
        elif at[i] == "c":
            yield *moved(at, i, "n"), 1


def ben_ari(lines: tuple[str, ...]) -> Program:
    """Ben-Ari 2006, ch. 3: the second and the third attempt differ in the order of two lines."""
    raised = lines.index("raise")

    def program(now: Configuration) -> Iterator[Configuration]:
        for i in (0, 1):
            here, there = int(str(now[i])), int(str(now[1 - i]))
            if lines[here] != "await" or there <= raised:
                yield moved(now, i, (here + 1) % len(lines))

    return program


def moved(now: Configuration | list[object], i: int, to: object) -> Configuration:
    """The configuration with process i at another place."""
    return tuple(to if n == i else at for n, at in enumerate(now))


SECOND = ("rest", "await", "raise", "critical", "lower")
THIRD = ("rest", "raise", "await", "critical", "lower")


@dataclass(frozen=True)
class Published:
    """One program: the spec, the listing, where it starts, what "critical" is, the names counted over,
    the published count (None: none is), and the steps to the shortest failure (None: none)."""

    spec: str
    program: Program
    start: Configuration
    critical: object
    over: tuple[str, ...]
    count: int | None
    fails_in: int | None = None


BOTH = ("p[first]", "p[second]")
LINES = ("line[p]", "line[q]")
TABLE = (
    Published("peterson_one_step", peterson_one_step, ("n", "n", 0), "c", (*BOTH, "turn"), 10),
    Published(
        "peterson_separate_writes", peterson_lines("flag", "turn"), (0, 0, 0), 3, (*BOTH, "turn"), 20
    ),
    Published(
        "peterson_swapped_writes", peterson_lines("turn", "flag"), (0, 0, 0), 3, (*BOTH, "turn"), None, 6
    ),
    Published("huth_ryan_first", huth_ryan_first, ("n", "n"), "c", BOTH, 8),
    Published("huth_ryan_second", huth_ryan_second, ("nn",), "c", (*BOTH, "ahead"), 9),
    Published("hyman", hyman, ("C0", "C0", 0), "critical", (*BOTH, "k"), None, 7),
    Published("semaphore", semaphore, ("n", "n", 1), "c", (*BOTH, "tokens"), 8),
    Published("ben_ari_second", ben_ari(SECOND), (0, 0), 3, LINES, 25, 6),
    Published("ben_ari_third", ben_ari(THIRD), (0, 0), 3, LINES, 21),
)
every_program = pytest.mark.parametrize("published", TABLE, ids=lambda p: p.spec)


@every_program
def test_the_listing_gives_the_published_figures(published: Published) -> None:
    reached = reach(published.program, published.start)
    both = [steps for now, steps in reached.items() if now.count(published.critical) == 2]
    assert published.count in (None, len(reached))
    assert min(both, default=None) == published.fails_in


@every_program
def test_the_spec_reaches_as_many_configurations(published: Published) -> None:
    system = prioritylogic.load(file_of(published.spec))
    found = prioritylogic.explore(system, over=published.over)
    assert found.counts.states == len(reach(published.program, published.start))


@every_program
def test_the_spec_has_the_published_verdicts(published: Published) -> None:
    result = prioritylogic.check(prioritylogic.load(file_of(published.spec)))
    assert result.exit_code == 0
    assert [a.id for a in result.requirements if not a.as_expected] == []
    exclusion = result.requirements[0]
    assert exclusion.verdict == ("holds" if published.fails_in is None else "fails")
    if published.fails_in is not None:
        assert exclusion.trace is not None
        # A process step is a reaction with a rule taken; the reaction at time 0 may be one of them.
        taken = [moment for moment in exclusion.trace.run.moments if moment.taken]
        assert len(taken) == published.fails_in


def test_one_configuration_of_the_third_attempt_is_stuck() -> None:
    """Ben-Ari 2006, ch. 3 (from memory): both wait for each other."""
    await_ = THIRD.index("await")
    assert stuck(ben_ari(THIRD), (0, 0)) == [(await_, await_)]
