//! An outline as DXF R2000 for the cutter: lines, arcs, circles, ellipses and splines as what they are.
//!
//! The same outline gives the same bytes. Runs of lines and arcs are polylines with bulges, which carry their ends
//! to the last bit. Layers: OUTLINE, CUTOUTS, ETCHING, MARKS, and JOINTS
//! where the stone has joints: shown, never cut, so that layer is not plotted. Millimetres.

use std::fmt::Write as _;

use super::super::cubic::Cubic;
use super::super::nurbs::Nurbs;
use super::super::outline::{Mark, MarkKind, Outline};
use super::super::point::Point;
use super::super::segment::Segment;

/// The layer of the outline in a written file.
pub(crate) const OUTLINE_LAYER: &str = "OUTLINE";
/// The layer of the cut-outs in a written file.
pub(crate) const CUTOUT_LAYER: &str = "CUTOUTS";
/// The layer of etched lines in a written file.
pub(crate) const ETCHING_LAYER: &str = "ETCHING";
/// The layer of marks in a written file.
pub(crate) const MARK_LAYER: &str = "MARKS";

/// The layer of the stone's joints in a written file: there only where there are joints, and not plotted, since nothing
/// is cut along them.
pub(crate) const JOINT_LAYER: &str = "JOINTS";

/// Handles of what every R2000 file must have, before the entities take theirs.
const FIRST_ENTITY_HANDLE: u32 = 0x100;
const MODEL_SPACE: u32 = 0x1F;
const PAPER_SPACE: u32 = 0x1B;

/// Writes an outline as DXF R2000, in millimetres.
#[must_use]
pub fn to_dxf(outline: &Outline) -> String {
    let mut entities = Writer { out: String::new(), next: FIRST_ENTITY_HANDLE };
    entities.way(&outline.outer.segments, OUTLINE_LAYER, true);
    for cutout in &outline.cutouts {
        entities.way(&cutout.segments, CUTOUT_LAYER, true);
    }
    for etching in &outline.etchings {
        entities.way(&etching.segments, ETCHING_LAYER, false);
    }
    for mark in &outline.marks {
        entities.mark(mark);
    }
    for joint in &outline.stone_joints {
        entities.way(&[Segment::line(joint.from, joint.to)], JOINT_LAYER, false);
    }
    let (x, y) = (outline.outer.extent(Point::new(1.0, 0.0)), outline.outer.extent(Point::new(0.0, 1.0)));
    let mut file = Writer { out: String::new(), next: 0 };
    file.header(Point::new(x.0, y.0), Point::new(x.1, y.1), entities.next);
    file.tables(!outline.stone_joints.is_empty());
    file.blocks();
    file.texts(&[(0, "SECTION"), (2, "ENTITIES")]);
    file.out.push_str(&entities.out);
    file.texts(&[(0, "ENDSEC")]);
    file.objects();
    file.texts(&[(0, "EOF")]);
    file.out
}

struct Writer {
    out: String,
    next: u32,
}

impl Writer {
    fn text(&mut self, code: i32, value: &str) {
        let _ = writeln!(self.out, "{code:>3}\n{value}");
    }

    fn texts(&mut self, pairs: &[(i32, &str)]) {
        for (code, value) in pairs {
            self.text(*code, value);
        }
    }

    fn number(&mut self, code: i32, value: f64) {
        // Shortest decimal that reads back as the same number; a point marks it as one.
        let _ = writeln!(self.out, "{code:>3}\n{:?}", value + 0.0);
    }

    fn whole(&mut self, code: i32, value: usize) {
        let _ = writeln!(self.out, "{code:>3}\n{value}");
    }

    fn handle(&mut self, code: i32, value: u32) {
        let _ = writeln!(self.out, "{code:>3}\n{value:X}");
    }

    fn point(&mut self, code: i32, p: Point) {
        self.number(code, p.x);
        self.number(code + 10, p.y);
    }

    fn solid_point(&mut self, code: i32, p: Point) {
        self.point(code, p);
        self.number(code + 20, 0.0);
    }

    fn entity(&mut self, kind: &str, layer: &str, class: &str) {
        self.text(0, kind);
        self.handle(5, self.next);
        self.next += 1;
        self.handle(330, MODEL_SPACE);
        self.texts(&[(100, "AcDbEntity"), (8, layer), (100, class)]);
    }

    /// Pieces that follow each other: runs of lines and arcs as polylines, the rest as itself.
    fn way(&mut self, segments: &[Segment], layer: &str, closes: bool) {
        let plain = |s: &Segment| matches!(s, Segment::Line { .. } | Segment::Arc(_));
        let mut rest = segments;
        while let Some(first) = rest.first() {
            if !plain(first) {
                self.piece(first, layer);
                rest = &rest[1..];
                continue;
            }
            let mut length = rest.iter().take_while(|s| plain(s)).count();
            if let Some(gap) = (1..length).find(|&i| rest[i - 1].end() != rest[i].start()) {
                length = gap;
            }
            let whole = closes && length == segments.len() && length > 1;
            self.polyline(&rest[..length], layer, whole);
            rest = &rest[length..];
        }
    }

    fn polyline(&mut self, run: &[Segment], layer: &str, closed: bool) {
        self.entity("LWPOLYLINE", layer, "AcDbPolyline");
        self.whole(90, run.len() + usize::from(!closed));
        self.whole(70, usize::from(closed));
        for segment in run {
            self.point(10, segment.start());
            if let Segment::Arc(arc) = segment {
                self.number(42, arc.bulge);
            }
        }
        if let Some(last) = run.last().filter(|_| !closed) {
            self.point(10, last.end());
        }
    }

    fn piece(&mut self, segment: &Segment, layer: &str) {
        match segment {
            Segment::Line { .. } | Segment::Arc(_) => {
                self.polyline(std::slice::from_ref(segment), layer, false)
            }
            Segment::Circle(circle) => {
                self.entity("CIRCLE", layer, "AcDbCircle");
                self.solid_point(10, circle.centre);
                self.number(40, circle.radius);
            }
            Segment::Ellipse(ellipse) => {
                // An ELLIPSE always runs counter-clockwise.
                let ellipse = if ellipse.sweep_rad < 0.0 { ellipse.reversed() } else { *ellipse };
                self.entity("ELLIPSE", layer, "AcDbEllipse");
                self.solid_point(10, ellipse.centre);
                self.solid_point(11, ellipse.major);
                self.number(40, ellipse.ratio);
                let whole = ellipse.is_whole();
                let turn = 2.0 * std::f64::consts::PI;
                self.number(41, if whole { 0.0 } else { ellipse.start_rad });
                self.number(42, if whole { turn } else { ellipse.start_rad + ellipse.sweep_rad });
            }
            Segment::Cubic(Cubic { start, control_1, control_2, end }) => {
                let knots = [0.0, 0.0, 0.0, 0.0, 1.0, 1.0, 1.0, 1.0];
                self.spline(3, &knots, &[*start, *control_1, *control_2, *end], &[], layer);
            }
            Segment::Spline(spline) => self.nurbs(spline, layer),
        }
    }

    fn nurbs(&mut self, spline: &Nurbs, layer: &str) {
        self.spline(spline.degree(), spline.knots(), spline.control_points(), spline.weights(), layer);
    }

    fn spline(&mut self, degree: usize, knots: &[f64], points: &[Point], weights: &[f64], layer: &str) {
        self.entity("SPLINE", layer, "AcDbSpline");
        // Planar, and rational where it has weights.
        self.whole(70, 8 + if weights.is_empty() { 0 } else { 4 });
        self.whole(71, degree);
        self.whole(72, knots.len());
        self.whole(73, points.len());
        self.whole(74, 0);
        for knot in knots {
            self.number(40, *knot);
        }
        for weight in weights {
            self.number(41, *weight);
        }
        for point in points {
            self.solid_point(10, *point);
        }
    }

    fn mark(&mut self, mark: &Mark) {
        self.entity("POINT", MARK_LAYER, "AcDbPoint");
        self.solid_point(10, mark.at);
        // A kind that is more than a note stands before the words, and comes back from there.
        let words = match (mark.kind, mark.text.as_deref()) {
            (MarkKind::Note, Some(text)) => text.to_owned(),
            (kind, None) => kind.word().to_owned(),
            (kind, Some(text)) => format!("{}: {text}", kind.word()),
        };
        self.entity("TEXT", MARK_LAYER, "AcDbText");
        self.solid_point(10, mark.at);
        self.number(40, 10.0);
        self.text(1, &escaped(&words));
        if let Some(heading) = mark.heading_deg {
            self.number(50, heading);
        }
        self.text(100, "AcDbText");
    }

    fn header(&mut self, low: Point, high: Point, handseed: u32) {
        self.texts(&[(0, "SECTION"), (2, "HEADER"), (9, "$ACADVER"), (1, "AC1015"), (9, "$DWGCODEPAGE")]);
        self.texts(&[(3, "ANSI_1252"), (9, "$HANDSEED")]);
        self.handle(5, handseed);
        self.texts(&[(9, "$INSUNITS"), (70, "4"), (9, "$MEASUREMENT"), (70, "1"), (9, "$EXTMIN")]);
        self.solid_point(10, low);
        self.text(9, "$EXTMAX");
        self.solid_point(10, high);
        self.text(0, "ENDSEC");
    }

    fn table(&mut self, name: &str, handle: u32, entries: &[Entry<'_>]) {
        self.texts(&[(0, "TABLE"), (2, name)]);
        self.handle(5, handle);
        self.texts(&[(330, "0"), (100, "AcDbSymbolTable")]);
        self.whole(70, entries.len());
        if name == "DIMSTYLE" {
            self.text(100, "AcDbDimStyleTable");
        }
        for entry in entries {
            self.text(0, name);
            self.handle(if name == "DIMSTYLE" { 105 } else { 5 }, entry.handle);
            self.handle(330, handle);
            self.texts(&[(100, "AcDbSymbolTableRecord"), (100, entry.class), (2, entry.name)]);
            self.texts(entry.groups);
        }
        self.text(0, "ENDTAB");
    }

    fn tables(&mut self, with_joints: bool) {
        self.texts(&[(0, "SECTION"), (2, "TABLES")]);
        let viewport: &[(i32, &str)] = &[
            (70, "0"),
            (10, "0.0"),
            (20, "0.0"),
            (11, "1.0"),
            (21, "1.0"),
            (12, "500.0"),
            (22, "250.0"),
            (40, "1000.0"),
            (41, "2.0"),
            (42, "50.0"),
        ];
        let entry = |handle, class, name, groups| Entry { handle, class, name, groups };
        self.table("VPORT", 0x8, &[entry(0x30, "AcDbViewportTableRecord", "*Active", viewport)]);
        let plain: &[(i32, &str)] = &[(70, "0"), (3, ""), (72, "65"), (73, "0"), (40, "0.0")];
        let linetypes = ["ByBlock", "ByLayer", "Continuous"];
        let linetypes: Vec<Entry<'_>> =
            (0x14..).zip(linetypes).map(|(h, n)| entry(h, "AcDbLinetypeTableRecord", n, plain)).collect();
        self.table("LTYPE", 0x5, &linetypes);
        let mut coloured: Vec<(&str, &[(i32, &str)])> = vec![
            ("0", &[(70, "0"), (62, "7"), (6, "Continuous")]),
            (OUTLINE_LAYER, &[(70, "0"), (62, "7"), (6, "Continuous")]),
            (CUTOUT_LAYER, &[(70, "0"), (62, "1"), (6, "Continuous")]),
            (ETCHING_LAYER, &[(70, "0"), (62, "5"), (6, "Continuous")]),
            (MARK_LAYER, &[(70, "0"), (62, "3"), (6, "Continuous")]),
        ];
        if with_joints {
            coloured.push((JOINT_LAYER, &[(70, "0"), (62, "8"), (6, "Continuous"), (290, "0")]));
        }
        let layers: Vec<Entry<'_>> =
            (0x40..).zip(coloured).map(|(h, (n, g))| entry(h, "AcDbLayerTableRecord", n, g)).collect();
        self.table("LAYER", 0x2, &layers);
        let font: &[(i32, &str)] =
            &[(70, "0"), (40, "0.0"), (41, "1.0"), (50, "0.0"), (71, "0"), (42, "2.5"), (3, "txt"), (4, "")];
        self.table("STYLE", 0x3, &[entry(0x11, "AcDbTextStyleTableRecord", "Standard", font)]);
        self.table("VIEW", 0x6, &[]);
        self.table("UCS", 0x7, &[]);
        self.table("APPID", 0x9, &[entry(0x12, "AcDbRegAppTableRecord", "ACAD", &[(70, "0")])]);
        self.table("DIMSTYLE", 0xA, &[entry(0x27, "AcDbDimStyleTableRecord", "Standard", &[(70, "0")])]);
        let spaces = [
            entry(MODEL_SPACE, "AcDbBlockTableRecord", "*Model_Space", &[(340, "22")]),
            entry(PAPER_SPACE, "AcDbBlockTableRecord", "*Paper_Space", &[(340, "1E")]),
        ];
        self.table("BLOCK_RECORD", 0x1, &spaces);
        self.text(0, "ENDSEC");
    }

    fn blocks(&mut self) {
        self.texts(&[(0, "SECTION"), (2, "BLOCKS")]);
        for (name, record, begin, end) in
            [("*Model_Space", MODEL_SPACE, 0x20, 0x21), ("*Paper_Space", PAPER_SPACE, 0x1C, 0x1D)]
        {
            self.text(0, "BLOCK");
            self.handle(5, begin);
            self.handle(330, record);
            self.texts(&[(100, "AcDbEntity"), (8, "0"), (100, "AcDbBlockBegin"), (2, name), (70, "0")]);
            self.solid_point(10, Point::default());
            self.texts(&[(3, name), (1, ""), (0, "ENDBLK")]);
            self.handle(5, end);
            self.handle(330, record);
            self.texts(&[(100, "AcDbEntity"), (8, "0"), (100, "AcDbBlockEnd")]);
        }
        self.text(0, "ENDSEC");
    }

    fn objects(&mut self) {
        self.texts(&[(0, "SECTION"), (2, "OBJECTS")]);
        self.texts(&[(0, "DICTIONARY"), (5, "C"), (330, "0"), (100, "AcDbDictionary"), (281, "1")]);
        self.texts(&[(3, "ACAD_GROUP"), (350, "D"), (3, "ACAD_LAYOUT"), (350, "1A")]);
        self.texts(&[(0, "DICTIONARY"), (5, "D"), (330, "C"), (100, "AcDbDictionary"), (281, "1")]);
        self.texts(&[(0, "DICTIONARY"), (5, "1A"), (330, "C"), (100, "AcDbDictionary"), (281, "1")]);
        self.texts(&[(3, "Model"), (350, "22"), (3, "Layout1"), (350, "1E")]);
        for (name, handle, record, model) in
            [("Model", 0x22, MODEL_SPACE, true), ("Layout1", 0x1E, PAPER_SPACE, false)]
        {
            self.text(0, "LAYOUT");
            self.handle(5, handle);
            self.texts(&[(330, "1A"), (100, "AcDbPlotSettings"), (1, ""), (2, ""), (4, ""), (6, "")]);
            self.text(70, if model { "1024" } else { "0" });
            self.texts(&[(100, "AcDbLayout"), (1, name), (70, "1")]);
            self.whole(71, usize::from(!model));
            self.handle(330, record);
        }
        self.text(0, "ENDSEC");
    }
}

struct Entry<'e> {
    handle: u32,
    class: &'e str,
    name: &'e str,
    groups: &'e [(i32, &'e str)],
}

/// Letters beyond ASCII as R2000 writes them.
fn escaped(words: &str) -> String {
    let mut out = String::new();
    for c in words.chars() {
        if c.is_ascii() && !c.is_control() {
            out.push(c);
        } else {
            let mut units = [0; 2];
            for unit in c.encode_utf16(&mut units) {
                let _ = write!(out, "\\U+{unit:04X}");
            }
        }
    }
    out
}
