//! One job as its page shows it: read and judged once, every fact from where it is worked out.

use super::pictures::Pictures;
use crate::fault::Fault;
use crate::gates::{Finding, State};
use crate::ids::{PanelId, ProjectId};
use crate::job::cautions::cautions;
use crate::job::pack::{of_job, words as pack_words};
use crate::job::wording::Wording;
use crate::job::{Case, as_built};
use crate::model::panel::{GroupShare, Panel as PanelRecord};
use crate::model::swatch::Swatch;
use crate::ops::board::{self, Row};
use crate::ops::dates::{self, RouteDates};
use crate::ops::pack::prove_case;
use crate::ops::reading::Reading;
use crate::ops::status::{self, GroupLine, SignOffLine, Status};
use crate::pages::day;
use crate::pages::facts::{
    Approval, Card, Dates, Group, Job, Panel, Release, Step, Stone, Table, Trial, Wait, WaitState,
};
use crate::sheets::canvas::Anchor;
use crate::sheets::pack::{circuit_diagrams, power_tables};
use crate::trust::counting::namespace;
use crate::trust::redraw::Known;
use crate::trust::sheet_rows;
use crate::trust::surroundings::Surroundings;
use crate::trust::vanished::Vanished;
use crate::trust::verify::explain::by_hand;
use crate::units::Millimetres;
use crate::words::{business_days, counted};

/// A job with the files that stand beside its page.
pub(super) struct Read {
    /// What its page says.
    pub(super) job: Job,
    /// Files beside the page, by their paths within the pages' folder.
    pub(super) files: Vec<(String, Vec<u8>)>,
}

/// Reads and judges a job.
pub(super) fn read(
    reading: &Reading,
    id: &ProjectId,
    gone: &[Vanished],
    around: &Surroundings<'_>,
    known: &Known,
) -> Read {
    let vanished = gone.len();
    let snapshot = match reading.project(id) {
        Ok(snapshot) => snapshot,
        Err(faults) => return unreadable(id, vanished, &faults),
    };
    let case = reading.case(&snapshot);
    let status = status::whole(&case, gone.to_vec(), around);
    let row = board::of_status(&snapshot, &status, vanished, around.today());
    let today = around.today();
    let pressing = dates::pressing(&case, today).group;
    let parts = dates::open_parts(&case, today);
    let routed: Vec<(&Case<'_>, RouteDates)> = parts
        .iter()
        .filter_map(|part| Some((part, dates::by_route(part, today, false).ok()?.into_iter().next()?)))
        .collect();
    let route = routed.iter().find(|(part, _)| part.group == pressing);
    let teller = Teller { reading, case: &case, status: &status };
    let mut pictures = Pictures::of(reading, &case, known);
    let data = of_job(&case, case.job());
    let open = pack_words::of_data(&data, case.job()).panels;
    let circuits = circuit_diagrams(&data);
    let job = Job {
        card: teller.card(&row, &routed, around),
        next: status.next,
        met: status.met.iter().map(|f| f.what.clone()).collect(),
        questions: teller.questions(),
        panels: case.panels().map(|(id, panel)| teller.panel(id, panel, &mut pictures)).collect(),
        stones: snapshot.swatches.values().map(|stone| teller.stone(stone, &mut pictures)).collect(),
        test_panels: teller.test_panels(),
        trials: teller.trials(&mut pictures),
        power: power_tables(&data).into_iter().map(table).collect(),
        power_open: open
            .iter()
            .flat_map(|(panel, words)| words.open.iter().map(move |open| format!("panel {panel}: {open}")))
            .collect(),
        circuits: circuits
            .iter()
            .enumerate()
            .filter_map(|(at, (title, svg))| pictures.circuit(at + 1, title, svg))
            .collect(),
        dates: route
            .filter(|_| status.dates.is_some() || status.no_dates.is_some())
            .map(|(part, route)| steps(part, route)),
        approvals: teller.approvals(),
        void: status.void.clone(),
        cautions: cautions(&case, Wording::PRESENT).iter().map(|c| c.in_words(Wording::PRESENT)).collect(),
        notes: status.warnings.iter().map(|w| (w.in_words(), w.source.to_owned())).collect(),
        story: super::story::of(&case),
        handover: handover(&case),
        note: snapshot.project.note.clone(),
    };
    Read { job, files: pictures.files() }
}

/// The area of all faces of a job.
fn face_mm2(case: &Case<'_>) -> f64 {
    let area = |(id, panel): (&PanelId, &PanelRecord)| {
        Some(case.project.drawing_of(id)?.figures.area_mm2 * panel.count() as f64)
    };
    case.panels().filter_map(area).sum()
}

fn unreadable(id: &ProjectId, vanished: usize, faults: &[Fault]) -> Read {
    let told = |fault: &Fault| {
        let fix = fault.remedy.as_ref().map(|fix| format!(". Fix: {fix}")).unwrap_or_default();
        format!("{fault}{fix}")
    };
    let card = Card {
        id: id.to_string(),
        title: id.to_string(),
        site: String::new(),
        client: String::new(),
        stage: None,
        since: None,
        released: false,
        holds: false,
        may_advance: false,
        late: false,
        install: None,
        spare: None,
        earliest: None,
        no_dates: None,
        questions: 0,
        vanished,
        refused: 0,
        waits: Vec::new(),
        people: Vec::new(),
        due: Vec::new(),
        panels: 0,
        area_mm2: 0.0,
        release: None,
        groups: Vec::new(),
        faults: faults.iter().map(told).collect(),
    };
    let job = Job {
        card,
        next: None,
        met: Vec::new(),
        questions: Vec::new(),
        panels: Vec::new(),
        stones: Vec::new(),
        test_panels: Vec::new(),
        trials: Vec::new(),
        power: Vec::new(),
        power_open: Vec::new(),
        circuits: Vec::new(),
        dates: None,
        approvals: Vec::new(),
        void: Vec::new(),
        cautions: Vec::new(),
        notes: Vec::new(),
        story: Vec::new(),
        handover: Vec::new(),
        note: None,
    };
    Read { job, files: Vec::new() }
}

/// Tells of one job.
struct Teller<'a> {
    reading: &'a Reading,
    case: &'a Case<'a>,
    status: &'a Status,
}

impl Teller<'_> {
    fn card(&self, row: &Row, routed: &[(&Case<'_>, RouteDates)], around: &Surroundings<'_>) -> Card {
        let (status, project) = (self.status, &self.case.project.project);
        let people = &project.people;
        let since = status.since.as_deref().and_then(|time| time.get(..10)?.parse().ok());
        let counted = status.dates.is_some() || status.no_dates.is_some();
        let due =
            routed.iter().filter(|_| counted).flat_map(|(part, route)| dates::still_to_come(part, route));
        Card {
            id: row.id.to_string(),
            title: project.title.clone(),
            site: project.site.name.clone(),
            client: self.case.shop.roster.name_of(&people.client),
            stage: Some(status.stage),
            since: Some(since.unwrap_or(project.opened)),
            released: row.released,
            holds: row.holds,
            may_advance: status.may_advance,
            late: row.late,
            install: row.install_date,
            spare: row.slack_business_days,
            earliest: status.dates.as_ref().map(|dates| dates.earliest_install),
            no_dates: row.no_dates.clone(),
            questions: row.questions,
            vanished: row.vanished,
            refused: row.rejected,
            waits: status
                .broken
                .iter()
                .map(|finding| wait(finding, true))
                .chain(status.missing.iter().map(|finding| wait(finding, false)))
                .collect(),
            people: people.named().map(|(role, person)| (role, person.to_string())).collect(),
            due: due.collect(),
            panels: self.case.panels().map(|(_, panel)| panel.count()).sum(),
            area_mm2: face_mm2(self.case),
            release: if row.released { self.release(self.case, around) } else { None },
            groups: self.groups(around),
            faults: Vec::new(),
        }
    }

    fn groups(&self, around: &Surroundings<'_>) -> Vec<Group> {
        let group = |(line, part): (&GroupLine, Case<'_>)| Group {
            id: line.id.to_string(),
            words: line.in_words(),
            panels: line.piece_count,
            area_mm2: face_mm2(&part),
            release: if line.released { self.release(&part, around) } else { None },
        };
        self.status.groups.iter().zip(self.case.parts()).map(group).collect()
    }

    fn release(&self, case: &Case<'_>, around: &Surroundings<'_>) -> Option<Release> {
        let proof = prove_case(self.reading, case, around, None).ok()?;
        let by = proof.release?;
        Some(Release {
            who: format!("{} ({})", by.who, by.role),
            at: by.at,
            sha256: by.sha256,
            sealed_sha256: proof.sealed_sha256,
            now_sha256: proof.now_sha256,
        })
    }

    fn questions(&self) -> Vec<String> {
        let status = self.status;
        let settle = |text: &str, whose: &str| format!("{text}: `underlit resolve {whose}`");
        let own = status.questions.iter().map(|q| settle(&q.text, status.id.as_str()));
        let shop = status.shop_questions.iter().map(|q| settle(&q.text, "--shop"));
        own.chain(shop).chain(status.vanished.iter().map(Vanished::in_words)).collect()
    }

    fn panel(&self, id: &PanelId, panel: &PanelRecord, pictures: &mut Pictures<'_>) -> Panel {
        let mut remarks = Vec::new();
        let (lit, brightness) = pictures.lit(id, panel, &mut remarks);
        let (view, sheets) = pictures.sheets(id, panel, &mut remarks);
        Panel {
            id: id.to_string(),
            title: panel.title.clone(),
            lit,
            brightness,
            view,
            sheets,
            remarks,
            rows: self.rows_of(id, panel),
        }
    }

    fn rows_of(&self, id: &PanelId, panel: &PanelRecord) -> Vec<(String, String)> {
        let case = self.case;
        let units = case.shop.book.units;
        let mut rows = Vec::new();
        let mut row =
            |label: &str, text: Option<String>| rows.extend(text.map(|text| (label.to_owned(), text)));
        let drawing = case.project.drawing_of(id);
        row(
            "Size",
            drawing.map(|drawing| {
                let figures = &drawing.figures;
                let size = units.size([Millimetres(figures.width_mm), Millimetres(figures.height_mm)]);
                format!("{size}, {}", units.area(figures.area_mm2))
            }),
        );
        let stone = case.project.stone_of(panel);
        row("Stone", stone.map(|stone| format!("{}, {}", stone.stone, units.show(stone.slab.thickness_mm))));
        row(
            "Light",
            Some(panel.light.as_ref().map_or_else(
                || "not chosen yet".to_owned(),
                |light| match light.cct_k {
                    Some(k) => format!("{}, {k} K", light.kind),
                    None => light.kind.to_string(),
                },
            )),
        );
        row("How many", panel.quantity.map(|n| format!("{n} alike")));
        let groups: Vec<String> = panel.groups.iter().map(GroupShare::in_words).collect();
        row("Release groups", Some(groups.join(", ")).filter(|_| !groups.is_empty()));
        row("Face", panel.face.map(|face| face.to_string()));
        let edges: Vec<String> = panel.lit_edges.iter().map(ToString::to_string).collect();
        row("Lit edges", Some(edges.join(", ")).filter(|edges| !edges.is_empty()));
        row("Mount", panel.mount.map(|mount| mount.word().replace('-', " ")));
        row(
            "Pieces",
            Some(panel.seams.len())
                .filter(|n| *n > 0)
                .map(|n| format!("{}, {}", counted(n + 1, "piece", "pieces"), counted(n, "seam", "seams"))),
        );
        if let Some(drawing) = drawing {
            let control = panel.control.as_ref().map(|id| sheet_rows::control(case, id.as_str()));
            rows.extend(sheet_rows::rows(units, control.as_deref(), panel, drawing));
        } else if let Some(Err(fault)) = case.project.drawings.get(id) {
            rows.push(("Outline".into(), fault.to_string()));
        }
        rows.extend(panel.note.clone().map(|note| ("Note".to_owned(), note)));
        rows
    }

    fn stone(&self, stone: &Swatch, pictures: &mut Pictures<'_>) -> Stone {
        let units = self.case.shop.book.units;
        let words = |word: &str| word.replace('-', " ");
        let mut rows = vec![
            ("Material".to_owned(), words(stone.material.word())),
            ("Tone and texture".to_owned(), format!("{}, {}", stone.tone, stone.texture)),
            (
                "Thickness".to_owned(),
                format!(
                    "swatch {}, slab {}",
                    units.show(stone.thickness_mm),
                    units.show(stone.slab.thickness_mm)
                ),
            ),
        ];
        let slab: Vec<String> =
            stone.slab.lot.iter().map(|lot| format!("lot {lot}")).chain(stone.slab.finish.clone()).collect();
        if !slab.is_empty() {
            rows.push(("Slab".to_owned(), slab.join(", ")));
        }
        let ways: Vec<String> = stone
            .measured
            .iter()
            .filter_map(|m| {
                Some(format!(
                    "{} ({}, {})",
                    words(m.found.as_ref()?.by.word()),
                    m.found.as_ref()?.certainty,
                    m.date
                ))
            })
            .collect();
        if !ways.is_empty() {
            rows.push(("Measured by".to_owned(), ways.join("; ")));
        }
        rows.extend(stone.note.clone().map(|note| ("Note".to_owned(), note)));
        Stone { name: stone.stone.clone(), photo: pictures.stone(stone), rows }
    }

    fn test_panels(&self) -> Vec<(String, String)> {
        let units = self.case.shop.book.units;
        let one = |request: &crate::model::request::Request| {
            let ccts: Vec<String> = request.ccts_k.iter().map(|k| format!("{k} K")).collect();
            let faces: Vec<String> = request.faces.iter().map(ToString::to_string).collect();
            let mut said = vec![
                units.size([request.width_mm, request.height_mm]),
                format!("{} {}", request.light, ccts.join(", ")).trim().to_owned(),
                format!("{} face", faces.join(" and ")),
                format!("asked for on {}", day(request.asked)),
            ];
            said.extend(request.needed_by.map(|by| format!("needed by {}", day(by))));
            said.extend(request.sent.map(|on| format!("sent on {}", day(on))));
            said.extend(request.consignment.clone());
            said.extend(request.received.map(|on| format!("received on {}", day(on))));
            said.extend(request.due_back().map(|by| format!("due back by {}", day(by))));
            said.extend(request.returned.map(|on| format!("came back on {}", day(on))));
            said.extend(request.lost.map(|on| format!("lost since {}", day(on))));
            (request.id.to_string(), said.join(", "))
        };
        self.case.project.requests.values().map(one).collect()
    }

    fn trials(&self, pictures: &mut Pictures<'_>) -> Vec<Trial> {
        let project = self.case.project;
        let mut all: Vec<_> = project.trials.values().collect();
        all.sort_by(|a, b| (a.date, &a.id).cmp(&(b.date, &b.id)));
        all.into_iter()
            .map(|trial| Trial {
                date: trial.date,
                what: super::story::tried(self.case, trial),
                seen: trial.seen.clone(),
                rating: trial.rating,
                photo: pictures.trial(trial),
            })
            .collect()
    }

    fn approvals(&self) -> Vec<Approval> {
        let id = &self.status.id;
        let mut all: Vec<Approval> = self
            .case
            .project
            .signoffs
            .iter()
            .zip(&self.status.signoffs)
            .map(|(signoff, line)| {
                let statement = &signoff.statement;
                let purpose = if statement.evidence.is_some() { "evidence" } else { statement.role.word() };
                let path = format!("projects/{id}/signoffs/{}.json", signoff.digest);
                let said = statement.decision.done_to(&statement.about);
                approval(line, said, by_hand(&path, &statement.signer, namespace(purpose).as_str()))
            })
            .collect();
        all.sort_by(|a, b| (&b.at, &a.sha256).cmp(&(&a.at, &b.sha256)));
        all
    }
}

fn approval(line: &SignOffLine, says: String, check: Vec<String>) -> Approval {
    Approval {
        at: line.at.clone(),
        who: line.who.clone(),
        role: line.role,
        says,
        kind: line.kind.clone(),
        standing: line.standing,
        why: line.why.clone(),
        comment: line.comment.clone(),
        changes: line.changes.iter().map(in_columns).collect(),
        sha256: line.sha256.clone(),
        check,
    }
}

fn in_columns(change: &crate::model::view::Change) -> [String; 3] {
    let (name, was, now) = change.columns();
    [name, was, now]
}

fn wait(finding: &Finding, behind: bool) -> Wait {
    Wait {
        people: finding.who.iter().map(ToString::to_string).collect(),
        roles: finding.roles.clone(),
        state: match finding.state {
            State::Stale => WaitState::Stale,
            State::Rejected => WaitState::Refused,
            State::Missing | State::Met => WaitState::Missing,
        },
        what: finding.what.clone(),
        asks: finding.asked.as_ref().map(|(subject, _)| subject.to_string()),
        why: finding.why.clone(),
        command: finding.command.clone(),
        requirement: finding.requirement.to_owned(),
        changes: finding.changes.iter().map(in_columns).collect(),
        behind,
    }
}

fn table(table: crate::sheets::tables::Table) -> Table {
    let column =
        |column: crate::sheets::tables::Column| (column.heading, matches!(column.anchor, Anchor::End));
    Table {
        heading: table.heading,
        columns: table.columns.into_iter().map(column).collect(),
        rows: table.rows,
    }
}

fn steps(part: &Case<'_>, route: &RouteDates) -> Dates {
    let mut notes = Vec::new();
    notes.extend(
        part.group.as_ref().map(|group| format!("Counted for release group {group}, which presses most.")),
    );
    if let Some(order) = route.order_material_by {
        let longer = if route.material_is_longer { ", which takes longer than the approvals" } else { "" };
        notes.push(format!("Order the material by {}{longer}.", day(order)));
    }
    if route.material_before_approval {
        notes
            .push("That is before the rendering is approved: what is ordered may have to change.".to_owned());
    }
    if let Some(days) = route.slack_business_days {
        let how = if days < 0 { "short" } else { "to spare" };
        notes.push(format!("{} {how} in all.", business_days(days)));
    }
    notes.extend(route.fault.clone());
    let step = |step: &dates::MilestoneDates| Step {
        to_do: step.to_do.to_owned(),
        latest: step.latest,
        earliest: step.earliest,
        reached: step.reached,
        spare: step.slack_business_days,
    };
    Dates { route: route.name.clone(), steps: route.milestones.iter().map(step).collect(), notes }
}

/// What was built against what was worked out, and how it was put in.
fn handover(case: &Case<'_>) -> Vec<(String, String)> {
    let built = as_built::compare(case, case.job());
    let mut rows: Vec<(String, String)> =
        built.iter().map(|panel| ("As built".to_owned(), panel.in_words())).collect();
    if let Some(differs) = case.project.as_built.as_ref().and_then(|b| b.differs.clone()) {
        rows.push(("Differs from the release".to_owned(), differs));
    }
    rows.extend(crate::ops::pack::installed(case));
    rows
}
