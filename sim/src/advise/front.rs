//! The front: candidates of which none is beaten in everything by another.
//!
//! In: what candidates come to, the smaller the better. Out: those on the front, spread along it.

/// Numbers of the rows that no other row beats.
///
/// A row beats another if it is nowhere larger and somewhere smaller. Order: as given.
pub fn unbeaten(rows: &[Vec<f64>]) -> Vec<usize> {
    let beats = |a: &[f64], b: &[f64]| {
        let pairs = || a.iter().zip(b);
        pairs().all(|(a, b)| a <= b) && pairs().any(|(a, b)| a < b)
    };
    let kept = |&index: &usize| {
        let row = &rows[index];
        let mut others = rows.iter().enumerate();
        // of equal rows the first is kept
        !others.any(|(other, values)| beats(values, row) || (other < index && values == row))
    };
    (0..rows.len()).filter(kept).collect()
}

/// At most so many of the rows, the ends of each column first, then those farthest from all chosen ones.
///
/// Columns count by their range among the rows.
pub fn spread(rows: &[Vec<f64>], most: usize) -> Vec<usize> {
    if rows.len() <= most {
        return (0..rows.len()).collect();
    }
    let columns = rows[0].len();
    let range = |column: usize| {
        let values = rows.iter().map(|row| row[column]);
        let (low, high) = values.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| {
            (low.min(v), high.max(v))
        });
        (low, (high - low).max(f64::MIN_POSITIVE))
    };
    let ranges: Vec<(f64, f64)> = (0..columns).map(range).collect();
    let scaled: Vec<Vec<f64>> = rows
        .iter()
        .map(|row| {
            let both = row.iter().zip(&ranges);
            both.map(|(value, (low, width))| (value - low) / width)
                .collect()
        })
        .collect();
    let mut chosen: Vec<usize> = Vec::new();
    for column in 0..columns {
        let least = (0..rows.len()).min_by(|&a, &b| rows[a][column].total_cmp(&rows[b][column]));
        if let Some(least) = least.filter(|least| !chosen.contains(least) && chosen.len() < most) {
            chosen.push(least);
        }
    }
    while chosen.len() < most {
        let far = |index: usize| {
            let nearest = chosen.iter().map(|&other| {
                let both = scaled[index].iter().zip(&scaled[other]);
                both.map(|(a, b)| (a - b).powi(2)).sum::<f64>()
            });
            nearest.fold(f64::INFINITY, f64::min)
        };
        let free = (0..rows.len()).filter(|index| !chosen.contains(index));
        match free.max_by(|&a, &b| far(a).total_cmp(&far(b))) {
            Some(next) => chosen.push(next),
            None => break,
        }
    }
    chosen.sort_unstable();
    chosen
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_another_beats_in_everything_is_left_out() {
        let rows = vec![
            vec![1.0, 5.0],
            vec![2.0, 3.0],
            vec![2.0, 4.0], // beaten by the one before
            vec![4.0, 1.0],
            vec![4.0, 1.0], // the same again
            vec![5.0, 5.0],
        ];
        assert_eq!(unbeaten(&rows), [0, 1, 3]);
    }

    #[test]
    fn a_long_front_keeps_its_ends_and_is_spread() {
        let rows: Vec<Vec<f64>> = (0..=100)
            .map(|i| vec![f64::from(i), f64::from(100 - i)])
            .collect();
        assert_eq!(spread(&rows, 3), [0, 50, 100]);
        assert_eq!(spread(&rows[..2], 3), [0, 1]);
    }
}
