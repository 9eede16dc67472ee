//! What moves the inputs of a calculation: own parts, shared causes, and correlated own parts made independent.

use crate::error::Result;
use crate::numeric::semidefinite_factor;
use crate::uncertainty::{Input, Inputs};

/// What one row of a budget stands for: an input's own part, or a cause that several inputs share.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Part {
    Own(usize),
    Cause(usize),
}

/// How far an independent source moves one of its inputs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Move {
    /// By this many times the input's own u.
    Own(f64),
    /// By this much, as a shared cause.
    Cause(f64),
}

/// The inputs of a calculation sorted by what moves them: made once, used for every row.
#[derive(Debug)]
pub(crate) struct Spread {
    inputs: Inputs,
    parts: Vec<Part>,
    /// Inputs with a u of their own, and that u; the first parts, in this order.
    own: Vec<(usize, f64)>,
    /// For each shared cause the inputs it moves, and how far; the other parts.
    shared: Vec<Vec<(usize, f64)>>,
    /// Correlated own parts: the two places among the parts, and the coefficient.
    pairs: Vec<(usize, usize, f64)>,
    /// The groups of parts that these tie together.
    groups: Vec<Group>,
}

/// Own parts that go together.
#[derive(Debug)]
struct Group {
    /// Their places among the parts.
    places: Vec<usize>,
    /// `L` with `L L'` the matrix of their coefficients, row by row.
    factor: Vec<f64>,
}

impl Spread {
    /// # Errors
    /// `correlation.impossible` for a matrix of coefficients whose eigenvalues do not settle.
    pub(crate) fn new(inputs: Inputs) -> Result<Self> {
        let own: Vec<(usize, f64)> = inputs
            .iter()
            .enumerate()
            .map(|(i, input)| (i, input.estimate.own_u()))
            .filter(|&(_, u)| u != 0.0)
            .collect();
        let causes = inputs.causes();
        let moved_by = |cause: &str| {
            let parts = |(i, input): (usize, &Input)| {
                let parts = input.estimate.causes().iter().filter(|part| part.cause == cause);
                parts.map(|part| (i, part.u)).collect::<Vec<_>>()
            };
            inputs.iter().enumerate().flat_map(parts).collect()
        };
        let shared: Vec<Vec<(usize, f64)>> = causes.iter().map(|cause| moved_by(cause)).collect();
        let parts = own.iter().map(|&(i, _)| Part::Own(i)).chain((0..causes.len()).map(Part::Cause)).collect();
        let place = |input: usize| own.binary_search_by_key(&input, |&(i, _)| i).ok();
        let pairs: Vec<(usize, usize, f64)> = inputs
            .correlations()
            .iter()
            .filter(|&&(_, _, r)| r != 0.0)
            .filter_map(|&(i, j, r)| Some((place(i)?, place(j)?, r)))
            .collect();
        let groups = tied(&pairs).into_iter().map(|places| Group::new(places, &pairs)).collect::<Result<_>>()?;
        Ok(Self { inputs, parts, own, shared, pairs, groups })
    }

    pub(crate) fn inputs(&self) -> &Inputs {
        &self.inputs
    }

    pub(crate) fn parts(&self) -> &[Part] {
        &self.parts
    }

    /// What moves the inputs as sources that are independent of each other, each with the inputs it moves: the own parts of
    /// those that have one (correlated ones turned), then the shared causes. The u of an own part may change from row to row.
    pub(crate) fn sources(&self, own: &[bool]) -> Vec<Vec<(usize, Move)>> {
        let has = |input: usize| own.get(input).copied().unwrap_or(false);
        let tied: Vec<usize> = self.groups.iter().flat_map(|group| &group.places).map(|&at| self.own[at].0).collect();
        let alone = (0..self.inputs.len()).filter(|&input| has(input) && !tied.contains(&input));
        let mut sources: Vec<Vec<(usize, Move)>> = alone.map(|input| vec![(input, Move::Own(1.0))]).collect();
        for Group { places, factor } in &self.groups {
            for column in 0..places.len() {
                let lines = places.iter().zip(factor.chunks_exact(places.len()));
                let moved = lines.map(|(&at, line)| (self.own[at].0, line[column]));
                let moved = moved.filter(|&(input, factor)| has(input) && factor != 0.0);
                sources.push(moved.map(|(input, factor)| (input, Move::Own(factor))).collect());
            }
        }
        let causes = self.shared.iter().map(|moves| moves.iter().map(|&(input, u)| (input, Move::Cause(u))).collect());
        sources.extend(causes);
        sources
    }

    /// How far each part moves each output: derivatives, output by input, to contributions, output by part.
    pub(super) fn contributions(&self, jacobian: &[f64], outputs: usize) -> Vec<f64> {
        let mut contributions = Vec::with_capacity(outputs * self.parts.len());
        for row in jacobian.chunks_exact(self.inputs.len().max(1)) {
            contributions.extend(self.own.iter().map(|&(i, u)| row[i] * u));
            contributions.extend(self.shared.iter().map(|moves| moves.iter().map(|&(i, u)| row[i] * u).sum::<f64>()));
        }
        contributions
    }

    /// The contributions with each group of correlated parts `c` replaced by `L' c`, whose parts are independent of each
    /// other: covariances are then plain sums of products. Empty where no parts are correlated.
    pub(super) fn turned(&self, contributions: &[f64]) -> Vec<f64> {
        if self.groups.is_empty() {
            return Vec::new();
        }
        let mut turned = contributions.to_vec();
        let largest = self.groups.iter().map(|group| group.places.len()).max().unwrap_or(0);
        let mut sums = vec![0.0; largest];
        for row in turned.chunks_exact_mut(self.parts.len()) {
            for Group { places, factor } in &self.groups {
                let sums = &mut sums[..places.len()];
                sums.fill(0.0);
                for (&place, line) in places.iter().zip(factor.chunks_exact(places.len())) {
                    let contribution = row[place];
                    sums.iter_mut().zip(line).for_each(|(sum, factor)| *sum += factor * contribution);
                }
                places.iter().zip(sums).for_each(|(&place, sum)| row[place] = *sum);
            }
        }
        turned
    }

    /// What stated correlations add to the variance of a row of contributions.
    pub(super) fn added_by_correlations(&self, row: &[f64]) -> f64 {
        self.pairs.iter().map(|&(i, j, r)| 2.0 * r * row[i] * row[j]).sum()
    }
}

impl Group {
    fn new(places: Vec<usize>, pairs: &[(usize, usize, f64)]) -> Result<Self> {
        let n = places.len();
        let mut matrix: Vec<f64> = (0..n * n).map(|k| if k / n == k % n { 1.0 } else { 0.0 }).collect();
        for &(a, b, r) in pairs {
            if let (Ok(i), Ok(j)) = (places.binary_search(&a), places.binary_search(&b)) {
                matrix[i * n + j] = r;
                matrix[j * n + i] = r;
            }
        }
        Ok(Self { factor: semidefinite_factor(&matrix, n)?, places })
    }
}

/// The places that pairs tie together, directly or through others, each group in rising order.
fn tied(pairs: &[(usize, usize, f64)]) -> Vec<Vec<usize>> {
    let mut groups: Vec<Vec<usize>> = Vec::new();
    for &(a, b, _) in pairs {
        let (joined, apart): (Vec<_>, Vec<_>) =
            groups.into_iter().partition(|group| group.contains(&a) || group.contains(&b));
        let mut group: Vec<usize> = joined.into_iter().flatten().chain([a, b]).collect();
        group.sort_unstable();
        group.dedup();
        groups = apart;
        groups.push(group);
    }
    groups
}
