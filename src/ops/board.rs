//! Every project in a line: stage, days in it, who is waited for, install date.

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use super::board_memory::Memory;
use super::loans::{Loan, loans};
use super::reading::Reading;
use super::status::{self, GroupLine, Status};
use crate::fault::Fault;
use crate::gates::{Finding, State};
use crate::ids::{PersonId, ProjectId};
use crate::model::question::questions;
use crate::model::roster::Role;
use crate::model::snapshot::Snapshot;
use crate::model::stage::Stage;
use crate::parallel::in_parallel;
use crate::trust::about::About;
use crate::trust::surroundings::Surroundings;
use crate::trust::vanished::{self, Vanished};

/// One project on the board.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Row {
    /// The project's name.
    pub id: ProjectId,
    /// Its title; none where its records cannot be read.
    pub title: Option<String>,
    /// Its stage.
    pub stage: Option<Stage>,
    /// Whole days since it entered the stage, or since it was opened.
    pub days_in_stage: Option<i64>,
    /// True where it may be built.
    pub released: bool,
    /// Its release groups, each with whether it may be built.
    pub groups: Vec<GroupLine>,
    /// False where something behind no longer holds.
    pub holds: bool,
    /// Who looks after it; none where its records cannot be read.
    pub rep: Option<PersonId>,
    /// True where nothing is missing before the next stage.
    pub may_advance: bool,
    /// Who is waited for, and for what.
    pub waiting_on: Vec<Waiting>,
    /// The install date.
    pub install_date: Option<Date>,
    /// True where it cannot be met any more.
    pub late: bool,
    /// Business days to spare.
    #[serde(rename = "spare_business_days")]
    pub slack_business_days: Option<i64>,
    /// Why there are no dates, where an install date is set and cannot be counted back from.
    pub no_dates: Option<String>,
    /// How many questions between edits are open.
    #[serde(rename = "question_count")]
    pub questions: usize,
    /// How many questions went away without an answer.
    #[serde(rename = "vanished_count")]
    pub vanished: usize,
    /// How many things were refused, for the facts as they are.
    #[serde(rename = "rejected_count")]
    pub rejected: usize,
    /// The test panels that are out on loan.
    pub(crate) loans: Vec<Loan>,
    /// What is wrong with its records, where they cannot be read.
    #[serde(skip)]
    pub faults: Vec<Fault>,
}

/// One thing that is waited for.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Waiting {
    /// By whom it can be given; empty where nobody has the role.
    pub people: Vec<PersonId>,
    /// In which roles it can be given.
    pub roles: Vec<Role>,
    /// What.
    pub what: String,
    /// Which requirement asks for it.
    pub requirement: String,
    /// The command that gives it.
    pub command: String,
}

impl Row {
    /// The release groups that may be built, by name, where the job is not released as a whole.
    #[must_use]
    pub(crate) fn groups_released(&self) -> Vec<&str> {
        let released = self.groups.iter().filter(|group| group.released && !self.released);
        released.map(|group| group.id.as_str()).collect()
    }
}

impl Waiting {
    /// By whom it can be given, or in which roles where nobody has them: `mara/tom`.
    #[must_use]
    pub(crate) fn who(&self) -> String {
        let people: Vec<String> = self.people.iter().map(ToString::to_string).collect();
        let roles: Vec<String> = self.roles.iter().map(ToString::to_string).collect();
        if people.is_empty() { roles.join("/") } else { people.join("/") }
    }
}

/// Every project, by name. What did not change since the last look is taken from there: see [`super::board_memory`].
///
/// # Errors
/// What the disk says; a project that cannot be read is a row that says so.
pub fn board(reading: &Reading, around: &Surroundings<'_>) -> Result<Vec<Row>, Vec<Fault>> {
    let today = around.today();
    let mut memory = Memory::open(reading, around);
    let known = memory.look(&reading.book, reading.book.projects()?);
    let made = in_parallel(&known, |(id, row)| row.is_none().then(|| row_of(reading, id, today)));
    let mut rows: Vec<Row> =
        known.into_iter().zip(made).filter_map(|((_, row), made)| row.or(made)).collect();
    memory.keep(&rows);
    let gone: Vec<About> = vanished::of_book(reading.book.root())?.iter().map(Vanished::about).collect();
    for row in &mut rows {
        row.vanished = gone.iter().filter(|about| **about == About::Project(row.id.clone())).count();
    }
    Ok(rows)
}

fn row_of(reading: &Reading, id: &ProjectId, today: Date) -> Row {
    match reading.project(id) {
        Err(faults) => unreadable(id.clone(), 0, faults),
        Ok(snapshot) => of_status(&snapshot, &status::of(&reading.case(&snapshot), today), 0, today),
    }
}

/// The row of a project that cannot be read.
#[must_use]
pub(crate) fn unreadable(id: ProjectId, vanished: usize, faults: Vec<Fault>) -> Row {
    Row {
        id,
        title: None,
        stage: None,
        days_in_stage: None,
        released: false,
        groups: Vec::new(),
        holds: false,
        rep: None,
        may_advance: false,
        waiting_on: Vec::new(),
        install_date: None,
        late: false,
        slack_business_days: None,
        no_dates: None,
        questions: 0,
        vanished,
        rejected: 0,
        loans: Vec::new(),
        faults,
    }
}

/// The row of a project whose status is known.
#[must_use]
pub(crate) fn of_status(snapshot: &Snapshot, status: &Status, vanished: usize, today: Date) -> Row {
    let (project, install_date) = (&snapshot.project, snapshot.install_date());
    let entered = status.since.as_deref().and_then(|t| t.get(..10)?.parse::<Date>().ok());
    let since = entered.unwrap_or(project.opened);
    let rejected = status.broken.iter().chain(&status.missing).filter(|f| f.state == State::Rejected).count();
    Row {
        id: project.id.clone(),
        title: Some(project.title.clone()),
        stage: Some(status.stage),
        // A step into the future is that of a clock which was wrong: nobody knows how long it stands.
        days_in_stage: Some(i64::from((today - since).get_days())).filter(|days| *days >= 0),
        released: status.released,
        groups: status.groups.clone(),
        holds: status.holds,
        rep: Some(project.people.rep.clone()),
        may_advance: status.may_advance,
        waiting_on: waiting(status),
        install_date: status.dates.as_ref().map(|d| d.install_date).or(install_date),
        late: status.dates.as_ref().is_some_and(|d| d.late)
            || (status.no_dates.is_some() && install_date.is_some_and(|d| d < today)),
        slack_business_days: status.dates.as_ref().map(|d| d.slack_business_days),
        no_dates: status.no_dates.clone().filter(|_| install_date.is_some()),
        questions: questions(&snapshot.conflicts).len(),
        vanished,
        rejected,
        loans: loans(snapshot, today),
        faults: Vec::new(),
    }
}

fn waiting(status: &Status) -> Vec<Waiting> {
    let of = |f: &Finding| Waiting {
        people: f.who.clone(),
        roles: f.roles.clone(),
        what: f.what.clone(),
        requirement: f.requirement.to_owned(),
        command: f.command.clone(),
    };
    status.broken.iter().chain(&status.missing).map(of).collect()
}
