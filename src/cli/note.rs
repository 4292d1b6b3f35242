//! `note`: a remark on a project or on one of its records.

use super::failure::{Exit, Outcome};
use super::setting::Setting;
use crate::ids::ProjectId;
use crate::model::kind::Kind;
use crate::ops::notes;

/// Add a note to a project or to one of its records, for the next reader.
///
/// Nobody signs it, no gate asks for it, and nothing is built from it. It stays as it was written: to correct one, add
/// another. It is shown by `status`, `show`, `history` and on the job's page.
///
/// Example: underlit note quay-bar "the client is away until 4 January"
///
/// Example: underlit note quay-bar --on panel/front "the fabricator asks for 3 mm more at the left"
#[derive(Debug, clap::Args)]
pub(crate) struct NoteArgs {
    /// The project.
    project: ProjectId,
    /// What it says.
    text: String,
    /// The record that it is on, as KIND/NAME like panel/front, or KIND where there is one; names as `underlit show` lists
    /// them.
    #[arg(long, value_name = "RECORD")]
    on: Option<String>,
}

pub(crate) fn note(args: &NoteArgs, setting: &Setting<'_>) -> Outcome {
    let desk = setting.desk()?;
    let (note, path) = notes::add(&desk, &args.project, args.on.as_deref(), &args.text)?;
    let on = note.subject().unwrap_or_else(|| args.project.to_string());
    setting.done(format!("noted on {on}"));
    setting.wrote(&args.project, Kind::Note, Some(note.id.as_str()), &path);
    Ok(Exit::Done)
}
