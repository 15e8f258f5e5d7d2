"""A small menu that is clean, the demo menu's texts, and ways to edit and check them."""

from __future__ import annotations

import tempfile
from collections.abc import Iterable, Mapping
from functools import lru_cache
from pathlib import Path

from buildsheets.findings.finding import Finding, Fix, Span
from buildsheets.menu.files import load_sources, own_layouts
from buildsheets.pipeline import Checked, check

DEMO = Path(__file__).parent.parent / "menu"

SMALL = """\
shop:
  name: Corner kiosk
  languages: [en]
  measures: metric
  currency: EUR
  allergen_list: eu14
  shelf_rules: us-food-code
  time_zone: Europe/Madrid
  card: A5
edition:
  code: S26
  name: Sample
  valid_from: 2026-03-01
  valid_to: 2026-09-30
stations:
  bar: {name: Bar, letter: B, accent: "#0b5563"}
  shaking: {name: Shaking, letter: S, accent: "#1f4e9a"}
tools:
  jug: {name: jug, kind: jug, step: 5 ml, tolerance: 2 ml}
  pump: {name: pump, kind: pump, step: 1 pump, holds: 5 ml}
  scoop: {name: scoop, kind: scoop, step: 1/2 scoop, holds: 40 g}
cups:
  medium:
    name: Medium
    base: 58 mm
    rim: 91 mm
    height: 114 mm
    floor: 3 mm
    headspace: 5 mm
    lid: flat
  tall:
    name: Tall
    profile:
      - {height: 0 mm, diameter: 60 mm}
      - {height: 150 mm, diameter: 90 mm}
    floor: 3 mm
    headspace: 30 ml
    lid: dome
  poured:
    name: Poured
    calibration:
      - {height: 50 mm, volume: 180 ml}
      - {height: 120 mm, volume: 560 ml}
    floor: 3 mm
    headspace: 5 mm
    lid: film
ingredients:
  water:
    name: Water
    nutrition: {per: 100 g, energy_kcal: 0, fat_g: 0, saturates_g: 0, carbohydrate_g: 0,
      sugars_g: 0, protein_g: 0, salt_g: 0, caffeine_mg: 0}
    contains: []
    density: 0.998 g/ml
    density_source: IAPWS-95, 20 °C
    pack: {quantity: 1000 l, price: 2.40}
  milk:
    name: Milk
    nutrition: {per: 100 g, energy_kcal: 61, fat_g: 3.3, saturates_g: 1.9, carbohydrate_g: 4.8,
      sugars_g: 4.8, protein_g: 3.2, salt_g: 0, caffeine_mg: 0}
    contains: [milk]
    density: 1.031 g/ml
    density_source: USDA SR26 01077
    pack: {quantity: 1 l, price: 1.05}
  cane:
    name: Syrup
    nutrition: {per: 100 g, energy_kcal: 260, fat_g: 0, saturates_g: 0, carbohydrate_g: 65,
      sugars_g: 65, protein_g: 0, salt_g: 0, caffeine_mg: 0}
    contains: []
    brix: 65 °Bx
    pack: {quantity: 1 l, price: 3.00}
  pearl-tin:
    name: Pearls
    nutrition: {per: 100 g, energy_kcal: 220, fat_g: 0, saturates_g: 0, carbohydrate_g: 54,
      sugars_g: 10, protein_g: 0, salt_g: 0, caffeine_mg: 0}
    contains: []
    density: 1.1 g/ml
    density_source: weighed here
    pack: {quantity: 1 kg, price: 4.00}
    cautions: [choking]
batches:
  brew:
    name: Brew
    parts:
      - {use: water, amount: 1 kg}
      - {use: milk, amount: 1 pack}
    lead: milk
    keeps_for: 2 days
    keeps_at: 5 °C
  strong-brew:
    name: Strong brew
    parts:
      - {use: brew, amount: 500 ml}
    keeps_for: 1 days
    keeps_at: 5 °C
bases:
  tea: {from: brew, tool: jug, station: bar, temperature: 5 °C}
  strong: {from: strong-brew, tool: jug, station: bar, temperature: 5 °C}
  plain-milk: {from: milk, tool: jug, station: bar, temperature: 5 °C}
sweeteners:
  sweet: {from: cane, tool: pump, station: bar}
toppings:
  pearls:
    from: pearl-tin
    behaves: settled
    density: 1.1 g/ml
    bulk_density: 0.66 g/ml
    tool: scoop
    station: bar
ice:
  cubes: {name: Cubes, packing: 55 %, tool: scoop, station: bar}
options:
  sweetness: {levels: [0 %, 50 %, 100 %], default: 100 %, with_less_sweet: more_base}
  ice:
    levels:
      without: {name: Without, share: 0 %}
      regular: {name: Regular, share: 100 %}
    default: regular
    with_less_ice: same_line
  add_ons: {at_most: 2, hold_back_at_most: 50 %}
add_ons:
  add-pearls: {topping: pearls, amount: 1 scoop, price: 0.60}
drinks:
  cloud:
    name: Cloud
    cups: [medium, tall, poured]
    price: 4.00
    add_ons: [add-pearls]
    build:
      - {add: pearls, amount: 1 scoop}
      - {add: sweet, amount: 2 pumps}
      - {add: cubes, amount: 2 scoops}
      - {add: plain-milk, amount: 100 ml}
      - {add: tea, fill_to: 380 ml}
      - {do: stir, for: 5 s}
  shaken:
    name: Shaken
    cups: [medium]
    price: 4.00
    build:
      - {add: sweet, amount: 2 pumps, into: shaker}
      - {add: strong, amount: 200 ml, into: shaker}
      - {add: cubes, amount: 2 scoops, into: shaker}
      - {do: shake, pour: strained, station: shaking}
days:
  busy:
    name: Busy day
    opens: "10:00"
    closes: "20:00"
    sales:
      - {drink: cloud, count: {medium: 5, tall: 3}, add_ons: {add-pearls: 2}}
      - {drink: shaken, count: 4}
"""


def demo() -> dict[str, str]:
    """The demo menu's files by name."""
    return {path.name: path.read_text("utf-8") for path in sorted(DEMO.glob("*.yaml"))}


def check_once(path: Path) -> Checked:
    """``check(path)``, done once for what the files there say: most tests only look at what comes
    of it, and the demo's takes as long as hundreds of them."""
    sources, findings = load_sources(path)
    if findings or str(path) == "-" or own_layouts(path).is_dir():
        return check(path)
    beside = (own_layouts(path).parent.resolve().parent / "layouts").is_dir()  # is told of
    return _checked(path, beside, tuple((one.name, one.text) for one in sources.values()))


@lru_cache(maxsize=8)
def _checked(path: Path, beside: bool, texts: tuple[tuple[str, str], ...]) -> Checked:
    return check(path)


def check_texts(files: Mapping[str, str] | str) -> Checked:
    """All stages over menu texts written to a folder of their own; spans name the bare file."""
    files = {"menu.yaml": files} if isinstance(files, str) else files
    with tempfile.TemporaryDirectory() as folder:
        for name, text in files.items():
            Path(folder, name).write_text(text, "utf-8", newline="")
        return check(Path(folder))


def swapped(text: str, old: str, new: str) -> str:
    """The text with ``old``, which must stand in it exactly once, written as ``new``."""
    assert text.count(old) == 1, f"{old!r} stands {text.count(old)} times"
    return text.replace(old, new)


def edited(files: Mapping[str, str], *edits: tuple[str, str]) -> dict[str, str]:
    """The files with each ``old`` written as ``new``; each stands once in one of them."""
    result = dict(files)
    for old, new in edits:
        (name,) = [name for name, text in result.items() if old in text]
        result[name] = swapped(result[name], old, new)
    return result


def place_of(text: str, mark: str, after: str = "") -> tuple[int, int]:
    """Line and column, counted from 1, of the first ``mark`` after ``after``."""
    at = text.index(mark, text.index(after))
    return text.count("\n", 0, at) + 1, at - text.rfind("\n", 0, at)


def starts(span: Span | None) -> tuple[int, int]:
    assert span is not None
    return span.line, span.column


def name_of(span: Span) -> str:
    return Path(span.file).name


def applied(files: Mapping[str, str], fix: Fix) -> dict[str, str]:
    """The files with a fix's replacement written at its span."""
    span = fix.span
    assert span is not None
    assert fix.replacement is not None
    lines = files[name_of(span)].split("\n")
    assert span.line == span.end_line
    line = lines[span.line - 1]
    lines[span.line - 1] = line[: span.column - 1] + fix.replacement + line[span.end_column - 1 :]
    return {**files, name_of(span): "\n".join(lines)}


def said(findings: Iterable[Finding]) -> list[str]:
    """Findings in short, for messages of failing tests."""
    return [f"{f.span} {f.code} {f.message}" for f in findings]


def identity(finding: Finding) -> tuple[object, ...]:
    """What tells a finding from another one after the file has been edited within a line."""
    line = finding.span.line if finding.span else 0
    return (finding.code, finding.subject, finding.span and name_of(finding.span), line)
