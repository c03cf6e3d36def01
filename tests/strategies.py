"""Random small machines, faults and logs for property tests.

A machine is drawn as a description, the plain dicts that a TOML file gives, so that the brute
force and the library can each read it in their own way: ``Printer(description)`` and
``machine_of(description)``.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from functools import reduce
from typing import Any

from brute_force import AT_TIMES, Description, Entry, Fault, Printer, inputs_of
from hypothesis import assume, settings
from hypothesis import strategies as st

from mechlogic.model import faults as library_faults
from mechlogic.model import laws
from mechlogic.model.codes import Code
from mechlogic.model.laws import Joint, Literal, Stop
from mechlogic.model.logbook import NOTHING, UNREADABLE
from mechlogic.model.machine import Declared, Fold, Machine, Run
from mechlogic.model.mechanism import Mechanism, Part
from mechlogic.model.outputs import (
    Action,
    Actions,
    Both,
    Line,
    Output,
    TypeBar,
    Typebar,
    Typebars,
    TypeWheel,
)

few = settings(max_examples=settings().max_examples // 3)
"""For tests that draw whole machines: fewer examples than usual, in any profile."""

MOST_PLACES = 8
GLYPHS = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789!#$%&*+"

strokes = st.sampled_from([Fraction(n) for n in (2, 3, 4, 6)])
ratios = st.sampled_from([Fraction(n, 4) for n in (1, 2, 4, 5, 8)])
arms = st.sampled_from([Fraction(n) for n in (1, 2, 3)])
ends = st.sampled_from(["operated", "at rest"])
gaps = st.sampled_from([Fraction(n, 2) for n in (0, 0, 0, 1, 2)])

JOINTS = (
    "follow",
    "spring_link",
    "withdraw",
    "either_pushes",
    "all_clear",
    "pull_bar",
    "stepped_stops",
    "half_step",
    "opposed_racks",
    "summing_lever",
    "cam",
)
"""Joints whose place is settled by the code sent now."""

EVERY_JOINT = (*JOINTS, "latch", "latch", "contact", "contact")
"""These, and those with memory, and those of electricity; twice over, or few would be drawn."""

PATHS = [
    [{"input_mm": Fraction(at), "output_mm": Fraction(height)} for at, height in path]
    for path in (
        [(1, 2)],
        [(1, 0), (3, 4)],
        [(1, 1), (2, 1), (4, 6)],
        [(2, 1), (3, 1), (6, 2)],
    )
]
"""Paths of a cam: a rise, a rise after a dwell, and two rises with a dwell between."""

MOST_LATCHES = 2
ACTIONS = ("CR", "LF", "BEL", "WRU")


# -- parts -----------------------------------------------------------------------------------------


@st.composite
def parts(
    draw: st.DrawFn,
    joints: Sequence[str] = JOINTS,
    bits: tuple[int, int] = (2, 5),
    keys: int = 0,
    most: int = 10,
) -> dict[str, Any]:
    """Code bars and three to ten parts behind them, as the ``parts`` table of a description.

    Every part moves, and none has more than a few places.  They stand in no particular order.
    There may be key levers beside the code bars, each for a code of its own.
    """
    found: dict[str, Any] = {
        f"bar{bit}": {"joint": "bit", "bit": bit, "stroke_mm": draw(strokes)}
        for bit in range(1, draw(st.integers(*bits)) + 1)
    }
    codes = draw(st.permutations(range(1 << len(found))))
    for code in codes[: draw(st.integers(0, keys))]:
        found[f"key{code}"] = {"joint": "key", "key": GLYPHS[code], "stroke_mm": draw(strokes)}
    for number in range(draw(st.integers(3, most))):
        others = st.sampled_from(list(found))
        part = draw(part_behind(others, draw(st.sampled_from(joints))))
        name = f"part{number}"
        all_places = Printer({"parts": {**found, name: part}}).places
        if any(all_places[touched][0] for touched in inputs_of(part)) and "gap_mm" in part:
            del part["gap_mm"]  # lost motion is measured from rest
            all_places = Printer({"parts": {**found, name: part}}).places
        places = all_places[name]
        latches = [one for one in found.values() if one["joint"] == "latch"]
        too_many = part["joint"] == "latch" and len(latches) == MOST_LATCHES
        if too_many or not 2 <= len(places) <= MOST_PLACES:
            part = {"joint": "follow", "input": draw(others), "ratio": draw(ratios)}
        found[name] = part
    return dict(draw(st.permutations(list(found.items()))))


def part_behind(others: st.SearchStrategy[str], joint: str) -> st.SearchStrategy[dict[str, Any]]:
    """A part with the given joint that touches some of the others."""
    several = st.lists(others, min_size=1, max_size=3, unique=True)
    match joint:
        case "follow" | "withdraw":
            rest: dict[str, Any] = {"input": others, "ratio": ratios}
        case "spring_link":
            rest = {"input": others, "at_mm": arms, "ratio": ratios}
        case "either_pushes" | "all_clear":
            rest = {"inputs": several, "ratio": ratios}
        case "pull_bar":
            notch = st.fixed_dictionaries({"part": others, "when": ends})
            rest = {"notches": st.lists(notch, min_size=1, max_size=3)}
        case "stepped_stops":
            stop = st.fixed_dictionaries(
                {"at_mm": st.integers(0, 3).map(Fraction), "lever": others},
                optional={"when": ends, "lets_go_mm": arms},
            )
            rest = {
                "stops": st.lists(stop, min_size=1, max_size=3),
                "end_mm": st.just(Fraction(4)),
            }
        case "half_step":
            rest = {"base": others, "shoulder": others, "step_mm": ratios}
        case "opposed_racks":
            rest = {"forward": others, "backward": others, "degrees_per_mm": ratios}
        case "cam":
            rest = {"input": others, "corners": st.sampled_from(PATHS)}
        case "latch":
            rest = {"set": others, "reset": others, "throw_mm": strokes}
        case "contact":
            return st.fixed_dictionaries(
                {"joint": st.just(joint), "input": others}, optional={"closes_mm": arms}
            )
        case "summing_lever":
            rest = {"first": others, "second": others, "first_arm_mm": arms, "second_arm_mm": arms}
        case _:
            raise NotImplementedError(f"no case for {joint!r} in strategies.part_behind")
    return st.fixed_dictionaries({"joint": st.just(joint), **rest}, optional={"gap_mm": gaps})


def joint_of(part: Mapping[str, Any]) -> Joint:
    """The library's joint for a part of a description."""
    match part["joint"]:
        case "bit":
            return laws.Bit(part["bit"], part["stroke_mm"])
        case "follow":
            return laws.Follow(part["input"], part["ratio"])
        case "spring_link":
            return laws.SpringLink(part["input"], part["at_mm"], part["ratio"])
        case "withdraw":
            return laws.Withdraw(part["input"], part["ratio"])
        case "either_pushes":
            return laws.EitherPushes(tuple(part["inputs"]), part["ratio"])
        case "all_clear":
            return laws.AllClear(tuple(part["inputs"]), part["ratio"])
        case "pull_bar":
            return laws.PullBar(
                tuple(Literal(n["part"], n["when"] == "operated") for n in part["notches"])
            )
        case "stepped_stops":
            stops = tuple(
                Stop(
                    Literal(stop["lever"], stop.get("when", "operated") == "operated"),
                    stop["at_mm"],
                    stop.get("lets_go_mm"),
                )
                for stop in part["stops"]
            )
            return laws.SteppedStops(stops, part["end_mm"])
        case "half_step":
            return laws.HalfStep(part["base"], part["shoulder"], part["step_mm"])
        case "opposed_racks":
            return laws.OpposedRacks(part["forward"], part["backward"], part["degrees_per_mm"])
        case "summing_lever":
            return laws.SummingLever(
                part["first"], part["second"], part["first_arm_mm"], part["second_arm_mm"]
            )
        case "cam":
            corners = (laws.Corner(c["input_mm"], c["output_mm"]) for c in part["corners"])
            return laws.Cam(part["input"], tuple(corners))
        case "latch":
            return laws.Latch(part["set"], part["reset"], part["throw_mm"])
        case "key":
            return laws.Key(GLYPHS.index(part["key"]), part["stroke_mm"])
        case "contact":
            return laws.Contact(part["input"], part.get("closes_mm"))
    raise NotImplementedError(f"no case for {part['joint']!r} in strategies.joint_of")


def mechanism_of(description: Description) -> Mechanism:
    return Mechanism(
        Part(name, joint_of(part), gap_mm=part.get("gap_mm", Fraction(0)))
        for name, part in description["parts"].items()
    )


# -- machines --------------------------------------------------------------------------------------


@st.composite
def descriptions(draw: st.DrawFn, bits: tuple[int, int] = (2, 5), most: int = 10) -> Description:
    """Parts of every kind, and any of the things that a machine can show itself by.

    Some machines remember, some do not; some have keys beside the code bars.  Any part may work any
    part of the output, which often makes little sense and must be followed all the same.
    """
    joints = draw(st.sampled_from((JOINTS, EVERY_JOINT, EVERY_JOINT)))
    found = draw(parts(joints, bits, draw(st.sampled_from((0, 0, 2))), most))
    units = sum(part["joint"] == "bit" for part in found.values())
    printer = Printer({"parts": found})
    kind = draw(st.sampled_from(("wheel", "wheel", "type_bar", "typebars", "line", "actions")))
    described = {
        "parts": found,
        kind: draw(_output(kind, printer, units)),
        "codes": {"alphabet": list(GLYPHS[: 1 << units])},
    }
    if kind != "actions" and draw(st.booleans()):
        described["actions"] = draw(_output("actions", printer, units))
    return described


@st.composite
def wheel_descriptions(draw: st.DrawFn) -> Description:
    """Parts without memory, and a type wheel that any of them may lift, turn and strike."""
    found = draw(parts())
    return {"parts": found, "wheel": draw(_output("wheel", Printer({"parts": found}), 0))}


@st.composite
def _output(draw: st.DrawFn, kind: str, printer: Printer, units: int) -> dict[str, Any]:
    """One table that says what is seen.

    There is type at most of the places that the parts can reach, and a blank among it.  Some wheels
    do not turn, and some machines print every time, for want of a hammer.
    """
    names = st.sampled_from(printer.order)
    two_places = [name for name in printer.order if len(printer.places[name]) == 2]
    match kind:
        case "wheel":
            wheel: dict[str, Any] = {"lift": draw(names)}
            rows = _stations(draw, printer.places[wheel["lift"]])
            columns = [Fraction(0)]
            if draw(st.booleans()):
                wheel["turn"] = draw(names)
                wheel["columns_deg"] = columns = _stations(draw, printer.places[wheel["turn"]])
            if draw(st.booleans()):
                wheel["hammer"] = draw(names)
            glyphs = draw(st.permutations(GLYPHS[: len(rows) * len(columns) - 1] + " "))
            lines = ["".join(glyphs[i :: len(rows)]) for i in range(len(rows))]
            return {**wheel, "rows_mm": rows, "glyphs": lines}
        case "type_bar":
            shift = draw(names)
            places = _stations(draw, printer.places[shift])
            glyphs = draw(st.permutations(GLYPHS[: len(places) - 1] + " "))
            hammer = {"hammer": draw(names)} if draw(st.booleans()) else {}
            return {"shift": shift, "places_mm": places, "glyphs": "".join(glyphs), **hammer}
        case "typebars":
            pulls = draw(st.lists(names, min_size=1, max_size=4))
            cases = draw(st.integers(1, 2))
            glyphs = draw(st.permutations(GLYPHS[: len(pulls) * cases] + " "))
            bars = [
                {"pull": pull, "type": "".join(glyphs[i * cases : (i + 1) * cases])}
                for i, pull in enumerate(pulls)
            ]
            shift = {"shift": draw(st.sampled_from(two_places))} if cases == 2 else {}
            return {"bars": bars, **shift}
        case "actions":
            levers = draw(st.lists(names, min_size=1, max_size=len(ACTIONS)))
            shown = zip(levers, ACTIONS, strict=False)
            return {"levers": [{"lever": name, "shows": shows} for name, shows in shown]}
        case _:
            parity = draw(st.sampled_from(("none", "even", "odd")))
            n_bits = units + (parity != "none")
            contacts = draw(st.lists(names, min_size=n_bits, max_size=n_bits))
            alphabet = list(GLYPHS[: 1 << units])
            return {"contacts": contacts, "alphabet": alphabet, "parity": parity}


def _stations(draw: st.DrawFn, places: list[Fraction]) -> list[Fraction]:
    """Most of the places, in any order."""
    shuffled: list[Fraction] = draw(st.permutations(places))
    return shuffled[: draw(st.integers((len(places) + 1) // 2, len(places)))]


def machine_of(description: Description) -> Machine:
    """The library's machine for a drawn description."""
    mechanism = mechanism_of(description)
    units = len(mechanism.bars)
    code = Code("drawn code", units, "drawn by lot", tuple(GLYPHS[: 1 << units]))
    outputs = [
        output_of(kind, table, code)
        for kind, table in description.items()
        if kind not in ("parts", "codes")
    ]
    return Machine(
        name="drawn",
        title="a drawn machine",
        about="",
        mechanism=mechanism,
        code=code,
        parity="none",
        output=reduce(Both, outputs),
        declared=Declared(),
    )


def output_of(kind: str, table: Mapping[str, Any], code: Code) -> Output:
    """The library's output for a table of a description."""
    match kind:
        case "wheel":
            return TypeWheel(
                lift=table["lift"],
                turn=table.get("turn", ""),
                hammer=table.get("hammer", ""),
                rows=tuple(table["rows_mm"]),
                columns=tuple(table.get("columns_deg", [Fraction(0)])),
                lines=tuple(table["glyphs"]),
            )
        case "type_bar":
            shift, hammer = table["shift"], table.get("hammer", "")
            places, line = tuple(table["places_mm"]), table["glyphs"]
            return TypeBar(turn=shift, hammer=hammer, columns=places, lines=(line,))
        case "typebars":
            bars = tuple(Typebar(bar["pull"], bar["type"]) for bar in table["bars"])
            return Typebars(bars, table.get("shift", ""))
        case "actions":
            return Actions(
                tuple(Action(one["lever"], one["shows"], "acts") for one in table["levers"])
            )
        case "line":
            return Line(tuple(table["contacts"]), code, table["parity"])
    raise ValueError(kind)


# -- machines that a description can say all of ----------------------------------------------------

nasty = st.text(st.characters(exclude_categories=["Cs"])) | st.text("\\\"'\n\r\t# ={}[],é\x00\x7f")
"""Text that upsets a careless writer."""


def may_be_described(part: Part, mechanism: Mechanism) -> bool:
    """Whether the reader takes it.

    Nothing is touched twice, every stop is reached and lets go, and nothing is measured from beyond
    its rest.
    """
    joint = part.joint
    if isinstance(joint, laws.SpringLink) and joint.at > mechanism.laws[part.name].places[-1]:
        return False
    if joint.from_rest and any(mechanism.laws[name].places[0] for name in joint.inputs):
        return False
    if not isinstance(joint, laws.SteppedStops):
        return len(set(joint.inputs)) == len(joint.inputs)
    return all(
        stop.lets_go is None or stop.lets_go <= mechanism.laws[stop.lever.part].full
        for stop in joint.stops
    )


@st.composite
def writable_machines(draw: st.DrawFn) -> Machine:
    """Random machines that say of every code what it does, with labels, notes and hints."""
    described = draw(wheel_descriptions())
    machine = machine_of(described)
    mechanism, wheel = machine.mechanism, machine.output
    assume(all(may_be_described(part, mechanism) for part in mechanism))
    rows = mechanism.laws[wheel.lift].places
    columns = mechanism.laws[wheel.turn].places if wheel.turn else wheel.columns
    assume(all(Fraction(repr(float(place))) == place for place in (*rows, *columns)))
    letters = draw(st.permutations(GLYPHS[: len(rows) * len(columns) - 1] + " "))
    lines = tuple("".join(letters[i :: len(rows)]) for i in range(len(rows)))
    machine = replace(machine, output=replace(wheel, rows=rows, columns=columns, lines=lines))
    prints = [machine.good_print(code) for code in range(len(machine.code))]
    assert UNREADABLE not in prints
    first = {glyph: code for code, glyph in reversed(list(enumerate(prints))) if glyph != NOTHING}
    assume(first)
    spare = iter([c for c in GLYPHS if c not in first])
    alphabet = [g if first.get(g) == code else next(spare) for code, g in enumerate(prints)]
    parts = [
        replace(part, label=draw(st.just("") | nasty.map(f"{{}} {part.name}".format)),
                group=draw(st.sampled_from(["", "a", "b"])),
                note=draw(nasty), reach=draw(st.sampled_from(["", "cover"])))
        for part in mechanism
    ]  # fmt: skip
    mechanism, names = Mechanism(parts), st.sampled_from(["head", "the lid", "Räder-2", "a_b"])
    hints = st.recursive(
        nasty
        | st.integers()
        | st.booleans()
        | st.integers(-9999, 9999).map(lambda n: Fraction(n, 8)),
        lambda inner: st.lists(inner, max_size=3) | st.dictionaries(nasty, inner, max_size=3),
        max_leaves=5,
    )
    return replace(
        machine,
        name=draw(nasty),
        title=draw(nasty),
        about=draw(nasty).strip(),
        mechanism=mechanism,
        code=Code("drawn code", machine.code.units, "drawn by lot", tuple(alphabet)),
        declared=Declared(
            printing=tuple(Run(code, code) for code in sorted(first.values())),
            folds=tuple(
                Fold(code, code, first[g])
                for code, g in enumerate(prints)
                if g != NOTHING and first[g] != code
            ),
            silent=tuple(Run(code, code) for code, g in enumerate(prints) if g == NOTHING),
        ),
        efforts={"cover": Fraction(draw(st.integers(1, 999)), 8), draw(names): Fraction(1, 5)},
        picture=draw(
            st.dictionaries(
                st.sampled_from(list(mechanism.parts)),
                st.dictionaries(nasty, hints, min_size=1, max_size=3),
                max_size=2,
            )
        ),
    )


# -- other names -----------------------------------------------------------------------------------


def renamed(description: Description, new: Mapping[str, str]) -> Description:
    """The same description with other names of parts; joints and glyphs stay."""
    parts = {new[name]: _renamed(part, new) for name, part in description["parts"].items()}
    return {**_renamed({**description, "parts": {}}, new), "parts": parts}


def _renamed(value: Any, new: Mapping[str, str]) -> Any:
    if isinstance(value, dict):
        return {key: one if key == "glyphs" else _renamed(one, new) for key, one in value.items()}
    if isinstance(value, list):
        return [_renamed(one, new) for one in value]
    return new.get(value, value) if isinstance(value, str) else value


def renamed_fault(fault: Fault, new: Mapping[str, str]) -> Fault:
    """The same fault of the part that is called otherwise."""
    part, mode, other = fault
    return (new[part], mode, new.get(other, other))


# -- faults and logs -------------------------------------------------------------------------------


def fault_sets(
    printer: Printer, most: int = 2, rarer: bool = False
) -> st.SearchStrategy[tuple[Fault, ...]]:
    """One fault or more that a machine can have at once: no part has two places of its own.

    The rarer ones come and go, are on no list, or lie before the printer.
    """

    def can_be_together(faults: list[Fault]) -> bool:
        own = [part for part, mode, _ in faults if not mode.startswith("disconnected")]
        links = [(part, input_) for part, _, input_ in faults if input_]
        return len(own) == len(set(own)) and len(links) == len(set(links))

    singles = st.sampled_from(printer.single_faults())
    if rarer:
        singles |= st.sampled_from(printer.rarer_faults())
    return (
        st.lists(singles, min_size=1, max_size=most, unique=True)
        .filter(can_be_together)
        .map(lambda faults: tuple(sorted(faults)))
    )


def entries(units: int, most: int = 8) -> st.SearchStrategy[list[Entry]]:
    """Characters sent at speed or by hand, here and there with a gap before them."""
    one = st.builds(
        Entry,
        code=st.integers(0, (1 << units) - 1),
        driven=st.sampled_from(["speed", "speed", "speed", "hand"]),
        gap=st.sampled_from([False, False, False, True]),
    )
    return st.lists(one, min_size=1, max_size=most)


def library(faults: Sequence[Fault]) -> library_faults.Hypothesis:
    """Plain faults as the library's own."""
    return tuple(
        sorted(
            library_faults.Fault(
                part, mode.removesuffix(AT_TIMES), input_, sometimes=mode.endswith(AT_TIMES)
            )
            for part, mode, input_ in faults
        )
    )
