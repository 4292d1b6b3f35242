//! The very sentences that waivers and acknowledgements seal.
//!
//! A sentence names every fact that it depends on, so that it changes, and the signature under it goes
//! stale, when one of them does. Its words are those of an edition: see [`crate::job::wording`].

use crate::ids::PanelId;
use crate::job::bench;
use crate::job::brightness;
use crate::job::case::Case;
use crate::job::cautions::{Caution, cautions};
use crate::job::plan::pieces;
use crate::job::slab;
use crate::job::supplied;
use crate::job::trials::tried;
use crate::job::wording::{WORDING, Wording};
use crate::model::panel::Panel;
use crate::model::statement::{Fact, Facts, Subject, Topic};
use crate::units::{Millimetres, trimmed};

/// The fact that holds a sentence; what it says of one panel stands under the panel's name beside it.
const SENTENCE: &str = "sentence";

/// The sentence of a waiver or an acknowledgement, as things are now and in the present words; none where there is
/// nothing to say.
#[must_use]
pub fn sentence(case: &Case<'_>, subject: &Subject) -> Option<String> {
    if let Some(group) = subject.group.as_ref().filter(|group| case.group.as_ref() != Some(group)) {
        return sentence(&case.part(group)?, subject);
    }
    let parts = parts(case, subject, Wording::PRESENT)?;
    Some(parts.into_iter().map(|(_, text)| text).collect::<Vec<_>>().join("\n"))
}

/// The facts that a statement about a waiver or an acknowledgement seals in the words of an edition: the sentence in
/// its parts, and the edition.
#[must_use]
pub fn sealed(case: &Case<'_>, subject: &Subject, wording: Wording) -> Facts {
    match subject.topic {
        Some(Topic::Cautions) => {
            super::facts::of_its_group(case, subject, |case| sealed_of(case, subject, wording))
        }
        _ => sealed_of(case, subject, wording),
    }
}

fn sealed_of(case: &Case<'_>, subject: &Subject, wording: Wording) -> Facts {
    let Some(parts) = parts(case, subject, wording) else { return Facts::new() };
    let mut facts: Facts = parts.into_iter().map(|(name, text)| (name, Fact::Text(text))).collect();
    if wording != Wording::First {
        facts.insert(WORDING.into(), Fact::Text(wording.word().into()));
    }
    facts
}

/// The parts of a sentence in the order in which they are read, each with the name of its fact.
fn parts(case: &Case<'_>, subject: &Subject, wording: Wording) -> Option<Vec<(String, String)>> {
    let panel = subject.panel.as_ref().and_then(|id| case.project.panels.get(id));
    let whole = match subject.topic? {
        Topic::CctNotTried => cct_not_tried(case, panel?),
        Topic::Dim => dim(case, subject.panel.as_ref()?, panel?, wording),
        Topic::Sampling => no_test_panel(case, panel?),
        Topic::NoFieldService => Some(no_field_service(panel?)),
        Topic::Seams => seams(case, panel?),
        Topic::UnevenLight => uneven_light(panel?),
        Topic::NotMeasured => not_measured(panel?),
        Topic::SlabNotSeen => slab_not_seen(case, panel?),
        Topic::RoomLightUnknown => room_light_unknown(case),
        Topic::ElectricsUnknown => electrics_unknown(case, panel?),
        Topic::OutsideLimits => outside_limits(case, subject.panel.as_ref()?),
        Topic::OrderedAhead => ordered_ahead(case),
        Topic::Accepted => accepted(case),
        Topic::Cautions => return Some(cautions_seen(case, wording)),
        Topic::NotesMet => {
            let digest = subject.notes_of?;
            let noted = case.project.signoffs.iter().find(|s| s.digest == digest)?;
            Some(format!(
                "Every note under sign-off {} on {} is met: {}.",
                digest.short(),
                noted.statement.about,
                noted.statement.notes.join("; ")
            ))
        }
    }?;
    Some(vec![(SENTENCE.into(), whole)])
}

fn cautions_seen(case: &Case<'_>, wording: Wording) -> Vec<(String, String)> {
    let all = cautions(case, wording);
    let listed = |some: &[&Caution]| {
        let lines: Vec<String> = some.iter().map(|c| format!("- {}", c.in_words(wording))).collect();
        lines.join("\n")
    };
    let headed = |some: &[&Caution]| {
        let what = match &case.group {
            Some(group) => format!("release group {group} of this job"),
            None => "this job".to_owned(),
        };
        (SENTENCE.to_owned(), format!("The cautions of {what} were read and are kept:\n{}", listed(some)))
    };
    if wording == Wording::First {
        return vec![headed(&all.iter().collect::<Vec<_>>())];
    }
    let of_the_job: Vec<&Caution> = all.iter().filter(|c| c.panel().is_none()).collect();
    let mut parts = vec![headed(&of_the_job)];
    for (id, _) in case.panels() {
        let own: Vec<&Caution> = all.iter().filter(|c| c.panel() == Some(id.as_str())).collect();
        if !own.is_empty() {
            parts.push((format!("{SENTENCE}.{id}"), listed(&own)));
        }
    }
    parts
}

fn stone_name(case: &Case<'_>, panel: &Panel) -> String {
    case.project.stone_of(panel).map_or_else(|| panel.swatch.to_string(), |s| s.stone.clone())
}

fn cct_not_tried(case: &Case<'_>, panel: &Panel) -> Option<String> {
    let light = panel.light.as_ref()?;
    let cct = light.cct_k?;
    if tried(case, panel, cct).is_some() {
        return None;
    }
    Some(format!(
        "Panel {} is built with {} light at {cct} K, although {} was never tried within {} K of it. How the \
         stone looks at this colour temperature has not been seen, and it is not changed free of charge.",
        panel.id,
        light.kind,
        stone_name(case, panel),
        case.shop.rules.tried_within_k
    ))
}

/// The earlier job is named by the digest of its trial, for another client's name is nobody's business here.
fn no_test_panel(case: &Case<'_>, panel: &Panel) -> Option<String> {
    let without = panel.no_test_panel.as_ref()?;
    let (id, stone) = (&panel.id, stone_name(case, panel));
    Some(match &without.earlier {
        Some(earlier) => format!(
            "No test panel is made for panel {id}. {stone}, lot {}, {} thick, was tried in an earlier job on {} over \
             {} light at {} K, {} face (record {}). Two pieces of one lot are never quite alike, and the stone of this \
             job was not tried itself.",
            earlier.lot,
            case.shop.book.units.show(earlier.slab_mm),
            earlier.date,
            earlier.light,
            earlier.cct_k,
            earlier.face,
            earlier.sha256.short(),
        ),
        None => format!(
            "No test panel is made for panel {id}: {}. How {stone} looks when lit has not been seen, whatever colour \
             temperature and face are chosen, and it is not changed free of charge.",
            without.because.trim_end_matches('.')
        ),
    })
}

fn dim(case: &Case<'_>, id: &PanelId, panel: &Panel, wording: Wording) -> Option<String> {
    let dim = brightness::dim(case, id, panel, wording.thickness_law())?;
    let light = panel.light.as_ref()?;
    let cct = light.cct_k.map_or_else(String::new, |cct| format!(" at {cct} K"));
    let site = &case.project.project.site;
    Some(format!(
        "Panel {id} is built with {} light{cct} behind {}, {} thick, although the stone {} {} times as bright as its \
         surroundings in a room of {} lx; the shop advises {} times or more. So soft a light is wanted, and it is not \
         made brighter free of charge.",
        light.kind,
        stone_name(case, panel),
        case.shop.book.units.show(case.project.stone_of(panel)?.slab.thickness_mm),
        if dim.is_certain() { "will be only" } else { "may be only" },
        dim.ratio_in_words(),
        trimmed(site.ambient_lx?.get(), 0),
        trimmed(dim.least, 2),
    ))
}

fn not_measured(panel: &Panel) -> Option<String> {
    let rests = match &panel.basis {
        Some(basis) if basis.kind.is_of_the_place() => return None,
        Some(basis) => {
            let file = basis.file.as_ref().map_or_else(String::new, |file| format!(", file {file}"));
            let revision = basis.revision.as_ref().map_or_else(String::new, |r| format!(", revision {r}"));
            format!("a drawing by {} of {}{file}{revision}", basis.by, basis.date)
        }
        None => "a drawing that nobody named".to_owned(),
    };
    Some(format!(
        "Panel {} is built to {rests}. Nobody has measured at the place: whether it fits is seen when it is put in, and \
         it is not changed free of charge.",
        panel.id
    ))
}

fn slab_not_seen(case: &Case<'_>, panel: &Panel) -> Option<String> {
    slab::unseen(panel)?;
    let lot = panel
        .slab
        .as_ref()
        .map_or_else(|| "that is not chosen yet".to_owned(), |slab| format!("of lot {}", slab.lot));
    Some(format!(
        "Panel {} is built for a slab of {} {lot}, and that very slab was not seen lit. Veins, fills, mending and the \
         mesh on its back show only in the light, and it is not changed free of charge.",
        panel.id,
        stone_name(case, panel)
    ))
}

fn room_light_unknown(case: &Case<'_>) -> Option<String> {
    let unknown = case.project.project.site.ambient_lx.is_none();
    unknown.then(|| {
        "The light in the room is not known. Whether the stone looks lit beside it is seen only when it is put in, and it is \
         not made brighter free of charge."
            .to_owned()
    })
}

fn electrics_unknown(case: &Case<'_>, panel: &Panel) -> Option<String> {
    let unknown = supplied::unknown(&case.project.project.site, panel);
    (!unknown.is_empty()).then(|| {
        format!(
            "Panel {} is built although this is not known: {}. A driver, cable or fuse that does not suit what is found at \
             the site is changed there, and not free of charge.",
            panel.id,
            unknown.join(", ")
        )
    })
}

fn outside_limits(case: &Case<'_>, id: &PanelId) -> Option<String> {
    let outside = bench::judge(case, id)?.outside;
    let built = case.project.as_built.iter().flat_map(|b| &b.panels).filter(|p| p.id == *id);
    let serials: Vec<&str> = built.map(|p| p.serial.as_str()).collect();
    (!outside.is_empty()).then(|| {
        format!(
            "Panel {id}, serial number {}, leaves the shop outside its limits: {}. It is built in as it is.",
            serials.join(", "),
            outside.join("; ")
        )
    })
}

fn ordered_ahead(case: &Case<'_>) -> Option<String> {
    let ordered = &case.project.project.dates.as_ref()?.ordered_ahead;
    let lines: Vec<String> = ordered.iter().map(|o| format!("- {}, on {}", o.what, o.date)).collect();
    (!lines.is_empty()).then(|| {
        format!(
            "Ordered before its drawing was approved:\n{}\nWhere the drawing changes it may not fit, and it is paid for all \
             the same.",
            lines.join("\n")
        )
    })
}

fn accepted(case: &Case<'_>) -> Option<String> {
    let seen = case.project.installation.as_ref()?.acceptance.as_ref()?;
    let dimmed = seen
        .lowest_dim_pct
        .map_or_else(String::new, |pct| format!(" It was dimmed down to {} %.", trimmed(pct, 1)));
    let flicker = match &seen.flicker_seen {
        None => "none was seen".to_owned(),
        Some(what) => format!("this was seen: {}", what.trim_end_matches('.')),
    };
    let remaining = match seen.remaining.as_slice() {
        [] => "Nothing is left to be done.".to_owned(),
        open => format!(
            "Still to be done:\n{}",
            open.iter().map(|o| format!("- {o}")).collect::<Vec<_>>().join("\n")
        ),
    };
    Some(format!(
        "The finished work was looked at, lit, on {} (photo {}).{dimmed} Flicker was looked for, {}: {flicker}. \
         {remaining}",
        seen.date,
        seen.photo.sha256.short(),
        seen.flicker_looked_for.trim_end_matches('.'),
    ))
}

fn no_field_service(panel: &Panel) -> String {
    format!(
        "Panel {} is closed in for good (mount: fixed). When its light fails it cannot be repaired on site: \
         the stone has to be taken down, and may break.",
        panel.id
    )
}

fn seams(case: &Case<'_>, panel: &Panel) -> Option<String> {
    if panel.seams.is_empty() {
        return None;
    }
    let units = case.shop.book.units;
    let point = |p: &[Millimetres; 2]| format!("({}, {})", units.show(p[0]), units.show(p[1]));
    let places: Vec<String> =
        panel.seams.iter().map(|s| format!("from {} to {}", point(&s.from_mm), point(&s.to_mm))).collect();
    Some(format!(
        "Panel {} is built in {} butted pieces. Its seams run {}. A seam may show as a darker or brighter \
         line when lit.",
        panel.id,
        pieces::count(panel, case.project.drawing_of(&panel.id)),
        places.join(" and ")
    ))
}

fn uneven_light(panel: &Panel) -> Option<String> {
    if panel.lit_edges.is_empty() {
        return None;
    }
    let edges: Vec<String> = panel.lit_edges.iter().map(ToString::to_string).collect();
    Some(format!(
        "Panel {} is lit from {} edges ({}) although it is not square. It will look uneven when lit.",
        panel.id,
        edges.len(),
        edges.join(", ")
    ))
}
