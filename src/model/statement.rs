//! `signoffs/<sha256>.json`: a signed statement. Who, in which role, says what of exactly which facts.
//!
//! A statement stores the facts that it is about, so that one which no longer fits can say which fact
//! changed. It names the statements of the same signer that it takes the place of, so that no clock
//! decides which one counts.

use std::collections::BTreeMap;
use std::fmt;

use serde::{Deserialize, Serialize};

use super::attachment::Attachment;
use super::roster::Role;
use crate::digest::Sha256Digest;
use crate::ids::{BookId, GroupId, PanelId, PersonId, ProjectId, RequestId};
use crate::words::words;

words! {
    /// The set of facts that a statement is about.
    View, "view" {
        /// A test-panel request.
        Request = "request",
        /// What was chosen for a panel: stone, light, face, lit edges, voltage, mount, control.
        Choice = "choice",
        /// The exact drawing of a panel.
        Rendering = "rendering",
        /// A rule that is knowingly set aside.
        Waiver = "waiver",
        /// A consequence that is knowingly accepted.
        Acknowledgement = "acknowledgement",
        /// The whole build, or all of one release group.
        Release = "release",
        /// A refusal that owners set aside, for a reason that they state.
        Override = "override",
    }
}

words! {
    /// What a waiver or an acknowledgement is about.
    Topic, "topic" {
        /// The chosen colour temperature was never tried on this stone.
        CctNotTried = "cct-not-tried",
        /// No test panel is made: an earlier job's trial shows the stone, or the client wants none.
        Sampling = "sampling",
        /// The lit stone will be, or may be, less bright beside its surroundings than the shop wants.
        Dim = "dim",
        /// The outline was not measured at the place.
        NotMeasured = "not-measured",
        /// The very slab was not seen lit.
        SlabNotSeen = "slab-not-seen",
        /// Nobody knows how light the room is.
        RoomLightUnknown = "room-light-unknown",
        /// Mains voltage, electrical code or a driver's place is not known.
        ElectricsUnknown = "electrics-unknown",
        /// The panel left the bench outside the shop's limits.
        OutsideLimits = "outside-limits",
        /// The panel cannot be serviced once installed.
        NoFieldService = "no-field-service",
        /// The panel is built in pieces and its seams may show.
        Seams = "seams",
        /// The lit edges will light the face unevenly.
        UnevenLight = "uneven-light",
        /// Something was ordered before its drawing was approved.
        OrderedAhead = "ordered-ahead",
        /// The finished work was looked at and taken over.
        Accepted = "accepted",
        /// The cautions of the job were read.
        Cautions = "cautions",
        /// The notes under an approval as noted were met.
        NotesMet = "notes-met",
    }
}

words! {
    /// What a statement says of its facts, in plain submittal words.
    Decision, "decision" {
        /// They are right; work may go on.
        Approved = "approved",
        /// They are right once every note is met.
        ApprovedAsNoted = "approved-as-noted",
        /// They must be changed and shown again.
        ReviseAndResubmit = "revise-and-resubmit",
        /// They are refused.
        Rejected = "rejected",
        /// An earlier statement of the same signer no longer stands.
        Withdrawn = "withdrawn",
    }
}

impl Decision {
    /// What somebody did who signed this about a subject: `rejected the release`.
    #[must_use]
    pub fn done_to(self, subject: &impl fmt::Display) -> String {
        match self {
            Self::Approved => format!("approved {subject}"),
            Self::ApprovedAsNoted => format!("approved {subject} as noted"),
            Self::ReviseAndResubmit => format!("asked for changes to {subject}"),
            Self::Rejected => format!("rejected {subject}"),
            Self::Withdrawn => format!("withdrew an earlier sign-off on {subject}"),
        }
    }
}

/// One sealed fact: a whole number within ±(2⁵³ − 1), or text.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(untagged)]
pub enum Fact {
    /// A whole number; lengths are in micrometres.
    Number(i64),
    /// Text.
    Text(String),
}

impl fmt::Display for Fact {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Fact::Number(n) => write!(f, "{n}"),
            Fact::Text(t) => f.write_str(t),
        }
    }
}

/// Sealed facts by their names, such as `panel.light.cct_k`.
pub type Facts = BTreeMap<String, Fact>;

/// What a statement is about.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Subject {
    /// The set of facts.
    pub view: View,
    /// The panel, for a choice, a rendering, and most waivers and acknowledgements.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub panel: Option<PanelId>,
    /// The request, for the view of that name.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub request: Option<RequestId>,
    /// The topic, for a waiver or an acknowledgement.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub topic: Option<Topic>,
    /// The statement whose notes are met, for that topic.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub notes_of: Option<Sha256Digest>,
    /// The refusal that is set aside, for the view override.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub refusal: Option<Sha256Digest>,
    /// The release group, for a release or the cautions of one group of the job.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub group: Option<GroupId>,
}

impl Subject {
    /// The whole build.
    #[must_use]
    pub fn release() -> Self {
        Subject {
            view: View::Release,
            panel: None,
            request: None,
            topic: None,
            notes_of: None,
            refusal: None,
            group: None,
        }
    }

    /// A view of one panel.
    #[must_use]
    pub fn panel(view: View, panel: &PanelId) -> Self {
        Subject { panel: Some(panel.clone()), view, ..Self::release() }
    }

    /// A test-panel request.
    #[must_use]
    pub fn request(request: &RequestId) -> Self {
        Subject { view: View::Request, request: Some(request.clone()), ..Self::release() }
    }

    /// A waiver or an acknowledgement, of one panel or of the whole project.
    #[must_use]
    pub fn topic(view: View, topic: Topic, panel: Option<&PanelId>) -> Self {
        Subject { view, topic: Some(topic), panel: panel.cloned(), ..Self::release() }
    }

    /// The notes of an approval as noted, met.
    #[must_use]
    pub fn notes_met(statement: Sha256Digest, panel: Option<&PanelId>) -> Self {
        Subject { notes_of: Some(statement), ..Self::topic(View::Acknowledgement, Topic::NotesMet, panel) }
    }

    /// A refusal, set aside.
    #[must_use]
    pub fn override_of(refusal: Sha256Digest) -> Self {
        Subject { view: View::Override, refusal: Some(refusal), ..Self::release() }
    }

    /// The arguments of `underlit sign` that name this subject: `choice --panel front`.
    #[must_use]
    pub(crate) fn arguments(&self) -> String {
        let mut text = self.view.word().to_owned();
        for (flag, value) in [
            ("--panel", self.panel.as_ref().map(ToString::to_string)),
            ("--request", self.request.as_ref().map(ToString::to_string)),
            ("--topic", self.topic.map(|t| t.word().to_owned())),
            ("--notes-of", self.notes_of.map(|d| d.hex())),
            ("--refusal", self.refusal.map(|d| d.hex())),
            ("--group", self.group.as_ref().map(ToString::to_string)),
        ] {
            if let Some(value) = value {
                text.push_str(&format!(" {flag} {value}"));
            }
        }
        text
    }
}

impl fmt::Display for Subject {
    /// The subject in trade words: `the choice for panel front`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.view {
            View::Request => f.write_str("the test-panel request")?,
            View::Choice => f.write_str("the choice")?,
            View::Rendering => f.write_str("the rendering")?,
            View::Waiver => f.write_str("the waiver")?,
            View::Acknowledgement => f.write_str("the acknowledgement")?,
            View::Release if self.group.is_some() => f.write_str("the release")?,
            View::Release => f.write_str("the release of the whole build")?,
            View::Override => f.write_str("the override")?,
        }
        if let Some(topic) = self.topic {
            write!(f, " `{topic}`")?;
        }
        if let Some(request) = &self.request {
            write!(f, " {request}")?;
        }
        if let Some(panel) = &self.panel {
            write!(f, " for panel {panel}")?;
        }
        if let Some(group) = &self.group {
            write!(f, " of group {group}")?;
        }
        if let Some(refusal) = &self.refusal {
            write!(f, " of refusal {}", refusal.short())?;
        }
        Ok(())
    }
}

/// The roster version that a statement was made under.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RosterRef {
    /// Its number.
    pub version: u32,
    /// Its digest.
    pub sha256: Sha256Digest,
}

/// A person's written answer, taken in by somebody who signs for its truth.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Evidence {
    /// Whose answer it is.
    pub person: PersonId,
    /// How it came: by letter, by mail, on paper.
    pub how: String,
    /// The scan or message, kept beside the statement and named by its digest.
    pub scan: Attachment,
}

/// A statement, as it is signed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Statement {
    /// Path of the schema, for editors.
    #[serde(rename = "$schema")]
    pub schema: String,
    /// The book in which it was made.
    pub book: BookId,
    /// The project in which it was made.
    pub project: ProjectId,
    /// What it is about.
    pub about: Subject,
    /// The role in which it speaks.
    pub role: Role,
    /// What it says.
    pub decision: Decision,
    /// Why, in the signer's words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub comment: Option<String>,
    /// What must be met, for an approval as noted.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub notes: Vec<String>,
    /// The facts that it is about, complete.
    pub facts: Facts,
    /// The earlier statements of the same signer that it takes the place of.
    pub supersedes: Vec<Sha256Digest>,
    /// Who signed.
    pub signer: PersonId,
    /// Under which roster.
    pub roster: RosterRef,
    /// Whose written answer it takes in, where it is no signature of that person's own.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub evidence: Option<Evidence>,
    /// The edition of the rules on what stands and what is replaced by which it was said; none for the first. A refusal
    /// or a withdrawal of the present edition binds every later move, for a program that does not know these rules
    /// cannot read it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub edition: Option<u32>,
    /// When it was made; informative only.
    pub time: String,
    /// Random, so that no two statements are the same.
    pub nonce: String,
}

/// The present edition of [`Statement::edition`].
pub const EDITION: u32 = 2;

impl Statement {
    /// Whose word it is: the signer's, or that of the person whose answer was taken in.
    #[must_use]
    pub(crate) fn speaker(&self) -> &PersonId {
        self.evidence.as_ref().map_or(&self.signer, |e| &e.person)
    }
}
