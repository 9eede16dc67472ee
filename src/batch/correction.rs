//! What is asked of a table: a method or the readings of the glass, a charge to go by, flux lots, declared columns, basis and
//! form of the results.

use std::sync::Arc;

use crate::batch::corrected::ResultColumn;
use crate::batch::declared::usual_fields;
use crate::batch::field::{Field, Quantity, Spread};
use crate::batch::glass::Read;
use crate::batch::group::Key;
use crate::batch::made::{Made, Served, kept};
use crate::batch::options::Uncertainty;
use crate::batch::outline::Outline;
use crate::charge::{Charge, FluxLot, Form};
use crate::code::Code;
use crate::composition::Basis;
use crate::error::{Error, Result};
use crate::matrix::Drift;
use crate::method::{Method, brought_halide};
use crate::rules::Rules;
use crate::substance::{Formula, Weights, factor};
use crate::uncertainty::Estimate;

/// How the loss of a sample in the fusion is known. Results from intensities do not depend on it; dilution, predicted bead
/// mass and the check of a weighed bead do. Results from readings of the glass go with the dilution: a row without it has none.
///
/// ```
/// use beadchem::batch::FusionLoss;
/// assert_eq!(FusionLoss::default(), FusionLoss::Column);
/// ```
#[derive(Debug, Clone, PartialEq, Default)]
pub enum FusionLoss {
    /// Row by row, in a column of its own.
    #[default]
    Column,
    /// The loss on ignition of each row, by the laboratory's statement: from the powder as weighed to the ignited one. So the
    /// moisture of powder weighed moist counts too, and ignited powder loses nothing.
    AsOnIgnition,
    /// The same for all rows.
    Fixed(Estimate),
}

impl FusionLoss {
    /// "loss on ignition", or "column".
    ///
    /// # Errors
    /// `word.unknown`; the message lists the words.
    ///
    /// ```
    /// use beadchem::batch::FusionLoss;
    /// assert_eq!(FusionLoss::from_word("loss on ignition")?, FusionLoss::AsOnIgnition);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn from_word(word: &str) -> Result<Self> {
        match word {
            "loss on ignition" => Ok(Self::AsOnIgnition),
            "column" => Ok(Self::Column),
            other => Err(Error::word("Loss on fusion", other, &["loss on ignition", "column"])),
        }
    }
}

/// A correction of tables: everything that decides a number, in one document.
///
/// ```
/// use beadchem::batch::{Column, Columns, Correction, FusionLoss, Numbers, RunOptions};
/// use beadchem::{charge::{Charge, FluxLot, Sample}, method::Method, uncertainty::Estimate};
/// let lot = FluxLot::new("F-1", [("Li2B4O7", 0.5), ("LiBO2", 0.5)], "1050 C, 18 min", Estimate::new(0.004, 0.0003)?)?;
/// let recipe = Charge::new(Sample::dried(Estimate::new(0.8, 0.0001)?)?, lot.weigh_g(Estimate::new(8.0, 0.0001)?)?)?;
/// let correction = Correction::new(Method::template()?, recipe)?.fusion(FusionLoss::Fixed(Estimate::new(0.46, 0.001)?))?;
/// let mut table = Columns::new(2);
/// for (name, cells) in [("sample_g", &[0.8, 0.0][..]), ("flux_g", &[8.0, 8.0]), ("Ca_Ka_cps", &[13_500.0, 13_500.0]),
///     ("Mg_Ka_cps", &[1_710.0, 1_710.0]), ("Si_Ka_cps", &[400.0, 400.0])] {
///     table.push(name, Column::Numbers(Numbers::new(cells)))?;
/// }
/// let corrected = correction.run(&table, &RunOptions::default())?;
/// let lime = corrected.column("CaO_percent").unwrap();
/// assert!((lime.get(0).unwrap() - 30.35).abs() < 0.1 && lime.get(1).is_none());
/// assert_eq!(corrected.findings()[0].code.word(), "mass.not-positive");
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone)]
pub struct Correction {
    pub(crate) read: Read,
    pub(crate) recipe: Charge,
    pub(crate) lots: Vec<FluxLot>,
    pub(crate) on: Option<Basis>,
    pub(crate) also_on: Vec<Basis>,
    pub(crate) form: Form,
    pub(crate) loss_temperature_c: Option<f64>,
    pub(crate) fusion: FusionLoss,
    pub(crate) rules: Option<Rules>,
    pub(crate) counted_as: Vec<String>,
    pub(crate) fields: Vec<Field>,
    pub(crate) drift: Option<Arc<Drift>>,
    pub(crate) weights: Weights,
    /// What has been compiled of it; begun again by everything that changes it.
    pub(crate) made: Arc<Made>,
}

impl PartialEq for Correction {
    fn eq(&self, other: &Self) -> bool {
        self.recipe == other.recipe && self.lots == other.lots && self.is_beside_charge(other)
    }
}

impl Correction {
    /// Whether two differ in nothing but their flux lots.
    pub(crate) fn is_but_for_lots(&self, other: &Self) -> bool {
        let recipe = |held: &Self| held.recipe.with_lot(&self.lots[0]).ok();
        recipe(self).is_some_and(|own| Some(own) == recipe(other)) && self.is_beside_charge(other)
    }

    /// Whether all is the same beside the charge to go by and the flux lots.
    fn is_beside_charge(&self, other: &Self) -> bool {
        let parts = |held: &Self| (held.on, held.form.clone(), held.loss_temperature_c, held.fusion.clone());
        parts(self) == parts(other)
            && self.read == other.read
            && self.rules == other.rules
            && self.also_on == other.also_on
            && self.counted_as == other.counted_as
            && self.fields == other.fields
            && self.drift == other.drift
            && self.weights == other.weights
    }
}

impl Correction {
    /// By a method, with a charge to go by: its basis, its additions and the uncertainties of its masses hold for every row,
    /// its flux lot where a table names none. The columns have their usual names; atomic weights are those of CIAAW 2024.
    ///
    /// # Errors
    /// `table.column-doubled` where two additions ask for one column.
    ///
    /// ```
    /// use beadchem::{batch::Correction, charge::{Charge, FluxLot, Sample}, method::Method};
    /// let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.004)?;
    /// let recipe = Charge::new(Sample::dried(0.8)?, lot.weigh_g(8.0)?)?;
    /// let correction = Correction::new(Method::template()?, recipe)?;
    /// assert!(correction.fields().iter().any(|field| field.name() == "Ca_Ka_cps"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn new(method: Method, recipe: Charge) -> Result<Self> {
        Self::of(Read::Lines(Arc::new(method)), recipe)
    }

    pub(super) fn of(read: Read, recipe: Charge) -> Result<Self> {
        let fields = usual_fields(&read, &recipe);
        let lots = vec![recipe.flux().lot().clone()];
        let correction = Self {
            read,
            recipe,
            lots,
            on: None,
            also_on: Vec::new(),
            form: Form::AsRead,
            loss_temperature_c: None,
            fusion: FusionLoss::Column,
            rules: None,
            counted_as: Vec::new(),
            fields,
            drift: None,
            weights: Weights::ciaaw_2024(),
            made: Arc::default(),
        };
        correction.check_fields()?;
        Ok(correction)
    }

    /// With a further flux lot that rows may name.
    ///
    /// # Errors
    /// `table.layout` for a second lot of a name with other figures.
    ///
    /// ```
    /// # use beadchem::{batch::Correction, charge::FluxLot};
    /// let noon = FluxLot::new("F-2", [("Li2B4O7", 0.5), ("LiBO2", 0.5)], "1050 C, 18 min", 0.006)?;
    /// assert_eq!(beadchem::batch::example()?.lot(noon)?.lots().len(), 2);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn lot(mut self, lot: FluxLot) -> Result<Self> {
        match self.lots.iter().find(|held| held.name() == lot.name()) {
            Some(held) if *held == lot => {}
            Some(_) => {
                return Err(Error::Conflict {
                    code: Code::TableLayout,
                    detail: format!("Two flux lots are named {} and state other figures.", lot.name()),
                    hint: "Keep the one that holds, or name them apart.".to_owned(),
                });
            }
            None => self.lots.push(lot),
        }
        Ok(self.changed())
    }

    /// With results on this basis; that of the weighing where none is asked for.
    ///
    /// ```
    /// use beadchem::composition::Basis;
    /// assert_eq!(beadchem::batch::example()?.on(Basis::AsReceived).basis(), Basis::AsReceived);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn on(mut self, basis: Basis) -> Self {
        self.on = Some(basis);
        self.changed()
    }

    /// With the results on a further basis beside those on the basis of the weighing, in columns of their own.
    ///
    /// # Errors
    /// `table.layout` where the results are asked for on another basis than that of the weighing, or on this one already.
    ///
    /// ```
    /// use beadchem::{batch::Uncertainty, composition::Basis};
    /// let correction = beadchem::batch::example()?.also_on(Basis::AsReceived)?;
    /// let columns = correction.result_columns(Uncertainty::None)?;
    /// assert!(columns.iter().any(|column| column.name == "CaO_as_received_percent"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn also_on(mut self, basis: Basis) -> Result<Self> {
        let weighed = self.recipe.sample().basis();
        if self.basis() != weighed || basis == weighed || self.also_on.contains(&basis) {
            return Err(Error::Conflict {
                code: Code::TableLayout,
                detail: format!("Results {basis} cannot stand beside those {}.", self.basis()),
                hint: "A further basis stands beside the results on the basis of the weighing, once.".to_owned(),
            });
        }
        self.also_on.push(basis);
        Ok(self.changed())
    }

    /// With results in this form; as the coefficients write them where none is asked for.
    ///
    /// ```
    /// use beadchem::charge::Form;
    /// let elements = beadchem::batch::example()?.form(Form::Elements);
    /// assert_eq!(*elements.species()?, ["Ca", "Mg", "Si"]);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn form(mut self, form: Form) -> Self {
        self.form = form;
        self.changed()
    }

    /// With the temperature of the loss on ignition, C: for an ignited basis, and for totals that are to be reported.
    ///
    /// ```
    /// assert!(beadchem::batch::example()?.loss_temperature(1000.0).is_ok());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    ///
    /// # Errors
    /// Those of [`Basis::ignited`].
    pub fn loss_temperature(mut self, temperature_c: f64) -> Result<Self> {
        Basis::ignited(temperature_c)?;
        self.loss_temperature_c = Some(temperature_c);
        Ok(self.changed())
    }

    /// With the statement how the loss on fusion is known.
    ///
    /// # Errors
    /// `number.out-of-range` for a fixed loss no sample can have.
    ///
    /// ```
    /// use beadchem::batch::FusionLoss;
    /// assert!(beadchem::batch::example()?.fusion(FusionLoss::AsOnIgnition).is_ok());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn fusion(mut self, loss: FusionLoss) -> Result<Self> {
        if let FusionLoss::Fixed(loss) = &loss {
            self.recipe.fuse_with_loss(&self.weights, loss.clone())?;
        }
        self.fusion = loss;
        Ok(self.changed())
    }

    /// With the laboratory's rules: window of totals, bead mass, flux loss, usual losses of each class.
    ///
    /// ```
    /// use beadchem::rules::Rules;
    /// assert!(beadchem::batch::example()?.rules(Rules::new("house", "1")).stated_rules().is_some());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn rules(mut self, rules: Rules) -> Self {
        self.rules = Some(rules);
        self.changed()
    }

    /// With a convention of the total: the element is counted as this oxide.
    ///
    /// # Errors
    /// Those of [`Formula::parse`].
    ///
    /// ```
    /// assert!(beadchem::batch::example()?.counted_as("Mn3O4").is_ok());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn counted_as(mut self, species: &str) -> Result<Self> {
        Formula::parse(species)?;
        self.counted_as.push(species.to_owned());
        Ok(self.changed())
    }

    /// With other atomic weights.
    ///
    /// ```
    /// use beadchem::substance::Weights;
    /// assert_eq!(beadchem::batch::example()?.weights(Weights::ciaaw_2021()).provenance()?.weights, "CIAAW 2021");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn weights(mut self, weights: Weights) -> Self {
        self.weights = weights;
        self.changed()
    }

    fn changed(mut self) -> Self {
        self.made = Arc::default();
        self
    }

    /// With the monitors of the run: every row is brought back to the time of the calibration, from the time in the column of
    /// [`Quantity::Time`].
    ///
    /// # Errors
    /// `table.layout` where the glass is read, not lines.
    ///
    /// ```
    /// use beadchem::matrix::{Drift, Monitor};
    /// let monitor = Monitor::new("M-1", [("Ca Ka", 1000.0)])?.reading("2026-03-14T08:00", [("Ca Ka", 990.0)])?;
    /// let correction = beadchem::batch::example()?.drift(Drift::one_point(monitor))?;
    /// assert!(correction.fields().iter().any(|field| field.name() == "measured_at"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn drift(mut self, drift: impl Into<Arc<Drift>>) -> Result<Self> {
        self.read.method_for("Monitors of drift")?;
        self.drift = Some(drift.into());
        if self.field_of(&Quantity::Time).is_none() {
            self.fields.push(Field::new(Quantity::Time));
        }
        Ok(self.changed())
    }

    /// The monitors of the run, where they are stated.
    ///
    /// ```
    /// assert!(beadchem::batch::example()?.monitors().is_none());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn monitors(&self) -> Option<&Drift> {
        self.drift.as_deref()
    }

    /// With a declared column in place of the usual one of its quantity. A counted peak stands in place of the net intensity of
    /// its line, and its backgrounds behind it.
    ///
    /// # Errors
    /// `line.unknown`, `species.unknown` for a quantity the method or the charge knows nothing of; `table.column-doubled`;
    /// `table.layout` for a counted rate without a counting time or a background without a weight, for a line where the glass
    /// is read and for the glass where lines are; `reading.contradicts` for a background without a peak, or a third one.
    ///
    /// ```
    /// use beadchem::batch::{Field, Quantity};
    /// let field = Field::new(Quantity::Intensity("Ca Ka".to_owned())).named("calcium");
    /// let correction = beadchem::batch::example()?.field(field)?;
    /// assert!(correction.fields().iter().any(|field| field.name() == "calcium"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn field(mut self, field: Field) -> Result<Self> {
        self.check_quantity(&field.quantity)?;
        self.check_counted(&field)?;
        let of_line = |held: &Field| match (&field.quantity, &held.quantity) {
            (Quantity::Peak(line), Quantity::Intensity(held)) => line == held,
            (Quantity::Intensity(line), Quantity::Peak(held) | Quantity::Background(held, _)) => line == held,
            _ => false,
        };
        self.fields.retain(|held| !of_line(held));
        match self.fields.iter().position(|held| held.quantity == field.quantity) {
            // backgrounds stand behind their peak
            Some(place) if field.quantity.is_counted() => self.fields[place] = field,
            place => {
                place.map(|place| self.fields.remove(place));
                self.fields.push(field);
            }
        }
        self.check_fields()?;
        Ok(self.changed())
    }

    /// With intensities counted for so many seconds each: `u = sqrt(I / t)`, the uncertainty of counting alone.
    ///
    /// # Errors
    /// `number.out-of-range` for a time not above zero; `table.layout` where the glass is read, not lines.
    ///
    /// ```
    /// use beadchem::batch::Spread;
    /// let correction = beadchem::batch::example()?.counting(40.0)?;
    /// assert!(correction.fields().iter().any(|field| field.stated() == &Spread::Counting(40.0)));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn counting(mut self, seconds: f64) -> Result<Self> {
        self.read.method_for("A counting time")?;
        for field in &mut self.fields {
            if let Quantity::Intensity(_) = field.quantity {
                *field = field.clone().spread(Spread::Counting(seconds))?;
            }
        }
        Ok(self.changed())
    }

    /// The declared columns.
    ///
    /// ```
    /// assert!(beadchem::batch::example()?.fields().iter().any(|field| field.name() == "sample_g"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn fields(&self) -> &[Field] {
        &self.fields
    }

    /// The flux lots a row may name; the first is that of a row that names none where the table has no such column.
    ///
    /// ```
    /// assert_eq!(beadchem::batch::example()?.lots()[0].name(), "F-1");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn lots(&self) -> &[FluxLot] {
        &self.lots
    }

    /// The method; nothing where the glass is read.
    ///
    /// ```
    /// assert_eq!(beadchem::batch::example()?.method().unwrap().label().name(), "dolomite");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn method(&self) -> Option<&Method> {
        self.read.method()
    }

    /// The rules of the laboratory, where they are stated.
    ///
    /// ```
    /// assert!(beadchem::batch::example()?.stated_rules().is_none());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn stated_rules(&self) -> Option<&Rules> {
        self.rules.as_ref()
    }

    /// The basis of the results.
    ///
    /// ```
    /// use beadchem::composition::Basis;
    /// assert_eq!(beadchem::batch::example()?.basis(), Basis::Dried);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn basis(&self) -> Basis {
        self.on.unwrap_or_else(|| self.recipe.sample().basis())
    }

    /// The results, each in the form asked for, in the order of the method or of the readings; the halide of a release agent is
    /// solved for and not reported.
    ///
    /// # Errors
    /// Those of the form.
    ///
    /// ```
    /// assert_eq!(*beadchem::batch::example()?.species()?, ["CaO", "MgO", "SiO2"]);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn species(&self) -> Result<Arc<[String]>> {
        kept(&self.made.species, || self.find_species().map(Arc::from))
    }

    fn find_species(&self) -> Result<Vec<String>> {
        let reported = |read: &Formula| Ok(self.form.target_of(read)?.text().to_owned());
        self.as_read()?.iter().map(reported).collect()
    }

    /// The results in the forms they are read in.
    pub(crate) fn as_read(&self) -> Result<Vec<Formula>> {
        let read = self.read.analytes().into_iter().map(Formula::parse).collect::<Result<Vec<_>>>()?;
        let is_result = |read: &Formula| self.read.method().is_none() || !brought_halide(&self.recipe, read);
        Ok(read.into_iter().filter(is_result).collect())
    }

    pub(crate) fn outline(&self) -> Arc<Outline> {
        Arc::clone(self.made.outline(self))
    }

    /// Grams of Fe2O3 per gram of FeO.
    pub(crate) fn per_ferrous(&self) -> Result<f64> {
        kept(&self.made.per_ferrous, || Ok(factor("FeO", "Fe2O3", &self.weights)?.value()))
    }

    /// The columns of the results.
    ///
    /// # Errors
    /// Those of the form.
    ///
    /// ```
    /// use beadchem::batch::Uncertainty;
    /// let columns = beadchem::batch::example()?.result_columns(Uncertainty::None)?;
    /// let names: Vec<&str> = columns.iter().map(|column| column.name.as_str()).collect();
    /// assert_eq!(names[..4], ["CaO_percent", "MgO_percent", "SiO2_percent", "predicted_bead_g"]);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn result_columns(&self, uncertainty: Uncertainty) -> Result<Arc<[ResultColumn]>> {
        kept(&self.made.columns[uncertainty as usize], || self.name_columns(uncertainty).map(Arc::from))
    }

    /// The group of a key, compiled the first time it is asked for.
    pub(crate) fn served(&self, key: Key) -> Served {
        let make = |key: &Key| self.group(key).map(Arc::new).map_err(Arc::new);
        match self.made.groups.lock() {
            Ok(mut groups) => match groups.get(&key) {
                Some(served) => served.clone(),
                None => {
                    let served = make(&key);
                    groups.insert(key, served.clone());
                    served
                }
            },
            Err(_) => make(&key),
        }
    }

    /// The declared column of a quantity.
    pub(crate) fn field_of(&self, quantity: &Quantity) -> Option<&Field> {
        self.fields.iter().find(|field| field.quantity == *quantity)
    }
}

/// The correction that the examples of this module look at: dolomite by the method of
/// [`TEMPLATE`](crate::method::TEMPLATE), all numbers invented.
///
/// # Errors
/// None; kept fallible for the constructors.
///
/// ```
/// assert_eq!(beadchem::batch::example()?.species()?.len(), 3);
/// # Ok::<(), beadchem::Error>(())
/// ```
pub fn example() -> Result<Correction> {
    let blend = [("Li2B4O7", 0.5), ("LiBO2", 0.5)];
    let lot = FluxLot::new("F-1", blend, "1050 C, 18 min", Estimate::new(0.004, 0.0003)?)?;
    let sample = crate::charge::Sample::dried(Estimate::new(0.8, 0.0001)?)?;
    let recipe = Charge::new(sample, lot.weigh_g(Estimate::new(8.0, 0.0001)?)?)?;
    Correction::new(Method::template()?, recipe)?.fusion(FusionLoss::Fixed(Estimate::new(0.463, 0.001)?))
}
