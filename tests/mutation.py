"""Modules go in; the small faults that could be put into them, and which of them no test notices,
come out.

    pip install cosmic-ray coverage
    python tests/mutation.py buildsheets/cup/dome.py [...] [--sample 80] [--seed 1] [--only 3 17]

Each fault is one of Cosmic Ray's mutations in a copy of the checkout. Of the tests that belong to
the module (`TESTS`) those that reach its line run on it, the quickest first, until one fails;
`--whole` runs them all, for what a cache kept from a test. It is no part of `.ci/run`.
"""

from __future__ import annotations

import argparse
import ast
import gc
import inspect
import json
import os
import random
import re
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from functools import partial
from pathlib import Path
from types import CodeType, FunctionType
from typing import NamedTuple

import parso  # noqa: F401 (Cosmic Ray cannot be imported before it)
import pytest
from cosmic_ray.ast import ast_nodes, get_ast
from cosmic_ray.mutating import mutate_code
from cosmic_ray.plugins import get_operator, operator_names
from coverage import Coverage
from hypothesis import Phase, settings
from scipy.stats import binomtest

ROOT = Path(__file__).parent.parent
KINDS = re.compile(
    "core/("
    "ReplaceBinaryOperator_(Add|Sub|Mul|Div|FloorDiv|Mod|Pow)_(Add|Sub|Mul|Div)"
    "|ReplaceComparisonOperator_(Lt_LtE|Lt_GtE|LtE_Lt|LtE_Gt|Gt_GtE|Gt_LtE|GtE_Gt|GtE_Lt)"
    "|ReplaceComparisonOperator_(Eq_NotEq|NotEq_Eq|Is_IsNot|IsNot_Is)"
    "|ReplaceUnaryOperator_Delete_(USub|Not)|AddNot|NumberReplacer|ZeroIterationForLoop"
    "|ReplaceTrueWithFalse|ReplaceFalseWithTrue|ReplaceAndWithOr|ReplaceOrWithAnd"
    "|ReplaceBreakWithContinue|ReplaceContinueWithBreak|ExceptionReplacer)"
)
"""Those that change what is figured; not types, decorators, or operators no float takes."""
GUARD = re.compile(r"\b(frozen|slots|strict|compare|repr)=$")
"""Before what only guards against a slip of the programmer."""

BUILDS = "cup/test_reference.py cup/test_build.py"
BATCHES = "prep/test_batches.py prep/test_heaps.py prep/test_ten_batches.py prep/test_stock.py"
DRINKS = "prep/test_nutrition_of_drinks.py prep/test_clauses_eu.py prep/test_clauses_care.py"
DAYS = "prep/test_dayplan.py prep/test_day_schedule.py prep/test_loads.py"
RULES = "rules/test_rules.py rules/test_prep_rules.py rules/test_slips.py"
TESTS = {
    "cup/cup.py": "cup/test_cup.py",
    "cup/dome.py": "cup/test_dome.py",
    "cup/items.py": f"cup/test_fill.py cup/test_simple_rule.py cup/test_afloat.py {BUILDS}",
    "cup/contents.py": "cup/test_fill.py cup/test_line.py cup/test_strata.py cup/test_afloat.py "
    f"cup/test_steamed.py cup/test_dome.py {BUILDS}",
    "cup/strata.py": "cup/test_strata.py",
    "cup/fill.py": "cup/test_fill.py cup/test_line.py cup/test_dome.py cup/test_strata.py",
    "cup/holdback.py": "cup/test_holdback.py",
    "cup/search.py": "cup/test_search.py",
    "cup/chill.py": "cup/test_chill.py",
    "cup/tolerance.py": "cup/test_tolerance.py cup/test_spread.py",
    "cup/simulate.py": "cup/test_fill.py cup/test_line.py cup/test_blended.py cup/test_strata.py "
    "cup/test_build.py",
    "cup/measuring.py": "cup/test_measuring.py cup/test_head.py cup/test_blended.py",
    "cup/room.py": "cup/test_one_figure.py cup/test_most_that_fits.py cup/test_spread.py "
    "cup/test_build.py cup/test_head.py cup/test_dome.py",
    "cup/steps.py": "cup/test_head.py cup/test_blended.py cup/test_steamed.py cup/test_swaps.py "
    "cup/test_dome.py cup/test_order.py cup/test_shots.py cup/test_build.py "
    "cup/test_spread.py cup/test_less_ice.py cup/test_afloat.py",
    "cup/fit.py": "cup/test_one_figure.py cup/test_most_that_fits.py cup/test_spread.py "
    "cup/test_order.py cup/test_head.py cup/test_dome.py cup/test_swaps.py cup/test_shots.py "
    f"cup/test_simple_rule.py cup/test_scan.py cup/test_less_ice.py {BUILDS}",
    "prep/batches.py": f"{BATCHES} prep/test_scaling.py prep/test_loads.py",
    "prep/yields.py": "prep/test_yields.py prep/test_batches.py prep/test_scaling.py",
    "prep/cost.py": "prep/test_cost.py prep/test_cost_of_drinks.py prep/test_margin.py "
    "prep/test_swaps_sold.py prep/test_heaps.py cup/test_shots.py",
    "prep/nutrition.py": f"prep/test_nutrition.py {DRINKS} prep/test_swaps_sold.py",
    "prep/food_labels.py": f"prep/test_nutrition.py {DRINKS} prep/test_clauses_us.py",
    "prep/keeping.py": "prep/test_keeping.py prep/test_clauses_us.py prep/test_clauses_england.py "
    "prep/test_log.py prep/test_stock.py",
    "prep/keeping_dates.py": "prep/test_keeping_dates.py prep/test_keeping.py "
    "prep/test_clauses_us.py prep/test_clauses_england.py",
    "prep/dates.py": "prep/test_dates.py prep/test_stock.py",
    "prep/heat.py": "prep/test_heat.py prep/test_loads.py",
    "prep/loads.py": "prep/test_loads.py prep/test_dayplan.py prep/test_clauses_us.py",
    "prep/dayplan.py": f"{DAYS} prep/test_sales.py cup/test_shots.py",
    "prep/makings.py": f"{DAYS} prep/test_ten_batches.py prep/test_stock.py",
    "prep/schedule.py": f"prep/test_schedule.py {DAYS}",
    "prep/helps.py": DAYS,
    "prep/sales.py": "prep/test_sales.py rules/test_when_rules.py",
    "prep/packaging.py": "prep/test_sales.py prep/test_margin.py",
    "prep/stock.py": "prep/test_stock.py prep/test_sales.py prep/test_heaps.py",
    "prep/buying.py": "prep/test_stock.py prep/test_sales.py prep/test_heaps.py "
    "prep/test_dayplan.py",
    "prep/scaling.py": f"prep/test_scaling.py {BATCHES}",
    "rules/amounts.py": f"rules/test_amounts.py rules/test_overfull.py {RULES}",
    "rules/blend_rules.py": "cup/test_blended.py",
    "rules/day_findings.py": "rules/test_day_findings.py cli/test_plan_of_a_day.py",
    "rules/fit_rules.py": f"{RULES} rules/test_overfull.py cup/test_steamed.py "
    "cup/test_head.py cup/test_afloat.py",
    "rules/fixes.py": f"{RULES} rules/test_overfull.py",
    "rules/gas_rules.py": f"rules/test_gas_rules.py {RULES} cup/test_head.py test_rulebook.py",
    "rules/guest_rules.py": f"{RULES} {DRINKS} prep/test_clauses_us.py cup/test_shots.py",
    "rules/keeping_rules.py": f"{RULES} prep/test_clauses_us.py prep/test_clauses_england.py",
    "rules/layer_rules.py": f"{RULES} cup/test_strata.py",
    "rules/menu_rules.py": f"{RULES} cup/test_shots.py cup/test_hot_and_iced.py",
    "rules/name_rules.py": RULES,
    "rules/option_rules.py": f"{RULES} rules/test_overfull.py",
    "rules/order_rules.py": f"{RULES} cup/test_hot_and_iced.py",
    "rules/prep_rules.py": f"{RULES} rules/test_day_findings.py prep/test_margin.py "
    "prep/test_heaps.py cup/test_shots.py",
    "rules/safety_rules.py": f"{RULES} cup/test_blended.py cup/test_steamed.py cup/test_shots.py "
    "prep/test_clauses_care.py prep/test_swaps_sold.py",
    "rules/shot_rules.py": "cup/test_shots.py rules/test_rules.py",
    "rules/slip_rules.py": "rules/test_slips.py",
    "rules/tool_steps.py": f"rules/test_sweetness_steps.py {RULES} rules/test_overfull.py",
    "rules/when_rules.py": "rules/test_when_rules.py",
}


class Mutant(NamedTuple):
    number: int
    operator: str
    occurrence: int
    line: int


def mutants(source: str) -> Iterator[Mutant]:
    """Every fault of the kinds above that the source has a place for."""
    nodes, lines, number = list(ast_nodes(get_ast(source))), source.splitlines(), 0
    for name in filter(KINDS.fullmatch, operator_names()):
        operator = get_operator(name)()
        starts = [start for node in nodes for start, _ in operator.mutation_positions(node)]
        for occurrence, (line, column) in enumerate(starts):
            text = lines[line - 1]
            if text.strip() != "*," and not GUARD.search(text[:column]):
                number += 1
                yield Mutant(number, name, occurrence, line)


def put_in(source: str, one: Mutant) -> str:
    return mutate_code(source, get_operator(one.operator)(), one.occurrence) or source


def is_python(source: str) -> bool:
    """Whether it can be compiled: a star in a call is no multiplication, nor a walrus a truth."""
    try:
        compile(source, "", "exec")
    except SyntaxError:
        return False
    return True


def statement(source: str, line: int) -> range:
    """The lines of the statement around one, of a compound statement those of its head."""
    around = range(line, line + 1)
    for node in ast.walk(ast.parse(source)):  # the outer before the inner
        if isinstance(node, ast.stmt) and node.lineno <= line <= (node.end_lineno or 0):
            inner = [one for one in ast.iter_child_nodes(node) if isinstance(one, ast.stmt)]
            ends = min((one.lineno for one in inner), default=(node.end_lineno or 0) + 1)
            around = range(node.lineno, max(ends, node.lineno + 1))
    return around


def functions(code: CodeType) -> tuple[dict[tuple[str, int], CodeType], list[object]]:
    """The functions of a module by name and line, without those inside, and what it does when it
    is imported."""
    found: dict[tuple[str, int], CodeType] = {}
    on_import: list[object] = [code.co_code, code.co_names]
    for one in code.co_consts:
        if not isinstance(one, CodeType):
            on_import.append(repr(one))
        elif one.co_flags & inspect.CO_OPTIMIZED:
            found[one.co_qualname, one.co_firstlineno] = one
        else:
            inside, more = functions(one)
            found |= inside
            on_import += more
    return found, on_import


def in_child(work: Callable[[], bool], seconds: int) -> tuple[bool, float]:
    """Whether work in a process of its own came out well, and its seconds of the processor."""
    child = os.fork()
    if child == 0:
        resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds))
        resource.setrlimit(resource.RLIMIT_AS, (8 << 30, 8 << 30))
        os._exit(0 if work() else 1)
    _, status, used = os.wait4(child, 0)
    return status == 0, used.ru_utime + used.ru_stime


def run_tests(folder: Path, tests: Sequence[str], *plugins: object) -> bool:
    """Run tests in the copy of the checkout, in this very process; whether all passed."""
    os.chdir(folder)
    sys.path.insert(0, str(folder))
    quiet = os.open(os.devnull, os.O_RDWR)
    for stream in (0, 1, 2):
        os.dup2(quiet, stream)
    asked = ["-x", "-m", "not slow and not browser", "-p", "no:cacheprovider", "--tb=no"]
    asked += ["-n", "0", "--hypothesis-profile", "mutation"]
    return pytest.main([*asked, *tests], plugins) == 0


class Faults:
    """Puts each fault into the functions of modules that are imported already, in a process of its
    own, and runs on it the tests that reach its line, the quickest first. A fault in what a module
    does on import is run from the start, with all tests of the module."""

    def __init__(self, folder: Path, options: argparse.Namespace) -> None:
        self.folder, self.options = folder, options
        self.out = os.fdopen(os.dup(1), "w", encoding="utf-8", buffering=1)
        self.took: dict[str, float] = {}
        self.lines: dict[str, dict[str, list[str]]] = {}
        self.functions: list[FunctionType] = []

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        told = self.folder / "reached.json"
        fine, seconds = in_child(lambda: self.watched(session, told), 1800)
        if not fine:
            print("The tests fail without any fault.", file=self.out)
            return True
        print(f"all tests of all modules: {seconds:.1f} s", file=self.out)
        self.took, self.lines = json.loads(told.read_text("utf-8"))
        self.functions = [one for one in gc.get_objects() if type(one) is FunctionType]
        gc.freeze()  # no child need look for garbage among what was there before it
        for module in self.options.module:
            self.put_into(session, module)
        return True

    def watched(self, session: pytest.Session, told: Path) -> bool:
        """Run every test and leave which lines of the modules it reaches, and its seconds."""
        modules = [str(self.folder / one) for one in self.options.module]
        coverage = Coverage(data_file=None, config_file=False, include=modules)
        coverage.start()
        for item in session.items:
            coverage.switch_context(item.nodeid)
            began = time.process_time()
            item.config.hook.pytest_runtest_protocol(item=item, nextitem=None)
            self.took[item.nodeid] = time.process_time() - began
        coverage.stop()
        data = coverage.get_data()
        lines = {path: data.contexts_by_lineno(path) for path in data.measured_files()}
        told.write_text(json.dumps([self.took, lines]), "utf-8")
        return not session.testsfailed

    def put_into(self, session: pytest.Session, module: str) -> None:
        path, tests = self.folder / module, tests_of(module)
        source = path.read_text("utf-8")
        every = list(mutants(source))
        chosen = random.Random(self.options.seed).sample(
            every, min(self.options.sample, len(every))
        )
        if self.options.only is not None:
            chosen = [one for one in every if one.number in self.options.only]
        chosen = [one for one in chosen if is_python(put_in(source, one))]
        print(f"{module}: {len(every)} faults, {len(chosen)} tried", file=self.out)
        lines, killed, spent = self.lines.get(str(path), {}), 0, 0.0
        of_module = [one for one in session.items if one.nodeid.partition("::")[0] in tests]
        of_module.sort(key=lambda one: self.took[one.nodeid])
        for one in sorted(chosen, key=lambda one: one.line):
            changed = put_in(source, one)
            around = statement(source, one.line)
            reach = {test for line in around for test in lines.get(str(line), ())}
            items = [t for t in of_module if t.nodeid in reach or self.options.whole]
            before, on_import = functions(compile(source, str(path), "exec"))
            after, changed_on_import = functions(compile(changed, str(path), "exec"))
            if on_import == changed_on_import:
                new = {key: code for key, code in after.items() if code != before.get(key)}
                limit = 5 + int(3 * sum(self.took[test.nodeid] for test in items))
                fine, used = in_child(partial(self.patched, str(path), new, items), limit)
            else:
                path.write_text(changed, "utf-8")
                fine, used = from_the_start(self.folder, [test.nodeid for test in of_module])
                path.write_text(source, "utf-8")
            spent += used
            killed += not fine
            if fine:
                self.tell(one, module, source, changed, len(items))
        share = binomtest(killed, len(chosen)).proportion_ci(method="wilson")
        print(
            f"{module}: {killed} of {len(chosen)} noticed "
            f"({100 * killed / len(chosen):.0f} %, 95 % interval {100 * share.low:.0f} to "
            f"{100 * share.high:.0f}), {spent:.0f} s",
            file=self.out,
        )

    def patched(
        self, path: str, new: dict[tuple[str, int], CodeType], items: Sequence[pytest.Item]
    ) -> bool:
        """Put functions in the place of those there are, and run tests until one fails."""
        for one in self.functions:
            if one.__code__.co_filename == path:
                key = one.__code__.co_qualname, one.__code__.co_firstlineno
                one.__code__ = new.get(key, one.__code__)
        for item in items:
            item.config.hook.pytest_runtest_protocol(item=item, nextitem=None)
            if item.session.testsfailed:
                return False
        return True

    def tell(self, one: Mutant, module: str, source: str, changed: str, tests: int) -> None:
        name = one.operator.removeprefix("core/")
        print(f"survives {one.number}: {name}, {tests} tests reach it", file=self.out)
        pairs = zip(source.splitlines(), changed.splitlines(), strict=False)
        for line, (was, now) in enumerate(pairs, start=1):
            if was != now:
                print(f"  {module}:{line}\n  - {was.strip()}\n  + {now.strip()}", file=self.out)


def from_the_start(folder: Path, tests: Sequence[str]) -> tuple[bool, float]:
    """Run tests in a new process that imports the modules as they are written now."""
    began = resource.getrusage(resource.RUSAGE_CHILDREN)
    asked = [sys.executable, __file__, "--run", str(folder), *tests]
    done = subprocess.run(asked, check=False, capture_output=True)
    ended = resource.getrusage(resource.RUSAGE_CHILDREN)
    used = ended.ru_utime + ended.ru_stime - began.ru_utime - began.ru_stime
    return done.returncode == 0, used


def tests_of(module: str) -> list[str]:
    return [f"tests/{one}" for one in TESTS[module.removeprefix("buildsheets/")].split()]


def main() -> int:
    settings.register_profile(
        "mutation",
        max_examples=25,
        deadline=None,
        derandomize=True,
        database=None,
        phases=(Phase.explicit, Phase.generate),  # that it fails is enough
    )
    if sys.argv[1] == "--run":
        return int(not run_tests(Path(sys.argv[2]), sys.argv[3:]))
    asked = argparse.ArgumentParser()
    asked.add_argument("module", nargs="+")
    asked.add_argument("--sample", type=int, default=10_000)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--only", type=int, nargs="*", help="numbers of faults")
    asked.add_argument("--whole", action="store_true", help="run all tests of the module")
    options = asked.parse_args()
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        for part in ("buildsheets", "layouts", "menu", "tests"):
            shutil.copytree(ROOT / part, folder / part)
        for part in ("pyproject.toml", "README.md", "DEVELOPERS.md"):
            shutil.copy(ROOT / part, folder / part)
        tests = dict.fromkeys(one for module in options.module for one in tests_of(module))
        run_tests(folder, list(tests), Faults(folder, options))
        os.chdir(ROOT)
    return 0


if __name__ == "__main__":
    sys.exit(main())
