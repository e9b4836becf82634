//! Units of glucose, and the published limits that come as a pair of numbers.
//!
//! # Method
//! Inside the library glucose is mg/dL. One mmol/L of glucose is 18.0156 mg/dL, from the molar
//! mass of C6H12O6, 180.156 g/mol. A limit is published as two rounded numbers that are not
//! exact equivalents (180 mg/dL and 10.0 mmol/L), so a reading is classified in the unit it
//! was measured in: [`Limit::in_source`].
//!
//! # Source
//! Molar mass: IUPAC standard atomic weights, also LOINC group LG7967-5. Limits: Battelino et
//! al., Diabetes Care 2019; 42:1593-1603.

use crate::error::Error;

/// mg/dL in one mmol/L of glucose.
pub const MG_DL_PER_MMOL_L: f64 = 18.0156;

/// The unit that glucose was measured in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[non_exhaustive]
pub enum Unit {
    /// Milligrams per decilitre, shown in whole numbers.
    #[default]
    #[cfg_attr(feature = "serde", serde(rename = "mg/dL"))]
    MgDl,
    /// Millimoles per litre, shown in tenths.
    #[cfg_attr(feature = "serde", serde(rename = "mmol/L"))]
    MmolL,
}

impl Unit {
    /// The unit's UCUM code.
    pub fn code(self) -> &'static str {
        match self {
            Unit::MgDl => "mg/dL",
            Unit::MmolL => "mmol/L",
        }
    }

    /// Converts a value in this unit to mg/dL.
    ///
    /// # Example
    /// ```
    /// # use glycemic_core::units::Unit;
    /// assert_eq!(Unit::MmolL.to_mg_dl(10.0), 180.156);
    /// ```
    pub fn to_mg_dl(self, value: f64) -> f64 {
        match self {
            Unit::MgDl => value,
            Unit::MmolL => value * MG_DL_PER_MMOL_L,
        }
    }

    /// Converts mg/dL to this unit.
    pub fn from_mg_dl(self, mg_dl: f64) -> f64 {
        match self {
            Unit::MgDl => mg_dl,
            Unit::MmolL => mg_dl / MG_DL_PER_MMOL_L,
        }
    }

    /// The smallest step that such a sensor or meter shows, in this unit.
    pub fn step(self) -> f64 {
        match self {
            Unit::MgDl => 1.0,
            Unit::MmolL => 0.1,
        }
    }

    /// Puts a value that lies within a ten-thousandth of a step onto the step.
    ///
    /// Columns stored in single precision hold 7.8 as 7.80000019, which is above a limit of 7.8.
    pub fn snap(self, value: f64) -> f64 {
        let per_unit = match self {
            Unit::MgDl => 1.0,
            Unit::MmolL => 10.0,
        };
        let nearest = (value * per_unit).round() / per_unit;
        if (value - nearest).abs() <= 1e-4 * self.step() { nearest } else { value }
    }
}

impl std::str::FromStr for Unit {
    type Err = Error;
    fn from_str(text: &str) -> Result<Unit, Error> {
        match text.trim().to_ascii_lowercase().as_str() {
            "mg/dl" => Ok(Unit::MgDl),
            "mmol/l" => Ok(Unit::MmolL),
            _ => Err(Error::UnknownChoice {
                name: "unit",
                got: text.to_string(),
                choices: "mg/dL, mmol/L",
            }),
        }
    }
}

/// A limit as published: one number for each unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limit {
    /// The limit in mg/dL.
    pub mg_dl: f64,
    /// The limit in mmol/L.
    pub mmol_l: f64,
}

impl Limit {
    /// The limit for readings measured in `unit`, as mg/dL.
    ///
    /// A reading of 10.0 mmol/L is stored as 180.156 mg/dL, and so is the limit: it is in range.
    ///
    /// # Example
    /// ```
    /// # use glycemic_core::units::{Unit, HIGH};
    /// assert!(Unit::MmolL.to_mg_dl(10.0) <= HIGH.in_source(Unit::MmolL));
    /// assert!(180.156 > HIGH.in_source(Unit::MgDl));
    /// ```
    pub fn in_source(self, unit: Unit) -> f64 {
        match unit {
            Unit::MgDl => self.mg_dl,
            Unit::MmolL => Unit::MmolL.to_mg_dl(self.mmol_l),
        }
    }

    /// A limit of the caller's own, rounded to the step of each unit.
    pub fn custom_mg_dl(mg_dl: f64) -> Limit {
        let mmol = (mg_dl / MG_DL_PER_MMOL_L * 10.0).round() / 10.0;
        Limit { mg_dl, mmol_l: mmol }
    }
}

/// Below it: very low (level 2).
pub const VERY_LOW: Limit = Limit { mg_dl: 54.0, mmol_l: 3.0 };
/// Below it: low (level 1).
pub const LOW: Limit = Limit { mg_dl: 70.0, mmol_l: 3.9 };
/// Upper end of the tight range.
pub const TIGHT: Limit = Limit { mg_dl: 140.0, mmol_l: 7.8 };
/// Above it: high (level 1).
pub const HIGH: Limit = Limit { mg_dl: 180.0, mmol_l: 10.0 };
/// Above it: very high (level 2).
pub const VERY_HIGH: Limit = Limit { mg_dl: 250.0, mmol_l: 13.9 };
