"""A packet in a real browser: read, answered, signed, saved, and taken in again.

The book, its people and its stone are invented. Chromium is Debian's own; accessibility is judged by axe-core
(`axe-core` in tests/outside/node/package.json, WCAG 2.2 A and AA); signatures by OpenSSH's `ssh-keygen -Y verify` and by
the Python package `cryptography`, neither of which shares code with the page or with underlit.
"""

import base64
import hashlib
import json
import os
import shutil
import struct
import subprocess
from pathlib import Path

import pytest
from chromium import Page
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.asymmetric.utils import encode_dss_signature

ROOT = Path(__file__).resolve().parents[3]
UNDERLIT = os.environ["UNDERLIT"]
AXE = ROOT / "target" / "outside-node" / "node_modules" / "axe-core" / "axe.min.js"
DEMO = ROOT / "src" / "starter" / "demo"
BEGIN = "-----BEGIN SSH SIGNATURE-----"


class Book:
    """A book with one job, at its choice: the client has no key."""

    def __init__(self, home):
        self.home, self.at = home, home / "book"
        (home / ".ssh").mkdir(parents=True)

    def run(self, *words, code=0):
        env = {"HOME": str(self.home), "PATH": os.environ["PATH"], "UNDERLIT_CLOCK": "2026-10-20T09:00:00Z"}
        cwd = self.at if self.at.exists() else self.home
        done = subprocess.run([UNDERLIT, *words], cwd=cwd, env=env, capture_output=True, text=True)
        assert done.returncode == code, (words, done.returncode, done.stdout, done.stderr)
        return done.stdout + done.stderr

    def packet(self, name="packet.html", *more):
        path = self.home / name
        self.run("packet", "ferry-desk", "--into", str(path), *more)
        return path


@pytest.fixture(scope="session")
def made(tmp_path_factory):
    book = Book(tmp_path_factory.mktemp("made"))
    book.run("init", "book", "--id", "ternhallow", "--shop", "Ternhallow Lightworks", "--owner", "mara", "--owner-name",
             "Mara Quill", "--roles", "rep", "--make-key", str(book.home / ".ssh/id_ed25519"), "--no-passphrase")
    subprocess.run(["ssh-keygen", "-q", "-t", "ed25519", "-N", "", "-f", book.home / "runa"], check=True)
    for line in [
        ["roster", "add", "imke", "--name", "Imke Voss", "--role", "client"],
        ["roster", "add", "runa", "--name", "Runa Keel", "--role", "engineer", "--public-key", str(book.home / "runa.pub")],
        ["open", "ferry-desk", "--title", "Reception desk, ferry office", "--client", "imke", "--engineer", "runa", "--site",
         "Ferry office, Ternhallow", "--mains", "230", "--code-region", "iec", "--install-date", "2027-05-03"],
        ["project", "change", "ferry-desk", "--ambient-lx", "150", "--surround-reflectance", "0.5"],
        ["swatch", "add", "ferry-desk", "onyx", "--stone", "Honey onyx", "--material", "onyx", "--tone", "honey",
         "--texture", "banded", "--thickness", "20mm", "--slab-thickness", "20mm"],
        ["panel", "add", "ferry-desk", "top", "--title", "Desk top", "--swatch", "onyx", "--outline",
         str(DEMO / "desk.json"), "--faces", "diffused,clear"],
        ["advance", "ferry-desk"],
        ["request", "ask", "ferry-desk", "first", "--swatch", "onyx", "--light", "tunable-white", "--cct", "2700,4000",
         "--face", "diffused,clear", "--size", "300mmx200mm", "--address", "Ferry office, 3 Harbour Steps"],
        ["request", "received", "ferry-desk", "first"],
        ["trial", "record", "ferry-desk", "neutral", "--swatch", "onyx", "--request", "first", "--cct", "4000", "--face",
         "diffused", "--seen", "the bands glow", "--rating", "5", "--bare-lx", "1240", "--through-lx", "118"],
        ["swatch", "measure", "ferry-desk", "onyx", "lit", "--photo", str(DEMO / "onyx-lit.jpg"), "--stone", "6,6,188,158",
         "--bare", "212,6,42,158", "--panel-light", "white-4000"],
        ["advance", "ferry-desk"],
        ["choose", "ferry-desk", "top", "--light", "tunable-white", "--cct", "4000", "--face", "diffused", "--edges", "1,3",
         "--volts", "24", "--mount", "fixed", "--control", "tunable-wall"],
        ["plan", "ferry-desk", "top", "--feed-length", "6m"],
        ["draw", "ferry-desk", "top"],
    ]:
        book.run(*line)
    return book


@pytest.fixture
def book(made, tmp_path):
    home = tmp_path / "home"
    shutil.copytree(made.home, home, symlinks=True)
    copy = Book.__new__(Book)
    copy.home, copy.at = home, home / "book"
    return copy


@pytest.fixture(scope="session")
def sent(made):
    """The packet of the book as it was made."""
    return made.packet()


@pytest.fixture
def page(tmp_path):
    downloads = tmp_path / "downloads"
    downloads.mkdir()
    page = Page(downloads)
    page.downloads = downloads
    yield page
    page.close()


def quiet(page):
    assert page.requests() == []
    assert page.complaints() == []


def answer(page, at, value, note=""):
    page.js(f"""(() => {{
        const box = document.querySelectorAll('.answer')[{at}];
        box.querySelector('input[value="{value}"]').click();
        box.querySelector('textarea').value = {json.dumps(note)};
    }})()""")


def saved(page, typed="Imke Voss"):
    """Signs and saves; the bytes of the file."""
    page.js(f"document.getElementById('who-typed').value = {json.dumps(typed)}")
    page.events.clear()
    page.js("document.querySelector('button.main').click()")
    page.until("Browser.downloadProgress", state="completed")
    return (page.downloads / "ferry-desk-answer.txt")


def parts(file):
    text = file.read_text(encoding="ascii")
    at = text.index("\n" + BEGIN) + 1
    return text[:at], text[at:]


def wire(blob):
    """The strings of an SSH blob (RFC 4251, section 5)."""
    found = []
    while blob:
        (length,) = struct.unpack(">I", blob[:4])
        found.append(blob[4:4 + length])
        blob = blob[4 + length:]
    return found


def test_it_is_read_marked_refused_approved_saved_and_taken_in(book, page, sent):
    page.open(sent)
    assert page.js("document.querySelectorAll('section.q').length") == 3
    assert page.js("document.querySelector('.bar span').textContent") == "0 of 3 answered"
    # The slider shows one light at a time.
    page.js("(() => { const s = document.querySelector('input[type=range]'); s.value = 0; s.dispatchEvent(new Event('input')) })()")
    assert page.js("document.querySelectorAll('.looks li.shown figure').length") == 1
    assert page.js("document.querySelector('input[type=range]').getAttribute('aria-valuetext')").startswith("3000 K")

    answer(page, 0, "approved")
    answer(page, 1, "approved")
    answer(page, 2, "rejected")
    # A refusal without a word is not enough.
    page.js("document.getElementById('who-typed').value = 'Imke Voss'; document.querySelector('button.main').click()")
    assert "note or a mark" in page.js("document.querySelector('.wrong').textContent")
    # A mark, put where the drawing is tapped.
    page.js("document.querySelectorAll('.marking button')[0].click()")
    page.js("document.querySelector('.marks textarea').value = 'too close to the door'")
    x, y = page.js("""(() => {
        const drawing = document.querySelector('.pane svg');
        drawing.scrollIntoView({ block: 'start' });
        const box = drawing.getBoundingClientRect();
        const [, , width] = drawing.getAttribute('viewBox').split(' ').map(Number);
        return [box.left + 60 * box.width / width, box.top + 40 * box.width / width];
    })()""")
    page.click(x, y)
    file = saved(page)
    quiet(page)
    message, armour = parts(file)
    said = json.loads(message)
    assert [a["answer"] for a in said["answers"]] == ["approved", "approved", "rejected"]
    mark = said["answers"][2]["marks"][0]
    assert abs(mark["left_mm"] - 60) <= 1 and abs(mark["top_mm"] - 40) <= 1, mark

    told = book.run("intake", str(file), "--yes")
    assert "unaltered since it was signed in the page" in told and told.count("took in") == 3
    assert "taken-already" in book.run("intake", str(file), "--yes", "--json", code=2)
    # The gate opens on what was approved.
    assert "moves from selection to rendering" in book.run("advance", "ferry-desk")
    # The refusal is an open item, and holds what comes after it.
    status = book.run("status", "ferry-desk")
    assert "refused" in status and "too close to the door" in status
    assert "too close to the door" in book.run("advance", "ferry-desk", code=1)
    page.open(book.packet())
    assert page.js("document.querySelectorAll('section.q').length") == 0
    assert "too close to the door" in page.js("[...document.querySelectorAll('.done > blockquote')].map(b => b.textContent).join()")
    # What is sent back is shown as not open; it can be answered again.
    assert page.js("document.querySelectorAll('.answer').length") == 3


def test_the_signature_holds_for_stock_tools(page, sent, tmp_path):
    page.open(sent)
    answer(page, 0, "approved-as-noted", "Größe prüfen – “bitte” \u202e 字")
    message, armour = parts(saved(page, "Imke Voß"))
    assert message.isascii(), "any mail program leaves it as it is"
    (tmp_path / "message").write_text(message)
    (tmp_path / "message.sig").write_text(armour)
    blob = base64.b64decode("".join(armour.splitlines()[1:-1]))
    assert blob[:10] == b"SSHSIG" + struct.pack(">I", 1)
    public, space, reserved, hash_name, signature = wire(blob[10:])
    assert (space, reserved, hash_name) == (b"underlit-packet", b"", b"sha512")

    line = b"ecdsa-sha2-nistp256 " + base64.b64encode(public)
    (tmp_path / "allowed").write_bytes(b"imke " + line + b"\n")
    check = ["ssh-keygen", "-Y", "verify", "-f", tmp_path / "allowed", "-I", "imke", "-n", "underlit-packet", "-s",
             tmp_path / "message.sig"]
    assert subprocess.run(check, input=message.encode(), capture_output=True).returncode == 0
    assert subprocess.run(check, input=message.replace("approved", "rejected").encode(), capture_output=True).returncode != 0

    kind, curve, point = wire(public)
    assert (kind, curve, len(point)) == (b"ecdsa-sha2-nistp256", b"nistp256", 65)
    fingerprint = "SHA256:" + base64.b64encode(hashlib.sha256(public).digest()).decode().rstrip("=")
    assert json.loads(message)["key"] == fingerprint
    key = ec.EllipticCurvePublicKey.from_encoded_point(ec.SECP256R1(), point)
    _, pair = wire(signature)
    r, s = (int.from_bytes(n, "big") for n in wire(pair))
    string = lambda part: struct.pack(">I", len(part)) + part
    sealed = b"SSHSIG" + string(space) + string(b"") + string(hash_name) + string(hashlib.sha512(message.encode()).digest())
    key.verify(encode_dss_signature(r, s), sealed, ec.ECDSA(hashes.SHA256()))


def test_an_altered_an_older_and_a_stripped_answer_are_refused(book, page, sent):
    page.open(sent)
    answer(page, 0, "approved")
    file = saved(page)
    message, armour = parts(file)
    bad = book.home / "bad.txt"
    bad.write_text(message.replace('"approved"', '"rejected"') + armour)
    assert "answer-altered" in book.run("intake", str(bad), "--yes", "--json", code=5)
    bad.write_text(message)
    assert "answer-altered" in book.run("intake", str(bad), "--yes", "--json", code=5)
    # Line ends that a mail program changed are no alteration.
    good = book.home / "good.txt"
    good.write_bytes(file.read_bytes().replace(b"\n", b"\r\n"))
    assert "took in" in book.run("intake", str(good), "--yes", "--dry-run")
    book.run("choose", "ferry-desk", "top", "--face", "clear")
    assert "code-of-earlier-version" in book.run("intake", str(file), "--yes", "--json", code=3)


def test_by_keyboard_alone(page, sent):
    page.open(sent)

    def tab_to(selector):
        for _ in range(200):
            page.key("Tab")
            if page.js(f"document.activeElement.matches({json.dumps(selector)})"):
                return
        raise AssertionError(f"the keyboard never comes to {selector}")

    tab_to("input[type=range]")
    before = page.js("document.activeElement.getAttribute('aria-valuetext')")
    page.key("ArrowLeft")
    assert page.js("document.activeElement.getAttribute('aria-valuetext')") != before
    tab_to("input[type=radio]")
    page.key(" ")
    tab_to("#note0")
    page.type("as agreed")
    tab_to(".marking button")
    page.key("Enter")
    assert page.js("document.activeElement.matches('.marks textarea')")
    page.type("this corner")
    tab_to(".marks input[type=number]")
    page.call("Input.dispatchKeyEvent", type="keyDown", key="ArrowDown", code="ArrowDown", windowsVirtualKeyCode=40)
    tab_to("#who-typed")
    page.type("Imke Voss")
    tab_to("button.main")
    page.events.clear()
    page.key("Enter")
    page.until("Browser.downloadProgress", state="completed")
    said = json.loads(parts(page.downloads / "ferry-desk-answer.txt")[0])
    assert said["answers"][0]["answer"] == "approved" and said["answers"][0]["note"] == "as agreed"
    assert page.js("document.activeElement.className") == "saved"
    quiet(page)


def test_without_script_everything_is_read_and_answered_by_mail(page, sent):
    page.call("Emulation.setScriptExecutionDisabled", value=True)
    page.open(sent, width=390, height=844)
    page.call("Emulation.setScriptExecutionDisabled", value=False)
    quiet(page)
    codes = page.js("[...document.querySelectorAll('.answer code')].map(c => c.textContent)")
    links = page.js("[...document.querySelectorAll('.answer a')].map(a => a.href)")
    assert len(codes) == 3 and len(links) == 12
    for at, code in enumerate(codes):
        assert all(code in link for link in links[4 * at:4 * at + 4])
        assert links[4 * at].startswith("mailto:") and "Approved%2C%20" in links[4 * at]
    shown = page.js("[...document.querySelectorAll('.looks img')].filter(i => i.complete && i.naturalWidth && i.offsetHeight).length")
    assert shown == page.js("document.querySelectorAll('.looks img').length") > 2
    assert page.js("document.querySelectorAll('input[type=radio], .bar').length") == 0
    assert page.js("document.documentElement.scrollWidth") == 390


def test_a_browser_that_does_not_sign_says_so(book, page, sent):
    page.call("Page.addScriptToEvaluateOnNewDocument",
              source="Object.defineProperty(Crypto.prototype, 'subtle', { get: () => undefined })")
    page.open(sent)
    assert "not sign" in page.js("document.getElementById('finish').textContent")
    answer(page, 0, "approved")
    file = saved(page)
    text = file.read_text()
    assert BEGIN not in text and json.loads(text)["key"] is None
    assert "not signed with a key: it stands by its codes" in book.run("intake", str(file), "--yes")
    assert "no key" in book.run("status", "ferry-desk")
    quiet(page)


@pytest.mark.parametrize("width,dark,language", [(1280, False, "en"), (390, True, "en"), (390, False, "de"), (320, True, "de")])
def test_axe_finds_nothing(book, page, width, dark, language):
    page.open(book.packet("packet.html", "--language", language), width=width, dark=dark)
    page.js(AXE.read_text() + "; 0")
    judge = """axe.run(document, { runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'] })
        .then(found => found.violations.map(v => [v.id, v.nodes.map(n => n.target.join(' ') + ': ' + n.failureSummary)]))"""
    assert page.js(judge) == []
    page.js("document.querySelectorAll('.marking button')[0].click(); document.querySelector('.marks textarea').value = 'x'")
    answer(page, 0, "rejected", "no")
    saved(page)
    page.js("document.querySelectorAll('details').forEach(d => { d.open = true })")
    assert page.js(judge) == []
    assert page.js("document.documentElement.scrollWidth") <= width
    small = page.js("""[...document.querySelectorAll('button, summary, .bar a, .choices label, .enlarge, .mail a, input[type=range]')]
        .filter(e => e.offsetHeight && e.offsetHeight < 44).map(e => e.outerHTML.slice(0, 80))""")
    assert small == [], "targets of 44 px"


def test_right_to_left_and_long_words_stay_within_the_page(page, sent):
    page.open(sent, width=390)
    page.js("""(() => {
        document.documentElement.dir = 'rtl';
        const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
        const texts = [];
        while (walk.nextNode()) if (!walk.currentNode.parentElement.closest('svg, script, code')) texts.push(walk.currentNode);
        texts.forEach(t => { t.data = t.data.replace(/[A-Za-z]{4,}/g, 'Donaudampfschifffahrtsgesellschaftskapitän') });
    })()""")
    assert page.js("document.documentElement.scrollWidth") == 390


def test_hostile_words_do_nothing(book, page):
    hostile = "</title></bdi><script>window.got=1</script><img src=x onerror='window.got=2'>"
    book.run("project", "change", "ferry-desk", "--title", hostile)
    book.run("panel", "change", "ferry-desk", "top", "--title", hostile)
    book.run("draw", "ferry-desk", "top")
    page.open(book.packet())
    answer(page, 0, "rejected", hostile + "\u202e\u200b" + "x" * 1000)
    file = saved(page, hostile[:70])
    assert page.js("window.got") is None
    assert page.js("document.querySelectorAll('img[src=x]').length") == 0
    quiet(page)
    book.run("intake", str(file), "--yes")
    page.open(book.packet())
    assert page.js("window.got") is None and page.js("document.querySelectorAll('img[src=x]').length") == 0
    quiet(page)


def test_as_a_folder_and_small_enough_to_mail(book, page):
    folder = book.packet("folder")
    page.open(folder / "index.html")
    assert page.js("[...document.querySelectorAll('.looks img')].every(i => i.complete && i.naturalWidth)")
    quiet(page)
    assert book.packet().stat().st_size < 5_000_000
