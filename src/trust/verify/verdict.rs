//! What a project's files come to: its stage, whether it may be built, and every reason with the sign-offs behind it.
//!
//! A verdict is made of the files, the roster and this program, and of nothing else: no clock, no name in a commit.

use serde::{Deserialize, Serialize};

use crate::digest::Sha256Digest;
use crate::gates::standing::{self, Standing};
use crate::gates::{Finding, State, evaluate, hands, is_released, released_groups};
use crate::ids::{GroupId, PanelId, PersonId, ProjectId};
use crate::job::Case;
use crate::lookalike::Note;
use crate::model::roster::Role;
use crate::model::snapshot::SignOff;
use crate::model::stage::Stage;
use crate::model::statement::Decision;
use crate::trust::{alike, redraw};
use crate::words::words;

/// What one project comes to.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ProjectVerdict {
    /// The project.
    pub id: ProjectId,
    /// Its title.
    pub title: String,
    /// The stage that its moves lead to.
    pub stage: Stage,
    /// True where it may be built.
    pub released: bool,
    /// The release groups that may be built, where the job is released group by group.
    #[serde(default)]
    pub groups_released: Vec<GroupId>,
    /// True where every gate behind it holds today.
    pub holds: bool,
    /// What is met of the gates behind, in order.
    pub met: Vec<Reason>,
    /// What is not met of the gates behind, in order.
    pub broken: Vec<Reason>,
    /// Everything that was signed about facts, in the order in which it was signed.
    pub signoffs: Vec<Said>,
    /// The moves that lead to the stage, in order, and then those that lead nowhere.
    pub moves: Vec<Moved>,
    /// Statements that do not count, by file, with the reason.
    pub void: Vec<String>,
    /// The panels whose sheets another edition of this program drew, so that they cannot be drawn again and compared. What
    /// was signed of them stands.
    #[serde(default)]
    pub sheets_apart: Vec<PanelId>,
    /// One hand in two roles, in a sentence each.
    pub one_hand: Vec<String>,
    /// Titles that look alike, or mix scripts.
    pub notes: Vec<Note>,
}

/// One requirement, met or not.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Reason {
    /// The gate, by the stage that it leads into.
    pub gate: Stage,
    /// The requirement's name.
    pub requirement: String,
    /// What is there, or what is missing.
    pub what: String,
    /// The sign-offs that it rests on.
    pub signoffs: Vec<Sha256Digest>,
}

/// One sign-off.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Said {
    /// Its digest, which is its name.
    pub sha256: Sha256Digest,
    /// About what.
    pub about: String,
    /// What it says.
    pub decision: Decision,
    /// Whose word it is.
    pub who: String,
    /// In which role.
    pub role: Role,
    /// Whose key signed it.
    pub signer: PersonId,
    /// How a written answer came that it takes in; none for a signature of the person's own.
    pub evidence: Option<String>,
    /// The roster version that it was signed under.
    pub roster_version: u32,
    /// Whether it still fits.
    pub standing: Standing,
    /// Why, where it does not fit.
    pub why: Option<String>,
    /// The requirements that rest on it.
    pub counts_for: Vec<String>,
}

words! {
    /// How a move stands.
    MoveStanding, "standing of a move" {
        /// The project came this way.
        OnTheWay = "on-the-way",
        /// A step back, or one like it, overtook it.
        Overtaken = "overtaken",
    }
}

/// One move.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Moved {
    /// Its digest, which is its name.
    pub sha256: Sha256Digest,
    /// The stage that was left.
    pub from: Stage,
    /// The stage that was reached.
    pub to: Stage,
    /// Who made it.
    pub who: String,
    /// In which role.
    pub role: Role,
    /// The roster version that it was signed under.
    pub roster_version: u32,
    /// Whether the project came this way.
    pub standing: MoveStanding,
}

impl ProjectVerdict {
    /// The verdict on a project.
    #[must_use]
    pub(crate) fn of(case: &Case<'_>) -> Self {
        let project = case.project;
        let standing = project.standing();
        let verdict = evaluate(case, standing.stage);
        let (met, broken): (Vec<&Finding>, Vec<&Finding>) =
            verdict.findings.iter().partition(|f| f.state == State::Met);
        let mut signoffs: Vec<&SignOff> = project.signoffs.iter().collect();
        signoffs.sort_by(|a, b| (&a.statement.time, a.digest).cmp(&(&b.statement.time, b.digest)));
        let moved = |digest: &Sha256Digest, stands: MoveStanding| {
            let made = project.moves.get(digest)?;
            Some(Moved {
                sha256: *digest,
                from: made.from,
                to: made.to,
                who: case.shop.signed_as(&made.signer, made.roster.version),
                role: made.role,
                roster_version: made.roster.version,
                standing: stands,
            })
        };
        let beside = project.moves.keys().filter(|d| !standing.path.contains(d));
        ProjectVerdict {
            id: project.project.id.clone(),
            title: project.project.title.clone(),
            stage: standing.stage,
            released: is_released(case),
            groups_released: released_groups(case),
            holds: verdict.passes(),
            met: met.into_iter().map(reason).collect(),
            broken: broken.into_iter().map(reason).collect(),
            signoffs: signoffs.into_iter().map(|s| said(case, s, &verdict.findings)).collect(),
            moves: standing
                .path
                .iter()
                .filter_map(|d| moved(d, MoveStanding::OnTheWay))
                .chain(beside.filter_map(|d| moved(d, MoveStanding::Overtaken)))
                .collect(),
            void: project
                .void_signoffs
                .iter()
                .chain(project.void_moves.iter().map(|(_, fault)| fault))
                .map(ToString::to_string)
                .collect(),
            notes: alike::titles(case),
            sheets_apart: project
                .renderings
                .iter()
                .filter(|(_, drawn)| !redraw::can_be_compared(drawn))
                .map(|(panel, _)| panel.clone())
                .collect(),
            one_hand: hands::warnings(case).into_iter().map(|w| w.message).collect(),
        }
    }
}

fn reason(finding: &Finding) -> Reason {
    Reason {
        gate: finding.gate,
        requirement: finding.requirement.to_owned(),
        what: finding.what.clone(),
        signoffs: finding.signoffs.clone(),
    }
}

fn said(case: &Case<'_>, signoff: &SignOff, findings: &[Finding]) -> Said {
    let statement = &signoff.statement;
    let (stands, now) = standing::standing(case, signoff);
    let why = match stands {
        Standing::Stale => {
            let changes = crate::model::view::changes(&statement.facts, &now);
            let words: Vec<String> = changes.iter().map(crate::model::view::Change::in_words).collect();
            Some(words.join("; "))
        }
        _ => standing::why(case, signoff),
    };
    let rests = findings.iter().filter(|f| f.state == State::Met && f.signoffs.contains(&signoff.digest));
    let mut counts_for: Vec<String> = rests.map(|f| f.requirement.to_owned()).collect();
    counts_for.dedup();
    Said {
        sha256: signoff.digest,
        about: statement.about.to_string(),
        decision: statement.decision,
        who: case.speaker(signoff),
        role: statement.role,
        signer: statement.signer.clone(),
        evidence: statement.evidence.as_ref().map(|e| e.how.clone()),
        roster_version: statement.roster.version,
        standing: stands,
        why,
        counts_for,
    }
}
