"""Outlines against reference libraries: ezdxf writes and re-reads the drawings, shapely and svgpathtools measure.

Run by tests/run with the built program in UNDERLIT. Lines and arcs must agree to 1e-9, splines and ellipses to 1e-6.
"""

import io
import json
import math
import os
import random
import subprocess
from pathlib import Path

import ezdxf
import jsonschema
import pytest
from ezdxf import path as ezpath
from scipy import integrate, special
from shapely.geometry import LineString, Point, Polygon
from svgpathtools import parse_path

UNDERLIT = os.environ["UNDERLIT"]
ROOT = Path(__file__).resolve().parents[3]


def run(file, *args):
    return subprocess.run([UNDERLIT, "calc", "outline", str(file), *args], capture_output=True, text=True, timeout=120)


def measure(file, *args):
    done = run(file, "--json", *args)
    assert done.returncode == 0, done.stdout + done.stderr
    return json.loads(done.stdout)


def refused(file, *args):
    done = run(file, "--json", *args)
    assert done.returncode == 3, done.stdout + done.stderr
    return json.loads(done.stdout)["error"]


def drawing(tmp_path, draw, version="R2010", units=4, name="drawing.dxf"):
    doc = ezdxf.new(version)
    if units is not None and version != "R12":
        doc.header["$INSUNITS"] = units
    draw(doc, doc.modelspace())
    file = tmp_path / name
    doc.saveas(file)
    return file


def close(value, expected, relative=1e-9):
    assert value == pytest.approx(expected, rel=relative, abs=relative)


def random_polygon(rng, corners):
    """A star-shaped polygon: never crosses itself."""
    radii = [rng.uniform(300, 900) for _ in range(corners)]
    turns = [math.tau * i / corners for i in range(corners)]
    return [(1500 + r * math.cos(a), 1500 + r * math.sin(a)) for r, a in zip(radii, turns)]


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("version", ["R12", "R2000", "R2018"])
def test_polygons_with_a_hole(tmp_path, seed, version):
    rng = random.Random(seed)
    points = random_polygon(rng, rng.randint(3, 40))
    if seed % 2:
        points.reverse()

    def draw(doc, msp):
        if version == "R12":
            msp.add_polyline2d(points, close=True)
        else:
            msp.add_lwpolyline(points, close=True)
        msp.add_circle((1500, 1500), 50)

    found = measure(drawing(tmp_path, draw, version), "--unit", "mm")
    # Area, perimeter and least rectangle of the polygon: shapely; the hole: pi r^2.
    polygon = Polygon(points)
    close(found["area_mm2"], polygon.area - math.pi * 2500)
    close(found["perimeter_mm"], polygon.length)
    close(found["cut_length_mm"], polygon.length + math.tau * 50)
    rectangle = polygon.minimum_rotated_rectangle
    corners = list(rectangle.exterior.coords)
    sides = sorted([math.dist(corners[0], corners[1]), math.dist(corners[1], corners[2])])
    close(found["min_rect_mm"][0] * found["min_rect_mm"][1], sides[0] * sides[1], 1e-8)
    assert found["cutouts"] == 1 and found["curved"] is False


@pytest.mark.parametrize("seed", range(8))
def test_bulged_polylines(tmp_path, seed):
    rng = random.Random(100 + seed)
    corners = random_polygon(rng, rng.randint(4, 12))
    bulges = [rng.choice([0, rng.uniform(0.02, 0.2)]) for _ in corners]

    def draw(doc, msp):
        msp.add_lwpolyline([(x, y, b) for (x, y), b in zip(corners, bulges)], format="xyb", close=True)

    found = measure(drawing(tmp_path, draw))
    # A bulge b over a chord c: angle 4 atan b, radius c(1+b^2)/4b; its segment r^2(angle - sin angle)/2.
    # Closed forms, any book of mensuration.
    area, length = Polygon(corners).area, 0.0
    for (a, b), bulge in zip(zip(corners, corners[1:] + corners[:1]), bulges):
        chord = math.dist(a, b)
        if bulge == 0:
            length += chord
            continue
        angle = 4 * math.atan(bulge)
        radius = chord * (1 + bulge**2) / (4 * bulge)
        length += radius * angle
        area += radius**2 * (angle - math.sin(angle)) / 2
    close(found["area_mm2"], area)
    close(found["perimeter_mm"], length)
    assert found["curved"] is any(bulges)


def test_loose_lines_and_arcs_join_in_any_order(tmp_path):
    def draw(doc, msp):
        msp.add_line((0, 300), (1000, 300))
        msp.add_arc((0, 150), 150, 90, 270)
        msp.add_line((1000, 0), (0, 0))
        msp.add_arc((1000, 150), 150, 270, 90)

    found = measure(drawing(tmp_path, draw))
    close(found["area_mm2"], 300_000 + math.pi * 150**2)
    close(found["perimeter_mm"], 2000 + math.tau * 150)
    assert (found["shape"], found["curved"], len(found["edges"])) == ("curved", True, 4)
    close(found["min_radius_mm"], 150)


def test_ellipse_against_scipy(tmp_path):
    found = measure(drawing(tmp_path, lambda doc, msp: msp.add_ellipse((50, 60), (300, 400), 0.6)))
    close(found["area_mm2"], math.pi * 500 * 300, 1e-9)
    # Perimeter 4 a E(m) with m = 1 - (b/a)^2: scipy.special.ellipe.
    close(found["perimeter_mm"], 4 * 500 * special.ellipe(1 - 0.6**2), 1e-9)
    close(found["min_radius_mm"], 300**2 / 500, 1e-6)
    close(found["min_rect_mm"][0], 600, 1e-6)


def spline_sums(curve, low, high, knots):
    """Area and length of a closed ezdxf spline by scipy's quadrature, span by span."""
    area = length = 0.0
    for a, b in zip(knots, knots[1:]):
        def at(t):
            p, d = curve.derivatives([t], 1).__next__()
            return p, d
        area += integrate.quad(lambda t: (lambda p, d: (p.x * d.y - p.y * d.x) / 2)(*at(t)), a, b, epsabs=1e-9, limit=200)[0]
        length += integrate.quad(lambda t: at(t)[1].magnitude, a, b, epsabs=1e-9, limit=200)[0]
    return abs(area), length


@pytest.mark.parametrize("rational", [False, True])
@pytest.mark.parametrize("wrapped", [False, True])
def test_closed_splines(tmp_path, rational, wrapped):
    points = [(0, 0, 0), (600, -80, 0), (1000, 200, 0), (900, 600, 0), (400, 700, 0), (-100, 400, 0)]
    weights = [1, 2, 0.7, 1, 1.5, 1]

    def draw(doc, msp):
        spline = msp.add_spline(degree=3)
        if wrapped:
            spline.set_closed(points, degree=3) if not rational else spline.set_closed_rational(points, weights, degree=3)
        else:
            ring = points + [points[0]]
            spline.set_open_rational(ring, weights + [1], degree=3) if rational else spline.set_open_uniform(ring, degree=3)

    file = drawing(tmp_path, draw)
    curve = ezdxf.readfile(file).modelspace().query("SPLINE").first.construction_tool()
    knots, order, count = list(curve.knots()), curve.order, curve.count
    inner = sorted(set(knots[order - 1 : count + 1]))
    area, length = spline_sums(curve, inner[0], inner[-1], inner)
    found = measure(file)
    # ezdxf evaluates the spline, scipy integrates it.
    close(found["area_mm2"], area, 1e-6)
    close(found["perimeter_mm"], length, 1e-6)
    assert found["shape"] == "curved"


def test_blocks_scaled_turned_and_mirrored(tmp_path):
    def draw(doc, msp):
        msp.add_lwpolyline([(0, 0), (2000, 0), (2000, 1500), (0, 1500)], close=True)
        block = doc.blocks.new("SINK", base_point=(10, 0))
        block.add_circle((10, 0), 100)
        inner = doc.blocks.new("PAIR")
        inner.add_blockref("SINK", (0, 0))
        inner.add_blockref("SINK", (400, 0), dxfattribs={"xscale": 0.5, "yscale": 0.5})
        msp.add_blockref("PAIR", (400, 400), dxfattribs={"rotation": 30})
        msp.add_blockref("SINK", (1400, 900), dxfattribs={"xscale": 2, "yscale": 1, "rotation": 20})
        msp.add_blockref("PAIR", (1500, 300), dxfattribs={"xscale": -1, "yscale": 1})

    found = measure(drawing(tmp_path, draw))
    # Circles of radius 100 and 50, twice, and an ellipse of 200 by 100.
    holes = 2 * math.pi * (100**2 + 50**2) + math.pi * 200 * 100
    close(found["area_mm2"], 3_000_000 - holes)
    assert found["cutouts"] == 5


def test_drawn_from_behind_is_mirrored(tmp_path):
    def draw(doc, msp):
        msp.add_lwpolyline(
            [(-1000, 0), (0, 0), (0, 500), (-800, 500)], close=True, dxfattribs={"extrusion": (0, 0, -1)}
        )
        msp.add_circle((-300, 200), 40, dxfattribs={"extrusion": (0, 0, -1)})

    found = measure(drawing(tmp_path, draw))
    close(found["area_mm2"], 450_000 - math.pi * 1600)
    # Object coordinates of extrusion (0, 0, -1) have x reversed: ezdxf's OCS agrees.
    from ezdxf.math import OCS

    assert OCS((0, 0, -1)).to_wcs((-300, 200, 0)).x == pytest.approx(300)
    assert found["edges"][0]["from_mm"] == [0, 0] and found["edges"][0]["to_mm"] == [1000, 0]


def test_units(tmp_path):
    square = lambda doc, msp: msp.add_lwpolyline([(0, 0), (20, 0), (20, 20), (0, 20)], close=True)
    inches = measure(drawing(tmp_path, square, units=1))
    close(inches["width_mm"], 508)
    assert inches["shape"] == "square"
    unknown = drawing(tmp_path, square, units=0)
    assert refused(unknown)["code"] == "outline-units-missing"
    close(measure(unknown, "--unit", "cm")["width_mm"], 200)


def test_layers(tmp_path):
    def draw(doc, msp):
        msp.add_lwpolyline([(0, 0), (900, 0), (900, 400), (0, 400)], close=True, dxfattribs={"layer": "Panel"})
        msp.add_circle((200, 200), 60, dxfattribs={"layer": "Holes"})
        msp.add_line((100, 50), (800, 50), dxfattribs={"layer": "Etch"})
        msp.add_line((-50, -50), (2000, -50), dxfattribs={"layer": "Frame"})

    file = drawing(tmp_path, draw)
    assert refused(file)["code"] == "outline-open"
    found = measure(file, "--outline-layer", "panel", "--cutout-layer", "HOLES", "--etching-layer", "Etch")
    assert found["cutouts"] == 1 and found["etch_length_mm"] == 700


@pytest.mark.parametrize(
    "draw, code, at",
    [
        (lambda m: m.add_lwpolyline([(0, 0), (100, 100), (100, 0), (0, 60)], close=True), "outline-self-crossing", (37.5, 37.5)),
        (lambda m: m.add_lwpolyline([(0, 0), (100, 0), (100, 90)]), "outline-open", (0, 0)),
        (lambda m: (m.add_lwpolyline([(0, 0), (100, 0), (100, 90)]), m.add_line((100, 90), (0.5, 0))), "outline-gap", (0, 0)),
        (lambda m: (m.add_circle((0, 0), 50), m.add_circle((0, 0), 50)), "outline-duplicate", (-50, 0)),
        (lambda m: (m.add_circle((0, 0), 50), m.add_circle((40, 0), 20)), "cutout-touches-outline", None),
        (lambda m: (m.add_circle((0, 0), 50), m.add_circle((200, 0), 20)), "outline-several", (220, 0)),
        (lambda m: (m.add_circle((0, 0), 50), m.add_line((3, 4), (3, 4))), "outline-zero-length", (3, 4)),
    ],
)
def test_flaws_are_told_with_their_place(tmp_path, draw, code, at):
    error = refused(drawing(tmp_path, lambda doc, msp: draw(msp)))
    assert error["code"] == code and error["remedy"]
    if at is not None:
        assert error["at_mm"] == pytest.approx(at, abs=1e-6)


def test_self_crossing_is_where_shapely_sees_it(tmp_path):
    # Crossing of two lines: shapely's intersection.
    points = [(0, 0), (731, 402), (690, 17), (55, 510)]
    crossing = LineString(points[:2]).intersection(LineString([points[2], points[3]]))
    error = refused(drawing(tmp_path, lambda doc, msp: msp.add_lwpolyline(points, close=True)))
    assert error["at_mm"] == pytest.approx((crossing.x, crossing.y), abs=1e-6)


@pytest.mark.parametrize("seed", range(30))
def test_crossing_polygons_are_refused_where_shapely_calls_them_invalid(tmp_path, seed):
    rng = random.Random(300 + seed)
    points = [(rng.uniform(0, 1000), rng.uniform(0, 1000)) for _ in range(rng.randint(4, 6))]
    done = run(drawing(tmp_path, lambda doc, msp: msp.add_lwpolyline(points, close=True)), "--json")
    assert (done.returncode == 0) == Polygon(points).is_valid


SVG = '<svg xmlns="http://www.w3.org/2000/svg" width="{w}" height="{h}" viewBox="0 0 {vw} {vh}">{body}</svg>'


@pytest.mark.parametrize(
    "data",
    [
        "M 100 100 L 900 120 Q 1000 300 880 500 T 600 700 C 400 800 200 640 120 600 S 40 300 100 100 Z",
        "M 100 100 H 900 V 500 A 200 120 15 0 1 500 560 L 100 500 Z",
        "m 100,100 c 300,-80 500,0 700,40 s 20,300 -80,420 -500,0 -620,-60 z",
    ],
)
def test_svg_paths_against_svgpathtools(tmp_path, data):
    file = tmp_path / "drawing.svg"
    file.write_text(SVG.format(w="500mm", h="400mm", vw=1000, vh=800, body=f'<path d="{data}"/>'))
    found = measure(file)
    path = parse_path(data)
    # Half scale by viewBox; length and area by svgpathtools and scipy's quadrature over its derivatives.
    length = sum(s.length(error=1e-10) for s in path)
    def piece(s):
        f = lambda t: (s.point(t).conjugate() * s.derivative(t)).imag / 2
        return integrate.quad(f, 0, 1, epsabs=1e-9, limit=200)[0]
    close(found["perimeter_mm"], length / 2, 1e-6)
    close(found["area_mm2"], abs(sum(map(piece, path))) / 4, 1e-6)


def test_svg_shapes_transforms_and_units(tmp_path):
    body = (
        '<g transform="translate(10 20) rotate(30)"><rect width="600" height="300" rx="40"/>'
        '<circle cx="150" cy="150" r="50" transform="scale(1 0.5) translate(0 120)"/></g>'
    )
    file = tmp_path / "drawing.svg"
    file.write_text(SVG.format(w="10in", h="10in", vw=1000, vh=1000, body=body))
    found = measure(file)
    scale = 0.254**2
    close(found["area_mm2"], (600 * 300 - (4 - math.pi) * 1600 - math.pi * 50 * 25) * scale)
    file.write_text(SVG.format(w="1000", h="1000", vw=1000, vh=1000, body=body))
    assert refused(file)["code"] == "outline-units-missing"
    close(measure(file, "--unit", "px")["area_mm2"], found["area_mm2"] / scale * (25.4 / 96) ** 2)


def test_svg_within_svg(tmp_path):
    # Expected by hand from SVG 1.1, 7.8: 200 by 100 units shown in 400 by 400, middle, keeps its shape: factor 2.
    inner = '<svg x="50" y="60" width="400" height="400" viewBox="0 0 200 100"{more}><rect width="150" height="90"/></svg>'
    hole = '<symbol id="tap" viewBox="0 0 10 10"><circle cx="5" cy="5" r="2"/></symbol>'
    file = tmp_path / "drawing.svg"

    def write(more="", extra=""):
        body = hole + inner.format(more=more) + '<use href="#tap" x="100" y="200" width="50" height="50"/>' + extra
        file.write_text(SVG.format(w="1000mm", h="1000mm", vw=1000, vh=1000, body=body))

    write()
    found = measure(file)
    close(found["area_mm2"], 300 * 180 - math.pi * 10**2)
    assert found["cutouts"] == 1
    # Middle of the window: 100 of the 400 are spare above; y points up in what is told.
    assert found["edges"][0]["from_mm"] == pytest.approx([50, 1000 - 60 - 100 - 180])
    write(' preserveAspectRatio="none"')
    close(measure(file)["area_mm2"], 300 * 360 - math.pi * 10**2)
    write(extra='<svg width="20" height="20"><circle cx="15" cy="15" r="9"/></svg>')
    error = refused(file)
    assert error["code"] == "outline-unsupported" and "beyond the border" in error["message"], error
    write(extra='<svg viewBox="0 0 1 1"><circle cx="1" cy="1" r="1"/></svg>')
    assert "depends on what is around it" in refused(file)["message"]


def test_what_is_refused_is_told_with_its_place_and_drawn(tmp_path):
    frame = lambda m: m.add_lwpolyline([(0, 0), (900, 0), (900, 400), (0, 400)], close=True)
    cases = [
        # Object coordinates of a tilted circle: ezdxf's OCS says where it is seen.
        (lambda m: m.add_circle((100, 200, 7), 50, dxfattribs={"extrusion": (0.6, 0, 0.8)}), "leans out"),
        (lambda m: setattr(m.add_spline([(300, 100), (400, 300), (300, 100)]), "closed", True), "fit points alone"),
        (lambda m: m.add_3dface([(500, 100), (600, 100), (600, 200), (500, 200)]), "cannot be part of an outline"),
    ]
    from ezdxf.math import OCS

    seen = OCS((0.6, 0, 0.8)).to_wcs((100, 200, 7))
    places = [(seen.x, seen.y), (300, 100), (500, 100)]
    for (draw, says), at in zip(cases, places):
        file = drawing(tmp_path, lambda doc, msp: (frame(msp), draw(msp)))
        picture = tmp_path / "flaws.svg"
        error = refused(file, "--picture", str(picture))
        assert says in error["message"] and error["remedy"], error
        assert error["at_mm"] == pytest.approx(at, abs=1e-6), error
        assert picture.read_text().count("<circle") == 1
        picture.unlink()


def test_hairs_out_of_the_plane_are_flat(tmp_path):
    def draw(doc, msp):
        msp.add_line((0, 0, 0), (900, 0, 1e-7))
        msp.add_line((900, 0, 1e-7), (900, 400, 0))
        msp.add_line((900, 400, 0), (0, 0, 0))
        msp.add_circle((700, 150), 50, dxfattribs={"extrusion": (1e-9, 0, 1)})

    close(measure(drawing(tmp_path, draw))["area_mm2"], 180_000 - math.pi * 2500)


def test_joints_of_the_stone_come_in_and_go_out(tmp_path):
    def draw(doc, msp):
        msp.add_lwpolyline([(0, 0), (2000, 0), (2000, 400), (0, 400)], close=True, dxfattribs={"layer": "PANEL"})
        msp.add_line((850, -5), (850, 405), dxfattribs={"layer": "STONE"})

    file = drawing(tmp_path, draw)
    layers = ["--outline-layer", "PANEL", "--joint-layer", "STONE"]
    split = measure(file, *layers, "--sheet", "1200mmx600mm")["fit"]["splits"][0]
    assert [s["on_joint"] for s in split["seams"]] == [True] and split["seams"][0]["from_mm"][0] == 850
    for ending, names in [("dxf", ("OUTLINE", "JOINTS")), ("svg", ("outline", "joints"))]:
        out = tmp_path / f"out.{ending}"
        out.write_text(run(file, *layers, "--as", ending).stdout)
        again = measure(out, "--outline-layer", names[0], "--joint-layer", names[1], "--sheet", "1200mmx600mm")
        assert [s["on_joint"] for s in again["fit"]["splits"][0]["seams"]] == [True], ending
        close(again["area_mm2"], 800_000)
        if ending == "dxf":
            doc = ezdxf.readfile(out)
            assert not doc.audit().errors and [e.dxf.layer for e in doc.modelspace()] == ["OUTLINE", "JOINTS"]


def outline_json():
    return {
        "outer": {
            "start_mm": [0, 0],
            "segments": [
                {"kind": "line", "to_mm": [1200, 0]},
                {"kind": "arc", "to_mm": [1200, 400], "bulge": 0.3},
                {"kind": "cubic", "control_1_mm": [900, 500], "control_2_mm": [600, 300], "to_mm": [500, 400]},
                {"kind": "line", "to_mm": [0, 400]},
                {"kind": "line", "to_mm": [0, 0]},
            ],
        },
        "cutouts": [
            {"segments": [{"kind": "circle", "centre_mm": [300, 150], "radius_mm": 33.3}]},
            {
                "segments": [
                    {"kind": "ellipse", "centre_mm": [800, 150], "major_mm": [60, 80], "ratio": 0.5,
                     "start_rad": 1, "sweep_rad": -math.tau}
                ]
            },
        ],
        "etchings": [{"start_mm": [100, 250], "segments": [{"kind": "line", "to_mm": [600, 250]}]}],
        "marks": [{"kind": "note", "at_mm": [600, 200], "text": "façade"}],
    }


def write_json(tmp_path, value):
    file = tmp_path / "outline.json"
    file.write_text(json.dumps(value))
    return file


def test_our_dxf_is_clean_and_the_same(tmp_path):
    file = write_json(tmp_path, outline_json())
    found = measure(file)
    out = tmp_path / "cutter.dxf"
    out.write_text(run(file, "--as", "dxf").stdout)
    doc = ezdxf.readfile(out)
    # ezdxf's auditor finds nothing to fix.
    auditor = doc.audit()
    assert not auditor.errors and not auditor.fixes, [str(e.message) for e in auditor.errors + auditor.fixes]
    kinds = sorted(e.dxftype() for e in doc.modelspace())
    assert kinds == ["CIRCLE", "ELLIPSE", "LWPOLYLINE", "LWPOLYLINE", "LWPOLYLINE", "POINT", "SPLINE", "TEXT"]
    assert any(v[4] == 0.3 for p in doc.modelspace().query("LWPOLYLINE") for v in p), "arcs stay arcs"
    assert doc.units == 4
    layers = ["--outline-layer", "OUTLINE", "--cutout-layer", "CUTOUTS", "--etching-layer", "ETCHING", "--mark-layer", "MARKS"]
    again = measure(out, *layers)
    for key in ["area_mm2", "perimeter_mm", "cut_length_mm", "etch_length_mm", "width_mm", "height_mm"]:
        close(again[key], found[key], 1e-9)
    assert run(file, "--as", "dxf").stdout == out.read_text(), "the same bytes each time"


def test_our_svg_measures_the_same_in_svgpathtools(tmp_path):
    value = outline_json()
    del value["etchings"], value["cutouts"], value["marks"]
    file = write_json(tmp_path, value)
    found = measure(file)
    svg = run(file, "--as", "svg").stdout
    data = svg.split(' d="')[1].split('"')[0]
    close(parse_path(data).length(error=1e-10), found["perimeter_mm"], 1e-6)
    out = tmp_path / "out.svg"
    out.write_text(svg)
    close(measure(out)["area_mm2"], found["area_mm2"], 1e-9)


def test_the_schema_and_the_reader_agree(tmp_path):
    schema = json.loads((ROOT / "schema" / "outline.schema.json").read_text())
    validator = jsonschema.Draft202012Validator(schema)
    validator.check_schema(schema)
    good = outline_json()
    assert not list(validator.iter_errors(good)) and measure(write_json(tmp_path, good))

    def changed(change):
        value = outline_json()
        change(value)
        return value

    segment = lambda v, i: v["outer"]["segments"][i]
    bad = [
        changed(lambda v: v.pop("outer")),
        changed(lambda v: v.update(thickness=3)),
        changed(lambda v: v["outer"].pop("start_mm")),
        changed(lambda v: v["cutouts"][0].update(start_mm=[0, 0])),
        changed(lambda v: segment(v, 1).update(bulge=0)),
        changed(lambda v: segment(v, 1).pop("bulge")),
        changed(lambda v: segment(v, 1).update(bulge=2000)),
        changed(lambda v: segment(v, 0).update(to_mm=[1])),
        changed(lambda v: segment(v, 0).update(to_mm=[1e6, 0])),
        changed(lambda v: segment(v, 0).update(kind="curve")),
        changed(lambda v: segment(v, 0).update(bulge=1)),
        changed(lambda v: v["cutouts"][0]["segments"][0].update(radius_mm=0)),
        changed(lambda v: v["cutouts"][1]["segments"][0].update(ratio=1.5)),
        changed(lambda v: v["cutouts"][1]["segments"][0].update(sweep_rad=0)),
        changed(lambda v: v["marks"][0].update(kind="remark")),
        changed(lambda v: v["marks"][0].update(text="x" * 81)),
        changed(lambda v: v["etchings"][0].update(segments=[])),
    ]
    for value in bad:
        assert list(validator.iter_errors(value)), value
        error = refused(write_json(tmp_path, value))
        assert error["pointer"] is not None and error["line"] == 1, error


@pytest.mark.parametrize("seed", range(4))
def test_splits_add_up_in_shapely(tmp_path, seed):
    rng = random.Random(200 + seed)
    points = random_polygon(rng, rng.randint(5, 14))
    file = drawing(tmp_path, lambda doc, msp: msp.add_lwpolyline(points, close=True))
    done = measure(file, "--sheet", "1400mmx1000mm")
    if done["fit"]["fits"]:
        return
    polygon = Polygon(points)
    for option in done["fit"]["splits"]:
        # Pieces add up to the whole; every seam lies in the face: shapely.
        close(sum(p["area_mm2"] for p in option["pieces"]), polygon.area)
        for seam in option["seams"]:
            line = LineString([seam["from_mm"], seam["to_mm"]])
            assert polygon.buffer(1e-6).contains(line)
        # shapely's own splitting by the same lines gives as many parts.
        parts = [polygon]
        for seam in option["seams"]:
            from shapely.ops import split as shapely_split

            (x0, y0), (x1, y1) = seam["from_mm"], seam["to_mm"]
            dx, dy = (x1 - x0) * 1e-9, (y1 - y0) * 1e-9
            cutter = LineString([(x0 - dx * 1e3, y0 - dy * 1e3), (x1 + dx * 1e3, y1 + dy * 1e3)])
            parts = [g for p in parts for g in shapely_split(p, cutter).geoms]
        areas = sorted(p.area for p in parts if p.area > 1e-3)
        assert areas == pytest.approx(sorted(p["area_mm2"] for p in option["pieces"]), rel=1e-5)


def test_shape_classes(tmp_path):
    def classed(draw):
        return measure(drawing(tmp_path, lambda doc, msp: draw(msp)))["shape"]

    turned = lambda pts, a: [(x * math.cos(a) - y * math.sin(a), x * math.sin(a) + y * math.cos(a)) for x, y in pts]
    square = [(0, 0), (500, 0), (500, 500), (0, 500)]
    assert classed(lambda m: m.add_lwpolyline(turned(square, 0.7), close=True)) == "square"
    assert classed(lambda m: m.add_lwpolyline(square[::-1], close=True)) == "square"
    more = [(0, 0), (100, 0), (250, 0), (500, 0), (500, 333), (500, 500), (0, 500)]
    assert classed(lambda m: m.add_lwpolyline(more, close=True)) == "square"
    assert classed(lambda m: m.add_lwpolyline([(0, 0), (500, 0), (500, 300), (0, 300)], close=True)) == "rectangle"
    assert classed(lambda m: m.add_lwpolyline([(0, 0), (500, 0), (510, 300), (0, 300)], close=True)) == "polygon"
    assert classed(lambda m: m.add_lwpolyline([(0, 0), (500, 0), (0, 300)], close=True)) == "triangle"
    assert classed(lambda m: m.add_lwpolyline([(0, 0, 1), (500, 0, 1)], format="xyb", close=True)) == "circle"
    ring = list(Point(0, 0).buffer(400, quad_segs=32).exterior.coords)[:-1]
    assert classed(lambda m: m.add_lwpolyline(ring, close=True)) == "circle"
    slot = list(LineString([(0, 0), (700, 0)]).buffer(150, quad_segs=16).exterior.coords)[:-1]
    assert classed(lambda m: m.add_lwpolyline(slot, close=True)) == "curved"
    assert classed(lambda m: m.add_ellipse((0, 0), (300, 0), 0.9)) == "curved"
    assert classed(lambda m: m.add_lwpolyline([(0, 0), (500, 0), (500, 300, 0.01), (0, 300)], format="xyb", close=True)) == "curved"
