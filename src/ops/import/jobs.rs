//! Running jobs out of a shop's spreadsheet: one row a job, each a project at its first stage. What was agreed before is for
//! people to say again, each in their own name; a table cannot say it for them.

use std::collections::BTreeMap;

use jiff::civil::Date;

use super::{CODE, LONGEST_NOTE, Spreadsheet, Table, named, short_name};
use crate::fault::Fault;
use crate::ids::{PersonId, ProjectId};
use crate::model::kind::Kind;
use crate::model::project::Project;
use crate::model::roster::Roster;
use crate::ops::desk::Desk;
use crate::ops::record;
use crate::store::Changes;
use crate::words::{counted, words};

/// The most characters of a title, as the schema has it.
const LONGEST_TITLE: usize = 120;

words! {
    /// What a column says of a job.
    Field, "what a column says" {
        /// Its number or name; the project's short name follows from it.
        Job = "job",
        /// What people call it.
        Title = "title",
        /// Who approves for the client.
        Client = "client",
        /// Who looks after it.
        Rep = "rep",
        /// Who draws it.
        Designer = "designer",
        /// Who releases it.
        Engineer = "engineer",
        /// Who builds it.
        Fabricator = "fabricator",
        /// Who installs it.
        Installer = "installer",
        /// What the place is called.
        Site = "site",
        /// Where the place is.
        Address = "address",
        /// The day of installation.
        Install = "install",
        /// Anything else.
        Note = "note",
    }
}

impl Field {
    /// The headings that mean it without being told.
    fn headings(self) -> &'static [&'static str] {
        match self {
            Field::Job => &["job", "job no", "job number", "project no", "number", "no", "id"],
            Field::Title => &["title", "name", "project", "description"],
            Field::Client => &["client", "customer"],
            Field::Rep => &["rep", "sales"],
            Field::Designer => &["designer", "drawn by"],
            Field::Engineer => &["engineer"],
            Field::Fabricator => &["fabricator"],
            Field::Installer => &["installer"],
            Field::Site => &["site", "place", "location"],
            Field::Address => &["address"],
            Field::Install => &["install", "install date", "installation", "due", "due date"],
            Field::Note => &["note", "notes", "remark", "remarks"],
        }
    }
}

/// How a table is to be read.
#[derive(Clone, Debug)]
pub(crate) struct How {
    /// Columns that are named otherwise: what they say, and their heading.
    pub columns: Vec<(Field, String)>,
    /// Who looks after jobs whose row names nobody.
    pub rep: PersonId,
    /// The day.
    pub today: Date,
}

/// What a table holds.
#[derive(Debug)]
pub(crate) struct Jobs {
    /// The projects, in the order of their rows.
    pub projects: Vec<Project>,
    /// Headings of columns that were not read.
    pub unread: Vec<String>,
    /// The other sheets of its workbook.
    pub others: Vec<String>,
}

/// Reads a table of jobs. A project that is there already is refused, so that the same table is not taken in twice.
///
/// # Errors
/// `schedule`: everything in the file that does not fit, each with its line.
pub(crate) fn read(given: &Spreadsheet, desk: &Desk<'_>, how: &How) -> Result<Jobs, Vec<Fault>> {
    let file = given.name.as_str();
    let table = Table::read(given)?;
    let columns = table.columns(Field::ALL.iter().map(|field| (*field, field.headings())), &how.columns)?;
    for (needed, what) in [(Field::Title, "what each job is called"), (Field::Client, "each job's client")] {
        if !columns.has(&needed) {
            let fix = format!("name it: --column {needed}=HEADING; ");
            return Err(vec![table.headless(&format!("no column gives {what}"), &fix)]);
        }
    }
    let roster = desk.reading.chain.newest();
    let there = desk.reading.book.projects().map_err(|fault| vec![*fault])?;
    let committed = desk.repo.projects_at(desk.repo.head()?)?;
    let mut faults = Vec::new();
    let mut lines: BTreeMap<ProjectId, usize> = BTreeMap::new();
    let mut projects = Vec::new();
    for (line, cells) in &table.rows {
        let at = |fault: Fault| fault.in_file(file).on_line(Some(*line));
        match job(&|field| columns.of(cells, &field), roster, how) {
            Err(why) => faults.extend(why.into_iter().map(at)),
            Ok(project) => {
                let other =
                    lines.insert(project.id.clone(), *line).map(|line| format!("the row on line {line}"));
                let known = there.contains(&project.id) || committed.contains(project.id.as_str());
                let known = known.then(|| "the book".to_owned());
                if let Some(who) = other.or(known) {
                    let text = format!("{who} has a job {} already", project.id);
                    faults
                        .push(at(Fault::data(CODE, text)
                            .fix("take the row out, or give the job a number of its own")));
                }
                projects.push(project);
            }
        }
    }
    if faults.is_empty() {
        Ok(Jobs { projects, unread: columns.unread, others: table.others })
    } else {
        Err(faults)
    }
}

/// Opens the projects, in one commit.
///
/// # Errors
/// What the schema says against one of them, and what the disk or git says.
pub(crate) fn save(desk: &Desk<'_>, jobs: &Jobs) -> Result<(), Vec<Fault>> {
    let mut changes = Changes::new();
    for project in &jobs.projects {
        record::put(&format!("projects/{}/project.json", project.id), Kind::Project, project, &mut changes)?;
    }
    let count = counted(jobs.projects.len(), "running job", "running jobs");
    desk.save(&changes, &format!("opens {count} of a table\n"))?;
    Ok(())
}

fn job<'r>(cell: &dyn Fn(Field) -> &'r str, roster: &Roster, how: &How) -> Result<Project, Vec<Fault>> {
    let mut faults = Vec::new();
    let mut wrong = |text: String, fix: &str| faults.push(Fault::data(CODE, text).fix(fix));
    let title = cell(Field::Title);
    if title.is_empty() {
        wrong("the row has no title".into(), "say what the job is called");
    }
    for (field, longest) in [(Field::Title, LONGEST_TITLE), (Field::Note, LONGEST_NOTE)] {
        if cell(field).chars().count() > longest {
            wrong(format!("its {field} has more than {longest} characters"), "shorten it");
        }
    }
    let number = [cell(Field::Job), title].into_iter().find(|text| !text.is_empty()).unwrap_or_default();
    let id = short_name(number).parse::<ProjectId>();
    if let Err(why) = &id
        && !number.is_empty()
    {
        wrong(
            format!("`{number}` makes no short name: {why}"),
            "give it a number or a shorter name: --column job=HEADING",
        );
    }
    let install = match cell(Field::Install) {
        "" => Ok(None),
        text => text.parse::<Date>().map(Some),
    };
    if install.is_err() {
        wrong(format!("invalid date `{}`", cell(Field::Install)), "write year-month-day, like 2027-03-15");
    }
    let mut person = |field: Field| match cell(field) {
        "" => None,
        text => match known(text, roster) {
            Ok(person) => Some(person),
            Err(why) => {
                wrong(
                    format!("its {field}: {why}"),
                    "an owner adds people: underlit roster add; or write the short name that `underlit roster show` gives",
                );
                None
            }
        },
    };
    let [client, rep, designer, engineer, fabricator, installer] =
        [Field::Client, Field::Rep, Field::Designer, Field::Engineer, Field::Fabricator, Field::Installer]
            .map(&mut person);
    if cell(Field::Client).is_empty() {
        wrong("the row names no client".into(), "say who approves");
    }
    let (Ok(id), Ok(install_date), Some(client), true) = (id, install, client, faults.is_empty()) else {
        return Err(faults);
    };
    let rep = rep.unwrap_or_else(|| how.rep.clone());
    let said = |field: Field| Some(cell(field).to_owned()).filter(|text| !text.is_empty());
    let mut project =
        Project::of(id, title, client, rep, said(Field::Site).as_deref().unwrap_or(title), how.today);
    let people = &mut project.people;
    (people.designer, people.engineer) = (designer, engineer);
    (people.fabricator, people.installer) = (fabricator, installer);
    project.site.address = said(Field::Address);
    (project.install_date, project.note) = (install_date, said(Field::Note));
    Ok(project)
}

/// Whom a cell names.
fn known(text: &str, roster: &Roster) -> Result<PersonId, String> {
    named(text, roster.people.iter().map(|p| (&p.id, p.name.as_str()))).map_err(|several| match several {
        true => format!("more than one person is called `{text}`"),
        false => format!("`{text}` is not on the roster"),
    })
}
