//! The starter's lists, as the tests of this room read them.

use serde::de::DeserializeOwned;

/// One of the lists that a new shop begins with, by its name.
pub(crate) fn starter<T: DeserializeOwned>(list: &str) -> T {
    let path = format!("{}/src/starter/shop/{list}.json", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{path}: {e}"));
    serde_json::from_str(&text).unwrap_or_else(|e| panic!("{path}: {e}"))
}
