"""The reader's eyes: printed numbers, levels and words in each language of the cards."""

from __future__ import annotations

import pytest
from wall_grids import Grid, cells_for
from wall_states import Seen, seen

from buildsheets.print.layouts import Layouts
from buildsheets.views.types import AmountRow, AmountTable
from buildsheets.wall.reading import Unclear, Wish, amount_of
from buildsheets.wall.strings import number, reached, said

LANGUAGES = ("en", "es", "de", "fr")


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("value", [0, 1, 2.5, 17, 415, 1250, 12345.5])
def test_a_number_is_read_as_it_is_written(language: str, value: float) -> None:
    words = Layouts().words(language)
    assert number(words.number(value), words) == value


@pytest.mark.parametrize(("text", "value"), [("½", 0.5), ("1½", 1.5), ("¼", 0.25), ("10¾", 10.75)])
def test_fractions_are_read(text: str, value: float) -> None:
    assert number(text, Layouts().words("en")) == value


@pytest.mark.parametrize("text", ["", "–", "two", "1 or 2", "5 ml", "-1"])
def test_what_is_no_number_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="is no number"):
        number(text, Layouts().words("en"))


@pytest.mark.parametrize("language", LANGUAGES)
def test_levels_and_states_are_read_in_each_language(language: str) -> None:
    words = Layouts().words(language)
    level = words("mls", n=1250)
    assert reached(words("to_level", level=level), words) == 1250.0
    assert reached("", words) is None
    bed, shaker = words("with_bed", level=level), words("in_shaker", level=words("mls", n=90))
    both = words("and_level", first=bed, second=shaker)
    assert seen(both, words) == Seen(bed_ml=1250.0, shaker_ml=90.0)
    assert seen(words("usually", state=level), words) == Seen(usually=True, cup_ml=1250.0)
    assert seen(words("empty_cup"), words) == Seen(empty=True)
    taken = words("and_level", first=shaker, second=words("take_cup"))
    assert seen(taken, words) == Seen(empty=True, shaker_ml=90.0, new_cup=True)
    either = words("and_level", first=shaker, second=words("take_that_cup"))
    assert seen(either, words) == Seen(shaker_ml=90.0, any_cup=True)
    assert seen(words("shaker_and_cup"), words) == Seen(shaker_ml=0.0, any_cup=True)
    with pytest.raises(ValueError, match="no level"):
        seen("half full", words)


def test_what_stands_in_a_word_is_read_back() -> None:
    words = Layouts().words("en")
    assert said(words("addon_after", step=12), "addon_after", words) == {"step": "12"}
    assert said("Stir", "do_stir", words) == {}
    assert said("Stir well", "do_stir", words) is None


WORDS = Layouts().words("en")
TABLE = AmountTable(
    step=4,
    what="Tea",
    unit="ml line",
    header=("0%", "100%"),
    rows=(
        AmountRow(("Cap", "Cap + Pearls"), "No ice", ("400", "405")),
        AmountRow(("Cap", "Cap + Pearls"), "Ice", ("390", "395")),
        AmountRow((), "", ("425", "430")),
    ),
)


@pytest.mark.parametrize(
    ("wish", "cell"),
    [
        (Wish("Milk tea", "0%", "Ice"), "425"),
        (Wish("Milk tea", "100%", "No ice", ("Pearls",)), "430"),
        (Wish("Milk tea", "100%", "No ice", ("Cap",)), "405"),
        (Wish("Milk tea", "0%", "Ice", ("Pearls", "Cap")), "390"),  # in whatever order
    ],
)
def test_a_row_that_names_the_order_goes_before_one_for_all(wish: Wish, cell: str) -> None:
    assert amount_of(4, [TABLE], wish, WORDS) == (cell, "ml line")
    assert amount_of(3, [TABLE], wish, WORDS) is None


def test_two_rows_that_say_different_things_are_unclear() -> None:
    twice = AmountTable(4, "Tea", "ml line", (), (AmountRow((), "", ("420",)),))
    with pytest.raises(Unclear):
        amount_of(4, [TABLE, twice], Wish("Milk tea", "0%", "Ice"), WORDS)
    with pytest.raises(Unclear, match="no column for '50%'"):
        amount_of(4, [TABLE], Wish("Milk tea", "50%", "Ice"), WORDS)


GRID = Grid(
    ("Sweetness", "0%", "100%"),
    (
        ("Syrup (pumps)", "0", "4"),
        ("Tea (ml line) · Cap, with salt / Pearls",),
        ("No ice", "400", "405"),
        ("Ice", "390", "395"),
        ("Tea (ml line) · any other",),
        ("No ice", "425", "430"),
        ("Ice", "415", "420"),
    ),
)


@pytest.mark.parametrize(
    ("add_ons", "tea"), [((), "420"), (("Pearls",), "395"), (("Cap, with salt",), "395")]
)
def test_a_printed_table_is_read_by_its_heads_and_headings(
    add_ons: tuple[str, ...], tea: str
) -> None:
    names = ["Cap, with salt", "Pearls", "Jelly"]
    found = cells_for([GRID], Wish("Milk tea", "100%", "Ice", add_ons), names, WORDS)
    assert found == {("Syrup", "pumps"): "4", ("Tea", "ml line"): tea}
