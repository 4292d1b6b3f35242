"""The page on which stone and bare panel are picked in a photo, in Debian's Chromium, driven over two pipes.

The photo is drawn here with Pillow, so that where stone and panel are is known. Accessibility is judged by axe-core (WCAG
2.2 A and AA). None of them shares code with underlit.
"""

import json
import math
import os
import random
import re
import shlex
import shutil
import subprocess
from pathlib import Path

import pytest
from chromium import Page
from PIL import Image

ROOT = Path(__file__).resolve().parents[3]
AXE = ROOT / "target" / "outside-node" / "node_modules" / "axe-core" / "axe.min.js"
STONE, BARE = (60, 80, 620, 500), (760, 80, 220, 500)
JUDGE = """axe.run(document, { runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'] })
    .then(found => found.violations.map(v => [v.id, v.nodes.map(n => n.target.join(' ') + ': ' + n.failureSummary)]))"""


def encoded(light):
    """IEC 61966-2-1."""
    return round(255 * (12.92 * light if light <= 0.0031308 else 1.055 * light ** (1 / 2.4) - 0.055))


def photo(path):
    chance = random.Random(3)
    picture = Image.new("RGB", (1040, 660))
    pixels = picture.load()
    for y in range(660):
        for x in range(1040):
            def inside(place, x=x, y=y):
                return place[0] <= x < place[0] + place[2] and place[1] <= y < place[1] + place[3]

            light = (0.001, 0.001, 0.001)
            if inside(STONE):
                vein = 0.5 if math.sin(x / 31 + 2 * math.sin(y / 57)) > 0.85 else 1
                light = (0.22 * vein, 0.13 * vein, 0.045 * vein)
            elif inside(BARE):
                light = (0.76, 0.72, 0.62)
            pixels[x, y] = tuple(min(253, max(0, encoded(v) + chance.randint(-2, 2))) for v in light)
    picture.save(path)


class Made:
    def __init__(self, folder):
        self.folder = folder
        shutil.copytree(ROOT / "example-repo", folder / "book")
        subprocess.run(["git", "init", "-q", "-b", "main"], cwd=folder / "book", check=True)
        photo(folder / "it's honey.png")

    def run(self, *words, code=0):
        env = {"HOME": str(self.folder), "PATH": f"{Path(os.environ['UNDERLIT']).parent}:{os.environ['PATH']}",
               "UNDERLIT_CLOCK": "2026-11-28T09:00:00Z"}
        done = subprocess.run(words, cwd=self.folder, env=env, capture_output=True, text=True)
        assert done.returncode == code, done.stdout + done.stderr
        return done.stdout

    def pick(self, *more, **options):
        return self.run("underlit", "--book", "book", "swatch", "measure", "quay-bar", "honey", "shot", "--pick",
                        "it's honey.png", "--page", "pick.html", *more, **options)


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    return Made(tmp_path_factory.mktemp("pick"))


@pytest.fixture
def page(tmp_path):
    page = Page(tmp_path)
    yield page
    page.close()


def places(command):
    words = shlex.split(command)
    return [[int(n) for n in words[words.index(option) + 1].split(",")] for option in ("--stone", "--bare")]


def within(place, truth):
    return all(truth[n] <= place[n] and place[n] + place[n + 2] <= truth[n] + truth[n + 2] for n in (0, 1))


def command(page):
    return page.js("document.getElementById('command').value")


def sound(page):
    assert page.requests() == []
    assert page.complaints() == []
    page.js(AXE.read_text(encoding="utf-8") + ";0")
    assert page.js(JUDGE) == []


def test_a_known_length_goes_with_the_command(made, page):
    """By its figures and drawn in the photo; the command keeps it with the measurement."""
    made.pick("--panel-light", "LED-B3")
    page.open(made.folder / "pick.html", width=1280, height=844)
    sound(page)
    assert "--scale" not in command(page)
    page.js("""for (const [end, n] of [["x", 100], ["y", 90], ["to-x", 500], ["to-y", 90], ["mm", 80]]) {
        const input = document.getElementById("mark-" + end);
        input.value = n;
        input.dispatchEvent(new Event("change"));
        input.dispatchEvent(new Event("input"));
    };0""")
    assert '--scale "100,90 500,90" --scale-length 80mm' in command(page)
    answer = json.loads(made.run(*shlex.split(command(page)), "--me", "mara", "--dry-run", "--json"))
    kept = answer["measurement"]["photo"]
    assert (kept["scale_mark"], kept["scale_mm"]) == ("100,90 500,90", 80)
    page.js("""(() => {
        document.querySelector("input[value=mark]").click();
        const box = document.getElementById("photo").getBoundingClientRect();
        const place = (x, y) => ({ clientX: box.left + box.width * x, clientY: box.top + box.height * y, bubbles: true, pointerId: 1 });
        document.getElementById("photo").setPointerCapture = () => {};
        for (const [kind, x, y] of [["down", 0.25, 0.5], ["move", 0.6, 0.5], ["move", 0.75, 0.5], ["up", 0.75, 0.5]])
            document.getElementById("photo").dispatchEvent(new PointerEvent("pointer" + kind, place(x, y)));
        return 0; })()""")
    assert '--scale "260,330 780,330" --scale-length 80mm' in command(page)
    sound(page)


def press(page, key, shift=False):
    codes = {"ArrowUp": 38, "ArrowDown": 40, "ArrowLeft": 37, "ArrowRight": 39, "Tab": 9}
    typed = {"key": key, "code": key, "windowsVirtualKeyCode": codes[key], "modifiers": 8 if shift else 0}
    page.call("Input.dispatchKeyEvent", type="keyDown", **typed)
    page.call("Input.dispatchKeyEvent", type="keyUp", **typed)


def test_what_is_found_is_where_it_is_and_the_command_runs(made):
    said = made.pick("--panel-light", "LED-B3")
    assert "how sure: clear." in said, said
    line = next(line.strip() for line in said.splitlines() if line.strip().startswith("underlit "))
    stone, bare = places(line)
    assert within(stone, STONE) and within(bare, BARE), line
    # The book has no key here, so that the measurement is judged and not kept.
    answer = json.loads(made.run(*shlex.split(line), "--me", "mara", "--dry-run", "--json"))
    # By the photo as it was drawn: 0.22/0.76 red, 0.13/0.72 green, 0.045/0.62 blue, with darker veins.
    assert 0.1 < answer["measurement"]["found"]["luminous"] < 0.25


@pytest.mark.parametrize("width", [390, 1280])
def test_by_keyboard_alone(made, page, width, tmp_path):
    made.pick()
    page.open(made.folder / "pick.html", width=width, height=844)
    before = places(command(page))
    for _ in range(3):
        press(page, "Tab")
        if page.js("document.activeElement.id") == "stone":
            break
    assert page.js("document.activeElement.id") == "stone"
    press(page, "ArrowRight")
    press(page, "ArrowDown")
    press(page, "ArrowLeft", shift=True)
    # A step is a hundredth of the longer side.
    stone, bare = places(command(page))
    assert (stone, bare) == ([before[0][0] + 10, before[0][1] + 10, before[0][2] - 10, before[0][3]], before[1])
    press(page, "Tab")
    press(page, "ArrowUp", shift=True)
    assert places(command(page))[1] == [*before[1][:3], before[1][3] - 10]
    assert page.js("document.getElementById('said').textContent").startswith("Say the colour temperature")
    while page.js("document.activeElement.id") != "kelvin":
        press(page, "Tab")
    page.type("4000")
    assert command(page).endswith("--panel-cct 4000")
    press(page, "Tab")
    press(page, "Tab")
    assert page.js("document.activeElement.id") == "copy"
    page.key("Enter")
    assert page.js("new Promise(done => setTimeout(() => done(said.textContent), 300))") == "Copied."
    page.picture(tmp_path / "pick.png")
    sound(page)
    words = shlex.split(command(page))
    assert words[words.index("--photo") + 1] == "it's honey.png" and words[:3] == ["underlit", "--book", "book"]
    made.run(*words, "--me", "mara", "--dry-run")


def test_by_mouse_and_in_the_dark(made, page):
    made.pick("--panel-cct", "4000")
    page.open(made.folder / "pick.html", dark=True)
    box = page.js("(() => { const b = photo.getBoundingClientRect(); return [b.left, b.top, b.width, b.height] })()")

    def at(x, y):
        return {"x": box[0] + x / 1040 * box[2], "y": box[1] + y / 660 * box[3]}

    page.js("document.querySelector('input[value=bare]').click()")
    for kind, place in [("mousePressed", (800, 120)), ("mouseMoved", (850, 300)), ("mouseMoved", (940, 520)),
                        ("mouseReleased", (940, 520))]:
        page.call("Input.dispatchMouseEvent", type=kind, button="left", buttons=1, clickCount=1, **at(*place))
    bare = places(command(page))[1]
    assert all(abs(n - m) <= 2 for n, m in zip(bare, [800, 120, 140, 400], strict=True)), bare
    sound(page)


def test_by_finger(made, page):
    made.pick("--panel-cct", "4000")
    page.open(made.folder / "pick.html", width=390, height=844)
    page.call("Emulation.setTouchEmulationEnabled", enabled=True)
    page.js("photo.scrollIntoView()")
    box = page.js("(() => { const b = photo.getBoundingClientRect(); return [b.left, b.top, b.width, b.height] })()")
    for kind, place in [("touchStart", (100, 120)), ("touchMove", (300, 300)), ("touchMove", (500, 480)), ("touchEnd", None)]:
        points = [{"x": box[0] + place[0] / 1040 * box[2], "y": box[1] + place[1] / 660 * box[3]}] if place else []
        page.call("Input.dispatchTouchEvent", type=kind, touchPoints=points)
    stone = places(command(page))[0]
    assert all(abs(n - m) <= 5 for n, m in zip(stone, [100, 120, 400, 360], strict=True)), stone


def test_without_script_it_still_says_what_was_found(made, page):
    made.pick("--panel-cct", "4000")
    page.call("Emulation.setScriptExecutionDisabled", value=True)
    page.open(made.folder / "pick.html")
    page.call("Emulation.setScriptExecutionDisabled", value=False)
    assert within(places(command(page))[0], STONE)
    text = (made.folder / "pick.html").read_text(encoding="utf-8")
    policy = re.search(r'Content-Security-Policy" content="([^"]+)"', text)[1].replace("&#39;", "'")
    assert "default-src 'none'" in policy and "img-src data:" in policy and "http" not in policy


def test_a_heic_photo_is_told_with_the_way_out(made):
    # The file type box of a photo off a telephone, by ISO/IEC 14496-12 and 23008-12.
    heic = b"\0\0\0\x24ftypheic\0\0\0\0mif1MiHEMiPrmiafheictmap\0\0\x0e\x2cmeta" + bytes(400)
    (made.folder / "photo.heic").write_bytes(heic)
    for option in (["--pick", "photo.heic"], ["--photo", "photo.heic", "--stone", "1,1,50,50", "--bare", "60,1,50,50",
                                               "--panel-cct", "4000"]):
        said = subprocess.run(
            ["underlit", "--book", "book", "swatch", "measure", "quay-bar", "honey", "shot", "--me", "mara", *option],
            cwd=made.folder, capture_output=True, text=True,
            env={"HOME": str(made.folder), "PATH": f"{Path(os.environ['UNDERLIT']).parent}:{os.environ['PATH']}"},
        )
        assert said.returncode in (2, 3) and "[picture-heic]" in said.stderr, said.stderr
        assert "most compatible" in said.stderr and "heif-convert" in said.stderr
