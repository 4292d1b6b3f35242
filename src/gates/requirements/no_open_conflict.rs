//! Into every stage up to released: no question between two people's edits is open, be it about the job's own records or about a file of
//! the shop that the job is built by.

use crate::gates::requirement::Requirement;
use crate::gates::verdict::Finding;
use crate::job::case::Case;
use crate::model::conflict::Conflict;
use crate::model::kind::Kind;
use crate::model::question::questions;
use crate::model::roster::Role;
use crate::model::stage::Stage;
use crate::model::statement::{Subject, View};
use crate::model::view::is_unsealed;

/// The requirement.
pub(super) const REQUIREMENT: Requirement = Requirement {
    name: "no-open-conflict",
    gate: Stage::Sampling,
    since: 1,
    reason: "while two edits of one field disagree, nobody knows what to build",
    check,
};

fn check(case: &Case<'_>) -> Vec<Finding> {
    let own = questions(&case.project.conflicts).into_iter().map(|question| {
        let command = format!("underlit resolve {}", case.id());
        let who = [Role::Rep, Role::Designer, Role::Engineer];
        REQUIREMENT.missing(case, question.in_words(), &who, command)
    });
    let of_the_shop = of_the_shop(case).map(|(_, question, because)| {
        let what = format!("{}; {because}", question.in_words());
        REQUIREMENT.missing(case, what, &[Role::Owner], "underlit resolve --shop".to_owned())
    });
    let mut open: Vec<Finding> = own.chain(of_the_shop).collect();
    if open.is_empty() {
        open.push(REQUIREMENT.met("no question is open"));
    }
    // A question keeps the next gate shut; from `released` on it puts the job on hold. A move that lies behind was made
    // before the question or past it, and the gate into `released` asks again.
    let next = case.project.standing().stage.next().unwrap_or(Stage::Released).min(Stage::Released);
    open.into_iter().map(|finding| Finding { gate: next, ..finding }).collect()
}

/// The open questions that bear on what an approval of a subject would seal: all of them on the release of the whole
/// build; elsewhere those about a sealed field of its panel, stone or request, each with whose it is.
pub(crate) fn bearing_on<'c>(
    case: &'c Case<'_>,
    subject: &'c Subject,
) -> impl Iterator<Item = (&'c Conflict, String)> {
    let own = case.project.conflicts.values().filter(move |conflict| bears_on(case, conflict, subject));
    let shop = of_the_shop(case).filter(|_| subject.view == View::Release);
    own.map(|conflict| (conflict, case.id().to_owned()))
        .chain(shop.map(|(_, conflict, _)| (conflict, "--shop".to_owned())))
}

fn bears_on(case: &Case<'_>, conflict: &Conflict, subject: &Subject) -> bool {
    match subject.view {
        View::Release => return true,
        View::Override => return false,
        _ => {}
    }
    let path = conflict.path.splitn(3, '/').nth(2).unwrap_or(&conflict.path);
    let (folder, file) = path.split_once('/').unwrap_or(("", path));
    let stem = file.split(['.', '/']).next().unwrap_or(file);
    let kind = Kind::of_path(&conflict.path).map_or("", Kind::name);
    if is_unsealed(kind, &conflict.pointer.trim_start_matches('/').replace('/', ".")) {
        return false;
    }
    let panels = || case.panels().filter(|(id, _)| subject.panel.as_ref().is_none_or(|p| p == *id));
    let of_request = || subject.request.as_ref().and_then(|id| case.project.requests.get(id));
    match (folder, subject.view) {
        ("requests", View::Request) => subject.request.as_ref().is_some_and(|id| id.as_str() == stem),
        ("swatches", View::Request) => {
            of_request().is_some_and(|r| r.swatches.iter().any(|s| s.as_str() == stem))
        }
        ("panels" | "renderings" | "trials", View::Request) | ("requests" | "handover", _) => false,
        ("panels" | "renderings", _) => panels().any(|(id, _)| id.as_str() == stem),
        ("swatches", _) => panels().any(|(_, panel)| panel.swatch.as_str() == stem),
        ("trials", view) => view == View::Waiver,
        _ => !matches!(kind, "as-built" | "installation"),
    }
}

/// Why a question about a file outside any project bears on this one; none where it does not. Common practice, no
/// source: who may approve bears on every job, a list on whatever is planned by it, a page about the book on none.
fn why_it_bears(case: &Case<'_>, conflict: &Conflict) -> Option<&'static str> {
    match conflict.path.as_str() {
        "rules.json" => Some("every job is approved by them"),
        "book.json" => Some("every job is in this book"),
        path if path.starts_with("roster/") => Some("every job is approved by the people on it"),
        "shop/controls.json" => {
            let used = case.panels().any(|(_, p)| {
                p.control.is_some() || p.light.as_ref().is_some_and(|l| l.kind.needs_control())
            });
            used.then_some("panels of this job take a control from it")
        }
        path if path.starts_with("shop/") => {
            case.panels().next().is_some().then_some("panels of this job are planned by it")
        }
        _ => None,
    }
}

/// The open questions outside any project that bear on a job, each with the path of its record, and with why.
pub(crate) fn of_the_shop<'c>(
    case: &'c Case<'_>,
) -> impl Iterator<Item = (&'c str, &'c Conflict, &'static str)> {
    let conflicts = case.shop.conflicts.iter();
    conflicts.filter_map(|(file, conflict)| Some((file.as_str(), conflict, why_it_bears(case, conflict)?)))
}
