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
