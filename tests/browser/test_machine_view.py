"""The live picture in JupyterLab: the browser answers by itself, and Python hears of it."""

import json
import re
from pathlib import Path

import nbformat
import pytest
from nbformat.v4 import new_code_cell, new_notebook
from playwright.sync_api import expect

import mechlogic
from mechlogic import Fault
from mechlogic.explaining.words import fault_sentence

SALTMERE = mechlogic.load("saltmere")

VIEW = """\
from mechlogic import Fault, load
from mechlogic.widgets import FaultBench, MachineView, choice, short_answer

machine = load("saltmere")
view = MachineView(machine)
view"""
BENCH = "bench = FaultBench(view)\nbench"
QUESTIONS = """\
from IPython.display import display

which = choice(
    "Which part serves the lowest stop?",
    ["<b>left</b> stop lever", "middle stop lever", "right stop lever"],
    "middle stop lever",
    hint=["It stands in the middle of the three.", "It is not on the left."],
    because="Slides 1 and 3 both reach it.",
)
what = short_answer(
    "What is printed for <i>A</i>?", lambda answer: answer == machine.good_print(65)
)
display(which, what)"""

# What we ask of the kernel: a value, or to be busy until it is interrupted.
ASK = """async code => {
    const kernel = jupyterapp.shell.currentWidget.sessionContext.session.kernel;
    const asked = kernel.requestExecute({ code: '', user_expressions: { answer: code } });
    const { content } = await asked.done;
    const answer = content.user_expressions.answer;
    return answer.status === 'ok' ? answer.data['text/plain'] : `${answer.ename}: ${answer.evalue}`;
}"""
RUN = """async code => {
    const kernel = jupyterapp.shell.currentWidget.sessionContext.session.kernel;
    const { content } = await kernel.requestExecute({ code }).done;
    return content.status === 'ok' ? '' : `${content.ename}: ${content.evalue}`;
}"""
KEEP_BUSY = """code => {
    const kernel = jupyterapp.shell.currentWidget.sessionContext.session.kernel;
    kernel.requestExecute({ code: 'import time\\ntime.sleep(3600)' });
}"""
STATUS = "() => jupyterapp.shell.currentWidget.sessionContext.session.kernel.status"
INTERRUPT = "() => jupyterapp.shell.currentWidget.sessionContext.session.kernel.interrupt()"
# Contrast as WCAG 2.2 defines it: between each text, or each edge of something to press, and the
# nearest ground below it that is not transparent.
CONTRASTS = """root => {
    const light = colour => {
        const [r, g, b] = colour.match(/[0-9.]+/g).slice(0, 3).map(value => {
            const share = value / 255;
            return share <= 0.04045 ? share / 12.92 : ((share + 0.055) / 1.055) ** 2.4;
        });
        return 0.2126 * r + 0.7152 * g + 0.0722 * b;
    };
    const clear = colour => /rgba\\(.*, 0\\)|transparent/.test(colour);
    const ground = node => {
        for (; node; node = node.parentElement) {
            const colour = getComputedStyle(node).backgroundColor;
            if (!clear(colour)) return colour;
        }
        return 'rgb(255, 255, 255)';
    };
    const ratio = (one, two) => {
        const [high, low] = [light(one), light(two)].sort((a, b) => b - a);
        return (high + 0.05) / (low + 0.05);
    };
    const found = [];
    for (const node of root.querySelectorAll('*')) {
        const says = Array.from(node.childNodes).some(n => n.nodeType === 3 && n.data.trim());
        const style = getComputedStyle(node);
        const inPicture = node.ownerSVGElement;
        if (says && node.tagName !== 'title') {
            const colour = inPicture ? style.fill : style.color;
            found.push(['text', node.textContent, ratio(colour, ground(node))]);
        } else if (parseFloat(style.borderTopWidth) && node.matches('button, input')) {
            found.push(['edge', node.className, ratio(style.borderTopColor, ground(node))]);
        }
    }
    return found;
}"""
CELLS = "() => Array.from(jupyterapp.shell.currentWidget.context.model.cells, c => c.toJSON())"


def of_class(name):
    """Matches a class attribute that holds the name among others."""
    return re.compile(rf"(^|\s){name}(\s|$)")


class Desk:
    """A notebook with a machine on it, and what a reader sees and does there."""

    def __init__(self, page):
        self.page = page
        self.view = page.locator(".mv-view")

    def python(self, expression):
        return self.page.evaluate(ASK, expression)

    def hears(self, expression, answer):
        """Python has the answer, if not at once: a notebook sends it the news one by one."""
        for _ in range(300):
            if self.python(expression) == answer:
                return
            self.page.wait_for_timeout(100)
        assert self.python(expression) == answer

    def run(self, code):
        assert self.page.evaluate(RUN, code) == ""

    def bit(self, number):
        return self.view.locator(f'.mv-bit[data-bit="{number}"]')

    def part(self, name):
        return self.view.locator(f'[data-part="{name}"]').first

    def place(self, name):
        """Where a part stands: its transform, which the picture's poses are given in."""
        return self.part(name).evaluate("node => node.style.transform")

    def facing(self):
        return self.view.locator(".cell.facing").get_attribute("data-glyph")

    def send(self, text):
        self.view.locator(".mv-send").click()
        self.page.keyboard.type(text)

    def paper(self):
        """Sentences about the characters on the paper."""
        return self.view.locator(".mv-print .mv-said").all_text_contents()

    def says(self, words):
        expect(self.view.locator(".mv-tells")).to_contain_text(words)


@pytest.fixture
def desk(page, open_workbook, run_all, tmp_path):
    """Give `desk(*cells)`: a desk with a machine and, below it, more cells."""

    def desk(*sources: str, machine: str = "saltmere") -> Desk:
        kernel = {"name": "python3", "display_name": "Python 3 (ipykernel)", "language": "python"}
        view = VIEW.replace("saltmere", machine)
        cells = [new_code_cell(source) for source in (view, *sources)]
        notebook = new_notebook(cells=cells, metadata={"kernelspec": kernel})
        nbformat.write(notebook, tmp_path / "desk.ipynb")
        open_workbook(page, "desk.ipynb", Path(tmp_path))
        run_all(page)
        desk = Desk(page)
        expect(desk.view).to_be_visible()
        return desk

    return desk


def test_a_click_on_a_bit_changes_picture_wheel_and_words(desk, console_errors, shot):
    desk = desk()
    poses = json.loads(desk.python("__import__('json').dumps(view.poses)").strip("'"))
    desk.bit(7).click()
    assert desk.place("bar7") == poses["bar7"][1]
    assert desk.facing() == "@"
    desk.says("For @ it prints @.")
    desk.bit(1).click()
    assert desk.facing() == "A"
    desk.says("For A it prints A.")
    expect(desk.bit(1)).to_have_attribute("aria-pressed", "true")
    expect(desk.bit(2)).to_have_attribute("aria-pressed", "false")
    desk.bit(7).click()
    desk.says("nothing is printed")
    assert desk.place("bar7") == poses["bar7"][0]
    expect(desk.view.locator(".mv-print")).to_have_count(0)
    desk.hears("view.code", "1")
    shot(desk.page, "machine_view")
    assert console_errors(desk.page) == []


def test_the_picture_answers_while_python_is_busy_and_python_catches_up(desk, console_errors):
    desk = desk()
    desk.page.evaluate(KEEP_BUSY)
    desk.page.wait_for_function(f"() => ({STATUS})() === 'busy'")
    at_rest = desk.place("bar7")
    desk.bit(7).click()
    desk.bit(2).click()
    assert desk.page.evaluate(STATUS) == "busy"
    assert desk.place("bar7") != at_rest
    assert desk.facing() == "B"
    desk.says("For B it prints B.")
    desk.send("K")
    assert desk.paper() == ["sent K, printed K"]
    assert desk.page.evaluate(STATUS) == "busy"
    desk.page.evaluate(INTERRUPT)
    desk.page.wait_for_function(f"() => ({STATUS})() === 'idle'")
    desk.hears("view.code == machine.as_set(ord('K'))", "True")
    desk.hears("view.paper", "'K'")
    assert console_errors(desk.page) == []


def test_text_typed_into_the_send_box_is_printed_on_the_paper(desk):
    desk = desk()
    desk.send("BERTH 2a")
    assert [said.split()[-1] for said in desk.paper()] == [*"BERTH", "nothing", "2", "A"]
    expect(desk.view.locator(".mv-send")).to_have_value("")
    desk.hears("view.paper", "'BERTH 2A'")
    desk.view.get_by_role("button", name="Print", exact=True).click()
    desk.hears("view.paper", "'BERTH 2AA'")
    desk.send("é")
    expect(desk.view.get_by_role("alert")).to_have_text("This machine has no code for “é”.")
    desk.hears("view.paper", "'BERTH 2AA'")
    desk.view.get_by_role("button", name="Tear off").click()
    desk.hears("view.printed", "[]")


def test_a_slow_part_misprints_after_some_characters_only_and_never_by_hand(
    desk, console_errors, shot
):
    fault = Fault("left_stop", "slow to return")
    desk = desk()
    desk.run("view.faults = (Fault('left_stop', 'slow to return'),)")
    expect(desk.view.locator(".mv-condition")).to_have_text(fault_sentence(SALTMERE, fault))
    desk.send("TQQTQ")
    misprint = "sent Q, printed U; misprint, a good machine prints Q"
    good = "sent Q, printed Q"
    assert desk.paper() == ["sent T, printed T", misprint, good, "sent T, printed T", misprint]
    expect(desk.view.locator(".mv-misprint")).to_have_count(2)
    # The ghost shows where a good machine's parts would stand.
    expect(desk.view.locator(".ghost.seen").first).to_be_visible()
    expect(desk.view.locator(".cell.should-face")).to_have_attribute("data-glyph", "Q")
    shot(desk.page, "machine_view_slow")
    desk.view.get_by_role("radio", name="by hand").check(force=True)
    desk.says("For Q it prints Q.")
    expect(desk.view.locator(".ghost.seen")).to_have_count(0)
    desk.send("TQ")
    assert desk.paper()[-1] == good
    desk.hears("[e.driven for e in view.logbook()]", str(["speed"] * 5 + ["hand"] * 2))
    assert console_errors(desk.page) == []


def test_setting_the_bars_without_printing_is_not_remembered_by_a_slow_part(desk):
    desk = desk()
    desk.run("view.faults = (Fault('left_stop', 'slow to return'),)")
    desk.send("A")  # asks nothing of the left stop
    for key in "135":
        desk.bit(int(key)).click()  # T, which does, but it is not printed
    desk.says("For T")
    desk.send("Q")
    assert desk.paper()[-1] == "sent Q, printed Q"


def test_where_chance_decides_both_outcomes_can_be_seen(desk):
    desk = desk()
    desk.run(
        "view.faults = (Fault('right_stop', 'half-way'),)\nview.code = machine.as_set(ord('T'))"
    )
    expect(desk.view).to_contain_text("As chance has it, this prints")
    other = desk.view.get_by_role("button", name="Show another outcome")
    seen = set()
    for _ in range(4):
        seen.add(desk.facing())
        other.click()
    assert len(seen) == 2
    for glyph in seen:
        expect(desk.view).to_contain_text(f"“{glyph}”")


def test_faults_change_the_picture_in_place(desk):
    desk = desk()
    desk.send("SALT")
    mark = "nodes => nodes.forEach((node, i) => { node.marked = i; })"
    marks = "nodes => nodes.map(node => node.marked)"
    everything = ".mv-view, [data-part], .cell, .mv-bit, .mv-print, .mv-tells, .mv-send"
    nodes = desk.page.locator(everything)
    nodes.evaluate_all(mark)
    before = nodes.evaluate_all(marks)
    assert before == list(range(len(before))) and len(before) > 100
    for faults in ("Fault('middle_stop', 'stuck at rest'),", "Fault('bail', 'half-way'),", ""):
        desk.run(f"view.faults = ({faults})")
        desk.bit(5).click()
    expect(desk.view.locator(".mv-condition")).to_have_text("In good order")
    assert nodes.evaluate_all(marks) == before


def test_a_fault_that_cannot_be_is_explained_beside_the_picture(desk):
    desk = desk()
    desk.run("view.faults = (Fault('hamer', 'stuck at rest'),)")
    expect(desk.view.get_by_role("alert")).to_contain_text("Did you mean hammer")
    expect(desk.view.locator(".mv-condition")).to_have_text("In good order")


def test_everything_can_be_done_with_the_keyboard(desk, console_errors):
    desk = desk()
    key = desk.page.keyboard.press
    cells_before = desk.page.evaluate(CELLS)
    desk.view.focus()
    # A notebook would take 1 for a heading and the like; here the keys set bits.
    key("7")
    key("1")
    desk.says("For A it prints A.")
    key("Tab")  # b7, the first of the bits as they stand in a row
    expect(desk.bit(7)).to_be_focused()
    key("Space")
    desk.says("nothing is printed")
    expect(desk.bit(7)).to_have_attribute("aria-pressed", "false")
    for _ in desk.view.locator(".mv-bit").all():
        key("Tab")
    expect(desk.view.locator(".mv-send")).to_be_focused()
    desk.page.keyboard.type("7")
    assert desk.paper() == ["sent 7, printed 7"]
    key("Enter")
    assert desk.paper() == ["sent 7, printed 7"] * 2
    key("Tab")
    key("Enter")  # the Print button
    assert len(desk.paper()) == 3
    key("Tab")
    key("ArrowRight")
    expect(desk.view.get_by_role("radio", name="by hand")).to_be_checked()
    key("Tab")
    expect(desk.part("bar1")).to_be_focused()
    key("ArrowRight")
    expect(desk.part("bar2")).to_be_focused()
    key("Enter")
    expect(desk.view.locator(".mv-part-name")).to_have_text("code bar 2")
    expect(desk.part("bar2")).to_have_class(of_class("picked"))
    desk.hears("view.picked", "'bar2'")
    key("Space")
    desk.hears("view.picked", "''")
    after = desk.page.evaluate(CELLS)
    assert [c["cell_type"] for c in after] == [c["cell_type"] for c in cells_before]
    assert [c["source"] for c in after] == [c["source"] for c in cells_before]
    assert console_errors(desk.page) == []


def test_letters_and_figures_are_sent_with_the_keyboard_alone(desk, console_errors, shot):
    desk = desk(machine="ebbing")
    desk.run("view.faults = (Fault('pull_letters', 'stuck at rest'),)")
    key = desk.page.keyboard.press
    desk.view.focus()
    for _ in desk.view.locator(".mv-bit").all():
        key("Tab")
    key("Tab")
    expect(desk.view.locator(".mv-send")).to_be_focused()
    desk.page.keyboard.type("t")
    for name in ("Print", "LF", "CR", "FIGS"):
        key("Tab")
        expect(desk.view.locator(":focus")).to_have_text(name)
    key("Enter")
    key("Tab")  # LTRS, which this machine no longer obeys
    key("Shift+Tab")
    for _ in range(4):
        key("Shift+Tab")
    desk.page.keyboard.type("5")
    desk.says("For T it prints 5.")
    for _ in range(5):
        key("Tab")
    key("Space")
    for _ in range(5):
        key("Shift+Tab")
    desk.page.keyboard.type("T T")
    assert desk.paper() == [
        "sent T, printed T",
        "sent FIGS, printed nothing",
        "sent T, printed 5",
        "sent LTRS, printed nothing",
        "sent T, printed 5; misprint, a good machine prints T",
        "sent SP, printed nothing",
        "sent T, printed T",
    ]
    shot(desk.page, "ebbing_keyboard")
    desk.hears("view.paper", "'T55 T'")
    desk.hears("len(view.logbook().entries)", "7")
    assert console_errors(desk.page) == []


def test_a_part_picked_in_python_or_in_the_list_is_pointed_out_in_the_picture(desk):
    desk = desk()
    desk.run("view.picked = 'middle_stop'")
    expect(desk.part("middle_stop")).to_have_class(of_class("picked"))
    expect(desk.view.locator(".mv-part-says")).to_contain_text("Neither slide 1 nor slide 3")
    desk.view.locator("summary").click()
    desk.view.get_by_role("button", name="lift rack").and_(desk.page.locator(".mv-name")).click()
    desk.hears("view.picked", "'lift_rack'")
    expect(desk.part("middle_stop")).not_to_have_class(of_class("picked"))


def test_nothing_moves_on_the_page_when_texts_change(desk):
    desk = desk()
    desk.run("view.faults = (Fault('left_stop', 'slow to return'),)\nview.picked = 'left_stop'")
    tops = "nodes => nodes.map(n => [n.className.baseVal ?? n.className, n.offsetTop])"
    still = desk.view.locator(".mv-controls, .mv-stage, .mv-paper, .mv-list")
    seen = []
    for text in ("T", "Q", "Q", "\\", "A"):
        desk.send(text)
        seen.append(still.evaluate_all(tops))
    assert all(places == seen[0] for places in seen)


def test_a_small_screen_shows_picture_toggles_words_and_paper_at_once(desk, shot):
    """1366 × 768 is the smallest screen of a common laptop (common practice, no source)."""
    desk = desk()
    desk.page.set_viewport_size({"width": 1366, "height": 768})
    desk.page.evaluate("jupyterapp.commands.execute('application:toggle-left-area')")
    desk.view.locator(".mv-head").evaluate("node => node.scrollIntoView()")
    desk.send("R")
    picture = desk.view.locator(".mv-picture svg")
    desk.page.wait_for_function(
        "() => document.querySelector('.mv-picture svg').getBoundingClientRect().width >= 735"
    )
    shown = desk.page.locator(".jp-WindowedPanel-outer").bounding_box()
    for seen in (".mv-head", ".mv-bits", ".mv-picture svg", ".mv-what", ".mv-part", ".mv-strip"):
        box = desk.view.locator(seen).bounding_box()
        assert box["y"] >= shown["y"] - 1, seen
        assert box["y"] + box["height"] <= shown["y"] + shown["height"], seen
    shot(desk.page, "machine_view_small_screen")
    sizes = "svg => Array.from(svg.querySelectorAll('text'), text => " + (
        "parseFloat(getComputedStyle(text).fontSize) * Math.hypot(text.getScreenCTM().a, "
        "text.getScreenCTM().b))"
    )
    assert min(picture.evaluate(sizes)) >= 11
    assert min(desk.view.locator(".mv-wheel svg").evaluate(sizes)) >= 11


@pytest.mark.parametrize("theme", ["JupyterLab Light", "JupyterLab Dark"])
def test_texts_and_edges_stand_out_in_either_theme(desk, theme, shot):
    desk = desk()
    desk.page.evaluate(
        "theme => jupyterapp.commands.execute('apputils:change-theme', { theme })", theme
    )
    is_light = str(theme == "JupyterLab Light").lower()
    expect(desk.page.locator("body")).to_have_attribute("data-jp-theme-light", is_light)
    desk.run("view.faults = (Fault('left_stop', 'slow to return'),)\nview.picked = 'lift_rack'")
    desk.send("TQ")
    desk.page.wait_for_timeout(400)  # the last movement has ended
    shot(desk.page, f"machine_view_{theme}")
    desk.view.locator("summary").click()
    found = desk.view.evaluate(CONTRASTS)
    assert len(found) > 150
    # WCAG 2.2, success criteria 1.4.3 and 1.4.11, level AA.
    least = {"text": 4.5, "edge": 3.0}
    assert [each for each in found if each[2] < least[each[0]]] == []


def test_a_reader_who_wants_no_motion_gets_none(desk):
    desk = desk()
    desk.page.emulate_media(reduced_motion="no-preference")
    moving = "node => getComputedStyle(node).transitionDuration"
    assert desk.part("bar7").evaluate(moving) != "0s"
    desk.page.emulate_media(reduced_motion="reduce")
    assert desk.part("bar7").evaluate(moving) == "0s"


def test_the_bench_gives_the_picture_a_fault(desk, console_errors, shot):
    desk = desk(BENCH)
    desk.view.evaluate("node => node.scrollIntoView()")
    desk.part("middle_stop").dispatch_event("click")
    part = desk.page.get_by_label("Part", exact=True)
    expect(part.locator("option:checked")).to_have_text("middle stop lever")
    desk.page.get_by_label("Fault", exact=True).select_option("stuck operated")
    expect(desk.page.locator(".mv-knowledge")).to_contain_text("Unplug the machine")
    desk.page.get_by_role("button", name="Only this fault").click()
    expect(desk.view.locator(".mv-condition")).to_contain_text("The middle stop lever")
    expect(desk.part("middle_stop")).to_have_class(of_class("faulty"))
    shot(desk.page, "fault_bench")
    desk.page.get_by_role("button", name="Mend everything").click()
    expect(desk.view.locator(".mv-condition")).to_have_text("In good order")
    assert console_errors(desk.page) == []


def test_a_part_of_the_picture_is_chosen_on_the_bench_with_the_keyboard(desk, console_errors):
    desk = desk(BENCH)
    part = desk.page.get_by_label("Part", exact=True)
    desk.part("bar1").focus()
    for key in ("ArrowRight", "Enter"):
        desk.page.keyboard.press(key)
    expect(part.locator("option:checked")).to_have_text("code bar 2")
    part.focus()
    desk.page.keyboard.press("ArrowDown")
    expect(part.locator("option:checked")).to_have_text("code bar 3")
    expect(desk.part("bar3")).to_have_class(of_class("picked"))
    desk.part("bar2").focus()
    desk.page.keyboard.press("Enter")  # the same part again: it is chosen, and not let go
    expect(part.locator("option:checked")).to_have_text("code bar 2")
    expect(desk.part("bar2")).to_have_class(of_class("picked"))
    desk.page.get_by_label("Fault", exact=True).focus()
    desk.page.keyboard.press("ArrowDown")
    desk.page.get_by_role("button", name="Only this fault").press("Enter")
    expect(desk.view.locator(".mv-condition")).to_contain_text("Code bar 2 stays operated")
    expect(desk.part("bar2")).to_have_class(of_class("faulty"))
    expect(desk.view.locator(".ghost.seen").first).to_be_visible()
    assert console_errors(desk.page) == []


def test_questions_are_answered_with_the_keyboard_and_show_text_as_text(desk, console_errors, shot):
    desk = desk(QUESTIONS)
    which, what = desk.page.locator(".mq-question").all()
    which.get_by_role("radio", name="<b>left</b> stop lever").focus()
    desk.page.keyboard.press("Space")
    desk.page.keyboard.press("Enter")
    expect(which.locator(".mq-verdict")).to_have_text("Not yet.")
    expect(which).to_contain_text("<b>left</b> stop lever")
    which.get_by_role("button", name="Hint").click()
    expect(which.get_by_role("listitem")).to_have_text(["It stands in the middle of the three."])
    which.get_by_role("radio", name="middle stop lever").focus()
    desk.page.keyboard.press("Space")
    desk.page.keyboard.press("Enter")
    expect(which.locator(".mq-verdict")).to_have_text("Right.")
    expect(which.locator(".mq-because")).to_have_text("Slides 1 and 3 both reach it.")
    what.get_by_role("textbox").fill("<img src=x onerror=alert(1)>")
    desk.page.keyboard.press("Enter")
    expect(what.locator(".mq-verdict")).to_have_text("Not yet.")
    what.get_by_role("textbox").fill("A")
    desk.page.keyboard.press("Enter")
    expect(what.locator(".mq-verdict")).to_have_text("Right.")
    which.evaluate("node => node.scrollIntoView()")
    shot(desk.page, "questions")
    assert console_errors(desk.page) == []
