//! Sheets and files beside records, pushed by stock git: what is not drawn by the tool, what runs, what no record names.
//! With a guard the push is refused; without one, every other clone stops at its last good state.

use std::fs;

use crate::forgery::{RENDERING, drawn_for_another_height, edit_manifest, harmful, refit};
use crate::scene::{Scene, commit_all};
use crate::stages;
use crate::workshop::Desk;

/// The guard refuses what was just committed; past it, another clone does.
#[track_caller]
fn refused_everywhere(scene: &Scene, other: &Desk, code: &str) {
    let before = scene.tip();
    scene.refuses_head(&scene.mara, code);
    let hook = scene.hub.join("hooks/pre-receive");
    let aside = scene.place.path("pre-receive");
    fs::rename(&hook, &aside).unwrap();
    scene.mara.git("push --quiet origin HEAD:refs/heads/main");
    let head = other.git("rev-parse HEAD");
    other.run("sync").fails(5, "incoming-refused").says(&[&format!("[{code}]")]);
    assert_eq!(other.git("rev-parse HEAD"), head);
    let (hub, before) = (scene.hub.display(), before.trim());
    scene.mara.git(&format!("--git-dir {hub} update-ref refs/heads/main {before}"));
    fs::rename(&aside, &hook).unwrap();
    scene.mara.git(&format!("reset --quiet --hard {before}"));
    scene.mara.git("clean -qfd");
    // What the other clone saw of it goes away with it.
    other.git("update-ref refs/remotes/origin/main HEAD");
}

#[test]
fn a_sheet_drawn_for_another_height() {
    let scene = Scene::of(stages::released());
    let imke = scene.join("imke");
    let [svg, pdf] = drawn_for_another_height(&scene.place, stages::drawn());
    refit(&scene.mara, &svg, &pdf);
    commit_all(&scene.mara, "drawn");
    refused_everywhere(&scene, &imke, "sheet-differs");
}

#[test]
fn a_sheet_that_runs_or_fetches_something() {
    let scene = Scene::of(stages::drawn());
    let imke = scene.join("imke");
    let of = |name: &str| scene.mara.bytes(&format!("{RENDERING}/{name}"));
    let (svg, pdf) = (of("sheet.svg"), of("sheet.pdf"));
    for (what, svg, pdf) in harmful(&svg, &pdf) {
        refit(&scene.mara, &svg, &pdf);
        edit_manifest(&scene.mara, |m| m["drawn_with"] = "9.9.9".into());
        commit_all(&scene.mara, what);
        refused_everywhere(&scene, &imke, "sheet-not-plain");
    }
}

#[test]
fn a_file_that_no_record_names() {
    let scene = Scene::of(stages::released());
    let imke = scene.join("imke");
    for file in [
        &format!("{RENDERING}/sheet-9.svg"),
        &format!("{RENDERING}/other.pdf"),
        "projects/quay-desk/swatches/alba.jpg",
        "projects/quay-desk/panels/front.dxf",
        "projects/quay-desk/trials/warm.jpg",
        "projects/quay-desk/requests/first.pdf",
        "projects/quay-desk/handover/installed.png",
        "projects/quay-desk/conflicts/a.jpg",
    ] {
        scene.mara.write(file, "anything");
        commit_all(&scene.mara, "beside");
        refused_everywhere(&scene, &imke, "unnamed-file");
    }
    // Under the name of the one file that a pack took, and with a manifest that names another.
    let pdf = scene.mara.bytes(&format!("{RENDERING}/sheet.pdf"));
    scene.mara.write(&format!("{RENDERING}/named.pdf"), pdf);
    scene.mara.write(&format!("{RENDERING}/sheet.pdf"), "%PDF-1.7 forged");
    edit_manifest(&scene.mara, |m| m["pdf"]["file"] = "named.pdf".into());
    commit_all(&scene.mara, "renamed");
    refused_everywhere(&scene, &imke, "unnamed-file");
}

#[test]
fn a_file_that_was_brought_and_removed_again_or_named_later() {
    let scene = Scene::of(stages::drawn());
    let mara = &scene.mara;
    let photo = "projects/quay-desk/swatches/alba.jpg";
    mara.write(photo, "pixels");
    commit_all(mara, "photo first");
    let digest = underlit::digest::Sha256Digest::of(b"pixels");
    mara.edit(
        "projects/quay-desk/swatches/alba.json",
        "\n}",
        &format!(",\n  \"photo\": {{\"file\": \"alba.jpg\", \"sha256\": \"{digest}\"}}\n}}"),
    );
    commit_all(mara, "named");
    scene.takes_head(mara);
    mara.write("projects/quay-desk/swatches/b.jpg", "pixels");
    commit_all(mara, "beside");
    mara.git("rm --quiet projects/quay-desk/swatches/b.jpg");
    commit_all(mara, "removed");
    scene.takes_head(mara);
    // A record that no longer names its photo leaves it behind, which stops nobody.
    let text = mara.text("projects/quay-desk/swatches/alba.json");
    let (before, _) = text.split_once(",\n  \"photo\"").unwrap();
    mara.write("projects/quay-desk/swatches/alba.json", format!("{before}\n}}\n"));
    commit_all(mara, "no photo");
    scene.takes_head(mara);
    scene.join("imke").run("sync").done();
}
