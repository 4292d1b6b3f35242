//! What a requirement may look at, and the small sentences that every requirement needs.

use std::collections::BTreeSet;
use std::sync::{Arc, OnceLock};

use jiff::civil::Date;

use super::plan::JobPlan;
use crate::ids::{GroupId, PanelId, PersonId};
use crate::model::panel::Panel;
use crate::model::roster::Role;
use crate::model::snapshot::{Shop, SignOff, Snapshot};
use crate::model::statement::Facts;
use crate::model::supersession::{WordState, Words, weigh};

/// A project before the gates: its snapshot, and the shop that it is built by.
///
/// Neither can change while a case is there, so what is worked out from them is worked out once.
#[derive(Clone, Debug)]
pub struct Case<'a> {
    /// The shop.
    pub shop: &'a Shop,
    /// The project.
    pub project: &'a Snapshot,
    /// The release group that the case is of; none for the whole job.
    pub group: Option<GroupId>,
    job: Arc<OnceLock<JobPlan>>,
    release: Arc<OnceLock<Facts>>,
    words: Arc<OnceLock<Words>>,
    parts: OnceLock<Vec<Part>>,
}

/// A release group of a job, as a project of its own.
#[derive(Clone, Debug)]
struct Part {
    group: GroupId,
    project: Snapshot,
    job: Arc<OnceLock<JobPlan>>,
    release: Arc<OnceLock<Facts>>,
}

impl<'a> Case<'a> {
    /// A project before the gates.
    #[must_use]
    pub fn new(shop: &'a Shop, project: &'a Snapshot) -> Self {
        Case {
            shop,
            project,
            group: None,
            job: Arc::default(),
            release: Arc::default(),
            words: Arc::default(),
            parts: OnceLock::new(),
        }
    }

    /// The release groups of the job, each as a case of its own that the same gates judge; none for a job that is released
    /// as a whole, and none for one that is such a group itself.
    pub(crate) fn parts(&self) -> impl Iterator<Item = Case<'_>> {
        let parts = self.parts.get_or_init(|| {
            let groups = if self.group.is_some() { BTreeSet::new() } else { self.project.groups() };
            let part = |id: &GroupId| Part {
                group: id.clone(),
                project: self.project.of_group(id),
                job: Arc::default(),
                release: Arc::default(),
            };
            groups.into_iter().map(part).collect()
        });
        parts.iter().map(|part| Case {
            shop: self.shop,
            project: &part.project,
            group: Some(part.group.clone()),
            job: Arc::clone(&part.job),
            release: Arc::clone(&part.release),
            // The same people said the same: which of it stands is no matter of the group.
            words: Arc::clone(&self.words),
            parts: OnceLock::new(),
        })
    }

    /// What is held against one day of installation each: where a release group has a day of its own, every group, and the
    /// job for panels that are in none; else the job.
    #[must_use]
    pub(crate) fn by_install_day(&self) -> Vec<Case<'_>> {
        let of_job = self.project.project.install_date;
        let mut all: Vec<Case<'_>> = self.parts().collect();
        if all.iter().all(|part| part.project.project.install_date == of_job) {
            all.clear();
        }
        if all.is_empty() || self.panels().any(|(_, panel)| panel.groups.is_empty()) {
            all.push(Case {
                shop: self.shop,
                project: self.project,
                group: self.group.clone(),
                job: Arc::clone(&self.job),
                release: Arc::clone(&self.release),
                words: Arc::clone(&self.words),
                parts: OnceLock::new(),
            });
        }
        all
    }

    /// The days of installation in words: `2027-03-15`, or `2027-03-01 (level-3), 2027-04-01 (level-4)`.
    #[must_use]
    pub(crate) fn install_in_words(&self) -> String {
        let mut all = self.by_install_day();
        all.sort_by_key(|part| part.project.project.install_date.unwrap_or(Date::MAX));
        let said = all.iter().map(|part| {
            let day =
                part.project.project.install_date.map_or_else(|| "not set".to_owned(), |day| day.to_string());
            match part.group.as_ref().filter(|_| self.group.is_none()) {
                Some(group) => format!("{day} ({group})"),
                None => day,
            }
        });
        said.collect::<Vec<_>>().join(", ")
    }

    /// One release group of the job; none where no panel names it.
    #[must_use]
    pub fn part(&self, group: &GroupId) -> Option<Case<'_>> {
        self.parts().find(|part| part.group.as_ref() == Some(group))
    }

    /// The panels with their names.
    pub(crate) fn panels(&self) -> impl Iterator<Item = (&'a PanelId, &'a Panel)> {
        self.project.panels.iter()
    }

    /// The project's name.
    #[must_use]
    pub(crate) fn id(&self) -> &'a str {
        self.project.project.id.as_str()
    }

    /// What all panels need, worked out together, or everything that stands in the way of each.
    #[must_use]
    pub fn job(&self) -> &JobPlan {
        self.job.get_or_init(|| super::plan::job(self.shop, self.project))
    }

    /// The facts that a release seals, as they are now: the gates say what they are.
    pub(crate) fn sealed_by_release(&self, facts: impl FnOnce(&Self) -> Facts) -> &Facts {
        self.release.get_or_init(|| facts(self))
    }

    /// Who can speak in some roles on this project: those named on the job, else everybody in the role.
    #[must_use]
    pub(crate) fn people_for(&self, roles: &[Role]) -> Vec<PersonId> {
        let named = &self.project.project.people;
        let mut people = Vec::new();
        for role in roles {
            let before = people.len();
            people.extend(named.in_role(*role).cloned());
            // Nobody approves beside the client whom the job does not name.
            if people.len() == before && *role != Role::Approver {
                people.extend(self.shop.roster.in_role(*role).map(|p| p.id.clone()));
            }
        }
        let mut seen = BTreeSet::new();
        people.retain(|person| seen.insert(person.clone()));
        people
    }

    /// Whose word a sign-off is, by name: with the name of then, where the roster has another today.
    #[must_use]
    pub(crate) fn speaker(&self, signoff: &SignOff) -> String {
        self.shop.signed_as(signoff.statement.speaker(), signoff.statement.roster.version)
    }

    /// True where a sign-off was said in a role that its speaker has on this project, or had, if the owners stand by
    /// it still. Only the job's own client speaks as client.
    #[must_use]
    pub(crate) fn has_spoken(&self, signoff: &SignOff, role: Role) -> bool {
        let speaker = signoff.statement.speaker();
        let roster = &self.shop.roster;
        self.concerns(speaker, role)
            && (roster.has_role(speaker, role) || roster.keeps(speaker, &signoff.digest))
    }

    /// What became of each sign-off that counts: truly signed, in a role that its speaker has or had here.
    #[must_use]
    pub(crate) fn words(&self) -> &Words {
        let counts = |s: &&SignOff| s.void.is_none() && self.has_spoken(s, s.statement.role);
        self.words.get_or_init(|| weigh(self.project.signoffs.iter().filter(counts)))
    }

    /// What became of one sign-off; none where it does not count.
    #[must_use]
    pub(crate) fn word(&self, signoff: &SignOff) -> Option<WordState> {
        self.words().get(&signoff.digest).copied()
    }

    fn concerns(&self, person: &PersonId, role: Role) -> bool {
        let named = &self.project.project.people;
        match role {
            Role::Client | Role::Approver => named.in_role(role).any(|named| named == person),
            _ => true,
        }
    }

    /// True where a person may speak in a role on this project. Only the job's own client speaks as client.
    #[must_use]
    pub(crate) fn may_speak(&self, person: &PersonId, role: Role) -> bool {
        self.concerns(person, role) && self.shop.roster.has_role(person, role)
    }
}
