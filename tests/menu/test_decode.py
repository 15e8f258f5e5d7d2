"""Decoding: every kind of field, every fault in one run, fixes that fix, one finding a slip."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Annotated, ClassVar, Literal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from buildsheets.findings.finding import Finding, Severity, Source
from buildsheets.menu.linker import Linker
from buildsheets.menu.quantity import Measures, Quantity
from buildsheets.menu.read import read
from buildsheets.menu.reference import reference
from buildsheets.menu.schema import BySize, Id, Kinds, Ml, Mm, Range, Record, Text, Was, key

Name = Annotated[str, Id()]


@dataclass(frozen=True, slots=True, kw_only=True)
class Pour(Record):
    """A pour."""

    tag_key: ClassVar[str] = "pour"

    pour: Name = key("")
    amount: BySize[Annotated[Quantity, Kinds("volume", "pump")]] = key("")


@dataclass(frozen=True, slots=True, kw_only=True)
class Stir(Record):
    """A stir."""

    tag_key: ClassVar[str] = "stir"

    stir_s: Annotated[float, Kinds("time")] = key("", "stir")


@dataclass(frozen=True, slots=True, kw_only=True)
class Price(Record):
    """A price."""

    gross: Decimal = key("")
    net: Decimal | None = key("", default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class SampleDrink(Record):
    """Something to drink.

    More about it.
    """

    name: Text = key("what it is called")
    hot: bool = key("")
    sold_from: date = key("first day", "from")
    rank: int | None = key("", default=None, within=Range("from 0 to 20", 0, 20))
    lid: Literal["flat", "dome"] | None = key("", default=None)
    measures: Literal["us_customary", "us_label", "metric"] | None = key("", default=None)
    contains: tuple[Name, ...] = key("", default=())
    steps: tuple[Pour | Stir, ...] = key("", default=())
    price: BySize[Decimal] | None = key("", default=None)
    toppings: Mapping[str, Price] = key("", factory=dict)
    mark_mm: Mm | None = key("up to where", "mark", default=None)
    mark_ml: Ml | None = key("", "mark", default=None)
    with_ice: Literal["more", "less"] | None = key(
        "how much ice", default=None, was=Was("ice", {"lots": "more", "few": "less"})
    )


GOOD = """\
name: {en: Tea, zh-Hant: 茶}
hot: no
from: 2026-12-01
rank: 010
lid: dome
measures: metric
contains: [milk, soy]
steps:
  - pour: tea
    amount: {s: 20 ml, l: 2 pumps}
  - stir: 1/2 min
  - pour: milk
    amount: 1 tsp
price: {s: 3.50, l: 4.00}
toppings:
  pearls: {gross: 1}
mark: 90 mm
"""


def decoded(
    text: str, measures: Measures | None = Measures.METRIC
) -> tuple[SampleDrink | None, list[Finding]]:
    root, findings = read({"a.yaml": Source("a.yaml", text)})
    if root is None:
        return None, findings
    drink = Linker(findings, measures).record(root, SampleDrink, None)
    return (drink if isinstance(drink, SampleDrink) else None), findings


def with_line(line: str) -> str:
    """The good menu with one line put in the place of the line of the same key."""
    key = line.split(":")[0]
    kept, skipping = [], False
    for old in GOOD.splitlines():
        if not old.startswith(" "):
            skipping = old.split(":")[0] == key
        if not skipping:
            kept.append(old)
    return "\n".join([*kept, line, ""])


def fixed(text: str, finding: Finding, number: int = 0) -> str:
    """The text after a fix was written in its place."""
    fix = finding.fixes[number]
    assert fix.span is not None
    assert fix.replacement is not None
    assert fix.span.line == fix.span.end_line
    lines = text.split("\n")
    old = lines[fix.span.line - 1]
    start, end = fix.span.column - 1, fix.span.end_column - 1
    lines[fix.span.line - 1] = old[:start] + fix.replacement + old[end:]
    return "\n".join(lines)


def test_good_menu() -> None:
    drink, findings = decoded(GOOD)
    assert findings == []
    assert drink is not None
    assert drink.name.by_language == {"en": "Tea", "zh-Hant": "茶"}
    assert (drink.name.in_language("en"), drink.name.in_language("fr")) == ("Tea", "Tea")
    assert (drink.hot, drink.written("hot").text) == (False, "no")
    assert drink.sold_from == date(2026, 12, 1)
    rank = drink.written("rank")
    assert (drink.rank, rank.text, str(rank.span)) == (10, "010", "a.yaml:4:7")
    assert drink.measures == "metric"
    assert drink.contains == ("milk", "soy")
    pour, stir, spoon = drink.steps
    assert isinstance(pour, Pour)
    assert isinstance(stir, Stir)
    assert isinstance(spoon, Pour)
    small, medium, large = (pour.amount.get(size) for size in "sml")
    assert small is not None
    assert large is not None
    assert (small.value.value, medium, large.value.unit) == (20.0, None, "pump")
    assert (small.raw, str(small.span)) == ("20 ml", "a.yaml:10:17")
    assert stir.stir_s == 30.0
    every = spoon.amount.get("any")
    assert every is not None
    assert every.value.value == 5.0  # metric teaspoon: GNU Units 2.22
    assert drink.price is not None
    assert str(drink.price.each["s"].value) == "3.50"
    assert list(drink.toppings) == ["pearls"]
    assert str(drink.keys_in("toppings")["pearls"]) == "a.yaml:16:3"
    assert (drink.mark_mm, drink.mark_ml) == (90.0, None)
    assert str(drink.at("from")) == "a.yaml:3:1"
    assert drink.at("lid") != drink.span


def test_defaults_and_single_values() -> None:
    drink, findings = decoded("name: Tea\nhot: YES\nfrom: 2026-12-01\ncontains: milk\n")
    assert findings == []
    assert drink is not None
    assert drink.name.in_language("any") == "Tea"
    assert drink.hot is True
    assert drink.contains == ("milk",)
    assert (drink.rank, drink.steps, drink.price, drink.toppings) == (None, (), None, {})
    assert drink.at("rank") == drink.span
    assert (drink.written("rank").text, drink.written("rank").span) == ("", drink.span)


def test_a_key_goes_to_the_field_of_its_kind() -> None:
    drink, findings = decoded(with_line("mark: 1/2 l"))
    assert findings == []
    assert drink is not None
    assert (drink.mark_mm, drink.mark_ml) == (None, 500.0)


# (line put into the good menu, code, line:column of the finding in that line, words)
FAULTS = [
    ("hot: on", "VAL04", 6, "neither yes nor no"),
    ("hot: [yes]", "VAL01", 6, "a list found"),
    ("hot:", "VAL02", 1, "no value"),
    ("hot: ''", "VAL02", 6, "missing"),
    ("hot: null", "VAL02", 1, "no value"),
    ("rank: 1.5", "VAL03", 7, "whole number"),
    ("rank: three", "VAL03", 7, "whole number"),
    ("rank: 1e3", "VAL03", 7, "whole number"),
    ("rank: ٣", "VAL03", 7, "whole number"),
    ("rank: 1_000", "VAL03", 7, "whole number"),
    ("rank: 21", "RNG01", 7, "`rank` is 21, and must be from 0 to 20"),
    ("price: {s: .inf}", "VAL03", 12, "a number"),
    ("price: {s: 1e3}", "VAL03", 12, "a number"),
    ("price: {s: '1,5'}", "VAL03", 12, "a number"),
    ("price: {s: '3 EUR'}", "VAL03", 12, "a number"),
    ("price: {s: " + "9" * 5000 + "}", "VAL03", 12, "longer"),
    ("price: [3, 4]", "VAL01", 8, "a list found"),
    ("price: {S: 1}", "VAL07", 9, "not an id"),
    ("price: {con: 1}", "VAL07", 9, "“con” is not an id"),
    ("price: {" + "a" * 61 + ": 1}", "VAL07", 9, "is not an id"),
    ("mark: 3 g", "VAL08", 7, "a length or a volume is wanted"),
    ("mark: [3 mm]", "VAL01", 7, "a list found"),
    ("ice: lots", "KEY03", 1, "`ice: lots` is now written `with_ice: more`"),
    ("ice: more", "KEY03", 1, "`ice` is now written `with_ice`"),
    ("with_ice: few", "KEY03", 1, "`with_ice: few` is now written `with_ice: less`"),
    ("price: {}", "VAL02", 8, "missing"),
    ("from: 01.12.2026", "VAL05", 7, "not a date"),
    ("from: 2026-2-1", "VAL05", 7, "lacks a 0"),
    ("from: 2026-02-30", "VAL05", 7, "no day"),
    ("from: 0000-01-01", "VAL05", 7, "no day"),
    ("lid: doem", "VAL06", 6, "flat or dome"),
    ("lid: none", "VAL06", 6, "flat or dome"),
    ("measures: us", "VAL06", 11, "us_customary"),
    ("contains: [Oat Milk]", "VAL07", 12, "not an id"),
    ("contains: {milk: yes}", "VAL01", 11, "a list wanted"),
    ("contains: [milk, ]", None, 0, ""),
    ("contains: [milk, '']", "VAL02", 18, "missing"),
    ("contains:", "VAL02", 1, "no value"),
    ("name: []", "VAL01", 7, "a text"),
    ("name: {}", "VAL02", 7, "missing"),
    ("name: {english: Tea}", "VAL09", 8, "not a language"),
    ("name: {en: }", "VAL02", 8, "no value"),
    ("name: {en: [a]}", "VAL01", 12, "a list found"),
    ("name: '  '", "VAL02", 7, "missing"),
    ("steps: stir", "VAL01", 8, "a list of entries"),
    ("steps: [stir]", "VAL01", 9, "entries with"),
    ("steps: [{stir: 3 ml}]", "VAL08", 16, "a time is wanted"),
    ("steps: [{stir: 3 s, pour: tea}]", "KEY01", 21, "both"),
    ("steps: [{shake: 3 s}]", "KEY02", 10, "none of"),
    ("steps: [{stri: 3 s}]", "KEY01", 10, "did you mean `stir`"),
    ("steps: [{pour: tea}]", "KEY02", 10, "lacks `amount`"),
    ("steps: [{pour: tea, amount: 1 fl oz}]", "VAL08", 29, "metric has no fl oz"),
    ("steps: [{pour: tea, amount: {s: 1 oz}}]", "VAL08", 33, "a volume or a weight"),
    ("toppings: [pearls]", "VAL01", 11, "entries by id"),
    ("toppings: {Big Pearls: {gross: 1}}", "VAL07", 12, "not an id"),
    ("toppings: {pearls: {grss: 1}}", "KEY01", 21, "did you mean `gross`"),
    ("weird: 1", "KEY01", 1, "not known"),
]


@pytest.mark.parametrize(("line", "code", "column", "words"), FAULTS)
def test_one_fault_is_one_finding_at_its_place(
    line: str, code: str | None, column: int, words: str
) -> None:
    text = with_line(line)
    _, findings = decoded(text)
    if code is None:
        assert findings == []
        return
    assert [finding.code for finding in findings] == [code]
    (finding,) = findings
    assert finding.span is not None
    assert (finding.span.line, finding.span.column) == (len(text.splitlines()), column)
    assert words in finding.message


@pytest.mark.parametrize("line", [line for line, *_ in FAULTS])
def test_each_fix_makes_the_finding_vanish(line: str) -> None:
    text = with_line(line)
    _, findings = decoded(text)
    for finding in findings:
        for number in range(len(finding.fixes)):
            drink, after = decoded(fixed(text, finding, number))
            assert after == []
            assert drink is not None


def test_some_faults_offer_fixes() -> None:
    offered = [line for line, *_ in FAULTS if any(f.fixes for f in decoded(with_line(line))[1])]
    assert len(offered) >= 9


def test_a_slip_in_a_needed_key_is_one_finding() -> None:
    text = GOOD.replace("hot:", "hto:")
    drink, findings = decoded(text)
    assert [(f.code, str(f.span)) for f in findings] == [("KEY01", "a.yaml:2:1")]
    assert drink is not None  # read as the key it was meant for: no second finding later on
    assert drink.hot is False
    assert decoded(fixed(text, findings[0]))[1] == []


def test_missing_keys_are_one_finding_with_what_they_are() -> None:
    drink, findings = decoded("hot: yes\n")
    assert drink is None
    assert [(f.code, f.message) for f in findings] == [
        ("KEY02", "this entry lacks `name` and `from`")
    ]
    assert findings[0].hint == "name: what it is called; from: first day"


def test_everything_wrong_is_reported_in_one_run() -> None:
    text = "nmae: Tea\nhot: maybe\nfrom: today\nsteps: [{stir: 1}, {pour: T}]\nx: 1\n"
    drink, findings = decoded(text)
    assert drink is None
    assert [(f.code, f.span.line if f.span else 0) for f in findings] == [
        ("KEY01", 1),
        ("KEY01", 5),
        ("VAL04", 2),
        ("VAL05", 3),
        ("VAL08", 4),
        ("KEY02", 4),
        ("VAL07", 4),
    ]


def test_a_former_key_beside_its_new_name_is_not_known() -> None:
    drink, findings = decoded(GOOD + "with_ice: less\nice: lots\n")
    assert [(f.code, str(f.span)) for f in findings] == [("KEY01", "a.yaml:19:1")]
    assert drink is not None
    assert drink.with_ice == "less"


def test_a_former_key_with_a_wrong_value_is_two_findings() -> None:
    _, findings = decoded(with_line("ice: many"))
    assert [(f.code, str(f.span)) for f in findings] == [
        ("KEY03", "a.yaml:18:1"),
        ("VAL06", "a.yaml:18:6"),
    ]


def test_a_former_key_and_value_mean_what_they_meant() -> None:
    for line in ("ice: lots", "ice: more", "with_ice: lots", "with_ice: more"):
        drink, findings = decoded(with_line(line))
        assert all(f.severity is Severity.NOTE for f in findings)
        assert drink is not None
        assert drink.with_ice == "more"


def test_what_reading_reported_is_not_reported_again() -> None:
    _, findings = decoded("name: &n Tea\nhot: *n\nfrom: 2026-12-01\n")
    assert [f.code for f in findings] == ["TXT12", "TXT12"]
    _, findings = decoded("name: Tea\n<<: {hot: no, from: 2026-12-01}\n")
    assert [f.code for f in findings] == ["TXT14"]


def test_reference() -> None:
    text = reference(SampleDrink)
    assert text.startswith("### sample drink\n\nSomething to drink.\n")
    assert "| `name` | text, or `language: text` | yes | what it is called |" in text
    assert "| `from` | date | yes | first day |" in text
    assert "| `lid` | `flat` or `dome` |  |  |" in text
    assert "| `contains` | list of id |  |  |" in text
    assert "| `steps` | list of [pour](#pour) or [stir](#stir) |  |  |" in text
    assert "| `stir` | a time (`4 h`) | yes |  |" in text
    assert "| `mark` | a length or a volume (`90 mm`) |  | up to where |" in text
    for record in ("pour", "stir", "price"):
        assert text.count(f"### {record}\n") == 1


def test_annotations_without_meaning_are_an_error_of_the_program() -> None:
    @dataclass(frozen=True, slots=True, kw_only=True)
    class Wrong(Record):
        field: complex = key("")

    root, findings = read({"a": Source("a", "field: 1\n")})
    assert root is not None
    with pytest.raises(TypeError, match="no reading is declared"):
        Linker(findings).record(root, Wrong, None)


SCALARS = st.sampled_from(
    ["", "x", "yes", "1", "1,5", "2026-01-01", "3 ml", "1 cup", "flat", "[]", "{}", "'", "*x", "茶"]
)
KEYS = st.sampled_from(
    ["name", "hot", "from", "rank", "lid", "contains", "steps", "price", "gross", "pour", "nam"]
)
VALUES = st.recursive(
    SCALARS,
    lambda inner: st.one_of(
        st.lists(inner, max_size=3).map(lambda items: f"[{', '.join(items)}]"),
        st.dictionaries(KEYS, inner, max_size=3).map(
            lambda entries: "{" + ", ".join(f"{k}: {v}" for k, v in entries.items()) + "}"
        ),
    ),
    max_leaves=8,
)


@given(st.dictionaries(KEYS, VALUES, max_size=6))
def test_any_menu_gives_a_record_or_findings(entries: dict[str, str]) -> None:
    text = "".join(f"{key}: {value}\n" for key, value in entries.items())
    drink, findings = decoded(text)
    assert drink is not None or findings
    assert all(finding.span is not None for finding in findings)


@pytest.mark.parametrize(
    ("written", "offered"),
    [("purée-fraise", "puree-fraise"), ("Cœur glacé", "coeur-glace"), ("süßer Tee", "susser-tee")],
)
def test_an_id_with_accents_is_offered_the_letters_under_them(written: str, offered: str) -> None:
    _, (found,) = decoded(with_line(f"contains: [{written}]"))
    assert [fix.replacement for fix in found.fixes] == [offered]
