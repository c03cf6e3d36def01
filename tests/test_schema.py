"""The keys that were taken down are those that the reader asks for when it reads a real text."""

import re

import pytest

from mechlogic.describing.description import DescriptionError, parse
from mechlogic.describing.schema import Key, schema
from mechlogic.describing.writing import output_tables, part_keys
from mechlogic.machines import FOLDER, load, names
from mechlogic.model.laws import JOINTS

SCHEMA = schema()
WIND = (FOLDER / "wind.toml").read_text("utf-8")
VALUES = {
    "text": '"x"',
    "texts": '["x"]',
    "number": "1.0",
    "numbers": "[1.0]",
    "part": '"bar1"',
    "parts": '["bar1"]',
    "code": '"N"',
    "table": "{ x = 1 }",
}
OUTPUTS = sorted(SCHEMA.outputs)


def problems(text: str) -> list[str]:
    try:
        parse(text)
    except DescriptionError as error:
        return [problem.what for problem in error.problems]
    return []


def mends(text: str) -> list[str]:
    try:
        parse(text)
    except DescriptionError as error:
        return [problem.mend for problem in error.problems]
    return []


def missing(text: str, table: str) -> set[str]:
    """The keys that are said to be missing from a table, or from the entries of its lists."""
    try:
        parse(text)
    except DescriptionError as error:
        return {
            problem.what.removesuffix(" is missing")
            for problem in error.problems
            if re.sub(r"\[\d+\]", "", problem.table) == table
            and problem.what.endswith(" is missing")
        }
    return set()


def written(keys: tuple[Key, ...]) -> str:
    return "\n".join(f"{key.name} = {value(key)}" for key in keys)


def value(key: Key) -> str:
    if key.choices:
        return f'"{key.choices[0]}"'
    if key.keys:
        table = "{ " + ", ".join(f"{inner.name} = {value(inner)}" for inner in key.keys) + " }"
        return f"[{table}]" if key.kind == "tables" else table
    return VALUES[key.kind.split(" or ")[0]]


def with_output(name: str, keys: str) -> str:
    """The wind stamp with another output."""
    before, after = WIND.split("[wheel]")
    return f"{before}[{name}]\n{keys}\n\n[codes]{after.split('[codes]')[1]}"


@pytest.mark.parametrize("name", SCHEMA.joints)
def test_a_part_with_nothing_but_its_joint_lacks_just_the_keys_that_it_needs(name):
    text = f'{WIND}\n[parts.spare]\njoint = "{name}"\n'
    assert missing(text, "parts.spare") == {key.name for key in SCHEMA.joints[name] if key.needed}


def refused(name: str) -> set[tuple[str, str]]:
    """The tables and keys that a part with this joint and every key has too many or too few."""
    keys = (*SCHEMA.tables["parts"][1:], *SCHEMA.joints[name])
    try:
        parse(f'{WIND}\n[parts.spare]\njoint = "{name}"\n{written(keys)}\n')
    except DescriptionError as error:
        return {
            (problem.table, problem.key)
            for problem in error.problems
            if "no key here" in problem.what or problem.what.endswith("is missing")
        }
    return set()


REFUSED = {name: refused(name) for name in SCHEMA.joints}


@pytest.mark.parametrize("name", SCHEMA.joints)
def test_a_part_with_every_key_has_no_unknown_one_and_lacks_none(name):
    depends_on_joint = set.union(*REFUSED.values()) - set.intersection(*REFUSED.values())
    assert REFUSED[name] <= depends_on_joint
    assert {table for table, _ in REFUSED[name]} <= {
        "parts.spare.tolerances",
        "parts.spare.adjusts",
    }


@pytest.mark.parametrize("name", OUTPUTS)
def test_an_empty_output_lacks_just_the_keys_that_it_needs(name):
    needed = {key.name for key in SCHEMA.outputs[name] if key.needed}
    assert missing(with_output(name, ""), name) == needed


@pytest.mark.parametrize("name", OUTPUTS)
def test_an_output_with_every_key_has_no_unknown_one_and_lacks_none(name):
    said = problems(with_output(name, written(SCHEMA.outputs[name])))
    assert not [what for what in said if "no key here" in what or what.endswith("is missing")]


@pytest.mark.parametrize(
    ("table", "keys"),
    [
        *((f"parts.spare.{k.name}", k) for keys in SCHEMA.joints.values() for k in keys if k.keys),
        *((f"{n}.{k.name}", k) for n, keys in SCHEMA.outputs.items() for k in keys if k.keys),
        *((f"codes.{k.name}", k) for k in SCHEMA.tables["codes"] if k.keys),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_an_empty_entry_of_a_list_lacks_just_the_keys_that_it_needs(table, keys):
    first, *_, list_ = table.split(".")
    if first == "parts":
        joint = next(name for name, ks in SCHEMA.joints.items() if keys in ks)
        text = f'{WIND}\n[parts.spare]\njoint = "{joint}"\n{list_} = [{{}}]\n'
    elif first == "codes":
        text = re.sub(r"printing = .*", "", WIND) + f"\n{list_} = [{{}}]\n"
    else:
        text = with_output(first, f"{list_} = [{{}}]")
    assert missing(text, table) == {key.name for key in keys.keys if key.needed}


@pytest.mark.parametrize("key", [key for key in SCHEMA.tables["parts"] if key.keys])
def test_a_table_within_a_part_lacks_just_the_keys_that_it_needs(key):
    may = next(inner for inner in key.keys if not inner.needed)
    text = f'{WIND}\n[parts.spare]\njoint = "follow"\n{key.name} = {written((may,)).join("{}")}\n'
    assert missing(text, f"parts.spare.{key.name}") == {k.name for k in key.keys if k.needed}


def test_every_table_within_a_part_but_the_hints_for_drawing_has_its_keys_told():
    assert [k.name for k in SCHEMA.tables["parts"] if k.kind == "table" and not k.keys] == ["draw"]


def test_every_table_of_a_description_is_told():
    (offered,) = mends(f"{WIND}\n[zzz]\n")
    known = offered.split("Known names: ")[1].rstrip(".").split(", ")
    assert {*SCHEMA.tables, *SCHEMA.outputs, "efforts_min"} == set(known)


@pytest.mark.parametrize("name", sorted(set(SCHEMA.tables) - {"parts", "machine", "codes"}))
def test_an_empty_table_that_may_be_left_out_lacks_just_the_keys_that_it_needs(name):
    needed = {key.name for key in SCHEMA.tables[name] if key.needed}
    assert missing(f"{WIND}\n[{name}]\n", name) == needed


@pytest.mark.parametrize("name", ["machine", "codes"])
def test_an_empty_table_lacks_just_the_keys_that_it_needs(name):
    text = re.sub(rf"(?ms)^\[{name}\]\n.*?(?=^\[|\Z)", f"[{name}]\n", WIND)
    assert missing(text, name) == {key.name for key in SCHEMA.tables[name] if key.needed}


def test_what_holds_if_a_key_is_left_out():
    for name, keys in SCHEMA.joints.items():
        for key in keys:
            if key.default:
                assert (key.name, key.default) in {
                    ("ratio", "1"), ("first_arm_mm", "1"), ("second_arm_mm", "1"),
                    ("gap_mm", "0"), ("backlash_deg", "0"),
                }, name  # fmt: skip
    assert {key.name: key.default for key in SCHEMA.tables["codes"]}["parity"] == '"none"'


@pytest.mark.parametrize("name", names())
def test_whatever_is_written_is_known_here(name):
    machine = load(name)
    for part in machine.mechanism:
        keys = part_keys(part, machine.code)
        known = (*SCHEMA.tables["parts"], *SCHEMA.joints[str(keys["joint"])])
        assert set(keys) <= {key.name for key in known}
    for table, keys in output_tables(machine.output).items():
        assert set(keys) <= {key.name for key in SCHEMA.outputs[table]}


def test_every_joint_is_told():
    assert set(SCHEMA.joints) == set(JOINTS)
