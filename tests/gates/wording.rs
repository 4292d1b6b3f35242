//! Editions of sealed sentences: better words leave a signature standing, other facts do not; and the cautions of a
//! job of many panels fit into a sign-off.

use underlit::gates::sentences::{sealed, sentence};
use underlit::gates::{State, facts};
use underlit::ids::PanelId;
use underlit::job::wording::{WORDING, Wording};
use underlit::making::mount::Mount;
use underlit::model::kind::Kind;
use underlit::model::roster::Role;
use underlit::model::statement::{Decision, Fact, Facts, Subject};

use crate::job::{Job, cautions, name};

/// A whole job whose engineer acknowledged the cautions with these facts.
fn acknowledged(alter: impl FnOnce(&Job) -> Facts) -> Job {
    let mut job = Job::complete();
    let facts = alter(&job);
    job.forget(&cautions());
    job.say(&cautions(), Role::Engineer, "mara", Decision::Approved);
    let said = job.project.signoffs.iter_mut().find(|s| s.statement.about == cautions());
    said.expect("it was said").statement.facts = facts;
    job
}

fn in_words(wording: Wording) -> Job {
    acknowledged(|job| sealed(&job.case(), &cautions(), wording))
}

fn state(job: &Job) -> State {
    job.findings("cautions-seen")[0].state
}

#[test]
fn every_edition_stands_while_its_facts_do() {
    for wording in Wording::ALL {
        let mut job = in_words(*wording);
        assert_eq!(state(&job), State::Met, "edition {wording}");
        // The stone is thicker: another mass stands in the sentence of every edition.
        job.swatch("honey", |s| s.slab.thickness_mm.0 = 40.0);
        let found = &job.findings("cautions-seen")[0];
        assert_eq!(found.state, State::Stale, "edition {wording}");
        // What is shown as changed is told in the words that were signed.
        let facts: Vec<&str> = found.changes.iter().map(|c| c.fact.as_str()).collect();
        match wording {
            Wording::First => assert_eq!(facts, ["sentence"]),
            Wording::Second | Wording::Third | Wording::Fourth | Wording::Fifth => {
                assert_eq!(facts, ["sentence.bar", "sentence.desk"])
            }
        }
        job.swatch("honey", |s| s.slab.thickness_mm.0 = 20.0);
        job.panel("bar", |p| p.mount = Some(Mount::Fixed));
        assert_eq!(state(&job), State::Stale, "edition {wording}: another caution");
    }
}

#[test]
fn the_present_edition_is_what_is_shown_and_signed() {
    let job = Job::complete();
    let case = job.case();
    let shown = sentence(&case, &cautions()).expect("a job has cautions");
    let facts = facts::of(&case, &cautions());
    assert_eq!(Wording::of(&facts), Wording::PRESENT);
    let mut parts = 0;
    for (fact, text) in &facts {
        if fact != WORDING {
            assert!(shown.contains(&text.to_string()), "{fact} was not shown");
            parts += text.to_string().len();
        }
    }
    // Nothing is shown that is not sealed: the parts and the line ends between them are the whole.
    assert_eq!(parts + facts.len() - 2, shown.len());
}

#[test]
fn other_words_than_those_of_its_edition_do_not_count() {
    let other = acknowledged(|job| {
        let mut facts = sealed(&job.case(), &cautions(), Wording::PRESENT);
        facts.insert("sentence".into(), Fact::Text("Nothing was read.".into()));
        facts
    });
    assert_eq!(state(&other), State::Stale);
    // An edition that is not known yet, though its words are the same.
    let later = acknowledged(|job| {
        let mut facts = sealed(&job.case(), &cautions(), Wording::PRESENT);
        facts.insert(WORDING.into(), Fact::Text("99".into()));
        facts
    });
    assert_eq!(state(&later), State::Stale);
    // The words of one edition under the name of another.
    let mixed = acknowledged(|job| {
        let mut facts = sealed(&job.case(), &cautions(), Wording::First);
        facts.insert(WORDING.into(), Fact::Text("2".into()));
        facts
    });
    assert_eq!(state(&mixed), State::Stale);
}

/// Class 2 is the NEC's word: the others' sentences do without, and what was signed before stands in its own words.
#[test]
fn class_2_is_named_only_where_the_sites_code_knows_it() {
    use underlit::power::vocabulary::CodeRegion;
    for (region, named) in [
        (None, true),
        (Some(CodeRegion::Nec), true),
        (Some(CodeRegion::Iec), false),
        (Some(CodeRegion::Other), false),
    ] {
        let mut job = Job::complete();
        job.project.project.site.code_region = region;
        let shown = sentence(&job.case(), &cautions()).expect("a job has cautions");
        assert_eq!(shown.contains("Class 2"), named, "{region:?}: {shown}");
        assert!(shown.contains("do not join the outputs"), "{shown}");
        for wording in [Wording::Third, Wording::Fourth] {
            let facts = sealed(&job.case(), &cautions(), wording);
            assert!(facts["sentence"].to_string().contains("Class 2"), "{region:?}, edition {wording}");
        }
        // The pack seals the key alone, so that no release goes out of date with the words.
        let data = underlit::job::pack::of_job(&job.case(), job.case().job());
        let sealed = serde_json::to_value(&data.cautions[1]).expect("a caution is JSON");
        assert_eq!(sealed, serde_json::json!({ "key": "low-voltage" }));
    }
}

#[test]
fn a_hundred_panels_fit_into_a_sign_off() {
    let mut job = Job::complete();
    let (bar, drawing) = (name::<PanelId>("bar"), job.project.drawings[&name::<PanelId>("bar")].clone());
    for n in 0..98 {
        let id: PanelId = name(&format!("bar-{n}"));
        let panel = underlit::model::panel::Panel { id: id.clone(), ..job.project.panels[&bar].clone() };
        job.project.panels.insert(id.clone(), panel);
        job.project.drawings.insert(id, drawing.clone());
    }
    for subject in [cautions(), Subject::release()] {
        let statement = job.statement(&subject, Role::Engineer, "mara", Decision::Approved);
        let bytes = underlit::store::write::to_bytes(&statement).expect("a statement is JSON");
        let path = "projects/quay-hotel/signoffs/x.json";
        let checked = underlit::store::read::check_bytes(path, Kind::SignOff, &bytes);
        assert!(checked.is_ok(), "{subject}: {:?}", checked.err().map(|f| f.len()));
    }
    // In the first edition they would not.
    let longest = sealed(&job.case(), &cautions(), Wording::First)["sentence"].to_string().chars().count();
    assert!(longest > 20_000, "{longest} characters");
}
