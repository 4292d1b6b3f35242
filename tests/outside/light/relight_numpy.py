"""The same work as `benches/light_relight.rs`, by NumPy and colour-science, timed on this machine.

Run by hand, after the bench has written its photo: `python relight_numpy.py FOLDER`. The method is the
shorter one that a colour scientist would write first: decode sRGB with colour-science, divide by the bare
panel, bring every pixel to each light by one matrix, encode again. It finds no spectrum, so it does less.
The figure "in memory" stands beside the bench's "in memory", "to PNGs" (Pillow at its quickest setting that
compresses, as the bench does) beside its "to eight re-lit PNGs"; compare processor time on a busy machine.
"""

import io
import os
import sys
import time
import warnings
from pathlib import Path

import numpy as np
from PIL import Image

warnings.simplefilter("ignore")
import colour  # noqa: E402

LIGHTS = ["LED-B1", "LED-B2", "LED-B3", "LED-B4", "LED-B5", "LED-BH1", "LED-V1", "LED-V2"]


def main(folder):
    start, before = time.perf_counter(), time.process_time()
    photo = np.asarray(Image.open(Path(folder) / "photo.png"))
    linear = colour.models.eotf_sRGB(photo / 255.0)
    bare = linear[50:2950, 3300:3900].reshape(-1, 3).mean(axis=0)
    transmittance = linear / bare
    read = time.perf_counter()
    space = colour.RGB_COLOURSPACES["sRGB"]
    pictures = []
    for name in LIGHTS:
        xyz = colour.sd_to_XYZ(colour.SDS_ILLUMINANTS[name]) / 100
        white = space.matrix_XYZ_to_RGB @ xyz
        adapted = colour.adaptation.matrix_chromatic_adaptation_VonKries(xyz, colour.xy_to_XYZ(space.whitepoint), "CAT16")
        matrix = space.matrix_XYZ_to_RGB @ adapted @ space.matrix_RGB_to_XYZ @ np.diag(white)
        seen = np.einsum("ij,...j->...i", matrix, transmittance)
        pictures.append((np.clip(colour.models.eotf_inverse_sRGB(np.clip(seen, 0, 1)), 0, 1) * 255).round().astype(np.uint8))
    made = time.perf_counter()
    used = time.process_time() - before
    written = 0
    for picture in pictures:
        out = io.BytesIO()
        Image.fromarray(picture).save(out, "PNG", compress_level=1)
        written += len(out.getvalue())
    ended, used_all = time.perf_counter(), time.process_time() - before
    print(f"load of the machine:     {os.getloadavg()[0]:.1f}")
    print(f"read, decode and divide: {read - start:.2f} s")
    print(f"eight pictures in memory: {made - start:.2f} s ({used:.2f} s of processor)")
    print(f"eight pictures to PNGs:  {ended - start:.2f} s ({used_all:.2f} s of processor), {written / 1e6:.0f} MB")


if __name__ == "__main__":
    main(sys.argv[1])
