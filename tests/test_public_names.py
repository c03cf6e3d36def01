"""What the library promises: its public names are listed, documented, and their examples run."""

import doctest
import importlib
import importlib.util
import inspect
import warnings
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]


def script():
    spec = importlib.util.spec_from_file_location("make_api", ROOT / "docs" / "make_api.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


API = script()
MODULES = sorted(API.modules())
LISTED = API.NAMES.read_text(encoding="utf-8").splitlines()


def split(line: str) -> tuple[str, str, list[str]]:
    """The module, the name and the members that a line of the list has."""
    whole, _, members = line.partition(": ")
    module, _, name = whole.rpartition(".")
    return module, name, members.split(", ") if members else []


def test_no_public_name_comes_or_goes_unnoticed():
    listed, found = set(LISTED), set(API.public_names().splitlines())
    gone, new = sorted(listed - found), sorted(found - listed)
    assert (gone, new) == ([], []), (
        "what the library promises has changed. If that is meant, run docs/make_api.py, commit "
        "docs/public_names.txt, and tell users in CHANGELOG.md"
    )


def test_the_list_is_in_order_and_names_everything_once():
    assert sorted(set(LISTED)) == LISTED


@pytest.mark.parametrize("name", MODULES)
def test_what_is_listed_is_there_and_what_is_there_is_listed(name):
    """The list is read off the source; here it is held against the modules as they are imported."""
    module = importlib.import_module(name)
    listed = {one: members for where, one, members in map(split, LISTED) if where == name}
    for one, members in listed.items():
        assert hasattr(module, one)
        thing = getattr(module, one)
        for member in members:
            assert hasattr(thing, member) or member in inspect.get_annotations(thing)
    own = {
        one
        for one, thing in vars(module).items()
        if (inspect.isclass(thing) or inspect.isfunction(thing))
        and thing.__module__ == name
        and thing.__name__ == one
        and not one.startswith("_")
    }
    assert own & set(getattr(module, "__all__", own)) <= set(listed)


WITH_EXAMPLES = [
    name for name in MODULES if ">>>" in inspect.getsource(importlib.import_module(name))
]


@pytest.mark.parametrize("name", WITH_EXAMPLES)
def test_an_example_shows_what_it_says(name):
    found = doctest.testmod(importlib.import_module(name))
    assert found.attempted and not found.failed


def test_every_public_name_says_what_it_is():
    silent = [
        f"{module}.{name}"
        for module, body in API.modules().items()
        for name, one in API.named(body).items()
        if name in (API.offered(body) or ()) and not one.told
    ]
    assert silent == [], "give it a docstring"


def test_the_reference_has_a_place_for_every_public_name(tmp_path):
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        API.make_pages(tmp_path, search=False)
    assert (tmp_path / "index.html").is_file()
    lost = []
    for module, name, _ in map(split, LISTED):
        page = tmp_path.joinpath(*module.split(".")).with_suffix(".html")
        if f'id="{name}"' not in page.read_text(encoding="utf-8"):
            lost.append(f"{module}.{name}")
    assert lost == []
    laws = (tmp_path / "mechlogic" / "model" / "laws.html").read_text(encoding="utf-8")
    assert "<th>travel law</th>" in laws, "tables are tables"
    assert 'id="Follow.__init__"' in laws, "a class is shown with what it is made from"
