//! Passkeys: what a browser and a device seal, judged here and by stock `ssh-keygen`; every single damage is refused.

use underlit::signing::{Armour, Hardware, KeyKind, Namespace, PublicKey, Verified, verify, verify_text};

use crate::dice::{Dice, given};
use crate::passkey::Passkey;
use crate::workshop::{STATEMENT, Workshop};

const SITE: &str = "lightworks.invalid";
const PAGE: &str = "https://jobs.lightworks.invalid:8443";

fn client() -> Namespace {
    Namespace::of_role("client").unwrap()
}

fn key(passkey: &Passkey) -> PublicKey {
    passkey.line().parse().unwrap()
}

/// What is said of a signature: its page and counter, or the code of what is wrong.
fn judged(passkey: &Passkey, bytes: &[u8]) -> Result<(String, u32), &'static str> {
    let text = passkey.sign("underlit-client", STATEMENT);
    match verify_text(&key(passkey), &client(), bytes, text.as_bytes()) {
        Ok(Verified {
            page: Some(page),
            hardware: Some(Hardware { touched: true, knew_who: true, counter }),
        }) => Ok((page, counter)),
        Ok(other) => panic!("{other:?}"),
        Err(refused) => Err(refused.code()),
    }
}

fn stock(workshop: &Workshop, passkey: &Passkey) -> bool {
    let text = passkey.sign("underlit-client", STATEMENT);
    workshop.stock_verdict(
        &format!("imke {}\n", passkey.line()),
        "imke",
        &client(),
        STATEMENT,
        text.as_bytes(),
    )
}

struct Sample {
    key: &'static str,
    page: &'static str,
    flags: u8,
    counter: u32,
    digits: &'static str,
    text: &'static str,
}

/// Made with the Python package `cryptography` 50 over OpenSSH's `PROTOCOL.u2f`, with the secret number 20261125.
const SAMPLES: &[Sample] = &[
    Sample {
        key: "sk-ecdsa-sha2-nistp256@openssh.com AAAAInNrLWVjZHNhLXNoYTItbmlzdHAyNTZAb3BlbnNzaC5jb20AAAAIbmlzdHAyNTYAAABBBLtBffeq063EgX21zGlWRDRhgElUp3G9ekdB/KucgcAgOrmmGsDllySOCQKy6SKZC737E72kb4GdoQbOtELWK4EAAAAJbG9jYWxob3N0",
        page: "http://localhost:8080",
        flags: 0x05,
        counter: 0,
        digits: "92237 60284 03052 61749 84140",
        text: "-----BEGIN SSH SIGNATURE-----
U1NIU0lHAAAAAQAAAIQAAAAic2stZWNkc2Etc2hhMi1uaXN0cDI1NkBvcGVuc3NoLmNvbQ
AAAAhuaXN0cDI1NgAAAEEEu0F996rTrcSBfbXMaVZENGGASVSncb16R0H8q5yBwCA6uaYa
wOWXJI4JArLpIpkLvfsTvaRvgZ2hBs60QtYrgQAAAAlsb2NhbGhvc3QAAAAPdW5kZXJsaX
QtY2xpZW50AAAAAAAAAAZzaGE1MTIAAAGMAAAAK3dlYmF1dGhuLXNrLWVjZHNhLXNoYTIt
bmlzdHAyNTZAb3BlbnNzaC5jb20AAABJAAAAIQDQfQPVlQrrCTw0Zyl5Jlz24D21jeMS7Y
6vu7cmd8EJCQAAACBPbwu2nHN+6c9y3ckE3fui1S6BmW+SD3X70oBgcMINgQUAAAAAAAAA
FWh0dHA6Ly9sb2NhbGhvc3Q6ODA4MAAAAOp7InR5cGUiOiJ3ZWJhdXRobi5nZXQiLCJjaG
FsbGVuZ2UiOiJVMU5JVTBsSEFBQUFEM1Z1WkdWeWJHbDBMV05zYVdWdWRBQUFBQUFBQUFB
R2MyaGhOVEV5QUFBQVFHRWZrOU5rQUduT053dUdlNFRfa2xGdnB5dXNXZzBZcEo4X3ZKdy
1jSkQyVUt3OUNyRkVsRkVydlBkUllwRjdkbzNnTmp4R1pOSWVTTkpDSHdDQjcyWSIsIm9y
aWdpbiI6Imh0dHA6Ly9sb2NhbGhvc3Q6ODA4MCIsImNyb3NzT3JpZ2luIjpmYWxzZX0AAA
AA
-----END SSH SIGNATURE-----
",
    },
    Sample {
        key: "sk-ecdsa-sha2-nistp256@openssh.com AAAAInNrLWVjZHNhLXNoYTItbmlzdHAyNTZAb3BlbnNzaC5jb20AAAAIbmlzdHAyNTYAAABBBLtBffeq063EgX21zGlWRDRhgElUp3G9ekdB/KucgcAgOrmmGsDllySOCQKy6SKZC737E72kb4GdoQbOtELWK4EAAAASbGlnaHR3b3Jrcy5pbnZhbGlk",
        page: "https://jobs.lightworks.invalid",
        flags: 0x1d,
        counter: 7,
        digits: "29760 75916 16908 83071 42207",
        text: "-----BEGIN SSH SIGNATURE-----
U1NIU0lHAAAAAQAAAI0AAAAic2stZWNkc2Etc2hhMi1uaXN0cDI1NkBvcGVuc3NoLmNvbQ
AAAAhuaXN0cDI1NgAAAEEEu0F996rTrcSBfbXMaVZENGGASVSncb16R0H8q5yBwCA6uaYa
wOWXJI4JArLpIpkLvfsTvaRvgZ2hBs60QtYrgQAAABJsaWdodHdvcmtzLmludmFsaWQAAA
APdW5kZXJsaXQtY2xpZW50AAAAAAAAAAZzaGE1MTIAAAGgAAAAK3dlYmF1dGhuLXNrLWVj
ZHNhLXNoYTItbmlzdHAyNTZAb3BlbnNzaC5jb20AAABJAAAAICIKG4oF9+8jlXLaWw3+HS
nF97GqT8KS7kYOLrHZPcAeAAAAIQCKdnQGkotrAb5nZDQKt+BwrNH3fezoGHK+p002bflM
XB0AAAAHAAAAH2h0dHBzOi8vam9icy5saWdodHdvcmtzLmludmFsaWQAAAD0eyJ0eXBlIj
oid2ViYXV0aG4uZ2V0IiwiY2hhbGxlbmdlIjoiVTFOSVUwbEhBQUFBRDNWdVpHVnliR2ww
TFdOc2FXVnVkQUFBQUFBQUFBQUdjMmhoTlRFeUFBQUFRR0VmazlOa0FHbk9Od3VHZTRUX2
tsRnZweXVzV2cwWXBKOF92SnctY0pEMlVLdzlDckZFbEZFcnZQZFJZcEY3ZG8zZ05qeEda
TkllU05KQ0h3Q0I3MlkiLCJvcmlnaW4iOiJodHRwczovL2pvYnMubGlnaHR3b3Jrcy5pbn
ZhbGlkIiwiY3Jvc3NPcmlnaW4iOmZhbHNlfQAAAAA=
-----END SSH SIGNATURE-----
",
    },
    Sample {
        key: "sk-ecdsa-sha2-nistp256@openssh.com AAAAInNrLWVjZHNhLXNoYTItbmlzdHAyNTZAb3BlbnNzaC5jb20AAAAIbmlzdHAyNTYAAABBBLtBffeq063EgX21zGlWRDRhgElUp3G9ekdB/KucgcAgOrmmGsDllySOCQKy6SKZC737E72kb4GdoQbOtELWK4EAAAASbGlnaHR3b3Jrcy5pbnZhbGlk",
        page: "https://lightworks.invalid",
        flags: 0x85,
        counter: 4294967295,
        digits: "29760 75916 16908 83071 42207",
        text: "-----BEGIN SSH SIGNATURE-----
U1NIU0lHAAAAAQAAAI0AAAAic2stZWNkc2Etc2hhMi1uaXN0cDI1NkBvcGVuc3NoLmNvbQ
AAAAhuaXN0cDI1NgAAAEEEu0F996rTrcSBfbXMaVZENGGASVSncb16R0H8q5yBwCA6uaYa
wOWXJI4JArLpIpkLvfsTvaRvgZ2hBs60QtYrgQAAABJsaWdodHdvcmtzLmludmFsaWQAAA
APdW5kZXJsaXQtY2xpZW50AAAAAAAAAAZzaGE1MTIAAAGjAAAAK3dlYmF1dGhuLXNrLWVj
ZHNhLXNoYTItbmlzdHAyNTZAb3BlbnNzaC5jb20AAABIAAAAIGSnaXi+PdGZ6CX3GW1Y3X
T+3Wif+X8ePAMR+WysmiU0AAAAIGNhB3BavvHLySwNVTtD6u/UNgsd85jVs7VSF76PxF3O
hf////8AAAAaaHR0cHM6Ly9saWdodHdvcmtzLmludmFsaWQAAADveyJ0eXBlIjoid2ViYX
V0aG4uZ2V0IiwiY2hhbGxlbmdlIjoiVTFOSVUwbEhBQUFBRDNWdVpHVnliR2wwTFdOc2FX
VnVkQUFBQUFBQUFBQUdjMmhoTlRFeUFBQUFRR0VmazlOa0FHbk9Od3VHZTRUX2tsRnZweX
VzV2cwWXBKOF92SnctY0pEMlVLdzlDckZFbEZFcnZQZFJZcEY3ZG8zZ05qeEdaTkllU05K
Q0h3Q0I3MlkiLCJvcmlnaW4iOiJodHRwczovL2xpZ2h0d29ya3MuaW52YWxpZCIsImNyb3
NzT3JpZ2luIjpmYWxzZX0AAAAOoWtjcmVkUHJvdGVjdAI=
-----END SSH SIGNATURE-----
",
    },
];

#[test]
fn signatures_of_another_maker_hold() {
    let workshop = Workshop::new();
    for sample in SAMPLES {
        let key: PublicKey = sample.key.parse().unwrap();
        assert_eq!((key.kind(), key.to_string().as_str()), (KeyKind::Passkey, sample.key));
        assert!(sample.page.ends_with(key.site().unwrap()) || key.site() == Some("localhost"));
        assert_eq!(key.digits(), sample.digits);
        let armour = Armour::parse(sample.text.as_bytes()).unwrap();
        let verified = verify(&key, &client(), STATEMENT, &armour).unwrap();
        assert_eq!(verified.page.as_deref(), Some(sample.page));
        assert_eq!(sample.flags & 0x05, 0x05);
        assert_eq!(
            verified.hardware,
            Some(Hardware { touched: true, knew_who: true, counter: sample.counter })
        );
        assert!(
            workshop.stock_accepts(&key, &client(), STATEMENT, sample.text.as_bytes()),
            "{}",
            sample.page
        );
    }
}

#[test]
fn what_browsers_and_devices_write_is_taken_and_stock_tools_agree() {
    let workshop = Workshop::new();
    let good = Passkey::new(7, SITE, PAGE);
    let page = |origin: &str| Passkey { origin: origin.into(), sealed_origin: origin.into(), ..good.clone() };
    let extensions = b"\xa1\x6bcredProtect\x02".to_vec();
    for passkey in [
        good.clone(),
        page("https://lightworks.invalid"),
        Passkey::new(8, "localhost", "http://localhost:8080"),
        Passkey { flags: 0x1d, counter: u32::MAX, ..good.clone() },
        Passkey { flags: 0x85, extensions, ..good.clone() },
        Passkey { rest: "}".into(), ..good.clone() },
        Passkey { rest: r#","crossOrigin":false,"topOrigin":null}"#.into(), ..good.clone() },
        Passkey {
            rest: r#","crossOrigin":false,"other_keys_can_be_added_here":"do not compare"}"#.into(),
            ..good.clone()
        },
    ] {
        assert_eq!(judged(&passkey, STATEMENT), Ok((passkey.origin.clone(), passkey.counter)));
        assert!(stock(&workshop, &passkey), "{}", passkey.origin);
    }
    let refused = Passkey::new(7, "ssh:", PAGE);
    assert_eq!(key(&refused).kind(), KeyKind::HardwareEcdsaP256, "a key for SSH is no passkey");
    for site in [
        "",
        "Lightworks.invalid",
        "https://lightworks.invalid",
        "invalid",
        "127.0.0.1",
        "ssh.",
        "a\u{202e}.invalid",
    ] {
        let refused = Passkey::new(7, site, PAGE).line().parse::<PublicKey>().unwrap_err();
        assert_eq!(refused.code(), "key-application", "{site}");
    }
}

/// One thing is wrong at a time. The last word: whether stock tools, which know no page and ask for no person, refuse it too.
#[test]
fn every_single_damage_is_refused_with_its_reason() {
    let workshop = Workshop::new();
    let good = Passkey::new(7, SITE, PAGE);
    let page = |origin: &str| Passkey { origin: origin.into(), sealed_origin: origin.into(), ..good.clone() };
    let rest = |rest: &str| Passkey { rest: rest.into(), ..good.clone() };
    const FIT: &str = "signature-does-not-fit";
    const WORDS: &str = "signature-passkey";
    const SITE_DIFFERS: &str = "signature-other-site";
    for (what, passkey, code, stock_refuses) in [
        ("nobody present", Passkey { flags: 0x04, ..good.clone() }, WORDS, false),
        ("nobody verified", Passkey { flags: 0x01, ..good.clone() }, WORDS, false),
        ("neither", Passkey { flags: 0x00, ..good.clone() }, WORDS, false),
        (
            "a flag added afterwards",
            Passkey { flags: 0x01, named_flags: Some(0x05), ..good.clone() },
            FIT,
            true,
        ),
        ("a new key in it", Passkey { flags: 0x45, ..good.clone() }, WORDS, true),
        ("extensions without their flag", Passkey { extensions: vec![0xa0], ..good.clone() }, WORDS, true),
        ("their flag without extensions", Passkey { flags: 0x85, ..good.clone() }, WORDS, true),
        ("another counter", Passkey { named_counter: Some(1), ..good.clone() }, FIT, true),
        (
            "signed for another site",
            Passkey { device_site: "elsewhere.invalid".into(), ..good.clone() },
            FIT,
            true,
        ),
        (
            "another page is named",
            Passkey { origin: "https://lightworks.invalid".into(), ..good.clone() },
            WORDS,
            true,
        ),
        ("another site's page", page("https://elsewhere.invalid"), SITE_DIFFERS, false),
        ("a page without encryption", page("http://lightworks.invalid"), SITE_DIFFERS, false),
        ("a page that ends alike", page("https://notlightworks.invalid"), SITE_DIFFERS, false),
        ("no page", page(""), SITE_DIFFERS, false),
        ("a page with a quote", page("https://lightworks.invalid\""), SITE_DIFFERS, true),
        ("a key was made", Passkey { kind: "webauthn.create".into(), ..good.clone() }, WORDS, true),
        ("a payment", Passkey { kind: "payment.get".into(), ..good.clone() }, WORDS, true),
        ("in a frame of another site", rest(r#","crossOrigin":true}"#), WORDS, false),
        ("in a named frame", rest(r#","topOrigin":"https://elsewhere.invalid"}"#), WORDS, false),
        ("JSON that ends too early", rest(r#","crossOrigin":fal"#), WORDS, false),
        ("text after the JSON", rest(r#","crossOrigin":false}}"#), WORDS, false),
        ("a second page", rest(r#","origin":"https://lightworks.invalid"}"#), WORDS, false),
        ("a second challenge", rest(r#","challenge":"AAAA"}"#), WORDS, false),
    ] {
        assert_eq!(judged(&passkey, STATEMENT), Err(code), "{what}");
        assert_eq!(!stock(&workshop, &passkey), stock_refuses, "{what}, by stock tools");
    }
    assert_eq!(judged(&good, b"{}"), Err(FIT), "other bytes");
    let other = key(&Passkey::new(8, SITE, PAGE));
    let armour = Armour::parse(good.sign("underlit-client", STATEMENT).as_bytes()).unwrap();
    assert_eq!(verify(&other, &client(), STATEMENT, &armour).unwrap_err().code(), "signature-other-key");
    let role = Namespace::of_role("engineer").unwrap();
    assert_eq!(
        verify(&key(&good), &role, STATEMENT, &armour).unwrap_err().code(),
        "signature-other-namespace"
    );
    // Signed without a browser, as a hardware key for SSH signs: no page speaks for it.
    let bare = Passkey { name: "sk-ecdsa-sha2-nistp256@openssh.com".into(), ..good.clone() };
    assert_eq!(judged(&bare, STATEMENT), Err("signature-kinds-differ"));
    let for_ssh = Passkey::new(7, "ssh:", PAGE);
    assert_eq!(judged(&for_ssh, STATEMENT), Err("signature-kinds-differ"));
}

/// Of parts put together at random, whatever is taken here is taken by stock tools as well.
#[test]
fn nothing_is_taken_that_stock_tools_refuse() {
    let workshop = Workshop::new();
    let mut dice = Dice(20_261_125);
    let mut taken = 0;
    for _ in 0..600 {
        let site = dice.one(&["localhost", SITE, "invalid", "ssh:"]);
        let origin = dice.one(&[
            "http://localhost",
            PAGE,
            "https://lightworks.invalid",
            "https://a\"",
            "http://localhost:1",
        ]);
        let mut passkey = Passkey::new(9, site, origin);
        if passkey.line().parse::<PublicKey>().is_err() {
            continue;
        }
        for _ in 0..dice.below(3) {
            match dice.below(6) {
                0 => passkey.flags = dice.below(256) as u8,
                1 => passkey.named_flags = Some(dice.below(256) as u8),
                2 => passkey.extensions = vec![0xa0; dice.below(3)],
                3 => passkey.counter = dice.below(1000) as u32,
                4 => passkey.sealed_origin = "https://lightworks.invalid".into(),
                _ => {
                    passkey.rest =
                        ["}", r#","crossOrigin":false}"#, r#","crossOrigin":true}"#, ""][dice.below(4)].into()
                }
            }
        }
        if judged(&passkey, STATEMENT).is_ok() {
            taken += 1;
            assert!(stock(&workshop, &passkey), "{} {:#x} {}", passkey.origin, passkey.flags, passkey.rest);
        }
    }
    assert!(taken > 40, "{taken} were taken");
}

/// 20,000 texts or as many as the environment asks for, each altered at one to three places: none is taken for a signature over these bytes.
#[test]
fn no_mutation_of_a_signature_is_taken() {
    let good = Passkey::new(7, SITE, PAGE);
    let (key, text) = (key(&good), good.sign("underlit-client", STATEMENT));
    let mut dice = Dice(20_261_126);
    for _ in 0..given("UNDERLIT_TEST_SIGNATURES", 20_000) {
        let mut bytes = text.clone().into_bytes();
        for _ in 0..=dice.below(3) {
            let at = dice.below(bytes.len());
            match dice.below(4) {
                0 => bytes[at] = dice.below(256) as u8,
                1 => bytes.insert(at, b"ABCabc019+/=\n"[dice.below(13)]),
                2 => drop(bytes.remove(at)),
                _ => {
                    let other = dice.below(bytes.len());
                    bytes.swap(at, other);
                }
            }
        }
        if bytes != text.as_bytes() {
            assert!(
                verify_text(&key, &client(), STATEMENT, &bytes).is_err(),
                "{}",
                String::from_utf8_lossy(&bytes)
            );
        }
    }
}
