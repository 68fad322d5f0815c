#![no_main]

#[path = "common.rs"]
mod common;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| common::accounted("config", bytes));
