//! Which sign-offs count: the latest of a signer, refusals over approvals, a person's own word over evidence, as
//! many people as the rules ask, and only the job's own client.

use underlit::digest::Sha256Digest;
use underlit::fault::Fault;
use underlit::gates::approval::standing;
use underlit::gates::{Finding, State};
use underlit::ids::PanelId;
use underlit::model::roster::Role;
use underlit::model::snapshot::SignOff;
use underlit::model::statement::Decision::{
    Approved, ApprovedAsNoted, Rejected, ReviseAndResubmit, Withdrawn,
};
use underlit::model::statement::{Fact, Statement, Subject, View};
use underlit::model::supersession::{WordState, weigh};

use crate::job::{Job, cautions, name, record};

fn choice() -> Subject {
    Subject::panel(View::Choice, &name::<PanelId>("desk"))
}

/// What the gate says of the choice for the desk.
fn judged(job: &Job) -> Finding {
    let found = job.findings("choice-signed");
    let found: Vec<Finding> = found.into_iter().filter(|f| f.what.contains("panel desk")).collect();
    assert_eq!(found.len(), 1, "{found:#?}");
    found[0].clone()
}

fn unsigned() -> Job {
    let mut job = Job::complete();
    job.forget(&choice());
    job
}

fn client_says(job: &mut Job, decision: underlit::model::statement::Decision) -> Sha256Digest {
    job.say(&choice(), Role::Client, "clara", decision)
}

fn client_says_instead(
    job: &mut Job,
    earlier: &[Sha256Digest],
    decision: underlit::model::statement::Decision,
) -> Sha256Digest {
    job.say_instead(earlier, &choice(), Role::Client, "clara", decision)
}

#[test]
fn the_latest_word_counts_by_what_it_replaces() {
    let mut job = unsigned();
    let first = client_says(&mut job, Rejected);
    assert_eq!(judged(&job).state, State::Rejected);
    let second = client_says_instead(&mut job, &[first], Approved);
    assert_eq!((judged(&job).state, judged(&job).signoffs), (State::Met, vec![second]));
    let third = client_says_instead(&mut job, &[second], ReviseAndResubmit);
    assert_eq!((judged(&job).state, judged(&job).signoffs), (State::Rejected, vec![third]));
    let fourth = client_says_instead(&mut job, &[third], Withdrawn);
    assert_eq!(judged(&job).state, State::Missing);
    client_says_instead(&mut job, &[fourth], Approved);
    assert_eq!(judged(&job).state, State::Met);
}

#[test]
fn a_withdrawn_approval_does_not_let_an_older_one_rise() {
    let mut job = unsigned();
    let first = client_says(&mut job, Approved);
    let second = client_says_instead(&mut job, &[first], Approved);
    client_says_instead(&mut job, &[second], Withdrawn);
    assert_eq!(judged(&job).state, State::Missing);
}

#[test]
fn a_standing_refusal_beats_any_approval_that_does_not_replace_it() {
    for refusal in [Rejected, ReviseAndResubmit] {
        let mut job = unsigned();
        client_says(&mut job, refusal);
        client_says(&mut job, Approved);
        let found = judged(&job);
        assert_eq!(found.state, State::Rejected);
        let done = refusal.done_to(&"the choice");
        assert!(found.what.contains(&done), "{done}: {}", found.what);
    }
}

#[test]
fn nobody_replaces_what_another_person_said() {
    let mut job = unsigned();
    let client = client_says(&mut job, Rejected);
    // An engineer, and the shop's other client, name it as replaced.
    job.say_instead(&[client], &choice(), Role::Engineer, "mara", Approved);
    job.say_instead(&[client], &choice(), Role::Client, "otto", Approved);
    assert_eq!(judged(&job).state, State::Rejected);
}

#[test]
fn a_statement_replaces_only_its_like() {
    let mut job = unsigned();
    let old = job.say(&choice(), Role::Client, "clara", Approved);
    let bar = Subject::panel(View::Choice, &name::<PanelId>("bar"));
    let replaced = |subject: &Subject, role: Role, who: &str, named: &[Sha256Digest]| {
        let statement = job.statement(subject, role, who, Approved);
        let statement = Statement { supersedes: named.to_vec(), ..statement };
        let new = SignOff { digest: crate::job::digest("new"), statement, void: None };
        weigh(job.project.signoffs.iter().chain([&new]))[&old] != WordState::Stands
    };
    assert!(replaced(&choice(), Role::Client, "clara", &[old]));
    assert!(!replaced(&choice(), Role::Client, "otto", &[old]), "another person");
    assert!(!replaced(&choice(), Role::Engineer, "clara", &[old]), "another role");
    assert!(!replaced(&cautions(), Role::Client, "clara", &[old]), "another subject");
    assert!(!replaced(&bar, Role::Client, "clara", &[old]), "another panel");
    assert!(!replaced(&choice(), Role::Client, "clara", &[]), "it names nothing");
}

#[test]
fn evidence_counts_and_is_shown_as_evidence() {
    let mut job = unsigned();
    let taken = job.take_in(&[], &choice(), ("oleg", "clara"), Approved);
    let found = judged(&job);
    assert_eq!((found.state, found.signoffs), (State::Met, vec![taken]));
    assert!(found.what.contains("Clara Quay") && found.what.contains("written evidence"), "{}", found.what);
    // The client's own signature is not shown so.
    let mut own = unsigned();
    client_says(&mut own, Approved);
    assert!(!judged(&own).what.contains("evidence"), "{}", judged(&own).what);
}

#[test]
fn evidence_never_displaces_the_persons_own_signature() {
    let mut job = unsigned();
    let own = client_says(&mut job, Rejected);
    job.take_in(&[own], &choice(), ("oleg", "clara"), Approved);
    assert_eq!(judged(&job).state, State::Rejected);
    // Not even where the rep is the client, and takes in a letter of their own.
    let mut job = unsigned();
    job.project.project.people.client = name("oleg");
    job.shop
        .roster
        .people
        .iter_mut()
        .filter(|p| p.id == name("oleg"))
        .for_each(|p| p.roles.push(Role::Client));
    let own = job.say(&choice(), Role::Client, "oleg", Rejected);
    job.take_in(&[own], &choice(), ("oleg", "oleg"), Approved);
    assert_eq!(judged(&job).state, State::Rejected);
}

#[test]
fn evidence_of_one_person_never_displaces_that_of_another() {
    let mut job = unsigned();
    let refused = job.take_in(&[], &choice(), ("oleg", "clara"), Rejected);
    job.take_in(&[refused], &choice(), ("oleg", "otto"), Approved);
    assert_eq!(judged(&job).state, State::Rejected);
}

#[test]
fn a_persons_own_signature_replaces_evidence_and_a_rep_corrects_their_own() {
    let mut job = unsigned();
    let taken = job.take_in(&[], &choice(), ("oleg", "clara"), Rejected);
    assert_eq!(judged(&job).state, State::Rejected);
    // Another rep's evidence does not undo it; the same rep's does.
    let other = job.take_in(&[taken], &choice(), ("rita", "clara"), Approved);
    assert_eq!(judged(&job).state, State::Rejected);
    let corrected = job.take_in(&[taken], &choice(), ("oleg", "clara"), Approved);
    assert_eq!(judged(&job).state, State::Met);
    let own = client_says_instead(&mut job, &[other, corrected], Rejected);
    assert_eq!((judged(&job).state, judged(&job).signoffs), (State::Rejected, vec![own]));
}

#[test]
fn a_sign_off_whose_signature_does_not_hold_counts_for_nothing() {
    let mut job = unsigned();
    let first = client_says(&mut job, Approved);
    client_says_instead(&mut job, &[first], Rejected);
    assert_eq!(judged(&job).state, State::Rejected);
    let void = Some(Fault::trust("signature-wrong", "the signature is not over these bytes"));
    // Neither as a refusal nor by what it claims to replace.
    job.project.signoffs.last_mut().expect("it was said").void = void;
    assert_eq!((judged(&job).state, judged(&job).signoffs), (State::Met, vec![first]));
}

#[test]
fn a_stale_approval_says_what_changed_from_what_to_what() {
    let mut job = Job::complete();
    job.panel("desk", |p| {
        p.light.iter_mut().for_each(|l| l.cct_k = Some(4100));
        p.voltage_v = None;
    });
    job.swatch("honey", |s| s.slab.thickness_mm.0 = 20.5);
    let found = judged(&job);
    assert_eq!(found.state, State::Stale);
    let changes: Vec<String> = found.changes.iter().map(|c| c.in_words()).collect();
    assert_eq!(
        changes,
        [
            "panel light cct: 4000 K was signed, now 4100 K",
            "panel voltage: 24 V was signed, now nothing",
            "swatch slab thickness: 20 mm was signed, now 20.5 mm",
        ]
    );
    assert_eq!(found.changes[0].signed, Some(Fact::Number(4000)));
    assert_eq!(found.changes[0].now, Some(Fact::Number(4100)));
}

#[test]
fn what_was_signed_fits_again_once_the_change_is_taken_back() {
    let mut job = unsigned();
    client_says(&mut job, Rejected);
    job.panel("desk", |p| p.voltage_v = Some(12));
    let found = judged(&job);
    assert_eq!(found.state, State::Missing, "a refusal of other facts refuses nothing now");
    assert!(found.what.contains("Clara Quay rejected an earlier version: “Too cold.”"), "{}", found.what);
    job.panel("desk", |p| p.voltage_v = Some(24));
    assert_eq!(judged(&job).state, State::Rejected, "and refuses them again when they return");
}

#[test]
fn a_new_approval_beside_a_stale_one_is_enough() {
    let mut job = Job::complete();
    job.panel("desk", |p| p.voltage_v = Some(12));
    assert_eq!(judged(&job).state, State::Stale);
    let fresh = client_says(&mut job, Approved);
    assert_eq!((judged(&job).state, judged(&job).signoffs), (State::Met, vec![fresh]));
}

#[test]
fn two_people_are_two_people() {
    let mut job = Job::complete();
    let release = Subject::release();
    job.shop.rules.approvals.iter_mut().filter(|r| r.view == View::Release).for_each(|r| r.people = 2);
    let state = |job: &Job| job.findings("release-signed")[0].clone();
    assert_eq!(state(&job).state, State::Missing);
    assert!(state(&job).what.contains("2 people in the role of engineer (1 so far)"), "{}", state(&job).what);
    // The same person twice is still one.
    job.say(&release, Role::Engineer, "mara", Approved);
    assert_eq!(state(&job).state, State::Missing);
    // Somebody in another role is none.
    job.say(&release, Role::Engineer, "oleg", Approved);
    assert_eq!(state(&job).state, State::Missing);
    let second = job.say(&release, Role::Engineer, "ines", Approved);
    assert_eq!(state(&job).state, State::Met);
    assert!(state(&job).what.contains("Mara Tideway") && state(&job).what.contains("Ines Quayle"));
    assert!(state(&job).signoffs.contains(&second));
    // One of the two refuses.
    job.say_instead(&[second], &release, Role::Engineer, "ines", Rejected);
    assert_eq!(state(&job).state, State::Rejected);
}

#[test]
fn two_lines_of_the_rules_are_two_findings() {
    let mut job = Job::complete();
    job.shop
        .rules
        .approvals
        .push(record(serde_json::json!({ "view": "release", "role": "owner", "people": 1 })));
    let found = job.findings("release-signed");
    assert_eq!(found.iter().map(|f| f.state).collect::<Vec<_>>(), [State::Met, State::Missing]);
    assert_eq!(found[1].who, [name("ada")]);
    job.say(&Subject::release(), Role::Owner, "ada", Approved);
    assert!(job.released());
}

#[test]
fn rules_that_name_nobody_let_nothing_pass() {
    let mut job = Job::complete();
    job.shop.rules.approvals.retain(|r| r.view != View::Release);
    let found = job.findings("release-signed");
    assert_eq!((found.len(), found[0].state), (1, State::Missing));
    assert!(found[0].what.contains("name nobody"), "{}", found[0].what);
    assert_eq!(found[0].who, [name("ada")]);
    assert!(!job.released());
}

#[test]
fn an_approval_as_noted_counts_once_its_notes_are_signed_as_met() {
    let mut job = unsigned();
    let noted = client_says(&mut job, ApprovedAsNoted);
    let met = Subject::notes_met(noted, Some(&name("desk")));
    let found = judged_notes(&job);
    assert_eq!((found.state, found.who), (State::Missing, vec![name("mara")]));
    assert!(found.what.contains("Round the corner."), "{}", found.what);
    assert!(found.command.contains(&format!("--topic notes-met --notes-of {noted}")), "{}", found.command);
    // The client cannot say for the engineer that they are met.
    job.say(&met, Role::Client, "clara", Approved);
    assert_eq!(judged_notes(&job).state, State::Missing);
    let engineer = job.say(&met, Role::Engineer, "mara", Approved);
    let found = judged(&job);
    assert_eq!(found.state, State::Met);
    assert_eq!(found.signoffs, [noted, engineer], "both count");
    // Another engineer says that they are not: the refusal holds.
    job.say(&met, Role::Engineer, "ines", Rejected);
    let found = judged_notes(&job);
    assert_eq!(found.state, State::Rejected);
    assert!(found.what.contains("Ines Quayle (engineer) rejected"), "{}", found.what);
}

#[test]
fn notes_are_met_by_as_many_people_as_the_rules_ask() {
    let mut job = unsigned();
    let asks_two = |r: &&mut underlit::model::rules::ApprovalRule| {
        r.topic == Some(underlit::model::statement::Topic::NotesMet)
    };
    job.shop.rules.approvals.iter_mut().filter(asks_two).for_each(|r| r.people = 2);
    let noted = client_says(&mut job, ApprovedAsNoted);
    let met = Subject::notes_met(noted, Some(&name("desk")));
    job.say(&met, Role::Engineer, "mara", Approved);
    assert_eq!(judged_notes(&job).state, State::Missing);
    job.say(&met, Role::Engineer, "ines", Approved);
    assert_eq!(judged(&job).state, State::Met);
}

#[test]
fn the_notes_of_one_statement_are_not_those_of_another() {
    let mut job = unsigned();
    let first = client_says(&mut job, ApprovedAsNoted);
    let met = Subject::notes_met(first, Some(&name("desk")));
    job.say(&met, Role::Engineer, "mara", Approved);
    assert_eq!(judged(&job).state, State::Met);
    client_says_instead(&mut job, &[first], ApprovedAsNoted);
    assert_eq!(judged_notes(&job).state, State::Missing);
}

/// As [`judged`], where the sentence may speak of the notes alone.
fn judged_notes(job: &Job) -> Finding {
    let found = job.findings("choice-signed");
    found.into_iter().find(|f| f.what.contains("panel desk as noted")).expect("it speaks of the notes")
}

#[test]
fn only_the_jobs_own_client_speaks_as_client() {
    let mut job = unsigned();
    job.say(&choice(), Role::Client, "otto", Approved);
    assert_eq!(judged(&job).state, State::Missing);
    job.say(&choice(), Role::Client, "mara", Approved);
    assert_eq!(judged(&job).state, State::Missing);
    client_says(&mut job, Approved);
    assert_eq!(judged(&job).state, State::Met);
}

#[test]
fn with_another_client_the_first_ones_word_no_longer_counts() {
    let mut job = Job::complete();
    job.project.project.people.client = name("otto");
    let found = judged(&job);
    assert_eq!((found.state, found.who), (State::Missing, vec![name("otto")]));
    assert!(!job.released());
    // What the client signed is signed by the new one, and the drawing that names the client drawn again.
    job.draw("desk");
    for subject in job.subjects() {
        if job.shop.rules.needed(&subject).any(|r| r.role == Role::Client) {
            job.say(&subject, Role::Client, "otto", Approved);
        }
    }
    assert_eq!(judged(&job).state, State::Met);
    // The release is still another's: it sealed who the client is.
    let release = job.findings("release-signed")[0].clone();
    assert_eq!(release.state, State::Stale);
    let who = release.changes.iter().find(|c| c.fact == "project.people.client").expect("the client changed");
    assert_eq!(who.in_words(), "project people client: clara was signed, now otto");
    assert!(!job.released());
}

#[test]
fn a_client_who_lost_the_role_no_longer_speaks() {
    let mut job = Job::complete();
    job.shop.roster.people.iter_mut().filter(|p| p.id == name("clara")).for_each(|p| p.roles.clear());
    assert_eq!(judged(&job).state, State::Missing);
}

#[test]
fn a_statement_about_another_panel_or_view_does_not_count() {
    let mut job = unsigned();
    job.say(&Subject::panel(View::Choice, &name("bar")), Role::Client, "clara", Approved);
    job.say(&Subject::panel(View::Rendering, &name("desk")), Role::Client, "clara", Approved);
    assert_eq!(judged(&job).state, State::Missing);
    let case = job.case();
    assert!(standing(&case, &choice(), Role::Client).is_empty());
}

#[test]
fn facts_must_be_all_the_facts() {
    let mut job = unsigned();
    let mut part = job.statement(&choice(), Role::Client, "clara", Approved);
    part.facts.pop_last();
    job.keep(part);
    assert_eq!(judged(&job).state, State::Stale);
    let mut more = job.statement(&choice(), Role::Client, "clara", Approved);
    more.facts.insert("panel.colour".into(), Fact::Text("any".into()));
    job.keep(more);
    assert_eq!(judged(&job).state, State::Stale);
}

/// Approvers speak only on a job that names them; a rule asks any so many of them, or every one.
#[test]
fn of_the_approvers_whom_a_job_names_any_or_every_one_is_asked() {
    let mut job = Job::complete();
    let rendering = Subject::panel(View::Rendering, &name("desk"));
    let rule = |every: bool| -> underlit::model::rules::ApprovalRule {
        record(serde_json::json!({ "view": "rendering", "role": "approver", "people": 1, "every": every }))
    };
    let with = |job: &Job, every: bool, named: &[&str]| {
        let mut job = job.clone();
        job.shop.rules.approvals.push(rule(every));
        let all: Vec<_> =
            named.iter().map(|p| serde_json::json!({ "person": p, "stands_for": "architect" })).collect();
        job.project.project.people.approvers = record(serde_json::Value::Array(all));
        for person in &mut job.shop.roster.people {
            if ["otto", "ines"].contains(&person.id.as_str()) {
                person.roles.push(Role::Approver);
            }
        }
        job
    };
    let open = |job: &Job| {
        let found = job.findings("rendering-signed").into_iter();
        found.filter(|f| f.state != State::Met).map(|f| f.what).collect::<Vec<_>>()
    };
    job.sign_all();
    assert_eq!(open(&with(&job, true, &[])), Vec::<String>::new(), "a job that names none asks none");
    for every in [false, true] {
        let mut asked = with(&job, every, &["otto", "ines"]);
        assert_eq!(open(&asked).len(), 1, "every {every}");
        asked.say(&rendering, Role::Approver, "oleg", Approved);
        assert_eq!(open(&asked).len(), 1, "whom the job does not name counts for nothing");
        asked.say(&rendering, Role::Approver, "otto", Approved);
        assert_eq!(open(&asked).len(), usize::from(every), "every {every}: one of two has approved");
        asked.say(&rendering, Role::Approver, "ines", Approved);
        assert_eq!(open(&asked), Vec::<String>::new());
        // One who refuses holds it up, however many approved.
        asked.say(&rendering, Role::Approver, "otto", Rejected);
        assert_eq!(open(&asked).len(), 1, "every {every}: refused");
    }
}
