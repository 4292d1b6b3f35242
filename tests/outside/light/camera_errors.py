"""How far cameras miss the ratios of stone to bare panel, whence the figures of `src/light/camera.rs`.

Run by hand: `python camera_errors.py`. For each sensor of `cameras.py`, five LED whites and both white balances: the
errors of the logarithms of the three ratios in CAT16's cone space (CIE 248:2022), fitted by ln(long/middle) and
ln(short/middle) of 200 made stones. It prints the root mean square of the coefficients over all of these, and of what
the fit leaves for each unit of distance from grey.
"""

import colour
import numpy as np
from cameras import CCT, FROM_XYZ, LIGHTS, OBSERVER, Camera, sensors, stone

CONES = colour.adaptation.CHROMATIC_ADAPTATION_TRANSFORMS["CAT16"]


def main():
    rng = np.random.default_rng(1)
    stones = np.stack([stone(rng) for _ in range(200)])
    coefficients, left = [], []
    for sensor in sensors():
        for balance in ("panel", "daylight"):
            camera = Camera(sensor, balance)
            for name, cct in CCT.items():
                panel = LIGHTS[name]
                true = ((stones * panel) @ OBSERVER @ CONES.T) / (panel @ OBSERVER @ CONES.T)
                to_cones = CONES @ np.linalg.inv(FROM_XYZ)
                rgb, bare = camera.develop(panel, cct, stones * panel), camera.develop(panel, cct, panel[None])
                seen = (rgb @ to_cones.T) / (bare @ to_cones.T)
                keep = (seen > 0.0005).all(axis=1) & (true > 0.0005).all(axis=1)
                errors = np.log(seen[keep] / true[keep])
                logs = np.log(seen[keep])
                colours = np.stack([logs[:, 0] - logs[:, 1], logs[:, 2] - logs[:, 1]], 1)
                fitted = np.linalg.lstsq(colours, errors, rcond=None)[0]
                coefficients.append(fitted.T)
                left.append((errors - colours @ fitted) / np.hypot(*colours.T)[:, None])
    print("coefficients, root mean square:", np.sqrt(np.mean(np.square(coefficients), axis=0)).round(3).tolist())
    print("left for each unit from grey, middle of the sizes:", np.median(np.abs(np.vstack(left)), axis=0).round(3).tolist())


if __name__ == "__main__":
    main()
