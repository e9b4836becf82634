/* glycemic: analytics for glucose-sensor data. Made from glycemic-ffi/src; do not edit.
 *
 * Conventions
 * - Glucose inside is mg/dL, an instant is UTC milliseconds since 1970, a span is minutes.
 * - A fallible function returns a glyc_status. Results are written only on GLYC_STATUS_OK;
 *   otherwise they are left as they were.
 * - The last parameter of a fallible function is `glyc_error **error`: NULL if you do not want
 *   it; else it is set to NULL on GLYC_STATUS_OK and to a new error otherwise, which you free
 *   with glyc_error_free.
 * - A handle made by a function with an `_out` parameter is yours: free it once. Freeing NULL
 *   does nothing. Text and arrays that a getter returns are borrowed: they live as long as the
 *   handle they came from (text about measures: for ever).
 * - There is no thread-local or global state. Handles never change after they are made, except
 *   options, histograms and streams, and those only by functions that take them without const.
 *   Any number of threads may read a handle at once, as long as none changes or frees it.
 * - Array pointers are NULL only with a length of 0. Numbers of choices, measures and statuses
 *   are never reused.
 * - No panic crosses. Should one happen it comes back as GLYC_STATUS_PANIC (a report of it goes
 *   to stderr).
 *
 * Care: for education, coaching and research. Not a medical device; not for dosing insulin or
 * any treatment decision. A reading that disagrees with how someone feels is checked with a
 * meter.
 */

#ifndef GLYCEMIC_H
#define GLYCEMIC_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

// Number of readings [1]. a count.
#define GLYC_MEASURE_N 1
// Span from first to last reading in days of 24 h [d]. Battelino 2019.
#define GLYC_MEASURE_DAYS 2
// Readings over what the span could hold at the nominal interval [%]. Battelino 2019.
#define GLYC_MEASURE_ACTIVE_PCT 3
// Median step between readings [min]. convention of this library.
#define GLYC_MEASURE_NOMINAL_INTERVAL_MIN 4
// Readings shown as below the sensor's limit [1]. a count.
#define GLYC_MEASURE_CENSORED_LOW 5
// Readings shown as above the sensor's limit [1]. a count.
#define GLYC_MEASURE_CENSORED_HIGH 6
// Mean of all readings [mg/dL]. arithmetic mean.
#define GLYC_MEASURE_MEAN_MG_DL 7
// Standard deviation of all readings, n-1 [mg/dL]. sample standard deviation.
#define GLYC_MEASURE_SD_MG_DL 8
// 100 x SD / mean [%]. Battelino 2019.
#define GLYC_MEASURE_CV_PCT 9
// Lowest reading [mg/dL]. order statistic.
#define GLYC_MEASURE_MIN_MG_DL 10
// Highest reading [mg/dL]. order statistic.
#define GLYC_MEASURE_MAX_MG_DL 11
// 5th percentile, type 7 [mg/dL]. Hyndman and Fan 1996.
#define GLYC_MEASURE_P05_MG_DL 12
// 25th percentile, type 7 [mg/dL]. Hyndman and Fan 1996.
#define GLYC_MEASURE_P25_MG_DL 13
// Median [mg/dL]. Hyndman and Fan 1996.
#define GLYC_MEASURE_MEDIAN_MG_DL 14
// 75th percentile, type 7 [mg/dL]. Hyndman and Fan 1996.
#define GLYC_MEASURE_P75_MG_DL 15
// 95th percentile, type 7 [mg/dL]. Hyndman and Fan 1996.
#define GLYC_MEASURE_P95_MG_DL 16
// 75th less 25th percentile [mg/dL]. Hyndman and Fan 1996.
#define GLYC_MEASURE_IQR_MG_DL 17
// Glucose management indicator, 3.31 + 0.02392 x mean [%]. Bergenstal 2018.
#define GLYC_MEASURE_GMI_PCT 18
// Glucose management indicator, 12.71 + 4.70587 x mean in mmol/L [mmol/mol]. Bergenstal 2018.
#define GLYC_MEASURE_GMI_MMOL_MOL 19
// Estimated A1c, (mean + 46.7) / 28.7 [%]. Nathan 2008, inverted.
#define GLYC_MEASURE_EA1C_PCT 20
// Share below 54 mg/dL (3.0 mmol/L) [%]. Battelino 2019.
#define GLYC_MEASURE_VERY_LOW_PCT 21
// Share from 54 to below 70 mg/dL (3.0 to below 3.9 mmol/L) [%]. Battelino 2019.
#define GLYC_MEASURE_LOW_PCT 22
// Share from 70 to 180 mg/dL (3.9 to 10.0 mmol/L), ends included [%]. Battelino 2019.
#define GLYC_MEASURE_IN_RANGE_PCT 23
// Share above 180 up to 250 mg/dL (above 10.0 up to 13.9 mmol/L) [%]. Battelino 2019.
#define GLYC_MEASURE_HIGH_PCT 24
// Share above 250 mg/dL (13.9 mmol/L) [%]. Battelino 2019.
#define GLYC_MEASURE_VERY_HIGH_PCT 25
// Share below 70 mg/dL (3.9 mmol/L) [%]. Battelino 2019.
#define GLYC_MEASURE_BELOW_70_PCT 26
// Share above 180 mg/dL (10.0 mmol/L) [%]. Battelino 2019.
#define GLYC_MEASURE_ABOVE_180_PCT 27
// Share from 70 to 140 mg/dL (3.9 to 7.8 mmol/L), ends included [%]. Dunn 2024.
#define GLYC_MEASURE_TIGHT_RANGE_PCT 28
// Median over days of the median of the last hour before the first meal, or of 06:00-07:00 [mg/dL]. common practice, no source.
#define GLYC_MEASURE_FASTING_MG_DL 29
// Mean of readings from 00:00 to 06:00 local time [mg/dL]. Danne 2017 time blocks.
#define GLYC_MEASURE_OVERNIGHT_MG_DL 30
// Mean of all readings in mmol/L, factor 18.0156 [mmol/L]. arithmetic mean.
#define GLYC_MEASURE_MEAN_MMOL_L 31
// Mean amplitude of excursions over 1 SD, in the direction of the first [mg/dL]. Service 1970.
#define GLYC_MEASURE_MAGE_MG_DL 32
// Mean amplitude of upward excursions over 1 SD [mg/dL]. Service 1970; Baghurst 2011.
#define GLYC_MEASURE_MAGE_UP_MG_DL 33
// Mean amplitude of downward excursions over 1 SD [mg/dL]. Service 1970; Baghurst 2011.
#define GLYC_MEASURE_MAGE_DOWN_MG_DL 34
// Mean absolute difference of readings 24 h apart [mg/dL]. Molnar 1972.
#define GLYC_MEASURE_MODD_MG_DL 35
// SD of differences of readings 1 h apart, n-1 [mg/dL]. McDonnell 2005.
#define GLYC_MEASURE_CONGA_1H_MG_DL 36
// SD of differences of readings 2 h apart, n-1 [mg/dL]. McDonnell 2005.
#define GLYC_MEASURE_CONGA_2H_MG_DL 37
// SD of differences of readings 4 h apart, n-1 [mg/dL]. McDonnell 2005.
#define GLYC_MEASURE_CONGA_4H_MG_DL 38
// Absolute change per hour observed, gaps left out [mg/dL/h]. Hermanides 2010.
#define GLYC_MEASURE_MAG_MG_DL_H 39
// Sum over a week of squared changes over hours, readings thinned to the hour [(mmol/L)2/h]. Ryan 2004.
#define GLYC_MEASURE_LABILITY_INDEX 40
// Mean of |10 log10(G/120)|^3, without the W term [1]. Schlichtkrull 1965.
#define GLYC_MEASURE_M_VALUE 41
// 0.001 x (mean + SD)^2 [(mg/dL)2]. Wojcicki 1995.
#define GLYC_MEASURE_J_INDEX 42
// Index of glycaemic control: hyper_index + hypo_index [1]. Rodbard 2009.
#define GLYC_MEASURE_IGC 43
// Mean of (G - 140)^1.1 / 30 over readings above 140 [1]. Rodbard 2009.
#define GLYC_MEASURE_HYPER_INDEX 44
// Mean of (80 - G)^2 / 30 over readings below 80 [1]. Rodbard 2009.
#define GLYC_MEASURE_HYPO_INDEX 45
// Low blood glucose index [1]. Kovatchev 1997.
#define GLYC_MEASURE_LBGI 46
// High blood glucose index [1]. Kovatchev 1997.
#define GLYC_MEASURE_HBGI 47
// Blood glucose risk index: lbgi + hbgi [1]. Kovatchev 2000.
#define GLYC_MEASURE_BGRI 48
// Average daily risk range, local days with at least 3 readings [1]. Kovatchev 2006.
#define GLYC_MEASURE_ADRR 49
// Glycaemic risk assessment, mean, each reading capped at 50 [1]. Hill 2007.
#define GLYC_MEASURE_GRADE 50
// Part of grade from readings below 3.9 mmol/L (70 mg/dL) [%]. Hill 2007.
#define GLYC_MEASURE_GRADE_HYPO_PCT 51
// Part of grade from readings of 3.9 to 7.8 mmol/L (70 to 140 mg/dL) [%]. Hill 2007.
#define GLYC_MEASURE_GRADE_EU_PCT 52
// Part of grade from readings above 7.8 mmol/L (140 mg/dL) [%]. Hill 2007.
#define GLYC_MEASURE_GRADE_HYPER_PCT 53
// Glycaemic variability percentage: length of the trace over its time, less 1; min and mg/dL [%]. Peyser 2018.
#define GLYC_MEASURE_GVP_PCT 54
// Glycaemia risk index, capped at 100 [1]. Klonoff 2022.
#define GLYC_MEASURE_GRI 55
// very_low_pct + 0.8 x low_pct [%]. Klonoff 2022.
#define GLYC_MEASURE_GRI_HYPO_COMPONENT 56
// very_high_pct + 0.5 x high_pct [%]. Klonoff 2022.
#define GLYC_MEASURE_GRI_HYPER_COMPONENT 57
// SDw: mean over local days of the SD within the day [mg/dL]. Rodbard 2009.
#define GLYC_MEASURE_SD_WITHIN_MG_DL 58
// SDdm: SD of the daily means [mg/dL]. Rodbard 2009.
#define GLYC_MEASURE_SD_BETWEEN_DAILY_MEANS_MG_DL 59
// SDhh:mm: SD of the mean profile over clock times [mg/dL]. Rodbard 2009.
#define GLYC_MEASURE_SD_OF_MEAN_DAY_MG_DL 60
// SDws 1 h: mean over clock hours of the SD within the hour [mg/dL]. Rodbard 2009, from memory.
#define GLYC_MEASURE_SD_WITHIN_HOUR_MG_DL 61
// SDb hh:mm: mean over clock times of the SD between days [mg/dL]. Rodbard 2009, from memory.
#define GLYC_MEASURE_SD_BETWEEN_DAYS_MG_DL 62
// SDb hh:mm//dm: the same after taking off each day's mean [mg/dL]. Rodbard 2009, from memory.
#define GLYC_MEASURE_SD_BETWEEN_DAYS_LESS_MEANS_MG_DL 63
// Poincare SD1: SD of successive differences over the root of 2 [mg/dL]. Crenier 2014; Brennan 2001.
#define GLYC_MEASURE_POINCARE_SD1_MG_DL 64
// Poincare SD2: root of 2 SD^2 - SD1^2 [mg/dL]. Crenier 2014; Brennan 2001.
#define GLYC_MEASURE_POINCARE_SD2_MG_DL 65
// Continuous glucose monitoring index: range, lows and SD in points, 0 to 100 [1]. Leelarathna 2020.
#define GLYC_MEASURE_COGI 66
// Median over days of the mean of the hour before the first meal (or 06:00-07:00) less the lowest hourly mean from 00:00 to 06:00 [mg/dL]. common practice, no source.
#define GLYC_MEASURE_DAWN_RISE_MG_DL 67
// Share of observed time with a change faster than 1.5 mg/dL/min [%]. cohort papers after 2015, from memory.
#define GLYC_MEASURE_TIME_IN_FLUCTUATION_PCT 68
// Detrended fluctuation exponent [1]. Peng 1994.
#define GLYC_MEASURE_DFA_ALPHA 69
// Sample entropy, m 2, r 0.2 SD [1]. Richman and Moorman 2000.
#define GLYC_MEASURE_SAMPLE_ENTROPY 70
// Episodes below 70 mg/dL (3.9 mmol/L) of at least 15 min [1]. Danne 2017; Battelino 2019.
#define GLYC_MEASURE_LOW_EPISODES 71
// Episodes below 54 mg/dL (3.0 mmol/L) of at least 15 min [1]. Danne 2017; Battelino 2019.
#define GLYC_MEASURE_VERY_LOW_EPISODES 72
// Episodes below 70 mg/dL (3.9 mmol/L) that start from 00:00 to 06:00 local time [1]. Danne 2017 time blocks.
#define GLYC_MEASURE_NOCTURNAL_LOW_EPISODES 73
// Episodes below 54 mg/dL (3.0 mmol/L) of at least 120 min [1]. Danne 2017.
#define GLYC_MEASURE_PROLONGED_VERY_LOW_EPISODES 74
// Episodes below 70 mg/dL (3.9 mmol/L) of at least 120 min [1]. Battelino 2023, from memory.
#define GLYC_MEASURE_EXTENDED_LOW_EPISODES 75
// Episodes above 180 mg/dL (10.0 mmol/L) of at least 15 min [1]. Battelino 2023, from memory.
#define GLYC_MEASURE_HIGH_EPISODES 76
// Episodes above 250 mg/dL (13.9 mmol/L) of at least 15 min [1]. Battelino 2023, from memory.
#define GLYC_MEASURE_VERY_HIGH_EPISODES 77
// Episodes above 250 mg/dL (13.9 mmol/L) that hold over 90 min within 120 [1]. Battelino 2023, from memory.
#define GLYC_MEASURE_EXTENDED_HIGH_EPISODES 78


// Version of the ABI that this header describes.
#define GLYC_ABI_VERSION 1

// Bit of `glyc_estimate.present`: there is a value.
#define GLYC_PRESENT_VALUE 1

// Bit of `glyc_estimate.present`: the interval has a lower end.
#define GLYC_PRESENT_LOW 2

// Bit of `glyc_estimate.present`: the interval has an upper end.
#define GLYC_PRESENT_HIGH 4

// Unit: milligrams per decilitre.
#define GLYC_UNIT_MG_DL 1

// Unit: millimoles per litre.
#define GLYC_UNIT_MMOL_L 2

// A reading that is a value.
#define GLYC_CENSOR_NONE 0

// A reading at or below the lower limit of the sensor; its glucose is that limit.
#define GLYC_CENSOR_LOW 1

// A reading at or above the upper limit of the sensor; its glucose is that limit.
#define GLYC_CENSOR_HIGH 2

// Count of `glyc_trace_cleaning`: readings given.
#define GLYC_CLEANING_GIVEN 1

// Count of `glyc_trace_cleaning`: readings kept.
#define GLYC_CLEANING_KEPT 2

// Count of `glyc_trace_cleaning`: readings that were sorted into place.
#define GLYC_CLEANING_SORTED 3

// Count of `glyc_trace_cleaning`: repeats, same instant and same value.
#define GLYC_CLEANING_DUPLICATES 4

// Count of `glyc_trace_cleaning`: readings at an instant that already had another value.
#define GLYC_CLEANING_CONFLICTS 5

// Count of `glyc_trace_cleaning`: readings without a value.
#define GLYC_CLEANING_MISSING 6

// Count of `glyc_trace_cleaning`: readings at the lower limit of the sensor.
#define GLYC_CLEANING_CENSORED_LOW 7

// Count of `glyc_trace_cleaning`: readings at the upper limit of the sensor.
#define GLYC_CLEANING_CENSORED_HIGH 8

// Kind of a reading that was set aside: it had no value.
#define GLYC_REJECTED_MISSING 1

// Kind of a reading that was set aside: its instant already had another value.
#define GLYC_REJECTED_CONFLICT 2

// Kind of a reading that was set aside: for a reason this header has no number for.
#define GLYC_REJECTED_OTHER 3

// Figure of `glyc_trace_coverage`: readings.
#define GLYC_COVERAGE_N 1

// Figure of `glyc_trace_coverage`: readings that the span could hold.
#define GLYC_COVERAGE_POSSIBLE 2

// Figure of `glyc_trace_coverage`: share of the possible readings, percent, at most 100.
#define GLYC_COVERAGE_ACTIVE_PCT 3

// Figure of `glyc_trace_coverage`: span from first to last reading, days of 24 h.
#define GLYC_COVERAGE_DAYS 4

// Figure of `glyc_trace_coverage`: median step, minutes.
#define GLYC_COVERAGE_NOMINAL_INTERVAL_MIN 5

// Figure of `glyc_trace_coverage`: number of gaps, each longer than three nominal intervals.
#define GLYC_COVERAGE_GAPS 6

// Figure of `glyc_trace_coverage`: the longest gap, minutes; 0 if there is none.
#define GLYC_COVERAGE_LONGEST_GAP_MIN 7

// Kind of a column: floating-point numbers, `glyc_table_column_f64`.
#define GLYC_COLUMN_F64 1

// Kind of a column: whole numbers, `glyc_table_column_i64`.
#define GLYC_COLUMN_I64 2

// Kind of a column: true or false, `glyc_table_column_bool`.
#define GLYC_COLUMN_BOOL 3

// Kind of a column: text, `glyc_table_column_text`.
#define GLYC_COLUMN_TEXT 4

// Figure of `glyc_sufficiency_figure`: readings, inside the reporting period if there is one.
#define GLYC_SUFFICIENCY_N 1

// Figure of `glyc_sufficiency_figure`: days of 24 h.
#define GLYC_SUFFICIENCY_DAYS 2

// Figure of `glyc_sufficiency_figure`: readings over what these days could hold, percent.
#define GLYC_SUFFICIENCY_ACTIVE_PCT 3

// Figure of `glyc_sufficiency_figure`: 1 if there are 14 days, else 0.
#define GLYC_SUFFICIENCY_ENOUGH_DAYS 4

// Figure of `glyc_sufficiency_figure`: 1 if 70 % are active, else 0.
#define GLYC_SUFFICIENCY_ENOUGH_ACTIVE 5

// Figure of `glyc_sufficiency_figure`: longest stretch without readings, minutes; 0 without a gap.
#define GLYC_SUFFICIENCY_LONGEST_GAP_MIN 6

// Figure of `glyc_sufficiency_figure`: when it begins, UTC ms; not estimable without a gap.
#define GLYC_SUFFICIENCY_LONGEST_GAP_FROM_MS 7

// Figure of `glyc_sufficiency_figure`: local days with a reading; needs a clock.
#define GLYC_SUFFICIENCY_DAYS_TOUCHED 8

// Figure of `glyc_sufficiency_figure`: local days with 70 % of what they could hold; needs a clock.
#define GLYC_SUFFICIENCY_FULL_DAYS 9

// Rule of an incremental area: the part below the baseline is dropped.
#define GLYC_RULE_POSITIVE 1

// Rule of an incremental area: the part below the baseline is subtracted.
#define GLYC_RULE_NET 2

// Rule of an incremental area: as positive, but only until the curve first returns.
#define GLYC_RULE_UNTIL_RETURN 3

// GRADE is the mean over readings (default).
#define GLYC_GRADE_MEAN 1

// GRADE is the median over readings.
#define GLYC_GRADE_MEDIAN 2

// The risk function takes the constants printed for mg/dL (default).
#define GLYC_RISK_CONSTANTS_MG_DL 1

// The risk function takes the constants printed for mmol/L.
#define GLYC_RISK_CONSTANTS_MMOL_L 2

// An excursion of MAGE exceeds the SD of all readings (default).
#define GLYC_MAGE_SD_WHOLE_TRACE 1

// An excursion of MAGE exceeds the mean of the SDs of the local days.
#define GLYC_MAGE_SD_MEAN_OF_DAYS 2

// All pairs of readings 24 h apart count in MODD (default).
#define GLYC_MODD_PAIRS_ALL 1

// Pairs whose earlier reading lies in the first, partial local day don't count in MODD.
#define GLYC_MODD_PAIRS_WHOLE_DAYS_ONLY 2

// Readings in a row last as long as their number times the nominal interval (default).
#define GLYC_EPISODE_LENGTH_COUNT_TIMES_INTERVAL 1

// Readings in a row last from the first to the last.
#define GLYC_EPISODE_LENGTH_SPAN 2

// The lability index is a sum over a week (default).
#define GLYC_LABILITY_WEEKLY_SUM 1

// The lability index is a mean over pairs.
#define GLYC_LABILITY_MEAN_PER_PAIR 2

// By local day; `part` is a date such as 2025-03-14.
#define GLYC_BY_DAY 1

// Monday to Friday, and Saturday and Sunday; `part` is `weekday` or `weekend`.
#define GLYC_BY_WEEK_PART 2

// 00:00-06:00 and 06:00-24:00; `part` is `night` or `day`.
#define GLYC_BY_NIGHT_AND_DAY 3

// Episodes below 70 mg/dL (3.9 mmol/L) for 15 minutes.
#define GLYC_EPISODES_LOW 1

// Episodes below 54 mg/dL (3.0 mmol/L) for 15 minutes, until 70 mg/dL (3.9 mmol/L).
#define GLYC_EPISODES_VERY_LOW 2

// Episodes below 54 mg/dL (3.0 mmol/L) for 120 minutes in a row.
#define GLYC_EPISODES_PROLONGED_VERY_LOW 3

// Episodes below 70 mg/dL (3.9 mmol/L) for 120 minutes in a row.
#define GLYC_EPISODES_EXTENDED_LOW 4

// Episodes above 180 mg/dL (10.0 mmol/L) for 15 minutes.
#define GLYC_EPISODES_HIGH 5

// Episodes above 250 mg/dL (13.9 mmol/L) for 15 minutes, until 180 mg/dL (10.0 mmol/L).
#define GLYC_EPISODES_VERY_HIGH 6

// Episodes above 250 mg/dL (13.9 mmol/L) for more than 90 of 120 minutes.
#define GLYC_EPISODES_EXTENDED_HIGH 7

// Episodes by each published rule, one rule after the other.
#define GLYC_EPISODES_ALL 8

// An episode lies below its level.
#define GLYC_SIDE_BELOW 1

// An episode lies above its level.
#define GLYC_SIDE_ABOVE 2

// At a clock time count the readings in the bin of one step round it; the width is 0.
#define GLYC_SMOOTHING_NONE 1

// At a clock time count the readings in a window, all alike; the width is that of the window.
#define GLYC_SMOOTHING_WINDOW 2

// At a clock time count the readings by a kernel; the width is its reach either way.
#define GLYC_SMOOTHING_LOCAL 3

// Population: adults without diabetes.
#define GLYC_POPULATION_WITHOUT_DIABETES 1

// Population: adults with type 1 diabetes.
#define GLYC_POPULATION_TYPE1 2

// Population: adults with type 2 diabetes.
#define GLYC_POPULATION_TYPE2 3

// Population: pregnancy with type 1 diabetes.
#define GLYC_POPULATION_PREGNANCY 4

// Population: older people, or people at high risk, with type 1 or type 2 diabetes.
#define GLYC_POPULATION_OLDER 5

// A pushed reading is the latest.
#define GLYC_PUSHED_ADDED 1

// A pushed reading came late and was put in its place.
#define GLYC_PUSHED_INSERTED 2

// Error grid: Clarke 1987. Vertices from memory, unconfirmed.
#define GLYC_GRID_CLARKE 1

// Error grid: consensus 2000, type 1 diabetes. Vertices from memory, unconfirmed.
#define GLYC_GRID_CONSENSUS_TYPE1 2

// Error grid: consensus 2000, type 2 diabetes. Vertices from memory, unconfirmed.
#define GLYC_GRID_CONSENSUS_TYPE2 3

// Line of `glyc_agreement_line`: Deming, jackknife.
#define GLYC_LINE_DEMING 1

// Line of `glyc_agreement_line`: Deming for a constant coefficient of variation, jackknife.
#define GLYC_LINE_WEIGHTED_DEMING 2

// Line of `glyc_agreement_line`: Passing and Bablok 1983; the ratio of variances is not used.
#define GLYC_LINE_PASSING_BABLOK 3

// Criteria of `glyc_agreement_standard`: ISO 15197:2013.
#define GLYC_STANDARD_ISO15197_2013 1

// Criteria of `glyc_agreement_standard`: ISO 15197:2003.
#define GLYC_STANDARD_ISO15197_2003 2

// Criteria of `glyc_agreement_standard`: FDA guidance for self-monitoring meters.
#define GLYC_STANDARD_FDA_SELF_MONITORING 3

// Criteria of `glyc_agreement_standard`: FDA guidance for point-of-care meters.
#define GLYC_STANDARD_FDA_POINT_OF_CARE 4

// Criteria of `glyc_agreement_standard`: special controls for integrated monitors, without rates.
#define GLYC_STANDARD_ICGM 5

// The sensor is read at the nearest reading.
#define GLYC_HOW_NEAREST 1

// The sensor is read on the straight line between the readings around the meter's time.
#define GLYC_HOW_INTERPOLATE 2

// An alarm is armed again when a reading is back past its level by so many mg/dL.
#define GLYC_REARM_BACK 1

// An alarm is armed again so many minutes after it sounded.
#define GLYC_REARM_SNOOZE 2

// Meter readings in quick succession: their mean is one value (default).
#define GLYC_BURSTS_AVERAGED 1

// Meter readings in quick succession: the first counts, the rest are left out.
#define GLYC_BURSTS_FIRST 2

// Meter readings in quick succession: each stands for itself.
#define GLYC_BURSTS_EACH 3

// From sensors inserted to pairs analysed: `unit`, `step` ("had", "left_out", "left"), `reason`,
// `n`.
#define GLYC_ACCOUNTS_FLOW 1

// A row for each sensor: `sensor`, `person`, `lot`, `site`, `days`, `end`, `cause`, `readings`,
// `expected`, `capture_pct`, `pairs`, `outside`, `mard_pct`, `bias_mg_dl`.
#define GLYC_ACCOUNTS_SENSORS 2

// One row: `capture_pct`, `median_mard_pct`, `best`, `best_mard_pct`, `worst`, `worst_mard_pct`,
// `reason` (why sensors can't be ranked).
#define GLYC_ACCOUNTS_SUMMARY 3

// Estimates `lasts` (share that lasts the stated length), `repeat_sd_mg_dl`, `repeat_cv_pct` (the
// meter's readings within bursts).
#define GLYC_ACCOUNTS_ESTIMATES 4

// How long sensors last, in days; columns as for `glyc_survival`.
#define GLYC_ACCOUNTS_SURVIVAL 5

// Incidence of each cause of failure: `cause`, `time` (days), `incidence`, `se`, `low`, `high`.
#define GLYC_ACCOUNTS_INCIDENCE 6

// Accuracy of all pairs, then by third of the wear; columns as for `glyc_agreement_accuracy`.
#define GLYC_ACCOUNTS_BY_PART 7

// The same by lot.
#define GLYC_ACCOUNTS_BY_LOT 8

// The same by site.
#define GLYC_ACCOUNTS_BY_SITE 9

// Pairs by level and rate, then what is asked: `level_mg_dl`, `rate_mg_dl_min`, `n`, `pct`,
// `required_pct`, `met`.
#define GLYC_ACCOUNTS_LEVEL_RATE 10

// A row for each pair analysed: `person`, `sensor`, `wear_day`, `part`, `reference_mg_dl`,
// `measured_mg_dl`, `rate_mg_dl_min`, `cluster`.
#define GLYC_ACCOUNTS_PAIRS 11

// What a call came to. A number is never reused.
enum glyc_status
#if defined(__cplusplus) || __STDC_VERSION__ >= 202311L
  : int32_t
#endif // defined(__cplusplus) || __STDC_VERSION__ >= 202311L
 {
    // Done; the results are written.
    GLYC_STATUS_OK = 0,
    // A pointer that must not be NULL is.
    GLYC_STATUS_NULL_ARGUMENT = 1,
    // A fault inside the library. Please report it.
    GLYC_STATUS_PANIC = 2,
    // It can't be told from this data; the error says why.
    GLYC_STATUS_NOT_ESTIMABLE = 3,
    // A text is not UTF-8.
    GLYC_STATUS_NOT_UTF8 = 4,
    // An error that this version of the header has no number for; see `glyc_error_code`.
    GLYC_STATUS_OTHER = 5,
    // A measure is defined only for more values than there are.
    GLYC_STATUS_TOO_FEW_VALUES = 10,
    // Two arrays that belong together differ in length.
    GLYC_STATUS_LENGTH_MISMATCH = 11,
    // Times must rise strictly.
    GLYC_STATUS_UNORDERED_TIME = 12,
    // An argument, or an item of it, is NaN or infinite.
    GLYC_STATUS_NOT_FINITE = 13,
    // An argument, or an item of it, is outside what it can be.
    GLYC_STATUS_OUT_OF_RANGE = 14,
    // A number or word that is not one of the choices.
    GLYC_STATUS_UNKNOWN_CHOICE = 15,
    // The values look as if they were in another unit.
    GLYC_STATUS_IMPLAUSIBLE_UNIT = 16,
    // A time that can't be an instant in the plausible span of years.
    GLYC_STATUS_IMPLAUSIBLE_TIME = 17,
    // A local time that occurs twice or never in its zone.
    GLYC_STATUS_LOCAL_TIME = 18,
    // A zone name that the time zone database does not have.
    GLYC_STATUS_UNKNOWN_ZONE = 19,
    // A named column is missing.
    GLYC_STATUS_MISSING_COLUMN = 20,
    // A file or folder can't be read or written.
    GLYC_STATUS_FILE = 21,
    // Rows of a file that can't be used.
    GLYC_STATUS_BAD_ROWS = 22,
    // The caller asked to stop.
    GLYC_STATUS_CANCELLED = 23,
    // A reading that is not a whole number of its unit's steps (1 mg/dL, 0.1 mmol/L).
    GLYC_STATUS_OFF_GRID = 24,
    // Bytes that are cut short, changed, of another kind or of a later layout.
    GLYC_STATUS_BAD_BYTES = 25,
};
#ifndef __cplusplus
#if __STDC_VERSION__ >= 202311L
typedef enum glyc_status glyc_status;
#else
typedef int32_t glyc_status;
#endif // __STDC_VERSION__ >= 202311L
#endif // __cplusplus

// What became of a study.
typedef struct glyc_accounts glyc_accounts;

// Offsets from UTC, and from when each holds.
typedef struct glyc_clock glyc_clock;

// Meals and activity of one person; rows may come in any order.
typedef struct glyc_diary glyc_diary;

// What went wrong, and where.
typedef struct glyc_error glyc_error;

// A fitted line of rise on grams, with the answers it gives.
typedef struct glyc_fit glyc_fit;

// Counts of readings by level, which change as readings are pushed.
typedef struct glyc_histogram glyc_histogram;

// Intervals of all measures of one trace, as this sensor reads.
typedef struct glyc_intervals glyc_intervals;

// Finger-stick readings, sorted by time; several may share one instant.
typedef struct glyc_meter glyc_meter;

// Rules of pairing; the defaults until a setter is called: the nearest reading within 5 minutes,
// no lag, each sensor reading used once, bursts of 2 minutes averaged, readings from 15 minutes
// before a calibration left out, no limits of range.
typedef struct glyc_pair_options glyc_pair_options;

// Values of all measures of one trace; a missing one has a reason.
typedef struct glyc_panel glyc_panel;

// Choices for a panel; the defaults until a setter is called.
typedef struct glyc_panel_options glyc_panel_options;

// What was found of the sensors of a trace.
typedef struct glyc_recalibration glyc_recalibration;

// Responses to the meals of a diary.
typedef struct glyc_responses glyc_responses;

// Readings of one sensor as they come.
typedef struct glyc_stream glyc_stream;

// Persons with their meters, and the sensors they wore.
typedef struct glyc_study glyc_study;

// How much data there is.
typedef struct glyc_sufficiency glyc_sufficiency;

// A table: columns by name, all of one length.
typedef struct glyc_table glyc_table;

// A sensor's readings over time, cleaned: times rise strictly, glucose is mg/dL.
typedef struct glyc_trace glyc_trace;

// Events of the sensors of one person; rows may come in any order.
typedef struct glyc_wear glyc_wear;

// One reading. Frozen: 24 bytes, the same in every version.
typedef struct glyc_reading {
    // When, UTC milliseconds since 1970.
    int64_t time_ms;
    // Glucose, in the unit that the function names.
    double glucose;
    // One of `GLYC_CENSOR_*`.
    uint32_t censor;
    // Set it to 0.
    uint32_t reserved;
} glyc_reading;

// A number with its interval. Frozen: 56 bytes, the same in every version.
typedef struct glyc_estimate {
    // The best single number; NaN unless `present` has `GLYC_PRESENT_VALUE`.
    double value;
    // Lower end of the interval; NaN unless `present` has `GLYC_PRESENT_LOW`.
    double low;
    // Upper end of the interval; NaN unless `present` has `GLYC_PRESENT_HIGH`.
    double high;
    // Confidence level of the interval, such as 0.95.
    double level;
    // How many independent pieces it rests on (days, meals, pairs).
    uint64_t n;
    // How many such pieces it takes at the least; 0 if no number is set.
    uint64_t needed;
    // Which of value, low and high are there: `GLYC_PRESENT_*` added up. Look before reading.
    uint32_t present;
    // Always 0.
    uint32_t reserved;
} glyc_estimate;

#ifdef __cplusplus
extern "C" {
#endif // __cplusplus

// Version of the ABI that the loaded library has; compare it with `GLYC_ABI_VERSION` at start.
//
// It changes only when a program built against an older header would misbehave.
uint32_t glyc_abi_version(void);

// Version of the library, such as "0.1.0"; borrowed, valid for ever.
const char *glyc_version(void);

// The status that came with an error; `GLYC_STATUS_OK` for NULL. Since 0.1.
//
// # Safety
// `error` is NULL or an error that was not freed.
glyc_status glyc_error_status(const struct glyc_error *error);

// A stable word for programs, such as "not_finite"; with `GLYC_STATUS_NOT_ESTIMABLE` the word
// of the reason, such as "no_zone". Borrowed from `error`; NULL for NULL. Since 0.1.
//
// # Safety
// `error` is NULL or an error that was not freed.
const char *glyc_error_code(const struct glyc_error *error);

// A sentence for people (UTF-8). Borrowed from `error`; NULL for NULL. Since 0.1.
//
// # Safety
// `error` is NULL or an error that was not freed.
const char *glyc_error_message(const struct glyc_error *error);

// The argument at fault, or NULL if no single one is. Borrowed from `error`. Since 0.1.
//
// # Safety
// `error` is NULL or an error that was not freed.
const char *glyc_error_argument(const struct glyc_error *error);

// Whether one item is at fault; if so its position, counted from 0, is written to `index_out`
// (NULL if not wanted). Since 0.1.
//
// # Safety
// `error` is NULL or an error that was not freed; `index_out` is NULL or valid to write.
bool glyc_error_index(const struct glyc_error *error, size_t *index_out);

// The file at fault, or NULL if none is. Borrowed from `error`. Since 0.1.
//
// # Safety
// `error` is NULL or an error that was not freed.
const char *glyc_error_file(const struct glyc_error *error);

// Whether a line of a file is at fault; if so its number, counted from 1, is written to
// `line_out` (NULL if not wanted). Since 0.1.
//
// # Safety
// `error` is NULL or an error that was not freed; `line_out` is NULL or valid to write.
bool glyc_error_line(const struct glyc_error *error, uint64_t *line_out);

// The column of a file at fault, or NULL if none is. Borrowed from `error`. Since 0.1.
//
// # Safety
// `error` is NULL or an error that was not freed.
const char *glyc_error_column(const struct glyc_error *error);

// Frees an error; nothing for NULL. Since 0.1.
//
// # Safety
// `error` is NULL or an error that was not freed, and is not used again.
void glyc_error_free(struct glyc_error *error);

// A clock with one offset for ever.
//
// `offset_min` (in): minutes east of UTC, from -1080 to 1080.
// `clock_out` (out): the new clock; free it with `glyc_clock_free`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// Each pointer is NULL or valid to write one item to.
glyc_status glyc_clock_fixed(int32_t offset_min,
                             struct glyc_clock **clock_out,
                             struct glyc_error **error);

// A clock from steps, for instance those that the platform's own time zone data gives.
//
// `from_utc_ms` (in): `len` instants, UTC ms, rising strictly; the first offset also holds before.
// `offset_min` (in): `len` offsets, minutes east of UTC, from -1080 to 1080.
// `clock_out` (out): the new clock; free it with `glyc_clock_free`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `TOO_FEW_VALUES`, `UNORDERED_TIME`, `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// Each pointer is NULL or valid for the items named above.
glyc_status glyc_clock_from_steps(const int64_t *from_utc_ms,
                                  const int32_t *offset_min,
                                  size_t len,
                                  struct glyc_clock **clock_out,
                                  struct glyc_error **error);

// A clock for a name of the IANA time zone database, such as "Europe/Lisbon".
//
// `zone` (in): the name, ended by a zero.
// `clock_out` (out): the new clock; free it with `glyc_clock_free`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `UNKNOWN_ZONE`, `NOT_UTF8`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `zone` is NULL or ends with a zero; the other pointers are NULL or valid to write one item to.
glyc_status glyc_clock_from_zone(const char *zone,
                                 struct glyc_clock **clock_out,
                                 struct glyc_error **error);

// Offset from UTC at an instant.
//
// `utc_ms` (in): UTC milliseconds since 1970.
// `offset_min_out` (out): minutes east of UTC; written only on `GLYC_STATUS_OK`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `clock` is NULL or a clock that was not freed; the others are NULL or valid to write.
glyc_status glyc_clock_offset_min(const struct glyc_clock *clock,
                                  int64_t utc_ms,
                                  int32_t *offset_min_out,
                                  struct glyc_error **error);

// Frees a clock; nothing for NULL. Traces made with it keep their own copy. Since 0.1.
//
// # Safety
// `clock` is NULL or a clock that was not freed, and is not used again.
void glyc_clock_free(struct glyc_clock *clock);

// Makes a trace from two arrays: sorts, drops repeats, sets aside what has no value, and reports
// all of it (`glyc_trace_cleaning`, `glyc_trace_rejected`).
//
// `times_ms` (in): `len` instants, UTC milliseconds since 1970, in any order; copied.
// `glucose` (in): `len` values in `unit`; NaN stands for a missing value; copied.
// `unit` (in): one of `GLYC_UNIT_*`, the unit that the sensor showed.
// `clock` (in): local time, copied; NULL if unknown (fasting and overnight are then missing).
// `trace_out` (out): the new trace; free it with `glyc_trace_free`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `TOO_FEW_VALUES`, `NOT_FINITE` (infinite), `OUT_OF_RANGE` (not positive, or over
// 2000 mg/dL), `IMPLAUSIBLE_TIME`, `IMPLAUSIBLE_UNIT`, `UNKNOWN_CHOICE`, `NULL_ARGUMENT`.
// Since 0.1.
//
// # Safety
// Each pointer is NULL or valid for the items named above.
glyc_status glyc_trace_new(const int64_t *times_ms,
                           const double *glucose,
                           size_t len,
                           uint32_t unit,
                           const struct glyc_clock *clock,
                           struct glyc_trace **trace_out,
                           struct glyc_error **error);

// Makes a trace from readings, some of which may stand at a limit of the sensor.
//
// `readings` (in): `len` readings in any order, glucose in `unit`, NaN for a missing value; copied.
// `unit`, `clock`, `trace_out`, `error`: as for `glyc_trace_new`.
//
// Statuses: as for `glyc_trace_new`; `OUT_OF_RANGE` also for an unknown `censor`. Since 0.1.
//
// # Safety
// Each pointer is NULL or valid for the items named above.
glyc_status glyc_trace_from_readings(const struct glyc_reading *readings,
                                     size_t len,
                                     uint32_t unit,
                                     const struct glyc_clock *clock,
                                     struct glyc_trace **trace_out,
                                     struct glyc_error **error);

// Number of readings kept; 0 for NULL. Since 0.1.
//
// # Safety
// `trace` is NULL or a trace that was not freed.
size_t glyc_trace_len(const struct glyc_trace *trace);

// Times of the readings, UTC milliseconds, `glyc_trace_len` of them, rising strictly; borrowed
// from `trace`. NULL for NULL. Since 0.1.
//
// # Safety
// `trace` is NULL or a trace that was not freed.
const int64_t *glyc_trace_times_ms(const struct glyc_trace *trace);

// Glucose of the readings in mg/dL, `glyc_trace_len` of them; borrowed from `trace`. NULL for
// NULL. Since 0.1.
//
// # Safety
// `trace` is NULL or a trace that was not freed.
const double *glyc_trace_glucose_mg_dl(const struct glyc_trace *trace);

// One reading of a trace, glucose in mg/dL.
//
// `position` (in): counted from 0, less than `glyc_trace_len`.
// `reading_out` (out): the reading; written only on `GLYC_STATUS_OK`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `trace` is NULL or a trace that was not freed; the others are NULL or valid to write.
glyc_status glyc_trace_reading(const struct glyc_trace *trace,
                               size_t position,
                               struct glyc_reading *reading_out,
                               struct glyc_error **error);

// A count of what making the trace found and did.
//
// `which` (in): one of `GLYC_CLEANING_*`.
// `count_out` (out): the count; written only on `GLYC_STATUS_OK`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `UNKNOWN_CHOICE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `trace` is NULL or a trace that was not freed; the others are NULL or valid to write.
glyc_status glyc_trace_cleaning(const struct glyc_trace *trace,
                                uint32_t which,
                                size_t *count_out,
                                struct glyc_error **error);

// Number of readings set aside (without a value, or in conflict); 0 for NULL. Since 0.1.
//
// # Safety
// `trace` is NULL or a trace that was not freed.
size_t glyc_trace_rejected_len(const struct glyc_trace *trace);

// One reading that was set aside.
//
// `position` (in): counted from 0, less than `glyc_trace_rejected_len`.
// `index_out` (out): its place in the arrays the trace was made from, counted from 0.
// `kind_out` (out): one of `GLYC_REJECTED_*`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `trace` is NULL or a trace that was not freed; the others are NULL or valid to write.
glyc_status glyc_trace_rejected(const struct glyc_trace *trace,
                                size_t position,
                                size_t *index_out,
                                uint32_t *kind_out,
                                struct glyc_error **error);

// A figure of how complete a trace is.
//
// `which` (in): one of `GLYC_COVERAGE_*`, which says the unit.
// `figure_out` (out): the figure; written only on `GLYC_STATUS_OK`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `UNKNOWN_CHOICE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `trace` is NULL or a trace that was not freed; the others are NULL or valid to write.
glyc_status glyc_trace_coverage(const struct glyc_trace *trace,
                                uint32_t which,
                                double *figure_out,
                                struct glyc_error **error);

// Frees a trace; nothing for NULL. What was borrowed from it is gone too. Since 0.1.
//
// # Safety
// `trace` is NULL or a trace that was not freed, and is not used again.
void glyc_trace_free(struct glyc_trace *trace);

// Number of rows; 0 for NULL. Since 0.1.
//
// # Safety
// `table` is NULL or a table that was not freed.
size_t glyc_table_rows(const struct glyc_table *table);

// Number of columns; 0 for NULL. Since 0.1.
//
// # Safety
// `table` is NULL or a table that was not freed.
size_t glyc_table_columns(const struct glyc_table *table);

// Name of a column (UTF-8), which carries its unit, by its place, counted from 0; NULL beyond
// the last and for NULL. Borrowed from `table`. Since 0.1.
//
// # Safety
// `table` is NULL or a table that was not freed.
const char *glyc_table_column_name(const struct glyc_table *table, size_t position);

// Kind of a column, one of `GLYC_COLUMN_*`, by its place, counted from 0; 0 beyond the last and
// for NULL. Since 0.1.
//
// # Safety
// `table` is NULL or a table that was not freed.
uint32_t glyc_table_column_kind(const struct glyc_table *table, size_t position);

// A column of floating-point numbers.
//
// `name` (in): name of the column, ended by a zero.
// `values_out` (out): `len` numbers, borrowed from `table`; NaN where missing.
// `valid_out` (out): `len` flags, borrowed from `table`: whether the number is there. Look first.
// `len_out` (out): number of rows.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `UNKNOWN_CHOICE` (no such column, or one of another kind), `NOT_UTF8`,
// `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `table` is NULL or a table that was not freed; `name` is NULL or ends with a zero; the others
// are NULL or valid to write.
glyc_status glyc_table_column_f64(const struct glyc_table *table,
                                  const char *name,
                                  const double **values_out,
                                  const bool **valid_out,
                                  size_t *len_out,
                                  struct glyc_error **error);

// A column of whole numbers; instants are UTC milliseconds since 1970.
//
// `name` (in): name of the column, ended by a zero.
// `values_out` (out): `len` numbers, borrowed from `table`; 0 where missing.
// `valid_out`, `len_out`, `error`: as for `glyc_table_column_f64`.
//
// Statuses: as for `glyc_table_column_f64`. Since 0.1.
//
// # Safety
// As for `glyc_table_column_f64`.
glyc_status glyc_table_column_i64(const struct glyc_table *table,
                                  const char *name,
                                  const int64_t **values_out,
                                  const bool **valid_out,
                                  size_t *len_out,
                                  struct glyc_error **error);

// A column of true or false.
//
// `name` (in): name of the column, ended by a zero.
// `values_out` (out): `len` flags, borrowed from `table`; false where missing.
// `valid_out`, `len_out`, `error`: as for `glyc_table_column_f64`.
//
// Statuses: as for `glyc_table_column_f64`. Since 0.1.
//
// # Safety
// As for `glyc_table_column_f64`.
glyc_status glyc_table_column_bool(const struct glyc_table *table,
                                   const char *name,
                                   const bool **values_out,
                                   const bool **valid_out,
                                   size_t *len_out,
                                   struct glyc_error **error);

// A column of text (UTF-8).
//
// `name` (in): name of the column, ended by a zero.
// `values_out` (out): `len` texts, each ended by a zero, borrowed from `table`; empty where
// missing, never NULL.
// `valid_out`, `len_out`, `error`: as for `glyc_table_column_f64`.
//
// Statuses: as for `glyc_table_column_f64`. Since 0.1.
//
// # Safety
// As for `glyc_table_column_f64`.
glyc_status glyc_table_column_text(const struct glyc_table *table,
                                   const char *name,
                                   const char *const **values_out,
                                   const bool **valid_out,
                                   size_t *len_out,
                                   struct glyc_error **error);

// Frees a table; nothing for NULL. What was borrowed from it is gone too. Since 0.1.
//
// # Safety
// `table` is NULL or a table that was not freed, and is not used again.
void glyc_table_free(struct glyc_table *table);

// The gaps of a trace, in order: intervals longer than three nominal intervals, or in which
// another sensor took over.
//
// `trace` (in): borrowed for the call.
// `table_out` (out): `from_ms` and `to_ms` (i64: last reading before, first after, UTC ms),
// `minutes` (f64), `sensor_change` (bool); free it with `glyc_table_free`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `trace` is NULL or a trace that was not freed; the others are NULL or valid to write.
glyc_status glyc_trace_gaps(const struct glyc_trace *trace,
                            struct glyc_table **table_out,
                            struct glyc_error **error);

// The same trace with the instants at which another sensor took over; nothing is joined across
// them.
//
// `trace` (in): borrowed for the call and copied; its own breaks are replaced.
// `breaks_ms` (in): `len` instants, UTC ms, in any order: the first reading at or after one is of
// another sensor. NULL and 0 for none. Copied.
// `trace_out` (out): the new trace; free it with `glyc_trace_free`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `trace` is NULL or a trace that was not freed; the others are NULL or valid as named above.
glyc_status glyc_trace_with_breaks(const struct glyc_trace *trace,
                                   const int64_t *breaks_ms,
                                   size_t len,
                                   struct glyc_trace **trace_out,
                                   struct glyc_error **error);

// Number of instants at which another sensor took over; 0 for NULL. Since 0.1.
//
// # Safety
// `trace` is NULL or a trace that was not freed.
size_t glyc_trace_breaks_len(const struct glyc_trace *trace);

// Instants at which another sensor took over, UTC milliseconds, `glyc_trace_breaks_len` of
// them, rising strictly; borrowed from `trace`. NULL for NULL. Since 0.1.
//
// # Safety
// `trace` is NULL or a trace that was not freed.
const int64_t *glyc_trace_breaks_ms(const struct glyc_trace *trace);

// Shares of a trace's readings in ranges, in percent, by reading; both ends count.
//
// `trace` (in): borrowed for the call.
// `low_mg_dl`, `high_mg_dl` (in): `len` limits each, 1 or more, each rounded to the step of the
// unit that the trace was measured in (whole mg/dL, tenths of mmol/L). Ranges may overlap.
// `shares_out` (out): room for `len` shares, written only on `GLYC_STATUS_OK`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `TOO_FEW_VALUES`, `NOT_FINITE`, `OUT_OF_RANGE` (a lower limit that is not below its
// upper; the error has the index), `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `trace` is NULL or a trace that was not freed; the others are NULL or valid for the items
// named above.
glyc_status glyc_trace_shares(const struct glyc_trace *trace,
                              const double *low_mg_dl,
                              const double *high_mg_dl,
                              size_t len,
                              double *shares_out,
                              struct glyc_error **error);

// How much data a trace holds, by the consensus of 14 days and 70 % active time.
//
// `trace` (in): borrowed for the call.
// `period_ms` (in): NULL, or two instants, the reporting period: from the first on and before
// the second, UTC ms. Without it, from first to last reading and one interval.
// `sufficiency_out` (out): the new object; free it with `glyc_sufficiency_free`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `OUT_OF_RANGE` (a period that does not end after it begins, or lies outside 1970 to
// 2100), `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `trace` is NULL or a trace that was not freed; the others are NULL or valid as named above.
glyc_status glyc_sufficiency_new(const struct glyc_trace *trace,
                                 const int64_t *period_ms,
                                 struct glyc_sufficiency **sufficiency_out,
                                 struct glyc_error **error);

// A figure of how much data there is.
//
// `which` (in): one of `GLYC_SUFFICIENCY_*`, which says the unit.
// `figure_out` (out): the figure; written only on `GLYC_STATUS_OK`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `NOT_ESTIMABLE` (no clock, or no gap), `UNKNOWN_CHOICE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `sufficiency` is NULL or was not freed; the others are NULL or valid to write.
glyc_status glyc_sufficiency_figure(const struct glyc_sufficiency *sufficiency,
                                    uint32_t which,
                                    double *figure_out,
                                    struct glyc_error **error);

// Readings by hour of the local day.
//
// `table_out` (out): 24 rows: `hour`, `readings` (i64), `unseen` (bool: none), `thin` (bool: some,
// but fewer than a third of the mean hour's); free it with `glyc_table_free`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `NOT_ESTIMABLE` (no clock), `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `sufficiency` is NULL or was not freed; the others are NULL or valid to write.
glyc_status glyc_sufficiency_hours(const struct glyc_sufficiency *sufficiency,
                                   struct glyc_table **table_out,
                                   struct glyc_error **error);

// Frees the object; nothing for NULL. Since 0.1.
//
// # Safety
// `sufficiency` is NULL or was not freed, and is not used again.
void glyc_sufficiency_free(struct glyc_sufficiency *sufficiency);

// Days needed to know a measure to a given width, from how much the full local days of a trace
// differ; for means, shares and mean risks only.
//
// `trace` (in): made with a clock; borrowed for the call.
// `measure_id` (in): one of `GLYC_MEASURE_*`.
// `half_width` (in): wanted width either way, in `glyc_measure_unit`; over 0.
// `level` (in): confidence level, from 0.5 to 0.9999.
// `days_out` (out): the number of days; written only on `GLYC_STATUS_OK`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `NOT_ESTIMABLE` (no clock, fewer than seven full days, days that don't differ, not a
// mean, or over a hundred years), `UNKNOWN_CHOICE`, `NOT_FINITE`, `OUT_OF_RANGE`,
// `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `trace` is NULL or a trace that was not freed; the others are NULL or valid to write.
glyc_status glyc_trace_days_needed(const struct glyc_trace *trace,
                                   uint32_t measure_id,
                                   double half_width,
                                   double level,
                                   size_t *days_out,
                                   struct glyc_error **error);

// The fewest days at which the mean of independent day values is known to a given width.
//
// `sd` (in): standard deviation between days, 0 or more.
// `half_width` (in): wanted width either way, in the unit of `sd`; over 0.
// `level` (in): confidence level, from 0.5 to 0.9999.
// `days_out` (out): the number of days, 2 or more; written only on `GLYC_STATUS_OK`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `NOT_ESTIMABLE` (over a hundred years), `NOT_FINITE`, `OUT_OF_RANGE`,
// `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// Each pointer is NULL or valid to write one item to.
glyc_status glyc_days_needed(double sd,
                             double half_width,
                             double level,
                             size_t *days_out,
                             struct glyc_error **error);

// Area of a curve measured from zero.
//
// `minutes`, `values` (in): `len` items each, 2 or more; borrowed for the call.
// `area_out` (out): in the unit of `values` times minutes; written only on `GLYC_STATUS_OK`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `TOO_FEW_VALUES`, `UNORDERED_TIME`, `NOT_FINITE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// Each pointer is NULL or valid for the items named above.
glyc_status glyc_area_total(const double *minutes,
                            const double *values,
                            size_t len,
                            double *area_out,
                            struct glyc_error **error);

// Area of a curve measured from a baseline.
//
// `minutes`, `values` (in): `len` items each, 2 or more; borrowed for the call.
// `baseline` (in): the level that counts as zero; NULL for the first value.
// `rule` (in): one of `GLYC_RULE_*`.
// `area_out` (out): in the unit of `values` times minutes; written only on `GLYC_STATUS_OK`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `TOO_FEW_VALUES`, `UNORDERED_TIME`, `NOT_FINITE` (also a NaN baseline),
// `UNKNOWN_CHOICE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// Each pointer is NULL or valid for the items named above.
glyc_status glyc_area_incremental(const double *minutes,
                                  const double *values,
                                  size_t len,
                                  const double *baseline,
                                  uint32_t rule,
                                  double *area_out,
                                  struct glyc_error **error);

// New options, all at their defaults.
//
// `options_out` (out): the new options; free them with `glyc_panel_options_free`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// Each pointer is NULL or valid to write one item to.
glyc_status glyc_panel_options_new(struct glyc_panel_options **options_out,
                                   struct glyc_error **error);

// Sets the level at which the M-value is 0.
//
// `m_reference_mg_dl` (in): from 20 to 600 mg/dL; the default is 120.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `NOT_FINITE`, `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `options` is NULL or was not freed; `error` is NULL or valid to write.
glyc_status glyc_panel_options_set_m_reference_mg_dl(struct glyc_panel_options *options,
                                                     double m_reference_mg_dl,
                                                     struct glyc_error **error);

// Sets how GRADE sums up the readings.
//
// `grade` (in): one of `GLYC_GRADE_*`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `UNKNOWN_CHOICE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `options` is NULL or was not freed; `error` is NULL or valid to write.
glyc_status glyc_panel_options_set_grade(struct glyc_panel_options *options,
                                         uint32_t grade,
                                         struct glyc_error **error);

// Sets which printed constants the risk function takes; results differ by about 0.1 %.
//
// `risk_constants` (in): one of `GLYC_RISK_CONSTANTS_*`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `UNKNOWN_CHOICE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `options` is NULL or was not freed; `error` is NULL or valid to write.
glyc_status glyc_panel_options_set_risk_constants(struct glyc_panel_options *options,
                                                  uint32_t risk_constants,
                                                  struct glyc_error **error);

// Sets the SD that an excursion must exceed to count in MAGE.
//
// `mage_sd` (in): one of `GLYC_MAGE_SD_*`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `UNKNOWN_CHOICE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `options` is NULL or was not freed; `error` is NULL or valid to write.
glyc_status glyc_panel_options_set_mage_sd(struct glyc_panel_options *options,
                                           uint32_t mage_sd,
                                           struct glyc_error **error);

// Sets which pairs of readings 24 h apart count in MODD.
//
// `modd_pairs` (in): one of `GLYC_MODD_PAIRS_*`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `UNKNOWN_CHOICE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `options` is NULL or was not freed; `error` is NULL or valid to write.
glyc_status glyc_panel_options_set_modd_pairs(struct glyc_panel_options *options,
                                              uint32_t modd_pairs,
                                              struct glyc_error **error);

// Sets how long readings in a row last, for the measures that count episodes.
//
// `episode_length` (in): one of `GLYC_EPISODE_LENGTH_*`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `UNKNOWN_CHOICE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `options` is NULL or was not freed; `error` is NULL or valid to write.
glyc_status glyc_panel_options_set_episode_length(struct glyc_panel_options *options,
                                                  uint32_t episode_length,
                                                  struct glyc_error **error);

// Sets what the lability index is.
//
// `lability` (in): one of `GLYC_LABILITY_*`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `UNKNOWN_CHOICE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `options` is NULL or was not freed; `error` is NULL or valid to write.
glyc_status glyc_panel_options_set_lability(struct glyc_panel_options *options,
                                            uint32_t lability,
                                            struct glyc_error **error);

// Sets the period that `GLYC_MEASURE_ACTIVE_PCT` is a share of; without it, from the first to
// the last reading.
//
// `from_ms`, `to_ms` (in): from this instant on and before that one, UTC milliseconds.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `OUT_OF_RANGE` (it does not end after its start), `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `options` is NULL or was not freed; `error` is NULL or valid to write.
glyc_status glyc_panel_options_set_reporting_period(struct glyc_panel_options *options,
                                                    int64_t from_ms,
                                                    int64_t to_ms,
                                                    struct glyc_error **error);

// Frees options; nothing for NULL. Panels and histograms made with them keep their own copy.
// Since 0.1.
//
// # Safety
// `options` is NULL or was not freed, and is not used again.
void glyc_panel_options_free(struct glyc_panel_options *options);

// Computes every measure of a trace.
//
// `trace` (in): borrowed for the call.
// `meals_ms` (in): `n_meals` instants of logged meals, UTC ms, to find each day's first; NULL and
// 0 without a diary (fasting is then 06:00-07:00 local). Borrowed for the call.
// `panel_out` (out): the new panel; free it with `glyc_panel_free`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `trace` is NULL or a trace that was not freed; the others are NULL or valid as named above.
glyc_status glyc_panel_new(const struct glyc_trace *trace,
                           const int64_t *meals_ms,
                           size_t n_meals,
                           struct glyc_panel **panel_out,
                           struct glyc_error **error);

// Computes every measure of a trace with choices of the caller's own.
//
// `trace`, `meals_ms`, `n_meals` (in): as for `glyc_panel_new`.
// `options` (in): borrowed for the call; NULL for the defaults.
// `panel_out` (out): the new panel; free it with `glyc_panel_free`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `trace` and `options` are NULL or were not freed; the others are NULL or valid as named above.
glyc_status glyc_panel_new_with(const struct glyc_trace *trace,
                                const int64_t *meals_ms,
                                size_t n_meals,
                                const struct glyc_panel_options *options,
                                struct glyc_panel **panel_out,
                                struct glyc_error **error);

// The value of a measure.
//
// `measure_id` (in): one of `GLYC_MEASURE_*`.
// `value_out` (out): the value, in `glyc_measure_unit`; written only on `GLYC_STATUS_OK`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `NOT_ESTIMABLE` (the error holds the reason, and so does `glyc_panel_reason`),
// `UNKNOWN_CHOICE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `panel` is NULL or a panel that was not freed; the others are NULL or valid to write.
glyc_status glyc_panel_value(const struct glyc_panel *panel,
                             uint32_t measure_id,
                             double *value_out,
                             struct glyc_error **error);

// Why a measure is missing, one sentence for people (UTF-8); NULL if it is not, and for NULL or
// an unknown id. Borrowed from `panel`. Since 0.1.
//
// # Safety
// `panel` is NULL or a panel that was not freed.
const char *glyc_panel_reason(const struct glyc_panel *panel, uint32_t measure_id);

// Why a measure is missing, a stable word for programs such as "no_zone"; NULL as for
// `glyc_panel_reason`. Borrowed from `panel`. Since 0.1.
//
// # Safety
// `panel` is NULL or a panel that was not freed.
const char *glyc_panel_reason_code(const struct glyc_panel *panel, uint32_t measure_id);

// Whether the reason counts something; if so, how many there were and how many it takes is
// written to `had_out` and `needed_out` (each NULL if not wanted). Since 0.1.
//
// # Safety
// `panel` is NULL or a panel that was not freed; the others are NULL or valid to write.
bool glyc_panel_reason_counts(const struct glyc_panel *panel,
                              uint32_t measure_id,
                              double *had_out,
                              double *needed_out);

// Frees a panel; nothing for NULL. Since 0.1.
//
// # Safety
// `panel` is NULL or a panel that was not freed, and is not used again.
void glyc_panel_free(struct glyc_panel *panel);

// Computes the interval of every measure of a trace, as this sensor reads: day-to-day variation
// only, not the sensor's own error.
//
// `trace`, `meals_ms`, `n_meals` (in): as for `glyc_panel_new`.
// `level` (in): confidence level, from 0.5 to 0.999.
// `intervals_out` (out): the new intervals; free them with `glyc_intervals_free`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `OUT_OF_RANGE`, `NOT_FINITE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `trace` is NULL or a trace that was not freed; the others are NULL or valid as named above.
glyc_status glyc_intervals_new(const struct glyc_trace *trace,
                               const int64_t *meals_ms,
                               size_t n_meals,
                               double level,
                               struct glyc_intervals **intervals_out,
                               struct glyc_error **error);

// The interval of a measure. It may lack an end, or both, while the value is there:
// `glyc_estimate.present` says so and `glyc_intervals_reason` says why.
//
// `measure_id` (in): one of `GLYC_MEASURE_*`.
// `estimate_out` (out): in `glyc_measure_unit`; written only on `GLYC_STATUS_OK`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `NOT_ESTIMABLE`, `UNKNOWN_CHOICE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `intervals` is NULL or was not freed; the others are NULL or valid to write.
glyc_status glyc_intervals_estimate(const struct glyc_intervals *intervals,
                                    uint32_t measure_id,
                                    struct glyc_estimate *estimate_out,
                                    struct glyc_error **error);

// Why the value or an end of the interval is missing, one sentence for people (UTF-8); NULL if
// nothing is, and for NULL or an unknown id. Borrowed from `intervals`. Since 0.1.
//
// # Safety
// `intervals` is NULL or was not freed.
const char *glyc_intervals_reason(const struct glyc_intervals *intervals, uint32_t measure_id);

// How the value and its interval were made, in a few words (UTF-8); NULL for NULL or an unknown
// id. Borrowed from `intervals`. Since 0.1.
//
// # Safety
// `intervals` is NULL or was not freed.
const char *glyc_intervals_method(const struct glyc_intervals *intervals, uint32_t measure_id);

// Frees intervals; nothing for NULL. Since 0.1.
//
// # Safety
// `intervals` is NULL or was not freed, and is not used again.
void glyc_intervals_free(struct glyc_intervals *intervals);

// Number of measures in this version of the library. Since 0.1.
size_t glyc_measure_count(void);

// The id of a measure by its place, counted from 0 and less than `glyc_measure_count`; 0, which
// is no measure, beyond. Since 0.1.
uint32_t glyc_measure_id_at(size_t position);

// The id of a measure by its name.
//
// `name` (in): such as "mean_mg_dl", ended by a zero.
// `measure_id_out` (out): one of `GLYC_MEASURE_*`; written only on `GLYC_STATUS_OK`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `UNKNOWN_CHOICE`, `NOT_UTF8`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `name` is NULL or ends with a zero; the others are NULL or valid to write.
glyc_status glyc_measure_id_from_name(const char *name,
                                      uint32_t *measure_id_out,
                                      struct glyc_error **error);

// Name of a measure, such as "mean_mg_dl"; NULL for an unknown id. Valid for ever. Since 0.1.
const char *glyc_measure_name(uint32_t measure_id);

// Unit of a measure, a UCUM code ("1" for a count); NULL for an unknown id. Valid for ever.
// Since 0.1.
const char *glyc_measure_unit(uint32_t measure_id);

// What a measure is, in a few words (UTF-8); NULL for an unknown id. Valid for ever. Since 0.1.
const char *glyc_measure_what(uint32_t measure_id);

// Where a measure is published (UTF-8); NULL for an unknown id. Valid for ever. Since 0.1.
const char *glyc_measure_source(uint32_t measure_id);

// The measures that don't depend on order, for each part of a trace.
//
// `trace` (in): made with a clock; borrowed for the call.
// `by` (in): one of `GLYC_BY_*`.
// `table_out` (out): a row for each part: `part` (text), `n`, `local_days`, `censored_low`,
// `censored_high` (i64), then a column (f64) for each measure, called as `glyc_measure_name` has
// it, missing where a part has too few readings; free it with `glyc_table_free`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `NOT_ESTIMABLE` (no clock), `UNKNOWN_CHOICE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `trace` is NULL or a trace that was not freed; the others are NULL or valid to write.
glyc_status glyc_panel_by(const struct glyc_trace *trace,
                          uint32_t by,
                          struct glyc_table **table_out,
                          struct glyc_error **error);

// The measures that don't depend on order, for blocks of the local day of the caller's own.
//
// `trace` (in): made with a clock; borrowed for the call.
// `names` (in): `len` names, 1 or more, each ended by a zero; borrowed for the call.
// `from_min` (in): `len` minutes of the local day at which each block begins, from 0 to 1439.
// `to_min` (in): `len` minutes before which each ends, from 0 to 1440; when it is not after
// `from_min`, the block wraps midnight and belongs to the day on which it began.
// `table_out`, `error`: as for `glyc_panel_by`; `part` is the name.
//
// Statuses: `NOT_ESTIMABLE` (no clock), `TOO_FEW_VALUES`, `OUT_OF_RANGE`, `NOT_UTF8`,
// `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `trace` is NULL or a trace that was not freed; the others are NULL or valid as named above.
glyc_status glyc_panel_by_block(const struct glyc_trace *trace,
                                const char *const *names,
                                const uint32_t *from_min,
                                const uint32_t *to_min,
                                size_t len,
                                struct glyc_table **table_out,
                                struct glyc_error **error);

// The episodes of a trace by a published rule.
//
// `trace` (in): borrowed for the call.
// `rule` (in): one of `GLYC_EPISODES_*`.
// `episode_length` (in): one of `GLYC_EPISODE_LENGTH_*`.
// `table_out` (out): a row each, in order: `rule` (text), `start_ms` and `end_ms` (i64, UTC ms),
// `minutes`, `extreme_mg_dl`, `level_mg_dl` (f64), `nocturnal` (bool, missing without a clock),
// `cut` (bool: it touches a gap or an end, so it lasted at least so long), `sensor_change`
// (bool); free it with `glyc_table_free`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `UNKNOWN_CHOICE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `trace` is NULL or a trace that was not freed; the others are NULL or valid to write.
glyc_status glyc_episodes(const struct glyc_trace *trace,
                          uint32_t rule,
                          uint32_t episode_length,
                          struct glyc_table **table_out,
                          struct glyc_error **error);

// The episodes of a trace beyond a level of the caller's own; the column `rule` says `custom`.
//
// `trace` (in): borrowed for the call.
// `side` (in): one of `GLYC_SIDE_*`.
// `level_mg_dl` (in): the level, from 10 to 2000; not part of the episode itself.
// `recovery_mg_dl` (in): glucose is back when it is at this limit or on the other side of it; not
// on the episode's side of the level.
// `hold_min` (in): minutes in a row that start an episode, from 0.1 to a week; 15 is usual.
// `recovery_min` (in): minutes in a row back that end it, from 0.1 to a week; 15 is usual.
// `episode_length`, `table_out`, `error`: as for `glyc_episodes`. For a trace measured in mmol/L
// both limits are rounded to tenths of mmol/L.
//
// Statuses: `UNKNOWN_CHOICE`, `NOT_FINITE`, `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `trace` is NULL or a trace that was not freed; the others are NULL or valid to write.
glyc_status glyc_episodes_beyond(const struct glyc_trace *trace,
                                 uint32_t side,
                                 double level_mg_dl,
                                 double recovery_mg_dl,
                                 double hold_min,
                                 double recovery_min,
                                 uint32_t episode_length,
                                 struct glyc_table **table_out,
                                 struct glyc_error **error);

// Percentile curves of a trace by local time of day, all days laid over one another.
//
// `trace` (in): made with a clock; borrowed for the call.
// `step_min` (in): minutes between the points, a divisor of 1440; 15 is usual.
// `smoothing` (in): one of `GLYC_SMOOTHING_*`; local is usual.
// `width_min` (in): minutes, from 1 to 720, 30 is usual; 0 with `GLYC_SMOOTHING_NONE`.
// `percentiles` (in): `n_percentiles` numbers from 0 to 100, rising; borrowed for the call. NULL
// and 0 for 5, 25, 50, 75 and 95.
// `table_out` (out): a row for each step from midnight on: `minute_of_day`, `days`, `n` (i64), a
// column such as `p05_mg_dl` (f64) for each percentile, `reason` (text: a word for why some are
// missing); free it with `glyc_table_free`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `NOT_ESTIMABLE` (no clock), `UNKNOWN_CHOICE` (step or smoothing), `NOT_FINITE`,
// `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `trace` is NULL or a trace that was not freed; the others are NULL or valid as named above.
glyc_status glyc_modal_day(const struct glyc_trace *trace,
                           uint32_t step_min,
                           uint32_t smoothing,
                           double width_min,
                           const double *percentiles,
                           size_t n_percentiles,
                           struct glyc_table **table_out,
                           struct glyc_error **error);

// A panel beside the published targets of a population, a row for each target.
//
// `panel` (in): borrowed for the call.
// `trace` (in): the readings of the panel, for the ranges that only pregnancy has; NULL without
// them (those rows then have no value). Borrowed for the call.
// `population` (in): one of `GLYC_POPULATION_*`.
// `table_out` (out): `measure` (text), `value`, `target` (f64), `bound` (text: `above`, `below`,
// `at_most`, `none_set`), `met` (bool, missing without a value or a target), `source`, `status`
// (text); free it with `glyc_table_free`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `UNKNOWN_CHOICE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `panel` and `trace` are NULL or were not freed; the others are NULL or valid to write.
glyc_status glyc_panel_assess(const struct glyc_panel *panel,
                              const struct glyc_trace *trace,
                              uint32_t population,
                              struct glyc_table **table_out,
                              struct glyc_error **error);

// An empty histogram.
//
// `unit` (in): one of `GLYC_UNIT_*`, the unit that the sensor showed.
// `options` (in): copied; NULL for the defaults. A histogram heeds the M reference, GRADE and the
// constants of the risk function.
// `histogram_out` (out): the new histogram; free it with `glyc_histogram_free`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `UNKNOWN_CHOICE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `options` is NULL or was not freed; the others are NULL or valid to write.
glyc_status glyc_histogram_new(uint32_t unit,
                               const struct glyc_panel_options *options,
                               struct glyc_histogram **histogram_out,
                               struct glyc_error **error);

// A copy of a histogram.
//
// `histogram_out` (out): the copy; free it with `glyc_histogram_free`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `histogram` is NULL or was not freed; the others are NULL or valid to write.
glyc_status glyc_histogram_clone(const struct glyc_histogram *histogram,
                                 struct glyc_histogram **histogram_out,
                                 struct glyc_error **error);

// The unit of a histogram, one of `GLYC_UNIT_*`; 0 for NULL. Since 0.1.
//
// # Safety
// `histogram` is NULL or was not freed.
uint32_t glyc_histogram_unit(const struct glyc_histogram *histogram);

// Number of readings; 0 for NULL. Since 0.1.
//
// # Safety
// `histogram` is NULL or was not freed.
uint64_t glyc_histogram_n(const struct glyc_histogram *histogram);

// Counts a reading.
//
// `glucose` (in): in the histogram's unit, as `glyc_trace_new` takes it.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `OFF_GRID` (not whole mg/dL or tenths of mmol/L, not positive, or over 2000 mg/dL),
// `NOT_FINITE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `histogram` is NULL or was not freed; `error` is NULL or valid to write.
glyc_status glyc_histogram_push(struct glyc_histogram *histogram,
                                double glucose,
                                struct glyc_error **error);

// Counts a reading that may stand at a limit of the sensor.
//
// `glucose` (in): as for `glyc_histogram_push`; that limit, if it stands at one.
// `censor` (in): one of `GLYC_CENSOR_*`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: as for `glyc_histogram_push`; `OUT_OF_RANGE` for an unknown `censor`. Since 0.1.
//
// # Safety
// `histogram` is NULL or was not freed; `error` is NULL or valid to write.
glyc_status glyc_histogram_push_censored(struct glyc_histogram *histogram,
                                         double glucose,
                                         uint32_t censor,
                                         struct glyc_error **error);

// Counts a reading as the device shows it, as a whole number.
//
// `code` (in): whole mg/dL, or tenths of mmol/L (78 is 7.8); from 1 to 2000 or 1110.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `histogram` is NULL or was not freed; `error` is NULL or valid to write.
glyc_status glyc_histogram_push_code(struct glyc_histogram *histogram,
                                     uint32_t code,
                                     struct glyc_error **error);

// Counts readings; all of them, or none if one can't be counted.
//
// `glucose` (in): `len` values as for `glyc_histogram_push`; borrowed for the call.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: as for `glyc_histogram_push`; the error has the index of the first bad one. Since 0.1.
//
// # Safety
// `histogram` is NULL or was not freed; the others are NULL or valid as named above.
glyc_status glyc_histogram_extend(struct glyc_histogram *histogram,
                                  const double *glucose,
                                  size_t len,
                                  struct glyc_error **error);

// Counts the readings of a trace, with those at the sensor's limits; all or none.
//
// `trace` (in): borrowed for the call.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `OFF_GRID` (with the index), `UNKNOWN_CHOICE` (a trace measured in the other unit),
// `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `histogram` and `trace` are NULL or were not freed; `error` is NULL or valid to write.
glyc_status glyc_histogram_extend_trace(struct glyc_histogram *histogram,
                                        const struct glyc_trace *trace,
                                        struct glyc_error **error);

// Adds the counts of another histogram.
//
// `histogram` (in, out): the one that grows; its options stay.
// `other` (in): borrowed for the call; may be the same one.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `UNKNOWN_CHOICE` (the other unit: its counts can't be carried over),
// `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `histogram` and `other` are NULL or were not freed; `error` is NULL or valid to write.
glyc_status glyc_histogram_merge(struct glyc_histogram *histogram,
                                 const struct glyc_histogram *other,
                                 struct glyc_error **error);

// The value of a measure that needs no more than the readings in any order.
//
// `measure_id` (in): one of `GLYC_MEASURE_*`.
// `value_out` (out): the value, in `glyc_measure_unit`; written only on `GLYC_STATUS_OK`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `NOT_ESTIMABLE` (the error holds the reason, and so does `glyc_histogram_reason`; its
// code is "not_computed" for a measure that needs the times), `UNKNOWN_CHOICE`,
// `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `histogram` is NULL or was not freed; the others are NULL or valid to write.
glyc_status glyc_histogram_value(const struct glyc_histogram *histogram,
                                 uint32_t measure_id,
                                 double *value_out,
                                 struct glyc_error **error);

// Why a measure is missing, one sentence for people (UTF-8); NULL if it is not, and for NULL or
// an unknown id. Borrowed from `histogram` until it changes. Since 0.1.
//
// # Safety
// `histogram` is NULL or was not freed.
const char *glyc_histogram_reason(const struct glyc_histogram *histogram, uint32_t measure_id);

// Why a measure is missing, a stable word for programs; NULL as for `glyc_histogram_reason`.
// Borrowed from `histogram` until it changes. Since 0.1.
//
// # Safety
// `histogram` is NULL or was not freed.
const char *glyc_histogram_reason_code(const struct glyc_histogram *histogram, uint32_t measure_id);

// Whether the reason counts something; if so, how many there were and how many it takes is
// written to `had_out` and `needed_out` (each NULL if not wanted). Since 0.1.
//
// # Safety
// `histogram` is NULL or was not freed; the others are NULL or valid to write.
bool glyc_histogram_reason_counts(const struct glyc_histogram *histogram,
                                  uint32_t measure_id,
                                  double *had_out,
                                  double *needed_out);

// Writes a histogram as bytes, to be kept and read by `glyc_histogram_load`; its options are not
// among them.
//
// `buffer` (out): room for `size` bytes; NULL and 0 to learn how many are needed.
// `needed_out` (out): number of bytes; may be NULL if `buffer` is not.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `OUT_OF_RANGE` (`size` is too small; nothing is written), `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `histogram` is NULL or was not freed; the others are NULL or valid as named above.
glyc_status glyc_histogram_save(const struct glyc_histogram *histogram,
                                uint8_t *buffer,
                                size_t size,
                                size_t *needed_out,
                                struct glyc_error **error);

// Reads a histogram that `glyc_histogram_save` wrote.
//
// `bytes` (in): `len` bytes; borrowed for the call.
// `options`, `histogram_out`: as for `glyc_histogram_new`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `BAD_BYTES`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `options` is NULL or was not freed; the others are NULL or valid as named above.
glyc_status glyc_histogram_load(const uint8_t *bytes,
                                size_t len,
                                const struct glyc_panel_options *options,
                                struct glyc_histogram **histogram_out,
                                struct glyc_error **error);

// Frees a histogram; nothing for NULL. Since 0.1.
//
// # Safety
// `histogram` is NULL or was not freed, and is not used again.
void glyc_histogram_free(struct glyc_histogram *histogram);

// An empty stream.
//
// `unit` (in): one of `GLYC_UNIT_*`, the unit that the sensor shows.
// `nominal_min` (in): minutes between readings as a rule, from a second to an hour.
// `clock` (in): local time, copied; NULL if unknown. Only streams with the same clock are joined.
// `stream_out` (out): the new stream; free it with `glyc_stream_free`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `UNKNOWN_CHOICE`, `NOT_FINITE`, `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `clock` is NULL or was not freed; the others are NULL or valid to write.
glyc_status glyc_stream_new(uint32_t unit,
                            double nominal_min,
                            const struct glyc_clock *clock,
                            struct glyc_stream **stream_out,
                            struct glyc_error **error);

// The unit of a stream, one of `GLYC_UNIT_*`; 0 for NULL. Since 0.1.
//
// # Safety
// `stream` is NULL or was not freed.
uint32_t glyc_stream_unit(const struct glyc_stream *stream);

// Number of readings; 0 for NULL. Since 0.1.
//
// # Safety
// `stream` is NULL or was not freed.
uint64_t glyc_stream_n(const struct glyc_stream *stream);

// Takes in a reading; a late one is put in its place if it is less than 25 h older than the
// latest. On an error the stream stays as it was.
//
// `time_ms` (in): UTC milliseconds since 1970.
// `glucose` (in): in the stream's unit, as `glyc_trace_new` takes it.
// `pushed_out` (out): NULL, or where to put one of `GLYC_PUSHED_*`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `UNORDERED_TIME` (there is a reading at that instant), `OUT_OF_RANGE` (too late, or
// glucose not positive or over 2000 mg/dL), `IMPLAUSIBLE_TIME`, `OFF_GRID` (not whole mg/dL or
// tenths of mmol/L: such readings need a trace), `NOT_FINITE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `stream` is NULL or was not freed; the others are NULL or valid to write.
glyc_status glyc_stream_push(struct glyc_stream *stream,
                             int64_t time_ms,
                             double glucose,
                             uint32_t *pushed_out,
                             struct glyc_error **error);

// Takes in readings, in any order within 25 h; all of them, or none if one can't be taken.
//
// `times_ms`, `glucose` (in): `len` items each, as for `glyc_stream_push`; borrowed for the call.
// `added_out`, `inserted_out` (out): NULL, or where to put how many came in order and late.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: as for `glyc_stream_push`; the error has the index of the first bad one. Since 0.1.
//
// # Safety
// `stream` is NULL or was not freed; the others are NULL or valid as named above.
glyc_status glyc_stream_extend(struct glyc_stream *stream,
                               const int64_t *times_ms,
                               const double *glucose,
                               size_t len,
                               size_t *added_out,
                               size_t *inserted_out,
                               struct glyc_error **error);

// Joins a stream that begins after this one ends. On an error this one stays as it was.
//
// `stream` (in, out): the one that grows.
// `later` (in): borrowed for the call.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `UNKNOWN_CHOICE` (another unit or clock), `OUT_OF_RANGE` (another nominal interval,
// or its first reading is not later than the last one here), `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `stream` and `later` are NULL or were not freed; `error` is NULL or valid to write.
glyc_status glyc_stream_join(struct glyc_stream *stream,
                             const struct glyc_stream *later,
                             struct glyc_error **error);

// The value of a measure, by the default options; it needs no local day.
//
// `measure_id` (in): one of `GLYC_MEASURE_*`.
// `value_out` (out): the value, in `glyc_measure_unit`; written only on `GLYC_STATUS_OK`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// The first question after a change computes every measure, those after it look them up.
//
// Statuses: `NOT_ESTIMABLE` (the error holds the reason, and so does `glyc_stream_reason`; its code
// is "not_computed" for a measure that needs the whole trace), `UNKNOWN_CHOICE`,
// `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `stream` is NULL or was not freed; the others are NULL or valid to write.
glyc_status glyc_stream_value(const struct glyc_stream *stream,
                              uint32_t measure_id,
                              double *value_out,
                              struct glyc_error **error);

// Why a measure is missing, one sentence for people (UTF-8); NULL if it is not, and for NULL or
// an unknown id. Borrowed from `stream` until it changes. Since 0.1.
//
// # Safety
// `stream` is NULL or was not freed.
const char *glyc_stream_reason(const struct glyc_stream *stream, uint32_t measure_id);

// Why a measure is missing, a stable word for programs; NULL as for `glyc_stream_reason`.
// Borrowed from `stream` until it changes. Since 0.1.
//
// # Safety
// `stream` is NULL or was not freed.
const char *glyc_stream_reason_code(const struct glyc_stream *stream, uint32_t measure_id);

// Whether the reason counts something; if so, how many there were and how many it takes is
// written to `had_out` and `needed_out` (each NULL if not wanted). Since 0.1.
//
// # Safety
// `stream` is NULL or was not freed; the others are NULL or valid to write.
bool glyc_stream_reason_counts(const struct glyc_stream *stream,
                               uint32_t measure_id,
                               double *had_out,
                               double *needed_out);

// Writes a stream as bytes, to be kept and read by `glyc_stream_load`, its clock included.
//
// `buffer` (out): room for `size` bytes; NULL and 0 to learn how many are needed.
// `needed_out` (out): number of bytes; may be NULL if `buffer` is not.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `OUT_OF_RANGE` (`size` is too small; nothing is written), `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `stream` is NULL or was not freed; the others are NULL or valid as named above.
glyc_status glyc_stream_save(const struct glyc_stream *stream,
                             uint8_t *buffer,
                             size_t size,
                             size_t *needed_out,
                             struct glyc_error **error);

// Reads a stream that `glyc_stream_save` wrote. Only from where you keep your own: the checksum
// finds accidents, not forgery.
//
// `bytes` (in): `len` bytes; borrowed for the call.
// `stream_out` (out): the new stream; free it with `glyc_stream_free`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `BAD_BYTES`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// Each pointer is NULL or valid for the items named above.
glyc_status glyc_stream_load(const uint8_t *bytes,
                             size_t len,
                             struct glyc_stream **stream_out,
                             struct glyc_error **error);

// Frees a stream; nothing for NULL. Since 0.1.
//
// # Safety
// `stream` is NULL or was not freed, and is not used again.
void glyc_stream_free(struct glyc_stream *stream);

// Share of pairs within `mg_dl` below the switch point and within `pct` percent at or above it.
//
// `reference`, `measured` (in): `len` items each, 1 or more, mg/dL; borrowed for the call.
// `cluster` (in): each pair's cluster (for one person the local day); NULL for independent pairs.
// `mg_dl`, `pct`, `switch_mg_dl` (in): the limits, such as 15, 15 and 100.
// `level` (in): confidence level, from 0.5 to 0.999.
// `share_out` (out): the share from 0 to 1 with its exact interval; `n` is the number of pairs.
// `count_out` (out): NULL, or where to put how many pairs lie within.
// `n_effective_out` (out): NULL, or where to put the effective number of independent pairs.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `TOO_FEW_VALUES`, `NOT_FINITE`, `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// Each pointer is NULL or valid for the items named above.
glyc_status glyc_agreement_within(const double *reference,
                                  const double *measured,
                                  const int64_t *cluster,
                                  size_t len,
                                  double mg_dl,
                                  double pct,
                                  double switch_mg_dl,
                                  double level,
                                  struct glyc_estimate *share_out,
                                  size_t *count_out,
                                  double *n_effective_out,
                                  struct glyc_error **error);

// Bias, limits of agreement and slope of the changes that meals made, from pairs of meter and
// sensor: of each meal the pair nearest to its start (45 minutes before to 5 after) and the one
// nearest to 90 minutes after it (30 to 150). A slope below 1 may be a late sensor.
//
// `times_ms`, `meter_mg_dl`, `sensor_mg_dl` (in): `len` pairs; borrowed for the call.
// `day` (in): each pair's local day, the unit of the intervals.
// `meals_ms` (in): when `n_meals` meals began, UTC milliseconds, in any order.
// `meter_sd_mg_dl` (in): SD of repeated readings of the meter, 0 to 100; NaN where unknown (the
// slope is then Deming's with equal errors).
// `level` (in): confidence level, 0.5 to 0.999.
// `table_out` (out): estimates `bias_mg_dl`, `lower_mg_dl`, `upper_mg_dl`, `slope`; free it with
// `glyc_table_free`. Too few changes are a reason in it.
// `changes_out` (out): NULL, or where to put a row for each change: `meal`, `before`, `after`
// (counted from 0 as given), `meter_mg_dl`, `sensor_mg_dl`, `difference_mg_dl`, `day`; free it
// with `glyc_table_free`.
// `skipped_out` (out): NULL, or where to put the other meals: `meal`, `why`; free it with
// `glyc_table_free`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `NOT_FINITE`, `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// Each pointer is NULL or valid for the items named above.
glyc_status glyc_agreement_changes(const int64_t *times_ms,
                                   const double *meter_mg_dl,
                                   const double *sensor_mg_dl,
                                   const int64_t *day,
                                   size_t len,
                                   const int64_t *meals_ms,
                                   size_t n_meals,
                                   double meter_sd_mg_dl,
                                   double level,
                                   struct glyc_table **table_out,
                                   struct glyc_table **changes_out,
                                   struct glyc_table **skipped_out,
                                   struct glyc_error **error);

// Relative difference, bias and spread of pairs.
//
// `reference`, `measured` (in): `len` items each, 1 or more, mg/dL; borrowed for the call.
// `cluster` (in): each pair's cluster (for one person the local day); NULL for independent pairs.
// `level` (in): confidence level, from 0.5 to 0.999.
// `table_out` (out): estimates `mard_pct`, `median_ard_pct`, `bias_mg_dl`, `bias_pct`,
// `sd_mg_dl`; free it with `glyc_table_free`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `TOO_FEW_VALUES`, `NOT_FINITE`, `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// Each pointer is NULL or valid for the items named above.
glyc_status glyc_agreement_summary(const double *reference,
                                   const double *measured,
                                   const int64_t *cluster,
                                   size_t len,
                                   double level,
                                   struct glyc_table **table_out,
                                   struct glyc_error **error);

// Bias and limits of agreement with their intervals: independent pairs, or with `subject`
// repeated measures whose true value varies (Bland and Altman 1999).
//
// `subject` (in): which pairs belong together; NULL for independent pairs.
// `table_out` (out): estimates `bias`, `lower`, `upper`, mg/dL, limits at 1.96 SD.
// The rest: as for `glyc_agreement_summary`; two pairs or more.
//
// Statuses: `TOO_FEW_VALUES`, `NOT_FINITE`, `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// Each pointer is NULL or valid for the items named above.
glyc_status glyc_agreement_limits(const double *reference,
                                  const double *measured,
                                  const int64_t *subject,
                                  size_t len,
                                  double level,
                                  struct glyc_table **table_out,
                                  struct glyc_error **error);

// A line through pairs with errors on both sides.
//
// `x`, `y` (in): `len` items each; borrowed for the call.
// `method` (in): one of `GLYC_LINE_*`.
// `variance_ratio` (in): variance of y's errors over that of x's, for Deming, such as 1.
// `level` (in): confidence level.
// `table_out` (out): estimates `slope` and `intercept`; free it with `glyc_table_free`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `TOO_FEW_VALUES`, `NOT_FINITE`, `OUT_OF_RANGE`, `UNKNOWN_CHOICE`, `NULL_ARGUMENT`.
// Since 0.1.
//
// # Safety
// Each pointer is NULL or valid for the items named above.
glyc_status glyc_agreement_line(const double *x,
                                const double *y,
                                size_t len,
                                uint32_t method,
                                double variance_ratio,
                                double level,
                                struct glyc_table **table_out,
                                struct glyc_error **error);

// Lin's concordance, as a table with one estimate, `concordance`.
//
// The arguments: as for `glyc_agreement_line`; three pairs or more.
//
// Statuses: `TOO_FEW_VALUES`, `NOT_FINITE`, `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// Each pointer is NULL or valid for the items named above.
glyc_status glyc_agreement_concordance(const double *x,
                                       const double *y,
                                       size_t len,
                                       double level,
                                       struct glyc_table **table_out,
                                       struct glyc_error **error);

// Pairs in the zones of an error grid.
//
// `reference`, `measured` (in): `len` items each, 1 or more, mg/dL; borrowed for the call.
// `grid` (in): one of `GLYC_GRID_*`.
// `zones_out` (out): NULL, or room for `len` letters, "A" to "E", a pair each; written only on
// `GLYC_STATUS_OK`.
// `table_out` (out): a row for each zone: `zone`, `pairs`, `percent`; free it with
// `glyc_table_free`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `TOO_FEW_VALUES`, `NOT_FINITE`, `OUT_OF_RANGE`, `UNKNOWN_CHOICE`, `NULL_ARGUMENT`.
// Since 0.1.
//
// # Safety
// Each pointer is NULL or valid for the items named above.
glyc_status glyc_agreement_error_grid(const double *reference,
                                      const double *measured,
                                      size_t len,
                                      uint32_t grid,
                                      uint8_t *zones_out,
                                      struct glyc_table **table_out,
                                      struct glyc_error **error);

// Relative difference, bias and shares within 15, 20, 30 and 40 (mg/dL below 100, else percent)
// for all pairs and by consensus bands of the reference.
//
// The arguments: as for `glyc_agreement_summary`.
// `table_out` (out): a row for each band, all pairs first; free it with `glyc_table_free`.
//
// Statuses: `TOO_FEW_VALUES`, `NOT_FINITE`, `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// Each pointer is NULL or valid for the items named above.
glyc_status glyc_agreement_accuracy(const double *reference,
                                    const double *measured,
                                    const int64_t *cluster,
                                    size_t len,
                                    double level,
                                    struct glyc_table **table_out,
                                    struct glyc_error **error);

// The numerical limits of a published standard, a row for each criterion.
//
// One person's sensor against a home meter can't pass a device standard: a verdict speaks of the
// numbers only ("numerical_limits_met", "numerical_limits_not_met", "too_few"). Limits known from
// memory have the `status` "unconfirmed".
//
// `standard` (in): one of `GLYC_STANDARD_*`.
// The rest: as for `glyc_agreement_summary`.
//
// Statuses: `TOO_FEW_VALUES`, `NOT_FINITE`, `OUT_OF_RANGE`, `UNKNOWN_CHOICE`, `NULL_ARGUMENT`.
// Since 0.1.
//
// # Safety
// Each pointer is NULL or valid for the items named above.
glyc_status glyc_agreement_standard(const double *reference,
                                    const double *measured,
                                    const int64_t *cluster,
                                    size_t len,
                                    uint32_t standard,
                                    double level,
                                    struct glyc_table **table_out,
                                    struct glyc_error **error);

// Makes a meter's readings from two arrays.
//
// `times_ms` (in): `len` instants, UTC milliseconds since 1970, in any order; copied.
// `glucose` (in): `len` values in `unit`, none missing; copied.
// `unit` (in): one of `GLYC_UNIT_*`.
// `meter_out` (out): the readings; free them with `glyc_meter_free`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `NOT_FINITE`, `OUT_OF_RANGE`, `IMPLAUSIBLE_TIME`, `IMPLAUSIBLE_UNIT`,
// `UNKNOWN_CHOICE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// Each pointer is NULL or valid for the items named above.
glyc_status glyc_meter_new(const int64_t *times_ms,
                           const double *glucose,
                           size_t len,
                           uint32_t unit,
                           struct glyc_meter **meter_out,
                           struct glyc_error **error);

// Number of readings; 0 for NULL. Since 0.1.
//
// # Safety
// `meter` is NULL or was not freed.
size_t glyc_meter_len(const struct glyc_meter *meter);

// Frees a meter's readings; nothing for NULL. Since 0.1.
//
// # Safety
// `meter` is NULL or was made by this library, and is not used again.
void glyc_meter_free(struct glyc_meter *meter);

// Pairs the meter's readings with the sensor's; bursts are averaged, nothing is lost silently.
//
// `meter`, `sensor` (in): borrowed for the call.
// `window_min` (in): how far a reading may lie from the meter's time, 0.1 to 60 minutes.
// `how` (in): one of `GLYC_HOW_*`.
// `lag_min` (in): the sensor is read so much later, -1440 to 1440; 0 for none.
// `pairs_out` (out): a row for each pair: `time_ms`, `reference_mg_dl`, `measured_mg_dl`,
// `rate_mg_dl_min` (where it can be told), `readings` (in a burst); free it with `glyc_table_free`.
// `unpaired_out` (out): NULL, or where to put the others: `time_ms`, `glucose_mg_dl`, `why`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `OUT_OF_RANGE`, `UNKNOWN_CHOICE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `meter` and `sensor` are NULL or were not freed; the others are NULL or valid to write.
glyc_status glyc_pairs_new(const struct glyc_meter *meter,
                           const struct glyc_trace *sensor,
                           double window_min,
                           uint32_t how,
                           double lag_min,
                           struct glyc_table **pairs_out,
                           struct glyc_table **unpaired_out,
                           struct glyc_error **error);

// How much later the sensor shows what the meter showed, by the meter's stamps, minutes: the lag
// less what the meter's clock is ahead; the two are one sum. Never applied silently.
//
// `meter`, `sensor` (in): borrowed for the call.
// `level` (in): confidence level, 0.5 to 0.999.
// `estimate_out` (out): minutes with their interval; written only on `GLYC_STATUS_OK`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `NOT_ESTIMABLE` (too few pairs while glucose moved), `OUT_OF_RANGE`,
// `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `meter` and `sensor` are NULL or were not freed; the others are NULL or valid to write.
glyc_status glyc_lag(const struct glyc_meter *meter,
                     const struct glyc_trace *sensor,
                     double level,
                     struct glyc_estimate *estimate_out,
                     struct glyc_error **error);

// How much the meter's clock is ahead of the sensor's, minutes, given a lag known from elsewhere.
//
// `lag_min`, `lag_se_min` (in): the lag and its standard error, 0 to 60 minutes each.
// The rest: as for `glyc_lag`.
//
// Statuses: `NOT_ESTIMABLE`, `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// As for `glyc_lag`.
glyc_status glyc_clock_offset(const struct glyc_meter *meter,
                              const struct glyc_trace *sensor,
                              double lag_min,
                              double lag_se_min,
                              double level,
                              struct glyc_estimate *estimate_out,
                              struct glyc_error **error);

// An empty diary.
//
// `diary_out` (out): the new diary; free it with `glyc_diary_free`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// Each pointer is NULL or valid to write.
glyc_status glyc_diary_new(struct glyc_diary **diary_out, struct glyc_error **error);

// Adds a meal.
//
// `diary` (in, out): changed; nothing is added when the call fails.
// `time_ms` (in): when it began, UTC milliseconds since 1970, in the years 1990 to 2099.
// `carbs_g`, `fiber_g`, `protein_g`, `fat_g` (in): grams, 0 to 2000; NaN where not known. Net
// carbohydrate is total less fibre (common practice, no source).
// `label` (in): NULL, or what it was; copied.
// `tags` (in): NULL, or words parted by semicolons, such as "grain;eating-out"; copied.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `diary` is NULL or was not freed and is used by nobody else meanwhile; each text is NULL or
// ends with a zero.
glyc_status glyc_diary_add_meal(struct glyc_diary *diary,
                                int64_t time_ms,
                                double carbs_g,
                                double fiber_g,
                                double protein_g,
                                double fat_g,
                                const char *label,
                                const char *tags,
                                struct glyc_error **error);

// Adds a walk or other activity.
//
// `diary` (in, out): changed; nothing is added when the call fails.
// `start_ms` (in): UTC milliseconds since 1970, in the years 1990 to 2099.
// `minutes` (in): how long, 0 to 1440.
// `kind` (in): such as "walk"; copied.
// `effort` (in): NULL, or "light", "moderate", "vigorous"; copied.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// As for `glyc_diary_add_meal`.
glyc_status glyc_diary_add_activity(struct glyc_diary *diary,
                                    int64_t start_ms,
                                    double minutes,
                                    const char *kind,
                                    const char *effort,
                                    struct glyc_error **error);

// Number of meals; 0 for NULL. Since 0.1.
//
// # Safety
// `diary` is NULL or was not freed.
size_t glyc_diary_meals(const struct glyc_diary *diary);

// Frees a diary; nothing for NULL. Since 0.1.
//
// # Safety
// `diary` is NULL or was made by this library, and is not used again.
void glyc_diary_free(struct glyc_diary *diary);

// What each meal of a diary did: baseline, peak, rise, areas, recovery.
//
// `trace`, `diary` (in): borrowed for the call.
// `rise_mg_dl`, `peak_mg_dl` (in): the person's own targets; NaN where there is none.
// `before_min` (in): minutes before the start for the baseline, 5 to 120, such as 30.
// `after_min` (in): minutes of the response, 60 to 480, such as 180.
// `seed` (in): key of the noise draws.
// `responses_out` (out): the responses; free them with `glyc_responses_free`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1. May take more than 100 ms for long traces.
//
// # Safety
// `trace` and `diary` are NULL or were not freed; the others are NULL or valid to write.
glyc_status glyc_responses_new(const struct glyc_trace *trace,
                               const struct glyc_diary *diary,
                               double rise_mg_dl,
                               double peak_mg_dl,
                               double before_min,
                               double after_min,
                               uint64_t seed,
                               struct glyc_responses **responses_out,
                               struct glyc_error **error);

// A row for each eating occasion, in order of time.
//
// `table_out` (out): the table; free it with `glyc_table_free`. Columns carry their unit, such as
// `rise_mg_dl` (as displayed), `rise_noise_aware_mg_dl`, `time_to_peak_min`, `net_carbs_g`;
// `clean` says whether the meal stands alone, `flags` what confounds it.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `responses` is NULL or was not freed; the others are NULL or valid to write.
glyc_status glyc_responses_table(const struct glyc_responses *responses,
                                 struct glyc_table **table_out,
                                 struct glyc_error **error);

// Meals that the trace suggests and the diary lacks: offered, never assumed.
//
// `table_out` (out): the table; free it with `glyc_table_free`. Columns `onset_ms`, `size_mg_dl`,
// `probability`, `first_hours`, `activity_near`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// As for `glyc_responses_table`.
glyc_status glyc_responses_suspected(const struct glyc_responses *responses,
                                     struct glyc_table **table_out,
                                     struct glyc_error **error);

// The smallest rise that can be told from no food on this sensor and person, mg/dL.
//
// `rise_out` (out): the rise; written only on `GLYC_STATUS_OK`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `NOT_ESTIMABLE` (too few windows without food), `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// As for `glyc_responses_table`.
glyc_status glyc_responses_smallest_rise(const struct glyc_responses *responses,
                                         double *rise_out,
                                         struct glyc_error **error);

// Frees responses; nothing for NULL. Since 0.1.
//
// # Safety
// `responses` is NULL or was made by this library, and is not used again.
void glyc_responses_free(struct glyc_responses *responses);

// Fits rises to grams of net carbohydrate: one line, no kinds of food.
//
// `grams`, `rises_mg_dl` (in): `len` items each; borrowed for the call.
// `rise_mg_dl` (in): the target, mg/dL over the baseline, 1 to 400; there is no default.
// `level` (in): confidence level, 0.5 to 0.999.
// `noise_sd_mg_dl` (in): SD that the sensor's noise gives these rises; 0 where unknown.
// `fit_out` (out): the fit; free it with `glyc_fit_free`. Too few meals or doses are an answer:
// the getters then say `NOT_ESTIMABLE` with the reason.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `NOT_FINITE`, `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// Each pointer is NULL or valid for the items named above.
glyc_status glyc_fit_new(const double *grams,
                         const double *rises_mg_dl,
                         size_t len,
                         double rise_mg_dl,
                         double level,
                         double noise_sd_mg_dl,
                         struct glyc_fit **fit_out,
                         struct glyc_error **error);

// Fits the clean meals with grams of a diary: slopes by kind of food, averaged over the person's
// own mix; meals tagged "eating-out" are left out.
//
// `responses` (in): borrowed for the call.
// `rise_mg_dl`, `level`, `fit_out`, `error`: as for `glyc_fit_new`.
//
// Statuses: `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `responses` is NULL or was not freed; the others are NULL or valid to write.
glyc_status glyc_fit_of_responses(const struct glyc_responses *responses,
                                  double rise_mg_dl,
                                  double level,
                                  struct glyc_fit **fit_out,
                                  struct glyc_error **error);

// Grams at which the mean rise meets the target; about half of such meals go over.
//
// `estimate_out` (out): grams with their interval; an end outside the doses eaten is open, and
// where the value is, the end that is there is a bound. Written only on `GLYC_STATUS_OK`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `NOT_ESTIMABLE` (the error holds the reason), `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `fit` is NULL or was not freed; the others are NULL or valid to write.
glyc_status glyc_fit_limit(const struct glyc_fit *fit,
                           struct glyc_estimate *estimate_out,
                           struct glyc_error **error);

// Safe grams: a new meal stays under the target with this probability.
//
// `probability` (in): 0.5 to 0.99, such as 0.8.
// `estimate_out`, `error`: as for `glyc_fit_limit`.
//
// Statuses: `NOT_ESTIMABLE`, `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// As for `glyc_fit_limit`.
glyc_status glyc_fit_safe(const struct glyc_fit *fit,
                          double probability,
                          struct glyc_estimate *estimate_out,
                          struct glyc_error **error);

// The same for the target and a peak together, at the person's own glucose before meals.
//
// `peak_mg_dl` (in): 1 to 1000.
// `before_mg_dl` (in): mean glucose before each meal given to `glyc_fit_new`, `len` of them in that
// order, borrowed for the call; NULL and 0 for a fit of responses, which knows them.
// The rest: as for `glyc_fit_safe`.
//
// Statuses: `NOT_ESTIMABLE`, `NOT_FINITE`, `OUT_OF_RANGE`, `LENGTH_MISMATCH`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// As for `glyc_fit_limit`; `before_mg_dl` is NULL or valid for `len` items.
glyc_status glyc_fit_safe_under_peak(const struct glyc_fit *fit,
                                     double probability,
                                     double peak_mg_dl,
                                     const double *before_mg_dl,
                                     size_t len,
                                     struct glyc_estimate *estimate_out,
                                     struct glyc_error **error);

// Mean rise at `grams`, mg/dL; only inside the doses eaten.
//
// `estimate_out`, `error`: as for `glyc_fit_limit`.
//
// Statuses: `NOT_ESTIMABLE`, `NOT_FINITE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// As for `glyc_fit_limit`.
glyc_status glyc_fit_predict(const struct glyc_fit *fit,
                             double grams,
                             struct glyc_estimate *estimate_out,
                             struct glyc_error **error);

// Grams that would have gone with this rise on average: "behaved like about X g", never
// "contained". Not for a meal that was picked because its rise was extreme.
//
// `estimate_out`, `error`: as for `glyc_fit_limit`.
//
// Statuses: `NOT_ESTIMABLE`, `NOT_FINITE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// As for `glyc_fit_limit`.
glyc_status glyc_fit_equivalent_load(const struct glyc_fit *fit,
                                     double rise_mg_dl,
                                     struct glyc_estimate *estimate_out,
                                     struct glyc_error **error);

// Meals used by a fit; 0 for NULL. Since 0.1.
//
// # Safety
// `fit` is NULL or was not freed.
size_t glyc_fit_meals(const struct glyc_fit *fit);

// Frees a fit; nothing for NULL. Since 0.1.
//
// # Safety
// `fit` is NULL or was made by this library, and is not used again.
void glyc_fit_free(struct glyc_fit *fit);

// Mean limits for each kind of food and part of the day.
//
// `responses` (in): borrowed for the call; parts of the day need the trace's clock.
// `rise_mg_dl`, `level` (in): as for `glyc_fit_new`.
// `table_out` (out): the table; free it with `glyc_table_free`. Columns `by`, `sort`, `meals`,
// `limit_g`, `low_g`, `high_g`, `reason`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `responses` is NULL or was not freed; the others are NULL or valid to write.
glyc_status glyc_responses_limits_by_sort(const struct glyc_responses *responses,
                                          double rise_mg_dl,
                                          double level,
                                          struct glyc_table **table_out,
                                          struct glyc_error **error);

// Meals that rose more than their diary grams give, at a false-discovery rate.
//
// `rate` (in): 0.001 to 0.5, such as 0.1: about this share of the meals listed is there by chance.
// `table_out` (out): a row for each meal tested; free it with `glyc_table_free`. `listed` says
// which do not fit; none of `possible_reasons` is shown to be it.
// The rest: as for `glyc_responses_limits_by_sort`.
//
// Statuses: `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// As for `glyc_responses_limits_by_sort`.
glyc_status glyc_responses_misfits(const struct glyc_responses *responses,
                                   double rise_mg_dl,
                                   double rate,
                                   struct glyc_table **table_out,
                                   struct glyc_error **error);

// What the meals with a tag behaved like, in grams; they are left out of the fit.
//
// `tag` (in): such as "eating-out".
// `table_out` (out): the table; free it with `glyc_table_free`. `equivalent_g` is each meal alone,
// `shrunken_g` is drawn towards the group: read that for a meal picked because it is extreme.
// The rest: as for `glyc_responses_limits_by_sort`.
//
// Statuses: `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// As for `glyc_responses_limits_by_sort`; `tag` is NULL or ends with a zero.
glyc_status glyc_responses_equivalent_loads(const struct glyc_responses *responses,
                                            double rise_mg_dl,
                                            const char *tag,
                                            double level,
                                            struct glyc_table **table_out,
                                            struct glyc_error **error);

// What went with the rise beside grams: a walk, fibre, protein, fat, glucose before the meal, each
// alone. None of them is shown to be a cause.
//
// `responses` (in): borrowed for the call.
// `nominal_min` (in): minutes between two readings of the sensor, 0.5 to 60, such as 5.
// `level` (in): confidence level, 0.5 to 0.999.
// `table_out` (out): a row for each `term`; free it with `glyc_table_free`. Columns `per` (what the
// effect is for), `meals`, `went_with_mg_dl` with `low_mg_dl` and `high_mg_dl`, root mean square
// errors of meals left out with the term (`left_out_mg_dl`) and without it
// (`left_out_without_mg_dl`), and `reason` where it can't be told.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `responses` is NULL or was not freed; the others are NULL or valid to write.
glyc_status glyc_responses_beside_grams(const struct glyc_responses *responses,
                                        double nominal_min,
                                        double level,
                                        struct glyc_table **table_out,
                                        struct glyc_error **error);

// Safe grams and mean limit for the rise in blood, by a meter's changes over meals.
//
// At the mean limit about half of such meals go over. Not for dosing; no advice to eat less.
//
// `responses`, `meter`, `trace` (in): borrowed for the call; the trace is the one that the
// responses are from.
// `rise_mg_dl` (in): the target, mg/dL of rise in blood.
// `probability` (in): of the safe grams, 0.5 to 0.99, such as 0.8.
// `meter_bias_sd_pct` (in): standard deviation of what isn't known of the meter's own bias, 0 to 50
// percent, such as 6.
// `level` (in): confidence level, 0.5 to 0.999.
// `table_out` (out): rows `gain` (sensor's rise for one of the meter's), `safe_g`, `limit_g`; free
// it with `glyc_table_free`. Columns `name`, `unit`, `value`, `low`, `high`, `level`, `n`,
// `needed`, `method`, `reason_code`, `reason`; eight meals with both readings are needed.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `responses`, `meter` and `trace` are NULL or were not freed; the others are NULL or valid to
// write.
glyc_status glyc_responses_limits_in_blood(const struct glyc_responses *responses,
                                           const struct glyc_meter *meter,
                                           const struct glyc_trace *trace,
                                           double rise_mg_dl,
                                           double probability,
                                           double meter_bias_sd_pct,
                                           double level,
                                           struct glyc_table **table_out,
                                           struct glyc_error **error);

// Rises that grow less and less with grams, weighed beside the straight line by how well each tells
// a meal that was left out. A check of how far the limit hangs on the form: the headline stays
// with the straight line.
//
// `fit` (in): borrowed for the call.
// `table_out` (out): a row for each `form`, "straight" and "saturating": `power` (of grams),
// `limit_g` with `low_g` and `high_g` (grams at which the mean rise meets the target), root mean
// square error of meals left out (`left_out_mg_dl`), `weight` (both add up to 1), `preferred`
// (better by more than one standard error; ties go to the straight line), `reason`; free it with
// `glyc_table_free`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `NOT_ESTIMABLE` (no line; the error holds the reason), `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `fit` is NULL or was not freed; the others are NULL or valid to write.
glyc_status glyc_fit_saturating(const struct glyc_fit *fit,
                                struct glyc_table **table_out,
                                struct glyc_error **error);

// A wear without events.
//
// `wear_out` (out): the new wear; free it with `glyc_wear_free`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// Each pointer is NULL or valid to write.
glyc_status glyc_wear_new(struct glyc_wear **wear_out, struct glyc_error **error);

// Adds an event.
//
// `wear` (in, out): changed; nothing is added when the call fails.
// `time_ms` (in): when, UTC milliseconds since 1970, in the years 1990 to 2099.
// `event` (in): "inserted", "removed", "calibrated" (by its wearer), "failed", "alarm" or "other".
// `sensor` (in): NULL, or the sensor's name; copied.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `OUT_OF_RANGE`, `UNKNOWN_CHOICE`, `NOT_UTF8`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `wear` is NULL or was not freed and is used by nobody else meanwhile; each text is NULL or ends
// with a zero.
glyc_status glyc_wear_add(struct glyc_wear *wear,
                          int64_t time_ms,
                          const char *event,
                          const char *sensor,
                          struct glyc_error **error);

// Number of events; 0 for NULL. Since 0.1.
//
// # Safety
// `wear` is NULL or was not freed.
size_t glyc_wear_len(const struct glyc_wear *wear);

// The same trace that knows where another sensor took over: at each "inserted" event after its
// first reading. Nothing is then joined across these, and drift, steps, first day and
// recalibration tell the sensors apart.
//
// `trace`, `wear` (in): borrowed for the call; `trace` stays as it is.
// `trace_out` (out): the new trace; free it with `glyc_trace_free`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `trace` and `wear` are NULL or were not freed; the others are NULL or valid to write.
glyc_status glyc_trace_with_wear(const struct glyc_trace *trace,
                                 const struct glyc_wear *wear,
                                 struct glyc_trace **trace_out,
                                 struct glyc_error **error);

// Frees a wear; nothing for NULL. Since 0.1.
//
// # Safety
// `wear` is NULL or was made by this library, and is not used again.
void glyc_wear_free(struct glyc_wear *wear);

// The alarms that levels would sound, and what a meter reading near each said. Counts of this kind
// are no reason to switch an alarm off: one that a meter contradicts is not known to be false the
// next time.
//
// `trace` (in): borrowed for the call; hours and nights need its clock.
// `limits_mg_dl` (in): `len` levels, 1 or more, 10 to 2000, no level twice; not part of the alarm.
// `sides` (in): for each level one of `GLYC_SIDE_*`.
// `rearm` (in): one of `GLYC_REARM_*`.
// `rearm_by` (in): 0 to 100 mg/dL, such as 5, or 1 to 1440 minutes.
// `meter` (in): whose readings at most 15 minutes away confirm or contradict; NULL without one.
// `meter_ahead_min` (in): minutes by which the meter's clock is ahead of the sensor's, -1440 to
// 1440.
// `wear` (in): whose "alarm" events are matched; NULL without one.
// `level` (in): confidence level, 0.5 to 0.999.
// `table_out` (out): a row for each alarm; free it with `glyc_table_free`. Columns `level` (such as
// "below_70"), `time_ms`, `glucose_mg_dl`, `hour`, `night`, `checked` ("confirmed",
// "contradicted", "nobody_checked"), `meter_mg_dl`, `noted_ms`.
// `levels_out` (out): NULL, or where to put a row for each level; free it with `glyc_table_free`.
// Columns `level`, `n` (alarms), `n_per_day` and `n_per_night` with their ends (`n_low_per_day`,
// ...) and reasons (`per_day_reason`, ...), `confirmed`, `contradicted`, `nobody_checked`,
// `confirmed_pct` (of those checked) with its ends and `confirmed_reason`, `noted`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `TOO_FEW_VALUES`, `NOT_FINITE`, `OUT_OF_RANGE`, `UNKNOWN_CHOICE`, `NULL_ARGUMENT`.
// Since 0.1.
//
// # Safety
// `trace`, `meter` and `wear` are NULL or were not freed; the arrays are NULL or valid for `len`
// items, the others NULL or valid to write.
glyc_status glyc_sensor_alarms(const struct glyc_trace *trace,
                               const double *limits_mg_dl,
                               const uint32_t *sides,
                               size_t len,
                               uint32_t rearm,
                               double rearm_by,
                               const struct glyc_meter *meter,
                               double meter_ahead_min,
                               const struct glyc_wear *wear,
                               double level,
                               struct glyc_table **table_out,
                               struct glyc_table **levels_out,
                               struct glyc_error **error);

// Dips that are possibly pressure; a true low can't be excluded without a meter reading. They are
// found and weighed, never removed.
//
// `trace` (in): borrowed for the call; nights need its clock.
// `diary` (in): whose meals and activity let glucose move faster; NULL without one.
// `meter` (in): whose readings inside a dip are weighed; NULL without one.
// `meter_ahead_min` (in): minutes by which the meter's clock is ahead of the sensor's, -1440 to
// 1440.
// `least_probability` (in): only dips at least so probably pressure, 0 to 1, such as 0.05.
// `level` (in): confidence level of the depth, 0.5 to 0.999.
// `table_out` (out): a row for each dip, in order of time; free it with `glyc_table_free`. Columns
// `start_ms`, `end_ms`, `minutes`, `probability`, `depth_mg_dl` with its ends, `fall_mg_dl_min`,
// `recovery_mg_dl_min`, `faster_than_glucose`, `lowest_mg_dl`, `reads_low`, `night`,
// `meter_mg_dl`, `meter_says` and more.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `NOT_ESTIMABLE` (readings more than 10 minutes apart, or no stretch without a gap that
// is long enough), `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1. May take more than 100 ms.
//
// # Safety
// `trace`, `diary` and `meter` are NULL or were not freed; the others are NULL or valid to write.
glyc_status glyc_sensor_pressure_lows(const struct glyc_trace *trace,
                                      const struct glyc_diary *diary,
                                      const struct glyc_meter *meter,
                                      double meter_ahead_min,
                                      double least_probability,
                                      double level,
                                      struct glyc_table **table_out,
                                      struct glyc_error **error);

// Measures of all readings beside those without the dips that are at least so probably pressure.
// Which of the two is right can't be told from the sensor alone.
//
// `probability` (in): from which on a dip is left out, 0 to 1, such as 0.5.
// `level` (in): confidence level, 0.5 to 0.999.
// `table_out` (out): a row each for the mean, shares below 70 and below 54 mg/dL and in range;
// free it with `glyc_table_free`. Columns `measure`, `with`, `with_low`, `with_high`, `without`,
// `without_low`, `without_high`.
// The rest: as for `glyc_sensor_pressure_lows`.
//
// Statuses: as for `glyc_sensor_pressure_lows`. Since 0.1. May take more than 100 ms.
//
// # Safety
// As for `glyc_sensor_pressure_lows`.
glyc_status glyc_sensor_without_pressure(const struct glyc_trace *trace,
                                         const struct glyc_diary *diary,
                                         const struct glyc_meter *meter,
                                         double meter_ahead_min,
                                         double probability,
                                         double level,
                                         struct glyc_table **table_out,
                                         struct glyc_error **error);

// Whether to set each sensor by the meter, and by how much: nothing, an offset, a gain, both, or a
// drifting offset, chosen by predicting each day from the others. Leaving it wins ties. Nothing is
// changed here; see `glyc_recalibration_apply`.
//
// `meter`, `trace` (in): borrowed for the call.
// `lag_min` (in): the sensor is read so many minutes later than the meter's stamp, -1440 to 1440.
// `lag_se_min` (in): standard error of that lag where it was estimated, 0 to 60; else 0.
// `meter_bias_sd_pct` (in): standard deviation of what isn't known of the meter's own bias,
// percent, 0 to 50; 6 where nothing better is known (a published range).
// `level` (in): confidence level, 0.5 to 0.999.
// `recalibration_out` (out): what was found; free it with `glyc_recalibration_free`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `meter` and `trace` are NULL or were not freed; the others are NULL or valid to write.
glyc_status glyc_recalibration_new(const struct glyc_meter *meter,
                                   const struct glyc_trace *trace,
                                   double lag_min,
                                   double lag_se_min,
                                   double meter_bias_sd_pct,
                                   double level,
                                   struct glyc_recalibration **recalibration_out,
                                   struct glyc_error **error);

// A row for each sensor.
//
// `recalibration` (in): borrowed for the call.
// `table_out` (out): the table; free it with `glyc_table_free`. Columns `sensor`, `inserted_ms`,
// `first_ms`, `last_ms`, `pairs`, `days`; `kind` ("none", "offset", "gain", "both",
// "drifting_offset") with `set_gain`, `set_offset_mg_dl`, `set_drift_mg_dl_day`; `offset_mg_dl`
// (mean of sensor less meter) and `offset_in_blood_mg_dl` (whose interval holds what isn't known
// of the meter) with their ends; `before_bias_mg_dl`, `before_mard_pct`, `before_within_20_pct`
// and the same `after_` (to expect of new days, from left-out days); `reason` where it is left.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `recalibration` is NULL or was not freed; the others are NULL or valid to write.
glyc_status glyc_recalibration_table(const struct glyc_recalibration *recalibration,
                                     struct glyc_table **table_out,
                                     struct glyc_error **error);

// A row for each sensor and each way of setting it that was tried.
//
// `table_out` (out): the table; free it with `glyc_table_free`. Columns `sensor`, `kind`, `chosen`,
// `error_mg_dl` (root mean square on left-out days), `above_best_mg2_dl2`,
// `above_best_se_mg2_dl2`, `reason`. No rows of a sensor with too few pairs.
// The rest: as for `glyc_recalibration_table`.
//
// Statuses: `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// As for `glyc_recalibration_table`.
glyc_status glyc_recalibration_tried(const struct glyc_recalibration *recalibration,
                                     struct glyc_table **table_out,
                                     struct glyc_error **error);

// The trace that was looked at, set by what was found; sensors that are left alone stay.
//
// `recalibration` (in): borrowed for the call.
// `trace` (in): the trace that it was found for; borrowed, and stays as it is.
// `trace_out` (out): the new trace; free it with `glyc_trace_free`.
// `clipped_out` (out): NULL, or where to put how many readings would have come out below one step
// of the unit, or above 2000 mg/dL, and were put there.
// `left_at_limit_out` (out): NULL, or where to put how many stand at a limit of the device and
// were left there.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `IMPLAUSIBLE_UNIT` (the middle value would no longer be that of a living person),
// `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `recalibration` and `trace` are NULL or were not freed; the others are NULL or valid to write.
glyc_status glyc_recalibration_apply(const struct glyc_recalibration *recalibration,
                                     const struct glyc_trace *trace,
                                     struct glyc_trace **trace_out,
                                     size_t *clipped_out,
                                     size_t *left_at_limit_out,
                                     struct glyc_error **error);

// What `glyc_recalibration_apply` does to a trace, as data.
//
// `trace` (in): the trace that it was found for; borrowed, and stays as it is.
// `table_out` (out): a row for each sensor that is set; free it with `glyc_table_free`. Columns
// `inserted_ms`, `first_ms`, `last_ms`, `kind`, `gain`, `offset_mg_dl`, `drift_mg_dl_day`,
// `pairs`, `readings`.
// The rest: as for `glyc_recalibration_apply`.
//
// Statuses: `IMPLAUSIBLE_UNIT`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// As for `glyc_recalibration_apply`.
glyc_status glyc_recalibration_applied(const struct glyc_recalibration *recalibration,
                                       const struct glyc_trace *trace,
                                       struct glyc_table **table_out,
                                       struct glyc_error **error);

// Meter readings that were not used, and why.
//
// `recalibration` (in): borrowed for the call.
// `unpaired_out` (out): NULL, or where to put how many had no sensor reading within 5 minutes, or
// one at a limit of the sensor.
// `fast_out` (out): NULL, or where to put how many were taken while the sensor changed by more
// than 2 mg/dL a minute.
// `unsettled_out` (out): NULL, or where to put how many were taken in a sensor's first 24 hours.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `recalibration` is NULL or was not freed; the others are NULL or valid to write.
glyc_status glyc_recalibration_left_out(const struct glyc_recalibration *recalibration,
                                        size_t *unpaired_out,
                                        size_t *fast_out,
                                        size_t *unsettled_out,
                                        struct glyc_error **error);

// Frees what was found; nothing for NULL. Since 0.1.
//
// # Safety
// `recalibration` is NULL or was made by this library, and is not used again.
void glyc_recalibration_free(struct glyc_recalibration *recalibration);

// By how much each sensor moves away from the meter with each day of wear.
//
// Pairs of a sensor's first 24 hours, and those taken while it changed by more than 2 mg/dL a
// minute, are left out.
//
// `meter`, `trace` (in): borrowed for the call.
// `lag_min` (in): the sensor is read so many minutes later than the meter's stamp, -1440 to 1440;
// 0 unless a lag is known from elsewhere.
// `level` (in): confidence level, 0.5 to 0.999.
// `table_out` (out): a row for each sensor; free it with `glyc_table_free`. Columns `sensor`,
// `inserted_ms`, `first_ms`, `last_ms`, `pairs`, `days`, `drift_mg_dl_day`, `drift_pct_day` with
// their ends (`drift_low_mg_dl_day`, ...), `reason` (too few days are data, not an error).
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `meter` and `trace` are NULL or were not freed; the others are NULL or valid to write.
glyc_status glyc_sensor_drift(const struct glyc_meter *meter,
                              const struct glyc_trace *trace,
                              double lag_min,
                              double level,
                              struct glyc_table **table_out,
                              struct glyc_error **error);

// The change of each sensor's own fasting level with each day: no drift against blood, since the
// person may have changed. Needs the trace's clock.
//
// `trace` (in): borrowed for the call.
// `diary` (in): whose meals end a fast; NULL without one.
// `level` (in): confidence level, 0.5 to 0.999.
// `table_out` (out): a row for each sensor; free it with `glyc_table_free`. Columns `sensor`,
// `inserted_ms`, `first_ms`, `last_ms`, `mornings`, `fasting_drift_mg_dl_day` with its ends,
// `reason`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `trace` and `diary` are NULL or were not freed; the others are NULL or valid to write.
glyc_status glyc_sensor_fasting_drift(const struct glyc_trace *trace,
                                      const struct glyc_diary *diary,
                                      double level,
                                      struct glyc_table **table_out,
                                      struct glyc_error **error);

// By how much sensor less meter changed where a sensor was swapped, or set by its wearer.
//
// `meter`, `trace`, `wear` (in): borrowed for the call; steps are looked for at the "inserted" and
// "calibrated" events after the first reading.
// `lag_min`, `level` (in): as for `glyc_sensor_drift`.
// `table_out` (out): a row for each such event; free it with `glyc_table_free`. Columns `time_ms`,
// `event`, `sensor`, `pairs_before`, `pairs_after`, `difference_mg_dl` (after less before) with
// its ends and `difference_reason`, and `overnight_mg_dl` (the jump of the sensor's own nights;
// could be the person) with its ends and `overnight_reason`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `meter`, `trace` and `wear` are NULL or were not freed; the others are NULL or valid to write.
glyc_status glyc_sensor_steps(const struct glyc_meter *meter,
                              const struct glyc_trace *trace,
                              const struct glyc_wear *wear,
                              double lag_min,
                              double level,
                              struct glyc_table **table_out,
                              struct glyc_error **error);

// The first day of each sensor: from which hour it is as steady as later, and how much more it
// moved than on later days.
//
// `meter` (in): NULL without one; the hour is then missing with a reason.
// `trace` (in): borrowed for the call.
// `diary` (in): whose meals explain movement; NULL without one.
// `lag_min`, `level` (in): as for `glyc_sensor_drift`.
// `table_out` (out): a row for each sensor; free it with `glyc_table_free`. Columns `sensor`,
// `inserted_ms`, `first_ms`, `last_ms`, `steady_from_h`, `movement_0_12_ratio`,
// `movement_12_24_ratio`, each with its ends and reason, `mean_mg_dl`, `left_out_h`,
// `mean_without_mg_dl` (the mean without those hours).
// `hours_out` (out): NULL, or where to put the pairs by hours since insertion: `sensor`, `from_h`,
// `to_h`, `pairs`, `mean_mg_dl`, `sd_mg_dl` of sensor less meter; free it with `glyc_table_free`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `meter`, `trace` and `diary` are NULL or were not freed; the others are NULL or valid to write.
glyc_status glyc_sensor_first_day(const struct glyc_meter *meter,
                                  const struct glyc_trace *trace,
                                  const struct glyc_diary *diary,
                                  double lag_min,
                                  double level,
                                  struct glyc_table **table_out,
                                  struct glyc_table **hours_out,
                                  struct glyc_error **error);

// Readings that stay the same for longer than this sensor's noise allows. Nothing is removed.
//
// `trace` (in): borrowed for the call.
// `diary` (in): whose meals are kept out of the noise; NULL without one.
// `within_one_step` (in): whether values within one step of the display count as the same.
// `chance` (in): runs expected by chance in the whole trace, 1e-9 to 1, such as 0.01.
// `table_out` (out): a row for each flat-line; free it with `glyc_table_free`. Columns `start_ms`,
// `end_ms`, `minutes`, `readings`, `value_mg_dl`, `by_chance`.
// `threshold_out` (out): NULL, or where to put the fewest readings in a row that count.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `NOT_ESTIMABLE` (so little noise that any run may be chance), `OUT_OF_RANGE`,
// `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `trace` and `diary` are NULL or were not freed; the others are NULL or valid to write.
glyc_status glyc_sensor_flat_lines(const struct glyc_trace *trace,
                                   const struct glyc_diary *diary,
                                   bool within_one_step,
                                   double chance,
                                   struct glyc_table **table_out,
                                   size_t *threshold_out,
                                   struct glyc_error **error);

// When readings failed to come: each interval of more than one and a half nominal intervals
// between two readings of one sensor.
//
// `trace` (in): borrowed for the call.
// `wear` (in): NULL without one; sensors are then told apart by the trace.
// `level` (in): confidence level, 0.5 to 0.999.
// `table_out` (out): a row for each drop-out; free it with `glyc_table_free`. Columns `sensor`,
// `wear_day`, `from_ms`, `to_ms`, `minutes`, `lost` (readings), `hour` (local; needs the trace's
// clock).
// `per_day_out` (out): NULL, or where to put drop-outs in a day; without a value under 3 days.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `trace` and `wear` are NULL or were not freed; the others are NULL or valid to write.
glyc_status glyc_sensor_drop_outs(const struct glyc_trace *trace,
                                  const struct glyc_wear *wear,
                                  double level,
                                  struct glyc_table **table_out,
                                  struct glyc_estimate *per_day_out,
                                  struct glyc_error **error);

// Data capture: readings over what the time could hold, from a sensor's first reading to its end.
//
// `trace`, `wear` (in): as for `glyc_sensor_drop_outs`.
// `table_out` (out): a row for each sensor, in which `wear_day` is missing, then one for each of
// its wear days; free it with `glyc_table_free`. Columns `sensor`, `wear_day`, `readings`,
// `expected`, `capture_pct`, `longest_min` (the longest interval without a reading).
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// As for `glyc_sensor_drop_outs`.
glyc_status glyc_sensor_capture(const struct glyc_trace *trace,
                                const struct glyc_wear *wear,
                                struct glyc_table **table_out,
                                struct glyc_error **error);

// How each sensor was worn.
//
// `trace`, `wear` (in): as for `glyc_sensor_drop_outs`.
// `first_hours` (in): length of the first part that is looked at apart, 1 to 48 hours, such as 12.
// `table_out` (out): a row for each sensor; free it with `glyc_table_free`. Columns `sensor`,
// `days`, `wait_min` (from insertion to the first reading), `first_hours_lost_pct`, `failed`
// (whether an event says so).
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `NOT_FINITE`, `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// As for `glyc_sensor_drop_outs`.
glyc_status glyc_sensor_wear(const struct glyc_trace *trace,
                             const struct glyc_wear *wear,
                             double first_hours,
                             struct glyc_table **table_out,
                             struct glyc_error **error);

// How far a reading stands from the middle of those 15 minutes before and after it (root mean
// square), by wear day. Readings at least four hours after a meal; without meals those from 00:00
// to 06:00 local time, or all where there is no local time either.
//
// `trace` (in): borrowed for the call.
// `diary`, `wear` (in): NULL without one.
// `level` (in): confidence level, 0.5 to 0.999.
// `table_out` (out): a row for each wear day; free it with `glyc_table_free`. Columns `sensor`,
// `wear_day`, `jitter_mg_dl`, `jitter_low_mg_dl`, `jitter_high_mg_dl`, `stretches`, `reason`.
// `jitter_out` (out): NULL, or where to put that of the whole wear, mg/dL; without a value where
// too few stretches of three hours are quiet.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `trace`, `diary` and `wear` are NULL or were not freed; the others are NULL or valid to write.
glyc_status glyc_sensor_noise(const struct glyc_trace *trace,
                              const struct glyc_diary *diary,
                              const struct glyc_wear *wear,
                              double level,
                              struct glyc_table **table_out,
                              struct glyc_estimate *jitter_out,
                              struct glyc_error **error);

// Product-limit survival (Kaplan and Meier) of pieces such as sensors.
//
// `times` (in): how long each of `len` pieces was watched, in any unit, not negative; borrowed.
// `failed` (in): whether it then failed; false where it was taken off or is still going.
// `level` (in): confidence level, 0.5 to 0.999.
// `table_out` (out): a row for each time at which one failed; free it with `glyc_table_free`.
// Columns `time`, `at_risk`, `failed`, `censored` (before the next failure), `survival`, `se`,
// `low`, `high`; the last three are missing once all have failed.
// `median_out` (out): NULL, or where to put the time by which half have failed; look at `present`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `TOO_FEW_VALUES`, `NOT_FINITE`, `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// Each pointer is NULL or valid for the items named above.
glyc_status glyc_survival(const double *times,
                          const bool *failed,
                          size_t len,
                          double level,
                          struct glyc_table **table_out,
                          struct glyc_estimate *median_out,
                          struct glyc_error **error);

// New rules, all at their defaults.
//
// `options_out` (out): the new rules; free them with `glyc_pair_options_free`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// Each pointer is NULL or valid to write.
glyc_status glyc_pair_options_new(struct glyc_pair_options **options_out,
                                  struct glyc_error **error);

// Sets how the sensor is read.
//
// `options` (in, out): changed; left as it was when the call fails.
// `window_min` (in): how far a sensor reading may be, 0.1 to 60 minutes.
// `how` (in): one of `GLYC_HOW_*`.
// `lag_min` (in): the sensor is read so much later, -1440 to 1440 minutes.
// `once` (in): whether a sensor reading is used for one meter reading only.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `OUT_OF_RANGE`, `UNKNOWN_CHOICE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `options` is NULL or was not freed and is used by nobody else meanwhile; `error` is NULL or valid to
// write.
glyc_status glyc_pair_options_set_reading(struct glyc_pair_options *options,
                                          double window_min,
                                          uint32_t how,
                                          double lag_min,
                                          bool once,
                                          struct glyc_error **error);

// Sets what becomes of meter readings in quick succession.
//
// `options`, `error`: as for `glyc_pair_options_set_reading`.
// `bursts` (in): one of `GLYC_BURSTS_*`.
// `burst_min` (in): readings no further apart are one burst, 0 to 15 minutes.
//
// Statuses: `OUT_OF_RANGE`, `UNKNOWN_CHOICE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// As for `glyc_pair_options_set_reading`.
glyc_status glyc_pair_options_set_bursts(struct glyc_pair_options *options,
                                         uint32_t bursts,
                                         double burst_min,
                                         struct glyc_error **error);

// Sets what becomes of readings about a calibration by the wearer.
//
// `options`, `error`: as for `glyc_pair_options_set_reading`.
// `in_pairs` (in): whether they count.
// `before_min` (in): else a meter reading so long before one is left out, 0 to 240 minutes.
//
// Statuses: `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// As for `glyc_pair_options_set_reading`.
glyc_status glyc_pair_options_set_calibrations(struct glyc_pair_options *options,
                                               bool in_pairs,
                                               double before_min,
                                               struct glyc_error **error);

// Sets the lowest and highest value that the devices report, mg/dL; a pair beyond is kept apart.
//
// `options`, `error`: as for `glyc_pair_options_set_reading`.
// `sensor_low`, `sensor_high`, `meter_low`, `meter_high` (in): 0 to 2000, both inside; two NaN for
// a device whose range isn't known.
//
// Statuses: `NOT_FINITE`, `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// As for `glyc_pair_options_set_reading`.
glyc_status glyc_pair_options_set_ranges(struct glyc_pair_options *options,
                                         double sensor_low,
                                         double sensor_high,
                                         double meter_low,
                                         double meter_high,
                                         struct glyc_error **error);

// Frees rules; nothing for NULL. Since 0.1.
//
// # Safety
// `options` is NULL or was made by this library, and is not used again.
void glyc_pair_options_free(struct glyc_pair_options *options);

// Pairs the meter's readings with the sensor's by stated rules; all that is left out is told.
//
// `meter`, `sensor` (in): borrowed for the call.
// `wear` (in): whose events tell sensors, wear days and calibrations; NULL without one.
// `options` (in): NULL for the defaults.
// `pairs_out` (out): a row for each pair: `time_ms`, `reference_mg_dl`, `measured_mg_dl`,
// `rate_mg_dl_min`, `readings`, `away_min`, `sensor`, `wear_day`, `local_hour`, `day` (a cluster
// for the agreement functions); free it with `glyc_table_free`.
// `unpaired_out` (out): NULL, or where to put meter readings without a pair: `time_ms`,
// `glucose_mg_dl`, `why`; free it with `glyc_table_free`.
// `outside_out` (out): NULL, or where to put pairs outside the range of a device: `time_ms`,
// `reference_mg_dl`, `measured_mg_dl`, `why`; free it with `glyc_table_free`.
// `left_in_bursts_out` (out): NULL, or where to put how many readings were left out because only
// the first of a burst counts.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `meter`, `sensor`, `wear` and `options` are NULL or were not freed; the others are NULL or valid
// to write.
glyc_status glyc_pairs_by_rules(const struct glyc_meter *meter,
                                const struct glyc_trace *sensor,
                                const struct glyc_wear *wear,
                                const struct glyc_pair_options *options,
                                struct glyc_table **pairs_out,
                                struct glyc_table **unpaired_out,
                                struct glyc_table **outside_out,
                                size_t *left_in_bursts_out,
                                struct glyc_error **error);

// The figures of agreement by each of a set of rules (windows of 2.5 to 15 minutes, nearest or
// interpolated, with and without the lag, bursts averaged or first, calibrations out or in), to see
// how much hangs on the choice.
//
// `meter`, `sensor`, `wear`, `options` (in): as for `glyc_pairs_by_rules`; the options give what the
// set does not vary.
// `lag_min` (in): a lag to read the sensor by, such as that of `glyc_lag`; NaN for none.
// `level` (in): confidence level, 0.5 to 0.999.
// `table_out` (out): a row for each set of rules; free it with `glyc_table_free`. The rules, `n`,
// `mard_pct`, `bias_mg_dl`, `within_15_pct` and `within_20_pct` with their ends, `iso_verdict`,
// `bias_verdict`, `share_95_verdict`, `reason`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `NOT_ESTIMABLE` (too few pairs by the widest rules), `OUT_OF_RANGE`, `NULL_ARGUMENT`.
// Since 0.1.
//
// # Safety
// As for `glyc_pairs_by_rules`.
glyc_status glyc_pairing_sensitivity(const struct glyc_meter *meter,
                                     const struct glyc_trace *sensor,
                                     const struct glyc_wear *wear,
                                     const struct glyc_pair_options *options,
                                     double lag_min,
                                     double level,
                                     struct glyc_table **table_out,
                                     struct glyc_error **error);

// A study without persons.
//
// `study_out` (out): the new study; free it with `glyc_study_free`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// Each pointer is NULL or valid to write.
glyc_status glyc_study_new(struct glyc_study **study_out, struct glyc_error **error);

// Adds a person and their meter, which is what sensors are set beside.
//
// `study` (in, out): changed; nothing is added when the call fails.
// `person` (in): a name, none twice; copied.
// `meter` (in): all of this person's readings; copied. Those outside a wear don't count for it.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `UNKNOWN_CHOICE` (a name that came twice), `NOT_UTF8`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `study` is NULL or was not freed and is used by nobody else meanwhile; `meter` is NULL or was
// not freed; `person` is NULL or ends with a zero.
glyc_status glyc_study_add_person(struct glyc_study *study,
                                  const char *person,
                                  const struct glyc_meter *meter,
                                  struct glyc_error **error);

// Adds a sensor that a person wore.
//
// `study` (in, out): changed; nothing is added when the call fails.
// `person` (in): who wore it, added before; `sensor` (in): its name; copied.
// `lot`, `site` (in): NULL where not known; copied.
// `inserted_ms`, `ended_ms` (in): UTC milliseconds since 1970, in the years 1990 to 2099; the end
// after the insertion.
// `end` (in): "completed" (as long as it was meant to last), "stopped" (for a reason that is none
// of the sensor's), "failed", or "worn" (still is).
// `cause` (in): why it stopped or failed; NULL where not known; copied.
// `length_days` (in): how long it is meant to last, 0.01 to 400; NaN where not stated.
// `trace` (in): its readings; copied; NULL where there is none.
// `calibrated_ms` (in): `n_calibrated` instants of calibrations by the user; copied.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `OUT_OF_RANGE`, `UNKNOWN_CHOICE` (also a person that was not added), `NOT_UTF8`,
// `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `study` is NULL or was not freed and is used by nobody else meanwhile; `trace` is NULL or was
// not freed; each text is NULL or ends with a zero; `calibrated_ms` is NULL or valid to read
// `n_calibrated` items.
glyc_status glyc_study_add_sensor(struct glyc_study *study,
                                  const char *person,
                                  const char *sensor,
                                  const char *lot,
                                  const char *site,
                                  int64_t inserted_ms,
                                  int64_t ended_ms,
                                  const char *end,
                                  const char *cause,
                                  double length_days,
                                  const struct glyc_trace *trace,
                                  const int64_t *calibrated_ms,
                                  size_t n_calibrated,
                                  struct glyc_error **error);

// Adds a share of pairs that a protocol asks for.
//
// `study` (in, out): changed; nothing is added when the call fails.
// `level_from`, `level_below` (in): mg/dL; NaN for an open end.
// `rate_from`, `rate_below` (in): mg/dL per minute; NaN for an open end. Two open ends also hold
// pairs whose rate is not known.
// `pct` (in): at least so many percent of all pairs, 0 to 100.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `NOT_FINITE`, `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `study` is NULL or was not freed and is used by nobody else meanwhile; `error` is NULL or valid
// to write.
glyc_status glyc_study_require(struct glyc_study *study,
                               double level_from,
                               double level_below,
                               double rate_from,
                               double rate_below,
                               double pct,
                               struct glyc_error **error);

// From sensors inserted to pairs analysed, how long sensors lasted, how accurate each was, and
// where the pairs lie. No sensor and no pair are answers with a reason.
//
// `study` (in): borrowed for the call.
// `options` (in): rules of pairing; NULL for the defaults.
// `warm_up_min` (in): time from insertion in which no reading is expected, 0 to 2880 minutes.
// `level` (in): confidence level, 0.5 to 0.999.
// `accounts_out` (out): the accounts; free them with `glyc_accounts_free`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1. May take more than 100 ms for many
// sensors.
//
// # Safety
// `study` and `options` are NULL or were not freed; the others are NULL or valid to write.
glyc_status glyc_study_accounts(const struct glyc_study *study,
                                const struct glyc_pair_options *options,
                                double warm_up_min,
                                double level,
                                struct glyc_accounts **accounts_out,
                                struct glyc_error **error);

// One of the tables of the accounts.
//
// `accounts` (in): borrowed for the call.
// `which` (in): one of `GLYC_ACCOUNTS_*`, which say the columns.
// `table_out` (out): the table; free it with `glyc_table_free`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `UNKNOWN_CHOICE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `accounts` is NULL or was not freed; the others are NULL or valid to write.
glyc_status glyc_accounts_table(const struct glyc_accounts *accounts,
                                uint32_t which,
                                struct glyc_table **table_out,
                                struct glyc_error **error);

// Frees accounts; nothing for NULL. Since 0.1.
//
// # Safety
// `accounts` is NULL or was made by this library, and is not used again.
void glyc_accounts_free(struct glyc_accounts *accounts);

// Frees a study; nothing for NULL. Since 0.1.
//
// # Safety
// `study` is NULL or was made by this library, and is not used again.
void glyc_study_free(struct glyc_study *study);

// The difference in an outcome with and without an exposure, adjusted for other columns by least
// squares. It went with the exposure; it is not shown to be caused by it.
//
// `outcome` (in): `n` numbers, such as rises in mg/dL; borrowed for the call.
// `exposed` (in): whether each had the exposure, such as a walk after the meal.
// `adjust` (in): `k` columns of `n` numbers, one column after the other; NULL with a `k` of 0.
// `level` (in): confidence level, 0.5 to 0.999.
// `table_out` (out): one estimate, `difference` (with less without), and beside it `p_value`,
// `smallest_visible` (the effect that such a trial sees with a power of 80 %), `residual_sd`,
// `rows`, `exposed`; free it with `glyc_table_free`. Under 4 on a side, or an exposure that can't
// be told from the columns, is a reason in it.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `NOT_FINITE`, `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// Each pointer is NULL or valid for the items named above.
glyc_status glyc_contrast_compare(const double *outcome,
                                  const bool *exposed,
                                  const double *adjust,
                                  size_t n,
                                  size_t k,
                                  double level,
                                  struct glyc_table **table_out,
                                  struct glyc_error **error);

// The analysis that goes with a schedule of pairs.
//
// `with`, `without` (in): the outcomes of `n` pairs of meals; borrowed for the call.
// `with_first` (in): whether the meal with the exposure came first.
// `level` (in): confidence level, 0.5 to 0.999.
// `table_out` (out): estimates `difference` (with less without), `carry_over` (sum of pairs that
// began with the exposure less sum of the others), `period` (second meal less first), and for the
// difference `p_value` (Student's t) and `p_signs` (exact test of signs, which rests on the draw
// alone); free it with `glyc_table_free`. Too few pairs are a reason in it.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `NOT_FINITE`, `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// Each pointer is NULL or valid for the items named above.
glyc_status glyc_contrast_paired(const double *with,
                                 const double *without,
                                 const bool *with_first,
                                 size_t n,
                                 double level,
                                 struct glyc_table **table_out,
                                 struct glyc_error **error);

// How many repeats it takes to see an effect.
//
// `effect` (in): the effect, in the unit of the outcome; not 0.
// `sd` (in): standard deviation of single meals at the same grams, over 0.
// `power` (in): chance to see it, 0.5 to 0.999, such as 0.8.
// `level` (in): confidence level, 0.5 to 0.999.
// `in_pairs` (in): whether meals with and without are compared pair by pair, or as two groups.
// `repeats_out` (out): pairs, or meals on each side; written only on `GLYC_STATUS_OK`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `NOT_FINITE`, `OUT_OF_RANGE` (also where it would take over 100,000), `NULL_ARGUMENT`.
// Since 0.1.
//
// # Safety
// Each pointer is NULL or valid to write.
glyc_status glyc_contrast_repeats(double effect,
                                  double sd,
                                  double power,
                                  double level,
                                  bool in_pairs,
                                  size_t *repeats_out,
                                  struct glyc_error **error);

// A randomised schedule: pairs of the same meal on two days running, one with and one without, as
// many of either order as can be. Same arguments, same schedule.
//
// `days` (in): days of wear, 2 to 365.
// `masked_days` (in): days at the start without a task, on which the display may be masked.
// `slots` (in): `n_slots` meals of the day that take part, such as "lunch", each once; copied.
// `pairs` (in): 2 or more, as many as the days hold.
// `with`, `without` (in): what is done in either meal of a pair, such as "walk_after".
// `seed` (in): key of the draw.
// `table_out` (out): a row for each masked day, then for each meal, by day; free it with
// `glyc_table_free`. Columns `day`, `slot`, `pair` (both missing on masked days), `condition`.
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `TOO_FEW_VALUES`, `OUT_OF_RANGE`, `UNKNOWN_CHOICE` (a slot that came twice),
// `NOT_UTF8`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `slots` is NULL or valid for `n_slots` texts; each text is NULL or ends with a zero; the others
// are NULL or valid to write.
glyc_status glyc_contrast_schedule(size_t days,
                                   size_t masked_days,
                                   const char *const *slots,
                                   size_t n_slots,
                                   size_t pairs,
                                   const char *with,
                                   const char *without,
                                   uint64_t seed,
                                   struct glyc_table **table_out,
                                   struct glyc_error **error);

// Matches a schedule, drawn anew, with the diary, and compares its pairs of meals.
//
// What was done is read from the diary by the clock, never from glucose. Only the comparison as
// assigned rests on the draw; pairs without a deviation stand beside it, not in its place.
//
// `responses`, `diary` (in): borrowed for the call; the diary is the one that the responses are
// from. It holds no sleep and no notes: exposures that need these are `exposure_unknown`.
// `first_day` (in): the local calendar day that is day 1, counted in days from 1970-01-01
// on, up to the year 2099.
// `days`, `masked_days`, `slots`, `n_slots`, `pairs`, `with`, `without`, `seed` (in): what the
// schedule was drawn from, as for `glyc_contrast_schedule`.
// `outcome` (in): "rise", "peak", "area" or "recovery".
// `level` (in): confidence level, 0.5 to 0.999.
// `answers_out` (out): a row each for `as_assigned`, `per_protocol`, `carry_over`, `period`; free
// it with `glyc_table_free`. Columns `what`, `outcome`, `unit`, `pairs`, `value` (with less
// without), `low`, `high`, `p_value`, `p_signs`, `reason`.
// `sittings_out` (out): NULL, or where to put a row for each meal of the schedule; free it with
// `glyc_table_free`. Columns `pair`, `day`, `slot`, `assigned`, `seen`, `time_ms`, `outcome`,
// `deviations` ("no_meal", "no_reading", "not_as_assigned", "exposure_unknown", "earlier_meal",
// parted by semicolons).
// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
//
// Statuses: `NOT_ESTIMABLE` (the responses' trace had no clock), `TOO_FEW_VALUES`, `OUT_OF_RANGE`,
// `UNKNOWN_CHOICE`, `NOT_UTF8`, `NULL_ARGUMENT`. Since 0.1.
//
// # Safety
// `responses` and `diary` are NULL or were not freed; `slots` is NULL or valid for `n_slots` texts;
// each text is NULL or ends with a zero; the others are NULL or valid to write.
glyc_status glyc_contrast_carried_out(const struct glyc_responses *responses,
                                      const struct glyc_diary *diary,
                                      int64_t first_day,
                                      size_t days,
                                      size_t masked_days,
                                      const char *const *slots,
                                      size_t n_slots,
                                      size_t pairs,
                                      const char *with,
                                      const char *without,
                                      uint64_t seed,
                                      const char *outcome,
                                      double level,
                                      struct glyc_table **answers_out,
                                      struct glyc_table **sittings_out,
                                      struct glyc_error **error);

#ifdef __cplusplus
}  // extern "C"
#endif  // __cplusplus

#endif  /* GLYCEMIC_H */
