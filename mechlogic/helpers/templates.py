"""Pages from templates: all HTML of ours stands in ``mechlogic/templates``, none in Python.

>>> render("list.html", items=["a < b"])
'<ul><li>a &lt; b</li></ul>'
"""

from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from jinja2 import Environment

FOLDER = Path(__file__).parent.parent / "templates"


def render(name: str, **data: Any) -> str:
    """A template, filled in; whatever is filled in is escaped, unless it is marked as safe.

    Args:
        name: The file's name in ``mechlogic/templates``.
        data: What the template asks for; a name that it asks for and is not given is an error.
    """
    return _environment().get_template(name).render(data)


def piece(name: str, macro: str, *data: Any) -> str:
    """What one macro of a template makes of some data, escaped as by :func:`render`.

    Args:
        name: The file's name in ``mechlogic/templates``.
        macro: The macro's name in that file.
        data: What it is called with.
    """
    return str(getattr(_environment().get_template(name).module, macro)(*data))


@cache
def _environment() -> "Environment":
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    return Environment(
        loader=FileSystemLoader(FOLDER),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
