"""Drawings that nobody made for underlit: the samples that ezdxf's source ships, random ones that ezdxf writes in every
DXF version, and damaged ones. Each is read, or refused with a reason; nothing else ever happens.

Run by tests/run with the built program in UNDERLIT, and the unpacked samples in target/outside-samples. How many random
drawings of each kind: UNDERLIT_RANDOM_DRAWINGS (3 unless told).
"""

import io
import json
import math
import os
import random
import subprocess
import tarfile
from pathlib import Path

import ezdxf
import pytest
from ezdxf import recover
from shapely.geometry import LineString, Polygon
from shapely.ops import polygonize

UNDERLIT = os.environ["UNDERLIT"]
ROOT = Path(__file__).resolve().parents[3]
ARCHIVES = sorted((ROOT / "target" / "outside-samples").glob("ezdxf-*.tar.gz"))
assert ARCHIVES, "target/outside-samples is empty: tests/run fetches what belongs there"
COUNT = int(os.environ.get("UNDERLIT_RANDOM_DRAWINGS", "3"))
VERSIONS = ["R12", "R2000", "R2004", "R2007", "R2010", "R2013", "R2018"]


def samples():
    with tarfile.open(ARCHIVES[-1]) as archive:
        for member in archive.getmembers():
            if member.isfile() and member.name.lower().endswith(".dxf"):
                yield Path(member.name).name, archive.extractfile(member).read()


SAMPLES = dict(samples())


def answer(file, *args):
    """What underlit says of a drawing: its figures, or why not. Anything but exit codes 0 and 3 fails."""
    done = subprocess.run(
        [UNDERLIT, "calc", "outline", str(file), "--unit", "mm", "--json", *args],
        capture_output=True, text=True, timeout=60,
    )
    assert done.returncode in (0, 3), f"{file}: exit code {done.returncode}\n{done.stdout[-2000:]}{done.stderr[-2000:]}"
    assert "panicked" not in done.stderr
    said = json.loads(done.stdout)
    if done.returncode == 3:
        error = said["error"]
        assert error["code"] and error["message"] and error["remedy"], error
    else:
        assert said["area_mm2"] > 0 and said["perimeter_mm"] > 0
    return done.returncode, said


def test_the_samples_are_there():
    assert len(SAMPLES) >= 30, sorted(SAMPLES)


@pytest.mark.parametrize("name", sorted(SAMPLES))
def test_shipped_samples_are_read_or_refused(tmp_path, name):
    file = tmp_path / name
    file.write_bytes(SAMPLES[name])
    code, said = answer(file)
    # A text's frame is a polyline of its own in the file, and for ezdxf a part of the text.
    if code == 3 or name == "mtext_text_frame.dxf":
        return
    # What is read must be what ezdxf reads: the largest closed thing in model space, less what lies in it.
    doc, _ = recover.readfile(file)
    assert said["area_mm2"] == pytest.approx(net_area(doc), rel=1e-4), name


def test_some_samples_are_read(tmp_path):
    read = 0
    for name, bytes_ in SAMPLES.items():
        file = tmp_path / name
        file.write_bytes(bytes_)
        read += answer(file)[0] == 0
    assert read >= 3


def net_area(doc):
    """The area of the outer contour less what lies in it: closed forms, and ezdxf's own points along splines."""
    areas = [area_of(entity) for entity in ezdxf_lines(doc.modelspace())]
    if not areas:
        # Loose lines: shapely joins them.
        ends = [(e.dxf.start, e.dxf.end) for e in doc.modelspace().query("LINE")]
        lines = [LineString([(round(p.x, 6), round(p.y, 6)) for p in pair]) for pair in ends]
        return max(polygon.area for polygon in polygonize(lines))
    areas.sort(reverse=True)
    return areas[0] - sum(areas[1:])


def area_of(entity):
    kind = entity.dxftype()
    if kind == "CIRCLE":
        return math.pi * entity.dxf.radius**2
    if kind == "ELLIPSE":
        return math.pi * entity.dxf.major_axis.magnitude ** 2 * entity.dxf.ratio
    if kind == "SPLINE":
        # Along its own domain only: a closed spline comes wrapped, and ezdxf's flattening runs past the ends.
        curve = entity.construction_tool()
        knots, steps = list(curve.knots()), 4000
        low, high = knots[curve.order - 1], knots[curve.count]
        return Polygon([(p.x, p.y) for p in curve.points(low + (high - low) * i / steps for i in range(steps))]).area
    corners = list(entity.get_points("xyb")) if kind == "LWPOLYLINE" else [
        (v.dxf.location.x, v.dxf.location.y, v.dxf.get("bulge", 0)) for v in entity.vertices
    ]
    area = 0.0
    for (x0, y0, bulge), (x1, y1, _) in zip(corners, corners[1:] + corners[:1]):
        area += (x0 * y1 - x1 * y0) / 2
        if bulge:
            # The segment between chord and arc: any book of mensuration.
            chord, angle = math.dist((x0, y0), (x1, y1)), 4 * math.atan(bulge)
            radius = chord * (1 + bulge**2) / (4 * abs(bulge))
            area += radius**2 * (angle - math.sin(angle)) / 2
    return abs(area)


def ezdxf_lines(entities):
    for entity in entities:
        if entity.dxftype() == "INSERT":
            for placed in entity.multi_insert() if entity.mcount > 1 else [entity]:
                yield from ezdxf_lines(placed.virtual_entities())
        elif entity.dxftype() in ("CIRCLE", "ELLIPSE", "LWPOLYLINE", "POLYLINE", "SPLINE"):
            yield entity


def saved(doc, tmp_path, rng, name="random.dxf"):
    file = tmp_path / name
    if doc.dxfversion != "AC1009" and rng.random() < 0.3:
        doc.saveas(file, fmt="bin")
    else:
        doc.saveas(file)
    return file


def ring(rng, x, y, size, corners):
    turns = [math.tau * i / corners for i in range(corners)]
    return [(x + size * rng.uniform(0.5, 1) * math.cos(t), y + size * rng.uniform(0.5, 1) * math.sin(t)) for t in turns]


def put_closed(doc, space, rng, x, y, size):
    """One closed thing of a random kind about a place, within the size."""
    old = doc.dxfversion == "AC1009"
    kinds = ["circle", "polyline", "block"] + ([] if old else ["ellipse", "lwpolyline", "spline", "rational"])
    kind = rng.choice(kinds)
    behind = {"extrusion": (0, 0, -1)} if rng.random() < 0.2 else {}
    if kind == "circle":
        space.add_circle((-x if behind else x, y), size * 0.9, dxfattribs=behind)
    elif kind == "polyline":
        space.add_polyline2d(ring(rng, x, y, size, rng.randint(3, 9)), close=True)
    elif kind == "lwpolyline":
        points = ring(rng, x, y, size * 0.8, rng.randint(3, 9))
        space.add_lwpolyline([(px, py, rng.choice([0, 0.1])) for px, py in points], format="xyb", close=True)
    elif kind == "ellipse":
        turn = rng.uniform(0, math.tau)
        axis = (size * 0.9 * math.cos(turn), size * 0.9 * math.sin(turn))
        space.add_ellipse((x, y), axis, rng.uniform(0.3, 1))
    elif kind == "block":
        block = doc.blocks.new_anonymous_block()
        block.add_circle((0, 0), size * 0.4)
        scale = rng.choice([1, -1, 1.5])
        space.add_blockref(
            block.name, (x, y), dxfattribs={"xscale": scale, "yscale": abs(scale), "rotation": rng.uniform(0, 360)}
        )
    else:
        points = [(px, py, 0) for px, py in ring(rng, x, y, size * 0.9, rng.randint(5, 9))]
        spline = space.add_spline(degree=3)
        if kind == "spline":
            spline.set_closed(points, degree=3)
        else:
            spline.set_closed_rational(points, [rng.uniform(0.5, 2) for _ in points], degree=3)


@pytest.mark.parametrize("version", VERSIONS)
@pytest.mark.parametrize("seed", range(COUNT))
def test_sound_random_drawings_are_read(tmp_path, version, seed):
    rng = random.Random(f"sound {version} {seed}")
    doc = ezdxf.new(version)
    space = doc.modelspace()
    outer = [(0, 0), (3000, 0), (3000, 2000), (0, 2000)]
    if version == "R12" or rng.random() < 0.5:
        space.add_polyline2d(outer, close=True)
    else:
        space.add_lwpolyline(outer, close=True)
    for i in range(rng.randint(0, 6)):
        put_closed(doc, space, rng, 400 + 450 * i, 500 + rng.uniform(0, 1000), rng.uniform(40, 190))
    # What is no line is left out and said so.
    space.add_text("a remark", dxfattribs={"insert": (100, 100)})
    space.add_point((50, 50))
    code, said = answer(saved(doc, tmp_path, rng))
    assert code == 0, said
    assert said["area_mm2"] == pytest.approx(net_area(doc), rel=1e-6)


def put_anything(doc, space, rng):
    """Any entity that ezdxf can write, sound or not, anywhere."""
    old = doc.dxfversion == "AC1009"
    place = lambda: (rng.uniform(-1000, 1000), rng.uniform(-1000, 1000), rng.choice([0, 0, 0, rng.uniform(-5, 5)]))
    points = [place() for _ in range(rng.randint(1, 7))]
    extrusion = rng.choice([(0, 0, 1), (0, 0, 1), (0, 0, -1), (1, 0, 0), (0.6, 0, 0.8)])
    layer = rng.choice(["0", "OUTLINE", "off", "façade ß"])
    about = {"extrusion": extrusion, "layer": layer}
    kinds = [
        lambda: space.add_line(points[0], points[-1], dxfattribs={"layer": layer}),
        lambda: space.add_arc(points[0], rng.uniform(0.1, 500), rng.uniform(-400, 400), rng.uniform(-400, 400), dxfattribs=about),
        lambda: space.add_circle(points[0], rng.choice([0.001, rng.uniform(0.1, 500)]), dxfattribs=about),
        lambda: space.add_polyline2d(points, close=rng.random() < 0.5, dxfattribs=about),
        lambda: space.add_polyline3d(points, close=rng.random() < 0.5, dxfattribs={"layer": layer}),
        lambda: space.add_polymesh((3, 3), dxfattribs={"layer": layer}),
        lambda: space.add_text("Größe ▒", dxfattribs={"insert": points[0], "layer": layer}),
        lambda: space.add_point(points[0], dxfattribs={"layer": layer}),
        lambda: space.add_solid([place() for _ in range(4)], dxfattribs={"layer": layer}),
        lambda: space.add_3dface([place() for _ in range(4)], dxfattribs={"layer": layer}),
        lambda: put_closed(doc, space, rng, rng.uniform(-900, 900), rng.uniform(-900, 900), rng.uniform(10, 300)),
        lambda: put_block(doc, space, rng, points, about),
        lambda: space.add_blockref("there-is-none", points[0]),
    ]
    if not old:
        kinds += [
            lambda: space.add_ellipse(points[0], (rng.uniform(1, 300), rng.uniform(1, 300)), rng.uniform(0.05, 1),
                                      rng.uniform(0, 3), rng.uniform(3, 6.28), dxfattribs={"layer": layer}),
            lambda: space.add_lwpolyline([(p[0], p[1], rng.uniform(-2, 2)) for p in points], format="xyb",
                                         close=rng.random() < 0.5, dxfattribs=about),
            lambda: space.add_spline(points + [place(), place()], dxfattribs={"layer": layer}),
            lambda: space.add_open_spline(points + [place() for _ in range(4)]),
            lambda: space.add_rational_spline(points + [place() for _ in range(4)], [rng.uniform(0.1, 5)] * (len(points) + 4)),
            lambda: space.add_mtext("words\\Pand more", dxfattribs={"insert": points[0]}),
            lambda: space.add_hatch().paths.add_polyline_path([(p[0], p[1]) for p in points + [place(), place()]]),
            lambda: space.add_linear_dim((0, 100), (0, 0), (100, 0)).render(),
            lambda: space.add_ray(points[0], (1, 0, 0)),
            lambda: space.add_mesh(),
            lambda: space.add_leader([points[0], place()]),
        ]
    rng.choice(kinds)()


def put_block(doc, space, rng, points, about):
    block = doc.blocks.new_anonymous_block()
    for _ in range(rng.randint(1, 3)):
        block.add_line((rng.uniform(-50, 50), 0), (0, rng.uniform(-50, 50)))
    if rng.random() < 0.3:
        inner = doc.blocks.new_anonymous_block()
        inner.add_circle((0, 0), 5)
        block.add_blockref(inner.name, (3, 4), dxfattribs={"rotation": 20})
    size = {"xscale": rng.choice([1, -1, 2.5, 1e-9]), "yscale": rng.choice([1, 3]), "rotation": rng.uniform(0, 360)}
    rows = {"row_count": rng.randint(1, 3), "column_count": rng.randint(1, 3), "row_spacing": 70, "column_spacing": 90}
    space.add_blockref(block.name, points[0], dxfattribs={**about, **size, **rows})


def wild(version, rng):
    doc = ezdxf.new(version)
    doc.layers.add("off").off()
    for _ in range(rng.randint(1, 25)):
        put_anything(doc, doc.modelspace(), rng)
    return doc


@pytest.mark.parametrize("version", VERSIONS)
@pytest.mark.parametrize("seed", range(COUNT))
def test_wild_random_drawings_are_read_or_refused(tmp_path, version, seed):
    rng = random.Random(f"wild {version} {seed}")
    file = saved(wild(version, rng), tmp_path, rng)
    answer(file)
    answer(file, "--outline-layer", "OUTLINE", "--mark-layer", "façade ß", "--join", "5mm")


@pytest.mark.parametrize("seed", range(4 * COUNT))
def test_damaged_drawings_are_read_or_refused(tmp_path, seed):
    rng = random.Random(f"damaged {seed}")
    if rng.random() < 0.5:
        bytes_ = SAMPLES[rng.choice(sorted(SAMPLES))][:200_000]
    else:
        text = io.StringIO()
        wild(rng.choice(VERSIONS), rng).write(text)
        bytes_ = text.getvalue().encode()
    for _ in range(rng.randint(1, 4)):
        at = rng.randrange(len(bytes_))
        bytes_ = rng.choice([
            bytes_[:at],
            bytes_[:at] + bytes([rng.randrange(256)]) + bytes_[at + 1 :],
            bytes_[:at] + bytes_[at + rng.randint(1, 40) :],
            bytes_[:at] + bytes_[max(0, at - rng.randint(1, 400)) :],
            bytes_.replace(b"\n 10\n", b"\n 10\n1e", 1),
        ]) or b"0"
    file = tmp_path / "damaged.dxf"
    file.write_bytes(bytes_)
    answer(file)
