//! A line through what was seen, held near what is known beforehand: ridge regression towards a prior, and how far it was off
//! at each point when that point was left out.
//!
//! Knows no air.

/// How many things a line depends on.
pub(super) const FEATURES: usize = 5;

/// What a line is drawn from: features and what came of them.
pub(super) type Row = ([f64; FEATURES], f64);

/// So many rows weigh as much as the prior does.
const PRIOR_ROWS: f64 = 150.0;
/// The least mean square of a feature, in square degrees: one that never moved says nothing, and must not divide by nothing.
const LEAST_SQUARE: f64 = 0.015;

/// A fitted line.
pub(super) struct Fit {
    weights: [f64; FEATURES],
    /// The inverse of what the rows and the prior say together.
    inverse: [[f64; FEATURES]; FEATURES],
}

impl Fit {
    /// The line that is nearest to the rows and to the prior.
    pub(super) fn of<'a>(rows: impl Iterator<Item = &'a Row> + Clone, prior: [f64; FEATURES]) -> Self {
        let mut normal = [[0.0; FEATURES]; FEATURES];
        let mut right = [0.0; FEATURES];
        let mut count = 0.0_f64;
        for (x, y) in rows {
            let off = y - dot(x, &prior);
            for i in 0..FEATURES {
                for j in 0..FEATURES {
                    normal[i][j] += x[i] * x[j];
                }
                right[i] += x[i] * off;
            }
            count += 1.0;
        }
        for (i, row) in normal.iter_mut().enumerate() {
            row[i] += PRIOR_ROWS * (row[i] / count.max(1.0)).max(LEAST_SQUARE);
        }
        let inverse = inverse(normal);
        let mut weights = prior;
        for (weight, row) in weights.iter_mut().zip(&inverse) {
            *weight += dot(row, &right);
        }
        Self { weights, inverse }
    }

    /// What the line says.
    pub(super) fn says(&self, x: &[f64; FEATURES]) -> f64 {
        dot(&self.weights, x)
    }

    /// How far a row is from the line that is drawn without it: what came less what would have been said.
    pub(super) fn error_left_out(&self, (x, y): &Row) -> f64 {
        let pull: f64 = self.inverse.iter().zip(x).map(|(row, xi)| xi * dot(row, x)).sum();
        // The prior holds the pull of a row under 1.
        (y - self.says(x)) / (1.0 - pull).max(0.05)
    }
}

fn dot(a: &[f64; FEATURES], b: &[f64; FEATURES]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// Gauss and Jordan. The matrix is positive definite by its ridge, so no pivot is zero and none needs to be sought.
fn inverse(mut a: [[f64; FEATURES]; FEATURES]) -> [[f64; FEATURES]; FEATURES] {
    let mut inverse = [[0.0; FEATURES]; FEATURES];
    for (i, row) in inverse.iter_mut().enumerate() {
        row[i] = 1.0;
    }
    for pivot in 0..FEATURES {
        let by = a[pivot][pivot];
        for j in 0..FEATURES {
            a[pivot][j] /= by;
            inverse[pivot][j] /= by;
        }
        for i in (0..FEATURES).filter(|i| *i != pivot) {
            let by = a[i][pivot];
            for j in 0..FEATURES {
                a[i][j] -= by * a[pivot][j];
                inverse[i][j] -= by * inverse[pivot][j];
            }
        }
    }
    inverse
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Rows of a made-up law with a little made-up noise.
    fn rows(count: usize) -> Vec<Row> {
        (0..count)
            .map(|n| {
                let x = [1.0, 0.37, 1.71, 2.9, 0.11].map(|step| ((n as f64 * step).sin()) * 2.0);
                let noise = ((n as f64) * 12.9).sin() * 0.3;
                (x, 0.8 * x[0] - 0.2 * x[1] + 0.5 * x[2] + noise)
            })
            .collect()
    }

    #[test]
    fn many_rows_win_and_none_leave_the_prior() {
        let prior = [0.5, 0.0, 0.0, 0.0, 0.0];
        assert_eq!(Fit::of([].iter(), prior).weights, prior);
        let rows = rows(20_000);
        let fit = Fit::of(rows.iter(), prior);
        for (weight, law) in fit.weights.iter().zip([0.8, -0.2, 0.5, 0.0, 0.0]) {
            assert!((weight - law).abs() < 0.02, "{:?}", fit.weights);
        }
    }

    #[test]
    fn the_error_of_a_row_left_out_is_that_of_a_fit_without_it() {
        // True to the last bit but for the ridge, which is scaled by the rows and so moves by a hair.
        let rows = rows(60);
        let prior = [0.5, 0.0, 0.0, 0.0, 0.0];
        let all = Fit::of(rows.iter(), prior);
        for (n, row) in rows.iter().enumerate() {
            let without = rows.iter().enumerate().filter(|(other, _)| *other != n).map(|(_, row)| row);
            let error = row.1 - Fit::of(without, prior).says(&row.0);
            assert!((error - all.error_left_out(row)).abs() < 0.01, "row {n}: {error}");
        }
    }
}
