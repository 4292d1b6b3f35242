//! What somebody can do next, over all jobs, the most pressing first.

use jiff::civil::Date;
use serde::Serialize;

use super::board::Row;
use crate::ids::{PersonId, ProjectId};
use crate::model::roster::{Role, Roster};
use crate::model::stage::Stage;

/// One act of one person.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub(crate) struct Act {
    /// The project.
    pub project: ProjectId,
    /// Its title.
    pub title: Option<String>,
    /// What is to be done, in a sentence.
    pub what: String,
    /// The command that does it.
    pub command: String,
    /// Which requirement asks for it; none for the step to the next stage.
    pub requirement: Option<String>,
    /// True where it keeps a job that was taken further from going on.
    pub holds_up: bool,
    /// True where the install date cannot be met any more.
    pub late: bool,
    /// Business days to spare.
    pub spare_business_days: Option<i64>,
    /// The install date.
    pub install_date: Option<Date>,
}

/// Everything that waits for a person, the most pressing first: what is late, what holds up a job that was taken further,
/// then the least time to spare.
#[must_use]
pub(crate) fn acts(rows: &[Row], person: &PersonId, roster: &Roster) -> Vec<Act> {
    let mut acts: Vec<Act> = rows.iter().flat_map(|row| of_row(row, person, roster)).collect();
    let spare = |act: &Act| act.spare_business_days.unwrap_or(i64::MAX);
    acts.sort_by_key(|act| (!act.late, !act.holds_up, spare(act), act.install_date.unwrap_or(Date::MAX)));
    acts
}

fn of_row(row: &Row, person: &PersonId, roster: &Roster) -> Vec<Act> {
    let act = |what: String, command: String, requirement: Option<String>| Act {
        project: row.id.clone(),
        title: row.title.clone(),
        what,
        command,
        requirement,
        holds_up: !row.holds,
        late: row.late,
        spare_business_days: row.slack_business_days,
        install_date: row.install_date,
    };
    let mine = row.waiting_on.iter().filter(|waiting| waiting.people.contains(person));
    let mut acts: Vec<Act> = mine
        .map(|waiting| act(waiting.what.clone(), waiting.command.clone(), Some(waiting.requirement.clone())))
        .collect();
    // Who looks after a job takes it on; where that person is on the roster no more, whoever owns the book.
    let gone = row.rep.as_ref().is_some_and(|rep| roster.person(rep).is_none());
    let looks_after = row.rep.as_ref() == Some(person)
        || gone && roster.person(person).is_some_and(|p| p.roles.contains(&Role::Owner));
    let next = row.stage.and_then(Stage::next);
    if let Some(next) = next.filter(|_| row.may_advance && looks_after) {
        let command = format!("underlit advance {}", row.id);
        acts.push(act(format!("nothing is missing before {next}"), command, None));
    }
    for loan in row.loans.iter().filter(|loan| loan.is_pressing() && looks_after) {
        acts.push(act(
            loan.in_words(),
            format!("underlit request returned {} {}", row.id, loan.request),
            None,
        ));
    }
    if row.questions > 0 && looks_after {
        let open = crate::words::counted(row.questions, "open question", "open questions");
        acts.push(act(format!("{open} between edits"), format!("underlit resolve {}", row.id), None));
    }
    acts
}
