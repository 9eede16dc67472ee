//! Names that no two rows may share.

use crate::batch::column::Words;
use std::collections::HashSet;
use std::hash::{DefaultHasher, Hash, Hasher};

fn mark(name: &str) -> u64 {
    let mut hasher = DefaultHasher::new();
    name.hash(&mut hasher);
    hasher.finish()
}

/// Names that occur more than once. Sorting marks takes half the time and a third of the room of a set of all names.
pub(crate) fn doubled<'a>(names: impl Iterator<Item = &'a str> + Clone) -> HashSet<String> {
    let mut marks: Vec<u64> = names.clone().map(mark).collect();
    marks.sort_unstable();
    let again: HashSet<u64> = marks.windows(2).filter(|pair| pair[0] == pair[1]).map(|pair| pair[0]).collect();
    if again.is_empty() {
        return HashSet::new();
    }
    // Two names may share a mark: only those that are the same count.
    let mut seen = HashSet::new();
    let twice = |name: &&'a str| again.contains(&mark(name)) && !seen.insert(*name);
    names.filter(twice).map(str::to_owned).collect()
}

/// Words of which each row has its own: no dictionary is looked for.
pub(crate) fn each<'a>(names: impl Iterator<Item = Option<&'a str>>) -> Words<'a> {
    let mut dictionary = Vec::new();
    let place = |name: Option<&'a str>| {
        name.map(|name| {
            dictionary.push(name);
            dictionary.len() as u32 - 1
        })
    };
    let places = names.map(place).collect();
    Words::new(dictionary, places)
}

/// The words of cells of so many bytes of code points, filled up with zeros, and the place of each; nothing where they are many.
///
/// ```
/// let cells = ['F' as u32, '1' as u32, 'F' as u32, 0, 'F' as u32, '1' as u32];
/// let (places, words) = beadchem::batch::arrow::few(&cells, 8).unwrap_or_default();
/// assert_eq!((places, words), (vec![0, 1, 0], vec!["F1".to_owned(), "F".to_owned()]));
/// ```
#[doc(hidden)]
#[must_use]
pub fn few(points: &[u32], cell_bytes: usize) -> Option<(Vec<u32>, Vec<String>)> {
    const MANY: usize = 64;
    let width = cell_bytes / size_of::<u32>();
    if width == 0 {
        return None;
    }
    let (mut known, mut words): (Vec<&[u32]>, Vec<String>) = (Vec::new(), Vec::new());
    let mut places = Vec::with_capacity(points.len() / width);
    for cell in points.chunks_exact(width) {
        let place = match known.iter().position(|held| *held == cell) {
            Some(place) => place,
            None if known.len() == MANY => return None,
            None => {
                let end = cell.iter().rposition(|&point| point != 0).map_or(0, |last| last + 1);
                words.push(cell[..end].iter().map(|&point| char::from_u32(point)).collect::<Option<String>>()?);
                known.push(cell);
                known.len() - 1
            }
        };
        places.push(place as u32);
    }
    Some((places, words))
}
