//! Notes on a project and its records: added, and shown beside what they are on.

use serde::Serialize;

use super::desk::Desk;
use super::reading::Reading;
use super::record;
use super::show;
use crate::digest::Sha256Digest;
use crate::fault::{Fault, Outcome};
use crate::ids::ProjectId;
use crate::job::Case;
use crate::model::kind::Kind;
use crate::model::note::Note;
use crate::model::snapshot::Snapshot;
use crate::store::Changes;

/// A note, as people read it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub(crate) struct NoteLine {
    /// Its name.
    pub(crate) id: String,
    /// The record that it is on, as kind and name; none for the project as a whole.
    pub(crate) on: Option<String>,
    /// The same in words.
    #[serde(skip)]
    pub(crate) subject: Option<String>,
    /// Who wrote it, by name.
    pub(crate) who: String,
    /// When, as it says itself.
    pub(crate) at: String,
    /// What it says.
    pub(crate) text: String,
}

impl NoteLine {
    /// In a line: `2026-11-28  Mara Quill, on panel front: “the rim is chipped”`.
    #[must_use]
    pub(crate) fn in_words(&self) -> String {
        let day = self.at.get(..10).unwrap_or(&self.at);
        let on = self.subject.as_ref().map(|on| format!(", on {on}")).unwrap_or_default();
        format!("{day}  {}{on}: “{}”", self.who, self.text)
    }
}

/// Every note of a project, oldest first.
#[must_use]
pub(crate) fn of(case: &Case<'_>) -> Vec<NoteLine> {
    let line = |note: &Note| NoteLine {
        id: note.id.to_string(),
        on: note.on.clone(),
        subject: note.subject(),
        who: case.shop.roster.name_of(&note.by),
        at: note.time.clone(),
        text: note.text.clone(),
    };
    let mut all: Vec<NoteLine> = case.project.notes.values().map(line).collect();
    all.sort_by(|a, b| (&a.at, &a.id).cmp(&(&b.at, &b.id)));
    all
}

/// The notes on one record, by its kind and name.
#[must_use]
pub(crate) fn on(reading: &Reading, snapshot: &Snapshot, kind: Kind, name: &str) -> Vec<NoteLine> {
    let wanted = spelled(kind, name);
    let mut found = of(&reading.case(snapshot));
    found.retain(|note| note.on.as_ref() == Some(&wanted) || (note.on.is_none() && kind == Kind::Project));
    found
}

/// A record as a note names it.
fn spelled(kind: Kind, name: &str) -> String {
    if name.is_empty() { kind.name().to_owned() } else { format!("{}/{name}", kind.name()) }
}

/// Adds a note; gives it with its file.
///
/// # Errors
/// `unknown-record` for a record that is not there, and what saving meets.
pub(crate) fn add(
    desk: &Desk<'_>,
    project: &ProjectId,
    on: Option<&str>,
    text: &str,
) -> Result<(Note, String), Vec<Fault>> {
    let folder = desk.reading.book.project(project)?;
    let on = on.map(|on| subject(desk, project, on)).transpose()?.filter(|on| on != "project");
    let by = desk.me()?;
    let time = desk.around.stamp_to_sign()?;
    let said = format!("{by}\n{time}\n{}\n{text}", on.as_deref().unwrap_or_default());
    let digest = Sha256Digest::of(said.as_bytes()).hex();
    let day = time.get(..10).unwrap_or_default().replace('-', "");
    let id = format!("{day}-{}", &digest[..12]);
    let id = id.parse().map_err(|e| vec![Fault::data("id", format!("{e}"))])?;
    let schema = "../../../schema/note.schema.json".into();
    let note = Note { schema, id, on, by, time, text: text.to_owned() };
    let path = format!("{folder}/notes/{}.json", note.id);
    let subject = note.subject().map(|on| format!(" on {on}")).unwrap_or_default();
    let first: String = text.lines().next().unwrap_or_default().chars().take(120).collect();
    let message = format!("{project}: notes{subject}: {first}\n");
    record::add(desk, &path, Kind::Note, &note, Changes::new(), &message)?;
    Ok((note, path))
}

/// The record that somebody names as KIND or KIND/NAME, spelled in full.
fn subject(desk: &Desk<'_>, project: &ProjectId, on: &str) -> Outcome<String> {
    let (kind, name) = on.split_once('/').map_or((on, None), |(kind, name)| (kind, Some(name)));
    let mut records = show::records(&desk.reading.book, Some(project))?;
    records.retain(|r| r.kind != Kind::Conflict);
    let found = show::find(records, kind, name)?;
    Ok(spelled(found.kind, &found.name))
}
