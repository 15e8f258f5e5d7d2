"""`learn sheet` and `learn score`: sheets are written, results are typed in and counted."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from command_samples import run
from menu_samples import SMALL
from pypdf import PdfReader


def test_sheets_and_their_keys_are_written_and_told(
    kiosk: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ran = run(capsys, "learn", "sheet", "--count", "2", "--seed", "7", "--format", "json")
    assert ran.code == 0
    names = ["all-level-1-seed-7.pdf", "all-level-1-seed-7-key.pdf"]
    assert ran.result["files"] == [f"S26/learn/en-{name}" for name in names]
    codes = ran.result["sheets"]
    assert [code.split(".")[:5] for code in codes] == [
        ["en", "all", "1", "7", "1"],
        ["en", "all", "1", "7", "2"],
    ]
    for name in ran.result["files"]:
        pdf = (kiosk / "out" / name).read_bytes()
        text = " ".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages)
        assert all(code in text for code in codes)


def test_the_next_sheets_of_a_series_are_others_and_end(
    kiosk: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    seen: list[str] = []
    for first in (1, 2):
        run(capsys, "learn", "sheet", "--level", "2", "--first", str(first))
        path = kiosk / "out/S26/learn/en-all-level-2-seed-1.pdf"
        seen.append(" ".join(page.extract_text() for page in PdfReader(path).pages))
    assert seen[0] != seen[1]
    run(capsys, "learn", "sheet", "--level", "2", "--first", "500")
    assert "asked on earlier sheets" in PdfReader(path).pages[0].extract_text()


def test_what_was_missed_most_is_told_first(
    kiosk: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Three hires, one sheet: all of them miss the second question, one the whole of the first."""
    (code,) = run(capsys, "learn", "sheet", "--format", "json").result["sheets"]
    text = PdfReader(kiosk / "out/S26/learn/en-all-level-1-seed-1.pdf").pages[0].extract_text()
    words = [word for word in text.split() if len(word) == 5 and word != "DRAFT"]
    ids = [word for word in words if word.isupper() and word.isalnum()]
    first, second = ids[:2]
    rows = [f"{code},{second} {first}", f"{code},{second}", f"{code.lower()},{second}", "x,y"]
    (kiosk / "results.csv").write_text("\n".join(["sheet,missed", *rows]), "utf-8")
    ran = run(capsys, "learn", "score", "results.csv", "--format", "json")
    assert (ran.code, ran.result["sheets_counted"]) == (0, 3)
    missed = ran.result["missed"]
    assert (missed[0]["missed"], missed[0]["asked"], missed[0]["missed_share"]) == (3, 3, 1.0)
    assert {one["missed"] for one in missed[1:]} == {1}
    assert [one["code"] for one in ran.data["findings"]] == ["LEARN01"]
    told = run(capsys, "learn", "score", "results.csv").out
    assert "results.csv:5" in told
    assert "3 sheets counted" in told
    assert " 100%  " in told


def test_a_sheet_of_an_older_menu_is_a_finding(
    kiosk: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (code,) = run(capsys, "learn", "sheet", "--format", "json").result["sheets"]
    (kiosk / "results.csv").write_text(f"sheet,missed\n{code},\n", "utf-8")
    menu = kiosk / "menu" / "menu.yaml"
    menu.write_text(SMALL.replace("{add: strong, amount: 200 ml", "{add: strong, amount: 190 ml"))
    ran = run(capsys, "learn", "score", "results.csv")
    assert ran.code == 1
    assert "LEARN01" in ran.out
    assert "the menu as it is now" in ran.out
    assert "0 sheets counted" in ran.out


def test_what_is_not_asked_is_listed_with_the_reason(
    kiosk: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Two steps that read alike cannot be put in order."""
    menu = kiosk / "menu" / "menu.yaml"
    stir = "      - {do: stir, for: 5 s}\n"
    menu.write_text(SMALL.replace(stir, stir + "      - {do: rest, for: 5 s}\n" + stir), "utf-8")
    ran = run(capsys, "learn", "sheet", "--removed")
    assert ran.code == 0, ran
    assert "two of its answers or steps read alike (1):" in ran.out
    assert "Cloud, Medium, usual order, steps" in ran.out


def test_what_is_learnt_of_a_menu_that_is_not_published_says_draft_as_its_cards_do(
    kiosk: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    kinds = {
        "sheet": ["en-all-level-1-seed-1", "en-all-level-1-seed-1-key"],
        "sheet --dry-runs": ["en-dry-runs-level-1-seed-1", "en-dry-runs-level-1-seed-1-key"],
        "pack": ["first-day-en"],
        "sign-off": ["sign-off-en"],
        "sign-off --since S26": ["brief-since-S26-en"],
    }

    def drafts(what: str) -> set[bool]:
        """Whether each of its pages says that it is one."""
        ran = run(capsys, "learn", *what.split())
        assert ran.code == 0, ran
        files = [PdfReader(kiosk / f"out/S26/learn/{name}.pdf") for name in kinds[what]]
        found = {"DRAFT" in page.extract_text() for file in files for page in file.pages}
        assert ("DRAFT stands across it" in ran.out) == (found == {True})
        return found

    for what in ("sheet", "sheet --dry-runs", "pack", "sign-off"):
        assert drafts(what) == {True}, what
    assert run(capsys, "publish").code == 0
    for what in ("sheet", "sign-off"):
        assert drafts(what) == {False}, what
    menu = kiosk / "menu" / "menu.yaml"
    menu.write_text(SMALL.replace("amount: 100 ml", "amount: 90 ml"), "utf-8")
    for what in ("sheet --dry-runs", "sign-off --since S26"):
        assert drafts(what) == {True}, what
