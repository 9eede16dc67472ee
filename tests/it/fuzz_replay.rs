//! The bodies of the fuzz targets (`tests/fuzz`) on their seeds and on some thousand mutations of them, so that the
//! stable compiler runs them at every test. `.ci/long fuzz` looks on for longer.

#[path = "../fuzz/checks.rs"]
mod checks;

/// Mutations per target: below a second each in the test profile.
const MUTATIONS: usize = 5_000;
/// A target that accepts next to nothing of what it is given tests the refusals only.
const LEAST_ACCEPTED: usize = MUTATIONS / 100;

/// A plain generator (Marsaglia's xorshift, 2003): the same mutations on every machine.
struct Random(u64);

impl Random {
    fn below(&mut self, bound: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        usize::try_from(self.0 >> 33).unwrap_or_default() % bound.max(1)
    }
}

/// What stands in formulas and documents, and what should not.
const ALPHABET: &[u8] = b"0123456789.eE+-()[]{}\",:* \nFeOSiHgCa%/\x00\x7F\x80\xC2\xB7\xFF";

/// One to four changes: a byte from the alphabet put in or in place, a run left out, doubled, or taken from another seed.
fn mutated(random: &mut Random, seeds: &[Vec<u8>]) -> Vec<u8> {
    let mut bytes = seeds[random.below(seeds.len())].clone();
    for _ in 0..=random.below(4) {
        let at = random.below(bytes.len() + 1);
        let end = (at + 1 + random.below(12)).min(bytes.len());
        match random.below(5) {
            0 => bytes.insert(at, ALPHABET[random.below(ALPHABET.len())]),
            1 if at < bytes.len() => bytes[at] = ALPHABET[random.below(ALPHABET.len())],
            2 => drop(bytes.drain(at..end)),
            3 => {
                let run = bytes[at..end].to_vec();
                bytes.splice(at..at, run);
            }
            _ => {
                let other = &seeds[random.below(seeds.len())];
                let from = random.below(other.len() + 1);
                let run = &other[from..(from + 1 + random.below(40)).min(other.len())];
                bytes.splice(at..end, run.iter().copied());
            }
        }
    }
    bytes
}

fn seeds(target: &str) -> Vec<Vec<u8>> {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fuzz/corpus").join(target);
    let mut paths: Vec<_> = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    paths.sort();
    paths.iter().map(|path| std::fs::read(path).unwrap()).collect()
}

/// Every seed is accepted as it stands, and some of what is made of them.
fn replay(target: &str, check: fn(&[u8]) -> bool) {
    let seeds = seeds(target);
    for seed in &seeds {
        assert!(check(seed), "{target}: {}", String::from_utf8_lossy(seed));
    }
    let mut random = Random(0x9E37_79B9_7F4A_7C15);
    let accepted = (0..MUTATIONS).filter(|_| check(&mutated(&mut random, &seeds))).count();
    assert!((LEAST_ACCEPTED..MUTATIONS).contains(&accepted), "{target}: {accepted} of {MUTATIONS} were accepted");
}

#[test]
fn formulas() {
    replay("formula", checks::formula);
}

#[test]
fn documents() {
    replay("documents", checks::documents);
}

#[test]
fn sheets() {
    replay("sheets", checks::sheets);
}
