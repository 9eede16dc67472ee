//! What a column of counted rates says beside its numbers: the weight of a background, the dead time of a peak.

use crate::batch::field::{COUNTS, Field, Quantity};
use crate::code::Code;
use crate::error::{Error, Result};
use crate::matrix::{Count, DeadTime, LineReading};

impl Field {
    /// A background that is taken off its peak so many times: 1 for one beside the peak, for two the shares by which they
    /// stand for the background under the peak. A fact of the setup that is never assumed.
    ///
    /// # Errors
    /// `table.layout` for a quantity that is no background; those of [`LineReading::background`].
    ///
    /// ```
    /// use beadchem::batch::{Field, Quantity, Spread};
    /// let background = Field::new(Quantity::Background("Fe Ka".to_owned(), 0)).spread(Spread::Counting(20.0))?;
    /// assert_eq!(background.weight(0.5)?.stated_weight(), Some(0.5));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn weight(mut self, weight: f64) -> Result<Self> {
        let Quantity::Background(line, _) = &self.quantity else {
            return Err(Error::Conflict {
                code: Code::TableLayout,
                detail: format!("Column {} holds no background, and was given a weight.", self.name),
                hint: format!("It is {}.", self.quantity.in_words()),
            });
        };
        let second = Count::new(0.0, 1.0)?;
        LineReading::counted(line, second)?.background(weight, second)?;
        self.weight = Some(weight);
        Ok(self)
    }

    /// How often a background is taken off its peak, where it is stated.
    ///
    /// ```
    /// use beadchem::batch::{Field, Quantity};
    /// assert_eq!(Field::new(Quantity::Moisture).stated_weight(), None);
    /// ```
    #[must_use]
    pub fn stated_weight(&self) -> Option<f64> {
        self.weight
    }

    /// A peak that was counted, with its backgrounds, by a detector of this dead time; that of the method where none is said.
    ///
    /// # Errors
    /// `table.layout` for a quantity that is no peak.
    ///
    /// ```
    /// use beadchem::{batch::{Field, Quantity}, matrix::DeadTime};
    /// let dead_time = DeadTime::new(2.5e-7)?.of_detector("flow counter");
    /// let peak = Field::new(Quantity::Peak("Si Ka".to_owned())).dead_time(dead_time.clone())?;
    /// assert_eq!(peak.stated_dead_time(), Some(&dead_time));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn dead_time(mut self, dead_time: DeadTime) -> Result<Self> {
        if !matches!(self.quantity, Quantity::Peak(_)) {
            return Err(Error::Conflict {
                code: Code::TableLayout,
                detail: format!("Column {} holds no counted peak, and was given a dead time.", self.name),
                hint: "A dead time stands with the peak; it holds for its backgrounds too.".to_owned(),
            });
        }
        self.dead_time = Some(dead_time);
        Ok(self)
    }

    /// The dead time of the detector that counted a peak, where it is stated with the column.
    ///
    /// ```
    /// use beadchem::batch::{Field, Quantity};
    /// assert_eq!(Field::new(Quantity::Moisture).stated_dead_time(), None);
    /// ```
    #[must_use]
    pub fn stated_dead_time(&self) -> Option<&DeadTime> {
        self.dead_time.as_ref()
    }

    /// Whether its numbers are counts, not rates.
    pub(crate) fn holds_counts(&self) -> bool {
        self.unit.as_deref() == Some(COUNTS)
    }
}
