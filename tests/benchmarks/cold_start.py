"""How long a cold `check` of the flagship takes, beside the imports that it cannot do without.

Run by hand: `python tests/benchmarks/cold_start.py`. Both commands are started afresh, in turn, and
the ratio is taken pair by pair, so that a machine whose speed drifts still gives a fair figure. The
goal is a ratio of at most 5.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
CHECK = [sys.executable, "-m", "prioritylogic", "check", str(ROOT / "specs" / "ferry_helm.yaml")]
IMPORTS = [sys.executable, "-c", "import z3, networkx"]
PAIRS = 7


def seconds(command: list[str]) -> float:
    """The wall time of one run of a command."""
    # As for a user: Python keeps the compiled modules, of this package as of the imported ones.
    environment = {
        name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"
    }
    began = time.perf_counter()
    subprocess.run(command, check=True, cwd=ROOT, stdout=subprocess.DEVNULL, env=environment)
    return time.perf_counter() - began


def main() -> None:
    """Prints the table."""
    seconds(IMPORTS)
    seconds(CHECK)  # once each, for the file cache
    pairs = [(seconds(CHECK), seconds(IMPORTS)) for _ in range(PAIRS)]
    rows = {
        "check specs/ferry_helm.yaml, s": [check for check, _ in pairs],
        "import z3, networkx, s": [imports for _, imports in pairs],
        "ratio": [check / imports for check, imports in pairs],
    }
    print(f"{'':34}{'least':>8}{'median':>8}{'most':>8}")
    for name, figures in rows.items():
        print(f"{name:34}{min(figures):8.2f}{statistics.median(figures):8.2f}{max(figures):8.2f}")


if __name__ == "__main__":
    main()
