//! Why one sign-off or move counts, or why it does not, step by step from its bytes on.

use serde::Serialize;

use super::book::Asked;
use super::moves;
use super::past::Brought;
use super::place::Place;
use super::verdict::ProjectVerdict;
use super::{book, state};
use crate::digest::Sha256Digest;
use crate::fault::{Fault, Means};
use crate::gates::standing::{self, Standing};
use crate::git::{ChangeKind, PathChange};
use crate::ids::{PersonId, ProjectId};
use crate::job::Case;
use crate::model::kind::Kind;
use crate::model::moves::Move;
use crate::model::snapshot::{Shop, SignOff};
use crate::model::statement::Statement;
use crate::model::view::changes;
use crate::signing::Armour;
use crate::store::{BookFiles, strict_json};
use crate::trust::chain::Chain;
use crate::trust::counting::{self, Sealed};
use crate::trust::incoming::States;
use crate::trust::project;

/// One step of the explanation.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub(crate) struct Step {
    /// What is looked at, in a word or two.
    pub about: &'static str,
    /// True where it speaks for the statement.
    pub holds: bool,
    /// What was found.
    pub found: String,
}

/// The explanation of one statement.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct Explained {
    /// Its digest, which is its name.
    pub sha256: String,
    /// Its file.
    pub file: String,
    /// Its project.
    pub project: ProjectId,
    /// True where it counts today.
    pub counts: bool,
    /// Step by step.
    pub steps: Vec<Step>,
    /// Commands that check the signature with stock tools, from the book's folder.
    pub check_yourself: Vec<String>,
    /// What does not hold, where it is more than a later word, fact or roster.
    #[serde(skip)]
    pub faults: Vec<Fault>,
}

/// Explains the statement whose digest begins so.
///
/// # Errors
/// `unknown-statement`, `which-statement`; whatever keeps the roster from being read.
pub(crate) fn explain(from: &std::path::Path, asked: &Asked, digest: &str) -> Result<Explained, Vec<Fault>> {
    let place = Place::find(from, asked.at.as_deref())?;
    let (start, _) = book::start(&place, asked)?;
    let judged = state::judge(place.book(), &start, Some(&std::collections::BTreeSet::new()));
    let (Some(chain), Some(shop)) = (&judged.chain, &judged.shop) else { return Err(judged.faults) };
    let mut found: Vec<(ProjectId, String)> = Vec::new();
    for (id, _) in place.projects(None)? {
        let names = place.with_project(&id, |book| statements(book, &id))?;
        found.extend(
            names.into_iter().filter(|path| name_of(path).starts_with(digest)).map(|path| (id.clone(), path)),
        );
    }
    match found.as_slice() {
        [(id, path)] => {
            let mut explained = place.with_project(id, |book| of(book, chain, shop, id, path))?;
            if let Some(brought) = came_in(&place, id, path)? {
                explained.came_in(&brought);
                if Kind::of_path(path) == Some(Kind::Move) {
                    explained.gate_then(&place, chain, shop, &brought)?;
                }
            }
            Ok(explained)
        }
        [] => Err(vec![
            Fault::usage(
                "unknown-statement",
                format!("no sign-off or move has a digest that begins with {digest}"),
            )
            .fix("`underlit verify --json` lists every one"),
        ]),
        several => Err(vec![
            Fault::usage("which-statement", format!("{} statements begin with {digest}", several.len()))
                .fix("give more of its digest"),
        ]),
    }
}

/// How to check a statement with stock programs, in a clone of the book.
#[must_use]
pub(crate) fn by_hand(path: &str, signer: &PersonId, namespace: &str) -> Vec<String> {
    vec![
        format!("sha256sum {path}"),
        "underlit allowed-signers > signers".to_owned(),
        format!(
            "ssh-keygen -Y verify -f signers -I {signer} -n {namespace} -s {} < {path}",
            path.replace(".json", ".sig")
        ),
        format!("git log --format='%h %an %s' -- {path}"),
    ]
}

fn name_of(path: &str) -> &str {
    path.rsplit('/').next().unwrap_or_default()
}

fn statements(book: &dyn BookFiles, id: &ProjectId) -> Result<Vec<String>, Vec<Fault>> {
    let mut all = book.files_of(&format!("projects/{id}/signoffs"), Kind::SignOff)?;
    all.extend(book.files_of(&format!("projects/{id}/moves"), Kind::Move)?);
    Ok(all)
}

fn of(
    book: &dyn BookFiles,
    chain: &Chain,
    shop: &Shop,
    id: &ProjectId,
    path: &str,
) -> Result<Explained, Vec<Fault>> {
    let bytes = book.read(path, strict_json::LARGEST)?;
    let signature = book.signature_beside(path)?;
    let mut told = Telling { steps: Vec::new(), faults: Vec::new() };
    let digest = Sha256Digest::of(&bytes);
    let named = name_of(path) == format!("{digest}.json");
    told.say("name", named, format!("the SHA-256 of its bytes is {digest}"));
    let armour = signature.as_deref().map(Armour::parse);
    match &armour {
        None => told.say("signature", false, "no signature lies beside it".into()),
        Some(Err(error)) => told.say("signature", false, error.to_string()),
        Some(Ok(armour)) => told.say("signature", true, counting::signature_in_words(armour, &bytes)),
    }
    let sealed = Sealed { path, bytes: &bytes, signature: signature.as_deref() };
    let mut signer = None;
    if Kind::of_path(path) == Some(Kind::SignOff) {
        match counting::sign_off(chain, &shop.rules, id, sealed) {
            Err(faults) => told.refuse(faults),
            Ok((statement, void)) => {
                signer = Some(statement.signer.clone());
                told.sign_off(book, chain, shop, id, SignOff { digest, statement, void });
            }
        }
    } else {
        match counting::project_move(chain, &shop.rules, id, sealed) {
            Err(faults) => told.refuse(faults),
            Ok(step) => {
                signer = Some(step.signer.clone());
                told.a_move(book, chain, shop, id, digest, &step);
            }
        }
    }
    let check_yourself = match (signer, armour) {
        (Some(signer), Some(Ok(armour))) => by_hand(path, &signer, armour.namespace()),
        _ => Vec::new(),
    };
    Ok(Explained {
        sha256: digest.hex(),
        file: path.to_owned(),
        project: id.clone(),
        counts: told.steps.iter().all(|s| s.holds),
        steps: told.steps,
        check_yourself,
        faults: told.faults,
    })
}

struct Telling {
    steps: Vec<Step>,
    faults: Vec<Fault>,
}

impl Telling {
    fn say(&mut self, about: &'static str, holds: bool, found: String) {
        self.steps.push(Step { about, holds, found });
    }

    fn refuse(&mut self, faults: Vec<Fault>) {
        for fault in faults {
            self.say("trust", false, fault.message.clone());
            if fault.means != Means::Overtaken {
                self.faults.push(fault);
            }
        }
    }

    fn sign_off(&mut self, book: &dyn BookFiles, chain: &Chain, shop: &Shop, id: &ProjectId, found: SignOff) {
        let statement: &Statement = &found.statement;
        let name = |p| shop.signed_as(p, statement.roster.version);
        let by = match &statement.evidence {
            None => "with a signature of their own".to_owned(),
            Some(e) => format!("by written evidence ({}) that {} recorded", e.how, name(&statement.signer)),
        };
        self.say(
            "says",
            true,
            format!(
                "{} ({}) {}, {by}",
                name(statement.speaker()),
                statement.role,
                statement.decision.done_to(&statement.about)
            ),
        );
        let under = format!("roster version {}", statement.roster.version);
        match &found.void {
            None => self.say("roster", true, format!("the signer had that role and key on {under}, and has them today or the owners keep what was said")),
            Some(_) => self.say("roster", true, format!("it was signed under {under}")),
        }
        let snapshot = match project::load(book, chain, &shop.rules, id) {
            Ok(snapshot) => snapshot,
            Err(faults) => return self.refuse(faults),
        };
        let case = Case::new(shop, &snapshot);
        // As the project's own reading judged it, which looks at the scan as well.
        let judged = snapshot.signoffs.iter().find(|s| s.digest == found.digest).unwrap_or(&found);
        if let Some(void) = &judged.void {
            self.refuse(vec![void.clone()]);
        }
        let (stands, now) = standing::standing(&case, judged);
        match stands {
            Standing::Replaced | Standing::Overruled | Standing::Withdrawn | Standing::Overridden => {
                self.say("later sign-offs", false, standing::why(&case, judged).unwrap_or_default());
            }
            Standing::DoesNotCount if judged.void.is_none() => {
                self.say("role", false, standing::why(&case, judged).unwrap_or_default());
            }
            Standing::Stale => {
                for change in changes(&statement.facts, &now) {
                    self.say("facts", false, change.in_words());
                }
            }
            Standing::Fits => self.say("facts", true, "every fact that it seals is as it was".into()),
            Standing::DoesNotCount => {}
        }
        let verdict = ProjectVerdict::of(&case);
        let said = verdict.signoffs.iter().find(|s| s.sha256 == found.digest);
        let rests = said.map(|s| s.counts_for.join(", ")).unwrap_or_default();
        if !rests.is_empty() {
            self.say("gates", true, format!("{rests} rests on it, up to {}", verdict.stage));
        }
    }

    fn a_move(
        &mut self,
        book: &dyn BookFiles,
        chain: &Chain,
        shop: &Shop,
        id: &ProjectId,
        digest: Sha256Digest,
        step: &Move,
    ) {
        self.say(
            "says",
            true,
            format!(
                "{} ({}) moves {id} from {} to {}, under roster version {}",
                shop.signed_as(&step.signer, step.roster.version),
                step.role,
                step.from,
                step.to,
                step.roster.version
            ),
        );
        let snapshot = match project::load(book, chain, &shop.rules, id) {
            Ok(snapshot) => snapshot,
            Err(faults) => return self.refuse(faults),
        };
        if let Some((_, fault)) = snapshot.void_moves.iter().find(|(void, _)| *void == digest) {
            return self.refuse(vec![fault.clone()]);
        }
        if !step.signoffs.is_empty() {
            self.say(
                "approvals",
                true,
                format!("the {} sign-offs that it names are here", step.signoffs.len()),
            );
        }
        let standing = snapshot.standing();
        if standing.overtaken.contains(&digest) {
            self.say(
                "later sign-offs",
                false,
                "it has no effect: a later step back is not answered by it, or no \
                valid move leads to it"
                    .into(),
            );
        } else {
            self.say(
                "later sign-offs",
                true,
                format!("it leads to {}, where the project is", standing.stage),
            );
        }
    }
}

/// Which commit brought the statement: the first that has it.
fn came_in(place: &Place, id: &ProjectId, path: &str) -> Result<Option<Brought>, Vec<Fault>> {
    let (Some(hub), Some(commit)) = (&place.hub, place.commit) else { return Ok(None) };
    let mut first = None;
    for commit in hub.newest_first(&[commit], &[], path)? {
        let commit = commit?;
        let added = |c: &PathChange| c.path == path && c.kind() == ChangeKind::Added;
        if commit.against.iter().flatten().any(added) {
            first = Some(Brought {
                commit: commit.id,
                author: commit.author,
                project: id.clone(),
                moves: vec![path.to_owned()],
                begins: commit.parents.is_empty() || commit.cut_off,
                cut_off: commit.cut_off,
            });
        }
    }
    Ok(first)
}

impl Explained {
    fn came_in(&mut self, brought: &Brought) {
        self.steps.push(Step {
            about: "history",
            holds: true,
            found: if brought.cut_off {
                format!("it was there when the history here begins, with commit {}; who brought it is not known here: underlit part --past", brought.commit.short())
            } else {
                format!(
                    "commit {} by {} brought it (who and when as the commit says)",
                    brought.commit.short(),
                    brought.author.name
                )
            },
        });
    }

    /// What the gate says of a move in the state that has it first.
    fn gate_then(
        &mut self,
        place: &Place,
        chain: &Chain,
        shop: &Shop,
        brought: &Brought,
    ) -> Result<(), Vec<Fault>> {
        let Some(hub) = &place.hub else { return Ok(()) };
        let mut say = |holds, found| self.steps.push(Step { about: "gate then", holds, found });
        if brought.begins {
            say(true, "nothing before that commit is known here, so only its signature speaks for it".into());
            return Ok(());
        }
        let missed = match moves::of_commit(hub, &mut States::default(), chain, brought) {
            Ok(passed) => {
                if passed.missed.is_empty() {
                    say(true, "it had the right to be made in that commit: no gate was shut".into());
                }
                for (_, what) in passed.since {
                    say(true, format!("later versions ask for more: {what}"));
                }
                passed.missed
            }
            Err(faults) => faults,
        };
        if missed.is_empty() {
            return Ok(());
        }
        missed.iter().for_each(|fault| say(false, fault.message.clone()));
        self.counts = false;
        let shut = moves::shut(brought, missed);
        let answered = place.with_project(&brought.project, |book| {
            project::load(book, chain, &shop.rules, &brought.project).map(|now| shut.is_answered(&now))
        });
        if !answered? {
            self.faults.extend(shut.into_faults());
        }
        Ok(())
    }
}
