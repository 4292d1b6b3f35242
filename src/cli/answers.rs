//! The schemas of what verbs answer with `--json`: a file for each verb, and one for every failure.
//!
//! They are written by hand in `schema/answers/` and share `definitions.schema.json` there with each other, and the words of
//! the records with `schema/`. What is published carries all that it needs.

use crate::store::schemas::{bundled, parsed, shared};

/// The file of the definitions that answers share.
const PARTS: &str = include_str!("../../schema/answers/definitions.schema.json");

macro_rules! answers {
    ($($file:literal: $($verb:literal)+;)+) => {
        &[$($((
            $verb,
            include_str!(concat!("../../schema/answers/", $file, ".schema.json")),
        ),)+)+]
    };
}

/// Each schema with the verbs that answer so, as their words are typed, joined by hyphens.
const ANSWERS: &[(&str, &str)] = answers! {
    "explain": "explain";
    "failure": "failure";
    "record": "open" "project-change" "swatch-add" "swatch-change" "swatch-remove" "panel-add" "panel-change" "panel-basis" "panel-slab" "panel-etch" "panel-remove" "panel-sizes"
        "note" "request-ask" "request-sent" "request-received" "request-returned" "request-lost" "request-remove" "trial-record" "trial-change" "trial-remove" "trial-waive" "choose" "installed" "accepted" "delivery-sent" "delivery-received" "delivery-settled";
    "advance": "advance" "reopen";
    "allowed-signers": "allowed-signers";
    "board": "board";
    "built": "built";
    "calc-dates": "calc-dates";
    "calc-driver": "calc-driver";
    "calc-outline": "calc-outline";
    "calc-photo": "calc-photo";
    "calc-through": "calc-through";
    "calc-white": "calc-white";
    "calc-wire": "calc-wire";
    "changes": "changes";
    "check": "check";
    "completions": "completions";
    "copy": "copy-project" "copy-panel";
    "cut": "cut";
    "dates": "dates";
    "doctor": "doctor";
    "draw": "draw";
    "files": "man" "schemas";
    "guard-check": "guard-check" "guard-range";
    "guard-install": "guard-install";
    "guide": "guide";
    "history": "history";
    "import": "import";
    "init": "init";
    "intake": "intake";
    "join": "join";
    "look": "look";
    "me": "me";
    "measure": "swatch-measure";
    "next": "next";
    "pack": "pack";
    "packet": "packet";
    "pages": "pages";
    "panel-evenness": "panel-evenness";
    "predictions": "predictions";
    "panel-import": "panel-import";
    "part": "part";
    "plan": "plan";
    "prints": "label" "request-sheet";
    "resolve": "resolve";
    "roster": "roster-add" "roster-add-key" "roster-retire-key" "roster-roles" "roster-rename" "roster-seal"
        "roster-threshold" "roster-countersign";
    "roster-redo": "roster-redo";
    "roster-show": "roster-show";
    "shop": "shop";
    "show": "show";
    "sign": "sign" "evidence";
    "sign-all": "sign-all";
    "split": "split";
    "status": "status";
    "stock-git-setup": "stock-git-setup";
    "sync": "sync";
    "trial-cite": "trial-cite";
    "undo": "undo";
    "verify": "verify";
    "watch": "watch";
};

/// The schemas as a validator takes them, each by the name of its file.
pub(crate) fn published() -> Vec<(String, String)> {
    let parts = parsed(PARTS);
    let shared = [("definitions.schema.json", &parts), ("../definitions.schema.json", shared())];
    let whole = |(verb, text): &(&str, &str)| {
        (format!("{verb}.schema.json"), format!("{:#}\n", bundled(text, &shared)))
    };
    ANSWERS.iter().map(whole).collect()
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use serde_json::Value;

    use super::*;
    use crate::cli::command::command;

    /// Verbs that are no one's to ask with `--json`, each with the reason.
    const WITHOUT: &[(&str, &str)] = &[
        ("demo", "it tells a story to a person, and refuses the option"),
        ("stock-git-file", "git calls it, and reads its exit code"),
        ("stock-git-merge", "git calls it, and reads its exit code"),
    ];

    fn leaves(command: &clap::Command, name: &str, found: &mut BTreeSet<String>) {
        let mut below = command.get_subcommands().filter(|sub| sub.get_name() != "help").peekable();
        if below.peek().is_none() {
            found.insert(name.to_owned());
        }
        for sub in below {
            leaves(sub, format!("{name}-{}", sub.get_name()).trim_start_matches('-'), found);
        }
    }

    #[test]
    fn every_verb_has_its_answer_and_every_answer_its_verb() {
        let mut verbs = BTreeSet::new();
        leaves(&command(), "", &mut verbs);
        let mut answers: BTreeSet<String> =
            ANSWERS.iter().map(|(verb, _)| (*verb).to_owned()).filter(|verb| verb != "failure").collect();
        answers.extend(WITHOUT.iter().map(|(verb, _)| (*verb).to_owned()));
        assert_eq!(verbs, answers);
        assert_eq!(answers.len() + 1, ANSWERS.len() + WITHOUT.len(), "a verb stands twice in a table");
        let files: BTreeSet<&str> = ANSWERS.iter().map(|(_, text)| *text).collect();
        let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("schema/answers");
        assert_eq!(std::fs::read_dir(folder).expect("the folder").count(), files.len() + 1);
    }

    #[test]
    fn what_is_published_refers_to_nothing_outside_and_loses_no_definition() {
        let defined = |text: &str| -> BTreeSet<String> {
            let value: Value = serde_json::from_str(text).expect("JSON");
            value["$defs"].as_object().map(|all| all.keys().cloned().collect()).unwrap_or_default()
        };
        for ((verb, own), (_, whole)) in ANSWERS.iter().zip(published()) {
            for (at, _) in whole.match_indices("\"$ref\": \"") {
                let name = whole[at + 9..].strip_prefix("#/$defs/").and_then(|rest| rest.split('"').next());
                assert!(
                    name.is_some_and(|name| defined(&whole).contains(name)),
                    "{verb}: {}",
                    &whole[at..at + 60]
                );
            }
            // A part of the answer's own that is called as a shared one which it wants would have been written over.
            let value: Value = serde_json::from_str(&whole).expect("JSON");
            let before: Value = serde_json::from_str(own).expect("JSON");
            for name in defined(own) {
                assert_eq!(
                    value["$defs"][&name]["description"], before["$defs"][&name]["description"],
                    "{verb}: {name}"
                );
            }
        }
    }
}
