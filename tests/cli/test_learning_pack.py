"""`learn pack` and `learn sign-off` as they are typed: files, refusals, what programs read."""

from __future__ import annotations

from pathlib import Path

import pypdf
import pytest
from command_samples import run
from menu_samples import SMALL, swapped

IN_TWO = swapped(SMALL, "languages: [en]", "languages: [en, de]")


@pytest.fixture
def kiosk(kiosk: Path) -> Path:
    (kiosk / "menu" / "menu.yaml").write_text(IN_TWO, "utf-8")
    return kiosk


@pytest.mark.slow
def test_a_pack_is_one_pdf_in_the_language_asked_for(
    kiosk: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ran = run(capsys, "learn", "pack", "--language", "de", "--out", "prints", "--format", "json")
    assert ran.code == 0, ran
    assert ran.result == {
        "files": ["S26/learn/first-day-de.pdf"],
        "pages": ran.result["pages"],
        "brief_by_station": {},
    }
    file = pypdf.PdfReader(kiosk / "prints" / "S26/learn/first-day-de.pdf")
    assert len(file.pages) == ran.result["pages"] > 5
    assert file.metadata is not None
    assert file.metadata.title == "Erster Tag bei Corner kiosk"
    assert file.trailer["/Root"]["/Lang"] == "de"
    assert "Nie raten: fragen, bevor angefangen wird." in file.pages[0].extract_text()


@pytest.mark.slow
def test_what_to_brief_again_is_said_and_written(
    kiosk: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    menu = kiosk / "menu" / "menu.yaml"
    first = run(capsys, "learn", "sign-off", "--since", "S26")
    assert first.code == 2
    assert first.err == "no edition is published yet: there is nothing to compare with\n"
    assert run(capsys, "publish").code == 0
    same = run(capsys, "learn", "sign-off", "--since", "S26")
    assert same.code == 0
    assert "nothing changed at any station since S26: nobody to brief" in same.out
    assert not (kiosk / "out").exists()
    unknown = run(capsys, "learn", "sign-off", "--since", "S25")
    assert (unknown.code, "PUB07" in unknown.out) == (2, True)
    menu.write_text(swapped(IN_TWO, "amount: 100 ml", "amount: 90 ml"), "utf-8")
    later = run(capsys, "learn", "sign-off", "--since", "S26")
    assert later.code == 0, later
    assert "Brief again: what changed since S26 (Sample)" in later.out
    assert "Medium, Tall, Poured: Milk 90 ml, was 100" in later.out
    pages = pypdf.PdfReader("out/S26/learn/brief-since-S26-en.pdf").pages
    text = " ".join(page.extract_text() for page in pages).replace("\xa0", " ")
    assert "Milk 90 ml, was 100" in text
    told = run(capsys, "learn", "sign-off", "--since", "S26", "--format", "json").result
    assert told["brief_by_station"] == {
        "bar": {"Cloud": ["Medium, Tall, Poured: Milk 90 ml, was 100"]}
    }


def test_a_menu_with_an_error_is_not_taught(
    kiosk: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    wrong = swapped(IN_TWO, "amount: 200 ml", "amount: 600 ml")
    (kiosk / "menu" / "menu.yaml").write_text(wrong, "utf-8")
    for words in (["pack"], ["sign-off"], ["sign-off", "--since", "S26"]):
        ran = run(capsys, "learn", *words)
        assert (ran.code, "FIT01" in ran.out) == (1, True)
    assert not (kiosk / "out").exists()
