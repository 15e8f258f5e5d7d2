"""The arithmetic of buildsheets for other programs: plain numbers in, frozen results out.

Heights are in mm, volumes in ml, masses in g, densities in g/ml, temperatures in C. A *reading* or
*level* in ml is the ml of water that would stand equally high in the empty cup. Results keep full
double precision; refused inputs raise :class:`FigureError`, which names the input.

Cup capacity and its inverse::

    >>> from buildsheets import api
    >>> cup = api.frustum(58, 91, 114)                  # base, rim, inner height
    >>> round(cup.brimful_ml, 1)
    505.1
    >>> round(cup.height_mm(cup.volume_ml(50)), 9)      # V and its inverse
    50.0
    >>> working = cup.working_ml(headspace_mm=5)        # capacity under a 5 mm lid gap
    >>> round(working, 1)
    473.1

(also ``profile([(height, diameter), ...])`` and ``calibration([(height, ml), ...])``.)

Contents after each step, with verdicts::

    >>> steps = [api.Bed(60, 1.10, 0.66), api.Liquid(150, 1.03), api.Ice(140), api.Cap(30, 1.0, 80)]
    >>> state = api.states_after_each_step(cup, steps, working)[-1]
    >>> state.ice_regime, state.limiting, state.fits
    ('floats', 'cap', True)
    >>> round(state.top_ml, 1), round(state.room_ml, 1), round(state.headspace_mm, 1)
    (411.3, 61.8, 15.1)

Fill to a line, and hold back what is too much::

    >>> poured = api.fill_to_line(cup, steps[:1] + [api.Ice(140)], density=1.03, line_ml=390)
    >>> round(poured.poured_ml, 1)
    199.5
    >>> back = api.hold_back(cup, [api.Liquid(245, 1.03), api.Ice(205)], 0, working_ml=working,
    ...                      verdict="fits", step=5)
    >>> round(back.most, 2), back.most_to_step, back.held_back
    (229.31, 225, 20)

Chilling::

    >>> mixed = api.chill(liquid_g=200, liquid_density=1.0, liquid_c=90, ice_g=100)
    >>> mixed.regime, round(mixed.temperature_c, 1)
    ('all_melted', 33.5)

Tolerances::

    >>> jigger = api.Tolerance(5)
    >>> spread = api.combine([api.Term("tea", 200, jigger), api.Term("milk", 50, jigger)],
    ...                      capacity_ml=260)
    >>> spread.worst_fits, round(spread.p_over, 4), spread.monte_carlo(seed=7).p_over
    (True, 0.0072, 0.0)

(:func:`build_spread` does the same for a whole build.)

Batch and shelf life::

    >>> from datetime import date
    >>> cream = api.BatchIngredient("cream", 500, 1.0, pack_g=500)
    >>> batch = api.batch_yield([cream], portion_ml=40, overrun_pct=100, loss=0.05)
    >>> batch.portions, round(batch.leftover_ml, 6)
    (23, 30.0)
    >>> api.discard_date(date(2024, 4, 1), 7).isoformat()
    '2024-04-07'

Sugar, caffeine, energy, cost::

    >>> api.brix([api.SugarPart(25, 65), api.SugarPart(225, 0)])
    6.5
    >>> api.total_content([api.Source(20, "100 ml", mass_g=206, density=1.03)])
    40.0
    >>> api.label_energy(carbohydrate=10, fat=2)
    Energy(kcal=58.0, kj=244.0)
    >>> api.cost([api.CostLine(used=25, pack_quantity=1000, pack_price=7)])
    Decimal('0.18')
"""

from collections.abc import Sequence

from buildsheets.figures.chill import Chilled, chill
from buildsheets.figures.contents import (
    Bed,
    Cap,
    Contents,
    Dusted,
    Ice,
    Item,
    Levels,
    Liquid,
    add_up,
    levels,
    liquid_to_float_ml,
)
from buildsheets.figures.cost import CostLine, cost, exact_cost
from buildsheets.figures.cup import Cup, calibration, frustum, profile
from buildsheets.figures.errors import AboveRimError, FigureError, NotEnoughHeatError
from buildsheets.figures.fill import FillState, FillWarning, contents_state
from buildsheets.figures.fill import states_after_each_step as _states_after_each_step
from buildsheets.figures.holdback import HoldBack, hold_back
from buildsheets.figures.line import LineFill, Step, ToLine, fill_to_line, resolve_lines
from buildsheets.figures.nutrition import (
    EU_FACTORS,
    Energy,
    LabelAmount,
    Source,
    SugarPart,
    brix,
    kcal_to_kj,
    kj_to_kcal,
    label_amount,
    label_energy,
    per_100_ml,
    sucrose_density,
    sugar_g,
    total_content,
)
from buildsheets.figures.shelf import (
    Cooling,
    Frozen,
    cooling,
    cooling_from_readings,
    discard_date,
    discard_time,
)
from buildsheets.figures.tolerance import (
    Drawn,
    Spread,
    Term,
    Tolerance,
    build_monte_carlo,
    build_spread,
    combine,
    pour_spread,
)
from buildsheets.figures.yields import (
    BatchIngredient,
    BatchYield,
    BowlLoads,
    Packs,
    PackScale,
    batch_yield,
    bowl_loads,
    packs_needed,
    portions_from,
    whole_packs_of,
)

__all__ = [
    "EU_FACTORS",
    "AboveRimError",
    "BatchIngredient",
    "BatchYield",
    "Bed",
    "BowlLoads",
    "Cap",
    "Chilled",
    "Contents",
    "Cooling",
    "CostLine",
    "Cup",
    "Drawn",
    "Dusted",
    "Energy",
    "FigureError",
    "FillState",
    "FillWarning",
    "Frozen",
    "HoldBack",
    "Ice",
    "Item",
    "LabelAmount",
    "Levels",
    "LineFill",
    "Liquid",
    "NotEnoughHeatError",
    "PackScale",
    "Packs",
    "Source",
    "Spread",
    "Step",
    "SugarPart",
    "Term",
    "ToLine",
    "Tolerance",
    "add_up",
    "batch_yield",
    "bowl_loads",
    "brix",
    "build_monte_carlo",
    "build_spread",
    "calibration",
    "chill",
    "combine",
    "contents_state",
    "cooling",
    "cooling_from_readings",
    "cost",
    "discard_date",
    "discard_time",
    "exact_cost",
    "fill_to_line",
    "frustum",
    "hold_back",
    "kcal_to_kj",
    "kj_to_kcal",
    "label_amount",
    "label_energy",
    "levels",
    "liquid_to_float_ml",
    "packs_needed",
    "per_100_ml",
    "portions_from",
    "pour_spread",
    "profile",
    "resolve_lines",
    "states_after_each_step",
    "sucrose_density",
    "sugar_g",
    "total_content",
    "whole_packs_of",
]


def states_after_each_step(
    cup: Cup, steps: Sequence[Step], working_ml: float | None = None
) -> tuple[FillState, ...]:
    """One state per step, each of all steps so far, judged against ``working_ml`` (or brimful).

    Line steps (:class:`ToLine`) pour what reaches their line. Only the last state warns.
    """
    return _states_after_each_step(cup, resolve_lines(cup, steps), working_ml)
