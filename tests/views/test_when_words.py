"""When a drink is sold, on cards in four languages; straws; and which cards there are."""

from __future__ import annotations

from collections.abc import Sequence

import pytest
from menu_samples import SMALL, check_texts, swapped

from buildsheets import output
from buildsheets.pipeline import Checked
from buildsheets.print.layouts import Layouts
from buildsheets.views.build import build_view
from buildsheets.views.card import Card, content_digest
from buildsheets.views.types import AllergenMatrixView, BuildCardView, StationCardView
from buildsheets.views.when import sold_when

SHAKEN = "    name: Shaken\n"
STRAWS = """\
packaging:
  straw: {name: straw, kind: straw}
  wide-straw: {name: wide straw, kind: straw}
"""


def checked(*edits: tuple[str, str]) -> Checked:
    text = SMALL
    for old, new in edits:
        text = swapped(text, old, new)
    found = check_texts(text)
    assert not found.stopped
    return found


def cards(*edits: tuple[str, str]) -> Sequence[Card]:
    found = checked(*edits)
    assert found.menu is not None
    return output.cards(found.menu, found.servings, Layouts())


DATES = {
    "    until: 2026-06-14\n": {
        "en": "sold until June 14", "es": "se vende hasta el 14 de junio",
        "fr": "en vente jusqu’au 14 juin",
        "de": "Verkauf bis 14. Juni",
    },
    "    from: 2026-06-01\n    until: 2026-12-31\n": {
        "en": "sold from June 1", "es": "se vende desde el 1 de junio",
        "fr": "en vente à partir du 1 juin",
        "de": "Verkauf ab 1. Juni",
    },
    "    from: 2026-06-01\n    until: 2026-06-14\n    hours: 07:00 to 11:00\n": {
        "en": "sold from June 1 to June 14, 07:00 to 11:00",
        "es": "se vende del 1 de junio al 14 de junio, de 07:00 a 11:00",
        "fr": "en vente du 1 juin au 14 juin, de 07:00 à 11:00",
        "de": "Verkauf von 1. Juni bis 14. Juni, 07:00 bis 11:00 Uhr",
    },
    "    from: 2026-06-14\n    until: 2026-06-14\n": {
        "en": "sold only on June 14", "es": "se vende solo el 14 de junio",
        "fr": "en vente seulement le 14 juin",
        "de": "Verkauf nur am 14. Juni",
    },
    "    hours: [22:00 to 02:00, 07:00 to 11:00]\n": {
        "en": "sold 22:00 to 02:00, 07:00 to 11:00",
        "es": "se vende de 22:00 a 02:00, de 07:00 a 11:00",
        "fr": "en vente de 22:00 à 02:00, de 07:00 à 11:00",
        "de": "Verkauf 22:00 bis 02:00 Uhr, 07:00 bis 11:00 Uhr",
    },
    "    from: 2026-03-01\n    until: 2026-09-30\n": dict.fromkeys(("en", "es", "fr", "de"), ""),
}  # fmt: skip


@pytest.mark.parametrize("written", DATES)
@pytest.mark.parametrize("language", ["en", "es", "fr", "de"])
def test_a_card_says_when_a_drink_is_sold(written: str, language: str) -> None:
    found = check_texts(swapped(SMALL, SHAKEN, SHAKEN + written))
    menu = found.menu
    assert menu is not None
    words = Layouts().words(language)
    assert sold_when(menu, menu.drinks["shaken"], words) == DATES[written][language]


def test_build_and_station_cards_say_it_and_the_others_stay_as_they_are() -> None:
    usual = {card.key: content_digest(card.view) for card in cards()}
    now = {card.key: card.view for card in cards((SHAKEN, SHAKEN + "    until: 2026-06-14\n"))}
    assert now.keys() == usual.keys()
    changed = {key for key, view in now.items() if content_digest(view) != usual[key]}
    assert {(key.kind, key.subject, key.cup) for key in changed} == {
        ("build", "shaken", "medium"), ("station", "bar", "medium"),
        ("station", "shaking", "medium"), ("words", "all", ""),
    }  # fmt: skip
    for key in changed:
        view = now[key]
        if isinstance(view, BuildCardView):
            assert view.sold == "sold until June 14"
        elif key.kind != "words":
            assert isinstance(view, StationCardView)
            assert {row.drink: row.sold for row in view.rows}["Shaken"] == "sold until June 14"


def test_what_is_sold_out_prints_no_card_anew() -> None:
    usual = [(card.key, content_digest(card.view)) for card in cards()]
    pearls = "  pearl-tin:\n    name: Pearls\n"
    edits = ((SHAKEN, SHAKEN + "    sold_out: yes\n"), (pearls, pearls + "    sold_out: yes\n"))
    assert [(card.key, content_digest(card.view)) for card in cards(*edits)] == usual


def test_a_drink_of_another_season_has_no_card_and_stands_on_none() -> None:
    found = cards((SHAKEN, SHAKEN + "    until: 2026-02-28\n"))
    assert not any(card.key.subject == "shaken" for card in found)
    for card in found:
        if isinstance(card.view, StationCardView):
            assert not any("Shaken" in row.drink for row in card.view.rows)
        if isinstance(card.view, AllergenMatrixView):
            assert "Shaken" not in [row.name for row in card.view.rows]


def notes(*edits: tuple[str, str], drink: str = "cloud") -> list[str]:
    found = checked(("ingredients:\n", STRAWS + "ingredients:\n"), *edits)
    assert found.menu is not None
    serving = next(s for s in found.servings if (s.drink.id, s.cup.id) == (drink, "medium"))
    words = Layouts().words("en")
    return [step.note for step in build_view(found.menu, serving, words).steps]


OWN = ("    name: Cloud\n", "    name: Cloud\n    packaging: wide-straw\n")
STIR = "      - {do: stir, for: 5 s}\n"
LID = (STIR, STIR + "      - {do: lid}\n")
PEARLS = "add-pearls: {topping: pearls, amount: 1 scoop, price: 0.60"
ASKED = (PEARLS, PEARLS + ", packaging: wide-straw")


def test_a_straw_of_packaging_is_told_where_the_lid_goes_on() -> None:
    assert notes(LID, OWN)[-1] == "wide straw"
    assert notes(LID, ASKED)[-1] == "with Pearls: wide straw"
    assert notes(LID, OWN, ASKED)[-1] == "wide straw"  # once
    in_words = (PEARLS, PEARLS + ", packaging: wide-straw, straw: fat one")
    assert notes(LID, in_words)[-1] == "with Pearls: fat one"


def test_without_a_lid_the_last_step_tells_a_drinks_own_straw() -> None:
    assert notes(OWN)[-1] == "5 s, wide straw"
    assert notes()[-1] == "5 s"


def test_a_straw_that_a_note_names_already_is_not_told_twice() -> None:
    noted = (STIR, STIR + "      - {do: lid, note: with a wide straw}\n")
    assert notes(noted, OWN)[-1] == "with a wide straw"
