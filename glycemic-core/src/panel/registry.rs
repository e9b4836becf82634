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

const _: () = assert!(MEASURES.len() == 78);

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
    32 MageMgDl "mage_mg_dl" "mg/dL" Stream "Mean amplitude of excursions over 1 SD, in the direction of the first" "Service 1970";
    33 MageUpMgDl "mage_up_mg_dl" "mg/dL" Stream "Mean amplitude of upward excursions over 1 SD" "Service 1970; Baghurst 2011";
    34 MageDownMgDl "mage_down_mg_dl" "mg/dL" Stream "Mean amplitude of downward excursions over 1 SD" "Service 1970; Baghurst 2011";
    35 ModdMgDl "modd_mg_dl" "mg/dL" Stream "Mean absolute difference of readings 24 h apart" "Molnar 1972";
    36 Conga1hMgDl "conga_1h_mg_dl" "mg/dL" Stream "SD of differences of readings 1 h apart, n-1" "McDonnell 2005";
    37 Conga2hMgDl "conga_2h_mg_dl" "mg/dL" Stream "SD of differences of readings 2 h apart, n-1" "McDonnell 2005";
    38 Conga4hMgDl "conga_4h_mg_dl" "mg/dL" Stream "SD of differences of readings 4 h apart, n-1" "McDonnell 2005";
    39 MagMgDlH "mag_mg_dl_h" "mg/dL/h" Stream "Absolute change per hour observed, gaps left out" "Hermanides 2010";
    40 LabilityIndex "lability_index" "(mmol/L)2/h" Stream "Sum over a week of squared changes over hours, readings thinned to the hour" "Ryan 2004";
    41 MValue "m_value" "1" Histogram "Mean of |10 log10(G/120)|^3, without the W term" "Schlichtkrull 1965";
    42 JIndex "j_index" "(mg/dL)2" Histogram "0.001 x (mean + SD)^2" "Wojcicki 1995";
    43 Igc "igc" "1" Histogram "Index of glycaemic control: hyper_index + hypo_index" "Rodbard 2009";
    44 HyperIndex "hyper_index" "1" Histogram "Mean of (G - 140)^1.1 / 30 over readings above 140" "Rodbard 2009";
    45 HypoIndex "hypo_index" "1" Histogram "Mean of (80 - G)^2 / 30 over readings below 80" "Rodbard 2009";
    46 Lbgi "lbgi" "1" Histogram "Low blood glucose index" "Kovatchev 1997";
    47 Hbgi "hbgi" "1" Histogram "High blood glucose index" "Kovatchev 1997";
    48 Bgri "bgri" "1" Histogram "Blood glucose risk index: lbgi + hbgi" "Kovatchev 2000";
    49 Adrr "adrr" "1" Trace "Average daily risk range, local days with at least 3 readings" "Kovatchev 2006";
    50 Grade "grade" "1" Histogram "Glycaemic risk assessment, mean, each reading capped at 50" "Hill 2007";
    51 GradeHypoPct "grade_hypo_pct" "%" Histogram "Part of grade from readings below 3.9 mmol/L (70 mg/dL)" "Hill 2007";
    52 GradeEuPct "grade_eu_pct" "%" Histogram "Part of grade from readings of 3.9 to 7.8 mmol/L (70 to 140 mg/dL)" "Hill 2007";
    53 GradeHyperPct "grade_hyper_pct" "%" Histogram "Part of grade from readings above 7.8 mmol/L (140 mg/dL)" "Hill 2007";
    54 GvpPct "gvp_pct" "%" Stream "Glycaemic variability percentage: length of the trace over its time, less 1; min and mg/dL" "Peyser 2018";
    55 Gri "gri" "1" Histogram "Glycaemia risk index, capped at 100" "Klonoff 2022";
    56 GriHypoComponent "gri_hypo_component" "%" Histogram "very_low_pct + 0.8 x low_pct" "Klonoff 2022";
    57 GriHyperComponent "gri_hyper_component" "%" Histogram "very_high_pct + 0.5 x high_pct" "Klonoff 2022";
    58 SdWithinMgDl "sd_within_mg_dl" "mg/dL" Trace "SDw: mean over local days of the SD within the day" "Rodbard 2009";
    59 SdBetweenDailyMeansMgDl "sd_between_daily_means_mg_dl" "mg/dL" Trace "SDdm: SD of the daily means" "Rodbard 2009";
    60 SdOfMeanDayMgDl "sd_of_mean_day_mg_dl" "mg/dL" Trace "SDhh:mm: SD of the mean profile over clock times" "Rodbard 2009";
    61 SdWithinHourMgDl "sd_within_hour_mg_dl" "mg/dL" Trace "SDws 1 h: mean over clock hours of the SD within the hour" "Rodbard 2009, from memory";
    62 SdBetweenDaysMgDl "sd_between_days_mg_dl" "mg/dL" Trace "SDb hh:mm: mean over clock times of the SD between days" "Rodbard 2009, from memory";
    63 SdBetweenDaysLessMeansMgDl "sd_between_days_less_means_mg_dl" "mg/dL" Trace "SDb hh:mm//dm: the same after taking off each day's mean" "Rodbard 2009, from memory";
    64 PoincareSd1MgDl "poincare_sd1_mg_dl" "mg/dL" Stream "Poincare SD1: SD of successive differences over the root of 2" "Crenier 2014; Brennan 2001";
    65 PoincareSd2MgDl "poincare_sd2_mg_dl" "mg/dL" Stream "Poincare SD2: root of 2 SD^2 - SD1^2" "Crenier 2014; Brennan 2001";
    66 Cogi "cogi" "1" Histogram "Continuous glucose monitoring index: range, lows and SD in points, 0 to 100" "Leelarathna 2020";
    67 DawnRiseMgDl "dawn_rise_mg_dl" "mg/dL" Trace "Median over days of the mean of the hour before the first meal (or 06:00-07:00) less the lowest hourly mean from 00:00 to 06:00" "common practice, no source";
    68 TimeInFluctuationPct "time_in_fluctuation_pct" "%" Stream "Share of observed time with a change faster than 1.5 mg/dL/min" "cohort papers after 2015, from memory";
    69 DfaAlpha "dfa_alpha" "1" Trace "Detrended fluctuation exponent" "Peng 1994";
    70 SampleEntropy "sample_entropy" "1" Trace "Sample entropy, m 2, r 0.2 SD" "Richman and Moorman 2000";
    71 LowEpisodes "low_episodes" "1" Trace "Episodes below 70 mg/dL (3.9 mmol/L) of at least 15 min" "Danne 2017; Battelino 2019";
    72 VeryLowEpisodes "very_low_episodes" "1" Trace "Episodes below 54 mg/dL (3.0 mmol/L) of at least 15 min" "Danne 2017; Battelino 2019";
    73 NocturnalLowEpisodes "nocturnal_low_episodes" "1" Trace "Episodes below 70 mg/dL (3.9 mmol/L) that start from 00:00 to 06:00 local time" "Danne 2017 time blocks";
    74 ProlongedVeryLowEpisodes "prolonged_very_low_episodes" "1" Trace "Episodes below 54 mg/dL (3.0 mmol/L) of at least 120 min" "Danne 2017";
    75 ExtendedLowEpisodes "extended_low_episodes" "1" Trace "Episodes below 70 mg/dL (3.9 mmol/L) of at least 120 min" "Battelino 2023, from memory";
    76 HighEpisodes "high_episodes" "1" Trace "Episodes above 180 mg/dL (10.0 mmol/L) of at least 15 min" "Battelino 2023, from memory";
    77 VeryHighEpisodes "very_high_episodes" "1" Trace "Episodes above 250 mg/dL (13.9 mmol/L) of at least 15 min" "Battelino 2023, from memory";
    78 ExtendedHighEpisodes "extended_high_episodes" "1" Trace "Episodes above 250 mg/dL (13.9 mmol/L) that hold over 90 min within 120" "Battelino 2023, from memory";
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
