//! Glycaemic index and load.
//!
//! # Method
//! Each subject's index is 100 times the area after the test food over the mean area after their
//! own reference food (see [`crate::area`], rule `Positive`); the index of the food is the mean of
//! these ratios, not the ratio of the means. Marks, not exclusions: a subject whose reference areas
//! vary by more than 30 %, and an index outside the mean plus or minus 2 SD.
//!
//! # Units
//! Percent of the reference food; grams of available carbohydrate.
//!
//! # Source
//! ISO 26642:2010 (number of subjects and repeats read on summary pages; the 30 % and 2 SD rules
//! from memory). FAO/WHO. Carbohydrates in human nutrition. FAO Food and Nutrition Paper 66, 1998,
//! chapter 4. Load: Salmeron et al., JAMA 1997; 277: 472-477.

use crate::error::{Error, require_within};
use crate::stats::moments;

/// Subjects that ISO 26642 asks for.
pub const SUBJECTS: usize = 10;
/// Repeats of the reference food that it asks for.
pub const REFERENCES: usize = 2;
/// Largest coefficient of variation of a subject's reference areas, percent. From memory.
pub const REFERENCE_CV_PCT: f64 = 30.0;

/// One subject's areas, in any one unit.
#[derive(Clone, Debug, PartialEq)]
pub struct Subject {
    /// Incremental area after the test food.
    pub test_area: f64,
    /// Incremental areas after the reference food, a value each time it was eaten.
    pub reference_areas: Vec<f64>,
}

/// One subject's index.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Individual {
    /// 100 × area after the test food over the mean area after the reference.
    pub index_pct: f64,
    /// Variation of the reference areas; `None` with one only.
    pub reference_cv_pct: Option<f64>,
    /// The variation is over [`REFERENCE_CV_PCT`].
    pub reference_varies: bool,
    /// Outside the mean plus or minus 2 SD of all.
    pub outlier: bool,
}

/// The index of a food.
#[derive(Clone, Debug, PartialEq)]
pub struct Index {
    /// Mean of the subjects' indices.
    pub index_pct: f64,
    /// Standard error of that mean; `None` with one subject.
    pub sem_pct: Option<f64>,
    /// The subjects, in the order given.
    pub subjects: Vec<Individual>,
    /// Whether there were at least [`SUBJECTS`] and each had [`REFERENCES`].
    pub enough: bool,
}

/// The glycaemic index of a food.
///
/// # Errors
/// No subject, a subject without a reference, areas that are negative or not finite, or a mean
/// reference area of 0.
///
/// # Example
/// ```
/// use glycemic_core::meals::index::{Subject, glycaemic_index};
/// // FAO/WHO (1998): standard meals 114, 155 and 179, test food 93 mmol/L·min.
/// let one = Subject { test_area: 93.0, reference_areas: vec![113.95, 155.25, 179.1667] };
/// let food = glycaemic_index(&[one])?;
/// assert_eq!(food.index_pct.round(), 62.0);
/// assert!(!food.enough);
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn glycaemic_index(subjects: &[Subject]) -> Result<Index, Error> {
    let indices = subjects.iter().map(index_of).collect::<Result<Vec<f64>, Error>>()?;
    let needs = Error::TooFewValues { measure: "glycaemic index", needed: 1, got: 0 };
    let mean = moments::mean(&indices).ok_or(needs)?;
    let sd = moments::sd(&indices);
    let cv = |s: &Subject| {
        let mean = moments::mean(&s.reference_areas)?;
        Some(100.0 * moments::sd(&s.reference_areas)? / mean)
    };
    let individuals = subjects.iter().zip(&indices).map(|(s, &index_pct)| Individual {
        index_pct,
        reference_cv_pct: cv(s),
        reference_varies: cv(s).is_some_and(|c| c > REFERENCE_CV_PCT),
        outlier: sd.is_some_and(|sd| (index_pct - mean).abs() > 2.0 * sd),
    });
    Ok(Index {
        index_pct: mean,
        sem_pct: sd.map(|sd| sd / (indices.len() as f64).sqrt()),
        subjects: individuals.collect(),
        enough: subjects.len() >= SUBJECTS
            && subjects.iter().all(|s| s.reference_areas.len() >= REFERENCES),
    })
}

fn index_of(s: &Subject) -> Result<f64, Error> {
    require_within("test_area", s.test_area, 0.0, 1e9)?;
    for area in &s.reference_areas {
        require_within("reference_areas", *area, 0.0, 1e9)?;
    }
    let none = Error::TooFewValues { measure: "reference areas", needed: 1, got: 0 };
    let mean = moments::mean(&s.reference_areas).ok_or(none)?;
    require_within("mean of reference_areas", mean, f64::MIN_POSITIVE, 1e9)?;
    Ok(100.0 * s.test_area / mean)
}

/// The index of a meal: the foods' indices weighted by their available carbohydrate, as pairs
/// (grams, index). Source: FAO/WHO (1998), chapter 4.
///
/// # Errors
/// No food, values out of range, or no carbohydrate at all.
///
/// # Example
/// ```
/// use glycemic_core::meals::index::meal_index;
/// // Bread, cereal, milk, sucrose and orange juice of FAO/WHO (1998); bread is 100.
/// let foods = [(25.0, 100.0), (25.0, 72.0), (6.0, 39.0), (5.0, 87.0), (20.0, 74.0)];
/// assert!((meal_index(&foods)? - 79.6).abs() < 0.05);
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn meal_index(foods: &[(f64, f64)]) -> Result<f64, Error> {
    for (grams, index) in foods {
        require_within("grams", *grams, 0.0, 1e4)?;
        require_within("index", *index, 0.0, 1e3)?;
    }
    let total: f64 = foods.iter().map(|f| f.0).sum();
    require_within("grams of the meal", total, f64::MIN_POSITIVE, 1e6)?;
    Ok(foods.iter().map(|f| f.0 * f.1).sum::<f64>() / total)
}

/// Glycaemic load of a serving: index times available carbohydrate over 100. Source: Salmeron
/// (1997).
///
/// # Errors
/// An index outside 0-1000 or grams outside 0-10 000.
///
/// # Example
/// ```
/// use glycemic_core::meals::index::load;
/// assert_eq!(load(60.0, 25.0)?, 15.0);
/// # Ok::<(), glycemic_core::Error>(())
/// ```
pub fn load(index_pct: f64, grams: f64) -> Result<f64, Error> {
    require_within("index_pct", index_pct, 0.0, 1e3)?;
    require_within("grams", grams, 0.0, 1e4)?;
    Ok(index_pct * grams / 100.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn subject(test_area: f64, references: &[f64]) -> Subject {
        Subject { test_area, reference_areas: references.to_vec() }
    }

    /// Ratios 50 and 100: their mean is 75; the ratio of the means would be 200/300 = 67.
    #[test]
    fn the_mean_of_ratios() {
        let food = glycaemic_index(&[subject(100.0, &[200.0]), subject(100.0, &[100.0])]).unwrap();
        assert_eq!(food.index_pct, 75.0);
        assert!((food.sem_pct.unwrap() - 25.0).abs() < 1e-12);
    }

    #[test]
    fn marks() {
        let mut all: Vec<Subject> = (0..9).map(|_| subject(50.0, &[100.0, 100.0])).collect();
        all.push(subject(150.0, &[50.0, 150.0]));
        let food = glycaemic_index(&all).unwrap();
        assert!(food.enough);
        assert!(food.subjects[9].outlier && food.subjects[9].reference_varies);
        assert!(food.subjects[..9].iter().all(|s| !s.outlier && !s.reference_varies));
        assert!(!glycaemic_index(&all[..9]).unwrap().enough);
    }

    #[test]
    fn what_can_not_be() {
        assert!(glycaemic_index(&[]).is_err());
        assert!(glycaemic_index(&[subject(10.0, &[])]).is_err());
        assert!(glycaemic_index(&[subject(10.0, &[0.0])]).is_err());
        assert!(glycaemic_index(&[subject(f64::NAN, &[1.0])]).is_err());
        assert!(meal_index(&[(0.0, 50.0)]).is_err());
        assert!(load(-1.0, 10.0).is_err());
    }
}
