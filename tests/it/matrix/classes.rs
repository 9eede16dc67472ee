//! Seven ore classes of fourteen components each, at two flux ratios: coefficients, centroids and ranges.
//!
//! Both tables were computed for this project; how is said in their heads (`tests/data/full_coefficients.csv`,
//! `tests/data/class_centroids.csv`).

use beadchem::matrix::{CoefficientSet, Conditions, Derivation, Influence, Label};
use beadchem::numeric::solve;

const COEFFICIENTS: &str = include_str!("../../data/full_coefficients.csv");
const CENTROIDS: &str = include_str!("../../data/class_centroids.csv");

/// The error stays below 0.006 % for flux ratios this far from the reference, by the study behind the tables.
const RATIO_SPAN: f64 = 0.1;

/// One class at one flux ratio.
pub(crate) struct Class {
    pub(crate) set: CoefficientSet,
    /// Contents at the centroid, g per g of sample as weighed, in the order of the components.
    pub(crate) centroid: Vec<f64>,
    pub(crate) ranges: Vec<(f64, f64)>,
    /// Intensities at the centroid as printed, seven digits.
    pub(crate) intensities: Vec<f64>,
}

/// The fields of each line that is no comment, the heading left out.
fn fields(table: &str) -> impl Iterator<Item = Vec<&str>> {
    table.lines().filter(|line| !line.starts_with('#')).skip(1).map(|line| line.split(',').collect())
}

fn number(text: &str) -> f64 {
    text.parse().unwrap()
}

/// "Fe KA" of the table as "Fe Ka".
fn line_name(text: &str) -> String {
    let (element, line) = text.split_once(' ').unwrap();
    format!("{element} {}{}", &line[..1], line[1..].to_lowercase())
}

/// Every class at F0 5 and 10, each component in the table with its line.
pub(crate) fn all() -> Vec<Class> {
    let rows: Vec<Vec<&str>> = fields(COEFFICIENTS).collect();
    let mut heads: Vec<(&str, &str)> = rows.iter().map(|row| (row[0], row[1])).collect();
    heads.dedup();
    heads.into_iter().map(|(class, ratio)| one(class, ratio, &rows)).collect()
}

fn one(class: &str, ratio: &str, rows: &[Vec<&str>]) -> Class {
    let rows: Vec<&Vec<&str>> = rows.iter().filter(|row| row[0] == class && row[1] == ratio).collect();
    let mut components: Vec<&str> = rows.iter().map(|row| row[2]).collect();
    components.dedup();
    let f0 = number(ratio);
    let mut made_for = Conditions::new(f0)
        .and_then(|made| made.with_range(f0 * (1.0 - RATIO_SPAN), f0 * (1.0 + RATIO_SPAN)))
        .and_then(|made| made.with_blend(&[("Li2B4O7", 0.35), ("LiBO2", 0.65)]))
        .unwrap()
        .with_setup("Rh tube 50 kV, phi 90, eps 45, Be 125 um; psi in 63, out 40 deg");
    let (mut centroid, mut ranges) = (Vec::new(), Vec::new());
    for component in &components {
        let held = fields(CENTROIDS).find(|row| row[0] == class && row[1] == *component).unwrap();
        let [content, low, high] = [3, 4, 5].map(|column| number(held[column]));
        made_for = made_for.with_centroid(component, content).unwrap();
        made_for = made_for.with_content_range(component, low, high).unwrap();
        centroid.push(content);
        ranges.push((low, high));
    }
    let of_line: Vec<&[&Vec<&str>]> = rows.chunks(components.len()).collect();
    let influences = of_line.iter().map(|part| {
        assert!(part.iter().map(|row| row[5]).eq(components.iter().copied()), "{class}: order of the components");
        let coefficients: Vec<f64> = part.iter().map(|row| number(row[6])).collect();
        Influence::new(line_name(part[0][3]), part[0][2], coefficients).with_sensitivity(number(part[0][9]))
    });
    let label = Label::new(class, "1", "computed for this project, tests/data/full_coefficients.csv").unwrap();
    let set =
        CoefficientSet::new(label, Derivation::Centroid, made_for, components.iter().copied(), influences).unwrap();
    let intensities = of_line.iter().map(|part| number(part[0][11])).collect();
    Class { set, centroid, ranges, intensities }
}

/// `k_i I_i` that these contents give, from the equation itself.
pub(crate) fn strengths(set: &CoefficientSet, ratio: f64, contents: &[f64]) -> Vec<f64> {
    let strength = |(index, line): (usize, &beadchem::matrix::InfluenceLine)| {
        let influence: f64 = set.row(index).iter().zip(contents).map(|(a, w)| a * w).sum();
        contents[line.analyte] / (ratio / set.fused_flux_ratio() + influence)
    };
    set.lines().iter().enumerate().map(strength).collect()
}

/// The system `(1 - diag(k I) a) w = k I F/F0` of a set in which every component has its line, in the order of the
/// components: its matrix and its right-hand side.
pub(crate) fn system(set: &CoefficientSet, ratio: f64, strengths: &[f64]) -> (Vec<f64>, Vec<f64>) {
    let n = set.components().len();
    let (mut matrix, mut right) = (vec![0.0; n * n], vec![0.0; n]);
    for (index, (line, strength)) in set.lines().iter().zip(strengths).enumerate() {
        for (place, a) in set.row(index).iter().enumerate() {
            matrix[line.analyte * n + place] = f64::from(place == line.analyte) - strength * a;
        }
        right[line.analyte] = strength * ratio / set.fused_flux_ratio();
    }
    (matrix, right)
}

/// Contents from intensities with the sensitivities of the set.
pub(crate) fn contents(set: &CoefficientSet, ratio: f64, intensities: &[f64]) -> Vec<f64> {
    let strengths: Vec<f64> =
        set.lines().iter().zip(intensities).map(|(line, intensity)| line.sensitivity.unwrap() * intensity).collect();
    let (matrix, right) = system(set, ratio, &strengths);
    solve(&matrix, right.len(), &right).unwrap()
}

/// Intensities of contents with the sensitivities of the set.
pub(crate) fn intensities(set: &CoefficientSet, ratio: f64, contents: &[f64]) -> Vec<f64> {
    let strengths = strengths(set, ratio, contents);
    set.lines().iter().zip(strengths).map(|(line, strength)| strength / line.sensitivity.unwrap()).collect()
}

/// The largest relative difference.
pub(crate) fn apart(found: &[f64], expected: &[f64]) -> f64 {
    assert_eq!(found.len(), expected.len());
    found.iter().zip(expected).map(|(f, e)| ((f - e) / e).abs()).fold(0.0, f64::max)
}
