//! A rep, a client and an engineer on three clones of one bare remote that is guarded, from the first swatch to
//! released.

use std::fs;

use crate::stages::{self, PROJECT, curved};
use crate::workshop::{Desk, Place, private_key};

/// Three clones of one bare remote, each with its person.
pub(crate) struct ThreeClones {
    pub(crate) place: Place,
    pub(crate) mara: Desk,
    pub(crate) imke: Desk,
    pub(crate) tom: Desk,
}

impl ThreeClones {
    /// Three clones of a prepared book, all at the same commit, before a remote that is guarded: everything that
    /// honest people do passes it.
    pub(crate) fn at(prepared: &std::path::Path) -> ThreeClones {
        let clones = ThreeClones::without_guard(prepared);
        let hub = clones.place.path("hub.git");
        clones.place.run("mara", &format!("guard install {}", hub.display())).code(0);
        clones
    }

    /// The same before a remote that takes anything.
    pub(crate) fn without_guard(prepared: &std::path::Path) -> ThreeClones {
        let place = Place::new();
        let mara = place.copy_as(prepared, "mara", "mara");
        let hub = place.path("hub.git");
        mara.git(&format!("init --quiet --bare -b main {}", hub.display()));
        mara.git(&format!("remote add origin {}", hub.display()));
        mara.run("sync").done().says(&["origin/main: sent"]);
        let join = |person: &'static str| {
            let key = private_key(person);
            place
                .run(person, &format!("join {} {person} --me {person} --key {key}", hub.display()))
                .done()
                .says(&["joined the book", "fingerprint", "by telephone"]);
            Desk::new(place.path(person), person)
        };
        let (imke, tom) = (join("imke"), join("tom"));
        ThreeClones { mara, imke, tom, place }
    }

    /// Everybody's clone is sound and at one commit.
    pub(crate) fn sound(&self) {
        let heads: Vec<String> =
            [&self.mara, &self.imke, &self.tom].map(|d| d.git("rev-parse HEAD")).to_vec();
        assert!(heads.iter().all(|h| *h == heads[0]), "{heads:?}");
        self.mara.sound();
        self.imke.sound_for_git();
        self.tom.sound_for_git();
    }
}

#[test]
fn from_the_first_swatch_to_released() {
    let clones = ThreeClones::at(stages::roster());
    let ThreeClones { place, mara, imke, tom } = &clones;

    // Intake: what is missing is listed, all of it, and blocked is an answer with exit code 1.
    mara.run(r#"open quay-desk --title "Quay desk" --client imke --engineer tom --site "Quay hall" --mains 230 --code-region iec"#).done();
    mara.run("advance quay-desk").code(1).says(&[
        "quay-desk stays at intake",
        "[panels-listed]",
        "[install-date-set]",
        "underlit project change quay-desk --install-date",
    ]);
    mara.run("project change quay-desk --install-date 2027-03-15").done();
    mara.run(r#"swatch add quay-desk alba --stone "White alabaster" --material alabaster --tone white --texture cloudy --thickness 20mm --slab-thickness 20mm"#)
        .done()
        .says(&["common practice, no source"]);
    let drawing = place.file("desk.json", curved(600));
    mara.run(&format!(r#"panel add quay-desk front --title "Desk front" --swatch alba --outline {drawing}"#))
        .done()
        .says(&["curved", "needs an exact rendering that is signed"]);
    mara.run("advance quay-desk").done().says(&["moves from intake to sampling"]);

    // Sampling.
    mara.run("advance quay-desk").code(1).says(&["[test-panel-requested]", "[trial-recorded]"]);
    mara.run(r#"request ask quay-desk first --swatch alba --cct 3000,4000 --face diffused --size 300mmx200mm --address "Quay 4""#)
        .done();
    mara.run("advance quay-desk").code(1).says(&["[test-panel-received]"]);
    let later = mara.on("2026-09-08");
    later.run("request sent quay-desk first").done().says(&["2026-09-08"]);
    later.run("request received quay-desk first --date 2026-09-08").done().says(&["2026-09-08"]);
    let photo = place.file("lit.jpg", b"\xff\xd8 a photo of the lit stone");
    later
        .run(&format!(
            r#"trial record quay-desk neutral --swatch alba --request first --cct 4000 --face diffused --seen "clouds show" --rating 5 --bare-lx 1200 --through-lx 130 --photo {photo}"#
        ))
        .done();
    mara.run("advance quay-desk").done().says(&["moves from sampling to selection"]);
    mara.run("choose quay-desk front --light static-white --cct 4000 --face diffused --edges 1,3 --volts 24 --mount tray")
        .done();
    mara.run("sync").done().says(&["origin/main: sent"]);

    // The client signs the choice on her own clone.
    imke.run("sync").done().says(&["came in: Mara Quill — quay-desk: opens Quay desk"]);
    imke.run("sign quay-desk choice --panel front --yes").done().says(&[
        "panel light cct",
        "4000 K",
        "imke approved as client: the choice for panel front",
    ]);
    imke.run("sync").done().says(&["origin/main: sent"]);
    mara.run("sync").done().says(&["came in: Imke Voss — quay-desk: approves the choice for panel front"]);
    mara.run("advance quay-desk").done().says(&["moves from selection to rendering"]);
    mara.run("plan quay-desk front --feed-length 8m").done().says(&["routed-panel", "conductors"]);
    mara.run("advance quay-desk").code(1).says(&["[rendering-matches]", "has no rendering"]);
    mara.run("draw quay-desk front").done().says(&[
        "revision 1",
        "renderings/front/sheet.svg",
        "renderings/front/sheet.pdf",
    ]);
    mara.run("sync").done();

    // Client and engineer sign the rendering at the same time: what people say only ever adds up.
    imke.run("sync").done();
    tom.run("sync").done();
    imke.run("sign quay-desk rendering --panel front --yes").done();
    tom.run("sign quay-desk rendering --panel front --as engineer --yes").done();
    tom.run("sync").done();
    imke.run("sync").done().says(&["merged and sent"]);

    // A millimetre more, and both signatures are stale; the status says from what to what.
    mara.run("sync").done();
    let drawing = place.file("desk-b.json", curved(601));
    mara.run(&format!("panel change quay-desk front --outline {drawing}")).done().says(&["are now stale"]);
    mara.run("status quay-desk").done().says(&["was drawn for an earlier outline"]);
    mara.run("draw quay-desk front").done().says(&["revision 2"]);
    mara.run("status quay-desk").done().says(&[
        "stale    Imke Voss (client) approved the rendering for panel front, but it has changed since",
        "stale    Tom Reed (engineer) approved the rendering",
        "rendering height: 720 mm was signed, now 721 mm",
    ]);
    mara.run("advance quay-desk").code(1).says(&["stale"]);
    mara.run("sync").done();

    imke.run("sync").done();
    imke.run("sign quay-desk rendering --panel front --yes").done();
    imke.run("sync").done();
    tom.run("sync").done();
    tom.run("sign quay-desk rendering --panel front --as engineer --yes").done();
    tom.run("sign quay-desk acknowledgement --topic cautions --yes").done().says(&["a licensed electrician"]);
    tom.run("board --released").done().says(&["nothing is released"]);
    tom.run("sign quay-desk release --yes")
        .done()
        .says(&["tom approved as engineer: the release of the whole build"]);
    tom.run("advance quay-desk").done().says(&["moves from rendering to released"]);
    tom.run("sync").done();

    // The engineer's list, on the engineer's clone, and the same on the others after a sync.
    let board = tom.run("board --released --json").done().json();
    assert_eq!(board["projects"].as_array().unwrap().len(), 1);
    assert_eq!(board["projects"][0]["id"], "quay-desk");
    assert_eq!(board["projects"][0]["stage"], "released");
    assert_eq!(board["projects"][0]["released"], true);
    tom.run("board --released").done().says(&["quay-desk  released", "may be built"]);
    for desk in [mara, imke] {
        desk.run("sync").done();
        assert_eq!(desk.run("board --released --json").done().json(), board);
    }
    mara.run("history quay-desk").done().says(&[
        "Mara Quill            opens Quay desk",
        "Imke Voss             approves the rendering for panel front, as client",
        "Tom Reed              releases the whole build, as engineer",
        "from rendering to released",
    ]);
    // The attachment lies beside its record, under a name that fits every disk.
    assert_eq!(
        fs::read(mara.path(&format!("{PROJECT}/trials/neutral.jpg"))).unwrap(),
        fs::read(photo).unwrap()
    );
    clones.sound();
}
