//! Whose questions are meant, each in one line, and what is chosen in answer to one.

use std::collections::BTreeMap;

use serde::Serialize;
use serde_json::Value;

use super::shop;
use crate::ids::ProjectId;
use crate::model::conflict::Conflict;
use crate::model::question::{Question, questions};

/// Whose questions: one project's, or those about files outside any project.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum About {
    /// A project's records.
    Project(ProjectId),
    /// The shop's lists, rules, roster, and everything else that is the whole book's.
    Shop,
}

impl std::fmt::Display for About {
    /// As the command line names it.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            About::Project(id) => id.fmt(f),
            About::Shop => f.write_str("--shop"),
        }
    }
}

impl About {
    /// Whose question is recorded at a path of the book.
    #[must_use]
    pub(crate) fn of_path(path: &str) -> About {
        ProjectId::of_path(path).map_or(About::Shop, About::Project)
    }

    /// The folder in which their questions lie.
    pub(crate) fn folder(&self) -> String {
        match self {
            About::Project(id) => format!("projects/{id}/{}", shop::CONFLICTS),
            About::Shop => shop::CONFLICTS.to_owned(),
        }
    }
}

/// What is chosen in answer to a question.
#[derive(Clone, Debug, PartialEq)]
pub enum Chosen {
    /// What was there before any edit.
    Base,
    /// One of the edits, counted from 0.
    Side(usize),
    /// Something else.
    Value(Value),
}

/// An open question in one line.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub(crate) struct QuestionLine {
    /// The record of the question.
    pub file: String,
    /// The question.
    pub text: String,
}

/// The questions that records come to, each in one line.
#[must_use]
pub(crate) fn in_one_line(records: &BTreeMap<String, Conflict>) -> Vec<QuestionLine> {
    let line =
        |question: &Question| QuestionLine { file: question.records[0].0.clone(), text: question.in_words() };
    questions(records).iter().map(line).collect()
}
