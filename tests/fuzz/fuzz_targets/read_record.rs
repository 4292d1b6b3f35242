//! Any bytes as a record of the kind that they name: read or refused with a reason and a remedy, never a panic; what
//! is read is the same after it was written and read again.
//!
//! Run: cargo fuzz run --fuzz-dir . read_record corpus/read_record ../../example-repo/shop -- -max_total_time=600

#![no_main]

use libfuzzer_sys::fuzz_target;
use underlit::model::kind::Kind;
use underlit::trust::{check, shop};
use underlit::store::{read, strict_json};

fuzz_target!(|bytes: &[u8]| {
    let named = strict_json::parse(bytes).ok().and_then(|value| {
        let schema = value.get("$schema")?.as_str()?.rsplit('/').next()?.to_owned();
        Kind::WITH_SCHEMA.iter().find(|kind| schema == format!("{}.schema.json", kind.name())).copied()
    });
    let kind = named.unwrap_or(Kind::WITH_SCHEMA[bytes.len() % Kind::WITH_SCHEMA.len()]);
    match read::check_bytes("a.json", kind, bytes) {
        Ok(value) => {
            let _ = check::beyond_the_schema("a.json", kind, bytes, &value);
            let _ = shop::list_faults("a.json", kind, bytes, &value);
            let written = serde_json::to_vec(&value).expect("written");
            assert_eq!(read::check_bytes("a.json", kind, &written).expect("read again"), value);
        }
        Err(faults) => {
            assert!(!faults.is_empty());
            assert!(faults.iter().all(|f| !f.message.is_empty() && f.remedy.is_some()), "{faults:?}");
        }
    }
});
