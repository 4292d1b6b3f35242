//! A book whose settings say inches speaks inches: every length that a person reads, in every verb that shows one.

use crate::stages;
use crate::workshop::Place;

/// Millimetres that a line may hold all the same.
const NAMED_IN_MM: [(&str, &str); 3] = [
    ("mm²", "the name of a cable's size in its standard"),
    ("Movement: ", "a caution in words that people signed, which are never reworded"),
    ("in all. ", "the seams' acknowledgement, in words that people signed"),
];

#[test]
fn every_reading_verb_of_an_inch_book_speaks_inches() {
    let place = Place::new();
    let book = place.copy(stages::chosen(), "mara");
    book.edit("book.json", r#""units": "mm""#, r#""units": "in""#);
    book.run("roster seal").done();
    let mut heard = 0;
    let mut inches = |line: &str| {
        let ran = book.run(line);
        for said in ran.stdout.lines().chain(ran.stderr.lines()) {
            let named = NAMED_IN_MM.iter().any(|(words, _)| said.contains(words));
            assert!(named || !said.contains(" mm"), "{line} says millimetres: {said}");
            let metres = said.split(' ').any(|word| word == "m");
            assert!(!metres || said.contains(" ft"), "{line} says metres alone: {said}");
            heard += usize::from(said.contains(" in,") || said.contains(" in ") || said.ends_with(" in"));
        }
    };
    inches("status quay-desk");
    inches("plan quay-desk front --feed-length 20ft --driver-at remote --driver-place dry --show");
    inches("plan quay-desk front --feed-length 20ft --driver-at remote --driver-place dry --why");
    inches("plan quay-desk front --feed-length 900ft --show");
    inches("plan quay-desk");
    inches("choose quay-desk front --edges 99");
    inches("choose quay-desk front --mount tray");
    inches("show quay-desk");
    inches("show quay-desk panels");
    inches("swatch change quay-desk alba --slab-thickness 3/4in");
    inches("panel add quay-desk wide --title Wide --swatch alba --size 13ftx7ft --faces clear");
    inches(
        "choose quay-desk wide --light static-white --cct 4000 --face clear --edges 1,3 --volts 24 --mount tray",
    );
    inches("plan quay-desk wide --feed-length 20ft --show");
    inches("split quay-desk wide");
    inches("look quay-desk alba --cct 4000");
    inches("status quay-desk");
    inches("status quay-desk --verbose");
    inches("board");
    inches("dates quay-desk");
    inches("advance quay-desk");
    assert!(heard > 10, "only {heard} lines speak of inches");
}
