"""England's Food Safety and Hygiene Regulations 2013 (SI 2013/2996), Schedule 4, a test a clause:
what a person reads, and where the shop's paper must not speak for the law.

Read at legislation.gov.uk: paragraphs 2, 6 and 7(2) in SI 2005/2059 and SI 2006/31 (Wales), 5(1) in
SR 2006/3 (Northern Ireland), which have the same words; England's own 5(1) from memory.
"""

from __future__ import annotations

from clause_samples import (
    CUSTOM,
    ENGLAND,
    SYRUP,
    at,
    findings,
    keeping_line,
    kitchen,
    label,
    line,
    one_batch,
    told_by_log,
)

AT_8 = SYRUP.replace("5 °C", "8 °C")
WARM = "{name: It, parts: [{use: water, amount: 1 kg}], keeps_for: 4 h, keeps_at: 20 °C}"
HOT = "{name: It, parts: [{use: water, amount: 1 kg}], keeps_for: 4 h, keeps_at: 65 °C}"
SERVED = ", served_at: 65 °C}"


def test_cold_at_8() -> None:
    """SI 2013/2996, Schedule 4, 2(1): what is held cold is at 8 °C or colder."""
    menu = one_batch(AT_8, ENGLAND)
    assert "Keep at 8 °C or colder" in label(menu, "it", at(1))
    assert "7 days at 8 °C or colder." in keeping_line(menu)
    warmer = AT_8.replace("8 °C", "9 °C")
    (told,) = findings(kitchen(rules=ENGLAND, batches=f"  it: {warmer}\n"), "KEEP04")
    assert "at 9 °C, neither cold nor hot" in told
    (looser,) = findings(kitchen(rules=ENGLAND, shop="  cold_at: 9 °C\n"), "KEEP02")
    assert "8 °C cold" in looser


def test_one_period_under_four_hours_above_8() -> None:
    """SI 2013/2996, Schedule 4, 5(1): above 8 °C once only, gone before 4 h are up."""
    menu = one_batch(WARM, ENGLAND)
    assert "throw out before 4 h are up. It never goes back." in keeping_line(menu)
    assert "Throw out at 13:00, Tue, Apr 1" in label(menu, "it", at(1))
    longer = kitchen(rules=ENGLAND, batches=f"  it: {WARM.replace('4 h', '5 h')}\n")
    (told,) = findings(longer, "KEEP04")
    assert "it may be used for 4 h" in told
    assert longer.stopped


def test_hot_at_63() -> None:
    """SI 2013/2996, Schedule 4, 6: what is held hot is at 63 °C or hotter."""
    menu = one_batch(HOT, ENGLAND)
    assert "4 h at 65 °C or hotter." in keeping_line(menu)
    assert "Keep at 65 °C or hotter" in label(menu, "it", at(1))
    (looser,) = findings(kitchen(rules=ENGLAND, shop="  hot_at: 60 °C\n"), "KEEP02")
    assert "63 °C hot" in looser


def test_one_period_under_two_hours_below_63() -> None:
    """SI 2013/2996, Schedule 4, 7(2): below 63 °C once only, for less than 2 h; nothing served hot
    is said to keep longer out of the heat."""
    assert "Below 63 °C once only, for less than 2 h." in keeping_line(one_batch(HOT, ENGLAND))
    for place in (", keeps_at: 50 °C", ""):  # where nothing is said, it may stand anywhere
        cooler = HOT.replace(", keeps_at: 65 °C}", place + SERVED)
        checked = kitchen(rules=ENGLAND, batches=f"  it: {cooler}\n")
        (told,) = findings(checked, "KEEP04")
        assert "it may be used for 2 h" in told
        assert checked.stopped
    two = one_batch(HOT.replace("4 h, keeps_at: 65 °C}", "2 h" + SERVED), ENGLAND)
    assert "throw out before 2 h are up" in keeping_line(two)
    assert "Throw out at 11:00, Tue, Apr 1" in label(two, "it", at(1))


def test_cooling_names_no_hours() -> None:
    """Regulation (EC) 852/2004, Annex II, IX.6: chilled as quickly as possible after heating or
    making; no hours are named, since the law names none."""
    boiled = AT_8.replace(", keeps_for", ", steps: [{do: Boil, temperature: 100 °C}], keeps_for")
    said = keeping_line(one_batch(boiled, ENGLAND))
    assert "Cool from 63 °C to 8 °C as fast as you can." in said
    assert "within" not in said
    cold = keeping_line(one_batch(AT_8, ENGLAND))
    assert "Chill to 8 °C as fast as you can." in cold
    assert "Cool from" not in cold


def test_no_number_of_days_is_the_laws() -> None:
    """SI 2013/2996: no number of days; labels, log, card and finding call it the shop's own."""
    menu = one_batch(AT_8, ENGLAND)
    assert "Use until the end of Mon, Apr 7 · the shop's own limit" in label(menu, "it", at(1))
    told = told_by_log(menu, line("made", "it", at(1)), at(1))
    assert "the shop's own limit for it" in told
    unsaid = one_batch("{name: It, parts: [{use: water, amount: 1 kg}]}", ENGLAND)
    assert "At most 7 days, cold: the shop's own limit." in keeping_line(unsaid)
    checked = kitchen(rules=ENGLAND, batches=f"  it: {AT_8.replace('7 days', '9 days')}\n")
    (longer,) = findings(checked, "KEEP03")
    assert "the shop's limit is 7" in longer
    assert "England names no days" in longer
    for said in (label(menu, "it", at(1)), told, keeping_line(unsaid)):
        assert "food rules" not in said


def test_the_shops_own_assessment_may_be_shorter() -> None:
    """SI 2013/2996: the shop's own three days are what the label says."""
    menu = one_batch(AT_8.replace("7 days", "3 days"), ENGLAND, "  rule_days: 3\n")
    assert "Use until the end of Thu, Apr 3 · the shop's own limit" in label(menu, "it", at(1))


def test_no_temperature_of_reheating() -> None:
    """SI 2013/2996: England names no temperature of reheating, so none is printed."""
    base = AT_8.replace(", keeps_for", ", steps: [{do: Boil, temperature: 100 °C}], keeps_for")
    hot = HOT.replace("use: water", "use: base")
    both = f"{hot}\n  base: {base}"
    said = keeping_line(one_batch(both, ENGLAND))
    assert "74 °C" not in said
    assert "heat to" not in said
    us = f"{hot}\n  base: {base.replace('8 °C', '5 °C')}"
    assert "heat to 74 °C" in keeping_line(one_batch(us))


def test_other_countries_rules_are_the_shops() -> None:
    """shelf_rules custom: the numbers of another food code are called the shop's own, and its hot
    line has no hours."""
    own = "  rule_days: 4\n  cold_at: 4 °C\n  hot_at: 60 °C\n"
    cold = SYRUP.replace("7 days", "4 days").replace("5 °C", "4 °C")
    # The small menu's brews are kept at 5 °C for days, warmer than this shop allows.
    menu = kitchen(rules=CUSTOM, shop=own, batches=f"  it: {cold}\n").menu
    assert menu is not None
    assert "Use until the end of Fri, Apr 4 · the shop's own limit" in label(menu, "it", at(1))
    hot = kitchen(rules=CUSTOM, shop=own, batches=f"  it: {HOT}\n").menu
    assert hot is not None
    assert "Never let it fall below 60 °C: measure it." in keeping_line(hot)


def test_the_date_on_the_pack() -> None:
    """Regulation (EU) 1169/2011, Article 24, as kept in England: good on its use-by day, refused
    after it."""
    milk = ("    contains: [milk]\n", "    contains: [milk]\n    use_by: 2025-04-03\n")
    checked = kitchen(milk, rules=ENGLAND)
    assert checked.menu is not None
    assert "Use until the end of Thu, Apr 3" in label(checked.menu, "milk", at(3, 23))
    try:
        said = label(checked.menu, "milk", at(4, 1))
    except ValueError as wrong:
        said = str(wrong)
    assert said == "milk may no longer be used, since 2025-04-03 is over"
