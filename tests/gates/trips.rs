//! For every requirement: what trips it, with whom it waits for what, and the same case fixed.

use std::process::Command;

use underlit::fault::Fault;
use underlit::gates::State;
use underlit::gates::requirements::ALL;
use underlit::ids::PanelId;
use underlit::making::bending::Forming;
use underlit::model::earlier_trial::NoTestPanel;
use underlit::model::handover::{BuiltPanel, Consignment, Installation};
use underlit::model::panel::{Bend, BendAxis, FeedBasis};
use underlit::model::project::OrderedAhead;
use underlit::model::roster::Role;
use underlit::model::site_facts::BasisKind;
use underlit::model::stage::Stage;
use underlit::model::statement::{Decision, Subject, Topic, View};
use underlit::model::swatch::Material;
use underlit::power::lights::CctRange;
use underlit::power::vocabulary::Place;
use underlit::units::{Lux, Millimetres};
use underlit::words::LightKind;

use crate::job::{
    Job, accepted, arched, cautions, digest, drawing, name, ordered_ahead, record, rectangle, room_light,
    swatch,
};

/// One way to trip a requirement, and to fix it.
struct Trip {
    requirement: &'static str,
    /// What is wrong, for the reader of a failure.
    about: &'static str,
    state: State,
    /// Who can fix it, by name.
    who: &'static [&'static str],
    /// What the command that fixes it says.
    command: &'static str,
    /// What the sentence says.
    says: &'static str,
    trip: fn(&mut Job),
    fix: fn(&mut Job),
}

fn desk() -> PanelId {
    name("desk")
}

fn choice() -> Subject {
    Subject::panel(View::Choice, &desk())
}

fn rendering() -> Subject {
    Subject::panel(View::Rendering, &desk())
}

fn acknowledged(topic: Topic, panel: &str) -> Subject {
    Subject::topic(View::Acknowledgement, topic, Some(&name(panel)))
}

fn waiver() -> Subject {
    Subject::topic(View::Waiver, Topic::CctNotTried, Some(&desk()))
}

fn outside() -> Subject {
    Subject::topic(View::Waiver, Topic::OutsideLimits, Some(&name("bar")))
}

fn waived(topic: Topic) -> Subject {
    Subject::topic(View::Waiver, topic, Some(&desk()))
}

fn without_code(job: &mut Job) {
    job.project.project.site.electrical_code = None;
}

fn built<'a>(job: &'a mut Job, id: &str) -> &'a mut BuiltPanel {
    let all = &mut job.project.as_built.as_mut().expect("it is built").panels;
    all.iter_mut().find(|p| p.id.as_str() == id).expect("the panel is built")
}

fn sent(job: &mut Job) -> &mut Consignment {
    &mut job.project.as_built.as_mut().expect("it is built").consignments[0]
}

fn put_in(job: &mut Job) -> &mut Installation {
    job.project.installation.as_mut().expect("it is installed")
}

fn unsampled(panel: &str) -> Subject {
    Subject::topic(View::Waiver, Topic::Sampling, Some(&name(panel)))
}

/// No test panel, by the client's word or by an earlier trial of honey onyx of a lot.
fn without(lot: Option<&str>) -> NoTestPanel {
    let earlier = lot.map(|lot| {
        serde_json::json!({
            "project": "harbour-bar", "trial": "neutral", "sha256": digest("trial"), "date": "2026-05-04",
            "stone": "honey onyx, north quarry", "lot": lot, "slab_mm": 20, "light": "tunable-white",
            "cct_k": 4000, "face": "clear"
        })
    });
    let mut all = serde_json::json!({ "because": "the same stone is in the client's other bar" });
    all.as_object_mut().expect("it is an object").extend(earlier.map(|e| ("earlier".to_owned(), e)));
    record(all)
}

fn dim_bar() -> Subject {
    Subject::topic(View::Waiver, Topic::Dim, Some(&name("bar")))
}

/// The stone read at the slab's own thickness alone, so much of the panel's own light passing it; the desk's own
/// softness is signed for, so that the bar alone is in question.
fn dimmed(job: &mut Job, through_lx: f64) {
    let bar: PanelId = name("bar");
    let exitance = job.case().job().panels[&bar].power.clone().expect("its power is worked out");
    job.swatch("honey", |s| {
        s.measured.clear();
        s.thickness_mm = s.slab.thickness_mm;
    });
    job.project.trials.values_mut().for_each(|t| {
        t.bare_lx = Some(exitance.build.exitance_lx);
        t.through_lx = Some(Lux(through_lx));
    });
    let desk = Subject::topic(View::Waiver, Topic::Dim, Some(&desk()));
    job.forget(&desk);
    approve(job, &desk, Role::Client);
}

fn approve(job: &mut Job, subject: &Subject, role: Role) {
    let who = if role == Role::Client { "clara" } else { "mara" };
    job.say(subject, role, who, Decision::Approved);
}

fn refuse(job: &mut Job, subject: &Subject, role: Role) {
    let who = if role == Role::Client { "clara" } else { "mara" };
    job.forget(subject);
    job.say(subject, role, who, Decision::Rejected);
}

/// The same signer says yes after all, in place of what stands.
fn relent(job: &mut Job, subject: &Subject, role: Role) {
    let who = if role == Role::Client { "clara" } else { "mara" };
    let said: Vec<_> = job
        .project
        .signoffs
        .iter()
        .filter(|s| s.statement.about == *subject && s.statement.role == role)
        .map(|s| s.digest)
        .collect();
    job.say_instead(&said, subject, role, who, Decision::Approved);
}

/// Somebody refuses in a role that no rule asks, beside everything that was said.
fn refuse_unasked(job: &mut Job, subject: &Subject, role: Role, who: &str) {
    job.say(subject, role, who, Decision::Rejected);
}

/// The owner sets the last refusal aside.
fn overridden(job: &mut Job) {
    let last = job.project.signoffs.last().expect("it was refused").digest;
    job.say(&Subject::override_of(last), Role::Owner, "ada", Decision::Approved);
}

/// Whoever spoke last takes it back.
fn take_back(job: &mut Job) {
    let last = job.project.signoffs.last().expect("it was refused").clone();
    let said = last.statement;
    job.say_instead(&[last.digest], &said.about, said.role, said.signer.as_str(), Decision::Withdrawn);
}

/// Bent cold to a radius in millimetres, about an axis that runs up the drawing.
fn cold(radius: f64) -> Option<Bend> {
    Some(Bend {
        radius_mm: Millimetres(radius),
        axis: BendAxis::Upright,
        formed: Some(Forming::Cold),
        face: None,
    })
}

fn restore_panels(job: &mut Job) {
    let whole = Job::complete();
    job.project.panels = whole.project.panels;
    job.project.drawings = whole.project.drawings;
}

/// The key of one person under another's name; none takes it away again.
fn share_key(job: &mut Job, with: Option<&str>) {
    let key =
        |id: &str| record(serde_json::json!({ "public": format!("ssh-ed25519 {id}"), "state": "active" }));
    for person in &mut job.shop.roster.people {
        let id = person.id.to_string();
        let shared = with.filter(|_| id == "clara").unwrap_or(&id);
        person.keys = vec![key(shared)];
    }
}

const TRIPS: &[Trip] = &[
    Trip {
        requirement: "roles-apart",
        about: "client and engineer hold one key, and the rules keep the roles apart",
        state: State::Missing,
        who: &[],
        command: "underlit project change quay-hotel --engineer PERSON",
        says: "Clara Quay (client) and Mara Tideway (engineer) hold the same key",
        trip: |job| {
            job.shop.rules.apart = vec![Role::Engineer, Role::Client];
            share_key(job, Some("mara"));
        },
        fix: |job| share_key(job, None),
    },
    Trip {
        requirement: "nothing-refused",
        about: "the client refuses the release, which no rule asks of a client",
        state: State::Rejected,
        who: &["clara"],
        command: "underlit sign quay-hotel release --as client --withdraw",
        says: "Clara Quay (client) rejected the release of the whole build: “Too cold.”",
        trip: |job| refuse_unasked(job, &Subject::release(), Role::Client, "clara"),
        fix: take_back,
    },
    Trip {
        requirement: "nothing-refused",
        about: "the rep refuses the rendering, and the owner overrides it",
        state: State::Rejected,
        who: &["oleg"],
        command: "underlit sign quay-hotel rendering --panel desk --as rep --withdraw",
        says: "(rep) rejected the rendering for panel desk",
        trip: |job| refuse_unasked(job, &rendering(), Role::Rep, "oleg"),
        fix: overridden,
    },
    Trip {
        requirement: "nothing-refused",
        about: "an engineer refuses the choice, and the facts become others",
        state: State::Rejected,
        who: &["mara"],
        command: "underlit sign quay-hotel choice --panel desk --as engineer --withdraw",
        says: "(engineer) rejected the choice for panel desk",
        trip: |job| refuse_unasked(job, &choice(), Role::Engineer, "mara"),
        fix: overridden,
    },
    Trip {
        requirement: "stones-described",
        about: "no swatch at all",
        state: State::Missing,
        who: &["oleg"],
        command: "underlit swatch add quay-hotel NAME --stone",
        says: "no swatch is described",
        trip: |job| job.project.swatches.clear(),
        fix: |job| {
            job.project.swatches.insert(name("honey"), swatch("honey"));
        },
    },
    Trip {
        requirement: "stones-described",
        about: "a panel under a stone that nobody described",
        state: State::Missing,
        who: &["oleg"],
        command: "underlit swatch add quay-hotel smoke --stone",
        says: "panel bar lies under swatch smoke",
        trip: |job| job.panel("bar", |p| p.swatch = name("smoke")),
        fix: |job| {
            job.project.swatches.insert(name("smoke"), swatch("smoke"));
            job.try_stone("smoke");
            job.put_files();
        },
    },
    Trip {
        requirement: "panels-listed",
        about: "no panel",
        state: State::Missing,
        who: &["oleg", "dana"],
        command: "underlit panel add quay-hotel NAME --swatch",
        says: "no panel is listed",
        trip: |job| job.project.panels.clear(),
        fix: restore_panels,
    },
    Trip {
        requirement: "install-date-set",
        about: "no day of installation",
        state: State::Missing,
        who: &["oleg"],
        command: "underlit project change quay-hotel --install-date",
        says: "no install date is set",
        trip: |job| job.project.project.install_date = None,
        fix: |job| job.project.project.install_date = Some(record("2027-02-01".into())),
    },
    Trip {
        requirement: "test-panel-requested",
        about: "none asked for",
        state: State::Missing,
        who: &["oleg"],
        command: "underlit request ask quay-hotel NAME --swatch honey",
        says: "no test panel was asked for",
        trip: |job| job.project.requests.clear(),
        fix: |job| job.try_stone("honey"),
    },
    Trip {
        requirement: "test-panel-requested",
        about: "one colour temperature",
        state: State::Missing,
        who: &["oleg"],
        command: "--cct 2700,4000",
        says: "show 1 colour temperature; a choice needs at least two",
        trip: |job| job.project.requests.values_mut().for_each(|r| r.ccts_k = vec![4000]),
        fix: |job| job.project.requests.values_mut().for_each(|r| r.ccts_k = vec![4000, 4001]),
    },
    Trip {
        requirement: "test-panel-requested",
        about: "a face in question is not shown",
        state: State::Missing,
        who: &["oleg"],
        command: "--face clear",
        says: "shows the clear face, which is in question",
        trip: |job| {
            let diffused = record("diffused".into());
            job.project.requests.values_mut().for_each(|r| r.faces = vec![diffused]);
        },
        fix: |job| {
            let clear = record("clear".into());
            job.project.requests.values_mut().for_each(|r| r.faces = vec![clear]);
        },
    },
    Trip {
        requirement: "test-panel-requested",
        about: "the rules ask an approval of each request",
        state: State::Missing,
        who: &["oleg"],
        command: "underlit sign quay-hotel request --request honey-panel --as rep",
        says: "the test-panel request honey-panel is not yet approved by the rep",
        trip: |job| {
            job.shop
                .rules
                .approvals
                .push(record(serde_json::json!({ "view": "request", "role": "rep", "people": 1 })));
        },
        fix: |job| {
            job.say(&Subject::request(&name("honey-panel")), Role::Rep, "oleg", Decision::Approved);
        },
    },
    Trip {
        requirement: "test-panel-received",
        about: "sent and not there yet",
        state: State::Missing,
        who: &["oleg"],
        command: "underlit request received quay-hotel honey-panel",
        says: "honey-panel was sent on 2026-09-18 and has not been received",
        trip: |job| job.project.requests.values_mut().for_each(|r| r.received = None),
        fix: |job| job.try_stone("honey"),
    },
    Trip {
        requirement: "test-panel-received",
        about: "not even sent",
        state: State::Missing,
        who: &["finn"],
        command: "underlit request sent quay-hotel honey-panel",
        says: "honey-panel was asked for on 2026-09-07 and has not been sent",
        trip: |job| {
            job.project.requests.values_mut().for_each(|r| (r.sent, r.received) = (None, None));
        },
        fix: |job| job.try_stone("honey"),
    },
    Trip {
        requirement: "test-panel-received",
        about: "one is there and shows too little; of two on their way, the one that was sent is asked after",
        state: State::Missing,
        who: &["oleg"],
        command: "underlit request received quay-hotel b-sent",
        says: "b-sent was sent on 2026-09-20 and has not been received and z-asked was asked for on 2026-09-01 and \
               has not been sent; what has arrived shows 1 colour temperature",
        trip: |job| {
            let mut here = job.project.requests[&name("honey-panel")].clone();
            here.ccts_k = vec![4000];
            let mut sent = here.clone();
            (sent.id, sent.ccts_k) = (name("b-sent"), vec![2700]);
            (sent.sent, sent.received) = (Some(record("2026-09-20".into())), None);
            let mut asked = sent.clone();
            (asked.id, asked.sent, asked.asked) = (name("z-asked"), None, record("2026-09-01".into()));
            job.project.requests.extend([here, sent, asked].map(|r| (r.id.clone(), r)));
        },
        fix: |job| {
            let sent = job.project.requests.get_mut(&name("b-sent")).expect("it was sent");
            sent.received = Some(record("2026-09-24".into()));
        },
    },
    Trip {
        requirement: "trial-recorded",
        about: "no trial",
        state: State::Missing,
        who: &["oleg"],
        command: "underlit trial record quay-hotel NAME --swatch honey",
        says: "no trial of honey over a received test panel is recorded",
        trip: |job| job.project.trials.clear(),
        fix: |job| job.try_stone("honey"),
    },
    Trip {
        requirement: "trial-recorded",
        about: "trials over a test panel that never came",
        state: State::Missing,
        who: &["oleg"],
        command: "underlit trial record",
        says: "over a received test panel",
        trip: |job| job.project.trials.values_mut().for_each(|t| t.request = name("another")),
        fix: |job| job.try_stone("honey"),
    },
    Trip {
        requirement: "no-test-panel-accepted",
        about: "the client wants no test panel and has not signed that",
        state: State::Missing,
        who: &["clara"],
        command: "underlit sign quay-hotel waiver --panel desk --topic sampling --as client",
        says: "the waiver `sampling` for panel desk is not yet approved",
        trip: |job| {
            for panel in ["bar", "desk"] {
                job.panel(panel, |p| p.no_test_panel = Some(without(None)));
            }
            job.project.requests.clear();
            job.project.trials.clear();
            job.forget(&unsampled("desk"));
            approve(job, &unsampled("bar"), Role::Client);
        },
        fix: |job| approve(job, &unsampled("desk"), Role::Client),
    },
    Trip {
        requirement: "no-test-panel-accepted",
        about: "the earlier trial is of another lot",
        state: State::Missing,
        who: &["oleg"],
        command: "underlit trial cite quay-hotel desk",
        says: "its lot is “lot 8”, and here it is “lot 7”",
        trip: |job| {
            job.panel("desk", |p| p.no_test_panel = Some(without(Some("lot 8"))));
            approve(job, &unsampled("desk"), Role::Client);
        },
        fix: |job| {
            job.forget(&unsampled("desk"));
            job.panel("desk", |p| p.no_test_panel = Some(without(Some("lot 7"))));
            approve(job, &unsampled("desk"), Role::Client);
        },
    },
    Trip {
        requirement: "chosen-cct-tried",
        about: "the earlier trial shows another colour temperature than the one that is chosen",
        state: State::Missing,
        who: &["clara"],
        command: "underlit sign quay-hotel waiver --panel desk --topic cct-not-tried --as client",
        says: "3000 K was never tried on honey for panel desk",
        trip: |job| {
            job.project.trials.retain(|_, t| t.cct_k != Some(4000));
            job.panel("desk", |p| {
                p.no_test_panel = Some(without(Some("lot 7")));
                p.light.as_mut().expect("it is chosen").cct_k = Some(3000);
            });
            job.forget(&waiver());
        },
        fix: |job| {
            job.panel("desk", |p| p.light.as_mut().expect("it is chosen").cct_k = Some(4000));
            for face in ["diffused", "clear"] {
                let mut tried = job.project.trials[&name(&format!("honey-2700-{face}"))].clone();
                (tried.id, tried.cct_k) = (name(&format!("again-{face}")), Some(4000));
                // The bar has a trial of its own; the desk stands on the earlier one alone.
                job.project.trials.insert(tried.id.clone(), tried);
            }
        },
    },
    Trip {
        requirement: "choice-complete",
        about: "nothing chosen",
        state: State::Missing,
        who: &["oleg", "dana"],
        command: "underlit choose quay-hotel desk --light … --cct … --face … --edges … --volts … --mount …",
        says: "the kind of light, the colour temperature, the face, the lit edges, the voltage, the mount",
        trip: |job| {
            job.panel("desk", |p| {
                (p.light, p.face, p.voltage_v, p.mount) = (None, None, None, None);
                p.lit_edges.clear();
            });
        },
        fix: restore_panels,
    },
    Trip {
        requirement: "choice-complete",
        about: "white light without its colour temperature",
        state: State::Missing,
        who: &["oleg", "dana"],
        command: "underlit choose quay-hotel desk --cct …",
        says: "not yet chosen for panel desk: the colour temperature",
        trip: |job| job.panel("desk", |p| p.light.iter_mut().for_each(|l| l.cct_k = None)),
        fix: |job| job.panel("desk", |p| p.light.iter_mut().for_each(|l| l.cct_k = Some(4000))),
    },
    Trip {
        requirement: "chosen-cct-tried",
        about: "a colour temperature that nobody saw",
        state: State::Missing,
        who: &["clara"],
        command: "underlit sign quay-hotel waiver --panel desk --topic cct-not-tried --as client",
        says: "3200 K was never tried on honey for panel desk: record a trial at it, or sign its waiver",
        trip: |job| {
            job.forget(&waiver());
            job.panel("desk", |p| p.light.iter_mut().for_each(|l| l.cct_k = Some(3200)));
        },
        fix: |job| approve(job, &waiver(), Role::Client),
    },
    Trip {
        requirement: "chosen-cct-tried",
        about: "tried on the other face only",
        state: State::Missing,
        who: &["clara"],
        command: "underlit sign quay-hotel waiver --panel bar",
        says: "4000 K was never tried on honey",
        trip: |job| {
            job.panel("bar", |p| p.no_test_panel = None);
            job.forget(&waiver());
            job.forget(&Subject::topic(View::Waiver, Topic::CctNotTried, Some(&name("bar"))));
            let diffused = record("diffused".into());
            job.project.trials.values_mut().for_each(|t| t.face = diffused);
        },
        fix: |job| job.try_stone("honey"),
    },
    Trip {
        requirement: "chosen-cct-tried",
        about: "the waiver is refused",
        state: State::Rejected,
        who: &["oleg"],
        command: "underlit choose quay-hotel desk",
        says: "Clara Quay (client) rejected",
        trip: |job| {
            job.panel("desk", |p| p.light.iter_mut().for_each(|l| l.cct_k = Some(3200)));
            refuse(job, &waiver(), Role::Client);
        },
        fix: |job| relent(job, &waiver(), Role::Client),
    },
    Trip {
        requirement: "bright-enough",
        about: "dim, and nobody has signed for it",
        state: State::Missing,
        who: &["clara"],
        command: "underlit sign quay-hotel waiver --panel bar --topic dim --as client",
        says: "honey for panel bar will be only",
        trip: |job| {
            job.forget(&dim_bar());
            dimmed(job, 400.0);
        },
        fix: |job| approve(job, &dim_bar(), Role::Client),
    },
    Trip {
        requirement: "bright-enough",
        about: "dim, and then measured to be brighter",
        state: State::Missing,
        who: &["clara"],
        command: "waiver --panel bar --topic dim",
        says: "take a brighter tape, more lit edges, the clear face or thinner stone, or sign its waiver",
        trip: |job| {
            job.forget(&dim_bar());
            dimmed(job, 400.0);
        },
        fix: |job| dimmed(job, 900.0),
    },
    Trip {
        requirement: "bright-enough",
        about: "read at another thickness only, which leaves it open",
        state: State::Missing,
        who: &["clara"],
        command: "waiver --panel bar --topic dim",
        says: "may be only",
        trip: |job| {
            job.forget(&dim_bar());
            dimmed(job, 1100.0);
            job.swatch("honey", |s| s.thickness_mm = Millimetres(12.0));
        },
        fix: |job| dimmed(job, 900.0),
    },
    Trip {
        requirement: "bright-enough",
        about: "dimmer than it was when that was signed for",
        state: State::Stale,
        who: &["clara"],
        command: "waiver --panel bar --topic dim",
        says: "Clara Quay (client) approved the waiver `dim` for panel bar, but it has changed since",
        trip: |job| {
            job.forget(&dim_bar());
            dimmed(job, 400.0);
            approve(job, &dim_bar(), Role::Client);
            dimmed(job, 300.0);
        },
        fix: |job| relent(job, &dim_bar(), Role::Client),
    },
    Trip {
        requirement: "bright-enough",
        about: "the client wants it brighter",
        state: State::Rejected,
        who: &["oleg"],
        command: "underlit choose quay-hotel bar",
        says: "Clara Quay (client) rejected",
        trip: |job| {
            dimmed(job, 400.0);
            refuse(job, &dim_bar(), Role::Client);
        },
        fix: |job| relent(job, &dim_bar(), Role::Client),
    },
    Trip {
        requirement: "choice-signed",
        about: "unsigned",
        state: State::Missing,
        who: &["clara"],
        command: "underlit sign quay-hotel choice --panel desk --as client",
        says: "the choice for panel desk is not yet approved by the client",
        trip: |job| job.forget(&choice()),
        fix: |job| approve(job, &choice(), Role::Client),
    },
    Trip {
        requirement: "choice-signed",
        about: "refused",
        state: State::Rejected,
        who: &["oleg"],
        command: "underlit choose quay-hotel desk",
        says: "Clara Quay (client) rejected the choice for panel desk: “Too cold.”",
        trip: |job| refuse(job, &choice(), Role::Client),
        fix: |job| relent(job, &choice(), Role::Client),
    },
    Trip {
        requirement: "choice-signed",
        about: "changed since",
        state: State::Stale,
        who: &["clara"],
        command: "underlit sign quay-hotel choice --panel desk",
        says: "Clara Quay (client) approved the choice for panel desk, but it has changed since",
        trip: |job| job.panel("desk", |p| p.light.iter_mut().for_each(|l| l.cct_k = Some(4100))),
        fix: |job| relent(job, &choice(), Role::Client),
    },
    Trip {
        requirement: "chosen-light-offered",
        about: "a colour temperature that no tape can give",
        state: State::Missing,
        who: &["oleg"],
        command: "underlit choose quay-hotel desk --light",
        says: "no tape of the shop gives tunable-white at 9000 K",
        trip: |job| job.panel("desk", |p| p.light.iter_mut().for_each(|l| l.cct_k = Some(9000))),
        fix: |job| {
            let before = Job::complete().project.panels[&name("desk")].light.clone();
            job.panel("desk", |p| p.light = before);
        },
    },
    Trip {
        requirement: "chosen-light-offered",
        about: "a colour rendering that no tape has",
        state: State::Missing,
        who: &["oleg"],
        command: "underlit choose quay-hotel desk --light",
        says: "no tape of the shop gives tunable-white at 4000 K, 24 V, Ra 99 or more",
        trip: |job| job.panel("desk", |p| p.light.iter_mut().for_each(|l| l.least_ra = Some(99))),
        fix: |job| job.panel("desk", |p| p.light.iter_mut().for_each(|l| l.least_ra = Some(80))),
    },
    Trip {
        requirement: "place-served",
        about: "a damp place for which the shop has no tape",
        state: State::Missing,
        who: &["oleg", "ada"],
        command: "underlit choose quay-hotel desk --light",
        says: "no tunable-white tape of shop/lights.json is rated for a damp place (IEC 60529",
        trip: |job| job.shop.lights.lights.retain(|one| one.place < Place::Damp),
        fix: |job| job.shop.lights = Job::complete().shop.lights,
    },
    Trip {
        requirement: "slab-seen",
        about: "a slab that nobody recorded, until the layer turns out to be a film, which has none",
        state: State::Missing,
        who: &["clara"],
        command: "underlit sign quay-hotel waiver --panel desk --topic slab-not-seen",
        says: "its slab is not recorded",
        trip: |job| {
            job.panel("desk", |p| p.slab = None);
            job.forget(&waived(Topic::SlabNotSeen));
        },
        fix: |job| job.swatch("honey", |s| s.material = Material::Film),
    },
    Trip {
        requirement: "control-named",
        about: "colour that changes, and no control",
        state: State::Missing,
        who: &["oleg", "mara"],
        command: "underlit choose quay-hotel desk --control tunable-wall",
        says: "panel desk has tunable-white light and no control system",
        trip: |job| job.panel("desk", |p| p.control = None),
        fix: |job| job.panel("desk", |p| p.control = Some(name("tunable-wall"))),
    },
    Trip {
        requirement: "control-named",
        about: "a control that the shop does not have",
        state: State::Missing,
        who: &["oleg", "mara"],
        command: "underlit choose quay-hotel desk --control",
        says: "which is no controller of the shop",
        trip: |job| job.panel("desk", |p| p.control = Some(name("reverse-wall"))),
        fix: |job| job.panel("desk", |p| p.control = Some(name("colour-wall"))),
    },
    Trip {
        requirement: "control-named",
        about: "a controller for light that takes a dimmer",
        state: State::Missing,
        who: &["oleg", "mara"],
        command: "underlit choose quay-hotel desk --control reverse-wall",
        says: "which is no dimmer of the shop; warm-dim light takes one",
        trip: |job| job.panel("desk", |p| p.light.iter_mut().for_each(|l| l.kind = LightKind::WarmDim)),
        fix: |job| job.panel("desk", |p| p.light.iter_mut().for_each(|l| l.kind = LightKind::TunableWhite)),
    },
    Trip {
        requirement: "control-named",
        about: "a control for another light",
        state: State::Missing,
        who: &["oleg", "mara"],
        command: "underlit choose quay-hotel desk --control colour-wall",
        says: "which does not run rgbw light",
        trip: |job| job.panel("desk", |p| p.light.iter_mut().for_each(|l| l.kind = LightKind::Rgbw)),
        fix: |job| job.panel("desk", |p| p.light.iter_mut().for_each(|l| l.kind = LightKind::TunableWhite)),
    },
    Trip {
        requirement: "no-field-service-acknowledged",
        about: "unsigned",
        state: State::Missing,
        who: &["clara"],
        command: "underlit sign quay-hotel acknowledgement --panel desk --topic no-field-service --as client",
        says: "the acknowledgement `no-field-service` for panel desk is not yet approved",
        trip: |job| job.forget(&acknowledged(Topic::NoFieldService, "desk")),
        fix: |job| approve(job, &acknowledged(Topic::NoFieldService, "desk"), Role::Client),
    },
    Trip {
        requirement: "outline-exact",
        about: "no drawing",
        state: State::Missing,
        who: &["dana", "oleg"],
        command: "underlit panel change quay-hotel bar --outline FILE",
        says: "panel bar has no outline",
        trip: |job| {
            job.project.drawings.remove(&name("bar"));
        },
        fix: restore_panels,
    },
    Trip {
        requirement: "outline-exact",
        about: "a drawing that does not close",
        state: State::Missing,
        who: &["dana", "oleg"],
        command: "underlit panel change quay-hotel bar --outline FILE",
        says: "the outline of panel bar cannot be built from: it does not close",
        trip: |job| {
            job.project.drawings.insert(name("bar"), Err(Fault::data("open", "it does not close")));
        },
        fix: restore_panels,
    },
    Trip {
        requirement: "outline-exact",
        about: "a drawing exchanged under its record",
        state: State::Missing,
        who: &["dana", "oleg"],
        command: "underlit panel change quay-hotel bar --outline FILE",
        says: "is not the one that panel bar names: its content changed",
        trip: |job| {
            job.project.drawings.insert(name("bar"), Ok(drawing(&rectangle(1201.0, 300.0))));
        },
        fix: restore_panels,
    },
    Trip {
        requirement: "outline-exact",
        about: "a lit edge that the outline does not have",
        state: State::Missing,
        who: &["dana", "oleg"],
        command: "underlit panel change quay-hotel bar --outline FILE",
        says: "panel bar lights edge 5, which its outline does not have",
        trip: |job| job.panel("bar", |p| p.lit_edges = vec![1, 3, 5]),
        fix: |job| job.panel("bar", |p| p.lit_edges = vec![1, 3, 4]),
    },
    Trip {
        requirement: "route-builds",
        about: "no route settled",
        state: State::Missing,
        who: &["mara"],
        command: "underlit plan quay-hotel bar",
        says: "no route is chosen; routed-panel would fit",
        trip: |job| job.panel("bar", |p| p.route = None),
        fix: |job| job.panel("bar", |p| p.route = Some(name("routed-panel"))),
    },
    Trip {
        requirement: "route-builds",
        about: "larger than the sheet and not split",
        state: State::Missing,
        who: &["mara"],
        command: "underlit split quay-hotel desk",
        says: "no build method is chosen for panel desk: routed-panel: ",
        trip: |job| job.panel("desk", |p| p.seams.clear()),
        fix: |job| job.split("desk"),
    },
    Trip {
        requirement: "route-builds",
        about: "bent tighter than its route bends such sheets",
        state: State::Missing,
        who: &["mara"],
        command: "underlit plan quay-hotel bar",
        says: "the panel is bent to 1900 mm; it bends Light guide, cast acrylic, 10 mm (10 mm) cold to at least 2000 mm",
        trip: |job| job.panel("bar", |p| p.bent = cold(1900.0)),
        fix: |job| job.panel("bar", |p| p.bent = None),
    },
    Trip {
        requirement: "route-builds",
        about: "etched deeper than its route cuts",
        state: State::Missing,
        who: &["mara"],
        command: "underlit plan quay-hotel bar",
        says: "the face is etched 2.5 mm deep; the route cuts at most 2 mm",
        trip: |job| job.panel("bar", |p| p.etching_depth_mm = Some(Millimetres(2.5))),
        fix: |job| job.panel("bar", |p| p.etching_depth_mm = None),
    },
    Trip {
        requirement: "outline-exact",
        about: "etched, and no line of it is drawn",
        state: State::Missing,
        who: &["dana", "oleg"],
        command: "underlit panel change quay-hotel bar --outline FILE",
        says: "panel bar is etched, and its outline has no etched line",
        trip: |job| job.panel("bar", |p| p.etching_depth_mm = Some(Millimetres(1.0))),
        fix: |job| job.panel("bar", |p| p.etching_depth_mm = None),
    },
    Trip {
        requirement: "power-worked-out",
        about: "tape that would be bent in its own plane",
        state: State::Missing,
        who: &["mara"],
        command: "underlit plan quay-hotel bar",
        says: "lit edges 1 and 3 run round the bend of 4000 mm: tape there would be bent in its own plane, which the tape \
               white-24 does not allow; light the edges along the axis instead (2, 4)",
        trip: |job| job.panel("bar", |p| p.bent = cold(4000.0)),
        fix: |job| job.panel("bar", |p| p.bent = None),
    },
    Trip {
        requirement: "feed-measured",
        about: "the way of the wire was guessed",
        state: State::Missing,
        who: &["mara", "ivo"],
        command: "underlit plan quay-hotel bar --feed-length … --feed-basis measured",
        says: "the way from driver to panel bar is a guess, 4 m: measure it on site",
        trip: |job| job.panel("bar", |p| p.feed_basis = Some(FeedBasis::Guessed)),
        fix: restore_panels,
    },
    Trip {
        requirement: "chosen-light-offered",
        about: "a range that no tape of the shop reaches",
        state: State::Missing,
        who: &["oleg"],
        command: "underlit choose quay-hotel desk --light … --cct … --volts …",
        says: "it does not run from 2000 K to 6000 K",
        trip: |job| {
            job.panel("desk", |p| {
                if let Some(light) = &mut p.light {
                    light.cct_range_k = Some(CctRange { warmest: 2000, coolest: 6000 });
                }
            });
        },
        fix: restore_panels,
    },
    Trip {
        requirement: "floor-answered",
        about: "walked on, and nobody says by whose word",
        state: State::Missing,
        who: &["mara"],
        command: "underlit panel change quay-hotel bar --floor-load … --floor-carried-by … --floor-slip … \
                  --floor-calculation …",
        says: "panel bar is walked on, and nobody has recorded the load, who carries it, the slip class",
        trip: |job| job.panel("bar", |p| p.floor = None),
        fix: restore_panels,
    },
    Trip {
        requirement: "seams-acknowledged",
        about: "unsigned",
        state: State::Missing,
        who: &["clara"],
        command: "underlit sign quay-hotel acknowledgement --panel desk --topic seams --as client",
        says: "the acknowledgement `seams` for panel desk is not yet approved",
        trip: |job| job.forget(&acknowledged(Topic::Seams, "desk")),
        fix: |job| approve(job, &acknowledged(Topic::Seams, "desk"), Role::Client),
    },
    Trip {
        requirement: "seams-acknowledged",
        about: "the seams lie elsewhere now",
        state: State::Stale,
        who: &["clara"],
        command: "--topic seams",
        says: "but it has changed since",
        trip: |job| {
            job.outline("desk", &arched(3500.0));
            job.split("desk");
        },
        fix: |job| {
            relent(job, &acknowledged(Topic::Seams, "desk"), Role::Client);
            job.draw("desk");
        },
    },
    Trip {
        requirement: "uneven-light-acknowledged",
        about: "unsigned",
        state: State::Missing,
        who: &["clara"],
        command: "underlit sign quay-hotel acknowledgement --panel bar --topic uneven-light --as client",
        says: "the acknowledgement `uneven-light` for panel bar is not yet approved",
        trip: |job| job.forget(&acknowledged(Topic::UnevenLight, "bar")),
        fix: |job| approve(job, &acknowledged(Topic::UnevenLight, "bar"), Role::Client),
    },
    Trip {
        requirement: "rendering-matches",
        about: "not drawn",
        state: State::Missing,
        who: &["dana", "oleg", "mara"],
        command: "underlit draw quay-hotel desk",
        says: "panel desk has no rendering",
        trip: |job| job.project.renderings.clear(),
        fix: |job| job.draw("desk"),
    },
    Trip {
        requirement: "rendering-matches",
        about: "a plain rectangle that is bent",
        state: State::Missing,
        who: &["dana", "oleg", "mara"],
        command: "underlit draw quay-hotel bar",
        says: "panel bar has no rendering",
        trip: |job| {
            job.panel("bar", |p| {
                p.bent = Some(Bend {
                    radius_mm: Millimetres(900.0),
                    axis: BendAxis::Upright,
                    formed: None,
                    face: None,
                });
            });
        },
        fix: |job| job.panel("bar", |p| p.bent = None),
    },
    Trip {
        requirement: "rendering-matches",
        about: "a plain rectangle that is etched",
        state: State::Missing,
        who: &["dana", "oleg", "mara"],
        command: "underlit draw quay-hotel bar",
        says: "panel bar has no rendering",
        trip: |job| job.panel("bar", |p| p.etching = Some("House number 12".into())),
        fix: |job| job.panel("bar", |p| p.etching = None),
    },
    Trip {
        requirement: "rendering-matches",
        about: "the other way up since",
        state: State::Missing,
        who: &["dana", "oleg", "mara"],
        command: "underlit draw quay-hotel desk",
        says: "was drawn for another stone, light, face, mount, place, position or title",
        trip: |job| job.panel("desk", |p| p.up_edge = Some(2)),
        fix: |job| job.panel("desk", |p| p.up_edge = Some(3)),
    },
    Trip {
        requirement: "rendering-matches",
        about: "a millimetre longer since",
        state: State::Missing,
        who: &["dana", "oleg", "mara"],
        command: "underlit draw quay-hotel desk",
        says: "was drawn for an earlier outline",
        trip: |job| {
            job.outline("desk", &arched(3601.0));
            job.split("desk");
        },
        fix: |job| job.draw("desk"),
    },
    Trip {
        requirement: "rendering-matches",
        about: "another title since",
        state: State::Missing,
        who: &["dana", "oleg", "mara"],
        command: "underlit draw quay-hotel desk",
        says: "was drawn for another stone, light, face, mount, place, position or title",
        trip: |job| job.panel("desk", |p| p.title = "Front desk".into()),
        fix: |job| job.draw("desk"),
    },
    Trip {
        requirement: "rendering-matches",
        about: "other seams on the sheet",
        state: State::Missing,
        who: &["dana", "oleg", "mara"],
        command: "underlit draw quay-hotel desk",
        says: "was drawn for other seams",
        trip: |job| job.project.renderings.values_mut().for_each(|r| r.seams.clear()),
        fix: |job| job.draw("desk"),
    },
    Trip {
        requirement: "rendering-matches",
        about: "a manifest that states another width",
        state: State::Missing,
        who: &["dana", "oleg", "mara"],
        command: "underlit draw quay-hotel desk",
        says: "was drawn for other dimensions than its outline has",
        trip: |job| job.project.renderings.values_mut().for_each(|r| r.width_mm = Millimetres(3599.0)),
        fix: |job| job.draw("desk"),
    },
    Trip {
        requirement: "rendering-matches",
        about: "the manifest of another panel",
        state: State::Missing,
        who: &["dana", "oleg", "mara"],
        command: "underlit draw quay-hotel desk",
        says: "was drawn for panel bar",
        trip: |job| job.project.renderings.values_mut().for_each(|r| r.panel = name("bar")),
        fix: |job| job.draw("desk"),
    },
    Trip {
        requirement: "rendering-matches",
        about: "the sheet was exchanged",
        state: State::Missing,
        who: &["dana", "oleg", "mara"],
        command: "underlit draw quay-hotel desk",
        says: "the sheet renderings/desk/sheet.pdf is not the one that was drawn",
        trip: |job| {
            job.project.files.insert("renderings/desk/sheet.pdf".into(), digest("another"));
        },
        fix: Job::put_files,
    },
    Trip {
        requirement: "rendering-matches",
        about: "the sheet is gone",
        state: State::Missing,
        who: &["dana", "oleg", "mara"],
        command: "underlit draw quay-hotel desk",
        says: "the sheet renderings/desk/sheet.svg is missing",
        trip: |job| {
            job.project.files.remove("renderings/desk/sheet.svg");
        },
        fix: Job::put_files,
    },
    Trip {
        requirement: "rendering-matches",
        about: "a sheet lies there that the manifest does not name",
        state: State::Missing,
        who: &["dana", "oleg", "mara"],
        command: "underlit draw quay-hotel desk",
        says: "the file renderings/desk/sheet-3.svg is not one that its manifest names",
        trip: |job| {
            job.project.files.insert("renderings/desk/sheet-3.svg".into(), digest("slipped in"));
        },
        fix: |job| {
            job.project.files.remove("renderings/desk/sheet-3.svg");
        },
    },
    Trip {
        requirement: "rendering-matches",
        about: "a further sheet was exchanged",
        state: State::Missing,
        who: &["dana", "oleg", "mara"],
        command: "underlit draw quay-hotel desk",
        says: "the sheet renderings/desk/sheet-2.svg is not the one that was drawn",
        trip: |job| {
            job.project.files.insert("renderings/desk/sheet-2.svg".into(), digest("another"));
        },
        fix: Job::put_files,
    },
    Trip {
        requirement: "rendering-signed",
        about: "the engineer has not signed",
        state: State::Missing,
        who: &["mara"],
        command: "underlit sign quay-hotel rendering --panel desk --as engineer",
        says: "the rendering for panel desk is not yet approved by the engineer",
        trip: |job| {
            job.project
                .signoffs
                .retain(|s| s.statement.about != rendering() || s.statement.role == Role::Client);
        },
        fix: |job| approve(job, &rendering(), Role::Engineer),
    },
    Trip {
        requirement: "rendering-signed",
        about: "drawn again since",
        state: State::Stale,
        who: &["clara"],
        command: "underlit sign quay-hotel rendering --panel desk --as client",
        says: "Clara Quay (client) approved the rendering for panel desk, but it has changed since",
        trip: |job| job.draw("desk"),
        fix: |job| {
            relent(job, &rendering(), Role::Client);
            relent(job, &rendering(), Role::Engineer);
        },
    },
    Trip {
        requirement: "power-worked-out",
        about: "nobody said how far the driver is",
        state: State::Missing,
        who: &["mara"],
        command: "underlit plan quay-hotel desk --feed-length …",
        says: "the length of wire from driver to panel is not given",
        trip: |job| job.panel("desk", |p| p.feed_length_m = None),
        fix: |job| job.panel("desk", |p| p.feed_length_m = Some(record(3.into()))),
    },
    Trip {
        requirement: "power-worked-out",
        about: "nobody said how far the driver is, nor where it stands",
        state: State::Missing,
        who: &["mara"],
        command: "underlit plan quay-hotel bar --feed-length … --driver-at in-wall-box|remote --driver-place dry|damp|wet",
        says: "the length of wire from driver to panel is not given",
        trip: |job| job.panel("bar", |p| (p.feed_length_m, p.supply) = (None, None)),
        fix: |job| job.panel("bar", |p| p.feed_length_m = Some(record(3.into()))),
    },
    Trip {
        requirement: "power-worked-out",
        about: "tape, driver and wire are not settled",
        state: State::Missing,
        who: &["mara"],
        command: "underlit plan quay-hotel bar",
        says: "no tape is chosen; white-24 would fit; no driver is chosen",
        trip: |job| job.panel("bar", |p| (p.tape, p.driver, p.wire) = (None, None, None)),
        fix: Job::settle,
    },
    Trip {
        requirement: "power-worked-out",
        about: "a wire too thin for its length",
        state: State::Missing,
        who: &["mara"],
        command: "underlit plan quay-hotel bar",
        says: "the power of panel bar is not worked out",
        trip: |job| job.panel("bar", |p| p.feed_length_m = Some(record(200.into()))),
        fix: |job| job.panel("bar", |p| p.feed_length_m = Some(record(4.into()))),
    },
    Trip {
        requirement: "wiring-protected",
        about: "an output that is not listed, through cable that is marked for Class 2 only",
        state: State::Missing,
        who: &["mara"],
        command: "underlit plan quay-hotel bar --anew",
        says: "it is marked for wiring of limited power only, and the output is not listed as an output of limited power",
        trip: |job| {
            job.panel("bar", |p| (p.driver, p.wire) = (Some(name("plain-24-300")), Some(name("14-2"))));
        },
        fix: |job| {
            job.panel("bar", |p| (p.driver, p.wire) = (None, None));
            job.settle();
        },
    },
    Trip {
        requirement: "cautions-seen",
        about: "unsigned",
        state: State::Missing,
        who: &["mara"],
        command: "underlit sign quay-hotel acknowledgement --topic cautions --as engineer",
        says: "the acknowledgement `cautions` is not yet approved by the engineer",
        trip: |job| job.forget(&cautions()),
        fix: |job| approve(job, &cautions(), Role::Engineer),
    },
    Trip {
        requirement: "cautions-seen",
        about: "a wetter place since",
        state: State::Stale,
        who: &["mara"],
        command: "--topic cautions",
        says: "but it has changed since",
        trip: |job| job.project.project.site.electrical_code = Some("another code".into()),
        fix: |job| relent(job, &cautions(), Role::Engineer),
    },
    Trip {
        requirement: "nothing-stale",
        about: "a photo exchanged under its record",
        state: State::Missing,
        who: &["oleg"],
        command: "underlit check quay-hotel",
        says: "the file swatches/honey.jpg is not the one that its record names",
        trip: |job| {
            job.project.files.insert("swatches/honey.jpg".into(), digest("another"));
        },
        fix: Job::put_files,
    },
    Trip {
        requirement: "nothing-stale",
        about: "a spectrum that is gone",
        state: State::Missing,
        who: &["oleg"],
        command: "underlit check quay-hotel",
        says: "the file swatches/honey.spectrum.csv is missing",
        trip: |job| {
            job.project.files.remove("swatches/honey.spectrum.csv");
        },
        fix: Job::put_files,
    },
    Trip {
        requirement: "nothing-stale",
        about: "a drawing that nobody had to make, of a size that is no more",
        state: State::Missing,
        who: &["dana", "oleg", "mara"],
        command: "underlit draw quay-hotel bar",
        says: "the rendering of panel bar was drawn for an earlier outline",
        trip: |job| {
            job.draw("bar");
            job.outline("bar", &rectangle(1201.0, 300.0));
        },
        fix: |job| job.draw("bar"),
    },
    Trip {
        requirement: "no-open-conflict",
        about: "two people's edits",
        state: State::Missing,
        who: &["oleg", "dana", "mara"],
        command: "underlit resolve quay-hotel",
        says: "panel bar, light cct: 4000 K or 2700 K? It stays 3000 K until somebody answers",
        trip: |job| {
            let open = record(serde_json::json!({
                "$schema": "../../../schema/conflict.schema.json", "path": "panels/bar.json",
                "pointer": "/light/cct_k", "base": 3000,
                "sides": [
                    { "value": 4000, "by": "Mara", "at": "2026-10-05T14:20:31Z" },
                    { "value": 2700, "by": "Oleg", "at": "2026-10-05T15:01:00Z" },
                ]
            }));
            job.project.conflicts.insert("projects/quay-hotel/conflicts/0a1b.json".into(), open);
        },
        fix: |job| job.project.conflicts.clear(),
    },
    Trip {
        requirement: "no-open-conflict",
        about: "two edits of one of the shop's lists",
        state: State::Missing,
        who: &["ada"],
        command: "underlit resolve --shop",
        says: "the shop's list wire: another file or kept as it was? It stays as it is until somebody answers; panels of \
               this job are planned by it",
        trip: |job| {
            let digest = "a".repeat(64);
            for (name, path) in [("0c1d", "shop/wire.json"), ("0e1f", "README.md")] {
                let open = record(serde_json::json!({
                    "$schema": "../schema/conflict.schema.json", "path": path, "pointer": "",
                    "sides": [
                        { "file": "conflicts/aa.json.kept", "sha256": digest, "by": "Mara", "at": "2026-10-05T14:20:31Z" },
                        { "file": "conflicts/bb.json.kept", "sha256": digest },
                    ]
                }));
                job.shop.conflicts.insert(format!("conflicts/{name}.json"), open);
            }
        },
        fix: |job| drop(job.shop.conflicts.remove("conflicts/0c1d.json")),
    },
    Trip {
        requirement: "release-signed",
        about: "unsigned",
        state: State::Missing,
        who: &["mara"],
        command: "underlit sign quay-hotel release --as engineer",
        says: "the release of the whole build is not yet approved by the engineer",
        trip: |job| job.forget(&Subject::release()),
        fix: |job| approve(job, &Subject::release(), Role::Engineer),
    },
    Trip {
        requirement: "release-signed",
        about: "something changed that only the release seals",
        state: State::Stale,
        who: &["mara"],
        command: "underlit sign quay-hotel release --as engineer",
        says: "Mara Tideway (engineer) approved the release of the whole build, but it has changed since",
        trip: |job| job.panel("bar", |p| p.feed_length_m = Some(record(3.into()))),
        fix: |job| relent(job, &Subject::release(), Role::Engineer),
    },
    Trip {
        requirement: "as-built-recorded",
        about: "one panel without its record",
        state: State::Missing,
        who: &["finn"],
        command: "underlit built quay-hotel bar --serial",
        says: "panel bar has no as-built record",
        trip: |job| job.project.as_built.iter_mut().for_each(|b| b.panels.retain(|p| p.id != name("bar"))),
        fix: |job| job.project.as_built = Job::complete().project.as_built,
    },
    Trip {
        requirement: "measured-on-site",
        about: "nobody has been to the place",
        state: State::Missing,
        who: &["clara"],
        command: "underlit sign quay-hotel waiver --panel desk --topic not-measured --as client",
        says: "panel desk was not measured at the place: underlit panel basis quay-hotel desk template",
        trip: |job| {
            job.panel("desk", |p| p.basis.as_mut().expect("it is recorded").kind = BasisKind::Drawing);
            job.forget(&waived(Topic::NotMeasured));
        },
        fix: |job| approve(job, &waived(Topic::NotMeasured), Role::Client),
    },
    Trip {
        requirement: "measured-on-site",
        about: "another revision of the drawing than the one that was waived",
        state: State::Stale,
        who: &["clara"],
        command: "underlit sign quay-hotel waiver --panel desk --topic not-measured",
        says: "approved the waiver `not-measured` for panel desk, but it has changed since",
        trip: |job| {
            job.panel("desk", |p| p.basis.as_mut().expect("it is recorded").kind = BasisKind::Drawing);
            job.forget(&waived(Topic::NotMeasured));
            approve(job, &waived(Topic::NotMeasured), Role::Client);
            job.panel("desk", |p| p.basis.as_mut().expect("it is recorded").revision = Some("D".into()));
        },
        fix: |job| job.panel("desk", |p| p.basis.as_mut().expect("it is recorded").kind = BasisKind::Survey),
    },
    Trip {
        requirement: "slab-seen",
        about: "a photo and a trial of that very slab are missing",
        state: State::Missing,
        who: &["clara"],
        command: "underlit sign quay-hotel waiver --panel desk --topic slab-not-seen --as client",
        says: "panel desk: its slab was not seen lit: no photo and no trial of that very slab",
        trip: |job| {
            job.panel("desk", |p| {
                let slab = p.slab.as_mut().expect("it is recorded");
                (slab.photo, slab.trial) = (None, None);
            });
            job.forget(&waived(Topic::SlabNotSeen));
        },
        fix: |job| approve(job, &waived(Topic::SlabNotSeen), Role::Client),
    },
    Trip {
        requirement: "slab-seen",
        about: "a split panel of which nobody says how its pieces follow one another",
        state: State::Missing,
        who: &["clara"],
        command: "underlit sign quay-hotel waiver --panel desk --topic slab-not-seen",
        says: "how its pieces follow one another in the slab is not recorded",
        trip: |job| {
            job.panel("desk", |p| p.slab.as_mut().expect("it is recorded").book_match = None);
            job.forget(&waived(Topic::SlabNotSeen));
        },
        fix: |job| {
            job.panel("desk", |p| {
                p.slab.as_mut().expect("it is recorded").book_match = Some("end to end".into())
            })
        },
    },
    Trip {
        requirement: "room-light-known",
        about: "nobody recorded how light the room is",
        state: State::Missing,
        who: &["clara"],
        command: "underlit sign quay-hotel waiver --topic room-light-unknown --as client",
        says: "nobody recorded how light the room is: underlit project change quay-hotel --ambient-lx LUX",
        trip: |job| {
            job.project.project.site.ambient_lx = None;
            job.forget(&room_light());
        },
        fix: |job| approve(job, &room_light(), Role::Client),
    },
    Trip {
        requirement: "electrics-known",
        about: "nobody knows the code or where the driver stands",
        state: State::Missing,
        who: &["clara"],
        command: "underlit sign quay-hotel waiver --panel desk --topic electrics-unknown --as client",
        says: "panel desk: not known: the electrical code that governs there, where its driver stands: underlit plan quay-hotel desk --driver-at",
        trip: |job| {
            without_code(job);
            job.panel("desk", |p| p.supply = None);
            approve(
                job,
                &Subject::topic(View::Waiver, Topic::ElectricsUnknown, Some(&name("bar"))),
                Role::Client,
            );
            job.forget(&waived(Topic::ElectricsUnknown));
        },
        fix: |job| approve(job, &waived(Topic::ElectricsUnknown), Role::Client),
    },
    Trip {
        requirement: "electrics-known",
        about: "more is unknown than was waived",
        state: State::Stale,
        who: &["clara"],
        command: "underlit sign quay-hotel waiver --panel desk --topic electrics-unknown",
        says: "not known: the mains voltage, the electrical code that governs there: underlit project change quay-hotel --mains",
        trip: |job| {
            without_code(job);
            approve(job, &waived(Topic::ElectricsUnknown), Role::Client);
            job.project.project.site.mains_v = None;
            approve(
                job,
                &Subject::topic(View::Waiver, Topic::ElectricsUnknown, Some(&name("bar"))),
                Role::Client,
            );
        },
        fix: |job| job.project.project.site = Job::complete().project.project.site,
    },
    Trip {
        requirement: "ordered-ahead-acknowledged",
        about: "one thing more was ordered ahead than the client knows",
        state: State::Stale,
        who: &["clara"],
        command: "underlit sign quay-hotel acknowledgement --topic ordered-ahead --as client",
        says: "approved the acknowledgement `ordered-ahead`, but it has changed since",
        trip: |job| {
            let dates = job.project.project.dates.as_mut().expect("it has dates of its own");
            let again = dates.ordered_ahead[0].clone();
            dates.ordered_ahead.push(OrderedAhead { what: "two drivers".into(), ..again });
        },
        fix: |job| approve(job, &ordered_ahead(), Role::Client),
    },
    Trip {
        requirement: "bench-within-limits",
        about: "no points and no photo of a panel",
        state: State::Missing,
        who: &["finn"],
        command: "underlit built quay-hotel desk --serial … --nine-points … --photo FILE",
        says: "panel desk was not read on the bench: nine points of the lit face in lux, a photo of it lit",
        trip: |job| {
            let desk = built(job, "desk");
            (desk.nine_points_lx, desk.photo) = (Vec::new(), None);
        },
        fix: |job| *built(job, "desk") = built(&mut Job::complete(), "desk").clone(),
    },
    Trip {
        requirement: "bench-within-limits",
        about: "two points are dark and the white is too cold; somebody signs that it leaves so",
        state: State::Missing,
        who: &["mara"],
        command: "underlit sign quay-hotel waiver --panel bar --topic outside-limits --as engineer",
        says: "outside: panel bar, 4151 K where 4000 K is chosen (limit 150 K off), darkest ÷ brightest 0.59 over nine \
               points (limit 0.6): mend it",
        trip: |job| {
            let bar = built(job, "bar");
            bar.measured_cct_k = Some(4151);
            bar.nine_points_lx = [59.0, 100.0, 59.9, 80.0, 80.0, 80.0, 80.0, 80.0, 80.0].map(Lux).to_vec();
            job.forget(&outside());
        },
        fix: |job| approve(job, &outside(), Role::Engineer),
    },
    Trip {
        requirement: "delivery-received",
        about: "a panel is not recorded as sent",
        state: State::Missing,
        who: &["finn"],
        command: "underlit delivery sent quay-hotel NAME --panel desk",
        says: "panel desk is not recorded as sent",
        trip: |job| sent(job).panels.retain(|id| id.as_str() != "desk"),
        fix: |job| sent(job).panels.push(desk()),
    },
    Trip {
        requirement: "delivery-received",
        about: "on its way",
        state: State::Missing,
        who: &["ivo"],
        command: "underlit delivery received quay-hotel first",
        says: "panel bar was sent on 2027-01-05 with first and is not recorded as received",
        trip: |job| sent(job).received = None,
        fix: |job| sent(job).received = Some(record("2027-01-07".into())),
    },
    Trip {
        requirement: "delivery-received",
        about: "it arrived damaged",
        state: State::Missing,
        who: &["oleg", "finn"],
        command: "underlit delivery settled quay-hotel first --panel desk --how …",
        says: "panel desk arrived damaged with first: corner chipped",
        trip: |job| {
            let damage = serde_json::json!({ "panel": "desk", "what": "corner chipped" });
            sent(job).damage.push(record(damage));
        },
        fix: |job| sent(job).damage[0].settled = Some("polished".into()),
    },
    Trip {
        requirement: "acceptance-signed",
        about: "nobody recorded how it was taken over",
        state: State::Missing,
        who: &["ivo", "oleg"],
        command: "underlit accepted quay-hotel --photo FILE --flicker-looked-for …",
        says: "what was looked at when the work was taken over is not recorded",
        trip: |job| put_in(job).acceptance = None,
        fix: |job| {
            put_in(job).acceptance = put_in(&mut Job::complete()).acceptance.clone();
        },
    },
    Trip {
        requirement: "acceptance-signed",
        about: "something is left to be done after all",
        state: State::Stale,
        who: &["clara"],
        command: "underlit sign quay-hotel acknowledgement --topic accepted --as client",
        says: "Clara Quay (client) approved the acknowledgement `accepted`, but it has changed since",
        trip: |job| {
            let seen = put_in(job).acceptance.as_mut().expect("it was taken over");
            seen.remaining = vec!["seal the joint at the pillar".into()];
        },
        fix: |job| approve(job, &accepted(), Role::Client),
    },
    Trip {
        requirement: "installation-recorded",
        about: "not recorded",
        state: State::Missing,
        who: &["ivo"],
        command: "underlit installed quay-hotel --electrician",
        says: "the installation is not recorded",
        trip: |job| job.project.installation = None,
        fix: |job| job.project.installation = Job::complete().project.installation,
    },
    Trip {
        requirement: "service-card-left",
        about: "no card",
        state: State::Missing,
        who: &["ivo"],
        command: "underlit installed quay-hotel --card-kept-at",
        says: "no service card was left with the owner",
        trip: |job| job.project.installation.iter_mut().for_each(|i| i.service_card = None),
        fix: |job| job.project.installation = Job::complete().project.installation,
    },
];

#[test]
fn a_whole_job_meets_every_requirement() {
    let job = Job::complete();
    assert_eq!(job.missing(), Vec::<String>::new());
    for requirement in ALL {
        assert!(!job.findings(requirement.name).is_empty(), "{} does not bear on it", requirement.name);
        assert!(requirement.reason.len() > 20, "{} does not say why", requirement.name);
    }
    assert!(job.released());
    assert_eq!(job.project.standing().stage, Stage::HandedOver);
}

#[test]
fn every_requirement_has_a_case_that_trips_it() {
    for requirement in ALL {
        let cases = TRIPS.iter().filter(|t| t.requirement == requirement.name).count();
        assert!(cases > 0, "{} has no case that trips it and is fixed: add one", requirement.name);
    }
    for trip in TRIPS {
        let known = ALL.iter().any(|r| r.name == trip.requirement);
        assert!(known, "{} is no requirement", trip.requirement);
    }
}

#[test]
fn each_case_trips_its_requirement_and_is_fixed() {
    // A case takes about a second: on every processor some.
    let hands = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
    std::thread::scope(|scope| {
        for share in TRIPS.chunks(TRIPS.len().div_ceil(hands)) {
            scope.spawn(move || share.iter().for_each(trips_and_is_fixed));
        }
    });
}

fn trips_and_is_fixed(case: &Trip) {
    let label = format!("{}, {}", case.requirement, case.about);
    let mut job = Job::complete();
    (case.trip)(&mut job);
    let findings = job.findings(case.requirement);
    let found = findings.iter().find(|f| f.state != State::Met && f.what.contains(case.says));
    let found = found.unwrap_or_else(|| panic!("{label}: not tripped as it should be: {findings:#?}"));
    assert_eq!(found.state, case.state, "{label}: {}", found.what);
    let who: Vec<&str> = found.who.iter().map(|p| p.as_str()).collect();
    assert_eq!(who, case.who, "{label}");
    assert!(found.command.contains(case.command), "{label}: the command is {}", found.command);
    let requirement = ALL.iter().find(|r| r.name == case.requirement).expect("it is a requirement");
    // What holds a job at every gate is told at the one that it keeps shut.
    let every = ["nothing-refused", "no-open-conflict"].contains(&requirement.name);
    assert!(if every { found.gate > requirement.gate } else { found.gate == requirement.gate }, "{label}");
    assert!(found.why.starts_with(requirement.reason), "{label}: {}", found.why);
    assert!(!job.verdict().passes(), "{label}: the verdict passes");
    assert_eq!(job.released(), requirement.gate > Stage::Released, "{label}: is_released");
    for person in &found.who {
        let able = found.roles.iter().any(|r| job.shop.roster.has_role(person, *r));
        assert!(able, "{label}: {person} has none of the roles {:?}", found.roles);
    }
    (case.fix)(&mut job);
    let findings = job.findings(case.requirement);
    assert!(findings.iter().all(|f| f.state == State::Met), "{label}: not fixed: {findings:#?}");
    // What else the change put out of date, everybody does again; then the whole job stands.
    if job.project.renderings.contains_key(&desk()) {
        job.draw("desk");
    }
    job.sign_all();
    assert_eq!(job.missing(), Vec::<String>::new(), "{label}: fixed, and yet");
}

/// Every command that a finding names is one that the program knows, with the options that it has.
#[test]
fn each_command_that_is_advised_exists() {
    let mut commands: Vec<String> = Vec::new();
    for case in TRIPS {
        let mut job = Job::complete();
        (case.trip)(&mut job);
        commands.extend(job.verdict().missing().map(|f| f.command.clone()));
    }
    commands.sort();
    commands.dedup();
    assert!(commands.len() > 30, "only {} commands were advised", commands.len());
    let help = |verb: &[&str]| {
        let run = Command::new(env!("CARGO_BIN_EXE_underlit")).args(verb).arg("--help").output();
        let run = run.unwrap_or_else(|e| panic!("underlit cannot be run: {e}"));
        run.status.success().then(|| String::from_utf8_lossy(&run.stdout).into_owned())
    };
    let mut wrong = Vec::new();
    for command in &commands {
        let words: Vec<&str> = command.split(' ').collect();
        assert_eq!(words[0], "underlit", "{command}");
        // The verb is followed by the project, or by --shop where it is about the whole shop; a verb of two words has
        // its second before it.
        let about = |word: &str| ["quay-hotel", "--shop"].contains(&word);
        let verb = if about(words[2]) { &words[1..2] } else { &words[1..3] };
        assert!(about(words[verb.len() + 1]), "{command} does not name the project");
        let text = help(verb).unwrap_or_else(|| panic!("underlit has no verb {verb:?}: {command}"));
        for option in words.iter().filter(|w| w.starts_with("--")) {
            if !text.split_whitespace().any(|w| w.trim_end_matches(',') == *option) {
                wrong.push(format!("{verb:?} has no option {option}: {command}"));
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}
