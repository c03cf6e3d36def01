"""The site without a browser: what a page is built of, what is kept, the course."""

import gzip
import hashlib
import json
from pathlib import PurePosixPath

import pytest

from mechlogic.site import build as site_build
from mechlogic.site.built import built, cells_of
from mechlogic.site.course import course_files, put_workbooks
from mechlogic.site.page_kernel import Files
from mechlogic.site.parts import SiteError, zipped


def test_a_copy_of_the_course_has_every_workbook_log_and_example(tmp_path):
    written, kept = put_workbooks(tmp_path)
    assert kept == []
    assert {path.relative_to(tmp_path).as_posix() for path in tmp_path.rglob("*.*")} == set(written)
    assert len([name for name in written if name.endswith(".ipynb")]) >= 11
    assert {name.split("/")[0] for name in written if "/" in name} == {"logs", "machines"}


def test_what_a_reader_has_changed_is_never_written_over(tmp_path):
    put_workbooks(tmp_path)
    mine = tmp_path / "logs" / "three_letters.csv"
    mine.write_text("mine", encoding="utf-8")
    (tmp_path / "00_start_here.ipynb").unlink()
    assert put_workbooks(tmp_path) == (["00_start_here.ipynb"], ["logs/three_letters.csv"])
    assert mine.read_text(encoding="utf-8") == "mine"


def test_files_that_changed_are_told_once_and_those_put_back_are_not(tmp_path):
    (tmp_path / "there.txt").write_bytes(b"there")
    files = Files(str(tmp_path))
    assert files.changed() == []
    (tmp_path / "records").mkdir()
    (tmp_path / "records" / "one.json").write_bytes(b"{}")
    files.put("put/back.txt", b"kept")
    assert files.changed() == [("records/one.json", b"{}")]
    assert files.changed() == []
    (tmp_path / "there.txt").unlink()
    assert files.changed() == [("there.txt", None)]


def test_a_cell_shows_its_result_what_it_prints_and_what_it_displays(tmp_path):
    cells = ["print('said')\n6 * 7", "from IPython.display import HTML\nHTML('<b>bold</b>')"]
    first, second = built(cells, tmp_path)["outputs"]
    assert "".join(data.get("stream", "") for data in first) == "said\n"
    assert first[-1]["text/plain"] == "42"
    assert second[-1]["text/html"] == "<b>bold</b>"


def test_the_same_cells_give_the_same_bytes_twice(tmp_path):
    name = "00_start_here.ipynb"
    put_workbooks(tmp_path)
    cells = cells_of(course_files()[name].decode())
    sources = [cell["source"] for cell in cells if cell["cell_type"] == "code"]
    first = built(sources, tmp_path)
    assert first["state"]["state"], "no widget was built"
    assert json.dumps(first) == json.dumps(built(sources, tmp_path))


def test_a_cell_that_fails_is_no_page(tmp_path):
    with pytest.raises(RuntimeError, match="ZeroDivisionError"):
        built(["1 / 0"], tmp_path)


def test_the_same_files_make_the_same_archive_in_whatever_order_they_come():
    assert zipped({"a": b"1", "b": b"2"}) == zipped({"b": b"2", "a": b"1"})


def test_a_folder_with_other_files_is_left_alone(tmp_path):
    (tmp_path / "letter.txt").write_text("dear", encoding="utf-8")
    with pytest.raises(SiteError, match="holds other files"):
        site_build.build(tmp_path)
    assert (tmp_path / "letter.txt").exists()


@pytest.fixture
def full(tmp_path):
    """A stand-in for the full distribution: a lock file, and the files that it names."""
    packages = {
        "numpy": {"file_name": "numpy.whl", "depends": []},
        "scipy": {"file_name": "scipy.whl", "depends": ["numpy"]},
        "matplotlib": {"file_name": "matplotlib.whl", "depends": ["Contour_Py", "numpy"]},
        "contour-py": {"file_name": "contour.whl", "depends": ["numpy"]},
        "unwanted": {"file_name": "unwanted.whl", "depends": []},
    }
    for one in packages.values():
        (tmp_path / one["file_name"]).write_bytes(one["file_name"].encode())
        one["sha256"] = hashlib.sha256(one["file_name"].encode()).hexdigest()
    return tmp_path, {"packages": packages}


def test_numpy_and_its_company_come_from_the_full_distribution_with_all_that_they_need(full):
    folder, lock = full
    site = site_build.Site()
    assert site_build._extras(site, lock, str(folder))
    wheels = {name for name in site.files if name.endswith(".whl")}
    assert wheels == {f"files/{name}.whl" for name in ("numpy", "scipy", "matplotlib", "contour")}
    kept = json.loads(gzip.decompress(site.files["files/pyodide-lock.json.pack"]))
    assert set(kept["packages"]) == {"numpy", "scipy", "matplotlib", "contour-py"}


def test_a_full_distribution_of_another_version_is_refused(full):
    folder, lock = full
    (folder / "contour.whl").write_bytes(b"something else")
    with pytest.raises(SiteError, match="not of the pinned version"):
        site_build._extras(site_build.Site(), lock, str(folder))


def test_words_on_notebooks_stay_out_of_the_pages():
    html = site_build._prose(
        "Move the bars. If nothing moves below, choose **Run ▸ Run All Cells** first. 25 minutes."
        "\n\n"
        "Go on with [02](02_whole_machine.ipynb)."
    )
    assert "Run All" not in html
    assert "Move the bars." in html
    assert "25 minutes." in html
    assert 'href="02_whole_machine.html"' in html


def test_saved_work_can_be_taken_to_another_folder(tmp_path):
    one, other = tmp_path / "one", tmp_path / "other"
    (one / "records").mkdir(parents=True)
    other.mkdir()
    (one / "records" / "mine.json").write_text('{"Größe": "½"}', encoding="utf-8")
    packed = Files(str(one)).packed(["records/mine.json", "gone.csv"])
    files = Files(str(other))
    assert files.unpack(packed) == 1
    assert files.changed() == [("records/mine.json", '{"Größe": "½"}'.encode())]


@pytest.mark.parametrize("name", ["../outside.txt", "/outside.txt", "logs/../../outside.txt"])
def test_saved_work_that_leads_out_of_the_folder_is_refused_as_a_whole(name, tmp_path):
    inside = tmp_path / "inside"
    inside.mkdir()
    with pytest.raises(ValueError, match="leads out"):
        Files(str(inside)).unpack(zipped({"a.txt": b"fine", name: b"not"}))
    assert list(tmp_path.rglob("*.txt")) == []


def test_what_is_no_saved_work_is_refused(tmp_path):
    with pytest.raises(ValueError, match="no file of saved work"):
        Files(str(tmp_path)).unpack(b"sent,printed\nA,A\n")


def test_the_reader_s_browser_gets_whatever_the_library_reads():
    own = site_build._own()
    kinds = {PurePosixPath(name).suffix for name in own}
    assert kinds >= {".py", ".json", ".css", ".html", ".js", ".toml"} and ".pyc" not in kinds
    assert "mechlogic/teaching/reworded.json" in own
    assert "mechlogic/templates/paper.css" in own
