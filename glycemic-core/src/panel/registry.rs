//! The registry of measures: one row each, from which attributes, JSON keys, C ids and the
//! documentation table are made. Ids are never reused.

/// What a measure is computed from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum Needs {
    /// The readings in any order.
    Histogram,
    /// The readings in order, in one pass.
    Stream,
    /// The whole trace, its gaps or its local days.
    Trace,
}

/// One measure of the panel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Measure {
    /// Its number, the same for ever in C.
    pub id: Id,
    /// Attribute name and JSON key.
    pub name: &'static str,
    /// Unit, a UCUM code; `1` for a count.
    pub unit: &'static str,
    /// Definition in a few words.
    pub what: &'static str,
    /// Where it is published.
    pub source: &'static str,
    /// What it is computed from.
    pub needs: Needs,
}

macro_rules! measures {
    ($($number:literal $id:ident $name:literal $unit:literal $needs:ident $what:literal $source:literal;)+) => {
        /// Numbers of the measures.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
        #[repr(u32)]
        #[non_exhaustive]
        pub enum Id { $(#[doc = $what] $id = $number,)+ }

        /// Every measure, in the order of its number.
        pub const MEASURES: &[Measure] = &[$(Measure {
            id: Id::$id, name: $name, unit: $unit, what: $what, source: $source, needs: Needs::$needs,
        },)+];
    };
}

const _: () = assert!(MEASURES.len() == 31);

measures! {
    1 N "n" "1" Histogram "Number of readings" "a count";
    2 Days "days" "d" Stream "Span from first to last reading in days of 24 h" "Battelino 2019";
    3 ActivePct "active_pct" "%" Stream "Readings over what the span could hold at the nominal interval" "Battelino 2019";
    4 NominalIntervalMin "nominal_interval_min" "min" Trace "Median step between readings" "convention of this library";
    5 CensoredLow "censored_low" "1" Histogram "Readings shown as below the sensor's limit" "a count";
    6 CensoredHigh "censored_high" "1" Histogram "Readings shown as above the sensor's limit" "a count";
    7 MeanMgDl "mean_mg_dl" "mg/dL" Histogram "Mean of all readings" "arithmetic mean";
    8 SdMgDl "sd_mg_dl" "mg/dL" Histogram "Standard deviation of all readings, n-1" "sample standard deviation";
    9 CvPct "cv_pct" "%" Histogram "100 x SD / mean" "Battelino 2019";
    10 MinMgDl "min_mg_dl" "mg/dL" Histogram "Lowest reading" "order statistic";
    11 MaxMgDl "max_mg_dl" "mg/dL" Histogram "Highest reading" "order statistic";
    12 P05MgDl "p05_mg_dl" "mg/dL" Histogram "5th percentile, type 7" "Hyndman and Fan 1996";
    13 P25MgDl "p25_mg_dl" "mg/dL" Histogram "25th percentile, type 7" "Hyndman and Fan 1996";
    14 MedianMgDl "median_mg_dl" "mg/dL" Histogram "Median" "Hyndman and Fan 1996";
    15 P75MgDl "p75_mg_dl" "mg/dL" Histogram "75th percentile, type 7" "Hyndman and Fan 1996";
    16 P95MgDl "p95_mg_dl" "mg/dL" Histogram "95th percentile, type 7" "Hyndman and Fan 1996";
    17 IqrMgDl "iqr_mg_dl" "mg/dL" Histogram "75th less 25th percentile" "Hyndman and Fan 1996";
    18 GmiPct "gmi_pct" "%" Histogram "Glucose management indicator, 3.31 + 0.02392 x mean" "Bergenstal 2018";
    19 GmiMmolMol "gmi_mmol_mol" "mmol/mol" Histogram "Glucose management indicator, 12.71 + 4.70587 x mean in mmol/L" "Bergenstal 2018";
    20 Ea1cPct "ea1c_pct" "%" Histogram "Estimated A1c, (mean + 46.7) / 28.7" "Nathan 2008, inverted";
    21 VeryLowPct "very_low_pct" "%" Histogram "Share below 54 mg/dL (3.0 mmol/L)" "Battelino 2019";
    22 LowPct "low_pct" "%" Histogram "Share from 54 to below 70 mg/dL (3.0 to below 3.9 mmol/L)" "Battelino 2019";
    23 InRangePct "in_range_pct" "%" Histogram "Share from 70 to 180 mg/dL (3.9 to 10.0 mmol/L), ends included" "Battelino 2019";
    24 HighPct "high_pct" "%" Histogram "Share above 180 up to 250 mg/dL (above 10.0 up to 13.9 mmol/L)" "Battelino 2019";
    25 VeryHighPct "very_high_pct" "%" Histogram "Share above 250 mg/dL (13.9 mmol/L)" "Battelino 2019";
    26 Below70Pct "below_70_pct" "%" Histogram "Share below 70 mg/dL (3.9 mmol/L)" "Battelino 2019";
    27 Above180Pct "above_180_pct" "%" Histogram "Share above 180 mg/dL (10.0 mmol/L)" "Battelino 2019";
    28 TightRangePct "tight_range_pct" "%" Histogram "Share from 70 to 140 mg/dL (3.9 to 7.8 mmol/L), ends included" "Dunn 2024";
    29 FastingMgDl "fasting_mg_dl" "mg/dL" Trace "Median over days of the median of the last hour before the first meal, or of 06:00-07:00" "common practice, no source";
    30 OvernightMgDl "overnight_mg_dl" "mg/dL" Trace "Mean of readings from 00:00 to 06:00 local time" "Danne 2017 time blocks";
    31 MeanMmolL "mean_mmol_l" "mmol/L" Histogram "Mean of all readings in mmol/L, factor 18.0156" "arithmetic mean";
}

impl Id {
    /// The measure's row in the registry.
    pub fn measure(self) -> &'static Measure {
        &MEASURES[self as usize - 1]
    }

    /// The measure with this name.
    pub fn from_name(name: &str) -> Option<Id> {
        MEASURES.iter().find(|m| m.name == name).map(|m| m.id)
    }

    /// The measure with this number.
    pub fn from_number(number: u32) -> Option<Id> {
        MEASURES.iter().find(|m| m.id as u32 == number).map(|m| m.id)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_positions_and_names_are_unique() {
        for (i, m) in MEASURES.iter().enumerate() {
            assert_eq!(m.id as usize, i + 1);
            assert_eq!(Id::from_name(m.name), Some(m.id));
        }
    }
}
