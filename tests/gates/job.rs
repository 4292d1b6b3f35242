//! A whole job in memory, from shop to handover, on which a case changes one thing.
//!
//! The lightworks, its people and its job are invented. The shop's lists are those that a new book starts with.

use std::collections::BTreeMap;
use std::sync::OnceLock;

use serde::de::DeserializeOwned;
use serde_json::{Value, json};
use underlit::digest::Sha256Digest;
use underlit::gates::advice::warnings;
use underlit::gates::{Finding, Verdict, Warning, evaluate, facts, is_released};
use underlit::ids::{PanelId, PersonId, SwatchId};
use underlit::job::{Case, plan};
use underlit::model::moves::Move;
use underlit::model::panel::Panel;
use underlit::model::rendering::Rendering;
use underlit::model::roster::Role;
use underlit::model::rules::{ApprovalRule, Ask, Rules};
use underlit::model::snapshot::{Drawing, Shop, SignOff, Snapshot};
use underlit::model::stage::Stage;
use underlit::model::statement::{Decision, EDITION, Evidence, Statement, Subject, Topic, View};
use underlit::model::supersession::says_yes;
use underlit::model::swatch::Swatch;
use underlit::model::trial::Trial;
use underlit::power::lights::Lights;
use underlit::shape;
use underlit::store::starter;
use underlit::units::Millimetres;

/// A record of any kind, written as JSON.
pub(crate) fn record<T: DeserializeOwned>(value: Value) -> T {
    serde_json::from_value(value.clone()).unwrap_or_else(|e| panic!("{e} in {value}"))
}

/// A name of any kind.
pub(crate) fn name<T: DeserializeOwned>(text: &str) -> T {
    record(json!(text))
}

/// The digest that stands for a file of that name.
pub(crate) fn digest(text: &str) -> Sha256Digest {
    Sha256Digest::of(text.as_bytes())
}

fn file(name: &str) -> Value {
    json!({ "file": name, "sha256": digest(name) })
}

/// The rules of a shop that asks for everything that rules can ask.
fn strict_rules(starter: Rules) -> Rules {
    let mut rules = Rules {
        apart: vec![Role::Client, Role::Engineer],
        bench: Some(record(json!({
            "watts_within_pct": 10, "cct_within_k": 150, "least_evenness": 0.6, "photo": true
        }))),
        asks: Ask::ALL.to_vec(),
        ..starter
    };
    rules.approvals.extend(
        [
            json!({ "view": "acknowledgement", "topic": "accepted", "role": "client", "people": 1 }),
            json!({ "view": "waiver", "topic": "not-measured", "role": "client", "people": 1 }),
            json!({ "view": "waiver", "topic": "slab-not-seen", "role": "client", "people": 1 }),
            json!({ "view": "waiver", "topic": "room-light-unknown", "role": "client", "people": 1 }),
            json!({ "view": "waiver", "topic": "electrics-unknown", "role": "client", "people": 1 }),
            json!({ "view": "waiver", "topic": "outside-limits", "role": "engineer", "people": 1 }),
        ]
        .map(record::<ApprovalRule>),
    );
    rules
}

/// The shop, as the starter files and an invented roster make it.
pub(crate) fn shop() -> Shop {
    fn list<T: DeserializeOwned>(path: &str) -> T {
        let found = starter::FILES.iter().find(|(name, _)| *name == path);
        let (_, text) = found.unwrap_or_else(|| panic!("no starter file {path}"));
        serde_json::from_str(text).unwrap_or_else(|e| panic!("{path}: {e}"))
    }
    let person = |id: &str, name: &str, role: &str| json!({ "id": id, "name": name, "roles": [role], "keys": [{ "public": format!("ssh-ed25519 {id}"), "state": "active" }] });
    Shop {
        book: record(json!({
            "$schema": "schema/book.schema.json", "id": "tidewater", "shop": "Tidewater Lightworks",
            "units": "mm", "format": 2
        })),
        roster: record(json!({
            "$schema": "../schema/roster.schema.json", "book": "tidewater", "version": 1, "previous": null,
            "threshold": 1, "sealed": {}, "reason": "The first roster.", "time": "2026-08-31T08:00:00Z",
            "people": [
                person("ada", "Ada Sandbar", "owner"),
                person("oleg", "Oleg Brightwater", "rep"),
                person("rita", "Rita Shoal", "rep"),
                person("clara", "Clara Quay", "client"),
                person("otto", "Otto Breaker", "client"),
                person("dana", "Dana Reed", "designer"),
                person("mara", "Mara Tideway", "engineer"),
                person("ines", "Ines Quayle", "engineer"),
                person("finn", "Finn Anchor", "fabricator"),
                person("ivo", "Ivo Spar", "installer"),
            ]
        })),
        roster_digest: digest("roster"),
        named_then: BTreeMap::new(),
        rules: strict_rules(list("rules.json")),
        routes: list("shop/routes.json"),
        lights: {
            let mut lights: Lights = list("shop/lights.json");
            // The desk is bent, and lit along edges that run round the bend.
            lights.lights.iter_mut().filter(|l| l.id == "tunable-24").for_each(|l| {
                l.least_sideways_radius_mm = Some(Millimetres(4000.0));
            });
            lights
        },
        drivers: list("shop/drivers.json"),
        controls: list("shop/controls.json"),
        wire: list("shop/wire.json"),
        calendar: list("shop/calendar.json"),
        conflicts: BTreeMap::new(),
    }
}

/// An outline of straight edges through these corners, in millimetres.
pub(crate) fn corners(points: &[[f64; 2]]) -> Value {
    let lines = points[1..].iter().chain(&points[..1]).map(|p| json!({ "kind": "line", "to_mm": p }));
    json!({ "outer": { "start_mm": points[0], "segments": lines.collect::<Vec<_>>() } })
}

/// A rectangle of that width and height, in millimetres.
pub(crate) fn rectangle(width: f64, height: f64) -> Value {
    corners(&[[0.0, 0.0], [width, 0.0], [width, height], [0.0, height]])
}

/// A circle of that radius, in millimetres.
pub(crate) fn circle(radius: f64) -> Value {
    json!({ "outer": { "segments": [{ "kind": "circle", "centre_mm": [0, 0], "radius_mm": radius }] } })
}

/// The reception desk's front: straight below and at both ends, arched above, with a round opening.
pub(crate) fn arched(width: f64) -> Value {
    json!({
        "outer": { "start_mm": [0, 0], "segments": [
            { "kind": "line", "to_mm": [width, 0] },
            { "kind": "line", "to_mm": [width, 700] },
            { "kind": "arc", "to_mm": [0, 700], "bulge": 0.1 },
            { "kind": "line", "to_mm": [0, 0] },
        ]},
        "cutouts": [{ "segments": [{ "kind": "circle", "centre_mm": [600, 350], "radius_mm": 60 }] }],
        "etchings": [{ "start_mm": [100, 200], "segments": [{ "kind": "line", "to_mm": [200, 300] }] }]
    })
}

/// A drawing read and measured; refused where it is not sound.
pub(crate) fn drawing(outline: &Value) -> Drawing {
    let bytes = outline.to_string();
    let read = shape::read_json(bytes.as_bytes()).unwrap_or_else(|e| panic!("{e} in {bytes}"));
    assert!(shape::check(&read).is_empty(), "the outline is not sound: {bytes}");
    let figures = shape::figures(&read);
    Drawing {
        digest: Sha256Digest::of(bytes.as_bytes()),
        outline: read,
        figures,
        nested: None,
        moved: BTreeMap::new(),
    }
}

fn panel(id: &str, title: &str, outline: &Drawing, chosen: Value) -> Panel {
    let mut fields = json!({
        "$schema": "../../../schema/panel.schema.json", "id": id, "title": title, "swatch": "honey",
        "outline": { "file": format!("{id}.outline.json"), "sha256": outline.digest },
        "basis": {
            "kind": "template", "by": "Quarry Lane Masonry", "date": "2026-10-05", "file": "lobby.dwg", "revision": "C"
        },
        "slab": {
            "lot": "lot 7, slab 4", "photo": file(&format!("{id}-slab.jpg")), "trial": "honey-4000-clear",
            "backing": "glass-fibre mesh", "fills": "none seen", "book_match": "mirrored at the seam"
        },
        "place": "damp", "faces_considered": ["diffused", "clear"], "note": "The left end meets the pillar."
    });
    let chosen = chosen.as_object().expect("what is chosen is an object").clone();
    fields.as_object_mut().expect("a panel is an object").extend(chosen);
    record(fields)
}

/// A swatch of 20 mm slab with every field of the schema.
pub(crate) fn swatch(id: &str) -> Swatch {
    record(json!({
        "$schema": "../../../schema/swatch.schema.json", "id": id, "stone": format!("{id} onyx, north quarry"),
        "material": "onyx", "tone": "honey", "texture": "banded", "thickness_mm": 10,
        "slab": { "thickness_mm": 20, "lot": "lot 7", "finish": "polished", "density_kg_m3": 2710.5 },
        "measured": [{
            "id": "meter-1", "date": "2026-09-03", "thickness_mm": 10, "bare_lx": 2150, "through_lx": 195.5,
            "panel_cct_k": 4000, "spectrum": file(&format!("{id}.spectrum.csv")),
            "spectrum_column": "transmittance_10mm", "part": "body", "panel_light": "LED-B3",
            "panel_spectrum": file(&format!("{id}.panel.csv")),
            "values": file(&format!("{id}.values.csv")),
            "photo": {
                "picture": file(&format!("{id}.meter.jpg")), "stone": "40,60,1200,900", "bare": "1300,60,200,900",
                "bare_picture": file(&format!("{id}.bare.jpg")), "exposure_ratio": 4,
                "scale_mark": "100,980 1100,980", "scale_mm": 200,
                "chart_picture": file(&format!("{id}.chart.jpg")), "chart": "12,10 1190,14 1188,800 10,796"
            },
            "found": {
                "by": "lux-pair", "certainty": "measured", "under": "the panel at 4000 K", "luminous": 0.0909,
                "noise": 0.011, "panel_duv": -0.0007, "vein_share": 0.14, "body": [0.02, 0.03],
                "body_low": [0.01, 0.02], "body_high": [0.03, 0.04], "vein": [0.01, 0.015]
            }
        }],
        "photo": file(&format!("{id}.jpg")), "received": "2026-09-02", "note": "The bands run lengthwise."
    }))
}

/// A shop and a job of it.
#[derive(Clone)]
pub(crate) struct Job {
    pub(crate) shop: Shop,
    pub(crate) project: Snapshot,
}

impl Job {
    /// A job that has gone all the way and calls for every requirement: a desk with an arched front too long for
    /// one sheet, closed in for good, in tunable white; and an oblong bar lit from three edges in static white.
    pub(crate) fn complete() -> Job {
        static MADE: OnceLock<Job> = OnceLock::new();
        MADE.get_or_init(Job::make).clone()
    }

    fn make() -> Job {
        let read = |id: &str, serial: &str, watts: f64, volts: f64| {
            json!({
                "id": id, "serial": serial, "measured_w": watts, "measured_v": volts, "measured_cct_k": 4050,
                "nine_points_lx": [610, 640, 605, 650, 690, 645, 600, 640, 612], "photo": file(&format!("{id}-lit.jpg"))
            })
        };
        let (desk, bar) = (drawing(&arched(3600.0)), drawing(&rectangle(1200.0, 300.0)));
        let panels = [
            panel(
                "bar",
                "Bar front",
                &bar,
                json!({
                    "light": { "kind": "static-white", "cct_k": 4000 }, "face": "clear", "lit_edges": [1, 2, 3],
                    "voltage_v": 24, "mount": "tray", "feed_length_m": 4, "position": "underfoot",
                    "floor": {
                        "load_kn_m2": 5, "carried_by": "a steel grid on the slab", "slip": "R10 by DIN 51130",
                        "calculation": "sheet 12 of 2026-10-02, Oda Brandt, structural engineer"
                    },
                    "no_test_panel": { "because": "the same stone is in the client's other bar" },
                    "supply": { "location": "remote", "place": "dry" }
                }),
            ),
            panel(
                "desk",
                "Reception desk",
                &desk,
                json!({
                    "light": {
                        "kind": "tunable-white", "cct_k": 4000, "least_ra": 80,
                        "cct_range_k": { "warmest": 2700, "coolest": 6000 }, "level_pct": 80
                    },
                    "face": "clear", "feed_basis": "measured",
                    "lit_edges": [1, 3],
                    "voltage_v": 24, "mount": "fixed", "control": "tunable-wall", "feed_length_m": 6.5,
                    "supply": {
                        "location": "remote", "place": "damp", "space_mm": [400, 90, 60],
                        "class2_wiring": true, "controller_m": 0.5, "controller_place": "dry"
                    },
                    "bent": { "radius_mm": 4200, "axis": "upright", "formed": "cold", "face": "hollow" },
                    "ribs": [{ "from_mm": [300, 0], "to_mm": [300, 600] }],
                    "etching": "House number 12", "etching_depth_mm": 1.5, "lead_at_mm": 120,
                    "opening": { "way": "rear", "edge": 2 },
                    "position": "upright", "zone": "lobby", "up_edge": 3, "lead_edge": 4, "vein_deg": 35.5, "quantity": 2
                }),
            ),
        ];
        let project = Snapshot {
            project: record(json!({
                "$schema": "../../schema/project.schema.json", "id": "quay-hotel", "title": "Quay hotel, lobby",
                "people": {
                    "client": "clara", "rep": "oleg", "designer": "dana", "engineer": "mara",
                    "fabricator": "finn", "installer": "ivo", "stone_mason": "finn", "electrician": "ivo",
                    "approvers": [{ "person": "otto", "stands_for": "architect" }]
                },
                "site": {
                    "name": "Quay hotel", "address": "Harbour Row 4", "ambient_lx": 300,
                    "electrical_code": "Harbour wiring code, 2024 edition", "surround_reflectance": 0.7,
                    "mains_v": 230, "code_region": "iec"
                },
                "opened": "2026-09-01", "install_date": "2027-01-11",
                "dates": { "ordered_ahead": [{ "what": "slab of lot 7", "date": "2026-11-20" }] }, "note": "Open to guests throughout."
            })),
            swatches: BTreeMap::from([(name("honey"), swatch("honey"))]),
            requests: BTreeMap::new(),
            trials: BTreeMap::new(),
            panels: panels.into_iter().map(|p| (p.id.clone(), p)).collect(),
            drawings: BTreeMap::from([(name("bar"), Ok(bar)), (name("desk"), Ok(desk))]),
            renderings: BTreeMap::new(),
            files: BTreeMap::new(),
            as_built: Some(record(json!({
                "$schema": "../../schema/as-built.schema.json", "date": "2027-01-04", "by": "finn",
                "panels": [
                    read("bar", "QH-0001", 38.5, 23.9), read("desk", "QH-0002", 137.0, 24.0),
                    read("desk", "QH-0003", 137.0, 24.0)
                ],
                "consignments": [
                    { "id": "first", "panels": ["bar", "desk"], "sent": "2027-01-05", "received": "2027-01-07" }
                ]
            }))),
            installation: Some(record(json!({
                "$schema": "../../schema/installation.schema.json", "date": "2027-01-11", "by": "ivo",
                "electrician": "Petra Lowfield, licence 118",
                "electrical_code": "Harbour wiring code, 2024 edition", "driver_access": "Left of the desk.",
                "service_card": {
                    "kept_at": "inside the cupboard door", "access": "It cannot be reached.",
                    "contact": "the shop's desk"
                },
                "acceptance": {
                    "date": "2027-01-12", "photo": file("accepted.jpg"), "lowest_dim_pct": 5,
                    "flicker_looked_for": "by eye and with a camera at 5 %"
                }
            }))),
            signoffs: Vec::new(),
            void_signoffs: Vec::new(),
            moves: BTreeMap::new(),
            void_moves: Vec::new(),
            notes: BTreeMap::new(),
            conflicts: BTreeMap::new(),
        };
        let mut job = Job { shop: shop(), project };
        job.try_stone("honey");
        job.panel("bar", |p| p.route = Some(name("routed-panel")));
        job.panel("desk", |p| p.route = Some(name("routed-panel")));
        job.split("desk");
        job.settle();
        job.draw("desk");
        job.put_files();
        job.sign_all();
        job.move_to(Stage::HandedOver);
        job
    }

    pub(crate) fn case(&self) -> Case<'_> {
        Case::new(&self.shop, &self.project)
    }

    pub(crate) fn verdict(&self) -> Verdict {
        evaluate(&self.case(), Stage::HandedOver)
    }

    pub(crate) fn warnings(&self) -> Vec<Warning> {
        warnings(&self.case())
    }

    pub(crate) fn released(&self) -> bool {
        is_released(&self.case())
    }

    /// What one requirement says.
    pub(crate) fn findings(&self, requirement: &str) -> Vec<Finding> {
        self.verdict().findings.into_iter().filter(|f| f.requirement == requirement).collect()
    }

    /// Everything that is not met, in a form that reads well where a test fails.
    pub(crate) fn missing(&self) -> Vec<String> {
        self.verdict().missing().map(|f| format!("{}: {}", f.requirement, f.what)).collect()
    }

    /// Changes a panel.
    pub(crate) fn panel(&mut self, id: &str, change: impl FnOnce(&mut Panel)) {
        change(self.project.panels.get_mut(&name::<PanelId>(id)).unwrap_or_else(|| panic!("no panel {id}")));
    }

    /// Changes a swatch.
    pub(crate) fn swatch(&mut self, id: &str, change: impl FnOnce(&mut Swatch)) {
        change(
            self.project.swatches.get_mut(&name::<SwatchId>(id)).unwrap_or_else(|| panic!("no swatch {id}")),
        );
    }

    /// Gives a panel another outline, in its record too.
    pub(crate) fn outline(&mut self, id: &str, outline: &Value) {
        let drawing = drawing(outline);
        self.panel(id, |p| p.outline.sha256 = drawing.digest);
        self.project.drawings.insert(name(id), Ok(drawing));
    }

    /// Asks for a test panel for a stone, receives it, and tries the stone over it at 2700 and 4000 K on both faces.
    pub(crate) fn try_stone(&mut self, stone: &str) {
        let request = format!("{stone}-panel");
        self.project.requests.insert(name(&request), record(json!({
            "$schema": "../../../schema/request.schema.json", "id": request, "swatches": [stone],
            "width_mm": 300, "height_mm": 200.5, "light": "tunable-white", "ccts_k": [2700, 4000],
            "faces": ["diffused", "clear"], "quantity": 1, "address": "Harbour Row 4", "asked": "2026-09-07",
            "needed_by": "2026-09-25", "sent": "2026-09-18", "consignment": "parcel 0042",
            "received": "2026-09-22", "note": "Ring at the side door."
        })));
        for cct in [2700, 4000] {
            for face in ["diffused", "clear"] {
                let id = format!("{stone}-{cct}-{face}");
                self.project.trials.insert(
                    name(&id),
                    record(json!({
                        "$schema": "../../../schema/trial.schema.json", "id": id, "swatch": stone,
                        "request": request, "date": "2026-09-23", "cct_k": cct, "face": face,
                        "seen": "The bands stand out well.", "rating": 4, "bare_lx": 2100, "through_lx": 1900,
                        "photo": file(&format!("{id}.jpg"))
                    })),
                );
            }
        }
    }

    /// Splits a panel as its route would first propose.
    pub(crate) fn split(&mut self, id: &str) {
        let id: PanelId = name(id);
        let panel = &self.project.panels[&id];
        let route = panel.route.as_ref().and_then(|r| self.shop.routes.get(r.as_str()));
        let route = route.expect("the route is one of the shop's");
        let drawing = self.project.drawing_of(&id).expect("the panel is drawn");
        let tape =
            self.shop.lights.lights.iter().find(|t| panel.light.as_ref().is_some_and(|l| l.kind == t.kind));
        let options = plan::pieces::options(route, tape, panel, drawing);
        let options = options.unwrap_or_else(|e| panic!("panel {id} cannot be split: {e}"));
        let seams = plan::pieces::seams_of(&options[0]);
        self.panel(id.as_str(), |p| p.seams = seams);
    }

    /// Settles what is open of route, tape, driver and wire, as the plan proposes.
    pub(crate) fn settle(&mut self) {
        let proposed = plan::propose_job(&self.shop, &self.project);
        for (id, panel) in proposed.panels {
            let route = panel.route.unwrap_or_else(|e| panic!("no route for {id}: {e:?}"));
            let power = panel.power.unwrap_or_else(|e| panic!("no power for {id}: {e:?}"));
            self.panel(id.as_str(), |p| {
                p.route.get_or_insert(name(&route));
                p.tape.get_or_insert(name(&power.tape));
                p.driver.get_or_insert(name(&power.driver));
                p.wire.get_or_insert(name(&power.wire));
            });
        }
    }

    /// Draws a panel as it is now.
    pub(crate) fn draw(&mut self, id: &str) {
        let id: PanelId = name(id);
        let panel = &self.project.panels[&id];
        let drawing = self.project.drawing_of(&id).expect("the panel has an outline");
        let figures = &drawing.figures;
        let revision = self.project.renderings.get(&id).map_or(1, |r| r.revision + 1);
        let drawn = Rendering {
            schema: "../../../../schema/rendering.schema.json".into(),
            panel: id.clone(),
            revision,
            outline_sha256: drawing.digest,
            shows_sha256: facts::shown_on_sheet(&self.case(), panel),
            sheet: record(json!({ "file": "sheet.svg", "sha256": digest(&format!("{id} {revision} svg")) })),
            further_sheets: vec![record(
                json!({ "file": "sheet-2.svg", "sha256": digest(&format!("{id} {revision} svg 2")) }),
            )],
            pdf: record(json!({ "file": "sheet.pdf", "sha256": digest(&format!("{id} {revision} pdf")) })),
            width_mm: Millimetres(figures.width_mm),
            height_mm: Millimetres(figures.height_mm),
            area_mm2: figures.area_mm2,
            perimeter_mm: Millimetres(figures.perimeter_mm),
            cutouts: u32::try_from(figures.cutouts).expect("a drawing has few cut-outs"),
            lit_edges: panel.lit_edges.clone(),
            seams: panel.seams.clone(),
            stone_thickness_mm: self
                .project
                .stone_of(panel)
                .map_or(Millimetres(0.0), |s| s.slab.thickness_mm),
            drawn_with: "0.1.0".into(),
            printed: None,
        };
        self.project.renderings.insert(id, drawn);
        self.put_files();
    }

    /// Lays every file beside its record as the record names it.
    pub(crate) fn put_files(&mut self) {
        let project = &self.project;
        let mut files = BTreeMap::new();
        for swatch in project.swatches.values() {
            let measured = swatch.measured.iter().flat_map(|m| m.spectrum.iter().chain(&m.values));
            for a in swatch.photo.iter().chain(measured) {
                files.insert(format!("swatches/{}", a.file), a.sha256);
            }
        }
        for a in project.trials.values().flat_map(Trial::attachments) {
            files.insert(format!("trials/{}", a.file), a.sha256);
        }
        for (id, drawn) in &project.renderings {
            for a in drawn.files() {
                files.insert(format!("renderings/{id}/{}", a.file), a.sha256);
            }
        }
        for panel in project.panels.values() {
            files.insert(format!("panels/{}", panel.outline.file), panel.outline.sha256);
        }
        self.project.files = files;
    }

    /// A statement about the facts as they are now, not yet kept.
    pub(crate) fn statement(
        &self,
        subject: &Subject,
        role: Role,
        who: &str,
        decision: Decision,
    ) -> Statement {
        Statement {
            schema: "../../../schema/sign-off.schema.json".into(),
            book: self.shop.book.id.clone(),
            project: self.project.project.id.clone(),
            about: subject.clone(),
            role,
            decision,
            comment: (decision == Decision::Rejected).then(|| "Too cold.".to_owned()),
            notes: if decision == Decision::ApprovedAsNoted {
                vec!["Round the corner.".into()]
            } else {
                vec![]
            },
            facts: facts::of(&self.case(), subject),
            supersedes: Vec::new(),
            signer: name::<PersonId>(who),
            roster: self.shop.roster_ref(),
            evidence: None,
            edition: (!says_yes(decision)).then_some(EDITION),
            time: "2026-10-05T14:20:31Z".into(),
            nonce: format!("{:032x}", self.project.signoffs.len()),
        }
    }

    /// Keeps a statement as one whose signature counts, and gives its digest.
    pub(crate) fn keep(&mut self, statement: Statement) -> Sha256Digest {
        let bytes = serde_json::to_vec(&statement).expect("a statement is JSON");
        let digest = Sha256Digest::of(&bytes);
        self.project.signoffs.push(SignOff { digest, statement, void: None });
        digest
    }

    /// Somebody says something of a subject as it is now.
    pub(crate) fn say(
        &mut self,
        subject: &Subject,
        role: Role,
        who: &str,
        decision: Decision,
    ) -> Sha256Digest {
        let statement = self.statement(subject, role, who, decision);
        self.keep(statement)
    }

    /// As [`Job::say`], in place of earlier statements.
    pub(crate) fn say_instead(
        &mut self,
        earlier: &[Sha256Digest],
        subject: &Subject,
        role: Role,
        who: &str,
        decision: Decision,
    ) -> Sha256Digest {
        let statement = self.statement(subject, role, who, decision);
        self.keep(Statement { supersedes: earlier.to_vec(), ..statement })
    }

    /// A rep takes in what the client answered on paper.
    pub(crate) fn take_in(
        &mut self,
        earlier: &[Sha256Digest],
        subject: &Subject,
        (rep, client): (&str, &str),
        decision: Decision,
    ) -> Sha256Digest {
        let statement = self.statement(subject, Role::Client, rep, decision);
        let scan = digest("letter");
        let evidence = Evidence {
            person: name(client),
            how: "by letter".into(),
            scan: record(json!({ "file": format!("{scan}.pdf"), "sha256": scan })),
        };
        self.keep(Statement { supersedes: earlier.to_vec(), evidence: Some(evidence), ..statement })
    }

    /// Takes out everything that was said about a subject.
    pub(crate) fn forget(&mut self, subject: &Subject) {
        self.project.signoffs.retain(|s| s.statement.about != *subject);
    }

    /// Everything about which something can be said of this job.
    pub(crate) fn subjects(&self) -> Vec<Subject> {
        let mut all: Vec<Subject> = self.project.requests.keys().map(Subject::request).collect();
        for id in self.project.panels.keys() {
            let acknowledged = |topic| Subject::topic(View::Acknowledgement, topic, Some(id));
            all.push(Subject::panel(View::Choice, id));
            all.push(Subject::panel(View::Rendering, id));
            all.extend(
                [
                    Topic::CctNotTried,
                    Topic::Sampling,
                    Topic::Dim,
                    Topic::NotMeasured,
                    Topic::SlabNotSeen,
                    Topic::ElectricsUnknown,
                    Topic::OutsideLimits,
                ]
                .map(|t| Subject::topic(View::Waiver, t, Some(id))),
            );
            all.extend([Topic::NoFieldService, Topic::Seams, Topic::UnevenLight].map(acknowledged));
        }
        all.push(room_light());
        all.push(cautions());
        all.push(accepted());
        all.push(ordered_ahead());
        all.push(Subject::release());
        all
    }

    /// Everybody signs afresh what the rules ask of them.
    pub(crate) fn sign_all(&mut self) {
        self.project.signoffs.clear();
        for subject in self.subjects() {
            let rules: Vec<ApprovalRule> = self.shop.rules.needed(&subject).cloned().collect();
            for rule in rules {
                let who = match rule.role {
                    Role::Client => "clara",
                    Role::Engineer => "mara",
                    Role::Rep => "oleg",
                    other => panic!("the starter rules ask nothing of the {other}"),
                };
                self.say(&subject, rule.role, who, Decision::Approved);
            }
        }
    }

    /// Moves on, one stage after another, from where the job stands.
    pub(crate) fn move_to(&mut self, stage: Stage) {
        while self.project.standing().stage < stage {
            let standing = self.project.standing();
            let to = standing.stage.next().expect("there is a stage after it");
            let (digest, step) = step(standing.stage, to, standing.last, "");
            self.project.moves.insert(digest, step);
        }
    }
}

/// What was ordered before its drawing was approved.
pub(crate) fn ordered_ahead() -> Subject {
    Subject::topic(View::Acknowledgement, Topic::OrderedAhead, None)
}

/// The waiver for a room of unknown light.
pub(crate) fn room_light() -> Subject {
    Subject::topic(View::Waiver, Topic::RoomLightUnknown, None)
}

/// The taking over of the finished work.
pub(crate) fn accepted() -> Subject {
    Subject::topic(View::Acknowledgement, Topic::Accepted, None)
}

/// The acknowledgement of the cautions.
pub(crate) fn cautions() -> Subject {
    Subject::topic(View::Acknowledgement, Topic::Cautions, None)
}

/// A move with the digest that names it. The tag tells apart moves that are otherwise the same.
pub(crate) fn step(
    from: Stage,
    to: Stage,
    previous: Option<Sha256Digest>,
    tag: &str,
) -> (Sha256Digest, Move) {
    let step: Move = record(json!({
        "$schema": "../../../schema/move.schema.json", "book": "tidewater", "project": "quay-hotel",
        "from": from, "to": to, "previous": previous,
        "reason": if to < from { json!("The client thinks again.") } else { Value::Null },
        "met": [], "signoffs": [], "signer": "oleg", "role": "rep",
        "roster": { "version": 1, "sha256": digest("roster") },
        "time": "2026-10-05T14:20:31Z", "nonce": digest(tag).hex()[..32].to_owned()
    }));
    let bytes = serde_json::to_vec(&step).expect("a move is JSON");
    (Sha256Digest::of(&bytes), step)
}
