//! The lines of a DXF drawing by layer: model space only, block references resolved, units known.

use std::collections::BTreeMap;

use super::super::drawing::{Drawn, ReadOptions, Refusal};
use super::super::error::{ShapeCode, ShapeError};
use super::super::ignored::{ignored_text, without_codes};
use super::super::json::{FARTHEST_MM, LARGEST_FILE_BYTES, MOST_PIECES};
use super::super::outline::{Mark, MarkKind, SAME_PLACE_MM};
use super::super::point::{Point, Transform};
use super::super::segment::Segment;
use super::entities::Entity;
use super::file::File;
use super::pairs::pairs;
use super::space::{Facings, InSpace, View, told as direction_told};

/// How deep block references may nest.
const DEEPEST: usize = 16;
/// How many entities may be walked in all, block references repeated, before a drawing counts as too large.
const MOST_WALKED: usize = 4 * MOST_PIECES;

/// The most pieces that the picture of a refused drawing shows.
const MOST_SHOWN: usize = 5000;

/// Entities that draw no cut line and are left out with a remark.
const ANNOTATIONS: &[&str] = &[
    "TEXT",
    "MTEXT",
    "ATTDEF",
    "ATTRIB",
    "DIMENSION",
    "LEADER",
    "MULTILEADER",
    "MLEADER",
    "TOLERANCE",
    "HATCH",
    "SOLID",
    "TRACE",
    "POINT",
    "IMAGE",
    "WIPEOUT",
    "VIEWPORT",
    "XLINE",
    "RAY",
    "ARC_DIMENSION",
    "ACAD_TABLE",
    "OLE2FRAME",
    "PDFUNDERLAY",
    "DWFUNDERLAY",
    "DGNUNDERLAY",
    "SEQEND",
];

/// The lines of a drawing by layer, in millimetres, and remarks on what was left out.
pub(crate) fn lines(bytes: &[u8], options: &ReadOptions) -> Result<(Vec<Drawn>, Vec<String>), Refusal> {
    if bytes.len() > 4 * LARGEST_FILE_BYTES {
        return Err(Refusal::of(ShapeError::new(
            ShapeCode::TooLarge,
            format!("the DXF file is {} bytes long", bytes.len()),
            "save the outline alone as DXF",
        )));
    }
    let pairs = pairs(bytes).map_err(Refusal::of)?;
    let file = File::of(&pairs).map_err(Refusal::of)?;
    let scale = file.millimetres(options).map_err(Refusal::of)?;
    let plan = Reader::of(&file, options).read(Sight::Plan(Transform::scaled(scale, scale)));
    // What lies in one plane that is not level keeps its shape when it is laid flat.
    let from = if plan.is_ok() { None } else { file.seen_from(options) };
    let standing = from.and_then(|from| {
        let view = View::scaled([scale; 3]).then(&View::onto(from)?);
        let (drawn, mut remarks) = Reader::of(&file, options).read(Sight::Space(view)).ok()?;
        remarks.push(format!(
            "the drawing lies in a plane that is not level and is laid flat as it is seen from the direction {}: make \
             sure that it is not mirrored",
            direction_told(from)
        ));
        Some((drawn, remarks))
    });
    standing.map_or(plan, Ok)
}

impl File<'_, '_> {
    /// The direction from which the drawing is seen, where what is read may lie in one plane that is not level.
    fn seen_from(&self, options: &ReadOptions) -> Option<InSpace> {
        let mut reader = Reader { facings: Some(Facings::default()), ..Reader::of(self, options) };
        reader.walk(&self.entities, Sight::Space(View::WORLD), None, 0).ok()?;
        reader.facings?.seen_from()
    }
}

/// How a drawing is looked at.
#[derive(Clone, Copy)]
enum Sight {
    /// From above, heights left out.
    Plan(Transform),
    /// In space, onto the plane that it lies in.
    Space(View),
}

impl Sight {
    fn view(&self) -> Option<&View> {
        match self {
            Sight::Plan(_) => None,
            Sight::Space(view) => Some(view),
        }
    }

    /// The map that is left to do after an entity was drawn by this view.
    fn map(&self) -> Transform {
        match self {
            Sight::Plan(map) => *map,
            Sight::Space(_) => Transform::IDENTITY,
        }
    }

    /// Where an entity is seen, in millimetres.
    fn place(&self, entity: &Entity<'_, '_>) -> Option<Point> {
        match self {
            Sight::Plan(map) => entity.place().map(|p| map.point(p)),
            Sight::Space(view) => entity.place_on(view),
        }
    }

    /// A flaw with its line, and its place in millimetres where the entity has one.
    fn refuse(&self, entity: &Entity<'_, '_>, code: ShapeCode, message: String, remedy: &str) -> ShapeError {
        let flaw = entity.refuse(code, message, remedy);
        match self.place(entity) {
            Some(place) => flaw.at(place),
            None => flaw,
        }
    }
}

struct Reader<'r, 'p, 'a> {
    file: &'r File<'p, 'a>,
    options: &'r ReadOptions,
    drawn: BTreeMap<String, Drawn>,
    left_out: BTreeMap<String, usize>,
    /// The words of texts that are no marks.
    texts: Vec<String>,
    flaws: Vec<ShapeError>,
    walked: usize,
    pieces: usize,
    /// Splines by fit points alone, and how far they may stray from what was drawn, in millimetres.
    fitted: (usize, f64),
    /// Where only the plane of the drawing is asked for: what was found of it.
    facings: Option<Facings>,
}

impl<'r, 'p, 'a> Reader<'r, 'p, 'a> {
    fn of(file: &'r File<'p, 'a>, options: &'r ReadOptions) -> Self {
        Reader {
            file,
            options,
            drawn: BTreeMap::new(),
            left_out: BTreeMap::new(),
            texts: Vec::new(),
            flaws: Vec::new(),
            walked: 0,
            pieces: 0,
            fitted: (0, 0.0),
            facings: None,
        }
    }

    /// The lines by layer, and remarks.
    fn read(mut self, sight: Sight) -> Result<(Vec<Drawn>, Vec<String>), Refusal> {
        let walked = self.walk(&self.file.entities, sight, None, 0);
        self.flaws.extend(walked.err());
        if !self.flaws.is_empty() {
            let seen: Vec<Segment> =
                self.drawn.into_values().flat_map(|d| d.segments).take(MOST_SHOWN).collect();
            return Err(Refusal::with_picture(self.flaws, &seen));
        }
        let mut remarks: Vec<String> = self
            .left_out
            .into_iter()
            .map(|(kind, count)| format!("{count} × {kind} ignored: not a line to cut"))
            .collect();
        remarks.extend(ignored_text(&self.texts));
        if let (count @ 1.., strays) = self.fitted {
            remarks.push(format!(
                "{count} × SPLINE given by fit points alone, read as CAD programs commonly draw it (cubic, parameters by \
                 the chords); their other ways of drawing it stray by up to {strays:.3} mm: compare, or have its control \
                 vertices saved"
            ));
        }
        Ok((self.drawn.into_values().collect(), remarks))
    }

    fn walk(
        &mut self,
        entities: &[Entity<'p, 'a>],
        sight: Sight,
        block_layer: Option<&str>,
        depth: usize,
    ) -> Result<(), ShapeError> {
        for entity in entities {
            self.walked += 1;
            if self.walked > MOST_WALKED || self.pieces > MOST_PIECES {
                return Err(sight.refuse(
                    entity,
                    ShapeCode::TooLarge,
                    format!("the drawing has more than {MOST_PIECES} pieces, block references counted"),
                    "save the outline alone as DXF, curves as arcs or splines",
                ));
            }
            if entity.whole(67, 0)? == 1 || entity.whole(60, 0)? == 1 {
                continue;
            }
            let own_layer = entity.text(8).unwrap_or("0");
            // Layer 0 inside a block is the layer of its reference.
            let layer = if own_layer == "0" { block_layer.unwrap_or(own_layer) } else { own_layer };
            if self.file.hidden_layers.iter().any(|l| *l == layer.to_lowercase()) {
                *self
                    .left_out
                    .entry(format!("{} on the hidden layer `{layer}`", entity.kind))
                    .or_default() += 1;
                continue;
            }
            let wanted = self.wanted(layer);
            if entity.kind == "INSERT" {
                self.insert(entity, sight, layer, depth)?;
            } else if let (true, Some(facings), Some(view)) = (wanted, &mut self.facings, sight.view()) {
                let (normal, points) = entity.facing(view)?;
                self.pieces += points.len().max(1);
                facings.add(normal, points);
            } else if self.facings.is_none() {
                self.draw(entity, sight, layer)?;
            }
        }
        Ok(())
    }

    fn draw(&mut self, entity: &Entity<'p, 'a>, sight: Sight, layer: &str) -> Result<(), ShapeError> {
        let Some(segments) = entity.segments(sight.view()) else {
            return self.other(entity, sight, layer);
        };
        match segments {
            Ok(segments) => {
                for segment in segments {
                    let segment = segment.mapped(sight.map());
                    self.pieces += 1;
                    if !within_reach(&segment) {
                        return Err(sight.refuse(
                            entity,
                            ShapeCode::OutOfRange,
                            format!(
                                "a {} reaches farther than {FARTHEST_MM} mm from the origin",
                                entity.kind
                            ),
                            "check the unit, and move the drawing to the origin",
                        ));
                    }
                    let origin = entity.origin();
                    let drawn = self.on(layer);
                    drawn.segments.push(segment);
                    drawn.origins.push(origin);
                }
                if entity.is_fitted() && self.wanted(layer) {
                    let strays = entity.fitted_curves(sight.view())?.strays(sight.map());
                    self.fitted = (self.fitted.0 + 1, self.fitted.1.max(strays));
                }
            }
            Err(flaw) if self.flaws.len() < 25 && self.wanted(layer) => {
                let at_mm = match (flaw.at_mm, sight) {
                    (Some(own), Sight::Plan(map)) => Some(map.point(own)),
                    _ => sight.place(entity),
                };
                self.flaws.push(ShapeError { at_mm, ..flaw });
            }
            Err(_) => {}
        }
        Ok(())
    }

    /// Entities that are no lines: words and points as marks, annotations left out, solids refused.
    fn other(&mut self, entity: &Entity<'p, 'a>, sight: Sight, layer: &str) -> Result<(), ShapeError> {
        let on_marks = self
            .options
            .layers
            .marks
            .as_ref()
            .is_some_and(|wanted| wanted.to_lowercase() == layer.to_lowercase());
        if on_marks && matches!(entity.kind, "TEXT" | "MTEXT" | "POINT") {
            let own = match entity.own(sight.view()) {
                // Words that stand across the plane of the drawing name no place on it.
                Err(_) if entity.kind == "POINT" => Transform::IDENTITY,
                Err(_) if sight.view().is_some() => {
                    *self.left_out.entry(entity.kind.to_owned()).or_default() += 1;
                    return Ok(());
                }
                own => own?,
            };
            // A point has no plane of its own.
            let at = match sight.place(entity) {
                Some(place) if sight.view().is_some() => place,
                _ => sight.map().point(own.point(entity.point(10)?)),
            };
            let mut mark = entity
                .text(1)
                .map_or(Mark { kind: MarkKind::Note, at, text: None, heading_deg: None }, |t| told(t, at));
            if mark.kind != MarkKind::Note && entity.text(50).is_some() {
                let map = if sight.view().is_some() { own } else { sight.map() };
                mark.heading_deg = Some(turned_by(map, entity.number(50, 0.0)?));
            }
            // A point and words at one place are one mark.
            let bare = |m: &Mark| m.kind == MarkKind::Note && m.text.is_none() && m.heading_deg.is_none();
            let marks = &mut self.on(layer).marks;
            match marks.iter_mut().rev().find(|m| m.at.distance(at) <= SAME_PLACE_MM) {
                Some(known) if bare(known) => *known = mark,
                Some(_) if bare(&mark) => {}
                _ => marks.push(mark),
            }
        } else if let ("TEXT" | "MTEXT" | "ATTRIB" | "ATTDEF", Some(text)) = (entity.kind, entity.text(1)) {
            let text = words(text);
            self.texts.push(if entity.kind == "MTEXT" { without_codes(&text) } else { text });
        } else if ANNOTATIONS.contains(&entity.kind) || !self.wanted(layer) {
            *self.left_out.entry(entity.kind.to_owned()).or_default() += 1;
        } else if self.flaws.len() < 25 {
            self.flaws.push(sight.refuse(
                entity,
                ShapeCode::Unsupported,
                format!("a {} on layer `{layer}` cannot be part of an outline", entity.kind),
                "explode it into lines and arcs, or put it on a layer that is not read",
            ));
        }
        Ok(())
    }

    /// True where the layer may hold lines of the outline.
    fn wanted(&self, layer: &str) -> bool {
        let l = &self.options.layers;
        let named = [&l.outline, &l.cutouts, &l.etchings, &l.stone_joints];
        l == &super::super::drawing::Layers::default()
            || named.iter().any(|n| n.as_ref().is_some_and(|w| w.to_lowercase() == layer.to_lowercase()))
    }

    fn on(&mut self, layer: &str) -> &mut Drawn {
        self.drawn
            .entry(layer.to_lowercase())
            .or_insert_with(|| Drawn { layer: layer.to_owned(), ..Drawn::default() })
    }

    /// The entities of a block where its reference puts them, once for each row and column.
    fn insert(
        &mut self,
        entity: &Entity<'p, 'a>,
        sight: Sight,
        layer: &str,
        depth: usize,
    ) -> Result<(), ShapeError> {
        let name = entity.text(2).unwrap_or("");
        if depth >= DEEPEST {
            return Err(sight.refuse(
                entity,
                ShapeCode::TooLarge,
                format!("block references nest more than {DEEPEST} deep at block `{name}`"),
                "explode the blocks",
            ));
        }
        let Some(block) = self.file.blocks.get(&name.to_lowercase()) else {
            return Err(sight.refuse(
                entity,
                ShapeCode::Unreadable,
                format!("there is no block `{name}` in the drawing"),
                "bind external references and save the drawing again",
            ));
        };
        let at = Point::new(entity.number(10, 0.0)?, entity.number(20, 0.0)?);
        let scale = (entity.number(41, 1.0)?, entity.number(42, 1.0)?);
        if scale.0 == 0.0 || scale.1 == 0.0 {
            return Err(sight.refuse(
                entity,
                ShapeCode::Unreadable,
                format!("block `{name}` is scaled to nothing"),
                "delete the reference",
            ));
        }
        let turned = Transform::rotated(entity.number(50, 0.0)?.to_radians());
        let columns = entity.whole(70, 1)?.clamp(1, 1000);
        let rows = entity.whole(71, 1)?.clamp(1, 1000);
        let step = (entity.number(44, 0.0)?, entity.number(45, 0.0)?);
        for row in 0..rows {
            for column in 0..columns {
                let offset = Point::new(column as f64 * step.0, row as f64 * step.1);
                let place = match sight {
                    Sight::Plan(map) => Sight::Plan(
                        Transform::moved(-block.base)
                            .then(Transform::scaled(scale.0, scale.1))
                            .then(Transform::moved(offset))
                            .then(turned)
                            .then(Transform::moved(at))
                            .then(
                                entity
                                    .own_coordinates()
                                    .map_err(|flaw| flaw.at(sight.place(entity).unwrap_or_default()))?,
                            )
                            .then(map),
                    ),
                    Sight::Space(view) => Sight::Space(
                        View::moved([-block.base.x, -block.base.y, -block.base_height])
                            .then(&View::scaled([scale.0, scale.1, entity.number(43, 1.0)?]))
                            .then(&View::moved([offset.x, offset.y, 0.0]))
                            .then(&View::turned(entity.number(50, 0.0)?.to_radians()))
                            .then(&View::moved([at.x, at.y, entity.number(30, 0.0)?]))
                            .then(&entity.own_space()?)
                            .then(&view),
                    ),
                };
                self.walk(&block.entities, place, Some(layer), depth + 1)?;
                self.walked += 1;
                if self.walked > MOST_WALKED {
                    return Ok(());
                }
            }
        }
        Ok(())
    }
}

/// A mark from words: of a kind where they begin with one, as the files for the cutter have it, else a note.
fn told(text: &str, at: Point) -> Mark {
    let text = words(text);
    let (head, rest) =
        text.split_once(':').map_or((text.trim(), ""), |(head, rest)| (head.trim(), rest.trim()));
    let (kind, text) = match head.parse::<MarkKind>() {
        Ok(kind) => (kind, rest),
        Err(_) => (MarkKind::Note, text.trim()),
    };
    let text: String = text.chars().take(MOST_LETTERS).collect();
    Mark { kind, at, text: (!text.is_empty()).then_some(text), heading_deg: None }
}

/// The most letters that a mark's words have.
const MOST_LETTERS: usize = 80;

/// A direction of a block's own, in degrees, as it stands in the drawing.
fn turned_by(map: Transform, heading_deg: f64) -> f64 {
    let turned = map.direction(Point::at_angle(heading_deg.to_radians())).angle().to_degrees();
    // A plain drawing keeps the very number that was written.
    if (turned - heading_deg).rem_euclid(360.0).min((heading_deg - turned).rem_euclid(360.0)) < 1e-9 {
        heading_deg
    } else {
        turned
    }
}

/// True where every point of the piece is near enough to the origin to be measured well.
pub(crate) fn within_reach(segment: &Segment) -> bool {
    [Point::new(1.0, 0.0), Point::new(0.0, 1.0)].into_iter().all(|along| {
        let (low, high) = segment.extent(along);
        low >= -FARTHEST_MM && high <= FARTHEST_MM
    })
}

/// The words of a text entity, with `\U+XXXX` resolved, on one line.
fn words(text: &str) -> String {
    let mut units: Vec<u16> = Vec::new();
    let mut rest = text;
    while let Some(c) = rest.chars().next() {
        let escaped = rest.strip_prefix("\\U+").and_then(|t| t.get(..4));
        if let Some(unit) = escaped.and_then(|digits| u16::from_str_radix(digits, 16).ok()) {
            units.push(unit);
            rest = &rest[7..];
        } else {
            units.extend_from_slice(c.encode_utf16(&mut [0; 2]));
            rest = &rest[c.len_utf8()..];
        }
    }
    String::from_utf16_lossy(&units).chars().filter(|c| !c.is_control()).take(4 * MOST_LETTERS).collect()
}
