"""The faults a menu can have: a code and a place go in, a finding with its name comes out."""

from __future__ import annotations

from dataclasses import dataclass

from buildsheets.findings.finding import Finding, Label, Mend, Severity, Span


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault of a menu's text: its name in words, its severity and what it is about."""

    name: str
    severity: Severity
    documentation: str


_OTHER_SEVERITY = {"TXT07": Severity.WARNING, "KEY03": Severity.NOTE}


def _faults(table: dict[str, tuple[str, str]]) -> dict[str, Fault]:
    return {
        code: Fault(name, _OTHER_SEVERITY.get(code, Severity.ERROR), documentation)
        for code, (name, documentation) in table.items()
    }


_OF_A_TEXT = {
    "TXT01": ("path-missing", "The menu file or folder does not exist."),
    "TXT02": ("file-unreadable", "The system does not let the file be read."),
    "TXT03": ("no-menu-files", "A menu folder holds at least one .yaml or .yml file."),
    "TXT04": ("too-large", "Files beyond a size no menu reaches are not read."),
    "TXT05": ("not-utf8", "Menu files are saved as UTF-8, else letters turn to rubbish."),
    "TXT06": ("control-character", "Characters nobody can see do not belong in a menu."),
    "TXT07": ("empty-file", "A file without any entry adds nothing."),
    "TXT08": ("yaml-syntax", "The text does not follow the rules of YAML."),
    "TXT09": ("tab-indent", "YAML indents with spaces; a tab has no fixed width."),
    "TXT10": ("sections-wanted", "A menu file is a list of sections, each `name:`."),
    "TXT11": ("duplicate-key", "The same key twice: one of the two would be lost."),
    "TXT12": ("anchor", "YAML anchors (&) and aliases (*) hide what a card says."),
    "TXT13": ("tag", "YAML tags (!) are not used; the field decides how it is read."),
    "TXT14": ("merge-key", "YAML merge keys (<<) hide what a card says."),
    "TXT15": ("several-documents", "One file is one document; `---` may not divide it."),
    "TXT16": ("key-not-text", "A key is a plain text, not a list or a mapping."),
    "TXT17": ("too-deep", "Nesting beyond a depth no menu reaches is not read."),
    "TXT18": ("no-menu", "None of the menu files has any entry."),
    "KEY01": ("unknown-key", "A key that means nothing here is often a slip of the pen."),
    "KEY02": ("missing-key", "A key that the entry cannot do without."),
    "KEY03": ("former-key", "A key or value has a new name; the former one is read still."),
    "VAL01": ("wrong-shape", "A list, a mapping or a text stands where another is wanted."),
    "VAL02": ("empty-value", "A key without a value."),
    "VAL03": ("bad-number", "Numbers are digits with a decimal point, nothing else."),
    "VAL04": ("bad-yes-no", "Yes or no, true or false; nothing else is one of them."),
    "VAL05": ("bad-date", "Dates are written year-month-day (ISO 8601)."),
    "VAL06": ("unknown-choice", "The field takes one of a few words."),
    "VAL07": ("bad-id", "Ids are small letters, digits and hyphens, a letter first."),
    "VAL08": ("unclear-amount", "An amount is one number and one unit with one meaning."),
    "VAL09": ("bad-language", "Languages are written as BCP 47 tags: en, es, zh-Hant."),
}

_OF_A_MENU = {
    "REF01": (
        "unknown-name",
        "A name must be declared somewhere in the menu; a slip of the pen would leave a hole in "
        "a build.",
    ),
    "REF02": ("name-twice", "Two things of one name: nobody could tell which one a step means."),
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
        "A shop may be stricter than the rules it follows, never looser (FDA Food Code 3-501.16,"
        " 3-501.17; Food Safety and Hygiene (England) Regulations 2013, Schedule 4).",
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
        "A heap has gaps between its pieces, so a millilitre of it weighs less than a millilitre"
        " of the piece.",
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
    "DRK06": (
        "makes-room-twice",
        "One base makes room for add-ons; two would each wait for the other.",
    ),
    "DRK07": ("drink-without-base", "Something must be able to make room for an add-on."),
    "DRK08": ("shaker-empty", "A shake needs something in the shaker."),
    "DRK09": ("shaker-not-poured", "What is left in the shaker never reaches the guest."),
    "DRK10": ("makes-room-no-base", "What makes room is a base: less topping is another drink."),
    "DAY01": ("day-closes-early", "A day must close after it opens."),
    "DAY02": ("time-of-day-unclear", "Prep is planned by the clock: 09:00, 20:30."),
}

FAULTS = _faults(_OF_A_TEXT)
"""Every fault of a text and of a single value, by code."""

LINK_FAULTS = _faults(_OF_A_MENU)
"""Every fault of what values mean together, and why it matters at the counter."""


def fault(
    code: str,
    span: Span | None,
    message: str,
    *,
    hint: str = "",
    labels: tuple[Label, ...] = (),
    mends: tuple[Mend, ...] = (),
) -> Finding:
    """A finding of one of the faults above."""
    known = FAULTS.get(code) or LINK_FAULTS[code]
    return Finding(
        code, known.name, known.severity, span, message, labels=labels, mends=mends, hint=hint
    )
