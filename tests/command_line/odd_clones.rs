//! Clones that somebody made, moved or filled in an unusual way, from outside: what works, works; what cannot is refused
//! with what is wrong and what to type, and nothing is lost.

use std::fs;
use std::os::unix::ffi::OsStringExt as _;
use std::os::unix::fs::{PermissionsExt as _, symlink};
use std::path::PathBuf;

use crate::stages::{self, PROJECT};
use crate::workshop::{Desk, Place};

const RECORD: &str = "projects/quay-desk/project.json";

/// A book that was sent to a bare repository beside it.
fn sent() -> (Place, Desk, PathBuf) {
    let place = Place::new();
    let desk = place.copy(stages::intake(), "mara");
    let hub = place.path("hub.git");
    desk.git(&format!("init -q --bare -b main {}", hub.display()));
    desk.git(&format!("remote add origin {}", hub.display()));
    desk.run("sync").done();
    (place, desk, hub)
}

/// A clone made by stock git, with these arguments.
fn cloned(place: &Place, from: &std::path::Path, name: &str, how: &str) -> Desk {
    let at = place.path(name);
    let some = Desk::new(place.path(""), "mara");
    some.git(&format!("clone -q {how} {} {}", from.display(), at.display()));
    let desk = Desk::new(at, "mara");
    desk.run("me mara").code(0);
    desk
}

fn edit(desk: &Desk, title: &str) {
    let text = desk.text(RECORD);
    let old = text.split("\"title\": \"").nth(1).unwrap().split('"').next().unwrap().to_owned();
    desk.edit(RECORD, &format!("\"title\": \"{old}\""), &format!("\"title\": \"{title}\""));
}

#[test]
fn worktrees_submodules_borrowed_objects_and_packed_names_work() {
    let (place, book, hub) = sent();
    // A worktree of its own branch, linked to the same clone.
    let linked = place.path("linked");
    book.git(&format!("worktree add -q -b elsewhere {}", linked.display()));
    let linked = Desk::new(linked, "mara");
    edit(&linked, "Linked desk");
    linked.run("sync --offline").code(0).says(&["took in 1 edit made by hand"]);
    linked.sound();
    assert!(!book.text(RECORD).contains("Linked"), "the other worktree stays where it is");
    book.git(&format!("worktree remove --force {}", linked.at.display()));
    // Names packed into one file, objects borrowed from another clone.
    book.git("pack-refs --all");
    book.git("gc -q");
    let borrowed = cloned(&place, &book.at, "borrowed", "--shared");
    borrowed.git(&format!("remote set-url origin {}", hub.display()));
    edit(&borrowed, "Borrowed desk");
    borrowed.run("sync").done().says(&["sent"]);
    book.run("sync").done();
    assert!(book.text(RECORD).contains("Borrowed desk"));
    book.sound();
    // The book as a submodule of somebody's own repository.
    let outer = Desk::new(place.path("outer"), "mara");
    fs::create_dir_all(&outer.at).unwrap();
    outer.git("init -q -b main");
    outer.git(&format!("-c protocol.file.allow=always submodule add -q {} book", hub.display()));
    let inner = Desk::new(outer.path("book"), "mara");
    inner.run("me mara").code(0);
    edit(&inner, "Inner desk");
    inner.run("sync").done().says(&["sent"]);
    inner.sound();
    outer.run("board").fails(2, "not-a-book");
    // A clone that turns line ends, against the book's attributes.
    let turned = cloned(&place, &hub, "turned", "-c core.autocrlf=true");
    edit(&turned, "Turned desk");
    turned.run("sync").done();
    assert!(!turned.text(RECORD).contains('\r'));
    turned.sound();
}

#[test]
fn what_cannot_be_worked_in_says_so() {
    let (place, book, hub) = sent();
    let bare = Desk::new(hub.clone(), "mara");
    for line in ["status quay-desk", "sync", "check"] {
        bare.run(line).fails(2, "bare-repository").says(&["underlit join ", "nobody works in it"]);
    }
    // A part of the book only: what is not checked out is not taken out.
    let part = cloned(&place, &hub, "part", "");
    part.git("sparse-checkout set --no-cone /* !/projects/quay-desk/swatches");
    assert!(part.names(&format!("{PROJECT}/swatches"), ".json").is_empty());
    edit(&part, "Part of a desk");
    for line in ["sync", "swatch change quay-desk alba --lot B-17"] {
        part.run(line).fails(6, "git-sparse").says(&["git sparse-checkout disable"]);
    }
    part.git("sparse-checkout disable");
    part.run("sync").done();
    book.run("sync").done();
    book.sound();
    assert_eq!(book.names(&format!("{PROJECT}/swatches"), ".json"), ["alba.json"]);
    // Forms of a repository that the library does not read; where this git knows them.
    for (option, remedy) in [
        ("ref-format=reftable", "git refs migrate --ref-format=files"),
        ("object-format=sha256", "git init --object-format=sha1"),
    ] {
        let name = option.split('=').next_back().unwrap();
        let other = Desk::new(place.path(name), "mara");
        fs::create_dir_all(&other.at).unwrap();
        if !other.git_tries(&format!("init -q -b main --{option}")).status.success() {
            continue;
        }
        let copied = std::process::Command::new("cp")
            .arg("-r")
            .args(
                ["book.json", "rules.json", "roster", "shop", "schema", "projects", ".gitattributes"]
                    .map(|f| book.path(f)),
            )
            .arg(&other.at)
            .status();
        assert!(copied.unwrap().success());
        other.git("add -A");
        other.git("commit -q -m book");
        other.run("status quay-desk").code(0);
        for line in ["sync", "swatch change quay-desk alba --lot B-17"] {
            other.run(line).fails(6, "git-format").says(&[remedy, name]);
        }
    }
}

#[test]
fn names_links_and_attributes_that_no_book_may_have_are_neither_sent_nor_taken() {
    let (place, book, hub) = sent();
    let other = cloned(&place, &hub, "other", "");
    let alba = format!("{PROJECT}/swatches/alba.json");
    let upper = format!("{PROJECT}/swatches/Alba.json");
    // A name in other letters, by hand and then committed past the tool.
    book.git(&format!("mv {alba} {upper}"));
    book.run("sync").fails(3, "not-of-a-book").says(&["Alba.json"]);
    book.git("commit -q -m case");
    book.run("sync").fails(3, "not-of-a-book").says(&["Alba.json", "give it its right name"]);
    book.git("reset -q --hard HEAD~1");
    // A link in the place of a record; pushed with git, the others do not take it.
    let away = place.file("away.json", book.text(RECORD));
    fs::remove_file(book.path(RECORD)).unwrap();
    symlink(&away, book.path(RECORD)).unwrap();
    book.run("sync").fails(3, "not-a-file").says(&["put the file itself there"]);
    book.git("commit -q -a -m link");
    book.run("sync").fails(3, "unsent-refused").says(&["[unsafe-path]", "--drop-refused"]);
    book.git("push -q");
    let head = other.git("rev-parse HEAD");
    other.run("sync").fails(5, "incoming-refused").says(&["[unsafe-path]", "mara"]);
    assert_eq!(other.git("rev-parse HEAD"), head);
    book.git("reset -q --hard HEAD~1");
    book.git("push -q -f");
    other.git("fetch -q");
    // Attributes with which git would write other bytes than were signed.
    book.write(".gitattributes", "* -text\n*.json text eol=crlf\n");
    for line in ["check", "sync"] {
        book.run(line).code(5).says(&["[bytes-changed]", "keep `* -text`"]);
    }
    book.git("commit -q -a -m attributes");
    book.run("sync").code(5).says(&["[bytes-changed]"]);
    book.git("push -q");
    other.run("sync").code(5).says(&["[incoming-refused]", "[bytes-changed]"]);
    book.git("reset -q --hard HEAD~1");
    book.git("push -q -f");
    other.git("fetch -q");
    // One that is no text, and twins on a disk that ignores case.
    let strange = book.at.join(PROJECT).join(std::ffi::OsString::from_vec(b"photo-\xff.jpg".to_vec()));
    fs::write(&strange, "x").unwrap();
    book.run("sync").fails(6, "git-bad-path").says(&["is not UTF-8", "rename or remove the file"]);
    fs::remove_file(&strange).unwrap();
    book.write(&format!("{PROJECT}/swatches/ALBA.json"), book.text(&alba));
    book.run("check").code(3).says(&["[unsafe-path]"]);
    book.run("sync").fails(3, "not-of-a-book");
    fs::remove_file(book.path(&format!("{PROJECT}/swatches/ALBA.json"))).unwrap();
    // The right to run a file, which some disks give to every photo, is no edit, and nobody gets it.
    let jpg = place.file("alba.jpg", b"\xff\xd8\xff pixels");
    book.run(&format!("swatch change quay-desk alba --photo {jpg} --keep-photo-notes")).done();
    let photo = format!("{PROJECT}/swatches/alba.jpg");
    for file in [RECORD, &photo] {
        fs::set_permissions(book.path(file), fs::Permissions::from_mode(0o755)).unwrap();
    }
    book.run("sync").done().says(&["sent"]).never_says(&["made by hand"]);
    book.run("sync").done().says(&["nothing new on either side"]);
    assert!(!book.git("ls-tree -r HEAD").contains("100755"));
    other.run("sync").done();
    other.sound();
}

#[test]
fn two_remotes_a_branch_taken_away_and_clocks_that_run_wild() {
    let (place, book, hub) = sent();
    let second = place.path("second.git");
    book.git(&format!("init -q --bare -b main {}", second.display()));
    book.git(&format!("remote add backup {}", second.display()));
    // The branch follows the first; the other is named.
    edit(&book, "Once");
    book.run("sync").done().says(&["origin/main: sent"]);
    book.run("sync --remote backup").done().says(&["backup/main: sent"]);
    let at = |hub: &std::path::Path| book.git(&format!("--git-dir {} rev-parse main", hub.display()));
    assert_eq!(at(&hub), at(&second));
    book.git("branch --set-upstream-to origin/main");
    // Taken away, then turned back: each is said, and what was lost is there again.
    book.git(&format!("--git-dir {} update-ref -d refs/heads/main", hub.display()));
    edit(&book, "Twice");
    book.run("sync").code(0).says(&["the remote was rewritten: it had lost", "has sent them back"]);
    assert_eq!(at(&hub), book.git("rev-parse HEAD"));
    book.git(&format!("--git-dir {} update-ref refs/heads/main main~1", hub.display()));
    book.run("sync").code(0).says(&["it had lost 1 commit", "has sent them back"]);
    assert_eq!(at(&hub), book.git("rev-parse HEAD"));
    // A clock long past and one far ahead.
    let other = cloned(&place, &hub, "other", "");
    edit(&book.clone(), "Past");
    book.on("1999-01-01").run("sync").done();
    other.on("2099-01-01").run("swatch change quay-desk alba --lot P-1").done();
    other.on("2099-01-01").run("sync").done().says(&["merged and sent"]);
    book.run("sync").done();
    assert!(book.text(RECORD).contains("Past"));
    assert!(book.text(&format!("{PROJECT}/swatches/alba.json")).contains("P-1"));
    book.sound();
}
