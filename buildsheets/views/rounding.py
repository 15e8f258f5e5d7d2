"""Figured values in, the text a reader sees out: the one place where cards round.

To what the tool can measure: levels to 5 ml or a quarter of a fluid ounce, heights to 1 mm or 1/16
in; to the safe side what is left out, up to such a step, yields and volumes down; grams to the step
of the shop's scale as figured.
"""

from __future__ import annotations

import math
from datetime import date, datetime
from fractions import Fraction

from buildsheets.cup.serving import StepFigure
from buildsheets.menu.model import AddStep, KeepsFor, Tool
from buildsheets.menu.volumes import VolumeUnit
from buildsheets.menu.when import clock as time_and_day
from buildsheets.prep.batches import Portion, Stored
from buildsheets.views.words import Words

_NOISE = 1e-6
_FRACTIONS = {0.25: "¼", 0.5: "½", 0.75: "¾"}


def line_number(words: Words, reading_ml: float) -> str:
    """A level or a line in the shop's unit, without it: 355 or 12¼."""
    return count(words, words.volumes.line(reading_ml))


def level(words: Words, reading_ml: float) -> str:
    """A level in words."""
    return words(words.volumes.word, n=line_number(words, reading_ml))


def grown(words: Words, tool: Tool | None, cold_ml: float, grown_ml: float) -> str:
    """Where what is measured into a tool stands when it has grown: as a level is read, then down to
    a mark of the tool; "" where that is not above what went in."""
    if tool is None or tool.unit != "ml":
        return level(words, grown_ml)
    mark_ml = tool.mark_above(cold_ml, grown_ml, words.volumes)
    return exactly(words, mark_ml, tool.marks) if mark_ml else ""


def left_out(words: Words, volume_ml: float) -> str:
    """What is too much, up to a step of the shop's unit."""
    unit = words.volumes
    steps = math.ceil(volume_ml / unit.step_ml - 1e-9)
    return words(unit.word, n=count(words, steps * unit.step))


def count(words: Words, value: float) -> str:
    """A tool count: 2, ½, 1½; other fractions as decimals."""
    whole = math.floor(value + 1e-9)
    rest = value - whole
    for share, sign in _FRACTIONS.items():
        if abs(rest - share) < 1e-6:
            return f"{whole or ''}{sign}"
    return words.number(round(value, 2))


def volume(words: Words, volume_ml: float, unit: VolumeUnit) -> str:
    """A volume as it is measured out, without its unit: 30, or 1½ and 1 1/8, for which typefaces
    have no sign."""
    if not unit.in_fractions:
        return amount(words, volume_ml)
    ounces = volume_ml / unit.ml
    eighths = round(ounces * 8)
    if abs(ounces * 8 - eighths) > _NOISE:
        return count(words, ounces)
    return _fraction(words, Fraction(eighths, 8))


def _fraction(words: Words, value: Fraction) -> str:
    """A number with a fraction: 2, 1½, or 1 1/8, for which typefaces have no sign."""
    whole, rest = divmod(value, 1)
    if rest.denominator in (1, 2, 4):
        return count(words, float(value))
    return f"{whole}\u00a0{rest}" if whole else f"{rest}"


def height(words: Words, height_mm: float, *, down: bool = False) -> dict[str, object]:
    """What a word says of a height, to the nearest that a ruler shows or down to it: ``length`` in
    whole mm or, for a shop of inches, in sixteenths; ``mm`` for a shop's own words."""
    mm, sixteenths = (
        math.floor(height_mm / step_mm + (_NOISE if down else 0.5)) for step_mm in (1, 25.4 / 16)
    )
    if words.in_inches:
        return {"mm": mm, "length": words("inches", n=_fraction(words, Fraction(sixteenths, 16)))}
    return {"mm": mm, "length": words("mms", n=mm)}


def exactly(words: Words, volume_ml: float, unit: VolumeUnit, places: int = 2) -> str:
    """What a tool gives, in a unit: ml to a hundredth, or to so many places."""
    number = words.number(round(volume_ml, places))
    return words(unit.word, n=volume(words, volume_ml, unit) if unit.in_fractions else number)


def amount(words: Words, value: float) -> str:
    """Grams or ml: whole ones from ten, else to one decimal where there is one."""
    if value >= 10.0 or abs(value - round(value)) < 0.05:
        return words.number(int(value + 0.5))
    return words.number(round(value, 1))


def is_one(words: Words, value: float) -> bool:
    """Whether a count is said of one: ½ pump and 1 pump, but 0 pumps; in French 0 and 1½ too."""
    return 0.0 < value <= 1.0 + 1e-9 or words.locale.plural_form(value) == "one"


def unit(words: Words, tool: Tool, value: float) -> str:
    """What a count of the tool is called: "pump", "pumps", or "× pump" where no plural is given."""
    one = words.text(tool.one or tool.name)
    if is_one(words, value):
        return one
    return words.text(tool.many) if tool.many else words("each_of", one=one)


def measured(figure: StepFigure, words: Words) -> tuple[str, str, str]:
    """(amount, unit, what helps to measure it) of what a step adds."""
    step, used = figure.step, figure.used
    assert isinstance(step, AddStep)
    assert used is not None
    tool, number = step.tool, amount_of(figure, words)
    if used.to_line_ml is not None:
        return number, words("ml_line"), ""
    marks = marks_of(tool, words)
    if used.count is not None and tool is not None:
        g, ml = amount(words, used.mass_g), volume(words, used.volume_ml, marks)
        each = words("grams", g=g) if tool.holds_ml is None else words(marks.word, n=ml)
        return number, unit(words, tool, used.count), each
    by_volume = used.component.by_volume(tool)
    if tool is None:
        name = ""
    elif by_volume:
        name = words("with_tool", tool=words.name(tool))
    elif tool.kind == "scale":
        name = words("on_tool", tool=words.name(tool))
    else:  # no tool but a scale shows grams
        name = words("weighed", tool=words.name(tool))
    each = words(marks.word, n="") if by_volume else words("grams", g="")
    return number, each.strip(), name


def amount_of(figure: StepFigure, words: Words) -> str:
    """What a step adds, without its unit: a line, counts of a tool, the volume of what a tool with
    marks holds or of a liquid, else grams, to what a fine scale shows."""
    step, used = figure.step, figure.used
    assert isinstance(step, AddStep)
    assert used is not None
    if used.to_line_ml is not None:
        return line_number(words, used.to_line_ml)
    if used.count is not None and step.tool is not None:
        return count(words, used.count)
    if used.component.by_volume(step.tool):
        return volume(words, used.volume_ml, marks_of(step.tool, words))
    if step.tool is not None and step.tool.unit == "g" and step.tool.step < 1.0:
        return grams(words, math.floor(used.mass_g / step.tool.step + 0.5) * step.tool.step)
    return amount(words, used.mass_g)


def portion(words: Words, one: Portion) -> tuple[str, str]:
    """(amount, unit) of a batch that go into a cup, as its tool measures them."""
    tool = one.tool
    if tool is not None and one.tool_counts is not None:
        return count(words, one.tool_counts), unit(words, tool, one.tool_counts)
    if one.component.by_volume(tool):
        marks = marks_of(tool, words)
        return volume(words, one.volume_ml, marks), words(marks.word, n="").strip()
    return grams(words, one.mass_g), words("prep_g")


def marks_of(tool: Tool | None, words: Words) -> VolumeUnit:
    """The unit of a volume: that of its tool's marks, where it has some, else the shop's."""
    return words.volumes if tool is None or tool.unit != "ml" else tool.marks


def counted_in(figure: StepFigure, words: Words) -> str:
    """What the tool of a step is counted in, "" where its amount is not counted."""
    step, used = figure.step, figure.used
    if not isinstance(step, AddStep) or step.tool is None or used is None or used.count is None:
        return ""
    return unit(words, step.tool, 2.0)


def grams(words: Words, value: float) -> str:
    """Grams without a thousands mark: 1250; tenths or hundredths only where the scale shows them.

    >>> grams(Words("es", {}), 2.5)
    '2,5'
    """
    if abs(value - round(value)) < _NOISE:
        return str(round(value))
    decimals = 1 if abs(value - round(value, 1)) < _NOISE else 2
    whole, rest = divmod(round(value, decimals), 1.0)
    return f"{whole:.0f}{words.number(rest, decimals)[1:]}"  # "0.5" behind "1250"


def whole_grams(words: Words, value: float, *, up: bool = False) -> str:
    """Grams with the unit, to 1 g: a yield down, what is needed up."""
    return words("prep_grams", g=str(_whole(value, up)))


def prep_volume(words: Words, value_ml: float, *, up: bool = False) -> str:
    """Below a litre to 5 ml, above to 0.01 l: a yield down, what is needed up.

    Under 5 ml in tenths.
    """
    if words.volumes.in_fractions:
        return _ounces(words, value_ml, up)
    if value_ml >= 1000:
        return words("prep_litres", l=_whole(value_ml / 10, up) / 100)
    if value_ml >= 5:
        return words("mls", n=str(5 * _whole(value_ml / 5, up)))
    return words("mls", n=_whole(value_ml * 10, up) / 10)


def _ounces(words: Words, value_ml: float, up: bool) -> str:
    """To a quarter of a fluid ounce, under one to a quarter of a teaspoon; from a quart on in whole
    quarts and fluid ounces to half a one: 4 qt 7½ fl oz."""
    unit = words.volumes
    ounces = value_ml / unit.ml
    if unit.large and ounces >= unit.large[1] - _NOISE:
        word, size = unit.large
        whole, rest = divmod(_whole(ounces * 2, up) / 2, size)
        left = [words(unit.word, n=count(words, rest))] if rest else []
        return " ".join([words(word, n=whole), *left])
    if unit.small and _NOISE < ounces < unit.step - _NOISE:
        word, size = unit.small
        return words(word, n=count(words, _whole(ounces / size * 4, up) / 4))
    return words(unit.word, n=count(words, _whole(ounces * 4, up) / 4))


def poured(words: Words, value_ml: float) -> str:
    """As one reads it off a jug: to the nearest step of it, two steps above a litre."""
    step_ml = words.volumes.step_ml * (2 if value_ml >= 1000 else 1)
    return prep_volume(words, step_ml * round(value_ml / step_ml))


def kilograms(words: Words, value_g: float) -> str:
    """What is needed, up to 0.1 kg: 4.2."""
    return words.number(tenths_of_kg(value_g) / 10)


def tenths_of_kg(value_g: float) -> int:
    """What is needed, in whole 0.1 kg."""
    return math.ceil(value_g / 100 - _NOISE)


def _whole(value: float, up: bool) -> int:
    return math.ceil(value - _NOISE) if up else math.floor(value + _NOISE)


def stored(words: Words, what: Stored, *, up: bool = False) -> str:
    """What it takes in its container, of a heap as ``1.9 l heaped``; grams of what is weighed or
    takes no known room; "" where neither is known."""
    if what.mass_g is not None and (what.weighed or what.room_ml is None):
        return whole_grams(words, what.mass_g, up=up)
    if what.room_ml is None:
        return ""
    amount = prep_volume(words, what.room_ml, up=up)
    return amount if what.heap_g_ml is None else words("prep_heaped", amount=amount)


def yield_amount(words: Words, what: Stored) -> str:
    """Room and mass of a yield, what is known of them: ``1.55 l · 1470 g``."""
    grams = [] if what.mass_g is None else [whole_grams(words, what.mass_g)]
    known = dict.fromkeys([stored(words, what), *grams])  # once where the room is told in grams
    return " · ".join(filter(None, known)) or words("prep_unknown")


def factor(words: Words, value: float) -> str:
    """A factor with its sign: ``× 0.5``; two decimals at most, rounded half up."""
    return f"× {words.number(math.floor(value * 100 + 0.5) / 100)}"


def seconds(words: Words, value: float) -> str:
    """A time in the unit a kitchen timer shows: seconds to 2 min, minutes to 2 h, then hours."""
    if value < 120:
        return words("prep_s", s=round(value))
    if value < 7200:
        return words("prep_min", min=round(value / 60, 1))
    return words("prep_h", h=round(value / 3600, 1))


def celsius(words: Words, value: float) -> str:
    """A temperature in whole degrees, of Fahrenheit too where the words say so: 41 °F (5 °C)."""
    return words("prep_celsius", t=round(value), f=round(value * 9 / 5 + 32))


def keeps(words: Words, value: KeepsFor) -> str:
    """A keeping time: ``3 days`` or ``4 h``."""
    if value.days is not None:
        return words("prep_days", count=value.days)
    return words("prep_h", h=value.hours or 0.0)


def moment(when: datetime) -> str:
    """A clock time in 24 hours."""
    return f"{when:%H:%M}"


def day(words: Words, when: date) -> str:
    """A date with its weekday, so that nobody has to count."""
    from babel.dates import format_skeleton

    return format_skeleton("yMMMEd", when, locale=words.locale)


def day_unbroken(words: Words, when: date) -> str:
    """A weekday and date without the year, kept on one line."""
    from babel.dates import format_skeleton

    return format_skeleton("MMMEd", when, locale=words.locale).replace(" ", "\u00a0")


def clock(words: Words, minutes: float) -> str:
    """Minutes of the planned day as a time, with the day where it is another one."""
    time, days = time_and_day(minutes)
    return f"{time} ({on_day(words, days)})" if days else time


def clocks(words: Words, first: float, last: float) -> str:
    """Two times as "20:11 – 20:27 (the day before)", or one where they are the same."""
    if first == last or time_and_day(first)[1] != time_and_day(last)[1]:
        return " – ".join(dict.fromkeys((clock(words, first), clock(words, last))))
    return f"{time_and_day(first)[0]} – {clock(words, last)}"


def on_day(words: Words, days: int) -> str:
    """Which day a time is on, counted from the planned day; "" on that itself."""
    if days == 0:
        return ""
    key = "prep_day_after" if days > 0 else "prep_day_before" if days == -1 else "prep_days_before"
    return words(key, count=-days)


def of_tool(words: Words, tool: Tool) -> str:
    """What one count of a tool gives, or how far apart its marks are: 5 ml, 0.25 g."""
    if tool.holds_ml is not None:
        return exactly(words, tool.holds_ml, words.volumes)
    if tool.holds_g is not None:
        return words("grams", g=words.number(round(tool.holds_g, 2)))
    if tool.unit == "ml":
        return exactly(words, tool.step, tool.marks)
    return f"{words.number(round(tool.step, 2))} {tool.unit}"
