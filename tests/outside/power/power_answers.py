"""Where the checks of this folder get underlit's answers: the binary, and files that a Rust test writes.

Not here: any expectation. Those stand in the checks, each with its source.
"""

import json
import os
import subprocess
from pathlib import Path

ROOT = Path(__file__).resolve().parents[3]
TARGET = Path(os.environ.get("CARGO_TARGET_DIR", ROOT / "target"))


def calc(*arguments):
    """The JSON answer of `underlit calc …`."""
    done = run("calc", *arguments)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def run(*arguments):
    """Runs underlit with `--json`."""
    binary = os.environ.get("UNDERLIT", str(TARGET / "debug" / "underlit"))
    command = [binary, *map(str, arguments), "--json"]
    return subprocess.run(command, capture_output=True, text=True, check=False, timeout=60)


def written(name):
    """A file that `cargo test --test power vectors` writes."""
    path = TARGET / "tmp" / "power" / name
    assert path.is_file(), f"{path} is missing: run `cargo test --test power vectors` first"
    return path.read_bytes()
