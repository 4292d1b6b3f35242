"""Made photos of made stones by cameras whose sensors are published, for the checks of what a photo tells.

Two sensors are those of colour-science 0.4.7 (`MSDS_CAMERA_SENSITIVITIES`, measured at a national laboratory); the third
is made of bell curves, as no registry carries more that may be used. A camera balances its raw values, to the panel or
to daylight, takes them to linear sRGB by a matrix fitted to the 24 patches of the colour checker (colour-science) under
illuminants A and D65 and interpolated by reciprocal CCT between them, and writes 8-bit JPEG. Nothing of underlit is used.
"""

import io
import warnings

import numpy as np
from PIL import Image

warnings.simplefilter("ignore")
import colour  # noqa: E402

SHAPE = colour.SpectralShape(380, 780, 5)
NM = SHAPE.wavelengths
OBSERVER = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(SHAPE).values
SRGB = colour.RGB_COLOURSPACES["sRGB"]
FROM_XYZ = SRGB.matrix_XYZ_to_RGB
WHITE = colour.xy_to_XYZ(SRGB.whitepoint)


def spectrum(sd):
    return sd.copy().align(SHAPE).values


LIGHTS = {name: spectrum(colour.SDS_ILLUMINANTS[name]) for name in ("A", "D65", "LED-B1", "LED-B2", "LED-B3", "LED-B4", "LED-B5")}
CCT = {"LED-B1": 2733, "LED-B2": 2998, "LED-B3": 4103, "LED-B4": 5109, "LED-B5": 6599}
CHECKER = np.stack([spectrum(sd) for sd in colour.SDS_COLOURCHECKERS["ColorChecker N Ohta"].values()])
# Another copy of the same chart: the average of 30 that colour-science carries.
CHART = np.stack([spectrum(sd) for sd in colour.SDS_COLOURCHECKERS["BabelColor Average"].values()])


def bell(centre, width):
    return np.exp(-0.5 * ((NM - centre) / width) ** 2)


def sensors():
    """Sensitivities by number, red, green and blue in columns."""
    published = [
        np.stack([np.interp(NM, s.wavelengths, s.values[:, k], left=0, right=0) for k in range(3)], 1)
        for s in colour.MSDS_CAMERA_SENSITIVITIES.values()
    ]
    made = np.stack([bell(600, 32) + 0.08 * bell(530, 30), bell(535, 36), bell(455, 27)], 1)
    return [*published, made]


def matrix(sensor, light):
    """From balanced raw values to linear sRGB, white kept, by least squares over the colour checker."""
    raw = CHECKER @ (sensor * light[:, None]) / (light @ sensor)
    xyz = CHECKER @ (OBSERVER * light[:, None])
    white = light @ OBSERVER
    adapted = colour.adaptation.matrix_chromatic_adaptation_VonKries(white / white[1], WHITE, "Bradford")
    rgb = (xyz / white[1]) @ adapted.T @ FROM_XYZ.T
    found = np.zeros((3, 3))
    for k in range(3):
        others = [j for j in range(3) if j != k]
        found[k, others] = np.linalg.lstsq((raw - raw[:, [k]])[:, others], rgb[:, k] - raw[:, k], rcond=None)[0]
        found[k, k] = 1 - found[k].sum()
    return found


class Camera:
    """One sensor, its white balanced to the panel or to daylight."""

    def __init__(self, sensor, balance):
        self.sensor, self.balance = sensor, balance
        self.matrices = [matrix(sensor, LIGHTS[name]) for name in ("A", "D65")]

    def develop(self, panel, cct, spectra):
        """Linear sRGB of light spectra, in a scene lit by `panel`."""
        cct = cct if self.balance == "panel" else 6504
        warm = np.clip((1e6 / cct - 1e6 / 6504) / (1e6 / 2856 - 1e6 / 6504), 0, 1)
        to_srgb = warm * self.matrices[0] + (1 - warm) * self.matrices[1]
        white = (panel if self.balance == "panel" else LIGHTS["D65"]) @ self.sensor
        return (spectra @ self.sensor / white) @ to_srgb.T


def stone(rng):
    """A smooth stone: −ln T is a level, an edge that rises towards the blue, and two broad bands."""
    depth = rng.uniform(1.2, 3.0) + rng.uniform(0, 3) / (1 + np.exp((NM - rng.uniform(430, 560)) / rng.uniform(30, 80)))
    for _ in range(2):
        depth = depth + rng.uniform(-0.5, 0.9) * np.exp(-(((NM - rng.uniform(420, 680)) / rng.uniform(50, 120)) ** 2))
    return np.minimum(np.exp(-depth), 1)


STONE, BARE = "4,4,96,72", "116,4,40,72"
WIDTH, HEIGHT = 160, 80


STEPS = np.linspace(-0.4, 0.4, 81)


def clouds(kind, x, y, phase):
    """By how much the stone is thicker at a place, as a number of `STEPS`: ±4 %, or ±22 % and wider where clouded."""
    size, wide = (5, 0.4) if kind == "clouded" else (1, 1)
    x, y = wide * x, wide * y
    thicker = 0.03 * np.sin(0.37 * x + 0.11 * y + phase[0]) + 0.015 * np.sin(0.53 * y - 0.07 * x + phase[1])
    return np.round((size * thicker + 0.4) / 0.01).astype(int)


def veins(kind, x, y, phase):
    """True where a veined stone is vein, about a fifth of it."""
    waves = np.sin(0.23 * x + 0.09 * y + phase[0]) + 0.5 * np.sin(0.31 * y - 0.05 * x + phase[1])
    return (waves > 0.8) & (kind == "veined")


def average(kind, body, vein):
    """The mean transmittance of a large piece of such a stone."""
    rng = np.random.default_rng(1)
    x, y = rng.uniform(0, 1e5, (2, 40000))
    at, is_vein = clouds(kind, x, y, (0, 0)), veins(kind, x, y, (0, 0))
    parts = [(body, at[~is_vein]), (vein, at[is_vein])]
    return sum(np.bincount(of, minlength=STEPS.size) @ (t[None] ** (1 + STEPS[:, None])) for t, of in parts) / x.size


def photo(camera, name, transmittance, quality, rng, kind="even", vein=None):
    """A JPEG of the stone on the left and the bare panel on the right.

    Clouds thicken the stone, and a veined one has a second spectrum; the panel's light at the stone differs by 2 %, the
    camera strays up to 1 % of the frame's light, each pixel has 1 % of noise: figures of ours, as a plain way to take the
    photo has them.
    """
    panel = LIGHTS[name]
    x, y = np.meshgrid(np.arange(WIDTH), np.arange(HEIGHT))
    phase = rng.uniform(0, 6.28, 2)
    seen_as = lambda t: camera.develop(panel, CCT[name], np.stack([panel * t ** (1 + s) for s in STEPS]))  # noqa: E731
    at, is_vein = clouds(kind, x, y, phase), veins(kind, x, y, phase)
    bare = camera.develop(panel, CCT[name], panel[None])[0]
    scale = 0.9 / bare.max()
    stone_light = np.where(is_vein[..., None], seen_as(transmittance if vein is None else vein)[at], seen_as(transmittance)[at])
    linear = np.where((x < WIDTH * 2 // 3)[..., None], stone_light * rng.normal(1, 0.02), bare) * scale
    linear = linear + rng.uniform(0, 0.01) * linear.mean(axis=(0, 1))
    linear = linear * (1 + 0.01 * rng.normal(size=linear.shape))
    return jpeg(linear, quality)


def jpeg(linear, quality):
    encoded = colour.models.eotf_inverse_sRGB(np.clip(linear, 0, 1))
    out = io.BytesIO()
    Image.fromarray((encoded * 255).round().astype(np.uint8)).save(out, "JPEG", quality=quality)
    return out.getvalue()


# The corners of the field of patches as somebody marks them, two pixels off; from the cyan patch, the other way round.
CHART_AT = "238,162 238,8 4,6 2,160"


def chart_light(camera, name, rng):
    """Linear light of the 24 patches of another copy of the chart, lit askew: up to a quarter less at one side."""
    level = 1 - 0.25 * rng.uniform() * (np.arange(24) % 6) / 5 - 0.1 * rng.uniform() * (np.arange(24) // 6) / 3
    return camera.develop(LIGHTS[name], CCT[name], CHART * LIGHTS[name]) * level[:, None]


def chart_photo(camera, name, rng):
    """A JPEG of the chart, its patches apart, with the noise and the stray light of the other photos."""
    patches = chart_light(camera, name, rng).reshape(4, 6, 3)
    linear = np.full((168, 240, 3), 0.03) * patches.max()
    for row in range(4):
        for column in range(6):
            top, left = 8 + 39 * row, 6 + 39 * column
            linear[top : top + 35, left : left + 35] = patches[row, column]
    linear = linear * 0.85 / linear.max()
    linear = linear + rng.uniform(0, 0.01) * linear.mean(axis=(0, 1))
    return jpeg(linear * (1 + 0.01 * rng.normal(size=linear.shape)), 92)


def values(camera, name, transmittance, rng, chart):
    """A table of linear values: as a raw developer gives linear sRGB, or, with a chart, the sensor's own on its 14 bits."""
    panel = LIGHTS[name]
    seen = (lambda light: light @ camera.sensor) if chart else (lambda light: camera.develop(panel, CCT[name], light))
    bare = seen(panel[None])[0]
    scale = 12000 / bare.max()
    shown = seen(np.stack([panel * transmittance ** (1 + s) for s in rng.normal(0, 0.02, 12)])) * rng.normal(1, 0.02)
    shown = shown + rng.uniform(0, 0.005) * bare
    rows = [("bare", bare * scale * rng.normal(1, 0.003)) for _ in range(6)] + [("stone", v * scale) for v in shown]
    rows += [(str(i + 1), v * scale) for i, v in enumerate(seen(CHART * panel))] if chart else []
    dark = 512
    lines = ["part,red,green,blue", f"dark,{dark},{dark},{dark}"]
    lines += [",".join([part, *(str(round(x + dark)) for x in v)]) for part, v in rows]
    return "\n".join(lines).encode()


def tristimulus(name, transmittance):
    """XYZ of a light through a stone, bare Y = 1."""
    light = LIGHTS[name]
    return (OBSERVER.T @ (light * transmittance)) / (light @ OBSERVER[:, 1])


def white(name):
    return tristimulus(name, np.ones(NM.size))


def lab(xyz, name, level):
    """CIELAB against the bare light, all times `level` (CIE 15:2018)."""
    return colour.XYZ_to_Lab(xyz * level, colour.XYZ_to_xy(white(name)))


def delta_e(a, b):
    return float(colour.delta_E(a, b, method="CIE 2000"))


def seen(jpeg):
    """Mean linear sRGB of the stone and of the bare panel in a photo."""
    linear = colour.models.eotf_sRGB(np.asarray(Image.open(io.BytesIO(jpeg))) / 255.0)
    return linear[4:76, 4:100].mean(axis=(0, 1)), linear[4:76, 116:156].mean(axis=(0, 1))


def scaled(stone_rgb, bare_rgb, target):
    """Naive scaling: stone over bare in linear sRGB times the other bare light's."""
    return np.linalg.inv(FROM_XYZ) @ (stone_rgb / bare_rgb * (FROM_XYZ @ white(target)))


def adapted(stone_rgb, bare_rgb, target):
    """A Bradford adaptation of the colour seen, from the bare panel in the photo to the other bare light."""
    stone_xyz, bare_xyz = (np.linalg.inv(FROM_XYZ) @ rgb for rgb in (stone_rgb, bare_rgb))
    return colour.adaptation.matrix_chromatic_adaptation_VonKries(bare_xyz, white(target), "Bradford") @ stone_xyz
