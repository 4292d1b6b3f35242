"""Driver counts and the Class 2 limit."""

from fractions import Fraction
from math import ceil

import pytest
from power_answers import calc, run


@pytest.mark.parametrize("rating_w", ["20", "30", "40", "60", "75", "96", "100", "192", "300"])
@pytest.mark.parametrize("load_share", ["0.8", "0.7", "0.75", "1"])
@pytest.mark.parametrize("drivers", [1, 2, 3, 7])
def test_a_load_of_exactly_the_usable_watts_is_no_further_driver(rating_w, load_share, drivers):
    # Exact rational arithmetic; the largest load share is common practice, no source.
    usable = Fraction(rating_w) * Fraction(load_share)
    exactly = usable * drivers
    for load, expected in [(exactly, drivers), (exactly + Fraction(1, 100), drivers + 1)]:
        answer = calc(
            "driver", "--volts", 24, "--watts", float(load), "--rating-w", rating_w, "--load-share", load_share
        )
        assert answer["drivers"] == expected == ceil(load / usable)
        assert answer["usable_w"] == pytest.approx(float(usable), rel=1e-12)
        assert answer["load_a"] == pytest.approx(float(load) / 24, rel=1e-9)


# NEC Chapter 9 Table 11(B), from memory: up to 20 V at most 5.0 A; over 20 V to 30 V at most 100/V A.
@pytest.mark.parametrize(
    ("volts", "rating_w", "exceeds"),
    [(12, 75, True), (12, 60, False), (12, 60.1, True), (24, 96, False), (24, 100, False), (24, 101, True), (24.5, 100.1, True), (20, 100, False), (20.1, 100.9, True)],
)
def test_class_2_is_never_more_than_not_exceeded(volts, rating_w, exceeds):
    answer = calc("driver", "--volts", volts, "--watts", 10, "--rating-w", rating_w)
    assert answer["class2"] == ("exceeds" if exceeds else "does not exceed") + " the Class 2 limit"


@pytest.mark.parametrize("option", ["--volts", "--watts", "--rating-w", "--load-share"])
@pytest.mark.parametrize("value", ["0", "-1", "nan"])
def test_numbers_without_sense_are_refused(option, value):
    ask = {"--volts": "24", "--watts": "10", "--rating-w": "96", "--load-share": "0.8", option: value}
    done = run("calc", "driver", *(f"{name}={number}" for name, number in ask.items()))
    assert done.returncode == 2  # wrong use
    assert option in done.stdout and "above 0" in done.stdout
