//! The one table of codes: every refusal and every finding carries a word from here.
//!
//! The table gives the enum, the number a batch column stores, the severity, and the sentence of the code list. A word,
//! once released, keeps its meaning and its number. The whole list is in the docs of [`Code::ALL`].

/// The word of a severity, where a literal is needed.
macro_rules! severity_word {
    (Note) => {
        "note"
    };
    (Caution) => {
        "caution"
    };
    (Warning) => {
        "warning"
    };
    (Error) => {
        "error"
    };
}

/// How much a finding weighs.
///
/// ```
/// use beadchem::code::Severity;
/// assert!(Severity::Note < Severity::Error);
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Severity {
    /// Said for the record; nothing need be done.
    Note,
    /// A danger to people or platinum at this step; local codes and licensed practice decide.
    Caution,
    /// The result stands, but the reader must know this.
    Warning,
    /// Refused: no result is given.
    Error,
}

impl Severity {
    /// The word as printed and stored.
    ///
    /// ```
    /// assert_eq!(beadchem::code::Severity::Note.word(), "note");
    /// ```
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Severity::Note => severity_word!(Note),
            Severity::Caution => severity_word!(Caution),
            Severity::Warning => severity_word!(Warning),
            Severity::Error => severity_word!(Error),
        }
    }
}

macro_rules! codes {
    ($($number:literal $name:ident $word:literal $severity:ident $meaning:literal;)*) => {
        /// The reason for a refusal or a finding.
        ///
        /// ```
        /// use beadchem::code::Code;
        /// assert_eq!(Code::MassNotPositive.word(), "mass.not-positive");
        /// assert_eq!(Code::from_word("mass.not-positive"), Some(Code::MassNotPositive));
        /// ```
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        #[non_exhaustive]
        #[repr(u16)]
        pub enum Code {
            $(#[doc = $meaning] $name = $number,)*
        }

        impl Code {
            /// Every code, in the order of its number.
            ///
            /// | number | word | severity | meaning |
            /// |---:|---|---|---|
            $(#[doc = concat!("| ", $number, " | `", $word, "` | ", severity_word!($severity), " | ", $meaning, " |")])*
            ///
            /// ```
            /// use beadchem::code::Code;
            /// assert!(Code::ALL.iter().all(|code| code.number() > 0));
            /// ```
            pub const ALL: &'static [Code] = &[$(Code::$name,)*];

            /// The stable word.
            ///
            /// ```
            /// assert_eq!(beadchem::code::Code::MassMissing.word(), "mass.missing");
            /// ```
            #[must_use]
            pub const fn word(self) -> &'static str {
                match self { $(Code::$name => $word,)* }
            }

            /// How much it weighs.
            ///
            /// ```
            /// use beadchem::code::{Code, Severity};
            /// assert_eq!(Code::MassMissing.severity(), Severity::Error);
            /// ```
            #[must_use]
            pub const fn severity(self) -> Severity {
                match self { $(Code::$name => Severity::$severity,)* }
            }

            /// One sentence for the list of codes.
            ///
            /// ```
            /// assert!(beadchem::code::Code::MassMissing.meaning().ends_with('.'));
            /// ```
            #[must_use]
            pub const fn meaning(self) -> &'static str {
                match self { $(Code::$name => $meaning,)* }
            }
        }
    };
}

codes! {
    1 NumberNotFinite "number.not-finite" Error "A number is missing, not a number, or infinite.";
    2 NumberOutOfRange "number.out-of-range" Error "A number lies outside the range in which it can mean anything.";
    3 UncertaintyNegative "uncertainty.negative" Error "A standard uncertainty or half width is below zero.";
    4 UncertaintyUnstated "uncertainty.unstated" Note "An input has no stated uncertainty; results that use it say \"at least\".";
    5 DegreesOfFreedom "uncertainty.degrees-of-freedom" Error "Degrees of freedom are not above the least the distribution allows.";
    6 InputDoubled "input.doubled" Error "One input name carries two different values or uncertainties.";
    7 InputUnknown "input.unknown" Error "An input is named that the calculation does not have.";
    8 CorrelationImpossible "correlation.impossible" Error "The stated correlations contradict each other.";
    9 ShapeMismatch "shape.mismatch" Error "Two lists that belong together have different lengths.";
    10 WordUnknown "word.unknown" Error "A word is not one of those understood here.";
    11 DistributionUnfit "uncertainty.distribution" Error "A formula does not hold for the distribution of an input.";
    12 UncertaintyBoundless "uncertainty.boundless" Error "An uncertainty is so large that the result has none that is finite.";
    20 MassNotPositive "mass.not-positive" Error "A mass is zero or below.";
    21 MassMissing "mass.missing" Error "A mass is missing, not a number, or infinite.";
    22 MassOutOfRange "mass.out-of-range" Error "A mass lies outside the range of a fused bead; usually milligrams entered as grams.";
    30 FormulaSyntax "formula.syntax" Error "A formula cannot be read at the named position.";
    31 FormulaElementUnknown "formula.element-unknown" Error "A formula names something that is not an element.";
    32 FormulaAmbiguous "formula.ambiguous" Error "A formula can be read in more than one way.";
    33 FormulaDotAssumed "formula.dot-assumed" Warning "A dot in a formula was read as a hydrate or as a decimal mark; the other reading was possible.";
    34 FormulaLetterCase "formula.letter-case" Warning "A formula was read in spite of unusual capitals; another substance may have been meant.";
    40 WeightsUnknown "weights.unknown" Error "A version of the atomic weights, or an element in it, is not held.";
    41 WeightsInterval "weights.interval" Note "An element without one natural atomic weight was used with its conventional value.";
    42 FactorNoCommonElement "factor.no-common-element" Error "Two formulas share no element by which one could be converted to the other.";
    43 FactorSeveralElements "factor.several-common-elements" Error "Two formulas share several elements; say by which the conversion goes.";
    44 WeightsUnsourced "weights.unsourced" Error "An atomic weight other than the published one is given without its source.";
    50 SpeciesElementTwice "species.element-twice" Error "One element appears in two entries that refer to the same atoms.";
    51 SpeciesDoubled "species.doubled" Error "One species is given twice.";
    52 SpeciesUnknown "species.unknown" Error "A species is asked for that is not there.";
    60 BasisMismatch "basis.mismatch" Error "Values of different bases were brought together.";
    61 BasisNeeds "basis.needs" Error "A change of basis needs a moisture or a loss on ignition that is not given.";
    62 BasisImpossible "basis.impossible" Error "A result cannot be put on the basis asked for.";
    63 RatioKind "ratio.kind" Error "A flux ratio was given where a dilution was needed, or the reverse.";
    64 CompositionOverfull "composition.overfull" Error "The declared species of a sample add up to clearly more than the whole.";
    65 RemainderLarge "composition.remainder-large" Warning "A large part of a sample has no declared species; it was carried into the glass unchanged.";
    68 FluxRatioUnusual "flux-ratio.unusual" Warning "Sample and flux may be swapped, or one of them mistyped.";
    70 FateNotStated "fate.not-stated" Error "What an element becomes in the fusion is a fact of the laboratory and was not stated.";
    71 FateAssumed "fate.assumed" Note "What a component becomes in the fusion was assumed, and is named.";
    72 ChargeIncomplete "charge.incomplete" Error "A charge lacks something the calculation needs.";
    73 AdditionRefused "addition.refused" Error "An addition is refused in platinum or together with what else lies in the crucible.";
    74 RemainderCarried "composition.remainder" Note "The declared species do not add up to the whole; the rest was carried along unchanged.";
    75 AnalyteAdded "analyte.brought-by-addition" Warning "An analyte is also brought by the flux or an addition; its result is a small difference.";
    76 MeltNotPositive "melt.not-positive" Error "The charge would leave no glass.";
    77 AnalyteLost "analyte.lost" Error "An analyte is declared to leave entirely, so no result for the sample can follow from the glass.";
    78 ReadingNegative "reading.negative" Warning "A result is below zero; it is kept as it is and never clipped.";
    79 ResultAboveWhole "result.above-whole" Warning "A result is more than the whole sample; right only for an oxide of a metal or sulfide.";
    80 BeadMassDiffers "bead-mass.differs" Warning "A weighed bead differs from its predicted mass by more than the stated multiple of u.";
    81 FumeNitrate "fume.nitrate" Caution "Nitrate in the crucible: fumes and heat.";
    82 FumeHalide "fume.halide" Caution "A halide in the melt gives off fumes.";
    83 PlatinumUnoxidised "platinum.unoxidised" Caution "Something unoxidised lies in platinum.";
    84 FumeFluoride "fume.fluoride" Caution "Fluorine leaves the melt.";
    85 FumeToxicElement "fume.toxic-element" Caution "A toxic element can leave as fume.";
    86 OxygenFromAir "oxygen.from-air" Warning "What must be oxidised takes more oxygen than the oxidant hands over.";
    87 LimitUnderBlank "limit.under-blank" Warning "A detection limit of the glass is less than what flux and additions bring.";
    90 DocumentMalformed "document.malformed" Error "A stored document cannot be read.";
    91 DocumentUnknownField "document.unknown-field" Error "A stored document has a field that its kind does not know.";
    92 DocumentDuplicateKey "document.duplicate-key" Error "A stored document names one field twice.";
    93 DocumentNotFinite "document.not-finite" Error "A document would hold a number that is not finite, or an empty value.";
    94 DocumentKind "document.kind" Error "A stored document is of another kind than asked for.";
    95 DocumentSchema "document.schema" Error "A stored document has a schema this version does not know.";
    100 MatrixSingular "matrix.singular" Error "A system of equations has no single solution.";
    101 FitTooFewPoints "fit.too-few-points" Error "A fit has no more points than parameters.";
    102 InterpolationOutside "interpolation.outside" Error "A value is asked for outside the table or on an edge where it has two values.";
    103 CoverageProbability "coverage.probability" Error "A coverage probability is not between 0 and 1.";
    104 FitNotConverged "fit.not-converged" Error "An iterated fit did not settle on one answer.";
    110 BasisMissing "basis.missing" Error "A content is given without the basis it refers to.";
    111 UnitMissing "unit.missing" Error "A column of contents has no unit.";
    112 NumberAmbiguous "number.ambiguous" Error "A number does not follow the decimal and thousands marks stated for its table.";
    113 NumberUnreadable "number.unreadable" Error "A text stands where a number belongs.";
    114 TableHeader "table.header" Error "A declared column is missing from the header of a table, or stands there twice.";
    115 TableUnitContradicts "table.unit-contradicts" Error "The unit line of a table names another unit than the one declared.";
    116 TableUnreadable "table.unreadable" Error "A file is not the table it is read as: not UTF-8 text, or no workbook.";
    117 TableLayout "table.layout" Error "The layout declared for a table contradicts itself.";
    118 BeadDoubled "bead.doubled" Error "One bead id stands in several rows; none of them is used.";
    119 BeadIdMissing "bead.id-missing" Error "A row has no bead id.";
    120 TimeReversed "time.reversed" Error "A row is earlier than the row before it.";
    121 TimeUnreadable "time.unreadable" Error "A text is not a time as ISO 8601 writes it, or has a zone where others have none.";
    122 LimitRead "limit.read" Note "A number written as less than something was read as a detection limit.";
    123 ColumnsNotRead "table.columns-not-read" Note "A table has columns that its layout does not declare; they were not read.";
    124 IdTrimmed "bead.id-trimmed" Note "Blanks before or behind a bead id were taken off.";
    125 RowsRefused "table.rows-refused" Warning "Rows of a table have trouble; they are kept and not used.";
    126 BeadUnmatched "bead.unmatched" Warning "A bead id stands in one of two joined tables only.";
    127 RoundedBeforeConversion "rounding.before-conversion" Warning "A number was rounded before it was converted; the rounding is part of its uncertainty.";
    128 LinesEmpty "table.lines-empty" Note "Lines of a table that hold delimiters and nothing else are no rows.";
    129 MajorMissing "total.major-missing" Warning "A row lacks a component that its total needs; it was not totalled.";
    140 FluxProgramme "flux.programme" Error "A flux lot holds losses of several fusion programmes and one must be chosen, or has none of that name.";
    141 FluxBlendDiffers "flux.blend-differs" Error "Two flux lots are no change of lot: their blends differ.";
    142 ReplicatesTooFew "replicates.too-few" Error "A mean needs two replicates or more to have an uncertainty of its own.";
    143 DateUnreadable "date.unreadable" Error "A date is not a calendar date written as year-month-day.";
    144 DryingNotConstant "drying.not-constant" Error "Drying has not reached constant mass, so there is no moisture yet.";
    145 DryingRegain "drying.regain" Warning "A mass rose between two steps of drying by more than the stated multiple of u.";
    146 HydrateDried "drying.hydrate" Warning "A hydrate was dried above the laboratory's limit and loses combined water.";
    150 ClosureOutsideWindow "closure.outside-window" Warning "A total lies outside the laboratory's fixed window.";
    151 ClosureOutsideSpread "closure.outside-spread" Warning "A total differs from the whole by more than the stated multiple of its u.";
    152 ClosureBlind "closure.blind" Note "A total does not move with an input, so it says nothing about that input.";
    153 ClosureByDifference "closure.by-difference" Warning "A species was found by difference, so a total would be the whole by construction.";
    154 OxygenEquivalentMissing "closure.oxygen-equivalent" Warning "A halogen or sulfide was counted with metals written as oxides, and no oxygen was taken off.";
    155 ClosureAssumed "closure.assumed" Note "Where a component was counted was assumed, and is named.";
    156 ClosureNotCounted "closure.not-counted" Note "A component has no value and is not in the total.";
    157 ClosureCountedTwice "closure.counted-twice" Warning "A species was counted whole although the loss on ignition holds part of it.";
    158 GainUnexplained "loss.gain-unexplained" Warning "A gain on ignition needs something that takes up oxygen, and none is declared.";
    159 LossClipped "loss.clipped" Warning "A loss on ignition of exactly zero where a gain is expected; a negative value may have been replaced.";
    160 LossAboveCeiling "loss.above-ceiling" Warning "A loss on ignition is more than carbonates and stated water can give off.";
    161 LossUnusual "loss.unusual" Warning "A loss on ignition lies outside the range the laboratory expects of the material.";
    162 LossTemperatureMissing "loss.temperature-missing" Warning "A loss on ignition has no temperature; enough for a draft, not for a report.";
    163 LossNotReportable "loss.not-reportable" Error "A loss on ignition without its temperature cannot be reported.";
    164 LossDiffers "loss.differs" Warning "A loss on ignition differs from the one its composition predicts.";
    165 FormsImpossible "forms.impossible" Error "The declared forms of an element add up to more than its total.";
    166 BeadMassExplained "bead-mass.explained" Note "The total fits some ways to read a difference of a bead's mass and speaks against others.";
    167 BeadMassImpossible "bead-mass.impossible" Error "A bead weighs more than everything that went into it.";
    168 BeadMassNotAdjusted "bead-mass.not-adjusted" Error "A weighed bead cannot adjust the inputs: it is not declared complete, or it contradicts them.";
    169 SolubilityExceeded "solubility.exceeded" Warning "An oxide would exceed the laboratory's limit of solubility in the glass.";
    170 FluxLossOutside "flux.loss-outside" Error "The loss of a flux lot is outside the laboratory's limits.";
    171 AmountUnitMissing "amount.unit-missing" Error "An amount has no unit that it can be understood with.";
    172 RouteMissing "oxidant.route-missing" Error "What an oxidant is reduced to, and so how much oxygen it yields, was not stated.";
    173 ClippingRefused "clipping.refused" Error "Negative results are never set to zero; they can be censored in a report.";
    174 IgnitedAsDried "basis.ignited-as-dried" Warning "A result adds up as if ignited powder had been entered as dried.";
    175 ResultsDisagree "result.disagrees" Warning "Two determinations of one quantity differ by more than their uncertainty allows.";
    176 IdentitySwapped "identity.swapped" Warning "A result fits another sample better than its own.";
    177 DuplicatesDiffer "duplicates.differ" Warning "Two beads of one sample differ by more than the laboratory's limit.";
    178 ReferenceDiffers "reference.differs" Warning "A reference material differs from its assigned value by more than the uncertainties allow.";
    179 OtherLotFits "flux.other-lot-fits" Warning "A bead's mass fits another flux lot better than the one it was entered with.";
    180 RuleUnstated "rule.unstated" Error "A limit of the laboratory was asked for that its rules do not state.";
    181 TotalNotMade "total.not-made" Note "Results have no total, because what a total needs is not there.";
    182 ClosureMeasuredTwice "closure.measured-twice" Warning "A content from elsewhere is of a species that is a result already; it is not in the total.";
    183 FluxLotAssumed "flux-lot.assumed" Note "Rows name no flux lot, and there are several: the first is taken for all.";
    184 ResultNotMade "result.not-made" Note "Results that were asked for are not there, because what they need is not given.";
    191 LineUnknown "line.unknown" Error "A line is asked for that was not measured.";
    192 IntensityNegative "intensity.negative" Warning "A net intensity is below zero by no more than its uncertainty explains.";
    193 BackgroundExceeds "intensity.background-exceeds" Warning "More background was taken off a peak than the peak held.";
    194 BlankExceeds "intensity.blank-exceeds" Warning "The intensity of a blank is above the one it is taken off.";
    195 DeadTimeTooLong "dead-time.too-long" Error "A counter of this dead time cannot show this rate.";
    196 ReadingContradicts "reading.contradicts" Error "A reading is said to be net and to want a correction that only counted rates take.";
    197 BackgroundUnstated "background.unstated" Error "A detection limit needs a background, and the reading has none.";
    198 BackgroundMissing "background.missing" Error "A row has a counted peak and lacks a background that is declared for its line.";
    200 DriftBeforeFirst "drift.before-first" Error "A bead was measured before the first reading of a drift monitor.";
    201 DriftLastHeld "drift.last-held" Warning "A bead was measured after the last reading of a drift monitor; that reading was held.";
    202 DriftBeyondLimit "drift.beyond-limit" Error "A drift monitor moved by more than the laboratory allows.";
    203 MonitorsAlike "drift.monitors-alike" Error "Two drift monitors lie too close together in a line to give a slope.";
    210 CoefficientsFluxRatio "coefficients.flux-ratio" Error "A bead has a fused flux ratio for which its influence coefficients were not made.";
    211 CoefficientsBlend "coefficients.flux-blend" Warning "A bead was fused with another blend of flux than its influence coefficients were made for.";
    212 CoefficientsOutside "coefficients.outside-range" Warning "A content lies outside the range for which influence coefficients were made.";
    213 CoefficientsNotConstant "coefficients.not-constant" Error "Influence coefficients change with composition, so that writing them in another form would falsify results.";
    214 CoefficientsForm "coefficients.form" Error "Influence coefficients cannot be written in the form asked for.";
    215 CoefficientsUnsourced "coefficients.unsourced" Error "A set of influence coefficients lacks its name, version or source.";
    216 CoefficientsCentroid "coefficients.centroid" Error "A set of influence coefficients does not say at which contents it was made, and they are needed.";
    217 LineName "line.name" Error "A line is not named by an element and its transition, as in Fe Ka.";
    218 LineDoubled "line.doubled" Error "A line, or the line of an analyte, is given twice.";
    230 SolutionNegative "solution.negative" Error "The solution for an analyte lies below zero by more than counting explains.";
    231 SensitivityNotPositive "sensitivity.not-positive" Error "A sensitivity is zero or less.";
    232 CalibrationDoubled "calibration.doubled" Error "A quantity of a calibration is given twice.";
    233 LineNotCalibrated "line.not-calibrated" Error "A line has no sensitivity.";
    234 OverlapItself "overlap.itself" Error "A line is said to overlap or to follow itself.";
    235 OverlapNoInterferer "overlap.no-interferer" Error "An overlap factor was asked of a bead without the interferer.";
    236 OverlapDoubled "overlap.doubled" Error "Two factors are given for one overlap.";
    237 OverlapNotMeasured "overlap.not-measured" Error "The line that follows an interferer was not measured.";
    238 OverlapNotHeld "overlap.not-held" Warning "A halogen in the bead lies under a line that is asked for, and no factor is held.";
    239 ReadingDoubled "reading.doubled" Error "A bead has two readings of one line, or a component declared twice.";
    240 LineUnused "line.unused" Note "A line was measured that the method makes no use of.";
    241 LineNotMeasured "line.not-measured" Note "A line of the method was not measured; its analyte is not reported.";
    242 ComponentMeasuredAndDeclared "component.measured-and-declared" Error "A component is both measured and declared.";
    243 ComponentNotDeclared "component.not-declared" Warning "A component that stays in the glass is neither measured nor declared.";
    244 ComponentUnknown "component.unknown" Warning "Something stays in the glass that the coefficients do not know.";
    245 CalibrationOtherBasis "calibration.other-basis" Warning "A sample was weighed on another basis than the standards.";
    246 CalibrationExtrapolated "calibration.extrapolated" Warning "A content of the glass lies beyond the standards.";
    247 RowsExchanged "matrix.rows-exchanged" Warning "The elimination wanted exchanged rows; the pivoted solution stands.";
    248 MethodClassesDiffer "method.classes-differ" Error "A coefficient set does not fit the others of its method.";
    249 MethodIncomplete "method.incomplete" Warning "Something that a method should state is missing.";
    250 StandardUnknown "standard.unknown" Error "A standard leaves the content of a component open.";
    251 StandardDoubled "standard.doubled" Error "Two standards have one name.";
    252 StandardOff "standard.off" Warning "A standard lies off the calibration by more than its uncertainty allows.";
    253 CalibrationScatter "calibration.scatter" Warning "Standards scatter more than their uncertainties say.";
    254 CalibrationUntested "calibration.untested" Note "A line rests on as many standards as parameters.";
    255 FitProduct "fit.product" Error "Two parameters were asked for whose product is no linear fit.";
    256 ComponentFromSample "component.from-sample" Note "A component that was not measured was taken from the declared composition of the sample.";
    257 CalibrationDoubtful "calibration.doubtful" Warning "A result rests on a calibration that was made with warnings.";
    260 LineNotExcited "line.not-excited" Error "The source has no photons above the edge of a line.";
    261 LineNotTabulated "line.not-tabulated" Error "The atomic tables hold no line of this name.";
    262 ElementNotTabulated "element.not-tabulated" Error "The atomic tables, or an instrument setting, do not hold an element.";
    263 EnergyNotTabulated "energy.not-tabulated" Error "An energy lies outside the atomic tables.";
    264 GeometryImpossible "geometry.impossible" Error "An angle from a surface is not above 0 and at most 90 degrees.";
    265 SourceImpossible "source.impossible" Error "An X-ray source cannot be as described: voltage, window, energy or spectrum.";
    266 GlassEmpty "glass.empty" Error "A glass holds no mass.";
    267 AnalyteZero "analyte.zero" Error "A ratio to the content of an analyte is asked for, and the content is zero.";
    268 AtomicTableFault "atomic-tables.fault" Error "A table of atomic data cannot be read at the named line.";
    269 AtomicTablesUnsourced "atomic-tables.unsourced" Error "Tables of atomic data do not say where they come from.";
    270 TertiaryFluorescence "fluorescence.tertiary" Warning "Fluorescence of the third order, which is left out, could be more than 0.5 % of a line.";
    271 BeadNotThick "bead.not-thick" Warning "A bead gives less than 99 % of the intensity that a very thick one would give.";
    272 ResolutionUnstated "resolution.unstated" Error "Overlaps are asked of a line whose resolution is not stated.";
    273 InversionNotSettled "inversion.not-settled" Error "Contents found from first principles did not settle in the steps allowed.";
    274 ChoicesDiffer "choices.differ" Error "Choices of flux that are held against each other differ in more than their flux.";
    300 BinaryContent "coefficients.binary-content" Error "Binary coefficients need the content at which they were made, and only they do.";
    301 DriftUnpaired "drift.unpaired" Error "Monitors are given without the time of the bead, or the time without monitors.";
    310 RecipeVersionUnknown "recipe.version-unknown" Error "Of a stored result the method is not known, or is another than the one at hand, and nothing tells how it would change.";
    311 RecipeEstimated "recipe.estimated" Warning "A stored result was multiplied by a first-order factor, since what it was made by is not at hand.";
    312 RowsNotChosen "rows.none-chosen" Note "No row has the words that rows to re-correct are chosen by; nothing changes.";
    313 LossOfRowStands "flux.loss-of-row-stands" Note "Rows state a flux loss of their own, which a change of the loss of their lot does not reach.";
    320 ColumnDoubled "table.column-doubled" Error "Two columns have one name, or one quantity is declared for two columns.";
    321 ColumnType "table.column-type" Error "A column has a type that cannot hold what belongs there.";
    322 NumberInexact "table.number-inexact" Error "A number of a column is not held exactly by a float of 64 bits.";
    323 StreamBroken "table.stream" Error "A stream of columns broke off, was read before, or is damaged.";
    324 TableKind "table.kind" Error "An object is none of the kinds of table that are understood.";
    335 FluxLotUnknown "flux.lot-unknown" Error "A row names a flux lot of which no loss is known.";
    336 LimitCrossed "limit.crossed" Warning "A result is on the other side of a specification limit than before.";
    340 FileName "file.name" Error "Under this name no table can be read or written.";
    341 FileExists "file.exists" Error "The target of a run stands there already.";
    342 RunDiffers "run.differs" Error "The finished parts of an interrupted run belong to another correction, source or option.";
    343 RunBusy "run.busy" Error "Another run is writing the same target.";
    344 LibraryMissing "library.missing" Error "A library that this needs is not installed.";
    345 FolderContradicts "folder.contradicts" Error "The name of a folder says something else of a row than the file in it.";
}

impl Code {
    /// The number a batch column stores.
    ///
    /// ```
    /// assert_eq!(beadchem::code::Code::MassNotPositive.number(), 20);
    /// ```
    #[must_use]
    pub const fn number(self) -> u16 {
        self as u16
    }

    /// The code with this word.
    ///
    /// ```
    /// assert_eq!(beadchem::code::Code::from_word("no.such-word"), None);
    /// ```
    #[must_use]
    pub fn from_word(word: &str) -> Option<Code> {
        Self::ALL.iter().copied().find(|code| code.word() == word)
    }
}
