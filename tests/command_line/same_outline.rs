//! A small change of an outline, by the rules of a shop that says how small: the engineer alone is asked, the client's
//! signature counts on, and nobody can make it count for an outline that was never signed.

use underlit::digest::Sha256Digest;

use crate::stages::{self, PROJECT, curved};
use crate::workshop::{Desk, Place};

/// A released job of a shop that calls half a millimetre the same.
fn in_such_a_shop(place: &Place) -> Desk {
    let book = place.copy(stages::released(), "mara");
    book.edit("rules.json", "\"tried_within_k\"", "\"same_within_mm\": 0.5,\n  \"tried_within_k\"");
    book.run("roster seal").done();
    book
}

fn change(book: &Desk, place: &Place, height: &str) {
    let outline = place.file("new.json", curved(600).replace("600]", &format!("{height}]")));
    book.run(&format!("panel change quay-desk front --outline {outline}")).done();
    book.run("draw quay-desk front").done();
}

#[test]
fn the_engineer_alone_is_asked_for_a_small_change() {
    let place = Place::new();
    let book = in_such_a_shop(&place);
    let first = book.text(&format!("{PROJECT}/panels/front.outline.json"));
    change(&book, &place, "600.3");
    let kept = format!("signed-{}.outline.json", &Sha256Digest::of(first.as_bytes()).hex()[..24]);
    assert_eq!(book.text(&format!("{PROJECT}/panels/{kept}")), first, "the outline that was signed is kept");
    book.run("check").done();
    let told = book.run("status quay-desk").done().stdout;
    assert!(told.contains("Imke Voss (client) approved the rendering for panel front, and its outline has moved since by 0.3"), "{told}");
    // The client is asked nothing; the engineer is.
    assert!(!book.run_as("imke", "next").done().stdout.contains("rendering"));
    book.run_as("tom", "next").done().says(&["rendering"]);
    book.run_as("tom", "sign quay-desk rendering --panel front --as engineer --yes").done();
    book.run("board --released").done().never_says(&["quay-desk"]);
    book.run_as("tom", "sign quay-desk release --yes").done();
    book.run("board --released").done().says(&["quay-desk"]);
    book.run("status quay-desk").done().never_says(&["stale"]);
    book.run("verify").done();
    // Twice as far from what the client signed, though no farther from the last: everybody is asked.
    change(&book, &place, "600.6");
    book.run_as("tom", "sign quay-desk rendering --panel front --as engineer --yes").done();
    book.run("status quay-desk")
        .done()
        .says(&["Imke Voss (client) approved the rendering for panel front, but it has changed since"]);
    // Signed anew, the first outline is no longer needed, and goes with the next change.
    book.run_as("imke", "sign quay-desk rendering --panel front --yes").done();
    change(&book, &place, "600.7");
    assert!(!book.path(&format!("{PROJECT}/panels/{kept}")).exists(), "{kept} is named by no approval");
    book.run("check").done();
}

#[test]
fn no_other_outline_can_be_put_in_the_signed_ones_place() {
    let place = Place::new();
    let book = in_such_a_shop(&place);
    let first = book.text(&format!("{PROJECT}/panels/front.outline.json"));
    change(&book, &place, "640");
    book.run_as("tom", "sign quay-desk rendering --panel front --as engineer --yes").done();
    let stale = "Imke Voss (client) approved the rendering for panel front, but it has changed since";
    book.run("status quay-desk").done().says(&[stale]);
    // An outline near the present one, under the name of the signed one: the record's digest refuses it.
    let near = book.text(&format!("{PROJECT}/panels/front.outline.json"));
    let signed = Sha256Digest::of(first.as_bytes()).hex();
    let kept = format!("{PROJECT}/panels/signed-{}.outline.json", &signed[..24]);
    book.write(&kept, &near);
    book.run("check").code(3).says(&[&kept]);
    book.run("status quay-desk").says(&[stale]);
    // And with its own digest in the record it is one that nobody signed.
    book.edit(&format!("{PROJECT}/panels/front.json"), &signed, &Sha256Digest::of(near.as_bytes()).hex());
    book.run("check").done();
    book.run("status quay-desk").done().says(&[stale]);
}
