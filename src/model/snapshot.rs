//! One project with everything that the gates look at: records read, drawings measured, signatures judged.
//!
//! A snapshot is made by `ops` from a book's files and is never written. It holds no clock: what depends
//! on today is shown beside a verdict and is no part of it.

use std::collections::{BTreeMap, BTreeSet};

use jiff::civil::Date;

use super::book::Book;
use super::conflict::Conflict;
use super::handover::{AsBuilt, Installation};
use super::moves::{Move, Standing, standing};
use super::note::Note;
use super::panel::Panel;
use super::project::Project;
use super::rendering::Rendering;
use super::request::Request;
use super::roster::Roster;
use super::rules::Rules;
use super::sizes::{SizeOf, Sizes};
use super::statement::{RosterRef, Statement};
use super::swatch::Swatch;
use super::trial::Trial;
use crate::digest::Sha256Digest;
use crate::fault::Fault;
use crate::ids::{GroupId, NoteId, PanelId, PersonId, RequestId, SwatchId, TrialId};
use crate::making::calendar::ShopCalendar;
use crate::making::routes::Routes;
use crate::power::controls::Controls;
use crate::power::drivers::Drivers;
use crate::power::lights::Lights;
use crate::power::wire_stock::WireStock;
use crate::shape::{Figures, Outline, ShapeError, figures, inset};
use crate::units::Millimetres;

/// The shop: its name, people, rules and lists, as the newest roster seals them.
#[derive(Clone, Debug)]
pub struct Shop {
    /// `book.json`.
    pub book: Book,
    /// The newest roster.
    pub roster: Roster,
    /// The digest of the newest roster.
    pub roster_digest: Sha256Digest,
    /// What people were called on earlier rosters, by the version, where it is not what they are called now.
    pub named_then: BTreeMap<PersonId, BTreeMap<u32, String>>,
    /// `rules.json`.
    pub rules: Rules,
    /// The ways to build.
    pub routes: Routes,
    /// The tapes.
    pub lights: Lights,
    /// The drivers.
    pub drivers: Drivers,
    /// The controllers and dimmers.
    pub controls: Controls,
    /// The wire in stock.
    pub wire: WireStock,
    /// The working days.
    pub calendar: ShopCalendar,
    /// The open questions about files outside any project, by their paths.
    pub conflicts: BTreeMap<String, Conflict>,
}

impl Shop {
    /// The newest roster as a statement names it.
    #[must_use]
    pub fn roster_ref(&self) -> RosterRef {
        RosterRef { version: self.roster.version, sha256: self.roster_digest }
    }

    /// What somebody is called who signed under a roster version: the name of today, and the one of then where it was
    /// another. What was signed stays as true as it was.
    #[must_use]
    pub(crate) fn signed_as(&self, person: &PersonId, version: u32) -> String {
        let now = self.roster.name_of(person);
        match self.named_then.get(person).and_then(|names| names.get(&version)) {
            Some(then) => format!("{now}, then called {then}"),
            None => now,
        }
    }
}

/// A panel's drawing, read and measured.
#[derive(Clone, Debug)]
pub struct Drawing {
    /// The digest of the file's bytes.
    pub digest: Sha256Digest,
    /// The outline.
    pub outline: Outline,
    /// What was measured on it.
    pub figures: Figures,
    /// The sizes around it, where the record says what lies between them: then outline and figures are the light guide's.
    pub nested: Option<BTreeMap<SizeOf, (Outline, Figures)>>,
    /// How far it lies from outlines that were signed before, by the digests of their files: as many as the panel keeps and
    /// as lie within what the shop's rules call the same.
    pub moved: BTreeMap<Sha256Digest, Millimetres>,
}

impl Drawing {
    /// The outline as it is drawn, whatever sizes of the panel follow from it.
    #[must_use]
    pub(crate) fn as_drawn(&self, panel: &Panel) -> &Outline {
        let nested = panel.sizes.as_ref().zip(self.nested.as_ref());
        nested
            .and_then(|(sizes, nested)| nested.get(&sizes.outline_is))
            .map_or(&self.outline, |(drawn, _)| drawn)
    }

    /// What one size of the panel measures; where nothing lies between them all are the outline's.
    #[must_use]
    pub(crate) fn figures_of(&self, size: SizeOf) -> &Figures {
        let of = self.nested.as_ref().and_then(|nested| nested.get(&size));
        of.map_or(&self.figures, |(_, figures)| figures)
    }

    /// The drawing with its sizes worked out.
    ///
    /// # Errors
    /// Why a size does not follow from the drawing.
    pub(crate) fn with_sizes(self, sizes: &Sizes, lit_edges: &[u32]) -> Result<Drawing, ShapeError> {
        let edges = self.figures.edges.len();
        let mut nested = BTreeMap::new();
        for size in SizeOf::ALL {
            let outline = inset(&self.outline, &sizes.inset(*size, edges, lit_edges))?;
            let figures = figures(&outline);
            nested.insert(*size, (outline, figures));
        }
        let guide = nested.get(&SizeOf::LightGuide).cloned();
        let (outline, figures) = guide.unwrap_or((self.outline, self.figures));
        Ok(Drawing { outline, figures, nested: Some(nested), ..self })
    }
}

/// A sign-off with its digest and the judgement of its signature.
#[derive(Clone, Debug)]
pub struct SignOff {
    /// The digest that names it.
    pub digest: Sha256Digest,
    /// What was said.
    pub statement: Statement,
    /// None where the signature counts; otherwise why it does not.
    pub void: Option<Fault>,
}

/// One project with everything that the gates look at.
#[derive(Clone, Debug)]
pub struct Snapshot {
    /// `project.json`.
    pub project: Project,
    /// The swatches.
    pub swatches: BTreeMap<SwatchId, Swatch>,
    /// The test-panel requests.
    pub requests: BTreeMap<RequestId, Request>,
    /// The trials.
    pub trials: BTreeMap<TrialId, Trial>,
    /// The panels.
    pub panels: BTreeMap<PanelId, Panel>,
    /// The panels' drawings: read and measured, or why they cannot be.
    pub drawings: BTreeMap<PanelId, Result<Drawing, Fault>>,
    /// The renderings.
    pub renderings: BTreeMap<PanelId, Rendering>,
    /// The digest of each attachment as it lies on disk, by its path within the project.
    pub files: BTreeMap<String, Sha256Digest>,
    /// What was built.
    pub as_built: Option<AsBuilt>,
    /// How it was put in.
    pub installation: Option<Installation>,
    /// Everything that was signed about facts.
    pub signoffs: Vec<SignOff>,
    /// Why files among the sign-offs cannot even be read as one.
    pub void_signoffs: Vec<Fault>,
    /// The moves whose signatures count.
    pub moves: BTreeMap<Sha256Digest, Move>,
    /// The moves whose signatures do not count, with the reason.
    pub void_moves: Vec<(Sha256Digest, Fault)>,
    /// What people noted.
    pub notes: BTreeMap<NoteId, Note>,
    /// The open questions, by their paths.
    pub conflicts: BTreeMap<String, Conflict>,
}

impl Snapshot {
    /// Where the project stands, as its moves tell it.
    #[must_use]
    pub fn standing(&self) -> Standing {
        standing(&self.moves)
    }

    /// Every step back of the project that counts, in the order of their digests.
    #[must_use]
    pub(crate) fn steps_back(&self) -> Vec<Sha256Digest> {
        let overtaken = self.standing().overtaken;
        let back = self.moves.iter().filter(|(digest, m)| m.is_reopen() && !overtaken.contains(digest));
        back.map(|(digest, _)| *digest).collect()
    }

    /// The stone of a panel.
    #[must_use]
    pub fn stone_of(&self, panel: &Panel) -> Option<&Swatch> {
        self.swatches.get(&panel.swatch)
    }

    /// The release groups that panels name, in the order of their names.
    #[must_use]
    pub(crate) fn groups(&self) -> BTreeSet<&GroupId> {
        self.panels.values().flat_map(|panel| &panel.groups).map(|share| &share.group).collect()
    }

    /// The day of installation: the job's own, or else the first of its release groups.
    #[must_use]
    pub(crate) fn install_date(&self) -> Option<Date> {
        let of_groups =
            || self.groups().into_iter().filter_map(|group| self.project.install_date_of(group)).min();
        self.project.install_date.or_else(of_groups)
    }

    /// The project as if one release group were all of it: its panels, so many of each as it takes, with their stones and
    /// what was tried on these. What people said and asked is all there.
    #[must_use]
    pub(crate) fn of_group(&self, group: &GroupId) -> Snapshot {
        let mut part = self.clone();
        part.project.install_date = self.project.install_date_of(group);
        part.panels =
            self.panels.iter().filter_map(|(id, p)| Some((id.clone(), p.in_group(group)?))).collect();
        part.as_built = self.as_built.clone().filter(|built| self.is_built(group, built));
        let used: BTreeSet<&SwatchId> = part.panels.values().map(|panel| &panel.swatch).collect();
        part.drawings.retain(|id, _| part.panels.contains_key(id));
        part.renderings.retain(|id, _| part.panels.contains_key(id));
        part.swatches.retain(|id, _| used.contains(id));
        part.trials.retain(|_, trial| used.contains(&trial.swatch));
        part.requests.retain(|_, request| request.swatches.iter().any(|id| used.contains(id)));
        part
    }

    /// True where all that a release group takes was built. Of panels that are alike, those are built first that are
    /// installed first.
    fn is_built(&self, group: &GroupId, built: &AsBuilt) -> bool {
        let day = |group: &GroupId| self.project.install_date_of(group);
        let mut takes = self.panels.iter().filter(|(_, panel)| panel.count_in(group).is_some());
        takes.all(|(id, panel)| {
            let before =
                panel.groups.iter().map(|share| &share.group).filter(|other| day(other) <= day(group));
            let wanted: usize = before.filter_map(|other| panel.count_in(other)).sum();
            built.panels.iter().filter(|one| one.id == *id).count() >= wanted
        })
    }

    /// The drawing of a panel, where it could be read.
    #[must_use]
    pub fn drawing_of(&self, panel: &PanelId) -> Option<&Drawing> {
        self.drawings.get(panel).and_then(|d| d.as_ref().ok())
    }

    /// The stones that must be tried over a test panel: some panel uses them that does not go without one.
    pub(crate) fn stones_to_try(&self) -> impl Iterator<Item = &SwatchId> {
        let stones = self.swatches.iter().filter(|(_, swatch)| swatch.material.is_stone());
        stones.map(|(id, _)| id).filter(|id| self.panels_to_try(id).next().is_some())
    }

    /// The panels of a stone that wait for a test panel.
    pub(crate) fn panels_to_try(&self, stone: &SwatchId) -> impl Iterator<Item = &Panel> {
        self.panels.values().filter(move |p| p.swatch == *stone && p.no_test_panel.is_none())
    }

    /// The swatches that some panel uses.
    pub(crate) fn stones_in_use(&self) -> impl Iterator<Item = &SwatchId> {
        self.swatches.keys().filter(|id| self.panels.values().any(|p| p.swatch == **id))
    }
}
