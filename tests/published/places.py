"""Where a published system is kept: in the gallery, if it is a lesson, else beside these tests."""

from __future__ import annotations

from pathlib import Path

HERE = Path(__file__).parent / "specs"
GALLERY = Path(__file__).parents[2] / "specs" / "gallery"
LESSONS = (
    "ben_ari_second",
    "ben_ari_third",
    "drive_states",
    "fischer",
    "hyman",
    "peterson_separate_writes",
    "peterson_swapped_writes",
    "semaphore",
    "watch_alarm",
)


def file_of(name: str) -> Path:
    """The file of a spec."""
    return (GALLERY if name in LESSONS else HERE) / f"{name}.yaml"
