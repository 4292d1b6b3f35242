//! The files of one moment, judged: the roster from its first version on, the seals of the shop, and every
//! sign-off and move with its signature and its scan.
//!
//! What a later roster or later rules did to a statement that was good when it was made is no fault of a book: it
//! counts for nothing, and the gates say so. What is not here: whether a project may be built (`gates`), what the
//! records hold besides (`ops::check`), and how the state came about ([`super::past`]).

use std::collections::BTreeSet;

use super::start::Start;
use crate::fault::{Fault, Means};
use crate::ids::ProjectId;
use crate::model::kind::Kind;
use crate::model::rules::Rules;
use crate::model::snapshot::Shop;
use crate::parallel::Told;
use crate::store::{BookFiles, safe_path};
use crate::trust::chain::Chain;
use crate::trust::{beside, shop, statements};

/// A state as it was judged.
#[derive(Clone, Debug)]
pub struct Judged {
    /// The roster, where every version of it holds.
    pub chain: Option<Chain>,
    /// The shop, where the newest roster seals every file of it.
    pub shop: Option<Shop>,
    /// Everything that does not hold, by file.
    pub faults: Vec<Fault>,
}

/// Judges a state. With `only`, the statements of those projects alone; roster and seals always.
#[must_use]
pub fn judge(book: &dyn BookFiles, start: &Start, only: Option<&BTreeSet<ProjectId>>) -> Judged {
    let mut faults = strangers(book, "roster", &[Kind::Roster, Kind::RosterSignature]);
    let chain = match Chain::load(book) {
        Ok(chain) => chain,
        Err(found) => {
            faults.extend(found);
            return Judged { chain: None, shop: None, faults };
        }
    };
    if let Err(fault) = start.holds(&chain) {
        faults.push(*fault);
        return Judged { chain: None, shop: None, faults };
    }
    let shop = shop::load(book, &chain);
    let projects = match only {
        Some(some) => some.iter().cloned().collect(),
        None => every_project(book, &mut faults),
    };
    match &shop {
        Ok(shop) => {
            for id in Told::each(&projects) {
                faults.extend(project(book, &chain, &shop.rules, id));
            }
        }
        Err(found) => faults.extend(found.iter().cloned()),
    }
    faults.sort_by(|a, b| (&a.file, a.line, &a.message).cmp(&(&b.file, b.line, &b.message)));
    faults.dedup();
    Judged { chain: Some(chain), shop: shop.ok(), faults }
}

/// Every project's name that a folder has, whether or not its record can be read: a statement counts or not
/// wherever it lies.
fn every_project(book: &dyn BookFiles, faults: &mut Vec<Fault>) -> Vec<ProjectId> {
    match book.names("projects") {
        Ok(names) => names.iter().filter_map(|name| name.parse().ok()).collect(),
        Err(fault) => {
            faults.push(*fault);
            Vec::new()
        }
    }
}

/// The two folders of what people said about a project.
const STATEMENTS: [(&str, Kind); 2] = [("signoffs", Kind::SignOff), ("moves", Kind::Move)];

/// Files among the statements of one project that are none.
#[must_use]
pub(crate) fn strangers_of(book: &dyn BookFiles, id: &ProjectId) -> Vec<Fault> {
    let of = |(sub, kind): &(&str, Kind)| {
        strangers(book, &format!("projects/{id}/{sub}"), &[*kind, Kind::Signature, Kind::Scan])
    };
    STATEMENTS.iter().flat_map(of).collect()
}

/// Everything among the statements of one project that does not hold.
#[must_use]
pub(crate) fn project(book: &dyn BookFiles, chain: &Chain, rules: &Rules, id: &ProjectId) -> Vec<Fault> {
    let mut faults = strangers_of(book, id);
    for (sub, kind) in STATEMENTS {
        let folder = format!("projects/{id}/{sub}");
        let files = match book.files_of(&folder, kind) {
            Ok(files) => files,
            Err(fault) => {
                faults.push(*fault);
                continue;
            }
        };
        for path in files {
            let found = statements::faults(book, chain, rules, &path);
            faults.extend(found.into_iter().filter(|f| f.means != Means::Overtaken));
            if kind == Kind::SignOff {
                faults.extend(scan_fault(book, &path));
            }
        }
    }
    faults
}

/// What is wrong with the scan that an evidence sign-off takes in.
fn scan_fault(book: &dyn BookFiles, path: &str) -> Option<Fault> {
    let bytes = book.read(path, safe_path::LARGEST_ATTACHMENT).ok()?;
    beside::missing_scan(book, path, &serde_json::from_slice(&bytes).ok()?)
}

/// Files in a folder of statements that are none: nothing counts under such a name, and a person might think so.
fn strangers(book: &dyn BookFiles, folder: &str, kinds: &[Kind]) -> Vec<Fault> {
    let names = match book.names(folder) {
        Ok(names) => names,
        Err(fault) => return vec![*fault],
    };
    names
        .into_iter()
        .map(|name| format!("{folder}/{name}"))
        .filter(|path| !Kind::of_path(path).is_some_and(|kind| kinds.contains(&kind)))
        .map(|path| {
            Fault::trust("not-a-statement", "no file of that name belongs among what people signed")
                .that_means(Means::NoStatement)
                .in_file(path)
                .fix("move it elsewhere")
        })
        .collect()
}
