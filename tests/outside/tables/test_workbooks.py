"""Workbooks written by openpyxl (ISO/IEC 29500), an implementation of its own, and read by `import` and `panel import`."""

import datetime
import json
import os
import shutil
import subprocess
import zipfile
from pathlib import Path

import openpyxl
import pytest

ROOT = Path(__file__).resolve().parents[3]
BOOK = ROOT / "example-repo"


@pytest.fixture
def run(tmp_path):
    """Runs a verb in a clone of the example book, as one who may write there."""
    book = tmp_path / "book"
    environment = {"PATH": os.environ["PATH"], "HOME": str(tmp_path), "UNDERLIT_CLOCK": "2026-11-28T09:00:00Z"}
    shutil.copytree(BOOK, book)
    # The example is a folder of files here: a book to write in is a repository.
    git = ["git", "-C", str(book), "-c", "user.name=t", "-c", "user.email=t@example.invalid"]
    for words in [["init", "-q", "-b", "main"], ["add", "-A"], ["commit", "-qm", "the example"]]:
        subprocess.run([*git, *words], check=True, capture_output=True, env=environment)

    def verb(*words, code=0):
        command = [os.environ["UNDERLIT"], "--book", str(book), "--me", "mara", "--dry-run", *words]
        command += ["--json"] if code == 0 else []
        done = subprocess.run(command, capture_output=True, text=True, env=environment, cwd=tmp_path)
        assert done.returncode == code, done.stdout + done.stderr
        return json.loads(done.stdout) if code == 0 else done.stdout + done.stderr

    return verb


def jobs():
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "Running"
    sheet["B2"] = "Open jobs of an invented shop"
    for row in [
        ["", "Job no", "Project", "Client", "Due date", "Remarks"],
        ["", 2041, "Café Müller: bar", "Tove Hask", datetime.date(2027, 5, 6), "lit from the long edges"],
        [],
        ["", "2042", "Spa wall", "tove", datetime.datetime(2028, 2, 29, 7, 30), None],
    ]:
        sheet.append(row)
    # Worked out by a formula, with no value kept: a program that works nothing out finds nothing there.
    sheet["G3"] = "Sum"
    sheet["G4"] = "=1+1"
    book.create_sheet("Empty")
    hidden = book.create_sheet("Prices")
    hidden["A1"], hidden["B1"] = "secret", "price"
    hidden.sheet_state = "hidden"
    return book


@pytest.mark.parametrize("from_1904", [False, True])
def test_running_jobs_with_dates_numbers_and_other_sheets(run, tmp_path, from_1904):
    book = jobs()
    if from_1904:
        book.epoch = openpyxl.utils.datetime.CALENDAR_MAC_1904
    book.save(tmp_path / "running.xlsx")
    found = run("import", "running.xlsx", "--column", "title=Project")
    told = [(p["id"], p["title"], p["client"], p["rep"], p["install_date"]) for p in found["projects"]]
    assert told == [
        ("2041", "Café Müller: bar", "tove", "mara", "2027-05-06"),
        ("2042", "Spa wall", "tove", "mara", "2028-02-29"),
    ]
    assert found["columns_not_read"] == ["Sum"]


def test_a_sheet_is_named_where_more_than_one_has_something(run, tmp_path):
    book = jobs()
    other = book["Empty"]
    other.append(["mark", "size", "stone"])
    other.append(["V-1", "900x450mm", "honey"])
    other.append(["V-1", "900x450mm", "honey"])
    book.save(tmp_path / "two.xlsx")
    said = run("import", "two.xlsx", code=3)
    assert "Running, Empty" in said and "Prices" not in said
    assert "no sheet" in run("import", "two.xlsx", "--sheet", "Prices", code=3)
    panels = run("panel", "import", "quay-bar", "two.xlsx", "--sheet", "empty")["panels"]
    assert [(p["id"], p["quantity"], p["width_mm"], p["lines"]) for p in panels] == [("v-1", 2, 900, [2, 3])]


def test_what_is_wrong_in_a_workbook_is_said_with_its_row(run, tmp_path):
    book = jobs()
    book["Running"]["D4"] = "#REF!"
    book["Running"]["D4"].data_type = "e"
    book.save(tmp_path / "error.xlsx")
    said = run("import", "error.xlsx", "--column", "title=Project", code=3)
    assert "#REF!" in said and "error.xlsx:4" in said


def test_a_lone_cell_far_out_and_a_sheet_that_unpacks_to_too_much(run, tmp_path):
    """A file of a few kilobytes costs no gigabytes."""
    book = jobs()
    book["Running"]["XFD1048576"] = "lone"
    book.save(tmp_path / "far.xlsx")
    assert "more than 200 columns" in run("import", "far.xlsx", code=3)
    jobs().save(tmp_path / "small.xlsx")
    with zipfile.ZipFile(tmp_path / "small.xlsx") as small, zipfile.ZipFile(
        tmp_path / "bomb.xlsx", "w", zipfile.ZIP_DEFLATED
    ) as bomb:
        for name in small.namelist():
            filler = b" " * (300 << 20) if name.endswith("sheet1.xml") else b""
            bomb.writestr(name, small.read(name) + filler)
    assert (tmp_path / "bomb.xlsx").stat().st_size < 1 << 20
    assert "256 MiB" in run("import", "bomb.xlsx", code=3)
