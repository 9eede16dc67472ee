//! The solver under the fits: Householder QR of a scaled matrix, and refinement of solution and residual together.
//!
//! # Source
//! Å. Björck, BIT 7 (1967) 257 and BIT 8 (1968) 8: refinement of the augmented system `r + A x = f`, `A' r = g`, whose
//! residuals are formed with extra digits. It reaches the accuracy of the data as long as the condition number of the
//! scaled matrix stays below about 1e13, whatever the size of the residual.

use nalgebra::{DMatrix, DVector};

use crate::code::Code;
use crate::error::{Error, Result};
use crate::numeric::sums::Sum;

/// A column whose part outside the span of the columns before it is below this fraction of its length is noise of
/// rounding. Published test problems keep 5e-8 (a polynomial of degree 10); an exact combination leaves below 1e-15.
const RANK: f64 = 1e-13;
/// Each round gains several digits or is the last; this many never come to pass in a matrix that is not refused.
const ROUNDS: usize = 12;

/// A tall matrix, each entry the unevaluated sum of two numbers, with its orthogonal factors.
pub(super) struct Refined {
    columns: usize,
    /// Entries divided by the scale of their column, row by row.
    entries: Vec<[f64; 2]>,
    /// One power of two for each column.
    scale: Vec<f64>,
    q: DMatrix<f64>,
    /// Inverse of the triangular factor.
    inverse: DMatrix<f64>,
}

impl Refined {
    /// Factors a matrix with more rows than columns, given row by row.
    ///
    /// # Errors
    /// `matrix.singular`, naming the first column that is a combination of those before it.
    pub(super) fn new(mut entries: Vec<[f64; 2]>, columns: usize) -> Result<Self> {
        let mut scale = vec![0.0_f64; columns];
        for row in entries.chunks_exact(columns) {
            scale.iter_mut().zip(row).for_each(|(scale, entry)| *scale = scale.max(entry[0].abs()));
        }
        scale.iter_mut().for_each(|scale| *scale = power_of_two_below(*scale));
        for row in entries.chunks_exact_mut(columns) {
            row.iter_mut().zip(&scale).for_each(|(entry, scale)| *entry = [entry[0] / scale, entry[1] / scale]);
        }
        let rows = entries.len() / columns;
        let matrix = DMatrix::from_row_iterator(rows, columns, entries.iter().map(|entry| entry[0]));
        let lengths: Vec<f64> = matrix.column_iter().map(|column| column.norm()).collect();
        let (q, r) = matrix.qr().unpack();
        for (column, length) in lengths.into_iter().enumerate() {
            let left = r[(column, column)].abs() / length.max(f64::MIN_POSITIVE);
            if left <= RANK {
                return Err(dependent(column, columns, left));
            }
        }
        let inverse =
            r.solve_upper_triangular(&DMatrix::identity(columns, columns)).ok_or_else(|| dependent(0, columns, 0.0))?;
        Ok(Self { columns, entries, scale, q, inverse })
    }

    /// Solves `r + A x = f`, `A' r = g` for `(r, x)`.
    pub(super) fn solve(&self, f: &[[f64; 2]], g: &[f64]) -> (Vec<f64>, Vec<f64>) {
        let mut r = vec![0.0; f.len()];
        let mut x = vec![0.0; self.columns];
        let mut before = f64::INFINITY;
        for _ in 0..ROUNDS {
            let (dr, dx) = self.correction(&self.short_of_f(f, &r, &x), &self.short_of_g(g, &r));
            let step = dx.amax();
            if step >= 0.5 * before {
                break;
            }
            r.iter_mut().zip(&dr).for_each(|(r, d)| *r += d);
            x.iter_mut().zip(&dx).for_each(|(x, d)| *x += d);
            before = step;
        }
        (r, x.iter().zip(&self.scale).map(|(x, scale)| x / scale).collect())
    }

    /// `f - r - A x`, summed with twice the digits.
    fn short_of_f(&self, f: &[[f64; 2]], r: &[f64], x: &[f64]) -> DVector<f64> {
        let rows = self.entries.chunks_exact(self.columns).zip(f).zip(r);
        let short = rows.map(|((row, f), r)| {
            let start = Sum::new().add(f[0]).add(f[1]).add(-r);
            let sum = row.iter().zip(x).fold(start, |sum, (entry, x)| sum.add_product(entry[0], -x).add(-entry[1] * x));
            sum.value()
        });
        DVector::from_iterator(f.len(), short)
    }

    /// `g - A' r`, summed with twice the digits.
    fn short_of_g(&self, g: &[f64], r: &[f64]) -> DVector<f64> {
        let mut sums: Vec<Sum<f64>> = g.iter().zip(&self.scale).map(|(g, scale)| Sum::new().add(g / scale)).collect();
        for (row, r) in self.entries.chunks_exact(self.columns).zip(r) {
            for (sum, entry) in sums.iter_mut().zip(row) {
                *sum = sum.add_product(entry[0], -r).add(-entry[1] * r);
            }
        }
        DVector::from_iterator(g.len(), sums.into_iter().map(Sum::value))
    }

    /// The solution of the augmented system by the factors alone.
    fn correction(&self, f: &DVector<f64>, g: &DVector<f64>) -> (DVector<f64>, DVector<f64>) {
        let inside = self.q.tr_mul(f) - self.inverse.tr_mul(g);
        let dr = f - &self.q * &inside;
        (dr, &self.inverse * inside)
    }

    /// The inverse of `A' A`, row by row.
    pub(super) fn normal_inverse(&self) -> Vec<f64> {
        let n = self.columns;
        let rows = self.entries.len() / n;
        let mut inverse = vec![0.0; n * n];
        for column in 0..n {
            let g: Vec<f64> = (0..n).map(|row| if row == column { -1.0 } else { 0.0 }).collect();
            let (_, x) = self.solve(&vec![[0.0; 2]; rows], &g);
            (0..n).for_each(|row| inverse[row * n + column] = x[row]);
        }
        for (row, column) in (0..n).flat_map(|row| (0..row).map(move |column| (row, column))) {
            let mean = 0.5 * (inverse[row * n + column] + inverse[column * n + row]);
            (inverse[row * n + column], inverse[column * n + row]) = (mean, mean);
        }
        inverse
    }

    /// `T` with `T' T` the inverse of `A' A`, row by row: better conditioned than the inverse itself.
    pub(super) fn root(&self) -> Vec<f64> {
        let n = self.columns;
        (0..n * n).map(|k| self.inverse[(k % n, k / n)] / self.scale[k % n]).collect()
    }

    /// The weight of each row in its own fitted value: the diagonal of `A (A' A)^-1 A'`.
    pub(super) fn leverage(&self) -> Vec<f64> {
        self.q.row_iter().map(|row| row.norm_squared()).collect()
    }
}

/// The power of two at or below a number that is not negative; 1 for zero and for numbers below the normal range.
pub(super) fn power_of_two_below(value: f64) -> f64 {
    if value < f64::MIN_POSITIVE { 1.0 } else { f64::from_bits(value.to_bits() & (0x7ff << 52)) }
}

fn dependent(column: usize, columns: usize, left: f64) -> Error {
    Error::Matrix {
        code: Code::MatrixSingular,
        quantity: format!("Fit of {columns} parameters"),
        detail: format!("column {} of the design is zero or a combination of the columns before it", column + 1),
        figure: "fraction of it left",
        value: left,
        hint: "Drop that column, or add points in which it varies on its own.".to_owned(),
    }
}
