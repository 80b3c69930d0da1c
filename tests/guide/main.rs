//! The guided procedure from the outside: over the link, through a real terminal, and given what it cannot use.

#![cfg(test)]

mod bad_input;
mod link;
mod retrim;
#[allow(dead_code, reason = "one of several users of the rig: each needs a part of it")]
mod rig;
mod terminal;
