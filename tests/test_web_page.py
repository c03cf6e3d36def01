"""A machine as one file: small, whole, and safe to put on a web site."""

import json
import re
import zlib
from base64 import b64decode
from dataclasses import replace

import pytest

import mechlogic
from mechlogic.model.faults import Fault, single_faults
from mechlogic.widgets.frames import frames
from mechlogic.widgets.web_page import save_web_page, web_page

WIND, DESK = mechlogic.load("wind"), mechlogic.load("desk")


def packed_in(page):
    text = re.search(r'id="packed">(.*?)</script>', page, re.DOTALL)[1]
    return json.loads(zlib.decompress(b64decode(text), wbits=-zlib.MAX_WBITS))


def whole(data, number):
    one = {**data["tables"]["first"], **data["tables"]["others"][number]}
    pools = {key: [data["tables"][key][k] for k in one[key]] for key in ("columns", "texts")}
    return {**one, **pools}


def test_every_single_fault_is_in_it_and_comes_out_as_it_went_in():
    data = packed_in(web_page(WIND))
    faults = [(), *((fault,) for fault in single_faults(WIND.mechanism))]
    assert len(data["labels"]) == len(faults)
    for number, chosen in enumerate(faults):
        assert whole(data, number) == json.loads(json.dumps(frames(WIND, chosen)))


def test_it_is_far_below_a_megabyte():
    assert len(web_page(DESK).encode()) < 1_000_000 / 4


def test_it_fetches_nothing():
    page = web_page(WIND, [])
    links = set(re.findall(r"https?://[^\s\"'<>)]+", page))
    assert links <= {"http://www.w3.org/2000/svg"}, "a name, not an address to fetch"
    assert "default-src 'none'" in page


def test_text_of_the_description_is_text():
    nasty = replace(
        WIND,
        title="<script>alert(1)</script>",
        about="<img src=x onerror=alert(2)> & <!--packed-->",
    )
    page = web_page(nasty, [])
    assert "<script>alert(1)" not in page and "<img" not in page
    assert "&lt;img src=x" in page
    assert packed_in(page)["labels"] == ["in good order"]


def test_it_is_written_whole(tmp_path):
    path = tmp_path / "wind.html"
    save_web_page(WIND, path)
    assert path.read_text(encoding="utf-8") == web_page(WIND)


@pytest.mark.parametrize("name", mechlogic.machines.names())
def test_every_machine_has_a_page(name):
    machine = mechlogic.load(name)
    part = next(iter(machine.mechanism.parts))
    page = web_page(machine, [(Fault(part, "stuck at rest"),)])
    assert len(packed_in(page)["tables"]["others"]) == 2
    for code in range(len(machine.code)):
        assert f">{machine.code.position(code)}</td>" in page
