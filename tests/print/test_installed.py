"""Fonts of the machine by the name of their family: Debian's Noto fonts stand for a shop's."""

from __future__ import annotations

from pathlib import Path

import pytest
from fontTools.ttLib import TTFont

from buildsheets.print.installed import installed


@pytest.mark.parametrize(
    ("family", "letter"),
    [("Noto Sans Arabic", "ش"), ("noto sans hebrew", "ש"), ("Noto Sans CJK JP", "茶")],
)
def test_a_family_has_a_regular_and_a_bold_face(family: str, letter: str) -> None:
    regular, bold = installed(family)
    assert (regular.bold, bold.bold) == (False, True)
    assert ord(letter) in regular.advances
    assert ord(letter) in bold.advances
    assert regular.path != bold.path


def test_of_a_collection_the_font_of_the_family_is_taken() -> None:
    """Han is drawn otherwise in Japan than in Korea: one file has a font for each."""
    for family in ("Noto Sans CJK JP", "Noto Sans CJK KR"):
        for face in installed(family):
            number = next(number for number in range(20) if _family(face.path, number) == family)
            assert face.advances == installed(family)[int(face.bold)].advances
            assert _family(face.path, number) == family


def _family(path: Path, number: int) -> str:
    with TTFont(path, lazy=True, fontNumber=number) as font:
        return str(font["name"].getBestFamilyName())


def test_a_family_that_is_not_there_has_no_faces(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert installed("Quillmarsh Sans") == ()


def test_damaged_font_files_are_passed_over(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "fonts").mkdir()
    (tmp_path / "fonts" / "Broken.ttf").write_bytes(b"no font")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    monkeypatch.setenv("XDG_DATA_DIRS", str(tmp_path))
    assert installed("Broken") == ()
