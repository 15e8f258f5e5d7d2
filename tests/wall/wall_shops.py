"""Invented shops for the law of the wall: a seed and a shape go in, a checked menu comes out.

Every figure is invented; what matters is that shops differ in everything a menu may differ in.
"""

from __future__ import annotations

import copy
import random
from collections.abc import Mapping, Sequence
from typing import Any

import yaml
from menu_samples import check_texts, said

from buildsheets import api
from buildsheets.findings.finding import Severity
from buildsheets.pipeline import Checked

Entry = dict[str, Any]

DOES_NOT_FIT = {"FIT01", "FIT02", "FIT08"}

LETTERS = "BSTFHXQ"
ACCENTS = ("#7a3b12", "#0b5563", "#1f4e9a", "#7d1f5c", "#2f5d1e", "#5a3d8a")
SIZES = ("tiny", "small", "medium", "tall", "large", "grand", "jumbo", "bucket")
LANGUAGES = ("en", "es", "de", "fr")
LEVELS: tuple[tuple[int, ...], ...] = (
    (0, 100), (50, 100), (0, 50, 100), (0, 25, 50, 75, 100), (0, 30, 70, 100, 120), (100,),
)  # fmt: skip
ICES: tuple[Mapping[str, int], ...] = (
    {"none": 0, "regular": 100},
    {"none": 0, "less": 50, "regular": 100},
    {"little": 25, "less": 50, "regular": 100, "extra": 150},
    {"regular": 100},
)


def drawn(seed: int, **fixed: Any) -> Checked:
    """A checked menu drawn by its seed; ``fixed`` settles what a shape is about.

    A drink is left out in the cups that it does not fit, as an owner would.
    """
    menu = Shop(random.Random(seed), fixed).menu()
    while True:
        checked = check_texts(yaml.safe_dump(menu, allow_unicode=True, sort_keys=False))
        wrong = [finding for finding in checked.findings if finding.severity is Severity.ERROR]
        if not wrong or not menu["drinks"]:
            return checked
        for id, size in {finding.subject[:2] for finding in wrong if finding.code in DOES_NOT_FIT}:
            drink = menu["drinks"][id]
            drink["cups"] = [cup for cup in drink["cups"] if cup != size]
            if not drink["cups"]:
                del menu["drinks"][id]
        assert {finding.code for finding in wrong} <= DOES_NOT_FIT, said(wrong)


class Shop:
    """Draws a menu part by part; each choice may be settled beforehand under its name."""

    def __init__(self, rng: random.Random, fixed: Mapping[str, Any]) -> None:
        self.rng, self.fixed = rng, fixed
        self.language: str = self.settled("language", lambda: rng.choice(LANGUAGES))
        self.stations = LETTERS[: self.settled("stations", lambda: rng.randint(1, 5))]
        self.ounces: bool = self.settled("ounces", lambda: rng.random() < 0.15)
        own = "us_customary" if self.ounces else "metric"
        self.measures: str = self.settled("measures", lambda: own)
        self.hot: bool = self.settled("hot", lambda: False)
        self.sizes = SIZES[: self.settled("sizes", lambda: rng.choice((1, 2, 2, 3, 4)))]
        self.long: bool = self.settled("long", lambda: rng.random() < 0.1)
        self.jug_ml: float = rng.choice((5, 5, 10))
        ounces = f"1/{4 if self.jug_ml == 5 else 2} fl oz"
        self.jug_step = self.settled(
            "jug_step", lambda: ounces if self.ounces else f"{self.jug_ml} ml"
        )
        self.pump_ml: float = rng.choice((5, 8, 10))
        self.pump_step = rng.choice(("1 pump", "1/2 pump"))
        self.cups = {size: self.cup(place) for place, size in enumerate(self.sizes)}
        self.ice_g = rng.choice((40, 55, 60))

    def settled(self, name: str, draw: Any) -> Any:
        return self.fixed[name] if name in self.fixed else draw()

    def menu(self) -> Entry:
        rng = self.rng
        sweet = self.settled("levels", lambda: rng.choice(LEVELS))
        ices = self.settled("ices", lambda: rng.choice(ICES))
        options: Entry = {
            "sweetness": {
                "levels": [f"{level} %" for level in sweet],
                "default": f"{100 if rng.random() < 0.7 else rng.choice(sweet)} %",
                "with_less_sweet": rng.choice(("more_base", "same_amounts")),
            },
            "ice": {
                "levels": {
                    id: {"name": id.title() + " ice", "share": f"{share} %"}
                    for id, share in ices.items()
                },
                "default": "regular",
                "with_less_ice": rng.choice(("same_line", "same_amounts")),
            },
            "add_ons": {
                "at_most": rng.choice((1, 2, 2, 2)),
                "hold_back_at_most": rng.choice(("30 %", "45 %", "60 %")),
            },
        }
        if not ices or self.hot:
            del options["ice"]
        if 100 not in sweet:
            options["sweetness"]["default"] = f"{sweet[-1]} %"
        drinks = self.settled("drinks", lambda: rng.randint(2, 4))
        return {
            "shop": {
                "name": "Drawn kiosk", "languages": [self.language], "measures": self.measures,
                "allergen_list": "eu14", "shelf_rules": "us-food-code", "card": "A5",
            },
            "edition": {
                "code": "S26", "name": "Drawn", "valid_from": "2026-03-01",
                "valid_to": "2026-09-30",
            },
            "stations": {
                f"at-{letter.lower()}": {
                    "name": f"Place {letter}", "letter": letter, "accent": ACCENTS[i],
                }
                for i, letter in enumerate(self.stations)
            },
            "tools": self.tools(),
            "cups": self.cups,
            "packaging": {"own-straw": {"name": "spoon pipe", "kind": "straw"}},
            "ingredients": self.ingredients(),
            **self.components(),
            "options": options,
            "add_ons": self.add_ons(),
            "swaps": self.swaps(),
            "drinks": dict(self.drink(number) for number in range(1, drinks + 1)),
        }  # fmt: skip

    def at(self) -> str:
        return f"at-{self.rng.choice(self.stations).lower()}"

    def cup(self, place: int) -> Entry:
        rng = self.rng
        height = 80 + 13 * place + rng.randint(0, 8)
        base, rim = 52 + 2 * place, 78 + 3 * place
        lid = rng.choice(("flat", "flat", "dome", "film", "none"))
        cup: Entry = {
            "name": SIZES[place].title(), "floor": "3 mm", "lid": lid,
            "headspace": rng.choice(("5 mm", "8 mm", "12 ml")),
        }  # fmt: skip
        form = rng.choice(("frustum", "frustum", "profile", "calibration"))
        if form == "frustum":
            cup |= {"base": f"{base} mm", "rim": f"{rim} mm", "height": f"{height} mm"}
        elif form == "profile":
            cup["profile"] = [
                {"height": "0 mm", "diameter": f"{base} mm"},
                {"height": f"{height // 3} mm", "diameter": f"{base + 10} mm"},
                {"height": f"{height} mm", "diameter": f"{rim} mm"},
            ]
        else:
            real = api.frustum(base, rim, height)
            marks = (20, height // 2, height)
            cup["calibration"] = [
                {"height": f"{mark} mm", "volume": f"{real.volume_ml(mark):.1f} ml"}
                for mark in marks
            ]
        if self.hot:
            cup["hot"] = True
        return cup

    def height(self, size: str) -> float:
        """About the inner height of a cup in mm."""
        place = SIZES.index(size)
        return float(self.cups[size].get("height", f"{80 + 13 * place} mm").split()[0])

    def room_ml(self, size: str) -> float:
        """About what may be filled of a cup."""
        place, height = SIZES.index(size), self.height(size)
        return api.frustum(52 + 2 * place, 78 + 3 * place, height).brimful_ml * 0.9 - 12

    def tools(self) -> Entry:
        strays = self.settled("strays", lambda: self.rng.random() < 0.7)

        def tool(name: str, kind: str, step: str, stray: str, **more: str) -> Entry:
            given = {"tolerance": stray} if strays else {}
            return {"name": name, "kind": kind, "step": step, **more, **given}

        long = " that hangs on the left of the sink" if self.long else ""
        holds = self.rng.choice(("30 ml", "25 g"))
        return {
            "jug": tool(f"jug{long}", "jug", self.jug_step, "3 ml"),
            "pump": tool(
                "syrup pump", "pump", self.pump_step, "0.3 ml", holds=f"{self.pump_ml} ml",
                one="push", many="pushes",
            ),
            "other-pump": tool(
                "small pump", "pump", "1/2 pump", "0.3 ml", holds="7 ml", one="tap", many="taps",
            ),
            "scoop": tool("ladle of pieces", "scoop", self.rng.choice(("1 scoop", "1/2 scoop")),
                          "1.5 g", holds=holds, one="spoonful", many="spoonfuls"),
            "ice": tool("ice shovel", "scoop", self.rng.choice(("1/2 scoop", "1 scoop")), "6 g",
                        holds=f"{self.ice_g} g", one="shovel", many="shovels"),
            "ladle": tool("soft ladle", "ladle", "1 ladle", "2 ml", holds="20 ml"),
            "tin": tool("dusting tin", "shaker", "0.5 g", "0.2 g"),
            "scale": tool("scale", "scale", "1 g", "1 g"),
        }  # fmt: skip

    def ingredients(self) -> Entry:
        def bought(name: str, density: float, *contains: str) -> Entry:
            return {
                "name": name + (" of the far hills, picked in spring" if self.long else ""),
                "contains": [*contains], "density": f"{density} g/ml",
                "density_source": "weighed here",
            }  # fmt: skip

        return {
            "leaf": bought("Leaf brew", 1.0),
            "white": bought("White milk", 1.03, "milk"),
            "sour": bought("Sour juice", 1.04),
            "sweet": bought("Bark syrup", 1.32),
            "balls": bought("Balls", 1.1) | {"cautions": ["choking"]},
            "shreds": bought("Shreds", 1.05),
            "froth": bought("Froth", 1.02, "milk"),
            "powder": bought("Powder", 0.6, "sesame"),
            "grains": bought("Grain milk", 1.04, "oats"),
            "thick": bought("Thick milk", 0.96) | {"may_contain": ["milk"]},
            "green": bought("Green brew", 0.998),
            "dark": bought("Dark syrup", 1.2, "sulphites"),
        }

    def components(self) -> Entry:
        rng = self.rng
        warm = {"temperature": "70 °C", "cautions": ["hot"]} if self.hot else {}
        return {
            "bases": {
                "leaf-tea": {"from": "leaf", "tool": "jug", "station": self.at(), **warm},
                "milk": {"from": "white", "tool": "jug", "station": self.at()},
                "juice": {"from": "sour", "tool": "jug", "station": self.at()},
                "grain-drink": {"from": "grains", "tool": "jug"},
                "thick-drink": {"from": "thick", "tool": "jug", "note": "shake first"},
                "green-tea": {"from": "green", "tool": "jug", **copy.deepcopy(warm)},
            },
            "sweeteners": {
                "syrup": {
                    "from": "sweet", "tool": "pump", "station": self.at(),
                },
                "dark-syrup": {"from": "dark", "tool": "other-pump"},
            },
            "toppings": {
                "balls-in": {
                    "from": "balls", "behaves": "settled", "density": "1.1 g/ml",
                    "bulk_density": "0.66 g/ml", "tool": rng.choice(("scoop", "scoop", "scale")),
                    "station": self.at(),
                },
                "shreds-in": {
                    "from": "shreds", "behaves": "settled", "density": "1.05 g/ml",
                    "bulk_density": "0.62 g/ml", "tool": "scoop", "station": self.at(),
                },
                "froth-on": {
                    "from": "froth", "behaves": "floated", "density": "1.02 g/ml",
                    "overrun": "60 %", "tool": "ladle", "station": self.at(),
                },
                "shot": {
                    "from": "sour", "name": "Sour shot", "behaves": "liquid", "tool": "jug",
                    "station": self.at(),
                },
                "powder-on": {
                    "from": "powder", "behaves": "dusted", "tool": "tin", "station": self.at(),
                },
            },
            "ice": {
                "cubes": {
                    "name": "Cubes", "packing": "55 %", "tool": "ice", "station": self.at(),
                },
            },
        }  # fmt: skip

    def add_ons(self) -> Entry:
        return {
            "more-balls": {
                "topping": "balls-in",
                "amount": self.pieces("balls-in", 1),
                "straw": "wide pipe",
            },
            "more-shreds": {
                "topping": "shreds-in",
                "amount": self.rng.choice(("1 scoop", "2 scoops")),
            },
            "more-froth": {
                "topping": "froth-on",
                "amount": self.rng.choice(("1 ladle", "2 ladles")),
            },
            "more-shot": {"topping": "shot", "amount": f"{self.rng.choice((10, 20, 30))} ml"},
            "more-powder": {"topping": "powder-on", "amount": "0.5 g"},
        }

    def swaps(self) -> Entry:
        """Another milk, another tea and another syrup, where a shape has them; drawn apart, so that
        the shops without them stay what they are."""
        if not self.settled("swaps", lambda: False):
            return {}
        return {
            "grain": {"of": "milk", "with": "grain-drink"},
            "thick": {"of": "milk", "with": "thick-drink", "name": "Thick one"},
            "green": {"of": "leaf-tea", "with": "green-tea"},
            "dark": {"of": "syrup", "with": "dark-syrup"},
        }

    def pieces(self, what: str, count: int) -> Any:
        return {size: f"{20 * (count + i)} g" for i, size in enumerate(self.sizes)}

    def drink(self, number: int) -> tuple[str, Entry]:
        rng = self.rng
        kinds = ("line", "line", "amounts", *(() if self.hot else ("shaken",)))
        kind = self.settled("kind", lambda: rng.choice(kinds))
        name = f"Drink {number}" + (" with the name that does not end soon" if self.long else "")
        sizes = list(self.sizes)
        build = getattr(self, kind)(sizes)
        drink: Entry = {"name": name, "cups": sizes, "build": build}
        extras = ["more-balls", "more-shreds", "more-froth", "more-shot", "more-powder"]
        if chosen := sorted(rng.sample(extras, rng.randint(0, 4)), key=extras.index):
            rng.shuffle(chosen)
            drink["add_ons"] = chosen
        if rng.random() < 0.15:
            drink["sweetness"] = "fixed"
        if rng.random() < 0.15:
            drink["ice"] = "fixed"
        if number % 2 == 0:  # not drawn, so that the shops of before stay as they were
            drink |= {"packaging": "own-straw", "hours": "22:00 to 02:00", "from": "2026-04-01"}
        return f"drink-{number}", drink

    def share(self, sizes: Sequence[str], share: float, step: float = 5.0) -> Any:
        """So much of each cup, in ml or in ounces."""
        amounts = {size: max(1, round(self.room_ml(size) * share / step)) * step for size in sizes}
        if self.ounces:
            return {
                size: f"{max(1, round(ml / 14.7868)) / 2:g} fl oz" for size, ml in amounts.items()
            }
        return {size: f"{ml:g} ml" for size, ml in amounts.items()}

    def counts(self, sizes: Sequence[str], low: int, high: int, unit: str) -> Any:
        first = self.rng.randint(low, high)
        return {
            size: f"{first + i * self.rng.choice((0, 1))} {unit}" for i, size in enumerate(sizes)
        }

    def opening(self, sizes: Sequence[str], into: str = "cup") -> list[Entry]:
        """Pieces, syrup and ice."""
        rng, steps = self.rng, []
        if rng.random() < 0.5:
            what = rng.choice(("balls-in", "shreds-in"))
            steps.append({"add": what, "amount": self.pieces(what, 1)})
        if rng.random() < 0.2:
            poured = {"amount": self.share(sizes, 0.05), "tool": "jug"}
        else:
            poured = {"amount": self.counts(sizes, 2, 6, "pumps")}
        steps.append({"add": "syrup", **poured, "into": into})
        if not self.hot and self.settled("iced", lambda: rng.random() < 0.8):
            steps.append(
                {"add": "cubes", "amount": self.counts(sizes, 1, 1, "scoop"), "into": into}
            )
        return steps

    def ending(self, sizes: Sequence[str]) -> list[Entry]:
        rng, steps = self.rng, []
        if rng.random() < 0.5:
            steps.append(
                {"do": rng.choice(("stir", "swirl", "tap")), "for": "5 s", "station": self.at()}
            )
        if rng.random() < 0.35:
            steps.append({"add": "froth-on", "amount": self.counts(sizes, 1, 1, "ladle")})
        if rng.random() < 0.25:
            steps.append({"add": "powder-on", "amount": "0.5 g"})
        steps.append({"do": rng.choice(("lid", "lid", "serve")), "station": self.at()})
        return steps

    def line(self, sizes: Sequence[str]) -> list[Entry]:
        full = self.rng.uniform(0.72, 0.86)
        steps = self.opening(sizes)
        if self.rng.random() < 0.6:
            steps.append({"add": "milk", "amount": self.share(sizes, 0.12), "makes_room": False})
        line: Any = self.share(sizes, full)
        if self.rng.random() < 0.15:
            line = {size: f"{round(self.height(size) * full)} mm" for size in sizes}
        steps.append({"add": "leaf-tea", "fill_to": line, "makes_room": True})
        if not self.hot and self.rng.random() < 0.1:
            steps.append({"do": "chill", "station": self.at()})
        return [*steps, *self.ending(sizes)]

    def amounts(self, sizes: Sequence[str]) -> list[Entry]:
        steps = self.opening(sizes)
        if self.rng.random() < 0.5:
            steps.append({"add": "juice", "amount": self.share(sizes, 0.1), "makes_room": False})
        share = self.rng.uniform(0.3, 0.5)
        steps.append(
            {"add": "leaf-tea", "amount": self.share(sizes, share, 10.0), "makes_room": True}
        )
        return [*steps, *self.ending(sizes)]

    def shaken(self, sizes: Sequence[str]) -> list[Entry]:
        steps = self.opening(sizes, "shaker")
        share = self.rng.uniform(0.25, 0.42)
        steps += [
            {"add": "juice", "amount": self.share(sizes, 0.1), "into": "shaker",
             "makes_room": False},
            {"add": "leaf-tea", "amount": self.share(sizes, share, 10.0), "into": "shaker",
             "makes_room": True},
            {"do": "shake", "pour": self.rng.choice(("dumped", "strained")), "for": "10 s",
             "station": self.at()},
        ]  # fmt: skip
        return [*steps, *self.ending(sizes)]


SHAPES: Mapping[str, Mapping[str, Any]] = {
    "imperial": {"ounces": True, "measures": "imperial", "language": "en"},
    "us": {"ounces": True, "language": "es"},
    "us, jugs in ml": {"ounces": True, "jug_step": "5 ml", "language": "fr"},
    "us, recipes in ml": {"measures": "us_customary", "jug_step": "1/4 fl oz", "language": "de"},
    "hot only": {"hot": True, "iced": False, "ices": {}},
    "all shaken": {"kind": "shaken", "iced": True, "drinks": 5},
    "no ice levels": {"ices": {}, "iced": True},
    "one station": {"stations": 1},
    "eight sizes": {"sizes": 8, "drinks": 3},
    "long names": {"long": True},
    "swaps": {"swaps": True, "drinks": 3, "sizes": 2},
    "two sweetness levels": {"levels": (0, 100), "language": "es"},
    "five sweetness levels": {"levels": (0, 30, 70, 100, 120), "language": "de"},
}
"""Shops of other shapes than the demo, by what is settled of them."""
