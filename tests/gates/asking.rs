//! Nothing is asked of a client after what it rests on could still be changed for free.

use std::collections::BTreeMap;

use underlit::gates::{evaluate, facts};
use underlit::model::project::OrderedAhead;
use underlit::model::roster::Role;
use underlit::model::rules::Ask;
use underlit::model::site_facts::BasisKind;
use underlit::model::stage::Stage;
use underlit::model::statement::{Subject, Topic};
use underlit::words::Face;

use crate::job::{Job, name, rectangle};

/// The stage from which a change costs something, what it changes, and the change.
type Priced = (Stage, &'static str, fn(&mut Job));

/// Changes of both panels' facts, each with the stage from which such a change costs something: what is chosen costs from
/// the drawing on, what is drawn costs from the release on, and what left the bench is built.
const CHANGES: &[Priced] = &[
    (Stage::Selection, "why there is no test panel", |job| both(job, |p| p.no_test_panel = None)),
    (Stage::Rendering, "lit edges", |job| both(job, |p| p.lit_edges = vec![1])),
    (Stage::Rendering, "mount", |job| both(job, |p| p.mount = None)),
    (Stage::Rendering, "face", |job| {
        both(job, |p| {
            p.face = if p.face == Some(Face::Clear) { Some(Face::Diffused) } else { Some(Face::Clear) }
        });
    }),
    (Stage::Rendering, "colour temperature", |job| {
        both(job, |p| p.light.iter_mut().for_each(|light| light.cct_k = Some(3310)));
    }),
    (Stage::Released, "outline", |job| {
        for panel in ["bar", "desk"] {
            job.outline(panel, &rectangle(777.0, 333.0));
        }
    }),
    (Stage::Released, "seams", |job| both(job, |p| p.seams.clear())),
    (Stage::Rendering, "light in the room", |job| {
        let lux = job.project.project.site.ambient_lx;
        job.project.project.site.ambient_lx = lux.is_none().then_some(underlit::units::Lux(250.0));
    }),
    (Stage::Released, "mains voltage", |job| job.project.project.site.mains_v = None),
    (Stage::Released, "basis", |job| both(job, |p| p.basis = None)),
    (Stage::Released, "slab", |job| {
        both(job, |p| p.slab.iter_mut().for_each(|slab| slab.lot = "another".into()))
    }),
    (Stage::Released, "orders", |job| {
        let dates = job.project.project.dates.as_mut().expect("it has dates of its own");
        let again = dates.ordered_ahead[0].clone();
        dates.ordered_ahead.push(OrderedAhead { what: "two drivers".into(), ..again });
    }),
    (Stage::HandedOver, "what was looked at", |job| {
        job.project.installation.iter_mut().for_each(|i| i.acceptance = None);
    }),
];

fn both(job: &mut Job, change: impl Fn(&mut underlit::model::panel::Panel)) {
    for panel in ["bar", "desk"] {
        job.panel(panel, &change);
    }
}

/// A job of which everything is asked of its client that a client can be asked but what the bench brings to light.
fn asked_of_everything() -> Job {
    let mut job = Job::complete();
    job.project.trials.clear();
    job.project.project.site.electrical_code = None;
    both(&mut job, |p| {
        p.basis.iter_mut().for_each(|basis| basis.kind = BasisKind::Drawing);
        p.slab.iter_mut().for_each(|slab| (slab.photo, slab.trial) = (None, None));
    });
    job
}

/// What the client is asked on a job, each with the gate that asks it.
fn asked(job: &Job) -> BTreeMap<Subject, Stage> {
    let findings = evaluate(&job.case(), Stage::HandedOver).findings.into_iter();
    let of_client = findings.filter_map(|f| {
        let (subject, role) = f.asked?;
        (role == Role::Client).then_some((subject, f.gate))
    });
    of_client.collect()
}

/// The questions that come later than the last fact could be changed for free that they rest on: that makes them be asked,
/// or that they say.
fn late(job: &Job) -> Vec<String> {
    let changed: Vec<_> = CHANGES
        .iter()
        .map(|(stage, what, change)| {
            let mut other = job.clone();
            change(&mut other);
            let asked = asked(&other);
            (*stage, *what, other, asked)
        })
        .collect();
    let mut late = Vec::new();
    for (subject, gate) in asked(job) {
        let now = facts::of(&job.case(), &subject);
        let rests_on = changed.iter().filter(|(_, _, other, asked)| {
            !asked.contains_key(&subject) || facts::of(&other.case(), &subject) != now
        });
        let last = rests_on.map(|(stage, what, ..)| (*stage, *what)).max();
        let Some((settled, what)) = last else {
            panic!("{subject} rests on none of the facts that were changed")
        };
        if gate > settled {
            late.push(format!("{subject} rests on {what} at last and is asked before {gate}"));
        }
    }
    late
}

#[test]
fn nothing_is_asked_of_a_client_after_it_could_be_changed_for_free() {
    let job = asked_of_everything();
    // Where nobody knows how light the room is, nobody is asked whether the stone is too dim beside it.
    let mut in_the_dark = job.clone();
    in_the_dark.project.project.site.ambient_lx = None;
    let all = asked(&job).into_iter().chain(asked(&in_the_dark));
    let topics: Vec<Topic> = all.filter_map(|(subject, _)| subject.topic).collect();
    for topic in Topic::ALL {
        let of_others = [Topic::Cautions, Topic::NotesMet, Topic::OutsideLimits];
        assert_eq!(topics.contains(topic), !of_others.contains(topic), "{topic}");
    }
    assert_eq!(late(&job), Vec::<String>::new());
    assert_eq!(late(&in_the_dark), Vec::<String>::new());
}

/// Books whose rules do not ask it go on as they did, and the test above would have told.
#[test]
fn rules_of_before_ask_uneven_light_before_the_release() {
    let mut job = asked_of_everything();
    job.shop.rules.asks.retain(|ask| *ask != Ask::BeforeChoice);
    assert_eq!(
        late(&job),
        [
            "the acknowledgement `uneven-light` for panel bar rests on lit edges at last and is asked before released"
        ]
    );
    job.forget(&Subject::topic(
        underlit::model::statement::View::Acknowledgement,
        Topic::UnevenLight,
        Some(&name("bar")),
    ));
    let missing = |into| evaluate(&job.case(), into).missing().any(|f| f.requirement.starts_with("uneven"));
    assert!(!missing(Stage::Rendering) && missing(Stage::Released));
}
