//! What can be wrong, in the one shape in which every room reports it to a person.
//!
//! A fault says where (file, JSON pointer, line), what, and how to fix it. Its class decides the exit
//! code; its code is a stable word for programs. Being blocked at a gate is an answer and no fault.

use std::fmt;

use serde::Serialize;

use crate::visible::on_one_line;

/// The kind of a fault, which decides the program's exit code.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Class {
    /// The command was asked for something that cannot be: a wrong argument, an unknown project.
    Usage,
    /// A record or drawing is not what it must be.
    Data,
    /// An open question between two people's edits stands in the way.
    Conflict,
    /// A signature, a roster or a sealed file does not hold.
    Trust,
    /// The disk, the network or git said no.
    Io,
    /// An internal error: a bug.
    Bug,
}

impl Class {
    /// The exit code of a command that ends with a fault of this class.
    #[must_use]
    pub(crate) fn exit_code(self) -> u8 {
        match self {
            Class::Usage => 2,
            Class::Data => 3,
            Class::Conflict => 4,
            Class::Trust => 5,
            Class::Io => 6,
            Class::Bug => 70,
        }
    }
}

/// What a fault comes to for whoever goes on from it, where its class alone does not say. Whoever decides asks this, and
/// never the code, which is for programs outside.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Means {
    /// No more than its sentence says.
    #[default]
    Itself,
    /// A statement was good when it was made, and a later roster or later rules let it count no more: nothing is wrong
    /// with the book, which keeps it for ever.
    Overtaken,
    /// A move had no right to be made, until a step back answers it.
    WrongMove,
    /// A roster version lacks signatures of owners.
    OwnersMissing,
    /// The roster ends before a version that was seen.
    TurnedBack,
    /// A file of the shop is not what the owners sealed.
    Unsealed,
    /// The book is of a form that only other programs read.
    OtherFormat,
    /// A schema in the book is that of another release of underlit; editors alone read it.
    OtherRelease,
    /// Two owners made a roster version at once, and one of them is this clone's.
    MadeTwice,
    /// No plain file, or no plain name.
    NotPlain,
    /// A file that lies among statements and is none.
    NoStatement,
    /// A file that no record names.
    Unnamed,
    /// A file that a record names is missing or another.
    Attached,
    /// A record does not fit its schema.
    Schema,
    /// Marks of an unfinished merge stand in a file.
    Marked,
    /// It says whose commits they are that do not pass.
    Whose,
}

/// One thing that is wrong, where it is, and how to fix it.
#[derive(Clone, Debug, PartialEq)]
pub struct Fault {
    /// Its kind.
    pub class: Class,
    /// A stable word for programs, such as `unknown-project`.
    pub code: &'static str,
    /// What is wrong, in a sentence for people.
    pub message: String,
    /// The file it is in, relative to the book where it is one of the book's.
    pub file: Option<String>,
    /// The JSON pointer (RFC 6901) to the value, empty for the whole document.
    pub pointer: Option<String>,
    /// The line of the file, counted from 1.
    pub line: Option<usize>,
    /// The column on that line, counted from 1, where that helps.
    pub column: Option<usize>,
    /// How to fix it.
    pub remedy: Option<String>,
    /// Where in a drawing, in millimetres.
    pub at_mm: Option<[f64; 2]>,
    /// Another file that it is about as well: one that is named, and is not there or not the same.
    pub other: Option<String>,
    /// What it comes to.
    pub means: Means,
}

impl Fault {
    /// A fault of a class, with its stable code and its sentence.
    #[must_use]
    pub(crate) fn new(class: Class, code: &'static str, message: impl Into<String>) -> Self {
        Fault {
            class,
            code,
            message: message.into(),
            file: None,
            pointer: None,
            line: None,
            column: None,
            remedy: None,
            at_mm: None,
            other: None,
            means: Means::Itself,
        }
    }

    /// Says what it comes to.
    #[must_use]
    pub(crate) fn that_means(mut self, means: Means) -> Self {
        self.means = means;
        self
    }

    /// True where one of its files is among those that are asked for.
    pub(crate) fn is_about(&self, among: impl Fn(&str) -> bool) -> bool {
        [&self.file, &self.other].into_iter().flatten().any(|path| among(path))
    }

    /// Says which other file it is about as well.
    #[must_use]
    pub(crate) fn with_other(mut self, path: impl Into<String>) -> Self {
        self.other = Some(path.into());
        self
    }

    /// A wrong argument.
    #[must_use]
    pub(crate) fn usage(code: &'static str, message: impl Into<String>) -> Self {
        Self::new(Class::Usage, code, message)
    }

    /// A wrong record.
    #[must_use]
    pub fn data(code: &'static str, message: impl Into<String>) -> Self {
        Self::new(Class::Data, code, message)
    }

    /// A signature or a sealed file that does not hold.
    #[must_use]
    pub fn trust(code: &'static str, message: impl Into<String>) -> Self {
        Self::new(Class::Trust, code, message)
    }

    /// Trouble with the disk, the network or git.
    #[must_use]
    pub(crate) fn io(code: &'static str, message: impl Into<String>) -> Self {
        Self::new(Class::Io, code, message)
    }

    /// The same fault, in a file.
    #[must_use]
    pub(crate) fn in_file(mut self, file: impl Into<String>) -> Self {
        self.file = Some(file.into());
        self
    }

    /// The same fault, at a JSON pointer.
    #[must_use]
    pub(crate) fn at_pointer(mut self, pointer: impl Into<String>) -> Self {
        self.pointer = Some(pointer.into());
        self
    }

    /// The same fault, on a line.
    #[must_use]
    pub(crate) fn on_line(mut self, line: Option<usize>) -> Self {
        self.line = line;
        self
    }

    /// The same fault, with the way to fix it.
    #[must_use]
    pub(crate) fn fix(mut self, remedy: impl Into<String>) -> Self {
        self.remedy = Some(remedy.into());
        self
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(file) = &self.file {
            write!(f, "{}", on_one_line(file))?;
            if let Some(line) = self.line {
                write!(f, ":{line}")?;
                if let Some(column) = self.column {
                    write!(f, ":{column}")?;
                }
            }
            if let Some(pointer) = self.pointer.as_deref().filter(|p| !p.is_empty()) {
                write!(f, " {}", on_one_line(pointer))?;
            }
            write!(f, ": ")?;
        }
        write!(f, "{}", self.message)
    }
}

impl std::error::Error for Fault {}

impl From<Box<Fault>> for Fault {
    fn from(boxed: Box<Fault>) -> Self {
        *boxed
    }
}

impl From<Box<Fault>> for Vec<Fault> {
    fn from(fault: Box<Fault>) -> Self {
        vec![*fault]
    }
}

/// A result whose error is a [`Fault`], boxed so that the good way stays small.
pub(crate) type Outcome<T> = Result<T, Box<Fault>>;
