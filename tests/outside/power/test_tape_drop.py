"""The drop along an evenly loaded tape against a ladder of many small loads, solved with NumPy.

The ladder knows nothing of the closed forms I·R·(s − s²/2) and I·R·(s − s²)/2: it is Kirchhoff's current law
at each node.
"""

import json

import numpy as np
import pytest
from power_answers import written

ROWS = json.loads(written("tape_drop.json"))
NODES = 4000


def ladder(feed, amps, ohms):
    """Drop at NODES + 1 evenly spaced points; each carries an equal load, the ends half of one."""
    load = np.full(NODES + 1, amps / NODES)
    load[0] = load[-1] = amps / NODES / 2
    conductance = NODES / ohms
    if feed == "one":
        current = load[::-1].cumsum()[::-1][1:]  # what each piece still carries
        return np.concatenate([[0.0], np.cumsum(current / conductance)])
    inner = np.diag(np.full(NODES - 1, 2.0)) - np.diag(np.ones(NODES - 2), 1) - np.diag(np.ones(NODES - 2), -1)
    return np.concatenate([[0.0], np.linalg.solve(inner * conductance, load[1:-1]), [0.0]])


@pytest.fixture(scope="module")
def drops():
    cache = {}

    def of(feed, amps, ohms):
        key = (feed, amps, ohms)
        if key not in cache:
            cache[key] = ladder(*key)
        return cache[key]

    return of


def test_there_are_rows_for_both_ways_of_feeding():
    assert {row["feed"] for row in ROWS} == {"one", "both"} and len(ROWS) > 100


@pytest.mark.parametrize("row", [row for row in ROWS if "fraction" in row])
def test_the_drop_at_every_point(row, drops):
    expected = drops(row["feed"], row["amps"], row["ohms"])[round(row["fraction"] * NODES)]
    assert row["drop_v"] == pytest.approx(expected, abs=1e-6 * row["amps"] * row["ohms"])


@pytest.mark.parametrize("row", [row for row in ROWS if "largest_v" in row])
def test_the_largest_drop(row, drops):
    expected = drops(row["feed"], row["amps"], row["ohms"]).max()
    assert row["largest_v"] == pytest.approx(expected, rel=1e-6)
