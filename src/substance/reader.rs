//! Reads the text of a formula.

use crate::code::Code;
use crate::error::{Error, Result};
use crate::finding::Finding;
use crate::substance::Element;

/// Longer texts are not formulas.
const LONGEST: usize = 400;
/// Deeper brackets are not chemistry.
const DEEPEST: usize = 32;

/// What a text was read as.
pub(crate) struct Reading {
    pub(crate) atoms: Vec<(Element, f64)>,
    /// Molecules of hydrate water.
    pub(crate) water: f64,
    pub(crate) findings: Vec<Finding>,
}

/// Reads with capitals as written.
pub(crate) fn exact(text: &str) -> Result<Reading> {
    let chars: Vec<char> = text.chars().collect();
    let mut reader = Reader { text, chars: &chars, at: 0, depth: 0, bracketed_water: 0.0, findings: Vec::new() };
    if chars.len() > LONGEST {
        return Err(reader.refuse(
            LONGEST,
            "is past the length of any formula".to_owned(),
            "Give one formula.".to_owned(),
        ));
    }
    let mut atoms = Vec::new();
    let mut water = 0.0;
    loop {
        let multiplier = reader.number()?.unwrap_or(1.0);
        reader.blanks();
        let part = reader.groups(None)?;
        // water by itself is no hydrate
        let joined = !atoms.is_empty() && is_water(&part);
        let bracketed = std::mem::take(&mut reader.bracketed_water);
        water += multiplier * if joined { 1.0 } else { bracketed };
        merge(&mut atoms, &part, multiplier);
        if reader.at == chars.len() {
            break;
        }
        reader.joint()?;
    }
    if let Some((element, count)) = atoms.iter().find(|(_, count)| !(count.is_finite() && *count > 0.0)) {
        let found = format!("ends a formula with {count} atoms of {}", element.symbol());
        return Err(reader.refuse(
            chars.len() - 1,
            found,
            "Counts and multipliers multiply up; check them.".to_owned(),
        ));
    }
    if let Some(finding) = capitals(text) {
        reader.findings.push(finding);
    }
    Ok(Reading { atoms, water, findings: reader.findings })
}

/// One molecule of water.
fn is_water(atoms: &[(Element, f64)]) -> bool {
    atoms == [(Element::H, 2.0), (Element::O, 1.0)]
}

/// Reads a text without any capital: accepted where only one substance of elements with a natural weight can be meant.
pub(crate) fn any_case(text: &str) -> Result<Reading> {
    // Without capitals a long text has too many readings to weigh up; it is refused below like one with none.
    const MOST_LETTERS: usize = 24;
    let mut spellings = Vec::new();
    if text.chars().count() <= MOST_LETTERS {
        spell(&text.chars().collect::<Vec<_>>(), 0, &mut String::new(), &mut spellings);
    }
    let readable: Vec<(String, Reading)> =
        spellings.into_iter().filter_map(|spelling| exact(&spelling).ok().map(|reading| (spelling, reading))).collect();
    let many = readable.len() > 1;
    let names: Vec<String> = readable.iter().map(|(spelling, _)| spelling.clone()).collect();
    match readable.into_iter().next() {
        Some((spelling, mut reading)) if !many => {
            reading.findings.push(Finding::new(
                Code::FormulaLetterCase,
                text,
                format!("`{text}` was read as {spelling}. Begin every element symbol with a capital to be sure."),
            ));
            Ok(reading)
        }
        found => Err(Error::Formula {
            code: Code::FormulaAmbiguous,
            text: shortened(text),
            position: 1,
            found: "is a small letter where an element symbol begins".to_owned(),
            hint: if found.is_some() {
                format!("Did you mean one of {}? Begin every element symbol with a capital.", names.join(", "))
            } else {
                "Begin every element symbol with a capital, as in Fe2O3.".to_owned()
            },
        }),
    }
}

/// All ways to begin symbols with capitals, as far as they name elements with a natural weight.
fn spell(chars: &[char], at: usize, so_far: &mut String, found: &mut Vec<String>) {
    const MOST: usize = 8;
    if found.len() > MOST {
        return;
    }
    let Some(&c) = chars.get(at) else {
        found.push(so_far.clone());
        return;
    };
    if !c.is_ascii_lowercase() {
        so_far.push(c);
        spell(chars, at + 1, so_far, found);
        so_far.truncate(so_far.len() - c.len_utf8());
        return;
    }
    let capital = c.to_ascii_uppercase();
    let next = chars.get(at + 1).filter(|next| next.is_ascii_lowercase());
    let symbols = [Some(capital.to_string()), next.map(|next| format!("{capital}{next}"))];
    for symbol in symbols.into_iter().flatten() {
        if Element::from_symbol(&symbol).is_ok_and(Element::has_natural_weight) {
            so_far.push_str(&symbol);
            spell(chars, at + symbol.len(), so_far, found);
            so_far.truncate(so_far.len() - symbol.len());
        }
    }
}

/// Two capitals that are two elements, where one element may have been meant (`CO` for Co).
fn capitals(text: &str) -> Option<Finding> {
    let mut letters = text.chars();
    let (first, second) = (letters.next()?, letters.next()?);
    if letters.next().is_some() || !second.is_ascii_uppercase() {
        return None;
    }
    let meant = Element::from_symbol(&format!("{first}{}", second.to_ascii_lowercase())).ok()?;
    let (a, b) = (Element::from_symbol(&first.to_string()).ok()?, Element::from_symbol(&second.to_string()).ok()?);
    let name = match text {
        "CO" => "carbon monoxide".to_owned(),
        "NO" => "nitrogen monoxide".to_owned(),
        "HF" => "hydrogen fluoride".to_owned(),
        _ => format!("{} and {}", a.name(), b.name()),
    };
    meant.has_natural_weight().then(|| {
        Finding::new(
            Code::FormulaLetterCase,
            text,
            format!("`{text}` was read as {name}. For {} write {}.", meant.name(), meant.symbol()),
        )
    })
}

/// Adds atoms to a list that names each element once.
pub(crate) fn merge(into: &mut Vec<(Element, f64)>, from: &[(Element, f64)], times: f64) {
    for &(element, count) in from {
        match into.iter_mut().find(|(known, _)| *known == element) {
            Some((_, total)) => *total += count * times,
            None => into.push((element, count * times)),
        }
    }
}

/// The value of a digit, plain or subscript.
fn digit(c: char) -> Option<u32> {
    c.to_digit(10).or_else(|| ('₀'..='₉').contains(&c).then(|| c as u32 - '₀' as u32))
}

/// A text short enough to stand in a message.
fn shortened(text: &str) -> String {
    const LONG: usize = 60;
    if text.chars().count() > LONG { text.chars().take(LONG).chain(['…']).collect() } else { text.to_owned() }
}

struct Reader<'a> {
    text: &'a str,
    chars: &'a [char],
    at: usize,
    depth: usize,
    /// Water in brackets of its own in the part being read, as in CaSO4(H2O)2.
    bracketed_water: f64,
    findings: Vec<Finding>,
}

impl Reader<'_> {
    fn peek(&self) -> Option<char> {
        self.chars.get(self.at).copied()
    }

    fn blanks(&mut self) {
        while self.peek() == Some(' ') {
            self.at += 1;
        }
    }

    fn refuse(&self, at: usize, found: String, hint: String) -> Error {
        let code = Code::FormulaSyntax;
        Error::Formula { code, text: shortened(self.text), position: at + 1, found, hint }
    }

    /// What stands at a place, in words.
    fn stands(&self, at: usize) -> String {
        match self.chars.get(at) {
            None => "is the end of the text".to_owned(),
            Some(c) => format!("is `{c}`"),
        }
    }

    /// A run of atoms and brackets, up to the end, a joint, or the closing bracket that is waited for.
    fn groups(&mut self, closing: Option<char>) -> Result<Vec<(Element, f64)>> {
        let mut atoms = Vec::new();
        let start = self.at;
        while let Some(c) = self.peek() {
            let unit = match c {
                'A'..='Z' => vec![(self.element()?, 1.0)],
                '(' | '[' => self.bracket(c)?,
                _ => break,
            };
            let count = self.number()?.unwrap_or(1.0);
            if self.depth == 0 && is_water(&unit) {
                self.bracketed_water += count;
            }
            merge(&mut atoms, &unit, count);
        }
        let at_end = self.at == self.chars.len();
        match (self.peek(), closing) {
            _ if self.at == start => {
                let hint = "An element symbol begins with a capital, as in Fe2O3.".to_owned();
                Err(self.refuse(start, format!("{} where an element was expected", self.stands(start)), hint))
            }
            (Some(c), Some(wanted)) if c == wanted => Ok(atoms),
            (_, Some(wanted)) => {
                let hint = "Every bracket that opens must close, with its own kind.".to_owned();
                Err(self.refuse(self.at, format!("{} where `{wanted}` was expected", self.stands(self.at)), hint))
            }
            (Some(' ' | '·' | '•' | '⋅' | '∙' | '*' | '.'), None) => Ok(atoms),
            (_, None) if at_end => Ok(atoms),
            (_, None) => {
                let hint = "Known are element symbols, counts, ( ) [ ], and · or * between parts.".to_owned();
                Err(self.refuse(self.at, format!("{}, which does not belong there", self.stands(self.at)), hint))
            }
        }
    }

    fn bracket(&mut self, open: char) -> Result<Vec<(Element, f64)>> {
        let closing = if open == '(' { ')' } else { ']' };
        if self.depth == DEEPEST {
            let hint = format!("At most {DEEPEST} are read.");
            return Err(self.refuse(self.at, "opens one bracket too many inside others".to_owned(), hint));
        }
        self.at += 1;
        self.depth += 1;
        let inside = self.groups(Some(closing))?;
        self.depth -= 1;
        self.at += 1;
        Ok(inside)
    }

    fn element(&mut self) -> Result<Element> {
        let start = self.at;
        let first = self.chars[start];
        self.at += 1;
        if let Some(second) = self.peek().filter(char::is_ascii_lowercase)
            && let Ok(element) = Element::from_symbol(&format!("{first}{second}"))
        {
            self.at += 1;
            return Ok(element);
        }
        Element::from_symbol(&first.to_string()).map_err(|_| {
            let rest: String = self.chars[start..].iter().take(2).filter(|c| c.is_alphabetic()).collect();
            let mut lowered = rest.chars();
            let lowered: String = lowered.next().into_iter().chain(lowered.map(|c| c.to_ascii_lowercase())).collect();
            let hint = match Element::from_symbol(&lowered) {
                Ok(element) => format!("For {} write {}.", element.name(), element.symbol()),
                Err(_) => "Check the spelling against the table of elements.".to_owned(),
            };
            Error::Formula {
                code: Code::FormulaElementUnknown,
                text: shortened(self.text),
                position: start + 1,
                found: format!("is `{rest}`, which is not an element"),
                hint,
            }
        })
    }

    /// A count or multiplier, where one stands here.
    fn number(&mut self) -> Result<Option<f64>> {
        let start = self.at;
        let mut text = String::new();
        self.digits(&mut text);
        if text.is_empty() {
            return Ok(None);
        }
        if text.starts_with('0') && !(text == "0" && self.peek() == Some('.')) {
            let hint = "Write the letter O for oxygen; a count does not begin with 0.".to_owned();
            return Err(self.refuse(start, "is the digit 0 where oxygen O was expected".to_owned(), hint));
        }
        if self.peek() == Some('.') && self.dot_is_decimal(&text) {
            self.at += 1;
            text.push('.');
            self.digits(&mut text);
        }
        match text.parse::<f64>() {
            Ok(value) if value.is_finite() && value > 0.0 => Ok(Some(value)),
            _ => {
                let hint = "Leave out what is not there.".to_owned();
                Err(self.refuse(start, format!("is the count {text}"), hint))
            }
        }
    }

    fn digits(&mut self, text: &mut String) {
        while let Some(value) = self.peek().and_then(digit) {
            text.extend(char::from_digit(value, 10));
            self.at += 1;
        }
    }

    /// Whether a dot after a whole number is a decimal mark; says so where both readings are possible.
    fn dot_is_decimal(&mut self, whole: &str) -> bool {
        let rest = &self.chars[self.at + 1..];
        let digits: String = rest.iter().take_while(|c| digit(**c).is_some()).collect();
        if digits.is_empty() {
            return false;
        }
        let after: String = rest[digits.chars().count()..].iter().collect();
        // CaSO4.0.5H2O: the first dot joins, the second is the decimal mark
        if after.strip_prefix('.').is_some_and(|more| more.starts_with(|c: char| digit(c).is_some())) {
            return false;
        }
        if whole == "0" || !after.starts_with(|c: char| c.is_ascii_uppercase() || c == '(' || c == '[') {
            return true;
        }
        let water = after == "H2O" || after == "H₂O";
        if !water {
            self.findings.push(Finding::new(
                Code::FormulaDotAssumed,
                self.text,
                format!(
                    "`{}`: the dot was read as a decimal mark ({whole}.{digits}). If two compounds are joined here, \
                     write the middle dot.",
                    self.text
                ),
            ));
        }
        !water
    }

    /// The mark between two parts.
    fn joint(&mut self) -> Result<()> {
        self.blanks();
        let at = self.at;
        let mark = self.peek();
        self.at += 1;
        match mark {
            Some('·' | '•' | '⋅' | '∙' | '*') => {}
            Some('.') => {
                let after: String = self.chars[self.at..].iter().collect();
                let counted = |text: &str| text.chars().take_while(|c| digit(*c).is_some()).collect::<String>();
                let mut digits = counted(&after);
                let decimals = after[digits.len()..].strip_prefix('.').map(counted).unwrap_or_default();
                if !digits.is_empty() && !decimals.is_empty() {
                    digits = format!("{digits}.{decimals}");
                }
                if !digits.is_empty() {
                    let before: String = self.chars[..at].iter().collect();
                    let rest = &after[digits.len()..];
                    let kind = if rest == "H2O" || rest == "H₂O" { "hydrate " } else { "" };
                    self.findings.push(Finding::new(
                        Code::FormulaDotAssumed,
                        self.text,
                        format!("Read as {kind}{before} with {digits} {rest}. Write the middle dot to be sure."),
                    ));
                }
            }
            _ => {
                let hint = "Join parts with the middle dot · or with *.".to_owned();
                return Err(self.refuse(at, format!("{} where a part of the formula ended", self.stands(at)), hint));
            }
        }
        self.blanks();
        Ok(())
    }
}
