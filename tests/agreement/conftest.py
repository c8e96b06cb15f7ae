"""What the tests of this folder share."""

from __future__ import annotations

import os
from pathlib import Path

import pytest


@pytest.fixture
def counted(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder that all processes of this test run share: what each stretch was like."""
    base = tmp_path_factory.getbasetemp()
    folder = (base.parent if "PYTEST_XDIST_WORKER" in os.environ else base) / "stretches"
    folder.mkdir(exist_ok=True)
    return folder
