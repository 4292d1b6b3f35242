"""The reflectances of the chart in `src/light/chart_values.rs`, each against colour-science 0.4.7 (`SDS_COLOURCHECKERS`)."""

import re

import numpy as np
from cameras import colour
from light_answers import ROOT


def test_every_reflectance():
    text = (ROOT / "src/light/chart_values.rs").read_text(encoding="utf-8")
    table = text[text.index("PERMILLE") :].split("= [", 1)[1]
    ours = np.array([[int(n) for n in re.findall(r"\d+", row)] for row in re.findall(r"\[([^][]*)\]", table)])
    wavelengths = np.arange(380, 781, 10)
    theirs = colour.SDS_COLOURCHECKERS["ColorChecker N Ohta"].values()
    theirs = np.array([np.interp(wavelengths, sd.wavelengths, sd.values) for sd in theirs])
    assert ours.shape == theirs.shape == (24, 41)
    assert np.abs(ours / 1000 - theirs).max() <= 0.0005 + 1e-9
