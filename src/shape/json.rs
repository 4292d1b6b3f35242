//! Reading an outline as JSON: the form in which it is written by hand, kept in git and sealed.
//!
//! The published contract is `schema/outline.schema.json`; this reader asks for the same and says where a file
//! departs from it, by pointer and line. `json_text.rs` writes it.

use jsonc_parser::ast::{Array, Object, Value};
use jsonc_parser::common::Ranged as _;
use jsonc_parser::{CollectOptions, ParseOptions, parse_to_ast};

use super::arc::{Arc, Circle};
use super::cubic::Cubic;
use super::ellipse::EllipseArc;
use super::error::{ShapeCode, ShapeError};
use super::nurbs::Nurbs;
use super::outline::{Contour, Mark, MarkKind, Outline, Path, StoneJoint};
use super::point::Point;
use super::segment::Segment;

/// The largest file read, in bytes.
pub(crate) const LARGEST_FILE_BYTES: usize = 16 * 1024 * 1024;
/// The farthest a point may lie from the origin along x or y, in millimetres: a hundred metres.
pub(crate) const FARTHEST_MM: f64 = 100_000.0;
/// The most pieces a drawing may have.
pub(crate) const MOST_PIECES: usize = 100_000;
/// The most characters in a mark's text.
const LONGEST_TEXT: usize = 80;

/// Reads a JSON outline.
///
/// What is read keeps the order and direction of the file. Whether contours close and keep clear of each
/// other is asked of [`super::check`].
///
/// # Errors
/// The first departure from the published schema, with pointer, line and remedy.
pub fn read_json(bytes: &[u8]) -> Result<Outline, ShapeError> {
    if bytes.len() > LARGEST_FILE_BYTES {
        return Err(ShapeError::new(
            ShapeCode::TooLarge,
            format!("the outline is {} bytes long", bytes.len()),
            format!("an outline has at most {LARGEST_FILE_BYTES} bytes: leave out what is not cut or etched"),
        ));
    }
    let text = std::str::from_utf8(bytes).map_err(|e| {
        ShapeError::new(
            ShapeCode::Unreadable,
            format!("the outline is not text: byte {} is not UTF-8", e.valid_up_to()),
            "save it as UTF-8 text",
        )
    })?;
    let options = ParseOptions {
        allow_comments: false,
        allow_loose_object_property_names: false,
        allow_trailing_commas: false,
        allow_missing_commas: false,
        allow_single_quoted_strings: false,
        allow_hexadecimal_numbers: false,
        allow_unary_plus_numbers: false,
        allow_bare_decimal_point_numbers: false,
        allow_non_finite_numbers: false,
        allow_extended_string_escapes: false,
    };
    let parsed = parse_to_ast(text, &CollectOptions::default(), &options).map_err(|e| {
        ShapeError::new(
            ShapeCode::Unreadable,
            format!("the outline is not JSON: {}", e.kind()),
            "fix the JSON at this line",
        )
        .on_line(e.line_display())
    })?;
    let root = parsed.value.ok_or_else(|| {
        ShapeError::new(ShapeCode::Unreadable, "the outline is empty", "give it an `outer` contour")
    })?;
    Reader { text }.outline(&root)
}

/// A value of the file with the pointer to it.
struct Node<'v, 'a> {
    value: &'v Value<'a>,
    pointer: String,
}

struct Reader<'a> {
    text: &'a str,
}

type Read<T> = Result<T, ShapeError>;

impl<'a> Reader<'a> {
    fn refuse(
        &self,
        node: &Node<'_, '_>,
        code: ShapeCode,
        message: impl Into<String>,
        remedy: impl Into<String>,
    ) -> ShapeError {
        let start = node.value.range().start.min(self.text.len());
        let line = self.text.as_bytes()[..start].iter().filter(|b| **b == b'\n').count() + 1;
        let mut error = ShapeError::new(code, message, remedy).on_line(line);
        error.pointer = Some(node.pointer.clone());
        error
    }

    fn bad(&self, node: &Node<'_, '_>, message: impl Into<String>, remedy: impl Into<String>) -> ShapeError {
        self.refuse(node, ShapeCode::BadField, message, remedy)
    }

    /// An object with no key but those known, none of them twice.
    fn object<'v>(&self, node: &Node<'v, 'a>, known: &[&str]) -> Read<&'v Object<'a>> {
        let Value::Object(object) = node.value else {
            return Err(self.bad(
                node,
                "expected an object",
                format!("write {{…}} with {}", known.join(", ")),
            ));
        };
        for (i, property) in object.properties.iter().enumerate() {
            let name = property.name.as_str();
            let here =
                Node { value: &property.value, pointer: format!("{}/{}", node.pointer, escaped(name)) };
            if !known.contains(&name) {
                return Err(self.bad(
                    &here,
                    format!("there is no field `{name}` here"),
                    format!("one of {}", known.join(", ")),
                ));
            }
            if object.properties[..i].iter().any(|p| p.name.as_str() == name) {
                return Err(self.bad(&here, format!("`{name}` is written twice"), "keep one of them"));
            }
        }
        Ok(object)
    }

    fn field<'v>(&self, node: &Node<'v, 'a>, object: &'v Object<'a>, name: &str) -> Option<Node<'v, 'a>> {
        let property = object.properties.iter().find(|p| p.name.as_str() == name)?;
        Some(Node { value: &property.value, pointer: format!("{}/{}", node.pointer, escaped(name)) })
    }

    fn needed<'v>(&self, node: &Node<'v, 'a>, object: &'v Object<'a>, name: &str) -> Read<Node<'v, 'a>> {
        self.field(node, object, name)
            .ok_or_else(|| self.bad(node, format!("`{name}` is missing"), format!("add `{name}`")))
    }

    fn array<'v>(&self, node: &Node<'v, 'a>) -> Read<&'v Array<'a>> {
        match node.value {
            Value::Array(array) => Ok(array),
            _ => Err(self.bad(node, "expected a list", "write […]")),
        }
    }

    fn items<'v>(&self, node: &Node<'v, 'a>) -> Read<Vec<Node<'v, 'a>>> {
        let items = self.array(node)?.elements.iter().enumerate();
        Ok(items.map(|(i, value)| Node { value, pointer: format!("{}/{i}", node.pointer) }).collect())
    }

    fn number(&self, node: &Node<'_, 'a>, low: f64, high: f64) -> Read<f64> {
        let Value::NumberLit(literal) = node.value else {
            return Err(self.bad(node, "expected a number", "write it without quotes"));
        };
        let value: f64 = literal
            .value
            .parse()
            .map_err(|_| self.bad(node, format!("`{}` is not a number", literal.value), "fix it"))?;
        if !(low..=high).contains(&value) {
            return Err(self.refuse(
                node,
                ShapeCode::OutOfRange,
                format!("{} is outside the range {low} to {high}", literal.value),
                "check the unit and the place of the decimal point",
            ));
        }
        // −0 and 0 are one number, written one way.
        Ok(value + 0.0)
    }

    fn above_zero(&self, node: &Node<'_, 'a>, high: f64) -> Read<f64> {
        let value = self.number(node, 0.0, high)?;
        if value == 0.0 {
            return Err(self.refuse(
                node,
                ShapeCode::OutOfRange,
                "this must be above 0",
                "give its true size",
            ));
        }
        Ok(value)
    }

    fn point(&self, node: &Node<'_, 'a>) -> Read<Point> {
        match self.items(node)?.as_slice() {
            [x, y] => Ok(Point::new(
                self.number(x, -FARTHEST_MM, FARTHEST_MM)?,
                self.number(y, -FARTHEST_MM, FARTHEST_MM)?,
            )),
            _ => Err(self.bad(node, "a point has two numbers", "write [x, y] in millimetres")),
        }
    }

    fn text<'v>(&self, node: &Node<'v, 'a>) -> Read<&'v str> {
        match node.value {
            Value::StringLit(literal) => Ok(&literal.value),
            _ => Err(self.bad(node, "expected text", "write them in double quotes")),
        }
    }

    fn outline(&self, root: &Value<'a>) -> Read<Outline> {
        let node = Node { value: root, pointer: String::new() };
        let known = ["$schema", "outer", "cutouts", "etchings", "marks", "stone_joints"];
        let object = self.object(&node, &known)?;
        if let Some(schema) = self.field(&node, object, "$schema") {
            self.text(&schema)?;
        }
        let outer = Contour { segments: self.way(&self.needed(&node, object, "outer")?)? };
        let mut outline = Outline::of(outer);
        if let Some(list) = self.field(&node, object, "cutouts") {
            for item in self.items(&list)? {
                outline.cutouts.push(Contour { segments: self.way(&item)? });
            }
        }
        if let Some(list) = self.field(&node, object, "etchings") {
            for item in self.items(&list)? {
                outline.etchings.push(Path { segments: self.way(&item)? });
            }
        }
        if let Some(list) = self.field(&node, object, "marks") {
            for item in self.items(&list)? {
                outline.marks.push(self.mark(&item)?);
            }
        }
        if let Some(list) = self.field(&node, object, "stone_joints") {
            for item in self.items(&list)? {
                let object = self.object(&item, &["from_mm", "to_mm"])?;
                outline.stone_joints.push(StoneJoint {
                    from: self.point(&self.needed(&item, object, "from_mm")?)?,
                    to: self.point(&self.needed(&item, object, "to_mm")?)?,
                });
            }
        }
        if outline.piece_count() > MOST_PIECES {
            return Err(self.refuse(
                &node,
                ShapeCode::TooLarge,
                format!("the outline has {} pieces", outline.piece_count()),
                format!("at most {MOST_PIECES}: draw curves as arcs or splines, not as short lines"),
            ));
        }
        Ok(outline)
    }

    fn way(&self, node: &Node<'_, 'a>) -> Read<Vec<Segment>> {
        let object = self.object(node, &["start_mm", "segments"])?;
        let start = self.field(node, object, "start_mm").map(|n| self.point(&n)).transpose()?;
        let mut segments: Vec<Segment> = Vec::new();
        let list = self.needed(node, object, "segments")?;
        for item in self.items(&list)? {
            let from = segments.last().map(Segment::end).or(start);
            segments.push(self.segment(&item, from)?);
        }
        match (segments.first(), start) {
            (None, _) => Err(self.bad(&list, "it has no pieces", "add at least one")),
            (Some(first), Some(_)) if !super::json_text::starts_at_last(first) => Err(self.bad(
                node,
                format!("`start_mm` says nothing before a {}", first.kind()),
                "leave `start_mm` out: this piece has its own start",
            )),
            _ => Ok(segments),
        }
    }

    fn segment(&self, node: &Node<'_, 'a>, from: Option<Point>) -> Read<Segment> {
        const ALL_FIELDS: &[&str] = &[
            "kind",
            "to_mm",
            "bulge",
            "centre_mm",
            "radius_mm",
            "clockwise",
            "control_1_mm",
            "control_2_mm",
            "major_mm",
            "ratio",
            "start_rad",
            "sweep_rad",
            "degree",
            "knots",
            "control_points_mm",
            "weights",
        ];
        let object = self.object(node, ALL_FIELDS)?;
        let kind_node = self.needed(node, object, "kind")?;
        let kind = self.text(&kind_node)?;
        let known: &[&str] = match kind {
            "line" => &["kind", "to_mm"],
            "arc" => &["kind", "to_mm", "bulge"],
            "circle" => &["kind", "centre_mm", "radius_mm", "clockwise"],
            "cubic" => &["kind", "control_1_mm", "control_2_mm", "to_mm"],
            "ellipse" => &["kind", "centre_mm", "major_mm", "ratio", "start_rad", "sweep_rad"],
            "spline" => &["kind", "degree", "knots", "control_points_mm", "weights"],
            _ => {
                return Err(self.bad(
                    &kind_node,
                    format!("`{kind}` is not a kind of piece"),
                    "one of line, arc, circle, cubic, ellipse, spline",
                ));
            }
        };
        self.object(node, known)?;
        let need = |name: &str| self.needed(node, object, name);
        let start = || {
            from.ok_or_else(|| {
                self.bad(node, format!("a {kind} needs a start"), "add `start_mm` beside `segments`")
            })
        };
        Ok(match kind {
            "line" => Segment::line(start()?, self.point(&need("to_mm")?)?),
            "arc" => {
                let bulge_node = need("bulge")?;
                let bulge = self.number(&bulge_node, -1000.0, 1000.0)?;
                if bulge.abs() < 1e-9 {
                    return Err(self.refuse(
                        &bulge_node,
                        ShapeCode::OutOfRange,
                        "an arc without bulge is straight",
                        "make it a line",
                    ));
                }
                Segment::Arc(Arc { start: start()?, end: self.point(&need("to_mm")?)?, bulge })
            }
            "circle" => Segment::Circle(Circle {
                centre: self.point(&need("centre_mm")?)?,
                radius: self.above_zero(&need("radius_mm")?, FARTHEST_MM)?,
                clockwise: match self.field(node, object, "clockwise") {
                    None => false,
                    Some(Node { value: Value::BooleanLit(flag), .. }) => flag.value,
                    Some(other) => return Err(self.bad(&other, "expected true or false", "write one")),
                },
            }),
            "cubic" => Segment::Cubic(Cubic {
                start: start()?,
                control_1: self.point(&need("control_1_mm")?)?,
                control_2: self.point(&need("control_2_mm")?)?,
                end: self.point(&need("to_mm")?)?,
            }),
            "ellipse" => self.ellipse(node, object)?,
            _ => self.spline(node, object)?,
        })
    }

    fn ellipse(&self, node: &Node<'_, 'a>, object: &Object<'a>) -> Read<Segment> {
        const TURN: f64 = 6.283_185_307_179_587;
        let major_node = self.needed(node, object, "major_mm")?;
        let major = self.point(&major_node)?;
        if major.length() == 0.0 {
            return Err(self.refuse(
                &major_node,
                ShapeCode::OutOfRange,
                "the longer half axis has no length",
                "write [x, y] from the centre to the end of the longer axis",
            ));
        }
        let sweep_node = self.needed(node, object, "sweep_rad")?;
        let sweep_rad = self.number(&sweep_node, -TURN, TURN)?;
        if sweep_rad == 0.0 {
            return Err(self.refuse(
                &sweep_node,
                ShapeCode::OutOfRange,
                "its sweep is 0",
                "give a sweep other than 0",
            ));
        }
        Ok(Segment::Ellipse(EllipseArc {
            centre: self.point(&self.needed(node, object, "centre_mm")?)?,
            major,
            ratio: self.above_zero(&self.needed(node, object, "ratio")?, 1.0)?,
            start_rad: self.number(&self.needed(node, object, "start_rad")?, -2.0 * TURN, 2.0 * TURN)?,
            sweep_rad,
        }))
    }

    fn spline(&self, node: &Node<'_, 'a>, object: &Object<'a>) -> Read<Segment> {
        let degree = self.number(&self.needed(node, object, "degree")?, 1.0, 15.0)?;
        let numbers = |name: &str, low: f64, high: f64| -> Read<Vec<f64>> {
            match self.field(node, object, name) {
                None => Ok(Vec::new()),
                Some(list) => self.items(&list)?.iter().map(|n| self.number(n, low, high)).collect(),
            }
        };
        let points_node = self.needed(node, object, "control_points_mm")?;
        let points: Vec<Point> =
            self.items(&points_node)?.iter().map(|n| self.point(n)).collect::<Read<_>>()?;
        self.needed(node, object, "knots")?;
        if degree.fract() != 0.0 {
            return Err(self.bad(node, "the degree is not whole", "use 2 or 3, as drawn"));
        }
        let (knots, weights) = (numbers("knots", -1e9, 1e9)?, numbers("weights", 0.0, 1e6)?);
        Nurbs::new(degree as usize, knots, points, weights)
            .map(Segment::Spline)
            .map_err(|reason| self.bad(node, reason, "write the spline as the drawing program gave it"))
    }

    fn mark(&self, node: &Node<'_, 'a>) -> Read<Mark> {
        let object = self.object(node, &["kind", "at_mm", "text", "heading_deg"])?;
        let kind_node = self.needed(node, object, "kind")?;
        let kind: MarkKind = self.text(&kind_node)?.parse().map_err(|e: crate::words::UnknownWord| {
            self.bad(&kind_node, e.to_string(), "use one of these")
        })?;
        let text = match self.field(node, object, "text") {
            None => None,
            Some(words) => {
                let text = self.text(&words)?;
                if text.chars().count() > LONGEST_TEXT || text.chars().any(char::is_control) {
                    return Err(self.refuse(
                        &words,
                        ShapeCode::OutOfRange,
                        "the text is too long or has control characters",
                        format!("at most {LONGEST_TEXT} plain characters on one line"),
                    ));
                }
                Some(text.to_owned())
            }
        };
        let heading_deg =
            self.field(node, object, "heading_deg").map(|n| self.number(&n, -360.0, 360.0)).transpose()?;
        Ok(Mark { kind, at: self.point(&self.needed(node, object, "at_mm")?)?, text, heading_deg })
    }
}

/// A key as part of a JSON pointer (RFC 6901).
fn escaped(key: &str) -> String {
    key.replace('~', "~0").replace('/', "~1")
}

#[cfg(test)]
mod tests {
    use super::super::json_text::to_json;
    use super::*;

    const BAR_FRONT: &str = r#"{
  "outer": {
    "start_mm": [0, 0],
    "segments": [
      { "kind": "line", "to_mm": [1200, 0] },
      { "kind": "arc", "to_mm": [1200, 400.1], "bulge": 0.3333333333333333 },
      { "kind": "cubic", "control_1_mm": [800, 500], "control_2_mm": [400, 300], "to_mm": [0, 400] },
      { "kind": "line", "to_mm": [0, 0] }
    ]
  },
  "cutouts": [
    {
      "segments": [
        { "kind": "circle", "centre_mm": [300, 150], "radius_mm": 17.5 }
      ]
    }
  ],
  "marks": [
    { "kind": "front", "at_mm": [600, 200], "text": "front \"A\"", "heading_deg": 90 }
  ],
  "stone_joints": [
    { "from_mm": [600, -10], "to_mm": [600, 600] }
  ]
}
"#;

    #[test]
    fn what_is_written_is_what_was_read() {
        let outline = read_json(BAR_FRONT.as_bytes()).unwrap_or_else(|e| panic!("{e}"));
        assert_eq!(to_json(&outline), BAR_FRONT);
    }

    #[test]
    fn a_departure_is_named_with_pointer_and_line() {
        for (from, to, pointer, line, code) in [
            ("1200, 0]", "1200]", "/outer/segments/0/to_mm", 5, ShapeCode::BadField),
            ("1200, 0]", "1e9, 0]", "/outer/segments/0/to_mm/0", 5, ShapeCode::OutOfRange),
            ("\"bulge\"", "\"bulge_mm\"", "/outer/segments/1/bulge_mm", 6, ShapeCode::BadField),
            ("17.5", "0", "/cutouts/0/segments/0/radius_mm", 14, ShapeCode::OutOfRange),
            ("\"front\"", "\"back\"", "/marks/0/kind", 19, ShapeCode::BadField),
            ("\"kind\": \"arc\", ", "", "/outer/segments/1", 6, ShapeCode::BadField),
            (
                "\"radius_mm\": 17.5",
                "\"radius_mm\": 1, \"radius_mm\": 2",
                "/cutouts/0/segments/0/radius_mm",
                14,
                ShapeCode::BadField,
            ),
        ] {
            let text = BAR_FRONT.replacen(from, to, 1);
            let error = read_json(text.as_bytes()).expect_err(to);
            assert_eq!(error.pointer.as_deref(), Some(pointer), "{to}: {error}");
            assert_eq!((error.line, error.code), (Some(line), code), "{to}: {error}");
        }
    }

    #[test]
    fn what_is_not_json_is_refused_with_its_line() {
        for text in ["", "{", "{\"outer\": NaN}", "{\"outer\": {},}", "\u{feff}{}", "// c\n{}"] {
            let error = read_json(text.as_bytes()).expect_err(text);
            assert!(matches!(error.code, ShapeCode::Unreadable | ShapeCode::BadField), "{text}: {error}");
        }
        let deep = "[".repeat(100_000);
        assert_eq!(read_json(deep.as_bytes()).expect_err("too deep").code, ShapeCode::Unreadable);
        assert_eq!(read_json(&[0xff, 0xfe]).expect_err("not text").code, ShapeCode::Unreadable);
    }
}
