"""Adjustment: from errors at the hammer, or only from clipped sides, to the screw and how far.

Two questions are answered.

* :func:`adjust`: errors were *measured* on some characters, in mm or degrees.  Which of the
  adjustments that the description offers would mend them, by how much, in which order, and what
  does that do to the characters that were not measured?
* :func:`causes`: a log says only at which *side* characters are clipped.  Which single dimension,
  being off, explains every clipped character and no whole one?

Neither claims more than the readings bear out.  Where two adjustments would do the same to every
reading, both are named; more readings may part them, and the answer says which cannot.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Any

from mechlogic.explaining.words import capitalised, listed, the
from mechlogic.fit.hammer import SLACK, WHOLE, Aim, aims, errors, printing, sort_of, targets
from mechlogic.fit.tolerance import Sensitivity, slopes
from mechlogic.helpers.refusal import Refusal
from mechlogic.model.dimensions import BACKLASH, Dimension, dimensions, kind_of
from mechlogic.model.faults import SAFE_TO_LOOK
from mechlogic.model.logbook import UNREADABLE, Entry
from mechlogic.model.machine import Machine

MOST_TOGETHER = 3
"""How many adjustments are tried together before all are used at once; a count."""

GOOD_ENOUGH = 0.1
"""What a smaller set of adjustments may leave, in windows, beyond what all of them leave."""

STEPS = 400
"""Into how many steps the way of a dimension is divided, either way, when sides are explained; a
count."""

Measured = Mapping[int, Mapping[str, float]]
"""For each code, its error in each direction that was measured: mm or degrees."""


class AdjustmentError(Refusal):
    """Readings that cannot be worked with; the message has no unit."""


# -- words -----------------------------------------------------------------------------------------


def dimension_words(machine: Machine, dimension: Dimension) -> str:
    """A dimension in words, without its unit: "stop 2 of the lift rack"."""
    part, kind = the(machine.label(dimension.part)), kind_of(dimension.key)
    if dimension.key.startswith("stops["):
        number = int(dimension.key[6 : dimension.key.index("]")])
        stop = machine.mechanism[dimension.part].joint.stops[number - 1]  # type: ignore[attr-defined]
        lever = the(machine.label(stop.lever.part))
        if kind == "lets_go_mm":
            return f"the depth at which {lever} lets go of {part}"
        return f"stop {number} of {part} (held by {lever})"
    corner = dimension.key.partition("[")[2].partition("]")[0]
    return {
        "stroke_mm": f"the stroke of {part}",
        "ratio": f"the lever ratio of {part}",
        "at_mm": f"the stop of {part}",
        "end_mm": f"the end of the way of {part}",
        "step_mm": f"the half step of {part}",
        "degrees_per_mm": f"the turn for each mm of {part}",
        "first_arm_mm": f"the first arm of {part}",
        "second_arm_mm": f"the second arm of {part}",
        "throw_mm": f"the throw of {part}",
        "closes_mm": f"the travel that closes {part}",
        "input_mm": f"where corner {corner} of the cam of {part} stands",
        "output_mm": f"the height of corner {corner} of the cam of {part}",
        "gap_mm": f"the lost motion before {part}",
        "backlash_deg": f"the backlash of {part}",
    }.get(kind, f"the setting of {part}")


def sensitivity_words(machine: Machine, one: Sensitivity) -> str:
    """A sensitivity in words, with units; where it has two sides, or jumps, that is said."""
    aim = next(aim for aim in aims(machine) if aim.name == one.aim)
    what = capitalised(dimension_words(machine, one.dimension))
    each = f"for each {one.dimension.unit}" if one.dimension.unit else "for 1 of the ratio"
    below, above = (f"{float(slope):+.2f} {aim.unit}" for slope in (one.below, one.above))
    jumps = [
        f"if it is any {way}, the type jumps by {amount(abs(float(jump)), aim.unit)}"
        for jump, way in zip(one.jumps, ("smaller", "larger"), strict=True)
        if jump
    ]
    if jumps:
        return f"{what}: {aim.name}: {listed(jumps)}, for a stop lets go or holds just here."
    if one.smooth:
        return f"{what}: {aim.name} {above} {each}."
    two = f"{below} {each} if it is smaller, {above} if it is larger"
    return f"{what}: {aim.name} {two}: another part takes over just here."


def amount(value: float, unit: str) -> str:
    """A length or angle with its unit: ``0.60 mm``, ``2.3°``; a ratio has none."""
    if unit == "degrees":
        return f"{value:.1f}°"
    return f"{value:.2f} {unit}".strip() if unit else f"{value:.3f}"


# -- measured errors -------------------------------------------------------------------------------


@dataclass(frozen=True)
class Step:
    """One adjustment to make.

    Attributes:
        dimension: What is adjusted.
        by: By how much, in the dimension's unit; positive makes it larger.
        characters: How many characters it moves, a count.
        at_limit: Whether the adjustment is used up to its end.
        says: The same in words.
    """

    dimension: Dimension
    by: float
    characters: int
    at_limit: bool
    says: str


@dataclass(frozen=True)
class Effect:
    """What the adjustments together do to one character in one direction, in mm or degrees.

    Attributes:
        code: The code, without parity.
        aim: The direction: ``"lift"``, ``"turn"`` or ``"shift"``.
        unit: ``"mm"`` or ``"degrees"``.
        before: The measured error, in *unit*; None if it was not measured.
        change: What is added to it, in *unit*.
        after: The error that is to be expected, in *unit*; None if it was not measured.
        whole: Whether the character then prints whole, as far as this direction goes; None if it
            was not measured.
    """

    code: int
    aim: str
    unit: str
    before: float | None
    change: float
    after: float | None
    whole: bool | None


@dataclass(frozen=True)
class Adjustment:
    """What to adjust, and how sure that is.

    Attributes:
        steps: The adjustments, in the order in which to make them; amounts in mm or degrees.
        unique: Whether nothing else that can be adjusted does as well by the measured characters.
        rivals: Other sets of as few adjustments that do as well.
        alike: Groups of adjustments none of which the readings settle: a change of one can be made
            good by changes of others in its group.
        unspoken: Adjustments of which no reading says anything.
        effects: What becomes of every character.
        left: The largest error that remains on a measured character, in windows, a plain ratio: up
            to 1 it prints whole.
        says: All of it in sentences.
        caution: What can hurt while doing it.
    """

    steps: tuple[Step, ...]
    unique: bool
    rivals: tuple[tuple[Dimension, ...], ...]
    alike: tuple[tuple[Dimension, ...], ...]
    unspoken: tuple[Dimension, ...]
    effects: tuple[Effect, ...]
    left: float
    says: tuple[str, ...]
    caution: str = SAFE_TO_LOOK


def adjustable(machine: Machine) -> tuple[Dimension, ...]:
    """The dimensions that a restorer can adjust, as the description says, each in its unit."""
    return tuple(one for one in dimensions(machine) if one.adjusts)


def adjust(machine: Machine, measured: Measured) -> Adjustment:
    """Find the adjustments that best mend measured errors.

    Least squares within the range of every adjustment, errors counted in windows, so that
    millimetres and degrees can be weighed together.  If fewer adjustments do as well as all, the
    fewest are taken; of several sets as small, the one that moves its screws least.

    Args:
        machine: The machine.
        measured: Errors by code and direction, in mm or degrees.

    Raises:
        AdjustmentError: If nothing can be adjusted, or a reading is of no known character or
            direction or is no number.
    """
    import numpy as np

    found, directions = adjustable(machine), {aim.name: aim for aim in aims(machine)}
    if not found:
        what = f"The description of {machine.title} lets nothing be adjusted"
        raise AdjustmentError(what, "Add a line adjusts = { … } to the table of a part.")
    readings = list(_readings(machine, measured, directions))
    if not readings:
        raise AdjustmentError("No reading was given", "Measure one character or more.")
    codes = tuple(dict.fromkeys(code for code, _, _ in readings))
    slope = {name: both.mean(axis=0) for name, both in slopes(machine, codes, found).items()}
    windows = {name: float(aim.window.whole) for name, aim in directions.items()}
    a = np.array([slope[aim][codes.index(code)] / windows[aim] for code, aim, _ in readings])
    b = np.array([-error / windows[aim] for _, aim, error in readings])
    speaks = [i for i in range(len(found)) if np.any(np.abs(a[:, i]) > 1e-9)]
    chosen, by, others = _fewest(a, b, [float(one.adjusts) for one in found], speaks)
    rivals = tuple(tuple(found[i] for i in columns) for columns in others)
    alike = tuple(tuple(found[i] for i in group) for group in _alike(a, speaks))
    steps = _steps(machine, [found[i] for i in chosen], by)
    effects = _effects(machine, steps, measured)
    left = max((abs(e.after) / windows[e.aim] for e in effects if e.after is not None), default=0.0)
    unspoken = tuple(one for i, one in enumerate(found) if i not in speaks)
    groups = [group for group in alike if any(step.dimension in group for step in steps)]
    unique = not groups and not rivals
    says = tuple(_sentences(machine, steps, rivals, groups, effects, left))
    return Adjustment(steps, unique, rivals, alike, unspoken, effects, left, says)


def _readings(
    machine: Machine, measured: Measured, directions: Mapping[str, Aim]
) -> Iterable[tuple[int, str, float]]:
    import math

    for code, errors_ in measured.items():
        if code not in printing(machine):
            mend = "Measure a character that the machine prints."
            raise AdjustmentError(f"Code {code} prints no character of its own", mend)
        for aim, error in errors_.items():
            if aim not in directions:
                known = listed(directions, "or")
                what = f"{aim!r} is no direction of this machine"
                raise AdjustmentError(what, f"Give {known}.")
            if not math.isfinite(error):
                name = machine.code.name(code)
                raise AdjustmentError(f"The error of {name} is no number", "Give mm or degrees.")
            yield code, aim, float(error)


def _fewest(
    a: Any, b: Any, ranges: Sequence[float], speaks: Sequence[int]
) -> tuple[list[int], list[float], list[list[int]]]:
    """The smallest set of columns that does as well as all of them, and others as small that do.

    The error that a set leaves is its largest, counted in windows.
    """
    import numpy as np
    from scipy.optimize import lsq_linear

    def solve(columns: Sequence[int]) -> tuple[float, list[float]]:
        if not columns:
            return float(np.abs(b).max()), []
        bounds = np.array([ranges[i] for i in columns])
        solved = lsq_linear(a[:, list(columns)], b, (-bounds, bounds))
        return float(np.abs(solved.fun).max()), [float(x) for x in solved.x]

    best, by = solve(speaks)
    for size in range(min(MOST_TOGETHER, len(speaks)) + 1):
        fits = []
        for columns in combinations(speaks, size):
            left, amounts = solve(columns)
            if left <= best + GOOD_ENOUGH:
                fits.append((sum(x * x for x in amounts), list(columns), amounts))
        if fits:
            (_, first, amounts), *others = sorted(fits)
            return first, amounts, [columns for _, columns, _ in others]
    return list(speaks), by, []


def _alike(a: Any, speaks: Sequence[int]) -> list[list[int]]:
    """Groups of columns in which one is a sum of multiples of the others, so none is determined."""
    import numpy as np

    columns = list(speaks)
    if not columns:
        return []
    _, sizes, rows = np.linalg.svd(a[:, columns], full_matrices=True)
    rank = int((sizes > 1e-9 * max(sizes[0], 1.0)).sum())
    null = rows[rank:]
    undetermined = [i for i in range(len(columns)) if np.any(np.abs(null[:, i]) > 1e-7)]
    # Two belong together if leaving out the one settles, or changes, what is open about the other.
    shared = np.abs(null.T @ null) > 1e-7
    groups: list[list[int]] = []
    for i in undetermined:
        mine = [group for group in groups if any(shared[i, j] for j in group)]
        merged = sorted({i, *(j for group in mine for j in group)})
        groups = [group for group in groups if group not in mine] + [merged]
    return [[columns[i] for i in group] for group in groups]


def _steps(machine: Machine, found: Sequence[Dimension], by: Sequence[float]) -> tuple[Step, ...]:
    """The steps, those that move the most characters first: what is set later upsets less."""
    slope = slopes(machine, printing(machine), found)
    steps = []
    for i, (one, value) in enumerate(zip(found, by, strict=True)):
        moved = sum(abs(both[:, :, i]).max(axis=0) > 0 for both in slope.values())
        at_limit = abs(value) > float(one.adjusts) * 0.999
        signed = f"{'+' if value > 0 else '−'}{amount(abs(value), one.unit)}"
        says = f"Adjust {dimension_words(machine, one)} by {signed}"
        says += ", which is as far as it goes." if at_limit else "."
        if abs(value) > 1e-6:
            steps.append(Step(one, value, int((moved > 0).sum()), at_limit, says))
    return tuple(sorted(steps, key=lambda step: (-step.characters, step.dimension.name)))


def _effects(machine: Machine, steps: Sequence[Step], measured: Measured) -> tuple[Effect, ...]:
    """What the adjustments do to every character, by the laws themselves: mm or degrees."""
    codes = printing(machine)
    values = {s.dimension.name: float(s.dimension.nominal) + s.by for s in steps}
    off = errors(machine, codes, values)
    found = []
    for aim in aims(machine):
        for code, row in zip(codes, off[aim.name], strict=True):
            before, change = measured.get(code, {}).get(aim.name), float(row[0])
            after = None if before is None else before + change
            whole = None if after is None else sort_of(aim.window, after) == WHOLE
            found.append(Effect(code, aim.name, aim.unit, before, change, after, whole))
    return tuple(found)


def _together(machine: Machine, found: Sequence[Dimension]) -> str:
    return listed(dimension_words(machine, one) for one in found)


def _some(names: Sequence[str], most: int = 5) -> str:
    """The first few names, and how many more there are."""
    if len(names) <= most:
        return listed(names)
    return f"{', '.join(names[:most])} and {len(names) - most} more"


def _apart(names: Sequence[str]) -> str:
    several = any(" and " in name for name in names)
    return "; or ".join(names) if several else listed(names)


def _sentences(
    machine: Machine,
    steps: Sequence[Step],
    rivals: Sequence[Sequence[Dimension]],
    groups: Sequence[Sequence[Dimension]],
    effects: Sequence[Effect],
    left: float,
) -> Iterable[str]:
    if not steps:
        yield "Nothing need be adjusted for these readings, or nothing that can be would help."
    yield from (step.says for step in steps)
    if rivals:
        names = [_together(machine, [step.dimension for step in steps])]
        names += [_together(machine, rival) for rival in rivals]
        yield f"These readings cannot tell apart {_apart(names)}: measure more characters, or look."
    elif groups:
        together = "It is the smallest answer, not the only one"
        others = {step.dimension.name for step in steps}
        rest = [dimension_words(machine, d) for g in groups for d in g if d.name not in others]
        yield f"{together}: the same can be had by setting {_some(rest)} against one another."
    measured = [e for e in effects if e.before is not None]
    bad = [machine.code.name(e.code) for e in measured if not e.whole]
    if bad:
        yield f"Even so {listed(dict.fromkeys(bad))} will not print whole."
    elif left < 0.005:
        yield "Every measured character is then in its place."
    else:
        yield f"Every measured character is then off by at most {left:.0%} of its window."
    moved = [e for e in effects if e.before is None and abs(e.change) > 1e-6]
    if moved:
        also = _some(list(dict.fromkeys(machine.code.name(e.code) for e in moved)))
        yield f"Not measured, but moved as well: {also}. Print them before and after."


# -- clipped sides ---------------------------------------------------------------------------------


@dataclass(frozen=True)
class Member:
    """One dimension that may be off, and between which limits.

    Attributes:
        dimension: The dimension.
        least, most: How far it is off, in its own unit; negative if it is too small.
    """

    dimension: Dimension
    least: float
    most: float


@dataclass(frozen=True)
class Cause:
    """A dimension that explains clipped characters, with those that do the same to every one.

    Attributes:
        members: The dimension, or several that no print can tell apart; amounts in their own units.
        explained: Codes of the clipped characters that it explains.
        unexplained: Codes of the clipped characters that it does not.
        contradicted: Codes of characters that printed whole and that it would clip.
        says: In sentences.
        caution: What can hurt while seeing to it.
    """

    members: tuple[Member, ...]
    explained: tuple[int, ...]
    unexplained: tuple[int, ...]
    contradicted: tuple[int, ...]
    says: str
    caution: str = SAFE_TO_LOOK

    @property
    def complete(self) -> bool:
        """Whether it explains every clipped character and no whole one; it has no unit."""
        return not self.unexplained and not self.contradicted


def causes(machine: Machine, log: Iterable[Entry]) -> tuple[Cause, ...]:
    """Which single dimension explains the clipped characters of a log, the best first.

    Only entries that print their own character, whole, clipped or unreadable, are looked at:
    another character is the work of a fault, see :mod:`mechlogic.bench.diagnosis`.  A whole
    character speaks as well as a clipped one.

    Args:
        machine: The machine.
        log: The entries of a logbook.

    Returns:
        Causes that explain some clipped character; amounts in mm, degrees or as a ratio.

    Raises:
        AdjustmentError: If no entry is clipped.
    """
    seen = _seen(machine, log)
    if not any(side for side in seen.values() if side not in ("", UNREADABLE)):
        what = "No character of the log is clipped"
        raise AdjustmentError(what, "Note the side that is missing.")
    found = [d for d in dimensions(machine) if d.key != BACKLASH]
    slope = slopes(machine, printing(machine), found)
    groups = _same_everywhere(slope, len(found))
    explained = [_explains(machine, seen, [found[i] for i in group]) for group in groups]
    some = [cause for cause in explained if cause.explained]
    return tuple(sorted(some, key=_doubt))


def _doubt(cause: Cause) -> tuple[int, bool, float]:
    """What speaks against a cause: entries against it, no adjustment, a long way off."""
    against = len(cause.unexplained) + len(cause.contradicted)
    steady = not any(member.dimension.adjusts for member in cause.members)
    return against, steady, min(abs(m.least + m.most) for m in cause.members)


def _seen(machine: Machine, log: Iterable[Entry]) -> dict[int, str]:
    """For each code, the side that was missing, UNREADABLE, or nothing; the last entry holds."""
    known, seen = set(printing(machine)), {}
    for entry in log:
        if entry.sent in known and entry.printed in (machine.good_print(entry.sent), UNREADABLE):
            seen[entry.sent] = UNREADABLE if entry.printed == UNREADABLE else entry.clipped
    return seen


def _same_everywhere(slope: Mapping[str, Any], n: int) -> list[list[int]]:
    """Groups of dimensions whose sensitivities are in one proportion over all characters."""
    import numpy as np

    groups: dict[tuple[float, ...], list[int]] = {}
    for i in range(n):
        column = np.concatenate([both.mean(axis=0)[:, i] for both in slope.values()])
        size = np.abs(column).max()
        if size > 1e-9:
            key = np.round(column / size * np.sign(column[np.flatnonzero(column)[0]]), 5) + 0.0
            groups.setdefault(tuple(key), []).append(i)
    return list(groups.values())


def _explains(machine: Machine, seen: Mapping[int, str], group: Sequence[Dimension]) -> Cause:
    """What the dimensions of a group explain, each on its own."""
    codes = tuple(seen)
    members, agreed = [], None
    for one in group:
        way = _way(machine, one)
        agrees = _agreement(machine, seen, one, way)
        best = _best(agrees, [bool(side) for side in seen.values()])
        members.append(Member(one, float(way[best[0]]), float(way[best[-1]])))
        if agreed is None:
            agreed = agrees[:, best[0]]
    assert agreed is not None
    clipped = [i for i, code in enumerate(codes) if seen[code]]
    yes = tuple(codes[i] for i in clipped if agreed[i])
    no = tuple(codes[i] for i in clipped if not agreed[i])
    against = tuple(c for i, c in enumerate(codes) if not seen[c] and not agreed[i])
    says = _cause_says(machine, seen, members, yes, no, against)
    return Cause(tuple(members), yes, no, against, says)


def _best(agrees: Any, clipped: Sequence[bool]) -> Any:
    """The amounts, by number, that agree with the most entries; of equals, with clipped ones.

    Of several stretches of them, the one nearest to nothing.
    """
    import numpy as np

    score = agrees.sum(axis=0) + 0.5 * (agrees[list(clipped)].sum(axis=0) > 0)
    found = np.flatnonzero(score == score.max())
    stretches = np.split(found, np.flatnonzero(np.diff(found) > 1) + 1)
    return min(stretches, key=lambda stretch: int(np.abs(stretch - STEPS).min()))


def _way(machine: Machine, dimension: Dimension) -> Any:
    """Amounts by which a dimension may be off, in its own unit: as far as anything can be read."""
    import numpy as np

    slope = slopes(machine, printing(machine), [dimension])
    far = max(
        float(aim.window.readable) * 1.25 / most
        for aim in aims(machine)
        if (most := float(abs(slope[aim.name]).max())) > 0
    )
    return np.linspace(-far, far, 2 * STEPS + 1)


def _agreement(machine: Machine, seen: Mapping[int, str], one: Dimension, way: Any) -> Any:
    """For each code that was seen, and each amount, whether what was seen is what would be."""
    import numpy as np

    codes = tuple(seen)
    off = errors(machine, codes, {one.name: float(one.nominal) + way})
    whole = np.ones((len(codes), len(way)), dtype=bool)
    lost = np.zeros_like(whole)
    sides: dict[str, Any] = {}
    for aim in aims(machine):
        rows = np.broadcast_to(off[aim.name], whole.shape)
        far = np.abs(rows)
        clean, readable = (float(w) + SLACK for w in (aim.window.whole, aim.window.readable))
        whole &= far <= clean
        lost |= far > readable
        below, above = aim.sides
        sides[below] = (rows < -clean) & (far <= readable)
        sides[above] = (rows > clean) & (far <= readable)
    found = np.empty_like(whole)
    for i, code in enumerate(codes):
        what = seen[code]
        if what == UNREADABLE:
            found[i] = lost[i]
        else:
            found[i] = (sides[what][i] & ~lost[i]) if what in sides else whole[i] & (what == "")
    return found


def _cause_says(
    machine: Machine,
    seen: Mapping[int, str],
    members: Sequence[Member],
    yes: Sequence[int],
    no: Sequence[int],
    against: Sequence[int],
) -> str:
    """A cause in sentences."""
    said = [_member_says(machine, member) for member in members]
    sentences = [f"{capitalised(listed(said, 'or'))}."]
    if yes and not no and not against and (row := _row_says(machine, seen, yes)):
        sentences.append(row)
    n_clipped, n_whole = len(yes) + len(no), sum(not what for what in seen.values())
    if not no and not against:
        whole = f" and none of the {n_whole} whole ones" if n_whole else ""
        sentences.append(f"That explains all {n_clipped} clipped characters{whole}.")
    else:
        sentences.append(f"That explains {len(yes)} of {n_clipped} clipped characters.")
        if against:
            names = _some([machine.code.name(code) for code in against])
            sentences.append(f"It would clip {names} too, which printed whole.")
    for member in members:
        if member.dimension.adjusts and not no and not against:
            middle = -(member.least + member.most) / 2
            more = "more" if middle > 0 else "less"
            sentences.append(
                f"To begin with, set it {amount(abs(middle), member.dimension.unit)} {more}, "
                "and print the same characters again."
            )
            break
    return " ".join(sentences)


def _member_says(machine: Machine, member: Member) -> str:
    """Of one dimension, how far it is off: "stop 2 of the lift rack stands 0.42 to 1.10 mm low"."""
    one, small = member.dimension, member.most <= 0
    near, far = sorted((abs(member.least), abs(member.most)))
    lifting = [aim.part for aim in aims(machine) if aim.name == "lift"]
    lifts = any(one.part in machine.mechanism.upstream(part) for part in lifting)
    verb, side = "is", "too small" if small else "too large"
    if one.unit == "degrees":
        verb, side = "stands", "short of its place" if small else "beyond its place"
    elif kind_of(one.key) in ("at_mm", "end_mm", "offset_mm") and lifts:
        verb, side = "stands", "low" if small else "high"
    begin = amount(near, one.unit).removesuffix("°").removesuffix(f" {one.unit}")
    return f"{dimension_words(machine, one)} {verb} {begin} to {amount(far, one.unit)} {side}"


def _row_says(machine: Machine, seen: Mapping[int, str], clipped: Sequence[int]) -> str:
    """Say it if whole rows are lost, and nothing else: "every character seen at lift 5 mm"."""
    sides = {seen[code] for code in clipped}
    if len(sides) != 1:
        return ""
    (side,) = sides
    for aim in aims(machine):
        at = dict(zip(seen, targets(machine, aim, tuple(seen)), strict=True))
        places = sorted({at[code] for code in clipped})
        if side in aim.sides and all((at[c] in places) == (c in clipped) for c in seen):
            if len(places) == len(set(at.values())):
                return f"Every character that was seen is clipped at the {side}."
            sign = "°" if aim.unit == "degrees" else f" {aim.unit}"
            where = listed(f"{place:g}" for place in places)
            return (
                f"Clipped at the {side}: every character seen at {aim.name} {where}{sign}, "
                "and no other."
            )
    return ""
