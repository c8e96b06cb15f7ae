"""Lets these tests use the random systems and the oracle of `tests/agreement`."""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "agreement"))
