//! The pages of a book from outside: the same bytes however they came about, nothing foreign touched, every link leads
//! somewhere, and whatever people wrote is text.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;
use std::process::Stdio;
use std::time::{Duration, Instant};

use serde_json::{Value, json};
use underlit::visible::is_hidden;

use crate::dice::Dice;
use crate::stages::{self, PROJECT};
use crate::workshop::{Desk, Place, program};

type Tree = BTreeMap<String, Vec<u8>>;

fn make(book: &Desk, folder: &Path) -> Value {
    book.run(&format!("pages {} --json", folder.display())).done().json()
}

fn tree(folder: &Path) -> Tree {
    fn walk(root: &Path, at: &str, found: &mut Tree) {
        for entry in fs::read_dir(root.join(at)).unwrap() {
            let entry = entry.unwrap();
            let path = format!("{at}{}", entry.file_name().to_str().unwrap());
            if entry.file_type().unwrap().is_dir() {
                walk(root, &format!("{path}/"), found);
            } else {
                found.insert(path, fs::read(entry.path()).unwrap());
            }
        }
    }
    let mut found = Tree::new();
    walk(folder, "", &mut found);
    found
}

fn text(folder: &Path, page: &str) -> String {
    fs::read_to_string(folder.join(page)).unwrap_or_else(|e| panic!("{page}: {e}"))
}

/// Every address in a page, as it stands between quotes.
fn addresses(page: &str) -> Vec<String> {
    let after = |key: &str| -> Vec<String> {
        let parts = page.split(key).skip(1);
        parts.filter_map(|rest| rest.split('"').next()).map(str::to_owned).collect()
    };
    [" href=\"", " src=\""].into_iter().flat_map(after).collect()
}

/// Every link of every page leads to a file that is there, and to a place that is in it; nothing leads outside.
#[track_caller]
fn all_lead_somewhere(folder: &Path) -> usize {
    let files = tree(folder);
    let mut seen = 0;
    for (path, bytes) in files.iter().filter(|(path, _)| path.ends_with(".html")) {
        let page = std::str::from_utf8(bytes).unwrap();
        for address in addresses(page).iter().filter(|address| *address != "data:,") {
            seen += 1;
            let (file, place) = address.split_once('#').unwrap_or((address, ""));
            let mut at: Vec<&str> = path.split('/').collect();
            at.pop();
            for step in file.split('/').filter(|step| !step.is_empty()) {
                match step {
                    ".." => drop(at.pop().unwrap_or_else(|| panic!("{path}: {address} leads out"))),
                    step => at.push(step),
                }
            }
            let target = if file.is_empty() { path.clone() } else { at.join("/") };
            let found = files.get(&target).unwrap_or_else(|| panic!("{path}: {address} leads nowhere"));
            let id = format!(" id=\"{place}\"");
            assert!(place.is_empty() || String::from_utf8_lossy(found).contains(&id), "{path}: {address}");
        }
        let ids: Vec<&str> = page.split(" id=\"").skip(1).filter_map(|rest| rest.split('"').next()).collect();
        assert_eq!(ids.len(), ids.iter().collect::<BTreeSet<_>>().len(), "{path} names two places alike");
    }
    seen
}

#[test]
fn the_same_book_and_day_give_the_same_bytes_and_what_did_not_change_is_not_judged() {
    let place = Place::new();
    let book = place.copy(stages::released(), "mara");
    let (one, two) = (place.path("one"), place.path("two"));
    book.unchanged(|book| {
        let first = make(book, &one);
        assert_eq!((&first["project_count"], &first["judged_count"]), (&json!(1), &json!(1)), "{first:#}");
        assert_eq!(
            first["written_files"].as_array().unwrap().len(),
            first["file_count"].as_u64().unwrap() as usize
        );
        let again = make(book, &one);
        assert_eq!((&again["judged_count"], &again["written_files"]), (&json!(0), &json!([])), "{again:#}");
        // What is remembered counts only where the files themselves are there.
        assert_eq!(make(book, &two)["judged_count"], 1);
        assert_eq!(tree(&one), tree(&two));
        book.run(&format!("pages {} --dry-run", place.path("none").display())).done();
        assert!(!place.path("none").exists());
        let later = book.run(&format!("pages {} --on 2027-02-05 --json", one.display())).done().json();
        assert_eq!((&later["as_of_date"], &later["judged_count"]), (&json!("2027-02-05"), &json!(1)));
        assert!(text(&one, "index.html").contains("As of 5 February 2027"));
        make(book, &one);
        assert_eq!(tree(&one), tree(&two), "the same day gives the same bytes again");
    });
    assert!(all_lead_somewhere(&one) > 60);
    let list = text(&one, "released.html");
    let proof = book.run("pack quay-desk --prove --json").done().json();
    for said in ["Quay desk", "underlit pack quay-desk --into", proof["now_sha256"].as_str().unwrap()] {
        assert!(list.contains(said), "{said}");
    }
    let page = text(&one, "jobs/quay-desk.html");
    for said in [
        "May be built",
        "ssh-keygen -Y verify -f signers -I tom",
        "Driver schedule",
        "Mains",
        "circuit-1.svg",
    ] {
        assert!(page.contains(said), "{said}");
    }
    assert!(text(&one, "calendar.ics").contains("UID:quay-desk.install@"));
    assert!(text(&one, "people/tom.html").contains("Jobs under way that name you"));
    assert!(text(&one, "index.html").contains("<b>Fabricator</b>, which nobody is,"));
}

#[test]
fn pages_brought_up_to_date_are_those_made_anew_after_any_edit() {
    let place = Place::new();
    let book = place.copy(stages::signed(), "mara");
    book.run(r#"open other-desk --title "The other desk" --client imke --site "Quay office""#).done();
    let (kept, mut dice) = (place.path("kept"), Dice(20_261_128));
    make(&book, &kept);
    let mut opened = 0;
    for round in 0..12 {
        let job = dice.one(&["quay-desk", "other-desk"]);
        let edits = match dice.below(6) {
            0 => book.run(&format!(r#"project change {job} --title "Desk of round {round}""#)).done(),
            1 => book
                .run(&format!("project change {job} --install-date 2027-0{}-15", dice.below(9) + 1))
                .done(),
            2 => book.run(&format!(r#"project change {job} --note "seen in round {round}""#)).done(),
            3 => book.run("choose quay-desk front --cct 3500").done(),
            4 => {
                opened += 1;
                book.run(&format!(r#"open new-{opened} --title "Job {opened}" --client imke --site "Here""#))
                    .done()
            }
            _ => book.run("project change quay-desk --ambient-lx 200").done(),
        };
        drop(edits);
        let made = make(&book, &kept);
        assert!(made["judged_count"].as_u64().unwrap() <= 1, "round {round}: {made:#}");
        let anew = place.path(&format!("anew-{round}"));
        assert_eq!(make(&book, &anew)["judged_count"], made["project_count"]);
        assert_eq!(tree(&kept), tree(&anew), "round {round}");
    }
    // Whatever is remembered by halves, or by another hand, counts for nothing.
    let memory = book.path(".git/underlit/pages/quay-desk");
    let forged = fs::read_to_string(&memory).unwrap().replace("\"released\":false", "\"released\":true");
    fs::write(&memory, forged).unwrap();
    assert_eq!(make(&book, &kept)["judged_count"], 1);
}

#[test]
fn a_job_that_is_handed_over_is_the_same_on_every_day() {
    let place = Place::new();
    let book = place.copy(stages::released(), "mara");
    for act in [
        "built quay-desk front --serial QD-001 --watts 31.4 --volts 24",
        "advance quay-desk",
        r#"installed quay-desk --electrician "licence 4471" --code "local code, 2026 edition" --driver-access "cupboard" --card-kept-at "meter cupboard" --card-access "slide the tray out" --card-contact "the shop""#,
        "advance quay-desk",
    ] {
        book.run(act).done();
    }
    let (folder, anew) = (place.path("pages"), place.path("anew"));
    make(&book, &folder);
    assert!(text(&folder, "done.html").contains("jobs/quay-desk.html"));
    assert!(text(&folder, "jobs/quay-desk.html").contains("QD-001"));
    let on =
        |folder: &Path| book.run(&format!("pages {} --on 2031-02-05 --json", folder.display())).done().json();
    assert_eq!(on(&folder)["judged_count"], 0);
    assert_eq!(on(&anew)["judged_count"], 1);
    assert_eq!(tree(&folder), tree(&anew));
}

#[test]
fn pages_of_jobs_that_are_gone_go_and_one_that_cannot_be_read_says_so() {
    let place = Place::new();
    let book = place.copy(stages::drawn(), "mara");
    book.run(r#"open other-desk --title "The other desk" --client imke --site "Quay office""#).done();
    let folder = place.path("pages");
    make(&book, &folder);
    let sheets = folder.join("jobs/quay-desk");
    assert!(sheets.join("front-1.svg").is_file() && folder.join("jobs/other-desk.html").is_file());
    book.write(&format!("{PROJECT}/panels/front.json"), "{");
    let made = make(&book, &folder);
    assert_eq!(made["unreadable_projects"], json!(["quay-desk"]));
    assert!(text(&folder, "jobs/quay-desk.html").contains("panels/front.json"));
    assert!(text(&folder, "index.html").contains("Cannot be read"));
    assert!(!sheets.exists(), "its drawings are gone with it");
    all_lead_somewhere(&folder);
    fs::remove_dir_all(book.path(PROJECT)).unwrap();
    let made = make(&book, &folder);
    assert_eq!(made["removed_files"], json!(["jobs/quay-desk.html"]));
    assert!(!book.path(".git/underlit/pages/quay-desk").exists());
    let anew = place.path("anew");
    make(&book, &anew);
    assert_eq!(tree(&folder), tree(&anew));
}

#[test]
fn nothing_foreign_is_replaced_or_taken_out() {
    let place = Place::new();
    let book = place.copy(stages::intake(), "mara");
    let pages = |folder: &Path| book.run(&format!("pages {}", folder.display()));
    let foreign = place.path("foreign");
    fs::create_dir(&foreign).unwrap();
    fs::write(foreign.join("mine.txt"), "mine").unwrap();
    pages(&foreign).fails(2, "folder-not-empty");
    assert_eq!(tree(&foreign).len(), 1);
    // The pages of another book, and a list that is none.
    for list in ["{\"book\": \"elsewhere\", \"files\": {}}", "{}", "not JSON"] {
        fs::write(foreign.join("pages.json"), list).unwrap();
        pages(&foreign).fails(2, "folder-not-empty");
    }
    let folder = place.path("pages");
    pages(&folder).done();
    fs::write(folder.join("mine.txt"), "mine").unwrap();
    fs::write(folder.join("index.html"), "mine").unwrap();
    let before = tree(&folder);
    pages(&folder).fails(2, "not-of-the-pages");
    assert_eq!(tree(&folder), before);
    fs::remove_file(folder.join("index.html")).unwrap();
    pages(&folder).done();
    assert_eq!(text(&folder, "mine.txt"), "mine");
    #[cfg(unix)]
    {
        let aside = place.path("aside");
        fs::rename(folder.join("people"), &aside).unwrap();
        std::os::unix::fs::symlink(&aside, folder.join("people")).unwrap();
        pages(&folder).fails(2, "link-in-the-way");
    }
    // A list that names what no page is called has nothing taken out.
    let other = place.path("other");
    pages(&other).done();
    let list = text(&other, "pages.json");
    fs::write(place.path("victim"), "mine").unwrap();
    let digest = underlit::digest::Sha256Digest::of(b"mine");
    for name in ["../victim", "mine.txt", ".git", "jobs/../../victim"] {
        fs::write(other.join("mine.txt"), "mine").unwrap();
        let with = list.replacen("\"files\": {", &format!("\"files\": {{\n    \"{name}\": \"{digest}\","), 1);
        fs::write(other.join("pages.json"), with).unwrap();
        pages(&other).done();
        assert_eq!(text(&other, "../victim"), "mine");
        assert_eq!(text(&other, "mine.txt"), "mine");
    }
}

#[test]
fn a_folder_in_which_a_run_was_killed_is_filled_by_the_next() {
    let place = Place::new();
    let book = place.copy(stages::drawn(), "mara");
    let (folder, whole) = (place.path("pages"), place.path("whole"));
    make(&book, &folder);
    let before = tree(&folder);
    book.run(r#"project change quay-desk --title "Another desk""#).done();
    make(&book, &whole);
    let after = tree(&whole);
    let digest = |tree: &Tree, path: &str| underlit::digest::Sha256Digest::of(&tree[path]).hex();
    let changed: Vec<&String> = after.keys().filter(|path| before.get(*path) != after.get(*path)).collect();
    let changed: Vec<&String> = changed.into_iter().filter(|path| *path != "pages.json").collect();
    assert!(changed.len() > 2);
    // The list says what is coming; so many of the files are there.
    for done in 0..=changed.len() {
        let killed = place.path(&format!("killed-{done}"));
        for (path, bytes) in &before {
            let full = killed.join(path);
            fs::create_dir_all(full.parent().unwrap()).unwrap();
            fs::write(full, bytes).unwrap();
        }
        let mut list: Value = serde_json::from_slice(&before["pages.json"]).unwrap();
        list["before"] = json!({});
        for path in &changed {
            if let Some(was) = list["files"].get(path.as_str()).cloned() {
                list["before"][path.as_str()] = was;
            }
            list["files"][path.as_str()] = json!(digest(&after, path));
        }
        fs::write(killed.join("pages.json"), format!("{list:#}\n")).unwrap();
        fs::write(killed.join(".underlit-writing-x"), "half").unwrap();
        for path in &changed[..done] {
            fs::write(killed.join(path), &after[*path]).unwrap();
        }
        make(&book, &killed);
        let mut now = tree(&killed);
        now.remove(".underlit-writing-x");
        assert_eq!(now, after, "after {done} files");
    }
}

/// The list of a large book's pages is longer than any record may be.
#[test]
fn the_pages_of_a_large_book_are_brought_up_to_date() {
    let place = Place::new();
    let book = place.copy(stages::intake(), "mara");
    let folder = place.path("pages");
    make(&book, &folder);
    let list = folder.join("pages.json");
    let mut listed: Value = serde_json::from_str(&text(&folder, "pages.json")).unwrap();
    for job in 0..14_000 {
        listed["files"][format!("jobs/job-{job:05}.html")] = "0".repeat(64).into();
    }
    fs::write(&list, listed.to_string()).unwrap();
    assert!(fs::metadata(&list).unwrap().len() > 1 << 20);
    let made = make(&book, &folder);
    assert_eq!(
        made["removed_files"].as_array().map(Vec::len),
        Some(14_000),
        "what is not there any more is forgotten"
    );
    assert_eq!(text(&folder, "pages.json").matches("job-").count(), 0);
}

#[test]
fn whatever_people_wrote_is_text() {
    let place = Place::new();
    let book = place.copy(stages::signed(), "mara");
    let evil =
        "</title></script><script>alert(1)</script><img src=x onerror=alert(2)>\"'`a`&lt;\u{202e}gpj\u{200b}";
    let record = format!("{PROJECT}/project.json");
    let mut value: Value = serde_json::from_str(&book.text(&record)).unwrap();
    value["title"] = json!(evil);
    value["site"]["name"] = json!(evil);
    value["note"] = json!(format!("{evil}\n{evil}"));
    book.write(&record, format!("{value:#}\n"));
    let panel = format!("{PROJECT}/panels/front.json");
    let mut value: Value = serde_json::from_str(&book.text(&panel)).unwrap();
    value["title"] = json!(evil);
    value["note"] = json!(evil);
    book.write(&panel, format!("{value:#}\n"));
    let folder = place.path("pages");
    make(&book, &folder);
    all_lead_somewhere(&folder);
    for (path, bytes) in tree(&folder).iter().filter(|(path, _)| path.ends_with(".html")) {
        let page = std::str::from_utf8(bytes).unwrap();
        for no in
            ["<script", "<img src=x", "onerror=alert(2)>", "http:", "https:", "javascript:", " style=\""]
        {
            assert!(!page.contains(no), "{path} has {no}");
        }
        assert!(!page.chars().any(|c| is_hidden(c) && c != '\n'), "{path}");
        assert!(
            page.contains("default-src &#39;none&#39;") && page.contains("script-src &#39;none&#39;"),
            "{path}"
        );
        assert_eq!(page.matches("<title>").count(), 1, "{path}");
    }
    assert!(text(&folder, "index.html").contains("&lt;script&gt;alert(1)&lt;/script&gt;"));
}

/// `watch` sees an edit within its pause, and ends cleanly.
#[test]
#[cfg(unix)]
fn pages_that_are_watched_follow_the_book_until_they_are_told_to_end() {
    let place = Place::new();
    let book = place.copy(stages::intake(), "mara");
    let folder = place.path("pages");
    let mut command = book.command();
    let said = fs::File::create(place.path("said")).unwrap();
    command.args(["pages", "--watch", "--every", "1", "--json"]).arg(&folder);
    let mut child = command.stdout(said).stderr(Stdio::null()).spawn().unwrap();
    let until = |what: &str, there: &dyn Fn() -> bool| {
        let end = Instant::now() + Duration::from_secs(120);
        while !there() {
            assert!(Instant::now() < end, "{what} never came");
            std::thread::sleep(Duration::from_millis(50));
        }
    };
    let lines = || fs::read_to_string(place.path("said")).unwrap().lines().count();
    until("the first pages", &|| lines() == 1);
    book.run(r#"project change quay-desk --title "A desk that is watched""#).done();
    until("the edit", &|| lines() == 2);
    assert!(text(&folder, "index.html").contains("A desk that is watched"));
    assert!(program("kill", "mara").arg(child.id().to_string()).status().unwrap().success());
    assert!(child.wait().unwrap().success());
    for line in fs::read_to_string(place.path("said")).unwrap().lines() {
        assert!(serde_json::from_str::<Value>(line).is_ok(), "{line}");
    }
}
