//! The trade's rules of thumb, as the gates and warnings apply them. Each is common practice, no source.

use underlit::gates::{State, Warning, advice, sentences};
use underlit::ids::PanelId;
use underlit::job::plan;
use underlit::model::roster::Role;
use underlit::model::statement::{Decision, Subject, Topic, View};
use underlit::units::Millimetres;
use underlit::words::{Face, LightKind, Texture, Tone};

use crate::job::{Job, arched, circle, corners, name, rectangle};

/// The words that mark a rule of thumb.
const MARK: &str = "common practice, no source";

fn bar() -> PanelId {
    name("bar")
}

fn warnings(job: &Job, code: &str, panel: &str) -> Vec<Warning> {
    let of = |w: &Warning| w.code == code && w.panels.iter().any(|id| id.as_str() == panel);
    advice::warnings(&job.case()).into_iter().filter(of).collect()
}

/// Common practice, no source: a shape that an order states in words needs no signed drawing, any other does.
#[test]
fn a_free_form_needs_a_signed_rendering_and_a_plain_shape_does_not() {
    let ell =
        corners(&[[0.0, 0.0], [900.0, 0.0], [900.0, 300.0], [300.0, 300.0], [300.0, 900.0], [0.0, 900.0]]);
    let trapezium = corners(&[[0.0, 0.0], [900.0, 0.0], [700.0, 400.0], [100.0, 400.0]]);
    let parallelogram = corners(&[[0.0, 0.0], [800.0, 0.0], [900.0, 400.0], [100.0, 400.0]]);
    let half_round = serde_json::json!({ "outer": { "start_mm": [0, 0], "segments": [
        { "kind": "line", "to_mm": [600, 0] }, { "kind": "arc", "to_mm": [0, 0], "bulge": 1 },
    ]}});
    let ellipse = serde_json::json!({ "outer": { "segments": [{
        "kind": "ellipse", "centre_mm": [0, 0], "major_mm": [400, 0], "ratio": 0.5, "start_rad": 0,
        "sweep_rad": std::f64::consts::TAU
    }]}});
    let mut rectangle_with_opening = rectangle(900.0, 400.0);
    rectangle_with_opening["cutouts"] =
        serde_json::json!([{ "segments": [{ "kind": "circle", "centre_mm": [600, 200], "radius_mm": 60 }] }]);
    let plain = [
        ("a circle", circle(300.0)),
        ("a square", rectangle(600.0, 600.0)),
        ("a rectangle", rectangle(900.0, 400.0)),
        ("a triangle", corners(&[[0.0, 0.0], [900.0, 0.0], [200.0, 500.0]])),
        (
            "a square standing on its corner",
            corners(&[[0.0, 0.0], [300.0, 300.0], [0.0, 600.0], [-300.0, 300.0]]),
        ),
    ];
    let free = [
        ("an arched front", arched(900.0)),
        ("a half round", half_round),
        ("an ellipse", ellipse),
        ("an L", ell),
        ("a trapezium", trapezium),
        ("a parallelogram", parallelogram),
        ("a rectangle with an opening", rectangle_with_opening),
    ];
    for (needs, shapes) in [(false, &plain[..]), (true, &free[..])] {
        for (what, outline) in shapes {
            let mut job = Job::complete();
            job.project.renderings.clear();
            job.outline("bar", outline);
            let about_bar = |requirement: &str| {
                let found = job.findings(requirement);
                found.into_iter().filter(|f| f.what.contains("panel bar")).collect::<Vec<_>>()
            };
            let found = about_bar("rendering-matches");
            assert_eq!(!found.is_empty(), needs, "{what}");
            assert!(about_bar("rendering-signed").is_empty(), "{what}: nothing is there to sign yet");
            assert!(found.iter().all(|f| f.why.contains(MARK)), "{what}");
            job.draw("bar");
            let asked: Vec<_> = job
                .findings("rendering-signed")
                .into_iter()
                .filter(|f| f.what.contains("panel bar"))
                .collect();
            assert_eq!(asked.len(), if needs { 2 } else { 0 }, "{what}: client and engineer");
        }
    }
}

/// A drawing that cannot be read is held to need a signed rendering: the more cautious of the two.
#[test]
fn an_outline_that_cannot_be_read_needs_a_rendering() {
    let mut job = Job::complete();
    job.project.drawings.remove(&bar());
    assert!(job.findings("rendering-matches").iter().any(|f| f.what.contains("panel bar")));
}

/// Common practice, no source: three or four lit edges only on a square; an oblong is lit from two.
#[test]
fn three_or_four_lit_edges_are_advised_against_on_an_oblong_and_not_on_a_square() {
    for (outline, lit, advised) in [
        (rectangle(1200.0, 300.0), vec![1], false),
        (rectangle(1200.0, 300.0), vec![1, 3], false),
        (rectangle(1200.0, 300.0), vec![1, 2, 3], true),
        (rectangle(1200.0, 300.0), vec![1, 2, 3, 4], true),
        (rectangle(600.0, 600.0), vec![1, 3], false),
        (rectangle(600.0, 600.0), vec![1, 2, 3], false),
        (rectangle(600.0, 600.0), vec![1, 2, 3, 4], false),
    ] {
        let mut job = Job::complete();
        job.outline("bar", &outline);
        job.panel("bar", |p| p.lit_edges = lit.clone());
        let found = warnings(&job, "uneven-light", "bar");
        assert_eq!(found.len(), usize::from(advised), "{lit:?}");
        assert!(found.iter().all(|w| w.source == MARK));
        let asked = job.findings("uneven-light-acknowledged");
        assert_eq!(asked.len(), usize::from(advised), "{lit:?}: to be acknowledged");
        assert!(asked.iter().all(|f| f.why.contains(MARK)));
    }
}

/// Common practice, no source: what changes colour needs a control system, and warm-dim its dimmer; static white may dim at
/// its driver. A common and one conductor for each channel: 2 to 6.
#[test]
fn light_that_changes_colour_needs_a_control_and_its_conductors() {
    for (kind, control, cct, tape, conductors) in [
        (LightKind::StaticWhite, None, Some(4000), "white-24", 2),
        (LightKind::WarmDim, Some("inline-pwm"), Some(3000), "warm-dim-24", 2),
        (LightKind::TunableWhite, Some("tunable-wall"), Some(4000), "tunable-24", 3),
        (LightKind::Rgb, Some("colour-wall"), None, "rgb-24", 4),
        (LightKind::Rgbw, Some("colour-wall"), Some(4000), "rgbw-24", 5),
        (LightKind::RgbTunableWhite, Some("colour-five"), Some(4000), "rgb-tunable-24", 6),
    ] {
        let mut job = Job::complete();
        job.panel("bar", |p| {
            p.light.iter_mut().for_each(|l| (l.kind, l.cct_k) = (kind, cct));
            (p.control, p.tape, p.driver, p.wire) = (None, None, None, None);
        });
        let about_bar = |job: &Job| {
            let found = job.findings("control-named");
            found.into_iter().filter(|f| f.what.contains("panel bar")).collect::<Vec<_>>()
        };
        let asked = about_bar(&job);
        assert_eq!(asked.len(), usize::from(kind != LightKind::StaticWhite), "{kind}");
        let what = if kind == LightKind::WarmDim { "no dimmer" } else { "no control system" };
        assert!(asked.iter().all(|f| f.what.contains(what)), "{kind}");
        if let Some(control) = control {
            let without = plan::propose_with(&job.shop, &job.project, &job.project.panels);
            assert!(without.panels[&bar()].power.is_err(), "{kind} is powered without its control");
            job.panel("bar", |p| p.control = Some(name(control)));
        }
        job.settle();
        let case = job.case();
        let power = case.job().panels[&bar()].power.clone();
        let power = power.unwrap_or_else(|e| panic!("{kind}: {e:?}"));
        assert_eq!((power.tape.as_str(), power.conductors), (tape, conductors), "{kind}");
        let wire = job.shop.wire.get(&power.wire).expect("the wire is in stock");
        assert!(wire.conductors as usize >= conductors, "{kind} gets {}", power.wire);
        assert!(
            about_bar(&job)
                .iter()
                .all(|f| f.what.contains("is controlled by") || f.what.contains("is dimmed by")),
            "{kind}"
        );
    }
}

fn under(tone: Tone, texture: Texture, cct: u32) -> Vec<Warning> {
    let mut job = Job::complete();
    job.swatch("honey", |s| (s.tone, s.texture) = (tone, texture));
    job.panel("bar", |p| p.light.iter_mut().for_each(|l| l.cct_k = Some(cct)));
    warnings(&job, "unusual-cct", "bar")
}

/// Common practice, no source: 3500 K is the least behind textured stone, and 4000–5000 K is preferred.
#[test]
fn textured_stone_is_lit_at_3500_k_and_more() {
    for texture in [Texture::Banded, Texture::Veined, Texture::Textured] {
        for (cct, unusual) in
            [(2700, true), (3000, true), (3499, true), (3500, true), (4000, false), (5000, false)]
        {
            let found = under(Tone::White, texture, cct);
            assert_eq!(found.len(), usize::from(unusual), "{texture} at {cct} K");
            assert!(found.iter().all(|w| w.source == MARK && w.message.contains("4000–5000 K")));
        }
        // Between the least and the preferred it is unusual and not below the floor.
        let practice = underlit::light::practice::cct(Tone::White, texture);
        use underlit::light::practice::Standing::{BelowFloor, Preferred, Unusual};
        let stands = [3499.0, 3500.0, 3999.0, 4000.0].map(|k| practice.standing(k));
        assert_eq!(stands, [BelowFloor, Unusual, Unusual, Preferred], "{texture}");
    }
}

/// Common practice, no source: 2700–3000 K keeps honey, amber, brown and red stone warm.
#[test]
fn warm_stone_is_lit_at_2700_to_3000_k() {
    for tone in [Tone::Honey, Tone::Amber, Tone::Brown, Tone::Red] {
        for (cct, unusual) in [(2400, true), (2700, false), (3000, false), (3500, true), (5000, true)] {
            let found = under(tone, Texture::Plain, cct);
            assert_eq!(found.len(), usize::from(unusual), "{tone} at {cct} K");
            assert!(found.iter().all(|w| w.source == MARK && w.message.contains("2700–3000 K")));
        }
    }
    assert!(under(Tone::White, Texture::Plain, 2700).is_empty(), "no rule speaks of plain white stone");
}

/// Where the rule for the tone and the rule for the pattern differ, what one of them asks for is never called unusual
/// without saying so: no answer says of one light that it is usual and that it is not.
#[test]
fn no_answer_says_of_one_light_that_it_is_usual_and_that_it_is_not() {
    for texture in [Texture::Banded, Texture::Veined, Texture::Textured] {
        for cct in [2700, 3000] {
            let found = under(Tone::Honey, texture, cct);
            assert_eq!(found.len(), 1, "{texture} at {cct} K");
            assert!(
                found[0].message.contains("is usual for its tone and not for its pattern"),
                "{}",
                found[0].message
            );
            assert!(!found[0].message.contains("is not usual"), "{}", found[0].message);
        }
        assert!(under(Tone::Honey, texture, 4000).is_empty());
        assert!(under(Tone::Honey, texture, 3200)[0].message.contains("is not usual"));
    }
}

/// Common practice, no source: thick stone takes the clear face, thin stone the diffused one.
#[test]
fn thick_stone_takes_the_clear_face() {
    for (thickness, face, unusual) in [
        (30.0, Face::Clear, false),
        (30.0, Face::Diffused, true),
        (20.0, Face::Diffused, true),
        (18.0, Face::Diffused, false),
        (18.0, Face::Clear, false),
        (10.0, Face::Diffused, false),
        (10.0, Face::Clear, true),
    ] {
        let mut job = Job::complete();
        job.swatch("honey", |s| s.slab.thickness_mm = Millimetres(thickness));
        job.panel("bar", |p| p.face = Some(face));
        let found = warnings(&job, "unusual-face", "bar");
        assert_eq!(found.len(), usize::from(unusual), "{thickness} mm, {face}");
        assert!(found.iter().all(|w| w.source == MARK));
    }
}

/// Common practice, no source: deep colours are mixed without the white channel.
#[test]
fn rgbw_is_told_to_take_its_white_out_for_deep_colours() {
    let mut job = Job::complete();
    assert!(warnings(&job, "deep-colours", "bar").is_empty());
    job.panel("bar", |p| p.light.iter_mut().for_each(|l| l.kind = LightKind::Rgbw));
    assert_eq!(warnings(&job, "deep-colours", "bar")[0].source, MARK);
}

/// Which light a route builds is the shop's word and no rule of thumb: a route without the kind refuses it.
#[test]
fn static_white_only_where_the_route_says_so() {
    // Warm-dim has its one colour temperature at full.
    let kinds = [
        (LightKind::StaticWhite, None, Some(4000)),
        (LightKind::WarmDim, Some("reverse-wall"), Some(3000)),
        (LightKind::TunableWhite, Some("colour-wall"), Some(4000)),
        (LightKind::Rgb, Some("colour-wall"), None),
        (LightKind::Rgbw, Some("colour-wall"), Some(4000)),
        (LightKind::RgbTunableWhite, Some("colour-five"), Some(4000)),
    ];
    for route in ["saw-and-edge", "routed-panel", "long-sheet"] {
        for (kind, control, cct_k) in kinds {
            let mut job = Job::complete();
            job.panel("bar", |p| {
                p.light.iter_mut().for_each(|l| (l.kind, l.cct_k) = (kind, cct_k));
                (p.route, p.tape) = (Some(name(route)), None);
                p.lit_edges = vec![1, 3];
                p.control = control.map(name);
            });
            // Its depth is another limit, tried elsewhere.
            job.shop.routes.routes.iter_mut().for_each(|r| r.largest_depth_mm = Millimetres(50.0));
            let builds = job.shop.routes.get(route).is_some_and(|r| r.light_kinds.contains(&kind));
            let found = job.findings("route-builds");
            let found = found.iter().find(|f| f.what.contains("panel bar")).expect("it judges the bar");
            assert_eq!(found.state == State::Met, builds, "{route}, {kind}: {}", found.what);
            if !builds {
                assert!(found.what.contains(&kind.to_string()), "{route}: {}", found.what);
            }
        }
    }
    // With the kind taken off its list, even static white is refused.
    let mut job = Job::complete();
    job.shop.routes.routes.iter_mut().for_each(|r| r.light_kinds.retain(|k| *k != LightKind::StaticWhite));
    assert!(job.missing().iter().any(|m| m.starts_with("route-builds") && m.contains("panel bar")));
}

/// A job whose stone is read at the slab's own thickness alone, so much of the bar's own light passing it.
fn read_at_the_slab(through_lx: f64) -> Job {
    let mut job = Job::complete();
    let power = job.case().job().panels[&bar()].power.clone().expect("its power is worked out");
    job.swatch("honey", |s| {
        s.measured.clear();
        s.thickness_mm = s.slab.thickness_mm;
    });
    job.project.trials.values_mut().for_each(|t| {
        t.bare_lx = Some(power.build.exitance_lx);
        t.through_lx = Some(underlit::units::Lux(through_lx));
    });
    job
}

/// The job by a shop whose rules ask nobody to sign for a dim stone.
fn unasked(mut job: Job) -> Job {
    job.shop.rules.approvals.retain(|a| a.topic != Some(Topic::Dim));
    job
}

/// A sum of the stone's light against its surroundings': illuminance times reflectance over π (lambertian).
/// 300 lx on a surround of reflectance 0.7 is 66.8 cd/m²; three times that takes 630 lx through the stone.
#[test]
fn a_stone_dimmer_than_the_shop_wants_is_told_or_signed_for_as_its_rules_say() {
    for (through, dim) in [(640.0, false), (620.0, true)] {
        let told = unasked(read_at_the_slab(through));
        assert_eq!(warnings(&told, "dim", "bar").len(), usize::from(dim), "{through} lx");
        assert!(told.findings("bright-enough").is_empty(), "a shop that does not ask has the warning alone");

        let mut asked = read_at_the_slab(through);
        asked.forget(&Subject::topic(View::Waiver, Topic::Dim, Some(&bar())));
        assert!(warnings(&asked, "dim", "bar").is_empty(), "the gate says it");
        let found = asked.findings("bright-enough");
        let found = found.iter().find(|f| f.what.contains("panel bar")).expect("it judges the bar");
        assert_eq!(found.state == State::Met, !dim, "{through} lx: {}", found.what);
        assert_eq!(found.command.contains("--topic dim"), dim);
    }
    for forget in [
        |job: &mut Job| job.project.project.site.ambient_lx = None,
        |job: &mut Job| job.project.project.site.surround_reflectance = None,
        |job: &mut Job| job.project.trials.values_mut().for_each(|t| t.through_lx = None),
        |job: &mut Job| job.shop.rules.least_luminance_ratio = 0.0,
    ] {
        let mut job = read_at_the_slab(100.0);
        forget(&mut job);
        let missing = job.findings("bright-enough").into_iter().filter(|f| f.state != State::Met);
        assert_eq!(missing.count(), 0, "what cannot be told, or is not wanted, stops nobody");
        assert!(warnings(&unasked(job), "dim", "bar").is_empty());
    }
}

/// What is signed names the stone, its thickness, its light, the ratio and the room; a change that no eye could tell
/// leaves the signature standing.
#[test]
fn the_waiver_of_a_dim_stone_says_how_dim_and_stands_while_that_stays() {
    let subject = Subject::topic(View::Waiver, Topic::Dim, Some(&bar()));
    let mut job = read_at_the_slab(400.0);
    let said = sentences::sentence(&job.case(), &subject).expect("it is dim");
    // 400 lx over 300 lx × 0.7 is 1.904 times, told as 1.9.
    for part in [
        "panel bar",
        "honey onyx",
        "20 mm thick",
        "static-white light at 4000 k",
        "1.9 times",
        "300 lx",
        "3 times or more",
    ] {
        assert!(said.to_lowercase().contains(part), "{part}: {said}");
    }
    job.forget(&subject);
    job.say(&subject, Role::Client, "clara", Decision::Approved);
    let state = |job: &Job| {
        let found = job.findings("bright-enough");
        found.into_iter().find(|f| f.what.contains("panel bar")).expect("it judges the bar").state
    };
    assert_eq!(state(&job), State::Met);
    for (through, expected) in [(402.0, State::Met), (500.0, State::Stale), (380.0, State::Stale)] {
        job.project.trials.values_mut().for_each(|t| t.through_lx = Some(underlit::units::Lux(through)));
        assert_eq!(state(&job), expected, "{through} lx");
    }
    assert_eq!(sentences::sentence(&read_at_the_slab(900.0).case(), &subject), None);
}

/// Warnings stand beside a verdict and stop nothing.
#[test]
fn warnings_block_nothing() {
    let job = Job::complete();
    let (verdict, warnings) = (job.verdict(), job.warnings());
    assert!(warnings.iter().any(|w| w.code == "uneven-light"));
    assert!(warnings.iter().all(|w| !w.message.is_empty() && !w.source.is_empty()));
    assert!(verdict.passes());
}
