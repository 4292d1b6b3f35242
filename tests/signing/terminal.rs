//! A passphrase asked for at a real terminal, though standard input and output carry other things.

use std::io::{Read as _, Write as _};
use std::path::PathBuf;
use std::process::Stdio;

use underlit::signing::{Asking, Signer, Toolbox};

use crate::workshop::{STATEMENT, Workshop, engineer, public};

const FOLDER: &str = "SIGNING_TEST_FOLDER";

/// Runs the next test inside a terminal made by `script` (util-linux) and types the passphrase there.
#[cfg(target_os = "linux")]
#[test]
fn a_passphrase_is_typed_at_the_terminal() {
    let workshop = Workshop::new();
    let key = workshop.stock_key("ed", &["ed25519"], "lantern 9");
    let test = std::env::current_exe().unwrap();
    let inside = format!(
        "'{}' --exact terminal::signing_inside_a_terminal --ignored --nocapture </dev/null",
        test.display()
    );
    let mut child = workshop
        .stock("script")
        .args(["-qec", &inside, "/dev/null"])
        .env(FOLDER, workshop.path("."))
        .env_remove("SSH_ASKPASS_REQUIRE")
        .stdin(Stdio::piped())
        .spawn()
        .unwrap();
    let mut shown = Vec::new();
    let mut screen = child.stdout.take().unwrap();
    let mut typed = false;
    let mut chunk = [0; 256];
    loop {
        let count = screen.read(&mut chunk).unwrap();
        if count == 0 {
            break;
        }
        shown.extend(&chunk[..count]);
        // Typed only once asked: what was typed before is thrown away, as at any password prompt.
        if !typed && String::from_utf8_lossy(&shown).contains("passphrase") {
            child.stdin.as_mut().unwrap().write_all(b"lantern 9\n").unwrap();
            typed = true;
        }
    }
    let shown = String::from_utf8_lossy(&shown).into_owned();
    assert!(child.wait().unwrap().success(), "{shown}");
    assert!(typed && !shown.contains("lantern 9"), "{shown}");
    let signature = std::fs::read(workshop.path("made.sig")).unwrap();
    assert!(workshop.stock_accepts(&public(&key), &engineer(), STATEMENT, &signature));
}

#[test]
#[ignore = "run by the test above, inside a terminal"]
fn signing_inside_a_terminal() {
    let folder = PathBuf::from(std::env::var_os(FOLDER).expect("the test above sets it"));
    let never = |_: &std::path::Path| -> Option<String> { panic!("ssh-keygen asks itself") };
    let toolbox = Toolbox::new(&folder, None, Asking::Terminal(&never));
    let signer = Signer::from_file(&folder.join("ed"), &toolbox).unwrap();
    let armour = signer.sign(&engineer(), STATEMENT).unwrap();
    std::fs::write(folder.join("made.sig"), armour.as_str()).unwrap();
}
