"""How far cameras miss the ratios of stone to bare panel, whence the figures of `src/light/camera.rs`.

Run by hand: `python camera_errors.py`. For each sensor of `cameras.py`, five LED whites and both white balances: the
errors of the logarithms of the three ratios in CAT16's cone space (CIE 248:2022), fitted by ln(long/middle) and
ln(short/middle) of 200 made stones; as they are, and after a photo of a 24-patch chart put a matrix right, the chart being
another copy (the average of 30, as colour-science 0.4.7 carries it) than the one whose values are known. It prints the
root mean square of the coefficients over all of these, and of what the fit leaves for each unit of distance from grey.
"""

import colour
import numpy as np
from cameras import CCT, CHART, CHECKER, FROM_XYZ, LIGHTS, OBSERVER, Camera, sensors, stone

CONES = colour.adaptation.CHROMATIC_ADAPTATION_TRANSFORMS["CAT16"]
TO_CONES = CONES @ np.linalg.inv(FROM_XYZ)


def by_chart(seen, true):
    """The matrix that brings the ratios of a chart's patches to those known, white kept, by relative least squares."""
    found = np.zeros((3, 3))
    for k in range(3):
        others, weight = [j for j in range(3) if j != k], 1 / (true[:, k] + 0.02)
        rows = (seen - seen[:, [k]])[:, others] * weight[:, None]
        found[k, others] = np.linalg.lstsq(rows, (true[:, k] - seen[:, k]) * weight, rcond=None)[0]
        found[k, k] = 1 - found[k].sum()
    return found


def main():
    rng = np.random.default_rng(1)
    stones = np.stack([stone(rng) for _ in range(200)])
    coefficients, left = {"plain": [], "chart": []}, {"plain": [], "chart": []}
    for sensor in sensors():
        for balance in ("panel", "daylight"):
            camera = Camera(sensor, balance)
            for name, cct in CCT.items():
                panel = LIGHTS[name]
                known = lambda spectra: ((spectra * panel) @ OBSERVER @ CONES.T) / (panel @ OBSERVER @ CONES.T)  # noqa: E731
                bare = camera.develop(panel, cct, panel[None]) @ TO_CONES.T
                seen_as = lambda spectra: camera.develop(panel, cct, spectra * panel) @ TO_CONES.T / bare  # noqa: E731
                matrix = by_chart(seen_as(CHART), known(CHECKER))
                for way, seen in (("plain", seen_as(stones)), ("chart", seen_as(stones) @ matrix.T)):
                    true = known(stones)
                    keep = (seen > 0.0005).all(axis=1) & (true > 0.0005).all(axis=1)
                    errors = np.log(seen[keep] / true[keep])
                    logs = np.log(seen[keep])
                    colours = np.stack([logs[:, 0] - logs[:, 1], logs[:, 2] - logs[:, 1]], 1)
                    fitted = np.linalg.lstsq(colours, errors, rcond=None)[0]
                    coefficients[way].append(fitted.T)
                    left[way].append((errors - colours @ fitted) / np.hypot(*colours.T)[:, None])
    for way in coefficients:
        print(way, "coefficients, root mean square:", np.sqrt(np.mean(np.square(coefficients[way]), axis=0)).round(3).tolist())
        middle = np.median(np.abs(np.vstack(left[way])), axis=0).round(3).tolist()
        print(way, "left for each unit from grey, middle of the sizes:", middle)


if __name__ == "__main__":
    main()
