//! Names, digests and dates: the pattern of the schema takes exactly what the constructor takes.

use jiff::civil::Date;
use serde_json::{Value, json};
use underlit::digest::Sha256Digest;
use underlit::ids::{FileName, LONGEST, check_name};

use crate::files::{schemas, validator};
use crate::walk::parts;

/// Every text of up to four characters that is made of these, and names that are long or that Windows keeps.
fn texts() -> Vec<String> {
    let alphabet = ['a', 'z', '0', '-', '.', '_', '/', '\\', 'A', ' ', 'é'];
    let mut texts = vec![String::new()];
    let mut last = texts.clone();
    for _ in 0..4 {
        last = last.iter().flat_map(|t| alphabet.iter().map(move |c| format!("{t}{c}"))).collect();
        texts.extend(last.iter().cloned());
    }
    for device in
        ["con", "prn", "aux", "nul", "com0", "com9", "lpt1", "com", "lpt", "com10", "console", "comx"]
    {
        for text in [
            device.to_owned(),
            format!("{device}.jpg"),
            format!("a-{device}"),
            format!("{device}-a"),
            device.to_uppercase(),
        ] {
            texts.push(text);
        }
    }
    texts.extend([LONGEST, LONGEST + 1, 100, 101].map(|n| "x".repeat(n)));
    texts
}

#[test]
fn a_name_of_the_schema_is_a_name_of_the_code() {
    let validator = validator("definitions#/$defs/id");
    let mut taken = 0;
    for text in texts() {
        assert_eq!(validator.is_valid(&json!(text)), check_name(&text).is_ok(), "{text:?}");
        taken += usize::from(check_name(&text).is_ok());
    }
    assert!(taken > 50, "only {taken} names were taken");
}

#[test]
fn a_file_name_of_the_schema_is_a_file_name_of_the_code() {
    let validator = validator("definitions#/$defs/file_name");
    for text in texts() {
        assert_eq!(validator.is_valid(&json!(text)), text.parse::<FileName>().is_ok(), "{text:?}");
    }
}

/// What a panel names from the shop's lists must be nameable there and here alike.
#[test]
fn an_id_of_the_shops_lists_is_a_name_like_any_other() {
    let id = &schemas()["definitions"]["$defs"]["id"];
    let mut seen = 0;
    for file in ["routes", "lights", "drivers", "controls", "wire", "calendar"] {
        for part in parts(file).iter().filter(|p| p.pointer.ends_with("/properties/id")) {
            assert_eq!(part.schema["pattern"], id["pattern"], "{}", part.place());
            assert_eq!(part.schema["maxLength"], id["maxLength"], "{}", part.place());
            seen += 1;
        }
    }
    assert!(seen >= 6, "only {seen} ids were found");
}

#[test]
fn a_digest_of_the_schema_is_a_digest_of_the_code() {
    let validator = validator("definitions#/$defs/sha256");
    let right = Sha256Digest::of(b"stone").to_string();
    let wrong = [
        String::new(),
        right[..63].into(),
        format!("{right}0"),
        right.to_uppercase(),
        format!("g{}", &right[1..]),
        format!("{right}\n"),
    ];
    for text in wrong.into_iter().chain([right]) {
        assert_eq!(validator.is_valid(&json!(text)), text.parse::<Sha256Digest>().is_ok(), "{text:?}");
    }
}

/// Years 2000 to 2199 by choice, as a year outside them is a slip of the hand; within them, the calendar decides.
#[test]
fn a_date_of_the_schema_is_a_day_of_the_calendar() {
    let date = validator("definitions#/$defs/date");
    let time = validator("definitions#/$defs/time");
    for year in [206, 1999, 2000, 2001, 2004, 2026, 2027, 2028, 2099, 2100, 2104, 2196, 2199, 2200, 9999_i16]
    {
        for month in 0..=13_i8 {
            for day in 0..=32_i8 {
                let exists = (2000..=2199).contains(&year) && Date::new(year, month, day).is_ok();
                let text = format!("{year:04}-{month:02}-{day:02}");
                assert_eq!(date.is_valid(&json!(text)), exists, "{text}");
                let moment = format!("{text}T09:30:00Z");
                assert_eq!(time.is_valid(&json!(moment)), exists, "{moment}");
            }
        }
    }
    for text in ["2027-1-11", "20270111", "2027-01-11T00:00:00Z", "11.01.2027", " 2027-01-11", "2027-01-11\n"]
    {
        assert!(!date.is_valid(&json!(text)), "{text:?} was taken");
    }
}

/// RFC 3339 section 5.6, narrowed to UTC written as `Z` and to no leap seconds.
#[test]
fn a_time_is_utc_and_nothing_else() {
    let validator = validator("definitions#/$defs/time");
    for text in [
        "2027-01-11T00:00:00Z",
        "2027-01-11T23:59:59Z",
        "2027-01-11T09:30:00.5Z",
        "2027-01-11T09:30:00.123456789Z",
    ] {
        assert!(validator.is_valid(&json!(text)), "{text}");
        assert!(text.parse::<jiff::Timestamp>().is_ok(), "{text}");
    }
    for text in [
        "2027-01-11",
        "2027-01-11T09:30Z",
        "2027-01-11T09:30:00",
        "2027-01-11T24:00:00Z",
        "2027-01-11T09:60:00Z",
        "2027-01-11T09:30:60Z",
        "2027-01-11t09:30:00z",
        "2027-01-11 09:30:00Z",
        "2027-01-11T09:30:00+00:00",
        "2027-01-11T09:30:00.Z",
    ] {
        assert!(!validator.is_valid(&json!(text)), "{text} was taken");
    }
}

#[test]
fn text_that_would_mislead_on_a_screen_is_refused() {
    let (line, text) = (validator("definitions#/$defs/line"), validator("definitions#/$defs/text"));
    for good in ["Quay bar", "é", "石", " indented", "a\u{301}"] {
        assert!(line.is_valid(&json!(good)) && text.is_valid(&json!(good)), "{good:?}");
    }
    let broken = json!("two\nlines\tand a tab");
    assert!(text.is_valid(&broken) && !line.is_valid(&broken));
    for bad in [
        "",
        " ",
        "\t",
        "\n\n",
        "a\u{1b}[2Jb",
        "a\rb",
        "a\u{0}b",
        "a\u{7f}b",
        "a\u{85}b",
        "a\u{202e}b",
        "a\u{2067}b",
    ] {
        let bad = Value::from(bad);
        assert!(!line.is_valid(&bad) && !text.is_valid(&bad), "{bad:?} was taken");
    }
}
