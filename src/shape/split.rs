//! An outline too large for a sheet, split into butted pieces.
//!
//! Cuts are straight, in the directions of the stone's joints, of the least rectangle and of the drawing. Along each
//! direction the best set of cuts among candidate positions is found exactly, by dynamic programming over the strips
//! between them; a strip that is still too large is split across in the same way. Ranked by: seams off the
//! stone's joints (where it has any), pieces, seams, length of seams, evenness of the pieces.
//!
//! Cuts of any depth are then searched (`search`) for a split that takes fewer pieces, or as many with fewer or shorter
//! seams. Only such a one goes before what was found first: a split that is as good stays what it was.

use super::cut::Part;
use super::edges::TapeLimits;
use super::error::{ShapeCode, ShapeError};
use super::fit::Sheet;
use super::outline::{Outline, StoneJoint};
use super::pieces::{Piece, Seam, SplitOption};
use super::point::Point;
use super::rectangle::{Rectangle, least_rectangle};
use super::search::Search;
use super::splitter::{Cost, MORE_PIECES, Plan, Splitter};

/// What a split must keep to. All of it is shop data.
#[derive(Clone, Debug, PartialEq)]
pub struct SplitLimits {
    /// The sheet that each piece must fit on.
    pub sheet: Sheet,
    /// A piece narrower than this is a sliver, in millimetres.
    pub least_piece_mm: f64,
    /// How far a seam stays from a cut-out, in millimetres.
    pub clear_of_cutouts_mm: f64,
    /// What the tape can follow: every piece needs an edge of its own that carries it.
    pub tape: TapeLimits,
    /// Numbers of the edges that are to be lit; every piece then needs a part of one. None: any edge will do.
    pub lit_edges: Vec<usize>,
    /// The most pieces to think of.
    pub most_pieces: usize,
}

/// Splits an outline so that each piece fits on a sheet: the options found, best first.
///
/// Where the outline fits as it is, the one option is one piece without seams. Seams keep clear of cut-outs; only where
/// that cannot be, or takes more pieces, as on a ring, ways with seams that end at them come last.
///
/// # Errors
/// Where no split within the limits was found, with the reason most likely at fault.
pub fn split(outline: &Outline, limits: &SplitLimits) -> Result<Vec<SplitOption>, ShapeError> {
    let clear_of_all = proposed(outline, limits, false);
    let whole = clear_of_all.as_ref().is_ok_and(|found| found[0].seams.is_empty());
    if outline.cutouts.is_empty() || whole {
        return clear_of_all;
    }
    let ending_at_cutouts = proposed(outline, limits, true).unwrap_or_default();
    match clear_of_all {
        Err(none) if ending_at_cutouts.is_empty() => Err(none),
        Err(_) => Ok(ending_at_cutouts),
        Ok(mut found) => {
            // Behind the others, and only where they take fewer pieces.
            let fewest = found.iter().map(|o| o.pieces.len()).min().unwrap_or(0);
            found.extend(ending_at_cutouts.into_iter().filter(|o| o.pieces.len() < fewest));
            Ok(found)
        }
    }
}

fn proposed(
    outline: &Outline,
    limits: &SplitLimits,
    through_cutouts: bool,
) -> Result<Vec<SplitOption>, ShapeError> {
    let rectangle = least_rectangle(&outline.outer);
    let (w, h) = (limits.sheet.width_mm, limits.sheet.height_mm);
    let most = limits.most_pieces as f64;
    if !(w > 0.0 && h > 0.0) || rectangle.long_mm > most * w.hypot(h) {
        return Err(cannot(outline, "it would take more pieces than are allowed"));
    }
    let whole = Part::whole(outline);
    let splitter = Splitter::of(outline, limits, through_cutouts);
    let mut options: Vec<(Cost, SplitOption)> = Vec::new();
    let mut fewest = limits.most_pieces;
    for across in directions(&rectangle, &outline.stone_joints) {
        let Some(plan) = splitter.fewest_first(&whole, across, limits.most_pieces.min(fewest + MORE_PIECES))
        else {
            continue;
        };
        fewest = fewest.min(plan.parts.len());
        let option = option(&plan, across);
        let known = options.iter().any(|(_, o)| same_seams(&o.seams, &option.seams));
        if !known {
            options.push((plan.cost, option));
        }
    }
    options.sort_by(|a, b| a.0.order(b.0));
    let known = options.first().map(|o| o.0);
    if known.is_none_or(|cost| cost.0[1] > 1.0)
        && let Some(better) = deeper(&splitter, &whole, &rectangle, known)
    {
        options.insert(0, better);
    }
    if options.is_empty() {
        return Err(cannot(
            outline,
            "every cut would pass through a cut-out, leave a sliver, or leave a piece without an edge for tape",
        ));
    }
    Ok(options.into_iter().map(|(_, option)| option).collect())
}

/// The best split by cuts of any depth, where it is better than the best one known.
fn deeper(
    splitter: &Splitter<'_>,
    whole: &Part,
    rectangle: &Rectangle,
    known: Option<Cost>,
) -> Option<(Cost, SplitOption)> {
    let mut frames: Vec<Point> = Vec::new();
    for d in directions(rectangle, splitter.joints) {
        if !frames.iter().any(|f| f.cross(d).abs() < 1e-9 || f.dot(d).abs() < 1e-9) {
            frames.push(d);
        }
    }
    let mut best: Option<(Cost, SplitOption)> = None;
    let allowed = known.map_or(splitter.limits.most_pieces, |cost| cost.0[1] as usize);
    for across in frames {
        let Some(plan) = Search::new(splitter, across).best(whole, allowed) else { continue };
        let beats = |cost: &Cost| plan.cost.is_shorter(*cost);
        if known.as_ref().is_none_or(beats) && best.as_ref().is_none_or(|(cost, _)| beats(cost)) {
            best = Some((plan.cost, option(&plan, across)));
        }
    }
    best
}

/// True where two splits have the same seams, in whatever order and either way round.
fn same_seams(a: &[Seam], b: &[Seam]) -> bool {
    let near = |p: Point, q: Point| p.distance(q) < 1e-3;
    let same = |s: &Seam, t: &Seam| {
        near(s.from, t.from) && near(s.to, t.to) || near(s.from, t.to) && near(s.to, t.from)
    };
    a.len() == b.len() && a.iter().all(|s| b.iter().any(|t| same(s, t)))
}

fn cannot(outline: &Outline, reason: &str) -> ShapeError {
    ShapeError::new(
        ShapeCode::CannotSplit,
        format!("the outline cannot be split to fit the sheet: {reason}"),
        "choose a route with a larger sheet, move the cut-outs, or draw the pieces one by one",
    )
    .at(outline.outer.start())
}

pub(super) fn option(plan: &Plan, across: Point) -> SplitOption {
    let pieces = plan
        .parts
        .iter()
        .map(|(part, placement)| {
            let outline = Outline {
                cutouts: part.cutouts.clone(),
                etchings: part.etchings.clone(),
                ..Outline::of(part.contour())
            };
            Piece {
                edge_numbers: part.border.iter().map(|b| b.edge).collect(),
                placement: *placement,
                area_mm2: net_area(part),
                outline,
            }
        })
        .collect();
    SplitOption {
        pieces,
        seam_length_mm: plan.seams.iter().map(Seam::length_mm).sum(),
        seams: plan.seams.clone(),
        direction_deg: across.angle().to_degrees(),
    }
}

fn net_area(part: &Part) -> f64 {
    part.contour().signed_area().abs() - part.cutouts.iter().map(|c| c.signed_area().abs()).sum::<f64>()
}

/// Directions to cut across: of the stone's joints, of the least rectangle, of the drawing.
fn directions(rectangle: &Rectangle, joints: &[StoneJoint]) -> Vec<Point> {
    let mut found: Vec<Point> = Vec::new();
    let long = Point::at_angle(rectangle.long_side_rad);
    let from_joints = joints.iter().map(|j| (j.to - j.from).unit().left());
    for d in from_joints.chain([long, long.left(), Point::new(1.0, 0.0), Point::new(0.0, 1.0)]) {
        let d = if d.x < -1e-12 || (d.x.abs() <= 1e-12 && d.y < 0.0) { -d } else { d };
        if d.length() > 0.5 && !found.iter().any(|f| f.cross(d).abs() < 1e-9) {
            found.push(d);
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::super::check::check;
    use super::super::figures::figures;
    use super::super::outline::Contour;
    use super::super::point::Transform;
    use super::*;

    fn p(x: f64, y: f64) -> Point {
        Point::new(x, y)
    }

    fn limits(width: f64, height: f64) -> SplitLimits {
        SplitLimits {
            sheet: Sheet { width_mm: width, height_mm: height },
            least_piece_mm: 60.0,
            clear_of_cutouts_mm: 30.0,
            tape: TapeLimits { shortest_mm: 100.0, least_bend_radius_mm: Some(300.0) },
            lit_edges: Vec::new(),
            most_pieces: 12,
        }
    }

    fn adds_up(outline: &Outline, option: &SplitOption) {
        let whole = figures(outline);
        let area: f64 = option.pieces.iter().map(|p| figures(&p.outline).area_mm2).sum();
        assert!((area - whole.area_mm2).abs() <= 1e-9 * whole.area_mm2, "{area} of {}", whole.area_mm2);
        let border: f64 = option.pieces.iter().map(|p| p.outline.outer.length()).sum();
        let expected = whole.perimeter_mm + 2.0 * option.seam_length_mm;
        assert!((border - expected).abs() <= 1e-9 * expected, "{border} of {expected}");
        for piece in &option.pieces {
            assert_eq!(check(&piece.outline), [], "{:?}", piece.outline);
        }
    }

    #[test]
    fn a_long_bar_is_halved() {
        let bar = Outline::rectangle(2000.0, 400.0);
        let options = split(&bar, &limits(1200.0, 600.0)).expect("it can be split");
        assert_eq!((options[0].pieces.len(), options[0].seams.len()), (2, 1));
        assert_eq!(options[0].seam_length_mm, 400.0);
        assert!((options[0].seams[0].from.x - 1000.0).abs() < 1e-9, "even pieces: {:?}", options[0].seams);
        adds_up(&bar, &options[0]);
        assert!(options[0].acknowledgement().contains("2 butted pieces with 1 seam of 400 mm"));
    }

    #[test]
    fn seams_go_where_the_stone_has_its_joints() {
        let mut bar = Outline::rectangle(2000.0, 400.0);
        bar.stone_joints.push(StoneJoint { from: p(850.0, -5.0), to: p(850.0, 405.0) });
        let options = split(&bar, &limits(1200.0, 600.0)).expect("it can be split");
        assert_eq!((options[0].seams.len(), options[0].seams[0].from.x), (1, 850.0));
        assert!(options[0].seams[0].on_joint);
    }

    #[test]
    fn no_seam_through_a_cutout() {
        let mut vanity = Outline::rectangle(2000.0, 500.0);
        vanity.cutouts.push(Contour::circle(p(1000.0, 250.0), 150.0));
        let option = &split(&vanity, &limits(1200.0, 600.0)).expect("it can be split")[0];
        assert_eq!(option.pieces.len(), 2);
        let x = option.seams[0].from.x;
        assert!((x - 1000.0).abs() >= 180.0 - 1e-9, "the seam at {x} is too near");
        adds_up(&vanity, option);
    }

    #[test]
    fn an_l_is_cut_at_its_inner_corner() {
        let l = Outline::polygon(&[
            p(0., 0.),
            p(1500., 0.),
            p(1500., 400.),
            p(500., 400.),
            p(500., 1100.),
            p(0., 1100.),
        ]);
        let option = &split(&l, &limits(1200.0, 600.0)).expect("it can be split")[0];
        assert_eq!((option.pieces.len(), option.seams.len()), (2, 1));
        assert!((option.seam_length_mm - 400.0).abs() < 1e-9, "{:?}", option.seams);
        adds_up(&l, option);
        // The upright piece keeps the edge above the seam as its own.
        let own: f64 = option
            .pieces
            .iter()
            .flat_map(|p| p.tape_edges(&limits(1.0, 1.0).tape))
            .map(|e| e.length_mm)
            .sum();
        assert!((own - figures(&l).perimeter_mm).abs() < 1e-6, "{own}");
    }

    #[test]
    fn a_wall_is_cut_both_ways() {
        let wall = Outline::rectangle(3000.0, 1500.0).mapped(Transform::rotated(0.4));
        let option = &split(&wall, &limits(1600.0, 800.0)).expect("it can be split")[0];
        assert_eq!(option.pieces.len(), 4);
        adds_up(&wall, option);
    }

    #[test]
    fn a_curved_desk_stays_exact() {
        // A ring sector: radii 1000 and 1500, half a turn.
        let desk = Outline::of(Contour {
            segments: vec![
                super::super::segment::Segment::line(p(1000.0, 0.0), p(1500.0, 0.0)),
                super::super::segment::Segment::Arc(super::super::arc::Arc {
                    start: p(1500.0, 0.0),
                    end: p(-1500.0, 0.0),
                    bulge: 1.0,
                }),
                super::super::segment::Segment::line(p(-1500.0, 0.0), p(-1000.0, 0.0)),
                super::super::segment::Segment::Arc(super::super::arc::Arc {
                    start: p(-1000.0, 0.0),
                    end: p(1000.0, 0.0),
                    bulge: -1.0,
                }),
            ],
        });
        let option = &split(&desk, &limits(2000.0, 1600.0)).expect("it can be split")[0];
        assert_eq!((option.pieces.len(), option.seams.len()), (2, 1), "{:?}", option.seams);
        assert!((option.seam_length_mm - 500.0).abs() < 1e-6);
        adds_up(&desk, option);
    }

    #[test]
    fn a_ring_is_split_by_seams_that_end_at_its_hole() {
        for (outer, hole, sheet, pieces, seams) in [
            // Two halves; quarters, where halves are too large; off centre; a square frame.
            (Outline::circle(1600.0), Contour::circle(p(0.0, 0.0), 500.0), (1700.0, 900.0), 2, 2),
            (Outline::circle(2000.0), Contour::circle(p(0.0, 0.0), 600.0), (1200.0, 1200.0), 4, 4),
            (Outline::circle(1600.0), Contour::circle(p(90.0, 40.0), 500.0), (1700.0, 900.0), 2, 2),
            (
                Outline::rectangle(1600.0, 1600.0),
                Contour::polygon(&[p(200., 200.), p(1400., 200.), p(1400., 1400.), p(200., 1400.)]),
                (1700.0, 900.0),
                2,
                2,
            ),
        ] {
            let ring = Outline { cutouts: vec![hole], ..outer };
            let options = split(&ring, &limits(sheet.0, sheet.1)).expect("a ring can be split");
            for option in &options {
                let whole = figures(&ring);
                let area: f64 = option.pieces.iter().map(|p| figures(&p.outline).area_mm2).sum();
                assert!(
                    (area - whole.area_mm2).abs() <= 1e-9 * whole.area_mm2,
                    "{area} of {}",
                    whole.area_mm2
                );
                let border: f64 = option.pieces.iter().map(|p| figures(&p.outline).cut_length_mm).sum();
                let expected = whole.cut_length_mm + 2.0 * option.seam_length_mm;
                assert!((border - expected).abs() <= 1e-9 * expected, "{border} of {expected}");
                for piece in &option.pieces {
                    assert_eq!(check(&piece.outline), [], "{:?}", piece.outline);
                    // What was the hole carries no tape.
                    let tape = TapeLimits { shortest_mm: 0.0, least_bend_radius_mm: Some(1.0) };
                    assert!(piece.tape_edges(&tape).iter().all(|e| e.number > 0));
                }
                let drawn: Vec<(Point, Point)> = option.seams.iter().map(|s| (s.from, s.to)).collect();
                let again = crate::shape::split_along(&ring, &drawn, 0.01, &limits(sheet.0, sheet.1));
                assert_eq!(again.expect("the same rules").pieces.len(), option.pieces.len());
            }
            let fewest = options.iter().min_by_key(|o| o.pieces.len()).expect("an option");
            assert_eq!((fewest.pieces.len(), fewest.seams.len()), (pieces, seams));
        }
    }

    #[test]
    fn no_option_twice_and_none_of_one_piece_in_butted_pieces() {
        for outline in [
            Outline::circle(1800.0),
            Outline::rectangle(2000.0, 2000.0),
            Outline::rectangle(3000.0, 1500.0),
            Outline::circle(1800.0).mapped(Transform::scaled(1.0, 0.7)),
        ] {
            let options = split(&outline, &limits(1200.0, 1200.0)).expect("it can be split");
            for (i, a) in options.iter().enumerate() {
                let sets = |o: &SplitOption| {
                    let mut seams: Vec<[i64; 4]> = o
                        .seams
                        .iter()
                        .map(|s| {
                            let at = [s.from.x, s.from.y, s.to.x, s.to.y].map(|v| (v * 10.0).round() as i64);
                            let turned = [at[2], at[3], at[0], at[1]];
                            at.min(turned)
                        })
                        .collect();
                    seams.sort_unstable();
                    seams
                };
                assert!(options[i + 1..].iter().all(|b| sets(a) != sets(b)), "{:?}", a.seams);
            }
        }
        let whole = split(&Outline::rectangle(500.0, 300.0), &limits(1200.0, 600.0)).expect("it fits");
        assert_eq!((whole.len(), whole[0].seams.len()), (1, 0));
        assert_eq!(whole[0].acknowledgement(), "The panel is built in one piece, without seams.");
    }

    #[test]
    fn what_cannot_be_split_says_so() {
        let mut blocked = Outline::rectangle(1400.0, 500.0);
        blocked.cutouts.push(Contour::polygon(&[
            p(100., 100.),
            p(1300., 100.),
            p(1300., 400.),
            p(100., 400.),
        ]));
        let through = split(&blocked, &limits(1200.0, 600.0)).expect("seams may end at the hole");
        assert_eq!((through[0].pieces.len(), through[0].seams.len()), (2, 2));
        let few = SplitLimits { most_pieces: 1, ..limits(1200.0, 600.0) };
        let error = split(&blocked, &few).expect_err("one piece is too few");
        assert_eq!(error.code, ShapeCode::CannotSplit);
        let lit = SplitLimits { lit_edges: vec![2], ..limits(1200.0, 600.0) };
        assert!(split(&Outline::rectangle(3000.0, 400.0), &lit).is_err(), "the middle has no part of edge 2");
    }
}
