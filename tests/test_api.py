"""The public API: its worked usage runs, it is complete, light, and safe to hand around."""

import ast
import dataclasses
import doctest
import inspect
import pickle
import re
import subprocess
import sys
from pathlib import Path

import pytest

from buildsheets import api
from buildsheets.cup.tolerance import Level


def test_the_worked_usage_in_its_docstring():
    results = doctest.testmod(api)
    assert results.attempted > 20
    assert results.failed == 0


def test_everything_public_is_documented_and_listed():
    for name in api.__all__:
        thing = getattr(api, name)
        if inspect.isclass(thing) or inspect.isfunction(thing):
            assert inspect.getdoc(thing), name


def test_results_are_frozen():
    state = api.contents_state(api.frustum(58, 91, 114), [api.Liquid(100, 1.0)])
    results = [
        state,
        state.cup,
        api.fill_to_line(state.cup, [], density=1.0, line_ml=100),
        api.chill(liquid_g=100, liquid_density=1.0, liquid_c=20, ice_g=50),
        api.combine([api.Term("tea", 1)]),
        api.hold_back(state.cup, state.items, 0),
    ]
    for result in results:
        field = dataclasses.fields(result)[0].name
        with pytest.raises(dataclasses.FrozenInstanceError):
            setattr(result, field, None)


def test_a_refusal_survives_pickling():
    with pytest.raises(api.FigureError) as refused:
        api.frustum(50, 80, -3)
    again = pickle.loads(pickle.dumps(refused.value))
    assert (again.input_name, again.value, again.reason) == (
        "height_mm",
        -3,
        refused.value.reason,
    )
    assert isinstance(again, ValueError)


def test_line_steps_are_poured_on_the_way():
    cup = api.frustum(58, 91, 114)
    steps = [api.Ice(100), api.ToLine(1.0, line_ml=300), api.Cap(30, 1.0, 100)]
    states = api.states_after_each_step(cup, steps, cup.working_ml(headspace_mm=5))
    assert [state.liquid_ml for state in states] == pytest.approx([0, 200, 200])
    assert states[-1].top_ml == pytest.approx(200 + 100 / 0.9167 + 60)


def test_levels_are_reachable_from_plain_sums():
    at = api.levels(api.add_up([api.Liquid(250, 1.03), api.Ice(150)]))
    assert at.liquid == pytest.approx(250 + 150 / 1.03)
    assert set(Level.__args__) == {"top", "fluid_top", "liquid"}


def test_its_table_leads_to_everything_public():
    missing = [
        name
        for name in api.__all__
        if inspect.isfunction(getattr(api, name)) and f"``{name}``" not in api.__doc__
    ]
    assert not missing


def test_every_name_in_its_table_exists():
    for name in re.findall(r"``([A-Za-z_]+(?:\.[a-z_]+)?)(?:\([a-z_=]*\))?``", api.__doc__):
        first, _, second = name.partition(".")
        if hasattr(api, first):
            owner = getattr(api, first)
            assert not second or hasattr(owner, second), name
        else:
            assert first in {"pct", "loss", "fill", "usable", "packing", "ValueError"} | fields()


def fields():
    return {name for name in dir(api.FillState) if not name.startswith("_")}


def test_a_menu_is_figured_from_here():
    checked = api.check_menu(Path(__file__).parent.parent / "menu")
    drink = next(iter(checked.menu.drinks.values()))
    serving = api.figure(drink, drink.cups[0])
    assert serving.choice == api.default_choice(drink)
    assert serving == next(one for one in checked.servings if one.drink is drink)
    scanned = api.scan(drink, drink.cups[0])
    assert [o.choice for o in scanned.outcomes] == list(api.choices(drink, drink.cups[0]))
    assert api.check_menu("no-such-folder").menu is None


def test_importing_it_pulls_in_the_standard_library_alone():
    code = (
        "import sys; before = set(sys.modules); import buildsheets.api;"
        "print(*sorted({name.split('.')[0] for name in set(sys.modules) - before}))"
    )
    found = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    ).stdout.split()
    assert "buildsheets" in found
    assert set(found) - {"buildsheets"} <= set(sys.stdlib_module_names)


ARITHMETIC = (
    "chill", "contents", "cup", "errors", "fill", "holdback", "simulate", "tolerance",
    "yields",
)  # fmt: skip
CONSTANTS = "buildsheets.menu.tables"


@pytest.mark.parametrize("name", ARITHMETIC)
def test_the_arithmetic_imports_no_other_room(name):
    (source,) = (
        Path(api.__file__).parent / room / f"{name}.py"
        for room in ("cup", "prep")
        if (Path(api.__file__).parent / room / f"{name}.py").is_file()
    )
    imported = [
        node.module
        for node in ast.walk(ast.parse(source.read_text(encoding="utf-8")))
        if isinstance(node, ast.ImportFrom) and node.module
    ]
    ours = [one for one in imported if one.startswith("buildsheets") and one != CONSTANTS]
    assert all(module.split(".")[1] in ("cup", "prep") for module in ours)
    assert bool(ours) == (name != "errors")
