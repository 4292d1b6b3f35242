//! Any bytes as a signature's armour: taken apart or refused, never a panic; what is taken apart is spelled as it was
//! read, and holds over a message only where it is the very signature that the key made.
//!
//! Run: cargo fuzz run --fuzz-dir . read_armour corpus/read_armour ../../example-repo/roster -- -max_total_time=600

#![no_main]

use std::sync::OnceLock;

use libfuzzer_sys::fuzz_target;
use underlit::trust::counting::namespace;
use underlit::signing::{Armour, PublicKey, verify};

#[path = "shop.rs"]
mod shop;

const MESSAGE: &[u8] = b"the very bytes\n";

fuzz_target!(|bytes: &[u8]| {
    static MADE: OnceLock<(Vec<u8>, PublicKey)> = OnceLock::new();
    let (made, key) = MADE.get_or_init(|| {
        let made = shop::Shop::new().sign("underlit-move", MESSAGE);
        let key = Armour::parse(&made).expect("armour").key().clone();
        (made, key)
    });
    if let Ok(text) = std::str::from_utf8(bytes) {
        let _ = PublicKey::from_line(text);
    }
    let _ = PublicKey::from_wire(bytes);
    match Armour::parse(bytes) {
        Ok(armour) => {
            assert_eq!(armour.as_str().as_bytes(), bytes);
            for purpose in ["move", "engineer", "roster"] {
                let holds = verify(key, &namespace(purpose), MESSAGE, &armour).is_ok();
                assert_eq!(holds, purpose == "move" && bytes == made.as_slice());
            }
        }
        Err(refusal) => assert!(!refusal.to_string().is_empty() && !refusal.remedy().is_empty()),
    }
});
