//! Release groups: one is released, held and built while another waits, and none shares a driver with another.

use serde_json::json;
use underlit::gates::{State, evaluate, is_released};
use underlit::ids::GroupId;
use underlit::job::pack::of_job;
use underlit::model::panel::GroupShare;
use underlit::model::roster::Role;
use underlit::model::stage::Stage;
use underlit::model::statement::Decision::{Approved, Rejected};
use underlit::model::statement::Subject;

use crate::job::{Job, cautions, name, record, step};

fn shares(of: serde_json::Value) -> Vec<GroupShare> {
    record(of)
}

fn of_group(subject: &Subject, group: &str) -> Subject {
    Subject { group: Some(name(group)), ..subject.clone() }
}

/// The bar and one of the two desks on level 3, the other desk on level 5; the choices are signed, nothing is released.
fn two_levels() -> Job {
    let mut job = Job::complete();
    job.panel("bar", |p| p.groups = shares(json!([{ "group": "level-3" }])));
    job.panel("desk", |p| {
        p.groups = shares(json!([{ "group": "level-3" }, { "group": "level-5", "rooms": ["501"] }]))
    });
    job.draw("desk");
    job.sign_all();
    job.forget(&Subject::release());
    job.forget(&cautions());
    job.project.moves.clear();
    job.move_to(Stage::Rendering);
    job
}

fn release(job: &mut Job, group: &str) {
    job.say(&of_group(&cautions(), group), Role::Engineer, "mara", Approved);
    job.say(&of_group(&Subject::release(), group), Role::Engineer, "mara", Approved);
}

/// True where a group may be built.
fn may_be_built(job: &Job, group: &str) -> bool {
    let case = job.case();
    let part = case.part(&name::<GroupId>(group)).expect("the job has the group");
    assert_eq!(evaluate(&part, Stage::Released).passes(), is_released(&part));
    is_released(&part)
}

fn missing(job: &Job, requirement: &str) -> Vec<String> {
    let found = job.findings(requirement).into_iter().filter(|f| f.state != State::Met);
    found.map(|f| f.what).collect()
}

#[test]
fn one_level_is_released_while_the_other_waits() {
    let mut job = two_levels();
    assert!(!may_be_built(&job, "level-3") && !may_be_built(&job, "level-5"));
    release(&mut job, "level-3");
    assert!(may_be_built(&job, "level-3"));
    assert!(!may_be_built(&job, "level-5"));
    assert!(!job.released(), "the whole job waits for level 5");
    assert_eq!(
        missing(&job, "release-signed"),
        ["the release of group level-5 is not yet approved by the engineer"]
    );

    // A change that is level 3's alone leaves level 5 as it was signed, and the other way round.
    release(&mut job, "level-5");
    assert!(may_be_built(&job, "level-5"));
    job.panel("bar", |p| p.feed_length_m = Some(record(json!(4.5))));
    assert!(!may_be_built(&job, "level-3"), "the bar is on level 3");
    assert!(may_be_built(&job, "level-5"));
    job.panel("bar", |p| p.feed_length_m = Some(record(json!(4))));
    job.panel("desk", |p| p.groups[1].rooms = vec![name("502")]);
    assert!(may_be_built(&job, "level-3"));
    assert!(!may_be_built(&job, "level-5"), "its room is another");
    job.panel("desk", |p| {
        p.groups[1] = shares(json!([{ "group": "level-5", "quantity": 6, "rooms": ["501"] }])).remove(0);
        p.quantity = Some(7);
    });
    assert!(may_be_built(&job, "level-3"), "more desks on level 5 are no matter of level 3");
    assert!(!may_be_built(&job, "level-5"));
}

#[test]
fn the_whole_job_is_released_by_the_releases_of_all_its_groups() {
    let mut job = two_levels();
    job.say(&Subject::release(), Role::Engineer, "mara", Approved);
    assert_eq!(missing(&job, "release-signed").len(), 2, "one signature over all is not asked for");
    release(&mut job, "level-3");
    release(&mut job, "level-5");
    job.move_to(Stage::Released);
    assert!(job.released(), "{:?}", job.missing());

    // A step back holds every group, though nothing of it changed; signed again, it may be built.
    let standing = job.project.standing();
    let (digest, back) = step(Stage::Released, Stage::Selection, standing.last, "back");
    job.project.moves.insert(digest, back);
    assert!(!may_be_built(&job, "level-3") && !may_be_built(&job, "level-5"));
    release(&mut job, "level-3");
    assert!(may_be_built(&job, "level-3") && !may_be_built(&job, "level-5"));
}

#[test]
fn a_refusal_holds_its_own_group() {
    let mut job = two_levels();
    release(&mut job, "level-3");
    release(&mut job, "level-5");
    job.say(&of_group(&Subject::release(), "level-5"), Role::Client, "clara", Rejected);
    assert!(may_be_built(&job, "level-3"));
    assert!(!may_be_built(&job, "level-5"));
}

#[test]
fn every_panel_is_in_a_group_and_all_of_it() {
    let mut job = two_levels();
    job.panel("bar", |p| p.groups.clear());
    job.panel("desk", |p| p.quantity = Some(5));
    let found = missing(&job, "release-signed");
    for said in [
        "panel bar is in no release group, and the job is released group by group",
        "panel desk: its release groups take 2 of it, and 5 are to be built",
    ] {
        assert!(found.iter().any(|what| what == said), "{found:#?}");
    }
}

#[test]
fn drivers_are_shared_within_a_group_only() {
    // Two bars of 30 W ask for the same driver: together one of 100 W would do.
    let drivers = |groups: [&str; 2]| {
        let mut job = Job::complete();
        let bar = job.project.panels[&name("bar")].clone();
        let drawing = job.project.drawings[&name("bar")].clone();
        job.project.panels.clear();
        for (id, group) in ["bar-1", "bar-2"].into_iter().zip(groups) {
            let mut one = bar.clone();
            one.id = name(id);
            (one.driver, one.wire) = (None, None);
            one.groups = shares(json!([{ "group": group }]));
            job.project.panels.insert(name(id), one);
            job.project.drawings.insert(name(id), drawing.clone());
        }
        job.settle();
        let case = job.case();
        of_job(&case, case.job()).drivers.len()
    };
    assert_eq!(drivers(["level-3", "level-3"]), 1);
    assert_eq!(drivers(["level-3", "level-5"]), 2);
}

#[test]
fn a_groups_pack_holds_its_own_panels_and_rooms() {
    let job = two_levels();
    let case = job.case();
    let of = |group: &str| {
        let part = case.part(&name::<GroupId>(group)).expect("the job has the group");
        of_job(&part, part.job())
    };
    let (three, five) = (of("level-3"), of("level-5"));
    let panels = |data: &underlit::job::pack::data::PackData| {
        data.panels.iter().map(|p| (p.id.clone(), p.quantity, p.rooms.clone())).collect::<Vec<_>>()
    };
    assert_eq!(panels(&three), [("bar".into(), None, vec![]), ("desk".into(), None, vec![])]);
    assert_eq!(panels(&five), [("desk".into(), None, vec!["501".to_owned()])]);
    assert_eq!((three.group.as_deref(), five.group.as_deref()), (Some("level-3"), Some("level-5")));
}
