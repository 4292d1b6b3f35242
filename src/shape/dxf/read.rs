//! The lines of a DXF drawing by layer: model space only, block references resolved, units known.

use std::collections::BTreeMap;

use super::super::drawing::{Drawn, ReadOptions, Refusal};
use super::super::error::{ShapeCode, ShapeError};
use super::super::json::{FARTHEST_MM, LARGEST_FILE_BYTES, MOST_PIECES};
use super::super::outline::{Mark, MarkKind, SAME_PLACE_MM};
use super::super::point::{Point, Transform};
use super::super::segment::Segment;
use super::entities::Entity;
use super::pairs::{Pair, pairs};

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
    let mut reader = Reader {
        file: &file,
        options,
        drawn: BTreeMap::new(),
        left_out: BTreeMap::new(),
        flaws: Vec::new(),
        walked: 0,
        pieces: 0,
    };
    let walked = reader.walk(&file.entities, Transform::scaled(scale, scale), None, 0);
    reader.flaws.extend(walked.err());
    if !reader.flaws.is_empty() {
        let seen: Vec<Segment> =
            reader.drawn.into_values().flat_map(|d| d.segments).take(MOST_SHOWN).collect();
        return Err(Refusal::with_picture(reader.flaws, &seen));
    }
    let remarks =
        reader.left_out.into_iter().map(|(kind, count)| format!("{count} × {kind} left out")).collect();
    Ok((reader.drawn.into_values().collect(), remarks))
}

struct Block<'p, 'a> {
    base: Point,
    entities: Vec<Entity<'p, 'a>>,
}

/// What of a file bears on its lines.
struct File<'p, 'a> {
    insunits: Option<i64>,
    hidden_layers: Vec<String>,
    blocks: BTreeMap<String, Block<'p, 'a>>,
    entities: Vec<Entity<'p, 'a>>,
}

impl<'p, 'a> File<'p, 'a> {
    fn of(pairs: &'p [Pair<'a>]) -> Result<Self, ShapeError> {
        let mut file =
            File { insunits: None, hidden_layers: Vec::new(), blocks: BTreeMap::new(), entities: Vec::new() };
        // Each run of groups from one group 0 to the next.
        let starts: Vec<usize> = (0..pairs.len()).filter(|&i| pairs[i].code == 0).collect();
        let runs = starts.iter().enumerate().map(|(k, &start)| {
            let end = starts.get(k + 1).copied().unwrap_or(pairs.len());
            Entity {
                kind: &pairs[start].value,
                line: pairs[start].line,
                groups: &pairs[start + 1..end],
                vertices: Vec::new(),
            }
        });
        let (mut section, mut sections) = ("", 0);
        let mut block: Option<(String, Block<'p, 'a>)> = None;
        for run in runs {
            match (run.kind, section) {
                ("SECTION", _) => {
                    section = run.text(2).unwrap_or("");
                    sections += 1;
                    if section == "HEADER" {
                        file.insunits = insunits(run.groups)?;
                    }
                }
                ("ENDSEC", _) => section = "",
                ("LAYER", "TABLES") => {
                    let off = run.whole(62, 7)? < 0 || run.whole(70, 0)? & 1 != 0;
                    if off && let Some(name) = run.text(2) {
                        file.hidden_layers.push(name.to_lowercase());
                    }
                }
                ("BLOCK", "BLOCKS") => {
                    let base = Point::new(run.number(10, 0.0)?, run.number(20, 0.0)?);
                    let name = run.text(2).unwrap_or("").to_lowercase();
                    block = Some((name, Block { base, entities: Vec::new() }));
                }
                ("ENDBLK", "BLOCKS") => file.blocks.extend(block.take()),
                (_, "BLOCKS") => {
                    if let Some((_, block)) = &mut block {
                        add(&mut block.entities, run);
                    }
                }
                (_, "ENTITIES") => add(&mut file.entities, run),
                _ => {}
            }
        }
        if sections == 0 {
            return Err(ShapeError::new(
                ShapeCode::Unreadable,
                "this is not a DXF file: it has no sections",
                "save the drawing as DXF",
            ));
        }
        Ok(file)
    }

    /// How many millimetres one unit of the drawing has.
    fn millimetres(&self, options: &ReadOptions) -> Result<f64, ShapeError> {
        if let Some(unit) = options.unit {
            return Ok(unit.millimetres());
        }
        // $INSUNITS, the DXF reference, from memory; the same table as the crate `dxf` and `ezdxf.units`.
        Ok(match self.insunits {
            Some(1) => 25.4,
            Some(2) => 304.8,
            Some(4) => 1.0,
            Some(5) => 10.0,
            Some(6) => 1000.0,
            Some(8) => 25.4e-6,
            Some(9) => 25.4e-3,
            Some(10) => 914.4,
            Some(13) => 1e-3,
            Some(14) => 100.0,
            None | Some(0) => {
                return Err(ShapeError::new(
                    ShapeCode::UnitsMissing,
                    "the drawing does not say in which unit it is drawn ($INSUNITS is missing or 0)",
                    "state the unit when reading it: mm, cm, m, in or ft",
                ));
            }
            Some(other) => {
                return Err(ShapeError::new(
                    ShapeCode::UnitsMissing,
                    format!(
                        "the drawing says it is drawn in unit number {other}, which no panel is drawn in"
                    ),
                    "state the unit when reading it: mm, cm, m, in or ft",
                ));
            }
        })
    }
}

fn insunits(header: &[Pair<'_>]) -> Result<Option<i64>, ShapeError> {
    let at = header.iter().position(|g| g.code == 9 && g.value == "$INSUNITS");
    at.and_then(|i| header.get(i + 1)).map(Pair::whole).transpose()
}

/// Adds an entity to a list; vertices go to the polyline before them.
fn add<'p, 'a>(entities: &mut Vec<Entity<'p, 'a>>, entity: Entity<'p, 'a>) {
    match (entity.kind, entities.last_mut()) {
        ("VERTEX", Some(last)) if last.kind == "POLYLINE" => last.vertices.push(entity),
        ("VERTEX" | "SEQEND", _) => {}
        _ => entities.push(entity),
    }
}

struct Reader<'r, 'p, 'a> {
    file: &'r File<'p, 'a>,
    options: &'r ReadOptions,
    drawn: BTreeMap<String, Drawn>,
    left_out: BTreeMap<String, usize>,
    flaws: Vec<ShapeError>,
    walked: usize,
    pieces: usize,
}

impl<'p, 'a> Reader<'_, 'p, 'a> {
    fn walk(
        &mut self,
        entities: &[Entity<'p, 'a>],
        map: Transform,
        block_layer: Option<&str>,
        depth: usize,
    ) -> Result<(), ShapeError> {
        for entity in entities {
            self.walked += 1;
            if self.walked > MOST_WALKED || self.pieces > MOST_PIECES {
                return Err(refuse(
                    entity,
                    map,
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
            if entity.kind == "INSERT" {
                self.insert(entity, map, layer, depth)?;
            } else {
                self.draw(entity, map, layer)?;
            }
        }
        Ok(())
    }

    fn draw(&mut self, entity: &Entity<'p, 'a>, map: Transform, layer: &str) -> Result<(), ShapeError> {
        let Some(segments) = entity.segments() else {
            return self.other(entity, map, layer);
        };
        match segments {
            Ok(segments) => {
                for segment in segments {
                    let segment = segment.mapped(map);
                    self.pieces += 1;
                    if !within_reach(&segment) {
                        return Err(refuse(
                            entity,
                            map,
                            ShapeCode::OutOfRange,
                            format!(
                                "a {} reaches farther than {FARTHEST_MM} mm from the origin",
                                entity.kind
                            ),
                            "check the unit, and move the drawing to the origin",
                        ));
                    }
                    self.on(layer).segments.push(segment);
                }
            }
            Err(flaw) if self.flaws.len() < 25 && self.wanted(layer) => {
                let at_mm = flaw.at_mm.or_else(|| entity.place()).map(|p| map.point(p));
                self.flaws.push(ShapeError { at_mm, ..flaw });
            }
            Err(_) => {}
        }
        Ok(())
    }

    /// Entities that are no lines: words and points as marks, annotations left out, solids refused.
    fn other(&mut self, entity: &Entity<'p, 'a>, map: Transform, layer: &str) -> Result<(), ShapeError> {
        let on_marks = self
            .options
            .layers
            .marks
            .as_ref()
            .is_some_and(|wanted| wanted.to_lowercase() == layer.to_lowercase());
        if on_marks && matches!(entity.kind, "TEXT" | "MTEXT" | "POINT") {
            let at = map.point(entity.own_coordinates()?.point(entity.point(10)?));
            let mut mark = entity
                .text(1)
                .map_or(Mark { kind: MarkKind::Note, at, text: None, heading_deg: None }, |t| told(t, at));
            if mark.kind != MarkKind::Note && entity.text(50).is_some() {
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
        } else if ANNOTATIONS.contains(&entity.kind) || !self.wanted(layer) {
            *self.left_out.entry(entity.kind.to_owned()).or_default() += 1;
        } else if self.flaws.len() < 25 {
            self.flaws.push(refuse(
                entity,
                map,
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
        map: Transform,
        layer: &str,
        depth: usize,
    ) -> Result<(), ShapeError> {
        let name = entity.text(2).unwrap_or("");
        if depth >= DEEPEST {
            return Err(refuse(
                entity,
                map,
                ShapeCode::TooLarge,
                format!("block references nest more than {DEEPEST} deep at block `{name}`"),
                "explode the blocks",
            ));
        }
        let Some(block) = self.file.blocks.get(&name.to_lowercase()) else {
            return Err(refuse(
                entity,
                map,
                ShapeCode::Unreadable,
                format!("there is no block `{name}` in the drawing"),
                "bind external references and save the drawing again",
            ));
        };
        let own = entity
            .own_coordinates()
            .map_err(|flaw| flaw.at(map.point(entity.place().unwrap_or_default())))?;
        let at = Point::new(entity.number(10, 0.0)?, entity.number(20, 0.0)?);
        let scale = (entity.number(41, 1.0)?, entity.number(42, 1.0)?);
        if scale.0 == 0.0 || scale.1 == 0.0 {
            return Err(refuse(
                entity,
                map,
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
                let place = Transform::moved(-block.base)
                    .then(Transform::scaled(scale.0, scale.1))
                    .then(Transform::moved(offset))
                    .then(turned)
                    .then(Transform::moved(at))
                    .then(own)
                    .then(map);
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

/// A flaw with its line, and its place in millimetres where the entity has one.
fn refuse(
    entity: &Entity<'_, '_>,
    map: Transform,
    code: ShapeCode,
    message: String,
    remedy: &str,
) -> ShapeError {
    let flaw = entity.refuse(code, message, remedy);
    match entity.place() {
        Some(place) => flaw.at(map.point(place)),
        None => flaw,
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
