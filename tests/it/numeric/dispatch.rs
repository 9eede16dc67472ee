//! Every instruction set of this processor gives the same bits; one it lacks is refused.

use beadchem::code::Code;
use beadchem::error::Result;
use beadchem::numeric::InstructionSet;
use beadchem::scalar::{Lanes, Scalar};

#[inline(always)]
fn kernel(rows: &[[f64; 8]]) -> [u64; 8] {
    let mut total = Lanes([0.0; 8]);
    for &row in rows {
        let x = Lanes(row);
        total = total + (x * 0.01).exp() * (x.abs() + 1.0).ln() / (x * x).ln_1p() + x.abs().sqrt();
    }
    total.0.map(f64::to_bits)
}

fn rows() -> Vec<[f64; 8]> {
    (0..500).map(|i| core::array::from_fn(|j| f64::from(i) * 0.37 - 90.0 + 0.011 * j as f64)).collect()
}

#[test]
fn sets_differ_in_speed_only() -> Result<()> {
    let rows = rows();
    let portable = kernel(&rows);
    for set in InstructionSet::available() {
        assert_eq!(set.run(|| kernel(&rows))?, portable, "{}", set.word());
    }
    Ok(())
}

#[test]
fn a_set_runs_exactly_where_it_is_available() {
    let available = InstructionSet::available();
    for set in InstructionSet::ALL {
        let outcome = set.run(|| 1);
        assert_eq!(outcome.is_ok(), available.contains(&set), "{}", set.word());
        if let Err(error) = outcome {
            assert_eq!(error.code(), Code::WordUnknown);
            assert!(error.to_string().contains(set.word()) && error.hint().contains("portable"), "{error}");
        }
    }
}

#[test]
fn words_go_both_ways() {
    for set in InstructionSet::ALL {
        assert_eq!(InstructionSet::from_word(set.word()), Ok(set));
    }
    assert_eq!(InstructionSet::from_word("AVX2").err().map(|error| error.code()), Some(Code::WordUnknown));
}
