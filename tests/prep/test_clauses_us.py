"""The FDA Food Code 2022 and the US law of allergens, a test a clause: what a person reads.

Clauses of 3-5 and 3-4 were read in state adoptions that keep the Food Code's numbers (Delaware 16
Admin. Code 3-403.11, Wyoming, Indiana, Minnesota); 3-602.12(C) and the US Code from memory.
"""

from __future__ import annotations

import pytest
from clause_samples import (
    SYRUP,
    allergen_sheet,
    at,
    batch_card,
    build_card,
    calendar,
    findings,
    keeping_line,
    kitchen,
    label,
    line,
    one_batch,
    sound,
    told_by_log,
)

from buildsheets.prep.log import begin, read_log

BOILED = "{do: Boil, temperature: 100 °C, time: 5 min}"


def cold(steps: str = "", parts: str = "{use: cane, amount: 1 kg}") -> str:
    """A batch kept in the fridge for days."""
    made = f", steps: [{steps}]" if steps else ""
    return f"{{name: It, parts: [{parts}]{made}, keeps_for: 3 days, keeps_at: 5 °C}}"


def test_cooling_of_what_was_hot() -> None:
    """Food Code 3-501.14(A): what was hot goes from 57 to 21 °C in 2 h, to 5 °C in 6 h in all."""
    said = keeping_line(one_batch(cold(BOILED)))
    assert "Cool from 57 °C to 21 °C within 2 h." in said
    assert "Cool from 57 °C to 5 °C within 6 h." in said
    held_hot = "{name: Tea, parts: [{use: water, amount: 1 kg}], keeps_for: 4 h, keeps_at: 70 °C}"
    chilled = cold(parts="{use: hot-tea, amount: 500 g}")
    of_hot = sound(batches=f"  hot-tea: {held_hot}\n  it: {chilled}\n")
    assert "Cool from 57 °C to 21 °C within 2 h." in keeping_line(of_hot)


def test_cooling_where_no_temperature_of_keeping_is_said() -> None:
    """Food Code 3-501.14(A): it counts too where no temperature of keeping is said."""
    unsaid = cold(BOILED).replace(", keeps_at: 5 °C", "").replace("3 days", "8 h")
    assert "Cool from 57 °C to 5 °C within 6 h." in keeping_line(one_batch(unsaid))


def test_cooling_of_what_was_made_at_room_temperature() -> None:
    """Food Code 3-501.14(B): what was made at room temperature is at 5 °C within 4 h."""
    said = keeping_line(one_batch(cold()))
    assert "Chill to 5 °C within 4 h." in said
    assert "Cool from" not in said
    warm = keeping_line(one_batch(cold("{do: Melt, temperature: 50 °C}")))
    assert "Cool from 50 °C to 5 °C within 4 h." in warm


def test_no_cooling_of_what_was_cold_all_along() -> None:
    """Food Code 3-501.14: nothing is said of cooling what was cold all along."""
    milk_at_5 = (
        "    contains: [milk]\n",
        "    contains: [milk]\n    keeps_for: 3 days\n    keeps_at: 5 °C\n",
    )
    foam = cold("{do: Froth, temperature: 5 °C}", "{use: milk, amount: 1 kg}")
    said = keeping_line(sound(milk_at_5, batches=f"  it: {foam}\n"))
    assert "Cool" not in said
    assert "Chill" not in said


HOT = "{{name: It, parts: [{{use: {part}, amount: 500 g}}], keeps_for: 4 h, keeps_at: 60 °C}}"


def test_hot_holding() -> None:
    """Food Code 3-501.16(A)(1): what is held hot never falls below 57 °C."""
    menu = one_batch(HOT.format(part="water"))
    assert (
        keeping_line(menu) == "4 h at 60 °C or hotter. Never let it fall below 57 °C: measure it."
    )
    assert "Keep at 60 °C or hotter" in label(menu, "it", at(1))
    (told,) = findings(kitchen(shop="  hot_at: 55 °C\n"), "KEEP02")
    assert "57 °C hot" in told


def test_cold_holding() -> None:
    """Food Code 3-501.16(A)(2): what is held cold is at 5 °C or colder."""
    assert "Keep at 5 °C or colder" in label(one_batch(SYRUP), "it", at(1))
    assert "7 days at 5 °C or colder." in keeping_line(one_batch(SYRUP))
    warmer = SYRUP.replace("keeps_at: 5 °C", "keeps_at: 7 °C")
    (told,) = findings(kitchen(batches=f"  it: {warmer}\n"), "KEEP04")
    assert "at 7 °C, neither cold nor hot; it may be used for 4 h" in told
    (looser,) = findings(kitchen(shop="  cold_at: 7 °C\n"), "KEEP02")
    assert "5 °C cold" in looser


def test_seven_days_with_the_day_of_making_as_the_first() -> None:
    """Food Code 3-501.17(A): made on April 1, used until the end of April 7; the label says whose
    limit it is."""
    # Southern Nevada Health District, FAQ "How long can I keep TCS food": April 1, after April 7.
    menu = one_batch(SYRUP)
    said = label(menu, "it", at(1))
    assert "Use until the end of Mon, Apr 7 · longest the food rules allow" in said
    assert "The day it is made is day 1." in keeping_line(menu)
    (longer,) = findings(kitchen(batches=f"  it: {SYRUP.replace('7 days', '9 days')}\n"), "KEEP03")
    assert "the FDA Food Code allows 7" in longer


CARTON = (
    "    contains: [milk]\n",
    "    contains: [milk]\n    keeps_for: 20 days\n    keeps_at: 5 °C\n",
)


def test_an_opened_pack_has_seven_days_too() -> None:
    """Food Code 3-501.17(B): a pack opened on April 1 is used until the end of April 7."""
    said = label(sound(CARTON), "milk", at(1))
    assert "Use until the end of Mon, Apr 7 · longest the food rules allow" in said
    assert "Opened Tue, Apr 1, 2025, 09:00" in said
    # Its pack says 20 days; no card repeats that.
    card = build_card(kitchen(CARTON), "cloud")
    assert "Milk 7 days" in card
    assert "20 days" not in card


def test_no_pack_outlives_its_makers_date() -> None:
    """Food Code 3-501.17(B)(2): never beyond the maker's use-by, of what is made of it either."""
    menu = sound(CARTON, batches="  it: " + cold(parts="{use: milk, amount: 1 kg}") + "\n")
    log = line("opened", "milk", at(1)).replace("milk\n", "milk use-by 2025-04-03\n")
    assert "Whole" not in told_by_log(menu, log, at(1))
    assert "until the end of Thu 03 Apr" in told_by_log(menu, log, at(1))
    assert "use-by of milk" in told_by_log(menu, log, at(1))
    said = label(menu, "it", at(2), log)
    assert "Use until the end of Thu, Apr 3 · use-by of Milk" in said


def test_a_syrup_of_older_syrup_keeps_the_older_date() -> None:
    """Food Code 3-501.17(C): what is combined keeps the date of what was made first."""
    # The same FAQ: cooked June 1, used in a new batch June 3, use by June 7.
    new = SYRUP.replace("use: cane", "use: old")
    menu = sound(batches=f"  old: {SYRUP}\n  it: {new}\n")
    log = line("made", "old", at(1, month=6))
    said = label(menu, "it", at(3, month=6), log)
    assert "Use until the end of Sat, Jun 7 · Syrup made Sun, Jun 1" in said


def test_the_first_opened_decides_two_batches_deep() -> None:
    """Food Code 3-501.17(C): also through two batches, and for a pack's seven days."""
    sauce, cap = cold(parts="{use: milk, amount: 1 kg}"), cold(parts="{use: sauce, amount: 1 kg}")
    menu = sound(CARTON, batches=f"  sauce: {sauce}\n  it: {cap}\n".replace("3 days", "6 days"))
    log = line("opened", "milk", at(1)) + line("made", "sauce", at(3))
    said = label(menu, "it", at(5), log)
    assert "Use until the end of Mon, Apr 7 · Milk opened Tue, Apr 1" in said
    # Sauce that was not written down is taken to be made now, of the milk that was.
    said = label(menu, "it", at(5), line("opened", "milk", at(1)))
    assert "Use until the end of Mon, Apr 7 · Milk opened Tue, Apr 1" in said


def test_freezing_stops_the_days() -> None:
    """Food Code 3-501.17 and 3-501.18(A)(1): days in the freezer do not count, and it starts
    nothing anew."""
    # North Carolina training paper: October 1 is day 1, frozen October 3, thawed October 10 is day
    # 3, October 14 day 7.
    menu, on = one_batch(SYRUP), lambda day: at(day, month=10)
    log = line("made", "it", on(1)) + line("frozen", "it", on(3))
    assert told_by_log(menu, log, on(9)).startswith("in the freezer")
    assert "Syrup" not in calendar(menu, log)
    log += line("thawed", "it", on(10))
    assert "until the end of Tue 14 Oct" in told_by_log(menu, log, on(10))
    assert "Tue, Oct 14, 2025" in calendar(menu, log)
    assert "Freezing stops the count of days" in calendar(menu, log)
    pearls = "{name: P, parts: [{use: water, amount: 1 kg}], keeps_for: 4 h}"
    with pytest.raises(ValueError, match="counts hours and cannot be frozen"):
        begin(
            one_batch(pearls),
            read_log(line("made", "it", on(1))),
            read_log(
                line(
                    "frozen",
                    "it",
                    on(
                        1,
                    ),
                )
            )[0],
        )


def test_what_is_out_of_date_is_thrown_away() -> None:
    """Food Code 3-501.18(A)(1): past its date it is thrown away, and nothing is made of it."""
    menu = sound(CARTON, batches="  it: " + cold(parts="{use: milk, amount: 1 kg}") + "\n")
    log = line("opened", "milk", at(1))
    assert told_by_log(menu, log, at(7, 23, 59)).startswith("until the end of Mon 07 Apr")
    assert told_by_log(menu, log, at(8, 0)).startswith("OUT OF DATE: throw away")
    with pytest.raises(ValueError, match=r"all milk in the log is out of date.*throw it away"):
        label(menu, "it", at(8), log)
    with pytest.raises(ValueError, match="all milk in the log is out of date"):
        begin(menu, read_log(log), read_log(line("made", "it", at(8)))[0])
    fresh = log + line("gone", "milk", at(8)) + line("opened", "milk", at(8))
    assert "Use until the end of Thu, Apr 10" in label(menu, "it", at(8, 10), fresh)


def test_what_bears_no_date_is_thrown_away() -> None:
    """Food Code 3-501.18(A)(2): the calendar says to throw out what bears no date."""
    said = calendar(one_batch(SYRUP), line("made", "it", at(1)))
    assert "Anything made or opened that bears no date: throw it out." in said


def test_four_hours_without_temperature_control() -> None:
    """Food Code 3-501.19(B): out of cold and heat for 4 h, marked with the time, never back.
    The 6 h of (C) are not offered."""
    pearls = "{name: P, parts: [{use: water, amount: 1 kg}], keeps_for: 4 h}"
    menu = one_batch(pearls)
    said = label(menu, "it", at(1, 10, 30))
    assert "Throw out at 14:30, Tue, Apr 1" in said
    assert "Keep at" not in said
    assert "throw out before 4 h are up. It never goes back." in keeping_line(menu)
    for longer in ("5 h", "6 h", "1 days"):
        text = f"  it: {pearls.replace('4 h', f'{longer}, keeps_at: 20 °C')}\n"
        checked = kitchen(batches=text)
        (told,) = findings(checked, "KEEP04")
        assert "it may be used for 4 h" in told
        assert checked.stopped


COOKED = cold(BOILED, "{use: water, amount: 1 kg}")


def test_reheating_for_hot_holding() -> None:
    """Food Code 3-403.11(A), (D): cooked, cooled and then held hot: first to 74 °C within 2 h."""
    menu = sound(batches=f"  base: {COOKED}\n  it: {HOT.format(part='base')}\n")
    assert "What was cold: heat to 74 °C within 2 h, all through, then hold hot." in keeping_line(
        menu
    )
    assert "74 °C" not in keeping_line(one_batch(HOT.format(part="water")))


def test_the_shops_own_stricter_days_are_called_its_own() -> None:
    """Food Code 3-501.17: a shop's own five days are not passed off as the Code's."""
    menu = one_batch(SYRUP.replace("7 days", "5 days"), shop="  rule_days: 5\n")
    said = label(menu, "it", at(1))
    assert "Use until the end of Sat, Apr 5 · the shop's own limit" in said
    assert "food rules" not in said


# Allergens


NINE = ("milk", "eggs", "fish", "crustaceans", "tree nuts", "peanuts", "wheat", "soy", "sesame")
LIST = ("  allergen_list: eu14\n", "  allergen_list: us9\n")


def test_the_sheet_has_the_nine_in_writing() -> None:
    """Food Code 3-602.12(C), US Code 21, 321(qq): guests can be told in writing of each of the
    nine, sesame among them."""
    sheet = allergen_sheet(sound(LIST))
    header = next(one for one in sheet.split("\n") if "sesame" in one)
    assert [name for name in NINE if name in header] == list(NINE)
    assert "Cloud" in sheet
    assert "free from" not in sheet.casefold()


def test_the_nut_is_named() -> None:
    """US Code 21, 343(w)(2): of tree nuts the kind is named, pine nuts too; a bare "tree nuts" is
    found."""
    nuts = ("contains: [milk]", "contains: [milk, pine-nuts]")
    assert "Contains milk and tree nuts (pine nuts)" in label(sound(LIST, nuts), "brew", at(1))
    bare = kitchen(LIST, ("contains: [milk]", "contains: [milk, tree-nuts]"))
    (told,) = findings(bare, "ALG02")
    assert "does not say which" in told
    assert "pine-nuts" in told


def test_the_species_of_fish_is_named() -> None:
    """US Code 21, 343(w)(2): of fish and crustaceans the species is named beside the group."""
    fish = ("contains: [milk]", "contains: [milk, fish]")
    (told,) = findings(kitchen(LIST, fish), "ALG02")
    assert "contains fish and does not say which" in told
    named = ("contains: [milk]", "contains: [milk, fish, cod]")
    menu = sound(LIST, named, shop="  more_allergens: {cod: cod}\n")
    assert "Contains milk, fish, and cod" in label(menu, "brew", at(1))
    assert not findings(kitchen(LIST, named, shop="  more_allergens: {cod: cod}\n"), "ALG02")
    assert not findings(kitchen(fish), "ALG02")  # the European list asks for no species


def test_coconut_is_no_tree_nut() -> None:
    """FDA, allergen questions and answers, edition 5 (2025): coconut is none of the tree nuts."""
    coconut = ("contains: [milk]", "contains: [milk, coconut]")
    (told,) = findings(kitchen(LIST, coconut), "REF01")
    assert "coconut" in told


def test_soy_is_what_the_list_calls_it() -> None:
    """US Code 21, 321(qq) and FDA guidance: "soy" may be written and is printed for soybeans."""
    menu = sound(LIST, ("contains: [milk]", "contains: [milk, soy]"))
    assert "soy" in batch_card(menu, "brew")
    assert "soya" not in batch_card(menu, "brew")
