//! What a first user does wrong, and what the tool answers: it names what is there, and a command that helps. Not here:
//! whole jobs (`two_jobs`), and single arguments (`bad_input`).

use crate::stages;
use crate::workshop::Place;

#[test]
fn what_is_there_already_is_named_with_the_command_that_changes_it() {
    let place = Place::new();
    let book = place.copy(stages::selection(), "mara");
    let swatch =
        "--stone X --material onyx --tone white --texture plain --thickness 20mm --slab-thickness 20mm";
    book.unchanged(|b| {
        b.run("open quay-desk --title X --client imke --site X")
            .fails(2, "already-there")
            .says(&["a project quay-desk already", "underlit project change quay-desk"]);
        b.run(&format!("swatch add quay-desk alba {swatch}"))
            .fails(2, "already-there")
            .says(&["a swatch alba already", "underlit swatch change quay-desk alba"]);
        b.run("panel add quay-desk front --swatch alba --size 1200x300mm")
            .fails(2, "already-there")
            .says(&["a panel front already", "underlit panel change quay-desk front"]);
    });
}

#[test]
fn no_remedy_is_empty_where_nothing_is_there_yet() {
    let place = Place::new();
    let book = place.copy(stages::intake(), "mara");
    book.unchanged(|b| {
        b.run("trial record quay-desk x --swatch alba --request first --cct 3000 --face diffused --seen y --rating 5")
            .fails(2, "unknown-record")
            .says(&["underlit request ask quay-desk"]);
        b.run("request sent quay-desk first").fails(2, "unknown-record").says(&["there is no request in this project yet"]);
        b.run("installed quay-desk")
            .fails(2, "missing-argument")
            .says(&["--electrician … --code … --driver-access …"]);
        b.run("installed quay-desk --code c")
            .fails(2, "missing-argument")
            .says(&["--electrician … --driver-access …"])
            .never_says(&["--code …"]);
    });
}

#[test]
fn a_role_that_nobody_has_is_named_as_open() {
    let place = Place::new();
    let book = place.copy(stages::released(), "mara");
    book.run("status quay-desk")
        .done()
        .says(&["who: fabricator (nobody on the roster yet: underlit roster add)"]);
}

#[test]
fn a_panel_that_is_built_before_its_release_is_looked_into() {
    let place = Place::new();
    let built = "built quay-desk front --serial Q1 --watts 20 --volts 24";
    place
        .copy(stages::intake(), "mara")
        .run(built)
        .done()
        .says(&["LOOK INTO THIS: quay-desk is not released"]);
    let released = place.copy_as(stages::released(), "released", "mara");
    released.run(built).done().never_says(&["is not released"]);
}

#[test]
fn signatures_are_called_stale_only_where_one_goes_stale() {
    let place = Place::new();
    let fresh = place.copy(stages::intake(), "mara");
    fresh.run("panel change quay-desk front --size 1200x300mm").done().never_says(&["stale"]);
    let signed = place.copy_as(stages::signed(), "signed", "mara");
    signed.run("panel change quay-desk front --note x").done().never_says(&["stale"]);
    signed
        .run("panel change quay-desk front --size 1200x300mm")
        .done()
        .says(&["on this panel are now stale"]);
    // What is stale already is not told again.
    signed.run("panel change quay-desk front --size 1200x310mm").done().never_says(&["now stale"]);
}

#[test]
fn the_panel_may_be_left_out_where_only_one_is_meant() {
    let place = Place::new();
    let book = place.copy(stages::chosen(), "mara");
    book.run_as("imke", "sign quay-desk choice --yes --dry-run").done().says(&["the choice for panel front"]);
    book.run("panel add quay-desk back --swatch alba --size 1200x300mm").done();
    book.unchanged(|b| {
        b.run_as("imke", "sign quay-desk choice --yes")
            .fails(2, "which-panel")
            .says(&["--panel back or --panel front"]);
        b.run_as("imke", "sign quay-desk acknowledgement --topic seams --yes").fails(2, "nothing-to-sign");
    });
}
