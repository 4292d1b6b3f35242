//! A split along seams that somebody drew: the same rules as for the splits that are proposed.
//!
//! Each seam must be a straight cut from border to border of what is left after the cuts before it, in whatever order
//! makes that so. It keeps clear of cut-outs, or ends at one well inside it, as the seams of a ring do, with another seam
//! going on from its far side. No piece is a sliver, each fits on the sheet and keeps an edge for tape.

use super::cut::{Cut, Halves, Part};
use super::error::{ShapeCode, ShapeError};
use super::outline::Outline;
use super::pieces::SplitOption;
use super::point::Point;
use super::positions;
use super::split::{SplitLimits, option};
use super::splitter::{Cost, Plan, Splitter};
use crate::units::Millimetres;

/// A cut that can be made now: which part it goes through, and which of the drawn seams it makes.
struct Step {
    part: usize,
    halves: Halves,
    made: Vec<(usize, (Point, Point))>,
}

/// The split along drawn seams, with the seams in the order in which they were given and their ends exactly on the
/// borders; `within_mm` is how far a drawn end may be off the border.
///
/// # Errors
/// Which seam or piece breaks which rule, with its place.
pub(crate) fn split_along(
    outline: &Outline,
    drawn: &[(Point, Point)],
    within_mm: f64,
    limits: &SplitLimits,
) -> Result<SplitOption, ShapeError> {
    let refuse = |message: String, remedy: &str, at: Point| {
        Err(ShapeError::new(ShapeCode::CannotSplit, message, remedy).at(at))
    };
    if drawn.is_empty() || drawn.len() >= limits.most_pieces {
        let message = format!("{} seams make no split of at most {} pieces", drawn.len(), limits.most_pieces);
        return refuse(
            message,
            "draw at least one seam, and no more than the pieces allow",
            outline.outer.start(),
        );
    }
    let splitter = Splitter::of(outline, limits, true);
    let mut parts = vec![Part::whole(outline)];
    let mut open: Vec<usize> = (0..drawn.len()).collect();
    let mut made: Vec<Option<(Point, Point)>> = vec![None; drawn.len()];
    while let Some(&first) = open.first() {
        let Some(step) = next_step(&parts, drawn, &open, within_mm, limits.clear_of_cutouts_mm) else {
            let (from, to) = drawn[first];
            let nearness = limits.clear_of_cutouts_mm;
            return match too_near(&parts, from, to, nearness) {
                Some(at) => refuse(
                    format!(
                        "seam {} passes through a cut-out, or nearer to it than {}",
                        first + 1,
                        Millimetres(nearness).both()
                    ),
                    "move the seam away from the cut-out, or let it pass through the middle of it",
                    at,
                ),
                None if parts.iter().any(|p| p.cutouts.iter().any(|c| cut_along(from, to).crosses(c))) => {
                    refuse(
                        format!("seam {} goes on over a cut-out", first + 1),
                        "draw two seams on its line: one from the border to the cut-out, one from the cut-out on",
                        from,
                    )
                }
                None => refuse(
                    format!(
                        "seam {} is no straight cut from border to border: it ends more than {} off, or \
                         its line goes on through more of the panel where no seam is drawn",
                        first + 1,
                        Millimetres(within_mm).both()
                    ),
                    "draw it from border to border, or draw the other seams on its line too",
                    from,
                ),
            };
        };
        parts.remove(step.part);
        parts.extend(step.halves.below);
        parts.extend(step.halves.above);
        open.retain(|i| !step.made.iter().any(|(k, _)| k == i));
        for (i, ends) in step.made {
            made[i] = Some(ends);
        }
    }
    let mut placed = Vec::new();
    for part in parts {
        let contour = part.contour();
        let at = contour.start();
        if splitter.is_sliver(&part) {
            let least = Millimetres(limits.least_piece_mm).both();
            return refuse(format!("a piece is narrower than {least}: a sliver"), "move its seam", at);
        }
        let Some(placement) = splitter.placement(&part) else {
            let size = [limits.sheet.width_mm, limits.sheet.height_mm]
                .map(|side| Millimetres(side).both())
                .join(" by ");
            let message = format!("a piece does not fit on the sheet of {size}");
            return refuse(message, "draw one more seam, or choose a route with a larger sheet", at);
        };
        if !splitter.can_be_lit(&part) {
            return refuse(
                "a piece has no edge of its own that can carry tape".into(),
                "draw the seams so that each piece keeps part of a lit edge",
                at,
            );
        }
        placed.push((part, placement));
    }
    let exact: Vec<(Point, Point)> = made.into_iter().flatten().collect();
    let across = drawn.first().map_or(Point::new(1.0, 0.0), |(from, to)| (*to - *from).unit().left());
    let plan = Plan { parts: placed, seams: splitter.seams(&exact).0, cost: Cost::NOTHING };
    Ok(option(&plan, across))
}

fn cut_along(from: Point, to: Point) -> Cut {
    let across = (to - from).unit().left();
    Cut { across, at_mm: across.dot(from) }
}

/// The first cut that can be made: every seam that it makes in its part is among the drawn ones.
fn next_step(
    parts: &[Part],
    drawn: &[(Point, Point)],
    open: &[usize],
    within_mm: f64,
    clear_mm: f64,
) -> Option<Step> {
    for (at, part) in parts.iter().enumerate() {
        for &i in open {
            let (from, to) = drawn[i];
            if from.distance(to) <= within_mm
                || too_near(std::slice::from_ref(part), from, to, clear_mm).is_some()
            {
                continue;
            }
            let halves = part.cut(cut_along(from, to));
            let mut made: Vec<(usize, (Point, Point))> = Vec::new();
            let all_drawn = halves.seams.iter().all(|&(a, b)| {
                let found = open.iter().copied().find_map(|k| {
                    let (from, to) = drawn[k];
                    let near = |p: Point, q: Point| p.distance(q) <= within_mm;
                    let taken = made.iter().any(|(m, _)| *m == k);
                    match (near(from, a) && near(to, b), near(from, b) && near(to, a)) {
                        (true, _) if !taken => Some((k, (a, b))),
                        (_, true) if !taken => Some((k, (b, a))),
                        _ => None,
                    }
                });
                made.extend(found);
                found.is_some()
            });
            if all_drawn
                && made.iter().any(|(k, _)| *k == i)
                && !halves.below.is_empty()
                && !halves.above.is_empty()
            {
                return Some(Step { part: at, halves, made });
            }
        }
    }
    None
}

/// The place of a cut-out that a line comes too near to; as for proposed seams, the whole line counts.
fn too_near(parts: &[Part], from: Point, to: Point, clear_mm: f64) -> Option<Point> {
    let cut = cut_along(from, to);
    parts.iter().flat_map(|p| &p.cutouts).find_map(|cutout| {
        let reach = cutout.extent(cut.across);
        positions::too_near(reach, cut.at_mm, clear_mm, true).then(|| cutout.start())
    })
}

#[cfg(test)]
mod tests {
    use super::super::edges::TapeLimits;
    use super::super::figures::figures;
    use super::super::fit::Sheet;
    use super::super::outline::Contour;
    use super::super::split::split;
    use super::*;

    fn p(x: f64, y: f64) -> Point {
        Point::new(x, y)
    }

    fn limits() -> SplitLimits {
        SplitLimits {
            sheet: Sheet { width_mm: 1200.0, height_mm: 600.0 },
            least_piece_mm: 60.0,
            clear_of_cutouts_mm: 30.0,
            tape: TapeLimits { shortest_mm: 100.0, least_bend_radius_mm: None },
            lit_edges: Vec::new(),
            most_pieces: 12,
        }
    }

    fn refused(outline: &Outline, drawn: &[(Point, Point)], says: &str) {
        let error = split_along(outline, drawn, 0.5, &limits()).expect_err(says);
        assert!(error.message.contains(says) && error.at_mm.is_some(), "{error}");
    }

    #[test]
    fn a_seam_drawn_by_hand_is_a_split_like_any_other() {
        let bar = Outline::rectangle(2000.0, 400.0);
        // Off the middle, leaning a little, its ends a hair off the border.
        let drawn = [(p(900.0, 0.2), p(940.0, 399.9))];
        let option = split_along(&bar, &drawn, 0.5, &limits()).expect("it is sound");
        assert_eq!(option.pieces.len(), 2);
        let seam = option.seams[0];
        assert!(
            seam.from.y.abs() < 1e-9 && (seam.to.y - 400.0).abs() < 1e-9,
            "its ends lie on the border: {seam:?}"
        );
        let area: f64 = option.pieces.iter().map(|p| figures(&p.outline).area_mm2).sum();
        assert!((area - 800_000.0).abs() < 1e-6);
    }

    #[test]
    fn every_proposed_split_is_found_again_from_its_seams() {
        let mut vanity = Outline::rectangle(2600.0, 900.0);
        vanity.cutouts.push(Contour::circle(p(700.0, 450.0), 150.0));
        let l = Outline::polygon(&[
            p(0., 0.),
            p(1900., 0.),
            p(1900., 400.),
            p(500., 400.),
            p(500., 1100.),
            p(0., 1100.),
        ]);
        for outline in [vanity, l] {
            for option in split(&outline, &limits()).expect("it can be split") {
                let mut drawn: Vec<(Point, Point)> = option.seams.iter().map(|s| (s.from, s.to)).collect();
                // In any order, either way round.
                drawn.reverse();
                drawn.iter_mut().step_by(2).for_each(|s| *s = (s.1, s.0));
                let again = split_along(&outline, &drawn, 0.01, &limits()).expect("the same rules");
                let areas = |o: &SplitOption| {
                    let mut areas: Vec<i64> =
                        o.pieces.iter().map(|p| (p.area_mm2 * 1e3).round() as i64).collect();
                    areas.sort_unstable();
                    areas
                };
                assert_eq!(areas(&again), areas(&option));
            }
        }
    }

    #[test]
    fn seams_meet_in_a_t_and_break_rules_by_name() {
        let wall = Outline::rectangle(1800.0, 1000.0);
        let tee = [(p(1100.0, 500.0), p(1800.0, 500.0)), (p(1100.0, 0.0), p(1100.0, 1000.0))];
        // The left piece, 1100 by 1000, is too large for the sheet.
        refused(&wall, &tee, "does not fit on the sheet");
        let more = [tee[0], tee[1], (p(0.0, 450.0), p(1100.0, 450.0))];
        assert_eq!(split_along(&wall, &more, 0.5, &limits()).expect("four pieces").pieces.len(), 4);
        refused(&wall, &[(p(900.0, 0.0), p(900.0, 700.0))], "no straight cut from border to border");
        refused(&Outline::rectangle(1200.0, 600.0), &[(p(40.0, 0.0), p(40.0, 600.0))], "sliver");
        refused(&wall, &[], "0 seams");
        let mut holed = Outline::rectangle(2000.0, 400.0);
        holed.cutouts.push(Contour::circle(p(1000.0, 200.0), 100.0));
        refused(&holed, &[(p(1120.0, 0.0), p(1120.0, 400.0))], "passes through a cut-out");
        assert!(split_along(&holed, &[(p(1131.0, 0.0), p(1131.0, 400.0))], 0.5, &limits()).is_ok());
        refused(&holed, &[(p(1000.0, 0.0), p(1000.0, 400.0))], "goes on over a cut-out");
        let both = [(p(1000.0, 0.0), p(1000.0, 100.0)), (p(1000.0, 400.0), p(1000.0, 300.0))];
        assert_eq!(split_along(&holed, &both, 0.5, &limits()).expect("it ends at the hole").pieces.len(), 2);
        refused(&holed, &both[..1], "goes on over a cut-out");
        // A line through both arms of a U needs both its seams.
        let u = Outline::polygon(&[
            p(0., 0.),
            p(1000., 0.),
            p(1000., 800.),
            p(700., 800.),
            p(700., 300.),
            p(300., 300.),
            p(300., 800.),
            p(0., 800.),
        ]);
        refused(&u, &[(p(0.0, 500.0), p(300.0, 500.0))], "no straight cut");
        let both = [(p(0.0, 500.0), p(300.0, 500.0)), (p(700.0, 500.0), p(1000.0, 500.0))];
        assert_eq!(split_along(&u, &both, 0.5, &limits()).expect("both arms").pieces.len(), 3);
    }
}
