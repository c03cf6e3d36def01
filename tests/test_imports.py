"""The modules of the library: who imports whom, and that the picture for contributors has all."""

import ast
import re
from graphlib import TopologicalSorter
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
LIBRARY = ROOT / "mechlogic"
PICTURE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").split("```")[1]
LEAVES = ["covers", "json_lines", "motion", "oil", "refusal", "safe_file", "toml_lines"]
ASKED_LATE = ("mechlogic.report", "mechlogic.drawing.report_pages")  # the one exception


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


def test_no_two_modules_import_each_other():
    graph = {module: imported_by(module) for module in MODULES}
    asking, asked = ASKED_LATE
    assert asked in graph[asking], "the exception is no longer needed"
    graph[asking].discard(asked)
    assert set(TopologicalSorter(graph).static_order()) == MODULES.keys()


@pytest.mark.parametrize("name", LEAVES)
def test_a_leaf_imports_no_other_module(name):
    assert imported_by(f"mechlogic.{name}") == set()


def test_the_core_imports_neither_widgets_nor_workbooks():
    for module in MODULES:
        if not module.startswith("mechlogic.widgets"):
            widgets = {one for one in imported_by(module) if one.startswith("mechlogic.widgets")}
            assert widgets == set(), module


@pytest.mark.parametrize("path", sorted(LIBRARY.glob("[!_]*.py")), ids=lambda path: path.name)
def test_the_picture_for_contributors_names_every_module(path):
    assert re.search(rf"(?<![\w/]){re.escape(path.name)}", PICTURE)
