//! What a push may do to branches and tags: grow the one branch, and put tags on it.

use crate::scene::{Scene, commit_all};
use crate::stages;

#[test]
fn force_pushes_branch_deletes_and_other_names() {
    let scene = Scene::of(stages::intake());
    let Scene { mara, hub, .. } = &scene;
    // Here the guard itself has to see them.
    for key in ["receive.denyDeletes", "receive.denyNonFastForwards", "receive.denyDeleteCurrent"] {
        mara.git(&format!("-C {} config {key} false", hub.display()));
    }
    scene.refuses(mara, "push origin :main", "branch-removed");
    let said = scene.refuses(mara, "push --force origin HEAD~2:refs/heads/main", "history-rewritten");
    assert!(said.contains("leaves out 2 commits") && said.contains("by Mara Quill"), "{said}");
    mara.git("commit --quiet --amend -m other");
    scene.refuses(mara, "push --force origin HEAD:refs/heads/main", "history-rewritten");
    mara.git("reset --quiet --hard origin/main");
    scene.refuses(mara, "push origin HEAD:refs/heads/side", "another-branch");
    scene.refuses(mara, "push origin HEAD:refs/heads/main HEAD:refs/heads/side", "another-branch");
    scene.refuses(mara, "push origin HEAD:refs/notes/x", "another-name");
    scene.refuses(mara, "push origin HEAD~1:refs/replace/x", "another-name");
}

#[test]
fn tags_stay_where_they_are_put() {
    let scene = Scene::of(stages::intake());
    let Scene { mara, hub, .. } = &scene;
    mara.git("tag handed-out HEAD~1");
    mara.git("tag -a noted -m note HEAD");
    let pushed = mara.git_tries("push --quiet origin handed-out noted");
    assert!(pushed.status.success(), "{}", String::from_utf8_lossy(&pushed.stderr));
    scene.refuses(mara, "push origin :refs/tags/noted", "tag-moved");
    scene.refuses(mara, "push --force origin HEAD:refs/tags/handed-out", "tag-moved");
    scene.refuses(mara, "push origin HEAD:refs/tags/Upper", "tag-name");
    scene.refuses(mara, "push origin HEAD:refs/tags/a/b", "tag-name");
    scene.refuses(mara, "push origin HEAD^{tree}:refs/tags/of-a-tree", "tag-elsewhere");
    commit_all(mara, "not on the branch");
    scene.refuses(mara, "push origin HEAD:refs/tags/stray", "tag-elsewhere");
    // With the branch it may go.
    mara.git("tag next HEAD");
    let pushed = mara.git_tries("push --quiet origin main next");
    assert!(pushed.status.success(), "{}", String::from_utf8_lossy(&pushed.stderr));
    let tags = mara.git(&format!("-C {} tag", hub.display()));
    assert_eq!(tags.split_whitespace().collect::<Vec<_>>(), ["handed-out", "next", "noted"]);
}

#[test]
fn a_first_push_brings_the_book_that_was_named() {
    let scene = Scene::unguarded(stages::roster());
    let Scene { place, mara, .. } = &scene;
    let roster = mara.bytes("roster/0001.json");
    let fingerprint = underlit::digest::Sha256Digest::of(&roster);
    let hub = place.path("second.git");
    mara.git(&format!("init --quiet --bare -b trunk {}", hub.display()));
    mara.git(&format!("remote add second {}", hub.display()));
    let install = |more: &str| place.run("mara", &format!("guard install {} {more}", hub.display())).code(0);
    // Nothing is there yet: the branch will be `main`, as books are made.
    install(&format!("--fingerprint {}", "0".repeat(64))).says(&["HEAD     main"]);
    scene.refuses(mara, "push second main", "fingerprint-differs");
    scene.refuses(mara, "push second main:trunk", "another-branch");
    // No book at all.
    let empty = place.path("empty");
    mara.git(&format!("init --quiet -b main {}", empty.display()));
    let empty = crate::workshop::Desk::new(empty, "mara");
    empty.write("README.md", "no book\n");
    commit_all(&empty, "no book");
    scene.refuses(&empty, &format!("push {} main", hub.display()), "roster-missing");
    install(&format!("--fingerprint {fingerprint}"));
    let pushed = mara.git_tries("push second main");
    let said = String::from_utf8_lossy(&pushed.stderr);
    assert!(pushed.status.success(), "{said}");
    assert!(said.contains("the first push") && said.contains(&fingerprint.hex()), "{said}");
    // From now on it holds that book, whatever the setting says.
    let other = place.path("other");
    place
        .run(
            "mara",
            &format!(
                "init {} --id gull --shop Gull --owner mara --owner-name Mara --roles rep --key {}",
                other.display(),
                crate::workshop::private_key("mara")
            ),
        )
        .code(0);
    let other = crate::workshop::Desk::new(other, "mara");
    scene.refuses(&other, &format!("push --force {} main", hub.display()), "history-rewritten");
    other.git(&format!("fetch --quiet {} main", hub.display()));
    other.git("merge --quiet --allow-unrelated-histories -s ours -m both FETCH_HEAD");
    scene.refuses(&other, &format!("push {} main", hub.display()), "another-beginning");
}
