//! Where a project stands after moves that were made on several machines, by hand, or out of turn.

use std::collections::{BTreeMap, BTreeSet};

use proptest::prelude::*;
use underlit::digest::Sha256Digest;
use underlit::model::moves::{Move, standing};
use underlit::model::stage::Stage::{self, Built, Intake, Released, Rendering, Sampling, Selection};

use crate::job::{digest, step};

/// Moves under the digests that name them.
#[derive(Debug, Default)]
struct Moves(BTreeMap<Sha256Digest, Move>);

impl Moves {
    /// Adds a step after another; the tag tells apart what two people did alike.
    fn add(&mut self, previous: Option<Sha256Digest>, from: Stage, to: Stage, tag: &str) -> Sha256Digest {
        let (digest, made) = step(from, to, previous, tag);
        self.0.insert(digest, made);
        digest
    }

    /// One step after another from the beginning up to a stage; gives the last.
    fn up_to(&mut self, stage: Stage) -> Option<Sha256Digest> {
        let (mut last, mut at) = (None, Intake);
        while at < stage {
            let next = at.next().expect("there is a stage after it");
            last = Some(self.add(last, at, next, "main"));
            at = next;
        }
        last
    }

    fn stage(&self) -> Stage {
        standing(&self.0).stage
    }
}

#[test]
fn without_moves_a_project_is_at_its_beginning() {
    let nothing = standing(&BTreeMap::new());
    assert_eq!((nothing.stage, nothing.last, nothing.path.len()), (Intake, None, 0));
}

#[test]
fn moves_in_a_row_lead_on() {
    let mut moves = Moves::default();
    let last = moves.up_to(Released);
    let stands = standing(&moves.0);
    assert_eq!((stands.stage, stands.last), (Released, last));
    assert_eq!(stands.path.len(), 4);
    assert!(stands.overtaken.is_empty());
}

#[test]
fn a_step_back_leads_back_and_on_again() {
    let mut moves = Moves::default();
    let released = moves.up_to(Released);
    let back = moves.add(released, Released, Selection, "back");
    assert_eq!(moves.stage(), Selection);
    let again = moves.add(Some(back), Selection, Rendering, "again");
    let stands = standing(&moves.0);
    assert_eq!((stands.stage, stands.last), (Rendering, Some(again)));
    assert!(stands.overtaken.is_empty(), "what a step back left behind still lies on the way");
}

#[test]
fn a_step_back_beats_a_step_on_from_the_same_place_however_far_it_went() {
    let mut moves = Moves::default();
    let rendering = moves.up_to(Rendering);
    let released = moves.add(rendering, Rendering, Released, "one");
    let built = moves.add(Some(released), Released, Built, "one");
    assert_eq!(moves.stage(), Built);
    let back = moves.add(rendering, Rendering, Sampling, "two");
    let stands = standing(&moves.0);
    assert_eq!((stands.stage, stands.last), (Sampling, Some(back)));
    let mut overtaken = vec![released, built];
    overtaken.sort();
    assert_eq!(stands.overtaken, overtaken);
}

#[test]
fn of_two_steps_back_the_further_one_holds() {
    let mut moves = Moves::default();
    let released = moves.up_to(Released);
    let near = moves.add(released, Released, Rendering, "near");
    moves.add(Some(near), Rendering, Released, "again");
    assert_eq!(moves.stage(), Released);
    moves.add(released, Released, Sampling, "far");
    assert_eq!(moves.stage(), Sampling);
}

#[test]
fn equal_steps_are_one_and_what_follows_any_follows_all() {
    for follows_first in [true, false] {
        let mut moves = Moves::default();
        let sampling = moves.up_to(Sampling);
        let one = moves.add(sampling, Sampling, Selection, "one");
        let two = moves.add(sampling, Sampling, Selection, "two");
        assert_eq!(moves.stage(), Selection);
        let after = if follows_first { one } else { two };
        let next = moves.add(Some(after), Selection, Rendering, "next");
        let stands = standing(&moves.0);
        assert_eq!((stands.stage, stands.last), (Rendering, Some(next)));
        assert!(stands.overtaken.is_empty(), "an equal step is not overtaken");
    }
}

#[test]
fn of_several_steps_back_a_step_on_has_to_name_each() {
    let mut moves = Moves::default();
    let released = moves.up_to(Released);
    let one = moves.add(released, Released, Rendering, "the client");
    let two = moves.add(released, Released, Rendering, "the engineer");
    let stands = standing(&moves.0);
    assert_eq!(stands.stage, Rendering);
    assert_eq!(stands.unanswered.len(), 2);
    // Whoever saw one reason answered one.
    let early = moves.add(Some(one), Rendering, Released, "saw one");
    let stands = standing(&moves.0);
    assert_eq!((stands.stage, &stands.overtaken), (Rendering, &vec![early]));
    // A step on that names both answers both, and more of its kind are one with it.
    for tag in ["saw both", "saw both as well"] {
        let (digest, made) = step(Rendering, Released, Some(two), tag);
        moves.0.insert(digest, Move { also_previous: vec![one], ..made });
        let stands = standing(&moves.0);
        assert_eq!((stands.stage, stands.unanswered.len()), (Released, 0));
        assert!(!stands.overtaken.contains(&digest));
    }
}

#[test]
fn a_reason_that_nobody_saw_stays_unanswered_over_a_further_step_back() {
    let mut moves = Moves::default();
    let released = moves.up_to(Released);
    let near = moves.add(released, Released, Rendering, "unseen");
    let far = moves.add(released, Released, Selection, "seen");
    let further = moves.add(Some(far), Selection, Sampling, "seen too");
    let stands = standing(&moves.0);
    assert_eq!(stands.stage, Sampling);
    assert_eq!(BTreeSet::from_iter(stands.unanswered), BTreeSet::from([near, further]));
    moves.add(Some(further), Sampling, Selection, "on");
    assert_eq!(moves.stage(), Sampling);
    let (digest, made) = step(Sampling, Selection, Some(further), "on, with both");
    moves.0.insert(digest, Move { also_previous: vec![near], ..made });
    assert_eq!(moves.stage(), Selection);
}

#[test]
fn a_step_back_after_one_of_two_equal_steps_holds_the_other_too() {
    for follows_first in [true, false] {
        let mut moves = Moves::default();
        let rendering = moves.up_to(Rendering);
        let one = moves.add(rendering, Rendering, Released, "one");
        let two = moves.add(rendering, Rendering, Released, "two");
        let (held, built) = if follows_first { (one, two) } else { (two, one) };
        moves.add(Some(built), Released, Built, "build");
        moves.add(Some(held), Released, Rendering, "hold");
        assert_eq!(moves.stage(), Rendering);
    }
}

#[test]
fn a_gap_in_the_chain_leads_nowhere() {
    let mut moves = Moves::default();
    let last = moves.up_to(Selection);
    let hanging = moves.add(Some(digest("nothing of that name")), Selection, Rendering, "hand");
    let stands = standing(&moves.0);
    assert_eq!((stands.stage, stands.last), (Selection, last));
    assert_eq!(stands.overtaken, [hanging]);
}

#[test]
fn a_first_move_starts_at_the_beginning() {
    let mut moves = Moves::default();
    moves.add(None, Rendering, Released, "hand");
    assert_eq!(moves.stage(), Intake);
    moves.add(None, Released, Rendering, "hand");
    assert_eq!(moves.stage(), Intake);
}

#[test]
fn a_move_must_leave_the_stage_that_was_reached() {
    let mut moves = Moves::default();
    let sampling = moves.up_to(Sampling);
    moves.add(sampling, Rendering, Released, "hand");
    assert_eq!(moves.stage(), Sampling);
}

#[test]
fn nobody_skips_a_stage_or_goes_back_without_a_reason() {
    for (from, to) in [(Sampling, Rendering), (Sampling, Released), (Sampling, Sampling)] {
        let mut moves = Moves::default();
        let last = moves.up_to(from);
        moves.add(last, from, to, "hand");
        assert_eq!(moves.stage(), from, "from {from} to {to}");
    }
    for reason in [None, Some(String::new()), Some(" \n".to_owned())] {
        let mut moves = Moves::default();
        let last = moves.up_to(Released);
        let (_, back) = step(Released, Sampling, last, "hand");
        moves.0.insert(digest("back"), Move { reason, ..back });
        assert_eq!(moves.stage(), Released);
    }
}

#[test]
fn moves_that_go_round_in_a_circle_come_to_an_end() {
    let (_, to) = step(Intake, Sampling, Some(digest("b")), "a");
    let (_, back) = step(Sampling, Intake, Some(digest("a")), "b");
    let mut moves = BTreeMap::from([(digest("a"), to.clone()), (digest("b"), back)]);
    assert_eq!(standing(&moves).stage, Intake);
    moves.insert(digest("first"), Move { previous: None, ..to });
    let (_, back) = step(Sampling, Intake, Some(digest("first")), "c");
    moves.insert(digest("b"), back);
    assert_eq!(standing(&moves).stage, Sampling);
}

/// Any moves at all: each after one made before or after none, from any stage to any.
fn any_moves() -> impl Strategy<Value = Moves> {
    let one = (0..8usize, 0..Stage::ALL.len(), 0..Stage::ALL.len(), 0..3u8);
    proptest::collection::vec(one, 0..24).prop_map(|steps| {
        let mut moves = Moves::default();
        let mut made = vec![None];
        for (after, from, to, tag) in steps {
            let previous = made[made.len() - 1 - after % made.len()];
            // Mostly from where the one before led, so that chains grow long.
            let reached = previous.map_or(Intake, |p| moves.0[&p].to);
            let from = if tag == 0 { Stage::ALL[from] } else { reached };
            let to = if tag < 2 { Stage::ALL[to] } else { from.next().unwrap_or(from) };
            made.push(Some(moves.add(previous, from, to, &tag.to_string())));
        }
        moves
    })
}

proptest! {
    /// Two machines that hold the same moves agree, and each move on the way is a possible one after the last.
    #[test]
    fn the_way_is_a_chain_of_possible_steps(moves in any_moves()) {
        let stands = standing(&moves.0);
        let mut at = Intake;
        for digest in &stands.path {
            let made = &moves.0[digest];
            prop_assert!(made.is_possible());
            prop_assert_eq!(made.from, at);
            at = made.to;
        }
        prop_assert_eq!(at, stands.stage);
        prop_assert_eq!(stands.path.last().copied(), stands.last);
        for digest in &stands.path {
            prop_assert!(!stands.overtaken.contains(digest));
        }
    }

    /// A hold beats a release: a step back from where a project stands, or stood on its way, is never outrun.
    #[test]
    fn a_new_step_back_always_holds(moves in any_moves(), back in 0..Stage::ALL.len(), place in 0..24usize) {
        let mut moves = moves;
        if moves.stage() == Intake {
            moves.up_to(Released);
        }
        let stands = standing(&moves.0);
        let place = place % stands.path.len();
        let after = stands.path[place];
        let from = moves.0[&after].to;
        prop_assume!(from > Intake);
        let to = Stage::ALL[back % Stage::ALL.iter().position(|s| *s == from).expect("it is a stage")];
        // Where somebody already went back from here, and as far, the two are one or the other holds.
        let already = |m: &Move| m.is_reopen() && m.to <= to;
        prop_assume!(!stands.path.get(place + 1).is_some_and(|next| already(&moves.0[next])));
        moves.add(Some(after), from, to, "the new step back");
        prop_assert_eq!(moves.stage(), to);
    }
}
