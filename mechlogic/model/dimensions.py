"""The dimensions of a machine: every length, ratio and angle that a file or a screw can change.

A dimension is known by its part and by the key that the description has for it: ``("lift_rack",
"stops[2].at_mm")`` is where the second stop of the lift rack arrests it.  Besides the fields of the
joints, a part may have

* ``offset_mm`` or ``offset_deg``: it stands so far from where its law puts it, for example because
  a link is too long or a wheel sits askew on its shaft; 0 in a machine in order;
* ``gap_mm``: lost motion, see :class:`~mechlogic.model.mechanism.Part`;
* ``backlash_deg``: a pinion may stand anywhere within its free turn, half of it either way; 0 is
  the middle.

A dimension of a part is one more number in its travel law.  :func:`resized` puts any kind of number
there, an array of a thousand machines or a SymPy symbol as well as a float; so tolerances need no
second formula.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from mechlogic.model import laws
from mechlogic.model.keys import keys_of
from mechlogic.model.laws import Joint, Number
from mechlogic.model.mechanism import Part

if TYPE_CHECKING:
    from mechlogic.model.machine import Machine

Key = tuple[str, str]
"""The part, and the key of one of its dimensions."""

OFFSETS = ("offset_mm", "offset_deg")
BACKLASH = "backlash_deg"
GAP = "gap_mm"

KINDS: Mapping[str, str] = {
    **{
        key.key: key.of
        for joint in laws.JOINTS.values()
        for field in keys_of(joint).values()
        for key in (field, *(keys_of(field.entry) if field.entry else {}).values())
        if key.of
    },
    GAP: "the lost motion before a part is acted on",
    "offset_mm": "how far a part stands from where it should, in mm",
    "offset_deg": "how far a part stands from where it should, in degrees",
}
"""The kinds of dimension that may have a tolerance, by the last piece of their key."""


@dataclass(frozen=True)
class Dimension:
    """One dimension of one part.

    Attributes:
        part: The part.
        key: Its key in the description, ``stops[2].at_mm`` for that of the second stop.
        nominal: The value that the description gives it, in *unit*.
        unit: ``"mm"``, ``"degrees"``, ``"degrees per mm"``, or empty for a ratio.
        tolerance: How far it may be off either way, in *unit*; 0 if nothing is said.
        adjusts: How far a restorer can adjust it either way, in *unit*; 0 if not at all.
    """

    part: str
    key: str
    nominal: Fraction
    unit: str
    tolerance: Fraction
    adjusts: Fraction

    @property
    def name(self) -> Key:
        """Part and key: what the dimension is known by, without a unit."""
        return self.part, self.key


def kind_of(key: str) -> str:
    """The kind of a dimension: ``"at_mm"`` for ``"stops[2].at_mm"``; a name, without a unit."""
    return key.rsplit(".", 1)[-1]


def unit_of(key: str) -> str:
    """The unit of a dimension, by the end of its key: ``"mm"``, ``"degrees"``, …, or empty."""
    if key == "degrees_per_mm":
        return "degrees per mm"
    return {"_mm": "mm", "deg": "degrees"}.get(key[-3:], "")


def kinds_of(joint: type[Joint]) -> tuple[str, ...]:
    """The kinds of dimension that a part with such a joint can have, offsets and gap among them."""
    own = keys_of(joint).values()
    inner = [key for one in own if one.entry for key in keys_of(one.entry).values()]
    return (*dict.fromkeys(key.key for key in (*own, *inner) if key.of), GAP, *OFFSETS)


def dimensions(machine: "Machine") -> tuple[Dimension, ...]:
    """Every dimension of a machine, part by part in working order.

    An offset is listed if the description gives it a tolerance or lets it be adjusted.
    """
    return tuple(
        Dimension(part.name, key, nominal, unit_of(key), *_limits(machine, part, key))
        for part in machine.mechanism
        for key, nominal in _all_of(part)
    )


def _all_of(part: Part) -> Iterator[tuple[str, Fraction]]:
    yield from _fields_of(part.joint)
    said = {key for key, _ in (*part.tolerances, *part.adjusts)}
    if part.gap_mm or GAP in said:
        yield GAP, part.gap_mm
    if part.backlash_deg:
        yield BACKLASH, Fraction(0)
    yield from ((key, Fraction(0)) for key in OFFSETS if key in said)


def _limits(machine: "Machine", part: Part, key: str) -> tuple[Fraction, Fraction]:
    """Tolerance and range of adjustment of one dimension, in its own unit."""
    kind, none = kind_of(key), Fraction(0)
    if key == BACKLASH:
        return part.backlash_deg / 2, none
    usual = machine.tolerances.get(kind, none)
    return dict(part.tolerances).get(kind, usual), dict(part.adjusts).get(kind, none)


def _fields_of(of: Any, before: str = "") -> Iterator[tuple[str, Fraction]]:
    """The dimensions among the fields of a joint, by the key that a description has for them."""
    lists: list[tuple[str, Any]] = []
    for name, key in keys_of(type(of)).items():
        value = getattr(of, name)
        if key.entry:
            lists += ((f"{key.key}[{number}].", one) for number, one in enumerate(value, start=1))
        elif key.of and value is not None:
            yield before + key.key, value
    for path, one in lists:
        yield from _fields_of(one, path)


def _with(of: Any, values: Mapping[str, Number], before: str = "") -> Any:
    """A joint, or an entry of its list, with some of its dimensions put to other numbers."""
    changed: dict[str, Any] = {}
    for name, key in keys_of(type(of)).items():
        if key.entry:
            entries = enumerate(getattr(of, name), start=1)
            changed[name] = tuple(_with(one, values, f"{key.key}[{n}].") for n, one in entries)
        elif before + key.key in values:
            changed[name] = values[before + key.key]
    return replace(of, **changed)


def resized(part: Part, values: Mapping[str, Number]) -> Part:
    """The part with some of its dimensions put to other numbers, of any kind.

    Offsets and backlash are no part of a law and are passed over.

    Args:
        part: The part.
        values: The new value of each dimension that changes, in its own unit.
    """
    joint = _with(part.joint, values)
    return replace(part, joint=joint, gap_mm=values.get(GAP, part.gap_mm))


def in_floats(part: Part) -> Part:
    """The part with every dimension as a float, mm, degrees or a ratio, for quick reckoning."""
    gap = {GAP: float(part.gap_mm)} if part.gap_mm else {}
    return resized(part, {key: float(value) for key, value in _fields_of(part.joint)} | gap)
