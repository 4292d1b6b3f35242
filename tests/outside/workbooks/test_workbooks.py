"""Workbooks that openpyxl writes, taken in by underlit: each cell as openpyxl reads it back. Old ones of xlwt, and one that
msoffcrypto-tool locked, are told for what they are."""

import datetime
import json
import os
import shutil
import subprocess
from pathlib import Path

import openpyxl
import pytest
import xlwt
from msoffcrypto.format.ooxml import OOXMLFile
from openpyxl.styles import numbers
from openpyxl.utils.datetime import CALENDAR_MAC_1904

ROOT = Path(__file__).resolve().parents[3]
HEADS = ["mark", "width", "height", "quantity", "stone", "note"]


def taken_in(tmp_path, book, *options):
    """What `panel import` would make of a workbook, nothing being written."""
    file = tmp_path / "schedule.xlsx"
    book.save(file)
    environment = {"PATH": os.environ["PATH"], "HOME": str(tmp_path), "UNDERLIT_CLOCK": "2026-11-28T09:00:00Z"}
    folder = tmp_path / "book"
    if not folder.exists():
        shutil.copytree(ROOT / "example-repo", folder)
        git = ["git", "-c", "user.name=x", "-c", "user.email=x@x.invalid", "-C", str(folder)]
        for step in (["init", "-q"], ["add", "-A"], ["commit", "-q", "-m", "all"]):
            subprocess.run(git + step, check=True, env=environment)
    command = [os.environ["UNDERLIT"], "--book", str(folder), "--me", "mara", "panel", "import", "quay-bar", str(file)]
    command += ["--unit", "mm", "--swatch", "honey", "--dry-run", "--json", *options]
    done = subprocess.run(command, capture_output=True, text=True, env=environment)
    assert done.returncode == 0, done.stdout + done.stderr
    return json.loads(done.stdout)["panels"]


def sheet(rows, title="Panels"):
    book = openpyxl.Workbook()
    book.active.title = title
    for row in [HEADS, *rows]:
        book.active.append(row)
    return book


def test_numbers_and_texts_are_those_that_were_written(tmp_path):
    widths = [900, 900.5, 1200.4, 0.1 + 0.2 + 500, 1e3, 1234.125]
    book = sheet([[f"M{n}", width, 450, n + 1, None, f"“{n}” & <{n}>"] for n, width in enumerate(widths)])
    panels = taken_in(tmp_path, book)
    assert [p["width_mm"] for p in panels] == pytest.approx(widths, abs=1e-9)
    assert [p["quantity"] for p in panels] == [n + 1 for n in range(len(widths))]
    assert [p["lines"] for p in panels] == [[n + 2] for n in range(len(widths))]


@pytest.mark.parametrize("since_1904", [False, True])
def test_days_are_the_days_that_were_written(tmp_path, since_1904):
    days = [datetime.date(1904, 3, 1), datetime.date(1999, 12, 31), datetime.date(2027, 3, 15), datetime.date(2096, 2, 29)]
    formats = [numbers.FORMAT_DATE_XLSX14, "dd/mm/yyyy", '[$-407]d. mmmm yyyy', 'yyyy"-"mm\\-dd']
    book = sheet([[f"M{n}", 900, 450, 1, None, None] for n in range(len(days))])
    if since_1904:
        book.epoch = CALENDAR_MAC_1904
    # The marks are the days: each panel is called after the day that its cell shows.
    for n, (day, code) in enumerate(zip(days, formats, strict=True)):
        cell = book.active.cell(row=n + 2, column=1, value=day)
        cell.number_format = code
    panels = taken_in(tmp_path, book)
    assert [p["id"] for p in panels] == [day.isoformat() for day in days]


def test_merged_cells_and_further_sheets(tmp_path):
    book = sheet([["A", 900, 450, 2, "honey", None], ["B", 800, 450, 1, None, None]])
    book.active.merge_cells("E2:E3")
    other = book.create_sheet("Level 2", 0)
    for row in [HEADS, ["Z", 700, 300, 1, "honey", None]]:
        other.append(row)
    assert [p["id"] for p in taken_in(tmp_path, book)] == ["z"]
    panels = taken_in(tmp_path, book, "--sheet", "Panels")
    assert [(p["id"], p["swatch"]) for p in panels] == [("a", "honey"), ("b", "honey")]
    other.sheet_state = "hidden"
    book.active = 1
    assert [p["id"] for p in taken_in(tmp_path, book)] == ["a", "b"]


def test_a_hundred_random_sheets(tmp_path):
    import random

    chance = random.Random(16)
    for _ in range(100):
        rows = []
        for n in range(chance.randint(1, 30)):
            width = chance.choice([chance.randint(100, 3000), round(chance.uniform(100, 3000), chance.randint(1, 3))])
            rows.append([f"M{n}", width, chance.randint(100, 900), chance.randint(1, 1000), None, None])
        panels = taken_in(tmp_path, sheet(rows))
        assert [[p["id"], p["width_mm"], p["height_mm"], p["quantity"]] for p in panels] == [
            [mark.lower(), width, height, count] for mark, width, height, count, *_ in rows
        ]


def told(tmp_path, name, data):
    """What is said of a file that is no workbook."""
    taken_in(tmp_path, sheet([["A", 900, 450, 1, None, None]]))
    (tmp_path / name).write_bytes(data)
    command = [os.environ["UNDERLIT"], "--book", str(tmp_path / "book"), "--me", "mara", "panel", "import", "quay-bar"]
    environment = {"PATH": os.environ["PATH"], "HOME": str(tmp_path), "UNDERLIT_CLOCK": "2026-11-28T09:00:00Z"}
    done = subprocess.run([*command, str(tmp_path / name)], capture_output=True, text=True, env=environment)
    assert done.returncode == 3, done.stdout + done.stderr
    return done.stderr


def test_an_old_workbook_and_one_with_a_password_say_what_they_are(tmp_path):
    old = xlwt.Workbook()
    old.add_sheet("Panels").write(0, 0, "mark")
    old.save(tmp_path / "made.xls")
    data = (tmp_path / "made.xls").read_bytes()
    for name in ("schedule.xls", "schedule.xlsx", "schedule.csv"):
        assert "this is an old binary workbook (.xls)" in told(tmp_path, name, data)
    sheet([["A", 900, 450, 1, None, None]]).save(tmp_path / "plain.xlsx")
    with (tmp_path / "plain.xlsx").open("rb") as plain, (tmp_path / "locked.xlsx").open("wb") as locked:
        OOXMLFile(plain).encrypt("tern", locked)
    said = told(tmp_path, "schedule.xlsx", (tmp_path / "locked.xlsx").read_bytes())
    assert "this workbook has a password" in said and "take its password off" in said
