//! Detection limits of one line in one bead, each by a formula that is named with the figure.

use crate::code::Code;
use crate::composition::unit::percent_short;
use crate::error::{Error, Result, finite};
use crate::matrix::{Count, LineReading};

/// One-sided 95 % of a normal distribution, for errors of both kinds.
///
/// # Source
/// L. A. Currie, Anal. Chem. 40 (1968) 586.
const K: f64 = 1.645;
/// The reciprocal of the relative standard deviation at which a quantity counts as determined, 10 %.
///
/// # Source
/// L. A. Currie, Anal. Chem. 40 (1968) 586.
const K_QUANTIFIED: f64 = 10.0;
/// The multiple of the trade's detection limit (common practice).
const THREE: f64 = 3.0;

/// By which formula a detection limit is meant; figures by different ones differ up to tenfold.
///
/// With `R_b`, `T_b`, `g_b` rate, time and weight of each background, `T_p` the time of the peak and S the sensitivity,
/// and `sigma_0^2 = sum g_b R_b / T_p + sum g_b^2 R_b / T_b` the variance of a net intensity where there is nothing:
///
/// ```
/// use beadchem::matrix::DetectionFormula;
/// assert_eq!(DetectionFormula::from_word("Currie detection")?, DetectionFormula::CurrieDetection);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum DetectionFormula {
    /// `3/S sqrt(sum g_b^2 R_b / T_b)`: the scatter of the background alone.
    ThreeSigmaBackground,
    /// `1.645 sigma_0 / S`: above it something is there, with 5 % false alarms.
    CurrieDecision,
    /// `(1.645^2 / T_p + 2 x 1.645 sigma_0) / S` (in counts 2.71 + 3.29 sigma_0): a content that is missed in 5 % of cases.
    CurrieDetection,
    /// `(50 / T_p) (1 + sqrt(1 + sigma_0^2 T_p^2 / 25)) / S`: a content whose counting error is 10 % of it.
    CurrieQuantification,
}

impl DetectionFormula {
    const WORDS: [(&'static str, DetectionFormula); 4] = [
        ("3-sigma background", DetectionFormula::ThreeSigmaBackground),
        ("Currie decision", DetectionFormula::CurrieDecision),
        ("Currie detection", DetectionFormula::CurrieDetection),
        ("Currie quantification", DetectionFormula::CurrieQuantification),
    ];

    /// The formula with this word.
    ///
    /// # Errors
    /// `word.unknown`; the message lists the words.
    ///
    /// ```
    /// assert!(beadchem::matrix::DetectionFormula::from_word("LLD").unwrap_err().to_string().contains("Currie decision"));
    /// ```
    pub fn from_word(word: &str) -> Result<Self> {
        let found = Self::WORDS.iter().find(|(known, _)| *known == word).map(|(_, formula)| *formula);
        found.ok_or_else(|| Error::word("Detection formula", word, &Self::WORDS.map(|(word, _)| word)))
    }

    /// The word.
    ///
    /// ```
    /// assert_eq!(beadchem::matrix::DetectionFormula::CurrieDecision.word(), "Currie decision");
    /// ```
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            DetectionFormula::ThreeSigmaBackground => "3-sigma background",
            DetectionFormula::CurrieDecision => "Currie decision",
            DetectionFormula::CurrieDetection => "Currie detection",
            DetectionFormula::CurrieQuantification => "Currie quantification",
        }
    }
}

/// A detection limit with the formula it stands for.
///
/// ```
/// use beadchem::matrix::{Count, DetectionFormula, LineReading};
/// let reading = LineReading::counted("Cr Ka", Count::new(90.0, 100.0)?)?.background(1.0, Count::new(85.0, 100.0)?)?;
/// let limit = reading.detection_limit(DetectionFormula::ThreeSigmaBackground, 12_000.0)?; // 120 cps per %
/// assert_eq!(limit.to_string(), "0.023 % (3-sigma background)");
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DetectionLimit {
    /// The limit, g/g of what the sensitivity refers to: the glass, or the sample.
    pub value: f64,
    /// The formula.
    pub formula: DetectionFormula,
}

impl core::fmt::Display for DetectionLimit {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(f, "{} ({})", percent_short(self.value), self.formula.word())
    }
}

impl LineReading {
    /// The detection limit of this line in this bead, from its own backgrounds and times.
    ///
    /// `sensitivity` is what this bead gives per content, cps per g/g: per content of the glass for a limit in the glass,
    /// per content of the sample for one in the sample. Only counting is in the limit; overlaps and blanks come on top.
    ///
    /// # Errors
    /// `background.unstated` for a net intensity or a peak without background; `number.out-of-range` for a sensitivity not
    /// above zero, or weighted backgrounds below zero in sum.
    ///
    /// # Source
    /// L. A. Currie, Anal. Chem. 40 (1968) 586, extended to weighted backgrounds; "3-sigma background" is common practice.
    ///
    /// ```
    /// use beadchem::matrix::{DetectionFormula, LineReading};
    /// let refused = LineReading::net("Cr Ka", 5.0)?.detection_limit(DetectionFormula::CurrieDecision, 12_000.0).unwrap_err();
    /// assert_eq!(refused.code().word(), "background.unstated");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn detection_limit(&self, formula: DetectionFormula, sensitivity: f64) -> Result<DetectionLimit> {
        let line = self.line();
        finite(&format!("Sensitivity of {line}"), sensitivity)?;
        if sensitivity <= 0.0 {
            return Err(Error::NotPositive {
                code: Code::NumberOutOfRange,
                quantity: format!("Sensitivity of {line}"),
                value: sensitivity,
                unit: "cps per g/g",
                bound: "A sensitivity must be above zero".to_owned(),
                hint: "does the calibration of this line slope the right way?".to_owned(),
            });
        }
        let Some((peak, backgrounds)) = self.channels().filter(|(_, backgrounds)| !backgrounds.is_empty()) else {
            return Err(Error::Unstated {
                code: Code::BackgroundUnstated,
                quantity: format!("The background of {line}"),
                hint:
                    "A detection limit follows from the counted background: give peak and backgrounds with their times."
                        .to_owned(),
            });
        };
        let time = peak.time_s();
        let (mut under, mut taken) = (0.0, 0.0);
        for &(weight, count) in backgrounds {
            under += weight * count.rate_cps();
            taken += (weight * count.u_cps()).powi(2);
        }
        if under < 0.0 {
            return Err(Error::OutOfRange {
                code: Code::NumberOutOfRange,
                quantity: format!("{line} weighted background"),
                value: under,
                unit: "cps",
                bound: "0 cps and above".to_owned(),
                hint: "Do the weights belong to these backgrounds, in this order?".to_owned(),
            });
        }
        let empty = Count::new(under, time)?.u_cps().hypot(taken.sqrt());
        let rate = match formula {
            DetectionFormula::ThreeSigmaBackground => THREE * taken.sqrt(),
            DetectionFormula::CurrieDecision => K * empty,
            DetectionFormula::CurrieDetection => K * K / time + 2.0 * K * empty,
            DetectionFormula::CurrieQuantification => {
                let half = K_QUANTIFIED * K_QUANTIFIED / (2.0 * time);
                let sigmas = 2.0 * empty * time / K_QUANTIFIED;
                half * (1.0 + (1.0 + sigmas * sigmas).sqrt())
            }
        };
        Ok(DetectionLimit { value: rate / sensitivity, formula })
    }
}
