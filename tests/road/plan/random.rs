//! Random plans: never a panic, and a sound plan stays sound under what changes nothing.

use super::{BASE, WHOLE, read, reads};
use evenfall_sim::units::{Dimension, exact_quantity};
use proptest::prelude::*;

proptest! {
    #[test]
    fn random_text_never_panics(text in "\\PC{0,200}") {
        let _ = read(&text);
    }

    #[test]
    fn random_bytes_of_a_plan_never_panic(
        at in 0usize..3000,
        cut in 0usize..40,
        put in "[\\[\\]{}=\"'.,#a-z0-9 \\n-]{0,12}",
    ) {
        let mut text: Vec<char> = WHOLE.chars().collect();
        let at = at.min(text.len());
        let end = (at + cut).min(text.len());
        text.splice(at..end, put.chars());
        let text: String = text.into_iter().collect();
        if let Err(errors) = read(&text) {
            prop_assert!(!errors.errors.is_empty());
            for error in &errors.errors {
                prop_assert!(!error.message().is_empty());
                if let Some(place) = error.place() {
                    prop_assert!(place.end <= text.len());
                    prop_assert!(place.line >= 1 && place.column >= 1);
                }
            }
        }
    }

    #[test]
    fn lines_of_plans_in_any_order_never_panic(seed in any::<u64>(), keep in 1usize..60) {
        let mut lines: Vec<&str> = WHOLE.lines().collect();
        let mut state = seed | 1;
        for i in (1..lines.len()).rev() {
            // Any scrambling will do: xorshift after Marsaglia.
            state ^= state << 13;
            state ^= state >> 7;
            state ^= state << 17;
            lines.swap(i, usize::try_from(state % (i as u64 + 1)).unwrap());
        }
        lines.truncate(keep);
        let _ = read(&lines.join("\n"));
    }

    #[test]
    fn any_height_arrives_to_the_last_bit(height_m in 1e-3..50.0f64, unit in 0usize..9) {
        let unit = ["m", "cm", "mm", "um", "nm", "Å", "in", "thou", "ft"][unit];
        let height = exact_quantity(height_m, Dimension::Length, unit);
        let text = BASE.replace("height = \"350 mm\"", &format!("height = \"{height}\""));
        let shape = format!("{:?}", reads(&text).chamber.unwrap().shape);
        prop_assert_eq!(
            shape,
            format!("Cylinder {{ diameter_m: 0.3, height_m: {height_m:?} }}")
        );
    }
}
