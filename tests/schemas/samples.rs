//! Samples: every valid one passes the schema and the type and is written as it was read; every invalid one
//! is refused by the schema; and together the valid ones show every field that there is.

use std::collections::BTreeSet;

use underlit::model::kind::Kind;

use crate::files::{folder, names_in, samples, schemas, validator};
use crate::kinds::read_and_write;
use crate::walk::{fields_of_record, fields_of_schema};

#[test]
fn every_kind_has_a_schema_and_samples_and_nothing_else_has() {
    let mut kinds: Vec<String> = Kind::WITH_SCHEMA.iter().map(|k| k.name().to_owned()).collect();
    kinds.sort();
    assert_eq!(names_in(&folder("tests/samples")), kinds, "folders of samples");
    kinds.push("definitions".into());
    kinds.sort();
    assert_eq!(schemas().keys().cloned().collect::<Vec<_>>(), kinds, "schemas");
}

#[test]
fn valid_samples_pass_the_schema_and_the_type_and_are_written_as_they_were_read() {
    for kind in Kind::WITH_SCHEMA {
        let validator = validator(kind.name());
        let names: Vec<String> = samples(kind.name(), "valid").into_iter().map(|(name, _)| name).collect();
        for needed in ["every-field", "fewest-fields"] {
            assert!(
                names.contains(&format!("{}/valid/{needed}", kind.name())),
                "{}: no {needed}",
                kind.name()
            );
        }
        for (name, value) in samples(kind.name(), "valid") {
            let errors: Vec<String> =
                validator.iter_errors(&value).map(|e| format!("{}: {e}", e.instance_path())).collect();
            assert!(errors.is_empty(), "{name}: {errors:?}");
            let written = read_and_write(*kind, &value).unwrap_or_else(|e| panic!("{name}: {e}"));
            assert!(written == value, "{name} is not written as it was read: {written:#}");
            // The outline's reader puts `$schema` aside, so its order says nothing.
            if *kind != Kind::Outline {
                assert_eq!(written.to_string(), value.to_string(), "{name} is not in the order of the type");
            }
        }
    }
}

#[test]
fn invalid_samples_are_refused_by_the_schema() {
    for kind in Kind::WITH_SCHEMA {
        let validator = validator(kind.name());
        for (name, value) in samples(kind.name(), "invalid") {
            assert!(!validator.is_valid(&value), "{name} is accepted");
        }
    }
}

/// With this, a schema cannot have a field that no type reads: the samples go through the types.
#[test]
fn the_valid_samples_show_every_field_of_every_schema() {
    let mut shown = BTreeSet::new();
    for kind in Kind::WITH_SCHEMA {
        for (_, value) in samples(kind.name(), "valid") {
            shown.extend(fields_of_record(kind.name(), &value).into_iter().map(|field| field.place));
        }
    }
    let all: BTreeSet<String> = schemas().keys().flat_map(|file| fields_of_schema(file)).collect();
    let hidden: Vec<&String> = all.difference(&shown).collect();
    assert!(hidden.is_empty(), "in no valid sample: {hidden:#?}");
}
