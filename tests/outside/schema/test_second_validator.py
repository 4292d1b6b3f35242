"""A second validator agrees with ours on every sample and every record of the example book.

Source: the PyPI packages `jsonschema` and `referencing`, an implementation of JSON Schema 2020-12 that shares
no code with the one underlit uses. tests/schemas asserts the same of ours: a sample in a folder `valid` is
accepted and one in `invalid` is refused. A schema that only one program understands would pass there alone.

Not here: what the Rust types make of a record. One known difference is left out of the samples: `$` in a
Python pattern also matches before a last line break, and in ECMA-262, which JSON Schema names, it does not.
"""

import json
import re
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator, FormatChecker
from referencing import Registry, Resource
from referencing.jsonschema import DRAFT202012

ROOT = Path(__file__).resolve().parents[3]
ENDING = ".schema.json"
SCHEMAS = {path.name: json.loads(path.read_text("utf-8")) for path in sorted((ROOT / "schema").glob(f"*{ENDING}"))}
# Only what lies in schema/ can be referred to: a registry without a retriever fetches nothing.
REGISTRY = Registry().with_resources(
    (name, Resource.from_contents(schema, default_specification=DRAFT202012)) for name, schema in SCHEMAS.items()
)
SAMPLES = sorted((ROOT / "tests" / "samples").glob("*/*/*.json"))
EXAMPLE = ROOT / "example-repo"


def records_of_the_example():
    """The records of the example book: every JSON file but the copies of the schemas."""
    files = sorted(path for path in EXAMPLE.rglob("*.json") if ".git" not in path.parts)
    return [path for path in files if not path.name.endswith(ENDING)]


def no_key_twice(pairs):
    """Keeps Python from taking the last of two equal keys silently."""
    keys = [key for key, _ in pairs]
    assert len(keys) == len(set(keys)), f"a key is written twice among {keys}"
    return dict(pairs)


def read(path):
    return json.loads(path.read_text("utf-8"), object_pairs_hook=no_key_twice)


def complaints(schema_name, record):
    """What the second validator says against a record, each with its place."""
    validator = Draft202012Validator(SCHEMAS[schema_name], registry=REGISTRY, format_checker=FormatChecker())
    return [f"{error.json_path}: {error.message}" for error in validator.iter_errors(record)]


def name(path):
    return str(path.relative_to(ROOT))


def test_there_is_something_to_check():
    assert len(SCHEMAS) >= 22
    kinds = {path.parts[-3] for path in SAMPLES}
    assert kinds == {schema.removesuffix(ENDING) for schema in SCHEMAS} - {"definitions"}
    assert not EXAMPLE.exists() or records_of_the_example(), "the example book has no record"


@pytest.mark.parametrize("schema_name", SCHEMAS)
def test_each_schema_is_one(schema_name):
    """Source: the meta-schema of JSON Schema 2020-12, as `jsonschema` ships it."""
    Draft202012Validator.check_schema(SCHEMAS[schema_name])


@pytest.mark.parametrize("path", SAMPLES, ids=name)
def test_each_sample_is_judged_as_its_folder_says(path):
    kind, verdict = path.parts[-3:-1]
    found = complaints(kind + ENDING, read(path))
    assert verdict in ("valid", "invalid")
    assert (not found) == (verdict == "valid"), found


def test_each_record_of_the_example_is_valid():
    wrong = {}
    for path in records_of_the_example():
        record = read(path)
        schema_name = schema_of(path, record)
        found = complaints(schema_name, record)
        if found:
            wrong[name(path)] = found
    assert not wrong, json.dumps(wrong, indent=2, ensure_ascii=False)


def schema_of(path, record):
    """The schema that a record names; an outline need not name its own."""
    if "$schema" not in record and path.name.endswith(".outline.json"):
        return f"outline{ENDING}"
    named = record["$schema"]
    assert re.search(r"(^|/)schema/[a-z-]+\.schema\.json$", named), f"{name(path)} names {named}"
    target = (path.parent / named).resolve()
    assert target.parent == (EXAMPLE / "schema").resolve(), f"{name(path)}: {named} leads out of the book's schemas"
    return target.name
