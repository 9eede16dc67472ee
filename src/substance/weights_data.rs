//! Standard atomic weights, one element a line.
//!
//! # Publication
//! T. Prohaska et al., Standard atomic weights of the elements 2021 (IUPAC Technical Report), Pure Appl. Chem. 2022, 94,
//! 573-600. For zirconium, gadolinium and lutetium also the revision that the IUPAC Commission on Isotopic Abundances
//! and Atomic Weights (CIAAW) announced in 2024.
//!
//! # Where the figures were taken from
//! Values, uncertainties and intervals: data of the package `periodictable` 2.1.0, which cites the table of the
//! Commission. Hydrogen to tellurium were also read in that table itself, and the fourteen intervals and the values that
//! changed with them in the abstracts of the reports that brought them: of 2009 (Pure Appl. Chem. 2011, 83, 359), 2011
//! (2013, 85, 1047), 2013 (2016, 88, 265) and 2021. The tests hold every line against three packages.
//!
//! # Decisions
//! - *In full.* Values are not abridged. Four to five figures are what most copies carry; they are these, rounded.
//! - *Uncertainty.* The quoted figure is the half width of a rectangular distribution, not a standard uncertainty. The
//!   Commission expects normal material within it "with great certitude".
//! - *Intervals.* Where natural material varies (H Li B C N O Mg Si S Cl Ar Br Tl Pb) the line has the ends of the
//!   interval and the single conventional value for trade and industry; calculations use the latter. The middle of the
//!   interval is another number (S 32.0675 against 32.06) and is not used unasked.
//! - *O and Tl.* Their conventional values, 15.999 and 204.38, lie just below their intervals, by rounding. They stay
//!   as published.
//! - *Ar and Pb.* Intervals since 2017 and 2021. Their single values are those of the abridged table: Ar 39.95 (older tables:
//!   39.948), Pb 207.2.
//! - *H.* The abridged table prints 1.0080; it is the same number.
//! - *Sn.* 118.710, half width 0.007. One package prints 118.700, which is a lost digit: its own abridged value is 118.71.
//! - *Ne.* "20.1797(6)" is 20.1797 with half width 0.0006; tables exist in which it became 20.17976.
//! - *Th, Pa, U* have no stable isotope but a characteristic natural composition, hence a standard atomic weight; Bi, too.
//! - *No standard atomic weight* (Tc, Pm, Po to Ac, Np and beyond): the mass number of a long-lived isotope as in the
//!   package `atomic-weights` 2023.1.0. It names a nuclide, it is no mean, and it has no uncertainty. Sources differ on
//!   which isotope of the heaviest elements lives longest; nothing here depends on it.
//! - *Names* are those of IUPAC: aluminium, caesium, sulfur.

use crate::substance::weight::{Entry, Weight};

const fn single(value: f64, half_width: f64) -> Weight {
    Weight::Single { value, half_width }
}

const fn interval(low: f64, high: f64, conventional: f64) -> Weight {
    Weight::Interval { low, high, conventional }
}

const fn mass_number(number: u16) -> Weight {
    Weight::MassNumber(number)
}

const fn element(number: u8, symbol: &'static str, name: &'static str, weight: Weight) -> Entry {
    Entry { number, symbol, name, weight }
}

/// How many elements there are.
pub(crate) const COUNT: usize = 118;

/// The table of 2021 by atomic number, hydrogen first. `single(value, half width)`, `interval(low, high, conventional)`.
#[rustfmt::skip]
pub(crate) static ELEMENTS: [Entry; COUNT] = [
    element(1, "H", "hydrogen", interval(1.00784, 1.00811, 1.008)),
    element(2, "He", "helium", single(4.002602, 2e-6)),
    element(3, "Li", "lithium", interval(6.938, 6.997, 6.94)),
    element(4, "Be", "beryllium", single(9.0121831, 5e-7)),
    element(5, "B", "boron", interval(10.806, 10.821, 10.81)),
    element(6, "C", "carbon", interval(12.0096, 12.0116, 12.011)),
    element(7, "N", "nitrogen", interval(14.00643, 14.00728, 14.007)),
    element(8, "O", "oxygen", interval(15.99903, 15.99977, 15.999)),
    element(9, "F", "fluorine", single(18.998403162, 5e-9)),
    element(10, "Ne", "neon", single(20.1797, 0.0006)),
    element(11, "Na", "sodium", single(22.98976928, 2e-8)),
    element(12, "Mg", "magnesium", interval(24.304, 24.307, 24.305)),
    element(13, "Al", "aluminium", single(26.9815384, 3e-7)),
    element(14, "Si", "silicon", interval(28.084, 28.086, 28.085)),
    element(15, "P", "phosphorus", single(30.973761998, 5e-9)),
    element(16, "S", "sulfur", interval(32.059, 32.076, 32.06)),
    element(17, "Cl", "chlorine", interval(35.446, 35.457, 35.45)),
    element(18, "Ar", "argon", interval(39.792, 39.963, 39.95)),
    element(19, "K", "potassium", single(39.0983, 0.0001)),
    element(20, "Ca", "calcium", single(40.078, 0.004)),
    element(21, "Sc", "scandium", single(44.955907, 4e-6)),
    element(22, "Ti", "titanium", single(47.867, 0.001)),
    element(23, "V", "vanadium", single(50.9415, 0.0001)),
    element(24, "Cr", "chromium", single(51.9961, 0.0006)),
    element(25, "Mn", "manganese", single(54.938043, 2e-6)),
    element(26, "Fe", "iron", single(55.845, 0.002)),
    element(27, "Co", "cobalt", single(58.933194, 3e-6)),
    element(28, "Ni", "nickel", single(58.6934, 0.0004)),
    element(29, "Cu", "copper", single(63.546, 0.003)),
    element(30, "Zn", "zinc", single(65.38, 0.02)),
    element(31, "Ga", "gallium", single(69.723, 0.001)),
    element(32, "Ge", "germanium", single(72.630, 0.008)),
    element(33, "As", "arsenic", single(74.921595, 6e-6)),
    element(34, "Se", "selenium", single(78.971, 0.008)),
    element(35, "Br", "bromine", interval(79.901, 79.907, 79.904)),
    element(36, "Kr", "krypton", single(83.798, 0.002)),
    element(37, "Rb", "rubidium", single(85.4678, 0.0003)),
    element(38, "Sr", "strontium", single(87.62, 0.01)),
    element(39, "Y", "yttrium", single(88.905838, 2e-6)),
    element(40, "Zr", "zirconium", single(91.224, 0.002)),
    element(41, "Nb", "niobium", single(92.90637, 1e-5)),
    element(42, "Mo", "molybdenum", single(95.95, 0.01)),
    element(43, "Tc", "technetium", mass_number(97)),
    element(44, "Ru", "ruthenium", single(101.07, 0.02)),
    element(45, "Rh", "rhodium", single(102.90549, 2e-5)),
    element(46, "Pd", "palladium", single(106.42, 0.01)),
    element(47, "Ag", "silver", single(107.8682, 0.0002)),
    element(48, "Cd", "cadmium", single(112.414, 0.004)),
    element(49, "In", "indium", single(114.818, 0.001)),
    element(50, "Sn", "tin", single(118.710, 0.007)),
    element(51, "Sb", "antimony", single(121.760, 0.001)),
    element(52, "Te", "tellurium", single(127.60, 0.03)),
    element(53, "I", "iodine", single(126.90447, 3e-5)),
    element(54, "Xe", "xenon", single(131.293, 0.006)),
    element(55, "Cs", "caesium", single(132.90545196, 6e-8)),
    element(56, "Ba", "barium", single(137.327, 0.007)),
    element(57, "La", "lanthanum", single(138.90547, 7e-5)),
    element(58, "Ce", "cerium", single(140.116, 0.001)),
    element(59, "Pr", "praseodymium", single(140.90766, 1e-5)),
    element(60, "Nd", "neodymium", single(144.242, 0.003)),
    element(61, "Pm", "promethium", mass_number(145)),
    element(62, "Sm", "samarium", single(150.36, 0.02)),
    element(63, "Eu", "europium", single(151.964, 0.001)),
    element(64, "Gd", "gadolinium", single(157.25, 0.03)),
    element(65, "Tb", "terbium", single(158.925354, 7e-6)),
    element(66, "Dy", "dysprosium", single(162.500, 0.001)),
    element(67, "Ho", "holmium", single(164.930329, 5e-6)),
    element(68, "Er", "erbium", single(167.259, 0.003)),
    element(69, "Tm", "thulium", single(168.934219, 5e-6)),
    element(70, "Yb", "ytterbium", single(173.045, 0.010)),
    element(71, "Lu", "lutetium", single(174.9668, 0.0001)),
    element(72, "Hf", "hafnium", single(178.486, 0.006)),
    element(73, "Ta", "tantalum", single(180.94788, 2e-5)),
    element(74, "W", "tungsten", single(183.84, 0.01)),
    element(75, "Re", "rhenium", single(186.207, 0.001)),
    element(76, "Os", "osmium", single(190.23, 0.03)),
    element(77, "Ir", "iridium", single(192.217, 0.002)),
    element(78, "Pt", "platinum", single(195.084, 0.009)),
    element(79, "Au", "gold", single(196.966570, 4e-6)),
    element(80, "Hg", "mercury", single(200.592, 0.003)),
    element(81, "Tl", "thallium", interval(204.382, 204.385, 204.38)),
    element(82, "Pb", "lead", interval(206.14, 207.94, 207.2)),
    element(83, "Bi", "bismuth", single(208.98040, 1e-5)),
    element(84, "Po", "polonium", mass_number(209)),
    element(85, "At", "astatine", mass_number(210)),
    element(86, "Rn", "radon", mass_number(222)),
    element(87, "Fr", "francium", mass_number(223)),
    element(88, "Ra", "radium", mass_number(226)),
    element(89, "Ac", "actinium", mass_number(227)),
    element(90, "Th", "thorium", single(232.0377, 0.0004)),
    element(91, "Pa", "protactinium", single(231.03588, 1e-5)),
    element(92, "U", "uranium", single(238.02891, 3e-5)),
    element(93, "Np", "neptunium", mass_number(237)),
    element(94, "Pu", "plutonium", mass_number(244)),
    element(95, "Am", "americium", mass_number(243)),
    element(96, "Cm", "curium", mass_number(247)),
    element(97, "Bk", "berkelium", mass_number(247)),
    element(98, "Cf", "californium", mass_number(251)),
    element(99, "Es", "einsteinium", mass_number(252)),
    element(100, "Fm", "fermium", mass_number(257)),
    element(101, "Md", "mendelevium", mass_number(258)),
    element(102, "No", "nobelium", mass_number(259)),
    element(103, "Lr", "lawrencium", mass_number(262)),
    element(104, "Rf", "rutherfordium", mass_number(267)),
    element(105, "Db", "dubnium", mass_number(270)),
    element(106, "Sg", "seaborgium", mass_number(269)),
    element(107, "Bh", "bohrium", mass_number(270)),
    element(108, "Hs", "hassium", mass_number(270)),
    element(109, "Mt", "meitnerium", mass_number(278)),
    element(110, "Ds", "darmstadtium", mass_number(281)),
    element(111, "Rg", "roentgenium", mass_number(281)),
    element(112, "Cn", "copernicium", mass_number(285)),
    element(113, "Nh", "nihonium", mass_number(286)),
    element(114, "Fl", "flerovium", mass_number(289)),
    element(115, "Mc", "moscovium", mass_number(289)),
    element(116, "Lv", "livermorium", mass_number(293)),
    element(117, "Ts", "tennessine", mass_number(293)),
    element(118, "Og", "oganesson", mass_number(294)),
];

/// The lines that the revision of 2024 replaced.
#[rustfmt::skip]
pub(crate) static REVISED_2024: [Entry; 3] = [
    element(40, "Zr", "zirconium", single(91.222, 0.003)),
    element(64, "Gd", "gadolinium", single(157.249, 0.002)),
    element(71, "Lu", "lutetium", single(174.96669, 5e-5)),
];
