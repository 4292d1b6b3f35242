//! Prepared books, each made once by the real commands and then only copied: one project, `quay-desk`, a
//! reception desk with a curved front, at each of its stages.

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

use crate::workshop::{Desk, copy_folder, private_key, public_key, shared};

/// A desk front 1200 mm wide and 700 mm high, whose upper edge is an arc.
pub(crate) fn curved(height_mm: u32) -> String {
    format!(
        r#"{{"outer": {{"start_mm": [0, 0], "segments": [
  {{"kind": "line", "to_mm": [1200, 0]}},
  {{"kind": "line", "to_mm": [1200, {height_mm}]}},
  {{"kind": "arc", "to_mm": [0, {height_mm}], "bulge": 0.2}},
  {{"kind": "line", "to_mm": [0, 0]}}
]}}}}
"#
    )
}

/// Where the one project of the prepared books lies.
pub(crate) const PROJECT: &str = "projects/quay-desk";

/// A roster with mara (owner and rep), imke (client) and tom (engineer), and no project.
pub(crate) fn roster() -> &'static Path {
    static MADE: OnceLock<PathBuf> = OnceLock::new();
    MADE.get_or_init(|| {
        let at = shared().join("roster");
        let made = crate::workshop::underlit("mara")
            .arg("init")
            .arg(&at)
            .args(["--id", "tern", "--shop", "Tern Point Lightworks", "--owner", "mara"])
            .args(["--owner-name", "Mara Quill", "--roles", "rep", "--key", &private_key("mara")])
            .output()
            .expect("the binary runs");
        assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stderr));
        let book = Desk::new(at.clone(), "mara");
        for (person, name, role) in [("imke", "Imke Voss", "client"), ("tom", "Tom Reed", "engineer")] {
            let key = public_key(person);
            book.run(&format!(r#"roster add {person} --name "{name}" --role {role} --public-key {key}"#))
                .done();
        }
        at
    })
}

fn after(name: &str, before: &Path, deed: impl FnOnce(&Desk)) -> PathBuf {
    let at = shared().join(name);
    copy_folder(before, &at);
    deed(&Desk::new(at.clone(), "mara"));
    at
}

/// `quay-desk` is opened, with its stone and its curved panel; everything that sampling asks for is there.
pub(crate) fn intake() -> &'static Path {
    static MADE: OnceLock<PathBuf> = OnceLock::new();
    MADE.get_or_init(|| {
        after("intake", roster(), |book| {
            book.run(r#"open quay-desk --title "Quay desk" --client imke --engineer tom --site "Quay hall" --mains 230 --code-region iec --install-date 2027-03-15"#)
                .done();
            book.run(r#"swatch add quay-desk alba --stone "White alabaster" --material alabaster --tone white --texture cloudy --thickness 20mm --slab-thickness 20mm"#)
                .done();
            let drawing = shared().join("desk-front.json");
            fs::write(&drawing, curved(600)).expect("written");
            book.run(&format!(
                r#"panel add quay-desk front --title "Desk front" --swatch alba --outline {} --faces diffused"#,
                drawing.display()
            ))
            .done();
        })
    })
}

/// At selection: a test panel was received and two colour temperatures were tried.
pub(crate) fn selection() -> &'static Path {
    static MADE: OnceLock<PathBuf> = OnceLock::new();
    MADE.get_or_init(|| {
        after("selection", intake(), |book| {
            book.run("advance quay-desk --to sampling").done();
            book.run(r#"request ask quay-desk first --swatch alba --cct 3000,4000 --face diffused --size 300mmx200mm --address "Quay 4""#)
                .done();
            book.run(r#"request sent quay-desk first --consignment "parcel 8842""#).done();
            book.run("request received quay-desk first").done();
            for (id, cct, rating) in [("warm", 3000, 3), ("neutral", 4000, 5)] {
                book.run(&format!(
                    r#"trial record quay-desk {id} --swatch alba --request first --cct {cct} --face diffused --seen "clouds show" --rating {rating}"#
                ))
                .done();
            }
            book.run("advance quay-desk --to selection").done();
        })
    })
}

/// At selection: the choice is made and not yet signed.
pub(crate) fn chosen() -> &'static Path {
    static MADE: OnceLock<PathBuf> = OnceLock::new();
    MADE.get_or_init(|| {
        after("chosen", selection(), |book| {
            book.run("choose quay-desk front --light static-white --cct 4000 --face diffused --edges 1,3 --volts 24 --mount tray")
                .done();
        })
    })
}

/// At rendering: the choice is signed, the panel is planned and drawn; nobody has signed the rendering.
pub(crate) fn drawn() -> &'static Path {
    static MADE: OnceLock<PathBuf> = OnceLock::new();
    MADE.get_or_init(|| {
        after("drawn", chosen(), |book| {
            book.run_as("imke", "sign quay-desk choice --panel front --yes").done();
            book.run("advance quay-desk --to rendering").done();
            book.run("plan quay-desk front --feed-length 8m").done();
            book.run("draw quay-desk front").done();
        })
    })
}

/// At rendering: everything is signed but the release.
pub(crate) fn signed() -> &'static Path {
    static MADE: OnceLock<PathBuf> = OnceLock::new();
    MADE.get_or_init(|| {
        after("signed", drawn(), |book| {
            book.run_as("imke", "sign quay-desk rendering --panel front --yes").done();
            book.run_as("tom", "sign quay-desk rendering --panel front --as engineer --yes").done();
            book.run_as("tom", "sign quay-desk acknowledgement --topic cautions --yes").done();
        })
    })
}

/// Released.
pub(crate) fn released() -> &'static Path {
    static MADE: OnceLock<PathBuf> = OnceLock::new();
    MADE.get_or_init(|| {
        after("released", signed(), |book| {
            book.run_as("tom", "sign quay-desk release --yes").done();
            book.run("advance quay-desk --to released").done();
        })
    })
}
