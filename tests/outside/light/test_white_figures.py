"""`calc white` against colour-science 0.4.7: CCT and Duv by Ohno 2013, Ra by CIE 13.3, Rf by CIE 224, Rg by TM-30.

Tolerances: CCT ±3 K, Duv ±1e-4, x and y ±1e-4, Ra ±0.15, R9 ±1.5, Rf ±0.2, Rg ±0.3.
"""

import warnings

import numpy as np
import pytest

warnings.simplefilter("ignore")
import colour  # noqa: E402
from colour.quality import colour_fidelity_index, colour_rendering_index  # noqa: E402
from scipy.optimize import minimize_scalar  # noqa: E402

from light_answers import calc, write_columns  # noqa: E402

SHAPE = colour.SpectralShape(380, 780, 1)
OBSERVER = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(SHAPE)

# Ours on the left, colour-science's name on the right; both take their data from CIE 15:2018.
NAMES = {f"LED-{k}": f"LED-{k}" for k in ("B1", "B2", "B3", "B4", "B5", "BH1", "RGB1", "V1", "V2")}
NAMES |= {f"F{i}": f"FL{i}" for i in range(1, 13)}
NAMES |= {f"F3.{i}": f"FL3.{i}" for i in range(1, 16)}
NAMES |= {"A": "A", "D50": "D50", "D65": "D65", "E": "E"}


def expected(sd):
    """colour-science's figures for a spectrum, summed at its own steps as its CIE 224 code does.

    CIE 15:2018 publishes x, y from the tables' own 5 nm; drawn straight to 1 nm first, colour-science's y of the
    LED illuminants moves by 1e-4 away from the published one.
    """
    fine = sd.copy()
    if fine.shape.start < 380 or fine.shape.end > 780:
        fine.trim(colour.SpectralShape(380, 780, fine.shape.interval))
    xyz = colour.sd_to_XYZ(fine.values, shape=fine.shape, method="Integration")
    x, y = colour.XYZ_to_xy(xyz)
    uv = colour.UCS_to_uv(colour.XYZ_to_UCS(xyz))
    cct, duv = colour.temperature.uv_to_CCT_Ohno2013(uv, start=1000, end=25000)
    return {"x": x, "y": y, "cct_k": cct, "duv": duv, "sd": fine, "xyz": xyz}


def nearest_black_body(xyz):
    """CCT and Duv by their definition (CIE 15:2018, 9.4): the nearest point of the Planckian locus in CIE 1960 u, v.

    Planck's law with c2 of CODATA 2018, summed over the 1 nm observer; a fine grid, then SciPy's bounded minimiser.
    """
    nm = SHAPE.wavelengths

    def uv(xyz):
        x, y, z = xyz
        below = x + 15 * y + 3 * z
        return np.array([4 * x / below, 6 * y / below])

    def locus(kelvin):
        return uv((nm / 560.0) ** -5 / np.expm1(1.438776877e7 / (nm * kelvin)) @ OBSERVER.values)

    point = uv(xyz)
    grid = np.geomspace(1000, 25000, 300)
    at = int(np.argmin([np.hypot(*(locus(k) - point)) for k in grid]))
    bounds = (grid[max(at - 1, 0)], grid[min(at + 1, grid.size - 1)])
    found = minimize_scalar(lambda k: np.hypot(*(locus(k) - point)), bounds=bounds, method="bounded", options={"xatol": 1e-4})
    return found.x, float(np.sign(point[1] - locus(found.x)[1]) * found.fun)


def compare(ours, sd, ra_tolerance=0.15):
    theirs = expected(sd)
    assert ours["x"] == pytest.approx(theirs["x"], abs=1e-4)
    assert ours["y"] == pytest.approx(theirs["y"], abs=1e-4)
    assert ours["cct_k"] == pytest.approx(theirs["cct_k"], abs=3)
    assert ours["duv"] == pytest.approx(theirs["duv"], abs=1e-4)
    # CIE 15:2018: u' = 4x / (−2x + 12y + 3), v' = 9y / (−2x + 12y + 3).
    below = -2 * ours["x"] + 12 * ours["y"] + 3
    assert ours["u_prime"] == pytest.approx(4 * ours["x"] / below, abs=2e-6)
    assert ours["v_prime"] == pytest.approx(9 * ours["y"] / below, abs=2e-6)
    cri = colour_rendering_index(theirs["sd"], additional_data=True)
    assert ours["ra"] == pytest.approx(cri.Q_a, abs=ra_tolerance)
    assert ours["r9"] == pytest.approx(cri.Q_as[9].Q_a, abs=1.5)
    tm30 = colour_fidelity_index(theirs["sd"], additional_data=True, method="ANSI/IES TM-30-18")
    assert ours["rf"] == pytest.approx(tm30.R_f, abs=0.2)
    assert ours["rg"] == pytest.approx(tm30.R_g, abs=0.3)


@pytest.fixture(scope="module")
def named():
    return {light["light"]: light for light in calc("white", "--light", *NAMES)["lights"]}


@pytest.mark.parametrize("name", NAMES)
def test_cie_illuminants(named, name):
    """CIE 15:2018 spectra as colour-science 0.4.7 ships them, at 5 nm.

    Ours by name are CIE's 1 nm tables, while colour-science draws straight lines between those of 5 nm, which
    widens narrow lines: Ra of the two lights with the narrowest ones may lie ±0.3 apart.
    """
    sd = colour.SDS_ILLUMINANTS[NAMES[name]].copy()
    compare(named[name], sd, 0.3 if name in ("LED-RGB1", "F3.10") else 0.15)


def test_cie_illuminants_from_files(tmp_path):
    """The same spectra written as CSV at 5 nm, so that both sides see the same numbers."""
    sds = {name: colour.SDS_ILLUMINANTS[theirs].copy().trim(colour.SpectralShape(380, 780, 5)) for name, theirs in NAMES.items()}
    wavelengths = next(iter(sds.values())).wavelengths
    several = {name: sd for name, sd in sds.items() if sd.shape.interval == 5}
    assert len(several) > 30
    header = "wavelength_nm," + ",".join(several)
    file = write_columns(tmp_path / "cie.csv", wavelengths, *(sd.values for sd in several.values()), header=header)
    answers = calc("white", "--spectrum", file)["lights"]
    for (name, sd), ours in zip(several.items(), answers, strict=True):
        cri = colour_rendering_index(sd, additional_data=True)
        # Straight lines between 5 nm, as colour-science draws them here, widen the three narrow peaks; the plain
        # sum at 5 nm gives 57.11 as ours does by Sprague's curve.
        assert ours["ra"] == pytest.approx(cri.Q_a, abs=0.3 if name == "LED-RGB1" else 0.15), name
        assert ours["r9"] == pytest.approx(cri.Q_as[9].Q_a, abs=1.5 if name == "LED-RGB1" else 1.0), name


@pytest.mark.parametrize("cct", [2000, 3000, 3999, 4250, 4500, 4750, 5001, 6500])
def test_black_bodies(cct):
    """Planck's law by colour-science 0.4.7; 4250, 4500 and 4750 K lie in the blend of CIE 224."""
    sd = colour.sd_blackbody(cct, SHAPE)
    compare(calc("white", "--light", f"planck-{cct}"), sd)


@pytest.mark.parametrize("cct", [4250, 4500, 4750, 5500, 6504, 7500, 9300])
def test_daylights(cct):
    """CIE daylight (CIE 15:2018, 4.1.2) by colour-science 0.4.7, in the blend of CIE 224 and beyond.

    CCT is held to the exact nearest point and not to colour-science's: its Ohno 2013 lies 0.3 K below the exact
    minimum at 4500 K and 7 K below it at 9300 K, for it fits a curve through steps of a table. The standard
    rounds M1 and M2 to three decimals and so does colour-science; the crate does not, which is 1.5 K at 9300 K.
    """
    xy = colour.temperature.CCT_to_xy_CIE_D(cct)
    sd = colour.sd_CIE_illuminant_D_series(xy)
    ours = calc("white", "--light", f"daylight-{cct}")
    exact_cct, exact_duv = nearest_black_body(sd.copy().align(SHAPE).values @ OBSERVER.values)
    assert ours["cct_k"] == pytest.approx(exact_cct, abs=3)
    assert ours["duv"] == pytest.approx(exact_duv, abs=1e-4)
    unrounded = colour.sd_CIE_illuminant_D_series(xy, M1_M2_rounding=False).align(SHAPE)
    assert ours["cct_k"] == pytest.approx(nearest_black_body(unrounded.values @ OBSERVER.values)[0], abs=0.3)
    theirs = expected(sd)
    assert ours["duv"] == pytest.approx(theirs["duv"], abs=1e-4)
    if cct < 7000:
        assert ours["cct_k"] == pytest.approx(theirs["cct_k"], abs=3)
    tm30 = colour_fidelity_index(sd, additional_data=True, method="ANSI/IES TM-30-18")
    assert ours["rf"] == pytest.approx(tm30.R_f, abs=0.2)
    assert ours["rg"] == pytest.approx(tm30.R_g, abs=0.3)


@pytest.mark.parametrize("name", ["LED-B1", "LED-B3", "LED-B5", "F2", "F11", "A", "D65"])
def test_the_nearest_black_body_by_definition(named, name):
    """The same CIE spectra as above, CCT and Duv by exact minimisation: no method's table stands between."""
    cct, duv = nearest_black_body(expected(colour.SDS_ILLUMINANTS[NAMES[name]])["xyz"])
    assert named[name]["cct_k"] == pytest.approx(cct, abs=3)
    assert named[name]["duv"] == pytest.approx(duv, abs=1e-4)


@pytest.mark.parametrize(
    ("warm", "cool", "share", "cct", "duv"),
    [("LED-B1", "LED-B5", 0.5, 4016, -0.0062), ("LED-B2", "LED-B4", 0.5, 3835, -0.0028), ("LED-B1", "LED-B4", 0.3, None, None)],
)
def test_two_channel_mixes_from_a_file(tmp_path, warm, cool, share, cct, duv):
    """Mixes in flux of CIE 15:2018 spectra made with colour-science 0.4.7, read by us from CSV at 5 nm."""
    coarse = colour.SpectralShape(380, 780, 5)
    parts = []
    for name, weight in ((warm, 1 - share), (cool, share)):
        sd = colour.SDS_ILLUMINANTS[name].copy().align(coarse)
        y = colour.sd_to_XYZ(sd.copy().align(SHAPE), cmfs=OBSERVER, method="Integration")[1]
        parts.append(weight * sd.values / y)
    mixed = colour.SpectralDistribution(parts[0] + parts[1], coarse.wavelengths)
    file = write_columns(tmp_path / "mix.csv", mixed.wavelengths, mixed.values, header="wavelength_nm,relative_power")
    ours = calc("white", "--spectrum", file)
    compare(ours, mixed)
    if cct:
        assert ours["cct_k"] == pytest.approx(cct, abs=3)
        assert ours["duv"] == pytest.approx(duv, abs=1e-4)


def test_a_file_of_three_lights(tmp_path):
    """Each column is one light, in the file's order; the same spectra as by name, CIE 15:2018."""
    names = ["LED-B1", "LED-B3", "LED-B5"]
    sds = [colour.SDS_ILLUMINANTS[n].copy().align(colour.SpectralShape(380, 780, 5)) for n in names]
    file = write_columns(
        tmp_path / "whites.csv", sds[0].wavelengths, *(sd.values for sd in sds), header="wavelength_nm," + ",".join(names)
    )
    from_file = calc("white", "--spectrum", file)["lights"]
    by_name = calc("white", "--light", *names)["lights"]
    for a, b in zip(from_file, by_name, strict=True):
        assert a["cct_k"] == pytest.approx(b["cct_k"], abs=0.5)
        assert a["rf"] == pytest.approx(b["rf"], abs=0.05)


def test_tm27_written_by_colour_science(tmp_path):
    """An IES TM-27-14 file written by colour-science 0.4.7."""
    sd = colour.SDS_ILLUMINANTS["LED-B4"].copy().align(colour.SpectralShape(380, 780, 5))
    path = str(tmp_path / "led.spdx")
    header = {"description": "a phosphor white", "document_creator": "nobody", "document_creation_date": "2026-01-01"}
    written = colour.SpectralDistribution_IESTM2714(
        path, header=colour.io.Header_IESTM2714(**header), spectral_quantity="relative", data=sd
    )
    assert written.write()
    compare(calc("white", "--spectrum", path), sd)


def test_dominant_wavelength_of_a_green_light(tmp_path):
    """A narrow green has no CCT; its dominant wavelength against E by colour-science 0.4.7."""
    wavelengths = np.arange(380, 781)
    power = np.exp(-(((wavelengths - 530) / 12.0) ** 2))
    ours = calc("white", "--spectrum", write_columns(tmp_path / "green.csv", wavelengths, power))
    assert ours["cct_k"] is None and ours["ra"] is None and ours["nominal_k"] is None
    sd = colour.SpectralDistribution(power, wavelengths)
    xy = colour.XYZ_to_xy(colour.sd_to_XYZ(sd, cmfs=OBSERVER, method="Integration"))
    theirs, *_ = colour.dominant_wavelength(xy, [1 / 3, 1 / 3])
    assert ours["dominant_nm"] == pytest.approx(float(theirs), abs=1.0)
