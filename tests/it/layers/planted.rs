//! Breaches planted in invented sources: for every pair of ranks and every way to write a path, the test must see them;
//! and the same ways used downward must pass.

use super::{HOUSE, rank, upward};

/// Ways to use `MODULE` from a file of `OWN`; `UP::` leads from the file to the crate root.
const SHAPES: &[&str] = &[
    "use crate::MODULE::Thing;",
    "use crate::MODULE;",
    "use crate::MODULE as other;",
    "use crate::MODULE::*;",
    "use crate::{OWN::inner::Part, MODULE::Thing};",
    "use crate::{OWN::{a, b::{c, d}}, MODULE::{self, e::{f as g}}};",
    "use {crate::OWN::a, crate::{{MODULE::b}}};",
    "pub use crate::MODULE::Thing;",
    "pub(crate) use crate::MODULE::{Thing, Other};",
    "use UP::MODULE::Thing;",
    "use UP::{OWN, MODULE::{Thing}};",
    "pub use self::UP::MODULE::Thing;",
    "mod tests { use super::UP::MODULE::Thing; }",
    "mod outer { mod inner { fn f() { super::super::UP::MODULE::make(); } } }",
    "fn f() -> crate::MODULE::Thing { make() }",
    "fn f() { let x = 1.0 + crate::MODULE::make::<f64>(2); }",
    "fn f<T: crate::MODULE::Trait>(x: Vec<Option<crate::MODULE::Thing>>) {}",
    "impl crate::MODULE::Trait for Part {}",
    "fn f() { assert_eq!(g(), crate::MODULE::make()); }",
    "macro_rules! m { ($x:expr) => { $crate::MODULE::make($x) }; }",
    "#[cfg(test)] mod tests { use crate::MODULE::Thing; }",
    "#[serde(with = \"crate::MODULE::hex\")] struct Part;",
    "struct Part { #[serde(default, serialize_with = \"UP::MODULE::hex\")] field: u8 }",
    "pub(in crate::MODULE) struct Part;",
    "fn f() { beadchem::MODULE::make(); }",
];

/// Ways to take the whole root, by which every rank could be reached.
const ROOTS: &[&str] = &[
    "use crate as root;",
    "use crate::{self as root};",
    "use crate::*;",
    "pub use crate::{OWN::a, *};",
    "use UP as root;",
    "use UP::*;",
    "extern crate self as root;",
    "macro_rules! m { ($module:ident) => { $crate::$module::make() }; }",
    "use crate::Thing;",
];

/// Sources that look upward and do not.
const INNOCENT: &[&str] = &[
    "// use crate::lib_of_all;\n/* crate::judge::x and super::super::judge::x */",
    "//! use crate::judge::Chart;\n\n/// ```\n/// use beadchem::judge::Chart;\n/// crate::judge::x();\n/// ```\nfn f() {}",
    "const A: &str = \"crate::judge::x\"; const B: &str = r#\"use crate::judge::Chart;\"#; const C: char = 'c';",
    "pub(crate) fn f() {} pub(super) fn g() {} pub(in crate::OWN) fn h() {}",
    "use crate::OWN::other::Thing; use crate::OWN; use self::part::Thing; mod tests { use super::*; }",
    "impl Part { fn f(self) -> f64 { self.judge::<f64>() + Self::judge() + judge::make() } }",
    "use std::{self, judge::Thing}; use serde::judge; fn f() { ::std::judge::x(); }",
    "fn f() { write!(out, \"{}\", \"crate::judge::x\"); }",
    "#[doc = \"crate::judge::x\"] struct Part;",
];

/// The files of a module: at the top, in its folder, and one folder deeper; each with the way up to the root.
fn places(own: &str) -> Vec<(String, &'static str)> {
    vec![
        (format!("src/{own}.rs"), "super"),
        (format!("src/{own}/mod.rs"), "super"),
        (format!("src/{own}/part.rs"), "super::super"),
        (format!("src/{own}/part/mod.rs"), "super::super"),
        (format!("src/{own}/part/piece.rs"), "super::super::super"),
    ]
}

fn planted(shape: &str, own: &str, module: &str, up: &str) -> String {
    let lines = shape.replace("MODULE", module).replace("OWN", own).replace("UP", up);
    format!("//! Planted.\n\n{lines}\n")
}

fn modules() -> impl Iterator<Item = &'static str> {
    HOUSE.iter().copied().flatten().copied().filter(|module| *module != "lib")
}

/// Each pair, each shape, each kind of file; returns how many there were.
fn each(pairs: impl Fn(&str, &str) -> bool, check: impl Fn(&str, &str, &str, &str)) -> usize {
    let mut count = 0;
    for own in modules() {
        for module in modules().filter(|module| pairs(own, module)) {
            for (file, up) in places(own) {
                for shape in SHAPES {
                    check(own, module, &file, &planted(shape, own, module, up));
                    count += 1;
                }
            }
        }
    }
    count
}

#[test]
fn an_upward_use_is_seen_for_every_pair_of_ranks_in_every_shape() {
    let pairs = |own: &str, module: &str| own != module && rank(own) <= rank(module);
    let count = each(pairs, |own, module, file, source| {
        let breaches = upward(file, source);
        assert!(!breaches.is_empty(), "not seen in {file}:\n{source}");
        for breach in breaches {
            let message = breach.to_string();
            let (low, high) = (rank(own).unwrap_or_default(), rank(module).unwrap_or_default());
            let expected = format!("{file}:3: `{own}` (rank {low}) uses `{module}` (rank {high})");
            assert!(message.starts_with(&expected), "{message}\nfor\n{source}");
        }
    });
    let modules = modules().count();
    let peers: usize = HOUSE.iter().map(|row| row.len() * (row.len() - 1) / 2).sum();
    assert_eq!(count, (modules * (modules - 1) / 2 + peers) * places("").len() * SHAPES.len());
}

#[test]
fn a_downward_use_passes_for_every_pair_of_ranks_in_every_shape() {
    let count = each(
        |own, module| rank(own) > rank(module),
        |_, _, file, source| {
            let breaches: Vec<String> = upward(file, source).iter().map(ToString::to_string).collect();
            assert!(breaches.is_empty(), "{breaches:?} for\n{source}");
        },
    );
    assert!(count > 0);
}

#[test]
fn modules_of_equal_rank_do_not_use_each_other() {
    let rows: Vec<_> = HOUSE.iter().filter(|row| row.len() > 1).collect();
    assert!(!rows.is_empty());
    for row in rows {
        for own in *row {
            for module in row.iter().filter(|module| *module != own) {
                let source = format!("use crate::{module}::Thing;");
                assert_eq!(upward(&format!("src/{own}/part.rs"), &source).len(), 1, "{own} uses {module}");
            }
        }
    }
}

#[test]
fn the_root_is_never_taken_as_a_whole() {
    for own in modules() {
        for (file, up) in places(own) {
            for shape in ROOTS {
                let source = planted(shape, own, "", up);
                assert!(!upward(&file, &source).is_empty(), "not seen in {file}:\n{source}");
            }
        }
    }
}

#[test]
fn innocent_sources_pass() {
    for own in modules() {
        for (file, up) in places(own) {
            for shape in INNOCENT {
                let breaches: Vec<String> =
                    upward(&file, &planted(shape, own, "", up)).iter().map(ToString::to_string).collect();
                assert!(breaches.is_empty(), "{breaches:?} for\n{shape}");
            }
        }
    }
}

#[test]
fn the_root_may_use_everything_and_a_stranger_has_no_rank() {
    for module in modules() {
        assert!(
            upward("src/lib.rs", &format!("mod {module};\npub use crate::{module}::Thing; pub use crate::*;"))
                .is_empty()
        );
    }
    assert_eq!(upward("src/helpers.rs", "fn f() {}").len(), 1);
    assert_eq!(upward("src/judge.rs", "use crate::helpers::Thing;").len(), 1);
    assert_eq!(upward("src/judge.rs", "fn f( {").len(), 1, "a file that cannot be read is a breach");
}
