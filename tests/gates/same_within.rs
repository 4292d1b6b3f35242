//! An outline that moved by no more than the shop's rules call the same asks the engineer alone, and nobody is bound by a
//! drawing that changed in anything else.

use serde_json::{Value, json};
use underlit::gates::{Finding, State};
use underlit::ids::PanelId;
use underlit::model::roster::Role;
use underlit::model::statement::Decision::{Approved, ApprovedAsNoted, Rejected, Withdrawn};
use underlit::model::statement::{Subject, View};
use underlit::shape;
use underlit::units::Millimetres;

use crate::job::{Job, arched, name};

fn rendering() -> Subject {
    Subject::panel(View::Rendering, &name::<PanelId>("desk"))
}

/// What is done to a job, with its name.
type Case<'c> = (&'static str, &'c dyn Fn(&mut Job));

/// The desk with another outline, drawn anew, in a shop that calls so much the same.
fn redrawn(job: &mut Job, outline: &Value, limit: Option<f64>) {
    job.shop.rules.same_within_mm = limit.map(Millimetres);
    let signed = job.project.drawings[&name::<PanelId>("desk")].clone().expect("it is drawn");
    job.outline("desk", outline);
    if let (Some(Ok(drawing)), Some(limit)) = (job.project.drawings.get_mut(&name::<PanelId>("desk")), limit)
    {
        let moved = shape::moved(&signed.outline, &drawing.outline, limit).map(Millimetres);
        drawing.moved = moved.into_iter().map(|mm| (signed.digest, mm)).collect();
    }
    job.draw("desk");
}

fn engineer_signs(job: &mut Job) {
    job.say(&rendering(), Role::Engineer, "mara", Approved);
}

/// What is said of the client's approval, which is asked first.
fn of_client(job: &Job) -> Finding {
    job.findings("rendering-signed").swap_remove(0)
}

#[test]
fn inside_it_the_engineer_alone_is_asked() {
    let mut job = Job::complete();
    redrawn(&mut job, &arched(3600.4), Some(0.5));
    let found = of_client(&job);
    assert_eq!((found.state, &found.roles[..]), (State::Stale, &[Role::Engineer][..]), "{found:#?}");
    assert!(found.what.contains("moved since by 0.4 mm"), "{}", found.what);
    assert_eq!(found.asked, Some((rendering(), Role::Engineer)));
    engineer_signs(&mut job);
    let found = job.findings("rendering-signed");
    assert!(found.iter().all(|f| f.state == State::Met), "{found:#?}");
    assert!(found[0].what.contains("Clara Quay, for an outline 0.4 mm from this one"), "{}", found[0].what);
    assert_eq!(found[0].signoffs.len(), 2, "the engineer's word counts with the client's: {found:#?}");
    let of_client = |f: &&Finding| f.roles.contains(&Role::Client);
    assert_eq!(job.verdict().missing().find(of_client), None, "nothing else is asked of the client");
}

#[test]
fn outside_it_or_where_no_rule_says_so_everybody_is_asked() {
    for (width, limit) in [(3600.6, Some(0.5)), (3600.4, None), (3600.4, Some(0.0)), (3600.4, Some(0.39))] {
        let mut job = Job::complete();
        redrawn(&mut job, &arched(width), limit);
        engineer_signs(&mut job);
        let found = of_client(&job);
        assert_eq!((found.state, &found.roles[..]), (State::Stale, &[Role::Client][..]), "{width} {limit:?}");
    }
    // At the very limit, and by none at all: the same line drawn in two pieces is another file.
    let mut in_two = arched(3600.0);
    let first = json!({ "kind": "line", "to_mm": [1200.0, 0] });
    in_two["outer"]["segments"].as_array_mut().expect("segments").insert(0, first);
    for (outline, limit) in [(arched(3600.5), 0.5), (in_two, 0.0)] {
        let mut job = Job::complete();
        redrawn(&mut job, &outline, Some(limit));
        engineer_signs(&mut job);
        assert_eq!(of_client(&job).state, State::Met, "{outline} {limit}");
    }
}

#[test]
fn only_the_engineers_standing_approval_of_this_drawing_counts() {
    let of_others = |job: &mut Job| {
        job.say(&rendering(), Role::Rep, "oleg", Approved);
        job.say(&rendering(), Role::Client, "otto", Approved);
    };
    let noted = |job: &mut Job| _ = job.say(&rendering(), Role::Engineer, "mara", ApprovedAsNoted);
    let refused = |job: &mut Job| _ = job.say(&rendering(), Role::Engineer, "mara", Rejected);
    let withdrawn = |job: &mut Job| {
        let said = job.say(&rendering(), Role::Engineer, "mara", Approved);
        job.say_instead(&[said], &rendering(), Role::Engineer, "mara", Withdrawn);
    };
    let no_engineer = |job: &mut Job| _ = job.say(&rendering(), Role::Engineer, "oleg", Approved);
    let before_redrawn = |job: &mut Job| {
        engineer_signs(job);
        job.draw("desk");
    };
    let cases: [Case<'_>; 6] = [
        ("nobody's but the rep's and another client's", &of_others),
        ("with notes that are not met", &noted),
        ("a refusal", &refused),
        ("withdrawn", &withdrawn),
        ("of somebody who is no engineer", &no_engineer),
        ("of the sheets before these", &before_redrawn),
    ];
    for (name, case) in cases {
        let mut job = Job::complete();
        redrawn(&mut job, &arched(3600.4), Some(0.5));
        case(&mut job);
        assert_eq!(of_client(&job).state, State::Stale, "{name}");
    }
}

#[test]
fn a_drawing_that_changed_in_anything_else_is_signed_anew() {
    let changes: [Case<'_>; 6] = [
        ("other lit edges", &|job| job.panel("desk", |p| p.lit_edges = vec![1])),
        ("a seam moved", &|job| job.panel("desk", |p| p.seams[0].from_mm[0].0 += 0.1)),
        ("no seam", &|job| job.panel("desk", |p| p.seams.clear())),
        ("another stone's thickness", &|job| job.swatch("honey", |s| s.slab.thickness_mm.0 = 20.1)),
        ("another title", &|job| job.panel("desk", |p| p.title = "Desk".into())),
        ("another face", &|job| job.panel("desk", |p| p.face = Some(underlit::words::Face::Diffused))),
    ];
    for (name, change) in changes {
        let mut job = Job::complete();
        change(&mut job);
        redrawn(&mut job, &arched(3600.4), Some(0.5));
        engineer_signs(&mut job);
        let found = of_client(&job);
        assert_eq!((found.state, &found.roles[..]), (State::Stale, &[Role::Client][..]), "{name}");
    }
}

#[test]
fn a_refusal_of_an_earlier_drawing_does_not_follow_the_outline() {
    let mut job = Job::complete();
    job.forget(&rendering());
    job.say(&rendering(), Role::Client, "clara", Rejected);
    redrawn(&mut job, &arched(3600.4), Some(0.5));
    engineer_signs(&mut job);
    assert_eq!(of_client(&job).state, State::Missing);
}

#[test]
fn an_approval_that_names_two_outlines_is_of_neither() {
    let mut job = Job::complete();
    job.forget(&rendering());
    let mut forged = job.statement(&rendering(), Role::Client, "clara", Approved);
    let other = crate::job::digest("another").hex();
    forged.facts.insert("rendering.outline_sha256".into(), underlit::model::statement::Fact::Text(other));
    job.keep(forged);
    redrawn(&mut job, &arched(3600.4), Some(0.5));
    engineer_signs(&mut job);
    assert_eq!(of_client(&job).state, State::Stale);
}
