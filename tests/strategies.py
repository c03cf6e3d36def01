"""Random small machines, faults and logs for property tests.

A machine is drawn as a description, the plain dicts that a TOML file gives, so that the brute
force and the library can each read it in their own way: ``Printer(description)`` and
``machine_of(description)``.
"""

from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Any

from brute_force import AT_TIMES, Description, Entry, Fault, Printer
from hypothesis import settings
from hypothesis import strategies as st

from mechlogic import faults as library_faults
from mechlogic import laws
from mechlogic.codes import Code
from mechlogic.laws import Joint, Literal, Stop
from mechlogic.machine import Declared, Machine
from mechlogic.mechanism import Mechanism, Part
from mechlogic.outputs import Type

few = settings(max_examples=settings().max_examples // 3)
"""For tests that draw whole machines: fewer examples than usual, in any profile."""

MOST_PLACES = 8
GLYPHS = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789!#$%&*+"

strokes = st.sampled_from([Fraction(n) for n in (2, 3, 4, 6)])
ratios = st.sampled_from([Fraction(n, 4) for n in (1, 2, 4, 5, 8)])
arms = st.sampled_from([Fraction(n) for n in (1, 2, 3)])
ends = st.sampled_from(["operated", "at rest"])

JOINTS = (
    "follow",
    "withdraw",
    "either_pushes",
    "all_clear",
    "pull_bar",
    "stepped_stops",
    "half_step",
    "opposed_racks",
    "summing_lever",
)


# -- parts -----------------------------------------------------------------------------------------


@st.composite
def parts(
    draw: st.DrawFn, joints: Sequence[str] = JOINTS, bits: tuple[int, int] = (2, 5)
) -> dict[str, Any]:
    """Code bars and three to ten parts behind them, as the ``parts`` table of a description.

    Every part moves, and none has more than a few places.  They stand in no particular order.
    """
    found: dict[str, Any] = {
        f"bar{bit}": {"joint": "bit", "bit": bit, "stroke_mm": draw(strokes)}
        for bit in range(1, draw(st.integers(*bits)) + 1)
    }
    for number in range(draw(st.integers(3, 10))):
        others = st.sampled_from(list(found))
        part = draw(part_behind(others, draw(st.sampled_from(joints))))
        name = f"part{number}"
        places = Printer({"parts": {**found, name: part}}).places[name]
        if not 2 <= len(places) <= MOST_PLACES:
            part = {"joint": "follow", "input": draw(others), "ratio": draw(ratios)}
        found[name] = part
    return dict(draw(st.permutations(list(found.items()))))


def part_behind(others: st.SearchStrategy[str], joint: str) -> st.SearchStrategy[dict[str, Any]]:
    """A part with the given joint that touches some of the others."""
    several = st.lists(others, min_size=1, max_size=3, unique=True)
    match joint:
        case "follow" | "withdraw":
            rest: dict[str, Any] = {"input": others, "ratio": ratios}
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
        case _:
            rest = {"first": others, "second": others, "first_arm_mm": arms, "second_arm_mm": arms}
    return st.fixed_dictionaries({"joint": st.just(joint), **rest})


def joint_of(part: Mapping[str, Any]) -> Joint:
    """The library's joint for a part of a description."""
    match part["joint"]:
        case "bit":
            return laws.Bit(part["bit"], part["stroke_mm"])
        case "follow":
            return laws.Follow(part["input"], part["ratio"])
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
    raise ValueError(part["joint"])


def mechanism_of(description: Description) -> Mechanism:
    return Mechanism(Part(name, joint_of(part)) for name, part in description["parts"].items())


# -- machines --------------------------------------------------------------------------------------


@st.composite
def descriptions(draw: st.DrawFn) -> Description:
    """Parts and a type wheel that any of them may lift, turn and strike.

    The wheel has type at most of the places that the parts can reach, and a blank among it.  Some
    wheels do not turn, and some machines print every time, for want of a hammer.
    """
    found = draw(parts())
    printer = Printer({"parts": found})
    names = st.sampled_from(list(found))
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
    return {"parts": found, "wheel": {**wheel, "rows_mm": rows, "glyphs": lines}}


def _stations(draw: st.DrawFn, places: list[Fraction]) -> list[Fraction]:
    """Most of the places, in any order."""
    shuffled: list[Fraction] = draw(st.permutations(places))
    return shuffled[: draw(st.integers((len(places) + 1) // 2, len(places)))]


def machine_of(description: Description) -> Machine:
    """The library's machine for a drawn description."""
    mechanism, wheel = mechanism_of(description), description["wheel"]
    units = len(mechanism.bars)
    return Machine(
        name="drawn",
        title="a drawn machine",
        about="",
        mechanism=mechanism,
        code=Code("drawn code", units, "drawn by lot", tuple(GLYPHS[: 1 << units])),
        parity="none",
        output=Type(
            wheel["lift"],
            wheel.get("turn", ""),
            wheel.get("hammer", ""),
            tuple(wheel["rows_mm"]),
            tuple(wheel.get("columns_deg", [Fraction(0)])),
            tuple(wheel["glyphs"]),
        ),
        declared=Declared(),
    )


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
