//! Which keys are taken, in which spelling, and what is said of the others.

use std::fs;

use base64ct::{Base64, Encoding as _};
use underlit::signing::{KeyKind, PublicKey};

use crate::workshop::{Workshop, public, succeeded};

#[test]
fn stock_keys_are_read_and_written_back_the_same() {
    let workshop = Workshop::new();
    for (key, kind) in [(workshop.ed25519("ed"), KeyKind::Ed25519), (workshop.p256("ec"), KeyKind::EcdsaP256)]
    {
        let line = fs::read_to_string(format!("{}.pub", key.display())).unwrap();
        let (read, comment) = PublicKey::from_line(&line).unwrap();
        assert_eq!(read.kind(), kind);
        assert_eq!(format!("{read} {comment}\n"), line);
        let listed = succeeded(workshop.stock("ssh-keygen").arg("-lf").arg(&key));
        let listed = String::from_utf8(listed.stdout).unwrap();
        assert_eq!(listed.split(' ').nth(1), Some(read.fingerprint().as_str()), "{listed}");

        let json = serde_json::to_string(&read).unwrap();
        assert_eq!(json, format!("\"{read}\""));
        assert_eq!(serde_json::from_str::<PublicKey>(&json).unwrap(), read);
        for other in
            [format!("{read} {comment}"), format!("{read}\n"), format!(" {read}"), read.to_string() + "="]
        {
            assert!(other.parse::<PublicKey>().is_err(), "{other:?} is a second spelling");
        }
    }
}

/// A hardware key as a `.pub` file has it; its samples come from the tests of the crate `ssh-key` 0.6.7.
#[test]
fn hardware_keys_are_read() {
    for (line, kind) in [
        (
            "sk-ssh-ed25519@openssh.com AAAAGnNrLXNzaC1lZDI1NTE5QG9wZW5zc2guY29tAAAAINSoElFleH+nN83FoLqqepJ\
             jN+y7Gs5lrn7qXjBqQZyuAAAABHNzaDo=",
            KeyKind::HardwareEd25519,
        ),
        (
            "sk-ecdsa-sha2-nistp256@openssh.com AAAAInNrLWVjZHNhLXNoYTItbmlzdHAyNTZAb3BlbnNzaC5jb20AAAAIbml\
             zdHAyNTYAAABBBNdo6XfhTK080uz5UbGyOcNMo+R3nPXMBxurwH2M1bDtQYbDT6qBE7EdQGkcy/EJDXbzT0KlU9rROjcX+Js\
             gtGAAAAAEc3NoOg==",
            KeyKind::HardwareEcdsaP256,
        ),
    ] {
        let key: PublicKey = line.parse().unwrap();
        assert_eq!((key.kind(), key.to_string().as_str()), (kind, line));
        assert!(key.kind().is_hardware());
    }
}

#[test]
fn weaker_keys_are_refused_with_the_reason() {
    let workshop = Workshop::new();
    for (name, kind, code, says) in [
        ("rsa2", &["rsa", "-b", "2048"][..], "key-rsa", "RSA keys are not accepted"),
        ("rsa4", &["rsa", "-b", "4096"], "key-rsa", "RSA keys are not accepted"),
        ("p384", &["ecdsa", "-b", "384"], "key-curve", "of the NIST curves only P-256"),
        ("p521", &["ecdsa", "-b", "521"], "key-curve", "of the NIST curves only P-256"),
    ] {
        let path = workshop.stock_key(name, kind, "");
        let line = fs::read_to_string(format!("{}.pub", path.display())).unwrap();
        let refused = PublicKey::from_line(&line).unwrap_err();
        assert_eq!(refused.code(), code);
        assert!(refused.to_string().contains(says), "{refused}");
        assert!(refused.remedy().contains("ssh-keygen -t ed25519"));
    }
}

#[test]
fn a_certificate_is_not_a_key() {
    let workshop = Workshop::new();
    let (authority, key) = (workshop.ed25519("authority"), workshop.ed25519("ed"));
    let mut command = workshop.stock("ssh-keygen");
    succeeded(command.arg("-q").arg("-s").arg(authority).args(["-I", "bench", "-n", "mara"]).arg(key));
    let line = fs::read_to_string(workshop.path("ed-cert.pub")).unwrap();
    assert_eq!(PublicKey::from_line(&line).unwrap_err().code(), "key-certificate");
}

#[test]
fn what_people_paste_by_mistake() {
    let workshop = Workshop::new();
    let path = workshop.ed25519("ed");
    let key = public(&path).to_string();
    let (name, data) = key.split_once(' ').unwrap();
    let private = fs::read_to_string(&path).unwrap();
    let last = &data[..data.len() - 1];
    for (text, code) in [
        (String::new(), "key-empty"),
        (" \n".into(), "key-empty"),
        (private, "key-is-private"),
        (format!("{key}\n{key}"), "key-many-lines"),
        (format!("from=\"10.0.0.1\" {key}"), "key-has-options"),
        (format!("no-pty,no-X11-forwarding {key}"), "key-has-options"),
        (format!("restrict {key}"), "key-has-options"),
        (format!("ssh-dss {data}"), "key-dsa"),
        (format!("ssh-ed448 {data}"), "key-type-unknown"),
        (format!("ecdsa-sha2-nistp256 {data}"), "key-types-differ"),
        (name.into(), "key-damaged"),
        (format!("{name} {last}"), "key-not-base64"),
        (format!("{name} {data}===="), "key-not-base64"),
        (format!("{name} {}", data.replacen("AAAA", "AA-A", 1)), "key-not-base64"),
        (format!("{name} {}", &data[..data.len() - 4]), "key-damaged"),
        (format!("{name} {data}AAAA"), "key-damaged"),
        (format!("{key} bench\u{202e}hcneb"), "key-comment"),
        (format!("{key} {}", "x".repeat(5000)), "key-too-long"),
        ("что-то".into(), "key-type-unknown"),
    ] {
        let refused = PublicKey::from_line(&text).unwrap_err();
        assert_eq!(refused.code(), code, "{text}: {refused}");
        assert!(!refused.remedy().is_empty());
    }
    let (read, comment) = PublicKey::from_line(&format!("  {name}\t {data}   the bench \r\n")).unwrap();
    assert_eq!((read.to_string(), comment.as_str()), (key, "the bench"));
}

/// Keys for which anyone could sign: the points of small order of RFC 7748 §7 and its curve's other form,
/// in both spellings of a coordinate, and a P-256 point that is not on its curve.
#[test]
fn unsound_points_are_refused() {
    let mut points = vec![[0; 32], [0xff; 32]];
    let (mut one, mut minus_one, mut field, mut one_again) = ([0; 32], [0xff; 32], [0xff; 32], [0xff; 32]);
    one[0] = 1;
    (minus_one[0], minus_one[31]) = (0xec, 0x7f);
    (field[0], field[31]) = (0xed, 0x7f);
    (one_again[0], one_again[31]) = (0xee, 0x7f);
    let mut signed_one = one;
    signed_one[31] |= 0x80;
    points.extend([one, minus_one, field, one_again, signed_one]);
    for point in points {
        let line = format!("ssh-ed25519 {}", Base64::encode_string(&wire(&[b"ssh-ed25519", &point])));
        let refused = PublicKey::from_line(&line).unwrap_err();
        assert_eq!(refused.code(), "key-weak", "{point:02x?}");
    }

    let workshop = Workshop::new();
    let good = public(&workshop.p256("ec"));
    let mut blob = good.wire().to_vec();
    *blob.last_mut().unwrap() ^= 1;
    assert_eq!(PublicKey::from_wire(&blob).unwrap_err().code(), "key-weak");
    let point = good.wire()[good.wire().len() - 65..].to_vec();
    let mut compressed = point[..33].to_vec();
    compressed[0] = 2 + (point[64] & 1);
    for point in [compressed, vec![0]] {
        let blob = wire(&[b"ecdsa-sha2-nistp256", b"nistp256", &point]);
        assert_eq!(PublicKey::from_wire(&blob).unwrap_err().code(), "key-damaged");
    }
    let blob = wire(&[b"ecdsa-sha2-nistp256", b"nistp384", &point]);
    assert_eq!(PublicKey::from_wire(&blob).unwrap_err().code(), "key-damaged");
}

/// A hardware key registered with a web site is not one for SSH.
#[test]
fn a_hardware_key_for_something_else_is_refused() {
    let workshop = Workshop::new();
    let key = public(&workshop.ed25519("ed"));
    let point = &key.wire()[key.wire().len() - 32..];
    for (application, taken) in
        [("ssh:", true), ("ssh:bench", true), ("shop.example", false), ("", false), ("ssh:\u{1b}[2J", false)]
    {
        let blob = wire(&[b"sk-ssh-ed25519@openssh.com", point, application.as_bytes()]);
        let read = PublicKey::from_wire(&blob);
        assert_eq!(read.is_ok(), taken, "{application}");
        if let Err(refused) = read {
            assert_eq!(refused.code(), "key-application");
        }
    }
}

/// Strings of the wire (RFC 4251 §5), one after the other.
pub(crate) fn wire(parts: &[&[u8]]) -> Vec<u8> {
    let mut blob = Vec::new();
    for part in parts {
        blob.extend(u32::try_from(part.len()).unwrap().to_be_bytes());
        blob.extend(*part);
    }
    blob
}
