//! Into released: no question between two people's edits is open, be it about the job's own records or about a file of
//! the shop that the job is built by.

use crate::gates::case::{Case, Requirement};
use crate::gates::verdict::Finding;
use crate::model::conflict::{Conflict, question_of};
use crate::model::roster::Role;
use crate::model::stage::Stage;
use crate::words::LightKind;

/// The requirement.
pub(super) const REQUIREMENT: Requirement = Requirement {
    name: "no-open-conflict",
    gate: Stage::Released,
    since: 1,
    reason: "while two edits of one field stand against one another, nobody knows what is to be built",
    check,
};

fn check(case: &Case<'_>) -> Vec<Finding> {
    let own = case.project.conflicts.iter().map(|(path, conflict)| {
        let what = conflict.in_words();
        let command = format!("underlit resolve {} {} --take 1|2|base", case.id(), question_of(path));
        REQUIREMENT.missing(case, what, &[Role::Rep, Role::Designer, Role::Engineer], command)
    });
    let of_the_shop = case.shop.conflicts.iter().filter_map(|(path, conflict)| {
        let because = why_it_bears(case, conflict)?;
        let what = format!("{}; {because}", conflict.in_words());
        let command = format!("underlit resolve --shop {} --take 1|2|base", question_of(path));
        Some(REQUIREMENT.missing(case, what, &[Role::Owner], command))
    });
    let open: Vec<Finding> = own.chain(of_the_shop).collect();
    if open.is_empty() { vec![REQUIREMENT.met("no question is open")] } else { open }
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
                p.control.is_some() || p.light.as_ref().is_some_and(|l| l.kind != LightKind::StaticWhite)
            });
            used.then_some("panels of this job take a control from it")
        }
        path if path.starts_with("shop/") => {
            case.panels().next().is_some().then_some("panels of this job are planned by it")
        }
        _ => None,
    }
}

/// The open questions outside any project that bear on a job, each with why.
pub fn of_the_shop<'c>(case: &'c Case<'_>) -> impl Iterator<Item = (&'c Conflict, &'static str)> {
    case.shop.conflicts.values().filter_map(|conflict| Some((conflict, why_it_bears(case, conflict)?)))
}
