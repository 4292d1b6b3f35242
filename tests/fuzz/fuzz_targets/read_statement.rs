//! Any bytes as a sign-off and as a move, under a true signature over just these bytes: judged or refused, never a
//! panic; and whatever counts was said in this book, in this project, by the one person of its roster.
//!
//! Run: cargo fuzz run --fuzz-dir . read_statement corpus/read_statement \
//!      ../../example-repo/projects/quay-bar/signoffs ../../example-repo/projects/quay-bar/moves -- -max_total_time=600

#![no_main]

use std::sync::OnceLock;

use libfuzzer_sys::fuzz_target;
use underlit::digest::Sha256Digest;
use underlit::model::rules::Rules;
use underlit::trust::chain::Chain;
use underlit::trust::counting::{Sealed, self};

#[path = "shop.rs"]
mod shop;

fn setting() -> &'static (shop::Shop, Chain, Rules) {
    static MADE: OnceLock<(shop::Shop, Chain, Rules)> = OnceLock::new();
    MADE.get_or_init(|| {
        let shop = shop::Shop::new();
        let chain = shop.chain();
        let rules = include_bytes!("../../../example-repo/rules.json");
        (shop, chain, serde_json::from_slice(rules).expect("rules"))
    })
}

fuzz_target!(|bytes: &[u8]| {
    let (shop, chain, rules) = setting();
    // The first byte picks the purpose, so that each of them meets each kind of file.
    let (pick, bytes) = match bytes.split_first() {
        Some((pick, rest)) if *pick != b'{' => (*pick, rest),
        _ => (0, bytes),
    };
    let purposes = ["underlit-engineer", "underlit-rep", "underlit-move", "underlit-evidence", "underlit-roster"];
    let signature = shop.sign(purposes[usize::from(pick) % purposes.len()], bytes);
    let path = format!("projects/quay-bar/signoffs/{}.json", Sha256Digest::of(bytes));
    let sealed = Sealed { path: &path, bytes, signature: Some(&signature) };
    let project = "quay-bar".parse().expect("a name");
    match trust::sign_off(chain, rules, &project, sealed) {
        Ok((statement, None)) => {
            assert_eq!(statement.book.as_str(), "tern");
            assert_eq!(statement.project, project);
            assert_eq!(statement.signer.as_str(), "mara");
        }
        Ok((_, Some(fault))) => assert!(fault.remedy.is_some()),
        Err(faults) => assert!(!faults.is_empty()),
    }
    match trust::project_move(chain, rules, &project, sealed) {
        Ok(step) => assert!(step.is_possible() && step.project == project && step.signer.as_str() == "mara"),
        Err(faults) => assert!(!faults.is_empty()),
    }
});
