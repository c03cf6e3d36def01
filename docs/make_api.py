"""Make docs/public_names.txt, the list of what is public, and the reference from the docstrings.

    .venv/bin/python docs/make_api.py            # the list
    .venv/bin/python docs/make_api.py docs/api   # and the pages: open docs/api/index.html

Public is what has a docstring and no leading underscore, and stands in its module's ``__all__`` if
there is one; of a class, whatever of its own body has no underscore.  The list is kept with the
source, so that a name that comes or goes is seen and meant; ``tests/test_public_names.py`` fails
until it is made anew.  The pages are made by pdoc, and are not kept.
"""

import ast
import re
import sys
import warnings
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from itertools import zip_longest
from pathlib import Path

ROOT = Path(__file__).parents[1]
NAMES = ROOT / "docs" / "public_names.txt"


@dataclass(frozen=True)
class Named:
    """Something that a module or class gives a name.

    Attributes:
        told: Whether it has a docstring.
        members: The public names in it, if it is a class.
    """

    told: bool
    members: tuple[str, ...] = ()


@cache
def modules() -> dict[str, list[ast.stmt]]:
    """Every module of the library by name, and what stands in it."""
    found = {}
    for file in sorted((ROOT / "mechlogic").rglob("*.py")):
        name = ".".join(file.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")
        found[name] = ast.parse(file.read_text(encoding="utf-8")).body
    return found


def named(body: Sequence[ast.stmt]) -> dict[str, Named]:
    """What is given a name here, but for names with a leading underscore."""
    found = {}
    for node, after in zip_longest(body, body[1:]):
        match node:
            case ast.FunctionDef(name=name):
                is_named = Named(bool(ast.get_docstring(node)))
            case ast.ClassDef(name=name):
                is_named = Named(bool(ast.get_docstring(node)), tuple(sorted(named(node.body))))
            case ast.Assign(targets=[ast.Name(id=name)]) | ast.AnnAssign(target=ast.Name(id=name)):
                is_named = Named(_is_text(after))
            case _:
                continue
        if not name.startswith("_"):
            found[name] = is_named
    return found


def _is_text(node: ast.stmt | None) -> bool:
    return isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)


def offered(body: Sequence[ast.stmt]) -> list[str] | None:
    """What a module's ``__all__`` says, if there is one."""
    for node in body:
        match node:
            case ast.Assign(targets=[ast.Name(id="__all__")], value=value):
                return list(ast.literal_eval(value))
    return None


def public_names() -> str:
    """A line for each public name, in order; after a class, its public methods and fields."""
    lines = []
    for module, body in modules().items():
        found, listed = named(body), offered(body)
        public = [name for name, one in found.items() if one.told] if listed is None else listed
        for name in public:
            members = found[name].members if name in found else ()  # not defined, but passed on
            lines.append(f"{module}.{name}{': ' if members else ''}{', '.join(members)}\n")
    return "".join(sorted(lines))


# -- pages -----------------------------------------------------------------------------------------


def make_pages(folder: Path, search: bool = True) -> None:
    """Make the reference: a page for each module, and a search over all of them."""
    import pdoc

    from mechlogic import widgets

    for name in widgets.__all__:  # which are loaded when they are asked for; pdoc does not ask
        setattr(widgets, name, getattr(widgets, name))
    pdoc.render.env.filters["readable"] = readable
    pdoc.render.configure(
        docformat="google",
        include_undocumented=False,
        show_source=False,
        search=search,
        template_directory=ROOT / "docs" / "api_template",
    )
    with warnings.catch_warnings():
        # Most packages bring their modules themselves, those with an __all__ do not: name them all.
        warnings.filterwarnings("ignore", "The module specification", UserWarning)
        # A trait says what is in its dictionary, but cannot be asked for it: as it is written.
        warnings.filterwarnings("ignore", "Error parsing type annotation traitlets", UserWarning)
        pdoc.pdoc(*modules(), output_directory=folder)


TABLE = re.compile(r"^(=+(?:  =+)+)\n(?:(\S.*)\n\1\n)?((?:.*\n)+?)\1$", re.MULTILINE)
"""A simple table of reStructuredText: its rule, its heading if there is one, its rows."""


def readable(text: str) -> str:
    """A docstring with what pdoc lacks: tables as Markdown has them, and names without a tilde."""
    return re.sub(r"(:\w+:`)~", r"\1", TABLE.sub(lambda found: _table(*found.groups()), text))


def _table(rule: str, heading: str | None, rows: str) -> str:
    starts = [found.start() for found in re.finditer("=+", rule)]
    cells = [re.split(" {2,}", heading)] if heading else [[""] * len(starts)]
    cells.append(["---"] * len(starts))
    for line in rows.splitlines():
        if line.startswith(" "):  # it goes on with the row before
            parts = [line[a:b].strip() for a, b in zip(starts, [*starts[1:], None], strict=True)]
            cells[-1] = [f"{cell} {part}" for cell, part in zip(cells[-1], parts, strict=True)]
        else:
            row = re.split(" {2,}", line)
            cells.append(row + [""] * (len(starts) - len(row)))
    return "\n".join(f"| {' | '.join(row)} |" for row in cells)


if __name__ == "__main__":
    NAMES.write_text(public_names(), encoding="utf-8", newline="\n")
    if sys.argv[1:]:
        make_pages(Path(sys.argv[1]))
