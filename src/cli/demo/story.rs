//! The scenes of the demo: one job from the first swatch to the release.
//!
//! Everybody and everything in it is invented: the harbour town of Ternhallow, its lightworks and its ferry office.
//! Only the story stands here. What each command does is decided by the command.

use super::harbour::{Harbour, IMKE, MARA, RUNA, Step, Stopped};
use crate::fault::{Class, Fault};

/// The desk top: a ring segment between two arcs. Its corners are those of triangles with sides 3, 4 and 5, so that
/// every figure is whole: radii 1000 and 1500 mm.
const DESK: &str = include_str!("../../starter/demo/desk.json");

/// An invented picture of an invented stone, lying on a lit test panel: `tests/look/invented.rs` makes it.
const ONYX: &[u8] = include_bytes!("../../starter/demo/onyx-lit.jpg");

/// The client's answer to the drawing that is a millimetre deeper.
const ANSWER: &str = "From: imke@ferry.invalid\nTo: mara@lightworks.invalid\nSubject: Desk top, revision 2\n\n\
                      701 mm is fine. Please build it like that.\n\nImke Voss\n";

/// Tells it all.
pub(super) fn tell(harbour: &mut Harbour<'_>) -> Result<(), Stopped> {
    harbour.says(
        "Three people make one lit desk together: Mara Quill, who runs Ternhallow Lightworks and looks after its \
         clients; Imke Voss of the ferry office, the client; and Runa Keel, the engineer. All of them are invented, \
         and so is Ternhallow. Each has a clone of the same book. What follows are the real commands and what they \
         really say; only the clock is turned, so that six weeks pass in seconds.",
    );
    a_book(harbour)?;
    a_job(harbour)?;
    a_test_panel(harbour)?;
    a_choice(harbour)?;
    a_question(harbour)?;
    a_drawing(harbour)?;
    a_millimetre(harbour)?;
    a_release(harbour)
}

fn a_book(harbour: &mut Harbour<'_>) -> Result<(), Stopped> {
    harbour.scene("1  A book, and who is who", 43);
    harbour.says(
        "Mara makes the shop's book and signs its first roster with a key of her own. It is hers alone until she says \
         who else is in it.",
    );
    let said = harbour.play(
        Step::new(
            MARA,
            "underlit init book --id ternhallow --shop \"Ternhallow Lightworks\" --owner mara \
             --owner-name \"Mara Quill\" --roles rep --make-key ~/.ssh/id_ed25519 --no-passphrase",
        )
        .at_home(),
    )?;
    harbour.says("Imke and Runa have SSH keys and sent Mara the public halves. A signature counts in the role that the \
                  roster gives.");
    harbour.play_all(
        MARA,
        &[
            "underlit roster add imke --name \"Imke Voss\" --role client --public-key ~/imke.pub",
            "underlit roster add runa --name \"Runa Keel\" --role engineer --public-key ~/runa.pub",
        ],
    )?;
    harbour.says(
        "Any git host will do to meet at. Here it is a bare repository in the next folder, with a guard before it that \
         judges each push by the book that is there already.",
    );
    let fingerprint =
        said.lines().find_map(|line| line.trim().strip_prefix("fingerprint ")).unwrap_or_default();
    harbour.play_all(
        MARA,
        &[
            "git init --quiet --bare --initial-branch=main ../../remote.git",
            &format!("underlit guard install ../../remote.git --fingerprint {fingerprint}"),
            "git remote add origin ../../remote.git",
            "underlit sync",
        ],
    )?;
    harbour.says("The others fetch the book, and compare its fingerprint with Mara's once, by telephone.");
    for who in [IMKE, RUNA] {
        harbour.play(Step::new(who, format!("underlit join ../remote.git book --me {}", who.0)).at_home())?;
    }
    Ok(())
}

fn a_job(harbour: &mut Harbour<'_>) -> Result<(), Stopped> {
    harbour.scene("2  A job is opened", 42);
    harbour.says("The ferry office wants a curved reception desk with a lit top. Mara opens the project.");
    let install = harbour.day(145);
    harbour.play(Step::new(
        MARA,
        format!(
            "underlit open ferry-desk --title \"Reception desk, ferry office\" --client imke --engineer runa \
             --site \"Ferry office, Ternhallow\" --mains 230 --code-region iec --install-date {install}"
        ),
    ))?;
    harbour.says("Two stones are in question. Each swatch says what it is, and how thick the slab will be.");
    harbour.play_all(
        MARA,
        &[
            "underlit swatch add ferry-desk alabaster --stone \"Cream alabaster\" --material alabaster --tone cream \
             --texture cloudy --thickness 20mm --slab-thickness 20mm",
            "underlit swatch add ferry-desk onyx --stone \"Honey onyx\" --material onyx --tone honey \
             --texture banded --thickness 20mm --slab-thickness 20mm",
        ],
    )?;
    harbour.says(
        "The outline of the top comes as a drawing. underlit measures it itself; nobody types in an area.",
    );
    harbour.writes(MARA, "desk.json", DESK)?;
    harbour.play_all(
        MARA,
        &[
            "underlit panel add ferry-desk top --title \"Desk top\" --swatch alabaster --outline ~/desk.json \
             --faces diffused,clear",
            "underlit advance ferry-desk",
        ],
    )
}

fn a_test_panel(harbour: &mut Harbour<'_>) -> Result<(), Stopped> {
    harbour.scene("3  A test panel, tried on the real stone", 41);
    harbour
        .says("No picture tells how a stone looks lit. Mara asks for a small test panel, and sends it off.");
    harbour.play(Step::new(
        MARA,
        "underlit request ask ferry-desk first --swatch alabaster,onyx --light tunable-white --cct 2700,3000,4000 \
         --face diffused,clear --size 300mmx200mm --address \"Ferry office, 3 Harbour Steps\"",
    ))?;
    harbour.turn_clock(37);
    harbour.play(Step::new(MARA, "underlit request sent ferry-desk first --consignment \"parcel 8842\""))?;
    harbour.says("Could the job go on already? The answer is \"not yet\", with everything that is missing.");
    harbour.play(Step::new(MARA, "underlit advance ferry-desk").refused())?;
    harbour.play(Step::new(MARA, "underlit sync"))?;
    harbour.turn_clock(34);
    harbour.says(
        "The parcel reaches Imke. She lays the stones over it in the evening and writes down what she sees.",
    );
    harbour.play_all(
        IMKE,
        &[
            "underlit sync",
            "underlit request received ferry-desk first",
            "underlit trial record ferry-desk onyx-warm --swatch onyx --request first --cct 2700 --face diffused \
             --seen \"handsome, but too dark for the hall\" --rating 3 --bare-lx 1150 --through-lx 97",
            "underlit trial record ferry-desk neutral --swatch alabaster --request first --cct 4000 --face diffused \
             --seen \"the clouds stand out, the edges stay calm\" --rating 5 --bare-lx 1240 --through-lx 118",
        ],
    )?;
    harbour.says(
        "She photographs the onyx on the panel, with bare panel beside it in the picture. From that and her readings \
         underlit tells what the slab will look like over each light, and draws a contact sheet (PNG, under looks \
         in her home). The picture is invented like the stone.",
    );
    harbour.writes(IMKE, "onyx-lit.jpg", ONYX)?;
    harbour.play_all(
        IMKE,
        &[
            "underlit swatch measure ferry-desk onyx lit --photo ~/onyx-lit.jpg --stone 6,6,188,158 \
             --bare 212,6,42,158 --panel-light white-4000",
            "underlit look ferry-desk onyx --cct 2700,4000,5000 --into ~/looks",
            "underlit sync",
        ],
    )?;
    harbour.says("Her records come in on Mara's side, and the gate opens.");
    harbour.play_all(MARA, &["underlit sync", "underlit advance ferry-desk"])
}

fn a_choice(harbour: &mut Harbour<'_>) -> Result<(), Stopped> {
    harbour.scene("4  The choice", 30);
    harbour.says("Mara writes down what was agreed: light, face, lit edges, voltage and mount.");
    harbour.play(Step::new(
        MARA,
        "underlit choose ferry-desk top --light tunable-white --cct 4000 --face diffused --edges 1,3 --volts 24 \
         --mount tray",
    ))?;
    harbour.says(
        "She tries to move on, and is refused: a light that changes its white needs a control system, and the choice \
         is Imke's to sign.",
    );
    harbour.play(Step::new(MARA, "underlit advance ferry-desk").refused())?;
    harbour.play_all(MARA, &["underlit choose ferry-desk top --control tunable-wall", "underlit sync"])?;
    harbour.says(
        "Imke signs with her own key, over the very facts. Whatever changes among them later is noticed.",
    );
    harbour.play(Step::new(IMKE, "underlit sync"))?;
    harbour.play(Step::new(IMKE, "underlit sign ferry-desk choice --panel top --as client --yes").whole())?;
    Ok(())
}

fn a_question(harbour: &mut Harbour<'_>) -> Result<(), Stopped> {
    harbour.scene("5  Two people change the same thing", 27);
    harbour.says(
        "Imke moves the install date and syncs. Mara, who is on a train, moves it too, to another day.",
    );
    let (imkes, maras) = (harbour.day(159), harbour.day(152));
    let change = |day| format!("underlit project change ferry-desk --install-date {day}");
    harbour.play(Step::new(IMKE, change(imkes)))?;
    harbour.play(Step::new(IMKE, "underlit sync"))?;
    harbour.play(Step::new(MARA, change(maras)))?;
    harbour.says(
        "Neither edit is lost and nobody is stuck. The date keeps what it was, and the two edits become an open \
         question.",
    );
    harbour.play(Step::new(MARA, "underlit sync").asks())?;
    let asked = harbour.play(Step::new(MARA, "underlit resolve ferry-desk").whole())?;
    harbour.says("They talk, and agree on Imke's day. The answer is a commit like any other.");
    let number = number_of(&asked, &imkes.to_string())?;
    harbour.play(Step::new(MARA, format!("underlit resolve ferry-desk --take {number}")))?;
    harbour.play_all(MARA, &["underlit advance ferry-desk", "underlit sync"])
}

/// The number of the edit that holds a value, as `resolve` lists the edits of its one question.
fn number_of(asked: &str, value: &str) -> Result<String, Stopped> {
    let numbered = |line: &str| line.split_whitespace().next().is_some_and(|n| n.parse::<usize>().is_ok());
    let line = asked.lines().find(|line| line.contains(value) && numbered(line));
    match line.and_then(|line| line.split_whitespace().next()) {
        Some(number) => Ok(number.to_owned()),
        None => {
            let message = format!("`underlit resolve` lists no question with {value} among its edits");
            Err(Box::new(Fault::new(Class::Bug, "demo-step", message)).into())
        }
    }
}

fn a_drawing(harbour: &mut Harbour<'_>) -> Result<(), Stopped> {
    harbour.scene("6  The drawing, signed by both", 24);
    harbour.says("Runa works out how the panel is built and powered, and draws the exact rendering.");
    harbour.play(Step::new(RUNA, "underlit sync"))?;
    harbour
        .play_all(RUNA, &["underlit plan ferry-desk top --feed-length 6m", "underlit draw ferry-desk top"])?;
    harbour.says("A curved shape is built from a signed drawing only. Runa signs that it can be built, Imke that it is \
                  what she wants.");
    harbour.play_all(
        RUNA,
        &["underlit sign ferry-desk rendering --panel top --as engineer --yes", "underlit sync"],
    )?;
    harbour.turn_clock(22);
    harbour.play_all(
        IMKE,
        &[
            "underlit sync",
            "underlit sign ferry-desk rendering --panel top --as client --yes",
            "underlit sync",
        ],
    )
}

fn a_millimetre(harbour: &mut Harbour<'_>) -> Result<(), Stopped> {
    harbour.scene("7  One millimetre", 15);
    harbour.says(
        "The joiner measures again: the desk is 701 mm deep, not 700. Mara takes in the new outline, and Runa draws it.",
    );
    harbour.play(Step::new(MARA, "underlit sync"))?;
    harbour.writes(MARA, "desk-b.json", DESK.replace("400]", "401]"))?;
    harbour
        .play_all(MARA, &["underlit panel change ferry-desk top --outline ~/desk-b.json", "underlit sync"])?;
    harbour.play_all(RUNA, &["underlit sync", "underlit draw ferry-desk top", "underlit sync"])?;
    harbour.says("Imke asks how things stand. Both signatures are still good, but for another drawing: each says which \
                  fact changed, from what to what.");
    harbour.turn_clock(14);
    harbour.play(Step::new(IMKE, "underlit sync"))?;
    harbour.play(Step::new(IMKE, "underlit status ferry-desk").whole())?;
    harbour.says(
        "A millimetre is fine with her, but she is aboard and her key is ashore, so she answers by mail. Mara takes the \
         mail in with her own signature. It counts as Imke's written answer and is always shown as evidence.",
    );
    harbour.writes(MARA, "answer.eml", ANSWER)?;
    harbour.play_all(
        MARA,
        &[
            "underlit sync",
            "underlit evidence ferry-desk rendering --panel top --of imke --how \"mail from the ferry\" \
             --scan ~/answer.eml --yes",
            "underlit sync",
        ],
    )?;
    harbour.says("Runa signs what will really be cut with her own key.");
    harbour.play_all(
        RUNA,
        &["underlit sync", "underlit sign ferry-desk rendering --panel top --as engineer --yes"],
    )
}

fn a_release(harbour: &mut Harbour<'_>) -> Result<(), Stopped> {
    harbour.scene("8  Released", 0);
    harbour.says(
        "Before anything is cut, Runa acknowledges the cautions of this very job: mains, fire, heat, weight.",
    );
    harbour.play(
        Step::new(RUNA, "underlit sign ferry-desk acknowledgement --topic cautions --as engineer --yes")
            .whole(),
    )?;
    harbour.says("Then she releases the whole build, with one signature over every fact of it.");
    harbour.play_all(
        RUNA,
        &["underlit sign ferry-desk release --as engineer --yes", "underlit advance ferry-desk"],
    )?;
    harbour.says("This is the engineer's list: what may be built, and nothing else.");
    harbour.play_all(RUNA, &["underlit board --released", "underlit sync"])?;
    harbour.says("The others sync, and see the same book.");
    harbour.play_all(IMKE, &["underlit sync"])?;
    harbour.play_all(MARA, &["underlit sync", "underlit board", "underlit check"])
}
