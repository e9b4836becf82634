/* Agreement tables, pairs of meter and sensor, lag, changes. */
#undef NDEBUG
#include "glycemic.h"

#include "cells.h"
#include "expect.h"

#include <assert.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

enum { PER_DAY = 288, DAYS = 8, N = PER_DAY * DAYS, PRICKS = 6 * DAYS };
#define MIDNIGHT INT64_C(1741564800000) /* 2025-03-10 00:00 UTC */
#define MINUTE INT64_C(60000)

/* Bland and Altman, Lancet 1986; i: 307-310: peak flow by a large and a mini meter, l/min. */
static const double large[] = {494, 395, 516, 434, 476, 557, 413, 442, 650,
                               433, 417, 656, 267, 478, 178, 423, 427};
static const double mini[] = {512, 430, 520, 428, 500, 600, 364, 380, 658,
                              445, 432, 626, 260, 477, 259, 350, 451};

static double cell(const glyc_table *table, const char *name, const char *column) {
    const char *const *names = NULL;
    const double *values = NULL;
    const bool *valid = NULL;
    size_t len = 0;
    assert(!glyc_table_column_text(table, "name", &names, &valid, &len, NULL));
    assert(!glyc_table_column_f64(table, column, &values, &valid, &len, NULL));
    for (size_t i = 0; i < len; i++)
        if (!strcmp(names[i], name)) return valid[i] ? values[i] : NAN;
    assert(!"no such row");
    return NAN;
}

static void published_numbers(void) {
    glyc_table *t = NULL;
    /* Large less mini: the reference is the mini meter. Mean -2.1, SD 38.8; limits at 1.96 SD and the
     * interval of the bias are computed from the printed data. */
    assert(!glyc_agreement_limits(mini, large, NULL, 17, 0.95, &t, NULL));
    assert(fabs(cell(t, "bias", "value") + 2.1176470588) < 1e-9);
    assert(fabs(cell(t, "lower", "value") + 78.097301611) < 1e-6);
    assert(fabs(cell(t, "upper", "value") - 73.862007493) < 1e-6);
    assert(fabs(cell(t, "bias", "low") + 22.048837697) < 1e-6);
    glyc_table_free(t);
    assert(!glyc_agreement_summary(mini, large, NULL, 17, 0.95, &t, NULL));
    assert(fabs(cell(t, "sd_mg_dl", "value") - 38.765129874) < 1e-6);
    glyc_table_free(t);
    /* Swapping both sides turns the slope over. */
    double slope;
    assert(!glyc_agreement_line(mini, large, 17, GLYC_LINE_DEMING, 1, 0.95, &t, NULL));
    slope = cell(t, "slope", "value");
    glyc_table_free(t);
    assert(!glyc_agreement_line(large, mini, 17, GLYC_LINE_DEMING, 1, 0.95, &t, NULL));
    assert(fabs(slope * cell(t, "slope", "value") - 1) < 1e-9);
    glyc_table_free(t);
    assert(!glyc_agreement_line(large, mini, 17, GLYC_LINE_PASSING_BABLOK, 1, 0.95, &t, NULL));
    glyc_table_free(t);
    assert(!glyc_agreement_concordance(large, large, 17, 0.95, &t, NULL));
    assert(cell(t, "concordance", "value") == 1);
    glyc_table_free(t);
}

static void grids_and_standards(void) {
    const double reference[] = {100, 100, 60, 300}, measured[] = {100, 130, 200, 60};
    uint8_t zones[4] = {0};
    glyc_table *t = NULL;
    glyc_error *error = NULL;
    const int64_t *counts = NULL;
    const bool *valid = NULL;
    size_t len = 0;
    /* Clarke et al. 1987: within 20 % is A; beyond 180 when the reference is below 70, and the other
     * way round, is E. */
    assert(!glyc_agreement_error_grid(reference, measured, 4, GLYC_GRID_CLARKE, zones, &t, NULL));
    assert(!memcmp(zones, "ABEE", 4) && glyc_table_rows(t) == 5);
    assert(!glyc_table_column_i64(t, "pairs", &counts, &valid, &len, NULL));
    assert(counts[0] == 1 && counts[1] == 1 && counts[4] == 2);
    glyc_table_free(t);
    t = NULL;
    glyc_status s = glyc_agreement_error_grid(reference, measured, 4, 9, zones, &t, &error);
    expect(s, GLYC_STATUS_UNKNOWN_CHOICE, error, "unknown_choice", "grid");
    assert(!t);
    for (uint32_t which = 1; which <= 5; which++) {
        assert(!glyc_agreement_standard(reference, measured, NULL, 4, which, 0.95, &t, NULL));
        assert(glyc_table_rows(t) >= 1);
        const char *const *said = NULL;
        assert(!glyc_table_column_text(t, "verdict", &said, &valid, &len, NULL));
        for (size_t i = 0; i < len; i++) assert(strcmp(said[i], "numerical_limits_met"));
        glyc_table_free(t);
    }
    assert(!glyc_agreement_accuracy(reference, measured, NULL, 4, 0.95, &t, NULL));
    assert(glyc_table_rows(t) == 6); /* all, and five bands */
    glyc_table_free(t);
}

static int64_t times[N], pricked[PRICKS];
static double glucose[N], blood[PRICKS];

/* Three meals a day whose size and hour change from day to day, and quiet nights. The sensor shows
 * blood 10 minutes later. */
static double up(double since, double size) {
    double t = since > 0 ? since / 45 : 0;
    return size * t * exp(1 - t);
}

static double at(double minute) {
    double day = floor(minute / 1440), since = minute - 1440 * day - 600 - fmod(37 * day + 370, 50);
    double size = 0.7 + 0.15 * fmod(3 * day + 30, 5);
    return 95 + size * (up(since, 60) + up(since - 260, 35) + up(since - 530, 80));
}

static void a_lag_of_ten_minutes(void) {
    glyc_trace *trace = NULL;
    glyc_meter *meter = NULL;
    glyc_table *pairs = NULL, *left = NULL;
    glyc_estimate e;
    glyc_error *error = NULL;
    for (int i = 0; i < N; i++) {
        times[i] = MIDNIGHT + i * STEP;
        glucose[i] = round(at(5.0 * i - 10));
    }
    for (int k = 0; k < PRICKS; k++) {
        static const int when[] = {560, 640, 690, 900, 1180, 1220};
        int minute = (k / 6) * 1440 + when[k % 6];
        pricked[k] = MIDNIGHT + minute * MINUTE;
        blood[k] = round(at(minute));
    }
    pricked[0] = MIDNIGHT - 600 * MINUTE;
    assert(!glyc_trace_new(times, glucose, N, GLYC_UNIT_MG_DL, NULL, &trace, NULL));
    assert(!glyc_meter_new(pricked, blood, PRICKS, GLYC_UNIT_MG_DL, &meter, NULL));
    assert(glyc_meter_len(meter) == PRICKS && glyc_meter_len(NULL) == 0);
    assert(!glyc_pairs_new(meter, trace, 5, GLYC_HOW_INTERPOLATE, 10, &pairs, &left, NULL));
    assert(glyc_table_rows(pairs) == PRICKS - 1 && glyc_table_rows(left) == 1);
    const double *x = NULL, *y = NULL;
    const bool *valid = NULL;
    size_t len = 0;
    assert(!glyc_table_column_f64(pairs, "reference_mg_dl", &x, &valid, &len, NULL));
    assert(!glyc_table_column_f64(pairs, "measured_mg_dl", &y, &valid, &len, NULL));
    for (size_t i = 0; i < len; i++) assert(fabs(x[i] - y[i]) <= 5);
    glyc_table_free(pairs);
    glyc_table_free(left);
    assert(!glyc_lag(meter, trace, 0.95, &e, NULL) && fabs(e.value - 10) <= 1);
    assert(!glyc_clock_offset(meter, trace, 8, 1, 0.95, &e, NULL) && fabs(e.value + 2) <= 1);
    pairs = NULL;
    glyc_status s = glyc_pairs_new(meter, trace, 5, 3, 0, &pairs, &left, &error);
    expect(s, GLYC_STATUS_UNKNOWN_CHOICE, error, "unknown_choice", "how");
    assert(!pairs);
    s = glyc_lag(NULL, trace, 0.95, &e, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "meter");
    glyc_meter_free(meter);
    assert(!glyc_meter_new(pricked, blood, 3, GLYC_UNIT_MG_DL, &meter, NULL));
    s = glyc_lag(meter, trace, 0.95, &e, &error);
    assert(s == GLYC_STATUS_NOT_ESTIMABLE && strlen(glyc_error_message(error)) > 0);
    glyc_error_free(error);
    glyc_meter_free(meter);
    glyc_meter_free(NULL);
    glyc_trace_free(trace);
}

static void pairs_by_rules(void) {
    glyc_trace *trace = NULL;
    glyc_meter *meter = NULL;
    glyc_wear *wear = NULL;
    glyc_table *pairs = NULL, *left = NULL, *outside = NULL, *t = NULL;
    glyc_pair_options *options = NULL;
    glyc_error *error = NULL;
    size_t in_bursts = 9;
    int64_t taken[20];
    double shown[20];
    for (int i = 0; i < N; i++) {
        times[i] = MIDNIGHT + i * STEP;
        glucose[i] = 110;
    }
    assert(!glyc_trace_new(times, glucose, N, GLYC_UNIT_MG_DL, NULL, &trace, NULL));
    /* The second reading was typed into the sensor two minutes later. */
    taken[0] = MIDNIGHT + 21 * MINUTE;
    taken[1] = MIDNIGHT + 40 * MINUTE;
    shown[0] = 104;
    shown[1] = 98;
    assert(!glyc_meter_new(taken, shown, 2, GLYC_UNIT_MG_DL, &meter, NULL));
    assert(!glyc_wear_new(&wear, NULL) && !glyc_wear_add(wear, MIDNIGHT, "inserted", "A", NULL));
    assert(!glyc_wear_add(wear, MIDNIGHT + 42 * MINUTE, "calibrated", "A", NULL));
    assert(!glyc_pairs_by_rules(meter, trace, wear, NULL, &pairs, &left, &outside, &in_bursts, NULL));
    assert(glyc_table_rows(pairs) == 1 && whole(pairs, "wear_day", 0) == 1);
    assert(!strcmp(word(pairs, "sensor", 0), "A") && number(pairs, "away_min", 0) == 1);
    assert(glyc_table_rows(left) == 1 && !strcmp(word(left, "why", 0), "calibration"));
    assert(glyc_table_rows(outside) == 0 && in_bursts == 0);
    glyc_table_free(pairs);
    glyc_table_free(left);
    glyc_table_free(outside);
    /* With calibrations in and a sensor that reports up to 105 both are outside its range. */
    assert(!glyc_pair_options_new(&options, NULL));
    assert(!glyc_pair_options_set_calibrations(options, true, 15, NULL));
    assert(!glyc_pair_options_set_ranges(options, 40, 105, NAN, NAN, NULL));
    assert(!glyc_pairs_by_rules(meter, trace, wear, options, &pairs, NULL, &outside, NULL, NULL));
    assert(glyc_table_rows(pairs) == 0 && glyc_table_rows(outside) == 2);
    assert(!strcmp(word(outside, "why", 0), "sensor_high"));
    glyc_table_free(pairs);
    glyc_table_free(outside);
    glyc_status s = glyc_pair_options_set_reading(options, 0, GLYC_HOW_NEAREST, 0, true, &error);
    expect(s, GLYC_STATUS_OUT_OF_RANGE, error, "out_of_range", "window_min");
    s = glyc_pair_options_set_bursts(options, 4, 2, &error);
    expect(s, GLYC_STATUS_UNKNOWN_CHOICE, error, "unknown_choice", "bursts");
    s = glyc_pair_options_set_ranges(options, 40, NAN, NAN, NAN, &error);
    expect(s, GLYC_STATUS_NOT_FINITE, error, "not_finite", "sensor_range_mg_dl");
    assert(!glyc_pair_options_set_bursts(options, GLYC_BURSTS_EACH, 2, NULL));
    assert(!glyc_pair_options_set_reading(options, 5, GLYC_HOW_INTERPOLATE, 0, false, NULL));
    glyc_pair_options_free(options);
    glyc_pair_options_free(NULL);
    pairs = NULL;
    s = glyc_pairs_by_rules(NULL, trace, wear, NULL, &pairs, NULL, NULL, &in_bursts, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "meter");
    s = glyc_pairing_sensitivity(meter, trace, wear, NULL, NAN, 0.95, &t, &error);
    expect(s, GLYC_STATUS_NOT_ESTIMABLE, error, "too_few_pairs", NULL);
    assert(!pairs && !t);
    glyc_meter_free(meter);
    /* Four windows, nearest and interpolated; a flat trace gives the same by each. */
    for (int k = 0; k < 20; k++) {
        taken[k] = MIDNIGHT + (60 + 480 * k) * MINUTE;
        shown[k] = 100;
    }
    assert(!glyc_meter_new(taken, shown, 20, GLYC_UNIT_MG_DL, &meter, NULL));
    assert(!glyc_pairing_sensitivity(meter, trace, NULL, NULL, NAN, 0.95, &t, NULL));
    assert(glyc_table_rows(t) == 8);
    for (size_t i = 0; i < 8; i++) assert(fabs(number(t, "mard_pct", i) - 10) < 1e-9);
    glyc_table_free(t);
    glyc_meter_free(meter);
    glyc_wear_free(wear);
    glyc_trace_free(trace);
}

/* Five meals on five days: up 60 by the meter, 50 by the sensor; the sixth has no pair. */
static void changes_of_meals(void) {
    int64_t taken[10], day[10], meals[6];
    double meter[10], sensor[10];
    glyc_table *t = NULL, *changes = NULL, *skipped = NULL;
    glyc_error *error = NULL;
    for (int d = 0; d < 5; d++) {
        meals[d] = taken[2 * d] = MIDNIGHT + d * 1440 * MINUTE;
        taken[2 * d + 1] = taken[2 * d] + 60 * MINUTE;
        day[2 * d] = day[2 * d + 1] = d;
        meter[2 * d] = 100;
        meter[2 * d + 1] = 160;
        sensor[2 * d] = 105;
        sensor[2 * d + 1] = 155;
    }
    meals[5] = MIDNIGHT + 20 * 1440 * MINUTE;
    assert(!glyc_agreement_changes(taken, meter, sensor, day, 10, meals, 6, NAN, 0.95, &t, &changes,
                                   &skipped, NULL));
    assert(!strcmp(word(t, "name", 0), "bias_mg_dl") && number(t, "value", 0) == -10);
    assert(!strcmp(word(t, "name", 1), "lower_mg_dl") && number(t, "value", 1) == -10);
    assert(glyc_table_rows(changes) == 5 && number(changes, "difference_mg_dl", 4) == -10);
    assert(glyc_table_rows(skipped) == 1 && whole(skipped, "meal", 0) == 5);
    assert(!strcmp(word(skipped, "why", 0), "no_pair_before"));
    glyc_table_free(t);
    glyc_table_free(changes);
    glyc_table_free(skipped);
    t = changes = NULL;
    meter[3] = NAN;
    glyc_status s = glyc_agreement_changes(taken, meter, sensor, day, 10, meals, 6, NAN, 0.95, &t,
                                           &changes, NULL, &error);
    expect(s, GLYC_STATUS_NOT_FINITE, error, "not_finite", "meter_mg_dl");
    assert(!t && !changes);
}

int main(void) {
    published_numbers();
    grids_and_standards();
    a_lag_of_ten_minutes();
    pairs_by_rules();
    changes_of_meals();
    puts("agreement, pairs and lag: all passed");
    return 0;
}
