"""The page about the format is what its script makes, with a sentence for every key."""

import importlib.util
import re
import tomllib
from pathlib import Path

from mechlogic.describing import description, writing
from mechlogic.describing.schema import schema

DOCS = Path(__file__).parent.parent / "docs"


def script():
    spec = importlib.util.spec_from_file_location("make_format_page", DOCS / "make_format_page.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


PAGE = script()
TEXT = (DOCS / "describe_a_machine.md").read_text("utf-8")


def test_the_page_is_what_the_script_makes():
    assert PAGE.page() == TEXT, "run docs/make_format_page.py and look at what has changed"


def test_every_key_has_a_sentence():
    assert not [path for path, key in PAGE.all_keys() if not re.fullmatch(r"[A-Z].*\.", key.says)]


def test_every_joint_output_and_table_has_a_sentence():
    found = schema()
    assert set(PAGE.JOINTS) == set(found.joints)
    assert set(PAGE.OUTPUTS) == set(found.outputs)
    assert set(PAGE.TABLES) == set(found.tables)


def test_every_key_stands_on_the_page():
    for table, keys in {**schema().joints, **schema().outputs}.items():
        part = TEXT.split(f'### joint = "{table}"' if table in PAGE.JOINTS else f"### [{table}]")[1]
        rows = part.split("\n### ")[0]
        for key in keys:
            assert re.search(rf"^\| (\*\*)?`{key.name}`(\*\*)? \|", rows, re.MULTILINE), key


def test_what_is_offered_to_be_copied_can_be_read_and_saved():
    blocks = re.findall(r"```toml\n(.*?)```", TEXT, re.DOTALL)
    assert len(blocks) == 2
    for block in blocks:
        machine = description.parse(block)
        assert writing.same(machine, description.parse(writing.write(machine)))
        assert tomllib.loads(block)["codes"]["alphabet"] == list(machine.printed)
