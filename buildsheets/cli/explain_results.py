"""An order in a cup and the wall go in; the record that the JSON of ``explain`` tells comes out."""

from __future__ import annotations

from dataclasses import dataclass, replace

from buildsheets.cli.explain import origin_of, place_of, solid_ml, written_as
from buildsheets.cli.plain_data import KEYS
from buildsheets.cli.prep_results import ALLERGENS
from buildsheets.cli.told import CardTold, Wall
from buildsheets.cup.allergens import AllergenReport, allergen_report
from buildsheets.cup.chill import Chilled
from buildsheets.cup.contents import Verdict
from buildsheets.cup.cup import Cup
from buildsheets.cup.dome import Dome
from buildsheets.cup.fill import FillState
from buildsheets.cup.scan import figure
from buildsheets.cup.serving import Choice, Serving, StepFigure, Used
from buildsheets.cup.strata import Stratum
from buildsheets.cup.tolerance import Spread
from buildsheets.findings.finding import Span
from buildsheets.menu.model import AddOn, AddStep, CupSize, DoStep, Drink, Written
from buildsheets.prep.sales import NotSold, not_sold_now
from buildsheets.views.allergens import allergens_of_order
from buildsheets.views.when import sold_when
from buildsheets.wall.reading import Told


@dataclass(frozen=True, slots=True)
class Explained:
    """An order worked out in each cup it was asked for."""

    builds: tuple[ExplainedBuild, ...]


@dataclass(frozen=True, slots=True)
class CupTold:
    """A cup, and how far it may be filled."""

    size: CupSize
    cup: Cup
    working_ml: float
    dome: Dome | None
    working_mm: float
    headspace: Written


KEYS[CupTold] = (
    "id=size shape_written=size.shape_written.text at=size.shape_written.span "
    "brimful_ml=cup.brimful_ml rim_height_mm=cup.rim_height_mm headspace_written=headspace.text "
    "headspace_at=headspace.span working_ml working_mm dome"
)
KEYS[Dome] = "rim_mm height_mm hole_mm volume_ml"


@dataclass(frozen=True, slots=True)
class ExtraAllergens:
    """What an add-on brings."""

    add_on: AddOn
    report: AllergenReport


KEYS[ExtraAllergens] = f"add_on {ALLERGENS}"


@dataclass(frozen=True, slots=True)
class ExplainedBuild:
    """An order in one cup: each step's figures, what the tools spread, and what the cards say."""

    serving: Serving
    cup: CupTold
    allergens: AllergenReport
    allergens_printed: str
    add_on_allergens: tuple[ExtraAllergens, ...]
    sold: str
    not_sold_now: tuple[NotSold, ...]
    steps: tuple[ExplainedStep, ...]
    requires: Verdict
    hands_ml: float
    taken_ml: float
    spread: Spread
    over_rim_share: float | None
    cards: tuple[CardTold, ...]

    @property
    def strays(self) -> tuple[Strays, ...]:
        return tuple(Strays(*one) for one in self.spread.shares)


@dataclass(frozen=True, slots=True)
class Strays:
    """How much of the spread comes from one thing."""

    id: str
    share: float


KEYS[ExplainedBuild] = (
    "order=serving cup allergens allergens_printed add_on_allergens sold not_sold_now "
    "steps verdict=serving.verdict held_back_ml=serving.held_back_ml over_ml=serving.over_ml "
    "worst_step=serving.worst_step requires hands_ml taken_ml final=serving.final "
    "spread over_rim_share strays cards"
)
KEYS[Spread] = "nominal_ml standard_ml expanded_ml worst_ml worst_fits largest over_share=p_over"


@dataclass(frozen=True, slots=True)
class ExplainedStep:
    """A step, what it takes, and the cup after it; where nothing is added, or nothing done, the
    keys that tell of it are null."""

    figure: StepFigure
    used: Used | None
    said: Told
    at: Span
    station: str | None
    written: str
    adds: AddStep | None
    does: DoStep | None
    solid_ml: float | None
    density_from: str | None


KEYS[ExplainedStep] = """
    number=figure.number at station thing=said.thing amount=said.amount unit=said.unit
    level_ml=said.level_ml vessel=said.vessel
    add=used.component add_on=figure.add_on swap=adds.swap replaces=adds.swap.replaced
    into=adds.into written mass_g=used.mass_g volume_ml=used.volume_ml written_g=used.written_g
    count=used.count to_line_ml=used.to_line_ml to_line_mm=used.to_line_mm
    already_over_ml=used.already_over_ml solid_ml behaves=used.component.behaves
    density_g_ml=used.component.density_g_ml density_from
    bulk_density_g_ml=used.component.bulk_density_g_ml packing_share=used.component.packing
    overrun_pct=used.component.overrun_pct component_at=used.component.span
    do=does.action pour=does.pour:str|None seconds=does.seconds air_share=does.air_share
    chilled=figure.chilled layers=figure.state.contents.strata head_top_ml=figure.head_top_ml
    shaker_ml=figure.shaker_ml state=figure.state
"""
KEYS[Stratum] = "ml density_g_ml"
KEYS[Chilled] = "temperature_c melted_g ice_left_g liquid_ml dilution_share=dilution"
KEYS[FillState] = """
    liquid_ml:float liquid_density_g_ml=liquid_density
    liquid_level_ml:float liquid_level_mm:float|None bed_top_ml:float bed_top_mm:float|None
    ice_regime=levels.ice_regime ice_bottom_ml:float|None ice_bottom_mm:float|None
    ice_top_ml:float|None ice_top_mm:float|None ice_proud_mm solids_top_ml:float
    cap_ml:float cap_base_ml:float|None cap_base_mm:float|None cap_top_ml:float|None
    cap_top_mm:float|None cap_top_bridged_ml in_dome_mm top_ml:float top_mm:float|None limiting
    headspace_ml headspace_mm overflow_ml room_ml sum_ml:float
    fits:bool fluid_fits:bool lid_fits:bool simple_rule_fits:bool
"""


def explained(drink: Drink, size: CupSize, choice: Choice, wall: Wall) -> ExplainedBuild:
    """Every number of a build with its place, and what the cards say for that order."""
    serving = figure(drink, size, choice)
    fit, spread = serving.choices.fit(choice), serving.choices.spread(choice)
    cup = serving.final.cup
    ids = {one.letter: one.id for one in wall.menu.stations.values()}
    return ExplainedBuild(
        serving,
        CupTold(
            size,
            cup,
            serving.working_ml,
            serving.final.dome,
            cup.height_mm(serving.working_ml),
            size.written("headspace"),
        ),
        serving.allergens(),
        allergens_of_order(wall.menu, serving, wall.words)[0],
        tuple(ExtraAllergens(one, allergen_report(one)) for one in serving.added),
        sold_when(wall.menu, serving.drink, wall.words),
        tuple(
            one
            for one in not_sold_now(wall.menu)
            if one.what in (serving.drink, *serving.drink.swapped, *serving.added)
        ),
        tuple(_explained(one, size, wall) for one in serving.steps),
        serving.choices.build.requires,
        fit.hands_ml,
        fit.taken,
        spread,
        None if fit.in_dome else spread.share_over(cup.brimful_ml),
        tuple(
            replace(
                card,
                station=ids.get(card.station, ""),
                steps=tuple(replace(one, station=ids.get(one.station, "")) for one in card.steps),
            )
            for card in wall.cards(serving)
        ),
    )


def _explained(one: StepFigure, size: CupSize, wall: Wall) -> ExplainedStep:
    step, used = one.step, one.used
    adds = step if isinstance(step, AddStep) else None
    return ExplainedStep(
        one,
        used,
        wall.figured(one),
        place_of(one, size),
        step.station.id if step.station else None,
        written_as(adds, size) if adds else "",
        adds,
        step if isinstance(step, DoStep) else None,
        None if used is None else solid_ml(used),
        None if used is None else origin_of(used.component),
    )
