"""As many random systems as wanted through every engine that applies, in one run, against the oracle:

    python tests/agreement/many.py 50000

Six in ten are those of `test_agreement.py` (other seeds), two have a machine for each member of a group,
one has strict bounds, one has requirements with timed conditions of their own. Of each system the
whole check is held against the oracle, and every prover by itself on two of its requirements. Prints
what was seen and every difference with its system, made small. Exit code 1 where something differs.
"""

from __future__ import annotations

import argparse
import itertools
import os
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parents[1])]

from compare import (  # noqa: E402
    Case,
    case_of,
    checked_differences,
    count_differences,
    kind_counts,
    report,
    verdict_differences,
)
from families import Families  # noqa: E402
from finer import LONGEST, Strict, Timely, fine_case  # noqa: E402
from proving import Answered, proved_differences  # noqa: E402
from systems import Maker  # noqa: E402

from prioritylogic.engines import recheck  # noqa: E402
from prioritylogic.engines.check import check  # noqa: E402
from prioritylogic.engines.limits import Limits  # noqa: E402
from prioritylogic.engines.part import Options, has_strict_bounds  # noqa: E402

KINDS = (Maker, Maker, Maker, Families, Strict, Maker, Maker, Maker, Families, Timely)
FINE = (Strict, Timely)
CHUNK = 20  # systems for a process at a time
ASKED = 2  # requirements of each system that each prover is asked about by itself
FIRST = 500_000_000  # seed; those of the tests are below


def main() -> int:
    """Runs it."""
    asked = argparse.ArgumentParser(description=__doc__.partition(":")[0])
    asked.add_argument("systems", type=int, nargs="?", default=5_000)
    asked.add_argument("--first", type=int, default=0, help="begin with this chunk of seeds")
    asked.add_argument("--workers", type=int, default=os.cpu_count())
    options = asked.parse_args()
    chunks = range(options.first, options.first + -(-options.systems // CHUNK))
    seen: Counter[str] = Counter()
    begun, wrong = time.monotonic(), 0
    with ProcessPoolExecutor(options.workers) as pool:
        for counts, reports in pool.map(chunk, chunks):
            seen += counts
            wrong += len(reports)
            for text in reports:
                print(text, flush=True)
            if sys.stderr.isatty():
                print(f"\r{seen['systems']} systems, {wrong} differ", end="", file=sys.stderr)
    minutes = (time.monotonic() - begun) / 60
    print(f"{seen.pop('systems')} systems in {minutes:.0f} min, {wrong} with a difference")
    for what, count in sorted(seen.items()):
        print(f"{count:9}  {what}")
    return 1 if wrong else 0


def chunk(number: int) -> tuple[Counter[str], list[str]]:
    """So many systems; what they were like, and a report on each with a difference."""
    recheck.FULL = 150  # the oracle is the better second opinion here
    seen: Counter[str] = Counter()
    reports = []
    for kind, case in itertools.islice(usable(FIRST + number * 100_000), CHUNK):
        seen[f"kind: {kind.__name__}"] += 1
        seen += kind_counts(case)
        differ = differences_of(kind)
        if differ(case, seen):
            reports.append(f"{kind.__name__} {report_of(kind, case)}")
    return seen, reports


def usable(first: int) -> Iterator[tuple[type[Maker], Case]]:
    """The usable systems from a seed on, each with its kind."""
    for seed in itertools.count(first):
        kind = KINDS[seed % len(KINDS)]
        case = (fine_case if kind in FINE else case_of)(kind(seed).spec(), seed)
        if case is None or (has_strict_bounds(case.system) and kind not in FINE):
            continue  # quarters of a tick are too coarse for several strict bounds in a row
        if kind not in FINE or case.graph.states:
            yield kind, case


def differences_of(kind: type[Maker]) -> Callable[[Case, Counter[str]], list[str]]:
    """What looks for differences in systems of a kind."""
    return fine_differences if kind in FINE else plain_differences


def plain_differences(case: Case, seen: Counter[str]) -> list[str]:
    """Everything that `check` says, the counts, and the provers by themselves."""
    one = Answered.by(case)
    return [*checked_differences(case), *count_differences(case), *proved(one, seen)]


def fine_differences(case: Case, seen: Counter[str]) -> list[str]:
    """The explorer on region clocks, and the provers; what is longer than the finer grid surely finds is
    left to the replay."""
    try:
        result = check(case.system, (), Limits(states=30_000), Options(engines=("explorer",)))
    except Exception as error:  # whatever it is, it is the finding
        return [f"check raises {type(error).__name__}: {error}"]
    seen.update(f"on region clocks: {answer.verdict}" for answer in result.requirements)
    found = [text for text in verdict_differences(case, result) if "takes more than" not in text]
    return [*found, *proved(Answered.by(case, LONGEST), seen)]


def proved(one: Answered, seen: Counter[str]) -> list[str]:
    """Where the provers differ from the oracle."""
    listed = one.system.requirements
    asked = {listed[(one.seed + n) % len(listed)].id for n in range(min(ASKED, len(listed)))}
    counts: Counter[str] = Counter()
    found = [d for r in listed if r.id in asked for d in proved_differences(one, r, counts)]
    seen.update({f"proving: {what}": count for what, count in counts.items()})
    return found


def report_of(kind: type[Maker], case: Case) -> str:
    """The differences, and the smallest spec that still has some of their kind."""
    if kind in FINE:
        return f"seed {case.seed}: {fine_differences(case, Counter())}"
    return report(case, lambda smaller: plain_differences(smaller, Counter()))


if __name__ == "__main__":
    sys.exit(main())
