"""Invented kiosk "Tin Roof Kiosk": views of plausible drinks, in English and Spanish."""

from __future__ import annotations

from dataclasses import replace

from buildsheets.views.types import (
    AddOnView,
    Allergens,
    AmountRow,
    AmountTable,
    BuildCardView,
    CupDrawing,
    DrawnLine,
    Foot,
    GaugeLine,
    Layer,
    StationCardView,
    StationMark,
    StationRow,
    StepView,
)

TEA = StationMark("Tea", "T", "#0b5d4e", "#ffffff", "disc")
SHAKE = StationMark("Shake", "S", "#7a2e1f", "#ffffff", "square")
TOP = StationMark("Top and seal", "P", "#3b3f7a", "#ffffff", "hexagon")

CUP = CupDrawing(
    outline_mm=((0.0, 56.0), (112.0, 86.0), (118.0, 89.0)),
    floor_mm=6.0,
    rim_mm=118.0,
    working_mm=110.0,
    layers=(
        Layer("bed", 0.0, 17.0, "Pearls", "pearls"),
        Layer("liquid", 17.0, 86.0, "Milk tea", "plain"),
        Layer("ice", 54.0, 88.0, "Ice", "ice"),
        Layer("cap", 86.0, 106.0, "Salt cream", "grain"),
    ),
    lines=(DrawnLine(86.0, "330 ml", "line"), DrawnLine(106.0, "430 ml", "cap")),
    alt="Cup with pearls, milk tea, ice to the 330 ml line and salt cream on top",
)

GAUGE = (
    GaugeLine(23.0, "pearls", "bed", 1),
    GaugeLine(92.0, "330 ml", "line", 5),
    GaugeLine(112.0, "430 ml", "cap", 6),
    GaugeLine(116.0, "fill limit", "working"),
    GaugeLine(124.0, "rim", "rim"),
)

FOOT = Foot(
    code="RCT-M",
    revision="rev 4",
    edition="edition 2026-3",
    valid="from 1 Dec 2026",
    qr_payload="TRK/RCT-M/4/2026-3",
    local_code_note="Follow your local food code.",
    shop="Tin Roof Kiosk",
)

STEPS = (
    StepView(1, "1", "scoop", "Cooked pearls", "60 g", "", "level, drained", "Top and seal",
             "settled"),
    StepView(2, "20", "ml", "Brown sugar syrup", "2 pumps", "", "", "Tea", "liquid",
             "shaker"),
    StepView(3, "180", "ml", "Roasted oolong", "jigger 3 × 60 ml", "", "below 5 °C", "Tea",
             "liquid", "shaker"),
    StepView(4, "60", "ml", "Whole milk", "jigger 1 × 60 ml", "", "", "Tea", "liquid",
             "shaker"),
    StepView(5, "150", "g", "Ice, then shake", "1 ladle", "to 330 ml", "10 s, hard", "Shake",
             "ice", "shaker"),
    StepView(6, "80", "g", "Salt cream cap", "1 ladle", "to 430 ml", "pour over a spoon",
             "Top and seal", "floated"),
    StepView(7, "", "", "Dome lid, wide straw", "", "", "do not shake again", "Top and seal",
             "action"),
)  # fmt: skip


def amounts(what: str, unit: str, no_ice: str, less: str, plain: str, others: str,
            cream: str) -> tuple[AmountTable, ...]:  # fmt: skip
    """Syrup by sweetness, and the milk tea by ice and add-on."""
    sweets = ("0 %", "50 %", "100 %")
    return (
        AmountTable(2, what, unit, sweets, (AmountRow((), "", ("0", "10", "20")),)),
        AmountTable(3, others, "ml", sweets, (
            AmountRow((plain,), no_ice, ("240", "235", "230")),
            AmountRow((plain,), less, ("220", "215", "210")),
            AmountRow((cream,), "", ("190", "185", "180")),
        )),
    )  # fmt: skip


BUILD = BuildCardView(
    kind="build",
    language="en",
    code="RCT-M",
    title="Roasted cloud tea",
    subtitle="Medium, iced",
    cup_name="clear cup 500 ml",
    stations=(TEA, SHAKE, TOP),
    gauge=GAUGE,
    gauge_floor_mm=6.0,
    drawing=CUP,
    steps=STEPS,
    amounts=amounts(
        "Brown sugar syrup", "ml", "no ice", "less", "no add-on", "Roasted oolong", "Grass jelly"
    ),
    add_ons=(
        AddOnView("Grass jelly", "1", "scoop", "60 g", "P", 1, "after step 1", "wide straw"),
        AddOnView(
            "Second cream",
            "80",
            "g",
            "",
            "P",
            6,
            "after step 6",
            fits=False,
            verdict="stands 9 mm above the fill limit",
        ),
    ),
    allergens=Allergens(("milk",), ("soya", "gluten"), ""),
    cautions=("Pearls: choking hazard for children under 4.",),
    keeps=("pearls 4 h", "salt cream 24 h at 5 °C"),
    finish="Dome lid clears the cream by 6 mm.",
    foot=FOOT,
    reading_distance_mm=600.0,
    width_mm=148.0,
    height_mm=210.0,
)

BUILD_ES = replace(
    BUILD,
    language="es",
    title="Té nube tostado",
    subtitle="Mediano, con hielo",
    cup_name="vaso claro 500 ml",
    stations=(replace(TEA, name="Té"), replace(SHAKE, name="Coctelera"),
              replace(TOP, name="Coronar y sellar")),
    steps=(
        StepView(1, "1", "cacillo", "Perlas cocidas", "60 g", "", "raso, escurridas",
                 "Coronar y sellar", "settled"),
        StepView(2, "20", "ml", "Jarabe de azúcar moreno", "2 pulsos", "", "", "Té", "liquid",
                 "coctelera"),
        StepView(3, "180", "ml", "Oolong tostado", "medidor 3 × 60 ml", "", "bajo 5 °C", "Té",
                 "liquid", "coctelera"),
        StepView(4, "60", "ml", "Leche entera", "medidor 1 × 60 ml", "", "", "Té", "liquid",
                 "coctelera"),
        StepView(5, "150", "g", "Hielo, y agitar", "1 cucharón", "a 330 ml", "10 s, fuerte",
                 "Coctelera", "ice", "coctelera"),
        StepView(6, "80", "g", "Crema de chirivía", "1 cucharón", "a 430 ml", "sobre una cuchara",
                 "Coronar y sellar", "floated"),
        StepView(7, "", "", "Tapa alta, pajita ancha", "", "", "no agitar de nuevo",
                 "Coronar y sellar", "action"),
    ),
    amounts=amounts("Jarabe de azúcar moreno", "ml", "sin hielo", "poco", "sin extras",
                    "Oolong tostado", "Gelatina de hierbas"),
    add_ons=(
        AddOnView("Gelatina de hierbas", "1", "cacillo", "60 g", "P", 1, "tras el paso 1",
                  "pajita ancha"),
        AddOnView("Doble crema", "80", "g", "", "P", 6, "tras el paso 6", fits=False,
                  verdict="pasa 9 mm del límite"),
    ),
    allergens=Allergens(("leche",), ("soja", "gluten"), ""),
    cautions=("Perlas: riesgo de atragantamiento en menores de 4 años.",),
    keeps=("perlas 4 h", "crema de chirivía 24 h a 5 °C"),
    finish="La tapa alta deja 6 mm sobre la crema.",
    gauge=tuple(
        replace(line, label={"pearls": "perlas", "fill limit": "límite", "rim": "borde"}.get(
            line.label, line.label))
        for line in GAUGE
    ),
    drawing=replace(
        CUP,
        layers=tuple(
            replace(layer, name=name)
            for layer, name in zip(
                CUP.layers, ("Perlas", "Té con leche", "Hielo", "Crema"), strict=True
            )
        ),
        alt="Vaso con perlas, té con leche, hielo hasta 330 ml y crema de chirivía",
    ),
    foot=replace(FOOT, revision="rev. 4", edition="edición 2026-3", valid="desde 1 dic 2026",
                 local_code_note="Siga su norma sanitaria local."),
)  # fmt: skip

# A short hot drink with nothing declared, one station, no options.
PLAIN = replace(
    BUILD,
    code="GBT-S",
    title="Ginger bark tea",
    subtitle="Small, hot",
    cup_name="paper cup 240 ml",
    stations=(TEA,),
    gauge=(GaugeLine(71.0, "200 ml", "line", 3), GaugeLine(86.0, "rim", "rim")),
    gauge_floor_mm=5.0,
    drawing=CupDrawing(
        ((0.0, 54.0), (81.0, 78.0)), 5.0, 81.0, 72.0,
        (Layer("liquid", 0.0, 66.0, "Tea", "plain"),),
        (DrawnLine(66.0, "200 ml", "line"),), "Paper cup with tea to the 200 ml line",
    ),
    steps=(
        StepView(1, "15", "ml", "Ginger syrup", "1 pump", "", "", "Tea", "liquid"),
        StepView(2, "200", "ml", "Bark tea, hot", "", "", "80 °C", "Tea", "line"),
        StepView(3, "", "", "Stir and lid", "", "", "5 turns", "Tea", "action"),
    ),
    amounts=(),
    add_ons=(),
    allergens=Allergens((), (), "None of the 14 EU allergens declared; ask before serving."),
    cautions=("Hot: above 60 °C.",),
    keeps=(),
    finish="Flat lid, 9 mm left.",
    foot=replace(FOOT, code="GBT-S", qr_payload="TRK/GBT-S/1/2026-3", revision="rev 1"),
)  # fmt: skip


def _row(drink: str, arrives: str, leaves: str, adds: tuple[StepView, ...], check: str,
         allergens: str) -> StationRow:  # fmt: skip
    return StationRow(drink, arrives, adds, leaves, check, allergens)


STATION = StationCardView(
    kind="station",
    language="en",
    code="ST-P-M",
    station=TOP,
    cup_name="Medium · clear cup 500 ml",
    rows=(
        _row("Roasted cloud tea", "330 ml", "430 ml",
             (StepView(1, "80", "g", "Salt cream", "1 ladle", "", "over a spoon", "Top and seal",
                       "floated"),),
             "ice covered all round", "Contains milk"),
        _row("Plum garden", "empty", "90 ml",
             (StepView(1, "1", "scoop", "Pearls", "60 g", "", "level", "Top and seal", "settled"),
              StepView(2, "30", "g", "Grass jelly", "", "", "", "Top and seal", "settled")),
             "no dry pearls", "May contain soya"),
        _row("Lime and basil seed", "350 ml", "400 ml",
             (StepView(1, "50", "g", "Soaked basil seed", "1 scoop", "", "level", "Top and seal",
                       "settled"),),
             "", "None of the 14 declared; ask"),
        _row("Barley latte", "360 ml", "430 ml",
             (StepView(1, "60", "g", "Milk foam", "2 ladles", "", "", "Top and seal", "floated"),
              StepView(2, "", "", "Dust with cocoa", "1 shake", "", "", "Top and seal", "dusted")),
             "foam flat with the rim line", "Contains milk, gluten"),
    ),
    gauge=GAUGE,
    gauge_floor_mm=6.0,
    cautions=("Pearls: choking hazard for children under 4.",),
    foot=replace(FOOT, code="ST-P-M", qr_payload="TRK/ST-P-M/2/2026-3"),
    reading_distance_mm=600.0,
    width_mm=297.0,
    height_mm=210.0,
)  # fmt: skip
