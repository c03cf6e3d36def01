"""What a notebook shows for a machine or a diagnosis that stands at the end of a cell."""

import sys

from mechlogic.bench.diagnosis import Diagnosis
from mechlogic.model.machine import Machine


def machine_html(machine: Machine) -> str:
    """The mechanism as a picture, every part at rest."""
    from mechlogic.drawing import scene_at

    return scene_at(machine, {})


def diagnosis_html(diagnosis: Diagnosis) -> str:
    """The log and the possible causes, likeliest first."""
    from mechlogic.bench import pages
    from mechlogic.helpers.templates import piece

    style = piece("said.html", "style", pages.STYLE)
    return style + pages.log_strip(diagnosis.evidence) + pages.suspect_list(diagnosis)


def show_in_notebooks() -> None:
    """Tell a running IPython how to show them; without IPython nothing is imported or changed."""
    shell = sys.modules["IPython"].get_ipython() if "IPython" in sys.modules else None
    if shell is not None:
        html = shell.display_formatter.formatters["text/html"]
        html.for_type(Machine, machine_html)
        html.for_type(Diagnosis, diagnosis_html)
