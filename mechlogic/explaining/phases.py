"""The order in which the parts of a machine move within one cycle, and where they go home to.

A table says where each part stands once a character has been sent.  On the way there a
machine takes its time: what is sent sets the bars, what follows them settles, driven members run to
the stops that are now set, what prints strikes, and everything returns.  Nothing of that is written
down in a description; it follows from the joints and from what the output follows.

A *phase* is a number, from :data:`SET` to :data:`RETURN`.  Every part moves out in one phase, never
in an earlier one than a part that moves it, and all return in the last.  A part in the same phase
as its input moves along with it, as a stop lever goes with its slide.  So does a driven member
whose stop is set by another driven member; that a machine drives twice in a cycle is not shown.
"""

from collections.abc import Mapping, Sequence

from mechlogic.model.acts import Found, Late, Stands
from mechlogic.model.behaviour import Behaviour
from mechlogic.model.machine import Machine
from mechlogic.model.mechanism import Part, asked_place

SET, SETTLE, DRIVE, STRIKE, RETURN = range(1, 6)


def phases(machine: Machine) -> Mapping[str, int]:
    """The phase in which each part moves out, in working order.

    ==================  =======================================================================
    :data:`SET`         what is sent sets the part: a code bar, a key lever
    :data:`SETTLE`      it follows such a part: a slide, a stop lever, a coding bar
    :data:`DRIVE`       the cycle drives it, or it brings the type to its place, or it follows one
                        that does: a rack, a pinion, a carriage, a shift
    :data:`STRIKE`      it makes what is chosen seen: a hammer, a typebar, a function, a contact
    ==================  =======================================================================
    """
    strikes = frozenset(machine.output.strikes)
    aims = frozenset(machine.output.selects) - strikes
    found: dict[str, int] = {}
    for part in machine.mechanism:
        before = [found[name] for name in part.joint.inputs]
        found[part.name] = max(_own_phase(part, strikes, aims), *before, SET)
    return found


def _own_phase(part: Part, strikes: frozenset[str], aims: frozenset[str]) -> int:
    if part.name in strikes:
        return STRIKE
    if part.joint.driven or part.name in aims:
        return DRIVE
    return SET if part.joint.given else SETTLE


def home(
    behaviour: Behaviour, memory: Sequence[int], chance: tuple[int, ...], at_speed: bool = True
) -> Mapping[str, int]:
    """The number of the place at which each part stands between two cycles.

    With nothing sent, driven members are home and everything else rests, but for a latch, which
    stays where it was put, for a part that cannot move, and, at speed, for a sluggish part: it has
    come late to where the last character asked it to stand, and what follows it is late with it.

    Args:
        behaviour: The machine and its faults.
        memory: What its parts remember of the last cycle, in the order of
            :attr:`Behaviour.remembering`.
        chance: How chance falls, one of :attr:`Behaviour.chances`.
        at_speed: Whether it is driven at speed; turned by hand, sluggish parts have come home.
    """
    mechanism, acts = behaviour.mechanism, behaviour.acts[chance]
    stays = {act.part: act.place for act in acts if isinstance(act, Stands)}
    late = {act.part for act in acts if isinstance(act, Late)} if at_speed else set()
    found = sorted((a for a in acts if isinstance(a, Found)), key=lambda act: act.unhooked)
    finds = {(act.follower, act.part): act.place for act in found}  # what is unhooked, last
    remembered = dict(zip(behaviour.remembering, memory, strict=True))
    places: dict[str, int] = {}
    for part in mechanism:
        name = part.name
        if name in stays:
            places[name] = stays[name]
        elif name in late or part.joint.remembers:
            places[name] = remembered[name]
        elif part.joint.driven:
            places[name] = mechanism.rest[name]
        else:
            inputs = [finds.get((name, other), places[other]) for other in part.joint.inputs]
            places[name] = asked_place(mechanism.laws[name], inputs)
    return places
