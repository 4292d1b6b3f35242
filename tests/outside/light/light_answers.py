"""Where the checks of this folder get underlit's answers, and how a spectrum becomes a file for it.

Not here: any expectation. Those stand in the checks, each with its source.
"""

import json
import os
import subprocess
from pathlib import Path

ROOT = Path(__file__).resolve().parents[3]
TARGET = Path(os.environ.get("CARGO_TARGET_DIR", ROOT / "target"))


def run(*arguments):
    """Runs `underlit calc … --json`."""
    binary = os.environ.get("UNDERLIT", str(TARGET / "debug" / "underlit"))
    command = [binary, "calc", *map(str, arguments), "--json"]
    return subprocess.run(command, capture_output=True, text=True, check=False, timeout=120)


def calc(*arguments):
    """The JSON answer of `underlit calc …`."""
    done = run(*arguments)
    assert done.returncode == 0, done.stdout + done.stderr
    return json.loads(done.stdout)


def write_columns(path, wavelengths, *columns, header=None):
    """Writes a CSV of wavelengths and columns."""
    lines = [header] if header else []
    lines += [",".join(repr(float(v)) for v in row) for row in zip(wavelengths, *columns)]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path
