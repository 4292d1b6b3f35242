//! The data of a job's build pack: every figure that builds, powers and installs it, and one digest over all.
//!
//! The release seals that digest. A pack made again later from the same book has the same data, so the pack of
//! a released project proves itself. How a pack looks on paper is the sheets room's.
//!
//! | file | what it holds |
//! |---|---|
//! | [`data`] | the records of the data, in whole numbers and text |
//! | `panels` | each panel's figures, and how it is served |
//! | `circuits` | drivers, outputs, leads, and what to buy |
//! | `bases` | the stones, and what the figures rest on |
//! | [`order`] | what to order, with allowances and whole sheets; no part of the data |
//! | [`notes`] | what the figures rest on and what is taken for granted, as keys with their figures |
//! | [`words`] | what a pack says of its data, in words; no part of them |
//! | [`canonical`] | one spelling of the data, its digest, and what differs between two |

mod bases;
pub mod canonical;
mod circuits;
pub mod data;
pub mod notes;
pub mod order;
mod panels;
pub mod words;

use std::collections::BTreeMap;

pub(crate) use data::PackData;
use serde_json::Value;

use super::case::Case;
use super::cautions::cautions;
use super::plan::JobPlan;
use super::wording::Wording;
use crate::digest::Sha256Digest;

/// The data of a job's pack, as its records are now and as the job was worked out.
#[must_use]
pub fn of_job(case: &Case<'_>, job: &JobPlan) -> PackData {
    let site = &case.project.project.site;
    let stones = bases::stones(case);
    PackData {
        format: data::FORMAT,
        book: case.shop.book.id.to_string(),
        project: case.id().to_owned(),
        group: case.group.as_ref().map(ToString::to_string),
        site: data::SiteData {
            name: site.name.clone(),
            address: site.address.clone(),
            electrical_code: site.electrical_code.clone(),
            mains_mv: site.mains_v.map(|v| milli(v.0)),
            code_region: site.code_region,
        },
        panels: panels::panels(case, job, &stones),
        drivers: circuits::drivers(case, job),
        bill: circuits::bill(case, job),
        circuits: circuits::circuits(case, job),
        stones,
        bases: bases::bases(case, job),
        assumptions: bases::assumptions(case),
        cautions: cautions(case, Wording::PRESENT),
    }
}

/// The digest of the data in their one spelling.
#[must_use]
pub fn digest(data: &PackData) -> Sha256Digest {
    of_value(&canonical::value(data))
}

fn of_value(value: &Value) -> Sha256Digest {
    Sha256Digest::of(&canonical::bytes(value))
}

/// The same, and the digest of each part of the data by its name, panel by panel, so that a release can say which part is
/// no longer what it was.
#[must_use]
pub(crate) fn digest_and_parts(data: &PackData) -> (Sha256Digest, BTreeMap<String, Sha256Digest>) {
    let value = canonical::value(data);
    let mut parts = BTreeMap::new();
    if let Value::Object(fields) = &value {
        for (name, value) in fields.iter().filter(|(_, v)| v.is_array() || v.is_object()) {
            match (name.as_str(), value.as_array()) {
                ("panels", Some(panels)) => {
                    for panel in panels {
                        let id = panel.get("id").and_then(Value::as_str).unwrap_or_default();
                        parts.insert(format!("panels.{id}"), of_value(panel));
                    }
                }
                _ => {
                    parts.insert(name.clone(), of_value(value));
                }
            }
        }
    }
    (of_value(&value), parts)
}

/// A length in whole micrometres.
fn um(mm: f64) -> i64 {
    (mm * 1000.0).round() as i64
}

/// A quantity in whole thousandths of its unit.
fn milli(value: f64) -> i64 {
    (value * 1000.0).round() as i64
}
