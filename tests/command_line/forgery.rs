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

/// The folder of the prepared book's one rendering.
pub(crate) const RENDERING: &str = "projects/quay-desk/renderings/front";

/// Writes a sheet and its PDF over those of the rendering and makes the manifest's digests fit.
pub(crate) fn refit(book: &Desk, svg: &[u8], pdf: &[u8]) {
    let mut manifest: Value =
        serde_json::from_slice(&book.bytes(&format!("{RENDERING}/manifest.json"))).unwrap();
    for (field, name, content) in [("sheet", "sheet.svg", svg), ("pdf", "sheet.pdf", pdf)] {
        book.write(&format!("{RENDERING}/{name}"), content);
        manifest[field]["sha256"] = Sha256Digest::of(content).hex().into();
    }
    book.write(&format!("{RENDERING}/manifest.json"), bytes(&manifest));
}

/// Changes the manifest of the rendering.
pub(crate) fn edit_manifest(book: &Desk, edit: impl FnOnce(&mut Value)) {
    let path = format!("{RENDERING}/manifest.json");
    let mut manifest: Value = serde_json::from_slice(&book.bytes(&path)).unwrap();
    edit(&mut manifest);
    book.write(&path, bytes(&manifest));
}

/// Sheet and PDF of the same panel at another height, drawn by the tool itself in a copy of the book.
pub(crate) fn drawn_for_another_height(
    place: &crate::workshop::Place,
    prepared: &std::path::Path,
) -> [Vec<u8>; 2] {
    let other = place.copy_as(prepared, "drawn-otherwise", "mara");
    let drawing = place.file("lower.json", crate::stages::curved(400));
    other.run(&format!("panel change quay-desk front --outline {drawing}")).done();
    other.run("draw quay-desk front").done();
    ["sheet.svg", "sheet.pdf"].map(|name| other.bytes(&format!("{RENDERING}/{name}")))
}

/// What nobody may put into a sheet, by what it is: SVG and PDF with the harm in it.
pub(crate) fn harmful(svg: &[u8], pdf: &[u8]) -> Vec<(&'static str, Vec<u8>, Vec<u8>)> {
    let svg = String::from_utf8(svg.to_vec()).unwrap();
    let within = |inside: &str| svg.replacen("</svg>", &format!("{inside}</svg>"), 1).into_bytes();
    let action: Vec<u8> = {
        // Another catalogue in front of the table, as an incremental update would have it.
        let action = b"\n99 0 obj\n<</Type/Catalog/OpenAction<</S/JavaScript/JS(app.alert(1))>>>>\nendobj\n";
        [pdf, action].concat()
    };
    vec![
        ("a script", within("<script>fetch('https://example.org')</script>"), pdf.to_vec()),
        ("an event handler", within("<g onload=\"alert(1)\"/>"), pdf.to_vec()),
        ("a picture from outside", within("<image href=\"https://example.org/a.png\"/>"), pdf.to_vec()),
        ("a style from outside", within("<style>@import 'https://example.org/a.css';</style>"), pdf.to_vec()),
        (
            "an entity",
            svg.replacen("<svg", "<!DOCTYPE svg [<!ENTITY a \"b\">]><svg", 1).into_bytes(),
            pdf.to_vec(),
        ),
        ("an action", svg.clone().into_bytes(), action),
    ]
}
