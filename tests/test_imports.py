"""The modules of the library: who imports whom, and that the picture for contributors has all."""

import ast
import re
from graphlib import TopologicalSorter
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
LIBRARY = ROOT / "mechlogic"
PICTURE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").split("```")[1]
PACKAGES = [  # a package imports from those before it only
    ("helpers",),
    ("model",),
    ("explaining",),
    ("describing", "bench", "fit", "time"),
    ("acceptance", "machines", "line"),
    ("teaching",),
    ("drawing",),
    ("widgets",),
    ("site",),
]


def module_of(path: Path) -> str:
    return ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")


MODULES = {module_of(path): path for path in LIBRARY.rglob("*.py")}


def for_types_only(tree: ast.Module) -> set[ast.AST]:
    """Everything below ``if TYPE_CHECKING:``, which never runs."""
    checks = [n for n in ast.walk(tree) if isinstance(n, ast.If)]
    return {
        inner
        for check in checks
        if ast.unparse(check.test) == "TYPE_CHECKING"
        for inner in ast.walk(check)
    }


def imported_by(module: str) -> set[str]:
    """The modules of the library that one imports, at its head or within a function."""
    tree = ast.parse(MODULES[module].read_text(encoding="utf-8"))
    unseen, found = for_types_only(tree), set()
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node not in unseen:
            names = [f"{node.module}.{alias.name}" for alias in node.names]
            found |= {name if name in MODULES else node.module for name in names}
        elif isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
    return found & MODULES.keys()


def package_of(module: str) -> str:
    return module.split(".")[1] if "." in module else ""


def test_no_two_modules_import_each_other():
    graph = {module: imported_by(module) for module in MODULES}
    assert set(TopologicalSorter(graph).static_order()) == MODULES.keys()


def test_every_package_has_its_place_in_the_order():
    packages = {path.parent.name for path in LIBRARY.glob("*/__init__.py")}
    assert packages == {name for layer in PACKAGES for name in layer}


@pytest.mark.parametrize("depth", range(len(PACKAGES)), ids=map("+".join, PACKAGES))
def test_a_package_imports_only_from_those_below_it(depth):
    below = {"", *(name for layer in PACKAGES[:depth] for name in layer)}
    for module in MODULES:
        own = package_of(module)
        if own in PACKAGES[depth]:
            assert {package_of(one) for one in imported_by(module)} <= below | {own}, module


@pytest.mark.parametrize("path", sorted(LIBRARY.glob("*/[!_]*.py")), ids=lambda path: path.name)
def test_the_map_for_contributors_names_every_module(path):
    if path.parent.name not in ("drawing", "widgets"):
        assert re.search(rf"(?<![\w/]){re.escape(path.stem)}\b", PICTURE), path.name
