"""DXF drawings that stand or lean in space, and splines given by fit points alone, against ezdxf.

Run by tests/run with the built program in UNDERLIT. ezdxf turns the drawings, so its object coordinate systems are what
the reader is held to; `ezdxf.math.fit_points_to_cad_cv` says which curve CAD programs draw through fit points.
"""

import json
import math
import os
import random
import subprocess

import ezdxf
import pytest
from ezdxf.math import Matrix44, Vec3, fit_points_to_cad_cv

UNDERLIT = os.environ["UNDERLIT"]


def run(file, *args):
    return subprocess.run([UNDERLIT, "calc", "outline", str(file), *args], capture_output=True, text=True, timeout=120)


def measured(file, *args):
    done = run(file, "--json", *args)
    assert done.returncode == 0, done.stdout + done.stderr
    return json.loads(done.stdout), done.stderr


def refused(file, *args):
    done = run(file, "--json", *args)
    assert done.returncode == 3, done.stdout + done.stderr
    return json.loads(done.stdout)["error"]


def saved(tmp_path, draw, name="drawing.dxf"):
    doc = ezdxf.new("R2010")
    doc.header["$INSUNITS"] = 4
    draw(doc, doc.modelspace())
    file = tmp_path / name
    doc.saveas(file)
    return file


def whole(doc, msp):
    """Every kind of entity that is read, in the x-y plane."""
    msp.add_line((0, 0), (900, 0))
    msp.add_arc((900, 200), 200, -90, 90)
    msp.add_spline().apply_construction_tool(
        ezdxf.math.BSpline([(900, 400), (700, 470), (500, 330), (300, 400)], order=4)
    )
    msp.add_lwpolyline([(300, 400, 0.3), (0, 400, 0), (0, 0, 0)], format="xyb")
    msp.add_circle((150, 150), 40)
    msp.add_ellipse((400, 200), (60, 20), 0.5)
    block = doc.blocks.new("TAP", base_point=(3, 4))
    block.add_lwpolyline([(0, 0), (30, 0), (30, 20, 0.2), (0, 20)], format="xyb", close=True)
    block.add_polyline3d([(40, 0, 0), (60, 0, 0), (50, 10, 0)], close=True)
    msp.add_blockref("TAP", (700, 200), dxfattribs={"rotation": 25, "xscale": 1.5, "yscale": 1.5, "zscale": 1.5})


FIGURES = ["area_mm2", "perimeter_mm", "cut_length_mm", "cutouts", "min_rect_mm", "min_radius_mm", "shape"]


@pytest.mark.parametrize("seed", range(8))
def test_what_lies_in_one_plane_keeps_its_figures(tmp_path, seed):
    rng = random.Random(seed)
    flat, said = measured(saved(tmp_path, whole))
    assert "laid flat" not in said

    if seed == 0:
        turn = Matrix44.x_rotate(math.pi / 2)  # a front elevation
    else:
        axis = Vec3(rng.uniform(-1, 1), rng.uniform(-1, 1), rng.uniform(-1, 1)).normalize()
        turn = Matrix44.axis_rotate(axis, rng.uniform(0.05, 3))
    turn @= Matrix44.translate(rng.uniform(-500, 500), rng.uniform(-500, 500), rng.uniform(-500, 500))

    def turned(doc, msp):
        whole(doc, msp)
        for entity in msp:
            entity.transform(turn)

    found, said = measured(saved(tmp_path, turned))
    for name in FIGURES:
        same = flat[name] if isinstance(flat[name], str) else pytest.approx(flat[name], rel=1e-9)
        assert found[name] == same, name
    # Seen from the side it was drawn from: its edges follow each other as in the flat drawing, not mirrored.
    assert "laid flat" in said and "not mirrored" in said
    lengths = [e["length_mm"] for e in flat["edges"]]
    turned_lengths = [e["length_mm"] for e in found["edges"]]
    first = min(range(len(lengths)), key=lambda i: abs(turned_lengths[i] - lengths[0]))
    assert turned_lengths[first:] + turned_lengths[:first] == pytest.approx(lengths, rel=1e-9)


def test_an_upright_drawing_of_lines_alone_is_seen_from_the_front(tmp_path):
    corners = [(0, 7, 0), (900, 7, 0), (900, 7, 300), (0, 7, 400)]

    def draw(doc, msp):
        for a, b in zip(corners, corners[1:] + corners[:1]):
            msp.add_line(a, b)

    found, said = measured(saved(tmp_path, draw))
    assert "(0, -1, 0)" in said
    assert found["area_mm2"] == pytest.approx(900 * 350)
    assert found["edges"][0]["from_mm"] == [0, 0] and found["edges"][1]["to_mm"] == [900, 300]


def test_two_planes_are_refused_with_their_places(tmp_path):
    def draw(doc, msp):
        msp.add_lwpolyline([(0, 0), (900, 0), (900, 400), (0, 400)], close=True)
        msp.add_circle((200, 5, 100), 50, dxfattribs={"extrusion": (0, -1, 0)})
        msp.add_line((500, 100, 0), (600, 100, 30))

    error = refused(saved(tmp_path, draw))
    assert "leans out" in error["message"] and "one plane" in error["remedy"], error

    def upright(doc, msp):
        # Upright as a whole, but for one edge that leaves the plane.
        ends = [(0, 0, 0), (900, 0, 0), (900, 5, 300), (0, 0, 300), (0, 0, 0)]
        for a, b in zip(ends, ends[1:]):
            msp.add_line(a, b)

    assert "leans out" in refused(saved(tmp_path, upright))["message"]


@pytest.mark.parametrize("seed", range(12))
def test_splines_by_fit_points_are_the_curves_that_cad_programs_draw(tmp_path, seed):
    rng = random.Random(seed)
    points = [(i * 120 + rng.uniform(-50, 50), rng.uniform(-60, 60)) for i in range(rng.randint(2, 9))]
    tangents = [(rng.uniform(0.2, 1), rng.uniform(-1, 1)), (rng.uniform(0.2, 1), rng.uniform(-1, 1))] if seed % 2 else None

    def draw(doc, msp):
        spline = msp.add_spline(points)
        if tangents:
            spline.dxf.start_tangent, spline.dxf.end_tangent = tangents
        msp.add_lwpolyline([points[-1], (points[-1][0], 700), (points[0][0], 700), points[0]])

    file = saved(tmp_path, draw)
    done = run(file, "--as", "json")
    assert done.returncode == 0, done.stderr
    assert "fit points alone" in done.stderr and "stray by up to" in done.stderr
    segments = json.loads(done.stdout)["outer"]["segments"]
    curves = [s for s in segments if s["kind"] == "spline"]
    wanted = fit_points_to_cad_cv(points, tangents=tangents)
    assert len(curves) == 1
    found = [Vec3(p) for p in curves[0]["control_points_mm"]]
    theirs = list(wanted.control_points)
    if found[0].distance(theirs[0]) > 1e-6:
        found.reverse()
    assert len(found) == len(theirs)
    assert all(a.distance(b) < 1e-8 for a, b in zip(found, theirs)), (found, theirs)


def test_fit_points_that_do_not_say_the_curve_are_refused(tmp_path):
    def closed(doc, msp):
        msp.add_spline([(0, 0), (400, 50), (300, 400), (0, 0)]).closed = True

    def loose(doc, msp):
        msp.add_spline([(0, 0), (400, 50), (300, 400)]).dxf.fit_tolerance = 5
        msp.add_lwpolyline([(300, 400), (0, 0)])

    def doubled(doc, msp):
        msp.add_spline([(0, 0), (400, 50), (400, 50), (300, 400)])
        msp.add_lwpolyline([(300, 400), (0, 0)])

    for draw, says in [(closed, "closes"), (loose, "near its fit points"), (doubled, "twice in a row")]:
        error = refused(saved(tmp_path, draw))
        assert says in error["message"] and error["line"] and error["at_mm"] == [0, 0], error
        assert "control vertices" in error["remedy"]
