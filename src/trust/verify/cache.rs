//! Verdicts of before, so that judging a book again costs what has changed in it.
//!
//! A verdict is taken from here only for the very same content of the project, under the same roster (which seals rules
//! and shop), by the same build of the program. What is known of the history holds under every later roster: each of
//! its states has its own, and no roster is ever taken out. What is kept carries a code made with a key that lies in the person's
//! own state folder and in no clone: a book handed on with its `.git` brings no verdicts along, and a file that was
//! changed is thrown away. Whoever can read that key works as this person on this machine, and could exchange the
//! program as well. Where a fingerprint is given, nothing is taken from here.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use hmac::{Hmac, Mac};
use serde::{Deserialize, Serialize};
use sha2::Sha256;

use super::moves::AskedSince;
use super::place::Place;
use super::verdict::ProjectVerdict;
use crate::digest::Sha256Digest;
use crate::fault::Fault;
use crate::git::CommitId;
use crate::ids::ProjectId;
use crate::store::write;
use crate::trust::Surroundings;
use crate::trust::chain::Chain;
use crate::trust::keyed::{code, key_in};

/// The file beside the clone's pin.
const FILE: &str = "verdicts.json";

/// What was judged before, and what is to be kept for the next time.
#[derive(Debug, Default)]
pub struct Cache {
    file: Option<PathBuf>,
    key: Vec<u8>,
    known: Body,
    changed: bool,
}

/// A part of the history in which nothing was ever edited or taken out, and every move had a right to be made.
#[derive(Clone, Debug)]
pub struct KnownPast {
    /// Everything up to this commit.
    pub commit: CommitId,
    /// How many commits that is.
    pub commits: usize,
    /// How many moves were asked again.
    pub moves: usize,
    /// How many only their signatures speak for.
    pub by_signature: usize,
    /// What only later programs ask for.
    pub since: Vec<AskedSince>,
}

impl KnownPast {
    /// Nothing of what lies behind a commit.
    #[must_use]
    pub fn before(commit: CommitId) -> Self {
        KnownPast { commit, commits: 0, moves: 0, by_signature: 0, since: Vec::new() }
    }
}

#[derive(Debug, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Body {
    /// Program and fingerprint: a cache of any other is empty.
    under: String,
    /// The newest roster: what was said of projects under any other is empty. The past has rosters of its own.
    roster: String,
    past: Option<Past>,
    projects: BTreeMap<ProjectId, Known>,
}

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Past {
    commit: String,
    commits: usize,
    moves: usize,
    by_signature: usize,
    since: Vec<AskedSince>,
}

#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Known {
    content: String,
    verdict: ProjectVerdict,
}

#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Stored {
    code: String,
    body: String,
}

impl Cache {
    /// One that knows nothing and keeps nothing.
    #[must_use]
    pub fn none() -> Self {
        Cache::default()
    }

    /// What is known of the book of a clone; nothing where there is no clone or no home folder to keep the key in.
    #[must_use]
    pub fn open(place: &Place, around: &Surroundings<'_>, program: &str, chain: &Chain) -> Self {
        let (Some(local), Some(home)) = (place.clone_local().filter(|dir| dir.is_dir()), &around.home) else {
            return Cache::none();
        };
        let Some(key) = key_in(home, around.dry_run) else { return Cache::none() };
        let under = format!("{program}\n{}", chain.fingerprint());
        let roster = chain.newest_digest().to_string();
        let file = local.join(FILE);
        let known = read(&file, &key).filter(|body| body.under == under);
        let mut known = known.unwrap_or_else(|| Body { under, ..Body::default() });
        if known.roster != roster {
            known.roster = roster;
            known.projects.clear();
        }
        Cache { file: Some(file), key, known, changed: false }
    }

    /// The part of the history that was judged before.
    #[must_use]
    pub fn past(&self) -> Option<KnownPast> {
        let past = self.known.past.as_ref()?;
        Some(KnownPast {
            commit: past.commit.parse().ok()?,
            commits: past.commits,
            moves: past.moves,
            by_signature: past.by_signature,
            since: past.since.clone(),
        })
    }

    /// Remembers a part of the history that holds, whole.
    pub fn remember_past(&mut self, past: KnownPast) {
        let new = Some(Past {
            commit: past.commit.to_string(),
            commits: past.commits,
            moves: past.moves,
            by_signature: past.by_signature,
            since: past.since,
        });
        self.changed |= self.known.past != new;
        self.known.past = new;
    }

    /// The verdict on a project of just this content.
    #[must_use]
    pub fn verdict(&self, id: &ProjectId, content: &str) -> Option<ProjectVerdict> {
        let known = self.known.projects.get(id)?;
        (known.content == content).then(|| known.verdict.clone())
    }

    /// Remembers a verdict.
    pub fn remember(&mut self, id: &ProjectId, content: &str, verdict: &ProjectVerdict) {
        let known = Known { content: content.to_owned(), verdict: verdict.clone() };
        self.known.projects.insert(id.clone(), known);
        self.changed = true;
    }

    /// Keeps it for the next time.
    ///
    /// # Errors
    /// What the disk says.
    pub fn keep(&self, around: &Surroundings<'_>) -> Result<(), Vec<Fault>> {
        let Some(file) = self.file.as_ref().filter(|_| self.changed && !around.dry_run) else {
            return Ok(());
        };
        let bug = |e: serde_json::Error| vec![Fault::io("cache", e.to_string())];
        let body = serde_json::to_string(&self.known).map_err(bug)?;
        let stored = Stored { code: code(&self.key, &body), body };
        let bytes = serde_json::to_vec(&stored).map_err(bug)?;
        // It only saves time: a clone that may not be written to is judged all the same.
        let _ = write::write_whole(file, &bytes);
        Ok(())
    }
}

fn read(file: &Path, key: &[u8]) -> Option<Body> {
    let stored: Stored = serde_json::from_slice(&fs::read(file).ok()?).ok()?;
    let mut mac = Hmac::<Sha256>::new_from_slice(key).ok()?;
    mac.update(stored.body.as_bytes());
    let code: Sha256Digest = stored.code.parse().ok()?;
    mac.verify_slice(&unhex(&code.hex())).ok()?;
    serde_json::from_str(&stored.body).ok()
}

fn unhex(text: &str) -> Vec<u8> {
    (0..text.len() / 2).filter_map(|at| u8::from_str_radix(&text[2 * at..2 * at + 2], 16).ok()).collect()
}
