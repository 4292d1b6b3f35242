//! Routes judged for a panel, and what serving a panel takes.

use underlit::making::bending::{BendNeeds, Forming, least_radius};
use underlit::making::mount::Mount;
use underlit::making::route_fit::{PanelNeeds, RouteAgainst, choose, usable_sheet};
use underlit::making::routes::Routes;
use underlit::making::service::{
    AccessSide, CardFacts, Lift, Served, StonePiece, card, needs, no_field_service,
};
use underlit::units::{Kilograms, Millimetres};
use underlit::words::{Face, LightKind};

use crate::starter::starter;

fn routes() -> Routes {
    starter("routes")
}

fn bar() -> PanelNeeds {
    PanelNeeds {
        long_mm: Millimetres(2300.0),
        short_mm: Millimetres(460.0),
        curved: false,
        cutouts: 0,
        least_inner_radius_mm: None,
        kind: LightKind::StaticWhite,
        cri_ra: Some(90.0),
        depth_mm: Some(Millimetres(12.0)),
        lit_edges: 1,
        mount: Some(Mount::Tray),
        bend: None,
        etching_mm: None,
        tape_width_mm: None,
    }
}

/// Whether the panel's smallest rectangle lies on a sheet square to its edges.
fn fits_square_on(needs: &PanelNeeds, sheet_mm: (Millimetres, Millimetres)) -> bool {
    let (wide, narrow) = (sheet_mm.0.get().max(sheet_mm.1.get()), sheet_mm.0.get().min(sheet_mm.1.get()));
    let (long, short) =
        (needs.long_mm.get().max(needs.short_mm.get()), needs.long_mm.get().min(needs.short_mm.get()));
    long <= wide + 1e-6 && short <= narrow + 1e-6
}

fn codes(
    needs: &PanelNeeds,
    slack: impl Fn(&str) -> Option<i64>,
) -> (Vec<Vec<&'static str>>, Option<String>) {
    let routes = routes();
    let fits = |w, h| fits_square_on(needs, (w, h));
    let choice = choose(&routes, needs, fits, |route| slack(&route.id));
    let of = |against: &[RouteAgainst]| against.iter().map(RouteAgainst::code).collect();
    let reasons = choice.verdicts.iter().map(|verdict| of(&verdict.against)).collect();
    (reasons, choice.proposed().map(|route| route.id.clone()))
}

#[test]
fn the_first_route_of_the_shop_that_can_build_in_time_is_proposed() {
    let (reasons, proposed) = codes(&bar(), |_| None);
    assert!(reasons.iter().all(Vec::is_empty), "{reasons:?}");
    assert_eq!(proposed.as_deref(), Some("saw-and-edge"));
    let late = |id: &str| Some(if id == "saw-and-edge" { -2 } else { 3 });
    assert_eq!(codes(&bar(), late).1.as_deref(), Some("routed-panel"));
    let all_late = |id: &str| Some(if id == "long-sheet" { -1 } else { -5 });
    assert_eq!(
        codes(&bar(), all_late).1.as_deref(),
        Some("long-sheet"),
        "the least late where none is in time"
    );
    assert_eq!(
        codes(&bar(), |_| Some(-5)).1.as_deref(),
        Some("saw-and-edge"),
        "the shop's order among equals"
    );
}

#[test]
fn every_limit_stands_against_a_route_by_itself() {
    type Change = fn(&mut PanelNeeds);
    let changes: [(&str, Change); 10] = [
        ("size", |n| n.long_mm = Millimetres(2381.0)),
        ("narrow", |n| n.short_mm = Millimetres(59.0)),
        ("curved", |n| n.curved = true),
        ("cutouts", |n| n.cutouts = 1),
        ("light-kind", |n| n.kind = LightKind::Rgb),
        ("colour-rendering", |n| n.cri_ra = Some(93.0)),
        ("depth", |n| n.depth_mm = Some(Millimetres(15.0))),
        ("lit-edges", |n| n.lit_edges = 3),
        ("inner-radius", |n| n.least_inner_radius_mm = Some(Millimetres(5.9))),
        ("mount", |n| n.mount = Some(Mount::FramedFront)),
    ];
    for (code, change) in changes {
        let mut needs = bar();
        change(&mut needs);
        let (reasons, _) = codes(&needs, |_| None);
        let route = match code {
            "inner-radius" => 1,
            "mount" => 2,
            _ => 0,
        };
        assert_eq!(reasons[route], [code], "{code}");
    }
    let mut needs = bar();
    needs.kind = LightKind::Rgbw;
    needs.curved = true;
    needs.long_mm = Millimetres(3900.0);
    let (reasons, proposed) = codes(&needs, |_| None);
    assert_eq!(proposed, None);
    assert_eq!(reasons[0], ["size", "curved", "light-kind"], "all reasons at once");
}

#[test]
fn size_is_taken_on_the_usable_sheet_and_either_way_round() {
    let routes = routes();
    let route = routes.get("saw-and-edge").expect("the starter has it");
    assert_eq!(usable_sheet(route), (Millimetres(1180.0), Millimetres(2380.0)));
    let mut needs = bar();
    needs.long_mm = Millimetres(2380.0);
    needs.short_mm = Millimetres(1180.0);
    assert!(fits_square_on(&needs, usable_sheet(route)));
    std::mem::swap(&mut needs.long_mm, &mut needs.short_mm);
    assert!(fits_square_on(&needs, usable_sheet(route)));
    needs.short_mm = Millimetres(2380.1);
    assert!(!fits_square_on(&needs, usable_sheet(route)));
    // What the shape room says counts, not the rectangle.
    let choice = choose(&routes, &needs, |_, _| true, |_| None);
    assert!(choice.verdicts[0].can_build());
}

fn served(mount: Mount) -> Served {
    let stone = |name: &str, area_mm2| StonePiece {
        name: name.into(),
        area_mm2,
        thickness_mm: Millimetres(20.0),
        density_kg_m3: None,
    };
    Served {
        panel: "bar-front".into(),
        mount,
        long_mm: Millimetres(1200.0),
        short_mm: Millimetres(460.0),
        area_mm2: 552_000.0,
        depth_mm: Millimetres(12.0),
        pieces_kg: Vec::new(),
        stones: vec![stone("left", 400_000.0), stone("right", 152_000.0)],
    }
}

#[test]
fn stone_weighs_27_kilograms_a_square_metre_and_10_millimetres() {
    // Common practice, no source: 27 kg per m² per 10 mm.
    let piece =
        StonePiece { name: "a".into(), area_mm2: 1e6, thickness_mm: Millimetres(10.0), density_kg_m3: None };
    assert!((piece.mass_kg().get() - 27.0).abs() < 1e-9);
    // Alabaster as its supplier states it, 2310 kg/m³: 0.4 m² × 20 mm is 18.48 kg.
    let stated = StonePiece {
        area_mm2: 400_000.0,
        thickness_mm: Millimetres(20.0),
        density_kg_m3: Some(2310.0),
        ..piece
    };
    assert!((stated.mass_kg().get() - 18.48).abs() < 1e-9);
}

#[test]
fn a_lift_grows_with_its_mass() {
    // 23 kg is the load constant of the revised NIOSH lifting equation, from memory.
    assert_eq!(Lift::of(Kilograms(23.0)), Lift::People(1));
    assert_eq!(Lift::of(Kilograms(23.1)), Lift::People(2));
    assert_eq!(Lift::of(Kilograms(46.1)), Lift::Gear);
}

#[test]
fn each_mount_asks_for_its_own_space_and_lift() {
    let tray = needs(&served(Mount::Tray));
    assert_eq!((tray.access, tray.clearance_mm), (AccessSide::TrayEnd, Millimetres(1500.0)));
    // 0.552 m² × 12 mm × 1190 kg/m³; the stone stays.
    assert!((tray.heaviest_kg.get() - 7.882_56).abs() < 1e-6);
    let stone = needs(&served(Mount::RemovableStone));
    assert_eq!(stone.heaviest, "stone left");
    assert!((stone.heaviest_kg.get() - 21.6).abs() < 1e-9);
    assert_eq!((stone.lift, stone.access), (Lift::People(1), AccessSide::Face));
    assert!(needs(&served(Mount::FramedFront)).heaviest.starts_with("panel"));
    for mount in [Mount::Tray, Mount::RemovableStone, Mount::FramedFront] {
        assert_eq!(needs(&served(mount)).acknowledgement, None, "{mount}");
        assert_eq!(needs(&served(mount)).steps.len(), 5, "{mount}");
    }
    let fixed = needs(&served(Mount::Fixed));
    assert_eq!(fixed.access, AccessSide::None);
    assert_eq!(fixed.acknowledgement, Some(no_field_service("bar-front")));
}

#[test]
fn a_service_card_says_what_is_there_and_leaves_out_what_is_not() {
    let facts = CardFacts {
        project: "Harbour bar".into(),
        light: "Static white, 24 V".into(),
        driver: "Plain 24 V, 60 W, in the cupboard".into(),
        ..CardFacts::default()
    };
    let card = card(&served(Mount::Fixed), &facts);
    let labels: Vec<&str> = card.lines.iter().map(|(label, _)| label.as_str()).collect();
    assert_eq!(labels, ["Project", "Panel", "Light", "Driver", "Mount", "Served", "Heaviest to move"]);
    assert!(card.cautions.contains(&no_field_service("bar-front")));
    assert_eq!(card.lines[1].1, "bar-front, 1200 mm × 460 mm");
}

/// Bent so, with a face whose sheets are 1, 10 and 3 mm thick on the route that bends both ways.
fn bent(formed: Forming, radius: f64) -> PanelNeeds {
    let bend = BendNeeds {
        formed,
        radius_mm: Millimetres(radius),
        across_mm: Millimetres(460.0),
        face: Some(Face::Diffused),
    };
    PanelNeeds { bend: Some(bend), ..bar() }
}

#[test]
fn a_panel_is_bent_only_to_radii_that_the_shop_lists_for_each_of_its_sheets() {
    // By the starter's list the guide of 10 mm decides: cold to 2000 mm, by heat to 150 mm.
    for (formed, radius, able) in [
        (Forming::Cold, 2000.0, vec!["routed-panel", "long-sheet"]),
        (Forming::Cold, 1999.9, vec![]),
        (Forming::Heat, 150.0, vec!["routed-panel"]),
        (Forming::Heat, 149.9, vec![]),
        (Forming::Cold, 60.0, vec![]),
    ] {
        let needs = bent(formed, radius);
        let (reasons, proposed) = codes(&needs, |_| None);
        let names: Vec<String> = routes().routes.iter().map(|r| r.id.clone()).collect();
        let can: Vec<&str> =
            names.iter().zip(&reasons).filter(|(_, why)| why.is_empty()).map(|(id, _)| id.as_str()).collect();
        assert_eq!(can, able, "{formed} to {radius} mm");
        assert_eq!(proposed.as_deref(), able.first().copied());
        assert!(reasons.iter().flatten().all(|why| *why == "bend"), "{reasons:?}");
    }
    // Each sheet that is too thick for the radius is named: at 500 mm cold the guide and the diffuser, not the backing.
    assert_eq!(codes(&bent(Forming::Cold, 500.0), |_| None).0[1].len(), 2);
}

#[test]
fn the_entry_for_the_thinnest_sheets_that_takes_a_sheet_gives_its_radius() {
    let routes = routes();
    let route = routes.get("routed-panel").expect("the starter's route");
    for (thickness, least) in
        [(0.5, Some(200.0)), (1.0, Some(200.0)), (1.1, Some(600.0)), (10.0, Some(2000.0)), (10.1, None)]
    {
        let found = least_radius(route, Forming::Cold, Millimetres(thickness));
        assert_eq!(found.map(Millimetres::get), least, "{thickness} mm");
    }
}

#[test]
fn no_outline_goes_round_more_than_once() {
    let mut needs = bent(Forming::Heat, 200.0);
    // 2π × 200 mm = 1256.637 mm, which closes within the ±0.5 mm that a cut may be off.
    for (across, able) in [(1256.0, true), (1256.638, true), (1257.1, true), (1257.2, false)] {
        if let Some(bend) = &mut needs.bend {
            bend.across_mm = Millimetres(across);
        }
        assert_eq!(codes(&needs, |_| None).0[1].is_empty(), able, "{across} mm");
    }
}

#[test]
fn a_tape_wider_than_its_light_guide_is_refused() {
    for (width, able) in [(8.0, [true, true]), (9.0, [false, true]), (10.5, [false, false])] {
        let needs = PanelNeeds { tape_width_mm: Some(Millimetres(width)), ..bar() };
        let reasons = codes(&needs, |_| None).0;
        assert_eq!([reasons[0].is_empty(), reasons[1].is_empty()], able, "{width} mm: {reasons:?}");
    }
    let reasons = codes(&PanelNeeds { tape_width_mm: Some(Millimetres(9.0)), ..bar() }, |_| None).0;
    assert_eq!(reasons[0], ["tape-width"]);
}
