//! Everything that is wrong with a book, all of it at once: names, types, records against their schemas,
//! references between records, attachments, drawings, seals and signatures.

use std::cell::RefCell;
use std::collections::{BTreeMap, BTreeSet};

use serde::Deserialize as _;
use serde_json::Value;

use super::alike::Noted;
use super::before::Before;
use super::beside;
use super::chain::Chain;
use super::changed::edited_notes;
use super::project::outline_faults;
use super::proof;
use super::redraw;
use super::referred;
use super::refused;
use super::shop;
use super::{alike, housekeeping, incoming, readings, statements, stray, unnamed};
use crate::fault::{Fault, Means, Outcome};
use crate::git::{Repo, Snapshot};
use crate::ids::ProjectId;
use crate::lookalike::Note;
use crate::model::conflict::Conflict;
use crate::model::droppings::is_dropping;
use crate::model::kind::Kind;
use crate::model::rules::Rules;
use crate::parallel::in_parallel;
use crate::paths::UnsafePath;
use crate::store::read::{self, Records};
use crate::store::{BookFiles, BookFolder, strict_json};

/// What a check found.
#[derive(Clone, Debug, Default)]
pub struct Checked {
    /// How many files were looked at.
    pub files: usize,
    /// Everything that is wrong, by file.
    pub faults: Vec<Fault>,
    /// The open questions between edits, by the paths of their records. They are no faults.
    pub questions: BTreeMap<String, Conflict>,
    /// The files in projects that no record names.
    pub unnamed: Vec<String>,
    /// The files that belong to no book, and that nobody meant for a record.
    pub strays: Vec<String>,
    /// What lies there uncommitted and is left alone: no fault, and in nobody's way.
    pub left_alone: BTreeSet<String>,
    /// Titles and names that look alike or mix scripts, and lines that lie off their panels. They are no faults.
    pub notes: Vec<Note>,
    /// Folders with a repository of their own, which nobody committed. They are no faults.
    pub repositories: BTreeSet<String>,
}

/// Checks a whole book, or one project of it. What is drawn again, and what was found sound before, is asked of `before`.
#[must_use]
pub fn check(book: &BookFolder, only: Option<&ProjectId>, before: &mut Before) -> Checked {
    let trusted = Chain::load(book).map(|chain| (shop::load(book, &chain), chain));
    let by = match &trusted {
        Ok((Ok(shop), chain)) => Some((chain, shop)),
        _ => None,
    };
    let repo = Repo::open(book.root()).ok();
    let head = repo.as_ref().and_then(|repo| repo.head_snapshot().ok());
    let committed = repo.as_ref().zip(head.as_ref());
    before.begin(book, only, by, repo.as_ref());
    let (mut checked, outside, projects, moved) = listed(book, only, &|id| before.is_sound(id));
    let rules = by.map(|(chain, shop)| (chain, &shop.rules));
    // What lies in no project is judged as one part, each project by itself: of a large book no more is held at once.
    let parts: Vec<Option<&ProjectId>> =
        only.is_none().then_some(None).into_iter().chain(projects.iter().map(Some)).collect();
    let found = in_parallel(&parts, |id| {
        let own = id.map(|id| files_of(book, id));
        let (paths, faults) = own.as_ref().map_or((&outside, &[][..]), |(paths, faults)| (paths, faults));
        let mut part = part(book, paths, rules);
        part.checked.faults.extend_from_slice(faults);
        if let Some(id) = id {
            part.checked.faults.extend(redraw::faults(book, id, &|_| true, &before.sheets));
        }
        part.checked.faults.extend(housekeeping::private_keys(book, paths));
        (part.checked, Noted::of(&part.records))
    });
    // What could not be listed may be part of any project.
    let all_listed = checked.faults.is_empty();
    checked.faults.extend(housekeeping::private_keys(book, &moved));
    checked.files += before.of_the_sound().map(|(_, files, _)| files).sum::<usize>();
    let mut new = Vec::new();
    for (id, (mut part, noted)) in parts.into_iter().zip(found) {
        if let (Some(id), Some((repo, head))) = (id, committed) {
            part.faults.extend(edited_notes(repo, head, id));
        }
        if let Some(id) = id.filter(|_| all_listed && part.is_sound()) {
            before.found_sound(id, part.files, noted.clone());
        }
        checked.add(part);
        new.extend(id.map(|id| (id, noted)));
    }
    match &trusted {
        Err(found) => checked.faults.extend(found.iter().cloned()),
        Ok((Err(found), _)) => {
            checked.faults.extend(found.iter().filter(|f| f.means == Means::Unsealed).cloned());
        }
        Ok((Ok(_), _)) => {}
    }
    let roster = trusted.as_ref().ok().map(|(_, chain)| chain.newest());
    let sound = before.of_the_sound().map(|(id, _, noted)| (id, noted));
    let noted = sound.chain(new.iter().map(|(id, noted)| (*id, noted))).collect();
    checked.notes = alike::of_noted(&noted, roster, only.is_none());
    if let Some((repo, head)) = committed.filter(|_| only.is_none()) {
        checked.faults.extend(notes_gone(book, repo, head));
    }
    if let Some(head) = &head {
        leave_alone(book, head, &mut checked);
        set_apart_repositories(&mut checked);
        let odd = odd_committed(repo.as_ref(), head, only, before);
        checked.repositories.retain(|path| !odd.iter().any(|one| one.path == *path));
        checked.faults.extend(odd.iter().map(|one| one.fault("put the plain file itself there")));
    }
    if let Some(taken_past) = repo.as_ref().and_then(refused::standing_here).filter(|stands| stands.here) {
        checked.faults.push(taken_past.fault());
    }
    let strays = std::mem::take(&mut checked.strays);
    checked.faults.extend(strays.iter().map(|path| stray::fault(path, RENAME)));
    in_order(&mut checked.faults);
    checked
}

/// The notes that went with the whole folder of their project.
fn notes_gone(book: &BookFolder, repo: &Repo, head: &Snapshot<'_>) -> Vec<Fault> {
    let committed = head.folders("projects").unwrap_or_default().into_iter();
    let gone = committed.filter(|(name, _)| book.lies_there(&format!("projects/{name}")) == Ok(false));
    let gone = gone.filter_map(|(name, _)| name.parse().ok());
    gone.flat_map(|id: ProjectId| edited_notes(repo, head, &id)).collect()
}

/// What a commit holds of a book or of one project, and is no plain file.
fn odd_committed(
    repo: Option<&Repo>,
    head: &Snapshot<'_>,
    only: Option<&ProjectId>,
    before: &mut Before,
) -> Vec<UnsafePath> {
    if let Some(id) = only {
        return head.odd_files(None, &format!("projects/{id}")).unwrap_or_default();
    }
    let plain = before.plain().and_then(|commit| repo?.snapshot(commit).ok());
    let known = plain.and_then(|plain| head.odd_files(Some(&plain), "").ok());
    let Some(odd) = known.or_else(|| head.odd_files(None, "").ok()) else { return Vec::new() };
    if let Some(commit) = repo.and_then(|repo| repo.head().ok()?).filter(|_| odd.is_empty()) {
        before.found_plain(commit);
    }
    odd
}

/// What to do with a file that does not belong.
pub(super) const RENAME: &str =
    "move it elsewhere, or give it its right name; records and the files beside them have lower-case names";

/// Takes out of a check what lies there uncommitted and harms nobody.
fn leave_alone(book: &BookFolder, head: &Snapshot<'_>, checked: &mut Checked) {
    let (faults, mut left) = unnamed::uncommitted(book, head, &checked.unnamed);
    checked.faults.extend(faults);
    for path in std::mem::take(&mut checked.strays) {
        if !stray::lies_uncommitted(head, &path) {
            checked.strays.push(path);
        } else if unnamed::is_of_a_rendering(&path) {
            checked.faults.push(unnamed::fault(&path));
        } else {
            left.insert(path);
        }
    }
    // Its name and its kind are nobody's affair either.
    checked.faults.retain(|fault| {
        let Some(path) = &fault.file else { return true };
        let alone = fault.means == Means::NotPlain
            && stray::lies_uncommitted(head, path)
            && !unnamed::is_of_a_rendering(path);
        if alone {
            left.insert(path.clone());
        }
        !alone
    });
    checked.left_alone = left;
}

/// Puts what lies in a repository of its own under the name of its folder.
fn set_apart_repositories(checked: &mut Checked) {
    let own = |path: &String| path.split_once("/.git/").map(|(folder, _)| folder.to_owned());
    checked.repositories = checked.left_alone.iter().filter_map(own).collect();
    for folder in &checked.repositories {
        let inside = format!("{folder}/");
        checked.left_alone.retain(|path| !path.starts_with(&inside));
        checked.left_alone.insert(inside);
    }
}

/// Everything that is wrong with one project, judged by a roster and rules that are known to hold, so that the folder
/// needs neither.
#[must_use]
pub(crate) fn project(book: &dyn BookFiles, id: &ProjectId, chain: &Chain, rules: &Rules) -> Vec<Fault> {
    let (paths, faults) = files_of(book, id);
    let mut checked = part(book, &paths, Some((chain, rules))).checked;
    checked.faults.extend(faults);
    checked.faults.extend(checked.strays.iter().map(|path| stray::fault(path, RENAME)));
    in_order(&mut checked.faults);
    checked.faults
}

fn in_order(faults: &mut Vec<Fault>) {
    faults.sort_by(|a, b| {
        (&a.file, a.line, &a.pointer, &a.message).cmp(&(&b.file, b.line, &b.pointer, &b.message))
    });
    faults.dedup();
}

impl Checked {
    fn add(&mut self, part: Checked) {
        self.files += part.files;
        self.faults.extend(part.faults);
        self.questions.extend(part.questions);
        self.unnamed.extend(part.unnamed);
        self.strays.extend(part.strays);
    }

    /// True where nothing is wrong and nothing is asked, so that what was looked at alone says so.
    fn is_sound(&self) -> bool {
        self.faults.is_empty()
            && self.questions.is_empty()
            && self.unnamed.is_empty()
            && self.strays.is_empty()
    }
}

/// A part of a book, judged by itself, with every record that can be read.
struct Part {
    checked: Checked,
    records: Records,
}

/// Everything that is wrong with some files by themselves, with what they name, and with what is signed, by the roster and
/// the rules where they are known. They are those of one project, or all others.
fn part(book: &dyn BookFiles, paths: &[String], by: Option<(&Chain, &Rules)>) -> Part {
    let (mut checked, records) = read_records(book, paths, by.map(|(_, rules)| rules));
    checked.faults.extend(referred::faults(book, &records));
    let asked = records.iter().filter(|(path, _)| Kind::of_path(path) == Some(Kind::Conflict));
    checked.questions =
        asked.filter_map(|(p, (_, v))| Some((p.clone(), Conflict::deserialize(v).ok()?))).collect();
    proof::prove(book, &mut checked.questions);
    if let Some((chain, rules)) = by {
        checked.faults.extend(statements::that_do_not_hold(book, chain, rules, records.keys()));
    }
    Part { checked, records }
}

/// Project folders that were renamed, by hand or by a file manager: the folder's name, and that of the project. They hold
/// the record of a project whose own folder is gone. Sound projects are not asked.
///
/// # Errors
/// What the disk says.
pub(crate) fn moved_projects(
    book: &dyn BookFiles,
    is_sound: &dyn Fn(&ProjectId) -> bool,
) -> Outcome<Vec<(String, ProjectId)>> {
    let mut moved = Vec::new();
    let known = |name: &String| name.parse().is_ok_and(|id| is_sound(&id));
    for name in book.names("projects")?.into_iter().filter(|name| !known(name)) {
        let file = format!("projects/{name}/project.json");
        let id = match book.read(&file, strict_json::LARGEST) {
            Ok(bytes) => strict_json::parse(&bytes).ok().and_then(|value| id_of(&value)),
            Err(_) => None, // said of the file itself, wherever it is read for what it holds
        };
        if let Some(id) = id.filter(|id| id.as_str() != name)
            && !book.lies_there(&format!("projects/{id}"))?
        {
            moved.push((name, id));
        }
    }
    Ok(moved)
}

fn id_of(project: &Value) -> Option<ProjectId> {
    project.get("id").and_then(Value::as_str)?.parse().ok()
}

/// What is to be said of a project folder that was renamed: one thing, whatever lies in it.
#[must_use]
pub(crate) fn moved_fault(folder: &str, id: &ProjectId) -> Fault {
    Fault::data("project-moved", format!("this is the folder of project {id}, under another name"))
        .in_file(format!("projects/{folder}"))
        .fix(format!(
            "give it its name back: underlit check --repair 'moved:{folder}'; a project's name stays, and its title is changed with: underlit project change {id} --title \"…\""
        ))
}

/// The files in the folders of a project's renderings that no manifest names.
#[must_use]
pub(crate) fn beside_sheets(book: &dyn BookFiles, id: &ProjectId) -> Vec<Fault> {
    let folder = format!("projects/{id}/renderings");
    let (paths, _) = book.walk(&folder);
    let records = read::records(book, &folder);
    unnamed::beside_sheets(&unnamed::among(&paths, &records))
}

/// What is to be looked at: what is wrong with names, the files that lie in no project, the projects, and the files in folders
/// of projects that were renamed.
type Listed = (Checked, Vec<String>, Vec<ProjectId>, Vec<String>);

/// What is to be looked at of a book or of one project of it, but for sound projects.
fn listed(book: &BookFolder, only: Option<&ProjectId>, is_sound: &dyn Fn(&ProjectId) -> bool) -> Listed {
    let mut projects = Vec::new();
    if let Some(only) = only {
        projects.extend(Some(only.clone()).filter(|id| !is_sound(id)));
        return (Checked::default(), Vec::new(), projects, Vec::new());
    }
    let there = RefCell::new(BTreeSet::new());
    let is_project = |path: &str| ProjectId::of_path(path).is_some_and(|id| there.borrow_mut().insert(id));
    let (mut outside, mut faults) = book.walk_past("", &is_project);
    let mut there = there.into_inner();
    let mut renamed = Vec::new();
    for (folder, id) in moved_projects(book, is_sound).unwrap_or_default() {
        let path = format!("projects/{folder}");
        let inside = format!("{path}/");
        if folder.parse().is_ok_and(|id: ProjectId| there.remove(&id)) {
            renamed.extend(book.walk(&path).0);
        }
        renamed.extend(outside.extract_if(.., |path| path.starts_with(&inside)));
        faults.retain(|fault| fault.file.as_deref().is_none_or(|file| !file.starts_with(&inside)));
        faults.push(moved_fault(&folder, &id));
    }
    faults.retain(is_no_dropping);
    projects.extend(there.into_iter().filter(|id| !is_sound(id)));
    (Checked { faults, ..Checked::default() }, outside, projects, renamed)
}

/// The files of one project, and what is wrong with their names.
fn files_of(book: &dyn BookFiles, id: &ProjectId) -> (Vec<String>, Vec<Fault>) {
    let (paths, mut faults) = book.walk(&format!("projects/{id}"));
    faults.retain(is_no_dropping);
    (paths, faults)
}

fn is_no_dropping(fault: &Fault) -> bool {
    fault.file.as_deref().is_none_or(|file| !is_dropping(file))
}

/// Every record that can be read, and everything that is wrong with files by themselves.
fn read_records(book: &dyn BookFiles, paths: &[String], rules: Option<&Rules>) -> (Checked, Records) {
    let mut faults = Vec::new();
    let (mut records, mut strays) = (Records::new(), Vec::new());
    for path in paths {
        match Kind::of_path(path) {
            None if is_dropping(path) => {}
            None if stray::is_stray(path) => strays.push(path.clone()),
            None => faults.push(stray::fault(path, RENAME)),
            Some(kind) if kind.has_schema() || housekeeping::is_judged(path) => {
                match book.read(path, incoming::largest(path)) {
                    Ok(bytes) => {
                        let (found, value) = of_file(path, &bytes, rules);
                        faults.extend(found);
                        records.extend(value.map(|value| (path.clone(), (bytes, value))));
                    }
                    Err(fault) => faults.push(*fault),
                }
            }
            Some(_) => {}
        }
    }
    faults.extend(beside::faults(book, paths.iter().map(String::as_str)));
    let unnamed = unnamed::among(paths, &records);
    faults.extend(unnamed::beside_sheets(&unnamed));
    (Checked { files: paths.len(), faults, unnamed, strays, ..Checked::default() }, records)
}

/// Everything that is wrong with one file by itself, by the owners' rules where they are known; and its value where it is a
/// record that can be read.
#[must_use]
pub(crate) fn of_file(path: &str, bytes: &[u8], rules: Option<&Rules>) -> (Vec<Fault>, Option<Value>) {
    match Kind::of_path(path) {
        Some(kind) if kind.has_schema() => match read::check_bytes(path, kind, bytes) {
            Ok(value) => {
                let mut faults = beyond_the_schema(path, kind, bytes, &value);
                faults.extend(shop::list_faults(path, kind, bytes, &value));
                (faults, Some(value))
            }
            Err(found) => (found, None),
        },
        _ => (housekeeping::faults(path, bytes, rules), None),
    }
}

/// What a schema cannot see: that an id is its file's name, that a drawing closes, that a day exists.
#[must_use]
fn beyond_the_schema(path: &str, kind: Kind, bytes: &[u8], value: &Value) -> Vec<Fault> {
    let at = |fault: Fault, pointer: &str| {
        fault.in_file(path).at_pointer(pointer).on_line(strict_json::line_of(bytes, pointer))
    };
    let mut faults = Vec::new();
    let stem = path.rsplit('/').next().and_then(|f| f.strip_suffix(".json")).unwrap_or_default();
    let named = matches!(kind, Kind::Swatch | Kind::Request | Kind::Trial | Kind::Panel | Kind::Note);
    let folder = path.rsplit('/').nth(1).unwrap_or_default();
    let expected = if named { Some(stem) } else { (kind == Kind::Project).then_some(folder) };
    if let Some(expected) = expected
        && value.get("id").and_then(Value::as_str) != Some(expected)
    {
        let fault =
            Fault::data("id-not-name", format!("the id does not match its file or folder name, {expected}"));
        faults.push(at(
            fault.fix(format!("write \"id\": \"{expected}\", or rename the file or folder")),
            "/id",
        ));
    }
    if kind == Kind::Rendering {
        if value.get("panel").and_then(Value::as_str) != Some(folder) {
            let fault = Fault::data("id-not-name", format!("the panel does not match its folder, {folder}"));
            faults.push(at(fault.fix(format!("draw it again: underlit draw PROJECT {folder}")), "/panel"));
        }
        let further = value.get("further_sheets").and_then(Value::as_array).into_iter().flatten();
        for (nth, sheet) in further.enumerate() {
            let name = format!("sheet-{}.svg", nth + 2);
            if sheet.get("file").and_then(Value::as_str) != Some(&name) {
                let fault = Fault::data("sheet-order", format!("sheet {} must be the file {name}", nth + 2));
                let fault = fault.fix(format!("draw it again: underlit draw PROJECT {folder}"));
                faults.push(at(fault, &format!("/further_sheets/{nth}")));
            }
        }
    }
    let dates = if kind == Kind::Outline { Vec::new() } else { dates(value, "") };
    for (pointer, text) in dates {
        if text.parse::<jiff::civil::Date>().is_err() {
            let fault = Fault::data("no-such-day", format!("{text} is not a valid date"));
            faults.push(at(fault.fix("write a day that exists, as YYYY-MM-DD"), &pointer));
        }
    }
    if kind == Kind::Outline {
        faults.extend(outline_faults(path, bytes));
    }
    faults.extend(readings::faults(kind, value).into_iter().map(|(fault, pointer)| at(fault, &pointer)));
    faults
}

/// Every text that has the form of a date, with its pointer.
fn dates(value: &Value, pointer: &str) -> Vec<(String, String)> {
    match value {
        Value::String(text) => {
            let form = text.len() == 10
                && text
                    .bytes()
                    .enumerate()
                    .all(|(i, b)| if i == 4 || i == 7 { b == b'-' } else { b.is_ascii_digit() });
            if form { vec![(pointer.to_owned(), text.clone())] } else { Vec::new() }
        }
        Value::Array(items) => {
            items.iter().enumerate().flat_map(|(i, v)| dates(v, &format!("{pointer}/{i}"))).collect()
        }
        Value::Object(fields) => {
            fields.iter().flat_map(|(k, v)| dates(v, &format!("{pointer}/{k}"))).collect()
        }
        _ => Vec::new(),
    }
}
