//! The roster: only what its owners signed follows, one version at a time, and never back.

use serde_json::{Value, json};
use underlit::digest::Sha256Digest;

use crate::forgery::{bytes, signature};
use crate::scene::{Scene, commit_all};
use crate::stages;
use crate::workshop::{Desk, public_key};

/// Lays a roster version, signed by a person under their own name, and commits it.
fn lay(desk: &Desk, number: u32, value: &Value, signer: &str) {
    let bytes = bytes(value);
    desk.write(&format!("roster/{number:04}.json"), &bytes);
    desk.write(&format!("roster/{number:04}.{signer}.sig"), signature(signer, "underlit-roster", &bytes));
    commit_all(desk, "roster");
}

/// The version after the newest of a prepared roster, which has three.
fn next(desk: &Desk) -> Value {
    let newest = desk.bytes("roster/0003.json");
    let mut value: Value = serde_json::from_slice(&newest).unwrap();
    value["version"] = json!(4);
    value["previous"] = json!(Sha256Digest::of(&newest).hex());
    value["reason"] = json!("by hand");
    value
}

#[test]
fn a_role_that_somebody_gives_themselves_in_the_same_push() {
    let scene = Scene::of(stages::signed());
    let tom = scene.join("tom");
    let head = tom.git("rev-parse HEAD").trim().to_owned();
    // Tom, who is no owner, makes himself one, and signs it: once alone, once with what he wants to release.
    let mut mine = next(&tom);
    let people = mine["people"].as_array_mut().unwrap();
    let me = people.iter_mut().find(|p| p["id"] == "tom").unwrap();
    me["roles"] = json!(["owner", "rep", "engineer"]);
    lay(&tom, 4, &mine, "tom");
    scene.refuses_head(&tom, "roster-threshold");
    tom.git(&format!("reset --quiet --hard {head}"));
    // A stranger signs.
    lay(&tom, 4, &next(&tom), "mallory");
    scene.refuses_head(&tom, "roster-signature");
    tom.git(&format!("reset --quiet --hard {head}"));
    // The owner's true signature over another version.
    let value = next(&tom);
    tom.write("roster/0004.json", bytes(&value));
    tom.write("roster/0004.mara.sig", tom.bytes("roster/0003.mara.sig"));
    commit_all(&tom, "copied");
    scene.refuses_head(&tom, "roster-signature");
}

#[test]
fn an_owners_key_that_was_put_away() {
    let scene = Scene::of(stages::roster());
    let mara = &scene.mara;
    let new = std::fs::read_to_string(public_key("mallory")).unwrap();
    let new: Vec<&str> = new.split_whitespace().take(2).collect();
    let mut value = next(mara);
    let keys = |value: &mut Value, change: &dyn Fn(&mut Vec<Value>)| {
        let people = value["people"].as_array_mut().unwrap();
        change(people.iter_mut().find(|p| p["id"] == "mara").unwrap()["keys"].as_array_mut().unwrap());
    };
    let lay_by = |number: u32, value: &Value, key: &str| {
        let bytes = bytes(value);
        mara.write(&format!("roster/{number:04}.json"), &bytes);
        mara.write(&format!("roster/{number:04}.mara.sig"), signature(key, "underlit-roster", &bytes));
        commit_all(mara, "roster");
    };
    let step = |value: &mut Value, number: u32| {
        value["version"] = json!(number);
        let before = mara.bytes(&format!("roster/{:04}.json", number - 1));
        value["previous"] = json!(Sha256Digest::of(&before).hex());
    };
    // A second key, which then puts the first one away.
    keys(&mut value, &|keys| keys.push(json!({ "public": new.join(" "), "state": "active" })));
    lay_by(4, &value, "mara");
    step(&mut value, 5);
    keys(&mut value, &|keys| keys[0]["state"] = json!("retired"));
    lay_by(5, &value, "mallory");
    scene.takes_head(mara);
    // Whoever holds the first key signs the next version.
    step(&mut value, 6);
    lay_by(6, &value, "mara");
    scene.refuses_head(mara, "roster-signature");
}

#[test]
fn rollback_skip_and_fork() {
    let scene = Scene::of(stages::roster());
    let mara = &scene.mara;
    let head = mara.git("rev-parse HEAD").trim().to_owned();
    let back = || drop(mara.git(&format!("reset --quiet --hard {head}")));
    // Skipped: signed by the owner herself.
    let mut skipped = next(mara);
    skipped["version"] = json!(5);
    lay(mara, 5, &skipped, "mara");
    scene.refuses_head(mara, "roster-step");
    back();
    // It names another one before it.
    let mut forked = next(mara);
    forked["previous"] = json!(Sha256Digest::of(&mara.bytes("roster/0002.json")).hex());
    lay(mara, 4, &forked, "mara");
    scene.refuses_head(mara, "roster-previous");
    back();
    // Turned back.
    mara.git("rm --quiet roster/0003.json roster/0003.mara.sig");
    commit_all(mara, "back");
    scene.refuses_head(mara, "add-only");
    back();
    // Two at once: the second one to arrive finds the place taken, and no merge can hold both.
    let other = scene.place.copy_as(stages::roster(), "other", "mara");
    other.git(&format!("remote add origin {}", scene.hub.display()));
    lay(mara, 4, &next(mara), "mara");
    scene.takes_head(mara);
    let mut second = next(&other);
    second["reason"] = json!("another one");
    lay(&other, 4, &second, "mara");
    other.git("fetch --quiet origin main");
    other.git("merge --quiet -s ours -m both FETCH_HEAD");
    scene.refuses_head(&other, "add-only");
}

#[test]
fn a_signer_who_was_taken_off_before() {
    let scene = Scene::of(stages::signed());
    let mara = &scene.mara;
    let tom = scene.join("tom");
    // Tom's key is put away; his clone does not know it yet, and he signs.
    mara.run(&format!("roster retire-key tom {} --keep-all", public_key("tom"))).code(0);
    scene.takes_head(mara);
    tom.run("sign quay-desk release --yes").code(0);
    // What he said late comes in and does not count: nobody is stuck, and nothing is released by it.
    tom.run("sync").code(0);
    mara.run("sync").code(0);
    mara.run("status quay-desk").code(0).says(&["does not count", "since then the key is retired"]);
    mara.run("advance quay-desk").code(1);
    // Now that his clone knows, he can say nothing more, and a move past the gate is refused as ever.
    tom.run("sign quay-desk release --yes").code(5).never_says(&["approved as"]);
    // By hand, on the newest roster: refused.
    let statement = mara
        .names("projects/quay-desk/signoffs", ".json")
        .into_iter()
        .map(|n| mara.text(&format!("projects/quay-desk/signoffs/{n}")))
        .map(|t| serde_json::from_str::<Value>(&t).unwrap())
        .find(|s| s["signer"] == "tom")
        .unwrap();
    let mut late = statement;
    late["roster"] =
        json!({ "version": 4, "sha256": Sha256Digest::of(&mara.bytes("roster/0004.json")).hex() });
    let late = bytes(&late);
    let role = "underlit-engineer";
    crate::forgery::lay(mara, "projects/quay-desk/signoffs", &late, Some(&signature("tom", role, &late)));
    commit_all(mara, "late");
    scene.refuses_head(mara, "signer-role");
}
