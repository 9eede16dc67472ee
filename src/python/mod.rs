//! Python bindings: one list of exports. Everything here converts and delegates.

mod arrays;
mod assay;
mod calibrated;
mod calibration;
mod charge;
mod closure;
mod coefficients;
mod columns;
mod compare;
mod composition;
mod convert;
mod correction;
mod drying;
mod flux;
mod foreign;
mod ignition;
mod intensities;
mod line;
mod measurement;
mod melt;
mod method;
mod plain;
mod result;
mod rules;
mod sheet;
mod standard;
mod substance;
mod table;
mod theory;
mod uncertainty;
mod xray;

use pyo3::prelude::*;

/// The private native module; the package `beadchem` re-exports it by name.
#[pymodule(gil_used = false)]
mod _core {
    #[pymodule_export]
    use super::assay::{PyAssay, PyBeadLimit, PyCombination, PyProvenance};
    #[pymodule_export]
    use super::calibrated::{PyCalibrated, PyLineFit, PyResidual};
    #[pymodule_export]
    use super::calibration::PyCalibration;
    #[pymodule_export]
    use super::charge::{PyAddition, PyAmount, PyCharge, PyFate, PySample};
    #[pymodule_export]
    use super::closure::{PyClosure, PyClosureLine, PyClosureOrder, PyElementForms, PyExternal};
    #[pymodule_export]
    use super::coefficients::PyCoefficientSet;
    #[pymodule_export]
    use super::columns::{PyArrowColumns, PyCorrectedArrays, PyCorrectedTable};
    #[pymodule_export]
    use super::compare::{PyComparison, PyDifference};
    #[pymodule_export]
    use super::composition::{PyBelow, PyComposition, PyLinks};
    #[pymodule_export]
    use super::convert::{BeadchemError, PyCode, PyFinding, codes};
    #[pymodule_export]
    use super::correction::{PyCorrection, PyField, PyRecorrection};
    #[pymodule_export]
    use super::drying::{PyDrying, PyIgnitionWeighing, PyLossOnIgnition, PyMoisture};
    #[pymodule_export]
    use super::flux::{PyFlux, PyFluxLot, PyLossTest, PyLotChange};
    #[pymodule_export]
    use super::ignition::{PyExplained, PyIgnition, PyLossOnFusion, PyPredictedLoss};
    #[pymodule_export]
    use super::intensities::{PyDeadTime, PyDrift, PyDriftTerm, PyLineReading, PyMonitor};
    #[pymodule_export]
    use super::line::{PyFittedLine, fit_line};
    #[pymodule_export]
    use super::melt::{
        PyAdjusted, PyBeadMassCheck, PyBeadReading, PyChange, PyDilution, PyFluxRatio, PyFusedFluxRatio, PyLedger,
        PyMelt, undilute,
    };
    #[pymodule_export]
    use super::method::{PyInternalStandard, PyMethod, PyOverlap};
    #[pymodule_export]
    use super::result::{PyMonteCarlo, PySampleResult};
    #[pymodule_export]
    use super::rules::{PyAgreement, PyReport, PyReportForm, PyRules, PyTotalVerdict};
    #[pymodule_export]
    use super::sheet::{PyColumn, PyJoined, PyLayout, PySheet, PySheetRow, PyTotals, join_by_id, read_table};
    #[pymodule_export]
    use super::standard::{PyStandard, PyStandardFit};
    #[pymodule_export]
    use super::substance::{PyFormula, PyFromWeights, PyWeights, factor, molar_mass, oxygen_equivalent};
    #[pymodule_export]
    use super::table::{PyCodeTable, rounded};
    #[pymodule_export]
    use super::theory::{PyInversion, PyReferenceBead, PyTheory, PyTradeOff, trade_off};
    #[pymodule_export]
    use super::uncertainty::{PyBudget, PyBudgetRow, PyValue, exact, value};
    #[pymodule_export]
    use super::xray::{
        PyAtomicTables, PyGlass, PyInstrument, PyIntensities, PyNearbyLine, PySetting, PySource, not_modelled, overlaps,
    };
    #[expect(non_upper_case_globals, reason = "the name Python gives it")]
    #[pymodule_export]
    const __version__: &str = env!("CARGO_PKG_VERSION");
}
