"""The pictures that the documentation shows are those that are drawn today.

Layout programs differ in places and curves, so what is compared is what is written in them. Draw them
anew where `dot` is not installed, so that graphviz-pure does it:

    prioritylogic draw specs/drafts/ferry_helm_mistake.yaml --only HELM-3 --to docs
    prioritylogic draw specs/ferry_helm.yaml --to docs
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from prioritylogic.cli.main import run

ROOT = Path(__file__).parents[2]
DRAWN = {
    "ferry_helm_mistake-HELM-3-path": ["specs/drafts/ferry_helm_mistake.yaml", "--only", "HELM-3"],
    "ferry_helm_mistake-HELM-3-times": ["specs/drafts/ferry_helm_mistake.yaml", "--only", "HELM-3"],
    "ferry_helm-machines": ["specs/ferry_helm.yaml"],
}


def said(path: Path) -> list[str]:
    names = ("title", "desc", "text")
    found = ET.parse(path).iter()
    return sorted("".join(e.itertext()) for e in found if e.tag.rpartition("}")[2] in names)


@pytest.mark.parametrize("name", DRAWN)
def test_a_picture_of_the_documentation_is_of_today(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(ROOT)
    assert run(["draw", *DRAWN[name], "--to", str(tmp_path)]) == 0
    assert said(ROOT / "docs" / f"{name}.svg") == said(tmp_path / f"{name}.svg")


def test_every_picture_of_the_documentation_is_tested() -> None:
    assert {path.stem for path in (ROOT / "docs").glob("*.svg")} == set(DRAWN)
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    assert all(f"docs/{name}.svg" in readme for name in DRAWN)
