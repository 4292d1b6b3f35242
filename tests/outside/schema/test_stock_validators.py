"""The schemas that a book carries serve stock validators as they come, from the book's top folder, with no option.

Sources: check-jsonschema (PyPI), a command-line validator; ajv (npm), the validator of most JavaScript programs, with its
class for JSON Schema 2020-12; vscode-json-languageservice (npm), the service behind the JSON support of editors, which finds
the schema by a record's own `$schema` line. Each must take every record of the example book, and refuse the samples that
are wrong. The schemas are those that `underlit schemas --into` writes and a new book carries.
"""

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[3]
ENDING = ".schema.json"
MODULES = Path(os.environ.get("UNDERLIT_NODE_MODULES", ROOT / "target" / "outside-node" / "node_modules"))
UNDERLIT = os.environ.get("UNDERLIT", str(ROOT / "target" / "debug" / "underlit"))
KINDS = sorted(path.name for path in (ROOT / "tests" / "samples").iterdir())
CHECKER = Path(sys.executable).parent / "check-jsonschema"


@pytest.fixture(scope="module")
def book(tmp_path_factory):
    """The example book with this program's schemas, and every sample beside the records of its kind."""
    book = tmp_path_factory.mktemp("book") / "book"
    shutil.copytree(ROOT / "example-repo", book)
    shutil.rmtree(book / "schema")
    subprocess.run([UNDERLIT, "schemas", "--into", str(book / "schema")], check=True, capture_output=True)
    for kind in KINDS:
        for verdict in ("valid", "invalid"):
            for sample in (ROOT / "tests" / "samples" / kind / verdict).glob("*.json"):
                record = json.loads(sample.read_text("utf-8"))
                if not isinstance(record, dict) or not str(record.get("$schema", "")).endswith(f"/{kind}{ENDING}"):
                    continue  # its flaw is the very line that leads to the schema
                record["$schema"] = f"../../schema/{kind}{ENDING}"
                to = book / "samples" / f"{kind}.{verdict}" / sample.name
                to.parent.mkdir(parents=True, exist_ok=True)
                to.write_text(json.dumps(record, indent=2, ensure_ascii=False) + "\n", "utf-8")
    return book


def records_of(book, kind):
    """Every record of a kind in the book proper, by its path from the top folder."""
    found = []
    for path in sorted(book.rglob("*.json")):
        place = path.relative_to(book)
        if place.parts[0] in ("samples", "schema"):
            continue
        schema = json.loads(path.read_text("utf-8")).get("$schema", "")
        if schema.rpartition("schema/")[2] == f"{kind}{ENDING}":
            found.append(str(place))
    return found


def samples_of(book, kind, verdict):
    return sorted(str(p.relative_to(book)) for p in (book / "samples" / f"{kind}.{verdict}").glob("*.json"))


def test_the_example_has_records_of_most_kinds(book):
    assert sum(bool(records_of(book, kind)) for kind in KINDS) >= 15


@pytest.mark.parametrize("kind", KINDS)
def test_check_jsonschema(book, kind):
    """Source: PyPI check-jsonschema."""
    command = [str(CHECKER), "--schemafile", f"schema/{kind}{ENDING}"]
    good = records_of(book, kind) + samples_of(book, kind, "valid")
    passed = subprocess.run([*command, *good], cwd=book, capture_output=True, text=True)
    assert passed.returncode == 0, passed.stdout + passed.stderr
    for wrong in samples_of(book, kind, "invalid"):
        refused = subprocess.run([*command, wrong], cwd=book, capture_output=True, text=True)
        assert refused.returncode == 1 and "Schema validation errors" in refused.stdout, wrong + refused.stdout + refused.stderr
        break  # starting it takes half a second; the other validators are given every sample


@pytest.mark.parametrize("kind", KINDS)
def test_ajv_and_the_language_service_of_editors(book, kind):
    """Source: npm ajv and vscode-json-languageservice."""
    good = records_of(book, kind) + samples_of(book, kind, "valid")
    wrong = samples_of(book, kind, "invalid")
    script = Path(__file__).with_name("stock_validators.cjs")
    command = ["node", str(script), str(MODULES), f"schema/{kind}{ENDING}", *good, *wrong]
    said = json.loads(subprocess.run(command, cwd=book, check=True, capture_output=True, text=True).stdout)
    for validator, answers in said.items():
        assert set(answers) == set(good + wrong), validator
        for record in good:
            assert not answers[record], f"{validator} refuses {record}: {answers[record]}"
        for record in wrong:
            assert answers[record], f"{validator} takes {record}"
