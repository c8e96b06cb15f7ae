from __future__ import annotations

import pytest

from prioritylogic.render.layout import Ink, beside, fit, length, paragraph, wrap


@pytest.mark.parametrize("width", [30, 60, 80, 200])
def test_lines_keep_to_the_width(width: int) -> None:
    text = "take[fore] moves to -10 % and command has been held[fore] for 6 s since then. " * 4
    assert all(len(line) <= width for line in paragraph(text, width, 4, 2))


def test_a_number_is_not_parted_from_its_unit() -> None:
    for width in range(12, 40):
        for line in wrap("the lever moves to 60 % and after 6 s to 12 345 kPa", width):
            assert not line.endswith(("60", "6", "12", "345")), (width, line)


def test_a_member_is_not_parted_from_its_binder() -> None:
    for width in range(14, 40):
        lines = wrap("kept for the whole time (w = fore and aft)", width)
        assert any("(w = fore" in line for line in lines), (width, lines)


def test_a_long_name_is_broken_only_when_it_must_be() -> None:
    assert wrap("x" * 30, 10) == ["x" * 10] * 3


def test_a_long_label_stands_alone() -> None:
    assert beside("a-very-long-label", "text", 40, 10) == ["  a-very-long-label", " " * 10 + "text"]
    assert beside("label", "text", 40, 10) == ["  label   text"]


def test_ink_takes_no_room() -> None:
    assert length(Ink(True)("bad", "fails")) == 5
    assert Ink()("bad", "fails") == "fails"


def test_the_widest_column_gives_way() -> None:
    assert fit([10, 60, 60], 90) == [10, 40, 40]
    assert fit([20, 20], 10, least=14) == [14, 14]
