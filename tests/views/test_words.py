"""Fixed words in every language, and numbers, dates and lists as CLDR writes them."""

from __future__ import annotations

import string
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

from buildsheets.menu.schema import Text
from buildsheets.print.fonts import missing_glyphs
from buildsheets.print.layouts import LayoutMissing, Layouts, shipped_root, untranslated
from buildsheets.views.words import UnknownWord, Words

FILES = sorted((shipped_root() / "words").glob("*.yaml"))
LANGUAGES = sorted(path.stem for path in FILES if "." not in path.stem)


def texts(entry: object) -> list[str]:
    return [str(e) for e in entry.values()] if isinstance(entry, dict) else [str(entry)]


def fields(entry: object) -> set[str]:
    return {
        name
        for text in texts(entry)
        for _, name, _, _ in string.Formatter().parse(text)
        if name is not None
    }


def test_four_languages_ship() -> None:
    assert {"en", "es", "fr", "de"} <= set(LANGUAGES)


def test_every_topic_comes_in_every_language() -> None:
    topics = {path.stem.partition(".")[0] for path in FILES if "." in path.stem}
    assert {path.stem for path in FILES if "." in path.stem} == {
        f"{topic}.{language}" for topic in topics for language in LANGUAGES
    }


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_language_has_every_word_with_the_same_values(language: str) -> None:
    english = Layouts().words("en").catalogue
    own = Layouts().words(language).catalogue
    assert set(own) == set(english)
    for key, entry in english.items():
        assert fields(own[key]) == fields(entry), key
        assert all(map(str.strip, texts(own[key]))) == all(map(str.strip, texts(entry))), key


USUAL = {"en": "usual", "es": "usual", "fr": "habitu", "de": "üblich"}
"""What a drink is called, in every place, when a guest asks for no change."""


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_order_without_a_change_has_one_name(language: str) -> None:
    catalogue = Layouts().words(language).catalogue
    keys = """usually left_under in_usual_order about_usually about_arrives_at pack_lines_note
        prep_matrix_ask prep_not_planned prep_facts_per learn_level_1 learn_usual
        learn_usual_means learn_not_listed learn_ask_allergen"""
    assert [key for key in keys.split() if USUAL[language] not in catalogue[key].lower()] == []
    others = ["as written", "the recipe", "la receta", "la recette", "nach rezept",
              "im rezept", "das rezept", "souvent"]  # fmt: skip
    named = [(key, text) for key, entry in catalogue.items() for text in texts(entry)]
    assert [(k, t) for k, t in named if any(other in t.lower() for other in others)] == []


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_typeface_can_print_every_word(language: str) -> None:
    words = Layouts().words(language)
    shown = "".join(text for entry in words.catalogue.values() for text in texts(entry))
    shown += words.number(12345.5, 1) + words.percent(0.5) + words.date(date(2026, 12, 1), "long")
    shown += words.money(Decimal("1234.50"), "EUR") + words.list(["a", "b", "c"])
    assert missing_glyphs(shown) == []


def test_no_card_promises_an_absence() -> None:
    """A card may name what is in a drink; it never says "free from"."""
    banned = ("free from", "free of", "-free", "libre de", "sin alérgenos", "sans allergène",
              "exempt", "frei von", "allergenfrei")  # fmt: skip
    for language in LANGUAGES:
        for entry in Layouts().words(language).catalogue.values():
            for text in texts(entry):
                assert not any(phrase in text.lower() for phrase in banned), text


def test_forms_of_numbers_dates_and_lists_are_those_of_cldr() -> None:
    # Unicode CLDR: decimal and grouping marks, list patterns and medium dates.
    english, spanish, german = (Layouts().words(name) for name in ("en", "es", "de"))
    assert english.number(1234.5, 1) == "1,234.5"
    assert german.number(1234.5, 1) == "1.234,5"
    assert spanish.number(0.5, 2) == "0,50"
    assert english.number(3.0, 0) == "3"
    assert english.list(["milk", "soya", "egg"]) == "milk, soya, and egg"
    assert spanish.list(["leche", "soja"]) == "leche y soja"
    assert english.date(date(2026, 12, 1)) == "Dec 1, 2026"
    assert german.date(date(2026, 12, 1)) == "01.12.2026"
    assert german.money(Decimal("4.50"), "EUR") == "4,50\u00a0€"
    assert english.percent(0.25) == "25%"


def test_plurals_follow_the_language() -> None:
    entry = {"pumps": {"one": "{count} pump", "other": "{count} pumps"}}
    assert Words("en", entry)("pumps", count=1) == "1 pump"
    assert Words("en", entry)("pumps", count=2) == "2 pumps"
    # CLDR: French counts 0 and 1 as singular, English only 1.
    assert Words("fr", entry)("pumps", count=0) == "0 pump"
    assert Words("en", entry)("pumps", count=0) == "0 pumps"


def test_an_unknown_word_is_an_error_not_a_blank() -> None:
    with pytest.raises(UnknownWord, match="gaugee"):
        Layouts().words("en")("gaugee")
    (finding,) = Layouts().words("en").missing(["contains", "gaugee"])
    assert (finding.code, finding.name) == ("CARD02", "word-missing")


def test_a_regions_language_falls_back_and_an_unknown_one_fails() -> None:
    assert Layouts().words("es-MX")("contains") == "Contiene"
    with pytest.raises(LayoutMissing, match="'xx'"):
        Layouts().words("xx")


def test_a_shops_own_words_lie_over_the_shipped_ones(tmp_path: Path) -> None:
    (tmp_path / "words").mkdir()
    (tmp_path / "words" / "en.yaml").write_text('contains: "In it"\n', "utf-8")
    words = Layouts(tmp_path).words("en")
    assert words("contains") == "In it"
    assert words("may_contain") == "May contain"


def test_a_layout_name_cannot_leave_its_folder(tmp_path: Path) -> None:
    (tmp_path / "secret.txt").write_text("x", "utf-8")
    for name in ("../secret.txt", str(tmp_path / "secret.txt"), "build/../../secret.txt"):
        with pytest.raises(LayoutMissing):
            Layouts(tmp_path / "layouts").text(name)


def test_letters_of_the_other_direction_are_kept_together() -> None:
    """Unicode UAX 9: between U+2068 and U+2069 they do not turn what stands beside them."""
    arabic = Words("ar", {"visit": "{drink} · جزء {part}", "mls": "{n} ml"})
    latin, own = Text({"": "Earl Grey"}), Text({"": "شاي"})
    assert arabic.text(latin) == "\u2068Earl Grey\u2069"
    assert arabic.text(own) == "شاي"
    assert arabic("mls", n=60) == "\u206860 ml\u2069"
    assert arabic("visit", drink=arabic.text(latin), part=1) == "\u2068Earl Grey\u2069 · جزء 1"
    assert Words("en", {}).text(latin) == "Earl Grey"
    assert Words("en", {}).text(own) == "\u2068شاي\u2069"
    assert (arabic.is_rtl, Words("he", {}).is_rtl, Words("th", {}).is_rtl) == (True, True, False)


def test_a_shops_own_language_borrows_the_words_it_has_not(tmp_path: Path) -> None:
    (tmp_path / "words").mkdir()
    (tmp_path / "words" / "ar.yaml").write_text(
        'contains: "يحتوي على"\nkeeps_days: {two: "{name} يومان", other: "{name} {count} يوماً"}\n',
        "utf-8",
    )
    layouts = Layouts(tmp_path)
    words = layouts.words("ar")
    assert words("contains") == "يحتوي على"
    assert words("may_contain") == "\u2068May contain\u2069"
    assert words("keeps_days", count=2, name="شاي") == "شاي يومان"
    assert words("keeps_days", count=1, name="شاي") == "شاي 1 يوماً"
    assert not {"contains", "keeps_days"} & set(untranslated(layouts, "ar"))
    assert untranslated(layouts, "en") == []
