//! What a schema cannot see of a record's lux readings: that less light passes a stone than falls on it.

use serde_json::Value;

use crate::fault::Fault;
use crate::light::photometry::LuxPair;
use crate::model::kind::Kind;
use crate::units::Lux;

/// Every pair of readings in a trial or a swatch that cannot be of one panel with and without the stone, with its pointer.
pub(super) fn faults(kind: Kind, value: &Value) -> Vec<(Fault, String)> {
    let pairs: Vec<(&Value, String)> = match kind {
        Kind::Trial => vec![(value, "/through_lx".to_owned())],
        Kind::Swatch => {
            let measured = value.get("measured").and_then(Value::as_array).into_iter().flatten();
            measured.enumerate().map(|(nth, one)| (one, format!("/measured/{nth}/through_lx"))).collect()
        }
        _ => Vec::new(),
    };
    pairs.into_iter().filter_map(|(pair, pointer)| Some((fault(pair)?, pointer))).collect()
}

fn fault(value: &Value) -> Option<Fault> {
    let read = |field: &str| value.get(field).and_then(Value::as_f64).map(Lux);
    let error = LuxPair::new(read("bare_lx")?, read("through_lx")?).err()?;
    Some(Fault::data(error.code(), error.to_string()).fix(error.remedy()))
}
