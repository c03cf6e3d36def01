"""A machine as one web page that needs no Python: for a club's web site, a phone, or no network.

The page holds the same picture, tables and front end as a notebook, and the tables of every single
fault beside those of the good machine.  What they have in common is kept once, and all is packed
(DEFLATE, RFC 1951), so that the whole page stays far below a megabyte.  Nothing is fetched.
"""

import json
import zlib
from base64 import b64encode
from collections.abc import Iterable
from hashlib import sha256
from pathlib import Path
from typing import Any

from mechlogic.bench.story import hypothesis_label
from mechlogic.drawing import scene, style, type_sheet
from mechlogic.helpers import safe_file
from mechlogic.helpers.refusal import TooMuch
from mechlogic.helpers.templates import render
from mechlogic.model.behaviour import Behaviour
from mechlogic.model.faults import Hypothesis, hypothesis, single_faults
from mechlogic.model.machine import Machine
from mechlogic.widgets.frames import frames
from mechlogic.widgets.scripts import script

HERE = Path(__file__).parent

MOST_PLACES = 5_000_000
"""The most places of parts that a page is worked out for: a minute or so."""

POOLED = ("columns", "texts")
"""What is kept once for all tables."""


def web_page(machine: Machine, faults: Iterable[Hypothesis] | None = None) -> str:
    """The page, as HTML that stands alone.

    Args:
        machine: The machine.
        faults: The faults to choose from; every single fault if left out.

    Raises:
        FaultError: If a fault is none that the machine can have.
        TooMuch: If there is more to work out than :data:`MOST_PLACES`.
    """
    if faults is None:
        faults = ((fault,) for fault in single_faults(machine.mechanism))
    choices = [(), *faults]
    _refuse_too_many(machine, choices)
    picture = scene(machine)
    data = {
        "svg": picture.svg,
        "wheel": type_sheet(machine),
        "poses": picture.poses,
        "tables": _pooled([frames(machine, chosen) for chosen in choices]),
        "labels": ["in good order", *(hypothesis_label(machine, one) for one in choices[1:])],
    }
    packed = zlib.compressobj(9, wbits=-zlib.MAX_WBITS)
    raw = packed.compress(json.dumps(data, separators=(",", ":")).encode()) + packed.flush()
    return render(
        "web_page.html",
        machine=machine,
        style=style() + (HERE / "front_end.css").read_text(encoding="utf-8"),
        front_end=script("front_end.js"),
        codes=_codes(machine),
        packed=b64encode(raw).decode("ascii"),
        digest=lambda script: b64encode(sha256(script.encode()).digest()).decode("ascii"),
    )


def _refuse_too_many(machine: Machine, choices: list[Hypothesis]) -> None:
    """A part has a place for each setting of the bars in each world of each choice."""
    n_worlds = sum(Behaviour(machine, hypothesis(machine.mechanism, c)).n_worlds for c in choices)
    n_places = (n_worlds << machine.units) * len(machine.mechanism.parts)
    if n_places > MOST_PLACES:
        raise TooMuch(
            f"a page with {len(choices) - 1:,} faults to choose from would take "
            f"{n_places / 1e6:,.0f} million places of parts; {MOST_PLACES / 1e6:.0f} million is "
            "the most",
            "Name fewer faults: faults=…",
        )


def save_web_page(machine: Machine, path: str | Path) -> None:
    """Write the page to a file, whole or not at all.

    Raises:
        OSError: If the file cannot be written.
    """
    safe_file.write_whole(path, web_page(machine).encode("utf-8"))


def _pooled(tables: list[dict[str, Any]]) -> dict[str, Any]:
    """Tables with what they have in common kept once: numbers stand for columns and texts."""
    pools: dict[str, dict[str, int]] = {key: {} for key in POOLED}
    for table in tables:
        for key, pool in pools.items():
            table[key] = [pool.setdefault(item, len(pool)) for item in table[key]]
    first = tables[0]
    others = [{k: v for k, v in table.items() if first.get(k) != v} for table in tables]
    return {"first": first, "others": others, **{key: list(pool) for key, pool in pools.items()}}


def _codes(machine: Machine) -> list[tuple[str, str, str, list[str]]]:
    """Every code: its name, its place, the bits of each, and what a good machine shows."""
    return [
        (
            machine.code.name(code),
            machine.code.position(code),
            f"{machine.as_set(code):0{machine.units}b}",
            [prints[machine.as_set(code)] for prints in machine.cases.values()],
        )
        for code in range(len(machine.code))
    ]
