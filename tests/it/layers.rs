//! The house: every file under `src/` has a rank and uses lower ranks only. Each rule is a function of a path and a
//! source text, is shown to fail on planted breaches, and then holds for the real tree.

mod habits;
mod paths;
mod planted;

use paths::Target;
use std::path::{Path, PathBuf};

/// Lowest first. Modules in one row have the same rank and do not use each other either; the files of one folder are
/// one module.
const HOUSE: &[&[&str]] = &[
    &["scalar", "time"],
    &["code"],
    &["error"],
    &["finding"],
    &["numeric"],
    &["table"],
    &["document"],
    &["uncertainty"],
    &["substance"],
    &["composition"],
    &["sheet"],
    &["rules"],
    &["xray"],
    &["matrix"],
    &["charge"],
    &["method"],
    &["batch"],
    &["recipe"],
    &["judge"],
    &["python"],
    &["lib"],
];

/// One place where a rule of the house is broken.
struct Breach {
    file: String,
    line: usize,
    what: String,
}

impl core::fmt::Display for Breach {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(f, "{}:{}: {}", self.file, self.line, self.what)
    }
}

fn rank(module: &str) -> Option<usize> {
    HOUSE.iter().position(|row| row.contains(&module))
}

/// The module a file is: `src/charge/plan.rs` is `[charge, plan]`, `src/lib.rs` is the root.
fn module_of(file: &str) -> Vec<String> {
    let inside = file.strip_prefix("src/").unwrap_or(file);
    let stem = inside.strip_suffix(".rs").unwrap_or(inside);
    let stem = stem.strip_suffix("/mod").unwrap_or(stem);
    if stem == "lib" { Vec::new() } else { stem.split('/').map(str::to_owned).collect() }
}

/// What a file uses that does not lie below it.
fn upward(file: &str, source: &str) -> Vec<Breach> {
    let breach = |line, what| Breach { file: file.to_owned(), line, what };
    let module = module_of(file);
    let own = module.first().map_or("lib", String::as_str);
    let Some(own_rank) = rank(own) else {
        return vec![breach(1, format!("`{own}` has no rank; give it a place in the house"))];
    };
    let used = match paths::used(&module, source) {
        Ok(used) => used,
        Err(why) => return vec![breach(1, why)],
    };
    let judge = |(line, target): (usize, Target)| {
        let what = match target {
            Target::Module(name) if own == "lib" || name == own => return None,
            Target::Module(name) => match rank(&name) {
                Some(rank) if rank < own_rank => return None,
                Some(rank) => {
                    format!("`{own}` (rank {own_rank}) uses `{name}` (rank {rank}); only lower ranks may be used")
                }
                None => format!("`{own}` (rank {own_rank}) uses `crate::{name}`, which is no module with a rank"),
            },
            Target::Root if own == "lib" => return None,
            Target::Root => format!("`{own}` (rank {own_rank}) takes the crate root under a name or as a whole"),
        };
        Some(breach(line, what))
    };
    used.into_iter().filter_map(judge).collect()
}

/// Every file below a folder of the project with one of the endings, as (path from the project's top, text).
fn files(folder: &str, endings: &[&str]) -> Vec<(String, String)> {
    fn walk(folder: &Path, found: &mut Vec<PathBuf>) {
        for entry in std::fs::read_dir(folder).into_iter().flatten().flatten() {
            let path = entry.path();
            if path.is_dir() { walk(&path, found) } else { found.push(path) }
        }
    }
    let top = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut found = Vec::new();
    walk(&top.join(folder), &mut found);
    found.sort();
    let wanted = |path: &PathBuf| endings.iter().any(|ending| path.extension().is_some_and(|it| it == *ending));
    let read = |path: PathBuf| {
        let name = path.strip_prefix(top).map(|name| name.to_string_lossy().replace('\\', "/")).unwrap_or_default();
        (name, std::fs::read_to_string(&path).unwrap_or_default())
    };
    found.into_iter().filter(wanted).map(read).collect()
}

/// Applies a rule to each file and fails with all breaches at once.
fn hold(files: &[(String, String)], rule: impl Fn(&str, &str) -> Vec<Breach>) {
    assert!(!files.is_empty(), "no file was found to look at");
    let breaches: Vec<String> =
        files.iter().flat_map(|(file, source)| rule(file, source)).map(|breach| breach.to_string()).collect();
    assert!(breaches.is_empty(), "{} breaches:\n{}", breaches.len(), breaches.join("\n"));
}

#[test]
fn every_module_uses_lower_ranks_only() {
    hold(&files("src", &["rs"]), upward);
}

/// A reader of paths that sees nothing would pass everything: the real tree has uses between its modules.
#[test]
fn uses_between_modules_are_seen() {
    let sources = files("src", &["rs"]);
    let seen = |(file, source): &(String, String)| {
        let module = module_of(file);
        let used = paths::used(&module, source).unwrap_or_default();
        used.iter().filter(|(_, target)| matches!(target, Target::Module(name) if Some(name) != module.first())).count()
    };
    let error = sources.iter().find(|(file, _)| file == "src/error.rs");
    assert_eq!(error.map(seen), Some(1), "src/error.rs uses crate::code once");
    let finding = sources.iter().find(|(file, _)| file == "src/finding.rs");
    assert_eq!(finding.map(seen), Some(1), "src/finding.rs uses crate::code once");
}

#[test]
fn the_house_names_each_module_once() {
    let mut names: Vec<&str> = HOUSE.iter().copied().flatten().copied().collect();
    names.sort_unstable();
    let count = names.len();
    names.dedup();
    assert_eq!(names.len(), count);
}
