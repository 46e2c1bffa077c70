#![no_main]

#[path = "../properties/rescale.rs"]
mod property;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| property::holds(bytes));
