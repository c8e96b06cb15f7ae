"""How counts are said, in reasons and in reports alike."""

from __future__ import annotations


def counted(count: int, one: str, many: str = "") -> str:
    """A count with its noun.

    >>> counted(1, "rule"), counted(2, "story", "stories"), counted(12345, "state")
    ('1 rule', '2 stories', '12 345 states')
    """
    return f"{grouped(count)} {one if count == 1 else many or one + 's'}"


def grouped(count: int) -> str:
    """A whole number, from 10 000 on with a gap between thousands.

    >>> grouped(3605), grouped(45585)
    ('3605', '45 585')
    """
    return f"{count:,}".replace(",", " ") if count >= 10_000 else str(count)
