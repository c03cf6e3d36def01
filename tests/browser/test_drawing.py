"""The picture as a browser draws it: names legible, contacts where they should be."""

from dataclasses import replace

import pytest

from mechlogic.drawing import scene, style, type_sheet
from mechlogic.machines import load
from mechlogic.model.joining import join
from mechlogic.model.laws import PullBar, SteppedStops
from mechlogic.model.table import place_in_row

SALTMERE, WIND = load("saltmere"), load("wind")
EBBING, DESK, NESS, SLUICE = map(load, ("ebbing", "desk", "ness", "sluice"))
JOINED = join(DESK, SALTMERE)
SETTINGS = {
    "no bit set": 0,
    "height, slide 3": 0b0000100,
    "height, slide 1": 0b0000001,
    "height, both": 0b0000101,
    "half a step": 0b0000010,
    "angle, slide 4": 0b0001000,
    "angle, slide 5": 0b0010000,
    "angle, both": 0b0011000,
    "half a turn": 0b1000000,
    "half a turn, and all the way": 0b1011000,
    "A": SALTMERE.as_set(ord("A")),
    "?": SALTMERE.as_set(ord("?")),
    "a control character": SALTMERE.as_set(10),
    "every bit set": 0b1111111,
}
SMALLEST = 736, 11  # width at which the picture must still serve, and its smallest letters, in px

POSE = """([poses, places]) => {
    for (const group of document.querySelectorAll("[data-part]")) {
        const {part, pose} = group.dataset;
        group.style.transform = poses[pose ? `${part}#${pose}` : part][places[part]];
    }
}"""
TEXTS = """() => Array.from(document.querySelectorAll("svg text"), text => {
    const {left, top, right, bottom} = text.getBoundingClientRect();
    const font = parseFloat(getComputedStyle(text).fontSize);
    const scale = text.getScreenCTM().a || text.getScreenCTM().b;
    return {words: text.textContent, size: font * Math.abs(scale),
            box: [left, top + 3, right, bottom - 3]};
})"""
FRAME = """() => {
    const {left, top, right, bottom} = document.querySelector("svg").getBoundingClientRect();
    return [left, top, right, bottom];
}"""
# A point is in a part if it is in the metal of any of its drawings.
METAL = """const inside = (part, x, y) => Array.from(
    document.querySelectorAll(`[data-part="${part}"] .metal`)).some(path => path.isPointInFill(
        new DOMPoint(x, y).matrixTransform(path.getScreenCTM().inverse())));
"""
COVERED = f"""() => {{ {METAL}
    const found = [];
    const paths = Array.from(document.querySelectorAll(".part .metal"),
        path => [path, path.getBoundingClientRect()]);
    for (const text of document.querySelectorAll("svg text:not(.part *)")) {{
        const {{left, top, right, bottom}} = text.getBoundingClientRect();
        for (const [path, box] of paths) {{
            const part = path.closest(".part").dataset.part;
            search: for (let x = Math.max(left, box.left); x <= Math.min(right, box.right); x += 3)
                for (let y = Math.max(top + 4, box.top); y <= Math.min(bottom - 4, box.bottom);
                     y += 3)
                    if (inside(part, x, y)) {{
                        found.push(`${{text.textContent}} on ${{part}}`);
                        break search;
                    }}
        }}
    }}
    return found;
}}"""
# How many points of a stop lie inside a rack, and how many of those within reach of its nose,
# a little way off in the direction (dx, dy), do so.
MEETS = f"""([stop, rack, dx, dy]) => {{ {METAL}
    const box = name => document.querySelector(`[data-part="${{name}}"]:not([data-pose]) .metal`)
        .getBoundingClientRect();
    const one = box(stop), two = box(rack);
    let overlap = 0, touch = 0;
    for (let x = Math.floor(Math.max(one.left, two.left)) - 2.5;
         x < Math.min(one.right, two.right) + 3; x += 1)
        for (let y = Math.floor(Math.max(one.top, two.top)) - 2.5;
             y < Math.min(one.bottom, two.bottom) + 3; y += 1) {{
            if (!inside(stop, x, y)) continue;
            if (inside(rack, x, y)) overlap += 1;
            if (inside(rack, x + 1.2 * dx, y + 1.2 * dy)) touch += 1;
        }}
    return [overlap, touch];
}}"""


# Whether a bar cuts into the roller at the foot of a lever, and whether it stands against its left.
PUSHES = f"""([bar, lever]) => {{ {METAL}
    const roller = document.querySelector(`[data-part="${{lever}}"] .roller.metal`);
    const box = roller.getBBox(), screen = roller.getScreenCTM(), r = box.width / 2;
    const {{x, y}} = new DOMPoint(box.x + r, box.y + r).matrixTransform(screen);
    let cutsIn = false, touches = false;
    for (let dy = 1 - r; dy < r; dy += 0.5) {{
        for (let dx = 1 - r; dx < r; dx += 0.5)
            if (Math.hypot(dx, dy) < r - 1) cutsIn ||= inside(bar, x + dx, y + dy);
        if (Math.abs(dy) < r / 2) touches ||= inside(bar, x - r - 1, y + dy);
    }}
    return [cutsIn, touches];
}}"""
# The letter on the type block that the fixed frame is drawn round, if just one is.
FRAMED = """() => {
    const sight = document.querySelector(".sight").getBoundingClientRect();
    const framed = Array.from(document.querySelectorAll(".letter")).filter(letter => {
        const {top, bottom} = letter.getBoundingClientRect();
        return sight.top < (top + bottom) / 2 && (top + bottom) / 2 < sight.bottom;
    });
    return framed.map(letter => letter.textContent).join("");
}"""


def show(page, setting, width=1000, machine=SALTMERE):
    page.set_viewport_size({"width": width, "height": 620})
    drawn = scene(machine)
    page.set_content(f"<style>body {{ margin: 0 }} {style()}</style><body>{drawn.svg}</body>")
    places = {name: place_in_row(c, setting) for name, c in machine.healthy.places.items()}
    page.evaluate(POSE, [drawn.poses, places])
    return places


def apart(one, two):
    return one[2] <= two[0] or two[2] <= one[0] or one[3] <= two[1] or two[3] <= one[1]


def check_texts(page):
    left, top, right, bottom = page.evaluate(FRAME)
    texts = page.evaluate(TEXTS)
    for i, text in enumerate(texts):
        x, y, u, v = text["box"]
        assert left <= x and top <= y and u <= right and v <= bottom, text
        assert text["size"] >= SMALLEST[1], text
        for other in texts[:i]:
            assert apart(text["box"], other["box"]), (text, other)
    return len(texts)


def test_every_name_is_on_the_picture_large_enough_and_clear_of_the_others(page):
    show(page, 0, SMALLEST[0])
    assert check_texts(page) > 25


@pytest.mark.parametrize("machine", [SALTMERE, WIND], ids=lambda machine: machine.name)
def test_a_picture_without_hints_keeps_every_name_inside_and_clear_of_the_sliders(page, machine):
    page.set_viewport_size({"width": 1100, "height": 800})
    drawn = scene(replace(machine, picture={}))
    page.set_content(f"<style>body {{ margin: 0 }} {style()}</style><body>{drawn.svg}</body>")
    for end in (0, -1):
        places = {name: end % len(law.places) for name, law in machine.mechanism.laws.items()}
        page.evaluate(POSE, [drawn.poses, places])
        assert check_texts(page) >= len(machine.mechanism.parts)
        assert page.evaluate(COVERED) == []


@pytest.mark.parametrize(
    "machine", [EBBING, DESK, NESS, SLUICE, JOINED], ids=lambda machine: machine.name
)
def test_a_picture_by_structure_is_legible_and_nothing_covers_a_name(page, machine):
    page.set_viewport_size({"width": 748, "height": 1000})
    drawn = scene(machine)
    page.set_content(f"<style>body {{ margin: 0 }} {style()}</style><body>{drawn.svg}</body>")
    for end in (0, -1):
        places = {name: end % len(law.places) for name, law in machine.mechanism.laws.items()}
        page.evaluate(POSE, [drawn.poses, places])
        check_texts(page)
        assert page.evaluate(COVERED) == []
    written = page.locator("svg text").all_text_contents()
    if machine is EBBING:  # every typebar carries its characters
        assert set("".join(bar.type for bar in machine.output.first.bars)) - {" "} <= set(written)


# For each pull bar and bar, whether the bar is cut away below the pull bar's tooth, where the
# tooth stands when nothing is set: it is the leftmost metal just above the bar.
TEETH = f"""([pulls, bars, poses, places]) => {{ {METAL}
    const place = (name, number) => {{
        document.querySelector(`[data-part="${{name}}"]`).style.transform = poses[name][number];
    }};
    const box = name => document.querySelector(`[data-part="${{name}}"] .metal`)
        .getBoundingClientRect();
    const tooth = {{}};
    for (const bar of bars) place(bar, 0);
    for (const pull of pulls) {{
        place(pull, 0);
        for (const bar of bars) {{
            const y = box(bar).top - 3, {{left, right}} = box(pull);
            let x = left;
            while (x < right && !inside(pull, x, y)) x += 0.5;
            tooth[`${{pull}} ${{bar}}`] = [x + 2.5, box(bar).top + 5];
        }}
    }}
    for (const bar of bars) place(bar, places[bar]);
    return pulls.map(pull => bars.map(bar => !inside(bar, ...tooth[`${{pull}} ${{bar}}`])));
}}"""


@pytest.mark.parametrize("code", ["NUL", "LTRS", "R", "Y", "SP"])
def test_a_tooth_stands_over_a_notch_wherever_its_bar_suits_the_pull_bar(page, code):
    setting = EBBING.code.parse(code)
    places = show(page, 0, 1000, EBBING)
    bars = list(EBBING.mechanism.bars)
    pulls = [part.name for part in EBBING.mechanism if isinstance(part.joint, PullBar)]
    places |= {bar: setting >> i & 1 for i, bar in enumerate(bars)}
    drawn = page.evaluate(TEETH, [pulls, bars, scene(EBBING).poses, places])
    for pull, notched in zip(pulls, drawn, strict=True):
        wants = {n.part: n.operated for n in EBBING.mechanism[pull].joint.notches}
        assert notched == [wants[bar] == places[bar] for bar in bars], pull


@pytest.mark.parametrize(
    ("machine", "width"),
    [(SALTMERE, 246), (DESK, 246), (SLUICE, 246), (WIND, 246), (EBBING, 1002), (NESS, 1002)],
    ids=lambda value: getattr(value, "name", value),
)
def test_every_character_and_heading_of_the_flat_sheet_is_legible(page, machine, width):
    page.set_viewport_size({"width": width, "height": 500})
    svg = type_sheet(machine)
    page.set_content(f"<style>body {{ margin: 0 }} {style()}</style><body>{svg}</body>")
    assert check_texts(page) >= len(machine.output.glyphs)


@pytest.mark.parametrize("setting", SETTINGS.values(), ids=SETTINGS)
def test_no_moving_part_ever_covers_a_name(page, setting):
    show(page, setting)
    assert page.evaluate(COVERED) == []


@pytest.mark.parametrize("setting", range(4))
def test_the_letter_in_the_frame_is_the_one_that_is_printed_and_every_name_is_clear(page, setting):
    show(page, setting, 620, WIND)
    assert page.evaluate(FRAMED) == WIND.good_print(setting)
    assert page.evaluate(COVERED) == []
    assert check_texts(page) > 10


@pytest.mark.parametrize("setting", range(4))
def test_a_bar_touches_the_levers_it_pushes_until_another_bar_takes_them_away(page, setting):
    show(page, setting, 620, WIND)
    bars = WIND.mechanism.bars
    moved = {bar for bar in bars if setting >> bars[bar].bit - 1 & 1}
    for lever in ("left_stop", "middle_stop", "right_stop"):
        pushers = set(WIND.mechanism[lever].joint.inputs)
        for bar in bars:
            cuts_in, touches = page.evaluate(PUSHES, [bar, lever])
            assert not cuts_in, (bar, lever)
            assert touches == (bar in pushers and (bar in moved or not moved & pushers)), lever


@pytest.mark.parametrize("setting", range(4))
def test_the_wind_rack_ends_against_the_stop_that_arrests_it(page, setting):
    places = show(page, setting, 620, WIND)
    assert check_stops(page, WIND, places) + (places["lift_rack"] == 3) == 1


@pytest.mark.parametrize("setting", SETTINGS.values(), ids=SETTINGS)
def test_a_rack_ends_against_the_stop_that_arrests_it_and_runs_clear_of_the_others(page, setting):
    places = show(page, setting)
    met = check_stops(page, SALTMERE, places)
    fully = sum(
        SALTMERE.mechanism.laws[p.name].places[places[p.name]] == p.joint.end
        for p in SALTMERE.mechanism
        if isinstance(p.joint, SteppedStops)
    )
    assert met + fully == 3  # the lift rack, the turn rack and the half-turn rack


def check_stops(page, machine, places):
    """How many stops arrest a rack; each does so where the table says, and no other is touched."""
    met = 0
    for part in machine.mechanism:
        if not isinstance(part.joint, SteppedStops):
            continue
        upright = scene(machine).poses[part.name][1].startswith("translate(0px, -")
        towards = (0, 1) if upright else (-1, 0)
        stood = machine.mechanism.laws[part.name].places[places[part.name]]
        for stop in part.joint.stops:
            lever = stop.lever.part
            if machine.picture[lever]["shape"] not in ("stop", "lever", "plate"):
                continue
            inside, touching = page.evaluate(MEETS, [lever, part.name, *towards])
            assert inside == 0, (part.name, lever)
            arrests = places[lever] == 0 and stood == stop.at
            assert (touching > 0) == arrests, (part.name, lever)
            met += arrests
    return met
