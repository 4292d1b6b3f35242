//! What the pages of a book say, before it is HTML: plain facts, from whoever read and judged the book.

use std::collections::BTreeMap;

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use crate::digest::Sha256Digest;
use crate::gates::standing::Standing;
use crate::making::schedule::Due;
use crate::model::roster::Role;
use crate::model::stage::Stage;
use crate::units::DisplayUnits;

/// The book.
#[derive(Clone, Debug)]
pub(crate) struct Book {
    /// The shop.
    pub shop: String,
    /// What a reader should know first.
    pub note: Option<String>,
    /// The units in which lengths are shown.
    pub units: DisplayUnits,
    /// The day as of which everything is said.
    pub day: Date,
    /// The newest commit, shortened; none where there is no history.
    pub commit: Option<String>,
    /// Its fingerprint.
    pub fingerprint: Sha256Digest,
    /// Everybody of the roster, by name.
    pub people: BTreeMap<String, Person>,
    /// Open questions and other matters of the shop itself, a line each.
    pub matters: Vec<String>,
}

/// Somebody of the roster.
#[derive(Clone, Debug)]
pub(crate) struct Person {
    /// The full name.
    pub name: String,
    /// What they may do.
    pub roles: Vec<Role>,
    /// How to reach them.
    pub contact: Option<String>,
}

impl Card {
    /// The release groups that may be built, in a sentence; none where there are none, or the whole job is released.
    #[must_use]
    pub(crate) fn groups_in_words(&self) -> Option<String> {
        let ready = self.groups.iter().filter(|group| group.release.is_some() && !self.released);
        let names: Vec<&str> = ready.map(|group| group.id.as_str()).collect();
        let of = self.groups.len();
        (!names.is_empty()).then(|| format!("May be built: {} (of {of} release groups).", names.join(", ")))
    }
}

impl Book {
    /// The full name of somebody.
    #[must_use]
    pub(crate) fn name<'b>(&'b self, id: &'b str) -> &'b str {
        self.people.get(id).map_or(id, |person| &person.name)
    }
}

/// One job in lists: what the board, the calendar and the pages of people are made of.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Card {
    /// Its name.
    pub id: String,
    /// Its title; its name where its records cannot be read.
    pub title: String,
    /// Where it is built in.
    pub site: String,
    /// The client, by name.
    pub client: String,
    /// Its stage; none where its records cannot be read.
    pub stage: Option<Stage>,
    /// Since when.
    pub since: Option<Date>,
    /// True where it may be built, or was built as released.
    pub released: bool,
    /// False where something behind no longer holds.
    pub holds: bool,
    /// True where nothing is missing before the next stage.
    pub may_advance: bool,
    /// True where the install date cannot be met any more.
    pub late: bool,
    /// The install date.
    pub install: Option<Date>,
    /// Business days to spare; below 0 where it is too late.
    pub spare: Option<i64>,
    /// The earliest day on which the panels could be installed.
    pub earliest: Option<Date>,
    /// Why there are no dates, where an install date is set.
    pub no_dates: Option<String>,
    /// Open questions between edits.
    pub questions: usize,
    /// Questions that went away without an answer.
    pub vanished: usize,
    /// Refusals of the facts as they are.
    pub refused: usize,
    /// What is waited for, what holds the job first.
    pub waits: Vec<Wait>,
    /// Who is named on the job, by their names on the roster.
    pub people: Vec<(Role, String)>,
    /// The steps that are still to come, the install date among them.
    pub due: Vec<Due>,
    /// How many panels it has.
    pub panels: usize,
    /// The area of their faces.
    pub area_mm2: f64,
    /// The release, where it may be built.
    pub release: Option<Release>,
    /// Its release groups, where it is released group by group.
    pub groups: Vec<Group>,
    /// What is wrong with its records, where they cannot be read.
    pub faults: Vec<String>,
}

/// One thing that is waited for.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Wait {
    /// By whom it can be given, by their names on the roster; empty where nobody has the role.
    pub people: Vec<String>,
    /// In which roles.
    pub roles: Vec<Role>,
    /// How it stands.
    pub state: WaitState,
    /// What is missing, in a sentence.
    pub what: String,
    /// What is to be approved, where an approval is asked for.
    pub asks: Option<String>,
    /// Why it is needed.
    pub why: String,
    /// The command that gives it.
    pub command: String,
    /// Which requirement asks for it.
    pub requirement: String,
    /// What changed since it was approved: each fact, what was approved, what it is now.
    pub changes: Vec<[String; 3]>,
    /// True where an earlier gate asked for it and it no longer holds.
    pub behind: bool,
}

/// How something that is waited for stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum WaitState {
    /// It was never given.
    Missing,
    /// It was given for facts that have changed since.
    Stale,
    /// It was refused.
    Refused,
}

/// One release group of a job.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Group {
    /// Its name.
    pub id: String,
    /// How much it is, and whether it may be built.
    pub words: String,
    /// How many are built in it.
    pub panels: usize,
    /// The area of their faces.
    pub area_mm2: f64,
    /// Its release, where it may be built.
    pub release: Option<Release>,
}

/// The release of a job, and the digest of what it released.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Release {
    /// Who released it, in which role.
    pub who: String,
    /// When, as the statement says.
    pub at: String,
    /// The statement's digest.
    pub sha256: String,
    /// The digest of the pack's data that it sealed; none where it sealed none.
    pub sealed_sha256: Option<String>,
    /// The digest of the pack's data as they are made now.
    pub now_sha256: String,
}

/// Everything that stands on the page of a job.
#[derive(Clone, Debug)]
pub(crate) struct Job {
    /// What lists say of it.
    pub card: Card,
    /// The stage after this one.
    pub next: Option<Stage>,
    /// What is met.
    pub met: Vec<String>,
    /// Open questions and what is missing of them, a line each.
    pub questions: Vec<String>,
    /// Its panels.
    pub panels: Vec<Panel>,
    /// Its stones.
    pub stones: Vec<Stone>,
    /// Its test panels: what, how far.
    pub test_panels: Vec<(String, String)>,
    /// Its trials, oldest first.
    pub trials: Vec<Trial>,
    /// How it is fed, as tables.
    pub power: Vec<Table>,
    /// What keeps its power from being worked out.
    pub power_open: Vec<String>,
    /// Each driver output as a picture.
    pub circuits: Vec<Picture>,
    /// The steps with their dates.
    pub dates: Option<Dates>,
    /// Everything that was signed, newest first.
    pub approvals: Vec<Approval>,
    /// Signed files that do not count, with the reason.
    pub void: Vec<String>,
    /// What can hurt somebody.
    pub cautions: Vec<String>,
    /// What to know besides, each with where the rule comes from.
    pub notes: Vec<(String, String)>,
    /// What happened, oldest first.
    pub story: Vec<(Date, String)>,
    /// What was built and how it was put in, label and text.
    pub handover: Vec<(String, String)>,
    /// A remark on the whole job.
    pub note: Option<String>,
}

impl Job {
    /// True where nothing of it depends on the day.
    #[must_use]
    pub(crate) fn is_past(&self) -> bool {
        self.card.stage == Some(Stage::HandedOver) && self.card.due.is_empty() && self.dates.is_none()
    }
}

/// A picture in a file beside the page.
#[derive(Clone, Debug)]
pub(crate) struct Picture {
    /// Its file, from the page.
    pub file: String,
    /// Its width and height, in units of its own.
    pub size: [u32; 2],
    /// What it shows.
    pub shows: String,
}

/// A panel.
#[derive(Clone, Debug)]
pub(crate) struct Panel {
    /// Its name.
    pub id: String,
    /// What people call it.
    pub title: String,
    /// The stone lit, where it can be shown.
    pub lit: Option<Picture>,
    /// How bright it is expected to be.
    pub brightness: Option<String>,
    /// The drawing's view alone.
    pub view: Option<Picture>,
    /// The sheets whole.
    pub sheets: Vec<Picture>,
    /// What to know of the sheets.
    pub remarks: Vec<String>,
    /// Label and text.
    pub rows: Vec<(String, String)>,
}

/// A stone.
#[derive(Clone, Debug)]
pub(crate) struct Stone {
    /// What it is called.
    pub name: String,
    /// A photo.
    pub photo: Option<Picture>,
    /// Label and text.
    pub rows: Vec<(String, String)>,
}

/// A trial.
#[derive(Clone, Debug)]
pub(crate) struct Trial {
    /// The day.
    pub date: Date,
    /// The stone and the light, in words.
    pub what: String,
    /// What was seen.
    pub seen: String,
    /// How well it pleased, 1 to 5.
    pub rating: u32,
    /// A photo.
    pub photo: Option<Picture>,
}

/// A table.
#[derive(Clone, Debug)]
pub(crate) struct Table {
    /// Its heading.
    pub heading: String,
    /// The headings of its columns; true for one of numbers.
    pub columns: Vec<(String, bool)>,
    /// Its rows.
    pub rows: Vec<Vec<String>>,
}

/// The steps of a job with their dates.
#[derive(Clone, Debug)]
pub(crate) struct Dates {
    /// The route by which they are counted.
    pub route: String,
    /// What is to be done, the latest day, the earliest or that it is done, what is to spare.
    pub steps: Vec<Step>,
    /// What to say below.
    pub notes: Vec<String>,
}

/// One step with its dates.
#[derive(Clone, Debug)]
pub(crate) struct Step {
    /// What is to be done.
    pub to_do: String,
    /// The latest day.
    pub latest: Option<Date>,
    /// The earliest day.
    pub earliest: Option<Date>,
    /// True where the job is there.
    pub reached: bool,
    /// Business days to spare.
    pub spare: Option<i64>,
}

/// Something that was signed.
#[derive(Clone, Debug)]
pub(crate) struct Approval {
    /// When, as it says itself.
    pub at: String,
    /// Whose word.
    pub who: String,
    /// In which role.
    pub role: Role,
    /// What it says: `approved the choice for panel front`.
    pub says: String,
    /// Own signature, or evidence and who took it in.
    pub kind: String,
    /// How it stands.
    pub standing: Standing,
    /// Why it does not count.
    pub why: Option<String>,
    /// What was said beside it.
    pub comment: Option<String>,
    /// Each fact that changed since: what was signed, what it is now.
    pub changes: Vec<[String; 3]>,
    /// Its digest.
    pub sha256: String,
    /// How to check it with stock programs.
    pub check: Vec<String>,
}
