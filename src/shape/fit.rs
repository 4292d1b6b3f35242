//! Whether an outline fits on a sheet, at any rotation.
//!
//! The width and height of a turned outline are those of its hull; between two directions of hull edges both are
//! arcs of sines, so that the best rotation lies at such a direction or where width and height use up the same
//! share of the sheet. The answer is confirmed over the true curves.

use std::f64::consts::PI;

use super::outline::Contour;
use super::point::Point;
use super::rectangle::hull;
use super::segment::root;

/// A sheet or blank, in millimetres; the larger side first or second, it makes no difference.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sheet {
    /// Along one side, in millimetres.
    pub width_mm: f64,
    /// Along the other side, in millimetres.
    pub height_mm: f64,
}

/// How an outline is laid on a sheet.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Placement {
    /// How far the outline is turned counter-clockwise before it is laid on the sheet, in radians.
    pub turned_rad: f64,
    /// Its width on the sheet after turning, along the sheet's width, in millimetres.
    pub width_mm: f64,
    /// Its height on the sheet after turning, in millimetres.
    pub height_mm: f64,
}

/// Lays an outline on a sheet; none where no rotation fits. Plain rotations are preferred: as drawn, then a quarter
/// turn, then the one that leaves most room.
#[must_use]
pub fn fit(contour: &Contour, sheet: Sheet) -> Option<Placement> {
    let place = |angle: f64| {
        // Turning the outline by an angle is looking at it along directions turned the other way.
        let (across, up) = (Point::at_angle(-angle), Point::at_angle(-angle).left());
        let (x, y) = (contour.extent(across), contour.extent(up));
        Placement { turned_rad: angle, width_mm: x.1 - x.0, height_mm: y.1 - y.0 }
    };
    let fits = |p: &Placement| {
        let slack = 1.0 + 1e-12;
        p.width_mm <= sheet.width_mm * slack && p.height_mm <= sheet.height_mm * slack
    };
    if let Some(plain) = [0.0, PI / 2.0].into_iter().map(place).find(fits) {
        return Some(plain);
    }
    // No rotation helps where it is longer than the sheet's diagonal or larger than the sheet.
    let diagonal = sheet.width_mm.hypot(sheet.height_mm) * (1.0 + 1e-9);
    let plain = place(0.0);
    let area = contour.signed_area().abs();
    if plain.width_mm.max(plain.height_mm) > diagonal
        || area > sheet.width_mm * sheet.height_mm * (1.0 + 1e-9)
    {
        return None;
    }
    let hull = hull(contour.flattened((plain.width_mm * 1e-4).clamp(1e-3, 1.0)));
    if hull.len() < 2 {
        return None;
    }
    let span = |angle: f64| {
        let d = Point::at_angle(angle);
        let (low, high) = hull
            .iter()
            .map(|p| d.dot(*p))
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(v), h.max(v)));
        high - low
    };
    let share = |angle: f64| (span(-angle) / sheet.width_mm, span(PI / 2.0 - angle) / sheet.height_mm);
    let mut angles: Vec<f64> = (0..hull.len())
        .map(|i| (hull[(i + 1) % hull.len()] - hull[i]).angle())
        .flat_map(|a| [(-a).rem_euclid(PI), (PI / 2.0 - a).rem_euclid(PI)])
        .collect();
    angles.sort_by(f64::total_cmp);
    angles.dedup_by(|a, b| (*a - *b).abs() < 1e-12);
    let mut candidates = angles.clone();
    for (i, &from) in angles.iter().enumerate() {
        let to = angles.get(i + 1).copied().unwrap_or(angles[0] + PI);
        let difference = |angle: f64| {
            let (w, h) = share(angle);
            w - h
        };
        let (a, b) = (difference(from), difference(to));
        // Between hull directions spans bulge upward, so that they are nowhere less than at both ends.
        let ((w0, h0), (w1, h1)) = (share(from), share(to));
        if a * b < 0.0 && w0.min(w1).max(h0.min(h1)) <= 1.0 + 1e-3 {
            candidates.push(root(from, to, a, &difference));
        }
    }
    let worst = |angle: f64| {
        let (w, h) = share(angle);
        w.max(h)
    };
    candidates
        .into_iter()
        .map(|angle| (worst(angle), angle))
        .filter(|(w, _)| *w <= 1.0 + 1e-3)
        .map(|(_, angle)| place(angle.rem_euclid(PI)))
        .filter(fits)
        .reduce(|a, b| if room(&b, sheet) < room(&a, sheet) - 1e-12 { b } else { a })
}

fn room(p: &Placement, sheet: Sheet) -> f64 {
    (p.width_mm / sheet.width_mm).max(p.height_mm / sheet.height_mm)
}

#[cfg(test)]
mod tests {
    use super::super::outline::Outline;
    use super::*;

    fn fits(width: f64, height: f64, sheet: (f64, f64)) -> bool {
        let sheet = Sheet { width_mm: sheet.0, height_mm: sheet.1 };
        fit(&Outline::rectangle(width, height).outer, sheet).is_some()
    }

    #[test]
    fn a_strip_fits_across_the_corners() {
        // A p×q rectangle (p ≥ q) fits a×b (a ≥ b) with p > a where b ≥ (2pqa + (p²−q²)√(p²+q²−a²))/(p²+q²):
        // Carver, American Mathematical Monthly 64 (1957), from memory.
        let (p, q, a) = (1300.0_f64, 100.0_f64, 1200.0_f64);
        let least = (2.0 * p * q * a + (p * p - q * q) * (p * p + q * q - a * a).sqrt()) / (p * p + q * q);
        assert!(fits(p, q, (a, least + 1e-6)));
        assert!(!fits(p, q, (a, least - 1e-6)));
        assert!(fits(q, p, (least + 1e-6, a)));
    }

    #[test]
    fn as_drawn_and_a_quarter_turn_come_first() {
        let sheet = Sheet { width_mm: 1200.0, height_mm: 600.0 };
        let place = |w, h| fit(&Outline::rectangle(w, h).outer, sheet).map(|p| p.turned_rad);
        assert_eq!(place(1200.0, 600.0), Some(0.0));
        assert_eq!(place(600.0, 1200.0), Some(PI / 2.0));
        assert_eq!(place(1200.1, 600.0), None);
        assert!(fit(&Outline::circle(600.0).outer, sheet).is_some());
        assert!(fit(&Outline::circle(600.1).outer, sheet).is_none());
    }
}
