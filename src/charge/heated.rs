//! A sample heated alone, resolved to places and numbers: the furnace of a loss on ignition, and beside it the fusion.

use crate::charge::compile::{Compiler, in_the_sample, per_atom};
use crate::charge::fate::Fate;
use crate::charge::kernel::{Input, Kernel};
use crate::charge::place::Where;
use crate::composition::Composition;
use crate::error::Result;
use crate::finding::Finding;
use crate::substance::{Element, Formula, Weights, interval_note, weight_estimate, weight_name};
use crate::uncertainty::{Estimate, Inputs};

/// A sample heated without flux, once in each of several ways, over one list of inputs.
pub(crate) struct Heated {
    /// One for each way: the furnace, and where asked for the fusion.
    pub(crate) kernels: Vec<Kernel>,
    pub(crate) gases: Vec<Vec<Formula>>,
    pub(crate) inputs: Inputs,
    pub(crate) hydrogen: Input,
    pub(crate) elements: Vec<Element>,
    /// The species with a value, with the places of their contents.
    pub(crate) contents: Vec<(Formula, Input)>,
    pub(crate) findings: Vec<Finding>,
}

/// Resolves a sample that is heated by the first fate in the furnace, and by the second, where given, in the fusion.
pub(crate) fn compile_heated(
    composition: &Composition,
    furnace: &Fate,
    fusion: Option<&Fate>,
    weights: &Weights,
) -> Result<Heated> {
    let mut c = Compiler::new(furnace, Where::Furnace);
    // a gram of sample: what follows is per gram
    let mass = c.inputs.push("sample heated", Estimate::exact(1.0)?)?;
    let hydrogen = c.place(Element::H);
    let mut ways = Vec::new();
    for (fate, place) in [(Some(furnace), Where::Furnace), (fusion, Where::Melt)] {
        let Some(fate) = fate else { continue };
        (c.fate, c.place) = (fate, place);
        c.stays_as.iter_mut().for_each(|form| *form = None);
        (c.gas_names, c.gas_keys) = (Vec::new(), Vec::new());
        let path = c.sample(composition)?;
        let gases = (0..c.gas_names.len()).map(|index| c.gas(index)).collect::<Result<Vec<_>>>()?;
        ways.push((path, gases, std::mem::take(&mut c.gas_names), c.stays_as.clone()));
    }
    let first = c.inputs.len();
    for &element in &c.elements {
        c.inputs.push(weight_name(element), weight_estimate(element, weights)?)?;
    }
    c.findings.extend(interval_note(&c.elements, weights)?);
    // what both ways remark is said once
    let mut findings: Vec<Finding> = Vec::new();
    for finding in std::mem::take(&mut c.findings) {
        if !findings.iter().any(|said| said.code == finding.code && said.quantity == finding.quantity) {
            findings.push(finding);
        }
    }
    let contents: Vec<(Formula, Input)> = composition
        .entries()
        .iter()
        .filter(|entry| entry.cell.value().is_some())
        .filter_map(|entry| Some((entry.species.clone(), c.inputs.index_of(&in_the_sample(&entry.species))?)))
        .collect();
    let (mut kernels, mut gas_names) = (Vec::new(), Vec::new());
    for (sample, gases, names, mut stays_as) in ways {
        stays_as.resize(c.elements.len(), None);
        let bare = Kernel::bare(mass, first..first + c.elements.len(), per_atom(&c.elements, &stays_as));
        kernels.push(Kernel { sample, gases, ..bare });
        gas_names.push(names);
    }
    let hydrogen = first + hydrogen;
    Ok(Heated { kernels, gases: gas_names, inputs: c.inputs, hydrogen, elements: c.elements, contents, findings })
}
