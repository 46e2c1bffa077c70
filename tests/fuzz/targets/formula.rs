#![no_main]

#[path = "../properties/formula.rs"]
mod property;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| property::holds(bytes));
