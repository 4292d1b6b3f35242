"""`calc through` against sums done here with NumPy over colour-science 0.4.7's CIE 15:2018 tables."""

import json
import math
import warnings

import numpy as np
import pytest

warnings.simplefilter("ignore")
import colour  # noqa: E402

from light_answers import calc, run, write_columns  # noqa: E402
from slabs import fresnel  # noqa: E402

SHAPE = colour.SpectralShape(380, 780, 1)
NM = SHAPE.wavelengths
OBSERVER = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(SHAPE).values


def light(name):
    return colour.SDS_ILLUMINANTS[name].copy().align(SHAPE).values


def xyz(power):
    return power @ OBSERVER


def amber(thickness_mm=10.0):
    """An invented stone: exponential in thickness, swallowing blue."""
    depth = 0.12 + 0.2 / (1 + np.exp((NM - 520) / 35))
    return 0.9 * np.exp(-depth * thickness_mm)


@pytest.mark.parametrize("name", ["LED-B1", "LED-B3", "LED-B5", "A", "D65"])
def test_as_measured(tmp_path, name):
    """Y and chromaticity are plain sums of S·T·x̄ (CIE 15:2018, 7.1); L = M·τ/π (CIE S 017)."""
    file = write_columns(tmp_path / "amber.csv", NM, amber(), header="wavelength_nm,transmittance")
    row = calc("through", "--stone", file, "--light", name)["thicknesses"][0]
    seen, bare = xyz(light(name) * amber()), xyz(light(name))
    assert row["t_low"] == row["t_high"] == pytest.approx(seen[1] / bare[1], rel=2e-4)
    assert row["luminance_cd_m2"] == pytest.approx(1000 * seen[1] / bare[1] / math.pi, rel=2e-4)
    assert [row["x"], row["y"]] == pytest.approx(list(seen[:2] / seen.sum()), abs=1e-4)
    uv = colour.UCS_to_uv(colour.XYZ_to_UCS(seen))
    cct, duv = colour.temperature.uv_to_CCT_Ohno2013(uv, start=1000, end=25000)
    assert row["duv"] == pytest.approx(duv, abs=1e-4)
    if abs(duv) <= 0.05:
        # CIE 15:2018, 9.4: a CCT has a meaning up to |Duv| = 0.05.
        assert row["cct_k"] == pytest.approx(cct, abs=3)
    else:
        assert row["cct_k"] is None


def surfaces(index=1.55):
    """What a surface sends back of diffuse light, outside and inside, by integration of Fresnel's formulas."""
    cosine = np.sqrt((np.arange(20000) + 0.5) / 20000)
    outside = fresnel(cosine, 1.0, index).mean()
    return outside, 1 - (1 - outside) / index**2


def two_flux(k, s, d):
    """Kubelka, J. Opt. Soc. Am. 38 (1948) 448–457, between surfaces after Saunderson, ibid. 32 (1942) 727–736."""
    a = 1 + k / s
    b = np.sqrt(a * a - 1)
    passed = b / (a * np.sinh(b * s * d) + b * np.cosh(b * s * d))
    returned = np.sinh(b * s * d) * passed / b
    outside, inside = surfaces()
    return (1 - outside) * (1 - inside) * passed / ((1 - inside * returned) ** 2 - (inside * passed) ** 2)


@pytest.mark.parametrize("thickness", [8, 15, 25])
def test_three_thicknesses_of_a_stone(tmp_path, thickness):
    """Marble of Jensen et al. 2001 (from memory), σ's and σa per mm at 610, 550 and 466 nm, K = 2σa, S = ¾σ's."""
    s = np.interp(NM, [466, 550, 610], [0.75 * 3.00, 0.75 * 2.62, 0.75 * 2.19])
    k = np.interp(NM, [466, 550, 610], [2 * 0.0071, 2 * 0.0041, 2 * 0.0021])
    measured = [two_flux(k, s, d) for d in (5, 10, 20)]
    file = write_columns(tmp_path / "marble.csv", NM, *measured, header="nm,t_5mm,t_10mm,t_20mm")
    row = calc("through", "--stone", file, "--light", "LED-B3", "--thickness", f"{thickness}mm")["thicknesses"][0]
    truth = xyz(light("LED-B3") * two_flux(k, s, thickness))[1] / xyz(light("LED-B3"))[1]
    assert row["t_low"] <= truth and truth <= row["t_high"] < 1.2 * row["t_low"]
    # As good as no light passes unscattered, so the formula itself is looked for, among a row of scatterings that are tried:
    # the best of them leaves about one in a hundred.
    assert row["luminance_cd_m2"] == pytest.approx(1000 * truth / math.pi, rel=0.02)
    assert row["basis"] == "fit" and row["residual"] < 0.02


def test_what_is_wrong_is_told_with_its_line(tmp_path):
    """Bad measurements: exit code 3, a stable code, the line where one is to blame, and a remedy."""
    good = np.full(NM.size, 0.1)
    cases = [
        ("percent.csv", NM, good * 91, "spectrum-percent"),
        ("order.csv", NM[::-1], good, "spectrum-order"),
        ("negative.csv", NM, good - 0.2, "spectrum-negative"),
        ("range.csv", NM[:50], good[:50], "spectrum-range"),
        ("gap.csv", np.r_[NM[:100], NM[150:]], np.r_[good[:100], good[150:]], "spectrum-gap"),
    ]
    for name, nm, values, code in cases:
        done = run("through", "--stone", write_columns(tmp_path / name, nm, values), "--light", "LED-B3")
        error = json.loads(done.stdout)["error"]
        assert (done.returncode, error["code"]) == (3, code), done.stdout
        assert error["remedy"] and error["file"].endswith(name)
        assert (error["line"] is None) == (code == "spectrum-range")


def test_beyond_twice_is_refused_unless_asked_for(tmp_path):
    file = write_columns(tmp_path / "stone.csv", NM, amber(), header="nm,t_10mm")
    asked = ("through", "--stone", file, "--light", "LED-B3", "--thickness", "25mm")
    assert json.loads(run(*asked).stdout)["error"]["code"] == "thickness-beyond"
    assert calc(*asked, "--extrapolate")["thicknesses"][0]["extrapolated"] is True
