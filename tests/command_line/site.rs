//! What an outline rests on and the very slab, where the shop's rules ask for them; dates beyond the schedule, and parties.

use crate::stages;
use crate::three_people::ThreeClones;
use crate::workshop::{Desk, Place};

/// Has the shop ask two things more, each with a waiver that somebody may sign.
fn asks(book: &Desk, asked: [&str; 2], waivers: [(&str, &str); 2]) {
    let [first, second] = asked;
    book.edit("rules.json", "\"asks\": [", &format!("\"asks\": [\"{first}\", \"{second}\", "));
    let waiver = |(topic, role)| {
        format!(
            "\n    {{ \"view\": \"waiver\", \"topic\": \"{topic}\", \"role\": \"{role}\", \"people\": 1 }},"
        )
    };
    book.edit("rules.json", "\"approvals\": [", &format!("\"approvals\": [{}", waivers.map(waiver).concat()));
    book.run("roster seal").done();
}

#[test]
fn place_and_slab_are_known_before_the_release_or_waived() {
    let place = Place::new();
    let book = place.copy(stages::drawn(), "mara");
    book.run("status quay-desk").done().never_says(&["measured at the place", "slab"]);
    asks(&book, ["measured-on-site", "slab-seen"], [("not-measured", "client"), ("slab-not-seen", "client")]);
    book.run("status quay-desk")
        .done()
        .says(&["panel front was not measured at the place", "its slab is not recorded"]);
    book.run(r#"panel basis quay-desk front drawing --by "the client" --file desk.dwg --revision B"#).done();
    let signed = book.run_as("imke", "sign quay-desk waiver --panel front --topic not-measured --yes").done();
    signed.says(&["file desk.dwg, revision B", "Nobody has measured at the place"]);
    book.run("status quay-desk").done().never_says(&["was not measured at the place"]);
    book.run(r#"panel basis quay-desk front template --by "Quarry Lane Masonry""#).done();
    book.run("status quay-desk --all")
        .done()
        .says(&["panel front rests on a template by Quarry Lane Masonry"]);
    book.run("panel slab quay-desk front --backing mesh").fails(2, "missing-argument");
    book.run("panel slab quay-desk front --lot x --trial nothing").fails(2, "unknown-record");
    book.run("panel slab quay-desk front --lot B-17").done();
    book.run("status quay-desk").done().says(&["no photo and no trial of that very slab"]);
    let photo = place.file("slab.jpg", "a lit slab");
    book.run(&format!("panel slab quay-desk front --photo {photo} --keep-photo-notes --backing none")).done();
    book.run("status quay-desk --all").done().says(&["the slab of panel front, lot B-17, was seen lit"]);
    book.run("show quay-desk panel front").done().says(&["front-slab.jpg", "B-17"]);
    // Another slab is another: the photo of the one before goes with it.
    book.run("panel slab quay-desk front --lot B-18 --another").done();
    assert!(!book.path("projects/quay-desk/panels/front-slab.jpg").exists());
    book.run("trial remove quay-desk warm").done();
    book.run("panel slab quay-desk front --trial neutral --backing none").done();
    book.run("trial remove quay-desk neutral").fails(2, "still-named");
    book.sound();
}

#[test]
fn the_rooms_light_is_asked_before_the_test_panel_and_the_sites_electrics_before_the_release() {
    let place = Place::new();
    let book = place.copy(stages::intake(), "mara");
    let waivers = [("room-light-unknown", "client"), ("electrics-unknown", "engineer")];
    asks(&book, ["room-light", "site-electrics"], waivers);
    book.run("advance quay-desk").code(1).says(&["nobody recorded how light the room is"]);
    let signed = book.run_as("imke", "sign quay-desk waiver --topic room-light-unknown --yes").done();
    signed.says(&["The light in the room is not known"]);
    book.run("advance quay-desk").done().says(&["to sampling"]);
    // Measured after all, there is nothing to waive.
    book.run("project change quay-desk --ambient-lx 250").done();
    book.run("status quay-desk --all").done().says(&["the room has 250 lx around the stone"]);
    book.run_as("imke", "sign quay-desk waiver --topic room-light-unknown --yes").fails(2, "nothing-to-sign");
    let unknown = "not known: the electrical code that governs there, where its driver stands";
    let later = |book: &Desk| book.run("explain electrics-known --project quay-desk").done().stdout;
    assert!(later(&book).contains(unknown), "{}", later(&book));
    book.run_as("tom", "sign quay-desk waiver --panel front --topic electrics-unknown --yes")
        .done()
        .says(&[&format!("built although this is {unknown}")]);
    assert!(!later(&book).contains(unknown), "{}", later(&book));
    book.run(r#"project change quay-desk --electrical-code "local code, 2026 edition""#).done();
    assert!(later(&book).contains("it has changed since"), "{}", later(&book));
    book.sound();
}

#[test]
fn rush_freight_orders_and_agreed_days_stand_in_the_dates() {
    let place = Place::new();
    let book = place.copy(stages::drawn(), "mara");
    let dates = |book: &Desk| book.run("dates quay-desk --json").done().json();
    let plain = dates(&book);
    let built = |dates: &serde_json::Value| {
        let all = dates["routes"][0]["milestones"].as_array().unwrap();
        let of = |word: &str| {
            all.iter().find(|m| m["milestone"] == word).unwrap()["latest"].as_str().unwrap().to_owned()
        };
        (of("released"), of("built"))
    };
    let route = plain["routes"][0]["route"].as_str().unwrap().to_owned();
    // A way to travel that the shop has not is refused; once it is listed, the panels may leave later.
    book.run("project change quay-desk --freight air").fails(2, "unknown-freight");
    book.run(r#"shop freight add air "name=By air" transit_business_days=0"#).done();
    book.run("project change quay-desk --freight air").done();
    let by_air = dates(&book);
    assert!(built(&by_air).1 > built(&plain).1, "{by_air}");
    book.run("project change quay-desk --freight usual").done();
    assert_eq!(built(&dates(&book)), built(&plain));
    // A rush builds in less, so that the release may come later.
    book.run(&format!("shop route change {route} rush_build_business_days=1")).done();
    assert_eq!(built(&dates(&book)), built(&plain), "who asks for no rush has none");
    book.run("project change quay-desk --rush").done();
    assert!(built(&dates(&book)).0 > built(&plain).0);
    book.run("project change quay-desk --no-rush").done();
    // What has a lead time is ordered so much earlier than building begins.
    book.run("swatch change quay-desk alba --slab-lead-days 30").done();
    let with = dates(&book);
    let orders = with["routes"][0]["orders"].as_array().unwrap();
    let stone = orders.iter().find(|o| o["what"] == "stone").unwrap_or_else(|| panic!("{with}"));
    assert_eq!((stone["id"].as_str(), stone["lead_business_days"].as_i64()), (Some("alba"), Some(30)));
    let from = stone["order_by"].as_str().unwrap();
    let counted = book.run(&format!("calc dates --from {from} --business-days 30 --json")).done().json();
    assert!(counted["date"].as_str().unwrap() <= built(&with).0.as_str(), "{counted} {with}");
    // Template and slab hold stand in the calendar, which reminds of them.
    book.run("project change quay-desk --template 2026-10-05 --slab-hold-until 2026-11-30").done();
    let file = place.path("quay.ics");
    book.run(&format!("dates quay-desk --ics {} --remind-days 3", file.display()))
        .done()
        .says(&["take the slab"]);
    let text = std::fs::read_to_string(&file).unwrap().replace("\r\n ", "");
    assert!(text.contains("DTSTART;VALUE=DATE:20261130") && text.contains("quay-desk.slab-hold@"), "{text}");
    assert!(text.contains("quay-desk.ordered-stone-alba@"), "{text}");
    let events = text.matches("BEGIN:VEVENT").count();
    assert_eq!(text.matches("BEGIN:VALARM\r\nACTION:DISPLAY\r\n").count(), events);
    assert_eq!(text.matches("TRIGGER:-P3D\r\nEND:VALARM\r\nEND:VEVENT").count(), events);
    book.sound();
}

#[test]
fn a_release_group_may_have_an_install_date_of_its_own() {
    let place = Place::new();
    let book = place.copy(stages::drawn(), "mara");
    book.run("panel change quay-desk front --quantity 2 --group level-3,level-5").done();
    book.run("project change quay-desk --group-install level-9=2027-06-01").fails(2, "unknown-group");
    book.run("project change quay-desk --group-install level-5=tomorrow").code(2);
    let dates = |more: &str| book.run(&format!("dates quay-desk {more} --json")).done().json();
    let before = dates("");
    assert_eq!(before["groups"], serde_json::json!([]));
    book.run("project change quay-desk --group-install level-5=2027-06-01").done();
    let [whole, three, five] = ["", "--group level-3", "--group level-5"].map(dates);
    assert_eq!(whole["routes"], before["routes"], "the job's own day stays");
    assert_eq!(three["install_date"], whole["install_date"]);
    assert_eq!((&five["install_date"], &five["group"]), (&"2027-06-01".into(), &"level-5".into()));
    let spare = |dates: &serde_json::Value| dates["routes"][0]["spare_business_days"].as_i64().unwrap();
    assert!(spare(&five) > spare(&three), "{five} {three}");
    let groups = whole["groups"].as_array().unwrap();
    assert_eq!((&groups[0]["group"], &groups[1]["group"]), (&"level-3".into(), &"level-5".into()));
    assert_eq!(groups[1]["spare_business_days"].as_i64(), Some(spare(&five)));
    book.run("dates quay-desk").done().says(&["level-5: install 2027-06-01", "to spare; next: "]);
    // Status and board count by the group that has least to spare.
    let status =
        |more: &str| book.run(&format!("status quay-desk {more} --json")).done().json()["dates"].clone();
    let row = || book.run("board --json").done().json()["projects"][0].clone();
    assert_eq!(
        (&status("")["group"], &status("")["install_date"]),
        (&"level-3".into(), &three["install_date"])
    );
    assert_eq!(status("")["spare_business_days"].as_i64(), Some(spare(&three)));
    book.run("project change quay-desk --group-install level-5=2026-12-01").done();
    assert_eq!(
        (&status("")["group"], &status("")["install_date"]),
        (&"level-5".into(), &"2026-12-01".into())
    );
    book.run("status quay-desk").done().says(&["install   2026-12-01 (group level-5)"]);
    let five_first = spare(&dates("--group level-5"));
    assert!(five_first < spare(&three), "{five_first}");
    assert_eq!(
        (&row()["install_date"], row()["spare_business_days"].as_i64()),
        (&"2026-12-01".into(), Some(five_first))
    );
    assert_eq!(status("--group level-3")["spare_business_days"].as_i64(), Some(spare(&three)));
    book.run("project change quay-desk --group-install level-5=2027-06-01").done();
    let file = place.path("five.ics");
    book.run(&format!("dates quay-desk --group level-5 --ics {}", file.display())).done();
    let text = std::fs::read_to_string(&file).unwrap().replace("\r\n ", "");
    assert!(text.contains("quay-desk.level-5.install@") && text.contains("20270601"), "{text}");
    // Another day is one day, and takes no release back: dates are sealed by nobody.
    book.run("project change quay-desk --group-install level-5=2027-07-01").done();
    assert_eq!(dates("")["groups"].as_array().unwrap().len(), 2);
    // Without another day for any of them the job's is every group's.
    book.run("project change quay-desk --group-install level-5=2027-03-15").done();
    assert_eq!(dates("")["groups"], serde_json::json!([]));
    assert_eq!(status("")["group"], serde_json::Value::Null);
    book.sound();
}

/// A job whose groups have a day each needs none of its own: before a guarded remote, in two clones.
#[test]
fn the_days_of_release_groups_stand_for_the_day_of_the_job() {
    let clones = ThreeClones::at(stages::roster());
    let ThreeClones { place, mara, imke, .. } = &clones;
    mara.run(
        r#"open inn --title "Inn" --client imke --engineer tom --site "Quay" --mains 230 --code-region iec"#,
    )
    .done();
    mara.run(r#"swatch add inn alba --stone "White alabaster" --material alabaster --tone white --texture cloudy --thickness 20mm --slab-thickness 20mm"#)
        .done();
    mara.run(
        "panel add inn vanity --swatch alba --size 900mmx450mm --quantity 4 --group level-3=2,level-4=2",
    )
    .done();
    mara.run("advance inn").code(1).says(&["no install date is set", "--install-date YYYY-MM-DD"]);
    mara.run("project change inn --group-install level-4=2027-06-01").done();
    mara.run("advance inn").code(1).says(&[
        "release group level-3 has no install date",
        "underlit project change inn --group-install level-3=YYYY-MM-DD",
    ]);
    mara.run("project change inn --group-install level-3=2027-04-01").done();
    // What is in no group has no day yet.
    mara.run("panel add inn desk --swatch alba --size 900mmx450mm").done();
    mara.run("advance inn")
        .code(1)
        .says(&["panels in no release group have no install date", "--install-date"]);
    mara.run("panel remove inn desk").done();
    mara.run("advance inn").done().says(&["moves from intake to sampling"]);
    mara.run("sync").done();
    imke.run("sync").done();
    imke.run("verify").done();
    let both = "2027-04-01 (level-3), 2027-06-01 (level-4)";
    imke.run("status inn --all").says(&[&format!("to be installed on {both}"), "(group level-3)"]);
    imke.run("dates inn")
        .done()
        .says(&[&format!("install {both}"), "counted for level-3, which presses most"]);
    let answer = imke.run("dates inn --json").done().json();
    assert_eq!((&answer["group"], &answer["install_date"]), (&"level-3".into(), &"2027-04-01".into()));
    assert!(answer["routes"][0]["no_dates"].is_null(), "{answer}");
    let row = imke.run("board --json").done().json()["projects"][0].clone();
    assert_eq!((&row["install_date"], &row["no_dates"]), (&"2027-04-01".into(), &serde_json::Value::Null));

    let file = place.path("inn.ics").display().to_string();
    imke.run(&format!("dates inn --ics {file}")).done();
    let pages = place.path("pages");
    imke.run(&format!("pages {}", pages.display())).done();
    let read = |name: &str| std::fs::read_to_string(pages.join(name)).expect("a page").replace("\r\n ", "");
    for text in
        [std::fs::read_to_string(&file).expect("the calendar").replace("\r\n ", ""), read("calendar.ics")]
    {
        for (group, day) in [("level-3", "20270401"), ("level-4", "20270601")] {
            let event =
                text.split("BEGIN:VEVENT").find(|event| event.contains(&format!("UID:inn.{group}.install@")));
            let event = event.unwrap_or_else(|| panic!("{group}: {text}"));
            assert!(event.contains(&format!("DTSTART;VALUE=DATE:{day}")), "{event}");
            assert!(event.contains(&format!("Inn\\, {group}: install")), "{event}");
        }
        assert!(!text.contains("UID:inn.install@"), "{text}");
    }
    assert!(read("calendar.html").contains(", level-4") && read("load.html").contains(", level-3"));
    assert!(read("jobs/inn.html").contains("Counted for release group level-3"));

    // A day that is taken away again holds the job up; the same for the other clone.
    mara.run("sync").done();
    mara.edit("projects/inn/project.json", r#""group": "level-3""#, r#""group": "level-9""#);
    mara.run("status inn").says(&["release group level-3 has no install date"]);
    mara.git("checkout -q -- .");
    mara.sound();
    imke.sound_for_git();
}

#[test]
fn an_order_ahead_of_approval_is_a_risk_that_the_client_knows() {
    let place = Place::new();
    let book = place.copy(stages::drawn(), "mara");
    book.run("status quay-desk").done().never_says(&["ordered-ahead"]);
    book.run(r#"project change quay-desk --ordered-ahead "slab of lot B-17""#).done();
    book.run("status quay-desk").done().says(&["the acknowledgement `ordered-ahead` is not yet approved"]);
    book.run_as("imke", "sign quay-desk acknowledgement --topic ordered-ahead --yes")
        .done()
        .says(&["- slab of lot B-17, on 2026-09-01", "paid for all the same"]);
    book.run("status quay-desk").done().never_says(&["`ordered-ahead` is not yet approved"]);
    book.sound();
}

#[test]
fn everything_that_waits_for_one_person_is_shown_once_and_signed_together() {
    let place = Place::new();
    let book = place.copy(stages::drawn(), "mara");
    book.run(r#"copy panel quay-desk front back --title "Desk back""#).done();
    let waiting = |who: &'static str| {
        let all = book.run(&format!("next --person {who} --all --json")).done().json();
        all["acts"]
            .as_array()
            .unwrap()
            .iter()
            .filter(|a| a["command"].as_str().unwrap().contains(" sign "))
            .count()
    };
    assert!(waiting("imke") > 1);
    let commits = book.commits();
    let shown = book.run_as("imke", "sign-all quay-desk --dry-run").code(0);
    assert_eq!(book.commits(), commits);
    assert_eq!(
        shown.stdout.matches("stone  White alabaster").count(),
        1,
        "what is alike is shown once: {}",
        shown.stdout
    );
    let signed = book.run_as("imke", "sign-all quay-desk --yes --json").done().json();
    assert!(signed["signatures"].as_array().unwrap().len() > 1, "{signed}");
    assert_eq!(book.commits(), commits + 1, "all or none");
    let again = book.run_as("imke", "sign-all quay-desk --yes").done();
    again.says(&["nothing of quay-desk waits for your signature"]);
    // The release is signed by itself.
    let engineer = book.run_as("tom", "sign-all quay-desk --yes --json").done().json();
    assert!(
        engineer["signatures"].as_array().unwrap().iter().all(|s| s["subject"]["view"] != "release"),
        "{engineer}"
    );
    book.run_as("imke", "sign-all quay-desk --as owner --yes").done().says(&["nothing of quay-desk waits"]);
    book.sound();
}
