"""The card of words explains what the shop's cards say, all of it and nothing else."""

from __future__ import annotations

from pathlib import Path

import menu_samples as m
import pytest

from buildsheets import output
from buildsheets.pipeline import Checked
from buildsheets.print.checks import texts_of
from buildsheets.print.layouts import Layouts
from buildsheets.views.card import Card
from buildsheets.views.types import BuildCardView, SheetView
from buildsheets.views.words_card import EXPLAINED, OF_THE_LAYOUT, printed

LANGUAGES = ("en", "es", "de", "fr")


def cards_of(checked: Checked) -> tuple[Card, ...]:
    assert checked.menu is not None
    return output.cards(checked.menu, checked.servings, Layouts())


@pytest.fixture(scope="module")
def demo() -> tuple[Card, ...]:
    return cards_of(m.check_texts(m.demo()))


def explained(cards: tuple[Card, ...], language: str) -> dict[str, str]:
    """Each word of the card of words and what it says of it."""
    (view,) = [c.view for c in cards if (c.key.kind, c.key.language) == ("words", language)]
    assert isinstance(view, SheetView)
    rows = [row for table in view.tables for row in table.rows]
    assert all(len(row) == 2 and all(row) for row in rows)
    told = dict(rows)
    assert len(told) == len(rows), "a word explained twice"
    return told


def test_measures_are_those_of_the_shops_tools(demo: tuple[Card, ...]) -> None:
    english, spanish = explained(demo, "en"), explained(demo, "es")
    assert english["1 pump"].startswith("5 ml (syrup pump): Brown sugar syrup, ")
    assert english["1 ice scoop"] == "60 g: Ice cubes"
    assert english["1 shake"] == "0.25 g (powder shaker): Cocoa powder, Ground cinnamon"
    assert english["coffee measure"] == "marks are 5 ml apart: Cold-brew coffee"
    assert "Parsnip cream" in english["1 ladle"]
    assert spanish["1 toque"].startswith("0,25 g (espolvoreador): ")
    assert "scale" not in english  # no step of the demo's drinks is weighed


def test_stations_and_orders_are_the_menus_own(demo: tuple[Card, ...]) -> None:
    english, spanish = explained(demo, "en"), explained(demo, "es")
    assert [english[letter] for letter in "TBSF"] == [
        "Toppings", "Brew bar", "Ice and shake", "Finish"]  # fmt: skip
    assert english["0%"].startswith("only the syrup is left out")
    assert english["½ ice scoop"] == "filled to half of its mark"
    assert english["Straw"] == "where the card names none, the usual one; none in a hot drink"
    assert english["usually …"].endswith("no need to ask")
    assert spanish["Menos hielo"] == "la ficha da la cantidad: mídala, no a ojo"
    assert english["Less ice"] == "the card has the amount: measure it, do not judge by eye"


def test_no_card_says_a_share_of_ice_that_is_not_what_is_poured() -> None:
    """Of 3 scoops 75 % are 2¼, and a scoop that shows no part pours 2 of them, which is 67 %."""
    text = m.SMALL.replace("kind: scoop, step: 1/2 scoop", "kind: scoop, step: 1 scoop").replace(
        "      regular: {name: Reg",
        "      less: {name: Less, share: 75 %}\n      regular: {name: Reg",
    )
    text = text.replace("{add: cubes, amount: 2 scoops}", "{add: cubes, amount: 3 scoops}")
    cards = cards_of(m.check_texts(text))
    (build,) = [c.view for c in cards if (c.key.subject, c.key.cup) == ("cloud", "medium")]
    assert isinstance(build, BuildCardView)
    (ice,) = [table for table in build.amounts if table.what == "Cubes"]
    assert {row.ice: row.amounts for row in ice.rows} == {
        "Without": ("0",), "Less": ("2",), "Regular": ("3",)
    }  # fmt: skip
    assert [text for card in cards for text in texts_of(card.view) if "75" in text] == []


def test_every_ice_level_and_the_limit_are_explained_as_they_are() -> None:
    """Also a level whose name does not say none; the limit names a lid where every cup has one."""
    told = explained(cards_of(m.check_texts(m.SMALL)), "en")
    assert told["Without"] == "no ice at all"
    assert "Regular" not in told  # as every card has it
    assert "the lid needs the room" in told["fill limit"]
    open_cup = m.swapped(m.SMALL, "    lid: flat\n", "    lid: none\n")
    told = explained(cards_of(m.check_texts(open_cup)), "en")
    assert "spill" in told["fill limit"]
    assert "lid" not in told["fill limit"]


def test_one_sheet_of_allergens_has_one_name_in_every_pack_and_practice() -> None:
    for language in LANGUAGES:
        words = Layouts().words(language)
        name = words("pack_card_allergens").casefold()
        assert name in words("learn_why_allergen").casefold()
        assert name in words("pack_allergy").casefold()
        assert name == words("kind_allergens").casefold()


@pytest.mark.parametrize("language", ["en", "es"])
def test_a_fixed_word_is_explained_where_a_card_says_it_and_nowhere_else(
    language: str, demo: tuple[Card, ...]
) -> None:
    """Held against the cards themselves: the word's own beginning or end stands in their texts."""
    words, told = Layouts().words(language), explained(demo, language)
    said = {
        text
        for card in demo
        if card.key.language == language and card.key.kind != "words"
        for text in texts_of(card.view)
    }
    for key in (key for keys in EXPLAINED.values() for key in keys):
        word = printed(key, words)
        longest = max(word.split("…"), key=len).strip()
        if "…" not in word and word in said:
            assert word in told
        if key not in OF_THE_LAYOUT and not any(longest in text for text in said):
            assert word not in told
    assert {words("gauge_limit"), printed("prep_brix", words), words("do_swirl")} <= set(told)
    for word in (words("do_rest"), words("do_tap"), words("lid_on_film")):
        assert word not in told  # no drink of the demo asks for these


def test_half_a_pump_is_explained_where_a_choice_takes_one() -> None:
    """At 50 % one pump of the sweet drink is half of one; a shop that never halves says nothing."""
    halves = m.SMALL.replace("step: 1 pump", "step: 1/2 pump")
    assert "½ pump" not in explained(cards_of(m.check_texts(halves)), "en")
    halved = halves.replace("{add: sweet, amount: 2 pumps", "{add: sweet, amount: 2 1/2 pumps")
    assert explained(cards_of(m.check_texts(halved)), "en")["½ pump"] == "press half way down"


@pytest.mark.parametrize(
    ("language", "pitcher"),
    [("en", "pitcher"), ("es", "jarrita"), ("fr", "pichet"), ("de", "Kännchen")],
)
def test_the_pitcher_is_explained_as_the_step_calls_it(language: str, pitcher: str) -> None:
    """220 ml grown by 25 % are 275 ml, and the last mark of a jug of 10 ml that they reach 270."""
    text = m.swapped(m.SMALL, "languages: [en]", f"languages: [{language}]")
    steamed = "tool: jug, station: bar, cautions: [hot], steamed: {air: 25 %, to: 60 °C}}"
    text = m.swapped(
        text, "{from: milk, tool: jug, station: bar, temperature: 5 °C}", f"{{from: milk, {steamed}"
    )
    text = m.swapped(text, "kind: jug, step: 5 ml", "kind: jug, step: 10 ml")
    text = m.swapped(text, "{add: plain-milk, amount: 100 ml}", "{add: plain-milk, amount: 220 ml}")
    checked = m.check_texts(m.swapped(text, "      - {add: cubes, amount: 2 scoops}\n", ""))
    assert not checked.stopped, m.said(checked.findings)
    cards = cards_of(checked)
    notes = [s.note for c in cards for s in getattr(c.view, "steps", ()) if pitcher in s.note]
    assert all("270 ml" in note for note in notes)
    assert notes
    assert len(explained(cards, language)[pitcher]) > 60
    assert pitcher not in explained(cards_of(m.check_texts(
        m.swapped(m.SMALL, "languages: [en]", f"languages: [{language}]")
    )), language)  # fmt: skip


def test_a_shop_without_a_thing_does_not_read_of_it() -> None:
    told = explained(cards_of(m.check_texts(m.SMALL)), "en")
    assert "Shake, strain into the cup" in told
    assert {"Swirl", "… cap", "topping to …", "… stays behind"}.isdisjoint(told)
    assert told["1 scoop"] == "40 g: Pearls, Cubes"


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_word_to_explain_has_its_line_in_every_language(language: str) -> None:
    catalogue = Layouts().words(language).catalogue
    keys = [key for keys in EXPLAINED.values() for key in keys]
    assert len(keys) == len(set(keys)) > 20
    assert {f"about_{key}" for key in keys} | {
        "about_marks", "about_half", "about_half_pump", "about_sweetness",
        "about_no_sweetness", "about_ice", "about_no_ice", "about_gauge_limit_open",
        "about_add_ons", "about_straw", "about_swaps", "about_sold",
    } == {key for key in catalogue if key.startswith("about_")}  # fmt: skip
    for key in keys:
        assert key in catalogue
        about = catalogue[f"about_{key}"]
        assert about.strip()
        assert len(about) <= 90, "a line, no more"


def test_its_card_is_chosen_by_its_kind(demo: tuple[Card, ...]) -> None:
    (english,) = output.chosen(demo, ["words"], ["en"])
    assert output.files_of([english]) == {"en/words-cards/all.pdf": [english]}


def test_a_shops_own_word_is_explained_as_its_cards_print_it(tmp_path: Path) -> None:
    (tmp_path / "words").mkdir()
    own = tmp_path / "words" / "builds.en.yaml"
    own.write_text('gauge_limit: "stop here"\n', "utf-8")
    checked = m.check_texts(m.SMALL)
    assert checked.menu is not None
    told = explained(output.cards(checked.menu, checked.servings, Layouts(tmp_path)), "en")
    assert "stop here" in told
    assert "fill limit" not in told
