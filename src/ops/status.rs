//! Where a project stands: its stage, what is missing before the next, what is stale, who said what.

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use super::dates::{Dates, dates};
use super::earlier_trials;
use super::loans::{Loan, loans};
use super::notes::{self, NoteLine};
use super::reading::{Reading, group_of};
use crate::fault::Fault;
use crate::gates::standing::{self, Standing};
use crate::gates::{Finding, Verdict, Warning, advice, evaluate, is_released, requirements};
use crate::ids::{GroupId, PersonId, ProjectId};
use crate::job::Case;
use crate::lookalike::SOURCE;
use crate::model::roster::Role;
use crate::model::snapshot::SignOff;
use crate::model::stage::Stage;
use crate::model::statement::Decision;
use crate::model::view::{Change, changes};
use crate::trust::about::{self, About, QuestionLine};
use crate::trust::alike;
use crate::trust::surroundings::Surroundings;
use crate::trust::vanished::{self, Vanished};
use crate::words::counted;

/// Where a project stands.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct Status {
    /// The project's name.
    pub id: ProjectId,
    /// Its title.
    pub title: String,
    /// Its stage.
    pub stage: Stage,
    /// The release group that this is of; none for the whole job.
    pub group: Option<GroupId>,
    /// The release groups of the job, each with whether it may be built.
    pub groups: Vec<GroupLine>,
    /// Since when, as the last move says; none at the start.
    pub since: Option<String>,
    /// The stage after this one.
    pub next: Option<Stage>,
    /// True where nothing is missing before the next stage.
    pub may_advance: bool,
    /// True where it may be built: released, and every gate up to there holds today.
    pub released: bool,
    /// False where something that an earlier gate asked for no longer holds.
    pub holds: bool,
    /// What no longer holds of the gates behind.
    pub broken: Vec<Finding>,
    /// What the next gate still asks for.
    pub missing: Vec<Finding>,
    /// What is met.
    pub met: Vec<Finding>,
    /// What to know besides.
    pub warnings: Vec<Warning>,
    /// How it stands against its install date.
    pub dates: Option<Dates>,
    /// Why that cannot be said.
    pub no_dates: Option<String>,
    /// The test panels that are out on loan.
    pub loans: Vec<Loan>,
    /// Everything that was signed.
    pub signoffs: Vec<SignOffLine>,
    /// What people noted on the project and its records.
    pub notes: Vec<NoteLine>,
    /// Signed files that do not count, with the reason.
    pub void: Vec<String>,
    /// Open questions between edits of the project's own records.
    pub questions: Vec<QuestionLine>,
    /// Open questions about files of the shop that bear on the project, each with why.
    pub shop_questions: Vec<QuestionLine>,
    /// Questions about the project's own records that went away without an answer.
    pub vanished: Vec<Vanished>,
}

/// One release group, as a person reads it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct GroupLine {
    /// Its name.
    pub id: GroupId,
    /// True where it may be built.
    pub released: bool,
    /// How many panels it takes, each of a kind counted once.
    pub panel_count: usize,
    /// How many are built in it.
    pub piece_count: usize,
    /// How many things are missing before it may be built.
    pub missing_count: usize,
}

impl GroupLine {
    /// The release groups of a job.
    #[must_use]
    pub(crate) fn of(case: &Case<'_>) -> Vec<GroupLine> {
        let line = |part: Case<'_>| {
            let missing_count = evaluate(&part, Stage::Released).missing().count();
            Some(GroupLine {
                released: missing_count == 0,
                panel_count: part.panels().count(),
                piece_count: part.panels().map(|(_, panel)| panel.count()).sum(),
                missing_count,
                id: part.group?,
            })
        };
        case.parts().filter_map(line).collect()
    }

    /// It in words: `level-3: 3 kinds of panel, 21 to build; may be built`.
    #[must_use]
    pub(crate) fn in_words(&self) -> String {
        let kinds = counted(self.panel_count, "kind of panel", "kinds of panel");
        let state = match self.missing_count {
            0 => "may be built".to_owned(),
            n => format!("{} missing", counted(n, "thing is", "things are")),
        };
        format!("{}: {kinds}, {} to build; {state}", self.id, self.piece_count)
    }
}

/// One sign-off, as a person reads it.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct SignOffLine {
    /// Its digest.
    pub sha256: String,
    /// About what.
    pub about: String,
    /// Whose word it is.
    pub who: String,
    /// In which role.
    pub role: Role,
    /// What it says.
    pub decision: Decision,
    /// Whose key signed it.
    pub signer: PersonId,
    /// How a written answer came that it takes in; none for a signature of the person's own.
    pub evidence: Option<String>,
    /// The same two in words: `own signature`, or `evidence (letter) taken in by …`.
    #[serde(skip)]
    pub kind: String,
    /// `fits`, `stale`, `replaced`, `overruled`, `overridden`, `withdrawn` or `does-not-count`.
    pub standing: Standing,
    /// Why it does not count.
    pub why: Option<String>,
    /// What was said beside it.
    pub comment: Option<String>,
    /// When, as it says itself.
    pub at: String,
    /// What changed since.
    pub changes: Vec<Change>,
}

/// Reads where a project stands.
///
/// # Errors
/// Everything that is wrong with it.
pub(crate) fn status(
    reading: &Reading,
    id: &ProjectId,
    group: Option<&GroupId>,
    around: &Surroundings<'_>,
) -> Result<Status, Vec<Fault>> {
    let snapshot = reading.project(id)?;
    let gone = vanished::of(reading.book.root(), &About::Project(id.clone()))?;
    let case = reading.case(&snapshot);
    let part = group.map(|group| group_of(&case, Some(group))).transpose()?.flatten();
    let mut status = whole(part.as_ref().unwrap_or(&case), gone, around);
    status.warnings.extend(earlier_trials::no_longer_there(reading, &snapshot));
    Ok(status)
}

/// Where a project that was read stands, with everything to know besides, and the questions of it that went away.
#[must_use]
pub(crate) fn whole(case: &Case<'_>, gone: Vec<Vanished>, around: &Surroundings<'_>) -> Status {
    let mut status = of(case, around.today());
    status.warnings = advice::warnings(case);
    status.vanished = gone;
    let notes = alike::of_project(case).into_iter();
    status.warnings.extend(notes.map(|note| Warning {
        code: note.code.word(),
        panels: Vec::new(),
        message: note.message,
        source: SOURCE,
    }));
    status
}

/// Where a project that was read stands, without the warnings, which are dear and which only [`status`] shows.
#[must_use]
pub(crate) fn of(case: &Case<'_>, today: Date) -> Status {
    let project = case.project;
    let standing = project.standing();
    // A release group goes through no stages: what counts of it is whether it may be built.
    let next = if case.group.is_some() { Some(Stage::Released) } else { standing.stage.next() };
    let verdict: Verdict = evaluate(case, next.unwrap_or(standing.stage));
    let (behind, ahead): (Vec<Finding>, Vec<Finding>) =
        verdict.missing().cloned().partition(|f| f.gate <= standing.stage && case.group.is_none());
    let counted = dates(case, today);
    let done = standing.stage == Stage::HandedOver || project.installation.is_some();
    Status {
        id: project.project.id.clone(),
        title: project.project.title.clone(),
        stage: standing.stage,
        group: case.group.clone(),
        groups: GroupLine::of(case),
        since: standing.last.and_then(|d| project.moves.get(&d)).map(|m| m.time.clone()),
        next,
        may_advance: next.is_some() && case.group.is_none() && verdict.passes(),
        released: is_released(case),
        holds: behind.is_empty(),
        broken: behind,
        missing: ahead,
        met: verdict.findings.iter().filter(|f| f.state == crate::gates::State::Met).cloned().collect(),
        warnings: Vec::new(),
        no_dates: counted.as_ref().err().filter(|_| !done).cloned(),
        dates: counted.ok().filter(|_| !done),
        loans: loans(project, today),
        signoffs: project.signoffs.iter().map(|s| line(case, s)).collect(),
        notes: notes::of(case),
        void: project
            .void_signoffs
            .iter()
            .chain(project.void_moves.iter().map(|(_, f)| f))
            .map(ToString::to_string)
            .collect(),
        questions: about::in_one_line(&project.conflicts),
        shop_questions: requirements::of_the_shop(case)
            .map(|(file, question, why)| QuestionLine {
                file: file.to_owned(),
                text: format!("{}; {why}", question.in_words()),
            })
            .collect(),
        vanished: Vec::new(),
    }
}

fn line(case: &Case<'_>, signoff: &SignOff) -> SignOffLine {
    let statement = &signoff.statement;
    let (standing, now) = standing::standing(case, signoff);
    let name = |p: &PersonId| case.shop.roster.name_of(p);
    SignOffLine {
        sha256: signoff.digest.hex(),
        about: statement.about.to_string(),
        who: case.speaker(signoff),
        role: statement.role,
        decision: statement.decision,
        signer: statement.signer.clone(),
        evidence: statement.evidence.as_ref().map(|e| e.how.clone()),
        kind: match &statement.evidence {
            None => "own signature".into(),
            Some(e) => format!("evidence ({}) recorded by {}", e.how, name(&statement.signer)),
        },
        standing,
        why: match (&signoff.void, standing) {
            (Some(void), _) => Some(void.to_string()),
            (None, Standing::DoesNotCount | Standing::Overruled | Standing::Overridden) => {
                standing::why(case, signoff)
            }
            _ => None,
        },
        comment: statement.comment.clone(),
        at: statement.time.clone(),
        changes: if standing == Standing::Stale { changes(&statement.facts, &now) } else { Vec::new() },
    }
}
