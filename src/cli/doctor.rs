//! `doctor`: is this machine fit for the work?

use std::env;

use serde_json::json;

use super::failure::{Exit, Outcome};
use super::setting::Setting;
use crate::ops::doctor::{Health, examine};

/// Look whether this machine and this clone are fit for the work: git, keys, remote, guard, clock, disk, and the rest.
///
/// Each line says what is fine, or what is wrong and how to fix it; nothing is written. Exit code 0: nothing is wrong;
/// 1: something is.
///
/// Example: underlit doctor
#[derive(Debug, clap::Args)]
pub(crate) struct DoctorArgs {}

pub(crate) fn doctor(_: &DoctorArgs, setting: &Setting<'_>) -> Outcome {
    let editor =
        ["VISUAL", "EDITOR"].into_iter().find_map(|name| env::var(name).ok()).filter(|e| !e.is_empty());
    let all = examine(&setting.folder, &setting.around, editor.as_deref());
    for one in &all {
        let word = match one.health {
            Health::Fine => "fine",
            Health::Note => "note",
            Health::Wrong => "WRONG",
        };
        setting.printer.line(format!("{word:<6} {:<12} {}", one.about, one.found));
        if let Some(fix) = &one.fix {
            setting.printer.line(format!("       {:<12} Fix: {fix}", ""));
        }
    }
    let is_fit = all.iter().all(|one| one.health != Health::Wrong);
    setting.printer.json(&json!({ "well": is_fit, "examined": all }));
    Ok(if is_fit { Exit::Done } else { Exit::Blocked })
}
