//! The shop's sealed files: `book.json`, `rules.json` and `shop/*.json`, held to the newest roster's digests.

use std::collections::BTreeMap;

use serde::de::DeserializeOwned;
use serde_json::Value;

use super::chain::Chain;
use super::proof;
use crate::digest::Sha256Digest;
use crate::fault::{Fault, Means};
use crate::ids::PersonId;
use crate::making::calendar::ShopCalendar;
use crate::making::routes::Routes;
use crate::making::shop_fault::MakingShopFault;
use crate::model::book::FORMAT;
use crate::model::conflict::Conflict;
use crate::model::kind::Kind;
use crate::model::rules::{RuleFault, Rules};
use crate::model::snapshot::Shop;
use crate::power::controls::Controls;
use crate::power::drivers::Drivers;
use crate::power::lights::Lights;
use crate::power::shop_fault::PowerShopFault;
use crate::power::wire_stock::WireStock;
use crate::store::{BookFiles, read, strict_json};

/// The files that owners seal, in order.
pub(crate) const SEALED: &[&str] = &[
    "book.json",
    "rules.json",
    "shop/calendar.json",
    "shop/controls.json",
    "shop/drivers.json",
    "shop/lights.json",
    "shop/routes.json",
    "shop/wire.json",
];

/// The folder of the open questions about files outside any project.
pub(crate) const CONFLICTS: &str = "conflicts";

/// What a judgement of any project rests on besides the project's own files, as one digest: this build of the program,
/// the roster with all its versions, and the shop as it was read.
#[must_use]
pub(crate) fn rests_on(chain: &Chain, shop: &Shop, build: &str) -> Sha256Digest {
    let (first, newest) = (chain.fingerprint(), chain.newest_digest());
    Sha256Digest::of(format!("{build}\n{first} {newest}\n{shop:?}").as_bytes())
}

/// Reads the shop's files and holds them to the roster.
///
/// # Errors
/// Everything that is wrong with them; `shop-not-sealed` where one is not what the owners signed.
pub(crate) fn load(book: &dyn BookFiles, chain: &Chain) -> Result<Shop, Vec<Fault>> {
    let mut faults = Vec::new();
    for path in SEALED {
        match book.read(path, strict_json::LARGEST) {
            Ok(bytes) if chain.newest().sealed.get(*path) == Some(&Sha256Digest::of(&bytes)) => {}
            Ok(_) => faults.push(
                Fault::trust("shop-not-sealed", format!("it is not what roster version {} signed", chain.newest().version))
                    .that_means(Means::Unsealed)
                    .in_file(*path)
                    .fix(format!("let an owner look at it and seal it: underlit roster seal; or put the sealed file back: git checkout -- {path}")),
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
pub(crate) fn read_as_it_lies(book: &dyn BookFiles, chain: &Chain) -> Result<Shop, Vec<Fault>> {
    read_all(book, chain, Vec::new())
}

fn read_all(book: &dyn BookFiles, chain: &Chain, faults: Vec<Fault>) -> Result<Shop, Vec<Fault>> {
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
    let mut conflicts = rest.conflicts();
    proof::prove(book, &mut conflicts);
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
                named_then: named_then(chain),
                rules,
                routes,
                lights,
                drivers,
                controls,
                wire,
                calendar,
                conflicts,
            };
            if !(1..=FORMAT).contains(&shop.book.format) {
                let message = format!(
                    "the book's format is {}, and this underlit reads 1 to {FORMAT}",
                    shop.book.format
                );
                return Err(vec![
                    Fault::data("format", message)
                        .that_means(Means::OtherFormat)
                        .in_file("book.json")
                        .at_pointer("/format")
                        .fix("use the underlit that made it, or a newer one"),
                ]);
            }
            if shop.book.id != shop.roster.book {
                let message = format!(
                    "book.json names the book {}, but its roster belongs to {}",
                    shop.book.id, shop.roster.book
                );
                return Err(vec![
                    Fault::trust("roster-book", message)
                        .that_means(Means::Unsealed)
                        .in_file("book.json")
                        .at_pointer("/id")
                        .fix("put the sealed book.json back"),
                ]);
            }
            Ok(shop)
        }
        _ => Err(rest.faults),
    }
}

fn named_then(chain: &Chain) -> BTreeMap<PersonId, BTreeMap<u32, String>> {
    let now = chain.newest();
    let mut then: BTreeMap<PersonId, BTreeMap<u32, String>> = BTreeMap::new();
    for (roster, _) in chain.versions() {
        for person in roster.people.iter().filter(|p| now.person(&p.id).is_some_and(|n| n.name != p.name)) {
            then.entry(person.id.clone()).or_default().insert(roster.version, person.name.clone());
        }
    }
    then
}

/// What is wrong in one of the shop's lists that its schema cannot see, such as an id used twice or a cable of a
/// size that its table does not have. Nothing for a file that is none of them or that its types do not hold.
#[must_use]
pub(crate) fn list_faults(path: &str, kind: Kind, bytes: &[u8], value: &Value) -> Vec<Fault> {
    fn of<T: DeserializeOwned>(value: &Value) -> Option<T> {
        T::deserialize(value).ok()
    }
    let power = |faults: Vec<PowerShopFault>| -> Vec<Flaw> {
        faults
            .iter()
            .map(|f| (f.code(), f.to_string(), f.pointer().to_owned(), f.remedy().to_string()))
            .collect()
    };
    let making = |faults: Vec<MakingShopFault>| -> Vec<Flaw> {
        faults.iter().map(|f| (f.code(), f.to_string(), f.pointer().to_owned(), f.remedy())).collect()
    };
    let found = match kind {
        Kind::Lights => of::<Lights>(value).map(|list| power(list.faults())),
        Kind::Drivers => of::<Drivers>(value).map(|list| power(list.faults())),
        Kind::Controls => of::<Controls>(value).map(|list| power(list.faults())),
        Kind::Wire => of::<WireStock>(value).map(|list| power(list.faults())),
        Kind::Routes => of::<Routes>(value).map(|list| making(list.faults())),
        Kind::Rules => of::<Rules>(value).map(|rules| {
            let flaw = |f: RuleFault| (RuleFault::CODE, f.message, f.pointer, RuleFault::REMEDY.to_owned());
            rules.faults().into_iter().map(flaw).collect()
        }),
        Kind::Calendar => of::<ShopCalendar>(value).map(|list| making(list.faults())),
        _ => None,
    };
    found
        .unwrap_or_default()
        .into_iter()
        .map(|(code, message, pointer, remedy)| {
            let line = strict_json::line_of(bytes, &pointer);
            Fault::data(code, message).in_file(path).at_pointer(pointer).on_line(line).fix(remedy)
        })
        .collect()
}

/// Code, message, pointer and remedy of a flaw in a list.
type Flaw = (&'static str, String, String, String);

struct Loader<'a> {
    book: &'a dyn BookFiles,
    faults: Vec<Fault>,
}

impl Loader<'_> {
    fn conflicts(&mut self) -> BTreeMap<String, Conflict> {
        let paths = self.book.files_of(CONFLICTS, Kind::Conflict).map_err(|f| self.faults.push(*f));
        let read = |path: String| {
            let record = read::record(self.book, &path, Kind::Conflict);
            let record = record.map_err(|mut faults| self.faults.append(&mut faults)).ok()?;
            Some((path, record))
        };
        paths.unwrap_or_default().into_iter().filter_map(read).collect()
    }

    fn get<T: DeserializeOwned>(&mut self, path: &str, kind: Kind) -> Option<T> {
        let document = read::document(self.book, path, kind)
            .map_err(|mut faults| self.faults.append(&mut faults))
            .ok()?;
        self.faults.append(&mut list_faults(path, kind, &document.bytes, &document.value));
        read::typed(path, &document.bytes, &document.value).map_err(|fault| self.faults.push(*fault)).ok()
    }
}
