//! What there is to tell of projects: each thing once, by a key that stays the same while it stays true.
//!
//! What is new is what is told now and was not told before. `sync` compares the book before and after; `watch`
//! remembers what it has told. Nothing here decides anything: it words what the gates and the dates say.

use std::collections::BTreeMap;

use serde::Serialize;

use super::status::{self, Status};
use crate::fault::Fault;
use crate::gates::Finding;
use crate::gates::standing::Standing;
use crate::git;
use crate::ids::{PersonId, ProjectId};
use crate::job::Case;
use crate::model::question::{Question, questions};
use crate::model::roster::{Role, Roster};
use crate::model::snapshot::{Shop, Snapshot};
use crate::model::stage::Stage;
use crate::model::statement::Decision;
use crate::store::BookFiles as _;
use crate::trust::chain::Chain;
use crate::trust::project;
use crate::trust::surroundings::Surroundings;
use crate::trust::tree_files::TreeFiles;
use crate::words::words;

words! {
    /// The kind of a piece of news.
    Event, "event" {
        /// A project is there that was not.
        Opened = "opened",
        /// A project went a stage on.
        Moved = "moved",
        /// A project went back.
        Reopened = "reopened",
        /// A project may be built.
        Released = "released",
        /// A project that was released may not be built at present.
        OnHold = "on-hold",
        /// Somebody approved something.
        Approved = "approved",
        /// Somebody refused something as it is.
        Rejected = "rejected",
        /// Somebody took back what they had said.
        Withdrawn = "withdrawn",
        /// Something that was signed has changed since.
        Stale = "stale",
        /// People's edits do not agree.
        Question = "question",
        /// The install date cannot be met any more.
        Overdue = "overdue",
        /// Something waits for somebody.
        Waiting = "waiting",
        /// A project's records cannot be read.
        Unreadable = "unreadable",
        /// Commits came in.
        Arrived = "arrived",
        /// What the remote has does not hold, and is not taken.
        Refused = "refused",
    }
}

/// One piece of news.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct News {
    /// Its kind.
    pub event: Event,
    /// The project that it is about.
    pub project: Option<ProjectId>,
    /// The project's title.
    pub title: Option<String>,
    /// The sentence.
    pub text: String,
    /// Whom it concerns first of all, by their names on the roster.
    pub people: Vec<PersonId>,
    /// The sentence as those people read it, where it is another.
    #[serde(skip)]
    pub yours: Option<String>,
}

impl News {
    /// News that is about no project.
    #[must_use]
    pub(crate) fn of_the_book(event: Event, text: String) -> Self {
        News { event, project: None, title: None, text, people: Vec::new(), yours: None }
    }

    /// The sentence as one person reads it.
    #[must_use]
    pub(crate) fn in_words(&self, me: Option<&PersonId>) -> String {
        let about = match &self.title {
            Some(title) => format!("{title}: "),
            None => String::new(),
        };
        let text = self.yours.as_ref().filter(|_| self.concerns(me)).unwrap_or(&self.text);
        format!("{}: {about}{text}", self.event)
    }

    /// True where it concerns that person first of all.
    #[must_use]
    pub(crate) fn concerns(&self, me: Option<&PersonId>) -> bool {
        me.is_some_and(|me| self.people.contains(me))
    }
}

/// Everything there is to tell, by key.
pub(crate) type Told = BTreeMap<String, News>;

/// What there is to tell of one project of a state; nothing where it is gone.
///
/// # Errors
/// What keeps the state from being read.
pub(crate) fn of_project(
    state: &git::Snapshot<'_>,
    (chain, shop): (&Chain, &Shop),
    id: &ProjectId,
    around: &Surroundings<'_>,
) -> Result<Told, Vec<Fault>> {
    let folder = format!("projects/{id}");
    let book = TreeFiles::of(state, &[&folder])?;
    if !book.lies_there(&folder)? {
        return Ok(Told::new());
    }
    Ok(match project::load(&book, chain, &shop.rules, id) {
        Ok(snapshot) => {
            let status = status::of(&Case::new(shop, &snapshot), around.today());
            of_status(&snapshot, &status, chain.newest())
        }
        Err(faults) => {
            let text = format!("its records cannot be read: {}", first_words(&faults));
            let news = News {
                event: Event::Unreadable,
                project: Some(id.clone()),
                title: Some(id.to_string()),
                text,
                people: Vec::new(),
                yours: None,
            };
            Told::from([(format!("unreadable:{id}"), news)])
        }
    })
}

/// What there is to tell of the shop: its open questions.
#[must_use]
pub(crate) fn of_the_shop(shop: &Shop) -> Told {
    let owners: Vec<PersonId> = shop.roster.in_role(Role::Owner).map(|person| person.id.clone()).collect();
    let news = |question: &Question| News {
        event: Event::Question,
        project: None,
        title: Some("the shop".to_owned()),
        text: question.in_words(),
        people: owners.clone(),
        yours: None,
    };
    let open = questions(&shop.conflicts).into_iter();
    open.map(|question| (format!("{}:{}", Event::Question, question.name()), news(&question))).collect()
}

fn first_words(faults: &[Fault]) -> String {
    faults.first().map(ToString::to_string).unwrap_or_default()
}

fn of_status(snapshot: &Snapshot, status: &Status, roster: &Roster) -> Told {
    let id = &status.id;
    let mut told = Told::new();
    let mut tell = |event, key: String, text: String, people: Vec<PersonId>, yours: Option<String>| {
        let title = Some(status.title.clone());
        let news = News { event, project: Some(id.clone()), title, text, people, yours };
        told.insert(format!("{event}:{id}:{key}"), news);
    };
    let people = &snapshot.project.people;
    tell(
        Event::Opened,
        String::new(),
        format!("opened for {}", roster.name_of(&people.client)),
        Vec::new(),
        None,
    );
    let standing = snapshot.standing();
    if let Some((digest, last)) = standing.last.and_then(|d| Some((d, snapshot.moves.get(&d)?))) {
        let by = roster.name_of(&last.signer);
        if last.is_reopen() {
            let reason = last.reason.as_deref().unwrap_or_default();
            let text = format!("back to {}, says {by}: “{reason}”", status.stage);
            tell(Event::Reopened, digest.hex(), text, Vec::new(), None);
        } else {
            tell(Event::Moved, digest.hex(), format!("now at {}", status.stage), Vec::new(), None);
        }
        if status.released {
            let builders = people.fabricator.iter().chain(&people.engineer).cloned().collect();
            tell(Event::Released, digest.hex(), "may be built".to_owned(), builders, None);
        } else if status.stage >= Stage::Released && !status.holds {
            let why = status.broken.first().map(|f| f.what.clone()).unwrap_or_default();
            let builders = people.fabricator.iter().chain(&people.engineer).cloned().collect();
            tell(Event::OnHold, digest.hex(), format!("must not be built at present: {why}"), builders, None);
        }
    }
    for (signoff, line) in snapshot.signoffs.iter().zip(&status.signoffs) {
        let speaker = signoff.statement.speaker().clone();
        let comment = line.comment.as_deref().map(|c| format!(": “{c}”")).unwrap_or_default();
        let mut yours = None;
        let (event, text) = match (line.standing, line.decision) {
            (Standing::Stale, Decision::Approved | Decision::ApprovedAsNoted) => {
                let changed = line.changes.first().map(|c| format!(": {}", c.in_words())).unwrap_or_default();
                let more = match line.changes.len() {
                    0 | 1 => String::new(),
                    n => format!(" and {} more", n - 1),
                };
                yours = Some(format!("your approval of {} is stale{changed}{more}", line.about));
                (
                    Event::Stale,
                    format!("the approval of {} by {} is stale{changed}{more}", line.about, line.who),
                )
            }
            (Standing::Fits, Decision::Approved | Decision::ApprovedAsNoted) => {
                (Event::Approved, format!("{} ({}) approved {}", line.who, line.role, line.about))
            }
            (Standing::Fits, Decision::Rejected | Decision::ReviseAndResubmit) => {
                (Event::Rejected, format!("{} ({}) refuses {}{comment}", line.who, line.role, line.about))
            }
            (Standing::Withdrawn, _) => {
                (Event::Withdrawn, format!("{} ({}) takes back {}", line.who, line.role, line.about))
            }
            _ => continue,
        };
        let concerned = if event == Event::Rejected { vec![people.rep.clone()] } else { vec![speaker] };
        tell(event, line.sha256.clone(), text, concerned, yours);
    }
    for question in questions(&snapshot.conflicts) {
        let key = question.name().to_owned();
        tell(Event::Question, key, question.in_words(), vec![people.rep.clone()], None);
    }
    if let Some(dates) = status.dates.as_ref().filter(|d| d.late) {
        let next = dates.critical.as_deref().map(|what| format!("; next: {what}")).unwrap_or_default();
        let text = format!(
            "the install date {} cannot be met any more, {} at the earliest{next}",
            dates.install_date, dates.earliest_install
        );
        tell(Event::Overdue, dates.install_date.to_string(), text, vec![people.rep.clone()], None);
    }
    // An open question is told as itself.
    let asks = |finding: &&Finding| finding.requirement != "no-open-conflict";
    for finding in status.broken.iter().chain(&status.missing).filter(asks) {
        let key = format!("{}:{}", finding.requirement, finding.what);
        let text = format!("{} [{}]", finding.what, finding.requirement);
        let yours = format!("for you: {}; {}", finding.what, finding.command);
        tell(Event::Waiting, key, text, finding.who.clone(), Some(yours));
    }
    told
}
