#![no_main]

#[path = "../properties/files.rs"]
mod property;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| property::holds(bytes));
