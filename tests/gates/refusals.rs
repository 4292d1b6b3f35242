//! Refusals in roles that no rule asks, and how they end: withdrawn, made about other facts, or overridden by owners.

use underlit::gates::requirements::ALL;
use underlit::gates::{Finding, State, findings, is_released};
use underlit::ids::PanelId;
use underlit::model::roster::Role;
use underlit::model::stage::Stage;
use underlit::model::statement::Decision::{Approved, Rejected, ReviseAndResubmit, Withdrawn};
use underlit::model::statement::{Statement, Subject, Topic, View};

use crate::job::{Job, name};

fn desk(view: View) -> Subject {
    Subject::panel(view, &name::<PanelId>("desk"))
}

/// The refusals that hold the job.
fn held(job: &Job) -> Vec<Finding> {
    let mut found = judged(job);
    found.retain(|f| f.state != State::Met);
    found
}

/// What the requirement says by itself, without the cost of all the others.
fn judged(job: &Job) -> Vec<Finding> {
    let requirement = ALL.iter().find(|r| r.name == "nothing-refused").expect("it is one");
    (requirement.check)(&job.case())
}

fn released() -> Job {
    let mut job = Job::complete();
    job.move_to(Stage::Released);
    assert!(is_released(&job.case()));
    job
}

#[test]
fn a_refusal_in_any_role_of_any_view_holds_a_released_job_until_it_is_withdrawn() {
    let people =
        [(Role::Client, "clara"), (Role::Rep, "oleg"), (Role::Engineer, "mara"), (Role::Owner, "ada")];
    let subjects = [
        desk(View::Choice),
        desk(View::Rendering),
        Subject::release(),
        Subject::topic(View::Acknowledgement, Topic::Cautions, None),
        Subject::request(Job::complete().project.requests.keys().next().expect("a request")),
    ];
    let whole = released();
    for subject in &subjects {
        for (role, who) in people {
            let mut job = whole.clone();
            let refusal = if role == Role::Rep { ReviseAndResubmit } else { Rejected };
            let said = job.say(subject, role, who, refusal);
            let mut refused = findings(&job.case(), Stage::Released);
            refused.retain(|f| f.state != State::Met);
            // Told once, by whatever asked for the word or else by itself.
            assert_eq!(refused.len(), 1, "{who} as {role}: {subject}: {refused:#?}");
            assert_eq!((refused[0].state, &refused[0].signoffs), (State::Rejected, &vec![said]));
            job.say_instead(&[said], subject, role, who, Withdrawn);
            assert!(held(&job).is_empty(), "{who} as {role}: {subject}");
        }
    }
}

#[test]
fn a_refusal_of_other_facts_or_by_somebody_without_the_role_holds_nothing() {
    let mut job = released();
    let other = job.statement(&desk(View::Choice), Role::Engineer, "mara", Rejected);
    job.panel("desk", |p| p.voltage_v = Some(12));
    job.keep(other);
    assert!(held(&job).is_empty(), "{:#?}", held(&job));
    job.panel("desk", |p| p.voltage_v = Some(24));
    assert_eq!(held(&job).len(), 1, "and it holds again when they return");
    let mut job = released();
    job.say(&Subject::release(), Role::Client, "otto", Rejected);
    job.say(&Subject::release(), Role::Engineer, "clara", Rejected);
    assert!(is_released(&job.case()), "another client, and a client as engineer");
    // Nothing can be refused that is not there.
    let gone = Statement {
        facts: Default::default(),
        ..job.statement(&Subject::panel(View::Choice, &name("gone")), Role::Rep, "oleg", Rejected)
    };
    job.keep(gone);
    assert!(is_released(&job.case()));
}

#[test]
fn a_gate_before_what_was_refused_stays_open() {
    let mut job = Job::complete();
    job.say(&Subject::release(), Role::Client, "clara", Rejected);
    job.say(&desk(View::Choice), Role::Engineer, "mara", Rejected);
    let held = |into| findings(&job.case(), into).iter().filter(|f| f.state != State::Met).count();
    assert_eq!([Stage::Selection, Stage::Rendering, Stage::Released].map(held), [0, 1, 2]);
}

#[test]
fn an_override_takes_owners_a_reason_in_the_open_and_the_very_refusal() {
    let mut job = released();
    let said = job.say(&Subject::release(), Role::Client, "clara", Rejected);
    let subject = Subject::override_of(said);
    // Not by whoever is no owner, nor of another refusal.
    job.say(&subject, Role::Rep, "oleg", Approved);
    job.say(&subject, Role::Owner, "oleg", Approved);
    let other = job.say(&Subject::release(), Role::Rep, "oleg", Rejected);
    job.say(&Subject::override_of(other), Role::Owner, "ada", Approved);
    assert_eq!(held(&job).len(), 1);
    let mut over = job.statement(&subject, Role::Owner, "ada", Approved);
    over.comment = Some("She agreed on the telephone.".into());
    // What it seals is the refusal as it was signed.
    let mut wrong = over.clone();
    wrong.facts.pop_last();
    job.keep(wrong);
    assert_eq!(held(&job).len(), 1);
    let over = job.keep(over);
    assert!(is_released(&job.case()));
    let met = judged(&job);
    let told = met.iter().find(|f| f.signoffs == [over]).expect("it is told and rested on");
    assert!(told.what.contains("Clara Quay (client) rejected"), "{}", told.what);
    assert!(told.what.contains("overridden by") && told.what.contains("She agreed on the telephone."));
    // Taken back, or refused by another owner, it lifts nothing.
    let mut back = job.project.signoffs.clone();
    job.say_instead(&[over], &subject, Role::Owner, "ada", Withdrawn);
    assert_eq!(held(&job).len(), 1);
    std::mem::swap(&mut back, &mut job.project.signoffs);
    job.shop
        .roster
        .people
        .iter_mut()
        .filter(|p| p.id == name("ines"))
        .for_each(|p| p.roles.push(Role::Owner));
    assert!(is_released(&job.case()));
    let against = job.say(&subject, Role::Owner, "ines", Rejected);
    assert_eq!(held(&job).len(), 1);
    job.say_instead(&[against], &subject, Role::Owner, "ines", Approved);
    assert!(is_released(&job.case()));
    // As many owners as sign a roster version.
    job.shop.roster.threshold = 2;
    assert_eq!(held(&job).len(), 1, "oleg's refusal was overridden by one owner only: {:#?}", held(&job));
    job.shop.roster.threshold = 3;
    assert_eq!(held(&job).len(), 2);
}

#[test]
fn an_override_lifts_a_hold_and_approves_nothing() {
    let mut job = released();
    let approvals: Vec<_> = job
        .project
        .signoffs
        .iter()
        .filter(|s| s.statement.about == desk(View::Choice))
        .map(|s| s.digest)
        .collect();
    let said = job.say_instead(&approvals, &desk(View::Choice), Role::Client, "clara", Rejected);
    job.say(&Subject::override_of(said), Role::Owner, "ada", Approved);
    assert!(held(&job).is_empty());
    assert!(!is_released(&job.case()), "the client's approval is still missing");
    // Nor does it let paper speak where she said no with her own hand.
    job.take_in(&[], &desk(View::Choice), ("oleg", "clara"), Approved);
    assert!(!is_released(&job.case()));
    let back = job.say_instead(&[said], &desk(View::Choice), Role::Client, "clara", Approved);
    assert!(job.project.signoffs.iter().any(|s| s.digest == back));
    assert!(is_released(&job.case()));
}

#[test]
fn a_refusal_of_before_holds_todays_release_and_makes_no_move_wrong() {
    let mut job = released();
    let old = job.statement(&Subject::release(), Role::Client, "clara", Rejected);
    job.keep(Statement { edition: None, ..old });
    assert!(!is_released(&job.case()));
    assert_eq!(held(&job)[0].since, 2);
    let mut job = released();
    job.say(&Subject::release(), Role::Client, "clara", Rejected);
    assert_eq!(held(&job)[0].since, 1);
}
