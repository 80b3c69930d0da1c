//! Physics held against values from outside: books, standards, reports and public libraries. Each value stands in a table beside
//! its source and its tolerance.

#![cfg(test)]

mod air;
mod case;
mod fuel;
mod geometry;
mod metering;
