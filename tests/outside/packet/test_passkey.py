"""A packet served over http from this machine, with a passkey: made, enrolled, signed with, taken in.

The authenticator is Chromium's own virtual one (Chrome DevTools Protocol, domain WebAuthn); signatures are judged by
OpenSSH's `ssh-keygen -Y verify` and by the Python package `cryptography`, neither of which shares code with the page or with
underlit. The server is Python's `http.server` on a loopback address.
"""

import base64
import functools
import hashlib
import http.server
import json
import re
import struct
import subprocess
import threading

import pytest
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.asymmetric.utils import encode_dss_signature
from test_packet_page import AXE, answer, book, made, page, parts, quiet, saved, wire  # noqa: F401 (fixtures)

JUDGE = """axe.run(document, { runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'] })
    .then(found => found.violations.map(v => [v.id, v.nodes.map(n => n.target.join(' ') + ': ' + n.failureSummary)]))"""


class Silent(http.server.SimpleHTTPRequestHandler):
    def log_message(self, *_):
        pass


@pytest.fixture
def served(tmp_path):
    """Serves folders below one; gives the address."""
    root = tmp_path / "served"
    root.mkdir()
    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), functools.partial(Silent, directory=root))
    threading.Thread(target=server.serve_forever, daemon=True).start()
    yield root, f"http://localhost:{server.server_port}"
    server.shutdown()


def device(page, **other):
    page.call("WebAuthn.enable")
    options = {"protocol": "ctap2", "transport": "internal", "hasResidentKey": True, "hasUserVerification": True,
               "isUserVerified": True, "automaticPresenceSimulation": True, **other}
    return page.call("WebAuthn.addVirtualAuthenticator", options=options)["authenticatorId"]


def packet(book, served, page, name, *more, **how):
    root, address = served
    book.packet(str(root / name), *more)
    page.open(f"{address}/{name}/index.html", **how)
    assert f"{address}/{name}/index.html" in page.requests()
    only_own_files(page)


def only_own_files(page):
    """Nothing but the page and its pictures was asked for, all of the same host; nothing was complained of."""
    sent = page.requests()
    assert all(re.match(r"http://localhost:\d+/", url) for url in sent), sent
    # The browser would rather have RSA as well, which no book takes.
    others = [one for one in page.complaints() if "pubKeyCredParams" not in one.get("entry", {}).get("text", "")]
    assert others == []


def enrolled(book, page):
    """Makes a passkey in the page and has the owner add it: the public key's line."""
    page.events.clear()
    page.js("document.querySelector('details.passkey').open = true; document.querySelector('details.passkey button').click()")
    page.until("Browser.downloadProgress", state="completed")
    line = (page.downloads / "imke-passkey.pub").read_text(encoding="ascii")
    digits = page.js("document.querySelector('.digits').textContent")
    assert page.js("document.activeElement.className") == "saved"
    file = book.home / "imke-passkey.pub"
    file.write_text(line)
    assert "not-compared" in book.run("roster", "add-key", "imke", str(file), "--json", code=2)
    assert "key-differs" in book.run("roster", "add-key", "imke", str(file), "--heard", "00000 " * 5, "--json", code=5)
    book.run("roster", "add-key", "imke", str(file), "--heard", digits)
    digest = hashlib.sha256(base64.b64decode(line.split()[1])).digest()
    assert digits == " ".join("%05d" % (int.from_bytes(digest[at:at + 5], "big") % 100_000) for at in range(0, 25, 5))
    shown = subprocess.run(["ssh-keygen", "-l", "-f", file], capture_output=True, text=True, check=True).stdout
    assert page.js("document.querySelector('details.passkey code').textContent") in shown
    assert "ECDSA-SK" in shown and line.endswith("imke@localhost\n")
    (page.downloads / "imke-passkey.pub").unlink()
    return line


def signed(page):
    """Signs with the passkey and saves."""
    page.js("document.getElementById('who-typed').value = 'Imke Voss'")
    page.events.clear()
    page.js("document.querySelector('button.main').click()")
    page.until("Browser.downloadProgress", state="completed")
    return page.downloads / "ferry-desk-answer.txt"


def judged_by_others(book, line, statement, signature, tmp_path):
    """Stock ssh-keygen and the package cryptography; the flags and the origin."""
    (tmp_path / "signers").write_text(book.run("allowed-signers"))
    (tmp_path / "signature").write_text(signature)
    check = ["ssh-keygen", "-Y", "verify", "-f", tmp_path / "signers", "-I", "imke", "-n", "underlit-client", "-s",
             tmp_path / "signature"]
    assert subprocess.run(check, input=statement.encode(), capture_output=True).returncode == 0
    other = statement.replace("approved", "rejected")
    assert subprocess.run(check, input=other.encode(), capture_output=True).returncode != 0
    blob = base64.b64decode("".join(signature.splitlines()[1:-1]))
    public, space, _, hash_name, value = wire(blob[10:])
    assert public == base64.b64decode(line.split()[1])
    name, pair = wire_some(value, 2)
    rest = value[8 + len(name) + len(pair):]
    flags, (counter,), rest = rest[0], struct.unpack(">I", rest[1:5]), rest[5:]
    origin, client, extensions = wire(rest)
    assert flags & 0x05 == 0x05 and not flags & 0x40
    _, _, point, site = wire(public)
    string = lambda part: struct.pack(">I", len(part)) + part
    asked = b"SSHSIG" + string(space) + string(b"") + string(hash_name) + string(hashlib.sha512(statement.encode()).digest())
    said = json.loads(client)
    assert base64.urlsafe_b64decode(said["challenge"] + "==") == asked and said["type"] == "webauthn.get"
    assert said["origin"] == origin.decode()
    r, s = (int.from_bytes(n, "big") for n in wire(pair))
    over = hashlib.sha256(site).digest() + bytes([flags]) + struct.pack(">I", counter) + extensions + hashlib.sha256(client).digest()
    key = ec.EllipticCurvePublicKey.from_encoded_point(ec.SECP256R1(), point)
    key.verify(encode_dss_signature(r, s), over, ec.ECDSA(hashes.SHA256()))


def wire_some(blob, count):
    found = []
    for _ in range(count):
        (length,) = struct.unpack(">I", blob[:4])
        found.append(blob[4:4 + length])
        blob = blob[4 + length:]
    return found


def test_a_folder_over_http_is_answered_as_one_from_disk(book, page, served):
    packet(book, served, page, "plain")
    assert page.js("[...document.querySelectorAll('.looks img')].every(i => i.complete && i.naturalWidth)")
    answer(page, 0, "approved")
    answer(page, 1, "approved")
    answer(page, 2, "rejected", "too close to the door")
    file = saved(page)
    only_own_files(page)
    told = book.run("intake", str(file), "--yes")
    assert "unaltered since it was signed in the page" in told and told.count("took in") == 3
    assert "moves from selection to rendering" in book.run("advance", "ferry-desk")
    # By mail and by code as well.
    codes = page.js("[...document.querySelectorAll('.answer code')].map(c => c.textContent)")
    assert len(codes) == 3 and page.js("document.querySelectorAll('.answer .mail a').length") == 12


def test_a_passkey_is_made_enrolled_signed_with_and_opens_the_gate(book, page, served, tmp_path):
    device(page)
    packet(book, served, page, "first")
    assert page.js("document.querySelector('button.main').textContent") == "Sign and save my answers"
    line = enrolled(book, page)
    only_own_files(page)

    packet(book, served, page, "second")
    assert page.js("document.querySelector('button.main').textContent") == "Sign with my passkey and save"
    answer(page, 0, "approved")
    answer(page, 1, "approved")
    answer(page, 2, "approved-as-noted", "Größe prüfen – “bitte” \u202e 字 {n}\nzweite Zeile")
    file = signed(page)
    only_own_files(page)
    said = json.loads(parts(file)[0])["answers"]
    assert [one["answer"] for one in said] == ["approved", "approved", "approved-as-noted"]
    for one in said:
        judged_by_others(book, line, one["statement"], one["signature"], tmp_path)
    assert "signature, with your passkey, at http://localhost" in page.js("document.querySelector('.receipt').textContent")
    told = book.run("intake", str(file), "--yes")
    assert told.count("signed by themselves") == 3, told
    assert "taken-already" in book.run("intake", str(file), "--yes", "--json", code=2)
    assert "moves from selection to rendering" in book.run("advance", "ferry-desk")
    book.run("check")
    verdict = json.loads(book.run("verify", "--json"))
    status = json.loads(book.run("status", "ferry-desk", "--json"))
    assert {s["signer"] for s in status["signoffs"]} == {"imke"} and all(s["evidence"] is None for s in status["signoffs"])
    digest = status["signoffs"][0]["sha256"]
    assert "person present and verified" in book.run("verify", "--explain", digest), verdict

    # A later no of the same person takes the place of the yes.
    packet(book, served, page, "third")
    page.js("document.querySelectorAll('details').forEach(d => { d.open = true })")
    choice = page.js("[...document.querySelectorAll('.answer')].findIndex(a => a.closest('details.done'))")
    assert choice >= 0
    answer(page, choice, "revise-and-resubmit", "warmer, please")
    if page.js("!!document.querySelector('button.main')"):
        told = book.run("intake", str(signed(page)), "--yes")
        assert "signed by themselves" in told
        assert "warmer, please" in book.run("status", "ferry-desk")


def test_a_passkey_of_nobody_and_a_device_that_does_not_sign(book, page, served):
    one = device(page)
    packet(book, served, page, "first")
    enrolled(book, page)
    packet(book, served, page, "second")
    answer(page, 0, "approved")
    # Nobody is verified: the device signs nothing, and nothing is saved.
    page.call("WebAuthn.setUserVerified", authenticatorId=one, isUserVerified=False)
    page.js("document.getElementById('who-typed').value = 'Imke Voss'; document.querySelector('button.main').click()")
    page.js("""new Promise(done => { const look = () => document.querySelector('.finish > .wrong').textContent
        ? done() : setTimeout(look, 50); look(); })""")
    assert "Signed 0 of 1" in page.js("document.querySelector('.finish > .wrong').textContent")
    assert page.js("document.querySelector('.receipt').textContent") == ""
    # It goes on from there.
    page.call("WebAuthn.setUserVerified", authenticatorId=one, isUserVerified=True)
    assert "signed by themselves" in book.run("intake", str(signed(page)), "--yes", "--dry-run")
    # Another device has another passkey for the site: the page says so, and without a passkey it still saves.
    page.call("WebAuthn.removeVirtualAuthenticator", authenticatorId=one)
    device(page)
    packet(book, served, page, "third")
    page.js("document.querySelector('details.passkey').open = true; document.querySelector('details.passkey button').click()")
    page.until("Browser.downloadProgress", state="completed")
    answer(page, 0, "approved")
    page.js("document.getElementById('who-typed').value = 'Imke Voss'; document.querySelector('button.main').click()")
    page.js("""new Promise(done => { const look = () => document.querySelector('.finish > .wrong').textContent
        ? done() : setTimeout(look, 50); look(); })""")
    assert "none that the shop knows" in page.js("document.querySelector('.finish > .wrong').textContent")
    page.events.clear()
    page.js("[...document.querySelectorAll('.finish > button')].find(b => b.textContent === 'Save without my passkey').click()")
    page.until("Browser.downloadProgress", state="completed")
    told = book.run("intake", str(page.downloads / "ferry-desk-answer.txt"), "--yes", "--dry-run")
    assert "unaltered since" in told and "signed by themselves" not in told


def test_from_disk_the_page_says_where_the_passkey_works(book, page, served):
    device(page)
    packet(book, served, page, "first")
    enrolled(book, page)
    page.open(book.packet())
    assert "open this page at localhost" in page.js("document.getElementById('finish').textContent")
    assert page.js("document.querySelectorAll('details.passkey').length") == 0
    answer(page, 0, "approved")
    saved(page)
    quiet(page)


@pytest.mark.parametrize("width,dark,language", [(1280, False, "en"), (390, True, "de"), (320, False, "de")])
def test_axe_finds_nothing_about_passkeys(book, page, served, width, dark, language):
    device(page)
    packet(book, served, page, "first", "--language", language, width=width, dark=dark)
    page.js(AXE.read_text() + "; 0")
    enrolled(book, page)
    page.js("document.querySelectorAll('details.passkey details').forEach(d => { d.open = true })")
    assert page.js(JUDGE) == []
    assert page.js("document.documentElement.scrollWidth") <= width
    packet(book, served, page, "second", "--language", language, width=width, dark=dark)
    page.js(AXE.read_text() + "; 0")
    answer(page, 0, "rejected", "no")
    signed(page)
    page.js("document.querySelectorAll('details').forEach(d => { d.open = true })")
    assert page.js(JUDGE) == []
    assert page.js("document.documentElement.scrollWidth") <= width
    small = page.js("""[...document.querySelectorAll('button, summary')].filter(e => e.offsetHeight && e.offsetHeight < 44)
        .map(e => e.outerHTML.slice(0, 80))""")
    assert small == [], "targets of 44 px"
