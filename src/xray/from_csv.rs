//! Atomic tables of the user's own, from two CSV texts.

use crate::code::Code;
use crate::error::{Error, Result};
use crate::numeric::{Scale, Side, Table};
use crate::substance::Element;
use crate::xray::tables::{AtomicTables, CosterKronig, Edge, Emitted, IN_TABLES, Shell, absent, outside};

/// Two rows nearer than this share of their energy are the two sides of a jump.
const JUMP: f64 = 2e-6;

const MASS: &str = "Mass coefficients";
const ATOMS: &str = "Atomic parameters";
const MASS_COLUMNS: [&str; 4] = ["element", "energy_kev", "total_cm2_per_g", "photo_cm2_per_g"];
const ATOM_COLUMNS: [&str; 11] = [
    "element",
    "kind",
    "name",
    "shell",
    "energy_kev",
    "jump_ratio",
    "fluorescence_yield",
    "f12",
    "f13",
    "f23",
    "share",
];

#[derive(Debug, Clone, PartialEq)]
struct Held {
    element: Element,
    total: Table,
    photo: Table,
    edges: Vec<Edge>,
    lines: Vec<Emitted>,
    coster_kronig: CosterKronig,
}

/// Atomic tables read from CSV: mass coefficients on a grid, read between its rows as power laws, and atomic parameters.
///
/// ```
/// use beadchem::{numeric::Side, substance::Element, xray::{AtomicTables, CsvTables}};
/// let mass = "element,energy_kev,total_cm2_per_g,photo_cm2_per_g\nO,1,4590,4580\nO,10,5.95,5.6\n";
/// let atoms = "element,kind,name,shell,energy_kev,jump_ratio,fluorescence_yield,f12,f13,f23,share\n";
/// let tables = CsvTables::read(mass, atoms, "two rows of a handbook")?;
/// assert_eq!(tables.total(Element::O, 10.0, Side::Below)?, 5.95);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct CsvTables {
    provenance: String,
    range: (f64, f64),
    elements: Vec<Held>,
}

impl CsvTables {
    /// Reads two tables, comma separated, with a header; lines that begin with `#` are remarks.
    ///
    /// Mass coefficients: `element,energy_kev,total_cm2_per_g,photo_cm2_per_g`, the rows of an element together and
    /// ascending. A jump is one energy in two rows, or in two rows nearer than two parts in a million, the lower side first.
    ///
    /// Atomic parameters: `element,kind,name,shell,energy_kev,jump_ratio,fluorescence_yield,f12,f13,f23,share`. A row of
    /// kind `edge` is named K, L1, L2 or L3 and has an energy, a jump ratio and a yield; `f12` and `f13` may stand in the row
    /// of L1, `f23` in that of L2. A row of kind `line` is named "Ka", says its shell, its energy and its share of the
    /// radiation of that shell. Cells that a row does not use are empty.
    ///
    /// # Errors
    /// `atomic-tables.fault` with the line, what stands there and what belongs there; `atomic-tables.unsourced`.
    ///
    /// ```
    /// use beadchem::xray::CsvTables;
    /// let mass = "element,energy_kev,total_cm2_per_g,photo_cm2_per_g\nO,1,4590,4580\nO,ten,5.95,5.6\n";
    /// let refused = CsvTables::read(mass, "", "a handbook").unwrap_err();
    /// assert!(refused.to_string().contains("line 3") && refused.to_string().contains("ten"));
    /// ```
    pub fn read(mass: &str, atoms: &str, provenance: &str) -> Result<Self> {
        if provenance.trim().is_empty() {
            return Err(Error::Unstated {
                code: Code::AtomicTablesUnsourced,
                quantity: "The source of the atomic tables".to_owned(),
                hint: "A result names the tables it rests on: say author and year, or file and date.".to_owned(),
            });
        }
        let mut elements = read_mass(mass)?;
        read_atoms(atoms, &mut elements)?;
        elements.sort_by_key(|held| held.element.number());
        let end = |pick: fn(&[[f64; 2]]) -> f64| elements.iter().map(move |held| pick(&held.total.panels()));
        let low = end(|panels| panels.first().map_or(0.0, |panel| panel[0])).fold(0.0, f64::max);
        let high = end(|panels| panels.last().map_or(0.0, |panel| panel[1])).fold(f64::INFINITY, f64::min);
        Ok(Self { provenance: provenance.trim().to_owned(), range: (low, high), elements })
    }

    fn held(&self, element: Element) -> Result<&Held> {
        let found = self.elements.iter().find(|held| held.element == element);
        found.ok_or_else(|| absent(IN_TABLES, element, &self.elements()))
    }
}

impl AtomicTables for CsvTables {
    fn provenance(&self) -> &str {
        &self.provenance
    }

    fn range_kev(&self) -> (f64, f64) {
        self.range
    }

    fn elements(&self) -> Vec<Element> {
        self.elements.iter().map(|held| held.element).collect()
    }

    fn total(&self, element: Element, energy_kev: f64, side: Side) -> Result<f64> {
        let found = self.held(element)?.total.at_side(energy_kev, side);
        found.map_err(|_| outside(element, energy_kev, self.range))
    }

    fn photo(&self, element: Element, energy_kev: f64, side: Side) -> Result<f64> {
        let found = self.held(element)?.photo.at_side(energy_kev, side);
        found.map_err(|_| outside(element, energy_kev, self.range))
    }

    fn edges(&self, element: Element) -> Result<Vec<Edge>> {
        Ok(self.held(element)?.edges.clone())
    }

    fn lines(&self, element: Element) -> Result<Vec<Emitted>> {
        Ok(self.held(element)?.lines.clone())
    }

    fn coster_kronig(&self, element: Element) -> Result<CosterKronig> {
        Ok(self.held(element)?.coster_kronig)
    }

    fn jumps_kev(&self, element: Element) -> Result<Vec<f64>> {
        Ok(self.held(element)?.total.edges().to_vec())
    }
}

/// One line of a table: its number, and its cells in the order of the columns.
struct Row {
    table: &'static str,
    line: u64,
    cells: Vec<String>,
}

impl Row {
    fn fault(&self, detail: String, hint: &str) -> Error {
        fault(self.table, self.line, detail, hint)
    }

    fn text(&self, column: usize) -> &str {
        self.cells.get(column).map_or("", String::as_str)
    }

    fn element(&self) -> Result<Element> {
        let symbol = self.text(0);
        Element::from_symbol(symbol).map_err(|_| {
            self.fault(format!("`{symbol}` is not the symbol of an element."), "Write Fe, not iron or FE.")
        })
    }

    /// A number above zero, and at most `most`.
    fn number(&self, column: usize, name: &str, most: f64) -> Result<f64> {
        let text = self.text(column);
        let readable = text.parse::<f64>().ok().filter(|value| value.is_finite());
        let Some(value) = readable else {
            let detail = format!("`{text}` stands where {name} belongs.");
            return Err(self.fault(detail, "Write a number with a decimal point, without a unit."));
        };
        if value > 0.0 && value <= most {
            return Ok(value);
        }
        let bound = if most.is_finite() { format!("above 0 and at most {most}") } else { "above 0".to_owned() };
        Err(self.fault(format!("{name} is {value}; it must be {bound}."), "Correct the number, or drop the row."))
    }

    /// A probability, or zero where the cell is empty.
    fn probability(&self, column: usize, name: &str) -> Result<f64> {
        let nothing = self.text(column).is_empty() || self.text(column).parse() == Ok(0.0);
        if nothing { Ok(0.0) } else { self.number(column, name, 1.0) }
    }
}

fn fault(table: &str, line: u64, detail: String, hint: &str) -> Error {
    Error::Document {
        code: Code::AtomicTableFault,
        place: format!("{table}, line {line}"),
        detail,
        hint: hint.to_owned(),
    }
}

fn rows(text: &str, table: &'static str, columns: &[&str]) -> Result<Vec<Row>> {
    let mut reader =
        csv::ReaderBuilder::new().comment(Some(b'#')).trim(csv::Trim::All).flexible(true).from_reader(text.as_bytes());
    let wanted = format!("The header is: {}.", columns.join(","));
    let header = reader.headers().map_err(|why| fault(table, 1, format!("It cannot be read: {why}."), &wanted))?;
    let line = header.position().map_or(1, csv::Position::line);
    if !header.iter().eq(columns.iter().copied()) {
        let found = header.iter().collect::<Vec<_>>().join(",");
        return Err(fault(table, line, format!("The header is `{found}`."), &wanted));
    }
    let mut rows = Vec::new();
    for record in reader.records() {
        let record = record.map_err(|why| {
            let line = why.position().map_or(0, csv::Position::line);
            fault(table, line, format!("The row cannot be read: {why}."), "Look for a quote that is not closed.")
        })?;
        let line = record.position().map_or(0, csv::Position::line);
        if record.len() != columns.len() {
            let detail = format!("{} cells where {} belong.", record.len(), columns.len());
            return Err(fault(table, line, detail, &wanted));
        }
        rows.push(Row { table, line, cells: record.iter().map(str::to_owned).collect() });
    }
    Ok(rows)
}

fn read_mass(text: &str) -> Result<Vec<Held>> {
    let rows = rows(text, MASS, &MASS_COLUMNS)?;
    let mut elements: Vec<Held> = Vec::new();
    for group in rows.chunk_by(|one, other| one.text(0) == other.text(0)) {
        let Some(first) = group.first() else { continue };
        let element = first.element()?;
        if elements.iter().any(|held| held.element == element) {
            let detail = format!("{} stood further up already.", element.symbol());
            return Err(first.fault(detail, "Keep the rows of an element together."));
        }
        elements.push(read_element(element, group, first)?);
    }
    if elements.is_empty() {
        return Err(fault(MASS, 1, "There are no rows.".to_owned(), "Give two rows or more of each element."));
    }
    Ok(elements)
}

fn read_element(element: Element, group: &[Row], first: &Row) -> Result<Held> {
    let mut columns: [Vec<f64>; 3] = Default::default();
    for row in group {
        let mut energy = row.number(1, "an energy in keV", f64::INFINITY)?;
        let total = row.number(2, "a total mass coefficient", f64::INFINITY)?;
        let photo = row.number(3, "a photoelectric mass coefficient", f64::INFINITY)?;
        if photo > total {
            let detail = format!("The photoelectric coefficient {photo} is above the total {total}.");
            return Err(row.fault(detail, "Look whether two columns are exchanged."));
        }
        if let Some(&before) = columns[0].last() {
            if energy < before {
                let detail = format!("{energy} keV stands below {before} keV.");
                return Err(row.fault(detail, "Sort the rows of an element by energy, ascending."));
            }
            if energy - before < JUMP * energy {
                energy = before;
            }
        }
        for (column, value) in columns.iter_mut().zip([energy, total, photo]) {
            column.push(value);
        }
    }
    let [energies, total, photo] = columns;
    let table = |values: &[f64]| {
        Table::new(&energies, values, Scale::LogLog)
            .map_err(|why| first.fault(why.to_string(), "This is of the first row of the element."))
    };
    Ok(Held {
        element,
        total: table(&total)?,
        photo: table(&photo)?,
        edges: Vec::new(),
        lines: Vec::new(),
        coster_kronig: CosterKronig::default(),
    })
}

fn read_atoms(text: &str, elements: &mut [Held]) -> Result<()> {
    for row in rows(text, ATOMS, &ATOM_COLUMNS)? {
        let element = row.element()?;
        let Some(held) = elements.iter_mut().find(|held| held.element == element) else {
            let detail = format!("{} has no mass coefficients.", element.symbol());
            return Err(row.fault(detail, "Give its rows in the other table, or drop this one."));
        };
        let name = row.text(2);
        let energy_kev = row.number(4, "an energy in keV", f64::INFINITY)?;
        match row.text(1) {
            "edge" => read_edge(&row, held, name, energy_kev)?,
            "line" => {
                let shell = shell(&row, row.text(3))?;
                if name.is_empty() || held.lines.iter().any(|line| line.name == name) {
                    let detail = format!("The line `{name}` has no name, or stood further up already.");
                    return Err(row.fault(detail, "Name each line of an element once, as in Ka or Lb1."));
                }
                let share = row.number(10, "the share of a line", 1.0)?;
                held.lines.push(Emitted { name: name.to_owned(), shell, energy_kev, peak_kev: energy_kev, share });
            }
            other => {
                let detail = format!("`{other}` is no kind of row.");
                return Err(row.fault(detail, "A row is of kind edge or line."));
            }
        }
    }
    Ok(())
}

fn read_edge(row: &Row, held: &mut Held, name: &str, energy_kev: f64) -> Result<()> {
    let shell = shell(row, name)?;
    if held.edges.iter().any(|edge| edge.shell == shell) {
        return Err(row.fault(format!("The edge {name} stood further up already."), "Keep one of the two rows."));
    }
    let jump_ratio = row.number(5, "a jump ratio", f64::INFINITY)?;
    if jump_ratio <= 1.0 {
        let detail = format!("The jump ratio {jump_ratio} is not above 1.");
        return Err(row.fault(detail, "It is the coefficient above the edge over the one below."));
    }
    let fluorescence_yield = row.number(6, "a fluorescence yield", 1.0)?;
    if shell == Shell::L1 {
        held.coster_kronig.f12 = row.probability(7, "f12")?;
        held.coster_kronig.f13 = row.probability(8, "f13")?;
    }
    if shell == Shell::L2 {
        held.coster_kronig.f23 = row.probability(9, "f23")?;
    }
    held.edges.push(Edge { shell, energy_kev, jump_ratio, fluorescence_yield });
    held.edges.sort_by_key(|edge| edge.shell);
    Ok(())
}

fn shell(row: &Row, word: &str) -> Result<Shell> {
    Shell::from_word(word).map_err(|_| row.fault(format!("`{word}` is no shell."), "Choose one of: K, L1, L2, L3."))
}
