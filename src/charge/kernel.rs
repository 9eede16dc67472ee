//! The arithmetic of a charge: from masses, contents and atomic weights to glass, ratios and the sample.
//!
//! One source for values, derivatives, lanes and draws. Per mole of an element in the melt stand `A + q A_O` grams, q
//! the oxygens per atom of the form it stays in (-0.5 for a halogen, which takes the place of half an oxygen). So the
//! glass weighs `sum n_melt (A + q A_O)`, and every gram is accounted for by element.

use core::ops::Range;

use crate::charge::blend::Blend;
use crate::charge::lines::Lines;
use crate::charge::ratio::undilute;
pub(crate) use crate::charge::reading::{BasisTerm, Content, Reading, StatedLoss};
use crate::composition::unit::MILLI;
use crate::scalar::{Mask, Scalar};
use crate::substance::sum_of_weights;

/// Place of an input in the row.
pub(crate) type Input = usize;
/// Place of an element in the plan's list of elements.
pub(crate) type Place = usize;

/// Atoms of a declared formula.
pub(crate) type Atoms = Vec<(Place, f64)>;

/// How much of an element of a stream stays.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Kept {
    All,
    Nothing,
    Share(Input),
}

/// One element of a stream: what stays, and which gas the rest leaves as.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Portion {
    pub(crate) element: Place,
    pub(crate) kept: Kept,
    pub(crate) gas: Option<usize>,
}

/// A gas, per atom of the element it is named for.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Gas {
    /// The element it is named for.
    pub(crate) key: Place,
    /// Other elements it takes out of the melt.
    pub(crate) carriers: Vec<(Place, f64)>,
    pub(crate) oxygen: f64,
    pub(crate) hydrogen: f64,
}

#[derive(Debug, Clone, PartialEq)]
pub(crate) struct SampleSpecies {
    pub(crate) content: Input,
    pub(crate) atoms: Atoms,
}

/// What is known of the sample's way through the fusion.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum SamplePath {
    /// Loss on fusion stated.
    Stated(StatedLoss),
    /// Species by species.
    Itemised { species: Vec<SampleSpecies>, portions: Vec<Portion> },
}

#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Blank {
    pub(crate) content: Input,
    pub(crate) atoms: Atoms,
    /// The element that the blank is reported by.
    pub(crate) element: Place,
}

#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Dose {
    Mass(Input),
    Tablets { count: f64, each: Input },
    ShareOfFlux(Input),
    Solution { volume_ml: Input, g_per_l: Input },
}

#[derive(Debug, Clone, PartialEq)]
pub(crate) struct AdditionTerm {
    pub(crate) dose: Dose,
    pub(crate) atoms: Atoms,
    pub(crate) portions: Vec<Portion>,
    pub(crate) blanks: Vec<Blank>,
}

impl AdditionTerm {
    /// Moles of its formula: what its blanks leave of the dose.
    #[inline(always)]
    pub(crate) fn moles<S: Scalar>(&self, x: &[S], kernel: &Kernel) -> S {
        let dose = self.dose_g(x, kernel);
        let mut pure = dose;
        for blank in &self.blanks {
            pure = pure - dose * x[blank.content];
        }
        pure / sum_of_weights(&self.atoms, &x[kernel.weights.clone()])
    }

    /// Moles of the species of one of its blanks.
    #[inline(always)]
    pub(crate) fn blank_moles<S: Scalar>(&self, x: &[S], kernel: &Kernel, blank: &Blank) -> S {
        self.dose_g(x, kernel) * x[blank.content] / sum_of_weights(&blank.atoms, &x[kernel.weights.clone()])
    }

    /// Its mass, g.
    #[inline(always)]
    pub(crate) fn dose_g<S: Scalar>(&self, x: &[S], kernel: &Kernel) -> S {
        match self.dose {
            Dose::Mass(mass) => x[mass],
            Dose::Tablets { count, each } => x[each] * count,
            Dose::ShareOfFlux(share) => x[kernel.flux_mass] * x[share],
            Dose::Solution { volume_ml, g_per_l } => x[volume_ml] * x[g_per_l] * MILLI,
        }
    }

    /// Weighed with the flux.
    pub(crate) fn in_flux(&self) -> bool {
        matches!(self.dose, Dose::ShareOfFlux(_))
    }
}

/// The compiled arithmetic: places and numbers, no names.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Kernel {
    pub(crate) sample_mass: Input,
    pub(crate) flux_mass: Input,
    pub(crate) flux_loss: Input,
    /// Atomic weights, in the order of the elements.
    pub(crate) weights: Range<Input>,
    pub(crate) oxygen: Place,
    /// Oxygens per atom in the glass; 0 for what does not stay, and for oxygen itself.
    pub(crate) oxygen_per_atom: Vec<f64>,
    pub(crate) sample: SamplePath,
    pub(crate) blend: Blend,
    pub(crate) blanks: Vec<Blank>,
    pub(crate) additions: Vec<AdditionTerm>,
    pub(crate) gases: Vec<Gas>,
    /// Elements of which something can be in the melt.
    pub(crate) melting: Vec<Place>,
    /// Elements whose share of the glass is reported, with whether the element itself is meant (a halogen).
    pub(crate) glass: Vec<(Place, bool)>,
    pub(crate) readings: Vec<Reading>,
    /// Evaluation (a): the readings are solved for.
    pub(crate) lines: Option<Lines>,
    /// Basis as weighed, basis asked for.
    pub(crate) bases: Option<[BasisTerm; 2]>,
}

/// The fixed outputs, before the glass contents and the results.
pub(crate) const GLASS_MASS: usize = 0;
pub(crate) const FLUX_RATIO: usize = 1;
pub(crate) const FUSED_FLUX_RATIO: usize = 2;
pub(crate) const DILUTION: usize = 3;
pub(crate) const LOSS_ON_FUSION: usize = 4;
pub(crate) const FIXED: usize = 5;

/// Where moles are kept in the scratch: lists by element, one list by gas. Two lists are kept for the ledger only.
pub(crate) struct Books<'a, S> {
    /// Brought by the sample.
    pub(crate) sample: &'a mut [S],
    /// Brought by the flux.
    pub(crate) flux: &'a mut [S],
    /// In the melt.
    pub(crate) melt: &'a mut [S],
    /// Of those, the ones that came with the sample directly.
    pub(crate) stayed: &'a mut [S],
    /// Moles of its named element that left as each gas.
    pub(crate) left: &'a mut [S],
    /// Brought by the additions; empty where no ledger is asked for.
    pub(crate) additions: &'a mut [S],
    /// Lost with the flux loss; empty where no ledger is asked for.
    pub(crate) flux_lost: &'a mut [S],
}

/// Masses that the books lead to.
pub(crate) struct Masses<S> {
    pub(crate) glass: S,
    pub(crate) fused_flux: S,
    pub(crate) sample_glass: S,
    /// Part of the sample that no declared species accounts for.
    pub(crate) unnamed: S,
    /// Part of the flux that no formula of its blend accounts for, in the glass.
    pub(crate) flux_unnamed: S,
    /// Share of what the blend leaves by its formula that the flux loss spares.
    pub(crate) flux_kept: S,
}

/// What flux comes to in the fusion.
pub(crate) struct FusedFlux<S> {
    /// After its loss, g.
    pub(crate) fused: S,
    /// Share of what the blend leaves by its formulas that the flux loss spares.
    pub(crate) kept: S,
    /// Blend without its blanks, g.
    pub(crate) pure_blend: S,
    /// What a gram of blend leaves by its formulas, g.
    pub(crate) stays: S,
    /// What no formula names of a gram of blend, g.
    pub(crate) unnamed: S,
}

impl Kernel {
    /// A kernel of elements alone, to be given a sample or a flux that is heated by itself; `mass` stands for all masses.
    pub(crate) fn bare(mass: Input, weights: Range<Input>, oxygen_per_atom: Vec<f64>) -> Self {
        Self {
            sample_mass: mass,
            flux_mass: mass,
            flux_loss: mass,
            weights,
            oxygen: 0,
            oxygen_per_atom,
            sample: SamplePath::Itemised { species: Vec::new(), portions: Vec::new() },
            blend: Blend::default(),
            blanks: Vec::new(),
            additions: Vec::new(),
            gases: Vec::new(),
            melting: Vec::new(),
            glass: Vec::new(),
            readings: Vec::new(),
            lines: None,
            bases: None,
        }
    }

    pub(crate) fn elements(&self) -> usize {
        self.oxygen_per_atom.len()
    }

    /// Room for a run.
    pub(crate) fn scratch(&self) -> usize {
        self.books_scratch() + self.lines.as_ref().map_or(0, Lines::scratch)
    }

    /// Room for the books of a charge.
    pub(crate) fn books_scratch(&self) -> usize {
        4 * self.elements() + self.gases.len()
    }

    /// Room for the books of a ledger.
    pub(crate) fn ledger_scratch(&self) -> usize {
        self.books_scratch() + 2 * self.elements()
    }

    /// Splits the scratch into its books and empties them; those of a sample whose species are not named are never opened.
    #[inline(always)]
    pub(crate) fn books<'a, S: Scalar>(&self, scratch: &'a mut [S]) -> Books<'a, S> {
        let n = self.elements();
        let unopened = match self.sample {
            SamplePath::Stated(_) if scratch.len() == self.books_scratch() => 2 * n,
            _ => 0,
        };
        for slot in &mut scratch[unopened..] {
            *slot = S::constant(0.0);
            S::side_by_side();
        }
        let (sample, rest) = scratch.split_at_mut(n);
        let (stayed, rest) = rest.split_at_mut(n);
        let (flux, rest) = rest.split_at_mut(n);
        let (melt, rest) = rest.split_at_mut(n);
        let (left, rest) = rest.split_at_mut(self.gases.len());
        let (additions, flux_lost) = rest.split_at_mut(rest.len() / 2);
        Books { sample, flux, melt, stayed, left, additions, flux_lost }
    }

    /// Grams per mole of an element in the melt, with the oxygen it holds.
    #[inline(always)]
    pub(crate) fn grams_in_melt<S: Scalar>(&self, weights: &[S], element: Place) -> S {
        weights[element] + weights[self.oxygen] * self.oxygen_per_atom[element]
    }

    /// Keeps the books of one charge; with `LEDGER` also those that only the ledger reads.
    #[inline(always)]
    pub(crate) fn keep_books<S: Scalar, const LEDGER: bool>(&self, x: &[S], books: &mut Books<'_, S>) -> Masses<S> {
        let weights = &x[self.weights.clone()];
        let m_s = x[self.sample_mass];

        let unnamed = self.keep_sample(x, books);
        let mut sample_glass = match &self.sample {
            SamplePath::Stated(loss) => m_s * loss.left(x),
            SamplePath::Itemised { portions, .. } => self.grams_stayed(weights, portions, books, unnamed),
        };

        // the flux: what its maker mixed in is an addition; the rest is blend and blanks
        let mut blend_mass = x[self.flux_mass];
        for addition in &self.additions {
            if let Dose::ShareOfFlux(share) = addition.dose {
                blend_mass = blend_mass - x[self.flux_mass] * x[share];
            }
        }
        let flux = self.keep_flux::<S, LEDGER>(x, books, blend_mass);

        // the additions
        for addition in &self.additions {
            let moles = addition.moles(x, self);
            for blank in &addition.blanks {
                let moles = addition.blank_moles(x, self, blank);
                for &(element, count) in &blank.atoms {
                    if LEDGER {
                        books.additions[element] = books.additions[element] + moles * count;
                    }
                    if element == blank.element {
                        books.melt[element] = books.melt[element] + moles * count;
                    }
                }
            }
            if LEDGER {
                for &(element, count) in &addition.atoms {
                    books.additions[element] = books.additions[element] + moles * count;
                }
            }
            for (portion, &(_, count)) in addition.portions.iter().zip(&addition.atoms) {
                self.settle(x, portion, moles * count, books.melt, books.left);
            }
        }

        // what gases take out of the melt, and the glass that is left
        let taken = self.take_carriers(weights, books);
        if let SamplePath::Itemised { .. } = self.sample {
            sample_glass = sample_glass - taken;
        }
        let mut glass = match self.sample {
            SamplePath::Stated(_) => sample_glass,
            SamplePath::Itemised { .. } => unnamed,
        };
        for &element in &self.melting {
            glass = glass + books.melt[element] * self.grams_in_melt(weights, element);
        }
        let flux_unnamed = flux.pure_blend * flux.unnamed * flux.kept;
        glass = glass + flux_unnamed;
        Masses { glass, fused_flux: flux.fused, sample_glass, unnamed, flux_unnamed, flux_kept: flux.kept }
    }

    /// The books of the flux: its blend, what that gives off by its formulas, its loss and its blanks. The loss takes
    /// blend, blanks and what no formula names in proportion.
    #[inline(always)]
    pub(crate) fn keep_flux<S: Scalar, const LEDGER: bool>(
        &self,
        x: &[S],
        books: &mut Books<'_, S>,
        blend_mass: S,
    ) -> FusedFlux<S> {
        let weights = &x[self.weights.clone()];
        let zero = S::constant(0.0);
        let one = S::constant(1.0);
        let mut unnamed = zero;
        for term in &self.blend.terms {
            let mut moles = one / sum_of_weights(&term.atoms, weights) * term.share;
            if let Some(purity) = term.purity {
                moles = moles * x[purity];
                unnamed = unnamed + (one - x[purity]) * term.share;
            }
            for &(element, count) in &term.atoms {
                books.flux[element] = books.flux[element] + moles * count;
            }
        }
        let mut stays = zero;
        for portion in &self.blend.portions {
            if portion.kept == Kept::All {
                stays = stays + books.flux[portion.element] * self.grams_in_melt(weights, portion.element);
            }
        }
        stays = stays + unnamed;
        let mut blank = zero;
        for term in &self.blanks {
            blank = blank + x[term.content];
        }
        let with_blanks = one - blank * (one - stays);
        let loss = x[self.flux_loss];
        let left = if self.blend.loss_is_total { (one - loss) * with_blanks } else { stays - loss };
        let fused = blend_mass * left / with_blanks;
        let kept = left / stays;
        let pure_blend = blend_mass - fused * blank / kept;
        for slot in books.flux.iter_mut() {
            *slot = *slot * pure_blend;
            S::side_by_side();
        }
        for portion in &self.blend.portions {
            let moles = books.flux[portion.element];
            match (portion.kept, portion.gas) {
                (Kept::All, _) => {
                    books.melt[portion.element] = books.melt[portion.element] + moles * kept;
                    if LEDGER {
                        books.flux_lost[portion.element] = moles * (one - kept);
                    }
                }
                (_, Some(gas)) => books.left[gas] = books.left[gas] + moles,
                (_, None) => {}
            }
        }
        for term in &self.blanks {
            let moles = fused * x[term.content] / sum_of_weights(&term.atoms, weights);
            for &(element, count) in &term.atoms {
                if LEDGER {
                    books.flux[element] = books.flux[element] + moles * count / kept;
                }
                if element == term.element {
                    books.melt[element] = books.melt[element] + moles * count;
                    if LEDGER {
                        let lost = moles * count * (one - kept) / kept;
                        books.flux_lost[element] = books.flux_lost[element] + lost;
                    }
                }
            }
        }
        FusedFlux { fused, kept, pure_blend, stays, unnamed }
    }

    /// The books of the sample alone: its elements, what stays, what leaves. Gives the mass no declared species names.
    #[inline(always)]
    pub(crate) fn keep_sample<S: Scalar>(&self, x: &[S], books: &mut Books<'_, S>) -> S {
        let SamplePath::Itemised { species, portions } = &self.sample else { return S::constant(0.0) };
        let weights = &x[self.weights.clone()];
        let m_s = x[self.sample_mass];
        let mut named = S::constant(0.0);
        for species in species {
            let content = x[species.content];
            named = named + content;
            let moles = m_s * content / sum_of_weights(&species.atoms, weights);
            for &(element, count) in &species.atoms {
                books.sample[element] = books.sample[element] + moles * count;
            }
        }
        for portion in portions {
            let kept = self.settle(x, portion, books.sample[portion.element], books.melt, books.left);
            books.stayed[portion.element] = kept;
        }
        m_s * (S::constant(1.0) - named)
    }

    /// What stays of the sample with the oxygen it stands with, and what no declared species names.
    #[inline(always)]
    fn grams_stayed<S: Scalar>(&self, weights: &[S], portions: &[Portion], books: &Books<'_, S>, unnamed: S) -> S {
        let mut mass = unnamed;
        for portion in portions {
            mass = mass + books.stayed[portion.element] * self.grams_in_melt(weights, portion.element);
        }
        mass
    }

    /// The sample alone in a furnace with air: what is left of it, g, with the books filled.
    #[inline(always)]
    pub(crate) fn ignite<S: Scalar>(&self, x: &[S], books: &mut Books<'_, S>) -> S {
        let unnamed = self.keep_sample(x, books);
        let weights = &x[self.weights.clone()];
        let SamplePath::Itemised { portions, .. } = &self.sample else { return unnamed };
        let stayed = self.grams_stayed(weights, portions, books, unnamed);
        stayed - self.take_carriers(weights, books)
    }

    /// Takes the other elements of the gases out of the melt; gives their mass with the oxygen they stood with.
    #[inline(always)]
    pub(crate) fn take_carriers<S: Scalar>(&self, weights: &[S], books: &mut Books<'_, S>) -> S {
        let mut mass = S::constant(0.0);
        for (gas, &left) in self.gases.iter().zip(books.left.iter()) {
            for &(carrier, count) in &gas.carriers {
                let taken = left * count;
                books.melt[carrier] = books.melt[carrier] - taken;
                mass = mass + taken * self.grams_in_melt(weights, carrier);
            }
        }
        mass
    }

    /// Grams of a gas per mole of the element it is named for, from the weight of hydrogen and those of the plan.
    #[inline(always)]
    pub(crate) fn grams_of_gas<S: Scalar>(&self, weights: &[S], hydrogen: S, gas: &Gas) -> S {
        let mut grams = weights[gas.key] + weights[self.oxygen] * gas.oxygen + hydrogen * gas.hydrogen;
        for &(carrier, count) in &gas.carriers {
            grams = grams + weights[carrier] * count;
        }
        grams
    }

    /// Splits the moles of one portion between melt and gas; gives what stays.
    #[inline(always)]
    fn settle<S: Scalar>(&self, x: &[S], portion: &Portion, moles: S, melt: &mut [S], left: &mut [S]) -> S {
        let kept = match portion.kept {
            Kept::All => moles,
            Kept::Nothing => S::constant(0.0),
            Kept::Share(share) => moles * x[share],
        };
        melt[portion.element] = melt[portion.element] + kept;
        if let Some(gas) = portion.gas {
            left[gas] = left[gas] + (moles - kept);
        }
        kept
    }

    /// The whole slice: books, ratios, glass contents, and the sample from its readings. Trouble is true where a mass
    /// or a basis leaves nothing to divide by.
    #[inline(always)]
    pub(crate) fn run<S: Scalar>(&self, x: &[S], out: &mut [S], scratch: &mut [S]) -> S::Mask {
        match &self.lines {
            Some(lines) => self.run_lines(lines, x, out, scratch),
            None => self.run_glass(x, out, scratch),
        }
    }

    /// The same for readings of the glass, without the code for intensities.
    #[inline(always)]
    pub(crate) fn run_glass<S: Scalar>(&self, x: &[S], out: &mut [S], scratch: &mut [S]) -> S::Mask {
        let mut books = self.books(&mut scratch[..self.books_scratch()]);
        let bad = self.melt(x, &mut books, out);
        let dilution = out[DILUTION];
        let results = &mut out[FIXED + self.glass.len()..];
        self.undiluted(x, &books, dilution, results);
        bad.or(self.finish(x, results))
    }

    /// What stayed of the sample by the readings of the glass, g per g sample.
    #[inline(always)]
    pub(crate) fn undiluted<S: Scalar>(&self, x: &[S], books: &Books<'_, S>, dilution: S, results: &mut [S]) {
        let m_s = x[self.sample_mass];
        for (result, reading) in results.iter_mut().zip(&self.readings) {
            if let Content::Read(content) = reading.content {
                *result = undilute(x[content], dilution) - self.brought(x, books, m_s, reading);
            }
        }
    }

    /// Books, fixed outputs and glass contents. Trouble is true where a mass leaves nothing to divide by.
    #[inline(always)]
    pub(crate) fn melt<S: Scalar>(&self, x: &[S], books: &mut Books<'_, S>, out: &mut [S]) -> S::Mask {
        let masses = self.keep_books::<S, false>(x, books);
        let weights = &x[self.weights.clone()];
        let m_s = x[self.sample_mass];
        let zero = S::constant(0.0);
        out[GLASS_MASS] = masses.glass;
        out[FLUX_RATIO] = x[self.flux_mass] / m_s;
        out[FUSED_FLUX_RATIO] = masses.fused_flux / m_s;
        out[DILUTION] = masses.glass / m_s;
        out[LOSS_ON_FUSION] = S::constant(1.0) - masses.sample_glass / m_s;
        for (content, &(element, alone)) in out[FIXED..].iter_mut().zip(&self.glass) {
            let grams = if alone { weights[element] } else { self.grams_in_melt(weights, element) };
            *content = books.melt[element] * grams / masses.glass;
        }
        zero.lt(masses.glass).not().or(zero.lt(m_s).not()).or(zero.lt(masses.flux_kept).not())
    }

    /// What flux and additions put into the glass of the species of a reading, less what gases took, g per g sample.
    #[inline(always)]
    pub(crate) fn brought<S: Scalar>(&self, x: &[S], books: &Books<'_, S>, m_s: S, reading: &Reading) -> S {
        if !reading.brought {
            return S::constant(0.0);
        }
        let per_mole = reading.per_mole(&x[self.weights.clone()]);
        (books.melt[reading.element] - self.stayed(books, reading.element)) * per_mole / m_s
    }

    /// Moles of an element in the melt that came with the sample directly, by its species.
    #[inline(always)]
    pub(crate) fn stayed<S: Scalar>(&self, books: &Books<'_, S>, element: Place) -> S {
        match self.sample {
            SamplePath::Stated(_) => S::constant(0.0),
            SamplePath::Itemised { .. } => books.stayed[element],
        }
    }

    /// From what stayed of the sample in the glass, g per g sample in the species of its reading, to the results: the
    /// share that left put back, the form and the basis asked for. Trouble is true where nothing is left to divide by.
    #[inline(always)]
    pub(crate) fn finish<S: Scalar>(&self, x: &[S], results: &mut [S]) -> S::Mask {
        let weights = &x[self.weights.clone()];
        let zero = S::constant(0.0);
        let mut bad = S::Mask::splat(false);
        let mut basis = S::constant(1.0);
        if let Some([weighed, asked]) = &self.bases {
            let left = asked.grams(x);
            basis = weighed.grams(x) / left;
            let sound = zero.lt(left).and(zero.lt(basis)).and(basis.lt(S::constant(f64::INFINITY)));
            bad = bad.or(sound.not());
        }
        for (result, reading) in results.iter_mut().zip(&self.readings) {
            let whole = match reading.kept {
                Kept::Share(share) => {
                    bad = bad.or(zero.lt(x[share]).not());
                    *result / x[share]
                }
                Kept::All | Kept::Nothing => *result,
            };
            *result = if reading.as_read {
                whole
            } else {
                whole * (sum_of_weights(&reading.target, weights) / reading.target_count / reading.per_mole(weights))
            };
            if self.bases.is_some() {
                *result = *result * basis;
            }
        }
        bad
    }
}
