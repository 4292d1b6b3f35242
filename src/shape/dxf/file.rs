//! What of a DXF file bears on its lines: sections, layers, blocks, entities, and the unit.

use std::collections::BTreeMap;

use super::super::drawing::ReadOptions;
use super::super::error::{ShapeCode, ShapeError};
use super::super::point::Point;
use super::entities::Entity;
use super::pairs::Pair;

/// A block: what a reference draws.
pub(super) struct Block<'p, 'a> {
    pub(super) base: Point,
    pub(super) base_height: f64,
    pub(super) entities: Vec<Entity<'p, 'a>>,
}

/// What of a file bears on its lines.
pub(super) struct File<'p, 'a> {
    insunits: Option<i64>,
    pub(super) hidden_layers: Vec<String>,
    pub(super) blocks: BTreeMap<String, Block<'p, 'a>>,
    pub(super) entities: Vec<Entity<'p, 'a>>,
}

impl<'p, 'a> File<'p, 'a> {
    pub(super) fn of(pairs: &'p [Pair<'a>]) -> Result<Self, ShapeError> {
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
                    let base_height = run.number(30, 0.0)?;
                    block = Some((name, Block { base, base_height, entities: Vec::new() }));
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
    pub(super) fn millimetres(&self, options: &ReadOptions) -> Result<f64, ShapeError> {
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
                    "add the unit in which it is drawn: --unit mm, or cm, m, in, ft",
                ));
            }
            Some(other) => {
                return Err(ShapeError::new(
                    ShapeCode::UnitsMissing,
                    format!(
                        "the drawing says it is drawn in unit number {other}, which no panel is drawn in"
                    ),
                    "add the unit in which it is drawn: --unit mm, or cm, m, in, ft",
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
