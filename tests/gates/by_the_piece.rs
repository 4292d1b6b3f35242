//! Mass and movement piece by piece, by the stone and the sheets that are there; cautions in the terms of the site's code.

use underlit::gates::State;
use underlit::ids::PanelId;
use underlit::job::cautions::{Caution, cautions};
use underlit::job::masses::{self, DensityFrom};
use underlit::job::pack;
use underlit::job::wording::Wording;
use underlit::making::routes::StoneDensity;
use underlit::model::rules::Ask;
use underlit::model::stage::Stage;
use underlit::model::swatch::Material;
use underlit::power::vocabulary::{CodeRegion, Place};

use crate::job::{Job, name};

fn of_panel(job: &Job, panel: &str, wording: Wording) -> Vec<Caution> {
    cautions(&job.case(), wording).into_iter().filter(|c| c.panel() == Some(panel)).collect()
}

#[test]
fn a_split_panel_moves_by_its_longest_piece_and_a_whole_one_as_before() {
    let job = Job::complete();
    let desk = &job.project.panels[&name::<PanelId>("desk")];
    let drawing = job.project.drawing_of(&name("desk")).expect("it is drawn");
    let split = masses::split_of(&job.shop, desk, drawing).expect("it is split");
    let longest = split
        .pieces
        .iter()
        .map(|p| underlit::shape::figures(&p.outline).least_rectangle.long_mm)
        .fold(0.0, f64::max);
    let whole = drawing.figures.least_rectangle.long_mm;
    assert!(split.pieces.len() > 1 && longest < whole - 100.0, "{longest} of {whole}");
    let moved = |job: &Job, panel: &str| {
        of_panel(job, panel, Wording::Third).into_iter().find_map(|c| match c {
            Caution::PieceMovement { pieces, growth_um, .. } => Some((pieces, growth_um)),
            _ => None,
        })
    };
    // 0.07 mm per metre and kelvin over 40 K, and 2 mm per metre between dry and damp: handbook values, from memory.
    let tenths = |mm: f64| (mm * 10.0).round() as i64 * 100;
    let expected = (split.pieces.len() as i64, tenths(longest / 1000.0 * (0.07 * 40.0 + 2.0)));
    assert_eq!(moved(&job, "desk"), Some(expected));
    assert_eq!(moved(&job, "bar"), Some((1, tenths(1.2 * (0.07 * 40.0 + 2.0)))));
    let mut dry = job.clone();
    dry.panel("bar", |p| p.place = Place::Dry);
    assert_eq!(moved(&dry, "bar"), Some((1, tenths(1.2 * 0.07 * 40.0))));
    // What was signed before says the whole panel, in its own edition.
    let before = of_panel(&job, "desk", Wording::Second);
    assert!(before.iter().any(
        |c| matches!(c, Caution::Movement { growth_um, .. } if *growth_um == tenths(whole / 1000.0 * 2.8))
    ));
}

#[test]
fn a_panel_weighs_what_its_sheets_weigh_piece_by_piece() {
    let mut job = Job::complete();
    let route = job.shop.routes.get("routed-panel").expect("the starter has it").clone();
    let face = job.project.panels[&name::<PanelId>("bar")].face.expect("chosen");
    let depth: f64 = route.layers_for(face).map(|layer| layer.thickness_mm.0).sum();
    assert!(depth > 0.0);
    let weigh = |job: &Job, id: &str| {
        let case = job.case();
        let data = pack::of_job(&case, case.job());
        data.panels.into_iter().find(|p| p.id == id).expect("it is in the pack")
    };
    // 1.2 × 0.3 m of acrylic, 1190 kg/m³.
    let bar = weigh(&job, "bar");
    assert!(
        (bar.mass_g.expect("weighed") as f64 - 1.2 * 0.3 * depth * 1190.0).abs() <= 1.0,
        "{:?}",
        bar.mass_g
    );
    let desk = weigh(&job, "desk");
    assert_eq!(desk.piece_mass_g.len() as i64, desk.pieces);
    let sum: i64 = desk.piece_mass_g.iter().sum();
    assert!((sum - desk.mass_g.expect("weighed")).abs() <= desk.pieces);
    let heaviest = *desk.piece_mass_g.iter().max().expect("pieces");
    assert!(heaviest < sum);
    // A frame of 1 kg/m goes round every piece: 3 m round the bar.
    for one in &mut job.shop.routes.routes {
        one.frame_kg_per_m = Some(1.0);
    }
    let framed = weigh(&job, "bar");
    assert_eq!(framed.mass_g.expect("weighed") - bar.mass_g.expect("weighed"), 3000);
    // A heavier backing counts by its own density.
    for layer in job.shop.routes.routes.iter_mut().flat_map(|r| &mut r.layers) {
        layer.density_kg_m3 = Some(2.0 * 1190.0);
    }
    let heavy = weigh(&job, "bar");
    assert!((heavy.mass_g.expect("weighed") - 3000 - 2 * bar.mass_g.expect("weighed")).abs() <= 1);
}

#[test]
fn alabaster_is_two_stones() {
    let mut job = Job::complete();
    let stone = |job: &Job| masses::density(&job.shop, &job.project.swatches[&name("honey")]);
    assert_eq!((stone(&job).least, stone(&job).from), (2710.5, DensityFrom::Slab));
    job.swatch("honey", |s| (s.slab.density_kg_m3, s.material) = (None, Material::Alabaster));
    let either = stone(&job);
    let mut of = |material| {
        job.swatch("honey", |s| s.material = material);
        stone(&job)
    };
    let (gypsum, calcite) = (of(Material::GypsumAlabaster), of(Material::CalciteAlabaster));
    // Gypsum is about 2320 kg/m³ and calcite 2710 kg/m³: handbook values, from memory.
    assert!(
        (gypsum.least..=gypsum.most).contains(&2320.0) && (calcite.least..=calcite.most).contains(&2710.0)
    );
    assert!(gypsum.most < calcite.least, "they are told apart");
    assert!(
        either.least <= gypsum.least && either.most >= calcite.most,
        "what nobody tells apart spans both"
    );
    // The shop's own record goes before the handbook.
    job.shop.routes.stone_densities =
        vec![StoneDensity { material: "calcite-alabaster".into(), least_kg_m3: 2700.0, most_kg_m3: 2720.0 }];
    assert_eq!((stone(&job).most, stone(&job).from), (2720.0, DensityFrom::Shop));
    // The caution gives the range, plans the lift for its heavy end, and says that nobody told which.
    job.swatch("honey", |s| s.material = Material::Alabaster);
    let said: Vec<String> =
        of_panel(&job, "bar", Wording::Third).iter().map(|c| c.in_words(Wording::Third)).collect();
    // 0.36 m² of 20 mm: 16.2 to 19.8 kg.
    assert!(said[0].contains("about 16 to 20 kg") && said[0].contains("which alabaster"), "{said:?}");
    let warned = job.warnings();
    assert!(
        warned
            .iter()
            .any(|w| w.code == "which-alabaster" && w.message.contains("--material gypsum-alabaster"))
    );
}

#[test]
fn protection_against_residual_current_is_named_as_the_sites_code_names_it() {
    let mut job = Job::complete();
    let mut said = |region| {
        job.project.project.site.code_region = region;
        let all: Vec<String> =
            cautions(&job.case(), Wording::Third).iter().map(|c| c.in_words(Wording::Third)).collect();
        all.into_iter().find(|c| c.starts_with("Water:")).expect("a panel stands where it is damp")
    };
    let nec = said(Some(CodeRegion::Nec));
    assert!(nec.contains("GFCI") && !nec.contains("RCD"), "{nec}");
    let iec = said(Some(CodeRegion::Iec));
    assert!(iec.contains("RCD") && iec.contains("30 mA") && !iec.contains("GFCI"), "{iec}");
    for open in [None, Some(CodeRegion::Other)] {
        let either = said(open);
        assert!(either.contains("GFCI or RCD"), "{either}");
    }
}

#[test]
fn a_place_for_which_the_shop_lists_nothing_is_said_at_the_choice() {
    let mut job = Job::complete();
    job.shop.rules.asks.clear();
    job.panel("bar", |p| p.place = Place::Wet);
    let unrated = |job: &Job| -> Vec<String> {
        let warnings = job.warnings().into_iter().filter(|w| w.code == "no-part-for-place");
        warnings.filter(|w| w.panels.contains(&name("bar"))).map(|w| w.message).collect()
    };
    let tapes =
        |job: &mut Job, place: Place| job.shop.lights.lights.iter_mut().for_each(|one| one.place = place);
    tapes(&mut job, Place::Damp);
    let said = unrated(&job);
    assert!(
        said.len() == 1
            && said[0].contains("no static-white tape of shop/lights.json is rated for a wet place"),
        "{said:?}"
    );
    assert!(said[0].contains("IEC 60529"), "{said:?}");
    // Where the rules ask it, it holds the choice, and is said once.
    job.shop.rules.asks = vec![Ask::BeforeChoice];
    assert_eq!(unrated(&job), Vec::<String>::new());
    let mut held = job.findings("place-served");
    held.retain(|f| f.state != State::Met);
    assert!(
        held.len() == 1 && held[0].gate == Stage::Rendering && held[0].what.contains(&said[0]),
        "{held:?}"
    );
    job.shop.rules.asks.clear();
    tapes(&mut job, Place::Wet);
    assert_eq!(unrated(&job), Vec::<String>::new());
    job.shop.wire.connectors.retain(|one| one.place < Place::Wet);
    assert!(unrated(&job)[0].contains("no connector at a panel of shop/wire.json"), "{:?}", unrated(&job));
}
