//! Stock OpenSSH on every statement of the example book.
//!
//! Source: `ssh-keygen -Y verify` (OpenSSH, PROTOCOL.sshsig) with the allowed-signers file that underlit exports.

use std::fs::{self, File};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use serde_json::Value;

use super::book::{Copy, files};

fn accepts(signers: &Path, who: &str, namespace: &str, signature: &Path, statement: &Path) -> bool {
    Command::new("ssh-keygen")
        .args(["-Y", "verify", "-q", "-f"])
        .arg(signers)
        .args(["-I", who, "-n", namespace, "-s"])
        .arg(signature)
        .stdin(Stdio::from(File::open(statement).unwrap()))
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status()
        .unwrap()
        .success()
}

/// Every signature with its statement, signer and namespace.
fn signed(copy: &Copy) -> Vec<(PathBuf, PathBuf, String, &'static str)> {
    let mut all = Vec::new();
    for path in files(&copy.book()).keys().filter(|p| p.ends_with(".sig")) {
        let signature = copy.book().join(path);
        if let Some((number, who)) =
            path.strip_prefix("roster/").and_then(|p| p.strip_suffix(".sig")?.split_once('.'))
        {
            let statement = copy.book().join(format!("roster/{number}.json"));
            all.push((signature, statement, who.to_owned(), "underlit-roster"));
            continue;
        }
        let statement = signature.with_extension("json");
        let said: Value = serde_json::from_slice(&fs::read(&statement).unwrap()).unwrap();
        let namespace = if path.contains("/moves/") {
            "underlit-move"
        } else if said.get("evidence").is_some_and(|e| !e.is_null()) {
            "underlit-evidence"
        } else if said["role"] == "client" {
            "underlit-client"
        } else {
            assert_eq!(said["role"], "engineer", "{path}");
            "underlit-engineer"
        };
        all.push((signature, statement, said["signer"].as_str().unwrap().to_owned(), namespace));
    }
    all
}

#[test]
fn stock_openssh_takes_each_and_none_that_is_altered() {
    let copy = Copy::new();
    let signers = copy.room().join("signers");
    fs::write(&signers, copy.said(&["allowed-signers"])).unwrap();
    let all = signed(&copy);
    assert!(all.len() >= 20, "{}", all.len());
    let altered = copy.room().join("altered");
    for (signature, statement, who, namespace) in &all {
        assert!(accepts(&signers, who, namespace, signature, statement), "{}", signature.display());
        let mut bytes = fs::read(statement).unwrap();
        let middle = bytes.len() / 2;
        bytes[middle] ^= 1;
        fs::write(&altered, bytes).unwrap();
        assert!(!accepts(&signers, who, namespace, signature, &altered), "{}", statement.display());
        let elsewhere = if *namespace == "underlit-move" { "underlit-engineer" } else { "underlit-move" };
        assert!(!accepts(&signers, who, elsewhere, signature, statement), "{}", signature.display());
    }
}
