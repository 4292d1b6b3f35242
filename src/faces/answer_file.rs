//! The file that a packet's page saves: answers as JSON, and under them, where the browser could sign, a signature in ssh's
//! format over exactly these bytes.
//!
//! ```text
//! { "underlit_answer": 1, … }
//! -----BEGIN SSH SIGNATURE-----
//! …
//! ```
//! The key was made in the page, so that nobody vouches for whose it is: the signature shows that nothing was altered after
//! the signing. An unsigned file stands by its codes. Beside an answer there may be the very statement that its giver signed
//! with a passkey, with that signature: then it is their own word, and the file only carries it.

use jiff::civil::Date;
use serde::Deserialize;

use super::intake::{Answer, Own, Reply, altered};
use crate::fault::{Fault, Outcome};
use crate::ids::{BookId, ProjectId};
use crate::model::statement::Decision;
use crate::ops::sign::Scan;
use crate::packet::facts::MARK;
use crate::signing::{Armour, Namespace, verify};
use crate::store::strict_json;
use crate::visible::{on_one_line, visible};

/// The largest answer that is read, in bytes.
const LARGEST: usize = 1 << 20;

/// The most answers of one file.
const MOST: usize = 200;

/// How the signature under the words begins. Within the words no line begins so: there, line ends are escaped.
const SIGNATURE: &str = "\n-----BEGIN SSH SIGNATURE-----";

/// The file as the page writes it.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Written {
    underlit_answer: u32,
    book: BookId,
    project: ProjectId,
    name: String,
    role: String,
    date: Date,
    signed: String,
    drawn: String,
    key: Option<String>,
    answers: Vec<WrittenAnswer>,
}

#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct WrittenAnswer {
    code: String,
    #[serde(rename = "question")]
    _question: String,
    answer: Decision,
    note: String,
    marks: Vec<WrittenMark>,
    /// The statement that was signed with a passkey, to the letter.
    #[serde(default)]
    statement: Option<String>,
    /// Its signature.
    #[serde(default)]
    signature: Option<String>,
}

#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct WrittenMark {
    sheet: u32,
    left_mm: i32,
    top_mm: i32,
    note: String,
}

/// What an answer file says, before it is held against the book.
#[derive(Clone, Debug)]
pub struct AnswerFile {
    /// The book that its packet was made from.
    pub book: BookId,
    /// The answers, and how they came.
    pub reply: Reply,
    /// What is said of who answered: the name, the role, the day and the signature that was typed.
    pub by: String,
    /// The key that was made in the page, where it is signed.
    pub key: Option<String>,
}

fn no_answer(message: impl Into<String>) -> Box<Fault> {
    Box::new(Fault::data("no-answer-file", message).fix(
        "give the file that the packet's page saved; a letter or a mail is taken in with --code CODE --scan FILE",
    ))
}

/// The namespace of answers that are signed in a packet's page.
fn namespace() -> Outcome<Namespace> {
    Namespace::of_role("packet")
        .map_err(|e| Box::new(Fault::new(crate::fault::Class::Bug, "namespace", e.to_string())))
}

/// Reads an answer file and holds its signature against its words.
///
/// # Errors
/// `no-answer-file`; `answer-altered` where its words are not the signed ones or the signature is gone.
pub fn read(bytes: &[u8], scan: Scan) -> Outcome<AnswerFile> {
    if bytes.len() > LARGEST {
        return Err(no_answer(format!("it has {} bytes, and an answer has at most {LARGEST}", bytes.len())));
    }
    let text = std::str::from_utf8(bytes).map_err(|_| no_answer("it is no text"))?;
    // Mail programs may change how lines end. The words that are signed have no carriage return of their own.
    let text = text.replace("\r\n", "\n");
    let (words, signature) = match text.find(SIGNATURE) {
        Some(at) => text.split_at(at + 1),
        None => (text.as_str(), ""),
    };
    let value = strict_json::parse(words.as_bytes())
        .map_err(|f| no_answer(format!("it is no answer of a packet: {}", f.message)))?;
    let written: Written =
        serde_json::from_value(value).map_err(|e| no_answer(format!("it is no answer of a packet: {e}")))?;
    if written.underlit_answer != 1 {
        return Err(no_answer(format!(
            "it is an answer of form {}; this underlit reads form 1",
            written.underlit_answer
        )));
    }
    if written.answers.len() > MOST {
        return Err(no_answer(format!(
            "it has {} answers, and at most {MOST} are read",
            written.answers.len()
        )));
    }
    let key = match (signature.is_empty(), &written.key) {
        (true, None) => None,
        (true, Some(_)) => return Err(altered("it says that it is signed, and the signature is not there")),
        (false, said) => {
            let mut armour = signature.trim_end().to_owned();
            armour.push('\n');
            let armour = Armour::parse(armour.as_bytes())
                .map_err(|e| altered(format!("its signature is damaged: {e}")))?;
            if verify(armour.key(), &namespace()?, words.as_bytes(), &armour).is_err() {
                return Err(altered(
                    "it was altered after it was signed: the signature is not over these words",
                ));
            }
            let key = armour.key().fingerprint();
            if said.as_ref() != Some(&key) {
                return Err(altered(format!(
                    "it is signed with {key}, and says {}",
                    said.as_deref().unwrap_or("that it is not signed")
                )));
            }
            Some(key)
        }
    };
    Ok(AnswerFile {
        book: written.book.clone(),
        by: told_by(&written),
        reply: Reply {
            project: Some(written.project.clone()),
            person: None,
            how: how(&written, key.as_deref()),
            scan: Some(scan),
            answers: written.answers.iter().map(answer).collect(),
        },
        key,
    })
}

/// What was signed with a passkey.
fn own(written: &WrittenAnswer) -> Option<Own> {
    let (statement, signature) = (written.statement.clone()?, written.signature.clone()?);
    Some(Own { statement, signature })
}

fn short(text: &str) -> String {
    on_one_line(text.trim()).chars().take(60).collect()
}

fn told_by(written: &Written) -> String {
    let drawn = if written.drawn.is_empty() { "" } else { ", and drawn" };
    let [name, role, signed] = [&written.name, &written.role, &written.signed].map(|text| short(text));
    format!("{name} ({role}), {}, signed “{signed}”{drawn}", written.date)
}

fn how(written: &Written, key: Option<&str>) -> String {
    let signed = short(&written.signed);
    match key {
        Some(key) => format!("packet of {}, by “{signed}”, {key}", written.date),
        None => format!("packet of {}, by “{signed}”, no key", written.date),
    }
}

/// One answer with its note and its marks as a sign-off keeps them: what must be met for an approval as noted, else why.
fn answer(written: &WrittenAnswer) -> Answer {
    let note = Some(visible(written.note.trim())).filter(|note| !note.is_empty());
    let marks = written.marks.iter().enumerate().map(|(at, mark)| {
        // The note comes last, so that nothing in it is taken for a place.
        MARK.replace("{n}", &(at + 1).to_string())
            .replace("{sheet}", &mark.sheet.to_string())
            .replace("{left}", &mark.left_mm.to_string())
            .replace("{top}", &mark.top_mm.to_string())
            .replace("{note}", &visible(mark.note.trim()))
    });
    let said: Vec<String> = note.into_iter().chain(marks).collect();
    let noted = written.answer == Decision::ApprovedAsNoted;
    Answer {
        code: written.code.clone(),
        decision: written.answer,
        comment: Some(said.join("\n")).filter(|text| !noted && !text.is_empty()),
        notes: if noted { said } else { Vec::new() },
        own: own(written),
    }
}
