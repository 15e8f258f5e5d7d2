"""The arithmetic of buildsheets for other programs: plain numbers in, frozen results out.

Heights are in mm, volumes in ml, masses in g, densities in g/ml, temperatures in C, heats in J. A
*reading* or *level* in ml is the ml of water that would stand equally high in the empty cup. A
capacity or line is a reading too. "Fits" forgives 1e-6 ml, so equality fits. Results keep full
double precision; refused inputs raise :class:`FigureError`, a ``ValueError`` that names the input.
``pct`` is a percentage, ``loss``, ``fill``, ``usable`` and ``packing`` are shares of 1.

Where to find what (numbers are sections of the fill model):

1 Cup
  shape                           ``frustum``, ``profile``, ``calibration`` make a ``Cup``
  V(z), its inverse, A(z)         ``Cup.volume_ml``, ``Cup.height_mm``, ``Cup.area_mm2``
  brimful, inner height           ``Cup.brimful_ml``, ``Cup.rim_height_mm``
  working capacity (lid gap)      ``Cup.working_ml(headspace_mm=)``, ``(headspace_ml=)``
  a dome lid over its rim         ``Dome``: ``Dome.volume_ml``, ``Dome.stands_mm``
2 Contents
  what goes in                    ``Liquid`` (``.of_mass``), ``Bed``, ``Ice``, ``Cap``,
                                  ``Swimmer``, ``Slice``, ``Dusted``
  state of a cup, its verdicts    ``contents_state``; ``states_after_each_step`` for every step:
                                  a ``FillState`` of levels in ml and mm, S (``sum_ml``), headspace,
                                  ``overflow_ml``, ``room_ml``, ``fits``, ``fluid_fits``,
                                  ``simple_rule_fits``, ``lid_fits``, ``warnings``
  levels without a cup            ``levels`` of the sums of ``add_up``
  liquid needed to float the ice  ``liquid_to_float_ml``
  the most of an item that fits   ``hold_back``
3 Fill to line
  the volume that reaches it      ``fill_to_line``; as a step ``ToLine``, ``resolve_lines``
4 Chilling
  melt, temperature, dilution     ``chill``; into the cup ``Chilled.strained``, ``Chilled.dumped``
5 Tolerances
  of an amount, of a line in mm   ``Tolerance``, ``Tolerance.of_line``
  a sum with its sensitivities    ``combine`` of ``Term``: a ``Spread`` of worst case, u, U, P(over)
  a whole build, numerically      ``build_spread``; of what a line step pours ``pour_spread``
  Monte Carlo                     ``Spread.monte_carlo`` (linear), ``build_monte_carlo`` (whole)
6 Batch and shelf life
  mass of an ingredient           ``BatchIngredient``, ``.by_volume``, ``.by_packs``
  yield, portions, foam density   ``batch_yield``; of any amount ``portions_from``
  scale for N portions            ``BatchYield.scale_for``; and back ``BatchYield.portions_at``
  packs and what is left          ``packs_needed``; up to whole packs of one ``whole_packs_of``
  bowl                            ``bowl_loads``
  discard date, time, cooling     ``discard_date``, ``discard_time``, ``cooling``,
                                  ``cooling_from_readings``
7 Sugar, caffeine, energy, cost
  Brix, total sugar               ``brix``, ``sugar_g`` of ``SugarPart``
  caffeine, energy by content     ``total_content`` of ``Source``; strength ``per_100_ml``
  energy of nutrients, rounding   ``label_energy`` (``EU_FACTORS``), ``label_amount``
  kcal and kJ, sucrose            ``kcal_to_kj``, ``kj_to_kcal``, ``sucrose_density``
  cost                            ``cost`` of ``CostLine`` (rounded once), ``exact_cost``
8 Refusals
  any refused input               ``FigureError``; ``AboveRimError``, ``NotEnoughHeatError``
From a kitchen scale
  rows for ``calibration``        ``pour_points``
  ice scoop, packing of the ice   ``scoop``, ``packing``
  overrun of a cap                ``overrun_pct``
  head of soda                    ``head_share``; above a level in mm ``Cup.reading_above``
From a menu in YAML
  read and check it               ``check_menu``
  a drink in a cup for a choice   ``figure`` (``Choice``, ``default_choice``): a ``Serving``
  every choice a guest can make   ``choices``; which of them fit ``scan``

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

From a kitchen scale::

    >>> poured = api.calibration(api.pour_points([(40, 150), (80, 310), (110, 480)]))
    >>> round(poured.brimful_ml, 1)
    480.9
    >>> api.scoop([138, 142, 140]).mean_g, round(api.packing(ice_g=504, jug_ml=1000), 2)
    (140.0, 0.55)
    >>> api.overrun_pct(liquid_g=100, foam_g=50)
    100.0

From a menu (a folder, or one YAML file)::

    checked = api.check_menu("menu")
    for drink in checked.menu.drinks.values() if checked.menu else ():
        for size in drink.cups:
            serving = api.figure(drink, size)
            print(drink.id, size.id, serving.verdict, serving.final.room_ml)
            print(len(api.scan(drink, size).too_much), "choices do not fit")
"""

from __future__ import annotations

from os import PathLike
from pathlib import Path
from typing import TYPE_CHECKING

from buildsheets.cup.chill import Chilled, chill
from buildsheets.cup.contents import Contents, Levels, add_up, levels, liquid_to_float_ml
from buildsheets.cup.cup import Cup, calibration, frustum, profile
from buildsheets.cup.dome import Dome
from buildsheets.cup.errors import AboveRimError, FigureError, NotEnoughHeatError
from buildsheets.cup.fill import (
    FillState,
    FillWarning,
    LineFill,
    contents_state,
    fill_to_line,
    states_after_each_step,
)
from buildsheets.cup.fit import default_choice
from buildsheets.cup.holdback import HoldBack, hold_back
from buildsheets.cup.items import Bed, Cap, Dusted, Ice, Item, Liquid, Slice, Swimmer
from buildsheets.cup.measuring import Scoop, head_share, overrun_pct, packing, pour_points, scoop
from buildsheets.cup.scan import Outcome, Scan, choices, figure, scan
from buildsheets.cup.serving import Choice, Serving, StepFigure, Used
from buildsheets.cup.simulate import Step, ToLine, resolve_lines
from buildsheets.cup.tolerance import AmountTolerance as Tolerance
from buildsheets.cup.tolerance import (
    Drawn,
    Spread,
    Term,
    build_monte_carlo,
    build_spread,
    combine,
    pour_spread,
)
from buildsheets.prep.cost import CostLine, cost, exact_cost
from buildsheets.prep.food_labels import EU_FACTORS, Energy, LabelAmount, label_amount, label_energy
from buildsheets.prep.keeping_dates import (
    Cooling,
    Frozen,
    cooling,
    cooling_from_readings,
    discard_date,
    discard_time,
)
from buildsheets.prep.nutrition import (
    Source,
    SugarPart,
    brix,
    kcal_to_kj,
    kj_to_kcal,
    per_100_ml,
    sucrose_density,
    sugar_g,
    total_content,
)
from buildsheets.prep.yields import (
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

if TYPE_CHECKING:
    from buildsheets.pipeline import Checked

__all__ = [
    "EU_FACTORS", "AboveRimError", "BatchIngredient", "BatchYield", "Bed", "BowlLoads", "Cap",
    "Chilled", "Choice", "Contents", "Cooling", "CostLine", "Cup", "Dome", "Drawn", "Dusted",
    "Energy", "FigureError", "FillState", "FillWarning", "Frozen", "HoldBack", "Ice", "Item",
    "LabelAmount", "Levels", "LineFill", "Liquid", "NotEnoughHeatError", "Outcome", "PackScale",
    "Packs", "Scan", "Scoop", "Serving", "Slice", "Source", "Spread", "Step", "StepFigure",
    "SugarPart", "Swimmer", "Term", "ToLine", "Tolerance", "Used", "add_up", "batch_yield",
    "bowl_loads", "brix", "build_monte_carlo", "build_spread", "calibration", "check_menu", "chill",
    "choices", "combine", "contents_state", "cooling", "cooling_from_readings", "cost",
    "default_choice", "discard_date", "discard_time", "exact_cost", "figure", "fill_to_line",
    "frustum", "head_share", "hold_back", "kcal_to_kj", "kj_to_kcal", "label_amount",
    "label_energy", "levels", "liquid_to_float_ml", "overrun_pct", "packing", "packs_needed",
    "per_100_ml", "portions_from", "pour_points", "pour_spread", "profile", "resolve_lines", "scan",
    "scoop", "states_after_each_step", "sucrose_density", "sugar_g", "total_content",
    "whole_packs_of",
]  # fmt: skip


def check_menu(path: str | PathLike[str]) -> Checked:
    """Read and check a menu: its ``menu``, ``servings`` of the default choices and ``findings``.

    ``menu`` is None if nothing could be read; ``stopped`` says whether an error stands. Faults of
    the menu are findings and do not raise.
    """
    from buildsheets.pipeline import check  # reads YAML: the arithmetic above needs no library

    return check(Path(path))
