"""A typed claim: it means what Python's own and, or and not make of it; the rest is refused."""

from functools import cache

import pytest
from brute_force import Printer, read
from hypothesis import example, given, settings
from hypothesis import strategies as st

import mechlogic
from mechlogic.explaining import claims
from mechlogic.explaining.claims import ClaimError
from mechlogic.machines import FOLDER
from mechlogic.widgets import ClaimBox

BITS = ("b1", "b2", "b3")
WIND, SALTMERE, DESK, EBBING = map(mechlogic.load, ("wind", "saltmere", "desk", "ebbing"))


def trees(depth=3):
    """A claim as a tree: a name, ("not", tree), or (tree, "and" or "or", tree)."""
    leaf = st.sampled_from(BITS)
    if not depth:
        return leaf
    one = trees(depth - 1)
    return (
        leaf | st.tuples(st.just("not"), one) | st.tuples(one, st.sampled_from(["and", "or"]), one)
    )


def typed(tree, signs):
    """The tree as a person might type it, every part in brackets that is more than a name."""
    words = {"not": "~", "and": "&", "or": "|"} if signs else {}
    if isinstance(tree, str):
        return tree
    return " ".join(
        words.get(one, one) if one in ("not", "and", "or") else
        one if isinstance(one, str) else f"({typed(one, signs)})"
        for one in tree
    )  # fmt: skip


def worth(tree, bits):
    if isinstance(tree, str):
        return bits[tree]
    if tree[0] == "not":
        return not worth(tree[1], bits)
    one, join, other = tree
    both = worth(one, bits), worth(other, bits)
    return all(both) if join == "and" else any(both)


def settings_of(names):
    return [
        {name: bool(n >> i & 1) for i, name in enumerate(names)} for n in range(1 << len(names))
    ]


def holds(claim, bits):
    return bool(claim.subs({claims.Symbol(name): value for name, value in bits.items()}))


def python(text, bits):
    """What Python makes of words that this file has put together."""
    return eval(text, {"__builtins__": {}}, dict(bits))  # noqa: S307


@given(trees(), st.booleans())
def test_a_claim_means_what_its_words_say(tree, signs):
    claim = claims.read(typed(tree, signs), BITS)
    for bits in settings_of(BITS):
        assert holds(claim, bits) == worth(tree, bits)


@given(st.lists(st.sampled_from(["b1", "b2", "b3", "not", "and", "or", "(", ")"]), max_size=12))
def test_words_in_any_order_are_read_as_python_reads_them_or_refused_where_python_does(words):
    """Python's own grammar of these words is the independent judge; ``b1 (b2)`` is a call there."""
    text = " ".join(words)
    try:
        claim = claims.read(text, BITS)
    except ClaimError:
        with pytest.raises((SyntaxError, TypeError)):
            python(text, dict.fromkeys(BITS, True))
        return
    for bits in settings_of(BITS):
        assert holds(claim, bits) == python(text, bits)


@given(st.text(max_size=250))
@example("not " * 50 + "b1")
@example("~" * 200)
@example("(" * 200)
@example("__import__('os').system('x')")
@example("b1 if b2 else b3")
@example("b\u0661")
def test_any_text_is_a_claim_or_is_refused_in_one_line_that_says_what_to_do(text):
    try:
        claims.read(text, BITS)
    except ClaimError as error:
        assert error.what and error.mend and str(error).isprintable()


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "At letter 1, the end: a name is missing here. Write b1, b2 or b3"),
        ("b1 or", "At letter 6, the end: a name is missing here. Write b1, b2 or b3"),
        ("b1 and or b2", 'At letter 8, "or": a name is missing here. Write b1, b2 or b3'),
        ("b1 b2", 'At letter 4, "b2": "and" or "or" is missing before this. Write one of them'),
        ("b1 xor b2", 'At letter 4, "xor": "and" or "or" is missing'),
        ("b1 or b9", 'At letter 7, "b9": nothing is called that. Use b1, b2 or b3, joined by'),
        ("(b1 or b2", "At letter 10, the end: the bracket of letter 1 is not closed. Write ) here"),
        ("b1)", 'At letter 3, ")": no bracket is open here. Delete it, or write ( before'),
        ("(" * 11 + "b1", "more than 10 brackets within each other. Make a simpler claim"),
        ("b1 or " * 40 + "b1", "the claim has 242 letters; 200 are the most. Make a shorter claim"),
    ],
)
def test_a_claim_that_cannot_be_read_says_where_and_what_to_do(text, says):
    with pytest.raises(ClaimError) as refused:
        claims.read(text, BITS)
    assert says in str(refused.value)


def test_a_true_claim_is_proved_and_a_false_one_is_refuted_by_what_the_part_does():
    assert claims.answer(WIND, "middle_stop", 0, "b1 or b2") == claims.Answer(
        "Proved: the middle stop lever stands at 4 mm exactly when b1 | b2. All 4 settings agree.",
        True,
        0,
    )
    assert claims.answer(WIND, "middle_stop", 0, "B1 AND B2") == claims.Answer(
        "Refuted: the middle stop lever stands at 4 mm exactly when b1 & b2. With only b1 set, "
        "the middle stop lever stands at 4 mm; by the claim it does not stand at 4 mm.",
        False,
        1,
    )
    further = claims.answer(WIND, "lift_rack", 1, "b1")
    assert further.says.endswith("With only b1 set, the lift rack stands at 5 mm; "
                                 "by the claim it stands at 10 mm or further.")  # fmt: skip


def test_what_a_latch_did_before_is_said():
    part = next(n for n in EBBING.mechanism.parts if "shift" in EBBING.mechanism.upstream(n))
    assert "Before, the shift latch stood at rest." in claims.answer(EBBING, part, 0, "b1").says


@cache
def stood(name):
    """Where every part stands for every code, by the brute force."""
    printer = Printer(read(FOLDER / f"{name}.toml"))
    codes = range(1 << mechlogic.load(name).units)
    return printer.places, [printer.follow(code)[0] for code in codes]


@pytest.mark.parametrize("name", mechlogic.machines.names())
@settings(max_examples=settings().max_examples // 5)
@given(data=st.data())
def test_whatever_is_claimed_of_any_part_the_verdict_is_that_of_the_brute_force(name, data):
    mechanism, (places, found) = mechlogic.load(name).mechanism, stood(name)
    known = claims.names(mechanism)
    part = data.draw(st.sampled_from(list(places)))
    cut = data.draw(st.integers(0, len(places[part]) - 2))
    literals = st.tuples(st.sampled_from(["", "not "]), st.sampled_from(known)).map("".join)
    chosen = data.draw(st.lists(literals, min_size=1, max_size=4))
    text = data.draw(st.sampled_from([" or ", " and "])).join(chosen)
    wrong = []
    for code, at in enumerate(found):
        codes = {key: joint.code for key, joint in mechanism.keys.items()}
        bits = {n: codes[n] == code if codes else bool(code >> int(n[1:]) - 1 & 1) for n in known}
        if (at[part] >= places[part][cut + 1]) != python(text, bits):
            wrong.append(code)
    answer = claims.answer(mechlogic.load(name), part, cut, text)
    assert answer.holds == (not wrong)
    assert answer.holds or answer.setting == wrong[0]


def test_the_box_shows_the_setting_that_refutes_and_says_what_cannot_be_read():
    box = ClaimBox(WIND, "middle_stop")
    box.claim.value = "b1 and b2"
    box.check.click()
    assert "Refuted" in box._told.value and (box.view.code, box.view.picked) == (1, "middle_stop")
    box.claim.value = "b1 or <b>"
    box.check.click()
    assert "At letter 7, &#34;&lt;&#34;" in box._told.value
    box.machine.value = SALTMERE
    assert box.view.machine is SALTMERE and box.part.value in SALTMERE.mechanism.parts
    box.part.value = "hammer"
    box.claim.value = "b7 or b6 and (b4 or b5)"
    box.check.click()
    assert "Proved" in box._told.value and box.view.picked == "hammer"


@pytest.mark.parametrize("name", mechlogic.machines.names())
def test_the_box_takes_a_claim_about_every_part_of_every_machine(name):
    machine = mechlogic.load(name)
    box = ClaimBox(machine)
    box.claim.value = f"not {claims.names(machine.mechanism)[0]}"
    for _, part in box.part.options:
        box.part.value = part
        for _, cut in box.cut.options:
            box.cut.value = cut
            box.check.click()
            assert "Proved" in box._told.value or "Refuted" in box._told.value
