"""Letters that `panel etch` makes lines of, against the outlines and the spacing that fontTools and HarfBuzz read from the
same font: the embedded one, and invented ones of both kinds of outline with a kerned pair.
"""

import json
import os
import shutil
import subprocess
from pathlib import Path

import pytest
import uharfbuzz
from fontTools.feaLib.builder import addOpenTypeFeaturesFromString
from fontTools.fontBuilder import FontBuilder
from fontTools.pens.basePen import BasePen
from fontTools.pens.t2CharStringPen import T2CharStringPen
from fontTools.pens.ttGlyphPen import TTGlyphPen
from fontTools.ttLib import TTFont

ROOT = Path(__file__).resolve().parents[3]
AT = (200.0, 300.0)
HEIGHT = 40.0
STEPS = 32


@pytest.fixture(scope="module")
def book(tmp_path_factory):
    folder = tmp_path_factory.mktemp("letters") / "book"
    shutil.copytree(ROOT / "example-repo", folder)
    git = ["git", "-c", "user.name=x", "-c", "user.email=x@x.invalid", "-C", str(folder)]
    for step in (["init", "-q"], ["add", "-A"], ["commit", "-q", "-m", "all"]):
        subprocess.run(git + step, check=True, env=environment(folder))
    run(folder, "panel", "add", "quay-bar", "plate", "--swatch", "honey", "--size", "6000mmx1000mm")
    return folder


def environment(folder):
    names = {f"GIT_{who}_{what}": "x@x.invalid" for who in ("AUTHOR", "COMMITTER") for what in ("NAME", "EMAIL")}
    return {"PATH": os.environ["PATH"], "HOME": str(folder.parent), "UNDERLIT_CLOCK": "2026-11-28T09:00:00Z", **names}


def run(folder, *arguments):
    command = [os.environ["UNDERLIT"], "--book", str(folder), "--me", "mara", *arguments]
    done = subprocess.run(command, capture_output=True, text=True, env=environment(folder))
    assert done.returncode == 0, done.stdout + done.stderr


def etched(folder, text, font=None):
    """The lines that are etched: each a list of its curves by four points, straight ones by two."""
    place = ",".join(f"{mm}mm" for mm in AT)
    more = ["--font-file", str(font)] if font else []
    run(folder, "panel", "etch", "quay-bar", "plate", "--text", text, "--height", f"{HEIGHT}mm", "--at", place, "--replace", *more)
    drawn = json.loads((folder / "projects/quay-bar/panels/plate.outline.json").read_text())
    lines = []
    for path in drawn["etchings"]:
        here, curves = tuple(path["start_mm"]), []
        for piece in path["segments"]:
            points = [tuple(piece[key]) for key in ("control_1_mm", "control_2_mm") if key in piece] + [tuple(piece["to_mm"])]
            curves.append([here, *points])
            here = points[-1]
        lines.append(curves)
    return lines


class Lines(BasePen):
    """A glyph's lines in millimetres; a quadratic curve as it is."""

    def __init__(self, glyphs, scale, x, y):
        super().__init__(glyphs)
        self.place = lambda p: (AT[0] + (x + p[0]) * scale, AT[1] + (y + p[1]) * scale)
        self.lines = []

    def _moveTo(self, p):
        self.start = self.here = self.place(p)
        self.lines.append([])

    def _add(self, *points):
        points = [self.here, *map(self.place, points)]
        if any(p != points[0] for p in points):
            self.lines[-1].append(points)
        self.here = points[-1]

    _lineTo = _curveToOne = _qCurveToOne = lambda self, *points: self._add(*points)

    def _closePath(self):
        if self.here != self.start:
            self.lines[-1].append([self.here, self.start])


def expected(font, text):
    """By fontTools' outlines, set by HarfBuzz."""
    read = TTFont(font)
    glyphs, order = read.getGlyphSet(), read.getGlyphOrder()
    box = Lines(glyphs, 1.0, 0, 0)
    glyphs["H"].draw(box)
    scale = HEIGHT / (max(p[1] for line in box.lines for piece in line for p in piece) - AT[1])
    buffer = uharfbuzz.Buffer()
    buffer.add_str(text)
    buffer.guess_segment_properties()
    uharfbuzz.shape(uharfbuzz.Font(uharfbuzz.Face(Path(font).read_bytes())), buffer)
    lines, x = [], 0
    for info, position in zip(buffer.glyph_infos, buffer.glyph_positions, strict=True):
        pen = Lines(glyphs, scale, x + position.x_offset, position.y_offset)
        glyphs[order[info.codepoint]].draw(pen)
        lines += [line for line in pen.lines if line]
        x += position.x_advance
    return lines


def points(line):
    """Places along a closed line, curve by curve, by de Casteljau."""
    found = []
    for piece in line:
        for n in range(STEPS):
            left = piece
            while len(left) > 1:
                left = [tuple(a + (b - a) * n / STEPS for a, b in zip(p, q)) for p, q in zip(left, left[1:])]
            found.append(left[0])
    return found


def is_same(ours, theirs):
    assert len(ours) == len(theirs)
    for a, b in zip(ours, theirs):
        assert len(a) == len(b), (a, b)
        for p, q in zip(points(a), points(b), strict=True):
            assert p == pytest.approx(q, abs=1e-4), (p, q)


TEXTS = ["HOUSE 12", "AVATAR Type To. Wy", "Sphinx of black quartz, judge my vow!", "Grüße, Ærøskøbing Łódź Þórr", "office affix", "½ € 100 % & @", "Ωμέγα Привет"]


@pytest.mark.parametrize("text", TEXTS)
def test_the_embedded_font(book, text):
    home = Path(os.environ.get("CARGO_HOME", Path.home() / ".cargo"))
    fonts = sorted(home.glob("registry/src/*/notosans-*/**/*egular*.ttf"))
    assert fonts, "the crate of the embedded font lies where cargo puts it"
    is_same(etched(book, text), expected(fonts[-1], text))


def test_lines_of_a_text_are_as_far_apart_as_the_font_says(book):
    home = Path(os.environ.get("CARGO_HOME", Path.home() / ".cargo"))
    font = sorted(home.glob("registry/src/*/notosans-*/**/*egular*.ttf"))[-1]
    read = TTFont(font)
    head, glyphs = read["hhea"], read.getGlyphSet()
    box = Lines(glyphs, 1.0, 0, 0)
    glyphs["H"].draw(box)
    capital = max(p[1] for line in box.lines for piece in line for p in piece) - AT[1]
    apart = (head.ascent - head.descent + head.lineGap) * HEIGHT / capital
    texts = ["QUAY", "Desk 12", "gypsum"]
    wanted = [[[(x, y - n * apart) for x, y in piece] for piece in line] for n, text in enumerate(texts) for line in expected(font, text)]
    is_same(etched(book, "\n".join(texts)), wanted)


def made(folder, cff):
    """An invented font: H, a triangle A, a bowl O with a hole, and A and O kerned."""
    shapes = {
        "H": [[(0, 0), (0, 700), (400, 700), (400, 0)]],
        "A": [[(0, 0), (250, 700), (500, 0)]],
        "O": [[(0, 350), (250, 700), (500, 350), (250, 0)], [(150, 350), (250, 200), (350, 350), (250, 500)]],
    }
    names = [".notdef", *shapes]
    build = FontBuilder(1000, isTTF=not cff)
    build.setupGlyphOrder(names)
    build.setupCharacterMap({ord(name): name for name in shapes})
    drawn = {}
    for name in names:
        pen = T2CharStringPen(600, None) if cff else TTGlyphPen(None)
        for contour in shapes.get(name, []):
            pen.moveTo(contour[0])
            if name == "O" and cff:
                for a, b in zip(contour, contour[1:] + contour[:1]):
                    pen.curveTo((a[0], (a[1] + b[1]) // 2), ((a[0] + b[0]) // 2, b[1]), b)
            elif name == "O":
                for n, (a, b) in enumerate(zip(contour, contour[1:] + contour[:1])):
                    pen.qCurveTo((b[0], a[1]) if n % 2 else (a[0], b[1]), b)
            else:
                [pen.lineTo(p) for p in contour[1:]]
            pen.closePath()
        drawn[name] = pen.getCharString() if cff else pen.glyph()
    if cff:
        build.setupCFF("Invented", {}, drawn, {})
    else:
        build.setupGlyf(drawn)
    build.setupHorizontalMetrics({name: (600, 0) for name in names})
    build.setupHorizontalHeader(ascent=800, descent=-200)
    build.setupNameTable({"familyName": "Invented", "styleName": "Regular"})
    build.setupOS2()
    build.setupPost()
    addOpenTypeFeaturesFromString(build.font, "feature kern { pos A O -120; pos O A -80; } kern;")
    file = folder / ("invented.otf" if cff else "invented.ttf")
    build.save(file)
    return file


@pytest.mark.parametrize("cff", [False, True])
def test_invented_fonts_of_both_kinds(book, tmp_path, cff):
    font = made(tmp_path, cff)
    ours = etched(book, "HAOAH", font)
    is_same(ours, expected(font, "HAOAH"))
    # By hand: H and A advance 600, A before O 480, O before A 520; 700 units are the height.
    left = [min(x for piece in line for x, _ in piece) for line in ours]
    units = [0, 600, 600 + 480, 600 + 480 + 150, 600 + 480 + 520, 600 + 480 + 520 + 600]
    assert left == pytest.approx([AT[0] + u * HEIGHT / 700 for u in units], abs=1e-4)
