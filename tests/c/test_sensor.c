/* The sensor against the meter and by itself, survival. Traces are made by hand, so each answer
 * follows from how they were made. */
#undef NDEBUG
#include "glycemic.h"

#include "cells.h"
#include "expect.h"

#include <assert.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

enum { PER_DAY = 288, DAYS = 10, N = PER_DAY * DAYS };
#define MIDNIGHT INT64_C(1741564800000) /* 2025-03-10 00:00 UTC */
#define MINUTE INT64_C(60000)
#define DAY (1440 * MINUTE)

static int64_t times[N];
static double glucose[N];

static glyc_trace *trace_of(int n, double (*value)(int)) {
    glyc_clock *clock = NULL;
    glyc_trace *trace = NULL;
    for (int i = 0; i < n; i++) {
        times[i] = MIDNIGHT + i * STEP;
        glucose[i] = value(i);
    }
    assert(!glyc_clock_fixed(0, &clock, NULL));
    assert(!glyc_trace_new(times, glucose, (size_t)n, GLYC_UNIT_MG_DL, clock, &trace, NULL));
    glyc_clock_free(clock);
    return trace;
}

static glyc_wear *wear_with(int64_t at, const char *event) {
    glyc_wear *wear = NULL;
    assert(!glyc_wear_new(&wear, NULL) && !glyc_wear_add(wear, at, event, "A", NULL));
    assert(glyc_wear_len(wear) == 1);
    return wear;
}

/* A meter that shows 100 at 08:20 of each day. */
static glyc_meter *at_100(void) {
    glyc_meter *meter = NULL;
    int64_t pricked[DAYS];
    double shown[DAYS];
    for (int d = 0; d < DAYS; d++) {
        pricked[d] = MIDNIGHT + d * DAY + 500 * MINUTE;
        shown[d] = 100;
    }
    assert(!glyc_meter_new(pricked, shown, DAYS, GLYC_UNIT_MG_DL, &meter, NULL));
    return meter;
}

/* 90 to 110 mg/dL and back in six hours. */
static double blood(int i) {
    int phase = i % 72;
    return 90 + round((phase < 36 ? phase : 72 - phase) * 20 / 36.0);
}

static double ten_more(int i) {
    return blood(i) + 10;
}

static void an_offset_of_ten(void) {
    glyc_trace *trace = trace_of(N, ten_more), *set = NULL;
    glyc_meter *meter = NULL;
    glyc_recalibration *found = NULL;
    glyc_table *t = NULL;
    int64_t pricked[2 * DAYS];
    double shown[2 * DAYS];
    size_t clipped = 9, at_limit = 9, unpaired = 9, fast = 9, unsettled = 9;
    /* The meter errs by -1, 0 and 1 in turn: nothing on the mean of the 18 after the first day. */
    for (int k = 0; k < 2 * DAYS; k++) {
        int i = 131 * k + 70;
        pricked[k] = MIDNIGHT + i * STEP;
        shown[k] = blood(i) + k % 3 - 1;
    }
    assert(!glyc_meter_new(pricked, shown, 2 * DAYS, GLYC_UNIT_MG_DL, &meter, NULL));
    assert(!glyc_recalibration_new(meter, trace, 0, 0, 6, 0.95, &found, NULL));
    assert(!glyc_recalibration_left_out(found, &unpaired, &fast, &unsettled, NULL));
    assert(unpaired == 0 && fast == 0 && unsettled == 2);
    assert(!glyc_recalibration_table(found, &t, NULL) && glyc_table_rows(t) == 1);
    assert(!strcmp(word(t, "kind", 0), "offset") && whole(t, "pairs", 0) == 18);
    assert(fabs(number(t, "set_offset_mg_dl", 0) - 10) < 1e-9 && number(t, "set_gain", 0) == 1);
    assert(fabs(number(t, "before_bias_mg_dl", 0) - 10) < 1e-9);
    assert(fabs(number(t, "after_bias_mg_dl", 0)) < 0.2);
    /* Of blood less is known: 6 % of 100 mg/dL, twice. */
    assert(number(t, "offset_in_blood_low_mg_dl", 0) < 10 - 11);
    glyc_table_free(t);
    assert(!glyc_recalibration_tried(found, &t, NULL) && glyc_table_rows(t) == 5);
    assert(!strcmp(word(t, "kind", 0), "none"));
    /* The meter spans 22 mg/dL at the most: too little for a gain. */
    assert(strstr(word(t, "reason", 2), "60"));
    glyc_table_free(t);
    assert(!glyc_recalibration_apply(found, trace, &set, &clipped, &at_limit, NULL));
    assert(clipped == 0 && at_limit == 0 && glyc_trace_len(set) == N);
    for (int i = 0; i < N; i++) assert(glyc_trace_glucose_mg_dl(set)[i] == blood(i));
    glyc_trace_free(set);
    set = NULL;
    assert(!glyc_recalibration_applied(found, trace, &t, NULL) && glyc_table_rows(t) == 1);
    assert(!strcmp(word(t, "kind", 0), "offset") && whole(t, "readings", 0) == N);
    assert(fabs(number(t, "offset_mg_dl", 0) - 10) < 1e-9 && whole(t, "pairs", 0) == 18);
    glyc_table_free(t);
    t = NULL;
    glyc_error *error = NULL;
    glyc_status s = glyc_recalibration_apply(found, NULL, &set, &clipped, NULL, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "trace");
    s = glyc_recalibration_applied(found, NULL, &t, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "trace");
    assert(!t);
    glyc_recalibration_free(found);
    found = NULL;
    s = glyc_recalibration_new(meter, trace, 0, 0, NAN, 0.95, &found, &error);
    expect(s, GLYC_STATUS_NOT_FINITE, error, "not_finite", "meter_bias_sd_pct");
    s = glyc_recalibration_new(NULL, trace, 0, 0, 6, 0.95, &found, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "meter");
    assert(!set && !found && clipped == 0);
    glyc_recalibration_free(NULL);
    glyc_meter_free(meter);
    glyc_trace_free(trace);
}

static double one_a_day(int i) {
    return 100 + i / PER_DAY;
}

static double ten_more_from_day_5(int i) {
    return i < 5 * PER_DAY ? 100 : 110;
}

static double eight_more_on_day_0(int i) {
    return i < PER_DAY ? 108 : 100;
}

static void drift_step_and_first_day(void) {
    glyc_meter *meter = at_100();
    glyc_table *t = NULL, *hours = NULL;
    glyc_error *error = NULL;
    glyc_trace *trace = trace_of(N, one_a_day), *worn = NULL;
    assert(!glyc_sensor_drift(meter, trace, 0, 0.95, &t, NULL) && glyc_table_rows(t) == 1);
    assert(fabs(number(t, "drift_mg_dl_day", 0) - 1) < 1e-9 && whole(t, "days", 0) == 9);
    assert(!strcmp(word(t, "reason", 0), "-"));
    glyc_table_free(t);
    assert(!glyc_sensor_fasting_drift(trace, NULL, 0.95, &t, NULL));
    assert(fabs(number(t, "fasting_drift_mg_dl_day", 0) - 1) < 1e-9);
    glyc_table_free(t);
    glyc_trace_free(trace);

    trace = trace_of(N, ten_more_from_day_5);
    glyc_wear *wear = wear_with(times[5 * PER_DAY], "inserted");
    assert(!glyc_trace_with_wear(trace, wear, &worn, NULL));
    assert(!glyc_sensor_steps(meter, worn, wear, 0, 0.95, &t, NULL) && glyc_table_rows(t) == 1);
    assert(fabs(number(t, "difference_mg_dl", 0) - 10) < 1e-9);
    assert(fabs(number(t, "overnight_mg_dl", 0) - 10) < 1e-9);
    assert(!strcmp(word(t, "event", 0), "inserted") && !strcmp(word(t, "sensor", 0), "A"));
    glyc_table_free(t);
    /* Two sensors, each too short for a drift: data, not an error. */
    assert(!glyc_sensor_drift(meter, worn, 0, 0.95, &t, NULL) && glyc_table_rows(t) == 2);
    assert(isnan(number(t, "drift_mg_dl_day", 1)) && strcmp(word(t, "reason", 1), "-"));
    glyc_table_free(t);
    t = NULL;
    glyc_status s = glyc_sensor_steps(meter, worn, NULL, 0, 0.95, &t, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "wear");
    s = glyc_sensor_drift(meter, worn, 0, 1, &t, &error);
    expect(s, GLYC_STATUS_OUT_OF_RANGE, error, "out_of_range", "level");
    assert(!t);
    glyc_wear_free(wear);
    glyc_trace_free(worn);
    glyc_trace_free(trace);

    trace = trace_of(8 * PER_DAY, eight_more_on_day_0);
    assert(!glyc_sensor_first_day(NULL, trace, NULL, 0, 0.95, &t, &hours, NULL));
    assert(number(t, "mean_mg_dl", 0) == 101 && number(t, "mean_without_mg_dl", 0) == 100);
    assert(isnan(number(t, "steady_from_h", 0)));
    assert(glyc_table_rows(hours) > 0 && whole(hours, "pairs", 0) == 0);
    glyc_table_free(t);
    glyc_table_free(hours);
    glyc_trace_free(trace);
    glyc_meter_free(meter);
}

static double two_hours_at_104(int i) {
    return 200 <= i && i < 225 ? 104 : 100 + (i * 7) % 11;
}

static double turns_of_four(int i) {
    return i / 3 % 2 ? 100 : 104;
}

static void the_trace_alone(void) {
    glyc_table *t = NULL;
    glyc_error *error = NULL;
    glyc_estimate e = {.value = UNTOUCHED};
    size_t threshold = 0;
    glyc_trace *trace = trace_of(2 * PER_DAY, two_hours_at_104);
    assert(!glyc_sensor_flat_lines(trace, NULL, false, 0.01, &t, &threshold, NULL));
    assert(glyc_table_rows(t) == 1 && whole(t, "readings", 0) == 25);
    assert(number(t, "minutes", 0) == 120 && number(t, "value_mg_dl", 0) == 104);
    assert(threshold > 2 && threshold <= 25);
    glyc_table_free(t);
    t = NULL;
    threshold = 0;
    glyc_status s = glyc_sensor_flat_lines(trace, NULL, false, 0, &t, &threshold, &error);
    expect(s, GLYC_STATUS_OUT_OF_RANGE, error, "out_of_range", "chance");
    assert(!t && threshold == 0);
    glyc_trace_free(trace);

    /* Each third reading stands 4 mg/dL from the middle of those 15 minutes away. No clock, no
     * meals: all readings count. */
    trace = NULL;
    for (int i = 0; i < PER_DAY; i++) {
        times[i] = MIDNIGHT + i * STEP;
        glucose[i] = turns_of_four(i);
    }
    assert(!glyc_trace_new(times, glucose, PER_DAY, GLYC_UNIT_MG_DL, NULL, &trace, NULL));
    assert(!glyc_sensor_noise(trace, NULL, NULL, 0.95, &t, &e, NULL));
    assert(fabs(e.value - 4) < 1e-9 && fabs(number(t, "jitter_mg_dl", 0) - 4) < 1e-9);
    glyc_table_free(t);
    glyc_trace_free(trace);
    s = glyc_sensor_noise(NULL, NULL, NULL, 0.95, &t, &e, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "trace");
}

/* A day of readings of which six in a row did not come; inserted an hour before. */
static void a_gap_of_six(void) {
    glyc_table *t = NULL;
    glyc_error *error = NULL;
    glyc_estimate e = {.value = UNTOUCHED, .present = 9};
    glyc_trace *trace = NULL;
    size_t n = 0;
    for (int i = 0; i < PER_DAY; i++) {
        if (i < 100 || i >= 106) {
            times[n] = MIDNIGHT + i * STEP;
            glucose[n++] = 100;
        }
    }
    assert(!glyc_trace_new(times, glucose, n, GLYC_UNIT_MG_DL, NULL, &trace, NULL));
    glyc_wear *wear = wear_with(MIDNIGHT - 60 * MINUTE, "inserted");
    assert(!glyc_sensor_drop_outs(trace, wear, 0.95, &t, &e, NULL) && glyc_table_rows(t) == 1);
    assert(number(t, "minutes", 0) == 35 && whole(t, "lost", 0) == 6);
    assert(whole(t, "wear_day", 0) == 1 && !strcmp(word(t, "sensor", 0), "A"));
    assert(e.present == 0 && e.needed == 3); /* a rate needs three days */
    glyc_table_free(t);
    assert(!glyc_sensor_capture(trace, wear, &t, NULL));
    assert(whole(t, "readings", 0) == 282 && whole(t, "expected", 0) == 288);
    assert(fabs(number(t, "capture_pct", 0) - 100.0 * 282 / 288) < 1e-12);
    assert(number(t, "longest_min", 0) == 35);
    glyc_table_free(t);
    /* It came an hour after the insertion; of its first 12 hours half of one was lost. */
    assert(!glyc_sensor_wear(trace, wear, 12, &t, NULL) && glyc_table_rows(t) == 1);
    assert(number(t, "wait_min", 0) == 60 && !strcmp(word(t, "sensor", 0), "A"));
    assert(fabs(number(t, "first_hours_lost_pct", 0) - 100.0 * 6 / 144) < 0.1);
    glyc_table_free(t);
    t = NULL;
    e.value = UNTOUCHED;
    glyc_status s = glyc_sensor_drop_outs(NULL, wear, 0.95, &t, &e, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "trace");
    s = glyc_sensor_wear(trace, wear, 0.5, &t, &error);
    expect(s, GLYC_STATUS_OUT_OF_RANGE, error, "out_of_range", "first_hours");
    s = glyc_wear_add(wear, MIDNIGHT, "swapped", NULL, &error);
    expect(s, GLYC_STATUS_UNKNOWN_CHOICE, error, "unknown_choice", "event");
    s = glyc_wear_add(wear, 12, "removed", NULL, &error);
    expect(s, GLYC_STATUS_OUT_OF_RANGE, error, "out_of_range", "time_ms");
    assert(!t && e.value == UNTOUCHED && glyc_wear_len(wear) == 1 && glyc_wear_len(NULL) == 0);
    glyc_wear_free(wear);
    glyc_wear_free(NULL);
    glyc_trace_free(trace);
}

/* A night about 100 mg/dL; from 03:00 for 50 minutes the reading is 40 lower. */
static double a_dip(int i) {
    static const double wave[] = {0, 1, 0, -1};
    return wave[i % 4] + (36 <= i && i < 46 ? 60 : 100);
}

static void a_possible_pressure_low(void) {
    glyc_table *t = NULL;
    glyc_error *error = NULL;
    glyc_diary *diary = NULL;
    glyc_trace *trace = trace_of(100, a_dip);
    assert(!glyc_diary_new(&diary, NULL));
    assert(!glyc_sensor_pressure_lows(trace, diary, NULL, 0, 0.05, 0.95, &t, NULL));
    assert(glyc_table_rows(t) == 1 && number(t, "probability", 0) > 0.9);
    assert(fabs(number(t, "depth_mg_dl", 0) - 40) < 5);
    glyc_table_free(t);
    /* Ten of a hundred readings are below 70, all of them in the dip. */
    assert(!glyc_sensor_without_pressure(trace, NULL, NULL, 0, 0.5, 0.95, &t, NULL));
    assert(!strcmp(word(t, "measure", 1), "below_70_pct"));
    assert(number(t, "with", 1) == 10 && number(t, "without", 1) == 0);
    glyc_table_free(t);
    t = NULL;
    glyc_status s = glyc_sensor_pressure_lows(trace, diary, NULL, 0, 2, 0.95, &t, &error);
    expect(s, GLYC_STATUS_OUT_OF_RANGE, error, "out_of_range", "least_probability");
    s = glyc_sensor_without_pressure(trace, NULL, NULL, 0, NAN, 0.95, &t, &error);
    expect(s, GLYC_STATUS_NOT_FINITE, error, "not_finite", "probability");
    glyc_trace_free(trace);
    /* A reading an hour can't show how steep a fall is. */
    for (int i = 0; i < 48; i++) times[i] = MIDNIGHT + 60 * i * MINUTE;
    assert(!glyc_trace_new(times, glucose, 48, GLYC_UNIT_MG_DL, NULL, &trace, NULL));
    s = glyc_sensor_pressure_lows(trace, diary, NULL, 0, 0.05, 0.95, &t, &error);
    expect(s, GLYC_STATUS_NOT_ESTIMABLE, error, "readings_too_far_apart", NULL);
    assert(!t);
    glyc_diary_free(diary);
    glyc_trace_free(trace);
}

static void alarms_that_would_sound(void) {
    /* Below 70, up to 72 (not yet back by 5), below again, back, and below once more. */
    const double readings[] = {80, 69, 72, 68, 75, 66, 80, 90}, shown[] = {60, 92};
    const double limits[] = {70, 85}, nothing[] = {NAN};
    const uint32_t sides[] = {GLYC_SIDE_BELOW, GLYC_SIDE_ABOVE}, same[] = {1, 1};
    const double twice[] = {70, 70};
    glyc_trace *trace = NULL;
    glyc_meter *meter = NULL;
    glyc_table *t = NULL, *levels = NULL;
    glyc_error *error = NULL;
    for (int i = 0; i < 8; i++) times[i] = MIDNIGHT + i * STEP;
    const int64_t pricked[] = {times[1] - 20 * MINUTE, times[5] + 10 * MINUTE};
    assert(!glyc_trace_new(times, readings, 8, GLYC_UNIT_MG_DL, NULL, &trace, NULL));
    assert(!glyc_meter_new(pricked, shown, 2, GLYC_UNIT_MG_DL, &meter, NULL));
    glyc_wear *wear = wear_with(times[1] + MINUTE, "alarm");
    assert(!glyc_sensor_alarms(trace, limits, sides, 2, GLYC_REARM_BACK, 5, meter, 0, wear, 0.95, &t,
                               &levels, NULL));
    assert(glyc_table_rows(t) == 3);
    assert(whole(t, "time_ms", 0) == times[1] && !strcmp(word(t, "level", 0), "below_70"));
    assert(!strcmp(word(t, "checked", 0), "nobody_checked"));
    assert(whole(t, "noted_ms", 0) == times[1] + MINUTE);
    assert(whole(t, "time_ms", 1) == times[5] && !strcmp(word(t, "checked", 1), "contradicted"));
    assert(number(t, "meter_mg_dl", 1) == 92);
    assert(whole(t, "time_ms", 2) == times[7] && !strcmp(word(t, "level", 2), "above_85"));
    assert(!strcmp(word(t, "checked", 2), "confirmed"));
    assert(glyc_table_rows(levels) == 2 && !strcmp(word(levels, "level", 1), "above_85"));
    assert(whole(levels, "n", 0) == 2 && whole(levels, "contradicted", 0) == 1);
    assert(number(levels, "confirmed_pct", 0) == 0 && number(levels, "confirmed_pct", 1) == 100);
    assert(whole(levels, "noted", 0) == 1 && whole(levels, "noted", 1) == 0);
    /* Forty minutes are no days to count by. */
    assert(isnan(number(levels, "n_per_day", 0)) && strcmp(word(levels, "per_day_reason", 0), "-"));
    glyc_table_free(t);
    glyc_table_free(levels);
    /* Ten minutes after it sounded it sounds again while still below. */
    assert(!glyc_sensor_alarms(trace, limits, sides, 1, GLYC_REARM_SNOOZE, 10, NULL, 0, NULL, 0.95,
                               &t, NULL, NULL));
    assert(glyc_table_rows(t) == 3 && whole(t, "time_ms", 1) == times[3]);
    glyc_table_free(t);
    t = levels = NULL;
    glyc_status s;
    s = glyc_sensor_alarms(trace, twice, same, 2, 1, 5, NULL, 0, NULL, 0.95, &t, &levels, &error);
    expect(s, GLYC_STATUS_UNKNOWN_CHOICE, error, "unknown_choice", "limits_mg_dl");
    s = glyc_sensor_alarms(trace, nothing, same, 1, 1, 5, NULL, 0, NULL, 0.95, &t, &levels, &error);
    expect(s, GLYC_STATUS_NOT_FINITE, error, "not_finite", "limit");
    s = glyc_sensor_alarms(trace, limits, sides, 0, 1, 5, NULL, 0, NULL, 0.95, &t, &levels, &error);
    expect(s, GLYC_STATUS_TOO_FEW_VALUES, error, "too_few_values", NULL);
    s = glyc_sensor_alarms(trace, limits, NULL, 2, 1, 5, NULL, 0, NULL, 0.95, &t, &levels, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "sides");
    s = glyc_sensor_alarms(trace, limits, sides, 2, 3, 5, NULL, 0, NULL, 0.95, &t, &levels, &error);
    expect(s, GLYC_STATUS_UNKNOWN_CHOICE, error, "unknown_choice", "rearm");
    assert(!t && !levels);
    glyc_wear_free(wear);
    glyc_meter_free(meter);
    glyc_trace_free(trace);
}

/* Remission of 21 patients in weeks: Freireich et al., Blood 1963; 21: 699-716, the example of
 * Gehan, Biometrika 1965; 52: 203-223 (times and curve from memory, to four places). */
static void a_worked_survival(void) {
    const double weeks[] = {6,  6,  6,  6,  7,  9,  10, 10, 11, 13, 16,
                            17, 19, 20, 22, 23, 25, 32, 32, 34, 35};
    const bool ended[] = {true, true,  true,  false, true, false, true,  false, false, true, true,
                          false, false, false, true,  true, false, false, false, false, false};
    const double at[] = {6, 7, 10, 13, 16, 22, 23};
    const double curve[] = {0.8571, 0.8067, 0.7529, 0.6902, 0.6275, 0.5378, 0.4482};
    const int64_t at_risk[] = {21, 17, 15, 12, 11, 7, 6};
    glyc_table *t = NULL;
    glyc_error *error = NULL;
    glyc_estimate e = {.value = UNTOUCHED};
    assert(!glyc_survival(weeks, ended, 21, 0.95, &t, &e, NULL) && glyc_table_rows(t) == 7);
    for (size_t i = 0; i < 7; i++) {
        assert(number(t, "time", i) == at[i] && whole(t, "at_risk", i) == at_risk[i]);
        assert(fabs(number(t, "survival", i) - curve[i]) <= 5e-5);
    }
    assert(e.value == 23 && e.n == 9);
    glyc_table_free(t);
    t = NULL;
    e.value = UNTOUCHED;
    glyc_status s = glyc_survival(weeks, ended, 0, 0.95, &t, &e, &error);
    assert(s == GLYC_STATUS_TOO_FEW_VALUES);
    glyc_error_free(error);
    s = glyc_survival(weeks, NULL, 21, 0.95, &t, &e, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "failed");
    s = glyc_survival(weeks, ended, 21, 0.95, NULL, &e, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "table_out");
    assert(!t && e.value == UNTOUCHED);
}

int main(void) {
    an_offset_of_ten();
    drift_step_and_first_day();
    the_trace_alone();
    a_gap_of_six();
    a_possible_pressure_low();
    alarms_that_would_sound();
    a_worked_survival();
    puts("sensor: all passed");
    return 0;
}
