//! Each kind of record with the type that reads it.

use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::Value;
use underlit::making::calendar::ShopCalendar;
use underlit::making::routes::Routes;
use underlit::model::book::Book;
use underlit::model::conflict::Conflict;
use underlit::model::handover::{AsBuilt, Installation};
use underlit::model::kind::Kind;
use underlit::model::moves::Move;
use underlit::model::note::Note;
use underlit::model::panel::Panel;
use underlit::model::project::Project;
use underlit::model::rendering::Rendering;
use underlit::model::request::Request;
use underlit::model::roster::Roster;
use underlit::model::rules::Rules;
use underlit::model::statement::Statement;
use underlit::model::swatch::Swatch;
use underlit::model::trial::Trial;
use underlit::power::controls::Controls;
use underlit::power::drivers::Drivers;
use underlit::power::lights::Lights;
use underlit::power::wire_stock::WireStock;

/// Reads a record with its type and writes it again.
pub(crate) fn read_and_write(kind: Kind, value: &Value) -> Result<Value, String> {
    match kind {
        Kind::Book => by::<Book>(value),
        Kind::Roster => by::<Roster>(value),
        Kind::Rules => by::<Rules>(value),
        Kind::Routes => by::<Routes>(value),
        Kind::Lights => by::<Lights>(value),
        Kind::Drivers => by::<Drivers>(value),
        Kind::Controls => by::<Controls>(value),
        Kind::Wire => by::<WireStock>(value),
        Kind::Calendar => by::<ShopCalendar>(value),
        Kind::Project => by::<Project>(value),
        Kind::Swatch => by::<Swatch>(value),
        Kind::Request => by::<Request>(value),
        Kind::Trial => by::<Trial>(value),
        Kind::Panel => by::<Panel>(value),
        Kind::Outline => outline(value),
        Kind::Rendering => by::<Rendering>(value),
        Kind::AsBuilt => by::<AsBuilt>(value),
        Kind::Installation => by::<Installation>(value),
        Kind::SignOff => by::<Statement>(value),
        Kind::Move => by::<Move>(value),
        Kind::Note => by::<Note>(value),
        Kind::Conflict => by::<Conflict>(value),
        Kind::RosterSignature
        | Kind::Signature
        | Kind::Scan
        | Kind::Attachment
        | Kind::Schema
        | Kind::Housekeeping => Err(format!("{} has no schema", kind.name())),
    }
}

fn by<T: DeserializeOwned + Serialize>(value: &Value) -> Result<Value, String> {
    let typed: T = serde_json::from_value(value.clone()).map_err(|e| e.to_string())?;
    serde_json::to_value(&typed).map_err(|e| e.to_string())
}

/// An outline has a reader of its own; it drops `$schema`, which is put back here.
fn outline(value: &Value) -> Result<Value, String> {
    let outline = underlit::shape::read_json(value.to_string().as_bytes()).map_err(|e| e.to_string())?;
    let mut written: Value =
        serde_json::from_str(&underlit::shape::to_json(&outline)).map_err(|e| e.to_string())?;
    if let Some(path) = value.get("$schema") {
        written["$schema"] = path.clone();
    }
    Ok(written)
}
