"""`calc outline --lit`: how even the light is, against photons followed forwards one by one (Monte-Carlo), written apart.

A lit edge sends Lambertian light, which the guide (index 1.49) gathers within 42.2° of the normal; each photon goes straight
until the face lets it out (exponential), is reflected at walls that it meets more flatly, leaves at others. Walls are
straight lines and whole circles, exact. Compared are the nine points, relative to their greatest, and the share that comes
out of the face. Only light in the plane of the guide is followed, in both.
"""

import json
import os
import subprocess
from pathlib import Path

import numpy as np
import pytest

ROOT = Path(__file__).resolve().parents[3]
BINARY = os.environ.get("UNDERLIT", str(ROOT / "target" / "debug" / "underlit"))
CONE = np.arcsin(1 / 1.49)
COUNT = 400_000


def told(folder, svg, lit, share, guide_mm=8):
    file = folder / "panel.svg"
    file.write_text(svg, encoding="utf-8")
    command = [BINARY, "calc", "outline", str(file), "--lit", lit, "--extracted-share", str(share)]
    command += ["--guide-thickness", f"{guide_mm}mm", "--json"]
    done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=300)
    assert done.returncode == 0, done.stdout + done.stderr
    return json.loads(done.stdout)["evenness"]


def svg(width, height, inside):
    return (f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" '
            f'viewBox="0 0 {width} {height}">{inside}</svg>')


def lines(corners, lit):
    """Walls round corners, counter-clockwise; lit by their numbers from 0."""
    return [("line", np.array(a, float), np.array(b, float), i in lit)
            for i, (a, b) in enumerate(zip(corners, [*corners[1:], corners[0]]))]


def emitted(walls, count, rng):
    """Places and directions of photons from the lit walls."""
    lit = [w for w in walls if w[3]]
    lengths = np.array([np.linalg.norm(w[2] - w[1]) if w[0] == "line" else 2 * np.pi * w[2] for w in lit])
    of = rng.choice(len(lit), count, p=lengths / lengths.sum())
    place, normal = np.zeros((count, 2)), np.zeros((count, 2))
    for i, wall in enumerate(lit):
        mine, u = of == i, rng.uniform(size=(of == i).sum())[:, None]
        if wall[0] == "line":
            along = wall[2] - wall[1]
            place[mine] = wall[1] + along * u
            normal[mine] = np.array([-along[1], along[0]]) / np.linalg.norm(along)
        else:
            way = np.c_[np.cos(2 * np.pi * u[:, 0]), np.sin(2 * np.pi * u[:, 0])]
            place[mine], normal[mine] = wall[1] + wall[2] * way, -way
    # Uniform radiance within the cone: flux goes as the cosine, so the sine is even.
    sine = rng.uniform(-np.sin(CONE), np.sin(CONE), count)
    cosine = np.sqrt(1 - sine**2)
    left = np.c_[-normal[:, 1], normal[:, 0]]
    return place, normal * cosine[:, None] + left * sine[:, None]


def photons(walls, per_mm, rng):
    """Where photons come out of the face."""
    place, way = emitted(walls, COUNT, rng)
    out = []
    for _ in range(60):
        best, normal = np.full(len(place), np.inf), np.zeros_like(place)
        for wall in walls:
            if wall[0] == "line":
                side = wall[2] - wall[1]
                across = way[:, 0] * side[1] - way[:, 1] * side[0]
                off = wall[1] - place
                with np.errstate(divide="ignore", invalid="ignore"):
                    far = (off[:, 0] * side[1] - off[:, 1] * side[0]) / across
                    share = (off[:, 0] * way[:, 1] - off[:, 1] * way[:, 0]) / across
                hit = (across > 0) & (far > 1e-6) & (share >= 0) & (share <= 1) & (far < best)
                best = np.where(hit, far, best)
                normal[hit] = np.array([-side[1], side[0]]) / np.linalg.norm(side)
            else:
                _, centre, radius, _, *hole = wall
                off = place - centre
                b, c = (off * way).sum(1), (off**2).sum(1) - radius**2
                root = b * b - c
                far = -b + np.where(bool(hole), -1, 1) * np.sqrt(np.maximum(root, 0))
                hit = (root > 0) & (far > 1e-6) & (far < best)
                best = np.where(hit, far, best)
                at = off + way * far[:, None]
                normal[hit] = (at / radius * (1 if hole else -1))[hit]
        free = rng.exponential(1 / per_mm, len(place))
        comes_out = free < best
        out.append(place[comes_out] + way[comes_out] * free[comes_out, None])
        place, way, normal, best = (v[~comes_out] for v in (place, way, normal, best))
        place = place + way * best[:, None]
        meets = -(way * normal).sum(1)
        stays = meets < np.cos(CONE)
        way = way + 2 * meets[:, None] * normal
        place, way = place[stays], way[stays]
    return np.concatenate(out)


RECTANGLE = svg(900, 300, '<rect x="0" y="0" width="900" height="300"/>')
L_SHAPE = svg(600, 600, '<path d="M0 600 H600 V300 H300 V0 H0 Z"/>')
CASES = {
    "one long edge": (RECTANGLE, "1", lines([(0, 0), (900, 0), (900, 300), (0, 300)], {0}), (900, 300)),
    "two long edges": (RECTANGLE, "1,3", lines([(0, 0), (900, 0), (900, 300), (0, 300)], {0, 2}), (900, 300)),
    "a circle": (svg(600, 600, '<circle cx="300" cy="300" r="300"/>'), "1", [("circle", np.array([300.0, 300.0]), 300.0, True)], (600, 600)),
    "a ring": (
        svg(600, 600, '<circle cx="300" cy="300" r="300"/><circle cx="300" cy="300" r="90"/>'), "1",
        [("circle", np.array([300.0, 300.0]), 300.0, True), ("circle", np.array([300.0, 300.0]), 90.0, False, "hole")], (600, 600),
    ),
    "a basin cut out": (
        svg(900, 450, '<rect x="0" y="0" width="900" height="450"/><circle cx="450" cy="225" r="110"/>'), "1",
        lines([(0, 0), (900, 0), (900, 450), (0, 450)], {0}) + [("circle", np.array([450.0, 225.0]), 110.0, False, "hole")], (900, 450),
    ),
    "an L": (L_SHAPE, "1", lines([(0, 0), (600, 0), (600, 300), (300, 300), (300, 600), (0, 600)], {0}), (600, 600)),
}


@pytest.mark.parametrize("case", CASES)
def test_nine_points_against_photons(tmp_path, case):
    drawing, lit, walls, (width, height) = CASES[case]
    share = 0.63
    per_mm = -np.log(1 - share) / 300
    answer = told(tmp_path, drawing, lit, share)["constant"]
    out = photons(walls, per_mm, np.random.default_rng(11))
    assert answer["out_share"] == pytest.approx(len(out) / COUNT, abs=0.02)
    # Squares about the nine places, smaller where a round edge is near.
    half = min(width, height) / (14 if len(walls) > 3 else 40)
    seen = []
    for i, one in enumerate(answer["nine_points"]):
        at = np.array([width * (2 * (i % 3) + 1) / 6, height * (2 * (i // 3) + 1) / 6])
        seen.append(None if one is None else (np.abs(out - at) < half).all(1).sum())
    there = np.array([s for s in seen if s is not None], float)
    model = np.array([m for m in answer["nine_points"] if m is not None])
    # Both relative to their mean, so that one place's noise is not everybody's.
    there, noise, model = there / there.mean(), 1 / np.sqrt(there.mean()), model / model.mean()
    off = np.abs(there - model)
    print(f"\n{case}: off {off.max():.3f} at most, {np.sqrt((off**2).mean()):.3f} on average, noise {noise:.3f}")
    assert (off < 0.06 + 3 * noise * np.sqrt(there)).all(), (there, model)


def test_thinner_guides_and_more_extraction(tmp_path):
    """Twice the extraction is a guide of half the thickness."""
    thick, thin = (told(tmp_path, RECTANGLE, "1", 0.63, d)["constant"] for d in (8, 4))
    more = told(tmp_path, RECTANGLE, "1", 1 - (1 - 0.63) ** 2)["constant"]
    assert thin["nine_points"] == pytest.approx(more["nine_points"], abs=1e-6)
    assert thin["out_share"] > thick["out_share"] and thin["face_uniformity"] < thick["face_uniformity"]
