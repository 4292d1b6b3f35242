//! `undo`: one's own last change, taken back before anybody else has it.

use serde_json::json;

use super::failure::{Exit, Outcome};
use super::setting::Setting;
use crate::ops::undo;

/// Take back your own last change that was not sent.
///
/// The files are as they were before it, by a new commit: the history keeps both. Run it again to take back the one before. What
/// was sent, what somebody else made, and what was signed is not taken back; the answer says what to do instead.
///
/// Example: underlit undo
#[derive(Debug, clap::Args)]
pub(crate) struct UndoArgs {}

pub(crate) fn run(_: &UndoArgs, setting: &Setting<'_>) -> Outcome {
    let desk = setting.desk()?;
    let undone = undo::undo(&desk)?;
    setting.done(format!("took back “{}”", undone.what));
    undone.files.iter().for_each(|file| setting.printer.line(format!("  {file} is as it was before")));
    setting.printer.json(&json!({
        "commit": undone.commit.to_string(), "what": undone.what, "files": undone.files,
    }));
    Ok(Exit::Done)
}
