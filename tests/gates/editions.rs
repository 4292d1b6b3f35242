//! Which of today's requirements a move of before is held to.

use underlit::gates::editions::asked_since;
use underlit::gates::requirement::Requirement;
use underlit::gates::requirements::ALL;
use underlit::gates::{Finding, State};
use underlit::model::book::FORMAT;
use underlit::model::stage::Stage;
use underlit::model::statement::Fact;
use underlit::model::view::Change;

fn requirement(since: u32) -> Requirement {
    Requirement {
        name: "made-up",
        gate: Stage::Released,
        since,
        reason: "a requirement of this test",
        check: |_| Vec::new(),
    }
}

fn stale(changes: &[(&str, Option<Fact>, Option<Fact>)]) -> Finding {
    let change = |(fact, signed, now): &(&str, Option<Fact>, Option<Fact>)| Change {
        fact: (*fact).to_owned(),
        signed: signed.clone(),
        now: now.clone(),
    };
    Finding {
        state: State::Stale,
        changes: changes.iter().map(change).collect(),
        ..requirement(1).met("the release")
    }
}

#[test]
fn a_requirement_of_a_later_format_binds_no_move_of_an_earlier_one() {
    let missing = |since| Finding { state: State::Missing, ..requirement(since).met("not there") };
    for (since, format, later) in [(1, 1, false), (2, 1, true), (2, 2, false), (2, 3, false), (3, 2, true)] {
        assert_eq!(
            asked_since(&missing(since), format),
            later,
            "since {since}, in a book of format {format}"
        );
    }
    // Whatever is asked at all is asked of the books that this program makes.
    for requirement in ALL {
        assert!((1..=FORMAT).contains(&requirement.since), "{}", requirement.name);
    }
}

#[test]
fn a_release_sealed_in_another_form_of_the_pack_is_held_to_every_other_fact() {
    let number = |n| Some(Fact::Number(n));
    let text = |t: &str| Some(Fact::Text(t.into()));
    let form = ("pack.format", number(1), number(2));
    let whole = ("pack.sha256", text("aa"), text("bb"));
    let part = ("pack.parts.bill.sha256", None, text("cc"));
    let fact = ("swatches.alba.slab_thickness_mm", number(20_000), number(30_000));
    assert!(asked_since(&stale(&[form.clone(), whole.clone(), part.clone()]), 1));
    // Of before there was a form.
    assert!(asked_since(&stale(&[("pack.format", None, number(2)), whole.clone(), part.clone()]), 1));
    // What is worked out is worked out otherwise in another form; what somebody recorded is not.
    let drop = ("panels.bar.plan.drop_mv", number(500), number(540));
    let fuse = ("circuits.driver-1.output-1.bar.protection", None, text("fuse"));
    let recorded = ("panels.bar.feed_length_m", number(4_000_000), number(5_000_000));
    assert!(asked_since(&stale(&[form.clone(), whole.clone(), drop.clone(), fuse]), 1));
    assert!(!asked_since(&stale(&[form.clone(), whole.clone(), drop.clone(), recorded]), 1));
    assert!(!asked_since(&stale(&[drop]), 1));
    // In the same form the digests are compared.
    assert!(!asked_since(&stale(&[whole.clone(), part.clone()]), 1));
    assert!(!asked_since(&stale(&[form, whole, part, fact.clone()]), 1));
    assert!(!asked_since(&stale(&[fact]), 1));
    assert!(!asked_since(&stale(&[]), 1));
}
