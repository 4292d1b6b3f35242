//! What to order: whole sheets, allowances, seams and joints, worked out by hand beside each.

use underlit::job::pack::order::{OrderLine, lines};
use underlit::job::pack::{digest, of_job};
use underlit::making::routes::Allowances;
use underlit::units::Millimetres;

use crate::job::{Job, record, rectangle};

fn order(job: &Job) -> Vec<OrderLine> {
    let case = job.case();
    lines(&case, case.job(), &of_job(&case, case.job()))
}

fn of<'o>(order: &'o [OrderLine], what: &str) -> Vec<&'o OrderLine> {
    order.iter().filter(|l| l.what == what).collect()
}

/// The mark of what the shop does not state.
const MARK: &str = "common practice, no source";

#[test]
fn a_split_panel_is_cut_from_whole_sheets_and_its_seams_are_counted() {
    let mut job = Job::complete();
    job.panel("desk", |p| p.quantity = None);
    let found = order(&job);
    // The desk is 3600 mm long and its route's sheet 3000 mm: two pieces of some 1800 mm by up to 880 mm, and the bar of
    // 1200 × 300 mm. 2 × 880 + 10 mm pass 1470 mm of usable width, 1800 + 10 + 300 mm do not pass 2970 mm: two sheets.
    let guides = of(&found, "light-guide");
    assert_eq!(guides.len(), 1, "one stock for both panels: {found:#?}");
    assert_eq!((guides[0].order, guides[0].order_unit.as_str()), (2.0, "sheets"), "{}", guides[0].note);
    assert!(guides[0].note.contains("of 1500 × 3000 mm, 3 pieces cut from them"), "{}", guides[0].note);
    assert!(guides[0].note.contains(&format!("10 mm between pieces ({MARK})")), "{}", guides[0].note);

    let seams = of(&found, "seam");
    assert_eq!(seams.iter().map(|l| l.id.as_str()).collect::<Vec<_>>(), ["desk"], "the bar has none");
    let drawn = &job.project.panels[&record::<underlit::ids::PanelId>("desk".into())].seams;
    let length: f64 = drawn
        .iter()
        .map(|s| (s.to_mm[0].0 - s.from_mm[0].0).hypot(s.to_mm[1].0 - s.from_mm[1].0) / 1000.0)
        .sum();
    // The clear face has a reflector and a light guide, and a seam goes through each.
    assert!((seams[0].net - 2.0 * length).abs() < 2e-3, "{} for {length}", seams[0].net);
    assert!(of(&found, "seam-adhesive").is_empty(), "nobody says how much it takes");

    // Every fed end of a tape is joined inside its panel.
    let case = job.case();
    let data = of_job(&case, case.job());
    let ends: i64 =
        data.panels.iter().filter_map(|p| p.power.as_ref()).flat_map(|p| &p.tapes).map(|t| t.fed_ends).sum();
    let joints: f64 = of(&found, "tape-joint").iter().map(|l| l.order).sum();
    assert_eq!(joints, ends as f64);
    assert!(
        of(&found, "tape-joint").iter().all(|l| l.id == "soldered"),
        "the starter list has no connector for it"
    );
}

#[test]
fn the_shops_own_allowances_take_the_place_of_common_practice() {
    let mut job = Job::complete();
    let before = order(&job);
    let sealed = |job: &Job| digest(&of_job(&job.case(), job.case().job()));
    let seal = sealed(&job);
    let tape = |order: &[OrderLine]| -> (f64, f64) {
        let all = of(order, "tape");
        (all.iter().map(|l| l.net).sum(), all.iter().map(|l| l.order).sum())
    };
    for line in of(&before, "tape").into_iter().chain(of(&before, "cable")) {
        assert!(line.note.contains(MARK) && line.order > line.net, "{line:?}");
    }
    job.shop.routes.allowances = Some(Allowances {
        sheet_gap_mm: Some(Millimetres(0.0)),
        tape_pct: Some(50.0),
        cable_pct: Some(0.0),
        seam_adhesive_ml_per_m: Some(6.0),
    });
    job.shop.wire.connectors.push(record(serde_json::json!({
        "id": "clip-3", "name": "Clip", "at": ["in-panel"], "conductors": 3, "conductor_a": 5, "place": "wet"
    })));
    let after = order(&job);
    assert!(after.iter().all(|l| !l.note.contains(MARK)), "{after:#?}");
    let (net, ordered) = tape(&after);
    // Half as much again, each tape up to the next tenth of a metre.
    assert!(ordered >= 1.5 * net - 1e-6 && ordered < 1.5 * net + 0.3, "{net} {ordered}");
    let adhesive = of(&after, "seam-adhesive");
    assert_eq!(adhesive[0].order, (of(&after, "seam")[0].net * 6.0).ceil());
    assert!(of(&after, "tape-joint").iter().all(|l| l.id == "clip-3"), "{after:#?}");
    // Runs and loose ends alone: no cable is ordered beyond them.
    for line in of(&after, "cable") {
        let before = of(&before, "cable").into_iter().find(|l| l.id == line.id).expect("the same cables");
        assert!((line.order * 1.1 - before.order).abs() < 0.25, "{line:?} {before:?}");
    }
    assert_eq!(sealed(&job), seal, "what is ordered beyond is no part of what is sealed");
}

#[test]
fn a_job_of_whole_panels_has_no_seams() {
    let mut job = Job::complete();
    job.outline("desk", &rectangle(1400.0, 700.0));
    job.panel("desk", |p| {
        p.seams.clear();
        (p.driver, p.wire) = (None, None);
        p.lit_edges = vec![1, 3];
    });
    job.settle();
    let found = order(&job);
    assert!(of(&found, "seam").is_empty());
    // 1400 × 700 and 1200 × 300 mm lie on one sheet of 1470 × 2970 mm usable.
    assert_eq!(of(&found, "light-guide")[0].order, 1.0);
}
