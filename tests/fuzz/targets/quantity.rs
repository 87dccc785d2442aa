//! Any text as a quantity: never a panic, never a number that is not finite; what was read can be
//! written and read again to the same bits.
#![no_main]

use evenfall_sim::units::{Dimension, exact_quantity, parse_quantity};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|input: (u8, &str)| {
    let (which, text) = input;
    let dimension = Dimension::ALL[usize::from(which) % Dimension::ALL.len()];
    if let Ok(si) = parse_quantity(text, dimension) {
        assert!(si.is_finite());
        let written = exact_quantity(si, dimension, dimension.usual_unit());
        let back = parse_quantity(&written, dimension).map(f64::to_bits);
        assert_eq!(back, Ok(si.to_bits()), "{written}");
    }
});
