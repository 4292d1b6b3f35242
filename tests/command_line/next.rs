//! What is next, person by person: each act is one that the board waits for, and its command is the one that gives it.

use crate::stages;
use crate::workshop::Place;

#[test]
fn whoever_asks_hears_the_next_act_and_its_command() {
    let place = Place::new();
    let book = place.copy(stages::selection(), "mara");
    let answer = book.run("next --json").done().json();
    assert_eq!(answer["person"], "mara");
    let acts = answer["acts"].as_array().unwrap().clone();
    assert!(!acts.is_empty(), "{answer}");
    let board = book.run("board --json").done().json();
    let waited = board["projects"][0]["waiting_on"].as_array().unwrap();
    let of = |person: &str| {
        waited.iter().filter(|w| w["people"].as_array().unwrap().iter().any(|p| p == person)).count()
    };
    for person in ["mara", "tom", "imke"] {
        let answer = book.run(&format!("next --person {person} --all --json")).done().json();
        let asked = answer["acts"].as_array().unwrap().iter().filter(|a| !a["requirement"].is_null());
        assert_eq!(asked.count(), of(person), "{person}: {answer}");
    }
    book.run("next").done().says(&["for Mara", "quay-desk", "underlit "]);
    book.run("next --person nobody").fails(2, "unknown-person");
}

#[test]
fn a_job_that_lacks_nothing_is_taken_on_by_who_looks_after_it() {
    let place = Place::new();
    let book = place.copy(stages::intake(), "mara");
    let advance = |person: &str| {
        let answer = book.run(&format!("next --person {person} --json")).done().json();
        let commands =
            answer["acts"].as_array().unwrap().iter().map(|a| a["command"].clone()).collect::<Vec<_>>();
        (commands.contains(&"underlit advance quay-desk".into()), answer["other_project_count"].clone())
    };
    let status = book.run("status quay-desk --json").done().json();
    assert_eq!(status["may_advance"], true, "{status}");
    assert_eq!(advance("mara"), (true, 0.into()));
    assert_eq!(advance("tom"), (false, 1.into()));
    book.run("next --person tom").done().says(&["nothing waits for", "1 job is with others: underlit board"]);
}
