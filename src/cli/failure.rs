//! How a failure is worded, and with which exit code the program leaves.

use serde_json::{Value, json};

use super::SAID;
use super::printer::{Ink, Printer};
use crate::fault::{Class, Fault};

/// How a verb ended that did what it was asked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Exit {
    /// Done.
    Done,
    /// The answer is "not yet".
    Blocked,
    /// Done, and a question between edits is open.
    OpenQuestion,
    /// What another program that called expects to hear.
    Other(u8),
}

/// What a verb gives back: how it ended, or everything that stood in its way.
pub(crate) type Outcome = Result<Exit, Vec<Fault>>;

impl Exit {
    /// The exit code.
    pub(crate) fn code(self) -> u8 {
        match self {
            Exit::Done => 0,
            Exit::Blocked => 1,
            Exit::OpenQuestion => Class::Conflict.exit_code(),
            Exit::Other(code) => code,
        }
    }
}

/// The exit code of a failure: that of its gravest fault.
pub(crate) fn exit_code(faults: &[Fault]) -> u8 {
    faults.iter().map(|f| f.class).max().unwrap_or(Class::Bug).exit_code()
}

/// Says what stood in the way.
pub(crate) fn report(printer: &Printer, faults: &[Fault]) {
    if printer.is_json() {
        let all: Vec<Value> = faults.iter().map(as_json).collect();
        printer.json(&json!({ "error": all.first(), "errors": all }));
        return;
    }
    for fault in faults {
        printer.remark_in(Ink::Late, wrong(fault));
        fix(fault).iter().for_each(|fix| printer.remark(fix));
    }
    if faults.len() > 1 {
        printer.remark(format!("{} things are wrong.", faults.len()));
    }
}

/// A fault for people: where and what in one line, how to fix it in the next.
pub(crate) fn in_words(fault: &Fault) -> String {
    [Some(wrong(fault)), fix(fault)].into_iter().flatten().collect::<Vec<_>>().join("\n")
}

fn wrong(fault: &Fault) -> String {
    let mut text = format!("underlit: {fault}");
    if let Some([x, y]) = fault.at_mm {
        text.push_str(&format!(" (at {x:.3}, {y:.3} mm)"));
    }
    // Where somebody else's words follow on lines of their own, the code stands with the sentence that is ours.
    let end = text.find('\n').unwrap_or(text.len());
    text.insert_str(end, &format!(" [{}]", fault.code));
    text
}

fn fix(fault: &Fault) -> Option<String> {
    fault.remedy.as_ref().map(|fix| format!("  Fix: {fix}"))
}

/// A fault for programs.
pub(crate) fn as_json(fault: &Fault) -> Value {
    json!({
        "class": fault.class,
        "code": fault.code,
        "message": fault.message,
        "file": fault.file,
        "pointer": fault.pointer,
        "line": fault.line,
        "column": fault.column,
        "remedy": fault.remedy,
        "at_mm": fault.at_mm,
    })
}

/// What is wrong, into an answer that tells more than that: all of it as `errors`, and the first as `error` where there is any.
pub(crate) fn put_errors(answer: &mut Value, all: Vec<Value>) {
    if let Some(first) = all.first() {
        answer["error"] = first.clone();
    }
    answer["errors"] = all.into();
}

/// Faults that stand in the answer already, and still decide the exit code.
pub(crate) fn said(faults: Vec<Fault>) -> Vec<Fault> {
    faults.into_iter().map(|fault| Fault { code: SAID, ..fault }).collect()
}
