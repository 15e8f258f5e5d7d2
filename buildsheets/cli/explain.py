"""A drink, a cup and a choice go in; the whole calculation, each number with its origin, comes out.

The text form rounds for reading; the JSON form carries full precision.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from buildsheets.cup.build import Fitter
from buildsheets.cup.fill import FillState
from buildsheets.cup.plan import plan
from buildsheets.cup.serving import Choice, Serving, StepFigure, Used
from buildsheets.cup.spread import spread
from buildsheets.menu.model import AddStep, Component, CupSize, DoStep, Drink, LineTo

Row = Sequence[str]


def explain_json(drink: Drink, size: CupSize, choice: Choice) -> dict[str, Any]:
    """Every number of a build with its place and formula, at full precision."""
    fitter = Fitter(plan(drink, size))
    fitted = fitter.fit(choice)
    serving = fitter.serving(choice)
    found = spread(fitter.plan, fitted)
    cup = fitter.plan.cup
    return {
        "drink": drink.id,
        "cup": {
            "id": size.id,
            "shape": size.shape_written.text,
            "at": str(size.shape_written.span),
            "brimful_ml": cup.brimful_ml,
            "rim_height_mm": cup.rim_height_mm,
            "headspace": size.written("headspace").text,
            "headspace_at": str(size.written("headspace").span),
            "working_ml": serving.working_ml,
            "working_mm": cup.height_mm(serving.working_ml),
        },
        "choice": {
            "sweetness": choice.sweetness,
            "ice": choice.ice,
            "add_ons": list(choice.add_ons),
        },
        "steps": [_step_json(figure, size) for figure in serving.steps],
        "verdict": serving.verdict,
        "requires": fitter.plan.requires,
        "held_back_ml": serving.held_back_ml,
        "over_ml": serving.over_ml,
        "worst_step": serving.worst_step,
        "verdicts": _verdicts(serving.final),
        "spread": {
            "nominal_ml": found.nominal_ml,
            "standard_ml": found.standard_ml,
            "expanded_ml": found.expanded_ml,
            "worst_ml": found.worst_ml,
            "worst_fits": found.worst_fits,
            "share_over": found.p_over,
            "shares": dict(found.shares),
            "largest": found.largest,
        },
    }


def _verdicts(state: FillState) -> dict[str, Any]:
    return {
        "fits": state.fits,
        "fluid_fits": state.fluid_fits,
        "lid_fits": state.lid_fits,
        "simple_rule_fits": state.simple_rule_fits,
        "room_ml": state.room_ml,
        "sum_ml": state.sum_ml,
        "top_ml": state.top_ml,
    }


def _step_json(figure: StepFigure, size: CupSize) -> dict[str, Any]:
    step, state = figure.step, figure.state
    found: dict[str, Any] = {"number": figure.number, "at": str(_place(figure, size))}
    if isinstance(step, DoStep):
        found |= {"do": step.action, "pour": step.pour, "seconds": step.seconds}
    elif figure.used is not None:
        found |= _used_json(step, figure.used, size)
    if figure.add_on is not None:
        found["add_on"] = figure.add_on.id
    if figure.chilled is not None:
        chilled = figure.chilled
        found["chilled"] = {
            "temperature_c": chilled.temperature_c,
            "melted_g": chilled.melted_g,
            "ice_left_g": chilled.ice_left_g,
            "liquid_ml": chilled.liquid_ml,
            "dilution": chilled.dilution,
        }
    found["shaker_ml"] = figure.shaker_ml
    if state is not None:
        found["state"] = _state_json(state)
    return found


def _used_json(step: AddStep, used: Used, size: CupSize) -> dict[str, Any]:
    component = step.component
    return {
        "add": component.id,
        "behaves": component.behaves,
        "into": step.into,
        "written": _written(step, size),
        "mass_g": used.mass_g,
        "volume_ml": used.volume_ml,
        "written_g": used.written_g,
        "count": used.count,
        "to_line_ml": used.to_line_ml,
        "to_line_mm": used.to_line_mm,
        "already_over_ml": used.already_over_ml,
        "solid_ml": _solid_ml(used),
        "density_g_ml": component.density_g_ml,
        "density_from": _origin(component),
        "bulk_density_g_ml": component.bulk_density_g_ml,
        "packing": component.packing,
        "overrun_pct": component.overrun_pct,
        "component_at": str(component.span),
    }


def _solid_ml(used: Used) -> float:
    """The material alone, without the gaps of a bed or the air of a cap."""
    return used.mass_g / used.component.density_g_ml


def _origin(component: Component) -> str:
    source = getattr(component.source, "density_source", "")
    return component.density_origin + (f" ({source})" if source else "")


def _state_json(state: FillState) -> dict[str, Any]:
    names = (
        "liquid_ml liquid_density liquid_level_ml liquid_level_mm bed_top_ml bed_top_mm "
        "ice_regime ice_bottom_ml ice_bottom_mm ice_top_ml ice_top_mm solids_top_ml cap_ml "
        "cap_base_ml cap_base_mm cap_top_ml cap_top_mm cap_top_bridged_ml top_ml top_mm "
        "headspace_ml headspace_mm overflow_ml room_ml sum_ml limiting ice_proud_mm fits "
        "fluid_fits lid_fits simple_rule_fits"
    )
    return {name: getattr(state, name) for name in names.split()}


def _place(figure: StepFigure, size: CupSize) -> object:
    step = figure.step
    if isinstance(step, AddStep) and size.id in step.amounts:
        return step.amounts[size.id].written.span
    return step.span


def _written(step: AddStep, size: CupSize) -> str:
    made = step.amounts.get(size.id)
    if made is None:
        return ""
    return f"to {made.written.text}" if isinstance(made, LineTo) else made.written.text


def explain_text(drink: Drink, size: CupSize, choice: Choice) -> str:
    """The calculation as short tables: cup, steps, verdict, spread and where figures come from."""
    fitter = Fitter(plan(drink, size))
    serving = fitter.serving(choice)
    found = spread(fitter.plan, fitter.fit(choice))
    cup = fitter.plan.cup
    said = [f"{drink.id} in {size.id}", _choice_words(choice)]
    lines = [" · ".join(part for part in said if part), ""]
    lines += _table(
        [
            ("cup", size.shape_written.text, "", f"{size.shape_written.span}"),
            ("to the rim", f"{cup.brimful_ml:.1f} ml", "V(H) of that inside", ""),
            (
                "may be filled",
                f"{serving.working_ml:.1f} ml",
                f"less {size.written('headspace').text}",
                f"{size.written('headspace').span}",
            ),
        ],
        (),
    )
    lines.append("")
    lines += _table(
        [_step_row(figure, size) for figure in serving.steps],
        ("step", "written", "makes", "how", "drink to", "bed", "ice", "cap", "top", "at"),
    )
    state = serving.final
    lines += [
        "",
        _verdict_words(serving),
        f"sum of true volumes {state.sum_ml:.1f} ml; highest "
        f"{state.top_ml:.1f} ml ({state.limiting}); {_rule_words(state)}",
    ]
    proud = state.ice_proud_mm
    if proud is not None and proud > 3.0:
        lines.append(f"ice stands {proud:.0f} mm above the drink")
    # Twice the deviation of one evenly spread tolerance would lie beyond its bound.
    usual_ml = min(found.expanded_ml, found.worst_ml)
    lines.append(
        f"your tools' spread: ± {usual_ml:.0f} ml usual, ± {found.worst_ml:.0f} ml worst; "
        f"about {100 * (found.p_over or 0.0):.1f} % of cups over; "
        f"{found.largest or 'nothing'} strays most"
    )
    lines += ["", "where the figures come from"]
    lines += _table(_origins(serving), ())
    return "\n".join(lines) + "\n"


def _choice_words(choice: Choice) -> str:
    parts = []
    if choice.sweetness is not None:
        parts.append(f"sweetness {100 * choice.sweetness:.0f} %")
    if choice.ice is not None:
        parts.append(f"ice {choice.ice}")
    return " · ".join([*parts, *choice.add_ons])


def _verdict_words(serving: Serving) -> str:
    if serving.verdict == "too-much":
        return f"TOO MUCH by {serving.over_ml:.1f} ml after step {serving.worst_step}"
    held = f", with {serving.held_back_ml:.0f} ml of base held back" if serving.held_back_ml else ""
    if serving.verdict == "lid-pressed":
        return f"fits with the lid pressed{held}"
    return f"fits, {serving.final.room_ml:.0f} ml of room left{held}"


def _rule_words(state: FillState) -> str:
    if state.simple_rule_fits == state.fits:
        return "the plain sum says the same"
    plain = "fits" if state.simple_rule_fits else "does not fit"
    return f"the plain sum would say it {plain}"


def _step_row(figure: StepFigure, size: CupSize) -> Row:
    step, used, state = figure.step, figure.used, figure.state
    if isinstance(step, DoStep):
        name, written, makes, how = str(step.action), str(step.pour), "", ""
        if figure.chilled is not None:
            chilled = figure.chilled
            makes = f"{chilled.temperature_c:.0f} °C"
            how = f"{chilled.melted_g:.0f} g ice melts"
    else:
        assert used is not None
        name = f"{step.component.id}{' (shaker)' if step.into == 'shaker' else ''}"
        written = _written(step, size) + _made_instead(step, used, size)
        makes, how = _makes(step, used)
    levels: tuple[str, ...] = ("", "", "", "", "")
    if state is not None:
        levels = (
            _level(state.liquid_level_ml, state.liquid_level_mm) if state.liquid_ml else "",
            _level(state.bed_top_ml, state.bed_top_mm) if state.bed_top_ml else "",
            _ice(state),
            _level(state.cap_top_ml, state.cap_top_mm) if state.cap_top_ml is not None else "",
            f"{state.top_ml:.0f} ml",
        )
    return (f"{figure.number} {name}", written, makes, how, *levels, str(_place(figure, size)))


def _made_instead(step: AddStep, used: Used, size: CupSize) -> str:
    """What this choice makes of the written amount, where it differs."""
    made = step.amounts.get(size.id)
    if isinstance(made, LineTo):
        line = used.to_line_ml
        changed = made.line_ml is not None and line is not None and line != made.line_ml
        return f", here {line:.0f} ml" if changed else ""
    if made is None or abs(used.mass_g - made.mass_g) < 1e-9:
        return ""
    if used.count is not None:
        return f", here {used.count:g}"
    return f", here {used.volume_ml:.0f} ml"


def _makes(step: AddStep, used: Used) -> tuple[str, str]:
    component = step.component
    density = f"{component.density_g_ml:.4g} g/ml"
    if used.to_line_ml is not None:
        return f"{used.volume_ml:.1f} ml", "poured until the drink stands at the line"
    if component.behaves == "liquid":
        return f"{used.volume_ml:.1f} ml", f"{used.mass_g:.1f} g / {density}"
    if component.behaves in ("settled", "ice"):
        makes = f"{_solid_ml(used):.1f} ml in {used.volume_ml:.1f}"
        return makes, f"{used.mass_g:.1f} g / {density}"
    if component.behaves == "floated":
        how = f"{used.mass_g:.1f} g / {density} × {1 + component.overrun_pct / 100:.2f}"
        return f"{used.volume_ml:.1f} ml", how
    return f"{used.mass_g:g} g", "takes no room"


def _level(reading_ml: float | None, height_mm: float | None) -> str:
    if reading_ml is None:
        return ""
    return f"{reading_ml:.0f} ml" + (f" {height_mm:.0f} mm" if height_mm is not None else " (over)")


def _ice(state: FillState) -> str:
    if state.ice_top_ml is None:
        return ""
    return f"{_level(state.ice_top_ml, state.ice_top_mm)} {state.ice_regime}"


def _origins(serving: Serving) -> list[Row]:
    seen: dict[str, Component] = {used.component.id: used.component for used in serving.used}
    rows: list[Row] = []
    for component in seen.values():
        density = f"{component.density_g_ml:.4g} g/ml"
        extra = []
        if component.bulk_density_g_ml is not None:
            extra.append(f"bulk {component.bulk_density_g_ml:.4g} g/ml")
        if component.packing is not None:
            extra.append(f"packing {component.packing:.2f}")
        if component.overrun_pct:
            extra.append(f"overrun {component.overrun_pct:.0f} %")
        rows.append(
            (component.id, density, ", ".join(extra), _origin(component), str(component.span))
        )
    return rows


def _table(rows: Sequence[Row], header: Row) -> list[str]:
    """Left-aligned columns two spaces apart; empty columns are left out."""
    every = [header, *rows] if header else list(rows)
    width = max((len(row) for row in every), default=0)
    full = [[*row, *[""] * (width - len(row))] for row in every]
    used = [i for i in range(width) if any(row[i] for row in full[(1 if header else 0) :])]
    widths = {i: max(len(row[i]) for row in full) for i in used}
    return ["  ".join(row[i].ljust(widths[i]) for i in used).rstrip() for row in full]


def parse_choice(drink: Drink, options: Mapping[str, str | Sequence[str]]) -> Choice:
    """A choice from words of the command line. Raises ``ValueError`` that names what is offered."""
    sweetness = drink.sweetness.default if drink.sweetness else None
    ice = drink.ice.default if drink.ice else None
    said = options.get("sweetness")
    if isinstance(said, str) and said:
        sweetness = _sweetness(drink, said)
    said = options.get("ice")
    if isinstance(said, str) and said:
        if drink.ice is None or said not in drink.ice.levels:
            offered = ", ".join(drink.ice.levels) if drink.ice else "no ice levels"
            raise ValueError(f"{drink.id} is not offered with ice '{said}': {offered}")
        ice = said
    wanted = options.get("add_ons") or ()
    keys = [wanted] if isinstance(wanted, str) else list(wanted)
    offered_ids = [add_on.id for add_on in drink.add_ons]
    for key in keys:
        if key not in offered_ids:
            names = ", ".join(offered_ids) or "none"
            raise ValueError(f"{drink.id} is not offered with '{key}'; its add-ons: {names}")
    ordered = tuple(key for key in offered_ids if key in keys)
    return Choice(sweetness, ice, ordered)


def _sweetness(drink: Drink, said: str) -> float:
    levels = drink.sweetness.levels if drink.sweetness else ()
    try:
        value = float(said.removesuffix("%").strip()) / 100.0
    except ValueError:
        value = -1.0
    for level in levels:
        if abs(level - value) < 1e-9:
            return level
    offered = ", ".join(f"{100 * level:g} %" for level in levels) or "no sweetness levels"
    raise ValueError(f"{drink.id} is not offered with sweetness '{said}': {offered}")
