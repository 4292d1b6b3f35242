//! `rules.json`: which approvals each gate needs and who may give them. Sealed by the roster's owners.

use serde::{Deserialize, Serialize};

use crate::digest::Sha256Digest;
use crate::units::Millimetres;
use crate::words::words;

use super::roster::Role;
use super::statement::{Subject, Topic, View};

/// The shop's rules.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Rules {
    /// Path of the schema, for editors.
    #[serde(rename = "$schema")]
    pub schema: String,
    /// Who must approve what: for each view, every line is needed.
    pub approvals: Vec<ApprovalRule>,
    /// In which roles an approval may be taken in as evidence, and who may take it in.
    pub evidence: EvidenceRule,
    /// Who may move a project on.
    pub advance: Vec<Role>,
    /// Who may move a project back.
    pub reopen: Vec<Role>,
    /// Roles that one person, or one key, may not fill on one job; often none.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub apart: Vec<Role>,
    /// The least ratio of the stone's luminance to its surroundings' below which a warning is shown and, where
    /// `approvals` asks for the waiver `dim`, the choice waits for it.
    #[serde(serialize_with = "crate::units::number")]
    pub least_luminance_ratio: f64,
    /// How far the test panel's colour temperature may lie from the chosen one and still count as tried, in kelvin.
    pub tried_within_k: u32,
    /// How far an outline may lie from the one that was signed and still be the same to everybody but the engineer; none
    /// where each change asks everybody.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub same_within_mm: Option<Millimetres>,
    /// What a panel must show on the bench before it leaves the shop; none in old books.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bench: Option<BenchLimits>,
    /// What this shop asks of a job besides what every shop asks; nothing in old books.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub asks: Vec<Ask>,
    /// The files that the host of the shared repository may read or run, each as the owners saw it; none in old books.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub host_files: Vec<HostFile>,
}

words! {
    /// What a shop may ask of a job besides what every shop asks.
    Ask, "thing that a shop asks" {
        /// Every panel is recorded as sent and as received, and its damage as settled.
        Delivery = "delivery",
        /// What rests on the choice is asked with the choice: uneven light is acknowledged, and parts for the place are listed.
        BeforeChoice = "before-choice",
        /// Every outline rests on a template or a survey of the place, or its waiver is signed.
        MeasuredOnSite = "measured-on-site",
        /// Every panel's very slab was seen lit, or its waiver is signed.
        SlabSeen = "slab-seen",
        /// The light in the room is known before test panels are asked for, or its waiver is signed.
        RoomLight = "room-light",
        /// Mains voltage, electrical code and every driver's place are known, or the panel's waiver is signed.
        SiteElectrics = "site-electrics",
    }
}

/// What a panel must show on the bench. The figures are the shop's own.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BenchLimits {
    /// How far the measured watts may lie from those that were worked out, in percent of these.
    #[serde(serialize_with = "crate::units::number")]
    pub watts_within_pct: f64,
    /// How far the measured colour temperature may lie from the chosen one, in kelvin.
    pub cct_within_k: u32,
    /// The least ratio of the darkest to the brightest of nine points on the face.
    #[serde(serialize_with = "crate::units::number")]
    pub least_evenness: f64,
    /// True where a photo of the lit panel is asked.
    pub photo: bool,
}

/// A file for a hosting service, such as a workflow.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct HostFile {
    /// Its path in the book.
    pub file: String,
    /// The digest of its bytes.
    pub sha256: Sha256Digest,
}

/// One approval that a view needs.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ApprovalRule {
    /// What is approved.
    pub view: View,
    /// Of which topic, for a waiver or an acknowledgement.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub topic: Option<Topic>,
    /// In which role.
    pub role: Role,
    /// By how many different people.
    pub people: u32,
    /// True where every approver whom a job names has to, however many; for the role of approver only.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub every: Option<bool>,
}

/// In which roles written evidence may stand for a person's own signature.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct EvidenceRule {
    /// The roles whose approval may be taken in as evidence.
    pub roles: Vec<Role>,
    /// The roles that may take it in, signing for its truth.
    pub taken_by: Vec<Role>,
}

/// What is wrong in the rules that their schema cannot see.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct RuleFault {
    /// Where.
    pub pointer: String,
    /// What.
    pub message: String,
}

impl RuleFault {
    /// A stable name for programs.
    pub(crate) const CODE: &'static str = "rule-cannot-be-met";
    /// What to do about it.
    pub(crate) const REMEDY: &'static str =
        "write \"people\": 1; whom the client asks in their own house is theirs to settle before they sign";
}

impl Rules {
    /// Rules that nobody could ever meet: a job has one client, who alone speaks as such.
    #[must_use]
    pub(crate) fn faults(&self) -> Vec<RuleFault> {
        self.approvals
            .iter()
            .enumerate()
            .filter(|(_, rule)| rule.role == Role::Client && rule.people > 1)
            .map(|(at, rule)| RuleFault {
                pointer: format!("/approvals/{at}/people"),
                message: format!(
                    "{} people are asked for as client, and a job has one client, and only that person signs as client",
                    rule.people
                ),
            })
            .collect()
    }

    /// The approvals that a subject needs.
    pub fn needed(&self, subject: &Subject) -> impl Iterator<Item = &ApprovalRule> {
        let (view, topic) = (subject.view, subject.topic);
        self.approvals.iter().filter(move |a| a.view == view && a.topic == topic)
    }
}
