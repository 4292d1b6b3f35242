//! The first page of help: every verb under what somebody wants to do, one line each, in the order of a job.
//!
//! What a verb does in full stands at the verb itself. A test holds this page and the table of verbs together.

/// The page, in the words of clap's help templates.
pub(super) const PAGE: &str = "\
{about-with-newline}
{usage-heading} {usage}

Begin:
  demo             a whole job played through, with three invented people
  init             a new book
  join             a book from any git address, checked
  me               who you are in this clone
  open             a project

Gather:
  project          a project's own record
  swatch           stones: described, measured
  panel            the panels of a project
  request          test panels: asked for, sent, received
  trial            what was seen with a stone over a test panel
  look             what a stone will look like over each light

Design:
  choose           light, face, lit edges, voltage, mount, control
  split            a panel larger than a sheet, in butted pieces
  draw             the exact rendering that gets signed
  cut              the exact outline for the cutter
  plan             route, tape, driver and wire

Approve:
  sign             approve, reject, waive, acknowledge, release
  packet           a page for a client to read and answer by, without a key
  intake           an answer that names its code, recorded
  evidence         a written answer, recorded
  advance          to the next stage, if the gate opens
  reopen           back to an earlier stage, with a reason

Build:
  pack             the build pack, and its proof
  built            a panel as it left the bench
  installed        the installation and its service card

See:
  status           where a project stands, and what is missing
  show             any record in words
  board            every project on a line
  dates            the latest date of every step
  changes          what changed since it was signed
  history          the story in trade words
  check            everything that is wrong with a book
  verify           a book proved from its fingerprint, and why each job may be built
  calc             one question without any book
  guide            pages to look up: paper, sharing, guard, sums and more

Share:
  sync             this clone and its remote to the same book
  resolve          open questions between edits, of a project or the shop
  watch            what happens at the remote, each event once
  stock-git        let your own git merge as sync does: setup
  guard            a shared repository that judges each push
  roster           people, roles, keys, and what owners seal
  allowed-signers  keys, for stock `ssh-keygen -Y verify`

For machines:
  schemas          the JSON Schemas
  completions      for a shell
  man              manual pages

`underlit help VERB` says more, with an example.

Options:
{options}{after-help}";
