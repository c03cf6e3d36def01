"""Every kind of check, weighed: what it is expected to tell, for the minutes that it costs.

Typing tells the least and costs next to nothing; taking off the head tells nearly all and costs an
evening.  The check to do next is the one with the most expected information per minute.  Unlike
print, a look at the parts can tell members of one class apart.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import exp, log2

from mechlogic.bench.advice import TYPED_NEXT, Check, next_check, readable_codes, split_in_words
from mechlogic.bench.diagnosis import Diagnosis, prior
from mechlogic.bench.evidence import Account
from mechlogic.explaining.words import listed, the
from mechlogic.model.behaviour import Behaviour
from mechlogic.model.faults import BEFORE_THE_PRINTER, MODES, Hypothesis
from mechlogic.model.machine import Machine
from mechlogic.model.outputs import OUTPUT
from mechlogic.model.steps import steps

TYPE, HAND, SOURCE = "type", "hand", "source"
"""Kinds of effort that are no access to parts: one character, a turn by hand, another source."""

LOOK, OIL = "look", "oil"
"""Kinds of check that take something off: a look at the parts, and cleaning and oiling them."""

USUAL_MINUTES = {TYPE: 0.2, HAND: 2.0, SOURCE: 3.0}
"""What those cost where the machine's description does not say (common practice, no source)."""

OILING = 5.0
"""Minutes that cleaning and oiling takes, parts in reach (common practice, no source)."""

LEAST_GAIN = 0.01
"""Bits below which a check is left out."""

LEAST_SHARE = 0.01
"""Share of the doubt below which a check is left out."""

MOST_MEMBERS = 60
"""How many hypotheses, the likeliest first, are weighed for a turn by hand."""

Outcomes = Mapping[str, float]
"""The chance of each outcome of a check, under one hypothesis."""


@dataclass(frozen=True)
class Split:
    """What one outcome of a check would leave.

    Attributes:
        outcome: What would be found, in words.
        probability: The chance of it.
        suspects: Numbers of the suspects it would leave, from 1.
    """

    outcome: str
    probability: float
    suspects: tuple[int, ...]


@dataclass(frozen=True)
class Option:
    """A check that could be done next.

    Attributes:
        kind: :data:`TYPE`, :data:`HAND`, :data:`SOURCE`, :data:`LOOK` or :data:`OIL`.
        what: What to do, in a sentence.
        minutes: What it costs.
        gain: The information it is expected to bring, in bits.
        splits: What each outcome would leave, likeliest first.
        reason: Why, in a sentence.
        share: How much of the doubt it is expected to remove, from 0 to 1.
        codes: What to send, without parity, if anything.
        reach: What to take off, if anything.
    """

    kind: str
    what: str
    minutes: float
    gain: float
    splits: tuple[Split, ...]
    reason: str
    share: float = 0.0
    codes: tuple[int, ...] = ()
    reach: str = ""

    @property
    def worth(self) -> float:
        """Bits per minute."""
        return self.gain / self.minutes


@dataclass(frozen=True)
class _Member:
    account: Account
    probability: float
    suspect: int

    @property
    def faults(self) -> Hypothesis:
        return self.account.faults


def options(
    diagnosis: Diagnosis,
    minutes: Mapping[str, float] | None = None,
    typed: Check | None = None,
) -> tuple[Option, ...]:
    """Every check that tells something, the one most worth its minutes first.

    Args:
        diagnosis: What the log has said so far.
        minutes: What each kind of effort costs; those left out are as the machine's description
            says.
        typed: What to type next, if at hand.

    Raises:
        ValueError: If an effort costs no time or less.
    """
    machine = diagnosis.machine
    costs = costs_of(machine, minutes)
    members = _members(diagnosis)
    found = [
        _typing(diagnosis, typed or next_check(diagnosis), costs),
        _by_hand(diagnosis, members, costs),
        _other_source(diagnosis.machine, members, costs),
        *(
            replace(check(machine, members, costs, reach), reach=reach)
            for check in (_looking, _oiling)
            for reach in reaches(machine)
        ),
    ]
    whole = _entropy(member.probability for member in members) or 1.0
    weighed = [replace(o, share=min(1.0, o.gain / whole)) for o in found if o is not None]
    telling = [o for o in weighed if o.gain >= LEAST_GAIN and o.share >= LEAST_SHARE]
    return tuple(sorted(telling, key=lambda option: -option.worth))


def shares(diagnosis: Diagnosis) -> tuple[tuple[Hypothesis, float], ...]:
    """Every hypothesis considered, with its own probability, likeliest first."""
    return tuple((member.faults, member.probability) for member in _members(diagnosis))


def doubt(diagnosis: Diagnosis) -> float:
    """How uncertain it is which of the hypotheses considered is true, in bits."""
    return _entropy(member.probability for member in _members(diagnosis))


def costs_of(machine: Machine, changed: Mapping[str, float] | None = None) -> dict[str, float]:
    """What each kind of effort costs, in minutes.

    Raises:
        ValueError: If an effort costs no time or less.
    """
    costs = USUAL_MINUTES | {kind: float(cost) for kind, cost in machine.efforts.items()}
    costs |= changed or {}
    for kind, cost in costs.items():
        if not cost > 0:
            raise ValueError(f"{kind!r} costs {cost:g} minutes. Give it more than none.")
    return costs


def _members(diagnosis: Diagnosis) -> list[_Member]:
    """Every hypothesis of the suspects considered, with its own share of the chance."""
    found = []
    for number, suspect in enumerate(diagnosis.considered, start=1):
        best = max(account.log_likelihood for account in suspect.accounts)
        weights = [prior(a.faults) * exp(a.log_likelihood - best) for a in suspect.accounts]
        found += [
            _Member(a, suspect.probability * weight / sum(weights), number)
            for a, weight in zip(suspect.accounts, weights, strict=True)
        ]
    return sorted(_normalised(found), key=lambda member: -member.probability)


def _normalised(members: Sequence[_Member]) -> list[_Member]:
    total = sum(member.probability for member in members) or 1.0
    return [replace(member, probability=member.probability / total) for member in members]


def reaches(machine: Machine) -> tuple[str, ...]:
    """What has to come off to get at parts, the easiest first: cover, head."""
    found = {part.reach for part in machine.mechanism if part.reach}
    return tuple(sorted(found, key=lambda reach: machine.efforts[reach]))


# -- the kinds of check -------------------------------------------------------------------------


def _typing(diagnosis: Diagnosis, check: Check | None, costs: Mapping[str, float]) -> Option | None:
    if check is None:
        return None
    names = " then ".join(diagnosis.machine.code.name(code) for code in check.codes)
    splits = tuple(
        Split(f"prints {' '.join(split.prints)}", split.probability, split.suspects)
        for split in check.splits
    )
    cost = costs[TYPE] * len(check.codes)
    what = f"Type {names} {TYPED_NEXT}."
    return Option(TYPE, what, cost, check.gain, splits, _reason(splits), codes=check.codes)


def _by_hand(
    diagnosis: Diagnosis, members: list[_Member], costs: Mapping[str, float]
) -> Option | None:
    """The most telling character to print with the shaft turned by hand."""
    machine = diagnosis.machine
    codes = readable_codes(machine)
    likeliest = _normalised(members[:MOST_MEMBERS])
    tables = {
        member.faults: _prints_by_hand(machine, member.account, codes) for member in likeliest
    }
    best, most = None, -1.0
    for row in range(len(codes)):
        gain = _gain((member.probability, tables[member.faults][row]) for member in likeliest)
        if gain > most + 1e-9:
            best, most = row, gain
    if best is None:
        return None

    def outcome(faults: Hypothesis) -> Outcomes:
        return {f"prints {seen}": chance for seen, chance in tables[faults][best].items()}

    what = f"Turn the shaft by hand, motor unplugged, and print {machine.code.name(codes[best])}."
    return replace(_option(HAND, what, costs[HAND], likeliest, outcome), codes=(codes[best],))


def _prints_by_hand(machine: Machine, account: Account, codes: tuple[int, ...]) -> list[Outcomes]:
    """For each code, the chance of each print, given what may be remembered after the log."""
    table = steps(machine, account.faults, at_speed=False)
    share = 1 / len(Behaviour(machine, account.faults).chances)
    found: list[dict[str, float]] = [defaultdict(float) for _ in codes]
    for memory, chance in account.belief.items():
        for outcomes, code in zip(found, codes, strict=True):
            for (print_, _), n in table[memory][code].items():
                outcomes[print_] += chance * n * share
    return list(found)


def _other_source(machine: Machine, members: list[_Member], costs: Mapping[str, float]) -> Option:
    def outcome(faults: Hypothesis) -> Outcomes:
        return {"prints right" if innocent(machine, faults) else "prints as wrong": 1.0}

    what = "Send the same text from another source."
    return _option(SOURCE, what, costs[SOURCE], members, outcome)


def innocent(machine: Machine, faults: Hypothesis) -> bool:
    """Whether the printer prints right when another source sends the text."""
    return all(fault.mode in BEFORE_THE_PRINTER or fault.part in machine.source for fault in faults)


def found_by_look(machine: Machine, faults: Hypothesis, seen: Iterable[str]) -> tuple[str, ...]:
    """Names of the parts that a look finds at fault, moved by finger one by one.

    Args:
        machine: The machine.
        faults: What is wrong with it.
        seen: Names of the parts in reach.
    """
    visible = set(seen)
    found = {f.part for f in faults if f.part in visible and f.mode not in BEFORE_THE_PRINTER}
    return tuple(name for name in (*machine.mechanism.parts, OUTPUT) if name in found)


def _looking(
    machine: Machine, members: list[_Member], costs: Mapping[str, float], reach: str
) -> Option:
    seen = in_reach(machine, reach, costs)

    def outcome(faults: Hypothesis) -> Outcomes:
        found = found_by_look(machine, faults, seen)
        parts = sorted(the(machine.label(name)) for name in found)
        return {f"finds {listed(parts)} at fault" if parts else "finds nothing": 1.0}

    what = f"Look at the parts and move them by finger ({reach} off)."
    return _option(LOOK, what, costs[reach], members, outcome)


def _oiling(
    machine: Machine, members: list[_Member], costs: Mapping[str, float], reach: str
) -> Option:
    seen = in_reach(machine, reach, costs)

    def outcome(faults: Hypothesis) -> Outcomes:
        cured = 1.0
        for fault in faults:
            cured *= MODES[fault.mode].cured_by_oil if fault.part in seen else 0.0
        return {"prints right": cured, "prints as wrong": 1 - cured}

    what = f"Clean and oil what can be reached ({reach} off), and try again."
    return _option(OIL, what, costs[reach] + OILING, members, outcome)


def in_reach(machine: Machine, reach: str, costs: Mapping[str, float]) -> frozenset[str]:
    """Names of the parts that can be got at, this much taken off: all that are no dearer.

    The type can be got at with any part that brings it to the hammer.
    """
    parts = {
        part.name for part in machine.mechanism if part.reach and costs[part.reach] <= costs[reach]
    }
    type_ = {OUTPUT} if parts.intersection(machine.output.selects) else set()
    return frozenset(parts | type_)


# -- weighing ------------------------------------------------------------------------------------


def _option(
    kind: str,
    what: str,
    minutes: float,
    members: Iterable[_Member],
    outcome: Callable[[Hypothesis], Outcomes],
) -> Option:
    found = [(member, outcome(member.faults)) for member in members]
    chance: dict[str, float] = defaultdict(float)
    left: dict[str, set[int]] = defaultdict(set)
    for member, outcomes in found:
        for seen, share in outcomes.items():
            if share > 0:
                chance[seen] += member.probability * share
                left[seen].add(member.suspect)
    splits = tuple(
        Split(seen, chance[seen], tuple(sorted(left[seen])))
        for seen in sorted(chance, key=lambda seen: -chance[seen])
    )
    gain = _gain((member.probability, outcomes) for member, outcomes in found)
    return Option(kind, what, minutes, gain, splits, _reason(splits))


def _gain(weighed: Iterable[tuple[float, Outcomes]]) -> float:
    """Expected information, in bits: the doubt about the outcome, less what stays if all is known.

    Args:
        weighed: For each hypothesis its probability, and the chance of each outcome under it.
    """
    chance: dict[str, float] = defaultdict(float)
    known = 0.0
    for probability, outcomes in weighed:
        if len(outcomes) > 1:
            known += probability * _entropy(outcomes.values())
        for seen, share in outcomes.items():
            chance[seen] += probability * share
    return max(0.0, _entropy(chance.values()) - known)


def _reason(splits: tuple[Split, ...]) -> str:
    return f"{split_in_words([split.suspects for split in splits])}."


def _entropy(chances: Iterable[float]) -> float:
    return -sum(p * log2(p) for p in chances if p > 0)


def safety(option: Option) -> str:
    """The cautions that go with a check; those for oiling hold those for looking."""
    if option.kind in (TYPE, SOURCE):
        return ""
    return MODES["slow to return" if option.kind == OIL else "disconnected"].cautions
