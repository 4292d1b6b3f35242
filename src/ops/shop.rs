//! The shop's sealed files: `book.json`, `rules.json` and `shop/*.json`, held to the newest roster's digests.

use serde::de::DeserializeOwned;

use super::chain::Chain;
use crate::digest::Sha256Digest;
use crate::fault::Fault;
use crate::model::book::FORMAT;
use crate::model::kind::Kind;
use crate::model::snapshot::Shop;
use crate::store::{BookFolder, read, safe_path, strict_json};

/// The files that owners seal, in order.
pub const SEALED: &[&str] = &[
    "book.json",
    "rules.json",
    "shop/calendar.json",
    "shop/controls.json",
    "shop/drivers.json",
    "shop/lights.json",
    "shop/routes.json",
    "shop/wire.json",
];

/// Reads the shop's files and holds them to the roster.
///
/// # Errors
/// Everything that is wrong with them; `shop-not-sealed` where one is not what the owners signed.
pub fn load(book: &BookFolder, chain: &Chain) -> Result<Shop, Vec<Fault>> {
    let mut faults = Vec::new();
    for path in SEALED {
        match safe_path::read_plain(book.root(), path, strict_json::LARGEST) {
            Ok(bytes) if chain.newest().sealed.get(*path) == Some(&Sha256Digest::of(&bytes)) => {}
            Ok(_) => faults.push(
                Fault::trust("shop-not-sealed", format!("{path} is not what roster version {} signed", chain.newest().version))
                    .in_file(*path)
                    .mend("let an owner look at it and seal it: underlit roster seal; or put the sealed file back: git checkout -- FILE"),
            ),
            Err(fault) => faults.push(*fault),
        }
    }
    read_all(book, chain, faults)
}

/// Reads the shop's files as they lie on disk, sealed or not, for an owner who is about to seal them.
///
/// # Errors
/// Everything that is wrong with them.
pub fn read_as_it_lies(book: &BookFolder, chain: &Chain) -> Result<Shop, Vec<Fault>> {
    read_all(book, chain, Vec::new())
}

fn read_all(book: &BookFolder, chain: &Chain, faults: Vec<Fault>) -> Result<Shop, Vec<Fault>> {
    let roster = chain.newest().clone();
    let mut rest = Loader { book, faults };
    let loaded = (
        rest.get("book.json", Kind::Book),
        rest.get("rules.json", Kind::Rules),
        rest.get("shop/routes.json", Kind::Routes),
        rest.get("shop/lights.json", Kind::Lights),
        rest.get("shop/drivers.json", Kind::Drivers),
        rest.get("shop/controls.json", Kind::Controls),
        rest.get("shop/wire.json", Kind::Wire),
        rest.get("shop/calendar.json", Kind::Calendar),
    );
    match loaded {
        (
            Some(book),
            Some(rules),
            Some(routes),
            Some(lights),
            Some(drivers),
            Some(controls),
            Some(wire),
            Some(calendar),
        ) if rest.faults.is_empty() => {
            let shop = Shop {
                book,
                roster,
                roster_digest: chain.newest_digest(),
                rules,
                routes,
                lights,
                drivers,
                controls,
                wire,
                calendar,
            };
            if shop.book.format != FORMAT {
                let message =
                    format!("the book's format is {}, and this underlit reads {FORMAT}", shop.book.format);
                return Err(vec![
                    Fault::data("format", message)
                        .in_file("book.json")
                        .at_pointer("/format")
                        .mend("use the underlit that made it, or a newer one"),
                ]);
            }
            if shop.book.id != shop.roster.book {
                let message = format!(
                    "the book calls itself {}, and its roster is of {}",
                    shop.book.id, shop.roster.book
                );
                return Err(vec![
                    Fault::trust("roster-book", message)
                        .in_file("book.json")
                        .at_pointer("/id")
                        .mend("put the sealed book.json back"),
                ]);
            }
            Ok(shop)
        }
        _ => Err(rest.faults),
    }
}

struct Loader<'a> {
    book: &'a BookFolder,
    faults: Vec<Fault>,
}

impl Loader<'_> {
    fn get<T: DeserializeOwned>(&mut self, path: &str, kind: Kind) -> Option<T> {
        read::record(self.book.root(), path, kind).map_err(|mut faults| self.faults.append(&mut faults)).ok()
    }
}
