//! The merge of one file: which bytes stay, and what is open about them. Stock git's merge driver and the merge of
//! whole trees both come through here.

use serde_json::Value;

use super::equal::{by_text, identical};
use super::{Layout, Question, Rules, Touched, Treatment, merge};

/// Something that base, ours and theirs each have.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Three<T> {
    /// What both sides started from.
    pub base: T,
    /// What is here.
    pub ours: T,
    /// What comes in.
    pub theirs: T,
}

impl<T> Three<T> {
    /// What one of them has.
    pub(crate) fn of(self, side: Keep) -> T {
        match side {
            Keep::Base => self.base,
            Keep::Ours => self.ours,
            Keep::Theirs => self.theirs,
        }
    }
}

/// A side to keep.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Keep {
    /// What it was before.
    Base,
    /// What is here.
    Ours,
    /// What comes in.
    Theirs,
}

/// What a file becomes. A side that has no such file stands for no file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Held {
    /// What one side has.
    Kept(Keep),
    /// New bytes, merged from both.
    New(Vec<u8>),
}

/// A question about a file.
#[derive(Clone, Debug, PartialEq)]
pub enum FileQuestion {
    /// About a place in a record.
    Place(Question),
    /// About all of its bytes.
    Bytes,
}

/// What was decided about a file.
#[derive(Clone, Debug, PartialEq)]
pub struct Decided {
    /// What it becomes.
    pub held: Held,
    /// What is open.
    pub questions: Vec<FileQuestion>,
}

impl Decided {
    fn clean(keep: Keep) -> Self {
        Decided { held: Held::Kept(keep), questions: Vec::new() }
    }

    /// The bytes that the file gets; `None` where there is no file.
    #[must_use]
    pub fn bytes<'b>(&'b self, sides: Three<Option<&'b [u8]>>) -> Option<&'b [u8]> {
        match &self.held {
            Held::Kept(keep) => sides.of(*keep),
            Held::New(bytes) => Some(bytes),
        }
    }
}

/// Merges the file at `path`.
///
/// Where the file was there before, every open place keeps its base. Where both sides made it new and it is not the
/// same, the one that reads first stands, so that what points at the file still finds it, and the whole file is the
/// question; of two add-only files the one that comes in stands, because others have it already.
#[must_use]
pub fn merge_file(layout: &Layout, path: &str, sides: Three<Option<&[u8]>>, touched: &Touched) -> Decided {
    match layout.treatment(path) {
        Treatment::AddOnly => add_only(sides),
        Treatment::Conflict => opened_and_answered(sides),
        Treatment::Attachment => attachment(sides, touched),
        Treatment::Unasked => Decided { questions: Vec::new(), ..attachment(sides, touched) },
        Treatment::Record(rules) => {
            let read = |bytes: Option<&[u8]>| bytes.map(|bytes| layout.read(path, bytes)).transpose();
            match (read(sides.base), read(sides.ours), read(sides.theirs)) {
                (Ok(base), Ok(ours), Ok(theirs)) => {
                    let values = Three { base: base.as_ref(), ours: ours.as_ref(), theirs: theirs.as_ref() };
                    record(layout, path, rules, sides, values, touched)
                }
                _ => attachment(sides, touched),
            }
        }
    }
}

fn add_only(sides: Three<Option<&[u8]>>) -> Decided {
    match (sides.base, sides.ours, sides.theirs) {
        (Some(_), _, _) => Decided::clean(Keep::Base),
        (None, Some(_), None) => Decided::clean(Keep::Ours),
        (None, Some(ours), Some(theirs)) if ours != theirs => {
            Decided { held: Held::Kept(Keep::Theirs), questions: vec![FileQuestion::Bytes] }
        }
        _ => Decided::clean(Keep::Theirs),
    }
}

fn opened_and_answered(sides: Three<Option<&[u8]>>) -> Decided {
    if sides.ours == sides.theirs || sides.theirs == sides.base {
        return Decided::clean(Keep::Ours);
    }
    if sides.ours == sides.base {
        return Decided::clean(Keep::Theirs);
    }
    // Edited by hand on both sides, or answered on one: an answer ends the question.
    Decided::clean(match (sides.ours, sides.theirs) {
        (None, _) => Keep::Ours,
        (_, None) => Keep::Theirs,
        (Some(ours), Some(theirs)) if reads_first(ours, theirs) => Keep::Ours,
        _ => Keep::Theirs,
    })
}

fn attachment(sides: Three<Option<&[u8]>>, touched: &Touched) -> Decided {
    if sides.ours == sides.theirs {
        return Decided::clean(Keep::Ours);
    }
    if touched.theirs.is_empty() && sides.theirs == sides.base {
        return Decided::clean(Keep::Ours);
    }
    if touched.ours.is_empty() && sides.ours == sides.base {
        return Decided::clean(Keep::Theirs);
    }
    let keep = match (sides.base, sides.ours, sides.theirs) {
        (Some(_), _, _) => Keep::Base,
        (None, Some(ours), Some(theirs)) if reads_first(ours, theirs) => Keep::Ours,
        (None, Some(_), None) => Keep::Ours,
        _ => Keep::Theirs,
    };
    Decided { held: Held::Kept(keep), questions: vec![FileQuestion::Bytes] }
}

fn reads_first(a: &[u8], b: &[u8]) -> bool {
    (a.len(), a) <= (b.len(), b)
}

fn record(
    layout: &Layout,
    path: &str,
    rules: &Rules,
    sides: Three<Option<&[u8]>>,
    values: Three<Option<&Value>>,
    touched: &Touched,
) -> Decided {
    if sides.ours == sides.theirs {
        return Decided::clean(Keep::Ours);
    }
    if touched.theirs.is_empty() && sides.theirs == sides.base {
        return Decided::clean(Keep::Ours);
    }
    if touched.ours.is_empty() && sides.ours == sides.base {
        return Decided::clean(Keep::Theirs);
    }
    let mut merged = merge(rules, values.base, values.ours, values.theirs, touched);
    if let (None, Some(ours), Some(theirs)) = (values.base, values.ours, values.theirs)
        && !merged.questions.is_empty()
    {
        let first = if by_text(ours, theirs).is_le() { ours } else { theirs };
        merged.value = Some(first.clone());
    }
    let questions = merged.questions.into_iter().map(FileQuestion::Place).collect();
    let is = |side: Option<&Value>| identical(merged.value.as_ref(), side);
    let held = match (is(values.ours), is(values.theirs)) {
        // The same letters in another layout of lines: both machines have to choose the same bytes.
        (true, true) => match (sides.ours, sides.theirs) {
            (Some(ours), Some(theirs)) if !reads_first(ours, theirs) => Held::Kept(Keep::Theirs),
            _ => Held::Kept(Keep::Ours),
        },
        (true, false) => Held::Kept(Keep::Ours),
        (false, true) => Held::Kept(Keep::Theirs),
        (false, false) if is(values.base) => Held::Kept(Keep::Base),
        (false, false) => match &merged.value {
            Some(value) => Held::New(layout.write(path, value)),
            None => Held::Kept(Keep::Base),
        },
    };
    Decided { held, questions }
}

/// What stock git's merge driver gets for one file.
#[derive(Clone, Debug, PartialEq)]
pub struct Driven {
    /// The bytes to put in place of ours.
    pub bytes: Vec<u8>,
    /// What stays open. Not empty means that the driver has to fail, so that git stops and says so: a question needs
    /// a record of its own, which only a merge of the whole tree can write.
    pub questions: Vec<FileQuestion>,
}

/// The merge of one file as stock git asks its merge driver for it (`%O %A %B`), the very same as in a merge of whole
/// trees. An empty base is how git says that there was none.
#[must_use]
pub fn drive(layout: &Layout, path: &str, sides: Three<&[u8]>) -> Driven {
    let three = Three {
        base: Some(sides.base).filter(|base| !base.is_empty()),
        ours: Some(sides.ours),
        theirs: Some(sides.theirs),
    };
    let decided = merge_file(layout, path, three, &Touched::default());
    let bytes = decided.bytes(three).unwrap_or(sides.ours).to_vec();
    Driven { bytes, questions: decided.questions }
}
