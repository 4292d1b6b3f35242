//! A book opened for writing, where this clone's lock is held and every change becomes one commit.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use super::reading::{Me, Reading};
use crate::fault::{Fault, Means, Outcome};
use crate::git::{BookLock, ChangeKind, CommitId, HandEdit, NewCommit, Person, Repo};
use crate::ids::{PersonId, ProjectId};
use crate::model::droppings;
use crate::model::kind::Kind;
use crate::model::roster::Role;
use crate::model::rules::Rules;
use crate::model::snapshot::Shop;
use crate::secrets;
use crate::signing::{Armour, Identities, Namespace, PublicKey, Signer, find_identities};
use crate::store::{BookFiles, BookFolder, Changes, journal, read};
use crate::trust::chain::{self, Chain};
use crate::trust::changed::{self, Changed, Whose};
use crate::trust::redraw::Known;
use crate::trust::refused;
use crate::trust::surroundings::Surroundings;
use crate::trust::{check, incoming, referred, shop, statements, stray, unnamed};

/// A book opened for writing.
#[derive(Debug)]
pub struct Desk<'a> {
    /// The book.
    pub reading: Reading,
    /// What the command line handed in.
    pub around: &'a Surroundings<'a>,
    /// The repository.
    pub repo: Repo,
    lock: BookLock,
    me: Option<Me>,
}

impl<'a> Desk<'a> {
    /// Opens the book in which a folder lies, takes this clone's lock, and takes in what was edited by hand.
    ///
    /// # Errors
    /// Everything that stands in the way, hand edits that do not pass among it.
    pub fn open(from: &Path, around: &'a Surroundings<'a>) -> Result<Self, Vec<Fault>> {
        let desk = Self::open_book(from, around, shop::load)?;
        desk.take_in_hand_edits()?;
        Ok(desk)
    }

    /// As [`Desk::open`], for an owner who seals shop files that were changed by hand: those may differ from
    /// what the roster seals, and are read as they lie on disk.
    ///
    /// # Errors
    /// As [`Desk::open`], but for the seals.
    pub(crate) fn open_to_seal(from: &Path, around: &'a Surroundings<'a>) -> Result<Self, Vec<Fault>> {
        Self::open_book(from, around, shop::read_as_it_lies)
    }

    fn open_book(
        from: &Path,
        around: &'a Surroundings<'a>,
        read_shop: fn(&dyn BookFiles, &Chain) -> Result<Shop, Vec<Fault>>,
    ) -> Result<Self, Vec<Fault>> {
        let book = BookFolder::find(from)?;
        let repo = Repo::open(book.root())?;
        let lock = lock_settled(&repo)?;
        repo.refuse_half_done()?;
        refuse_lost_branch(&repo)?;
        let chain = Chain::load(&book).map_err(|faults| chain::lost_from_folder(&repo, faults))?;
        let local = repo.clone_local_dir()?;
        let pinned = Some(chain::hold_to_pin(&repo, &chain)?);
        let shop = read_shop(&book, &chain)?;
        let me = Me::remembered(&local)?;
        let refused = refused::standing_here(&repo);
        let held = repo.held()?;
        Ok(Desk { reading: Reading { book, chain, shop, pinned, refused, held }, around, repo, lock, me })
    }

    /// Waits for a person, with the lock let go so that nobody else has to wait with us.
    ///
    /// # Errors
    /// `changed-meanwhile`, where another command changed the book before the answer came; what the lock says.
    pub(crate) fn wait_for<T>(&self, person: impl FnOnce() -> T) -> Outcome<T> {
        let before = self.repo.head()?;
        let (answer, others) = self.repo.let_go_while(&self.lock, person)?;
        if others {
            settle(&self.repo)?;
        }
        if others && self.repo.head()? != before {
            return Err(Box::new(
                Fault::io(
                    "changed-meanwhile",
                    "another command changed the book before you answered; nothing was written",
                )
                .fix("run the command again and look at what is there now"),
            ));
        }
        Ok(answer)
    }

    /// Who is asking.
    ///
    /// # Errors
    /// `who-are-you`, `unknown-person`.
    pub(crate) fn me(&self) -> Outcome<PersonId> {
        let remembered = || self.me.as_ref().map(|me| me.person.clone());
        self.reading.on_the_roster(self.around.person.clone().or_else(remembered))
    }

    /// In which of some roles the asking person may act.
    ///
    /// # Errors
    /// `role`, where in none.
    pub(crate) fn my_role_among(&self, roles: &[Role], doing: &str) -> Outcome<(PersonId, Role)> {
        let me = self.me()?;
        let roster = self.reading.chain.newest();
        match roles.iter().find(|r| roster.has_role(&me, **r)) {
            Some(role) => Ok((me, *role)),
            None => {
                let words: Vec<&str> = roles.iter().map(|r| r.word()).collect();
                let who: Vec<String> =
                    roles.iter().flat_map(|r| roster.in_role(*r)).map(|p| p.id.to_string()).collect();
                Err(Box::new(
                    Fault::usage(
                        "role",
                        format!("{me} may not {doing}: that takes the role {}", words.join(" or ")),
                    )
                    .fix(format!("ask {}", who.join(" or "))),
                ))
            }
        }
    }

    /// Signs bytes with the asking person's key.
    ///
    /// # Errors
    /// `key-not-on-roster`, and whatever keeps the key from signing.
    pub(crate) fn sign(&self, namespace: &Namespace, bytes: &[u8]) -> Outcome<Armour> {
        let signer = self.signer()?;
        // A passphrase, a touch, or a word to the agent may be asked for.
        if self.around.toolbox.may_ask() {
            return Ok(self.wait_for(|| signer.sign(namespace, bytes))??);
        }
        Ok(signer.sign(namespace, bytes)?)
    }

    /// The asking person's key, which the roster knows.
    ///
    /// # Errors
    /// `key-not-on-roster`, and whatever keeps the key from being found.
    pub(crate) fn signer(&self) -> Outcome<Signer<'_>> {
        let me = self.me()?;
        let keys: Vec<PublicKey> = self
            .reading
            .chain
            .newest()
            .person(&me)
            .into_iter()
            .flat_map(|p| p.active_keys())
            .filter_map(|k| PublicKey::from_line(&k.public).ok().map(|(key, _)| key))
            .collect();
        let remembered = self.me.as_ref().filter(|m| m.person == me).and_then(|m| m.key.as_ref());
        let signer = match self.around.key.as_ref().or(remembered) {
            Some(file) => Signer::from_file(file, &self.around.toolbox)?,
            None => self.usual_key(&me, &keys)?,
        };
        if !keys.contains(signer.key()) {
            return Err(Box::new(
                Fault::trust("key-not-on-roster", format!("this key is not one that {me} has on the roster: {}", signer.key().fingerprint()))
                    .fix(format!("use the key that is, with --key FILE, or let an owner add this one: underlit roster add-key {me} FILE.pub")),
            ));
        }
        Ok(signer)
    }

    fn usual_key(&self, me: &PersonId, keys: &[PublicKey]) -> Outcome<Signer<'_>> {
        let Some(home) = &self.around.home else {
            return Err(Box::new(
                Fault::usage("no-home", "no home folder is known to look for your key in")
                    .fix("name the key with --key FILE"),
            ));
        };
        let identities: Identities = find_identities(home, &self.around.toolbox);
        match identities.among(keys) {
            Some(identity) => Ok(identity.signer(&self.around.toolbox)?),
            None if keys.is_empty() => Err(Box::new(
                Fault::trust("no-key-on-roster", format!("{me} has no key on the roster that may sign"))
                    .fix(format!("make one (ssh-keygen -t ed25519) and let an owner add it: underlit roster add-key {me} FILE.pub")),
            )),
            None => {
                let first = identities.first()?;
                Err(Box::new(
                    Fault::trust("key-not-found", format!("none of your keys is one that {me} has on the roster; the first found is {}", first.key.fingerprint()))
                        .fix("name the right one with --key FILE"),
                ))
            }
        }
    }

    /// Writes files and commits them, or leaves everything as it was.
    ///
    /// # Errors
    /// What the disk or git says.
    pub(crate) fn save(&self, changes: &Changes, message: &str) -> Outcome<Option<CommitId>> {
        let author = self.author()?;
        if self.around.dry_run || changes.is_empty() {
            return Ok(None);
        }
        // A photo or a drawing that a record no longer names goes with the change.
        let mut changes = changes.clone();
        for file in unnamed::left_behind(&self.reading.book, &changes) {
            changes.remove(file);
        }
        let spare = self.repo.clone_local_dir()?.join("before");
        let applied = changes.apply(self.reading.book.root(), Some(&spare))?;
        let paths = changes.paths();
        let paths: Vec<&str> = paths.iter().map(String::as_str).collect();
        match self.commit(&paths, message, &author) {
            Ok(commit) => Ok(commit),
            Err(fault) => {
                applied.undo();
                Err(fault)
            }
        }
    }

    fn commit(&self, paths: &[&str], message: &str, author: &Person) -> Outcome<Option<CommitId>> {
        let new = NewCommit { message, author, at: self.around.moment() };
        Ok(self.repo.commit_paths(&self.lock, paths, &new)?)
    }

    /// Whose name stands on a commit: the asking person's, with the address that git is set up with.
    ///
    /// # Errors
    /// As [`Desk::me`].
    pub(crate) fn author(&self) -> Outcome<Person> {
        let me = self.me()?;
        author_of(&me, &self.reading.chain, &self.repo)
    }

    /// Commits what was edited by hand since the last commit, once it passes.
    fn take_in_hand_edits(&self) -> Result<(), Vec<Fault>> {
        let edits = match self.around.dry_run {
            true => self.repo.changed_paths(""),
            false => self.repo.changed_paths_swept(&self.lock),
        };
        let edits = edits?;
        if edits.is_empty() {
            return Ok(());
        }
        let Reading { book, chain, shop, .. } = &self.reading;
        let TakeIn { paths, message } = take_in(book, chain, &shop.rules, &edits)?;
        if self.around.dry_run || paths.is_empty() {
            return Ok(());
        }
        let author = self.author()?;
        let paths: Vec<&str> = paths.iter().map(String::as_str).collect();
        self.commit(&paths, &message, &author)?;
        Ok(())
    }
}

/// Takes the lock of a book, and takes back what a command that was killed left half done.
///
/// # Errors
/// What git says of the lock, and the disk of a file that cannot be put back.
pub(crate) fn lock_settled(repo: &Repo) -> Outcome<BookLock> {
    let lock = repo.lock()?;
    settle(repo)?;
    Ok(lock)
}

/// Refuses to begin a branch in a clone that has seen the book before: its own first commit would begin another book. This is
/// what is known where git's log is gone too.
pub(crate) fn refuse_lost_branch(repo: &Repo) -> Outcome<()> {
    let Some(pin) = (if repo.head()?.is_some() { None } else { chain::pin(&repo.clone_local_dir()?)? })
    else {
        return Ok(());
    };
    let branch = repo.branch().unwrap_or_else(|_| "main".to_owned());
    let seen = repo.remote(None).ok().and_then(|remote| repo.last_seen(&remote).ok()?);
    let how = match repo.stood_last().or(seen) {
        Some(last) => format!("put it back to where it stood: git update-ref refs/heads/{branch} {last}"),
        None => format!(
            "fetch it, and put it back: git fetch origin; git update-ref refs/heads/{branch} refs/remotes/origin/{branch}"
        ),
    };
    let message = format!(
        "the branch {branch} has no commit any more, though this clone has seen roster version {} on it; nothing was changed",
        pin.version
    );
    Err(Box::new(Fault::io("branch-lost", message).fix(format!("{how}; then sync again"))))
}

/// Takes back what a command that was killed left half done, for whoever holds the lock.
pub(crate) fn settle(repo: &Repo) -> Outcome<()> {
    let spare = repo.clone_local_dir()?.join("before");
    if journal::is_interrupted(&spare) {
        let head = repo.head_snapshot()?;
        journal::settle(repo.root(), &spare, |path| Ok(head.file(path)?))?;
    }
    Ok(())
}

/// Settles an interrupted command before a book is only looked at; where that cannot be done, because somebody works
/// on it or it may not be written, the book is looked at as it is.
pub(crate) fn settle_before_looking(book: &BookFolder) {
    let Ok(repo) = Repo::open(book.root()) else { return };
    let spare = repo.clone_local_dir().map(|dir| dir.join("before"));
    if spare.is_ok_and(|spare| journal::is_interrupted(&spare)) || repo.is_interrupted() {
        // Not waited for: whoever has the lock has just noted what it is about to do.
        let _ = repo.lock_at_once().map_err(Into::into).and_then(|_lock| settle(&repo));
    }
}

/// A person as a commit names them: by the roster's name, with the address that git is set up with.
///
/// # Errors
/// What git says of a name that cannot stand in a commit.
pub(crate) fn author_of(person: &PersonId, chain: &Chain, repo: &Repo) -> Outcome<Person> {
    let roster = chain.newest();
    let email =
        repo.configured_person().map_or_else(|| format!("{person}@{}.invalid", roster.book), |p| p.email);
    Ok(Person::new(&roster.name_of(person), &email)?)
}

/// Whose commits these are: whoever this clone knows, or git is set up for.
///
/// # Errors
/// `who-are-you`, and as [`author_of`].
pub(crate) fn author(repo: &Repo, chain: &Chain, local: &Path, around: &Surroundings<'_>) -> Outcome<Person> {
    let me = Me::asking(local, around)?;
    match (me, repo.configured_person()) {
        (Some(me), _) => author_of(&me, chain, repo),
        (None, Some(person)) => Ok(person),
        (None, None) => Err(Box::new(
            Fault::usage("who-are-you", "this clone does not know who you are")
                .fix("say it once: underlit me PERSON"),
        )),
    }
}

/// Which hand edits to take in, and what their commit says.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct TakeIn {
    /// The files.
    pub paths: Vec<String>,
    /// The commit's message.
    pub message: String,
}

/// Which hand edits to commit, and what their commit says.
///
/// # Errors
/// Everything that is wrong with them.
pub(crate) fn take_in(
    book: &dyn BookFiles,
    chain: &Chain,
    rules: &Rules,
    edits: &[HandEdit],
) -> Result<TakeIn, Vec<Fault>> {
    let edits: Vec<HandEdit> = edits.iter().filter(|edit| !is_left_behind(book, edit)).cloned().collect();
    let edits = edits.as_slice();
    let gone = |e: &HandEdit| e.kind == ChangeKind::Removed && Kind::of_path(&e.path) == Some(Kind::Project);
    if edits.iter().any(gone) {
        let moved = check::moved_projects(book, &|_| false)?;
        if !moved.is_empty() {
            return Err(moved.iter().map(|(folder, id)| check::moved_fault(folder, id)).collect());
        }
    }
    let new = edits.iter().filter(|edit| {
        let kept = changed::add_only(&edit.path, edit.kind, false, Whose::Own).is_none();
        edit.kind != ChangeKind::Removed && kept
    });
    let faults: Vec<Fault> = new.flat_map(|edit| brought_faults(book, chain, rules, &edit.path)).collect();
    if !faults.is_empty() {
        return Err(faults);
    }
    let files = edits.iter().map(|edit| (edit.path.as_str(), edit.kind)).collect();
    let changed =
        Changed { book, chain, rules: Some(rules), files, unsaid: BTreeSet::new(), whose: Whose::Own };
    let mut faults = changed.faults(&Known::default(), usize::MAX, &|| Ok(()))?;
    // A file without a name is not taken in, and so is in nobody's way.
    faults.retain(|fault| fault.means != Means::Unnamed);
    if !faults.is_empty() {
        return Err(faults);
    }
    let left = unnamed_among(book, edits);
    let paths: Vec<String> =
        edits.iter().map(|e| e.path.clone()).filter(|path| !left.contains(path)).collect();
    let message = format!("Edited by hand: {}\n", paths.join(", "));
    Ok(TakeIn { paths, message })
}

/// The edits that are somebody's: without what is left alone where it lies.
pub(crate) fn meant(book: &dyn BookFiles, edits: &[HandEdit]) -> Vec<HandEdit> {
    let left = unnamed_among(book, edits);
    let meant = |edit: &&HandEdit| !is_left_behind(book, edit) && !left.contains(&edit.path);
    edits.iter().filter(meant).cloned().collect()
}

/// True for a stray file that nobody committed, and for what a desktop or editor left there and no record names.
fn is_left_behind(book: &dyn BookFiles, edit: &HandEdit) -> bool {
    if edit.kind == ChangeKind::Added && stray::is_stray(&edit.path) {
        return true;
    }
    if edit.kind == ChangeKind::Removed || !droppings::is_dropping(&edit.path) {
        return false;
    }
    match (Kind::of_path(&edit.path), ProjectId::of_path(&edit.path)) {
        (None, _) => true,
        (Some(Kind::Attachment), Some(id)) => !referred::named_by(book, &id).contains_key(&edit.path),
        _ => false,
    }
}

/// The edited files that no record names: they stay where they lie, and `check` says so.
fn unnamed_among(book: &dyn BookFiles, edits: &[HandEdit]) -> BTreeSet<String> {
    let mut of_projects: BTreeMap<ProjectId, Vec<String>> = BTreeMap::new();
    for edit in edits.iter().filter(|e| e.kind != ChangeKind::Removed && unnamed::needs_a_name(&e.path)) {
        if let Some(id) = ProjectId::of_path(&edit.path) {
            of_projects.entry(id).or_default().push(edit.path.clone());
        }
    }
    let among = |(id, paths): (&ProjectId, &Vec<String>)| {
        unnamed::among(paths, &read::records(book, &format!("projects/{id}")))
    };
    of_projects.iter().flat_map(among).collect()
}

/// What is wrong with a file that comes in by hand, before it is read as a record: its size, a private key in it, a
/// statement that nobody signed who may.
fn brought_faults(book: &dyn BookFiles, chain: &Chain, rules: &Rules, path: &str) -> Vec<Fault> {
    if Kind::of_path(path).is_none() {
        return Vec::new();
    }
    match book.read(path, incoming::largest(path)) {
        Err(fault) => vec![*fault],
        Ok(bytes) if secrets::holds_private_key(&bytes) => vec![secrets::fault(path)],
        Ok(_) => statements::faults(book, chain, rules, path),
    }
}
