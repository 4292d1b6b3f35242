"""Drawing sheets as poppler and Python's own XML reader see them.

`cargo test --test sheets for_outside` writes the sheets and `sheets.json`, the list of what they hold. Nothing here
is compared with underlit's own reading of its files: sizes and texts come from poppler (`pdfinfo`, `pdffonts`,
`pdftotext`, `pdftoppm`; package poppler-utils), the outline's extent from the SVG's path data.
"""

import json
import os
import re
import subprocess
import xml.etree.ElementTree as ET
from collections import Counter
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[3]
TARGET = Path(os.environ.get("CARGO_TARGET_DIR", ROOT / "target"))
FOLDER = TARGET / "tmp" / "sheets"
INDEX = FOLDER / "sheets.json"
SVG = "{http://www.w3.org/2000/svg}"

assert INDEX.exists(), f"{INDEX} is missing: run `cargo test --test sheets for_outside` first"
SHEETS = json.loads(INDEX.read_text(encoding="utf-8"))


def run(*command):
    done = subprocess.run(command, check=True, capture_output=True, env={**os.environ, "LC_ALL": "C.UTF-8"})
    return done.stdout.decode("utf-8")


@pytest.fixture(params=SHEETS, ids=lambda sheet: sheet["name"])
def sheet(request):
    return request.param


def pdf(sheet):
    return str(FOLDER / f"{sheet['name']}.pdf")


def test_page_size_count_and_title(sheet):
    # ISO 216 and ASME Y14.1 sizes in points: 72 to the inch of 25.4 mm (ISO 32000-1, 8.3.2.3).
    pages = len(sheet["texts"])
    info = run("pdfinfo", "-f", "1", "-l", str(pages), pdf(sheet))
    sizes = re.findall(r"size:\s+([\d.]+) x ([\d.]+) pts", info)
    assert int(re.search(r"Pages:\s+(\d+)", info)[1]) == pages == len(sizes)
    for width, height in sizes:
        assert float(width) == pytest.approx(sheet["width_mm"] * 72 / 25.4, abs=0.01)
        assert float(height) == pytest.approx(sheet["height_mm"] * 72 / 25.4, abs=0.01)
    assert re.search(r"Title:\s+(.*)", info)[1] == sheet["title"]
    assert "CreationDate" not in info and "ModDate" not in info


def test_every_font_is_embedded_with_its_letters(sheet):
    rows = run("pdffonts", pdf(sheet)).splitlines()[2:]
    assert rows
    for row in rows:
        assert re.match(r"[A-Z]{6}\+NotoSans", row), row
        # Columns: name, type, encoding, emb, sub, uni, object.
        assert re.search(r"\byes yes yes\b", row), row


def test_every_letter_can_be_searched(sheet):
    for number, texts in enumerate(sheet["texts"], start=1):
        text = run("pdftotext", "-raw", "-f", str(number), "-l", str(number), pdf(sheet), "-")
        letters = Counter(c for c in text if not c.isspace())
        expected = Counter(c for line in texts for c in line if not c.isspace())
        assert letters == expected, f"page {number}: {letters - expected} too many, {expected - letters} missing"


def test_whole_lines_are_found(sheet):
    text = " ".join(run("pdftotext", "-raw", pdf(sheet), "-").split())
    # Lines of the title block and the tables; lines that run upward and neighbours in a row may come out in parts.
    for line in ["Lantern Stone Works", "Sign-off: mark one box, sign and date", "Approved as noted"]:
        assert line in text, line
    assert sheet["title"].split(" – ")[0] in text


def numbers(data):
    return [float(n) for n in re.findall(r"-?\d+(?:\.\d+)?", data)]


def test_the_outline_is_to_scale(sheet):
    # A polygon's corners are its path's numbers; curved outlines are left to the Rust test, which flattens them.
    root = ET.parse(FOLDER / f"{sheet['name']}.svg").getroot()
    assert root.get("width") == f"{sheet['width_mm']:g}mm"
    assert root.get("viewBox") == f"0 0 {sheet['width_mm']:g} {sheet['height_mm']:g}"
    path = next(p for p in root.iter(f"{SVG}path") if p.get("id") == "panel-outline").get("d")
    if "A" in path or "C" in path:
        # The width still shows in the arcs' ends or radii; only the kinds are checked here.
        assert path.startswith("M") and path.endswith("Z")
        return
    values = numbers(path)
    xs, ys = values[0::2], values[1::2]
    # Four decimals on paper: half of the last one at each end.
    for extent, true in [(max(xs) - min(xs), sheet["panel_mm"][0]), (max(ys) - min(ys), sheet["panel_mm"][1])]:
        assert extent * sheet["reduction"] == pytest.approx(true, abs=1e-4 * sheet["reduction"])


def dark(picture):
    """Dark pixels of a grey picture (netpbm P5) as a set of cells of a coarse grid."""
    kind, size, depth, pixels = picture.split(b"\n", 3)
    assert kind == b"P5" and depth == b"255"
    width, height = map(int, size.split())
    cells = set()
    for y in range(height):
        row = pixels[y * width : (y + 1) * width]
        cells.update((x // 4, y // 4) for x, value in enumerate(row) if value < 96)
    return cells


def test_the_print_shows_ink_only_inside_the_border(sheet):
    # ISO 5457 (from memory): 20 mm at the left edge, 10 mm elsewhere; centring marks and the grid reference may
    # stand up to 5 mm outside.
    for number in range(1, len(sheet["texts"]) + 1):
        dots = 50
        command = ["pdftoppm", "-r", str(dots), "-gray", "-f", str(number), "-l", str(number), pdf(sheet)]
        picture = subprocess.run(command, check=True, capture_output=True).stdout
        cells = dark(picture)
        assert len(cells) > 500
        cell_mm = 4 * 25.4 / dots
        assert min(x for x, _ in cells) * cell_mm >= 15 - cell_mm - 0.4
        assert min(y for _, y in cells) * cell_mm >= 5 - cell_mm - 0.4
        assert max(x for x, _ in cells) * cell_mm <= sheet["width_mm"] - 5 + 0.4
        assert max(y for _, y in cells) * cell_mm <= sheet["height_mm"] - 5 + 0.4
