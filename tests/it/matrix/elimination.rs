//! Elimination without exchanged rows against the pivoted solve, on the systems that beads give and on random ones.

use super::Random;
use super::classes::{all, strengths, system};
use beadchem::numeric::{eliminate, solve};

/// Both solve systems of condition below 1000 in doubles; their roundings differ by some hundred units in the last place.
const ROUNDING: f64 = 1e-12;
const MEMBERS: usize = 1000;
const MATRICES: usize = 2000;
/// Analytes of a bead.
const SIZE: usize = 14;
/// Flux ratio of a member over the reference of its class.
const RATIOS: (f64, f64) = (0.9, 1.1);

/// How often rows would have to be exchanged, and how far apart the two answers are where they need not be.
#[derive(Default)]
struct Tally {
    systems: usize,
    guarded: usize,
    worst: f64,
}

impl Tally {
    /// Differences count relative to the largest unknown, as the rounding of a solve does.
    fn add(&mut self, matrix: &[f64], right: &[f64]) {
        let n = right.len();
        let expected = solve(matrix, n, right).unwrap();
        let (mut left, mut found) = (matrix.to_vec(), right.to_vec());
        self.systems += 1;
        if eliminate(&mut left, n, &mut found, 1) {
            self.guarded += 1;
            return;
        }
        let largest = expected.iter().fold(0.0, |largest: f64, x| largest.max(x.abs()));
        let apart = found.iter().zip(&expected).map(|(f, e)| (f - e).abs() / largest);
        self.worst = apart.fold(self.worst, f64::max);
    }

    #[expect(clippy::print_stdout, reason = "how often rows want an exchange is worth reading")]
    fn judge(&self, what: &str) {
        println!("{what}: {} of {} guarded, worst difference {:.1e}", self.guarded, self.systems, self.worst);
        assert!(self.worst < ROUNDING, "{what}: {:e}", self.worst);
        assert!(self.guarded < self.systems, "{what}: every system was guarded");
    }
}

#[test]
fn every_class_agrees_with_the_pivoted_solve() {
    let mut random = Random(0x2545_F491_4F6C_DD1D);
    for class in all() {
        let mut tally = Tally::default();
        let reference = class.set.fused_flux_ratio();
        for _ in 0..MEMBERS {
            let member: Vec<f64> = class.ranges.iter().map(|(low, high)| random.within(*low, *high)).collect();
            let ratio = reference * random.within(RATIOS.0, RATIOS.1);
            let (matrix, right) = system(&class.set, ratio, &strengths(&class.set, ratio, &member));
            tally.add(&matrix, &right);
        }
        tally.judge(&format!("{} at F0 {reference}", class.set.label().name()));
        assert_eq!(tally.guarded, 0, "a bead of {} needs rows exchanged", class.set.label().name());
    }
}

/// The largest eigenvalue in size, by power iteration: entries are positive on the whole, so that one real value leads.
fn spectral_radius(matrix: &[f64]) -> f64 {
    const STEPS: usize = 40;
    let mut vector = vec![1.0; SIZE];
    let mut radius = 0.0;
    for _ in 0..STEPS {
        let next: Vec<f64> =
            matrix.chunks_exact(SIZE).map(|row| row.iter().zip(&vector).map(|(m, v)| m * v).sum()).collect();
        radius = next.iter().fold(0.0, |largest: f64, x| largest.max(x.abs()));
        vector = next.into_iter().map(|x| x / radius).collect();
    }
    radius
}

#[test]
fn random_systems_agree_with_the_pivoted_solve() {
    let mut random = Random(0x9E37_79B9_7F4A_7C15);
    let radii = [0.32, 0.55];
    let mut tallies = radii.map(|_| Tally::default());
    for _ in 0..MATRICES {
        let influence: Vec<f64> = (0..SIZE * SIZE).map(|_| random.within(-0.1, 0.8)).collect();
        let right: Vec<f64> = (0..SIZE).map(|_| random.within(0.0, 1.0)).collect();
        let radius = spectral_radius(&influence);
        for (wanted, tally) in radii.iter().zip(&mut tallies) {
            let entry = |(k, m): (usize, &f64)| f64::from(k / SIZE == k % SIZE) - m * wanted / radius;
            let matrix: Vec<f64> = influence.iter().enumerate().map(entry).collect();
            tally.add(&matrix, &right);
        }
    }
    for (radius, tally) in radii.iter().zip(&tallies) {
        tally.judge(&format!("spectral radius {radius}"));
    }
}

/// The textbook's: pivot by pivot, what it takes out of each entry in the same order.
fn plainly(matrix: &mut [f64], n: usize, right: &mut [f64], columns: usize) {
    for pivot in 0..n {
        let inverse = 1.0 / matrix[pivot * n + pivot];
        matrix[pivot * n + pivot] = inverse;
        for row in pivot + 1..n {
            let factor = matrix[row * n + pivot] * inverse;
            matrix[row * n + pivot] = factor;
            for column in pivot + 1..n {
                matrix[row * n + column] -= factor * matrix[pivot * n + column];
            }
            for column in 0..columns {
                right[row * columns + column] -= factor * right[pivot * columns + column];
            }
        }
    }
    for row in (0..n).rev() {
        for column in 0..columns {
            for below in (row + 1..n).rev() {
                right[row * columns + column] -= matrix[row * n + below] * right[below * columns + column];
            }
            right[row * columns + column] *= matrix[row * n + row];
        }
    }
}

#[test]
fn every_size_has_the_bits_of_plain_elimination() {
    let mut random = Random(0x9E37_79B9_7F4A_7C15);
    for n in 1..=21 {
        for columns in [1, 2, 3] {
            let on_diagonal = |place: usize| if place / n == place % n { 1.0 } else { 0.0 };
            let mut matrix: Vec<f64> =
                (0..n * n).map(|place| on_diagonal(place) + random.within(-0.5, 0.5) / n as f64).collect();
            let mut right: Vec<f64> = (0..n * columns).map(|_| random.within(-1.0, 1.0)).collect();
            let (mut expected, mut solution) = (matrix.clone(), right.clone());
            plainly(&mut expected, n, &mut solution, columns);
            assert!(!eliminate(&mut matrix, n, &mut right, columns), "{n}");
            let bits = |numbers: &[f64]| numbers.iter().map(|number| number.to_bits()).collect::<Vec<_>>();
            assert_eq!(bits(&matrix), bits(&expected), "{n} by {columns}");
            assert_eq!(bits(&right), bits(&solution), "{n} by {columns}");
        }
    }
}
