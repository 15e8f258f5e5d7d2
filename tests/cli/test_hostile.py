"""Words no shop would type go in; an answer in words comes out, never a crash of our own.

What is held here is promised in DEVELOPERS.md, "Threats".
"""

from __future__ import annotations

from pathlib import Path

import pytest

from buildsheets.cli.main import main

MENU = str(Path(__file__).parents[2] / "menu")


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["batch", "cane-syrup", "--factor", "1e26"], "at most 1e+12"),
        (["batch", "cane-syrup", "--factor", "nan"], "must be a finite number"),
        (["batch", "cane-syrup", "--stock", "white-sugar=1e308"], "at most 1e+12"),
        (["batch", "cane-syrup", "--portions", "small=" + "9" * 400], "from 1 to 1000000"),
        (["costs", "--what-if", "whole-milk=1e27"], "at most 1e+12"),
        (["costs", "--what-if", "whole-milk=nan"], "must be a finite number"),
        (["labels", "cooked-pearls", "--at", "0001-01-01T00:00+14:00"], "outside the calendar"),
        (["labels", "cooked-pearls", "--at", "9999-12-31T23:59"], "past the end of the calendar"),
        (["labels", "cooked-pearls=1000000"], "from 1 to 1000"),
        (["labels", "whole-milk", "--use-by", "9999-12-31"], "past the end of the calendar"),
        (["print", "--sheet", "A4", "--radius", "1e300"], "radius_mm 1e+300 is not a length"),
        (["print", "--sheet", "99999x99999"], "up to 2000 mm"),
        (["print", "--language", "builds.en"], "no cards in 'builds.en'"),
    ],
)
def test_what_no_shop_asks_for_is_refused_in_words(
    words: list[str], told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    named = [MENU] if words[0] in ("costs", "print") else ["--menu", MENU]
    assert main([*words, *named]) == 2
    assert told in capsys.readouterr().err


def test_a_code_of_five_thousand_letters_is_told_in_a_line(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["current", "B" * 5000, "--menu", MENU]) == 1
    told = capsys.readouterr().out
    assert "no such card was ever published" in told
    assert len(told) < 400


def test_escapes_that_were_typed_do_not_act_on_the_terminal(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["plan", "\x1b[31mred", "--menu", MENU]) == 2
    told = capsys.readouterr().err
    assert "<U+001B>[31mred" in told
    assert "\x1b" not in told


def test_compiled_files_that_a_full_disk_cut_off_are_told_with_the_cure(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def cut_off(path: Path) -> None:
        raise EOFError("marshal data too short")

    monkeypatch.setattr("buildsheets.pipeline.check", cut_off)
    assert main(["check", MENU]) == 2
    assert "delete the folders __pycache__" in capsys.readouterr().err


def test_escapes_in_the_name_of_a_file_do_not_act_either(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "file").write_text("no folder")
    out = str(tmp_path / "file" / "\x1b[31mred")
    assert main(["batch", "cane-syrup", "--format", "pdf", "--out", out, "--menu", MENU]) == 2
    told = capsys.readouterr().err
    assert "<U+001B>[31mred/" in told
    assert "Not a directory" in told
    assert "\x1b" not in told


def test_a_package_that_is_missing_is_named(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def gone(path: Path) -> None:
        raise ModuleNotFoundError("No module named 'yaml'", name="yaml")

    monkeypatch.setattr("buildsheets.pipeline.check", gone)
    assert main(["check", MENU]) == 2
    assert "the package yaml is missing" in capsys.readouterr().err
