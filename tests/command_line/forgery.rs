//! Makes statements as a forger would: any bytes, signed by any key for any purpose, laid into a book under the
//! name that their content asks for.

use std::io::Write as _;
use std::process::Stdio;

use serde_json::Value;
use underlit::digest::Sha256Digest;

use crate::workshop::{Desk, private_key, program};

/// The bytes of a record as the tool writes them.
pub(crate) fn bytes(value: &Value) -> Vec<u8> {
    let mut bytes = serde_json::to_vec_pretty(value).unwrap();
    bytes.push(b'\n');
    bytes
}

/// The signature that stock OpenSSH makes with a person's key.
pub(crate) fn signature(person: &str, namespace: &str, bytes: &[u8]) -> Vec<u8> {
    let mut child = program("ssh-keygen", person)
        .args(["-Y", "sign", "-q", "-n", namespace, "-f", &private_key(person)])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    child.stdin.take().unwrap().write_all(bytes).unwrap();
    let output = child.wait_with_output().unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    output.stdout
}

/// Lays a statement into a folder of the book, named by its content.
pub(crate) fn lay(book: &Desk, folder: &str, bytes: &[u8], signature: Option<&[u8]>) -> String {
    let digest = Sha256Digest::of(bytes);
    book.write(&format!("{folder}/{digest}.json"), bytes);
    if let Some(signature) = signature {
        book.write(&format!("{folder}/{digest}.sig"), signature);
    }
    format!("{folder}/{digest}.json")
}
