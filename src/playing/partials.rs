//! The harmonic series: where an instrument's partials lie.

use std::sync::LazyLock;

/// Semitones of a partial above the first: 12 log2 n. The seventh is 31 cents flat of the tempered scale.
pub(super) fn natural(partial: u8) -> f64 {
    // Asked many times for every note.
    static NATURAL: LazyLock<Vec<f64>> =
        LazyLock::new(|| (0..=u8::MAX).map(|partial| 12.0 * f64::from(partial.max(1)).log2()).collect());
    NATURAL[usize::from(partial)]
}

/// The tempered semitone nearest to a partial.
pub(super) fn tempered(partial: u8) -> f64 {
    natural(partial).round()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::music::Sounding;

    #[test]
    fn the_harmonics_of_b_flat_1_lie_where_acoustics_puts_them() {
        // Whole multiples of 58.270 Hz against the equal-tempered scale at A4 = 440 Hz (ISO 16).
        let fundamental = "Bb1".parse::<Sounding>().unwrap();
        let expected =
            [("Bb2", 0), ("F3", 2), ("Bb3", 0), ("D4", -14), ("F4", 2), ("Ab4", -31), ("Bb4", 0), ("C5", 4)];
        for (partial, (name, cents)) in (2..).zip(expected) {
            let nearest: Sounding = name.parse().unwrap();
            let semitones = nearest.height().semitones_above(fundamental.height());
            assert!((tempered(partial) - semitones).abs() < 1e-9, "{name}");
            assert!((100.0 * (natural(partial) - semitones)).round() as i32 == cents, "{name}");
        }
    }
}
