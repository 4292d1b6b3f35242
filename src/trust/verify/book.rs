//! A whole book judged: its roster from the fingerprint on, its seals, its history, and each project.

use std::path::Path;
use std::time::{Duration, SystemTime};

use serde::Serialize;

use super::cache::{self, Cache};
use super::moves::{self, AskedSince, Unasked};
use super::past;
use super::place::Place;
use super::start::Start;
use super::state;
use super::verdict::ProjectVerdict;
use crate::digest::Sha256Digest;
use crate::fault::{Fault, Means, Outcome};
use crate::git::Held;
use crate::ids::ProjectId;
use crate::job::Case;
use crate::lookalike::Note;
use crate::model::snapshot::Shop;
use crate::trust::Surroundings;
use crate::trust::about::About;
use crate::trust::chain::{self, Chain};
use crate::trust::content::Contents;
use crate::trust::redraw::{self, Known};
use crate::trust::vanished::{self, Vanished};
use crate::trust::{alike, project, stray};

/// What is to be judged.
#[derive(Clone, Debug, Default)]
pub struct Asked {
    /// The fingerprint that somebody was told; none for the clone's pin.
    pub fingerprint: Option<Sha256Digest>,
    /// The commit; none for the files on disk, or for the newest commit of a bare repository.
    pub at: Option<String>,
    /// One project; none for all.
    pub project: Option<ProjectId>,
    /// Judge everything anew.
    pub cold: bool,
}

/// What a book was held to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum HeldTo {
    /// The fingerprint that was given.
    Given,
    /// What this clone has seen before.
    Pin,
    /// Nothing but itself.
    Nothing,
}

/// One roster version.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RosterStep {
    /// Its number.
    pub version: u32,
    /// Its digest.
    pub sha256: Sha256Digest,
    /// Which owners signed it.
    pub signed_by: Vec<String>,
    /// Why it was made.
    pub reason: String,
}

/// What the history shows.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct HistoryLine {
    /// How many commits lie behind.
    #[serde(rename = "commit_count")]
    pub commits: usize,
    /// False where a shallow clone lacks the older part.
    pub whole: bool,
    /// How often something that people said was edited or taken out.
    #[serde(rename = "breach_count")]
    pub breaches: usize,
    /// What the gates said when each move was made; none where the roster does not hold, so that nobody can ask.
    #[serde(rename = "asked_moves")]
    pub moves: Option<MovesLine>,
}

/// What the gates said of the moves, each asked again in the state that has it first.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct MovesLine {
    /// How many were asked again.
    pub asked: usize,
    /// How many have no state of their own, so that only their signatures speak for them.
    pub by_signature: usize,
    /// Those.
    pub unasked: Vec<Unasked>,
    /// How many had no right to be made, and lead somewhere still.
    pub shut: usize,
    /// How many had no right to be made, and were taken back since.
    pub taken_back: usize,
    /// What only later programs ask for.
    pub asked_since: Vec<AskedSince>,
}

/// When this clone last heard from another repository.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Heard {
    /// When, by this machine's clock, RFC 3339.
    pub at: String,
    /// How many whole hours ago.
    pub hours_ago: u64,
}

/// The answer.
#[derive(Clone, Debug)]
pub struct Report {
    /// The book's id, where its roster holds.
    pub book: Option<String>,
    /// The book's fingerprint.
    pub fingerprint: Option<Sha256Digest>,
    /// What it was held to.
    pub held_to: HeldTo,
    /// The commit that was judged, or that the folder was checked out from.
    pub commit: Option<String>,
    /// True where the files on disk were judged, which may differ from the commit.
    pub files_on_disk: bool,
    /// Every roster version.
    pub roster: Vec<RosterStep>,
    /// The history, where there is one.
    pub history: Option<HistoryLine>,
    /// The last fetch.
    pub heard: Option<Heard>,
    /// Each project that could be judged.
    pub projects: Vec<ProjectVerdict>,
    /// Everything that does not hold.
    pub faults: Vec<Fault>,
    /// People's names and projects' titles that look alike, or mix scripts. They are no faults.
    pub notes: Vec<Note>,
    /// Questions that went away without an answer.
    pub vanished: Vec<Vanished>,
    /// How many verdicts were taken from before.
    pub remembered: usize,
    /// How much of the book the clone holds; none where it holds the whole.
    pub(crate) held: Option<Held>,
}

/// Judges a book.
///
/// # Errors
/// Whatever keeps it from being judged at all; what does not hold stands in the report.
pub fn verify(from: &Path, around: &Surroundings<'_>, asked: &Asked) -> Result<Report, Vec<Fault>> {
    let place = Place::find(from, asked.at.as_deref())?;
    let (start, held_to) = start(&place, asked)?;
    let roster = state::judge(place.book(), &start, Some(&std::collections::BTreeSet::new()));
    let mut report = Report {
        book: None,
        fingerprint: None,
        held_to,
        commit: place.commit.map(|id| id.to_string()),
        files_on_disk: !place.is_commit(),
        roster: Vec::new(),
        history: None,
        heard: heard(&place, around),
        projects: Vec::new(),
        faults: roster.faults,
        notes: Vec::new(),
        vanished: Vec::new(),
        remembered: 0,
        held: place.held()?,
    };
    let mut cache = match (&roster.chain, asked.cold || held_to != HeldTo::Pin) {
        (Some(chain), false) => Cache::open(&place, around, chain),
        _ => Cache::none(),
    };
    history(&place, roster.chain.as_ref(), roster.shop.as_ref(), &mut cache, &mut report)?;
    if let Some(chain) = &roster.chain {
        report.book = Some(chain.newest().book.to_string());
        report.fingerprint = Some(chain.fingerprint());
        report.roster = steps(&place, chain)?;
        if let Some(shop) = &roster.shop {
            // A proof passes no sheet over; what was compared before is known by its very content.
            let known = if place.is_commit() || asked.cold || held_to != HeldTo::Pin {
                Known::upto(usize::MAX)
            } else {
                Known::open(place.book(), around).without_end()
            };
            projects(&place, chain, shop, asked, (&mut cache, known), around, &mut report)?;
        }
    }
    cache.keep();
    if let (Some(hub), Some(commit)) = (&place.hub, place.commit) {
        let whose = |gone: &Vanished| match (&asked.project, gone.about()) {
            (Some(wanted), About::Project(id)) => *wanted == id,
            _ => true,
        };
        report.vanished = vanished::behind(hub, commit)?.into_iter().filter(whose).collect();
    }
    report.notes.extend(alike::across(report.projects.iter().map(|p| (&p.id, p.title.as_str()))));
    if let Some(chain) = &roster.chain {
        report.notes.extend(alike::of_people(chain.newest(), |_| true));
    }
    if let (false, Some(hub)) = (place.is_commit(), &place.hub) {
        // What merely lies among the statements is nobody's word.
        let head = hub.snapshot(place.commit)?;
        let alone = |path: &String| stray::lies_uncommitted(&head, path);
        report.faults.retain(|f| f.means != Means::NoStatement || !f.file.as_ref().is_some_and(alone));
    }
    Ok(report)
}

/// Where trust starts: what was told, else what this clone has seen.
///
/// # Errors
/// `pin-unreadable`.
pub(crate) fn start(place: &Place, asked: &Asked) -> Outcome<(Start, HeldTo)> {
    if let Some(told) = asked.fingerprint {
        return Ok((Start::told(told), HeldTo::Given));
    }
    let pin = place.clone_local().map(|dir| chain::pin(&dir)).transpose()?.flatten();
    Ok(match (pin, asked.at.is_some()) {
        (None, _) => (Start::default(), HeldTo::Nothing),
        // An older commit has an older roster: it is held to the book, and not to the newest version seen.
        (Some(pin), true) => (Start::told(pin.fingerprint), HeldTo::Pin),
        (Some(pin), false) => (Start { fingerprint: None, seen: Some(pin) }, HeldTo::Pin),
    })
}

fn steps(place: &Place, chain: &Chain) -> Outcome<Vec<RosterStep>> {
    let step = |(roster, digest): &(crate::model::roster::Roster, Sha256Digest)| {
        let signers = place.book().roster_signers(roster.version)?;
        Ok(RosterStep {
            version: roster.version,
            sha256: *digest,
            signed_by: signers.iter().map(|p| roster.name_of(p)).collect(),
            reason: roster.reason.clone(),
        })
    };
    chain.versions().iter().map(step).collect()
}

fn heard(place: &Place, around: &Surroundings<'_>) -> Option<Heard> {
    let at = place.hub.as_ref()?.heard_at()?.duration_since(SystemTime::UNIX_EPOCH).unwrap_or(Duration::ZERO);
    let seconds = i64::try_from(at.as_secs()).ok()?;
    let ago = u64::try_from(around.now.as_second() - seconds).unwrap_or(0);
    let at = jiff::Timestamp::from_second(seconds).ok()?.to_string();
    Some(Heard { at, hours_ago: ago / 3600 })
}

fn history(
    place: &Place,
    chain: Option<&Chain>,
    shop: Option<&Shop>,
    cache: &mut Cache,
    report: &mut Report,
) -> Result<(), Vec<Fault>> {
    let (Some(hub), Some(commit)) = (&place.hub, place.commit) else { return Ok(()) };
    // What was found where the history was cut off says nothing once all of it is here.
    let holds = |known: &cache::KnownPast| known.whole || hub.is_shallow();
    let mut known = cache.past().filter(holds).filter(|known| hub.has_behind(commit, known.commit));
    let since: Vec<_> = known.iter().map(|known| known.commit).collect();
    let mut past = past::judge(hub.newest_first(&[commit], &since, "")?)?;
    if known.is_some() && past.beginnings > 0 {
        // Another beginning was merged in, so that no beginning is believed any more.
        known = None;
        past = past::judge(hub.newest_first(&[commit], &[], "")?)?;
    }
    let asked = chain.map(|chain| moves::ask(hub, chain, &past)).transpose()?;
    let mut known = known.unwrap_or_else(|| cache::KnownPast::before(commit));
    known.commit = commit;
    known.commits += past.commits;
    if let Some(asked) = &asked {
        known.moves += asked.moves;
        known.unasked.extend(asked.unasked.iter().cloned());
        known.since.extend(asked.since.iter().cloned());
    }
    known.whole &= past.whole;
    if past.breaches.is_empty() && asked.as_ref().is_some_and(|a| a.shut.is_empty()) {
        cache.remember_past(known.clone());
    }
    report.faults.extend(past.faults());
    let mut line = MovesLine {
        asked: known.moves,
        by_signature: known.unasked.len(),
        unasked: known.unasked,
        asked_since: known.since,
        ..MovesLine::default()
    };
    let gates = asked.map(|asked| {
        for shut in asked.shut {
            let answered = match (chain, shop) {
                (Some(chain), Some(shop)) => place.with_project(&shut.project, |book| {
                    project::load(book, chain, &shop.rules, &shut.project).map(|now| shut.is_answered(&now))
                }),
                _ => Ok(false),
            };
            // A project that cannot be read today answers nothing.
            if answered.unwrap_or(false) {
                line.taken_back += shut.moves.len();
            } else {
                line.shut += shut.moves.len();
                report.faults.extend(shut.into_faults());
            }
        }
        line
    });
    report.history = Some(HistoryLine {
        commits: known.commits,
        whole: known.whole,
        breaches: past.breaches.len(),
        moves: gates,
    });
    Ok(())
}

fn projects(
    place: &Place,
    chain: &Chain,
    shop: &Shop,
    asked: &Asked,
    (cache, drawn): (&mut Cache, Known),
    around: &Surroundings<'_>,
    report: &mut Report,
) -> Result<(), Vec<Fault>> {
    let local = place.clone_local().filter(|_| cache.is_kept());
    let mut contents = local.map_or_else(Contents::default, |local| Contents::open(Some(&local), around));
    let mut all = place.projects(Some(&mut contents))?;
    contents.keep();
    if let Some(wanted) = &asked.project {
        all.retain(|(id, _)| id == wanted);
        if all.is_empty() {
            let message = format!("there is no project {wanted} in this book");
            return Err(vec![
                Fault::usage("unknown-project", message).fix("`underlit board` lists every project"),
            ]);
        }
    }
    let known: Vec<_> = all.iter().map(|(id, content)| cache.verdict(id, content)).collect();
    let unknown: Vec<&ProjectId> =
        all.iter().zip(&known).filter(|(_, known)| known.is_none()).map(|((id, _), _)| id).collect();
    let mut judged = place
        .with_projects(&unknown, |book, id| {
            let (verdict, mut faults) = judge_project(book, chain, shop, id);
            faults.extend(redraw::faults(book, id, &|_| true, &drawn));
            (verdict, faults)
        })
        .into_iter();
    for ((id, content), known) in all.iter().zip(known) {
        if let Some(known) = known {
            report.projects.push(known);
            report.remembered += 1;
            continue;
        }
        match judged.next() {
            None => {}
            Some(Err(faults)) => report.faults.extend(faults),
            Some(Ok((verdict, faults))) => {
                // Only what holds is remembered: whatever does not is looked at every time.
                if let (Some(verdict), true) = (&verdict, faults.is_empty()) {
                    cache.remember(id, content, verdict);
                }
                report.projects.extend(verdict);
                report.faults.extend(faults);
            }
        }
    }
    drawn.keep(around);
    Ok(())
}

/// Judges one project in a folder: its verdict where its records can be read, and everything that does not hold.
#[must_use]
pub fn judge_project(
    book: &dyn crate::store::BookFiles,
    chain: &Chain,
    shop: &Shop,
    id: &ProjectId,
) -> (Option<ProjectVerdict>, Vec<Fault>) {
    let mut faults = state::strangers_of(book, id);
    faults.extend(crate::trust::check::beside_sheets(book, id));
    match project::load(book, chain, &shop.rules, id) {
        Err(found) => {
            faults.extend(found);
            faults.extend(state::project(book, chain, &shop.rules, id));
            faults.sort_by(|a, b| (&a.file, a.line, &a.message).cmp(&(&b.file, b.line, &b.message)));
            faults.dedup();
            (None, faults)
        }
        Ok(snapshot) => {
            let void = snapshot.signoffs.iter().filter_map(|s| s.void.as_ref());
            let void = void.chain(&snapshot.void_signoffs).chain(snapshot.void_moves.iter().map(|(_, f)| f));
            faults.extend(void.filter(|f| f.means != Means::Overtaken).cloned());
            (Some(ProjectVerdict::of(&Case::new(shop, &snapshot))), faults)
        }
    }
}
