//! The linear equations of one Gauss-Newton step on a saturating curve.

use super::saturation::{Baseline, Point};

/// `J'J` and `J'r`; without a fitted baseline its row and column are those of the identity.
pub(super) struct NormalEquations {
    matrix: [[f64; 3]; 3],
    right: [f64; 3],
}

impl NormalEquations {
    pub(super) fn new(dose: &[f64], response: &[f64], baseline: Baseline, point: &Point) -> Self {
        let one = if baseline == Baseline::Fitted {
            1.0
        } else {
            0.0
        };
        let (mut matrix, mut right) = ([[0.0; 3]; 3], [0.0; 3]);
        for (d, y) in dose.iter().zip(response) {
            let reach = point.half + d;
            let partial = [one, d / reach, -point.rise * d / (reach * reach)];
            let residual = y - point.baseline - point.rise * d / reach;
            for i in 0..3 {
                right[i] += partial[i] * residual;
                for j in 0..3 {
                    matrix[i][j] += partial[i] * partial[j];
                }
            }
        }
        if baseline == Baseline::Zero {
            matrix[0][0] = 1.0;
        }
        Self { matrix, right }
    }

    pub(super) fn step(&self) -> Option<[f64; 3]> {
        let inverse = self.inverse()?;
        let row = |i: usize| (0..3).map(|j| inverse[i][j] * self.right[j]).sum::<f64>();
        let step = [row(0), row(1), row(2)];
        step.iter().all(|s| s.is_finite()).then_some(step)
    }

    pub(super) fn inverse_diagonal(&self) -> Option<[f64; 3]> {
        let inverse = self.inverse()?;
        Some([inverse[0][0], inverse[1][1], inverse[2][2]])
    }

    /// Inverse by cofactors of the matrix scaled to a unit diagonal, so that units do not matter.
    fn inverse(&self) -> Option<[[f64; 3]; 3]> {
        let m = &self.matrix;
        let scale = [m[0][0].sqrt(), m[1][1].sqrt(), m[2][2].sqrt()];
        if scale.iter().any(|s| !(s.is_finite() && *s > 0.0)) {
            return None;
        }
        let s = |i: usize, j: usize| m[i % 3][j % 3] / (scale[i % 3] * scale[j % 3]);
        let cofactor = |i: usize, j: usize| {
            s(i + 1, j + 1) * s(i + 2, j + 2) - s(i + 1, j + 2) * s(i + 2, j + 1)
        };
        let determinant = (0..3).map(|j| s(0, j) * cofactor(0, j)).sum::<f64>();
        if determinant <= 1e-14 {
            return None;
        }
        let mut inverse = [[0.0; 3]; 3];
        for (i, row) in inverse.iter_mut().enumerate() {
            for (j, cell) in row.iter_mut().enumerate() {
                *cell = cofactor(j, i) / (determinant * scale[i] * scale[j]);
            }
        }
        Some(inverse)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_inverse_undoes_the_matrix() {
        let equations = NormalEquations {
            matrix: [
                [4.0, 2.0, 0.5],
                [2.0, 300.0, 1.0],
                [0.5, 1.0, 0.02 + 0.0625],
            ],
            right: [1.0, 0.0, 0.0],
        };
        let inverse = equations.inverse().unwrap();
        for (i, row) in equations.matrix.iter().enumerate() {
            for j in 0..3 {
                let product: f64 = row
                    .iter()
                    .zip(&inverse)
                    .map(|(left, right)| left * right[j])
                    .sum();
                let expected = if i == j { 1.0 } else { 0.0 };
                assert!((product - expected).abs() < 1e-12, "{i} {j} {product}");
            }
        }
    }

    #[test]
    fn parameters_that_cannot_be_told_apart_have_no_inverse() {
        let equations = NormalEquations {
            matrix: [[1.0, 1.0, 0.0], [1.0, 1.0, 0.0], [0.0, 0.0, 1.0]],
            right: [0.0; 3],
        };
        assert!(equations.inverse().is_none());
    }
}
