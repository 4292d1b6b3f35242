"""Labels, order sheets and spreadsheet files of the example book, read with nothing of underlit's own.

Pages are drawn by poppler (`pdftoppm`), their texts by `pdftotext`, QR codes are read by zxing-cpp, and the spreadsheet
files by Python's csv.
"""

import csv
import json
import os
import re
import subprocess
from pathlib import Path

import pytest
import zxingcpp
from PIL import Image

ROOT = Path(__file__).resolve().parents[3]
BOOK = ROOT / "example-repo"
PAGES = "https://pages.example/harbour"


def run(folder, *arguments, codes=(0,)):
    environment = {"PATH": os.environ["PATH"], "HOME": "/nonexistent", "UNDERLIT_CLOCK": "2026-11-28T09:00:00Z"}
    command = [os.environ["UNDERLIT"], "--book", str(BOOK), *map(str, arguments), "--into", str(folder)]
    done = subprocess.run(command, capture_output=True, text=True, env=environment)
    assert done.returncode in codes, done.stdout + done.stderr
    return done


def pages(pdf, dots=203):
    """Each page as a picture, at the 8 dots a millimetre of a common label printer, and its text."""
    subprocess.run(["pdftoppm", "-r", str(dots), "-png", pdf, pdf.with_suffix("")], check=True)
    text = subprocess.run(["pdftotext", "-layout", pdf, "-"], capture_output=True, text=True, check=True).stdout
    pictures = sorted(pdf.parent.glob(pdf.stem + "-*.png"))
    return list(zip(pictures, text.rstrip("\f").split("\f"), strict=True))


def code(picture):
    found = zxingcpp.read_barcodes(Image.open(picture))
    assert [f.format for f in found] == [zxingcpp.BarcodeFormat.QRCode], found
    return found[0].text


def test_each_test_panel_has_a_label_that_tells_it_from_the_others(tmp_path):
    run(tmp_path, "label", "quay-bar", "--request", "first", "--address", PAGES + "/", "--volts", "24")
    drawn = pages(tmp_path / "quay-bar-first-label.pdf")
    # By the record: static white, 3000 and 4000 K, diffused and clear, one of each.
    kinds = [f"{k} K, {face} face" for k in (3000, 4000) for face in ("diffused", "clear")]
    assert len(drawn) == len(kinds)
    for (picture, text), (number, kind) in zip(drawn, enumerate(kinds, 1), strict=True):
        assert code(picture) == f"{PAGES}/jobs/quay-bar.html"
        for said in [kind, f"{number} of 4", "Honey onyx", "24 V direct current", "300 × 200 mm", "Tove Hask"]:
            assert said in text, text
    info = subprocess.run(["pdfinfo", tmp_path / "quay-bar-first-label.pdf"], capture_output=True, text=True).stdout
    width, height = map(float, re.search(r"size:\s+([\d.]+) x ([\d.]+) pts", info).groups())
    assert (width, height) == pytest.approx((100 * 72 / 25.4, 70 * 72 / 25.4), abs=0.01)


@pytest.mark.parametrize("size", ["75x50mm", "100x70mm", "4x3in", "50x75mm"])
def test_a_code_without_an_address_says_what_it_is_on_every_size(tmp_path, size):
    run(tmp_path, "label", "ferry-desk", "--request", "first", "--size", size)
    for picture, _ in pages(tmp_path / "ferry-desk-first-label.pdf"):
        assert code(picture) == "underlit ternhallow: job ferry-desk, test panel first"


def test_a_dirty_code_is_still_read(tmp_path):
    run(tmp_path, "label", "quay-bar", "--panel", "front", "--address", PAGES)
    picture, _ = pages(tmp_path / "quay-bar-front-service-card.pdf", 300)[0]
    where = zxingcpp.read_barcodes(Image.open(picture))[0].position
    left, top, right = where.top_left.x, where.top_left.y, where.bottom_right.x
    side = right - left
    with Image.open(picture).convert("RGB") as dirty:
        # A blot of a twelfth of the code beside its middle.
        blot = (left + side // 3, top + side * 2 // 5, left + side * 5 // 8, top + side * 7 // 10)
        dirty.paste((90, 60, 30), blot)
        dirty.save(tmp_path / "dirty.png")
    assert code(tmp_path / "dirty.png") == f"{PAGES}/jobs/quay-bar.html"


def test_a_service_card_says_what_serving_takes_and_what_was_built_to(tmp_path):
    run(tmp_path, "label", "quay-bar", "--panel", "front")
    [(_, text)] = pages(tmp_path / "quay-bar-front-service-card.pdf")
    run(tmp_path / "pack", "pack", "quay-bar")
    record = json.loads((tmp_path / "pack" / "pack.json").read_text(encoding="utf-8"))
    assert record["released"] and "NOT RELEASED" not in text
    flat = " ".join(text.split())
    assert re.search(r"Built to ([0-9a-f]+), released", flat)[1] == record["sha256"][:12]
    for label, value in record["words"]["panels"]["front"]["service"]["lines"]:
        if label != "Project":
            assert value in flat, (label, value)
    for sentence in record["words"]["panels"]["front"]["service"]["steps"]:
        assert sentence.split()[0] in flat
    run(tmp_path, "label", "ferry-desk", "--panel", "top")
    released = json.loads(subprocess.run(
        [os.environ["UNDERLIT"], "--book", BOOK, "status", "ferry-desk", "--json"], capture_output=True, text=True,
        env={"PATH": os.environ["PATH"], "HOME": "/nonexistent", "UNDERLIT_CLOCK": "2026-11-28T09:00:00Z"},
    ).stdout)["stage"] in ("released", "built", "handed-over")
    [(_, text)] = pages(tmp_path / "ferry-desk-top-service-card.pdf")
    assert ("NOT RELEASED" in text) != released


def test_the_order_sheet_names_what_to_make_and_where_it_goes(tmp_path):
    run(tmp_path, "request", "sheet", "quay-bar", "first", "--address", PAGES)
    [(picture, text)] = pages(tmp_path / "quay-bar-first-order.pdf")
    assert code(picture) == f"{PAGES}/index.html"
    flat = " ".join(text.split())
    for said in ["quay-bar / first", "4 panels, one of each: 3000 K, diffused face", "4 Long Quay, Ternhallow", "lit and"]:
        assert said in flat, flat
    assert "nothing-to-order" in run(tmp_path, "request", "sheet", codes=(2,)).stderr


@pytest.mark.parametrize("job", ["quay-bar", "ferry-desk"])
def test_spreadsheet_files_open_right_and_run_nothing(tmp_path, job):
    run(tmp_path / job, "pack", job)
    files = sorted((tmp_path / job).glob("*.csv"))
    assert [f.name for f in files] == ["bill.csv", "order.csv"]
    for file in files:
        raw = file.read_bytes()
        # The mark by which spreadsheet programs know UTF-8, and the line ends of RFC 4180.
        assert raw.startswith(b"\xef\xbb\xbf") and raw.count(b"\n") == raw.count(b"\r\n")
        rows = list(csv.reader(raw.decode("utf-8-sig").splitlines(), strict=True))
        assert len(rows) > 2 and {len(row) for row in rows} == {len(rows[0])}
        for cell in (cell for row in rows for cell in row if cell[:1] in tuple("=+-@\t\r")):
            float(cell)


def coded_pages(folder, says, caption):
    """Every page of a pack that has a code, and each says the same."""
    drawn = pages(folder / "pack.pdf", 150)
    coded = []
    for at, (picture, text) in enumerate(drawn):
        found = zxingcpp.read_barcodes(Image.open(picture))
        assert len(found) <= 1 and all(f.text == says for f in found), found
        if found:
            coded.append(at)
            assert caption in text
    # On the cover, with each panel and on each service card, which stays at the site when the rest is filed.
    with_code = ["Leave this with the owner", "Mass and drawing"]
    wanted = [[at for at, (_, text) in enumerate(drawn) if words in text] for words in with_code]
    assert all(wanted) and coded == sorted({0, *sum(wanted, [])})


def test_a_pack_says_its_job_on_its_cover_its_panels_and_its_service_cards(tmp_path):
    run(tmp_path / "pack", "pack", "quay-bar")
    coded_pages(tmp_path / "pack", "underlit ternhallow: job quay-bar", "says what it is")


def test_a_pack_opens_the_page_of_its_job_where_the_owner_says_where_pages_are(tmp_path):
    """The owner of the played book names the address and seals it; the release stands, since nothing built changed."""
    environment = {"PATH": os.environ["PATH"], "HOME": str(tmp_path)}
    command = [os.environ["UNDERLIT"], "demo", "--keep", str(tmp_path / "demo")]
    subprocess.run(command, check=True, capture_output=True, env=environment)
    owner = tmp_path / "demo" / "mara"
    facts = json.loads((owner / "book" / "book.json").read_text(encoding="utf-8"))
    (owner / "book" / "book.json").write_text(json.dumps({**facts, "pages": PAGES + "/"}), encoding="utf-8")
    at_home = {**environment, "HOME": str(owner)}
    for words in [["roster", "seal"], ["pack", "ferry-desk", "--into", str(tmp_path / "pack")]]:
        subprocess.run([command[0], *words], check=True, capture_output=True, env=at_home, cwd=owner / "book")
    assert json.loads((tmp_path / "pack" / "pack.json").read_text(encoding="utf-8"))["released"]
    coded_pages(tmp_path / "pack", f"{PAGES}/jobs/ferry-desk.html", "opens its page")
