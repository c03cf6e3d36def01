"""The bench on one sheet: the machine's picture, its type map, and the suspects."""

from mechlogic.bench import pages
from mechlogic.bench.diagnosis import Diagnosis
from mechlogic.bench.story import how, suspect_label
from mechlogic.drawing.scene import scene_at
from mechlogic.explaining.words import believed
from mechlogic.helpers.paper import Page
from mechlogic.helpers.templates import render
from mechlogic.model.behaviour import Behaviour


def bench_page(diagnosis: Diagnosis, which: str = "", size: str = "") -> Page:
    """A log and what it says, as a page of one sheet.

    Args:
        diagnosis: Of the log.
        which: Serial number and owner, if there are any.
        size: The paper; left out, that of whoever prints it.
    """
    machine, suspects = diagnosis.machine, diagnosis.suspects
    shown = suspects[: pages.SHOWN_AT_FIRST]
    parts = {fault.part for suspect in shown for fault in suspect.members[0]}
    story = ""
    if shown:
        behaviour = Behaviour(machine, shown[0].members[0])
        story = how(diagnosis.evidence, behaviour, shown[0].accounts[0])
    body = render(
        "print_out.html",
        style=pages.STYLE,
        machine=machine,
        which=which,
        summary=pages.log_summary(diagnosis),
        picture=scene_at(machine, {}, parts & set(machine.mechanism.parts)),
        wheel=pages.wheel_map(diagnosis.evidence),
        suspects=[
            (believed(one.probability), suspect_label(machine, one.members)) for one in shown
        ],
        story=story,
        more=len(suspects) - len(shown),
        other=believed(diagnosis.off_list),
    )
    return Page(f"{machine.title}: log and suspects", body, size)
