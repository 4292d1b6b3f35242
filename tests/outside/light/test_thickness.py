"""`calc through` at half, one and a half and twice the measured thickness against simulated slabs (`slabs.py`).

Stones are drawn: reduced scattering 0.05 to 2 for each mm, absorption 0.0005 to 0.05, anisotropy 0 to 0.8, index 1.45 to 1.65,
10 mm thick, since only the products with the thickness count; alone, or over a panel that sends back 0.3 to 0.8; one, two (10 and 16 mm) and three (6, 10 and 16 mm) pieces
are measured, each reading off by 2 %.
"""

import os

import numpy as np
import pytest
from light_answers import calc, write_columns
from slabs import photons, streams

SLABS = int(os.environ.get("UNDERLIT_SLABS", "80"))
# The figures of `src/light/slab.rs` were settled on the stones of seeds 7 and 21.
SEED = int(os.environ.get("UNDERLIT_SEED", "77"))
NM = np.arange(380, 781, 5)
WANTED = (5, 15, 20)
MEASURED = {1: (10,), 2: (10, 16), 3: (6, 10, 16)}
THICKNESSES = (5, 6, 10, 15, 16, 20)


@pytest.mark.parametrize("sent_back", [0.0, 0.6])
@pytest.mark.parametrize("case", [(10, 1.0, 1e-9, 0.0, 1.5), (8, 0.5, 0.02, 0.0, 1.5), (8, 2.5, 0.02, 0.8, 1.6)])
def test_the_two_simulations_agree(case, sent_back):
    """Within four deviations of the photons' own noise."""
    d, *stone = case
    count = 30000
    found = photons(d, *stone, np.random.default_rng(3), count, sent_back)
    (truth,) = streams([d], *stone, sent_back)
    assert abs(found - truth) < 4 * np.sqrt(truth * (1 - truth) / count), (found, truth)


def drawn(over_panel):
    rng = np.random.default_rng(SEED)
    made = []
    while len(made) < SLABS:
        reduced, absorbed = np.exp(rng.uniform(np.log([0.05, 0.0005]), np.log([2.0, 0.05])))
        g, index = rng.choice([0.0, 0.5, 0.8]), rng.uniform(1.45, 1.65)
        sent_back = rng.uniform(0.3, 0.8) if over_panel else 0.0
        passes = streams(THICKNESSES, reduced / (1 - g), absorbed, g, index, sent_back)
        if passes[-1] > 0.002:
            made.append(dict(zip(THICKNESSES, passes, strict=True)))
    return made


@pytest.fixture(scope="module", params=[False, True], ids=["alone", "over a panel"])
def stones(request):
    return request.param, drawn(request.param)


def told(folder, stones, pieces, *more):
    """Each stone's readings and the answer's rows; stones whose readings contradict each other are left out."""
    rng = np.random.default_rng(SEED + pieces)
    files, all_read = [], {}
    for i, passes in enumerate(stones):
        read = {d: passes[d] * np.exp(rng.normal(0, 0.02)) for d in MEASURED[pieces]}
        if sorted(read.values(), reverse=True) != list(read.values()):
            continue
        header = "nm," + ",".join(f"t_{d}mm" for d in read)
        file = write_columns(folder / f"{i}.csv", NM, *[np.full(NM.size, t) for t in read.values()], header=header)
        files.append(file)
        all_read[str(file)] = (read, passes)
    wanted = [f"{d}mm" for d in (*WANTED, *MEASURED[pieces])]
    answer = calc("through", "--stone", *files, "--light", "LED-B3", "--thickness", *wanted, *more)
    return [(*all_read[one["stone"]], one) for one in answer["stones"]]


@pytest.mark.parametrize("pieces", [1, 2, 3])
def test_ranges_hold_the_slab_as_often_as_they_say(tmp_path, stones, pieces):
    over_panel, made = stones
    held, widths = {d: [] for d in WANTED}, {d: [] for d in WANTED}
    for read, passes, answer in told(tmp_path, made, pieces, *["--over-panel"] * over_panel):
        rows = {row["thickness_mm"]: row for row in answer["thicknesses"]}
        for d in WANTED:
            held[d].append(rows[d]["t_low"] <= passes[d] <= rows[d]["t_high"])
            widths[d].append(rows[d]["t_high"] / rows[d]["t_low"])
        for d, t in read.items():
            assert rows[d]["t_low"] - 1e-6 <= t <= rows[d]["t_high"] + 1e-6, "a measured point lies in its own range"
    shares = {d: round(float(np.mean(all_)), 3) for d, all_ in held.items()}
    every = float(np.mean([h for all_ in held.values() for h in all_]))
    width = {d: round(float(np.median(all_)), 2) for d, all_ in widths.items()}
    print(f"\n{pieces} measured: held {shares}, all {every:.3f}, most over least {width}, {len(held[5])} stones")
    assert 0.85 <= every <= 0.97, shares
    assert all(share >= 0.8 for share in shares.values()), shares
