"""What the program answers with `--json` is as its published schemas say, by validators of other make.

Sources: the PyPI package `jsonschema` and ajv (npm), neither of which shares code with the validator of the Rust tests. The
answers are those that the Rust tests were given: each of them is held to its schema there (tests/answers), and one of each form
is kept for here. The schemas are those that `underlit schemas --answers --into` writes.
"""

import hashlib
import json
import os
import subprocess
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

ROOT = Path(__file__).resolve().parents[3]
TARGET = Path(os.environ.get("CARGO_TARGET_DIR", ROOT / "target"))
UNDERLIT = os.environ.get("UNDERLIT", str(TARGET / "debug" / "underlit"))
MODULES = Path(os.environ.get("UNDERLIT_NODE_MODULES", TARGET / "outside-node" / "node_modules"))
ENDING = ".schema.json"
VERBS = sorted(
    "-".join(words)
    for words in [
        ("failure",), ("advance",), ("board",), ("changes",), ("check",), ("dates",), ("history",), ("look",), ("pack",),
        ("plan",), ("resolve",), ("roster", "show"), ("show",), ("sign",), ("status",), ("sync",), ("verify",),
        ("calc", "outline"), ("calc", "wire"),
    ]
)  # fmt: skip


@pytest.fixture(scope="module")
def schemas(tmp_path_factory):
    """The published schemas by the names of their verbs, and the folder of the answers that were kept for them."""
    folder = tmp_path_factory.mktemp("schemas")
    subprocess.run([UNDERLIT, "schemas", "--answers", "--into", str(folder)], check=True, capture_output=True)
    files = sorted(folder.glob(f"*{ENDING}"))
    digest = hashlib.sha256(b"".join(file.read_bytes() for file in files)).hexdigest()
    kept = TARGET / "tmp" / "answers" / digest
    assert kept.is_dir(), f"{kept} is missing: run `cargo test` first"
    return {file.name.removesuffix(ENDING): file for file in files}, kept


def test_each_schema_is_one(schemas):
    """Source: the meta-schema of JSON Schema 2020-12, as `jsonschema` ships it."""
    for file in schemas[0].values():
        Draft202012Validator.check_schema(json.loads(file.read_text("utf-8")))


def test_answers_of_most_verbs_were_kept(schemas):
    assert set(VERBS) <= {folder.name for folder in schemas[1].iterdir()}


def test_each_answer_is_as_its_schema_says(schemas):
    """Source: PyPI jsonschema. Each answer is refused once a field is taken out of it or put into it."""
    files, kept = schemas
    seen = 0
    for folder in sorted(kept.iterdir()):
        validator = Draft202012Validator(json.loads(files[folder.name].read_text("utf-8")))
        for file in sorted(folder.glob("*.json")):
            answer = json.loads(file.read_text("utf-8"))
            found = [f"{error.json_path}: {error.message[:200]}" for error in validator.iter_errors(answer)]
            assert not found, f"{folder.name}/{file.name}: {found}"
            assert not validator.is_valid({**answer, "unheard_of": 1}), folder.name
            assert not validator.is_valid({}), folder.name
            seen += 1
    assert seen > 150, seen


AJV = """
const fs = require("fs");
const [modules, schema, ...answers] = process.argv.slice(1);
const Ajv = require(modules + "/ajv/dist/2020").default;
const validate = new Ajv({ allowUnionTypes: true }).compile(JSON.parse(fs.readFileSync(schema, "utf8")));
const wrong = answers.filter((file) => !validate(JSON.parse(fs.readFileSync(file, "utf8"))));
process.stdout.write(JSON.stringify(wrong));
"""


@pytest.mark.parametrize("verb", VERBS)
def test_ajv_agrees(schemas, verb):
    """Source: npm ajv, in its strict mode."""
    files, kept = schemas
    answers = [str(file) for file in sorted((kept / verb).glob("*.json"))]
    command = ["node", "-e", AJV, str(MODULES.resolve()), str(files[verb]), *answers]
    said = subprocess.run(command, check=False, capture_output=True, text=True)
    assert said.returncode == 0, said.stderr
    assert json.loads(said.stdout) == []
