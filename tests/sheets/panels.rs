//! The three panels that the sheet's tests draw: invented, with fixed outlines.

use underlit::digest::Sha256Digest;
use underlit::making::bending::Forming;
use underlit::model::panel::{Bend, BendAxis};
use underlit::shape::{
    Arc, Contour, EllipseArc, Mark, MarkKind, Outline, Path, Point, Segment, StoneJoint, figures, to_json,
};
use underlit::sheets::{Approval, Paper, SheetInput};
use underlit::units::{DisplayUnits, Millimetres};
use underlit::words::{Face, LightKind};

fn p(x: f64, y: f64) -> Point {
    Point::new(x, y)
}

fn mark(kind: MarkKind, at: Point, text: &str, heading_deg: Option<f64>) -> Mark {
    let text = (!text.is_empty()).then(|| text.to_string());
    Mark { kind, at, text, heading_deg }
}

/// The digest that each sheet prints at its foot, by the sheet's title: as sealed when the drawing code's edition was named,
/// so that the edition is of the drawing alone.
const DIGESTS: [(&str, &str); 14] = [
    ("Column casing", "5e2f0b9c7d41a6e83f1c2b7a90d4586e3b17f2c8a9d05e64c1837bf2095ad3e4"),
    ("Corner piece", "650b13aa066fd509e5ed8713e8dd9032450bc308921aff710bac3d6832693be7"),
    ("Disc with openings", "93043ec42ac06cad485b2decfa9fc1583f68cd87a1a09c3938f3784fb57ae3e8"),
    ("Lift lobby wall in three pieces", "780d3ba6bec31b97488a359a7463fea4ad305c79a26b4cdeeccd5720cd3213cb"),
    ("Lobby wall, 6 m, with a door", "b68838ee5bf6afd716690f008e4ab4c72e1b2ac7b627dcb38993f63597d04523"),
    ("Reception desk, front panel", "b8bd764eeb4fc88c11a5fef011dab1e38e34f3fb0ae4bf6d7e8363e668791d38"),
    ("Riser", "c4cb4abcc9e7e231c34dd42319a6c47e52120d70febca9b619f0c4122e088f1d"),
    ("Round panel", "3d0ee3d8cee281a816e069da1b5de30ae086f6259d0b1791f7376f549715f398"),
    ("Sail", "24e137524c85a6c9ec88e920a56cf0dfa9ce9b8bfd41ecf847d650b79fcab581"),
    ("Slot", "69a6231a66a5a572935383faf0ff81d832906c6a05c1fb232ff926dbccd4f7d7"),
    ("Star", "1f470f5753453217aaa26f91f69a3f2be4213c479f52b996904f04ffd1674fc2"),
    ("Tap row", "5b7d7878ffdd88f2f19d9aaf24d5874a1b531c9757aee7ecd7a38a84c5e5c147"),
    ("Vanity top with two basins", "950c456eed31d9ae5862f6163d642087f9f319769cc4b67eaa443e322eff8ad5"),
    ("Winding bar front", "b850471e73fb59e76a86cf9c7052b5824f044ec3a381c8c318f59e1846d8209d"),
];

/// A sheet of an outline with everything that a usual job has.
pub(crate) fn sheet_of(outline: Outline, identification: &str, title: &str) -> SheetInput {
    let figures = figures(&outline);
    let sealed = DIGESTS.iter().find(|(of, _)| *of == title).and_then(|(_, digest)| digest.parse().ok());
    SheetInput {
        legal_owner: "Lantern Stone Works".into(),
        identification: identification.into(),
        date_of_issue: "2027-01-11".into(),
        sheet_number: 1,
        sheet_count: 1,
        title: title.into(),
        approvals: vec![
            Approval { role: "client".into(), name: "Mara Quill".into() },
            Approval { role: "engineer".into(), name: "Ivo Tarn".into() },
        ],
        creator: "Ada Fenn".into(),
        document_type: "Rendering".into(),
        revision: "A".into(),
        status: "For approval".into(),
        language: "en".into(),
        project: "Quay desk".into(),
        client: "Harbour Rooms".into(),
        stone: "Honey onyx, banded".into(),
        stone_thickness: Some(Millimetres(20.0)),
        light: LightKind::StaticWhite,
        cct: "3000 K".into(),
        face: Face::Diffused,
        lit_edges: vec![],
        seams: vec![],
        ribs: vec![],
        pieces: vec![],
        bend: None,
        mount: "tray".into(),
        notes: vec![
            "Dimensions are of the panel at 20 °C, not of the stone.".into(),
            "Acrylic grows about 0.07 mm per metre and kelvin: leave room all round.".into(),
        ],
        cautions: vec![
            "Electrical work by a licensed electrician to the local code.".into(),
            "Acrylic is combustible; building codes limit it.".into(),
            "State each stone piece's mass and plan the lift.".into(),
        ],
        tolerance: "±0.5 mm".into(),
        units: DisplayUnits::Mm,
        outline_digest: sealed.unwrap_or_else(|| Sha256Digest::of(to_json(&outline).as_bytes())),
        marker: None,
        paper: Paper::A4,
        more: vec![
            ("Voltage".into(), "24 V d.c.".into()),
            ("Place".into(), "dry".into()),
            ("Driver".into(), "remote, ventilated, accessible, dry place".into()),
        ],
        view: "Front view".into(),
        figures,
        outline,
    }
}

/// A curved reception desk front, 2.4 m wide: two rounded ends, a bowed front and an inward arc.
pub(crate) fn desk() -> SheetInput {
    let mut outline = Outline::of(Contour {
        segments: vec![
            Segment::Arc(Arc { start: p(150.0, 0.0), end: p(2250.0, 0.0), bulge: 0.12 }),
            Segment::Arc(Arc { start: p(2250.0, 0.0), end: p(2400.0, 150.0), bulge: 2f64.sqrt() - 1.0 }),
            Segment::line(p(2400.0, 150.0), p(2400.0, 620.0)),
            Segment::line(p(2400.0, 620.0), p(1800.0, 620.0)),
            Segment::Arc(Arc { start: p(1800.0, 620.0), end: p(600.0, 620.0), bulge: -0.25 }),
            Segment::line(p(600.0, 620.0), p(0.0, 620.0)),
            Segment::line(p(0.0, 620.0), p(0.0, 150.0)),
            Segment::Arc(Arc { start: p(0.0, 150.0), end: p(150.0, 0.0), bulge: 2f64.sqrt() - 1.0 }),
        ],
    });
    outline.marks = vec![
        mark(MarkKind::CableExit, p(2400.0, 560.0), "2 m lead", Some(0.0)),
        mark(MarkKind::Front, p(500.0, 330.0), "", None),
        mark(MarkKind::Top, p(1900.0, 250.0), "", Some(90.0)),
    ];
    let mut input = sheet_of(outline, "quay-desk / front", "Reception desk, front panel");
    input.lit_edges = vec![1, 4, 6];
    input
}

/// A wall of 3 m by 2.4 m in three pieces.
pub(crate) fn wall() -> SheetInput {
    let mut outline = Outline::rectangle(3000.0, 2400.0);
    outline.stone_joints = vec![
        StoneJoint { from: p(1000.0, 0.0), to: p(1000.0, 2400.0) },
        StoneJoint { from: p(2000.0, 0.0), to: p(2000.0, 2400.0) },
        StoneJoint { from: p(0.0, 1200.0), to: p(3000.0, 1200.0) },
    ];
    outline.cutouts =
        vec![Contour::polygon(&[p(2400.0, 300.0), p(2550.0, 300.0), p(2550.0, 400.0), p(2400.0, 400.0)])];
    outline.marks = vec![
        mark(MarkKind::CableExit, p(0.0, 150.0), "", Some(180.0)),
        mark(MarkKind::CableExit, p(1500.0, 0.0), "", Some(270.0)),
        mark(MarkKind::CableExit, p(3000.0, 150.0), "", Some(0.0)),
        mark(MarkKind::Front, p(500.0, 1800.0), "", None),
        mark(MarkKind::Top, p(1500.0, 1900.0), "", Some(90.0)),
    ];
    let mut input = sheet_of(outline, "quay-desk / wall", "Lift lobby wall in three pieces");
    input.seams = vec![(p(1000.0, 0.0), p(1000.0, 2400.0)), (p(2000.0, 0.0), p(2000.0, 2400.0))];
    input.lit_edges = vec![1, 3];
    input.light = LightKind::TunableWhite;
    input.cct = "2700 K to 6500 K".into();
    input.notes.push("Seams are butted; a shadow line may show where the stone has no joint.".into());
    input
}

/// A vanity of 1200 × 500 mm with an oval and a round-cornered sink and a tap hole.
pub(crate) fn vanity() -> SheetInput {
    let mut outline = Outline::rectangle(1200.0, 500.0);
    let oval = EllipseArc {
        centre: p(330.0, 235.0),
        major: p(210.0, 0.0),
        ratio: 0.75,
        start_rad: 0.0,
        sweep_rad: 2.0 * std::f64::consts::PI,
    };
    outline.cutouts = vec![
        Contour { segments: vec![Segment::Ellipse(oval)] },
        Contour::circle(p(870.0, 235.0), 170.0),
        Contour::circle(p(600.0, 440.0), 17.5),
    ];
    outline.marks = vec![
        mark(MarkKind::CableExit, p(1200.0, 450.0), "", Some(0.0)),
        mark(MarkKind::Front, p(600.0, 60.0), "", None),
    ];
    let mut input = sheet_of(outline, "quay-desk / vanity", "Vanity top with two basins");
    input.lit_edges = vec![1, 3];
    input
}

/// Panels of other kinds: round, slanted, star-shaped, angled, perforated, slotted, very long.
pub(crate) fn others() -> Vec<(&'static str, SheetInput)> {
    let round = sheet_of(Outline::circle(900.0), "hall / moon", "Round panel");
    let mut triangle =
        sheet_of(Outline::triangle(p(0.0, 0.0), p(900.0, 0.0), p(200.0, 700.0)), "hall / sail", "Sail");
    triangle.lit_edges = vec![1, 2, 3];
    let corners: Vec<Point> = (0..9)
        .map(|i| Point::at_angle(f64::from(i) * 0.698_131_7) * if i % 2 == 0 { 400.0 } else { 300.0 })
        .collect();
    let mut column = Outline::rectangle(1240.0, 900.0);
    let stroke =
        |x0: f64, y0: f64, x1: f64, y1: f64| Path { segments: vec![Segment::line(p(x0, y0), p(x1, y1))] };
    column.etchings = vec![
        stroke(500.0, 700.0, 500.0, 800.0),
        stroke(500.0, 750.0, 550.0, 750.0),
        stroke(550.0, 700.0, 550.0, 800.0),
        stroke(580.0, 700.0, 580.0, 800.0),
    ];
    column.marks = vec![mark(MarkKind::CableExit, p(1240.0, 60.0), "", Some(0.0))];
    let mut column = sheet_of(column, "hall / column", "Column casing");
    column.lit_edges = vec![2, 4];
    column.bend = Some(Bend {
        radius_mm: Millimetres(395.0),
        axis: BendAxis::Upright,
        formed: Some(Forming::Heat),
        face: None,
    });
    let mut star = sheet_of(Outline::polygon(&corners), "hall / star", "Star");
    star.lit_edges = vec![2];
    star.marker = Some("NOT RELEASED".into());
    let mut angle = sheet_of(
        Outline::polygon(&[
            p(0.0, 0.0),
            p(1800.0, 0.0),
            p(1800.0, 600.0),
            p(600.0, 600.0),
            p(600.0, 1500.0),
            p(0.0, 1500.0),
        ]),
        "bar / corner",
        "Corner piece",
    );
    angle.seams = vec![(p(0.0, 0.0), p(600.0, 600.0))];
    angle.lit_edges = vec![1, 6];
    angle.outline.stone_joints = vec![StoneJoint { from: p(600.0, 0.0), to: p(600.0, 600.0) }];
    let mut holes = Outline::rectangle(1000.0, 400.0);
    for i in 0..14 {
        let centre = p(70.0 + 66.0 * f64::from(i), if i % 2 == 0 { 90.0 } else { 310.0 });
        holes.cutouts.push(Contour::circle(centre, 12.0 + f64::from(i)));
    }
    let holes = sheet_of(holes, "bar / taps", "Tap row");
    let slot = Outline::of(Contour {
        segments: vec![
            Segment::line(p(0.0, 0.0), p(300.0, 0.0)),
            Segment::Arc(Arc { start: p(300.0, 0.0), end: p(300.0, 120.0), bulge: 1.0 }),
            Segment::line(p(300.0, 120.0), p(0.0, 120.0)),
            Segment::Arc(Arc { start: p(0.0, 120.0), end: p(0.0, 0.0), bulge: 1.0 }),
        ],
    });
    let mut slot = sheet_of(slot, "bar / slot", "Slot");
    slot.lit_edges = vec![1, 2, 3, 4];
    let mut strip = sheet_of(Outline::rectangle(3000.0, 80.0), "stair / riser", "Riser");
    strip.lit_edges = vec![3];
    vec![
        ("serpentine", serpentine()),
        ("disc", disc()),
        ("long-wall", long_wall()),
        ("round", round),
        ("triangle", triangle),
        ("star", star),
        ("angle", angle),
        ("holes", holes),
        ("slot", slot),
        ("strip", strip),
        ("column", column),
    ]
}

/// A bar front that winds: three half turns as tight as tape bends, 300 mm wide all along.
fn serpentine() -> SheetInput {
    let (inner, outer) = (150.0, 450.0);
    // Half turns about centres 600 mm apart, above and below in turn, out along one side and back along the other.
    let bend = |i: u32, near: f64, out: bool| {
        let centre = 600.0 * f64::from(i);
        let ends = [p(centre - near, 0.0), p(centre + near, 0.0)];
        let over = if i.is_multiple_of(2) { -1.0 } else { 1.0 };
        let (start, end) = if out { (ends[0], ends[1]) } else { (ends[1], ends[0]) };
        Segment::Arc(Arc { start, end, bulge: if out { over } else { -over } })
    };
    let mut segments: Vec<Segment> = Vec::new();
    for i in 0..3 {
        segments.push(bend(i, if i % 2 == 0 { outer } else { inner }, true));
    }
    segments.push(Segment::line(p(1650.0, 0.0), p(1350.0, 0.0)));
    for i in (0..3).rev() {
        segments.push(bend(i, if i % 2 == 0 { inner } else { outer }, false));
    }
    segments.push(Segment::line(p(-150.0, 0.0), p(-450.0, 0.0)));
    let outline = Outline::of(Contour { segments });
    let mut input = sheet_of(outline, "bar / wave", "Winding bar front");
    input.outline.marks = vec![
        mark(MarkKind::CableExit, p(-300.0, 0.0), "", Some(270.0)),
        mark(MarkKind::Front, p(600.0, -300.0), "", None),
    ];
    input.lit_edges = (1..=8).filter(|n| ![4, 8].contains(n)).collect();
    input
}

/// A disc with a round opening in the middle, a slot, and a ring of small holes.
fn disc() -> SheetInput {
    let mut outline = Outline::circle(1100.0);
    let middle = outline.outer.segments[0].at(0.0).towards(outline.outer.segments[0].at(0.5), 0.5);
    outline.cutouts.push(Contour::circle(middle, 120.0));
    for i in 0..8 {
        outline.cutouts.push(Contour::circle(
            middle + Point::at_angle(0.3 + f64::from(i) * std::f64::consts::FRAC_PI_4) * 430.0,
            8.0,
        ));
    }
    let at = |x: f64, y: f64| middle + p(x, y);
    outline.cutouts.push(Contour {
        segments: vec![
            Segment::line(at(-150.0, -330.0), at(150.0, -330.0)),
            Segment::Arc(Arc { start: at(150.0, -330.0), end: at(150.0, -270.0), bulge: 1.0 }),
            Segment::line(at(150.0, -270.0), at(-150.0, -270.0)),
            Segment::Arc(Arc { start: at(-150.0, -270.0), end: at(-150.0, -330.0), bulge: 1.0 }),
        ],
    });
    outline.marks = vec![mark(MarkKind::Top, middle + p(0.0, 300.0), "", Some(90.0))];
    let mut input = sheet_of(outline, "spa / sun", "Disc with openings");
    input.lit_edges = vec![1];
    input
}

/// A wall of 6 m by 2.7 m in ten pieces, with a door and two sockets.
fn long_wall() -> SheetInput {
    let mut outline = Outline::polygon(&[
        p(0.0, 0.0),
        p(3900.0, 0.0),
        p(3900.0, 2050.0),
        p(4800.0, 2050.0),
        p(4800.0, 0.0),
        p(6000.0, 0.0),
        p(6000.0, 2700.0),
        p(0.0, 2700.0),
    ]);
    for x in [450.0, 5500.0] {
        let corners = [(x, 280.0), (x + 80.0, 280.0), (x + 80.0, 360.0), (x, 360.0)];
        outline.cutouts.push(Contour::polygon(&corners.map(|(x, y)| p(x, y))));
    }
    outline.marks = vec![
        mark(MarkKind::CableExit, p(0.0, 60.0), "", Some(180.0)),
        mark(MarkKind::CableExit, p(6000.0, 60.0), "", Some(0.0)),
        mark(MarkKind::Front, p(2000.0, 700.0), "", None),
    ];
    let mut input = sheet_of(outline, "lobby / long-wall", "Lobby wall, 6 m, with a door");
    input.seams = vec![
        (p(0.0, 1350.0), p(3900.0, 1350.0)),
        (p(0.0, 2050.0), p(6000.0, 2050.0)),
        (p(1300.0, 0.0), p(1300.0, 2700.0)),
        (p(2600.0, 0.0), p(2600.0, 2700.0)),
        (p(3900.0, 2050.0), p(3900.0, 2700.0)),
    ];
    input.pieces = vec![
        p(650.0, 700.0),
        p(1950.0, 500.0),
        p(3250.0, 700.0),
        p(650.0, 1700.0),
        p(1950.0, 1700.0),
        p(3250.0, 1700.0),
        p(650.0, 2400.0),
        p(1950.0, 2400.0),
        p(3250.0, 2400.0),
        p(4900.0, 2400.0),
        p(5400.0, 1000.0),
    ];
    input.lit_edges = vec![1, 7];
    input
}
