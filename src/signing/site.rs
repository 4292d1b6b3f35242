//! What a passkey is bound to: the site of its pages, and what a browser puts around a signature.

use super::wire::{Wire, WireError};

/// The name of such a signature on the wire.
pub(super) const SIGNATURE_NAME: &str = "webauthn-sk-ecdsa-sha2-nistp256@openssh.com";

/// A host without its dot: the one on which a page may stand without encryption (W3C Secure Contexts §3.1).
const THIS_MACHINE: &str = "localhost";

/// What the browser put around the bytes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Page {
    /// The page's scheme, host and port.
    pub(super) origin: String,
    /// What the browser sealed, as JSON.
    pub(super) client_data: Vec<u8>,
    /// What the authenticator added; no part of it is looked at.
    pub(super) extensions: Vec<u8>,
}

impl Page {
    /// Reads what stands behind flags and counter.
    pub(super) fn read(wire: &mut Wire<'_>) -> Result<Self, WireError> {
        let origin = wire.text()?.to_owned();
        Ok(Self { origin, client_data: wire.string()?.into(), extensions: wire.string()?.into() })
    }
}

/// True for a site by which a passkey may be bound: a host's name in plain lower-case letters, as browsers write it.
pub(super) fn is_site(host: &str) -> bool {
    let is_label = |label: &str| {
        (1..=63).contains(&label.len())
            && label.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-')
            && !label.starts_with('-')
            && !label.ends_with('-')
    };
    let last = host.rsplit('.').next().unwrap_or_default();
    host.len() <= 253
        && host.split('.').all(is_label)
        && (host == THIS_MACHINE || (host.contains('.') && !last.bytes().all(|b| b.is_ascii_digit())))
}

/// True for a page of the site or of a part of it: encrypted, or on this very machine (W3C WebAuthn §5.1.4, RP ID).
pub(super) fn is_page_of(origin: &str, site: &str) -> bool {
    let (plain, rest) = match (origin.strip_prefix("https://"), origin.strip_prefix("http://")) {
        (Some(rest), _) => (false, rest),
        (None, Some(rest)) => (true, rest),
        (None, None) => return false,
    };
    let (host, port) = rest.split_once(':').map_or((rest, None), |(host, port)| (host, Some(port)));
    let is_port = |port: &str| {
        (1..=5).contains(&port.len()) && port.bytes().all(|b| b.is_ascii_digit()) && !port.starts_with('0')
    };
    let within = host == site || host.strip_suffix(site).is_some_and(|part| part.ends_with('.'));
    within && is_site(host) && port.is_none_or(is_port) && (!plain || host == THIS_MACHINE)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_site_is_a_plain_host() {
        for good in [
            "localhost",
            "lightworks.invalid",
            "a-b.lightworks.invalid",
            "xn--bcher-kva.invalid",
            "7.invalid",
        ] {
            assert!(is_site(good), "{good}");
        }
        let long = format!("{}.invalid", "a".repeat(64));
        for bad in [
            "",
            "invalid",
            "Lightworks.invalid",
            "lightworks.invalid.",
            ".invalid",
            "a..invalid",
            "-a.invalid",
            "a-.invalid",
            "127.0.0.1",
            "[::1]",
            "lightworks.invalid:8080",
            "https://lightworks.invalid",
            "bücher.invalid",
            "a_b.invalid",
            "ssh:",
            &long,
        ] {
            assert!(!is_site(bad), "{bad}");
        }
    }

    #[test]
    fn a_page_belongs_to_its_site_and_to_those_above_it() {
        for (origin, site, belongs) in [
            ("https://lightworks.invalid", "lightworks.invalid", true),
            ("https://lightworks.invalid:8443", "lightworks.invalid", true),
            ("https://jobs.lightworks.invalid", "lightworks.invalid", true),
            ("http://localhost", "localhost", true),
            ("http://localhost:8080", "localhost", true),
            ("https://localhost", "localhost", true),
            ("http://lightworks.invalid", "lightworks.invalid", false),
            ("https://notlightworks.invalid", "lightworks.invalid", false),
            ("https://lightworks.invalid.example.invalid", "lightworks.invalid", false),
            ("https://invalid", "lightworks.invalid", false),
            ("https://lightworks.invalid/", "lightworks.invalid", false),
            ("https://lightworks.invalid:", "lightworks.invalid", false),
            ("https://lightworks.invalid:0443", "lightworks.invalid", false),
            ("https://lightworks.invalid:8080:1", "lightworks.invalid", false),
            ("https://a@lightworks.invalid", "lightworks.invalid", false),
            ("https://.lightworks.invalid", "lightworks.invalid", false),
            ("http://jobs.localhost", "localhost", false),
            ("HTTPS://lightworks.invalid", "lightworks.invalid", false),
            ("file://", "lightworks.invalid", false),
            ("null", "localhost", false),
            ("https://lightworks.invalid\"", "lightworks.invalid", false),
        ] {
            assert_eq!(is_page_of(origin, site), belongs, "{origin} of {site}");
        }
    }
}
