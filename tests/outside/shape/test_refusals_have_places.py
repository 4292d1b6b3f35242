"""Each refusal of an element says file, line, column, the element's id, its place in millimetres, and how to fix it.

Run by tests/run with the built program in UNDERLIT. Lines and columns are counted here from the text itself; places follow
from the transforms by hand.
"""

import json
import os
import subprocess

import ezdxf
import pytest

UNDERLIT = os.environ["UNDERLIT"]
HEAD = '<svg xmlns="http://www.w3.org/2000/svg" width="1000mm" height="500mm" viewBox="0 0 1000 500">\n'
FRAME = '  <rect id="frame" width="900" height="400"/>\n'


def run(file, *args):
    return subprocess.run([UNDERLIT, "calc", "outline", str(file), *args], capture_output=True, text=True, timeout=60)


def refused(file):
    done = run(file, "--json")
    assert done.returncode == 3, done.stdout + done.stderr
    return json.loads(done.stdout)["error"]


def place(text, mark):
    before = text[: text.index(mark)]
    return before.count("\n") + 1, len(before) - (before.rfind("\n") + 1) + 1


# The element, what is said, and where it begins in millimetres with y up (None: it says no place).
ELEMENTS = [
    ('<path id="bad" d="M10 20 L30 x"/>', "the path cannot be read", (10, 480)),
    ('<path id="bad" transform="translate(5 5)" d="M10 20 L30 40" style="transform:none"/>', "a transform in a style", (15, 475)),
    ('<circle id="bad" cx="100" cy="200" r="5%"/>', "depends on something outside", (100, 300)),
    ('<rect id="bad" x="1e9" y="7" width="5" height="5"/>', "reaches farther", (1e9, 493)),
    ('<rect id="bad" x="8" y="7" width="5" height="5" transform="scale(0 1)"/>', "squeezes this to nothing", (0, 493)),
    ('<use id="bad" x="30" y="40" href="#nowhere"/>', "does not exist in this drawing", (30, 460)),
    ('<g id="bad" transform="rotate(x)"><rect width="5" height="5"/></g>', "the transform cannot be read", None),
    ('<line id="bad" x1="3" y1="4em" x2="9" y2="9"/>', "depends on something outside", None),
    ('<svg id="bad" x="60" y="70" viewBox="0 0 1 1"><circle r="1"/></svg>', "depends on what is around it", (60, 430)),
    # Flaws that show only when lines meet.
    ('<line id="bad" x1="50" y1="60" x2="50" y2="60"/>', "has no length", (50, 440)),
    ('<path id="bad" d="M50 50 h100 v100"/>', "", None),
    ('<path id="bad" d="M50 50 L150 150 L150 50 L50 100 Z"/>', "crosses", None),
    ('<rect id="bad" x="800" y="10" width="300" height="50"/>', "", None),
]


@pytest.mark.parametrize("element, says, at", ELEMENTS)
def test_an_svg_element_is_refused_with_its_place(tmp_path, element, says, at):
    text = HEAD + FRAME + "  <g>\n    " + element + "\n  </g>\n</svg>\n"
    file = tmp_path / "drawing.svg"
    file.write_text(text)
    error = refused(file)
    assert says in error["message"] and error["remedy"], error
    assert error["file"].endswith("drawing.svg")
    named = element.split()[0][1:]
    assert f"`{named}` with the id `bad`" in error["message"], error
    assert (error["line"], error["column"]) == place(text, element), error
    if at:
        assert error["at_mm"] == pytest.approx(at, abs=1e-6), error
    said = run(file).stderr
    assert f"drawing.svg:{error['line']}:{error['column']}: `{named}` with the id `bad`" in said, said
    assert "Fix: " in said


def test_all_bad_elements_are_told_at_once_and_drawn(tmp_path):
    file = tmp_path / "drawing.svg"
    bad = "".join(f'<path id="p{i}" d="M{i * 10} 20 L!"/>\n' for i in range(1, 6))
    file.write_text(HEAD + FRAME + bad + "</svg>")
    picture = tmp_path / "flaws.svg"
    done = run(file, "--picture", str(picture))
    assert done.returncode == 3 and "5 things are wrong" in done.stderr, done.stderr
    assert all(f"id `p{i}`" in done.stderr for i in range(1, 6))
    assert picture.read_text().count("<circle") == 5
    picture.unlink()
    done = run(file, "--picture", str(picture), "--dry-run")
    assert "dry run: " in done.stderr and not picture.exists()


def test_text_that_is_no_svg_is_refused_with_line_and_column(tmp_path):
    file = tmp_path / "drawing.svg"
    file.write_bytes((HEAD + "  <path d='").encode() + b"\xff'/></svg>")
    error = refused(file)
    assert (error["line"], error["column"]) == (2, 12), error
    file.write_text(HEAD + FRAME + "  <g></p>\n</svg>")
    error = refused(file)
    assert error["line"] == 3 and error["column"] > 1, error


def test_a_dxf_entity_is_named_with_its_handle_where_lines_meet_wrongly(tmp_path):
    doc = ezdxf.new("R2010")
    doc.header["$INSUNITS"] = 4
    msp = doc.modelspace()
    msp.add_lwpolyline([(0, 0), (900, 0), (900, 400), (0, 400)], close=True)
    twice = [msp.add_circle((200, 200), 50) for _ in range(2)]
    file = tmp_path / "drawing.dxf"
    doc.saveas(file)
    error = refused(file)
    assert error["code"] == "outline-duplicate"
    assert any(f"CIRCLE with the handle {c.dxf.handle}" in error["message"] for c in twice), error
    assert file.read_text().splitlines()[error["line"]].strip() == "CIRCLE", error
