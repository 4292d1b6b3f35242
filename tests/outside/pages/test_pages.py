"""The pages of a book in a real browser, and held to HTML by a parser of other make.

The book is the invented one of `example-repo`, and the same with hostile names. Chromium is Debian's own; accessibility is
judged by axe-core (WCAG 2.2 A and AA); validity by html5lib, which parses as the HTML Standard says and names each parse
error; the calendar by icalendar. None of them shares code with underlit.
"""

import json
import os
import shutil
import subprocess
import sys
from datetime import date
from pathlib import Path

import html5lib
import icalendar
import pytest

sys.path.append(str(Path(__file__).resolve().parents[1] / "packet"))
from chromium import Page  # noqa: E402

ROOT = Path(__file__).resolve().parents[3]
UNDERLIT = os.environ["UNDERLIT"]
AXE = ROOT / "target" / "outside-node" / "node_modules" / "axe-core" / "axe.min.js"
EVIL = "</title><script>alert(1)</script>\"'`<img src=x onerror=alert(2)> " + "Langesunddunkleswort" * 6
KINDS = [
    "index.html", "released.html", "calendar.html", "load.html", "people.html", "done.html", "people/runa.html",
    "people/mara.html", "jobs/quay-bar.html", "jobs/ferry-desk.html", "jobs/bath-niche.html",
]


def made(folder, change=None):
    """The pages of a copy of the invented book, changed first."""
    book = folder / "book"
    shutil.copytree(ROOT / "example-repo", book)
    if change:
        change(book)
    env = {"HOME": str(folder), "PATH": os.environ["PATH"], "UNDERLIT_CLOCK": "2026-11-28T09:00:00Z"}
    done = subprocess.run([UNDERLIT, "pages", folder / "pages", "--book", book], env=env, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr
    return folder / "pages"


def hostile(book):
    for record, fields in [
        ("projects/quay-bar/project.json", ["title", "note"]),
        ("projects/quay-bar/panels/front.json", ["title", "note"]),
        ("projects/bath-niche/project.json", ["title"]),
    ]:
        value = json.loads((book / record).read_text())
        value.update({field: EVIL for field in fields})
        (book / record).write_text(json.dumps(value, indent=2))


@pytest.fixture(scope="session")
def pages(tmp_path_factory):
    return made(tmp_path_factory.mktemp("pages"))


@pytest.fixture(scope="session")
def evil(tmp_path_factory):
    return made(tmp_path_factory.mktemp("evil"), hostile)


@pytest.fixture(scope="module")
def browser(tmp_path_factory):
    page = Page(tmp_path_factory.mktemp("downloads"))
    yield page
    page.close()


def quiet(page):
    assert page.requests() == []
    assert page.complaints() == []


JUDGE = """axe.run(document, { runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'] })
    .then(found => found.violations.map(v => [v.id, v.nodes.map(n => n.target.join(' ') + ': ' + n.failureSummary)]))"""


@pytest.mark.parametrize("width,dark", [(390, False), (1280, True)])
@pytest.mark.parametrize("kind", KINDS)
def test_axe_finds_nothing_and_nothing_leaves_the_page(pages, browser, kind, width, dark):
    browser.open(pages / kind, width=width, dark=dark)
    quiet(browser)
    browser.js("document.querySelectorAll('details').forEach(d => { d.open = true })")
    assert browser.js("document.documentElement.scrollWidth") <= width
    small = browser.js("""[...document.querySelectorAll('button, summary, select, nav a')]
        .filter(e => e.offsetHeight && e.offsetHeight < 44).map(e => e.outerHTML.slice(0, 80))""")
    assert small == [], "targets of 44 px"
    browser.js(AXE.read_text() + "; 0")
    assert browser.js(JUDGE) == []


def test_every_page_is_valid_html_and_every_drawing_is_xml(pages, evil):
    from xml.etree import ElementTree

    for folder in (pages, evil):
        files = sorted(folder.rglob("*.html"))
        assert len(files) > 10
        for file in files:
            parser = html5lib.HTMLParser(strict=False)
            tree = parser.parse(file.read_text(), scripting=False)
            assert parser.errors == [], (file.name, parser.errors[:3])
            named = {"h": "http://www.w3.org/1999/xhtml"}
            assert len(tree.findall(".//h:title", named)) == 1
            assert tree.findall(".//h:script", named) == [] and tree.findall(".//h:base", named) == []
            on = [key for element in tree.iter() for key in element.attrib if key.startswith("on") or key == "style"]
            assert on == [], file.name
        for file in folder.rglob("*.svg"):
            ElementTree.parse(file)


def test_hostile_names_are_shown_and_do_nothing(evil, browser):
    for kind in ["index.html", "jobs/quay-bar.html", "people/bram.html", "calendar.html"]:
        for width in (390, 1280):
            browser.open(evil / kind, width=width)
            quiet(browser)
            assert browser.js("document.body.textContent").count("<script>alert(1)</script>") > 0, kind
            assert browser.js("document.documentElement.scrollWidth") <= width, kind
            assert browser.js("[...document.images].every(i => !i.src.endsWith('/x'))")


def test_pictures_are_shown_and_drawings_open_alone(pages, browser):
    browser.open(pages / "jobs/quay-bar.html")
    browser.js("document.querySelectorAll('img').forEach(i => { i.loading = 'eager' })")
    broken = """(async () => { await Promise.all([...document.images].map(i => i.decode().catch(() => 0)));
        return [...document.images].filter(i => !i.naturalWidth).map(i => i.src) })()"""
    assert browser.js("document.images.length") >= 4
    assert browser.js(broken) == []
    shape = browser.js("[...document.images].map(i => i.naturalWidth / i.naturalHeight / (i.width / i.height))")
    assert all(0.9 < ratio < 1.6 for ratio in shape), shape
    for drawing in ["front-1.svg", "front-view.svg", "circuit-1.svg"]:
        browser.open(pages / "jobs/quay-bar" / drawing)
        quiet(browser)
        assert browser.js("document.documentElement.tagName") == "svg"
        assert browser.js("document.querySelectorAll('text').length") > 0


def shown(browser):
    return browser.js("""[...document.querySelectorAll('.job')].filter(e => e.offsetHeight)
        .map(e => e.querySelector('a').getAttribute('href'))""")


def test_filters_work_where_no_script_runs(pages, browser):
    browser.call("Emulation.setScriptExecutionDisabled", value=True)
    try:
        browser.open(pages / "index.html")
        every = ["jobs/quay-bar.html", "jobs/bath-niche.html", "jobs/ferry-desk.html"]
        assert shown(browser) == every, "the late first, then the refused, then those that wait"

        def choose(select, value):
            """As a person does with the keyboard, which sends no event to any script."""
            browser.js(f"document.getElementById('{select}').value = {json.dumps(value)}")

        for select, value, left in [
            ("who", "runa", [every[2]]), ("who", "mara", [every[1]]), ("at", "released", [every[0]]),
            ("how", "late", [every[0]]), ("how", "build", [every[0]]), ("how", "in-time", every[1:]),
            ("how", "hold", []), ("who", "", every),
        ]:
            browser.js("document.querySelector('form').reset()")
            choose(select, value)
            assert shown(browser) == left, (select, value)
            groups = browser.js("[...document.querySelectorAll('.group')].filter(e => e.offsetHeight).length")
            assert groups == len(left), "a group of which none is left is hidden"
        choose("who", "runa")
        choose("how", "late")
        assert shown(browser) == [], "two choices hold together"
        browser.js("document.querySelector('form').reset()")
        assert shown(browser) == every
    finally:
        browser.call("Emulation.setScriptExecutionDisabled", value=False)


def test_a_keyboard_reaches_everything(pages, browser):
    browser.open(pages / "jobs/ferry-desk.html", width=390)
    reached = set()
    for _ in range(200):
        browser.key("Tab")
        reached.add(browser.js("document.activeElement.outerHTML.slice(0, 60)"))
        if browser.js("document.activeElement === document.body"):
            break
        outline = browser.js("getComputedStyle(document.activeElement).outlineStyle")
        assert outline != "none", "focus is seen"
    wide = browser.js("document.querySelectorAll('a, summary, .wide').length - document.querySelectorAll('details:not([open]) :is(a, .wide, details summary)').length")
    assert len(reached) > wide * 0.6


def test_on_paper_what_is_for_a_screen_is_left_out(pages, browser):
    browser.open(pages / "index.html", media="print")
    seen = browser.js("[...document.querySelectorAll('nav, form, .skip')].filter(e => e.offsetHeight).length")
    assert seen == 0 and len(shown(browser)) == 3


def test_the_calendar_is_read_by_another_program(pages):
    events = icalendar.Calendar.from_ical((pages / "calendar.ics").read_bytes()).walk("VEVENT")
    days = {str(event["SUMMARY"]): event["DTSTART"].dt for event in events}
    assert days["Bar front, quay bar: install"] == date(2026, 12, 14)
    assert len({str(event["UID"]) for event in events}) == len(events) > 10
