"""The faults linking can find: a code in, its name and why it matters at the counter out."""

from __future__ import annotations

from buildsheets.findings.finding import Severity
from buildsheets.menu.faults import Fault

_DOCUMENTED = {
    "REF01": (
        "unknown-name",
        "A name must be declared somewhere in the menu; a slip of the pen would leave a hole "
        "in a build.",
    ),
    "REF02": (
        "name-twice",
        "Two things of one name: nobody could tell which one a step means.",
    ),
    "RNG01": (
        "value-out-of-range",
        "A value outside what is possible, such as a negative volume or a share over 100 %.",
    ),
    "SHP01": ("time-zone-unknown", "Discard times need the shop's own clock, by its IANA name."),
    "SHP02": ("card-size-unknown", "A card must have a size a printer and a pouch can take."),
    "SHP03": ("currency-unclear", "Prices need a currency by its three-letter code (ISO 4217)."),
    "LNG01": (
        "language-unknown",
        "The fixed words of the cards exist in a few languages; a card half in another one "
        "teaches nobody.",
    ),
    "KEEP01": (
        "rules-incomplete",
        "A shop's own keeping rules must say days, cold and hot; a gap would let food stand.",
    ),
    "KEEP02": (
        "rules-loosened",
        "A shop may be stricter than the rules it follows, never looser (FDA Food Code 3-501.16, "
        "3-501.17; Food Safety and Hygiene (England) Regulations 2013, Schedule 4).",
    ),
    "EDN01": ("edition-ends-early", "An edition must end on or after the day it begins."),
    "EDN02": ("edition-code-unfit", "The edition's code names a folder and prints on each card."),
    "STN01": (
        "station-letter-unfit",
        "One letter marks a station, so that cards are told apart in grey print.",
    ),
    "STN02": ("station-letter-twice", "Two stations of one letter look alike in grey print."),
    "STN03": ("station-colour-unfit", "The accent must be a colour whose contrast can be checked."),
    "STN04": (
        "station-missing",
        "Each step happens somewhere; without a station it stands on no station card.",
    ),
    "TOOL01": (
        "tool-holds-missing",
        "A pump or scoop is a measure only when somebody has measured what one gives.",
    ),
    "TOOL02": (
        "tool-count-unclear",
        "'2 pumps' means something only for a component that is measured with a pump.",
    ),
    "CUP01": (
        "cup-geometry-unclear",
        "Fill lines come from the inside of the cup; it must be given in exactly one form.",
    ),
    "CUP02": ("cup-level-incomplete", "Each level of a cup needs its height and its partner."),
    "CUP03": (
        "cup-levels-unordered",
        "Levels rise from the floor to the rim; pour calibrations rise in both columns.",
    ),
    "CUP04": (
        "headspace-out-of-range",
        "What must stay empty under the lid lies between nothing and the whole cup.",
    ),
    "DEN01": (
        "density-without-source",
        "Tables disagree (granulated sugar 0.70 in FAO/INFOODS v2, 0.85 in USDA SR26), so a "
        "density counts only with its source.",
    ),
    "DEN02": (
        "density-missing",
        "A volume turns into grams, and grams into room in the cup, only through a density.",
    ),
    "DEN03": (
        "settled-density-missing",
        "A settled topping takes its particle volume and stands in a bed of its bulk volume; "
        "both densities are needed.",
    ),
    "DEN04": (
        "bulk-density-too-high",
        "A heap has gaps between its pieces, so a millilitre of it weighs less than a "
        "millilitre of the piece.",
    ),
    "BAT01": ("batch-needs-itself", "A batch that needs itself can never be made."),
    "BAT02": ("batch-empty", "A batch is made of something."),
    "BAT03": ("batch-lead-not-used", "A batch can only scale by packs of something in it."),
    "BAT04": ("yield-said-twice", "A yield is measured or figured; two would contradict."),
    "BAT05": ("pack-unknown", "'1 pack' means something only when the pack is declared."),
    "OPT01": (
        "add-ons-too-many",
        "Every combination is checked; more than two add-ons at once are not sold.",
    ),
    "OPT02": ("default-not-offered", "What is made when nobody says must be one of the levels."),
    "OPT03": ("add-on-is-ice", "Ice has its own levels; as an add-on it would be counted twice."),
    "DRK01": ("drink-without-cups", "A drink is sold in at least one cup."),
    "DRK02": ("amount-unclear", "A step says how much, or up to which line; never both."),
    "DRK03": ("line-needs-liquid", "Only a liquid finds its level; solids are weighed."),
    "DRK04": (
        "size-left-out",
        "Each step needs an amount for each cup the drink is sold in, or somebody will guess.",
    ),
    "DRK05": (
        "shake-pour-unclear",
        "Whether the shaken ice goes into the cup changes the level by a third of the drink.",
    ),
    "DRK06": ("body-twice", "One base makes room for add-ons; two would each wait for the other."),
    "DRK07": ("drink-without-base", "Something must be able to make room for an add-on."),
    "DRK08": ("shaker-empty", "A shake needs something in the shaker."),
    "DRK09": ("shaker-not-poured", "What is left in the shaker never reaches the guest."),
    "DRK10": ("body-not-a-base", "What makes room is a base: less topping is another drink."),
    "DAY01": ("day-closes-early", "A day must close after it opens."),
    "DAY02": ("time-of-day-unclear", "Prep is planned by the clock: 09:00, 20:30."),
}

LINK_FAULTS = {
    code: Fault(name, Severity.ERROR, documentation)
    for code, (name, documentation) in _DOCUMENTED.items()
}
"""Every fault that linking can report, by code."""
