"""A day plan goes in; the same as plain data for other programs comes out."""

from __future__ import annotations

from buildsheets.prep.dayplan import DayPlan, Run, clock


def plan_json(plan: DayPlan, language: str) -> dict[str, object]:
    """The plan as plain data; amounts in g and ml, times as clock times, money as text."""
    return {
        "day": plan.day.id,
        "opens": clock(plan.opens_min),
        "closes": clock(plan.closes_min),
        "components": [
            {
                "component": need.component.id,
                "mass_g": need.mass_g,
                "volume_ml": need.volume_ml,
                "servings": need.servings,
            }
            for need in plan.components
        ],
        "runs": [_run_json(run, language) for run in plan.runs],
        "purchases": [
            {
                "ingredient": one.ingredient.id,
                "mass_g": one.mass_g,
                "packs": None if one.packs is None else one.packs.count,
                "left_over": None if one.packs is None else one.packs.left_over,
                "unit": None if one.packs is None else one.packs.unit,
                "cost": None if one.cost is None else str(one.cost),
            }
            for one in plan.purchases
        ],
        "par": [
            {
                "batch": par.batch.id,
                "ready_batches": par.ready,
                "day_batches": par.day,
                "at_most_batches": par.at_most,
                "ready_g": _scaled(par.figure.yield_g, par.ready),
                "ready_ml": _scaled(par.figure.yield_ml, par.ready),
            }
            for par in plan.par
        ],
        "left_over": [
            {
                "batch": one.batch.id,
                "batches": one.left_share,
                "carries_over": one.carries_over,
            }
            for one in plan.batches
        ],
        "unknown": list(plan.unknown),
        "not_planned": [list(pair) for pair in plan.not_planned],
    }


def _run_json(run: Run, language: str) -> dict[str, object]:
    return {
        "batch": run.batch.id,
        "name": run.batch.name.in_language(language),
        "number": run.number,
        "start": clock(run.start_min),
        "ready": clock(run.ready_min),
        "until": clock(run.until_min),
        "factor": run.figure.factor,
        "needed_batches": run.share,
        "loads": run.loads,
        "yield_g": run.figure.yield_g,
        "yield_ml": run.figure.yield_ml,
    }


def _scaled(value: float | None, share: float) -> float | None:
    return None if value is None else value * share
