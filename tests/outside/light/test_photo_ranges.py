"""`calc photo`: its ranges hold the truth as often as they say, over three sensors, each with 200 stones.

Truth is the sum of the known spectra (CIE 15:2018), the distance CIEDE2000 by colour-science. Each stone is photographed
over one of three LED whites, in turns with the white balanced to the panel and to daylight and as a JPEG of quality 75
and 92, and predicted under others.
"""

import json
import os
import subprocess

import numpy as np
import pytest
from cameras import (BARE, CHART_AT, SHAPE, STONE, Camera, adapted, average, chart_photo, delta_e, lab, photo, scaled, seen, sensors,
                     stone, tristimulus, values)
from colour.quality.cfi2017 import load_TCS_CIE2017
from light_answers import TARGET

STONES = int(os.environ.get("UNDERLIT_STONES", "200"))
# The sizes of the errors in `src/light/camera.rs` were settled on the stones of seeds 0, 1, 2 and 41: those of any other are
# new to them.
SEEDS = [int(os.environ["UNDERLIT_SEED"])] if "UNDERLIT_SEED" in os.environ else [5, 77]
PANELS = ("LED-B2", "LED-B3", "LED-B4")
TARGETS = ("LED-B1", "LED-B3", "LED-B5")


PHOTO = ("--stone", STONE, "--bare", BARE)


def told(folder, panel, files, how=PHOTO):
    """What `calc photo` says of each photo, or of each table where `how` says nothing of places; one that it refuses is left
    out."""
    binary = os.environ.get("UNDERLIT", str(TARGET / "debug" / "underlit"))
    command = [binary, "calc", "photo", "--photo" if how else "--values", *files, *how]
    command += ["--panel-light", panel, "--light", *TARGETS, "--json"]
    done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=600, cwd=folder)
    answer = json.loads(done.stdout)
    if "photos" in answer:
        return {row["photo"]: row for row in answer["photos"]}
    refused = {error["file"] for error in [answer["error"], *answer.get("others", [])]}
    left = [f for f in files if f not in refused]
    assert len(left) < len(files), answer
    return told(folder, panel, left, how)


def simulate(folder, seed, number, sensor):
    rng = np.random.default_rng(1000 * number + seed)
    cameras = {balance: Camera(sensor, balance) for balance in ("panel", "daylight")}
    made = {panel: {} for panel in PANELS}
    for i in range(STONES):
        panel, balance = PANELS[i % 3], ("panel", "panel", "daylight", "daylight")[i % 4]
        quality = (75, 92)[i // 4 % 2]
        known = stone(rng)
        bytes_ = photo(cameras[balance], panel, known, quality, rng)
        name = f"s{number}-{i}.jpg"
        (folder / name).write_bytes(bytes_)
        made[panel][name] = (known, balance)
    held = {"transmittance": [], "chroma": [], "colour": []}
    errors = {"ours": [], "scaling": [], "bradford": []}
    half_widths, misses, refused = [], [], 0
    for panel, all_made in made.items():
        answers = told(folder, panel, list(all_made))
        refused += len(all_made) - len(answers)
        for name, answer in answers.items():
            known, balance = all_made[name]
            assert answer["white_set"] == balance or panel == "LED-B4", (name, answer["white_set"], balance)
            truth = {t: tristimulus(t, known) for t in TARGETS}
            level = 0.6 / max(v[1] for v in truth.values())
            for row in answer["lights"]:
                target = row["light"]
                true = truth[target]
                passes, chroma = row["transmittance"], row["chroma"]
                c = float(np.hypot(*lab(true, target, level)[1:]))
                held["transmittance"].append(passes["low"] <= true[1] <= passes["high"])
                held["chroma"].append(chroma["low"] <= c <= chroma["high"])
                half_widths.append(0.5 * (passes["high"] - passes["low"]) / true[1])
                misses.append(abs(passes["value"] / true[1] - 1))
                equal = lambda xyz: lab(xyz / xyz[1], target, 0.5)  # noqa: E731
                x, y = row["x"], row["y"]
                errors["ours"].append(delta_e(equal(np.array([x / y, 1, (1 - x - y) / y])), equal(true)))
                pair = seen((folder / name).read_bytes())
                errors["scaling"].append(delta_e(equal(scaled(*pair, target)), equal(true)))
                errors["bradford"].append(delta_e(equal(adapted(*pair, target)), equal(true)))
                held["colour"].append(errors["ours"][-1] <= row["colour_within_de00"] + 0.05)
    return held, errors, np.median(half_widths), np.median(misses), refused


@pytest.mark.parametrize("number", range(3))
def test_ranges_hold_the_truth_as_often_as_they_say(tmp_path, number):
    """Each seed alone, and all of a sensor's together, which spread less."""
    shares = {"transmittance": [], "chroma": []}
    for seed in SEEDS:
        held, errors, half_width, miss, refused = simulate(tmp_path, seed, number, sensors()[number])
        share = {figure: float(np.mean(all_)) for figure, all_ in held.items()}
        mean = {way: round(float(np.nanmean(all_)), 2) for way, all_ in errors.items()}
        # The median of a normal error is 0.674 of its deviation, half a range of nine in ten 1.645: 2.44 times as much.
        ratio = half_width / miss / 2.44
        print(f"\nsensor {number}, seed {seed}: held {share}, ΔE00 mean {mean}, half width {half_width:.3f}, miss "
              f"{miss:.3f}, width over what the misses ask for {ratio:.2f}, refused {refused} of {STONES}")
        assert refused <= STONES * 0.15
        for figure, all_ in shares.items():
            all_.append(share[figure])
            assert 0.85 <= share[figure] <= 0.98, (figure, share)
        assert 0.5 <= ratio <= 2.0
        assert mean["ours"] < mean["bradford"] < mean["scaling"]
    for figure, all_ in shares.items():
        assert 0.85 <= np.mean(all_) <= 0.97, (figure, all_)


def beside_truth(rows, known):
    """For each light, whether transmittance and chroma hold the truth, and their widths: relative, and in chroma."""
    truth = {t: tristimulus(t, known) for t in TARGETS}
    level = 0.6 / max(v[1] for v in truth.values())
    for row in rows:
        true, passes, chroma = truth[row["light"]], row["transmittance"], row["chroma"]
        c = float(np.hypot(*lab(true, row["light"], level)[1:]))
        yield (passes["low"] <= true[1] <= passes["high"], chroma["low"] <= c <= chroma["high"],
               (passes["high"] - passes["low"]) / true[1], chroma["high"] - chroma["low"])


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("number", range(3))
def test_a_chart_narrows_the_ranges_and_they_still_hold(tmp_path, number, seed):
    """The same photos with and without the photo of another copy of the chart, askew and unevenly lit, and tables of linear
    values: linear sRGB alone, and the sensor's own with a chart."""
    rng = np.random.default_rng(700 * number + seed)
    cameras = {balance: Camera(sensors()[number], balance) for balance in ("panel", "daylight")}
    results = {way: [] for way in ("plain", "chart", "values", "values with chart")}
    for panel in PANELS:
        for balance in ("panel", "daylight"):
            camera, made = cameras[balance], {}
            for i in range(max(STONES // 6, 5)):
                known, name = stone(rng), f"{panel}-{balance}-{i}"
                (tmp_path / f"{name}.jpg").write_bytes(photo(camera, panel, known, (75, 92)[i % 2], rng))
                for chart in (False, True):
                    (tmp_path / f"{name}-{chart}.csv").write_bytes(values(camera, panel, known, rng, chart))
                made[name] = known
            chart = f"chart-{panel}-{balance}.jpg"
            (tmp_path / chart).write_bytes(chart_photo(camera, panel, rng))
            photos = [f"{name}.jpg" for name in made]
            answers = {
                "plain": told(tmp_path, panel, photos),
                "chart": told(tmp_path, panel, photos, (*PHOTO, "--chart-photo", chart, "--chart", CHART_AT)),
                "values": told(tmp_path, panel, [f"{name}-False.csv" for name in made], ()),
                "values with chart": told(tmp_path, panel, [f"{name}-True.csv" for name in made], ()),
            }
            ending = {"plain": ".jpg", "chart": ".jpg", "values": "-False.csv", "values with chart": "-True.csv"}
            common = [n for n in made if all(f"{n}{ending[way]}" in told_ for way, told_ in answers.items())]
            for way, told_ in answers.items():
                for name in common:
                    results[way] += beside_truth(told_[f"{name}{ending[way]}"]["lights"], made[name])
    found = {way: np.mean(rows, axis=0) for way, rows in results.items()}
    for way, (passes, chroma, width, chroma_width) in found.items():
        print(f"\nsensor {number}, seed {seed}, {way}: transmittance held {passes:.3f}, width {width:.3f}; chroma held {chroma:.3f}, "
              f"width {chroma_width:.2f}; {len(results[way]) // len(TARGETS)} stones", end="")
    assert len(results["plain"]) >= 0.7 * len(TARGETS) * 6 * max(STONES // 6, 5), "few are refused"
    for way, (passes, chroma, *_) in found.items():
        # Photos of one group share a chart and its errors, so that shares spread more than by single stones.
        assert 0.85 <= passes <= 0.99 and 0.85 <= chroma <= 0.995, (way, passes, chroma)
    for plain, narrow in (("plain", "chart"), ("values", "values with chart")):
        # How much passes is open by the panel and the stone's own unevenness, of which a chart says nothing; and a chart tells
        # nothing of how a sensor sees a stone's spectrum that is not the chart's, so that it narrows chroma by a little only.
        assert found[narrow][2] < 1.03 * found[plain][2]
        assert found[narrow][3] < 0.93 * found[plain][3], "the range of chroma is narrower"


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("kind", ["clouded", "veined"])
def test_the_mean_of_an_uneven_stone(tmp_path, kind, seed):
    """A stone clouded by ±22 %, and one with veins of another spectrum: the mean transmittance of all such stone, of which
    the photo shows a piece, and of the veined one the body's."""
    whole, body, width = [], [], []
    for number, sensor in enumerate(sensors()):
        rng = np.random.default_rng(5000 * number + seed)
        camera = Camera(sensor, "panel")
        made = {}
        for i in range(STONES // 5):
            known, vein = stone(rng), stone(rng)
            name = f"{kind}{number}-{i}.jpg"
            (tmp_path / name).write_bytes(photo(camera, "LED-B3", known, (75, 92)[i % 2], rng, kind, vein))
            made[name] = (known, vein)
        for name, answer in told(tmp_path, "LED-B3", list(made)).items():
            known, vein = made[name]
            for row in answer["lights"]:
                for held, figure, truth in ((whole, "whole_transmittance", average(kind, known, vein)), (body, "transmittance", known)):
                    true = tristimulus(row["light"], truth)[1]
                    held.append(row[figure]["low"] <= true <= row[figure]["high"])
                width.append(row["whole_transmittance"]["high"] / row["whole_transmittance"]["low"])
    print(f"\n{kind}: mean held {np.mean(whole):.3f}, body {np.mean(body):.3f}, most over least {np.median(width):.2f}, "
          f"{len(whole) // 3} of {3 * (STONES // 5)} photos")
    assert 0.85 <= np.mean(whole) <= 0.98
    assert len(whole) // 3 >= 0.9 * 3 * (STONES // 5)


def test_real_spectra(tmp_path):
    """The 99 samples of CIE 224:2017, spectra measured on real things of every kind (as colour-science 0.4.7 carries them,
    BSD-3-Clause), at a third of their level: no registry was found to carry spectra through stone that may be used."""
    samples = load_TCS_CIE2017(SHAPE).values.T
    held = {"transmittance": [], "chroma": []}
    told_of = 0
    for number, sensor in enumerate(sensors()):
        rng, camera = np.random.default_rng(number), Camera(sensor, "panel")
        made = {}
        for i, sample in list(enumerate(samples))[number::3]:
            name = f"real{i}.jpg"
            (tmp_path / name).write_bytes(photo(camera, "LED-B3", np.clip(sample, 0.002, 1) / 3, 92, rng))
            made[name] = np.clip(sample, 0.002, 1) / 3
        for name, answer in told(tmp_path, "LED-B3", list(made)).items():
            told_of += 1
            truth = {t: tristimulus(t, made[name]) for t in TARGETS}
            level = 0.6 / max(v[1] for v in truth.values())
            for row in answer["lights"]:
                true = truth[row["light"]]
                chroma = float(np.hypot(*lab(true, row["light"], level)[1:]))
                for figure, value in (("transmittance", true[1]), ("chroma", chroma)):
                    held[figure].append(row[figure]["low"] <= value <= row[figure]["high"])
    share = {figure: round(float(np.mean(all_)), 3) for figure, all_ in held.items()}
    print(f"\nreal spectra: held {share}, {told_of} of {len(samples)} photos")
    assert told_of >= 0.85 * len(samples)
    assert all(0.8 <= value <= 0.99 for value in share.values()), share
