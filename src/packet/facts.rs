//! What a packet says, before it has words: plain facts, from whoever read the book.

use jiff::civil::Date;

use super::words::Language;
use crate::digest::Sha256Digest;
use crate::making::mount::Mount;
use crate::model::answer_code::AnswerCode;
use crate::model::roster::Role;
use crate::model::stage::Stage;
use crate::model::statement::{Decision, Subject};
use crate::units::{DisplayUnits, Millimetres};
use crate::words::{Face, LightKind};

/// How a mark on a drawing stands in what is kept or signed, whatever the page's language.
pub(crate) const MARK: &str =
    "Mark {n} on sheet {sheet}, {left} mm from its left and {top} mm from its top edge: {note}";

/// Everything that stands in a packet.
#[derive(Clone, Debug)]
pub struct Facts {
    /// The language of the page.
    pub language: Language,
    /// The units in which lengths are shown.
    pub units: DisplayUnits,
    /// The book's name.
    pub book: String,
    /// The project's name.
    pub project: String,
    /// The shop.
    pub shop: String,
    /// What people call the job.
    pub title: String,
    /// Where it is built in.
    pub site: String,
    /// Whom the packet is for.
    pub reader: String,
    /// The short name of the reader.
    pub person: String,
    /// The passkeys of the reader that the roster knows, as public key lines.
    pub passkeys: Vec<String>,
    /// In which role they answer; none where nothing is asked of them.
    pub role: Option<Role>,
    /// Who takes the answers in.
    pub rep: String,
    /// How to reach them, where the book says so.
    pub contact: Option<String>,
    /// How far the job is.
    pub stage: Stage,
    /// The last day that keeps the install date.
    pub answer_by: Option<Date>,
    /// The day the panels are to be installed.
    pub install: Option<Date>,
    /// The release group that is installed first, where groups have days of their own.
    pub install_group: Option<String>,
    /// What is asked, in the order in which it is asked.
    pub items: Vec<Item>,
    /// What happened, oldest first.
    pub story: Vec<(Date, Event)>,
    /// What happens after the release, each with its latest day.
    pub next: Vec<(Next, Option<Date>)>,
    /// The cautions of the job, in the words that are signed.
    pub cautions: Vec<String>,
    /// What a reader of the book is told first.
    pub note: Option<String>,
}

/// One thing to answer.
#[derive(Clone, Debug)]
pub struct Item {
    /// What it is.
    pub subject: Subject,
    /// The code of this very version.
    pub code: AnswerCode,
    /// The statement that the reader signs with a passkey, with a place for all that they add; none without a passkey.
    pub statement: Option<String>,
    /// The title of its panel.
    pub panel: Option<String>,
    /// How its approval stands.
    pub standing: Standing,
    /// What is shown of it.
    pub content: Content,
}

/// How an approval stands.
#[derive(Clone, Debug)]
pub enum Standing {
    /// It waits for an answer.
    Waiting,
    /// It was approved, and has changed since: each fact with what was approved and what it is now.
    Changed(Vec<[String; 3]>),
    /// It is approved, by whom.
    Given(String),
    /// It is approved as noted, and the notes are to be met.
    Noted(Vec<String>),
    /// It was sent back.
    Refused {
        /// How.
        decision: Decision,
        /// Why.
        comment: Option<String>,
    },
}

impl Standing {
    /// True where the reader is asked now.
    #[must_use]
    pub(crate) fn is_open(&self) -> bool {
        matches!(self, Standing::Waiting | Standing::Changed(_))
    }
}

/// What is shown of an item.
#[derive(Clone, Debug)]
pub enum Content {
    /// Stone, light and mount of a panel.
    Choice(Choice),
    /// Its drawing.
    Rendering(Rendering),
    /// A sentence.
    Sentence(String),
}

/// What is chosen for a panel.
#[derive(Clone, Debug)]
pub struct Choice {
    /// How many panels are alike; none for one.
    pub quantity: Option<u32>,
    /// What the stone is called.
    pub stone: String,
    /// How thick the slab is.
    pub slab: Millimetres,
    /// The slab's lot.
    pub lot: Option<String>,
    /// Its finish.
    pub finish: Option<String>,
    /// The kind of light.
    pub light: LightKind,
    /// Its colour temperature.
    pub cct_k: Option<u32>,
    /// The warmest and the coolest to which a tunable white is to be set.
    pub cct_range_k: Option<[u32; 2]>,
    /// The level at which it comes on, percent.
    pub level_pct: Option<u32>,
    /// The least colour rendering index Ra that is asked of it.
    pub least_ra: Option<u32>,
    /// The face.
    pub face: Face,
    /// The edges at which light enters, and how many there are.
    pub edges: Vec<u32>,
    /// The supply voltage.
    pub voltage_v: Option<u32>,
    /// How it is held.
    pub mount: Mount,
    /// The control system.
    pub control: Option<String>,
    /// The stone over this and neighbouring lights, the warmest first.
    pub looks: Vec<Look>,
}

/// The stone over one light.
#[derive(Clone, Debug)]
pub struct Look {
    /// The colour temperature.
    pub cct_k: u32,
    /// The picture as JPEG.
    pub jpeg: Vec<u8>,
    /// Its width and height in pixels.
    pub size: [usize; 2],
    /// A bar that says how large the stone is in it: millimetres of the stone, and pixels.
    pub bar: Option<[f64; 2]>,
    /// Luminance in cd/m², least and most.
    pub luminance_cd_m2: [f64; 2],
    /// That over the room's, least and most.
    pub ratio: Option<[f64; 2]>,
}

/// The drawing of a panel.
#[derive(Clone, Debug)]
pub struct Rendering {
    /// Its revision.
    pub revision: u32,
    /// Width and height.
    pub size: [Millimetres; 2],
    /// The thickness of the stone.
    pub stone: Millimetres,
    /// The edges at which light enters.
    pub edges: Vec<u32>,
    /// Cut-outs.
    pub cutouts: u32,
    /// Seams.
    pub seams: usize,
    /// The sheets as SVG, each with the digest of its file.
    pub sheets: Vec<(String, Sha256Digest)>,
    /// The digest of all sheets as PDF.
    pub pdf: Sha256Digest,
    /// Where the view stands on the first sheet: left, top, width and height in mm.
    pub view: Option<[f64; 4]>,
}

/// Something that happened.
#[derive(Clone, Debug)]
pub enum Event {
    /// The job was opened.
    Opened,
    /// A test panel arrived.
    TestPanel,
    /// A stone was tried over it.
    Tried {
        /// The stone.
        stone: String,
        /// The light, where it was a white.
        cct_k: Option<u32>,
        /// The face.
        face: Face,
        /// What was seen.
        seen: String,
        /// How well it pleased, 1 to 5.
        rating: u32,
    },
    /// Somebody answered.
    Said {
        /// Who.
        who: String,
        /// What.
        decision: Decision,
        /// To what.
        subject: Subject,
        /// The title of its panel.
        panel: Option<String>,
    },
    /// The job moved.
    Moved(Stage),
}

/// What happens after the answers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Next {
    /// The engineer releases it.
    Released,
    /// The panels are finished.
    Built,
    /// They are on site.
    Arrived,
    /// They are put in.
    Installed,
}
