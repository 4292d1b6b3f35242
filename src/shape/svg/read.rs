//! The lines of an SVG drawing by layer, in millimetres with y up.
//!
//! Groups, transforms, references, the basic shapes and paths; not text, images, clipping or style sheets. A
//! layer is the nearest element around a line whose label or id was asked for. What is not shown is not read.

use std::collections::BTreeMap;
use std::str::FromStr;

use roxmltree::{Document, Node, ParsingOptions};
use svgtypes::{Length, ViewBox};

use super::super::drawing::{Drawn, Layers, ReadOptions, Refusal};
use super::super::dxf::within_reach;
use super::super::error::{ShapeCode, ShapeError};
use super::super::ignored::ignored_text;
use super::super::json::{FARTHEST_MM, LARGEST_FILE_BYTES, MOST_PIECES};
use super::super::origin::Origin;
use super::super::point::{Point, Transform};
use super::super::segment::Segment;
use super::shapes::{MM_PER_PIXEL, first_place, length, millimetres, optional_length, shape};
use super::window;

const INKSCAPE: &str = "http://www.inkscape.org/namespaces/inkscape";
const XLINK: &str = "http://www.w3.org/1999/xlink";
/// How deep groups and references may nest.
const DEEPEST: usize = 64;
/// The most flaws that are told at once.
const MOST_FLAWS: usize = 25;
/// The most pieces that the picture of a refused drawing shows.
const MOST_SHOWN: usize = 5000;

type Read<T> = Result<T, ShapeError>;

/// The lines of a drawing by layer, in millimetres, and remarks on what was left out.
pub(crate) fn lines(bytes: &[u8], options: &ReadOptions) -> Result<(Vec<Drawn>, Vec<String>), Refusal> {
    if bytes.len() > LARGEST_FILE_BYTES {
        return Err(Refusal::of(ShapeError::new(
            ShapeCode::TooLarge,
            format!("the SVG file is {} bytes long", bytes.len()),
            "save the outline alone, without pictures",
        )));
    }
    read(bytes, options)
}

fn read(bytes: &[u8], options: &ReadOptions) -> Result<(Vec<Drawn>, Vec<String>), Refusal> {
    let unreadable = |message: String| {
        ShapeError::new(ShapeCode::Unreadable, message, "save the drawing as plain SVG again")
    };
    let text = std::str::from_utf8(bytes).map_err(|e| {
        let before = &bytes[..e.valid_up_to()];
        let line = 1 + before.iter().filter(|b| **b == b'\n').count();
        let column = 1 + before.iter().rev().take_while(|b| **b != b'\n').count();
        let flaw = unreadable(format!("the SVG is not UTF-8 text at byte {}", e.valid_up_to()));
        Refusal::of(ShapeError { column: Some(column), ..flaw.on_line(line) })
    })?;
    let parsing = ParsingOptions { allow_dtd: true, nodes_limit: 2_000_000, ..ParsingOptions::default() };
    let document = Document::parse_with_options(text, parsing).map_err(|e| {
        let flaw = unreadable(format!("the SVG is not well-formed XML: {e}"));
        let column = Some(e.pos().col as usize);
        Refusal::of(ShapeError { column, ..flaw.on_line(e.pos().row as usize) })
    })?;
    let root = document.root_element();
    if root.tag_name().name() != "svg" {
        let message = format!("the file's root is `{}`, not `svg`", root.tag_name().name());
        let remedy = "save the drawing as plain SVG again";
        return Err(Refusal::of(refuse(root, ShapeCode::Unreadable, message, remedy)));
    }
    let mut reader = Reader {
        layers: &options.layers,
        ids: document
            .descendants()
            .filter_map(|n| n.attribute("id").map(|id| (id, n)))
            .collect::<BTreeMap<_, _>>(),
        drawn: BTreeMap::new(),
        left_out: BTreeMap::new(),
        texts: Vec::new(),
        pieces: 0,
        walked: 0,
        borders: Vec::new(),
        flaws: Vec::new(),
    };
    let map = page(root, options).map_err(Refusal::of)?;
    let done = reader.children(root, map, 0);
    reader.flaws.extend(done.err());
    if !reader.flaws.is_empty() {
        let seen: Vec<Segment> =
            reader.drawn.into_values().flat_map(|d| d.segments).take(MOST_SHOWN).collect();
        return Err(Refusal::with_picture(reader.flaws, &seen));
    }
    let mut remarks: Vec<String> = reader
        .left_out
        .into_iter()
        .map(|(kind, count)| format!("{count} × {kind} ignored: not a line to cut"))
        .collect();
    remarks.extend(ignored_text(&reader.texts));
    Ok((reader.drawn.into_values().collect(), remarks))
}

pub(super) fn refuse(node: Node<'_, '_>, code: ShapeCode, message: String, remedy: &str) -> ShapeError {
    ShapeError::new(code, message, remedy).from(&origin(node))
}

/// Where an element stands in the file, and its name there: its id, or else what a drawing program calls it.
fn origin(node: Node<'_, '_>) -> Origin {
    let pos = node.document().text_pos_at(node.range().start);
    let name = node.tag_name().name();
    let element = match (node.attribute("id"), node.attribute((INKSCAPE, "label"))) {
        (Some(id), _) => format!("`{name}` with the id `{id}`"),
        (None, Some(label)) => format!("`{name}` with the label `{label}`"),
        (None, None) => format!("`{name}`"),
    };
    Origin { line: pos.row as usize, column: Some(pos.col as usize), element }
}

/// From user units to millimetres with y up and the page's lower left corner at the origin.
fn page(root: Node<'_, '_>, options: &ReadOptions) -> Read<Transform> {
    let view = match root.attribute("viewBox") {
        None => None,
        Some(text) => Some(ViewBox::from_str(text).map_err(|e| {
            refuse(root, ShapeCode::Unreadable, format!("the viewBox cannot be read: {e}"), "fix it")
        })?),
    };
    let size = |name: &str| -> Read<Option<Length>> {
        root.attribute(name)
            .map(|text| {
                Length::from_str(text).map_err(|e| {
                    refuse(root, ShapeCode::Unreadable, format!("the {name} cannot be read: {e}"), "fix it")
                })
            })
            .transpose()
    };
    let (width, height) = (size("width")?, size("height")?);
    let physical = |length: Option<Length>| length.and_then(millimetres);
    let scale = match (options.unit, physical(width), physical(height), &view) {
        (Some(unit), ..) => (unit.millimetres(), unit.millimetres()),
        (None, Some(w), Some(h), Some(v)) => {
            let (x, y) = (w / v.w, h / v.h);
            match root.attribute("preserveAspectRatio").map(str::trim) {
                Some("none") => (x, y),
                Some(text) if text.contains("slice") => (x.max(y), x.max(y)),
                _ => (x.min(y), x.min(y)),
            }
        }
        (None, Some(w), None, Some(v)) => (w / v.w, w / v.w),
        (None, None, Some(h), Some(v)) => (h / v.h, h / v.h),
        // Without a viewBox a user unit is a CSS pixel (SVG 2, section 8.2).
        (None, w, h, None) if w.is_some() || h.is_some() => (MM_PER_PIXEL, MM_PER_PIXEL),
        _ => {
            return Err(refuse(
                root,
                ShapeCode::UnitsMissing,
                "the SVG does not say how large it is: its width and height have no physical unit".into(),
                "add the unit in which it is drawn: --unit mm, or cm, m, in, ft, px; or give the SVG a width and height in mm",
            ));
        }
    };
    let bottom = match (&view, physical(height)) {
        (Some(v), _) => v.y + v.h,
        (None, Some(h)) => h / scale.1,
        (None, None) => 0.0,
    };
    let left = view.map_or(0.0, |v| v.x);
    Ok(Transform::moved(Point::new(-left, -bottom)).then(Transform::scaled(scale.0, -scale.1)))
}

struct Reader<'r, 'd, 'i> {
    layers: &'r Layers,
    ids: BTreeMap<&'d str, Node<'d, 'i>>,
    drawn: BTreeMap<String, Drawn>,
    left_out: BTreeMap<String, usize>,
    texts: Vec<String>,
    pieces: usize,
    walked: usize,
    /// Corners of the windows around what is being read, in millimetres: beyond them nothing is shown.
    borders: Vec<[Point; 4]>,
    flaws: Vec<ShapeError>,
}

impl<'d, 'i> Reader<'_, 'd, 'i> {
    fn children(&mut self, node: Node<'d, 'i>, map: Transform, depth: usize) -> Read<()> {
        for child in node.children().filter(Node::is_element) {
            self.element(child, map, depth + 1, None)?;
        }
        Ok(())
    }

    /// One element, its flaws noted with their places; `layer` is the layer of the reference that brought it here.
    fn element(&mut self, node: Node<'d, 'i>, map: Transform, depth: usize, layer: Option<&str>) -> Read<()> {
        let Err(flaw) = self.sound_element(node, map, depth, layer) else { return Ok(()) };
        let own = own_transform(node).unwrap_or(Transform::IDENTITY).then(map);
        let at_mm = flaw.at_mm.or_else(|| first_place(node).map(|p| own.point(p)).filter(|p| p.is_finite()));
        let flaw = ShapeError { at_mm, ..flaw };
        // What is too large is not read on; of the rest, as many as somebody will fix at once.
        if flaw.code == ShapeCode::TooLarge || self.flaws.len() + 1 >= MOST_FLAWS {
            return Err(flaw);
        }
        self.flaws.push(flaw);
        Ok(())
    }

    fn sound_element(
        &mut self,
        node: Node<'d, 'i>,
        map: Transform,
        depth: usize,
        layer: Option<&str>,
    ) -> Read<()> {
        self.walked += 1;
        if depth > DEEPEST || self.walked > 4 * MOST_PIECES || self.pieces > MOST_PIECES {
            return Err(refuse(
                node,
                ShapeCode::TooLarge,
                format!("the SVG nests more than {DEEPEST} deep or has more than {MOST_PIECES} pieces"),
                "save the outline alone, ungrouped",
            ));
        }
        if !is_shown(node)? {
            return Ok(());
        }
        let map = own_transform(node)?.then(map);
        match node.tag_name().name() {
            "g" | "a" | "switch" => {
                for child in node.children().filter(Node::is_element) {
                    self.element(child, map, depth + 1, layer)?;
                }
                Ok(())
            }
            "use" => self.reference(node, map, depth, layer),
            "svg" => self.window(node, None, map, depth, layer),
            "text" => {
                let words = node.descendants().filter(Node::is_text).filter_map(|n| n.text());
                self.texts.push(words.collect::<Vec<_>>().join(" "));
                Ok(())
            }
            "image" | "foreignObject" => {
                *self.left_out.entry(node.tag_name().name().to_owned()).or_default() += 1;
                Ok(())
            }
            _ => match shape(node)? {
                None => Ok(()),
                Some(segments) => self.draw(node, segments, map, layer),
            },
        }
    }

    /// The content of an `svg` or a `symbol` within the drawing, as its viewBox places it; `user` is the reference that
    /// shows it, which may say how large.
    fn window(
        &mut self,
        node: Node<'d, 'i>,
        user: Option<Node<'d, 'i>>,
        map: Transform,
        depth: usize,
        layer: Option<&str>,
    ) -> Read<()> {
        let size = |name: &str| -> Read<Option<f64>> {
            let stated = user.map_or(Ok(None), |u| optional_length(u, name))?;
            stated.map_or_else(|| optional_length(node, name), |s| Ok(Some(s)))
        };
        let at = Point::new(length(node, "x")?, length(node, "y")?);
        let (within, border) = window::placed(node, at, (size("width")?, size("height")?))?;
        let shown_beyond = matches!(
            style(node, "overflow").or_else(|| node.attribute("overflow")),
            Some("visible" | "auto")
        );
        let border = border.filter(|_| !shown_beyond).map(|b| b.map(|p| map.point(p)));
        self.borders.extend(border);
        let done = node
            .children()
            .filter(Node::is_element)
            .try_for_each(|child| self.element(child, within.then(map), depth + 1, layer));
        if border.is_some() {
            self.borders.pop();
        }
        done
    }

    fn draw(
        &mut self,
        node: Node<'d, 'i>,
        segments: Vec<Segment>,
        map: Transform,
        layer: Option<&str>,
    ) -> Read<()> {
        if map.determinant().abs() < 1e-18 {
            return Err(refuse(
                node,
                ShapeCode::Unsupported,
                "a transform squeezes this to nothing".into(),
                "fix the transform, or delete the element",
            ));
        }
        let layer = layer.map_or_else(|| self.layer_of(node), str::to_owned);
        let origin = origin(node);
        let drawn = self
            .drawn
            .entry(layer.to_lowercase())
            .or_insert_with(|| Drawn { layer: layer.clone(), ..Drawn::default() });
        for segment in segments {
            let segment = segment.mapped(map);
            if !within_reach(&segment) {
                return Err(refuse(
                    node,
                    ShapeCode::OutOfRange,
                    format!("this reaches farther than {FARTHEST_MM} mm from the origin"),
                    "check the unit, and move the drawing to the origin",
                ));
            }
            if self.borders.iter().any(|border| !window::holds(border, &segment)) {
                return Err(refuse(
                    node,
                    ShapeCode::Unsupported,
                    "this reaches beyond the border of the `svg` or `symbol` around it, where it is not shown".into(),
                    "enlarge that border, or set overflow=\"visible\" on it",
                )
                .at(segment.start()));
            }
            self.pieces += 1;
            drawn.segments.push(segment);
            drawn.origins.push(origin.clone());
        }
        Ok(())
    }

    /// The nearest element around a line whose label or id was asked for; else the nearest group's name.
    fn layer_of(&self, node: Node<'d, 'i>) -> String {
        let l = self.layers;
        let wanted = [&l.outline, &l.cutouts, &l.etchings, &l.marks, &l.stone_joints];
        let names = |n: Node<'d, 'i>| [n.attribute((INKSCAPE, "label")), n.attribute("id")];
        let asked_for = node.ancestors().flat_map(names).flatten().find(|name| {
            wanted.iter().any(|w| w.as_ref().is_some_and(|w| w.to_lowercase() == name.to_lowercase()))
        });
        let group = || {
            node.ancestors()
                .skip(1)
                .filter(|n| n.tag_name().name() == "g")
                .flat_map(names)
                .flatten()
                .next()
                .unwrap_or("")
        };
        asked_for.unwrap_or_else(group).to_owned()
    }

    fn reference(
        &mut self,
        node: Node<'d, 'i>,
        map: Transform,
        depth: usize,
        layer: Option<&str>,
    ) -> Read<()> {
        let link = node.attribute("href").or_else(|| node.attribute((XLINK, "href"))).unwrap_or("");
        let target = link.strip_prefix('#').and_then(|id| self.ids.get(id).copied());
        let Some(target) = target else {
            return Err(refuse(
                node,
                ShapeCode::Unreadable,
                format!("`{link}` does not exist in this drawing"),
                "copy what it stands for into the drawing",
            ));
        };
        let offset = Point::new(length(node, "x")?, length(node, "y")?);
        let layer = layer.map_or_else(|| self.layer_of(node), str::to_owned);
        let map = Transform::moved(offset).then(map);
        if matches!(target.tag_name().name(), "symbol" | "svg") {
            let map = own_transform(target)?.then(map);
            return self.window(target, Some(node), map, depth + 1, Some(&layer));
        }
        self.element(target, map, depth + 1, Some(&layer))
    }
}

/// What the style attribute says of a property.
fn style<'n>(node: Node<'n, '_>, property: &str) -> Option<&'n str> {
    node.attribute("style")?.split(';').find_map(|rule| {
        let (name, value) = rule.split_once(':')?;
        (name.trim() == property).then_some(value.trim())
    })
}

fn is_shown(node: Node<'_, '_>) -> Read<bool> {
    if style(node, "transform").is_some() {
        return Err(refuse(
            node,
            ShapeCode::Unsupported,
            "a transform in a style is not read".into(),
            "write it as the attribute `transform`",
        ));
    }
    let says = |property| style(node, property).or_else(|| node.attribute(property));
    Ok(says("display") != Some("none") && !matches!(says("visibility"), Some("hidden" | "collapse")))
}

fn own_transform(node: Node<'_, '_>) -> Read<Transform> {
    let Some(text) = node.attribute("transform") else { return Ok(Transform::IDENTITY) };
    let t = svgtypes::Transform::from_str(text).map_err(|e| {
        refuse(node, ShapeCode::Unreadable, format!("the transform cannot be read: {e}"), "fix it")
    })?;
    Ok(Transform { x_axis: Point::new(t.a, t.b), y_axis: Point::new(t.c, t.d), origin: Point::new(t.e, t.f) })
}
