"""The house has floors: a file imports only from its own floor or a lower one.

Packages form no circle either, not even on one floor. The rule is read from the imports
themselves (also those inside functions), so it cannot be forgotten. See
docs/decisions/0001-floors.md.
"""

from __future__ import annotations

import ast
import re
import sys
import tomllib
from collections.abc import Iterator, Mapping
from graphlib import CycleError, TopologicalSorter
from importlib.metadata import packages_distributions
from pathlib import Path

SRC = Path(__file__).parents[1] / "src" / "bedlore"

FLOORS = {
    7: ("web", "cli", "sheets", "sensors", "wiring", "__main__"),
    6: ("store", "fetch", "engines", "mail", "backup", "demo"),
    5: ("service",),
    4: ("decide", "workshop"),
    3: ("learn", "outlook", "lab"),
    2: ("bed",),
    1: ("facts", "farm", "weather"),
    0: ("units", "errors", "say", "factors", "__init__"),
}
FLOOR_OF = {package: floor for floor, packages in FLOORS.items() for package in packages}


def imported_modules(module: str, source: str) -> Iterator[str]:
    """Every dotted name below ``bedlore`` that ``source`` imports, wherever it does so."""
    package_parts = module.split(".")[:-1]
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            base = package_parts[: len(package_parts) - node.level + 1] if node.level else []
            stem = ".".join([*base, *([node.module] if node.module else [])])
            names = [f"{stem}.{alias.name}" for alias in node.names]
        elif isinstance(node, ast.Call) and "import_module" in ast.unparse(node.func):
            names = [arg.value for arg in node.args if isinstance(arg, ast.Constant)]
        else:
            continue
        yield from (name for name in names if str(name).startswith("bedlore."))


def package_of(module: str) -> str:
    """The part of ``bedlore`` that ``module`` lives in: ``bedlore.bed.heat`` -> ``bed``."""
    return module.split(".")[1]


def package_graph(sources: Mapping[str, str]) -> dict[str, set[str]]:
    """Which package imports which, without itself; ``from bedlore import __version__`` is free."""
    graph: dict[str, set[str]] = {package_of(module): set() for module in sources}
    for module, source in sources.items():
        here = package_of(module)
        for name in imported_modules(module, source):
            there = package_of(name)
            if there != here and not there.startswith("__"):
                graph[here].add(there)
    return graph


def climbing_imports(sources: Mapping[str, str]) -> list[str]:
    """A sentence for each import that reaches a higher floor."""
    return [
        f"{here} (floor {FLOOR_OF[here]}) imports {there} (floor {FLOOR_OF[there]})"
        for here, others in package_graph(sources).items()
        for there in sorted(others)
        if FLOOR_OF[there] > FLOOR_OF[here]
    ]


def circle(sources: Mapping[str, str]) -> list[str]:
    """The packages of a circle, in order; empty when there is none."""
    try:
        TopologicalSorter(package_graph(sources)).prepare()
    except CycleError as error:
        return list(error.args[1])
    return []


def product_sources() -> dict[str, str]:
    """Source text of every file, by its dotted name (packages end in ``.__init__``)."""
    return {
        ".".join(("bedlore", *path.relative_to(SRC).with_suffix("").parts)): path.read_text("utf-8")
        for path in sorted(SRC.rglob("*.py"))
    }


def test_every_package_has_a_floor() -> None:
    packages = {package_of(module) for module in product_sources()}
    assert {"bed", "facts", "units"} <= packages
    assert packages <= set(FLOOR_OF), "give the new package a floor in test_floors.py"


def test_no_import_climbs() -> None:
    assert climbing_imports(product_sources()) == []


def test_packages_form_no_circle() -> None:
    assert circle(product_sources()) == []


def test_the_kernel_needs_no_outside_door() -> None:
    """Floors 0 to 4 are a library: no web framework, no terminal, no network."""
    doors = {"django", "click", "rich", "httpx", "typst", "vl_convert"}
    found = []
    for module, source in product_sources().items():
        if FLOOR_OF[package_of(module)] > 4:
            continue
        for node in ast.walk(ast.parse(source)):
            names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            found += [f"{module}: {name}" for name in names if name.split(".")[0] in doors]
    assert found == []


def foreign(source: str) -> set[str]:
    """Packages from outside that ``source`` imports, by the first part of their names."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            found |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and not node.level and node.module:
            found.add(node.module.split(".")[0])
    return found - set(sys.stdlib_module_names) - {"bedlore"}


def test_the_product_imports_only_what_it_installs() -> None:
    """What the tests alone install is not there in a kitchen: ``make run`` would fail."""
    project = tomllib.loads((SRC.parents[1] / "pyproject.toml").read_text("utf-8"))["project"]
    lines = [*project["dependencies"], *project["optional-dependencies"]["postgres"]]
    installed = {"pydantic-core"}  # comes with pydantic, in the version that it asks for
    installed |= {re.split(r"[\[<>=]", line)[0].lower().replace("_", "-") for line in lines}
    carried_by = packages_distributions()
    missing = [
        f"{module}: {name}" for module, source in product_sources().items()
        for name in foreign(source)
        if not {d.lower().replace("_", "-") for d in carried_by.get(name, [name])} & installed
    ]  # fmt: skip
    assert missing == []
    assert foreign("from scipy.special import ndtr\nimport json\nfrom . import a") == {"scipy"}


def test_the_check_sees_a_climbing_import() -> None:
    for line in (
        "from bedlore.cli.main import cli",
        "import bedlore.cli.main",
        "from bedlore import cli",
        "from ..cli import main",
        "def f():\n    from bedlore.cli import main",
        "importlib.import_module('bedlore.cli.main')",
    ):
        assert climbing_imports({"bedlore.bed.heat": line}) == [
            "bed (floor 2) imports cli (floor 7)"
        ], line


def test_the_check_sees_a_circle_on_one_floor() -> None:
    sources = {
        "bedlore.farm.model": "from bedlore.weather import series",
        "bedlore.weather.series": "from bedlore.farm import model",
    }
    assert set(circle(sources)) == {"farm", "weather"}
