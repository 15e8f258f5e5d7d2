"""The law of questions: whatever the menu, a question that is asked has one right answer, which a
reader of the cards finds; what a maker takes from the figures is what the cards say."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from lessons import demo, demo_pool, lesson, pools
from menu_samples import SMALL, check_once, check_texts, swapped
from wall_shops import SHAPES, drawn

from buildsheets.cli.learning import lesson_of
from buildsheets.learn.checker import ALIKE, ANOTHER, OTHERWISE, UNDECIDED, UNTOLD, Reader
from buildsheets.learn.lesson import Lesson
from buildsheets.learn.pool import SAME_ID, Pool
from buildsheets.learn.questions import KINDS, Arrange, Choose, Fill, Question, answer
from buildsheets.views.card import CardKey
from buildsheets.views.types import BuildCardView, StationCardView, StepView

TESTS = Path(__file__).parent.parent
MENUS = [*sorted((TESTS / "menus/shops").glob("*.yaml")), *sorted((TESTS / "wall/menus").glob("*"))]
EXPECTED = {ALIKE, ANOTHER, UNDECIDED, SAME_ID}
"""Why a question may be left out; never because the cards say something else, or nothing."""


def kept(taught: Lesson) -> int:
    """How many questions are asked; others are left out for what a menu may well have."""
    asked = 0
    for pool in pools(taught):
        asked += len(pool.questions)
        assert {why for _, why in pool.removed} <= EXPECTED, pool.removed
        assert len({one.id for one in pool.questions}) == len(pool.questions)
        for one in pool.questions:
            assert well_formed(one), one
    return asked


def well_formed(one: Question) -> bool:
    """As nobody who answers it could mistake it."""
    assert all(source.code and source.label for source in one.sources)
    assert one.ask
    assert one.reason
    match one.form:
        case Fill(rows):
            return any(row.answer for row in rows)
        case Arrange(texts, places, _):
            return sorted(places) == [*range(1, len(texts) + 1)] and len({*texts}) == len(texts)
        case Choose(options, right, several, _):
            there = {*right} <= {*range(len(options))}
            return there and bool(right) and len(options) > 1 and (several or len(right) == 1)


@pytest.mark.parametrize("language", ["en", pytest.param("es", marks=pytest.mark.slow)])
def test_the_demo_is_asked_about_in_one_way(language: str) -> None:
    assert kept(demo(language)) > 1500


@pytest.mark.parametrize("menu", MENUS, ids=lambda path: path.stem)
def test_a_menu_of_another_shape_is(menu: Path) -> None:
    checked = check_once(menu)
    assert checked.menu is not None
    for language in checked.menu.shop.languages:
        assert kept(lesson(checked, language)) > 5


def test_an_add_on_that_is_called_otherwise_than_its_topping_is() -> None:
    """Its card says "More pearls": a hire looks for that, and so do the questions."""
    named = SMALL.replace("{topping: pearls,", "{topping: pearls, name: More pearls,")
    taught = lesson(check_texts(named))
    assert kept(taught) > 5
    asked = [q for pool in pools(taught) for q in pool.questions if q.order.endswith("More pearls")]
    rows = [row for q in asked if isinstance(q.form, Fill) for row in q.form.rows]
    assert ("+ More pearls", "1") in [(row.label, row.answer) for row in rows]
    assert all(row.label != "+ Pearls" for row in rows)


def test_an_add_on_that_goes_in_last_of_all_is() -> None:
    """Leaves that swim on a drink which ends with the stir."""
    leaves = "behaves: swimming, density: 0.9 g/ml, bulk_density: 0.3 g/ml, tool: scoop"
    shop = swapped(SMALL, "ice:\n  cubes", f"  leaves: {{from: pearl-tin, name: Leaves, {leaves}, "
                   "station: bar}\nice:\n  cubes")  # fmt: skip
    shop = swapped(shop, "drinks:\n", "  leaf: {topping: leaves, amount: 1 scoop, price: 0.10}\n"
                   "drinks:\n")  # fmt: skip
    shop = shop.replace("add_ons: [add-pearls]", "add_ons: [add-pearls, leaf]")
    taught = lesson(check_texts(shop))
    assert kept(taught) > 5
    asked = {q for p in pools(taught) for q in p.questions if q.kind == "place"}
    assert {answered(q)[0] for q in asked if q.about == ("Leaves",)} == {"after step 6 (Stir)"}


@pytest.mark.parametrize("language", ["ar", "he", "th", "ja"])
def test_a_shop_with_a_language_of_its_own_is(language: str) -> None:
    path = TESTS / "menus/four-scripts"
    checked = check_once(path)
    assert checked.menu is not None
    taught = lesson_of(checked, checked.menu, path, language)
    for pool in pools(taught):
        assert len(pool.questions) > 0
        # A word for "one day" has no number to read in it.
        said = {why for one, why in pool.removed if one.kind != "keeps"}
        assert said <= EXPECTED, pool.removed


@pytest.mark.parametrize("shape", SHAPES)
def test_a_drawn_shop_of_a_shape_is(shape: str) -> None:
    assert kept(lesson(drawn(1, **SHAPES[shape]))) > 5


@pytest.mark.parametrize("seed", range(2, 10))
def test_a_drawn_shop_is(seed: int) -> None:
    assert kept(lesson(drawn(seed))) > 5


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(1000, 1040))
def test_forty_drawn_shops_are(seed: int) -> None:
    assert kept(lesson(drawn(seed))) > 0


def test_every_kind_is_asked_of_the_demo() -> None:
    asked = Counter(one.kind for level in (1, 2, 3) for one in demo_pool("", level).questions)
    assert set(asked) == set(KINDS)
    assert min(asked.values()) >= 4


# what the checker notices -------------------------------------------------------------------------


def first(kind: str, pool: Pool, form: type) -> Question:
    return next(q for q in pool.questions if q.kind == kind and isinstance(q.form, form))


def other_amount(one: Question) -> Question:
    assert isinstance(one.form, Fill)
    rows = [replace(row, answer=row.answer and f"{row.answer}0") for row in one.form.rows]
    return replace(one, form=Fill(tuple(rows)))


def other_unit(one: Question) -> Question:
    assert isinstance(one.form, Fill)
    return replace(one, form=Fill(tuple(replace(row, unit="barrels") for row in one.form.rows)))


def other_step(one: Question) -> Question:
    assert isinstance(one.form, Fill)
    rows = [replace(row, label=f"9{row.label}") for row in one.form.rows]
    return replace(one, form=Fill(tuple(rows)))


def two_places(one: Question) -> Question:
    assert isinstance(one.form, Arrange)
    last, *rest = reversed(one.form.places)
    return replace(one, form=replace(one.form, places=(last, *reversed(rest))))


def twins(one: Question) -> Question:
    assert isinstance(one.form, Arrange)
    texts = (one.form.texts[1], *one.form.texts[1:])
    return replace(one, form=replace(one.form, texts=texts))


def next_right(one: Question) -> Question:
    assert isinstance(one.form, Choose)
    right = tuple((at + 1) % len(one.form.options) for at in one.form.right)
    return replace(one, form=replace(one.form, right=tuple(sorted(right))))


def same_options(one: Question) -> Question:
    assert isinstance(one.form, Choose)
    at = one.form.right[0]
    options = [one.form.options[at]] * len(one.form.options)
    return replace(one, form=replace(one.form, options=tuple(options)))


def second_mistake(one: Question) -> Question:
    """A line beside the wrong one is wrong as well."""
    assert isinstance(one.form, Choose)
    options = [*one.form.options]
    options[one.form.right[0] - 1] += " twice"
    return replace(one, form=replace(one.form, options=tuple(options)))


def mend_is_wrong(one: Question) -> Question:
    assert isinstance(one.form, Choose)
    return replace(one, form=replace(one.form, mend=one.form.options[one.form.right[0]]))


def all_marked(one: Question) -> Question:
    assert isinstance(one.form, Choose)
    return replace(one, form=replace(one.form, right=tuple(range(len(one.form.options)))))


FAULTS: list[tuple[int, str, type, Callable[[Question], Question], str]] = [
    (1, "amounts", Fill, other_amount, OTHERWISE),
    (1, "amounts", Fill, other_unit, OTHERWISE),
    (2, "amounts", Fill, other_amount, OTHERWISE),
    (2, "amounts", Fill, other_step, UNTOLD),
    (2, "by-size", Fill, other_amount, OTHERWISE),
    (3, "amounts", Fill, other_amount, OTHERWISE),
    (3, "keeps", Fill, other_amount, OTHERWISE),
    (1, "steps", Arrange, two_places, OTHERWISE),
    (1, "steps", Arrange, twins, ALIKE),
    (1, "cup", Choose, next_right, OTHERWISE),
    (1, "cup", Choose, same_options, ALIKE),
    (1, "sizes", Choose, all_marked, OTHERWISE),
    (3, "mistake", Choose, next_right, OTHERWISE),
    (3, "mistake", Choose, same_options, ALIKE),
    (3, "mistake", Choose, second_mistake, OTHERWISE),
    (3, "mistake", Choose, mend_is_wrong, OTHERWISE),
    (3, "place", Choose, next_right, OTHERWISE),
    (3, "swap", Choose, next_right, OTHERWISE),
    (3, "swap", Choose, all_marked, OTHERWISE),
    (3, "swap", Choose, same_options, ALIKE),
    (3, "allergen", Choose, next_right, OTHERWISE),
    (3, "allergen", Choose, all_marked, OTHERWISE),
]


@pytest.mark.parametrize(("level", "kind", "form", "fault", "why"), FAULTS)
def test_a_question_with_another_answer_is_noticed(
    level: int, kind: str, form: type, fault: Callable[[Question], Question], why: str
) -> None:
    taught = demo()
    reader = Reader(taught.cards, taught.words, taught.many)
    one = first(kind, demo_pool("", level), form)
    assert reader.fault(one) == ""
    assert reader.fault(fault(one)) == why


@pytest.mark.parametrize("station", ["", "brew"])
def test_a_card_that_says_something_else_than_was_figured_is_noticed(station: str) -> None:
    """The milk of one drink in one size is misprinted: of its questions none is asked as it was."""
    taught = demo()
    key = CardKey(
        *(("station", "brew") if station else ("build", "marsh-milk-tea")), "medium", "en"
    )
    view = taught.cards[key]
    if isinstance(view, BuildCardView):
        view = replace(view, steps=misprinted(view.steps))
    elif isinstance(view, StationCardView):
        rows = (replace(row, adds=misprinted(row.adds)) for row in view.rows)
        view = replace(view, rows=tuple(rows))
    reader = Reader({**taught.cards, key: view}, taught.words, taught.many)
    wrong = [q for q in demo_pool(station, 1).questions if reader.fault(q) == OTHERWISE]
    assert [(q.title, q.kind) for q in wrong] == [("Marsh Milk Tea, Medium", "amounts")]
    more = [q for q in demo_pool(station, 3).questions if reader.fault(q)]
    assert {q.drink for q in more} <= {"marsh-milk-tea"}
    by_size = [q for q in demo_pool(station, 2).questions if reader.fault(q) == OTHERWISE]
    assert [(q.drink, *q.about) for q in by_size] == [("marsh-milk-tea", "Whole milk")]


def misprinted(steps: tuple[StepView, ...]) -> tuple[StepView, ...]:
    milk = ("80", "Whole milk")
    return tuple(replace(s, amount="85") if (s.amount, s.what) == milk else s for s in steps)


def test_what_another_order_makes_right_is_no_mistake() -> None:
    """Half the sugar is right at 50 %: four pumps in the middle size, by the menu."""
    taught = demo()
    reader = Reader(taught.cards, taught.words, taught.many)
    one = next(
        q for q in demo_pool("", 3).questions
        if q.kind == "mistake" and (q.drink, q.cup, q.step) == ("marsh-milk-tea", "medium", 1)
    )  # fmt: skip
    form = one.form
    assert isinstance(form, Choose)
    assert form.mend == "4 pumps Brown sugar syrup"
    options = ("2 pumps Brown sugar syrup", *form.options[1:])
    assert reader.fault(replace(one, form=replace(form, options=options))) == ANOTHER


def test_a_drink_that_may_contain_it_is_not_asked_about() -> None:
    """Milk is declared of the drink on purpose as a trace: who holds it cannot be said."""
    text = SMALL.replace("contains: [milk]", "contains: []\n    may_contain: [milk]")
    assert text != SMALL
    taught = lesson(check_texts(text))
    assert not [q for pool in pools(taught) for q in pool.questions if q.kind == "allergen"]
    reader = Reader(demo().cards, demo().words, demo().many)
    one = first("allergen", demo_pool("", 3), Choose)
    assert isinstance(one.form, Choose)
    # Tapioca pearls may contain soya (menu/stock.yaml), so the drink that holds them does.
    soya = replace(
        one, about=("soya",), form=replace(one.form, options=("Boathouse Pearl Tea", "x"))
    )
    assert reader.fault(soya) == UNDECIDED


# by hand ------------------------------------------------------------------------------------------


def answered(one: Question) -> list[str]:
    return [what for _, what in answer(one)]


def test_the_answers_are_those_of_the_menu_by_hand() -> None:
    """Worked out from menu/drinks.yaml with a pencil: 4 pumps at 100 % are 1 at 25 %; small, medium
    and large take 4, 4 and 8; cold tea keeps 8 h."""
    asked = [one for level in (1, 2, 3) for one in demo_pool("", level).questions]

    def of(kind: str, title: str, order: str = "", about: str = "") -> Question:
        return next(
            q for q in asked
            if (q.kind, q.title) == (kind, title) and order in q.order
            and (not about or about in q.about)
        )  # fmt: skip

    usual = of("amounts", "Marsh Milk Tea, Medium", "usual order")
    assert answered(usual) == ["4 pumps", "2 ice scoops", "80 ml", "to 425 ml line"]
    less = of("amounts", "Marsh Milk Tea, Medium", "25%, Less ice")
    assert answered(less)[:2] == ["1 pump", "1 ice scoop"]
    sizes = of("by-size", "Marsh Milk Tea", about="Brown sugar syrup")
    assert answered(sizes) == ["4 pumps", "4 pumps", "8 pumps"]
    assert "how much goes into each size?" in sizes.ask
    tea_line = of("by-size", "Marsh Milk Tea", about="Black tea")
    assert tea_line.ask.startswith("Black tea: to which line in each size?")
    swap = of("swap", "Marsh Milk Tea, Medium", about="Oat drink")
    assert answered(swap) == ["3 · Whole milk"]
    assert "instead of Whole milk" in swap.reason
    assert "Takes away milk; same jug: wash it first." in swap.reason
    steps = of("steps", "Marsh Milk Tea, Small")
    assert answered(steps) == [
        *("Brown sugar syrup", "Ice cubes", "Whole milk", "Black tea", "Stir", "Flat lid on")
    ]
    assert answered(of("sizes", "Red Bean Jetty Tea")) == ["Medium", "Large"]
    assert answered(of("offered", "Oat Mist Oolong, Large")) == [
        *("Tapioca pearls", "Soaked basil seeds")
    ]
    assert answered(of("place", "Jasmine under Cloud, Small", about="Tapioca pearls")) == [
        "before step 1"
    ]
    milk, tea = of("keeps", "Whole milk"), of("keeps", "Black tea")
    assert (answered(milk), [where for where, _ in answer(milk)]) == (["3"], ["day"])
    assert "the pack was opened today; today is day 1" in milk.ask
    assert "Black tea was made at" in tea.ask
    hours, minutes = map(int, tea.about[1].split(":"))
    assert answered(tea) == [f"{hours + 8:02}:{minutes:02}"]


def test_a_question_of_allergens_warns_and_promises_nothing() -> None:
    asked = [q for pool in pools(demo()) for q in pool.questions if q.kind == "allergen"]
    assert asked
    for one in asked:
        assert "A guest with an allergy asks" in one.caution
        assert "in the usual order" in one.ask
        assert "free" not in f"{one.ask} {one.reason}"


def test_a_change_of_the_menu_changes_what_is_asked_of_it_and_nothing_else() -> None:
    dose = "{add: strong, amount: 200 ml"
    assert dose in SMALL
    texts = SMALL, SMALL.replace(dose, "{add: strong, amount: 190 ml")
    old, new = (
        {q.id: q for pool in pools(lesson(check_texts(text))) for q in pool.questions}
        for text in texts
    )
    gone = [old[id_] for id_ in old.keys() - new.keys()]
    assert {one.drink for one in gone} == {"shaken"}
    assert {one.kind for one in gone} == {"amounts", "mistake"}
    assert {one.drink for one in new.values()} >= {"shaken", "cloud"}
