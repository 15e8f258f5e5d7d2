"""What cards in a menu's languages could not say or draw is told by check, with what cures it."""

from __future__ import annotations

import re
import shutil
from collections.abc import Sequence
from pathlib import Path

import menu_samples as m
import pytest

from buildsheets.drawable import PLAIN_LETTERS
from buildsheets.findings.finding import Finding
from buildsheets.pipeline import check
from buildsheets.print.fonts import missing_glyphs
from buildsheets.print.layouts import Layouts, shipped_root

FOUR = Path(__file__).parent / "menus" / "four-scripts"
ABOUT = ("CARD01", "CARD12", "LNG01", "LNG03")


def found(menu: Path) -> list[Finding]:
    return [one for one in check(menu).findings if one.code in ABOUT]


def codes(findings: Sequence[Finding]) -> list[str]:
    return [one.code for one in findings]


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    """The small menu with a drink that is named in kana."""
    text = m.swapped(m.SMALL, "name: Cloud", "name: くも")
    (tmp_path / "menu.yaml").write_text(text, "utf-8")
    return tmp_path


def put(shop: Path, name: str, text: str) -> None:
    path = shop / "layouts" / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, "utf-8")


def test_letters_that_are_not_looked_at_are_in_the_typeface() -> None:
    assert missing_glyphs("".join(PLAIN_LETTERS)) == []


def test_a_letter_no_face_has_is_found_where_it_is_written_with_what_cures_it(shop: Path) -> None:
    (finding,) = found(shop)
    assert finding.code == "CARD01"
    assert "Atkinson Hyperlegible cannot draw く (U+304F), も (U+3082)" in finding.message
    assert finding.span is not None
    line = (shop / "menu.yaml").read_text("utf-8").splitlines()[finding.span.line - 1]
    assert line[finding.span.column - 1 :] == "くも"
    assert "layouts/shared/tokens.yaml" in finding.hint
    cure = re.search(r"typeface: \{.*\}", finding.hint)
    assert cure is not None
    put(shop, "shared/tokens.yaml", cure[0])
    assert found(shop) == []


def test_a_comment_may_have_any_letters(shop: Path) -> None:
    (shop / "menu.yaml").write_text(f"# くも\n{m.SMALL}", "utf-8")
    assert found(shop) == []


def test_a_family_this_machine_has_not_is_told_by_check(shop: Path) -> None:
    put(shop, "shared/tokens.yaml", "colour: {}\ntypeface: {installed: [Quillmarsh Sans]}\n")
    (finding,) = found(shop)
    assert finding.code == "CARD12"
    assert "no font family 'Quillmarsh Sans' installed" in finding.message
    assert finding.span is not None
    assert finding.span.line == 2


def test_a_language_needs_words_that_cldr_knows_too(shop: Path) -> None:
    menu = m.swapped(m.SMALL, "languages: [en]", "languages: [en, it, tlh]")
    (shop / "menu.yaml").write_text(menu, "utf-8")
    without = found(shop)
    assert codes(without) == ["LNG01", "LNG01"]
    assert "no layouts/words/it.yaml" in without[0].message
    for language in ("it", "tlh"):
        put(shop, f"words/{language}.yaml", 'contains: "Contiene"\n')
    assert codes(found(shop)) == ["LNG03", "LNG01"]  # Klingon's numbers are not in CLDR


def test_words_that_are_borrowed_are_told_until_all_are_there(shop: Path) -> None:
    menu = m.swapped(m.SMALL, "languages: [en]", "languages: [it]")
    (shop / "menu.yaml").write_text(menu, "utf-8")
    put(shop, "words/it.yaml", 'contains: "Contiene"\n')
    (partial,) = found(shop)
    every = len(Layouts().words("en").catalogue)
    assert f"cards in 'it' say {every - 1} of {every} words" in partial.message
    for file in (shipped_root() / "words").glob("*en.yaml"):
        shutil.copy(file, shop / "layouts" / "words" / file.name.replace("en.yaml", "it.yaml"))
    assert found(shop) == []


def test_a_shop_in_four_scripts_lacks_nothing_but_words() -> None:
    assert codes(found(FOUR)) == ["LNG03"] * 4
