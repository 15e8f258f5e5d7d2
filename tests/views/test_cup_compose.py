"""Add-on cards and gauge strips of the demo menu, against the fill model and a cup's geometry."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pypdfium2
import pytest
from menu_samples import DEMO, SMALL, check_texts
from print.pdf_reading import page_texts

from buildsheets.cup.fit import Fit, Fitter
from buildsheets.cup.scan import figure
from buildsheets.cup.serving import Choice, Serving, add_ons_for
from buildsheets.findings.finding import Severity
from buildsheets.menu.model import CupSize, Menu
from buildsheets.pipeline import Checked, check
from buildsheets.print.gauge import TooCrowded, apart
from buildsheets.print.layouts import Layouts
from buildsheets.print.render import Printed, RenderOptions, render_pdf
from buildsheets.proof import raster
from buildsheets.proof.proof import expect, proof
from buildsheets.views.addons import addons_view
from buildsheets.views.build import build_view
from buildsheets.views.gauge import gauge_view
from buildsheets.views.types import Foot, GaugeStripView, SheetTable, SheetView
from buildsheets.views.words import Words

Views = list[tuple[str, str, SheetView | GaugeStripView]]
LANGUAGES = ("en", "de", *(pytest.param(one, marks=pytest.mark.slow) for one in ("es", "fr")))
CUPS = ("small", "medium", "large", "hot")


def cup_cards(menu: Menu, servings: Sequence[Serving], words: Words) -> Views:
    """The kind, cup and view of the add-on card and the gauge strip of every cup."""
    views = [
        (cup.id, view(menu, cup, servings, words))
        for cup in menu.cups.values()
        for view in (addons_view, gauge_view)
    ]
    return [(view.kind, cup, view) for cup, view in views if view is not None]


def addons(checked: Checked, menu: Menu, cup: str, language: str = "en") -> SheetView:
    view = addons_view(menu, menu.cups[cup], checked.servings, Layouts(None).words(language))
    assert view is not None
    return view


def table(view: SheetView, header: str) -> SheetTable:
    return next(t for t in view.tables if header in (t.title, t.header[1]))


@pytest.mark.parametrize("cup", ["small", "medium", "large"])
def test_every_offered_add_on_stands_on_the_card_once_for_every_drink(
    checked: Checked, menu: Menu, cup: str
) -> None:
    rows = table(addons(checked, menu, cup), "Allergens").rows
    printed = sorted(
        (row[0].partition(": ")[0], drink) for row in rows for drink in row[-1].split(" · ")
    )
    offered = sorted(
        (add_on.name.in_language("en"), serving.drink.name.in_language("en"))
        for serving in checked.servings
        if serving.cup.id == cup
        for add_on in add_ons_for(serving.drink, menu.cups[cup])
    )
    assert printed == offered
    assert offered


def test_no_choice_is_worked_out_twice_whatever_the_languages(
    menu: Menu, monkeypatch: pytest.MonkeyPatch
) -> None:
    servings = check(DEMO).servings  # of which no choice was asked for yet
    worked_out: Counter[tuple[str, tuple[str, ...], str, Choice]] = Counter()
    fit = Fitter.fit

    def counted(fitter: Fitter, choice: Choice) -> Fit:
        drink, size = fitter.build.drink, fitter.build.size
        worked_out[drink.id, tuple(one.id for one in drink.swapped), size.id, choice] += 1
        return fit(fitter, choice)

    monkeypatch.setattr(Fitter, "fit", counted)
    for language in ("en", "es"):
        words = Layouts(None).words(language)
        for serving in servings:
            build_view(menu, serving, words)
        cup_cards(menu, servings, words)
    assert len(worked_out) > 10 * len(servings)
    assert set(worked_out.values()) == {1}


def test_how_many_go_into_one_cup_is_said_where_all_drinks_agree(
    checked: Checked, menu: Menu
) -> None:
    assert addons(checked, menu, "medium").notes[0] == "Add-ons in one cup: 2 at most, each once."
    one = [
        figure(replace(serving.drink, add_ons_at_most=1), serving.cup)
        if serving.drink.id == "marsh-milk-tea"
        else serving
        for serving in checked.servings
    ]
    view = addons_view(menu, menu.cups["medium"], one, Layouts(None).words("en"))
    assert view is not None
    assert not view.notes[0].startswith("Add-ons")


def test_a_build_card_that_offers_more_says_how_many_go_into_one_cup(
    checked: Checked, menu: Menu
) -> None:
    words = Layouts().words("en")
    told = {
        len(one.offered): build_view(menu, one, words).finish.startswith("Add-ons in one cup: 2 at")
        for one in checked.servings
        if one.drink.add_ons_at_most == 2
    }
    assert told == {count: count > 2 for count in told}
    assert {True, False} <= set(told.values())


def test_what_changes_with_sweetness_and_ice_is_sent_to_the_build_card_under_these() -> None:
    """It stood under "Add-ons" as "sweetness, ice", where no add-on changes anything."""
    found = check_texts(SMALL)
    assert found.menu is not None
    words = Layouts(None).words("en")
    card = addons_view(found.menu, found.menu.cups["medium"], found.servings, words)
    assert card is not None
    (page,) = page_texts(render_pdf([card]).pdf)
    assert "Sweetness, Ice What to do Drinks Strong brew see the build card Shaken" in page
    assert not any(
        "sweetness" in cell for table in card.tables for row in table.rows for cell in row
    )
    heads = [table.header[0] for table in card.tables]
    assert heads == ["Add-ons", "Sweetness", "Ice", "Sweetness, Ice"]


def test_a_caution_that_only_an_add_on_brings_names_it_on_both_cards(
    checked: Checked, menu: Menu
) -> None:
    """Else "contains raw egg" would be read of the drink, or of no add-on at all."""
    words = Layouts(None).words("en")

    def with_egg(serving: Serving) -> Serving:
        offers = tuple(
            replace(a, component=replace(a.component, cautions=("raw-egg",)))
            if a.id == "add-cap"
            else a
            for a in serving.drink.add_ons
        )
        return figure(replace(serving.drink, add_ons=offers), serving.cup)

    named = "With Parsnip cream: Contains raw egg."
    servings = [with_egg(serving) for serving in checked.servings]
    view = addons_view(menu, menu.cups["medium"], servings, words)
    assert view is not None
    assert named in view.notes
    (marsh,) = [s for s in servings if (s.drink.id, s.cup.id) == ("marsh-milk-tea", "medium")]
    assert build_view(menu, marsh, words).cautions[0] == named


def test_a_drink_without_ice_that_offers_toppings_warns_of_choking(
    checked: Checked, menu: Menu
) -> None:
    (lantern,) = [s for s in checked.servings if s.drink.id == "honey-lantern"]
    words = Layouts(None).words("en")
    assert not any("choke" in line for line in build_view(menu, lantern, words).cautions)
    jelly = menu.add_ons["add-coconut"]
    jelly = replace(jelly, amounts={"hot": jelly.amounts["small"]})
    offered = figure(replace(lantern.drink, add_ons=(jelly,)), lantern.cup)
    assert any("choke" in line for line in build_view(menu, offered, words).cautions)


def test_add_on_that_cannot_fit_is_said_so(checked: Checked, menu: Menu) -> None:
    """A scoop grown to twice the cup: nothing can be left out to make room for it."""
    drink = menu.drinks["marsh-milk-tea"]
    huge = tuple(
        replace(
            add_on,
            amounts={
                cup: replace(a, mass_g=900.0, volume_ml=1400.0, count=None)
                for cup, a in add_on.amounts.items()
            },
        )
        for add_on in drink.add_ons
        if add_on.id == "add-pearls"
    )
    serving = next(s for s in checked.servings if s.drink.id == drink.id and s.cup.id == "small")
    changed = figure(replace(drink, add_ons=huge), serving.cup)
    view = addons_view(menu, menu.cups["small"], [changed], Layouts(None).words("en"))
    assert view is not None
    (row,) = table(view, "Allergens").rows
    assert row[0].partition(": ")[2].startswith("does not fit: not made (")
    assert row[0].endswith("ml too much)")


def test_allergens_are_never_blank_and_undeclared_is_said(checked: Checked, menu: Menu) -> None:
    rows = table(addons(checked, menu, "small"), "Allergens").rows
    assert all(row[1] for row in rows)
    assert ("Parsnip cream", "Contains milk; may contain gluten") in {
        (row[0].partition(": ")[0], row[1]) for row in rows
    }
    silent = []
    for serving in checked.servings:
        offers = tuple(
            replace(
                a,
                component=replace(
                    a.component,
                    source=None,
                    declared=None,
                ),
            )
            for a in serving.drink.add_ons
        )
        silent.append(figure(replace(serving.drink, add_ons=offers), serving.cup))
    view = addons_view(menu, menu.cups["small"], silent, Layouts(None).words("en"))
    assert view is not None
    said = [row[1] for row in table(view, "Allergens").rows]
    assert said
    assert all(line.startswith("NOT DECLARED: ") for line in said)


def test_no_card_for_a_cup_nobody_uses(checked: Checked, menu: Menu) -> None:
    words = Layouts(None).words("en")
    other: CupSize = replace(menu.cups["small"], id="unused")
    assert addons_view(menu, other, checked.servings, words) is None
    assert gauge_view(menu, other, checked.servings, words) is None


@pytest.mark.parametrize("cup", ["small", "medium", "large"])
def test_strip_lines_stand_where_the_cups_geometry_puts_them(
    checked: Checked, menu: Menu, cup: str
) -> None:
    """Volume of a frustum, V = pi h (a² + ab + b²) / 3 with radii a, b (Euclid; any textbook)."""
    size = menu.cups[cup]
    assert size.shape.frustum is not None
    base, rim, full = size.shape.frustum
    view = gauge_view(menu, size, checked.servings, Layouts(None).words("en"))
    assert view is not None
    kinds = [row.line.kind for row in view.rows]
    assert kinds[-2:] == ["working", "rim"]
    assert view.rows[-1].line.height_mm == pytest.approx(full + size.floor_mm, abs=0.01)
    drinks = 0
    for row in view.rows[:-2]:
        height = row.line.height_mm - size.floor_mm
        a, b = base / 2, (base + (rim - base) * height / full) / 2
        volume = math.pi * height * (a * a + a * b + b * b) / 3 / 1000
        lowest, *others = map(float, row.line.label.removesuffix(" ml").split(" / "))
        assert lowest - 0.2 <= volume < lowest + 5  # down to 5 ml
        area_mm2 = math.pi * b * b  # a frustum's at that height; near ones are 1.5 mm up at most
        assert all((one - volume) * 1000 / area_mm2 < 1.6 for one in others)
        assert row.height == f"stands {math.floor(row.line.height_mm + 0.5)} mm high"
        drinks += len(row.drinks)
    poured = [s for s in checked.servings if s.cup.id == cup
              and any(u.to_line_ml is not None for u in s.used)]  # fmt: skip
    assert drinks >= len(poured) > 0
    assert view.height_mm >= view.rows[-1].line.height_mm + 6
    assert view.subtitle.endswith("The pouch lifts it 3 mm.")
    bare = replace(menu, shop=replace(menu.shop, pouch_border_mm=0.0))
    cut = gauge_view(bare, size, checked.servings, Layouts(None).words("en"))
    assert cut is not None
    assert "ouch" not in cut.subtitle


@pytest.fixture(scope="module", params=LANGUAGES)
def printed(request: pytest.FixtureRequest, checked: Checked, menu: Menu
            ) -> tuple[Printed, list[object]]:  # fmt: skip
    words = Layouts(None).words(request.param)
    views: list[object] = []
    for number, (kind, cup, view) in enumerate(cup_cards(menu, checked.servings, words)):
        assert cup in CUPS
        code = f"{kind[0].upper()}{number}{request.param.upper()}"
        views.append(replace(view, code=code, foot=Foot(code, "r1", "W26", "", f"{code} r1", "")))
    assert len(views) == 2 * len(CUPS)
    return render_pdf(views, RenderOptions(title="Cups")), views  # type: ignore[arg-type]


def test_cards_print_in_every_language_and_pass_the_proof(
    printed: tuple[Printed, list[object]],
) -> None:
    done, views = printed
    assert not [f for f in done.findings if f.severity is not Severity.NOTE]
    assert {page.code for page in done.pages} == {view.code for view in views}  # type: ignore[attr-defined]
    assert proof(done.pdf, expect(done.pages, views)) == []


def test_strip_is_at_one_to_one(printed: tuple[Printed, list[object]]) -> None:
    """The topmost ink at the left edge is the rim's mark, at its height less the 3 mm border."""
    done, views = printed
    document = pypdfium2.PdfDocument(done.pdf)
    seen = 0
    for page, info in zip(document, done.pages, strict=True):
        view = next(v for v in views if v.code == info.code)  # type: ignore[attr-defined]
        if view.kind != "gauge":  # type: ignore[attr-defined]
            continue
        grey = page.render(scale=600 / 72).to_pil().convert("L")
        image = np.asarray(grey)
        per_mm = 600 / 25.4
        column = np.flatnonzero(image[:, round(3 * per_mm)] < 128)
        rim = view.rows[-1].line.height_mm  # type: ignore[attr-defined]
        assert column[0] / per_mm == pytest.approx(info.height_mm - (rim - 3.0), abs=0.2)
        (length,) = raster.bar_lengths_mm(raster.Raster.of(grey, 600))
        assert length == pytest.approx(50, rel=0.001)
        seen += 1
    assert seen == 4


def test_labels_of_different_heights_do_not_overlap() -> None:
    middles = apart([50.0, 50.5, 51.0, 90.0], [4.0, 12.0, 4.0, 4.0], 0.0, 120.0)
    assert middles[3] == pytest.approx(90.0, abs=0.5)
    for (a, high), (b, next_high) in zip(
        list(zip(middles, [4, 12, 4], strict=False)),
        list(zip(middles[1:], [12, 4, 4], strict=False)),
        strict=True,
    ):
        assert b - a >= (high + next_high) / 2
    with pytest.raises(TooCrowded, match="labels of 60 mm do not fit in 50 mm"):
        apart([1.0, 2.0], [30.0, 30.0], 0.0, 50.0)
