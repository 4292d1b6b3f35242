//! Measurements as they are kept, and everything that is refused before it is.

use image::ExtendedColorType;
use underlit::light::colour::{XYZ_TO_SRGB, times};

use crate::book::Book;
use crate::scene::{BARE, HEIGHT, STONE, WIDTH, body, csv, jpeg, light, photo, pixels, png, png_as};

fn with_photo(book: &Book, name: &str, bytes: &[u8]) -> crate::book::Ran {
    book.put(name, bytes);
    let file = book.file(name).display().to_string();
    book.run(&format!(
        "swatch measure quay honey shot --photo {file} --stone {STONE} --bare {BARE} --panel-light LED-B3"
    ))
}

#[test]
fn a_photo_is_kept_with_what_it_came_to() {
    let book = Book::new();
    with_photo(&book, "a.png", &photo()).done().says(&["estimated from the photo", "vein 18 %"]);
    let m = &book.swatch()["measured"][0];
    let found = &m["found"];
    assert_eq!(found["by"], "photo-midway");
    assert_eq!(found["certainty"], "estimated");
    assert_eq!((m["thickness_mm"].as_f64(), m["panel_cct_k"].as_u64()), (Some(10.0), Some(4103)));
    let truth = body().luminous(&light("LED-B3"));
    let luminous = found["luminous"].as_f64().expect("a number");
    assert!((luminous / truth - 1.0).abs() < 0.02, "{luminous} for {truth}");
    for (i, nm) in (400..=700).step_by(20).enumerate() {
        let at = |key: &str| found[key][i].as_f64().expect("a number");
        assert!(at("body_low") <= at("body") && at("body") <= at("body_high"), "{nm}");
    }
    book.run("check").done();
    book.run("swatch remove quay honey").done();
    assert!(!book.file("book/projects/quay/swatches/honey-shot-photo.png").exists(), "its files go with it");
}

#[test]
fn a_second_frame_with_the_bare_panel_and_a_known_exposure_tells_the_same() {
    let book = Book::new();
    let panel = light("LED-B3");
    book.put("stone.png", &png(&pixels(&panel, 2.0)));
    book.put("bare.png", &png(&pixels(&panel, 0.5)));
    let (stone, bare) = (book.file("stone.png"), book.file("bare.png"));
    let line = format!(
        "swatch measure quay honey two --photo {} --stone {STONE} --bare {BARE} --panel-light LED-B3 --bare-photo {}",
        stone.display(),
        bare.display()
    );
    book.run(&line).refused(3, "photo-exposure-unknown");
    book.run(&format!("{line} --exposure-ratio 4")).done();
    let found = book.swatch()["measured"][0]["found"]["luminous"].as_f64().expect("a number");
    let truth = body().luminous(&panel);
    assert!((found / truth - 1.0).abs() < 0.03, "{found} for {truth}");
}

/// `chart.png` is made: the chart of colour-science 0.4.7 under LED-B3 by a camera that sees as the observer does.
#[test]
fn a_chart_narrows_the_range_and_is_kept_with_the_photo() {
    let book = Book::new();
    book.put("a.png", &photo());
    book.put("chart.png", include_bytes!("chart.png"));
    let (file, chart) = (book.file("a.png").display().to_string(), book.file("chart.png"));
    let line = |name: &str, more: &str| {
        format!(
            "swatch measure quay honey {name} --photo {file} --stone {STONE} --bare {BARE} --panel-light LED-B3 {more}"
        )
    };
    book.run(&line("plain", "")).done();
    let with = format!("--chart-photo {} --chart", chart.display());
    book.run(&line("half", &format!("{with} 0,0,60,80"))).refused(3, "photo-chart-other");
    book.run(&line("three", &format!("{with} 0,0~120,0~60,80"))).refused(3, "photo-chart-area");
    book.run(&line("charted", &format!("{with} 0,0,120,80"))).done();
    let swatch = book.swatch();
    let width = |m: usize| {
        let found = &swatch["measured"][m]["found"];
        let at = |key: &str, i: usize| found[key][i].as_f64().expect("a number");
        (0..16).map(|i| (at("body_high", i) / at("body_low", i)).ln()).sum::<f64>()
    };
    assert!(width(1) < 0.98 * width(0), "{} {}", width(1), width(0));
    let reading = &swatch["measured"][1]["photo"];
    assert_eq!(
        (&reading["chart"], &reading["chart_picture"]["file"]),
        (&"0,0,120,80".into(), &"honey-charted-chart.png".into())
    );
    book.run("look quay honey --measurement charted").done().says(&["a chart telling what the camera does"]);
    book.run("check").done();
    std::fs::write(book.file("book/projects/quay/swatches/honey-charted-chart.png"), b"x").expect("written");
    book.run("look quay honey --measurement charted").refused(3, "attachment-differs");
}

/// A ruler in the photo, and a second photo of the same arrangement, which is picked where the first was.
#[test]
fn a_scale_mark_is_kept_and_shown_and_places_are_proposed_again() {
    let book = Book::new();
    book.put("a.png", &photo());
    let file = book.file("a.png").display().to_string();
    let line = |scale: &str| {
        format!(
            "swatch measure quay honey shot --photo {file} --stone {STONE} --bare {BARE} --panel-light LED-B3 {scale}"
        )
    };
    for wrong in ["5,5~9,9", "5,5", "5,5~400,5", "5,x~90,5"] {
        book.run(&line(&format!("--scale {wrong} --scale-length 50mm"))).refused(2, "scale-mark");
    }
    book.run(&line("--scale 10,150~130,150 --scale-length 60mm")).done();
    let kept = &book.swatch()["measured"][0]["photo"];
    assert_eq!((&kept["scale_mark"], &kept["scale_mm"]), (&"10,150 130,150".into(), &60.into()));
    let pick = format!(
        "swatch measure quay honey second --panel-light LED-B2 --pick {file} --page pick.html --json"
    );
    let pick = book.run(&pick).done().json();
    let place = |text: &str| text.split(',').map(|n| n.parse::<u64>().expect("a number")).collect::<Vec<_>>();
    assert_eq!(pick["pick"]["stone_px"], serde_json::json!(place(STONE)), "{pick}");
    assert_eq!(pick["pick"]["bare_px"], serde_json::json!(place(BARE)), "{pick}");
    assert!(
        pick["remarks"][0].as_str().is_some_and(|r| r.contains("where measurement shot has them")),
        "{pick}"
    );
    let into = book.file("looks").display().to_string();
    book.run(&format!("look quay honey --cct 3000,4000 --into {into}")).done();
    let sheet = |name: &str| {
        let bytes = std::fs::read(book.file(&format!("looks/quay-honey-{name}.png"))).expect("a sheet");
        image::load_from_memory(&bytes).expect("a picture").to_rgb8()
    };
    let (dark, light) = (sheet("sheet"), sheet("sheet-print"));
    assert_eq!(dark.dimensions(), light.dimensions());
    assert!(dark.get_pixel(2, 2).0[0] < 60 && light.get_pixel(2, 2).0 == [255; 3], "its ground");
}

/// Linear values in place of the photo: the same stone, without its pixels.
#[test]
fn a_table_of_linear_values_tells_what_a_photo_tells() {
    let book = Book::new();
    let panel = light("LED-B3");
    let linear = |stone: Option<&underlit::light::spectrum::Transmittance>| {
        let xyz = stone.map_or_else(|| panel.xyz(), |stone| panel.xyz_through(stone));
        let [r, g, b] = times(XYZ_TO_SRGB, xyz).map(|v| v * 9000.0 / panel.xyz()[1] + 512.0);
        format!("{r:.0},{g:.0},{b:.0}\n")
    };
    let table = format!(
        "part,red,green,blue\ndark,512,512,512\nbare,{}stone,{}",
        linear(None),
        linear(Some(&body()))
    );
    book.put("raw.csv", table.as_bytes());
    book.put("torn.csv", table.replace("stone", "slab").as_bytes());
    let line = |file: &str| {
        let file = book.file(file);
        format!("swatch measure quay honey raw --values {} --panel-light LED-B3", file.display())
    };
    book.run(&line("torn.csv")).refused(3, "photo-values").says(&["torn.csv:4", "stone, bare, dark"]);
    book.run(&line("raw.csv")).done().says(&["estimated from the values"]);
    let found = book.swatch()["measured"][0]["found"]["luminous"].as_f64().expect("a number");
    let truth = body().luminous(&panel);
    assert!((found / truth - 1.0).abs() < 0.01, "{found} for {truth}");
    book.run("look quay honey --cct 3000,4000").done().says(&["a camera's linear values over LED-B3"]);
    book.run("check").done();
    book.run("swatch remove quay honey").done();
    assert!(!book.file("book/projects/quay/swatches/honey-raw-values.csv").exists(), "its file goes with it");
}

#[test]
fn pictures_that_tell_nothing_are_refused_in_words() {
    let book = Book::new();
    let panel = light("LED-B3");
    let good = pixels(&panel, 1.0);
    let deep: Vec<u8> = good.iter().flat_map(|v| [*v, *v]).collect();
    let grey: Vec<u8> = good.chunks_exact(3).map(|p| p[1]).collect();
    let clear: Vec<u8> = good.chunks_exact(3).flat_map(|p| [p[0], p[1], p[2], 128]).collect();
    // Every second pixel 60 steps darker.
    let noisy: Vec<u8> = good
        .iter()
        .enumerate()
        .map(|(i, v)| if i / 3 % 2 == 0 { v.saturating_sub(60) } else { v.saturating_add(10).min(250) })
        .collect();
    for (name, bytes, code) in [
        ("clipped.png", png(&pixels(&panel, 1.5)), "photo-bare-clipped"),
        ("dark.png", png(&pixels(&panel, 0.01)), "photo-bare-dark"),
        ("noisy.png", png(&noisy), "photo-noisy"),
        ("deep.png", png_as(&deep, ExtendedColorType::Rgb16), "picture-16-bit"),
        ("grey.png", png_as(&grey, ExtendedColorType::L8), "picture-no-colour"),
        ("clear.png", png_as(&clear, ExtendedColorType::Rgba8), "picture-transparent"),
        ("cmyk.jpg", cmyk(), "picture-cmyk"),
        ("huge.png", claiming(&png(&good), 10_000, 10_000), "picture-too-large"),
        ("cut.jpg", jpeg(&good, WIDTH, HEIGHT)[..2000].to_vec(), "picture-broken"),
        ("words.png", b"no picture at all".to_vec(), "picture-format"),
    ] {
        with_photo(&book, name, &bytes).refused(3, code);
    }
    assert!(book.swatch().get("measured").is_none(), "nothing of it was kept");
}

#[test]
fn places_that_are_no_stone_or_no_panel_are_refused() {
    let book = Book::new();
    book.put("a.png", &photo());
    let file = book.file("a.png").display().to_string();
    for (stone, bare, exit, code) in [
        (STONE, "12,4,26,152", 3, "photo-no-panel"),
        (STONE, "100,4,132,152", 3, "photo-bare-uneven"),
        (BARE, STONE, 3, "photo-"),
        (STONE, "200,4,64,152", 3, "photo-bare-area"),
        ("0,0,5,5", BARE, 3, "photo-stone-area"),
        ("left~half", BARE, 2, "area-unreadable"),
    ] {
        let line = format!(
            "swatch measure quay honey x --photo {file} --stone {stone} --bare {bare} --panel-light LED-B3"
        );
        let ran = book.run(&line);
        assert!(ran.err.contains(&format!("[{code}")), "{stone} {bare}: {}", ran.err);
        assert_eq!(ran.code, exit, "{stone} {bare}: {}", ran.err);
    }
    let line = format!("swatch measure quay honey x --photo {file} --stone {STONE} --bare {BARE}");
    book.run(&line).refused(2, "missing-argument").says(&["panel's light"]);
    book.run(&format!("{line} --panel-light moonlight")).refused(2, "light-unknown");
    book.run(&format!("{line} --panel-cct 1500")).refused(2, "no-typical-white");
}

/// A picture taken upright, stored on its side, with the note that says so: places count on the upright picture.
#[test]
fn a_photo_stored_on_its_side_is_turned_upright() {
    let book = Book::new();
    let upright = pixels(&light("LED-B3"), 1.0);
    // Stored so that turning it a quarter clockwise makes it upright: orientation 6.
    let mut stored = Vec::with_capacity(upright.len());
    for row in 0..WIDTH {
        for column in 0..HEIGHT {
            let at = (column * WIDTH + (WIDTH - 1 - row)) * 3;
            stored.extend_from_slice(&upright[at..at + 3]);
        }
    }
    let plain = jpeg(&stored, HEIGHT, WIDTH);
    let mut noted = plain[..2].to_vec();
    let tiff: &[u8] = b"MM\0*\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01\0\x06\0\0\0\0\0\0";
    noted.extend([0xFF, 0xE1]);
    noted.extend(u16::to_be_bytes(2 + 6 + tiff.len() as u16));
    noted.extend(b"Exif\0\0");
    noted.extend(tiff);
    noted.extend(&plain[2..]);
    with_photo(&book, "side.jpg", &noted).done().says(&["turned upright", "vein"]);
    let found = book.swatch()["measured"][0]["found"]["luminous"].as_f64().expect("a number");
    let truth = body().luminous(&light("LED-B3"));
    assert!((found / truth - 1.0).abs() < 0.03, "{found} for {truth}");
}

/// A PNG whose header claims another size, with its check sum right (PNG, third edition, 5.5 and annex D).
fn claiming(png: &[u8], width: u32, height: u32) -> Vec<u8> {
    let mut bytes = png.to_vec();
    bytes[16..20].copy_from_slice(&width.to_be_bytes());
    bytes[20..24].copy_from_slice(&height.to_be_bytes());
    let sum = !bytes[12..29].iter().fold(u32::MAX, |crc, byte| {
        (0..8).fold(crc ^ u32::from(*byte), |c, _| if c & 1 == 1 { (c >> 1) ^ 0xEDB8_8320 } else { c >> 1 })
    });
    bytes[29..33].copy_from_slice(&sum.to_be_bytes());
    bytes
}

/// A JPEG's frame of four components; the decoder would turn it into RGB without a word.
fn cmyk() -> Vec<u8> {
    let mut bytes = jpeg(&pixels(&light("LED-B3"), 1.0), WIDTH, HEIGHT);
    let frame = bytes.windows(2).position(|p| p == [0xFF, 0xC0]).expect("a baseline frame");
    bytes[frame + 9] = 4;
    bytes
}

#[test]
fn lux_readings_tell_brightness_and_refuse_colour() {
    let book = Book::new();
    book.run("swatch measure quay honey swapped --bare-lx 100 --through-lx 1000")
        .refused(2, "lux-more-through");
    book.run("swatch measure quay honey off --bare-lx 0 --through-lx 0").refused(2, "lux-panel-dark");
    book.run("swatch measure quay honey less --bare-lx 100 --through-lx=-1").refused(2, "lux-not-a-reading");
    book.run("swatch measure quay honey meter --bare-lx 1000 --through-lx 100 --panel-cct 3000")
        .done()
        .says(&["10 % of the light passes", "never its colour"]);
    let answer = book.run("look quay honey --exitance 2000 --json").json();
    assert!(answer["colour_refused"].as_str().is_some_and(|why| why.contains("never its colour")));
    assert_eq!(answer["predictions"].as_array().map(Vec::len), Some(0));
    // 2000 lx × 0.10 / π = 63.66 cd/m² against 200 lx × 0.5 / π = 31.83 cd/m² (Lambertian, CIE S 017).
    let only = &answer["brightness"];
    assert!(
        (only["stone_luminance_cd_m2"]["low"].as_f64().expect("a number") - 63.66).abs() < 0.01,
        "{only}"
    );
    assert!((only["ratio"]["low"].as_f64().expect("a number") - 2.0).abs() < 0.001, "{only}");
    book.run("look quay honey --into out").done().says(&["no colour is predicted", "no contact sheet"]);
}

#[test]
fn spectra_with_faults_are_refused_with_their_line() {
    let book = Book::new();
    let measure = |text: &str| {
        book.put("s.csv", text.as_bytes());
        book.run(&format!("swatch measure quay honey s --spectrum {}", book.file("s.csv").display()))
    };
    let rows = |value: fn(usize) -> String, step: usize| -> String {
        (380..=780)
            .step_by(step)
            .fold("nm,t\n".to_owned(), |text, nm| text + &format!("{nm},{}\n", value(nm)))
    };
    for (text, code) in [
        (rows(|nm| format!("{}", nm / 20), 5), "spectrum-percent"),
        (rows(|_| "-0.2".into(), 5), "spectrum-negative"),
        (rows(|_| "0.2".into(), 20), "spectrum-gap"),
        (rows(|_| "none".into(), 5), "spectrum-not-a-number"),
        ("nm,t\n500,0.1\n490,0.1\n510,0.1\n".into(), "spectrum-order"),
        (
            (380..=780).rev().step_by(5).fold("nm,t\n".to_owned(), |text, nm| text + &format!("{nm},0.2\n")),
            "spectrum-order",
        ),
        (String::new(), "spectrum-empty"),
    ] {
        let ran = measure(&text);
        assert_eq!(ran.code, 3, "{code}: {}{}", ran.out, ran.err);
        assert!(ran.err.contains(&format!("[{code}")), "{code}: {}", ran.err);
        assert!(ran.err.contains("s.csv") && ran.err.contains("Fix: "), "{}", ran.err);
    }
}

#[test]
fn a_file_of_several_thicknesses_is_taken_column_by_column() {
    let book = Book::new();
    let thick: Vec<f64> = body().values().iter().map(|t| t * t).collect();
    book.put("s.csv", &csv(&[("transmittance_10mm", body().values()), ("transmittance_20mm", &thick)]));
    let file = book.file("s.csv").display().to_string();
    let line = format!("swatch measure quay honey ten --spectrum {file}");
    book.run(&line).refused(2, "several-stones").says(&["transmittance_20mm"]);
    book.run(&format!("{line} --column transmittance_30mm")).refused(2, "no-such-column");
    book.run(&format!("{line} --column transmittance_10mm --thickness 12mm"))
        .refused(2, "thickness-contradiction");
    book.run(&format!("{line} --column transmittance_10mm")).done();
    book.run(&format!("swatch measure quay honey twenty --spectrum {file} --column transmittance_20mm"))
        .done();
    assert_eq!(book.swatch()["measured"][1]["thickness_mm"], 20);
    book.run("swatch change quay honey --slab-thickness 15mm").done();
    let answer = book.run("look quay honey --cct 4000 --json").json();
    assert!(answer["basis"].as_str().is_some_and(|b| b.contains("10 mm and 20 mm")), "{}", answer["basis"]);
    assert_eq!(answer["measured"]["kind"], "spectrum");
}
