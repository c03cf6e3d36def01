"""A club evening follows from its number, and its answers are those of the machine."""

import re
from html import escape, unescape
from itertools import pairwise

import pytest
from brute_force import Entry, possible_prints, read
from hostile import texts
from plain_runs import plain

import mechlogic
from mechlogic import machines
from mechlogic.bench.checks import costs_of
from mechlogic.drawing.club_pages import (
    documents,
    hand_outs,
    hunt_sheets,
    instructor_sheets,
    save,
    unlabelled,
)
from mechlogic.machines import FOLDER
from mechlogic.model.faults import BEFORE_THE_PRINTER, SLUGGISH
from mechlogic.teaching.club import (
    CAUTIONS,
    LONGEST_OPENING,
    MOST_NUMBER,
    MOST_STEPS,
    Evening,
    cases,
    neutral,
    still,
)
from mechlogic.teaching.sealed import MENDING, Hunt, Sealed

MACHINES = {name: mechlogic.load(name) for name in machines.names()}
WIND, SALTMERE = MACHINES["wind"], MACHINES["saltmere"]
EBBING = MACHINES["ebbing"]
every_machine = pytest.mark.parametrize("machine", MACHINES.values(), ids=MACHINES.keys())


@pytest.fixture(scope="module")
def small():
    return Evening(WIND, 7, teams=3, levels=(1, 2))


@pytest.fixture(scope="module")
def tiny():
    return Evening(WIND, 7, teams=1)


# --- The number ---


def test_the_same_number_makes_the_same_evening():
    one, other = Evening(WIND, 3), Evening(mechlogic.load("wind"), 3)
    assert one.preview() == other.preview()
    assert one.prose == other.prose
    for mine, theirs in zip(one.hunts, other.hunts, strict=True):
        assert mine.sealed.faults == theirs.sealed.faults
        assert mine.opening == theirs.opening


def test_other_numbers_make_other_evenings():
    faults = {
        tuple(team.sealed.faults for team in Evening(SALTMERE, n, teams=1).hunts) for n in range(6)
    }
    assert len(faults) > 3


def test_no_two_teams_have_the_same_fault_and_each_opening_text_shows_it():
    teams = Evening(SALTMERE, 5, teams=6).hunts
    assert len({team.sealed.faults for team in teams}) == 6
    assert [team.sealed.level for team in teams] == [1, 2, 1, 2, 1, 2]
    for team in teams:
        good = [SALTMERE.good_print(entry.sent) for entry in team.opening.entries]
        assert [entry.printed for entry in team.opening.entries] != good


def test_the_number_on_the_sheet_makes_the_fault_again_in_any_workbook(small):
    for team in small.hunts:
        again = Sealed(WIND, team.sealed.level, team.sealed.seed)
        assert Hunt(again).typed(small.opening).findings == team.start.findings


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"number": -1}, "number is -1"),
        ({"number": MOST_NUMBER + 1}, "number is"),
        ({"number": 1.5}, "whole number"),
        ({"teams": 0}, "teams is 0"),
        ({"teams": True}, "teams is True"),
        ({"minutes": 20}, "from 60 to 480"),
        ({"levels": ()}, "there is no level"),
        ({"levels": (1, 6)}, "a level is 6"),
    ],
)
def test_what_no_evening_can_have_is_refused_with_what_it_can(wrong, says):
    with pytest.raises(ValueError, match=says):
        Evening(WIND, **{"number": 1, **wrong})


# --- The timetable and the hand-out ---


@pytest.mark.parametrize("minutes", [60, 90, 101, 120, 480])
def test_the_timetable_fills_the_evening_without_a_gap(minutes):
    slots = Evening(WIND, 1, minutes=minutes).timetable
    assert slots[0].begins == 0 and slots[-1].ends == minutes
    assert all(one.ends == other.begins for one, other in pairwise(slots))
    assert all(slot.begins < slot.ends for slot in slots)
    assert all(slot.begins % 5 == 0 for slot in slots)
    hunt = max(slots, key=lambda slot: slot.ends - slot.begins)
    assert hunt.what == "The hunt"


@every_machine
def test_the_hand_out_tells_of_this_machine(machine):
    evening = Evening(machine, 2)
    about, parts, example = evening.prose
    assert " ".join(machine.about.split()) == about
    assert str(len(machine.mechanism.parts)) in parts
    name = re.match(r"Take (\S+)\. ", example).group(1)
    sentences = re.split(r"(?<=\.) (?=[A-Z])", example)
    assert len(sentences) <= MOST_STEPS + 2
    shown = machine.good_print(machine.code.parse(name))
    assert shown == "nothing" or shown in sentences[-1] or machine.output.layout().does
    assert evening.cautions == CAUTIONS


@every_machine
def test_the_price_list_is_the_description_s(machine):
    costs = costs_of(machine)
    looks = {part.reach for part in machine.mechanism if part.reach}
    wanted = [costs["type"], costs["hand"], costs["source"], *sorted(costs[r] for r in looks)]
    assert [price.minutes for price in Evening(machine, 1).prices] == [*wanted, MENDING]


@every_machine
def test_the_opening_text_is_short_and_can_be_sent(machine):
    opening = Evening(machine, 4).opening
    assert 0 < len(opening) <= LONGEST_OPENING
    assert all(0 <= code < len(machine.code) for code in opening)


def test_the_opening_text_is_a_sentence_where_the_machine_can_print_one():
    text = "".join(map(SALTMERE.code.character, Evening(SALTMERE, 1).opening))
    assert text == "QUIET BERTH SIX: HAZY DAWN,"
    letters = "".join(map(EBBING.code.character, Evening(EBBING, 1).opening))
    assert letters == "QUIET BERTH SIX HAZY DAWN"


# --- The answers, held against the plain simulator ---


def may_be_seen(machine, faults, before, code, driven="speed"):
    """What the plain simulator may print for a code after a character, whatever came earlier."""
    sent = [Entry(machine.as_set(before)), Entry(machine.as_set(code), driven)]
    return possible_prints(read(FOLDER / f"{machine.name}.toml"), sent, plain(faults))[-1]


@pytest.mark.parametrize(
    ("machine", "level"),
    [*((WIND, level) for level in range(1, 6)), (SALTMERE, 2), (SALTMERE, 5)],
    ids=lambda one: getattr(one, "name", one),
)
def test_the_table_says_what_may_be_seen_of_every_character(machine, level):
    (team,) = Evening(machine, 11, teams=1, levels=(level,)).hunts
    faults = team.sealed.faults
    assert [row.code for row in team.table] == list(range(len(machine.code)))
    for row in team.table[:: max(1, len(machine.code) // 5)]:
        assert set(row.neutral) == may_be_seen(machine, faults, team.neutral, row.code)
        assert set(row.hand) == may_be_seen(machine, faults, team.neutral, row.code, "hand")
        if team.telling is not None:
            assert set(row.telling) == may_be_seen(machine, faults, team.telling, row.code)
        assert {row.good} == may_be_seen(machine, (), team.neutral, row.code)


def test_a_machine_with_a_latch_has_a_table_for_each_of_its_cases():
    (team,) = Evening(EBBING, 3, teams=1, levels=(1,)).hunts
    n = len(EBBING.code)
    assert [row.case for row in team.table] == ["shift latch in letters"] * n + [
        "shift latch in figures"
    ] * n
    assert cases(EBBING) == ((0,), (1,))
    by_name = {(row.case[-7:], EBBING.code.name(row.code)): row.good for row in team.table}
    assert by_name["letters", "Q"] == "Q"
    assert by_name["figures", "Q"] == "1"


def test_a_sluggish_part_is_right_by_hand_and_the_telling_character_shows_it():
    teams = Evening(SALTMERE, 6, teams=3, levels=(2,)).hunts
    for team in teams:
        assert {fault.mode for fault in team.sealed.faults} <= SLUGGISH
        assert all(row.hand == (row.good,) for row in team.table)
        assert team.telling is not None
        assert any({row.neutral, row.telling} != {(row.good,)} for row in team.table)


def test_the_neutral_character_throws_no_latch_and_moves_fewest_parts():
    assert SALTMERE.code.name(neutral(SALTMERE)) == "NUL"
    assert EBBING.code.name(neutral(EBBING)) == "NUL"
    thrown = {EBBING.code.name(code) for code in range(len(EBBING.code))}
    thrown -= {EBBING.code.name(code) for code in still(EBBING)}
    assert thrown == {"FIGS", "LTRS", "SP"}


@every_machine
def test_a_look_finds_what_is_wrong_once_all_is_off(machine):
    (team,) = Evening(machine, 8, teams=1, levels=(1,)).hunts
    wrong = {fault.part for fault in team.sealed.faults if fault.mode not in BEFORE_THE_PRINTER}
    assert set(team.looks[-1][1]) == wrong
    assert all(set(parts) <= wrong for _, parts in team.looks)


def test_the_library_hunts_by_the_rules_and_its_minutes_add_up(small):
    for team in small.hunts:
        moves = team.library
        hunt = team.library_hunt
        assert hunt.minutes == pytest.approx(
            team.opening.minutes + sum(move.finding.minutes for move in moves)
        )
        assert all(move.why for move in moves)
        proofs = [move for move in moves if move.proof]
        mended = [move for move in moves if move.finding.mended]
        assert len(proofs) == len(mended)
        assert proofs[-1] is moves[-1] and proofs[-1].right
        assert not hunt.faults
        assert "put everything right" in team.library_ends


def test_the_preview_and_the_hunt_sheets_give_nothing_away(small):
    preview = small.preview()
    for team in small.hunts:
        assert not any(sentence in preview for sentence in team.truth)
        assert str(team.sealed.seed) not in preview
        assert team.sealed.machine.label(team.sealed.faults[0].part) not in preview
    told = texts(hunt_sheets(small).html)
    assert "Your machine has something wrong with it." in told
    for team in small.hunts:
        assert str(team.sealed.seed) not in told
        assert team.sealed.machine.label(team.sealed.faults[0].part) not in told


def test_the_number_which_makes_the_answers_is_on_the_instructor_s_sheets_alone():
    evening = Evening(WIND, 54321, teams=1)
    assert "54321" not in evening.preview()
    for pages, tells in ((hand_outs, False), (hunt_sheets, False), (instructor_sheets, True)):
        assert ("54321" in pages(evening).html) == tells


def test_the_rows_of_a_hunt_sheet_are_numbered_and_the_first_is_filled_in():
    evening = Evening(WIND, 3, teams=2)
    for team, sheet in zip(evening.hunts, hunt_sheets(evening).body.split("<h1>")[1:], strict=True):
        rows = re.findall(r"<tr><td>(\d+)</td><td>(.*?)</td>", sheet)
        assert [int(number) for number, _ in rows] == list(range(1, len(rows) + 1))
        assert [words for _, words in rows] == ["the opening text, at speed"] + [""] * (
            len(rows) - 1
        )
        assert f"You have {team.budget} minutes" in sheet


@every_machine
def test_the_hand_out_has_the_picture_with_names_and_with_numbered_blanks(machine):
    body = hand_outs(Evening(machine, 2, teams=1)).body
    named, blank = re.findall(r"<svg.*?</svg>", body, re.DOTALL)
    labels = [machine.label(name) for name in machine.mechanism.parts]
    spoken = set(re.findall(r"<title>(.*?)</title>", named))
    assert spoken <= {escape(label) for label in labels}
    numbers = re.findall(r"<title>(\d+)\s…+</title>", blank)
    assert {labels[int(number) - 1] for number in numbers} == set(map(unescape, spoken))
    assert "<title>" not in re.sub(r"<title>\d+\s…+</title>", "", blank)
    told = texts(blank)
    assert not [label for label in labels if len(label) > 2 and label in told]
    assert body.partition('class="mr-blanks"')[2].count("<li></li>") == len(labels)


def test_the_instructor_has_the_names_that_go_with_the_numbers():
    body = instructor_sheets(Evening(SALTMERE, 2, teams=1)).body
    named = body.partition('class="mr-names">')[2].partition("</ol>")[0]
    labels = [SALTMERE.label(name) for name in SALTMERE.mechanism.parts]
    assert re.findall("<li>(.*?)</li>", named) == labels


def test_the_answers_have_the_picture_with_what_is_at_fault_hatched():
    evening = Evening(SALTMERE, 6, teams=3, levels=(2, 5))
    pictures = re.findall(r"<svg.*?</svg>", instructor_sheets(evening).body, re.DOTALL)
    for team, picture in zip(evening.hunts, pictures, strict=True):
        marked = re.findall(r'<g class="part [^"]*faulty" data-part="(.*?)"', picture)
        assert set(marked) == {fault.part for fault in team.sealed.faults}
    assert not re.search(r'class="part [^"]*faulty', hand_outs(evening).body)
    assert "tabindex" not in pictures[0], "nothing on paper can be pressed"


def test_a_machine_without_labels_moves_as_before():
    assert unlabelled(WIND).healthy.places == WIND.healthy.places


# --- On paper ---


def test_three_files_of_the_paper_asked_for_the_same_bytes_every_time(tiny):
    made = {name: page.html for name, page in documents(tiny).items()}
    assert list(made) == [
        "club_wind_4c99_hand_outs_a4.html",
        "club_wind_4c99_hunt_sheets_a4.html",
        "club_wind_7_instructor_a4.html",
    ]
    again = documents(Evening(mechlogic.load("wind"), 7, teams=1))
    assert made == {name: page.html for name, page in again.items()}
    assert all("@page { size: A4; }" in html for html in made.values())
    letter = documents(tiny, "Letter")
    assert [name[-11:] for name in letter] == ["letter.html"] * 3
    assert all("@page { size: Letter; }" in page.html for page in letter.values())


def test_a_disk_that_fills_up_leaves_no_stump_that_is_called_another_evening(
    tiny, tmp_path, monkeypatch
):
    with monkeypatch.context() as full:
        full.setattr("os.fsync", lambda _: (_ for _ in ()).throw(OSError(28, "No space left")))
        with pytest.raises(OSError, match="No space left"):
            save(tiny, tmp_path)
    assert list(tmp_path.iterdir()) == []
    assert save(tiny, tmp_path)


def test_nothing_is_overwritten(tmp_path, tiny):
    files = save(tiny, tmp_path)
    before = {path: path.read_bytes() for path in files}
    files[1].write_bytes(b"somebody's own")
    files[2].unlink()
    with pytest.raises(FileExistsError, match=f"{files[1].name} is there already"):
        save(tiny, tmp_path)
    assert files[1].read_bytes() == b"somebody's own"
    assert not files[2].exists(), "all or nothing"
    assert files[0].read_bytes() == before[files[0]]
    files[1].write_bytes(before[files[1]])
    assert save(tiny, tmp_path) == files, (
        "the same again is no harm, and what is lost is made again"
    )
    assert {path: path.read_bytes() for path in files} == before


# --- The box in the workbook ---


def test_the_box_previews_makes_and_refuses(tmp_path):
    from mechlogic.widgets import ClubBox

    box = ClubBox("wind", number=7, folder=tmp_path)
    box.teams.value = 1
    box.preview.click()
    assert "Team 1: level 1" in box.said and not list(tmp_path.iterdir())
    box.make.click()
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted(documents(box.evening))
    box.levels.value = "<b>9</b>"
    box.make.click()
    assert "numbers from 1 to 5" in box.said and "<b>" not in box.said and not box.files
    box.levels.value, box.teams.value = "2", 2
    box.make.click()
    assert "is there already" in box.said
    box.folder, box.number.value = tmp_path / "nowhere", 8
    box.make.click()
    assert "no such folder" in box.said
