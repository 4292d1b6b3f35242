//! A bent onyx column and other panels that no flat rectangle describes, by the commands that people type.

use serde_json::json;

use crate::stages;
use crate::workshop::{Desk, Place};

/// Half a column of 400 mm radius, flat: π × 400 mm by 1800 mm, with an H of three strokes of 100, 100 and 60 mm.
fn half_column(etched: bool) -> String {
    let line = |x: f64, y: f64| json!({ "kind": "line", "to_mm": [x, y] });
    let stroke = |from: [f64; 2], to: [f64; 2]| json!({ "start_mm": from, "segments": [line(to[0], to[1])] });
    let mut outline = json!({ "outer": {
        "start_mm": [0, 0],
        "segments": [line(1256.637, 0.0), line(1256.637, 1800.0), line(0.0, 1800.0), line(0.0, 0.0)]
    }});
    if etched {
        outline["etchings"] = json!([
            stroke([600.0, 1500.0], [600.0, 1600.0]),
            stroke([660.0, 1500.0], [660.0, 1600.0]),
            stroke([600.0, 1550.0], [660.0, 1550.0])
        ]);
    }
    outline.to_string()
}

/// Opens a job with its stone and its panel.
pub(crate) fn open(book: &Desk, material: &str, panel: &str) {
    book.run(r#"open hall --title "Hall" --client imke --engineer tom --site "Quay hall" --mains 230 --code-region iec --install-date 2027-06-14"#)
        .done();
    book.run(&format!(
        r#"swatch add hall face --stone "Cloud face" --material {material} --tone honey --texture banded --thickness 20mm --slab-thickness 20mm"#
    ))
    .done();
    book.run(panel).done();
    book.run("advance hall --to sampling").done();
}

pub(crate) fn try_stone(book: &Desk) {
    book.run(r#"request ask hall first --swatch face --cct 2700,3000 --face clear --size 300mmx200mm --address "Quay 4""#).done();
    book.run("request received hall first").done();
    for cct in [2700, 3000] {
        book.run(&format!("trial record hall at-{cct} --swatch face --request first --cct {cct} --face clear --seen calm --rating 4"))
            .done();
    }
    book.run("advance hall --to selection").done();
}

/// The words of a sheet without tags and line breaks.
pub(crate) fn words_of(sheet: &str) -> String {
    let tags = sheet.split('<').filter_map(|part| part.split_once('>')).map(|(_, text)| text);
    tags.flat_map(str::split_whitespace).collect::<Vec<_>>().join(" ")
}

fn choose(book: &Desk, panel: &str, edges: &str) {
    book.run(&format!(
        "choose hall {panel} --light static-white --cct 3000 --face clear --edges {edges} --volts 24 --mount removable-stone"
    ))
    .done();
    book.run_as("imke", &format!("sign hall choice --panel {panel} --yes")).done();
}

/// Chooses a light for a film, which nobody tries over a test panel, and plans it.
fn choose_film(book: &Desk, panel: &str) {
    book.run("advance hall --to selection").done();
    choose(book, panel, "1,3");
    book.run("advance hall --to rendering").done();
    book.run(&format!("plan hall {panel} --feed-length 4m --driver-at remote --driver-place dry")).done();
}

pub(crate) fn release(book: &Desk) {
    book.run_as("tom", "sign hall acknowledgement --topic cautions --yes").done();
    book.run_as("tom", "sign hall release --yes").done();
    book.run("advance hall --to released").done();
    book.sound();
}

#[test]
fn a_bent_onyx_column_from_the_first_call_to_the_taking_over() {
    let place = Place::new();
    let book = place.copy(stages::roster(), "mara");
    let accepted = r#""approvals": [
    { "view": "acknowledgement", "topic": "accepted", "role": "client", "people": 1 },"#;
    book.edit("rules.json", "\"approvals\": [", accepted);
    book.run("roster seal").done();
    let plain = place.file("plain.json", half_column(false));
    let etched = place.file("etched.json", half_column(true));
    open(
        &book,
        "onyx",
        &format!(
            r#"panel add hall column --swatch face --outline {plain} --faces clear --bent 400mm --formed cold --etching "the letter H" --etching-depth 1.5mm"#
        ),
    );
    try_stone(&book);
    choose(&book, "column", "1,3");
    book.run("advance hall --to rendering").done();

    // Tape is not bent in its own plane; the light guide is not bent cold so tightly; and what is etched must be drawn.
    let plan = "plan hall column --feed-length 6m --driver-at remote --driver-place dry";
    book.run(plan).code(1).says(&[
        "lit edges 1 and 3 run round the bend of 400 mm",
        "light the edges along the axis instead (2, 4)",
    ]);
    choose(&book, "column", "2,4");
    book.run(plan).code(1).says(&["cold to at least 2000 mm", "lists no cold bend"]);
    book.run("panel change hall column --bent 400mm --formed heat --bend-face bulging").done();
    book.run(plan).done();
    book.run("advance hall").code(1).says(&["its outline has no etched line"]);
    book.unchanged(|book| {
        book.run("panel change hall column --bent 400mm").code(2).says(&["were not provided"]);
        book.run("panel change hall column --lead-at 40mm").fails(2, "lead-place");
    });
    book.run(&format!("panel change hall column --outline {etched} --lead-edge 1 --lead-at 40mm")).done();

    // The sheet shows axis, radius, the letter and where the lead leaves; half a turn is 800 mm across and 400 mm deep.
    let pictures = place.path("pictures");
    book.run(&format!("draw hall column --png {}", pictures.display())).done();
    let sheet = book.text("projects/hall/renderings/column/sheet.svg");
    let sheet = words_of(&sheet);
    for text in [
        "axis of the bend",
        "by heat, to a radius of 400 mm",
        "the face is bulging",
        "180° of a turn, 800 mm",
        "the letter H; 1.5 mm",
        "260 mm",
        "edge 1, 40 mm",
        "CABLE EXIT",
        "etched line",
    ] {
        assert!(sheet.contains(text), "`{text}` is not on the sheet: {sheet}");
    }
    book.run_as("imke", "sign hall rendering --panel column --yes").done();
    book.run_as("tom", "sign hall rendering --panel column --as engineer --yes").done();
    // How it is formed is on the sheet, so that another way is another drawing.
    let kept = book.text("projects/hall/panels/column.json");
    book.edit("projects/hall/panels/column.json", "\"heat\"", "\"cold\"");
    book.run("status hall").says(&["the rendering of panel column was drawn for another stone"]);
    book.write("projects/hall/panels/column.json", kept);
    book.run_as("tom", "sign hall acknowledgement --topic cautions --yes").done();
    book.run_as("tom", "sign hall release --yes").done();
    book.run("advance hall --to released").done();

    let into = place.path("pack");
    book.run(&format!("pack hall --into {}", into.display())).done();
    let record = std::fs::read_to_string(into.join("pack.json")).expect("the pack has its record");
    let data: serde_json::Value = serde_json::from_str(&record).expect("a pack's record is JSON");
    let panel = &data["data"]["panels"][0];
    assert_eq!(
        panel["bend"],
        json!({
            "formed": "heat", "axis": "upright", "radius_um": 400_000, "turn_mdeg": 180_000, "chord_um": 800_000,
            "rise_um": 400_000, "face": "bulging"
        })
    );
    assert_eq!(panel["etching"], json!({ "words": "the letter H", "depth_um": 1500, "length_um": 260_000 }));

    book.run("built hall column --serial HC-1 --watts 50 --volts 24").done();
    book.run("advance hall --to built").done();
    book.run(r#"installed hall --electrician "licence 4471" --code "local code, 2026 edition" --driver-access cupboard --card-kept-at "meter cupboard" --card-access "lift the stone off" --card-contact "the shop""#)
        .done();
    let photo = place.file("lit.jpg", "a photo");
    book.run(&format!(
        r#"accepted hall --photo {photo} --keep-photo-notes --lowest-dim 100 --flicker-looked-for "by eye""#
    ))
    .done();
    book.run_as("imke", "sign hall acknowledgement --topic accepted --as client --yes").done();
    book.run("advance hall --to handed-over").done();
    book.sound();
}

#[test]
fn a_film_is_no_stone_and_needs_no_test_panel() {
    let place = Place::new();
    let book = place.copy(stages::roster(), "mara");
    open(
        &book,
        "film",
        "panel add hall sky --swatch face --size 1200mmx600mm --faces clear --position overhead",
    );
    choose_film(&book, "sky");
    book.run_as("tom", "sign hall acknowledgement --topic cautions --dry-run --yes")
        .done()
        .says(&["Movement: panel sky"])
        .never_says(&["the stone over panel"]);
    release(&book);
}

#[test]
fn a_floor_is_released_by_an_engineers_word_alone() {
    let place = Place::new();
    let book = place.copy(stages::roster(), "mara");
    open(
        &book,
        "film",
        "panel add hall step --swatch face --size 900mmx400mm --faces clear --position underfoot",
    );
    choose_film(&book, "step");
    book.run("advance hall").code(1).says(&["panel step is walked on", "[floor-answered]", "--floor-load …"]);
    book.unchanged(|book| {
        book.run("panel change hall step --floor-load 5").code(2).says(&["were not provided"]);
        book.run(r#"panel change hall step --floor-load 0 --floor-carried-by x --floor-slip y --floor-calculation z"#)
            .fails(2, "floor-load");
    });
    book.run(r#"panel change hall step --floor-load 5 --floor-carried-by "a steel grid on the slab" --floor-slip "R10 by DIN 51130" --floor-calculation "sheet 12, Oda Brandt, structural engineer""#)
        .done();
    release(&book);
}

#[test]
fn a_white_that_grows_warmer_takes_a_dimmer_and_five_channels_a_controller_for_five() {
    let place = Place::new();
    let book = place.copy(stages::roster(), "mara");
    let panel = "--swatch face --size 1200mmx600mm --faces clear --position overhead";
    open(&book, "film", &format!("panel add hall warm {panel}"));
    book.run(&format!("panel add hall five {panel}")).done();
    book.run("advance hall --to selection").done();
    let rest = "--face clear --edges 1,3 --volts 24 --mount framed-front";
    let warm = format!("choose hall warm --light warm-dim {rest}");
    book.unchanged(|book| {
        book.run(&format!("{warm} --cct 2700 --cct-range 1800,3000"))
            .fails(2, "cct-range")
            .says(&["3000 K at full"]);
    });
    book.run(&format!("{warm} --cct 3000 --control colour-desk")).done();
    book.run("advance hall --to rendering")
        .code(1)
        .says(&["how warm it grows as it is dimmed", "no dimmer of the shop; warm-dim light takes one"]);
    book.run(&format!("{warm} --cct-range 1800,3000 --control inline-pwm"))
        .done()
        .says(&["warm-dim 3000 K at full, 1800 K at its lowest"]);
    book.run(&format!("choose hall five --light rgb-tunable-white --cct 4000 --cct-range 2700,6500 --control colour-five {rest}"))
        .done()
        .says(&["deep colours"]);
    book.run_as("imke", "sign-all hall --as client --yes").done();
    book.run("advance hall --to rendering").done();
    // A tape that does not grow as warm, or is of another white at full, is passed over.
    for (range, why) in [("1600,3000", "1600 K to 3000 K"), ("1800,2700", "2700 K")] {
        book.run(&format!("choose hall warm --cct {} --cct-range {range}", &range[5..])).done();
        book.run("plan hall warm --feed-length 4m").code(1).says(&[why]);
    }
    book.run("choose hall warm --cct 3000 --cct-range 1800,3000").done();
    let supply = "--feed-length 4m --driver-at remote --driver-place dry";
    book.run(&format!("plan hall warm {supply}")).done().says(&[
        "warm-dim-24",
        "grows warmer only with a way of dimming",
        "2 conductors",
    ]);
    book.run(&format!("plan hall five {supply}")).done().says(&["rgb-tunable-24", "6 conductors"]);
    release(&book);
    let into = place.path("pack");
    book.run(&format!("pack hall --into {}", into.display())).done();
    let record = std::fs::read_to_string(into.join("pack.json")).expect("the pack has its record");
    let data: serde_json::Value = serde_json::from_str(&record).expect("a pack's record is JSON");
    let circuits = data["data"]["circuits"].as_array().cloned().unwrap_or_default();
    let carried: Vec<Vec<&str>> = circuits
        .iter()
        .map(|circuit| {
            let conductors = circuit["leads"][0]["conductors"].as_array().into_iter().flatten();
            conductors.filter_map(|conductor| conductor["carries"].as_str()).collect()
        })
        .collect();
    assert!(carried.contains(&vec!["common", "white"]), "{carried:?}");
    assert!(carried.contains(&vec!["common", "red", "green", "blue", "warm", "cool"]), "{carried:?}");
    if let Some(kept) = std::env::var_os("UNDERLIT_KEEP_PACKS") {
        crate::workshop::copy_folder(&into, &std::path::Path::new(&kept).join("kinds"));
    }
    book.run("choose hall warm --cct-range 1800,3000 --level 60").done();
    book.run("status hall").says(&["panel light level pct"]);
}

/// By a control pair one control leads its drivers side by side; where the site's code is the NEC, Class 2 is named.
#[test]
fn a_control_pair_is_led_to_each_driver() {
    let place = Place::new();
    let book = place.copy(stages::roster(), "mara");
    open(
        &book,
        "film",
        "panel add hall sky --swatch face --size 2400mmx900mm --faces clear --position overhead",
    );
    book.run("project change hall --mains 120 --code-region nec").done();
    book.run("panel add hall side --swatch face --size 2400mmx900mm --faces clear --position overhead")
        .done();
    book.run("advance hall --to selection").done();
    for panel in ["sky", "side"] {
        book.run(&format!("choose hall {panel} --light static-white --cct 3000 --control ten-volt-wall --face clear --edges 1,3 --volts 24 --mount framed-front"))
            .done();
    }
    book.run_as("imke", "sign-all hall --as client --yes").done();
    book.run("advance hall --to rendering").done();
    for panel in ["sky", "side"] {
        book.run(&format!("plan hall {panel} --feed-length 4m --driver-at remote --driver-place dry")).done();
    }
    release(&book);
    let pages = place.path("pages");
    book.run(&format!("pages {}", pages.display())).done();
    let job = std::fs::read_to_string(pages.join("jobs/hall.html")).expect("the pages have the job");
    for text in
        ["0–10 V, IEC 60929 annex E", "side by side, + to + and − to −", "driver 1", "driver 2", "Class 2"]
    {
        assert!(job.contains(text), "`{text}` is not on the job's page");
    }
    if let Some(kept) = std::env::var_os("UNDERLIT_KEEP_PACKS") {
        let into = std::path::Path::new(&kept).join("pair");
        book.run(&format!("pack hall --into {}", into.display())).done();
    }
}

#[test]
fn an_electrician_finds_inrush_breakers_and_how_a_control_dims() {
    let place = Place::new();
    let book = place.copy(stages::roster(), "mara");
    open(
        &book,
        "film",
        "panel add hall sky --swatch face --size 1200mmx600mm --faces clear --position overhead",
    );
    book.run("advance hall --to selection").done();
    let light = "choose hall sky --light tunable-white --cct 3000 --control tunable-wall --face clear --edges 1,3 --volts 24 --mount framed-front";
    book.unchanged(|book| {
        for (range, why) in [("2700,2900", "outside the range"), ("6000,2700", "below the coolest")] {
            book.run(&format!("{light} --cct-range {range}")).fails(2, "cct-range").says(&[why]);
        }
        book.run("choose hall sky --light static-white --cct 3000 --cct-range 2700,6000")
            .fails(2, "cct-range");
    });
    book.run(&format!("{light} --cct-range 2700,6000 --level 80"))
        .done()
        .says(&["tunable-white 2700 K to 6000 K, on at 3000 K, 80 %"]);
    book.run_as("imke", "sign hall choice --panel sky --yes").done();
    book.run("advance hall --to rendering").done();
    // Another range is another choice.
    book.run("choose hall sky --cct-range 2700,6500").done().says(&["2700 K to 6500 K"]);
    book.run("status hall").says(&["panel light cct range k coolest: 6000 was signed, now 6500"]);
    book.run("choose hall sky --cct-range 2700,6000").done();

    let plan = "plan hall sky --feed-length 4m --driver-at remote --driver-place dry --feed-basis";
    book.run(&format!("{plan} guessed"))
        .done()
        .says(&["tunable-wall switches the light at 1000 Hz, down to 1 %: a camera may show bands"]);
    book.run("advance hall").code(1).says(&["[feed-measured]", "is a guess, 4 m: measure it on site"]);
    book.run(&format!("{plan} measured")).done();
    book.run_as("tom", "sign hall acknowledgement --topic cautions --yes").done();
    book.run_as("tom", "sign hall release --yes").done();
    book.run("advance hall --to released").done();
    let pages = place.path("pages");
    book.run(&format!("pages {}", pages.display())).done();
    let job = std::fs::read_to_string(pages.join("jobs/hall.html")).expect("the pages have the job");
    for text in [
        "inrush 20 A for 200 µs",
        "32 × plain-24-60, of one model alone",
        "one, if nothing else is on it",
        "down to 1 %; switched at 1000 Hz: a camera may show bands",
    ] {
        assert!(job.contains(text), "`{text}` is not on the job's page");
    }
    book.sound();
}
