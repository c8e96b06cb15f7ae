"""Layers import downwards only. The imports are read from the source, so lazy ones count too."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

import prioritylogic

ROOT = Path(prioritylogic.__file__).parent
LAYERS = (
    "errors",
    "syntax",
    "model",
    "semantics",
    "requirements",
    "evidence",
    "engines",
    "render",
    "cli",
)
FACADE = {"__init__", "__main__", "api"}  # they join the layers; only cli and __main__ import them


def modules() -> list[Path]:
    return sorted(ROOT.rglob("*.py"))


def layer_of(path: Path) -> str:
    return path.relative_to(ROOT).parts[0].removesuffix(".py")


def imported(path: Path) -> set[str]:
    """The parts of the package that a module imports; "__init__" for the package itself."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path.name} imports relatively"
            names = [f"{node.module}.{alias.name}" for alias in node.names]
            found |= set(names) if node.module == "prioritylogic" else {node.module or ""}
    ours = [name.split(".") for name in found if name.split(".")[0] == "prioritylogic"]
    return {parts[1] if len(parts) > 1 else "__init__" for parts in ours}


@pytest.mark.parametrize("path", modules(), ids=lambda path: str(path.relative_to(ROOT)))
def test_imports_go_down(path: Path) -> None:
    here = layer_of(path)
    if here in FACADE:
        return
    below = set(LAYERS[: LAYERS.index(here) + 1]) | (FACADE if here == "cli" else set())
    assert imported(path) <= below, f"{here} imports from above itself"


def test_every_folder_is_a_layer() -> None:
    assert {layer_of(path) for path in modules()} - FACADE <= set(LAYERS)


def test_reference_shares_no_code_with_the_engines() -> None:
    for name in ("reference", "reading", "state", "judgement"):
        assert imported(ROOT / "semantics" / f"{name}.py") <= {"errors", "model", "semantics"}
