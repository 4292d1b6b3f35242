//! Signatures made by one side and judged by the other: file, passphrase, agent, with and without OpenSSH.

use std::fs;
use std::os::unix::fs::PermissionsExt as _;
use std::path::Path;

use underlit::signing::{Armour, Asking, HashName, Namespace, Signer, SigningError, Toolbox, verify};

use crate::workshop::{STATEMENT, Workshop, engineer, public};

/// What stock OpenSSH signs, we accept, and it is in the one spelling; whatever the length of its lines.
#[test]
fn stock_signatures_are_accepted() {
    let workshop = Workshop::new();
    for key in [workshop.ed25519("ed"), workshop.p256("ec")] {
        // A longer name moves the end of the base64 through every place in a line of 70.
        for length in 1..=32 {
            let namespace = Namespace::of_role(&"r".repeat(length)).unwrap();
            let signature = workshop.stock_signature(&key, &namespace, STATEMENT);
            let armour = Armour::parse(&signature).unwrap_or_else(|e| panic!("{length}: {e}"));
            assert_eq!(armour.hash(), HashName::Sha512);
            let verified = verify(&public(&key), &namespace, STATEMENT, &armour).unwrap();
            assert_eq!(verified.hardware, None);
        }
        let short = workshop.stock_signature_with(&key, &engineer(), STATEMENT, &["-Ohashalg=sha256"]);
        let armour = Armour::parse(&short).unwrap();
        assert_eq!(armour.hash(), HashName::Sha256);
        verify(&public(&key), &engineer(), STATEMENT, &armour).unwrap();
    }
}

/// What we sign, through `ssh-keygen` or without it, stock OpenSSH accepts.
#[test]
fn our_signatures_are_accepted_by_stock_tools() {
    let workshop = Workshop::new();
    for key in [workshop.ed25519("ed"), workshop.p256("ec")] {
        for toolbox in [workshop.toolbox(), workshop.bare_toolbox()] {
            let signer = Signer::from_file(&key, &toolbox).unwrap();
            assert_eq!(signer.key(), &public(&key));
            assert_eq!(signer.comment(), "bench");
            for bytes in [STATEMENT, b"", b"\x00\xff\r\n", &[7; 100_000]] {
                let armour = signer.sign(&engineer(), bytes).unwrap();
                assert!(workshop.stock_accepts(
                    &public(&key),
                    &engineer(),
                    bytes,
                    armour.as_str().as_bytes()
                ));
                assert!(!workshop.stock_accepts(
                    &public(&key),
                    &Namespace::stage_move(),
                    bytes,
                    armour.as_str().as_bytes()
                ));
            }
        }
    }
}

/// Ed25519 signatures are determined by key and bytes (RFC 8032 §5.1.6), so the two ways give one text.
#[test]
fn both_ways_give_the_same_ed25519_signature() {
    let workshop = Workshop::new();
    let key = workshop.ed25519("ed");
    let stock = workshop.stock_signature(&key, &engineer(), STATEMENT);
    for toolbox in [workshop.toolbox(), workshop.bare_toolbox()] {
        let signer = Signer::from_file(&key, &toolbox).unwrap();
        let armour = signer.sign(&engineer(), STATEMENT).unwrap();
        assert_eq!(armour.as_str().as_bytes(), stock);
    }
}

/// The `.pub` file names the key beside it, as with `ssh-keygen -f`.
#[test]
fn the_public_half_names_the_private_half_beside_it() {
    let workshop = Workshop::new();
    let key = workshop.ed25519("ed");
    let toolbox = workshop.toolbox();
    let signer = Signer::from_file(&workshop.path("ed.pub"), &toolbox).unwrap();
    assert_eq!(signer.key(), &public(&key));
    signer.sign(&engineer(), STATEMENT).unwrap();
}

#[test]
fn a_passphrase_is_asked_for_and_opens_the_key() {
    let workshop = Workshop::new();
    for (name, kind) in [("ed", &["ed25519"][..]), ("ec", &["ecdsa", "-b", "256"])] {
        let key = workshop.stock_key(name, kind, "lantern 9");
        let right = workshop.script("right", "#!/bin/sh\necho 'lantern 9'\n");
        let wrong = workshop.script("wrong", "#!/bin/sh\necho 'lamp'\n");
        for toolbox in [workshop.toolbox(), workshop.bare_toolbox()] {
            let signed = |asking: Asking<'_>| {
                let toolbox = Toolbox { asking, ..toolbox.clone() };
                let signer = Signer::from_file(&key, &toolbox).unwrap();
                signer.sign(&engineer(), STATEMENT)
            };
            let armour = signed(Asking::Program(&right)).unwrap();
            verify(&public(&key), &engineer(), STATEMENT, &armour).unwrap();
            assert_eq!(
                signed(Asking::Program(&wrong)),
                Err(SigningError::PassphraseWrong { path: key.clone() })
            );
            assert_eq!(signed(Asking::Never), Err(SigningError::PassphraseNeeded { path: key.clone() }));
        }
    }
}

/// Where OpenSSH is missing, the caller's own prompt is used, and is told which key it is about.
#[test]
fn our_own_prompt_is_used_without_openssh() {
    let workshop = Workshop::new();
    let key = workshop.stock_key("ed", &["ed25519"], "lantern 9");
    let ask = |file: &Path| (file == key).then(|| String::from("lantern 9"));
    let toolbox = Toolbox { asking: Asking::Terminal(&ask), ..workshop.bare_toolbox() };
    let armour = Signer::from_file(&key, &toolbox).unwrap().sign(&engineer(), STATEMENT).unwrap();
    assert!(workshop.stock_accepts(&public(&key), &engineer(), STATEMENT, armour.as_str().as_bytes()));
    let give_up = |_: &Path| None;
    let toolbox = Toolbox { asking: Asking::Terminal(&give_up), ..workshop.bare_toolbox() };
    let refused = Signer::from_file(&key, &toolbox).unwrap().sign(&engineer(), STATEMENT).unwrap_err();
    assert_eq!(refused.code(), "signing-passphrase-needed");
}

#[test]
fn an_agent_signs_for_a_key_whose_file_is_elsewhere() {
    let workshop = Workshop::new();
    let agent = workshop.agent();
    let toolbox = Toolbox { agent_socket: Some(agent.socket.clone()), ..workshop.toolbox() };
    for (name, key) in [("ed", workshop.ed25519("ed")), ("ec", workshop.p256("ec"))] {
        let public_file = workshop.path(&format!("only-{name}.pub"));
        fs::copy(workshop.path(&format!("{name}.pub")), &public_file).unwrap();
        let missing = Signer::from_file(&public_file, &toolbox).err().unwrap();
        assert_eq!(missing, SigningError::NotInAgent { fingerprint: public(&key).fingerprint() });

        agent.add(&workshop, &["-q"], &key);
        fs::remove_file(&key).unwrap();
        for signer in [
            Signer::from_file(&public_file, &toolbox).unwrap(),
            Signer::from_agent(&public(&public_file.with_extension("")), &toolbox).unwrap(),
        ] {
            assert_eq!(signer.comment(), "bench");
            let armour = signer.sign(&engineer(), STATEMENT).unwrap();
            let stock =
                workshop.stock_accepts(signer.key(), &engineer(), STATEMENT, armour.as_str().as_bytes());
            assert!(stock, "{name}");
        }
    }
}

/// A key with a passphrase that the agent holds is not asked for it again.
#[test]
fn an_agent_spares_the_passphrase() {
    let workshop = Workshop::new();
    let key = workshop.stock_key("ed", &["ed25519"], "lantern 9");
    let askpass = workshop.script("askpass", "#!/bin/sh\necho 'lantern 9'\n");
    let agent = workshop.agent();
    let mut add = workshop.stock("ssh-add");
    add.env("SSH_ASKPASS", &askpass).env("SSH_ASKPASS_REQUIRE", "force").env("SSH_AUTH_SOCK", &agent.socket);
    crate::workshop::succeeded(add.arg(&key));
    let toolbox = Toolbox { agent_socket: Some(agent.socket.clone()), ..workshop.toolbox() };
    let armour = Signer::from_file(&key, &toolbox).unwrap().sign(&engineer(), STATEMENT).unwrap();
    verify(&public(&key), &engineer(), STATEMENT, &armour).unwrap();
}

/// `ssh-add -c` makes the agent ask before each use; with nobody to say yes it refuses.
#[test]
fn an_agent_that_refuses_is_said_so() {
    let workshop = Workshop::new();
    let key = workshop.ed25519("ed");
    let agent = workshop.agent();
    agent.add(&workshop, &["-q", "-c"], &key);
    let toolbox = Toolbox { agent_socket: Some(agent.socket.clone()), ..workshop.toolbox() };
    let refused =
        Signer::from_agent(&public(&key), &toolbox).unwrap().sign(&engineer(), STATEMENT).unwrap_err();
    assert_eq!(refused, SigningError::AgentRefused { fingerprint: public(&key).fingerprint() });
}

#[test]
fn an_agent_that_is_not_there_is_said_so() {
    let workshop = Workshop::new();
    let key = public(&workshop.ed25519("ed"));
    let gone = Toolbox { agent_socket: Some(workshop.path("gone")), ..workshop.toolbox() };
    for (toolbox, code) in [
        (gone, "signing-agent-unreachable"),
        (workshop.toolbox(), "signing-agent-unreachable"),
        (
            Toolbox { agent_socket: Some(workshop.path("gone")), ..workshop.bare_toolbox() },
            "signing-program-missing",
        ),
    ] {
        let refused = Signer::from_agent(&key, &toolbox).err().unwrap();
        assert_eq!(refused.code(), code, "{refused}");
        assert!(!refused.remedy().is_empty());
    }
}

/// Only `ssh-keygen` can ask an agent to sign; a key in a file needs it no more.
#[test]
fn an_agents_key_needs_openssh() {
    let workshop = Workshop::new();
    let key = workshop.ed25519("ed");
    let agent = workshop.agent();
    agent.add(&workshop, &["-q"], &key);
    let missing = workshop.path("not-installed");
    let toolbox = Toolbox {
        agent_socket: Some(agent.socket.clone()),
        ssh_keygen: missing.clone(),
        ..workshop.toolbox()
    };
    let refused =
        Signer::from_agent(&public(&key), &toolbox).unwrap().sign(&engineer(), STATEMENT).unwrap_err();
    assert_eq!(refused, SigningError::ProgramMissing { program: missing });
    Signer::from_file(&key, &toolbox).unwrap().sign(&engineer(), STATEMENT).unwrap();
}

#[test]
fn keys_that_cannot_sign_are_told_apart() {
    let workshop = Workshop::new();
    let rsa = workshop.stock_key("rsa", &["rsa", "-b", "2048"], "");
    let rsa_old = workshop.stock_key("rsa-old", &["rsa", "-b", "2048", "-m", "PEM"], "");
    let p384 = workshop.stock_key("p384", &["ecdsa", "-b", "384"], "");
    let old = workshop.stock_key("old", &["ecdsa", "-b", "256", "-m", "PEM"], "");
    let open = workshop.ed25519("open");
    fs::set_permissions(&open, fs::Permissions::from_mode(0o644)).unwrap();
    let lone = workshop.ed25519("lone");
    fs::remove_file(&lone).unwrap();
    let damaged = workshop.ed25519("damaged");
    let text = fs::read_to_string(&damaged).unwrap();
    fs::write(&damaged, text.replacen("AAAA", "AAAB", 1)).unwrap();
    for (path, code) in [
        (rsa.clone(), "key-rsa"),
        (workshop.path("rsa.pub"), "key-rsa"),
        (rsa_old, "key-rsa"),
        (p384, "key-curve"),
        (old, "signing-key-old-format"),
        (open, "signing-key-permissions"),
        (workshop.path("lone"), "signing-key-not-in-agent"),
        (workshop.path("lone.pub"), "signing-key-not-in-agent"),
        (damaged, "signing-key-unreadable"),
        (workshop.path("nowhere"), "signing-key-not-found"),
        (workshop.path("nowhere.pub"), "signing-key-not-found"),
        (workshop.path("."), "signing-key-unreadable"),
        (workshop.write("note", "not a key\n"), "signing-key-unreadable"),
        (workshop.write("binary", [0xff, 0xfe, 0]), "signing-key-unreadable"),
        (workshop.write("huge", vec![b'a'; 70_000]), "signing-key-unreadable"),
        (workshop.write("empty", ""), "signing-key-unreadable"),
    ] {
        for toolbox in [workshop.toolbox(), workshop.bare_toolbox()] {
            let refused = Signer::from_file(&path, &toolbox).err().unwrap();
            assert_eq!(refused.code(), code, "{}: {refused}", path.display());
            assert!(!refused.to_string().is_empty() && !refused.remedy().is_empty());
        }
    }
}

/// A public half that belongs to another key must never lead to a signature under the wrong name.
#[test]
fn a_public_half_of_another_key_does_no_harm() {
    let workshop = Workshop::new();
    let (key, other) = (workshop.ed25519("ed"), workshop.ed25519("other"));
    fs::copy(workshop.path("other.pub"), workshop.path("ed.pub")).unwrap();
    let toolbox = workshop.toolbox();
    let signer = Signer::from_file(&key, &toolbox).unwrap();
    assert_ne!(signer.key(), &public(&other));
    match signer.sign(&engineer(), STATEMENT) {
        Ok(armour) => assert_eq!(armour.key(), signer.key()),
        Err(refused) => {
            assert!(matches!(refused, SigningError::Unsound { .. } | SigningError::ProgramFailed { .. }))
        }
    }
}

/// Whatever a program in place of `ssh-keygen` answers, only a sound signature comes back.
#[test]
fn an_unsound_signature_is_thrown_away() {
    let workshop = Workshop::new();
    let key = workshop.ed25519("ed");
    let other = workshop.stock_signature(&workshop.ed25519("other"), &engineer(), STATEMENT);
    let elsewhere = workshop.stock_signature(&key, &engineer(), b"another statement");
    let other = workshop.write("other.sig", other);
    let elsewhere = workshop.write("elsewhere.sig", elsewhere);
    for (name, script, code) in [
        ("otherkey", format!("cp '{}' \"$8.sig\"", other.display()), "signing-unsound"),
        ("otherbytes", format!("cp '{}' \"$8.sig\"", elsewhere.display()), "signing-unsound"),
        ("garbage", "echo nonsense > \"$8.sig\"".into(), "signing-unsound"),
        ("nothing", "true".into(), "signing-not-written"),
        ("fails", "echo 'something broke' >&2; exit 3".into(), "signing-program-failed"),
    ] {
        let program = workshop.script(name, &format!("#!/bin/sh\n{script}\n"));
        let toolbox = Toolbox { ssh_keygen: program, ..workshop.toolbox() };
        let refused = Signer::from_file(&key, &toolbox).unwrap().sign(&engineer(), STATEMENT).unwrap_err();
        assert_eq!(refused.code(), code, "{name}: {refused}");
        if name == "fails" {
            assert!(refused.to_string().contains("something broke"), "{refused}");
        }
    }
}

/// Statements pass through a temporary file; none is left behind.
#[test]
fn nothing_is_left_in_the_scratch_folder() {
    let workshop = Workshop::new();
    let key = workshop.ed25519("ed");
    let scratch = workshop.path("scratch");
    fs::create_dir(&scratch).unwrap();
    let toolbox = Toolbox { scratch: scratch.clone(), ..workshop.toolbox() };
    Signer::from_file(&key, &toolbox).unwrap().sign(&engineer(), STATEMENT).unwrap();
    assert_eq!(fs::read_dir(&scratch).unwrap().count(), 0);
    fs::remove_dir(&scratch).unwrap();
    let refused = Signer::from_file(&key, &toolbox).unwrap().sign(&engineer(), STATEMENT).unwrap_err();
    assert_eq!(refused.code(), "signing-not-written");
}
