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
from buildsheets.cup.serving import Choice, Serving, StepFigure
from buildsheets.cup.strata import Stratum
from buildsheets.cup.tolerance import Spread
from buildsheets.findings.finding import Span
from buildsheets.menu.model import AddOn, AddStep, CupSize, DoStep, Drink, Swap
from buildsheets.prep.sales import NotSold, not_sold_now
from buildsheets.views.allergens import allergen_line, allergens_of
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

    @property
    def working_mm(self) -> float:
        return self.cup.height_mm(self.working_ml)

    @property
    def headspace_written(self) -> str:
        return self.size.written("headspace").text

    @property
    def headspace_at(self) -> Span:
        return self.size.written("headspace").span


KEYS[CupTold] = (
    "id=size shape_written=size.shape_written.text at=size.shape_written.span "
    "brimful_ml=cup.brimful_ml rim_height_mm=cup.rim_height_mm headspace_written headspace_at "
    "working_ml working_mm dome"
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
    said: Told
    at: Span
    station: str | None
    written: str

    @property
    def do(self) -> str | None:
        return self.figure.step.action if isinstance(self.figure.step, DoStep) else None

    @property
    def pour(self) -> str | None:
        return self.figure.step.pour or None if isinstance(self.figure.step, DoStep) else None

    @property
    def seconds(self) -> float | None:
        return self.figure.step.seconds if isinstance(self.figure.step, DoStep) else None

    @property
    def air_share(self) -> float | None:
        return self.figure.step.air_share if isinstance(self.figure.step, DoStep) else None

    @property
    def into(self) -> str | None:
        return self.figure.step.into if isinstance(self.figure.step, AddStep) else None

    @property
    def swap(self) -> Swap | None:
        return self.figure.step.swap if isinstance(self.figure.step, AddStep) else None

    @property
    def solid_ml(self) -> float | None:
        return None if self.figure.used is None else solid_ml(self.figure.used)

    @property
    def density_from(self) -> str | None:
        return None if self.figure.used is None else origin_of(self.figure.used.component)

    @property
    def layers(self) -> tuple[Stratum, ...]:
        return tuple(self.figure.state.contents.strata)


_USED = "mass_g volume_ml written_g count to_line_ml to_line_mm already_over_ml"
_COMPONENT = "behaves density_g_ml bulk_density_g_ml packing_share=packing overrun_pct"
KEYS[ExplainedStep] = (
    "number=figure.number at station thing=said.thing amount=said.amount unit=said.unit "
    "level_ml=said.level_ml vessel=said.vessel add=figure.used.component add_on=figure.add_on swap "
    "replaces=swap.replaced into written solid_ml density_from "
    + " ".join(f"{name}=figure.used.{name}" for name in _USED.split())
    + " "
    + " ".join(
        f"{name.partition('=')[0]}=figure.used.component.{name.rpartition('=')[2]}"
        for name in _COMPONENT.split()
    )
    + " component_at=figure.used.component.span do pour seconds air_share "
    "chilled=figure.chilled layers head_top_ml=figure.head_top_ml shaker_ml=figure.shaker_ml "
    "state=figure.state"
)
KEYS[Stratum] = "ml density_g_ml"
KEYS[Chilled] = "temperature_c melted_g ice_left_g liquid_ml dilution_share=dilution"
KEYS[FillState] = " ".join(
    [
        *("liquid_density_g_ml=liquid_density", "ice_regime=levels.ice_regime", "limiting"),
        *(f"{name}_ml:float" for name in ("liquid", "bed_top", "solids_top", "cap", "top", "sum")),
        *(f"{name}_ml:float" for name in ("headspace", "overflow", "room", "liquid_level")),
        *(f"{name}_ml:float|None" for name in ("ice_bottom", "ice_top", "cap_base", "cap_top")),
        *(f"{name}_mm:float|None" for name in ("liquid_level", "bed_top", "ice_bottom", "ice_top")),
        *(f"{name}_mm:float|None" for name in ("cap_base", "cap_top", "top", "headspace")),
        *("cap_top_bridged_ml", "ice_proud_mm", "in_dome_mm"),
        *(f"{name}:bool" for name in ("fits", "fluid_fits", "lid_fits", "simple_rule_fits")),
    ]
)


def explained(drink: Drink, size: CupSize, choice: Choice, wall: Wall) -> ExplainedBuild:
    """Every number of a build with its place, and what the cards say for that order."""
    serving = figure(drink, size, choice)
    fit, spread = serving.choices.fit(choice), serving.choices.spread(choice)
    cup, extras = serving.final.cup, [one for one in serving.offered if one.id in choice.add_ons]
    ids = {one.letter: one.id for one in wall.menu.stations.values()}
    return ExplainedBuild(
        serving,
        CupTold(size, cup, serving.working_ml, serving.final.dome),
        serving.allergens(),
        allergen_line(wall.words, allergens_of(wall.menu, serving, wall.words)),
        tuple(ExtraAllergens(one, allergen_report(one)) for one in extras),
        sold_when(wall.menu, serving.drink, wall.words),
        tuple(
            one
            for one in not_sold_now(wall.menu)
            if one.what in (serving.drink, *serving.drink.swapped, *extras)
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
    station = one.step.station.id if one.step.station else None
    text = written_as(one.step, size) if isinstance(one.step, AddStep) else ""
    return ExplainedStep(one, wall.figured(one), place_of(one, size), station, text)
