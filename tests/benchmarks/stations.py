"""How long proofs take for two, four and eight stations, beside counting states.

Run by hand: `python tests/benchmarks/stations.py`. Each requirement of specs/stations.yaml is asked of
the reachability engine, member by member; of each family the slowest member is shown. The goal is that
every invariant is proved within 10 s. The explorer is then asked the same question, with a budget.

Seconds are of processor time (both solvers run inside this process on one core), so that whatever
else a machine does changes little. They are split as the work is:

    build     the spec and the requirement as terms
    find      Z3 looks for an invariant, or finds that there is none
    thin      facts that are not needed are left out, and facts alike are put together
    second    the facts are written down, read back, and proved by cvc5
    run       where there is no invariant: the shortest run is found, replayed and made simple
    explorer  the same question by counting states; "-" where that is over its budget
    ratio     explorer to all the rest
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from itertools import groupby
from pathlib import Path
from typing import TypeVar

import prioritylogic
from prioritylogic.engines.deciding import MUCH, Deciding
from prioritylogic.engines.lemmas import Lemmas
from prioritylogic.engines.limits import Limits, rare_collection
from prioritylogic.engines.merging import merged
from prioritylogic.engines.obligations import discharged, obligations
from prioritylogic.engines.part import Options
from prioritylogic.engines.proving import Reaching
from prioritylogic.engines.reach import invariant
from prioritylogic.engines.thinning import thinned
from prioritylogic.evidence.words import counted
from prioritylogic.model.system import Requirement, System
from prioritylogic.requirements.observer import observer

SPEC = Path(__file__).resolve().parents[2] / "specs" / "stations.yaml"
T = TypeVar("T")
COLUMNS = ("build", "find", "thin", "second", "run")


def stations(count: int) -> System:
    """The spec for so many stations; only the group changes."""
    members = ", ".join(f"s{number}" for number in range(1, count + 1))
    text = SPEC.read_text(encoding="utf-8")
    return prioritylogic.load(text.replace("\n  station: [s1, s2]\n", f"\n  station: [{members}]\n"))


@dataclass
class Row:
    """One requirement, asked once."""

    name: str
    outcome: str = ""
    seconds: dict[str, float] = field(default_factory=lambda: dict.fromkeys(COLUMNS, 0.0))

    @property
    def total(self) -> float:
        """All but the explorer's."""
        return sum(self.seconds.values())


def proved(system: System, requirement: Requirement) -> Row:
    """A requirement's proof, step by step as `Reaching.seek` takes them, or the run that breaks it."""
    limits, watching = Limits(), observer(requirement)
    assert watching is not None
    row = Row(requirement.id + "".join(f"[{member}]" for _, member in requirement.member))

    def timed(column: str, work: Callable[[], T]) -> T:
        began = time.process_time()
        done = work()
        row.seconds[column] += time.process_time() - began
        return done

    engine = Reaching(system, [requirement], {0: watching}, limits, Options())
    transition = timed("build", lambda: engine.transition(0, False))
    facts = timed("find", lambda: invariant(transition, MUCH, limits))
    if facts is None:
        searching = Deciding(system, [requirement], limits, Options(engines=("bounded search",)))
        found = timed("run", lambda: searching.decide(0))
        assert found.trace is not None
        row.outcome = f"{found.verdict}: a run of {counted(found.trace.steps, 'reaction')}"
        return row
    kept = timed("thin", lambda: merged(transition, thinned(transition, facts, limits)))
    lemmas = Lemmas(transition)

    def second_opinion() -> bool:
        read = [lemmas.read(lemmas.written(fact)) for fact in kept]
        left = [o for o in obligations(transition, read) if not discharged(o, limits)]
        return not left

    second = timed("second", second_opinion)
    proof = f"holds by {counted(len(kept), 'fact')}" if kept else "holds, no fact needed"
    row.outcome = proof if second else f"{proof}, not cvc5"
    return row


def explored(system: System, requirement: Requirement, budget: float) -> float | None:
    """The explorer's seconds for one requirement; None where they are more than the budget."""
    began = time.process_time()
    limits = Limits(seconds=budget)
    found = Deciding(system, [requirement], limits, Options(engines=("explorer",))).decide(0)
    return None if found.verdict == "undecided" else time.process_time() - began


def line(name: str, outcome: str, *figures: str) -> str:
    """One line of the table."""
    return f"{name:15}{outcome:28}" + "".join(f"{figure:>9}" for figure in figures)


def table(count: int, budget: float) -> None:
    """Prints the table for so many stations."""
    system = stations(count)
    print(f"\n{count} stations")
    print(line("requirement", "outcome", *COLUMNS, "total", "explorer", "ratio"))
    # All proofs come first: what the explorer leaves in memory would slow them down.
    asked = [(proved(system, requirement), requirement) for requirement in system.requirements]
    families = groupby(asked, key=lambda pair: pair[1].id)
    shown = [max(family, key=lambda pair: pair[0].total) for _, family in families]
    both: list[tuple[float, float]] = []
    for row, requirement in shown:
        counting = explored(system, requirement, budget)
        compared = ["-", "-"]
        if counting is not None:
            both.append((counting, row.total))
            compared = [f"{counting:.2f}", f"{counting / row.total:.1f}"]
        seconds = [f"{figure:.2f}" for figure in (*row.seconds.values(), row.total)]
        print(line(row.name, row.outcome, *seconds, *compared), flush=True)
    rows = [row for row, _ in asked]
    sums = [sum(row.seconds[column] for row in rows) for column in COLUMNS]
    print(line("all members", f"{len(rows)} questions", *(f"{part:.2f}" for part in (*sums, sum(sums)))))
    print(f"slowest: {max(row.total for row in rows):.2f} s; the goal is 10 s")
    within = f"explorer within its budget: {len(both)} of {len(shown)} shown"
    if both:
        counting, proving = map(sum, zip(*both, strict=True))
        within += f", in {counting / proving:.1f} times the seconds of their proofs"
    print(within)


def main() -> None:
    """Prints the tables."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--stations", type=int, nargs="+", default=[2, 4, 8])
    parser.add_argument(
        "--budget", type=float, default=10.0, help="the explorer's seconds, each time (of wall time)"
    )
    given = parser.parse_args()
    for count in given.stations:
        with rare_collection():  # as in `check`
            table(count, given.budget)


if __name__ == "__main__":
    main()
