//! Which sign-offs stand: every short history of one person's own words and of answers taken in for them, on one clone and
//! on two that meet, against a second opinion that knows who saw what and nothing of how statements name one another.

use std::collections::BTreeSet;

use underlit::digest::Sha256Digest;
use underlit::gates::requirement::Requirement;
use underlit::gates::{Finding, State, approval};
use underlit::ids::PanelId;
use underlit::model::roster::Role;
use underlit::model::snapshot::SignOff;
use underlit::model::statement::Decision::{Approved, Rejected, Withdrawn};
use underlit::model::statement::{Decision, EDITION, Evidence, Fact, Statement, Subject, View};
use underlit::model::supersession::{Coming, WordState, Words, says_no, says_yes, weigh};

use crate::job::{Job, digest, name, record};

/// One thing that is said: the person's own word or an answer taken in, of the facts of today or of other ones.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Act {
    own: bool,
    decision: Decision,
    today: bool,
}

fn acts() -> Vec<Act> {
    let mut all = Vec::new();
    for own in [true, false] {
        for decision in [Approved, Rejected, Withdrawn] {
            all.extend([true, false].map(|today| Act { own, decision, today }));
        }
    }
    all
}

/// Every history of at most so many acts.
fn histories(most: usize) -> Vec<Vec<Act>> {
    let mut all = vec![Vec::new()];
    let mut longest = all.clone();
    for _ in 0..most {
        longest = longest
            .iter()
            .flat_map(|before| acts().into_iter().map(move |act| [before.clone(), vec![act]].concat()))
            .collect();
        all.extend(longest.clone());
    }
    all
}

/// What was said, and which of the others its clone had seen.
#[derive(Clone, Debug)]
struct Said {
    act: Act,
    signoff: SignOff,
    seen: BTreeSet<Sha256Digest>,
}

struct Room {
    today: Statement,
    other: Statement,
}

impl Room {
    fn new(job: &Job) -> Room {
        let today = job.statement(&choice(), Role::Client, "clara", Approved);
        let mut other = today.clone();
        other.facts.insert("panel.voltage_v".into(), Fact::Number(12));
        Room { today, other }
    }

    /// Says it at a clone, naming what the program names; nothing where there is nothing to withdraw.
    fn say(&self, clone: &mut Vec<Said>, act: Act, tag: &str) {
        let signoffs: Vec<SignOff> = clone.iter().map(|s| s.signoff.clone()).collect();
        let words = weigh(&signoffs);
        let (speaker, signer) = (name("clara"), name(if act.own { "clara" } else { "oleg" }));
        let subject = choice();
        let coming = Coming {
            subject: &subject,
            role: Role::Client,
            speaker: &speaker,
            signer: &signer,
            is_evidence: !act.own,
        };
        let earlier = coming.earlier(&signoffs, &words);
        let named: Vec<&(&SignOff, WordState)> =
            earlier.iter().filter(|(s, _)| coming.replaces(&s.statement)).collect();
        let stands = |(s, state): &&&(&SignOff, WordState)| {
            s.statement.decision != Withdrawn && *state == WordState::Stands
        };
        if act.decision == Withdrawn && !named.iter().any(|n| stands(&n)) {
            return;
        }
        let scan = digest("letter");
        let evidence = Evidence {
            person: speaker.clone(),
            how: "by letter".into(),
            scan: record(serde_json::json!({ "file": format!("{scan}.pdf"), "sha256": scan })),
        };
        let supersedes = named.iter().map(|(s, _)| s.digest).collect();
        let nonce = digest(&format!("{tag} {}", clone.len()));
        let statement = Statement {
            decision: act.decision,
            supersedes,
            signer,
            evidence: (!act.own).then_some(evidence),
            edition: (!says_yes(act.decision)).then_some(EDITION),
            ..if act.today { self.today.clone() } else { self.other.clone() }
        };
        let seen = clone.iter().map(|s| s.signoff.digest).collect();
        clone.push(Said { act, signoff: SignOff { digest: nonce, statement, void: None }, seen });
    }

    /// Two clones that part after some acts, go on by themselves, and meet.
    fn play(&self, before: &[Act], here: &[Act], there: &[Act]) -> Vec<Said> {
        let mut common = Vec::new();
        before.iter().for_each(|act| self.say(&mut common, *act, "before"));
        let (mut one, mut two) = (common.clone(), common.clone());
        here.iter().for_each(|act| self.say(&mut one, *act, "here"));
        there.iter().for_each(|act| self.say(&mut two, *act, "there"));
        one.extend(two.into_iter().skip(common.len()));
        one
    }
}

fn choice() -> Subject {
    Subject::panel(View::Choice, &name::<PanelId>("desk"))
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Answer {
    Yes,
    No,
    Open,
}

/// The second opinion. A person's word is what they said last, on every clone that has not heard the others; whoever says
/// no or takes back with their own hand is not outvoted by paper.
fn second_opinion(said: &[Said]) -> Answer {
    let heard = |it: &Said, by: &dyn Fn(&Said) -> bool| {
        said.iter().any(|later| by(later) && later.seen.contains(&it.signoff.digest))
    };
    let own: Vec<&Said> = said.iter().filter(|s| s.act.own && !heard(s, &|l| l.act.own)).collect();
    let paper: Vec<&Said> = said.iter().filter(|s| !s.act.own && !heard(s, &|_| true)).collect();
    let says = |some: &[&Said], decision| some.iter().any(|s| s.act.decision == decision);
    let says_today =
        |some: &[&Said], decision| some.iter().any(|s| s.act.decision == decision && s.act.today);
    if says_today(&own, Rejected) || says_today(&paper, Rejected) {
        return Answer::No;
    }
    let by_hand = says_today(&own, Approved) && !says(&own, Withdrawn);
    let on_paper = says_today(&paper, Approved)
        && !says(&paper, Withdrawn)
        && !says(&own, Withdrawn)
        && !says(&own, Rejected);
    if by_hand || on_paper { Answer::Yes } else { Answer::Open }
}

fn answer(words: &Words, signoffs: &[SignOff], room: &Room) -> Answer {
    let standing = |wanted: fn(Decision) -> bool| {
        signoffs.iter().any(|s| {
            words[&s.digest] == WordState::Stands
                && wanted(s.statement.decision)
                && s.statement.facts == room.today.facts
        })
    };
    match (standing(says_no), standing(says_yes)) {
        (true, _) => Answer::No,
        (false, true) => Answer::Yes,
        (false, false) => Answer::Open,
    }
}

#[test]
fn every_short_history_on_two_clones_is_heard_as_it_was_said() {
    let room = Room::new(&Job::complete());
    let (short, long) = (histories(1), histories(2));
    // Two acts on both sides: `UNDERLIT_TEST_HISTORIES=every`, two minutes.
    let other = if std::env::var_os("UNDERLIT_TEST_HISTORIES").is_some() { &long } else { &short };
    let mut tried = [0; 3];
    for before in &short {
        for here in &long {
            for there in other {
                let said = room.play(before, here, there);
                let mut signoffs: Vec<SignOff> = said.iter().map(|s| s.signoff.clone()).collect();
                let words = weigh(&signoffs);
                let found = answer(&words, &signoffs, &room);
                assert_eq!(found, second_opinion(&said), "{before:?} | {here:?} | {there:?}: {words:#?}");
                signoffs.reverse();
                assert_eq!(
                    weigh(&signoffs),
                    words,
                    "the order of files decides: {before:?} {here:?} {there:?}"
                );
                tried[found as usize] += 1;
            }
        }
    }
    assert!(tried.iter().all(|n| *n > 1000), "{tried:?}");
}

#[test]
fn the_gate_says_the_same_of_every_short_history() {
    let mut job = Job::complete();
    job.forget(&choice());
    let room = Room::new(&job);
    let rest = job.project.signoffs.clone();
    let one = histories(1);
    let parted = one.iter().flat_map(|a| one.iter().map(move |b| (Vec::new(), a.clone(), b.clone())));
    let straight = histories(3).into_iter().map(|h| (h, Vec::new(), Vec::new()));
    for (before, here, there) in straight.chain(parted) {
        let said = room.play(&before, &here, &there);
        job.project.signoffs = rest.iter().cloned().chain(said.iter().map(|s| s.signoff.clone())).collect();
        let found = of_the_gate(&job);
        let state = match second_opinion(&said) {
            Answer::Yes => found.state == State::Met,
            Answer::No => found.state == State::Rejected,
            Answer::Open => matches!(found.state, State::Missing | State::Stale),
        };
        assert!(state, "{before:?} | {here:?} | {there:?}: {found:#?}");
    }
}

fn of_the_gate(job: &Job) -> Finding {
    const ASKED: Requirement = Requirement {
        name: "asked",
        gate: underlit::model::stage::Stage::Rendering,
        since: 1,
        reason: "",
        check: |_| Vec::new(),
    };
    let case = job.case();
    let mut found = approval::findings(&case, &ASKED, &choice());
    assert_eq!(found.len(), 1);
    found.remove(0)
}

/// Statements of the first edition: an approval did not name the withdrawal before it, and evidence after it counted.
#[test]
fn what_was_said_before_this_edition_stands_but_for_evidence_over_an_own_withdrawal() {
    let mut job = Job::complete();
    job.forget(&choice());
    let rest = job.project.signoffs.clone();
    let old = |job: &mut Job, statement: Statement| job.keep(Statement { edition: None, ..statement });
    let first = job.say(&choice(), Role::Client, "clara", Approved);
    let withdrawal = job.statement(&choice(), Role::Client, "clara", Withdrawn);
    old(&mut job, Statement { supersedes: vec![first], ..withdrawal.clone() });
    let again = job.say(&choice(), Role::Client, "clara", Approved);
    let found = of_the_gate(&job);
    assert_eq!((found.state, found.signoffs), (State::Met, vec![again]));
    // Her own later approval is of other facts, and paper of the present ones counted beside it.
    job.panel("desk", |p| p.voltage_v = Some(12));
    job.take_in(&[], &choice(), ("oleg", "clara"), Approved);
    assert_eq!(of_the_gate(&job).state, State::Met);

    // Evidence over a withdrawal counts no more; a move that was made on it is not wrong for that.
    job.project.signoffs = rest.clone();
    let first = job.say(&choice(), Role::Client, "clara", Approved);
    old(&mut job, Statement { supersedes: vec![first], ..withdrawal.clone() });
    job.take_in(&[], &choice(), ("oleg", "clara"), Approved);
    let found = of_the_gate(&job);
    assert_eq!((found.state, found.since), (State::Missing, 2), "{found:#?}");
    // A withdrawal of today binds every later move.
    job.project.signoffs = rest;
    let first = job.say(&choice(), Role::Client, "clara", Approved);
    job.keep(Statement { supersedes: vec![first], edition: Some(EDITION), ..withdrawal });
    job.take_in(&[], &choice(), ("oleg", "clara"), Approved);
    let found = of_the_gate(&job);
    assert_eq!((found.state, found.since), (State::Missing, 1), "{found:#?}");
    assert!(found.what.contains("withdrew it with their own signature"), "{}", found.what);
}

/// Each condition by itself: a statement that names another replaces it only as the same person's word, in the same role,
/// about the same.
#[test]
fn what_is_somebody_elses_or_about_something_else_is_not_replaced() {
    let job = Job::complete();
    let own = job.statement(&choice(), Role::Client, "clara", Approved);
    let scan = digest("letter");
    let taken_in = |by: &str| Statement {
        signer: name(by),
        evidence: Some(Evidence {
            person: name("clara"),
            how: "by letter".into(),
            scan: record(serde_json::json!({ "file": format!("{scan}.pdf"), "sha256": scan })),
        }),
        ..own.clone()
    };
    let said = |tag: &str, statement: Statement| SignOff { digest: digest(tag), statement, void: None };
    let replaces = |later: Statement, earlier: &Statement| {
        let later = Statement { supersedes: vec![digest("earlier")], ..later };
        let words = weigh(&[said("earlier", earlier.clone()), said("later", later)]);
        matches!(words[&digest("earlier")], WordState::Replaced(_))
    };
    assert!(replaces(own.clone(), &own), "one's own word");
    assert!(replaces(own.clone(), &taken_in("oleg")), "one's own word replaces what was taken in");
    assert!(replaces(taken_in("oleg"), &taken_in("oleg")), "what the same person took in");

    assert!(!replaces(Statement { role: Role::Engineer, ..own.clone() }, &own), "in another role");
    let about = Subject::panel(View::Choice, &name::<PanelId>("counter"));
    assert!(!replaces(Statement { about, ..own.clone() }, &own), "about something else");
    assert!(!replaces(Statement { signer: name("oleg"), ..own.clone() }, &own), "somebody else's");
    assert!(!replaces(taken_in("oleg"), &own), "what was taken in never replaces one's own word");
    assert!(!replaces(taken_in("runa"), &taken_in("oleg")), "what somebody else took in");
}
