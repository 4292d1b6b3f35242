//! The allowed-signers file: stock `ssh-keygen` reads it and comes to our verdicts.

use std::process::Stdio;

use underlit::signing::{AllowedSigner, Namespace, Principal, PublicKey, Signer, allowed_signers};

use crate::hardware::Token;
use crate::workshop::{STATEMENT, Workshop, engineer, public};

fn may(principal: &str, key: &PublicKey, namespaces: &[Namespace]) -> AllowedSigner {
    AllowedSigner {
        principal: principal.parse::<Principal>().unwrap(),
        key: key.clone(),
        namespaces: namespaces.to_vec(),
    }
}

#[test]
fn stock_tools_read_the_file_and_agree() {
    let workshop = Workshop::new();
    let rep = Namespace::of_role("rep").unwrap();
    let (mara_file, joss_file) = (workshop.ed25519("mara"), workshop.p256("joss"));
    let (mara, joss) = (public(&mara_file), public(&joss_file));
    let [token, _] = Token::both();
    let file = allowed_signers(&[
        may("mara-dell", &mara, &[engineer(), Namespace::stage_move()]),
        may("joss", &joss, std::slice::from_ref(&rep)),
        may("mara-dell", &token.key(), &[engineer()]),
    ])
    .unwrap();
    let toolbox = workshop.toolbox();
    for (path, namespace, principal, agreed) in [
        (&mara_file, engineer(), "mara-dell", true),
        (&mara_file, Namespace::stage_move(), "mara-dell", true),
        (&mara_file, rep.clone(), "mara-dell", false),
        (&mara_file, Namespace::roster(), "mara-dell", false),
        (&mara_file, engineer(), "joss", false),
        (&joss_file, rep.clone(), "joss", true),
        (&joss_file, engineer(), "joss", false),
        (&joss_file, rep.clone(), "mara-dell", false),
    ] {
        let armour = Signer::from_file(path, &toolbox).unwrap().sign(&namespace, STATEMENT).unwrap();
        let text = armour.as_str().as_bytes();
        let verdict = workshop.stock_verdict(&file, principal, &namespace, STATEMENT, text);
        assert_eq!(verdict, agreed, "{principal} for {namespace}");

        let allowed = workshop.write("allowed", &file);
        let signature = workshop.write("found.sig", text);
        let mut command = workshop.stock("ssh-keygen");
        command.args(["-Y", "find-principals", "-f"]).arg(allowed).arg("-s").arg(signature);
        let found = command.stderr(Stdio::null()).output().unwrap();
        let owner = if path == &mara_file { "mara-dell\n" } else { "joss\n" };
        assert_eq!(String::from_utf8_lossy(&found.stdout), owner, "{principal} for {namespace}");
    }
    let text = token.signature(&engineer(), STATEMENT, 1, 3);
    assert!(workshop.stock_verdict(&file, "mara-dell", &engineer(), STATEMENT, &text));
    assert!(!workshop.stock_verdict(&file, "joss", &engineer(), STATEMENT, &text));
}

/// The file's text is one and the same in whatever order and however often the entries come.
#[test]
fn the_file_does_not_depend_on_order() {
    let workshop = Workshop::new();
    let (mara, joss) = (public(&workshop.ed25519("mara")), public(&workshop.ed25519("joss")));
    let rep = Namespace::of_role("rep").unwrap();
    let one = allowed_signers(&[
        may("mara", &mara, &[rep.clone(), engineer()]),
        may("joss", &joss, std::slice::from_ref(&rep)),
    ])
    .unwrap();
    let other = allowed_signers(&[
        may("joss", &joss, std::slice::from_ref(&rep)),
        may("mara", &mara, &[engineer()]),
        may("mara", &mara, &[rep, engineer()]),
    ])
    .unwrap();
    assert_eq!(one, other);
    assert_eq!(
        one,
        format!(
            "joss namespaces=\"underlit-rep\" {joss}\nmara namespaces=\"underlit-engineer,underlit-rep\" {mara}\n"
        )
    );
    assert_eq!(allowed_signers(&[]), Ok(String::new()));
}

#[test]
fn a_file_that_would_say_more_than_was_meant_is_not_written() {
    let workshop = Workshop::new();
    let (mara, joss) = (public(&workshop.ed25519("mara")), public(&workshop.ed25519("joss")));
    for (signers, code) in [
        (vec![may("mara", &mara, &[])], "allowed-no-namespace"),
        (
            vec![may("mara", &mara, &[engineer()]), may("joss", &mara, &[engineer()])],
            "allowed-one-key-two-people",
        ),
        (vec![may("joss", &mara, &[engineer()]), may("j0ss", &joss, &[engineer()])], "allowed-look-alike"),
        (vec![may("dell", &mara, &[engineer()]), may("de1l", &joss, &[engineer()])], "allowed-look-alike"),
        (vec![may("arno", &mara, &[engineer()]), may("amo", &joss, &[engineer()])], "allowed-look-alike"),
        (vec![may("wim", &mara, &[engineer()]), may("vvim", &joss, &[engineer()])], "allowed-look-alike"),
    ] {
        let refused = allowed_signers(&signers).unwrap_err();
        assert_eq!(refused.code(), code, "{refused}");
        assert!(!refused.to_string().is_empty() && !refused.remedy().is_empty());
    }
}

/// Why ids with patterns are refused: stock tools let such a line speak for anyone.
#[test]
fn a_pattern_in_stock_tools_speaks_for_anyone() {
    let workshop = Workshop::new();
    let path = workshop.ed25519("mara");
    let text = workshop.stock_signature(&path, &engineer(), STATEMENT);
    let file = format!("* {}\n", public(&path));
    assert!(workshop.stock_verdict(&file, "joss", &engineer(), STATEMENT, &text));
    assert!("*".parse::<Principal>().is_err());
}
