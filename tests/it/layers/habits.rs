//! Further habits of the house: one home for percent, no fused multiply-add, plain kernels, short files, a thin binding.

use super::{Breach, files, hold};
use proc_macro2::{TokenStream, TokenTree};
use syn::punctuated::Punctuated;
use syn::visit::{self, Visit};

/// Lines of a file outside tables of data (`*_data.rs`).
const LONGEST_FILE: usize = 600;
/// Lines of code in `lib.rs`.
const LONGEST_ROOT: usize = 150;
/// Lines of code of the binding per line of code of the core: below one fifth.
const CORE_PER_BINDING: usize = 5;
/// Factors between a fraction and percent, g/kg or mg/kg, and between those.
const PERCENT_FACTORS: &[f64] = &[100.0, 0.01, 1e4, 1e-4, 1e6, 1e-6];
/// Where they belong.
const HOME_OF_PERCENT: &str = "src/composition/unit.rs";

/// A line that a rule lets pass: file, a part of the line, the reason.
type Allowed = (&'static str, &'static str, &'static str);

/// Numbers that look like percent factors and are not.
const NO_PERCENT: &[Allowed] = &[
    ("src/numeric/eliminate.rs", "const INVERSE_PIVOT", "a bound on the size of a pivot, beside a diagonal of one"),
    ("src/xray/setting.rs", "const EXCITING: f64", "a bound on photons for each vacancy of a shell"),
];
/// Arithmetic of the binding that touches no value of chemistry.
const BINDING_ARITHMETIC: &[Allowed] = &[];

fn breach(file: &str, line: usize, what: impl Into<String>) -> Breach {
    Breach { file: file.to_owned(), line, what: what.into() }
}

fn allowed(list: &[Allowed], file: &str, source: &str, line: usize) -> bool {
    let text = source.lines().nth(line - 1).unwrap_or_default();
    list.iter().any(|(name, part, _)| *name == file && text.contains(part))
}

/// The tokens of a file with those inside brackets and braces, as one row, so that neighbours can be compared. Each
/// group is entered and left through a token of its own.
fn row_of_tokens(source: &str) -> Vec<(usize, String)> {
    fn flatten(tokens: TokenStream, row: &mut Vec<(usize, String)>) {
        for token in tokens {
            let line = token.span().start().line;
            match token {
                TokenTree::Group(group) => {
                    row.push((line, "(".to_owned()));
                    flatten(group.stream(), row);
                    row.push((group.span_close().start().line, ")".to_owned()));
                }
                other => row.push((line, other.to_string())),
            }
        }
    }
    let mut row = Vec::new();
    flatten(source.parse().unwrap_or_default(), &mut row);
    row
}

/// Lines on which these words stand one after the other.
fn lines_with<'a>(row: &'a [(usize, String)], words: &'a [&str]) -> impl Iterator<Item = usize> + 'a {
    let same = move |part: &&[(usize, String)]| part.iter().zip(words).all(|((_, token), word)| token == word);
    row.windows(words.len()).filter(same).map(|part| part[0].0)
}

fn star_reexports(file: &str, source: &str) -> Vec<Breach> {
    let row = row_of_tokens(source);
    let mut breaches = Vec::new();
    for (place, (line, _)) in row.iter().enumerate().filter(|(_, (_, token))| token == "pub") {
        let mut rest = row[place + 1..].iter().map(|(_, token)| token.as_str()).peekable();
        if rest.peek() == Some(&"(") {
            rest.by_ref().find(|token| *token == ")");
        }
        if rest.next() == Some("use") && rest.take_while(|token| *token != ";").any(|token| token == "*") {
            breaches.push(breach(file, *line, "re-exports everything with `*`; name what is exported"));
        }
    }
    breaches
}

fn feature_outside_the_root(file: &str, source: &str) -> Vec<Breach> {
    let row = row_of_tokens(source);
    let found: Vec<usize> = lines_with(&row, &["feature", "=", "\"python\""]).collect();
    let what = "asks for the feature `python`; only src/lib.rs does";
    found.into_iter().filter(|_| file != "src/lib.rs").map(|line| breach(file, line, what)).collect()
}

fn foreign_source(file: &str, source: &str) -> Vec<Breach> {
    let row = row_of_tokens(source);
    let included = lines_with(&row, &["include", "!"]).chain(lines_with(&row, &["#", "(", "path", "="]));
    included.map(|line| breach(file, line, "takes source from another path, past its rank")).collect()
}

fn fused_multiply_add(file: &str, source: &str) -> Vec<Breach> {
    let row = row_of_tokens(source);
    let what = "calls `mul_add`, whose last bit depends on the processor";
    lines_with(&row, &["mul_add"]).map(|line| breach(file, line, what)).collect()
}

fn algebra_in_a_kernel(file: &str, source: &str) -> Vec<Breach> {
    let kernel = file.ends_with("kernel.rs") || file.ends_with("equation.rs");
    let row = row_of_tokens(source);
    let found: Vec<usize> = lines_with(&row, &["nalgebra"]).filter(|_| kernel).collect();
    found.into_iter().map(|line| breach(file, line, "a kernel uses nalgebra; write the loop")).collect()
}

fn too_long(file: &str, source: &str) -> Vec<Breach> {
    let lines = source.lines().count();
    if lines <= LONGEST_FILE || file.ends_with("_data.rs") {
        return Vec::new();
    }
    vec![breach(file, LONGEST_FILE, format!("has {lines} lines; the ceiling is {LONGEST_FILE}"))]
}

/// Lines that hold more than a comment.
fn lines_of_code(source: &str) -> usize {
    source.lines().map(str::trim_start).filter(|line| !line.is_empty() && !line.starts_with("//")).count()
}

fn long_root(file: &str, source: &str) -> Vec<Breach> {
    let lines = lines_of_code(source);
    if file != "src/lib.rs" || lines < LONGEST_ROOT {
        return Vec::new();
    }
    vec![breach(file, 1, format!("has {lines} lines of code; the crate root stays under {LONGEST_ROOT}"))]
}

/// A number written as a float, or as an integer that is turned into one at once (`100 as f64`, `f64::from(100)`).
fn float(row: &[(usize, String)], place: usize) -> Option<f64> {
    let token = |at: usize| row.get(at).map(|(_, token)| token.as_str());
    let digits = token(place)?.replace('_', "");
    let number = digits.trim_end_matches("f64").trim_end_matches("f32");
    let cast = token(place + 1) == Some("as") && token(place + 2).is_some_and(|kind| kind.starts_with('f'));
    let from = place >= 2 && token(place - 1) == Some("(") && token(place - 2) == Some("from");
    let is_float = number.len() < digits.len() || number.contains(['.', 'e', 'E']) || cast || from;
    if is_float && number.starts_with(|first: char| first.is_ascii_digit()) { number.parse().ok() } else { None }
}

/// Percent factors, found as numbers of that size beside `*`, `/`, `*=` or `/=` (through brackets, signs, casts and
/// `f64::from`), given to `mul` or `div`, or named by a `const`, `static` or `let`. A bound, a range or a list element of
/// that size is none.
fn percent_factors(file: &str, source: &str) -> Vec<Breach> {
    let row = row_of_tokens(source);
    let token = |at: usize| row.get(at).map_or("", |(_, token)| token.as_str());
    let mut breaches = Vec::new();
    for place in 0..row.len() {
        if !float(&row, place).is_some_and(|number| PERCENT_FACTORS.contains(&number)) {
            continue;
        }
        let (mut before, mut after) = (place, place + 1);
        while before > 0 && matches!(token(before - 1), "(" | "-" | "f64" | "from" | ":") {
            before -= 1;
        }
        while matches!(token(after), ")" | "as" | "f64" | "f32") {
            after += 1;
        }
        let assigned = before >= 2 && token(before - 1) == "=" && matches!(token(before - 2), "*" | "/");
        let behind = before >= 1 && (matches!(token(before - 1), "*" | "/" | "mul" | "div") || assigned);
        let ahead = matches!(token(after), "*" | "/");
        let statement = row[..place].iter().rposition(|(_, token)| matches!(token.as_str(), ";" | "(" | ")"));
        let head = row[statement.map_or(0, |at| at + 1)..place].iter();
        let named = token(place - usize::from(place > 0)) == "="
            && head.clone().any(|(_, token)| matches!(token.as_str(), "const" | "static" | "let"));
        let line = row[place].0;
        if (behind || ahead || named) && file != HOME_OF_PERCENT && !allowed(NO_PERCENT, file, source, line) {
            let what = format!("multiplies by {} outside {HOME_OF_PERCENT}", token(place));
            breaches.push(breach(file, line, what));
        }
    }
    breaches
}

/// Lines of sums, differences, products and quotients, also inside macro calls.
#[derive(Default)]
struct Arithmetic(Vec<usize>);

impl<'ast> Visit<'ast> for Arithmetic {
    fn visit_expr_binary(&mut self, node: &'ast syn::ExprBinary) {
        use syn::BinOp::{Add, AddAssign, Div, DivAssign, Mul, MulAssign, Rem, RemAssign, Sub, SubAssign};
        if matches!(
            node.op,
            Add(_)
                | Sub(_)
                | Mul(_)
                | Div(_)
                | Rem(_)
                | AddAssign(_)
                | SubAssign(_)
                | MulAssign(_)
                | DivAssign(_)
                | RemAssign(_)
        ) {
            self.0.push(syn::spanned::Spanned::span(&node.op).start().line);
        }
        visit::visit_expr_binary(self, node);
    }

    fn visit_macro(&mut self, node: &'ast syn::Macro) {
        use syn::parse::Parser as _;
        let list = Punctuated::<syn::Expr, syn::Token![,]>::parse_terminated.parse2(node.tokens.clone());
        let repeat = Punctuated::<syn::Expr, syn::Token![;]>::parse_terminated.parse2(node.tokens.clone());
        match list.map(|list| list.into_iter().collect::<Vec<_>>()).or(repeat.map(|list| list.into_iter().collect())) {
            Ok(expressions) => {
                for expression in &expressions {
                    let mut inside = Arithmetic::default();
                    inside.visit_expr(expression);
                    self.0.extend(inside.0);
                }
            }
            Err(_) => operators(&node.tokens.clone().into_iter().collect::<Vec<_>>(), &mut self.0),
        }
    }
}

/// Operators between two operands among tokens that are no expressions, as in the body of a `macro_rules!`. A bound
/// `A + B` looks the same and is found too; a repetition `$(..)*`, an arrow and a dereference are not.
fn operators(tokens: &[TokenTree], lines: &mut Vec<usize>) {
    const NO_OPERANDS: &[&str] = &["as", "else", "for", "if", "in", "match", "move", "mut", "ref", "return", "while"];
    let is =
        |token: Option<&TokenTree>, mark: char| matches!(token, Some(TokenTree::Punct(it)) if it.as_char() == mark);
    for (place, token) in tokens.iter().enumerate() {
        match token {
            TokenTree::Group(group) => operators(&group.stream().into_iter().collect::<Vec<_>>(), lines),
            TokenTree::Punct(mark) if place > 0 && "+-*/%".contains(mark.as_char()) => {
                let left = match &tokens[place - 1] {
                    TokenTree::Group(_) => place < 2 || !is(tokens.get(place - 2), '$'),
                    TokenTree::Ident(word) => !NO_OPERANDS.contains(&word.to_string().as_str()),
                    TokenTree::Literal(_) => true,
                    TokenTree::Punct(_) => false,
                };
                let right = tokens.get(place + 1);
                if left && right.is_some() && !is(right, '>') && !is(right, ',') {
                    lines.push(mark.span().start().line);
                }
            }
            _ => {}
        }
    }
}

fn arithmetic_in_the_binding(file: &str, source: &str) -> Vec<Breach> {
    if !file.starts_with("src/python/") {
        return Vec::new();
    }
    let parsed = match syn::parse_file(source) {
        Ok(parsed) => parsed,
        Err(why) => return vec![breach(file, 1, format!("cannot be read as Rust: {why}"))],
    };
    let mut seen = Arithmetic::default();
    seen.visit_file(&parsed);
    let found = seen.0.into_iter().filter(|&line| !allowed(BINDING_ARITHMETIC, file, source, line));
    found.map(|line| breach(file, line, "computes; the binding converts and delegates")).collect()
}

/// Lines of code of the binding and of the core, tables of data aside.
fn binding_and_core(files: &[(String, String)]) -> (usize, usize) {
    let counted = files.iter().filter(|(file, _)| !file.ends_with("_data.rs"));
    let (binding, core): (Vec<_>, Vec<_>) = counted.partition(|(file, _)| file.starts_with("src/python/"));
    let total = |files: Vec<&(String, String)>| files.iter().map(|(_, source)| lines_of_code(source)).sum();
    (total(binding), total(core))
}

fn is_thin((binding, core): (usize, usize)) -> bool {
    binding * CORE_PER_BINDING < core
}

#[test]
fn the_source_keeps_its_habits() {
    let rules = [
        star_reexports,
        feature_outside_the_root,
        foreign_source,
        fused_multiply_add,
        algebra_in_a_kernel,
        long_root,
        percent_factors,
        arithmetic_in_the_binding,
    ];
    let sources = files("src", &["rs"]);
    for rule in rules {
        hold(&sources, rule);
    }
}

#[test]
fn no_file_is_too_long() {
    let folders = ["src", "tests", "benches", "python"];
    hold(&folders.iter().flat_map(|folder| files(folder, &["rs", "py"])).collect::<Vec<_>>(), too_long);
}

#[test]
fn the_binding_is_thin() {
    let binding = |lines: usize| ("src/python/a.rs".to_owned(), "x\n// a comment\n\n".repeat(lines));
    let core = ("src/charge/a.rs".to_owned(), "x\n".repeat(100));
    let data = ("src/substance/a_data.rs".to_owned(), "x\n".repeat(10_000));
    assert!(is_thin(binding_and_core(&[binding(19), core.clone(), data.clone()])));
    assert!(!is_thin(binding_and_core(&[binding(20), core, data])));
    let counted = binding_and_core(&files("src", &["rs"]));
    assert!(is_thin(counted), "binding and core have {counted:?} lines of code");
}

/// Exceptions without a reason, or whose line is gone.
fn stale<'a>(list: &'a [Allowed], files: &[(String, String)]) -> Vec<&'a str> {
    let stands = |file: &str, part: &str| files.iter().any(|(name, source)| name == file && source.contains(part));
    let gone = list.iter().filter(|(file, part, reason)| reason.is_empty() || part.is_empty() || !stands(file, part));
    gone.map(|(file, ..)| *file).collect()
}

#[test]
fn every_exception_is_still_needed() {
    const LIST: &[Allowed] =
        &[("src/a.rs", "x * 100.0", "counts of 100"), ("src/b.rs", "x * 100.0", "gone"), ("src/a.rs", "y * 1e4", "")];
    let source = "fn f() {}\nlet a = x * 100.0;\nlet b = y * 1e4;";
    assert_eq!(stale(LIST, &[("src/a.rs".to_owned(), source.to_owned())]), ["src/b.rs", "src/a.rs"]);
    assert!(allowed(LIST, "src/a.rs", source, 2) && !allowed(LIST, "src/a.rs", source, 1));
    assert!(!allowed(LIST, "src/c.rs", source, 2));
    let sources = files("src", &["rs"]);
    assert_eq!(stale(NO_PERCENT, &sources), Vec::<&str>::new());
    assert_eq!(stale(BINDING_ARITHMETIC, &sources), Vec::<&str>::new());
}

/// Sources that break one rule, and near ones that do not.
#[test]
fn broken_habits_are_seen() {
    type Rule = fn(&str, &str) -> Vec<Breach>;
    let cases: [(Rule, &str, &[&str], &[&str]); 8] = [
        (
            star_reexports,
            "src/charge/mod.rs",
            &["pub use plan::*;", "pub(crate) use plan::{a, b::*};", "mod m { pub use super::*; }"],
            &["use plan::*;", "pub use plan::{a, b};", "pub fn f() -> f64 { 2.0 * 3.0 }", "// pub use plan::*;"],
        ),
        (
            feature_outside_the_root,
            "src/charge/mod.rs",
            &[
                "#[cfg(feature = \"python\")] fn f() {}",
                "#[cfg_attr(all(feature = \"python\"), x)] struct S;",
                "fn f() { cfg!(feature = \"python\") }",
            ],
            &["const A: &str = \"feature = python\";", "// #[cfg(feature = \"python\")]", "#[cfg(test)] fn f() {}"],
        ),
        (
            foreign_source,
            "src/charge/mod.rs",
            &["include!(\"../x.rs\");", "#[path = \"../x.rs\"] mod x;"],
            &["const A: &str = include_str!(\"a.txt\");", "fn f(path: u8) { let path = 1; }"],
        ),
        (
            fused_multiply_add,
            "src/numeric/sums.rs",
            &["fn f(a: f64) -> f64 { a.mul_add(2.0, 1.0) }", "fn f() { assert!(f64::mul_add(a, b, c) > d); }"],
            &["// mul_add", "/// `mul_add` is never used.\nfn f() {}", "const A: &str = \"mul_add\";"],
        ),
        (
            algebra_in_a_kernel,
            "src/matrix/equation.rs",
            &["use nalgebra::DMatrix;", "fn f(x: &nalgebra::DVector<f64>) {}"],
            &["//! nalgebra is for fits.", "const A: &str = \"nalgebra\";"],
        ),
        (
            percent_factors,
            "src/charge/melt.rs",
            &[
                "fn f(x: f64) -> f64 { x * 100.0 }",
                "fn f(x: f64) -> f64 { 100. * x }",
                "fn f(x: f64) -> f64 { x / 1e2 }",
                "fn f(x: f64) -> f64 { x * 1e4_f64 }",
                "fn f(x: f64) -> f64 { x * -10_000.0 }",
                "fn f(x: f64) -> f64 { (x) * (0.01) }",
                "fn f(x: f64) -> f64 { x * 100 as f64 }",
                "fn f(x: f64) -> f64 { x / f64::from(100) }",
                "fn f(mut x: f64) { x *= 1e-6; }",
                "fn f(mut x: f64) { x /= 1_000_000f64; }",
                "fn f(x: f64) -> f64 { core::ops::Mul::mul(x, y) + x.mul(100.0) }",
                "fn f(x: f64) { write!(out, \"{}\", x * 100.0); }",
                "const PER_CENT: f64 = 100.0;",
                "fn f() { let factor = 1e4; }",
                "pub static PPM: f64 = 1e6;",
            ],
            &[
                "fn f(x: f64) -> bool { x > 100.0 }",
                "fn f(x: f64) { within(x, [0.0, 100.0], 100.0); }",
                "const BOUNDS: (f64, f64) = (0.01, 100.0);",
                "fn f(x: usize) -> usize { x * 100 }",
                "// x * 100.0",
                "/// ```\n/// assert_eq!(x * 100.0, 1e4);\n/// ```\nfn f() {}",
                "fn f(x: f64) -> f64 { x * 1000.5 + 12.01 / x }",
                "const A: &str = \"x * 100.0\";",
                "fn f() { Bound { upper: 100.0, step: 0.01 }; }",
            ],
        ),
        (
            arithmetic_in_the_binding,
            "src/python/charge.rs",
            &[
                "fn f(a: f64) -> f64 { a + 1.0 }",
                "fn f(a: f64) -> f64 { g(a - 1.0) }",
                "fn f(a: f64) -> f64 { if a * a > 2.0 { 1.0 } else { 2.0 } }",
                "fn f(mut a: f64) { a /= 2.0; }",
                "impl S { fn f(&self) -> String { format!(\"{}\", self.a * 2.0) } }",
                "fn f() -> Vec<f64> { vec![a + b; 3] }",
                "macro_rules! double { ($x:expr) => { $x + $x }; }",
                "macro_rules! half { ($x:expr) => { f($x) / 2.0 }; }",
                "macro_rules! less { ($x:ident) => { fn f(mut $x: f64) { $x -= 1.0; } }; }",
            ],
            &[
                "fn f(a: f64) -> f64 { -a }",
                "fn f<T: A + B>(a: &'static T) -> bool { *a == b && !c || d < e }",
                "fn f() -> String { format!(\"{} + {}\", a, b) } // a + b",
                "fn f() -> Vec<f64> { vec![0.0; n] }",
                "macro_rules! f { ($(#[$m:meta])* $($n:ident),+) => { $(#[$m])* fn $n(x: &f64) -> f64 { return *x; } $(g($n));* }; }",
            ],
        ),
        (
            long_root,
            "src/lib.rs",
            &[&"mod a;\n".repeat(LONGEST_ROOT)],
            &[&"mod a;\n// why\n\n".repeat(LONGEST_ROOT - 1)],
        ),
    ];
    for (rule, file, broken, kept) in cases {
        for source in broken {
            assert_eq!(rule(file, source).len(), 1, "not seen in {file}: {source}");
        }
        for source in kept {
            let seen: Vec<String> = rule(file, source).iter().map(ToString::to_string).collect();
            assert!(seen.is_empty(), "{seen:?} in {source}");
        }
    }
}

/// The same sources pass where the rule does not apply.
#[test]
fn habits_apply_where_they_belong() {
    assert!(feature_outside_the_root("src/lib.rs", "#[cfg(feature = \"python\")] mod python;").is_empty());
    assert!(algebra_in_a_kernel("src/numeric/solve.rs", "use nalgebra::DMatrix;").is_empty());
    assert!(percent_factors(HOME_OF_PERCENT, "const PER_CENT: f64 = 100.0;").is_empty());
    assert!(arithmetic_in_the_binding("src/charge/melt.rs", "fn f(a: f64) -> f64 { a + 1.0 }").is_empty());
    let long = "x\n".repeat(LONGEST_FILE + 1);
    assert_eq!(too_long("src/charge/melt.rs", &long).len(), 1);
    assert!(too_long("src/substance/weights_data.rs", &long).is_empty());
    assert!(too_long("src/charge/melt.rs", &"x\n".repeat(LONGEST_FILE)).is_empty());
}
