//! Light, tape and the drop along it: from a panel's edges to watts, amperes and light at the face.

use underlit::power::light_build::{LightBuildFault, LitEdge, LitFace, work_out};
use underlit::power::light_choice::{self, LightAgainst, LightRequirement};
use underlit::power::lights::{CctRange, Lights};
use underlit::power::tape_drop::{Feed, largest};
use underlit::power::vocabulary::Place;
use underlit::units::{Metres, Millimetres, Volts};
use underlit::words::{Face, LightKind};

use crate::starter::starter;

fn lights() -> Lights {
    starter("lights")
}

fn near(found: f64, expected: f64, within: f64) {
    assert!((found - expected).abs() <= within, "{found} is not {expected} ± {within}");
}

fn edge(id: &str, length_mm: f64) -> LitEdge {
    LitEdge {
        id: id.into(),
        length_mm: Millimetres(length_mm),
        least_radius_mm: None,
        feed: Feed::OneEnd,
        tapes: 1,
        piece: 0,
    }
}

#[test]
fn drops_along_a_tape() {
    // Evenly loaded: I·R/2 fed at one end, I·R/8 fed at both. Integration of the
    // current left at each point; also checked numerically from outside.
    near(largest(Feed::OneEnd, 2.0, 0.5).get(), 0.5, 1e-12);
    near(largest(Feed::BothEnds, 2.0, 0.5).get(), 0.125, 1e-12);
}

#[test]
fn the_common_carries_the_sum_and_conductors_are_channels_and_one() {
    // Conductors 2, 3, 4, 5: common practice, no source.
    for (id, conductors) in [("white-24", 2), ("tunable-24", 3), ("rgb-24", 4), ("rgbw-24", 5)] {
        let lights = lights();
        let light = lights.get(id).expect("the starter has the light");
        let face = LitFace { face: Face::Clear, area_mm2: 500_000.0 };
        let build = work_out(light, &[edge("bottom", 1000.0)], face).expect("the edge takes tape");
        assert_eq!(build.conductors.len(), conductors, "{id}");
        assert_eq!(build.conductors.len(), light.kind.conductors(), "{id}");
        assert!(build.conductors[0].common);
        let sum: f64 = build.conductors[1..].iter().map(|c| c.amps.get()).sum();
        near(build.conductors[0].amps.get(), sum, 1e-12);
        near(sum * 24.0, build.watts.get(), 1e-9);
    }
}

#[test]
fn a_panel_from_edges_to_light() {
    // 1230 mm at 50 mm cuts is 1200 mm; 14.4 W/m → 17.28 W, 0.72 A; 1500 lm/m × 1.2 m × 0.42 / 0.6 m² → 1260 lm/m².
    let lights = lights();
    let light = lights.get("white-24").expect("the starter has it");
    let face = LitFace { face: Face::Diffused, area_mm2: 600_000.0 };
    let build = work_out(light, &[edge("bottom", 1230.0)], face).expect("the edge takes tape");
    near(build.tape_m.get(), 1.2, 1e-12);
    near(build.watts.get(), 17.28, 1e-9);
    near(build.conductors[0].amps.get(), 0.72, 1e-12);
    near(build.exitance_lx.get(), 1260.0, 1e-9);
    assert_eq!(build.dark_mm, [("bottom".to_owned(), Millimetres(30.0))]);
    assert_eq!(build.depth_mm, Millimetres(12.0));
    // Both rails of 0.04 Ω/m, evenly loaded: 2 × 0.72 A × 0.048 Ω / 2.
    near(build.tapes[0].drop_v.expect("the starter states the tape's resistance").get(), 0.03456, 1e-12);
    assert_eq!(
        build.in_words(underlit::units::DisplayUnits::Mm),
        "1.2 m of tape, 17.3 W, 1260 lm/m² at the face"
    );
    // A length that is a whole number of cuts stays whole though 0.1 mm steps add up badly in binary.
    let exact = work_out(light, &[edge("bottom", 0.1 * 3500.0)], face).expect("the edge takes tape");
    near(exact.tape_m.get(), 0.35, 1e-12);
}

#[test]
fn tape_that_cannot_be_laid_says_why_and_what_to_do() {
    let lights = lights();
    let light = lights.get("white-24").expect("the starter has it");
    let face = LitFace { face: Face::Clear, area_mm2: 600_000.0 };
    let mut bent = edge("curve", 800.0);
    bent.least_radius_mm = Some(Millimetres(20.0));
    let faults =
        work_out(light, &[edge("tiny", 49.0), edge("long", 7000.0), edge("huge", 11_000.0), bent], face)
            .expect_err("none of the edges can be laid");
    let codes: Vec<_> = faults.iter().map(LightBuildFault::code).collect();
    assert_eq!(
        codes,
        ["tape-shorter-than-cut", "tape-longer-than-run", "tape-longer-than-run", "tape-bend-too-tight"]
    );
    assert_eq!(faults[1].remedy(), "feed the tape at both ends");
    assert_eq!(faults[2].remedy(), "divide the edge into 3 tapes, each fed by itself");
    let nothing = work_out(light, &[], LitFace { face: Face::Clear, area_mm2: f64::NAN })
        .expect_err("nothing to work out");
    assert_eq!(nothing, [LightBuildFault::NoLitEdge, LightBuildFault::NoArea]);
    for length in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        let faults = work_out(light, &[edge("bad", length)], face).expect_err("no length");
        assert_eq!(faults[0].code(), "light-edge-no-length", "{length}");
    }
}

#[test]
fn a_light_gives_what_its_record_says() {
    let lights = lights();
    let tunable = lights.get("tunable-24").expect("the starter has it");
    assert!([2400, 4100, 6500].iter().all(|cct| tunable.gives_cct(*cct)));
    assert!(!tunable.gives_cct(2399) && !tunable.gives_cct(6501));
    let white = lights.get("white-24").expect("the starter has it");
    assert!(white.gives_cct(3500) && !white.gives_cct(3600));
    assert!(
        white.suits_place(Place::Dry) && white.suits_place(Place::Damp) && !white.suits_place(Place::Wet)
    );
    assert_eq!((white.largest_run(false), white.largest_run(true)), (Metres(5.0), Metres(10.0)));
}

#[test]
fn a_light_is_chosen_with_reasons_against_the_others() {
    let lights = lights();
    let mut ask = LightRequirement {
        kind: LightKind::StaticWhite,
        voltage_v: Some(Volts(12.0)),
        cct_k: Some(3000),
        cri_ra: Some(90.0),
        cct_range_k: None,
        place: Place::Damp,
    };
    let choice = light_choice::choose(&lights, &ask).expect("the starter has it");
    assert_eq!(choice.light.id, "white-12");
    assert_eq!(choice.passed_over[0].1, [LightAgainst::Voltage(Volts(24.0))]);
    ask.cct_k = Some(3500);
    ask.place = Place::Wet;
    let none =
        light_choice::choose(&lights, &ask).expect_err("12 V at 3500 K in a wet place is not in the list");
    let codes: Vec<Vec<&str>> = none
        .passed_over
        .iter()
        .map(|(_, reasons)| reasons.iter().map(LightAgainst::code).collect())
        .collect();
    assert_eq!(codes[0], ["voltage", "place"]);
    assert_eq!(codes[1], ["cct", "place"]);
    assert_eq!(codes[3], ["kind", "voltage", "cct", "colour-rendering", "place"]);
    assert!(
        none.remedy()
            .contains("`white-24`: it runs at 24 V; a panel built with it is sealed for a damp place only")
    );
}

#[test]
fn tape_is_laid_with_the_fewest_feeds_and_can_then_be_built() {
    let lights = lights();
    let light = lights.get("white-24").expect("the starter has it");
    let face = LitFace { face: Face::Clear, area_mm2: 600_000.0 };
    for (length_mm, feed, tapes) in [
        (4999.0, Feed::OneEnd, 1),
        (5000.0, Feed::OneEnd, 1),
        (5001.0, Feed::BothEnds, 1),
        (10_000.0, Feed::BothEnds, 1),
        (10_001.0, Feed::BothEnds, 2),
        (35_000.0, Feed::BothEnds, 4),
    ] {
        let edge = light_choice::lay(light, "a", Millimetres(length_mm), None);
        assert_eq!((edge.feed, edge.tapes), (feed, tapes), "{length_mm} mm");
        assert!(work_out(light, &[edge], face).is_ok(), "{length_mm} mm cannot be built as laid");
    }
    // Where both ends allow no more than one, one end is enough for each tape.
    let mut plain = light.clone();
    plain.largest_run_both_ends_m = None;
    let edge = light_choice::lay(&plain, "a", Millimetres(12_000.0), None);
    assert_eq!((edge.feed, edge.tapes), (Feed::OneEnd, 3));
}

#[test]
fn a_tunable_white_must_reach_both_ends_of_the_range_that_is_asked() {
    let lights = lights();
    for (warmest, coolest, reached) in
        [(2400, 6500, true), (2700, 6000, true), (2399, 6500, false), (2400, 6501, false)]
    {
        let ask = LightRequirement {
            kind: LightKind::TunableWhite,
            voltage_v: Some(Volts(24.0)),
            cct_k: Some(3000),
            cri_ra: None,
            cct_range_k: Some(CctRange { warmest, coolest }),
            place: Place::Dry,
        };
        assert_eq!(light_choice::choose(&lights, &ask).is_ok(), reached, "{warmest} K to {coolest} K");
    }
}
