//! The axis about which a panel is bent: a line through the middle of the view, with the radius.

use crate::model::panel::BendAxis;
use crate::shape::Point;

use super::super::ink::{LineStyle, SMALL, SMALL_BOLD};
use super::super::scale::Measure;
use super::labels::Try;
use super::{CENTRE_PAST_MM, Sketch};

impl Sketch<'_> {
    /// Draws the axis; gives where it runs.
    pub(super) fn bend_axis(&mut self) -> Option<(Point, Point)> {
        let bend = self.input.bend.as_ref()?;
        let panel = self.panel;
        let middle = Point::new((panel.left + panel.right) / 2.0, (panel.top + panel.bottom) / 2.0);
        let (from, to) = match bend.axis {
            BendAxis::Upright => (
                Point::new(middle.x, panel.top - CENTRE_PAST_MM),
                Point::new(middle.x, panel.bottom + CENTRE_PAST_MM),
            ),
            BendAxis::Level => (
                Point::new(panel.left - CENTRE_PAST_MM, middle.y),
                Point::new(panel.right + CENTRE_PAST_MM, middle.y),
            ),
        };
        self.line(from, to, LineStyle::Centre);
        Some((from, to))
    }

    /// Writes the radius at the axis.
    pub(super) fn bend_label(&mut self, axis: Option<(Point, Point)>) {
        let (Some((from, to)), Some(bend)) = (axis, self.input.bend.as_ref()) else { return };
        let radius = Measure::of(bend.radius_mm.0, self.input.units).both();
        let lines = [("axis of the bend".to_owned(), SMALL_BOLD), (format!("R {radius}"), SMALL)];
        let across = (to - from).unit().left();
        let mut tries = Vec::new();
        for share in [0.5, 0.35, 0.65, 0.25, 0.75, 0.15, 0.85] {
            let place = from.towards(to, share);
            for way in [across, across * -1.0] {
                tries.push(Try::Beside { place, way, distance: 1.2 });
                tries.push(Try::Leader { place, way: way + (to - from).unit() * 0.5, distance: 8.0 });
            }
        }
        if !self.set_label(&lines, &tries) {
            self.omissions.push("radius of the bend".into());
        }
    }
}
