//! What a verdict is and is not: all gates up to a stage, from the facts alone.

use underlit::gates::{evaluate, is_released};
use underlit::model::roster::Role;
use underlit::model::stage::Stage;
use underlit::model::statement::{Decision, Subject, View};

use crate::job::{Job, name, record, step};

#[test]
fn a_verdict_holds_the_gates_up_to_its_stage_and_no_other() {
    let job = Job::complete();
    let mut before = 0;
    for stage in &Stage::ALL[1..] {
        let verdict = evaluate(&job.case(), *stage);
        assert_eq!(verdict.into, *stage);
        assert!(verdict.findings.iter().all(|f| f.gate <= *stage));
        assert!(verdict.findings.iter().any(|f| f.gate == *stage), "nothing is asked before {stage}");
        assert!(verdict.findings.len() > before);
        before = verdict.findings.len();
    }
    assert!(evaluate(&job.case(), Stage::Intake).findings.is_empty());
}

#[test]
fn earlier_gates_are_judged_again_at_every_later_one() {
    let mut job = Job::complete();
    job.project.project.install_date = None;
    for stage in &Stage::ALL[1..] {
        let verdict = evaluate(&job.case(), *stage);
        let missing: Vec<&str> = verdict.missing().map(|f| f.requirement).collect();
        assert_eq!(missing, ["install-date-set"], "into {stage}");
    }
}

#[test]
fn everything_missing_is_told_at_once() {
    let mut job = Job::complete();
    job.project.signoffs.clear();
    job.project.trials.clear();
    job.project.as_built = None;
    let missing = job.verdict();
    let mut names: Vec<&str> = missing.missing().map(|f| f.requirement).collect();
    names.dedup();
    assert_eq!(
        names,
        [
            "trial-recorded",
            "no-test-panel-accepted",
            "chosen-cct-tried",
            "bright-enough",
            "uneven-light-acknowledged",
            "choice-signed",
            "no-field-service-acknowledged",
            "seams-acknowledged",
            "ordered-ahead-acknowledged",
            "rendering-signed",
            "cautions-seen",
            "release-signed",
            "as-built-recorded",
            "delivery-received",
            "acceptance-signed",
        ]
    );
}

/// Times stand in records to be read by people; the files' order is the disk's. Neither is a reason.
#[test]
fn a_verdict_depends_on_no_clock_and_no_order() {
    let mut job = Job::complete();
    // Something of every state: a refusal, two approvals, a stale one.
    let choice = Subject::panel(View::Choice, &name("bar"));
    for who in ["mara", "ines"] {
        job.say(&Subject::release(), Role::Engineer, who, Decision::Approved);
        job.say(&Subject::panel(View::Rendering, &name("desk")), Role::Engineer, who, Decision::Rejected);
    }
    job.say(&choice, Role::Client, "clara", Decision::Approved);
    job.panel("desk", |p| p.voltage_v = Some(12));
    let said = job.verdict();
    let mut other = job.clone();
    for turn in 0..other.project.signoffs.len() {
        other.project.signoffs.rotate_left(1);
        if turn % 3 == 0 {
            other.project.signoffs.reverse();
        }
        assert_eq!(other.verdict(), said, "after turn {turn}");
    }
    for signoff in &mut other.project.signoffs {
        signoff.statement.time = "1999-01-01T00:00:00Z".into();
    }
    for made in other.project.moves.values_mut() {
        made.time = "2099-01-01T00:00:00Z".into();
    }
    other.project.project.opened = record("2001-01-01".into());
    other.project.project.install_date = Some(record("2001-01-02".into()));
    let at_another_time = other.verdict();
    let without_dates = |v: &underlit::gates::Verdict| {
        let kept = v.findings.iter().filter(|f| f.requirement != "install-date-set");
        kept.cloned().collect::<Vec<_>>()
    };
    assert_eq!(without_dates(&at_another_time), without_dates(&said));
    assert!(!at_another_time.missing().any(|f| f.requirement == "install-date-set"));
}

#[test]
fn a_project_is_released_only_while_it_stands_there_and_everything_holds() {
    let mut job = Job::complete();
    assert!(job.released());
    // The move alone releases nothing.
    let mut bare = job.clone();
    bare.project.signoffs.clear();
    assert_eq!(bare.project.standing().stage, Stage::HandedOver);
    assert!(!bare.released());
    // Nor do the facts without the move.
    let moves = std::mem::take(&mut job.project.moves);
    assert!(evaluate(&job.case(), Stage::HandedOver).passes());
    assert!(!is_released(&job.case()));
    job.move_to(Stage::Rendering);
    assert!(!job.released());
    job.move_to(Stage::Released);
    assert!(job.released());
    // A step back holds it, whoever made it and whatever holds besides.
    let standing = job.project.standing();
    let (digest, back) = step(Stage::Released, Stage::Rendering, standing.last, "back");
    job.project.moves.insert(digest, back);
    assert!(!job.released());
    job.project.moves = moves;
    assert!(job.released());
}

#[test]
fn what_is_missing_after_the_release_does_not_take_it_back() {
    let mut job = Job::complete();
    (job.project.as_built, job.project.installation) = (None, None);
    assert!(!job.verdict().passes());
    assert!(job.released());
}

#[test]
fn the_sign_offs_of_a_verdict_are_those_that_counted_each_once() {
    let mut job = Job::complete();
    let counted = job.verdict().signoffs();
    let mut once = counted.clone();
    once.dedup();
    assert_eq!(counted, once);
    assert!(counted.is_sorted());
    let idle = job.say(&Subject::release(), Role::Engineer, "oleg", Decision::Approved);
    assert!(!job.verdict().signoffs().contains(&idle), "a rep does not speak as engineer");
    let second = job.say(&Subject::release(), Role::Engineer, "ines", Decision::Approved);
    assert!(job.verdict().signoffs().contains(&second));
}

#[test]
fn a_name_is_told_once_even_where_a_person_has_two_roles() {
    let mut job = Job::complete();
    job.project.project.people.engineer = Some(name("oleg"));
    job.project.conflicts.insert(
        "conflicts/0a1b.json".into(),
        record(serde_json::json!({
            "$schema": "x", "path": "panels/bar.json", "pointer": "",
            "sides": [{ "by": "Mara" }, { "by": "Oleg" }]
        })),
    );
    assert_eq!(job.findings("no-open-conflict")[0].who, [name("oleg"), name("dana")]);
}
