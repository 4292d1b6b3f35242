//! Every word of the page, in each language: one plain table. A language lacks no word, or it does not compile.
//!
//! What is signed is signed in its own words, so that sealed sentences and cautions stand in English in every packet.

use jiff::civil::Date;

use crate::words::words;

words! {
    /// The language of a packet.
    Language, "language of packets" {
        /// English.
        English = "en",
        /// German.
        German = "de",
    }
}

macro_rules! table {
    ($($word:ident: $english:literal, $german:literal;)+) => {
        /// A word or sentence of the page.
        #[derive(Clone, Copy, Debug, PartialEq, Eq)]
        pub(super) enum Word { $($word),+ }

        impl Language {
            /// A word or sentence in this language.
            pub(super) fn say(self, word: Word) -> &'static str {
                match (word, self) {
                    $((Word::$word, Language::English) => $english, (Word::$word, Language::German) => $german,)+
                }
            }
        }

        #[cfg(test)]
        pub(super) const ALL: &[Word] = &[$(Word::$word),+];
    };
}

table! {
    // The head
    For: "For {name}.", "Für {name}.";
    OneQuestion: "One question for you.", "Eine Frage an Sie.";
    Questions: "{n} questions for you.", "{n} Fragen an Sie.";
    NoQuestion: "Nothing waits for your answer.", "Nichts wartet auf Ihre Antwort.";
    AnswerBy: "Please answer by {date}, so that it can be installed on {install}.",
        "Bitte antworten Sie bis {date}, damit am {install} eingebaut werden kann.";
    InstallOn: "It is to be installed on {install}.", "Der Einbau ist für den {install} geplant.";
    Stages: "How far the job is", "Wie weit der Auftrag ist";
    Intake: "Taken in", "Aufgenommen";
    Sampling: "Tried", "Bemustert";
    Selection: "Chosen", "Ausgewählt";
    RenderingStage: "Drawn", "Gezeichnet";
    Released: "Released", "Freigegeben";
    Built: "Built", "Gebaut";
    HandedOver: "Handed over", "Übergeben";

    // A question
    Counted: "Question {n} of {of}", "Frage {n} von {of}";
    ChoiceOf: "The light in your stone", "Das Licht in Ihrem Stein";
    RenderingOf: "The drawing", "Die Zeichnung";
    ReleaseOf: "The release of the whole build", "Die Freigabe des ganzen Baus";
    RequestOf: "The test panel", "Das Probepaneel";
    UntriedOf: "A light that was not tried", "Ein nicht erprobtes Licht";
    NoTestPanelOf: "No test panel", "Kein Probepaneel";
    NotMeasuredOf: "Not measured at the place", "Nicht vor Ort gemessen";
    SlabNotSeenOf: "A slab that was not seen lit", "Eine Platte, die nicht im Licht gesehen wurde";
    RoomLightOf: "A room of unknown light", "Ein Raum mit unbekanntem Licht";
    ElectricsOf: "What feeds it is not known", "Die Speisung ist nicht bekannt";
    OutsideOf: "Outside the limits", "Außerhalb der Grenzen";
    OrderedAheadOf: "Ordered before approval", "Vor der Freigabe bestellt";
    AcceptedOf: "The finished work", "Die fertige Arbeit";
    DimOf: "A soft light", "Ein leises Licht";
    NoServiceOf: "No repair on site", "Keine Reparatur vor Ort";
    SeamsOf: "Seams that may show", "Fugen, die sichtbar sein können";
    UnevenOf: "Uneven light", "Ungleichmäßiges Licht";
    CautionsOf: "The cautions", "Die Sicherheitshinweise";
    NotesOf: "Notes that were met", "Erfüllte Vermerke";
    Approve: "What you approve", "Was Sie freigeben";
    Accept: "What you accept", "Was Sie annehmen";
    SignedInEnglish: "This sentence is signed exactly as it stands here.",
        "Dieser Satz wird genau so angenommen, wie er hier auf Englisch steht.";
    Changed: "Changed since you approved it", "Geändert, seit Sie freigegeben haben";
    WasNow: "{was}, now {now}", "{was}, jetzt {now}";

    // Facts
    Stone: "Stone", "Stein";
    Thick: "{name}, {thickness} thick", "{name}, {thickness} dick";
    Quantity: "How many", "Wie viele";
    Alike: "{n} alike", "{n} gleiche";
    Slab: "Slab", "Platte";
    Lot: "lot {lot}", "Charge {lot}";
    Light: "Light", "Licht";
    StaticWhite: "white, fixed", "weiß, fest";
    WarmDim: "white, warmer as it is dimmed", "weiß, gedimmt wärmer";
    TunableWhite: "white, can be set; first set to {k}", "weiß, einstellbar; zuerst auf {k}";
    Rgb: "colours from red, green and blue", "Farben aus Rot, Grün und Blau";
    Rgbw: "colours and white", "Farben und Weiß";
    RgbTunableWhite: "colours, and white that can be set; first set to {k}",
        "Farben und einstellbares Weiß; zuerst auf {k}";
    Face: "Face", "Fläche";
    Diffused: "diffused: softer and more even", "diffus: weicher und gleichmäßiger";
    Clear: "clear: brighter, less even", "klar: heller, weniger gleichmäßig";
    Enters: "Light enters", "Licht tritt ein";
    AtEdge: "at edge {edges}", "an Kante {edges}";
    AtEdges: "at edges {edges}", "an den Kanten {edges}";
    And: "and", "und";
    Mount: "Mount", "Halterung";
    Tray: "tray: the panel slides out for service, the stone stays",
        "Auszug: Das Paneel gleitet zur Wartung heraus, der Stein bleibt";
    RemovableStone: "the stone lifts off for service", "Der Stein wird zur Wartung abgehoben";
    FramedFront: "framed front: it comes off from the face", "gerahmte Front: Sie wird von vorn abgenommen";
    Fixed: "closed in for good: no repair on site", "für immer verschlossen: keine Reparatur vor Ort";
    Control: "Control", "Steuerung";
    Voltage: "Voltage", "Spannung";
    VoltsDc: "{v} V d.c.", "{v} V Gleichstrom";
    Size: "Size", "Größe";
    Revision: "Revision", "Revision";
    Cutouts: "Cut-outs", "Ausschnitte";
    Seams: "Seams", "Fugen";
    None: "none", "keine";

    // After the answer
    IfApproved: "If you approve", "Wenn Sie freigeben";
    AfterChoice: "We draw and plan for exactly this. If it changes later, it is drawn and approved again, and the date may move.",
        "Wir zeichnen und planen genau dafür. Ändert es sich später, wird neu gezeichnet und freigegeben, und der Termin kann sich verschieben.";
    AfterRendering: "The engineer releases the job, and it is built exactly as drawn. After that, a change costs a new panel.",
        "Die Ingenieurin oder der Ingenieur gibt den Auftrag frei, und er wird genau so gebaut. Danach kostet eine Änderung ein neues Paneel.";
    AfterSentence: "It is built like that, and you accept what this sentence says.",
        "Es wird so gebaut, und Sie nehmen an, was dieser Satz sagt.";
    AfterRelease: "Work on your job begins.", "Die Arbeit an Ihrem Auftrag beginnt.";

    // Answers
    YourAnswer: "Your answer", "Ihre Antwort";
    Approved: "Approved", "Freigegeben";
    ApprovedMeans: "It is right. Go on.", "Es ist richtig. Machen Sie weiter.";
    ApprovedAsNoted: "Approved as noted", "Mit Vermerk freigegeben";
    ApprovedAsNotedMeans: "It is right once my notes are met.", "Es ist richtig, sobald meine Vermerke erfüllt sind.";
    Revise: "Revise and resubmit", "Ändern und neu vorlegen";
    ReviseMeans: "Change it and show it to me again.", "Ändern Sie es und zeigen Sie es mir noch einmal.";
    Rejected: "Rejected", "Abgelehnt";
    RejectedMeans: "I do not want this.", "Das möchte ich nicht.";
    Withdrawn: "Withdrawn", "Zurückgezogen";
    ByMail: "Tap an answer to write it as a mail, or say it in any other way together with the code.",
        "Tippen Sie auf eine Antwort, um sie als E-Mail zu schreiben, oder geben Sie sie auf anderem Weg zusammen mit dem Code.";
    Code: "Answer code", "Antwortcode";
    SayCode: "“{answer}, {code}”", "„{answer}, {code}“";
    StateGiven: "Approved by {who}.", "Freigegeben von {who}.";
    StateNoted: "You approved it as noted. These notes are to be met:",
        "Sie haben es mit Vermerk freigegeben. Diese Vermerke sind zu erfüllen:";
    StateRefused: "You answered: {answer}. We change it and ask you again.",
        "Sie haben geantwortet: {answer}. Wir ändern es und fragen Sie noch einmal.";
    OtherMind: "If you have changed your mind, answer again with this code.",
        "Wenn Sie Ihre Meinung geändert haben, antworten Sie noch einmal mit diesem Code.";

    // Mail
    MailSubject: "Answer: {title}", "Antwort: {title}";
    MailNote: "Note: ", "Vermerk: ";
    MailName: "Name: {name}", "Name: {name}";
    MailDate: "Date: ", "Datum: ";

    // Pictures and drawings
    Slide: "Slide to see it lit warmer or cooler", "Schieben Sie, um es wärmer oder kühler beleuchtet zu sehen";
    Warmer: "warmer", "wärmer";
    Cooler: "cooler", "kühler";
    AskedFor: "this is the one", "um dieses geht es";
    LookOf: "{stone} lit at {k}", "{stone} bei {k}";
    Scale: "the bar is {mm} mm of the stone", "der Strich ist {mm} mm des Steins";
    Honest: "Re-lit by calculation from a photo of your stone. Screens show it differently; the test panel on your own stone decides.",
        "Berechnet aus einem Foto Ihres Steins. Bildschirme zeigen es verschieden; das Probepaneel an Ihrem Stein entscheidet.";
    Ratio: "Expected at {k}: about {low} times as bright as its surroundings.",
        "Erwartet bei {k}: etwa {low}-mal so hell wie die Umgebung.";
    Luminance: "Expected at {k}: about {low} cd/m².", "Erwartet bei {k}: etwa {low} cd/m².";
    RatioRange: "Expected at {k}: {low} to {high} times as bright as its surroundings.",
        "Erwartet bei {k}: {low}- bis {high}-mal so hell wie die Umgebung.";
    LuminanceRange: "Expected at {k}: {low} to {high} cd/m².", "Erwartet bei {k}: {low} bis {high} cd/m².";
    NoLook: "There is no picture of this stone lit. The test panel on your own stone decides.",
        "Von diesem Stein gibt es kein Bild im Licht. Das Probepaneel an Ihrem Stein entscheidet.";
    ViewOf: "{panel}, drawn to scale with its dimensions; black bars mark the edges at which light enters",
        "{panel}, maßstäblich mit Maßen; schwarze Balken zeigen die Kanten, an denen Licht eintritt";
    SheetOf: "Sheet {n} of {of}, as you approve it", "Blatt {n} von {of}, wie Sie es freigeben";
    Enlarge: "Enlarge", "Vergrößern";

    // Around
    Story: "How we got here", "Wie es dazu kam";
    Opened: "The job was opened.", "Der Auftrag wurde angelegt.";
    TestPanelCame: "The test panel arrived.", "Das Probepaneel kam an.";
    TriedAt: "{stone} was tried at {k}, {face} face: “{seen}”. It pleased {rating} of 5.",
        "{stone} wurde bei {k} erprobt, Fläche {face}: „{seen}“. Gefallen: {rating} von 5.";
    TriedColour: "{stone} was tried over coloured light, {face} face: “{seen}”. It pleased {rating} of 5.",
        "{stone} wurde über farbigem Licht erprobt, Fläche {face}: „{seen}“. Gefallen: {rating} von 5.";
    DiffusedShort: "diffused", "diffus";
    ClearShort: "clear", "klar";
    Said: "{who} on {what}: {answer}.", "{who} zu {what}: {answer}.";
    Moved: "The job reached: {stage}.", "Der Auftrag erreichte: {stage}.";
    Next: "What happens next", "Was als Nächstes geschieht";
    NextReleased: "The engineer releases the job to build", "Der Auftrag wird zum Bau freigegeben";
    NextBuilt: "The panels are finished", "Die Paneele sind fertig";
    NextArrived: "The panels are on site", "Die Paneele sind auf der Baustelle";
    NextInstalled: "They are installed", "Sie werden eingebaut";
    ByLatest: "by {date} at the latest", "spätestens am {date}";
    OnDay: "on {date}", "am {date}";
    Done: "Answered already", "Schon beantwortet";
    Know: "Please know", "Bitte beachten";
    KnowMore: "A licensed person at the site decides, by the code of the place.",
        "Die zugelassene Fachperson vor Ort entscheidet nach den dort geltenden Regeln. Die Hinweise stehen hier im englischen Wortlaut, in dem sie quittiert werden.";
    How: "How to answer", "So antworten Sie";
    HowAny: "By mail, message, telephone or on a print of this page: say your answer, the code beside the question, your name and the date. {rep} takes it in.",
        "Per E-Mail, Nachricht, Telefon oder auf einem Ausdruck dieser Seite: Nennen Sie Ihre Antwort, den Code der Frage, Ihren Namen und das Datum. {rep} nimmt sie auf.";
    HowContact: "Contact: {contact}", "Kontakt: {contact}";
    HowSpell: "Codes have no 0, 1, I or O. A code that is mistyped or out of date is noticed and not taken.",
        "Codes enthalten weder 0 noch 1, weder I noch O. Ein falsch geschriebener oder überholter Code fällt auf und wird nicht angenommen.";
    Paper: "Signature", "Unterschrift";
    NameDate: "Name and date", "Name und Datum";
    Check: "How to check this", "So lässt es sich prüfen";
    CheckCode: "The first four letters of a code name the question, the next four its exact version, and the last two show that it is written right. Whatever changes in a question changes its code.",
        "Die ersten vier Zeichen eines Codes nennen die Frage, die nächsten vier ihre genaue Fassung, und die letzten beiden zeigen, dass er richtig geschrieben ist. Was sich an einer Frage ändert, ändert ihren Code.";
    CheckFile: "SHA-256 of {file}", "SHA-256 von {file}";
    CheckBook: "Project {project} in the book {book}", "Projekt {project} im Buch {book}";
    Quiet: "Nothing is sent by this page, and it fetches nothing.", "Diese Seite sendet nichts und lädt nichts nach.";

    // Words of the script
    ByMailInstead: "Or answer by mail", "Oder per E-Mail antworten";
    Note: "Your note", "Ihr Vermerk";
    AddMark: "Add a mark to sheet {n}", "Eine Stelle auf Blatt {n} markieren";
    Mark: "Mark {n}", "Stelle {n}";
    MarkText: "What about this place?", "Was ist an dieser Stelle?";
    MarkHelp: "Tap the drawing to move the mark, or set its place here.",
        "Tippen Sie auf die Zeichnung, um die Markierung zu versetzen, oder geben Sie die Stelle hier an.";
    FromLeft: "mm from the left edge of the sheet", "mm vom linken Rand des Blatts";
    FromTop: "mm from its top edge", "mm vom oberen Rand";
    RemoveMark: "Remove mark {n}", "Stelle {n} entfernen";
    Finish: "Finish and sign", "Abschließen und unterschreiben";
    FinishLink: "Finish and sign", "Abschließen";
    Count: "{n} of {of} answered", "{n} von {of} beantwortet";
    Name: "Name", "Name";
    Role: "Role", "Rolle";
    Date: "Date", "Datum";
    Typed: "Type your name as your signature", "Schreiben Sie Ihren Namen als Unterschrift";
    TypedAs: "Signed:", "Unterschrieben:";
    Drawn: "Draw your signature too, if you like", "Zeichnen Sie auf Wunsch auch Ihre Unterschrift";
    ClearDrawn: "Clear the drawn signature", "Gezeichnete Unterschrift löschen";
    Sign: "Sign and save my answers", "Unterschreiben und speichern";
    Save: "Save my answers without a signature key", "Ohne Signaturschlüssel speichern";
    NotSigned: "This browser does not sign in this page. Your answers are saved unsigned and stand by their codes.",
        "Dieser Browser signiert auf dieser Seite nicht. Ihre Antworten werden ohne Signatur gespeichert und gelten durch ihre Codes.";
    QuietHere: "Nothing is sent. Saving makes a small file for you to mail back; it says exactly what you were asked and what you answered.",
        "Es wird nichts gesendet. Das Speichern erzeugt eine kleine Datei zum Zurücksenden; darin steht genau, was Sie gefragt wurden und was Sie geantwortet haben.";
    Nothing: "Nothing is answered yet.", "Es ist noch nichts beantwortet.";
    NoteMissing: "Please write a note or a mark to this answer, so that we know what to do: {question}",
        "Bitte schreiben Sie zu dieser Antwort einen Vermerk oder eine Markierung, damit wir wissen, was zu tun ist: {question}";
    MarkMissing: "Please write what this mark is about, or remove it.",
        "Bitte schreiben Sie, was an dieser Stelle ist, oder entfernen Sie sie.";
    NameMissing: "Please write your name.", "Bitte schreiben Sie Ihren Namen.";
    DateMissing: "Please give the date.", "Bitte geben Sie das Datum an.";
    TypedMissing: "Please type your name as your signature.", "Bitte schreiben Sie Ihren Namen als Unterschrift.";
    Failed: "It could not be signed:", "Es konnte nicht signiert werden:";
    Saved: "Saved as {file}. Please mail this file to {rep}. Nothing has been sent yet.",
        "Gespeichert als {file}. Bitte senden Sie diese Datei an {rep}. Es wurde noch nichts gesendet.";
    Receipt: "What you answered", "Was Sie geantwortet haben";
    SignedWith: "Signed in this page with a key made for it: {key}", "Auf dieser Seite mit einem dafür erzeugten Schlüssel signiert: {key}";
    Unsigned: "Not signed with a key.", "Nicht mit einem Schlüssel signiert.";
    SignPasskey: "Sign with my passkey and save", "Mit meinem Passkey unterschreiben und speichern";
    SavePlain: "Save without my passkey", "Ohne meinen Passkey speichern";
    PasskeyCount: "Signed {n} of {of} with your passkey.", "{n} von {of} mit Ihrem Passkey unterschrieben.";
    PasskeyStopped: "Signed {n} of {of}; the device did not sign the next one. Press the button again to go on.",
        "{n} von {of} unterschrieben; das Gerät hat die nächste Antwort nicht unterschrieben. Drücken Sie den Knopf noch einmal, um fortzufahren.";
    OtherPasskey: "this passkey is none that the shop knows as yours.", "diesen Passkey kennt der Betrieb nicht als Ihren.";
    OwnSigned: "Your own signature, with your passkey, at {page}.", "Ihre eigene Unterschrift, mit Ihrem Passkey, auf {page}.";
    PasskeyElsewhere: "To sign with your passkey, open this page at {site}.", "Um mit Ihrem Passkey zu unterschreiben, öffnen Sie diese Seite auf {site}.";
    Passkey: "Set up a passkey", "Einen Passkey einrichten";
    PasskeyAbout: "With a passkey your answers are your own signature. Your phone, computer or security key keeps it and asks for your finger, face or PIN each time. It signs what this page asks: use it only on a page whose address {rep} told you.",
        "Mit einem Passkey sind Ihre Antworten Ihre eigene Unterschrift. Ihr Telefon, Computer oder Sicherheitsschlüssel bewahrt ihn auf und fragt jedes Mal nach Finger, Gesicht oder PIN. Er unterschreibt, was diese Seite verlangt: Benutzen Sie ihn nur auf einer Seite, deren Adresse Ihnen {rep} genannt hat.";
    PasskeyMake: "Make my passkey", "Meinen Passkey erzeugen";
    PasskeyMade: "Saved as {file}. Please mail this file to {rep}. When they call you, read these digits to them:",
        "Gespeichert als {file}. Bitte senden Sie diese Datei an {rep}. Wenn Sie angerufen werden, lesen Sie diese Ziffern vor:";
    PasskeyThen: "Then you get a new page, on which you sign with it.", "Danach bekommen Sie eine neue Seite, auf der Sie damit unterschreiben.";
    PasskeyLine: "The public key for {site}", "Der öffentliche Schlüssel für {site}";
    Print: "Print my answers", "Meine Antworten drucken";
    Copy: "If no file was saved", "Falls keine Datei gespeichert wurde";
    Whole: "Copy this text into a mail.", "Kopieren Sie diesen Text in eine E-Mail.";
    Months: "January February March April May June July August September October November December",
        "Januar Februar März April Mai Juni Juli August September Oktober November Dezember";
}

/// The words that the script says, by the names that it knows them by.
pub(super) const OF_SCRIPT: &[(&str, Word)] = &[
    ("byMail", Word::ByMailInstead),
    ("note", Word::Note),
    ("addMark", Word::AddMark),
    ("mark", Word::Mark),
    ("markText", Word::MarkText),
    ("markHelp", Word::MarkHelp),
    ("fromLeft", Word::FromLeft),
    ("fromTop", Word::FromTop),
    ("removeMark", Word::RemoveMark),
    ("finish", Word::Finish),
    ("finishLink", Word::FinishLink),
    ("count", Word::Count),
    ("name", Word::Name),
    ("role", Word::Role),
    ("date", Word::Date),
    ("typed", Word::Typed),
    ("typedAs", Word::TypedAs),
    ("drawn", Word::Drawn),
    ("clearDrawn", Word::ClearDrawn),
    ("sign", Word::Sign),
    ("save", Word::Save),
    ("notSigned", Word::NotSigned),
    ("quiet", Word::QuietHere),
    ("nothing", Word::Nothing),
    ("noteMissing", Word::NoteMissing),
    ("markMissing", Word::MarkMissing),
    ("nameMissing", Word::NameMissing),
    ("dateMissing", Word::DateMissing),
    ("typedMissing", Word::TypedMissing),
    ("failed", Word::Failed),
    ("saved", Word::Saved),
    ("receipt", Word::Receipt),
    ("signedWith", Word::SignedWith),
    ("unsigned", Word::Unsigned),
    ("signPasskey", Word::SignPasskey),
    ("savePlain", Word::SavePlain),
    ("passkeyCount", Word::PasskeyCount),
    ("passkeyStopped", Word::PasskeyStopped),
    ("otherPasskey", Word::OtherPasskey),
    ("ownSigned", Word::OwnSigned),
    ("passkeyElsewhere", Word::PasskeyElsewhere),
    ("passkey", Word::Passkey),
    ("passkeyAbout", Word::PasskeyAbout),
    ("passkeyMake", Word::PasskeyMake),
    ("passkeyMade", Word::PasskeyMade),
    ("passkeyThen", Word::PasskeyThen),
    ("passkeyLine", Word::PasskeyLine),
    ("print", Word::Print),
    ("copy", Word::Copy),
    ("whole", Word::Whole),
];

impl Language {
    /// A sentence with its places filled in.
    pub(super) fn fill(self, word: Word, places: &[(&str, &str)]) -> String {
        let mut rest = self.say(word);
        let mut filled = String::new();
        // What is filled in is not looked at again, so that a name may have braces.
        while let Some((before, (name, after))) =
            rest.split_once('{').and_then(|(before, after)| Some((before, after.split_once('}')?)))
        {
            filled.push_str(before);
            filled.push_str(places.iter().find(|(place, _)| *place == name).map_or("", |(_, text)| text));
            rest = after;
        }
        filled + rest
    }

    /// A day.
    pub(super) fn day(self, date: Date) -> String {
        let month = self.say(Word::Months).split(' ').nth(date.month() as usize - 1).unwrap_or_default();
        match self {
            Language::English => format!("{} {month} {}", date.day(), date.year()),
            Language::German => format!("{}. {month} {}", date.day(), date.year()),
        }
    }

    /// A figure with its decimal sign.
    pub(super) fn figure(self, text: &str) -> String {
        match self {
            Language::English => text.to_owned(),
            Language::German => text.replace('.', ","),
        }
    }

    /// A list: `1`, `1 and 3`, `1, 2 and 4`.
    pub(super) fn list(self, all: &[String]) -> String {
        match all {
            [] => String::new(),
            [one] => one.clone(),
            [first @ .., last] => format!("{} {} {last}", first.join(", "), self.say(Word::And)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn places(text: &str) -> Vec<&str> {
        let mut all: Vec<&str> =
            text.split('{').skip(1).filter_map(|part| part.split_once('}')).map(|(name, _)| name).collect();
        all.sort_unstable();
        all
    }

    #[test]
    fn every_language_has_every_word_with_the_same_places() {
        for word in ALL {
            let english = Language::English.say(*word);
            for language in Language::ALL {
                let text = language.say(*word);
                assert!(!text.trim().is_empty(), "{word:?} in {language}");
                assert_eq!(places(text), places(english), "{word:?} in {language}");
            }
        }
        let script = include_str!("page/packet.js");
        for (name, _) in OF_SCRIPT {
            assert!(script.contains(&format!("words.{name}")), "the script never says {name}");
        }
        let said = script
            .split("words.")
            .skip(1)
            .map(|rest| rest.chars().take_while(char::is_ascii_alphabetic).collect::<String>());
        for name in said {
            assert!(OF_SCRIPT.iter().any(|(known, _)| *known == name), "the script has no word for {name}");
        }
        assert!(Language::ALL.iter().all(|l| l.say(Word::Months).split(' ').count() == 12));
    }

    #[test]
    fn places_are_filled_once() {
        let said = Language::English.fill(Word::Said, &[("who", "{answer}"), ("what", "a"), ("answer", "b")]);
        assert_eq!(said, "{answer} on a: b.");
        assert_eq!(Language::German.day(jiff::civil::date(2027, 2, 4)), "4. Februar 2027");
        assert_eq!(Language::English.list(&["1".into(), "2".into(), "4".into()]), "1, 2 and 4");
        assert_eq!(Language::German.figure("1800.5 mm"), "1800,5 mm");
    }
}
