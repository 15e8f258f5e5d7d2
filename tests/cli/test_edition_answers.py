"""The commands on editions, as the command line calls them."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import date
from pathlib import Path

import pypdfium2
import pytest
from edition_samples import AUTUMN, STEPS, WINTER, build, codes_of, edition, station

from buildsheets.cli import edition_answers as commands
from buildsheets.cli.plain_data import told
from buildsheets.ledger import manifest
from buildsheets.ledger.publish import Issuer
from buildsheets.print.layouts import Layouts
from buildsheets.site.site import SoldOut

FIX = (STEPS[0], replace(STEPS[1], amount="140", line="to 270 ml"), *STEPS[2:])
ISSUER, LAYOUTS = Issuer(site="https://tea.example"), Layouts()
DAY = date(2026, 12, 5)


@pytest.fixture
def menu(tmp_path: Path) -> Path:
    """A menu's folder with two published editions."""
    first = commands.publish_edition([build(), station()], tmp_path, AUTUMN, ISSUER, "m1", "en")
    assert first.good
    second = commands.publish_edition(
        [build(steps=FIX, contains=("milk", "egg"))], tmp_path, WINTER, ISSUER, "m2", "en"
    )
    assert second.good
    return tmp_path


def test_publishing_tells_what_to_do(tmp_path: Path) -> None:
    first = commands.publish_edition([build()], tmp_path, AUTUMN, ISSUER, "m1", "en")
    assert first.text.startswith("Edition A26 is published: 1 cards, from Sep 1, 2026.")
    assert Path(told(first.data)["file"]).parent == tmp_path / "editions"
    answer = commands.publish_edition([build(steps=FIX)], tmp_path, WINTER, ISSUER, "m2", "en")
    assert "Black tea 140 ml, was 120" in answer.text
    assert "revision 2 for revision 1" in answer.text
    assert "print --changed" in answer.text
    assert "print --changed" not in first.text
    assert told(answer.data)["changes"]["take_down_by_station"]["Tea"][0]["revision"] == 1
    same = commands.publish_edition([build(steps=FIX)], tmp_path, WINTER, ISSUER, "m2", "en")
    assert same.good
    assert (same.text, codes_of(same.findings)) == ("", ["PUB05"])
    again = commands.publish_edition([build()], tmp_path, WINTER, ISSUER, "m3", "en")
    assert not again.good
    assert codes_of(again.findings) == ["PUB01"]


def test_compare_by_codes_in_text_data_and_on_paper(menu: Path) -> None:
    answer = commands.compare_editions(menu, "a26", "W26", "en", LAYOUTS, sheet=True)
    assert answer.good
    assert answer.text.index("now contains egg") < answer.text.index("Black tea 140 ml, was 120")
    assert told(answer.data)["from"] == "A26"
    pages = pypdfium2.PdfDocument(io.BytesIO(answer.files["changes.pdf"]))
    changes, wall_part = (page.get_textpage().get_text_range() for page in pages)
    assert "Black tea 140\u00a0ml, was 120" in changes  # the figure keeps its unit
    assert "take down" not in changes
    assert "revision 2 for revision 1" in wall_part.replace("\u00a0", " ")


@pytest.mark.parametrize("language", ["es", "fr", "de"])
def test_the_sheet_prints_in_every_language(menu: Path, language: str) -> None:
    answer = commands.compare_editions(menu, "A26", "W26", language, LAYOUTS, sheet=True)
    assert not answer.findings
    assert answer.files["changes.pdf"]


def test_a_sheet_with_a_letter_no_face_has_is_refused(menu: Path) -> None:
    plan, _ = commands.cards_for_print(
        [build(title="\u2603")], menu, edition("X", "2027-03-01", "2027-04-01"), ISSUER
    )
    answer = commands.compare_editions(menu, "W26", "menu", "en", LAYOUTS, plan, sheet=True)
    assert codes_of(answer.findings) == ["PUB06"]
    assert not answer.files


def test_the_menu_as_it_is_now_is_compared_too(menu: Path) -> None:
    plan, findings = commands.cards_for_print([build()], menu, WINTER, ISSUER)
    assert not findings
    answer = commands.compare_editions(menu, "W26", "menu", "en", LAYOUTS, plan)
    assert "egg: no longer declared as contained; still ask" in answer.text


def test_an_unknown_edition_is_named_with_what_there_is(menu: Path) -> None:
    answer = commands.compare_editions(menu, "W27", "W26", "en", LAYOUTS)
    assert codes_of(answer.findings) == ["PUB07"]
    assert "A26 and W26" in answer.findings[0].message
    assert answer.findings[0].fixes[0].text == "write W26"


def test_current_says_what_to_do_with_each_card(menu: Path) -> None:
    plan, _ = commands.cards_for_print([build()], menu, AUTUMN, ISSUER)
    code = plan.cards[0].entry.code
    answer = commands.cards_current(
        [f"{code} r1", f"HTTPS://TEA.EXAMPLE/C/{code.replace('-', '')}-2/", f"{code} 9", "B-1234"],
        menu, DAY, "en", LAYOUTS,
    )  # fmt: skip
    assert not answer.good
    assert answer.text.split("\n")[:5] == [
        f"{code} Lantern milk tea, Large: SUPERSEDED. Take it down. The current one is revision 2.",
        f"{code} Lantern milk tea, Large: current, revision 2.",
        "  The edition holds until Feb 28, 2027.",
        f"{code}: this revision was never published. Do not use the card.",
        "B-1234: no such card was ever published.",
    ]
    assert [card["state"] for card in told(answer.data)["cards"]] == [
        "superseded", "current", "unknown", "unknown",
    ]  # fmt: skip
    unsaid = commands.cards_current([code], menu, DAY, "en", LAYOUTS)
    assert "WHICH REVISION? Look at the foot of the card: only revision 2 is" in unsaid.text
    assert not unsaid.good
    ahead = commands.cards_current([f"{code} 2"], menu, date(2026, 10, 1), "en", LAYOUTS)
    assert ahead.text.startswith(
        f"{code} Lantern milk tea, Large, revision 2: published ahead for W26 (Winter 2026). "
        "Hang it up on Dec 1, 2026, not before."
    )
    assert commands.cards_current([f"{code} 2"], menu, date(2027, 2, 28), "en", LAYOUTS).good
    assert not commands.cards_current([f"{code} 2"], menu, date(2027, 3, 1), "en", LAYOUTS).good


def test_current_says_what_is_on_the_card_and_not_sold_now(menu: Path) -> None:
    """The card stays on the wall; one of another drink says nothing of it."""
    plan, _ = commands.cards_for_print([build()], menu, AUTUMN, ISSUER)
    entry = plan.cards[0].entry
    asked = ([f"{entry.code} 2"], menu, DAY, "en", LAYOUTS)
    sold_out = "Lantern milk tea (sold out: Pearls)"
    out = {"en": [SoldOut("Renamed since", sold_out, drink=entry.key.subject)]}
    answer = commands.cards_current(*asked, out)
    assert answer.good
    line = "Not sold as of Dec 5, 2026: Lantern milk tea (sold out: Pearls)."
    assert answer.text.splitlines()[-1] == f"  {line}"
    assert answer.data.cards[0].not_sold == (line,)
    other = commands.cards_current(
        *asked, {"en": [SoldOut("Dusk", "Dusk (sold out)", drink="dusk")]}
    )
    assert other.data.cards[0].not_sold == ()


def test_site_and_manifest_go_into_one_folder(menu: Path, tmp_path: Path) -> None:
    answer = commands.phone_pages(menu, DAY, "Lantern Kiosk", "en", LAYOUTS)
    assert told(answer.data)["cards"] == 3
    out = tmp_path / "out"
    manifest.write_folder(out, answer.files, "W26")
    assert manifest.check(out) == []
    (out / "site" / "index.html").write_text("changed", "utf-8")
    assert codes_of(manifest.check(out)) == ["OUT03"]


def test_a_damaged_ledger_stops_every_answer(menu: Path) -> None:
    (menu / "editions" / "2026-09-01-A26.yaml").write_text("edited: by hand\n", "utf-8")
    plan, findings = commands.cards_for_print([build()], menu, WINTER, ISSUER)
    assert codes_of(findings) == ["PUB02"]
    assert plan.is_draft
    for answer in (
        commands.compare_editions(menu, "A26", "W26", "en", LAYOUTS),
        commands.cards_current(["B-1"], menu, DAY, "en", LAYOUTS),
        commands.phone_pages(menu, DAY, "Lantern Kiosk", "en", LAYOUTS),
        commands.publish_edition([build()], menu, WINTER, ISSUER, "m", "en"),
    ):
        assert not answer.good
        assert codes_of(answer.findings) == ["PUB02"]
