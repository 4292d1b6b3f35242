//! The proof of a pack: its data made again, held against what the release sealed, and against a pack handed in.

use std::path::Path;

use serde::Serialize;
use serde_json::Value;

use super::folder::{self, FilesCompared};
use super::{one, release_subject, releases};
use crate::digest::Sha256Digest;
use crate::fault::{Fault, Outcome};
use crate::gates::{facts, is_released};
use crate::ids::{GroupId, ProjectId};
use crate::job::Case;
use crate::job::pack::{PackData, canonical, digest, of_job};
use crate::model::roster::Role;
use crate::model::snapshot::{SignOff, Snapshot};
use crate::model::statement::Fact;
use crate::model::view::{Change, changes};
use crate::ops::reading::{Reading, group_of};
use crate::store::{safe_path, strict_json};
use crate::trust::surroundings::Surroundings;

/// What the release sealed of the pack's data, and what they are now.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct Proof {
    /// The project.
    pub project: ProjectId,
    /// True where a standing release sealed the very data that the book gives now.
    pub proven: bool,
    /// True where the job may be built: released, and every gate up to there holds.
    pub released: bool,
    /// The release; none where nobody released the job.
    pub release: Option<ReleasedBy>,
    /// The digest that the release sealed; none where nobody released the job.
    pub sealed_sha256: Option<String>,
    /// The digest of the data as the book gives them now.
    pub now_sha256: String,
    /// Every sealed fact that differs, from what to what.
    pub changes: Vec<Change>,
    /// The parts of the data that differ, by name: `bill`, `circuits`, `panels.front`.
    pub parts: Vec<String>,
    /// The shop's lists that are not what they were when the job was released.
    pub lists: Vec<ListChanged>,
    /// The same for the data of a pack that was handed in: its own digest, and every figure that differs.
    pub pack: Option<PackChecked>,
}

/// Who released a job.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct ReleasedBy {
    /// The full name at the signing.
    pub who: String,
    /// In which role.
    pub role: Role,
    /// When, as the statement says.
    pub at: String,
    /// The digest of the statement.
    pub sha256: String,
}

/// A list of the shop that changed since a job was released.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct ListChanged {
    /// The file.
    pub file: String,
    /// The roster version under which the release was signed.
    #[serde(rename = "roster_version_then")]
    pub roster_then: u32,
    /// The digest that it had then; none where it was not there.
    pub sha256_then: Option<String>,
    /// The digest that it has now; none where it is gone.
    pub sha256_now: Option<String>,
}

/// A pack that was handed in, held against the book.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct PackChecked {
    /// The digest of the data in it, computed anew.
    pub sha256: String,
    /// True where it is the digest that the pack states.
    pub states_its_own: bool,
    /// True where it is the digest that the release sealed.
    pub is_sealed: bool,
    /// Every figure that differs from the book's, as it stands in the pack and as it is now.
    pub changes: Vec<Change>,
    /// How its files differ from those of the pack made again; none where a record was handed in by itself, under another
    /// name than it has in a pack.
    #[serde(rename = "compared")]
    pub files: Option<FilesCompared>,
}

impl PackChecked {
    /// True where its data are the sealed ones, and every file that was compared is the one that the book gives.
    #[must_use]
    pub(crate) fn holds(&self) -> bool {
        self.is_sealed && self.states_its_own && self.files.as_ref().is_none_or(FilesCompared::is_same)
    }
}

/// Makes the data of a job's pack again and holds them against what its release sealed, and a pack that is
/// handed in against both.
///
/// # Errors
/// Everything that is wrong with the project; `not-a-pack` for a file that is none.
pub(crate) fn prove(
    reading: &Reading,
    id: &ProjectId,
    group: Option<&GroupId>,
    around: &Surroundings<'_>,
    handed_in: Option<&Path>,
) -> Result<Proof, Vec<Fault>> {
    let snapshot: Snapshot = reading.project(id)?;
    let whole = reading.case(&snapshot);
    let part = group_of(&whole, group)?;
    prove_case(reading, part.as_ref().unwrap_or(&whole), around, handed_in)
}

/// The same of a project that was read.
///
/// # Errors
/// `not-a-pack` for a file that is none.
pub(crate) fn prove_case(
    reading: &Reading,
    case: &Case<'_>,
    around: &Surroundings<'_>,
    handed_in: Option<&Path>,
) -> Result<Proof, Vec<Fault>> {
    let id = &case.project.project.id;
    let data = of_job(case, case.job());
    let now = digest(&data).hex();
    let now_facts = facts::of(case, &release_subject(case));
    let all = releases(case);
    let release = all.iter().rev().find(|s| s.statement.facts == now_facts).or_else(|| all.last()).copied();
    let sealed = release.and_then(|s| match s.statement.facts.get(facts::PACK_SHA256) {
        Some(Fact::Text(digest)) => Some(digest.clone()),
        _ => None,
    });
    let released = is_released(case);
    let changed = release.map(|s| changes(&s.statement.facts, &now_facts)).unwrap_or_default();
    let mut pack = None;
    if let Some(given) = handed_in {
        let in_folder = given.is_dir() || given.file_name().is_some_and(|name| name == folder::RECORD);
        let record = if given.is_dir() { given.join(folder::RECORD) } else { given.to_path_buf() };
        let mut checked = check_pack(&record, &data, sealed.as_deref()).map_err(one)?;
        if in_folder {
            let made = super::pack(reading, id, case.group.as_ref(), around)?;
            let whole = record.parent().filter(|parent| !parent.as_os_str().is_empty());
            let whole = whole.unwrap_or_else(|| Path::new("."));
            checked.files = Some(folder::compare(whole, &made.files).map_err(one)?);
        }
        pack = Some(checked);
    }
    let same = sealed.as_ref() == Some(&now);
    Ok(Proof {
        project: id.clone(),
        proven: same && released && pack.as_ref().is_none_or(PackChecked::holds),
        released,
        release: release.map(|s| ReleasedBy {
            who: reading.shop.signed_as(s.statement.speaker(), s.statement.roster.version),
            role: s.statement.role,
            at: s.statement.time.clone(),
            sha256: s.digest.hex(),
        }),
        sealed_sha256: sealed,
        now_sha256: now,
        parts: facts::parts_changed(&changed),
        lists: release.map(|s| lists(reading, s)).unwrap_or_default(),
        changes: changed,
        pack,
    })
}

/// The lists that owners have sealed anew since a statement was signed: its roster names their digests then.
fn lists(reading: &Reading, release: &SignOff) -> Vec<ListChanged> {
    let roster_then = release.statement.roster.version;
    let Some((then, _)) = reading.chain.version(roster_then) else { return Vec::new() };
    let now = reading.chain.newest();
    let mut files: Vec<&String> = then.sealed.keys().chain(now.sealed.keys()).collect();
    files.sort_unstable();
    files.dedup();
    files
        .into_iter()
        .filter(|file| then.sealed.get(*file) != now.sealed.get(*file))
        .map(|file| ListChanged {
            file: file.clone(),
            roster_then,
            sha256_then: then.sealed.get(file).map(|d| d.hex()),
            sha256_now: now.sealed.get(file).map(|d| d.hex()),
        })
        .collect()
}

fn check_pack(file: &Path, now: &PackData, sealed: Option<&str>) -> Outcome<PackChecked> {
    let name = file.display().to_string();
    let no_pack = |why: String| {
        Box::new(
            Fault::data("not-a-pack", why)
                .in_file(&name)
                .fix("name the pack.json of a pack that `underlit pack` made"),
        )
    };
    let bytes = std::fs::read(file).map_err(|e| Box::new(safe_path::io_fault(&name, "read", &e)))?;
    let value = strict_json::parse(&bytes).map_err(|e| no_pack(format!("it is not JSON: {e}")))?;
    let data = value.get("data").ok_or_else(|| no_pack("it holds no data".into()))?;
    let sha256 = Sha256Digest::of(&canonical::bytes(data)).hex();
    Ok(PackChecked {
        states_its_own: value.get("sha256").and_then(Value::as_str) == Some(sha256.as_str()),
        is_sealed: sealed == Some(sha256.as_str()),
        changes: changes(&canonical::facts(data), &canonical::facts(&canonical::value(now))),
        sha256,
        files: None,
    })
}
