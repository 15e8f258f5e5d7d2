"""Cards of a menu, the files they go into, and the proof that each file passes first."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from pathlib import Path

import pytest
from command_samples import DEMO, demo_copy
from printed_demo import planned

from buildsheets import output
from buildsheets.findings.finding import Finding, Severity, Source
from buildsheets.pipeline import Checked, check
from buildsheets.place import Place
from buildsheets.print.cache import Cache
from buildsheets.print.printing import Press
from buildsheets.views.card import Card, CardKey


@pytest.fixture(scope="module")
def checked() -> Checked:
    return check(DEMO)


@pytest.fixture(scope="module")
def cards(checked: Checked) -> tuple[Card, ...]:
    assert checked.menu is not None
    return output.cards(checked.menu, checked.servings, Place.of(DEMO).layouts)


def keys(cards: Sequence[Card]) -> set[CardKey]:
    return {card.key for card in cards}


def test_each_build_and_batch_scale_has_a_card_in_each_language(
    checked: Checked, cards: tuple[Card, ...]
) -> None:
    menu = checked.menu
    assert menu is not None
    kinds = Counter((card.key.kind, card.key.language) for card in cards)
    for language in menu.shop.languages:
        assert kinds["build", language] == len(checked.servings) == 39
        assert kinds["allergens", language] == kinds["words", language] == 1
        assert kinds["gauge", language] == len(menu.cups)
        assert kinds["batch", language] >= len(menu.batches)
    assert len(keys(cards)) == len(cards)


@pytest.mark.slow
def test_what_is_let_go_of_on_the_way_changes_no_finding_and_no_card(
    checked: Checked, cards: tuple[Card, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("buildsheets.cup.scan.MOST_HELD", 1)
    again = check(DEMO)
    assert again.menu is not None
    assert again.findings == checked.findings
    assert output.cards(again.menu, again.servings, Place.of(DEMO).layouts) == cards


def test_a_file_holds_one_language_one_station_and_one_size(cards: tuple[Card, ...]) -> None:
    files = output.files_of(cards)
    assert sum(len(held) for held in files.values()) == len(cards)
    for name, held in files.items():
        language, folder, _ = name.split("/")
        assert {card.key.language for card in held} == {language}
        assert len({card.key.kind for card in held}) == 1
        if folder in ("toppings", "brew", "shake", "finish"):
            assert {(card.key.subject, f"{card.key.cup}.pdf") for card in held} == {
                (folder, name.rpartition("/")[2])
            }
    assert {card.key.subject for card in files["en/build-cards/hot.pdf"]} == {
        "hearth-ginger-milk", "honey-lantern"}  # fmt: skip


@pytest.mark.parametrize(
    ("only", "languages", "fits"),
    [
        (["brew"], ["en"], lambda k: k.subject == "brew" and k.language == "en"),
        (["small"], [], lambda k: k.cup == "small"),
        (["build", "gauge"], ["es"], lambda k: k.kind in ("build", "gauge") and k.language == "es"),
        (["honey-lantern", "parsnip-cream"], [],
         lambda k: k.subject in ("honey-lantern", "parsnip-cream")),
        ([], [], lambda k: True),
    ],
)  # fmt: skip
def test_what_is_chosen(
    only: list[str], languages: list[str], fits: object, cards: tuple[Card, ...]
) -> None:
    assert callable(fits)
    picked = keys(output.chosen(cards, only, languages))
    assert picked
    assert picked == {card.key for card in cards if fits(card.key)}


@pytest.mark.parametrize("only", [["soup"], ["brew", "soup"]])
def test_a_word_that_names_no_card_is_refused(only: list[str], cards: tuple[Card, ...]) -> None:
    with pytest.raises(ValueError, match="'soup'"):
        output.chosen(cards, only, [])


def test_the_digest_of_a_menu_is_of_names_and_texts() -> None:
    one = {"a.yaml": Source("a.yaml", "x: 1\n"), "b.yaml": Source("b.yaml", "")}
    same = dict(reversed(one.items()))
    assert output.menu_digest(one) == output.menu_digest(same)
    moved = {"a.yaml": Source("a.yaml", ""), "b.yaml": Source("b.yaml", "x: 1\n")}
    assert output.menu_digest(one) != output.menu_digest(moved)


def test_the_place_of_a_menu_is_its_folder(tmp_path: Path) -> None:
    menu = demo_copy(tmp_path / "menu")
    assert Place.of(menu) == Place.of(menu / "shop.yaml")
    assert Place.of(menu).ledger == menu / "editions"
    assert Place.of(menu).layouts.own is None
    (menu / "layouts").mkdir()
    assert Place.of(menu / "shop.yaml").layouts.own == menu / "layouts"


FAULT = Finding("PROOF04", "outside-safe-area", Severity.ERROR, None, "too near")


@pytest.mark.slow
def test_cards_from_the_cache_do_not_slip_past_the_proof(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    checked, plan = planned(DEMO)
    menu = checked.menu
    assert menu is not None
    picked = output.chosen([one.card for one in plan.cards], ["hot"], ["en"])
    gauge = [card for card in picked if card.key.kind == "gauge"]
    layouts = Place.of(DEMO).layouts
    press = Press(output.render_options(menu, layouts), Cache(tmp_path), workers=1)
    real = output.proof
    monkeypatch.setattr(output, "proof", lambda *_: [FAULT])
    first, second = output.run(gauge, press), output.run(gauge, press)
    assert (first.rendered, second.rendered) == (1, 1)  # what failed is not kept
    assert first.stopped
    assert second.stopped
    monkeypatch.setattr(output, "proof", real)
    third = output.run(gauge, press)
    assert not third.stopped
    assert third.files["en/gauge-cards/hot.pdf"].startswith(b"%PDF")
