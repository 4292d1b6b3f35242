//! How bare numbers of the shop's records are written: whole ones whole, so that a file saved twice is the same file.

use serde::Serializer;

use crate::units::serialize_number;

/// A bare number.
pub(super) fn number<S: Serializer>(value: &f64, serializer: S) -> Result<S::Ok, S::Error> {
    serialize_number(*value, serializer)
}

/// A bare number that may be missing.
pub(super) fn optional_number<S: Serializer>(value: &Option<f64>, serializer: S) -> Result<S::Ok, S::Error> {
    match value {
        Some(value) => serialize_number(*value, serializer),
        None => serializer.serialize_none(),
    }
}
