//! Boxes in which a sheet is signed, one for each person asked, with the dispositions of a submittal.

use crate::shape::Point;

use super::canvas::{Anchor, Canvas, Reading};
use super::ink::{CELL_HEADING, LineStyle, SMALL, SMALL_BOLD};
use super::input::Approval;
use super::lettering::{fitted, printable, width_mm};
use super::paper::Area;
use super::tables::{Region, in_reading_order};

/// What a person may answer: one of them a sheet. Work goes on only on the first two, and on the second only with
/// every note met. Words as submittals commonly have them (common practice, no source).
pub(crate) const DISPOSITIONS: [&str; 4] =
    ["Approved", "Approved as noted", "Revise and resubmit", "Rejected"];

/// Side of a box to mark, in millimetres.
const MARK_MM: f64 = 2.6;
/// Height of the heading over the boxes, in millimetres.
const HEADING_MM: f64 = 5.0;

/// How wide a box must be to hold its dispositions on one line.
const WIDE_MM: f64 = 118.0;

fn box_height(width: f64) -> f64 {
    if width >= WIDE_MM { 16.5 } else { 21.0 }
}

/// The height of the boxes for so many people at a width, in millimetres.
#[must_use]
pub(crate) fn height_mm(people: usize, width: f64) -> f64 {
    if people == 0 { 0.0 } else { HEADING_MM + people as f64 * box_height(width) + 1.5 }
}

/// Draws as many boxes as the regions hold, each whole, and returns how many people got one. The first region that holds
/// all takes them; where none does, they go on in reading order.
pub(crate) fn draw(canvas: &mut Canvas, people: &[Approval], regions: &mut [Region]) -> usize {
    let fitting = |region: &Region| match region.area.width() {
        width if width < 60.0 => 0,
        width => ((region.left_mm() - HEADING_MM) / box_height(width)).floor().max(0.0) as usize,
    };
    let mut done = 0;
    canvas.open("sign-off");
    match regions.iter().position(|r| fitting(r) >= people.len()) {
        Some(first) => regions[..=first].rotate_right(1),
        None => in_reading_order(regions),
    }
    for region in regions {
        let width = region.area.width();
        let here = &people[done..people.len().min(done + fitting(region))];
        if here.is_empty() {
            continue;
        }
        let at = Point::new(region.area.left, region.filled_to + HEADING_MM - 1.5);
        let heading =
            if done == 0 { "Sign-off: mark one box, sign and date" } else { "Sign-off (continued)" };
        canvas.write(heading, at, Anchor::Start, SMALL_BOLD, Reading::Level);
        let mut top = region.filled_to + HEADING_MM;
        for person in here {
            let place = Area::new(region.area.left, top, width, box_height(width));
            one(canvas, person, place);
            top = place.bottom;
        }
        region.filled_to = top + 1.5;
        done += here.len();
    }
    canvas.close();
    done
}

fn one(canvas: &mut Canvas, person: &Approval, place: Area) {
    canvas.rectangle(place, LineStyle::Narrow);
    let who = who(person);
    let room = place.width() - 3.0;
    if let Some(set) = fitted(&who, SMALL_BOLD, 1.4, room, 4.0) {
        let mut y = place.top + 0.3 + set.lettering.size_mm;
        for line in &set.lines {
            canvas.write(line, Point::new(place.left + 1.5, y), Anchor::Start, set.lettering, Reading::Level);
            y += set.lettering.size_mm * super::ink::LEADING;
        }
    } else {
        let at = Point::new(place.left + 1.5, place.top + 3.0);
        canvas.write("see notes", at, Anchor::Start, SMALL_BOLD, Reading::Level);
    }
    let wide = place.width() >= WIDE_MM;
    let mut at = Point::new(place.left + 1.5, place.top + 4.6);
    for (i, word) in DISPOSITIONS.iter().enumerate() {
        if !wide && i == 2 {
            at = Point::new(place.left + 1.5, place.top + 8.3);
        }
        canvas.rectangle(Area::new(at.x, at.y, MARK_MM, MARK_MM), LineStyle::Narrow);
        let text = Point::new(at.x + MARK_MM + 1.0, at.y + MARK_MM - 0.4);
        canvas.write(word, text, Anchor::Start, SMALL, Reading::Level);
        let step = match wide {
            true => MARK_MM + 1.0 + width_mm(word, SMALL) + 4.0,
            false => 31.0,
        };
        at = Point::new(at.x + step, at.y);
    }
    let line = place.bottom - 3.2;
    let split = place.left + place.width() * 0.66;
    for (from, to, heading) in
        [(place.left + 1.5, split - 2.0, "Signature"), (split, place.right - 1.5, "Date")]
    {
        canvas.line(Point::new(from, line), Point::new(to, line), LineStyle::Rule);
        let at = Point::new(from, place.bottom - 0.8);
        canvas.write(heading, at, Anchor::Start, CELL_HEADING, Reading::Level);
    }
}

/// The people whose names no box can hold, as notes.
#[must_use]
pub(crate) fn overflow(people: &[Approval], width: f64) -> Vec<String> {
    people
        .iter()
        .filter_map(|p| {
            let who = who(p);
            fitted(&who, SMALL_BOLD, 1.4, width - 3.0, 4.0).is_none().then(|| format!("Sign-off by {who}"))
        })
        .collect()
}

/// The role, written as a heading, and the name where there is one.
fn who(person: &Approval) -> String {
    let (role, name) = (printable(&person.role), printable(&person.name));
    let mut letters = role.chars();
    let role: String = letters.next().into_iter().flat_map(char::to_uppercase).chain(letters).collect();
    if name.is_empty() { role } else { format!("{role}: {name}") }
}
