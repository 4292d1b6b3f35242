//! The story of a project, or of the whole book, in trade words: from its commits, oldest first.

use jiff::civil::Date;
use serde::Serialize;

use crate::fault::Fault;
use crate::git::Repo;
use crate::ids::ProjectId;
use crate::store::BookFolder;

/// One chapter: a change, who made it and when.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub(crate) struct Chapter {
    /// When, as the commit says, in UTC.
    pub at: String,
    /// Who, as the commit says.
    pub who: String,
    /// What, in a line.
    pub what: String,
    /// More about it.
    pub more: String,
    /// The commit.
    pub commit: String,
    /// The files that it touched, within the book.
    pub files: Vec<String>,
}

/// The chapters, oldest first, and the day on which they begin where what came before is not here.
type Story = (Vec<Chapter>, Option<Date>);

/// Tells the story.
///
/// # Errors
/// `not-a-book`, `unknown-project`, and what git says.
pub(crate) fn history(book: &BookFolder, id: Option<&ProjectId>) -> Result<Story, Vec<Fault>> {
    let prefix = match id {
        Some(id) => book.project(id)?,
        None => String::new(),
    };
    let repo = Repo::open(book.root())?;
    let mut chapters = Vec::new();
    for entry in repo.log(&prefix)? {
        let entry = entry?;
        if entry.cut_off {
            continue; // nobody can tell here what it did
        }
        let (what, more) = entry.message.split_once('\n').unwrap_or((&entry.message, ""));
        let at = jiff::Timestamp::from_second(entry.at.seconds).map(|t| t.to_string()).unwrap_or_default();
        let what = match id {
            Some(id) => what.strip_prefix(&format!("{id}: ")).unwrap_or(what),
            None => what,
        };
        chapters.push(Chapter {
            at,
            who: entry.author.name.clone(),
            what: what.trim().to_owned(),
            more: more.trim().to_owned(),
            commit: entry.id.to_string(),
            files: entry.changes.iter().map(|c| c.path.clone()).collect(),
        });
    }
    chapters.reverse();
    let from = repo.head()?.map(|head| repo.history_from(head)).transpose()?.flatten();
    Ok((chapters, from))
}
