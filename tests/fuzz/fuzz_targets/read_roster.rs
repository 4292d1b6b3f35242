//! Any bytes as the first roster and as the second, each under a true signature of the owner: it follows or is refused,
//! never a panic; and whatever follows steps by one, names the one before, and leaves somebody who can sign the next.
//!
//! Run: cargo fuzz run --fuzz-dir . read_roster corpus/read_roster ../../example-repo/roster -- -max_total_time=600

#![no_main]

use std::sync::OnceLock;

use libfuzzer_sys::fuzz_target;
use underlit::digest::Sha256Digest;
use underlit::model::roster::Role;
use underlit::trust::chain::Chain;

#[path = "shop.rs"]
mod shop;

fuzz_target!(|bytes: &[u8]| {
    static MADE: OnceLock<shop::Shop> = OnceLock::new();
    let shop = MADE.get_or_init(shop::Shop::new);
    for steps in [vec![shop.step(1, bytes)], vec![shop.step(1, &shop.first), shop.step(2, bytes)]] {
        let count = steps.len();
        match Chain::of(steps) {
            Ok(chain) => {
                let newest = chain.newest();
                assert_eq!(newest.version as usize, count);
                assert_eq!(chain.newest_digest(), Sha256Digest::of(bytes));
                let before = chain.versions().iter().rev().nth(1).map(|(_, digest)| *digest);
                assert_eq!(newest.previous, before);
                let owners = newest.in_role(Role::Owner).filter(|p| p.active_keys().next().is_some()).count();
                assert!(newest.threshold >= 1 && owners >= newest.threshold as usize);
            }
            Err(faults) => assert!(!faults.is_empty() && faults.iter().all(|f| f.remedy.is_some())),
        }
    }
});
