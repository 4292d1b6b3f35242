//! The packet of a job for one person: gathered from the book here, made into a page in [`crate::packet`].
//!
//! It depends on the book alone, not on the day, so that the same book gives the same bytes.

use std::num::NonZero;

use jiff::civil::Date;

use crate::fault::{Fault, Outcome};
use crate::gates::asked::{self, Asked};
use crate::gates::{State, sentences};
use crate::ids::{PanelId, PersonId, ProjectId};
use crate::job::Case;
use crate::job::cautions::cautions;
use crate::job::wording::Wording;
use crate::making::schedule::Milestone;
use crate::model::panel::Panel;
use crate::model::roster::{Key, Person, Role};
use crate::model::snapshot::SignOff;
use crate::model::stage::Stage;
use crate::model::statement::{Decision, Subject, View};
use crate::model::supersession::WordState;
use crate::model::view::Change;
use crate::ops::dates::by_route;
use crate::ops::reading::Reading;
use crate::ops::sign;
use crate::packet::facts::{Choice, Content, Event, Facts, Item, Look, Next, Rendering, Standing};
use crate::packet::{Language, Page, page};
use crate::sheets;
use crate::signing::PublicKey;
use crate::stone::look::{self, Asked as LookAsked, Relit};
use crate::store::write;
use crate::trust::surroundings::Surroundings;
use crate::trust::{redraw, sheet_rows};
use crate::words::LightKind;

/// Whites beside the chosen one that a picture is made of, where they are its neighbours: usual tapes of the trade.
/// Common practice, no source.
const WHITES_K: [u32; 6] = [2700, 3000, 3500, 4000, 5000, 6500];

/// Pictures of all stones together at their widest; more are made smaller, so that a packet stays small enough to mail.
const WIDE: [(usize, usize); 3] = [(10, 900), (24, 640), (usize::MAX, 420)];

/// A packet that was made.
#[derive(Clone, Debug)]
pub(crate) struct Made {
    /// Whom it is for.
    pub person: PersonId,
    /// The page.
    pub page: Page,
    /// What is asked in it, with its code, and whether it waits.
    pub asked: Vec<(Asked, bool)>,
    /// What could not be shown, with the reason.
    pub remarks: Vec<String>,
}

/// Makes the packet of a project for somebody, or for its client.
///
/// # Errors
/// `unknown-person`; what is wrong with the project; a sheet that is not what is drawn from its records.
pub(crate) fn packet(
    reading: &Reading,
    id: &ProjectId,
    person: Option<&PersonId>,
    language: Language,
    around: &Surroundings<'_>,
) -> Result<Made, Vec<Fault>> {
    let snapshot = reading.project(id)?;
    let case = reading.case(&snapshot);
    let roster = reading.chain.newest();
    let person = person.unwrap_or(&snapshot.project.people.client);
    if roster.person(person).is_none() {
        return Err(vec![roster.unknown(person)]);
    }
    let asked = asked::of(&case, person);
    let mut remarks = Vec::new();
    let passkeys = passkeys(reading, person);
    let maker = Maker { reading, case: &case, around };
    let pictures = maker.pictures(&asked, &mut remarks);
    let mut items = Vec::new();
    for one in &asked {
        let panel = one.subject.panel.as_ref().and_then(|id| Some((id, snapshot.panels.get(id)?)));
        items.push(Item {
            subject: one.subject.clone(),
            code: one.code,
            statement: maker.statement(one, person, &passkeys)?,
            panel: panel.map(|(_, panel)| panel.title.clone()),
            standing: maker.standing(one),
            content: maker.content(one, panel, &pictures)?,
        });
    }
    let days = maker.days(&asked);
    let site = &snapshot.project.site;
    let rep = &snapshot.project.people.rep;
    let facts = Facts {
        language,
        units: reading.shop.book.units,
        book: reading.shop.book.id.to_string(),
        project: id.to_string(),
        shop: reading.shop.book.shop.clone(),
        title: snapshot.project.title.clone(),
        site: site.name.clone(),
        reader: roster.name_of(person),
        person: person.to_string(),
        passkeys,
        role: asked.first().map(|one| one.role),
        rep: roster.name_of(rep),
        contact: roster.person(rep).and_then(|p| p.contact.clone()),
        stage: snapshot.standing().stage,
        answer_by: days.answer_by,
        install: days.install,
        install_group: days.group,
        story: maker.story(),
        next: days.next,
        cautions: cautions(&case, Wording::PRESENT).iter().map(|c| c.in_words(Wording::PRESENT)).collect(),
        note: reading.shop.book.note.clone(),
        items,
    };
    let open: Vec<bool> = facts.items.iter().map(|item| item.standing.is_open()).collect();
    let page = page(&facts);
    Ok(Made { person: person.clone(), page, asked: asked.into_iter().zip(open).collect(), remarks })
}

/// The passkeys with which somebody may sign today.
fn passkeys(reading: &Reading, person: &PersonId) -> Vec<String> {
    let keys = reading.chain.newest().person(person).into_iter().flat_map(Person::active_keys);
    let is_passkey =
        |key: &&Key| PublicKey::from_line(&key.public).is_ok_and(|(key, _)| key.site().is_some());
    keys.filter(is_passkey).map(|key| key.public.clone()).collect()
}

/// Latest days that keep the install date.
struct Days {
    answer_by: Option<Date>,
    install: Option<Date>,
    group: Option<String>,
    next: Vec<(Next, Option<Date>)>,
}

struct Maker<'a> {
    reading: &'a Reading,
    case: &'a Case<'a>,
    around: &'a Surroundings<'a>,
}

impl Maker<'_> {
    /// What somebody with a passkey signs, as text.
    fn statement(&self, asked: &Asked, person: &PersonId, passkeys: &[String]) -> Outcome<Option<String>> {
        if passkeys.is_empty() {
            return Ok(None);
        }
        let blank = sign::blank(self.reading, self.case, &asked.subject, asked.role, person);
        Ok(Some(String::from_utf8_lossy(&write::to_bytes(&blank)?).into_owned()))
    }

    fn standing(&self, asked: &Asked) -> Standing {
        let signoffs = &self.case.project.signoffs;
        let named =
            |s: &&SignOff| asked.finding.signoffs.contains(&s.digest) && s.statement.about == asked.subject;
        let stands = |s: &&SignOff| {
            s.statement.about == asked.subject
                && s.statement.role == asked.role
                && self.case.word(s) == Some(WordState::Stands)
        };
        match asked.finding.state {
            State::Met => {
                let mut who: Vec<String> =
                    signoffs.iter().filter(named).map(|s| self.case.speaker(s)).collect();
                who.dedup();
                Standing::Given(who.join(", "))
            }
            State::Stale => Standing::Changed(plain_changes(&asked.finding.changes)),
            State::Rejected => match signoffs.iter().find(named) {
                Some(no) => Standing::Refused {
                    decision: no.statement.decision,
                    comment: no.statement.comment.clone(),
                },
                None => Standing::Waiting,
            },
            State::Missing => {
                let now = crate::gates::facts::of(self.case, &asked.subject);
                let noted = signoffs
                    .iter()
                    .filter(stands)
                    .find(|s| s.statement.decision == Decision::ApprovedAsNoted && s.statement.facts == now);
                noted.map_or(Standing::Waiting, |s| Standing::Noted(s.statement.notes.clone()))
            }
        }
    }

    fn content(
        &self,
        asked: &Asked,
        panel: Option<(&PanelId, &Panel)>,
        pictures: &[(Subject, Vec<Look>)],
    ) -> Outcome<Content> {
        let sentence = || sentences::sentence(self.case, &asked.subject).unwrap_or_default();
        let whole = || Content::Sentence(format!("{} of {}", asked.subject, self.case.project.project.title));
        Ok(match (asked.subject.view, panel) {
            (View::Choice, Some((_, panel))) => {
                let looks = pictures.iter().find(|(subject, _)| *subject == asked.subject);
                self.choice(panel, looks.map(|(_, looks)| looks.clone()).unwrap_or_default())
                    .unwrap_or_else(whole)
            }
            (View::Rendering, Some((id, panel))) => self.rendering(id, panel)?.unwrap_or_else(whole),
            (View::Waiver | View::Acknowledgement, _) => Content::Sentence(sentence()),
            _ => whole(),
        })
    }

    fn choice(&self, panel: &Panel, looks: Vec<Look>) -> Option<Content> {
        let stone = self.case.project.stone_of(panel)?;
        let light = panel.light.as_ref()?;
        Some(Content::Choice(Choice {
            quantity: panel.quantity,
            stone: stone.stone.clone(),
            slab: stone.slab.thickness_mm,
            lot: stone.slab.lot.clone(),
            finish: stone.slab.finish.clone(),
            light: light.kind,
            cct_k: light.cct_k,
            cct_range_k: light.cct_range_k.map(|range| [range.warmest, range.coolest]),
            level_pct: light.level_pct,
            least_ra: light.least_ra,
            face: panel.face?,
            edges: panel.lit_edges.clone(),
            voltage_v: panel.voltage_v,
            mount: panel.mount?,
            control: panel.control.as_ref().map(|id| sheet_rows::control(self.case, id.as_str())),
            looks,
        }))
    }

    fn rendering(&self, id: &PanelId, panel: &Panel) -> Outcome<Option<Content>> {
        let Some(drawn) = self.case.project.renderings.get(id) else { return Ok(None) };
        redraw::before_signing(&self.reading.book, self.case, id, false, self.around)?;
        let sheets = redraw::sheets_of(&self.reading.book, self.case, id, drawn)?;
        let first = sheets.first().map(|(svg, _)| svg.as_str()).unwrap_or_default();
        Ok(Some(Content::Rendering(Rendering {
            revision: drawn.revision,
            size: [drawn.width_mm, drawn.height_mm],
            stone: drawn.stone_thickness_mm,
            edges: panel.lit_edges.clone(),
            cutouts: drawn.cutouts,
            seams: drawn.seams.len(),
            view: sheets::extent(first, "view"),
            pdf: drawn.pdf.sha256,
            sheets,
        })))
    }

    /// The stones of the choices that are asked, re-lit.
    fn pictures(&self, asked: &[Asked], remarks: &mut Vec<String>) -> Vec<(Subject, Vec<Look>)> {
        let wanted: Vec<(&Asked, &PanelId, u32)> = asked
            .iter()
            .filter(|one| one.subject.view == View::Choice)
            .filter_map(|one| {
                let id = one.subject.panel.as_ref()?;
                let light = self.case.project.panels.get(id)?.light.as_ref()?;
                let white = light.kind.has_white_of_its_own();
                Some((one, id, light.cct_k.filter(|_| white)?))
            })
            .collect();
        let count: usize = wanted.iter().map(|(_, _, cct)| around_it(*cct).len()).sum();
        let widest = WIDE.iter().find(|(most, _)| count <= *most).map_or(420, |(_, wide)| *wide);
        let mut made = Vec::new();
        for (one, id, cct) in wanted {
            match relit(self.reading, self.case, id, &around_it(cct), widest) {
                Ok(looks) => made.push((one.subject.clone(), looks)),
                Err(faults) => remarks.extend(
                    faults.iter().map(|f| format!("panel {id} is shown without a picture: {}", f.message)),
                ),
            }
        }
        made
    }

    /// The last days for the answers and for what follows them. They depend on the install date and not on today: where release
    /// groups have dates of their own, on the first of those that are not built.
    fn days(&self, asked: &[Asked]) -> Days {
        let parts = self.case.by_install_day();
        let day = |part: &&Case<'_>| part.project.project.install_date.unwrap_or(Date::MAX);
        let first = parts.iter().filter(|part| part.project.as_built.is_none()).min_by_key(day);
        let first = first.or_else(|| parts.iter().max_by_key(day)).unwrap_or(self.case);
        let install = first.project.project.install_date;
        let routes = by_route(first, self.case.project.project.opened, false).unwrap_or_default();
        let latest = |milestone: Milestone| {
            let all = routes.first().map(|route| route.milestones.as_slice()).unwrap_or_default();
            all.iter().find(|m| m.milestone == milestone.word()).and_then(|m| m.latest)
        };
        let before_drawing =
            |one: &Asked| one.finding.gate <= Stage::Rendering && one.finding.state != State::Met;
        let answer_by = match asked.iter().any(before_drawing) {
            true => latest(Milestone::Chosen),
            false => latest(Milestone::Approved).or_else(|| latest(Milestone::Released)),
        };
        let stage = self.case.project.standing().stage;
        let next = [
            (Next::Released, Stage::Released, latest(Milestone::Released)),
            (Next::Built, Stage::Built, latest(Milestone::Built)),
            (Next::Arrived, Stage::HandedOver, latest(Milestone::Arrived)),
            (Next::Installed, Stage::HandedOver, install),
        ];
        let next = next.into_iter().filter(|(_, reached, _)| stage < *reached);
        let group = first.group.as_ref().map(ToString::to_string);
        Days { answer_by, install, group, next: next.map(|(next, _, day)| (next, day)).collect() }
    }

    fn story(&self) -> Vec<(Date, Event)> {
        let project = self.case.project;
        let day = |time: &str| time.get(..10).and_then(|day| day.parse::<Date>().ok());
        let mut story = vec![(project.project.opened, Event::Opened)];
        let panels = project.requests.values().filter_map(|r| r.received);
        story.extend(panels.map(|received| (received, Event::TestPanel)));
        for trial in project.trials.values() {
            let stone = project.swatches.get(&trial.swatch).map(|s| s.stone.clone());
            story.push((
                trial.date,
                Event::Tried {
                    stone: stone.unwrap_or_else(|| trial.swatch.to_string()),
                    cct_k: trial.cct_k,
                    face: trial.face,
                    seen: trial.seen.clone(),
                    rating: trial.rating,
                },
            ));
        }
        let mut said: Vec<&SignOff> =
            project.signoffs.iter().filter(|s| self.case.word(s).is_some()).collect();
        said.sort_by(|a, b| (&a.statement.time, a.digest).cmp(&(&b.statement.time, b.digest)));
        for signoff in said {
            let statement = &signoff.statement;
            // The shop's own acknowledgements are no part of what a client is told.
            if statement.role != Role::Client
                && !matches!(statement.about.view, View::Release | View::Rendering)
            {
                continue;
            }
            let panel = statement.about.panel.as_ref().and_then(|id| project.panels.get(id));
            if let Some(day) = day(&statement.time) {
                story.push((
                    day,
                    Event::Said {
                        who: self.case.speaker(signoff),
                        decision: statement.decision,
                        subject: statement.about.clone(),
                        panel: panel.map(|p| p.title.clone()),
                    },
                ));
            }
        }
        let mut moves: Vec<_> = project.moves.iter().collect();
        moves.sort_by(|(a, one), (b, two)| (&one.time, a).cmp(&(&two.time, b)));
        let told = moves.into_iter().filter(|(_, step)| step.to >= Stage::Released);
        story.extend(told.filter_map(|(_, step)| Some((day(&step.time)?, Event::Moved(step.to)))));
        story.sort_by_key(|(day, _)| *day);
        story
    }
}

/// The stone of a panel over whites, each with its picture; none where no photo of it is kept.
///
/// # Errors
/// Why it cannot be predicted.
pub(super) fn relit(
    reading: &Reading,
    case: &Case<'_>,
    id: &PanelId,
    ccts_k: &[u32],
    widest: usize,
) -> Result<Vec<Look>, Vec<Fault>> {
    let Some(panel) = case.project.panels.get(id) else { return Ok(Vec::new()) };
    let light = panel.light.as_ref().map_or(LightKind::StaticWhite, |light| light.kind);
    // A tape that can be set may not reach every neighbour: those that it does not reach are fixed whites.
    let mut found = Err(Vec::new());
    for kind in [light, LightKind::StaticWhite] {
        let asked = LookAsked {
            ccts_k: ccts_k.to_vec(),
            lights: vec![kind.word().to_owned()],
            panel: Some(id.clone()),
            ..LookAsked::of(&case.project.project.id, &panel.swatch)
        };
        let threads = std::thread::available_parallelism().unwrap_or(NonZero::<usize>::MIN);
        found = look::look(reading, &asked).and_then(|looked| looked.relit(widest, threads));
        if found.is_ok() {
            break;
        }
    }
    let one = |(cct_k, relit): (&u32, Relit)| {
        let picture = &relit.picture;
        let jpeg = picture.jpeg().map_err(|e| Fault::data(e.code(), e.to_string()).fix(e.remedy()))?;
        Ok(Look {
            cct_k: *cct_k,
            size: [picture.width, picture.height],
            bar: relit.bar.map(|bar| [bar.mm, bar.pixels]),
            jpeg,
            luminance_cd_m2: relit.luminance_cd_m2,
            ratio: relit.ratio,
        })
    };
    ccts_k.iter().zip(found?).map(one).collect::<Result<_, Fault>>().map_err(|f| vec![f])
}

/// A colour temperature with up to two neighbours on each side.
fn around_it(cct_k: u32) -> Vec<u32> {
    let below = WHITES_K.iter().copied().filter(|k| *k < cct_k).rev().take(2);
    let mut all: Vec<u32> = below.collect();
    all.reverse();
    all.push(cct_k);
    all.extend(WHITES_K.iter().copied().filter(|k| *k > cct_k).take(2));
    all
}

/// What changed as a client is told it. Nobody compares digests by eye: the outline's says that the shape is another one, all
/// others together that the drawing was made again.
fn plain_changes(changes: &[Change]) -> Vec<[String; 3]> {
    let mut plain: Vec<[String; 3]> = Vec::new();
    for change in changes {
        let row = match change.fact.strip_suffix("sha256") {
            Some(of) if of.ends_with("outline_") => {
                ["shape", "as drawn when you approved it", "as drawn here"].map(String::from)
            }
            Some(of) if of.starts_with("rendering.") => {
                ["drawing", "the one you approved", "drawn again"].map(String::from)
            }
            _ => {
                let (name, was, now) = change.columns();
                [name.replace("light cct", "colour temperature"), was, now]
            }
        };
        if !plain.contains(&row) {
            plain.push(row);
        }
    }
    plain
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::statement::Fact;

    #[test]
    fn a_client_is_told_no_digest() {
        let change = |fact: &str, signed: &str, now: &str| Change {
            fact: fact.into(),
            signed: Some(Fact::Text(signed.into())),
            now: Some(Fact::Text(now.into())),
        };
        let told = plain_changes(&[
            change("panel.light.cct_k", "4000", "3500"),
            change("rendering.outline_sha256", "aa", "ab"),
            change("rendering.pdf_sha256", "ba", "bb"),
            change("rendering.sheet_sha256", "ca", "cb"),
        ]);
        let said = [
            ["panel colour temperature", "4000 K", "3500 K"],
            ["shape", "as drawn when you approved it", "as drawn here"],
            ["drawing", "the one you approved", "drawn again"],
        ];
        assert_eq!(told, said.map(|row| row.map(String::from)));
    }
}
