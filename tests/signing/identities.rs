//! Finding the keys that a person has, and making the first one.

use std::fs;
use std::os::unix::fs::PermissionsExt as _;
use std::path::Path;

use underlit::signing::{
    Asking, Identities, Place, Protection, PublicKey, Signer, SigningError, Toolbox, find_identities,
    make_key, verify,
};

use crate::workshop::{STATEMENT, Workshop, engineer, public};

fn names(found: &Identities) -> Vec<String> {
    found
        .usable
        .iter()
        .map(|identity| match &identity.file {
            Some(file) => file.file_name().unwrap().to_string_lossy().into_owned(),
            None => format!("agent {}", identity.comment),
        })
        .collect()
}

#[test]
fn a_person_without_keys_is_told_where_was_looked() {
    let workshop = Workshop::new();
    let found = find_identities(&workshop.path("home"), &workshop.toolbox());
    assert!(found.usable.is_empty() && found.set_aside.is_empty());
    let refused = found.first().unwrap_err();
    assert_eq!(refused.code(), "signing-no-key");
    assert!(refused.to_string().contains("home/.ssh"), "{refused}");
    assert!(refused.remedy().contains("ssh-keygen -t ed25519"));
}

#[test]
fn usual_keys_are_found_best_first_and_the_rest_set_aside() {
    let workshop = Workshop::new();
    workshop.stock_key("home/.ssh/id_rsa", &["rsa", "-b", "2048"], "");
    workshop.p256("home/.ssh/id_ecdsa");
    let locked = workshop.stock_key("home/.ssh/id_ed25519", &["ed25519"], "lantern 9");
    workshop.write("home/.ssh/id_dsa", "not a key\n");
    workshop.ed25519("home/.ssh/other");
    for toolbox in [workshop.toolbox(), workshop.bare_toolbox()] {
        let found = find_identities(&workshop.path("home"), &toolbox);
        assert_eq!(names(&found), ["id_ed25519", "id_ecdsa"]);
        let first = found.first().unwrap();
        assert!(first.locked && !first.in_agent);
        assert_eq!((&first.key, first.comment.as_str()), (&public(&locked), "bench"));
        let aside: Vec<_> = found.set_aside.iter().map(|aside| aside.reason.code()).collect();
        assert_eq!(aside, ["key-rsa", "signing-key-unreadable"]);

        let second = public(&workshop.path("home/.ssh/id_ecdsa"));
        let chosen = found.among([&second]).unwrap();
        assert_eq!(chosen.key, second);
        let armour = chosen.signer(&toolbox).unwrap().sign(&engineer(), STATEMENT).unwrap();
        verify(&second, &engineer(), STATEMENT, &armour).unwrap();
        assert_eq!(found.among([&public(&workshop.path("home/.ssh/other"))]), None);
    }
}

/// With only an RSA key, the message says that it was seen and why it will not do.
#[test]
fn an_rsa_key_alone_is_explained() {
    let workshop = Workshop::new();
    workshop.stock_key("home/.ssh/id_rsa", &["rsa", "-b", "2048"], "");
    let refused = find_identities(&workshop.path("home"), &workshop.toolbox()).first().unwrap_err().clone();
    assert!(refused.to_string().contains("RSA keys are not accepted"), "{refused}");
}

#[test]
fn the_agents_keys_are_found_too() {
    let workshop = Workshop::new();
    let agent = workshop.agent();
    let both = workshop.ed25519("home/.ssh/id_ed25519");
    let public_only = workshop.p256("home/.ssh/id_ecdsa");
    let elsewhere = workshop.ed25519("elsewhere");
    let rsa = workshop.stock_key("rsa", &["rsa", "-b", "2048"], "");
    for key in [&both, &public_only, &elsewhere, &rsa] {
        agent.add(&workshop, &["-q"], key);
    }
    fs::remove_file(&public_only).unwrap();
    fs::remove_file(&elsewhere).unwrap();
    let toolbox = Toolbox { agent_socket: Some(agent.socket.clone()), ..workshop.toolbox() };
    let found = find_identities(&workshop.path("home"), &toolbox);
    assert_eq!(names(&found), ["id_ed25519", "agent bench", "agent bench"]);
    assert!(found.usable.iter().all(|identity| identity.in_agent));
    assert_eq!(found.set_aside.len(), 1);
    assert_eq!((&found.set_aside[0].place, found.set_aside[0].reason.code()), (&Place::Agent, "key-rsa"));
    for identity in &found.usable {
        let armour = identity.signer(&toolbox).unwrap().sign(&engineer(), STATEMENT).unwrap();
        verify(&identity.key, &engineer(), STATEMENT, &armour).unwrap();
    }

    // Without the agent the lone public half is set aside, and so is an agent that is gone.
    let found = find_identities(&workshop.path("home"), &workshop.toolbox());
    assert_eq!(names(&found), ["id_ed25519"]);
    assert_eq!(found.set_aside[0].reason.code(), "signing-key-not-in-agent");
    drop(agent);
    let found = find_identities(&workshop.path("home"), &toolbox);
    assert_eq!(names(&found), ["id_ed25519"]);
    assert_eq!(found.set_aside[0].reason.code(), "signing-agent-unreachable");
}

fn mode(path: &Path) -> u32 {
    fs::metadata(path).unwrap().permissions().mode() & 0o777
}

#[test]
fn a_new_key_signs_and_only_its_owner_may_read_it() {
    let workshop = Workshop::new();
    for (name, toolbox) in [("stock", workshop.toolbox()), ("own", workshop.bare_toolbox())] {
        let path = workshop.path(&format!("{name}/.ssh/id_ed25519"));
        let key = make_key(&path, "mara at the bench", Protection::None, &toolbox).unwrap();
        let line = fs::read_to_string(format!("{}.pub", path.display())).unwrap();
        assert_eq!(line, format!("{key} mara at the bench\n"));
        assert_eq!((mode(&path), mode(path.parent().unwrap())), (0o600, 0o700));
        // Stock tools take the file as it is.
        let signature = workshop.stock_signature(&path, &engineer(), STATEMENT);
        assert!(workshop.stock_accepts(&key, &engineer(), STATEMENT, &signature));
        for signing in [workshop.toolbox(), workshop.bare_toolbox()] {
            Signer::from_file(&path, &signing).unwrap().sign(&engineer(), STATEMENT).unwrap();
        }
    }
}

#[test]
fn a_new_key_can_have_a_passphrase() {
    let workshop = Workshop::new();
    let askpass = workshop.script("askpass", "#!/bin/sh\necho 'lantern 9'\n");
    for (name, toolbox) in [("stock", workshop.toolbox()), ("own", workshop.bare_toolbox())] {
        let path = workshop.path(name);
        let refused = make_key(&path, "bench", Protection::Passphrase, &toolbox).unwrap_err();
        assert_eq!(refused, SigningError::PassphraseNeeded { path: path.clone() });
        let asking = Toolbox { asking: Asking::Program(&askpass), ..toolbox };
        let key = make_key(&path, "bench", Protection::Passphrase, &asking).unwrap();
        let unasked = workshop.toolbox();
        let refused = Signer::from_file(&path, &unasked).unwrap().sign(&engineer(), STATEMENT).unwrap_err();
        assert_eq!(refused.code(), "signing-passphrase-needed");
        for asking in [
            Toolbox { asking: Asking::Program(&askpass), ..workshop.toolbox() },
            Toolbox { asking: Asking::Program(&askpass), ..workshop.bare_toolbox() },
        ] {
            let armour = Signer::from_file(&path, &asking).unwrap().sign(&engineer(), STATEMENT).unwrap();
            verify(&key, &engineer(), STATEMENT, &armour).unwrap();
        }
    }
}

#[test]
fn a_key_is_never_overwritten() {
    let workshop = Workshop::new();
    for (name, toolbox) in [("stock", workshop.toolbox()), ("own", workshop.bare_toolbox())] {
        let path = workshop.path(name);
        make_key(&path, "first", Protection::None, &toolbox).unwrap();
        let before = fs::read(&path).unwrap();
        for missing in ["", ".pub"] {
            if missing == ".pub" {
                fs::rename(&path, workshop.path("kept")).unwrap();
            }
            let refused = make_key(&path, "second", Protection::None, &toolbox).unwrap_err();
            assert_eq!(refused.code(), "signing-key-exists", "{refused}");
        }
        assert!(!path.exists());
        assert_eq!(fs::read(workshop.path("kept")).unwrap(), before);
        std::os::unix::fs::symlink(workshop.path("nowhere"), &path).unwrap();
        fs::remove_file(format!("{}.pub", path.display())).unwrap();
        let refused = make_key(&path, "third", Protection::None, &toolbox).unwrap_err();
        assert_eq!(refused.code(), "signing-key-exists", "through a link: {refused}");
    }
}

#[test]
fn a_key_that_cannot_be_made_leaves_nothing_behind() {
    let workshop = Workshop::new();
    let file = workshop.write("file", "in the way\n");
    for toolbox in [workshop.toolbox(), workshop.bare_toolbox()] {
        let refused = make_key(&file.join("key"), "bench", Protection::None, &toolbox).unwrap_err();
        assert_eq!(refused.code(), "signing-not-written", "{refused}");
        for comment in ["two\nlines", "back\u{202e}wards", &"x".repeat(201)] {
            let refused = make_key(&workshop.path("key"), comment, Protection::None, &toolbox).unwrap_err();
            assert_eq!(refused, SigningError::CommentRefused);
        }
        assert!(!workshop.path("key").exists());
    }
}

/// A hundred keys made without OpenSSH are a hundred different ones.
#[test]
fn new_keys_differ() {
    let workshop = Workshop::new();
    let toolbox = workshop.bare_toolbox();
    let keys: std::collections::BTreeSet<PublicKey> = (0..100)
        .map(|n| make_key(&workshop.path(&format!("k{n}")), "", Protection::None, &toolbox).unwrap())
        .collect();
    assert_eq!(keys.len(), 100);
}
