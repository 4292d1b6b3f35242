//! The command line from outside: the real binary, with real git and real OpenSSH, in folders of its own. Each test
//! looks at what was said, at the exit code, and at what lies in the book afterwards.
#![allow(clippy::unwrap_used)]

#[path = "../answers/mod.rs"]
mod answers;
#[path = "../dice/mod.rs"]
mod dice;

mod again;
mod attacks;
mod bad_input;
mod bad_places;
mod bad_signatures;
mod bent_column;
mod ceiling_and_floor;
mod documented;
mod drawing;
mod every_answer;
mod first_user;
mod forged_sheets;
mod forgery;
mod half_made;
mod handed_over;
mod harmless;
mod hearing;
mod help;
mod inches;
mod interview;
mod judged;
mod killed;
mod left_out;
mod letters;
mod lookup;
mod matrix;
mod merging;
mod mutations;
mod naming;
mod next;
mod notes;
mod odd_clones;
mod options;
mod packets;
mod pages;
mod part;
#[path = "../passkey/mod.rs"]
mod passkey;
mod passkeys;
mod past_gates;
mod prints;
mod pulled;
mod questions;
mod recent;
mod refused;
mod remembering;
mod repair;
mod same_outline;
mod samples;
mod sayings;
mod schedule;
mod sealed_shop;
mod shop_questions;
mod silent;
mod site;
mod stages;
mod stock_git;
mod stock_git_merges;
mod stock_git_ways;
mod stock_tools;
mod terminal;
mod three_people;
mod two_jobs;
mod unreadable;
mod vanished;
mod verbs;
mod verifying;
mod watching;
mod whole_book;
mod whole_jobs;
mod workbook;
mod workshop;
