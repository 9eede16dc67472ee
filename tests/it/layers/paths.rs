//! Which modules of the crate a source file names, read from its tokens: comments, strings and doc examples are not
//! looked at, what stands inside a macro call is.

use proc_macro2::{Delimiter, Ident, TokenStream, TokenTree};

/// What a path leads to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Target {
    /// A module directly below the crate root.
    Module(String),
    /// The crate root itself: renamed, re-exported, taken as a whole, or followed by a name that cannot be read.
    Root,
}

/// Every path that begins at `crate` (or the crate's own name), `self` or `super`, with its line.
pub(super) fn used(module: &[String], source: &str) -> Result<Vec<(usize, Target)>, String> {
    let tokens: TokenStream = source.parse().map_err(|why| format!("cannot be read as Rust: {why}"))?;
    let mut found = Vec::new();
    walk(module, &tokens.into_iter().collect::<Vec<_>>(), &mut found);
    Ok(found)
}

fn walk(module: &[String], tokens: &[TokenTree], found: &mut Vec<(usize, Target)>) {
    for (place, token) in tokens.iter().enumerate() {
        match token {
            TokenTree::Group(group) => {
                let inner: Vec<TokenTree> = group.stream().into_iter().collect();
                match inline_module(&tokens[..place]) {
                    Some(name) => walk(&[module, &[name]].concat(), &inner, found),
                    None if is_serde(&inner) => strings(module, &inner, found),
                    None => walk(module, &inner, found),
                }
            }
            // The parts of one path: `super` in `super::super` was read with the first.
            TokenTree::Ident(word) if !after_colons(&tokens[..place]) => {
                start(module, word, &tokens[place + 1..], found)
            }
            _ => {}
        }
    }
}

/// The name in `mod name { .. }`, given what stands before the braces.
fn inline_module(before: &[TokenTree]) -> Option<String> {
    match before {
        [.., TokenTree::Ident(word), TokenTree::Ident(name)] if word == "mod" => Some(name.to_string()),
        _ => None,
    }
}

fn is_serde(attribute: &[TokenTree]) -> bool {
    matches!(attribute, [TokenTree::Ident(word), TokenTree::Group(_)] if word == "serde")
}

/// Paths that `serde` takes as strings: `with = "crate::document::hex"`.
fn strings(module: &[String], tokens: &[TokenTree], found: &mut Vec<(usize, Target)>) {
    for token in tokens {
        match token {
            TokenTree::Group(group) => strings(module, &group.stream().into_iter().collect::<Vec<_>>(), found),
            TokenTree::Literal(literal) => {
                let line = literal.span().start().line;
                let text = literal.to_string();
                let inside = used(module, text.trim_matches('"')).unwrap_or_default();
                found.extend(inside.into_iter().map(|(_, target)| (line, target)));
            }
            _ => {}
        }
    }
}

fn after_colons(before: &[TokenTree]) -> bool {
    matches!(before, [.., TokenTree::Punct(a), TokenTree::Punct(b)] if a.as_char() == ':' && b.as_char() == ':')
}

/// What follows `::`, if that comes next.
fn colons(tokens: &[TokenTree]) -> Option<&[TokenTree]> {
    match tokens {
        [TokenTree::Punct(a), TokenTree::Punct(b), rest @ ..] if a.as_char() == ':' && b.as_char() == ':' => Some(rest),
        _ => None,
    }
}

fn start(module: &[String], word: &Ident, rest: &[TokenTree], found: &mut Vec<(usize, Target)>) {
    let base = match word.to_string().as_str() {
        "crate" | "beadchem" => Vec::new(),
        "self" => module.to_vec(),
        "super" => parent(module),
        _ => return,
    };
    follow(base, word.span().start().line, rest, found);
}

fn parent(module: &[String]) -> Vec<String> {
    module[..module.len().saturating_sub(1)].to_vec()
}

/// Follows a path from `base` over `rest`, which begins behind its last word.
fn follow(base: Vec<String>, line: usize, rest: &[TokenTree], found: &mut Vec<(usize, Target)>) {
    match (colons(rest), base.first()) {
        (Some([TokenTree::Ident(word), rest @ ..]), _) if word == "super" => follow(parent(&base), line, rest, found),
        (Some(rest), _) => branch(&base, line, rest, found),
        (None, Some(name)) => found.push((line, Target::Module(name.clone()))),
        // `crate as root`, `extern crate self as root`; what remains is `pub(crate)`.
        (None, None) if matches!(rest, [TokenTree::Ident(word), ..] if word == "as" || word == "self") => {
            found.push((line, Target::Root));
        }
        (None, None) => {}
    }
}

/// What stands behind `base::`: a name, a star, or a tree of them in braces.
fn branch(base: &[String], line: usize, part: &[TokenTree], found: &mut Vec<(usize, Target)>) {
    let line = part.first().map_or(line, |token| token.span().start().line);
    match part {
        [] => {}
        [TokenTree::Group(group), ..] if group.delimiter() == Delimiter::Brace => {
            let inner: Vec<TokenTree> = group.stream().into_iter().collect();
            for part in inner.split(|token| matches!(token, TokenTree::Punct(comma) if comma.as_char() == ',')) {
                branch(base, line, part, found);
            }
        }
        [first, ..] => found.push((
            line,
            match (base.first(), first) {
                (Some(name), _) => Target::Module(name.clone()),
                (None, TokenTree::Ident(word)) if word != "self" => Target::Module(word.to_string()),
                (None, _) => Target::Root,
            },
        )),
    }
}
