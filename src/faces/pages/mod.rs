//! The pages of a book, made anew where something changed: gathered from the book here, made into HTML in [`crate::pages`].
//!
//! They depend on the book and on the day that is given, and on nothing else: the same book and day give the same bytes in
//! an empty folder and in one that is brought up to date. A job whose files, shop and day are those of last time is
//! neither judged nor written again.
//!
//! | file | what it does |
//! |---|---|
//! | `mod` | which jobs to make anew, and in which order everything is written |
//! | `job`, `story`, `pictures` | what the page of a job shows |
//! | [`folder`] | the folder: its own list of files, nothing foreign touched, nothing half-written |
//! | `memory` | what a clone remembers of the jobs that it made pages of |

pub mod folder;
mod job;
mod memory;
mod pictures;
mod story;

use std::collections::BTreeMap;

use self::folder::Place;
use self::memory::{Made, Memory};
use crate::digest::Sha256Digest;
use crate::fault::Fault;
use crate::git::Repo;
use crate::ids::ProjectId;
use crate::ops::reading::Reading;
use crate::pages::facts::{Book, Card, Person};
use crate::pages::{job_file, overviews};
use crate::parallel::{Told, in_parallel};
use crate::store::BookFiles as _;
use crate::trust::about::{self, About};
use crate::trust::content::Contents;
use crate::trust::redraw::Known;
use crate::trust::surroundings::Surroundings;
use crate::trust::vanished::{self, Vanished};

/// How many jobs are made before their pages are written.
const AT_ONCE: usize = 32;

/// What making the pages came to.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct Outcome {
    /// How many jobs the book has.
    pub jobs: usize,
    /// How many of them were read and judged.
    pub judged: usize,
    /// How many files the folder has.
    pub files: usize,
    /// The files that were written.
    pub written: Vec<String>,
    /// How many bytes these have.
    pub bytes: u64,
    /// The files that were taken out.
    pub removed: Vec<String>,
    /// The jobs whose records cannot be read.
    pub unreadable: Vec<ProjectId>,
}

/// Makes the pages of a book in a folder.
///
/// # Errors
/// `folder-not-empty`, `link-in-the-way`, `not-of-the-pages`; what the disk says. A job that cannot be read has a page that
/// says so.
pub(crate) fn make(
    reading: &Reading,
    place: &mut Place,
    around: &Surroundings<'_>,
) -> Result<Outcome, Vec<Fault>> {
    let mut gone: BTreeMap<About, Vec<Vanished>> = BTreeMap::new();
    for one in vanished::of_book(reading.book.root())? {
        gone.entry(one.about()).or_default().push(one);
    }
    let projects = reading.book.projects()?;
    let book = book(reading, &projects, gone.remove(&About::Shop).unwrap_or_default(), around);
    let memory = Memory::of(reading, around);
    let shop = reading.rests_on(around);
    let known = Known::open(&reading.book, around).without_end();
    let local = reading.clone_local();
    let mut contents = Contents::open(local.as_deref(), around);
    let found = contents.of(&reading.book, &projects);
    contents.keep();
    let jobs: Vec<Asked> = projects
        .iter()
        .zip(found)
        .map(|(id, (content, _))| {
            let gone = gone.remove(&About::Project(id.clone())).unwrap_or_default();
            Asked { id, rests_on: rests_on(&shop, &content, &gone), gone }
        })
        .collect();
    let mut outcome = Outcome { jobs: projects.len(), ..Outcome::default() };
    let mut cards: Vec<Card> = Vec::new();
    let mut told = Told::each(&jobs);
    for some in jobs.chunks(AT_ONCE) {
        let mut files: Vec<(String, Vec<u8>)> = Vec::new();
        let mut made: Vec<(&ProjectId, Made)> = Vec::new();
        let remembered = in_parallel(some, |asked| {
            memory.of_job(asked.id).filter(|made| {
                made.rests_on == asked.rests_on
                    && made.day.is_none_or(|day| day == book.day)
                    && made.files.iter().all(|(path, digest)| place.has(path, digest))
            })
        });
        let anew: Vec<&Asked> =
            some.iter().zip(&remembered).filter(|(_, known)| known.is_none()).map(|(one, _)| one).collect();
        let mut read = in_parallel(&anew, |asked| {
            let read = job::read(reading, asked.id, &asked.gone, around, &known);
            let page = (job_file(asked.id.as_str()), crate::pages::job(&book, &read.job).into_bytes());
            let own: Vec<(String, Vec<u8>)> = std::iter::once(page).chain(read.files).collect();
            let digests = own.iter().map(|(path, bytes)| (path.clone(), Sha256Digest::of(bytes)));
            let day = (!read.job.is_past()).then_some(book.day);
            let rests_on = asked.rests_on.clone();
            (Made { rests_on, day, files: digests.collect(), card: read.job.card }, own)
        })
        .into_iter();
        for (asked, remembered) in some.iter().zip(remembered) {
            told.next();
            if let Some(known) = remembered {
                place.keep(known.files);
                cards.push(known.card);
            } else if let Some((new, own)) = read.next() {
                outcome.judged += 1;
                if new.card.stage.is_none() {
                    outcome.unreadable.push(asked.id.clone());
                }
                files.extend(own);
                cards.push(new.card.clone());
                made.push((asked.id, new));
            }
        }
        place.put(files, around.dry_run, &mut outcome)?;
        if !around.dry_run {
            made.iter().for_each(|(id, made)| memory.remember(id, made));
        }
    }
    known.keep(around);
    let pages = overviews(&book, &cards).into_iter().map(|(path, text)| (path, text.into_bytes()));
    place.put(pages.collect(), around.dry_run, &mut outcome)?;
    place.close(around.dry_run, &mut outcome)?;
    if !around.dry_run {
        memory.forget_all_but(&projects);
    }
    Ok(outcome)
}

fn book(reading: &Reading, projects: &[ProjectId], gone: Vec<Vanished>, around: &Surroundings<'_>) -> Book {
    let record = &reading.shop.book;
    let commit = Repo::open(reading.book.root()).and_then(|repo| repo.head()).ok().flatten();
    let open = about::in_one_line(&reading.shop.conflicts);
    let questions = open.iter().map(|question| format!("{}: `underlit resolve --shop`", question.text));
    let lost = reading.book.lost_projects(&projects.iter().collect::<Vec<_>>()).unwrap_or_default();
    let people = reading.chain.newest().people.iter().map(|person| {
        let known = Person {
            name: person.name.clone(),
            roles: person.roles.clone(),
            contact: person.contact.clone(),
        };
        (person.id.to_string(), known)
    });
    Book {
        shop: record.shop.clone(),
        note: record.note.clone(),
        units: record.units,
        day: around.today(),
        commit: commit.map(|commit| commit.to_string().chars().take(12).collect()),
        fingerprint: reading.chain.fingerprint(),
        people: people.collect(),
        matters: reading
            .refused
            .iter()
            .map(crate::trust::refused::Refused::in_words)
            .chain(questions)
            .chain(gone.iter().map(Vanished::in_words))
            .chain(lost.iter().map(ToString::to_string))
            .collect(),
    }
}

/// A job of which a page is asked.
struct Asked<'a> {
    id: &'a ProjectId,
    /// What its page rests on.
    rests_on: String,
    gone: Vec<Vanished>,
}

/// What a job's page rests on, as one digest.
fn rests_on(shop: &Sha256Digest, content: &Sha256Digest, gone: &[Vanished]) -> String {
    let mut text = format!("{shop}\n{content}\n");
    for one in gone {
        text += &format!("{}\n", one.in_words());
    }
    Sha256Digest::of(text.as_bytes()).hex()
}
