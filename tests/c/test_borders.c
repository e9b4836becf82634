/* What happens at the borders: wrong arguments, untouched outputs, errors, ownership. */
#undef NDEBUG
#include "glycemic.h"

#include "expect.h"

#include <assert.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

_Static_assert(sizeof(glyc_status) == 4, "a status is 32 bits");
_Static_assert(sizeof(glyc_estimate) == 56 && offsetof(glyc_estimate, present) == 48, "frozen");
_Static_assert(sizeof(glyc_reading) == 24 && offsetof(glyc_reading, censor) == 16, "frozen");

static const double minutes[] = {0, 30, 60};
static const double values[] = {90, 150, 90};

static void versions(void) {
    assert(glyc_abi_version() == GLYC_ABI_VERSION);
    assert(!strcmp(glyc_version(), WANTED_VERSION));
}

static void null_is_freed_and_read_as_nothing(void) {
    size_t index = 7;
    uint64_t line = 7;
    double had = UNTOUCHED;
    glyc_error_free(NULL);
    glyc_clock_free(NULL);
    glyc_trace_free(NULL);
    glyc_panel_free(NULL);
    glyc_intervals_free(NULL);
    assert(glyc_error_status(NULL) == GLYC_STATUS_OK);
    assert(!glyc_error_code(NULL) && !glyc_error_message(NULL) && !glyc_error_argument(NULL));
    assert(!glyc_error_file(NULL) && !glyc_error_column(NULL));
    assert(!glyc_error_index(NULL, &index) && index == 7 && !glyc_error_line(NULL, &line));
    assert(line == 7);
    assert(glyc_trace_len(NULL) == 0 && glyc_trace_rejected_len(NULL) == 0);
    assert(!glyc_trace_times_ms(NULL) && !glyc_trace_glucose_mg_dl(NULL));
    assert(!glyc_panel_reason(NULL, 1) && !glyc_panel_reason_code(NULL, 1));
    assert(!glyc_panel_reason_counts(NULL, 1, &had, &had) && had == UNTOUCHED);
    assert(!glyc_intervals_reason(NULL, 1) && !glyc_intervals_method(NULL, 1));
}

static void areas(void) {
    glyc_error *error = NULL;
    double area = UNTOUCHED, bad = NAN, ninety = 90;
    double with_nan[] = {90, NAN, 90}, back[] = {0, 30, 30};

    /* Up 60 in 30 min and down again: a triangle of 60 x 60 / 2. */
    assert(!glyc_area_incremental(minutes, values, 3, NULL, GLYC_RULE_POSITIVE, &area, &error));
    assert(area == 1800.0 && !error);
    area = UNTOUCHED;
    assert(!glyc_area_incremental(minutes, values, 3, &ninety, GLYC_RULE_NET, &area, NULL));
    assert(area == 1800.0);
    assert(!glyc_area_total(minutes, values, 3, &area, NULL) && area == 7200.0);

    area = UNTOUCHED;
    glyc_status s = glyc_area_incremental(minutes, values, 3, &bad, 1, &area, &error);
    expect(s, GLYC_STATUS_NOT_FINITE, error, "not_finite", "baseline");
    for (unsigned rule = 0; rule < 6; rule++) {
        if (1 <= rule && rule <= 3) continue;
        s = glyc_area_incremental(minutes, values, 3, NULL, rule, &area, &error);
        expect(s, GLYC_STATUS_UNKNOWN_CHOICE, error, "unknown_choice", "rule");
    }
    s = glyc_area_total(NULL, values, 3, &area, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "minutes");
    s = glyc_area_total(minutes, NULL, 3, &area, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "values");
    s = glyc_area_total(minutes, values, 3, NULL, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "area_out");
    s = glyc_area_total(NULL, NULL, 0, &area, &error); /* an empty array may be NULL */
    expect(s, GLYC_STATUS_TOO_FEW_VALUES, error, "too_few_values", NULL);
    s = glyc_area_total(minutes, values, SIZE_MAX, &area, &error);
    expect(s, GLYC_STATUS_OUT_OF_RANGE, error, "out_of_range", "len");
    assert(glyc_area_total(NULL, values, 3, &area, NULL) == GLYC_STATUS_NULL_ARGUMENT);

    size_t index = 99;
    assert(glyc_area_total(minutes, with_nan, 3, &area, &error) == GLYC_STATUS_NOT_FINITE);
    assert(glyc_error_index(error, &index) && index == 1 && glyc_error_index(error, NULL));
    assert(!glyc_error_file(error) && !glyc_error_column(error) && !glyc_error_line(error, NULL));
    expect(glyc_error_status(error), GLYC_STATUS_NOT_FINITE, error, "not_finite", "values");
    assert(glyc_area_total(back, values, 3, &area, &error) == GLYC_STATUS_UNORDERED_TIME);
    assert(glyc_error_index(error, &index) && index == 2);
    glyc_error_free(error);
    assert(area == UNTOUCHED);

    /* A success clears what an earlier failure left. */
    error = (glyc_error *)(void *)&index;
    assert(!glyc_area_total(minutes, values, 3, &area, &error) && !error);
}

static void clocks(void) {
    glyc_error *error = NULL;
    glyc_clock *clock = NULL;
    int64_t from[] = {T0, T0};
    int32_t offset[] = {0, 60}, minutes_east = -1;
    glyc_status s = glyc_clock_fixed(INT32_MIN, &clock, &error);
    expect(s, GLYC_STATUS_OUT_OF_RANGE, error, "out_of_range", "offset_min");
    s = glyc_clock_from_zone("Nowhere/Never", &clock, &error);
    expect(s, GLYC_STATUS_UNKNOWN_ZONE, error, "unknown_zone", "zone");
    s = glyc_clock_from_zone("\xff", &clock, &error);
    expect(s, GLYC_STATUS_NOT_UTF8, error, "not_utf8", "zone");
    s = glyc_clock_from_zone(NULL, &clock, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "zone");
    s = glyc_clock_from_steps(from, offset, 2, &clock, &error);
    expect(s, GLYC_STATUS_UNORDERED_TIME, error, "unordered_time", "times");
    s = glyc_clock_from_steps(NULL, NULL, 0, &clock, &error);
    expect(s, GLYC_STATUS_TOO_FEW_VALUES, error, "too_few_values", NULL);
    s = glyc_clock_offset_min(NULL, T0, &minutes_east, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "clock");
    assert(!clock && minutes_east == -1);

    from[1] = T0 + 1000;
    assert(!glyc_clock_from_steps(from, offset, 2, &clock, &error));
    assert(!glyc_clock_offset_min(clock, T0 + 999, &minutes_east, NULL) && minutes_east == 0);
    assert(!glyc_clock_offset_min(clock, T0 + 1000, &minutes_east, NULL) && minutes_east == 60);
    glyc_clock_free(clock);
}

static void bad_traces(void) {
    glyc_error *error = NULL;
    glyc_trace *trace = NULL;
    int64_t times[] = {T0, T0 + STEP}, seconds[] = {T0 / 1000, T0 / 1000 + 300};
    double mg[] = {100, 110}, mmol[] = {5.5, 6.1}, infinite[] = {100, INFINITY}, none[] = {NAN, NAN};
    double negative[] = {100, -1};
    glyc_reading odd[] = {{T0, 100, 7, 0}};
    size_t index = 99;

    glyc_status s = glyc_trace_new(times, mg, 2, 0, NULL, &trace, &error);
    expect(s, GLYC_STATUS_UNKNOWN_CHOICE, error, "unknown_choice", "unit");
    s = glyc_trace_new(times, mmol, 2, GLYC_UNIT_MG_DL, NULL, &trace, &error);
    expect(s, GLYC_STATUS_IMPLAUSIBLE_UNIT, error, "implausible_unit", "unit");
    s = glyc_trace_new(seconds, mg, 2, GLYC_UNIT_MG_DL, NULL, &trace, &error);
    expect(s, GLYC_STATUS_IMPLAUSIBLE_TIME, error, "implausible_time", "times");
    s = glyc_trace_new(times, infinite, 2, GLYC_UNIT_MG_DL, NULL, &trace, &error);
    assert(glyc_error_index(error, &index) && index == 1);
    expect(s, GLYC_STATUS_NOT_FINITE, error, "not_finite", "glucose");
    s = glyc_trace_new(times, negative, 2, GLYC_UNIT_MG_DL, NULL, &trace, &error);
    expect(s, GLYC_STATUS_OUT_OF_RANGE, error, "out_of_range", "glucose");
    s = glyc_trace_new(times, none, 2, GLYC_UNIT_MG_DL, NULL, &trace, &error);
    expect(s, GLYC_STATUS_TOO_FEW_VALUES, error, "too_few_values", NULL);
    s = glyc_trace_new(NULL, mg, 2, GLYC_UNIT_MG_DL, NULL, &trace, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "times_ms");
    s = glyc_trace_new(times, NULL, 2, GLYC_UNIT_MG_DL, NULL, &trace, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "glucose");
    s = glyc_trace_new(times, mg, 2, GLYC_UNIT_MG_DL, NULL, NULL, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "trace_out");
    s = glyc_trace_from_readings(odd, 1, GLYC_UNIT_MG_DL, NULL, &trace, &error);
    expect(s, GLYC_STATUS_OUT_OF_RANGE, error, "out_of_range", "censor");
    assert(!trace);
}

static void cleaning_and_coverage(void) {
    glyc_error *error = NULL;
    glyc_trace *trace = NULL;
    glyc_reading given[] = {
        {T0 + 2 * STEP, 110, GLYC_CENSOR_NONE, 0}, {T0, 40, GLYC_CENSOR_LOW, 0},
        {T0, 40, GLYC_CENSOR_LOW, 0},              {T0 + STEP, 104, GLYC_CENSOR_NONE, 0},
        {T0 + STEP, 105, GLYC_CENSOR_NONE, 0},     {T0 + 3 * STEP, NAN, GLYC_CENSOR_NONE, 0},
        {T0 + 12 * STEP, 400, GLYC_CENSOR_HIGH, 0},
    };
    /* Given, kept, sorted, duplicates, conflicts, missing, censored low and high. */
    const size_t counts[] = {7, 4, 4, 1, 1, 1, 1, 1};
    /* n, possible, active %, days, interval, gaps, longest gap: steps of 1, 1 and 10. */
    const double figures[] = {4, 13, 100.0 * 4 / 13, 60.0 / 1440, 5, 1, 50};

    assert(!glyc_trace_from_readings(given, 7, GLYC_UNIT_MG_DL, NULL, &trace, &error) && !error);
    assert(glyc_trace_len(trace) == 4 && glyc_trace_times_ms(trace)[3] == T0 + 12 * STEP);
    assert(glyc_trace_glucose_mg_dl(trace)[1] == 104);
    for (uint32_t i = 0; i < 8; i++) {
        size_t count = 99;
        assert(!glyc_trace_cleaning(trace, i + 1, &count, &error) && count == counts[i]);
    }
    for (uint32_t i = 0; i < 7; i++) {
        double figure = UNTOUCHED;
        assert(!glyc_trace_coverage(trace, i + 1, &figure, &error));
        assert(fabs(figure - figures[i]) < 1e-12);
    }
    size_t count = 99, index = 99;
    uint32_t kind = 99;
    double figure = UNTOUCHED;
    glyc_reading reading = {1, 2, 3, 4};
    glyc_status s = glyc_trace_cleaning(trace, 0, &count, &error);
    expect(s, GLYC_STATUS_UNKNOWN_CHOICE, error, "unknown_choice", "which");
    s = glyc_trace_coverage(trace, 8, &figure, &error);
    expect(s, GLYC_STATUS_UNKNOWN_CHOICE, error, "unknown_choice", "which");
    s = glyc_trace_reading(trace, 4, &reading, &error);
    expect(s, GLYC_STATUS_OUT_OF_RANGE, error, "out_of_range", "position");
    s = glyc_trace_rejected(trace, 2, &index, &kind, &error);
    expect(s, GLYC_STATUS_OUT_OF_RANGE, error, "out_of_range", "position");
    s = glyc_trace_rejected(trace, 0, &index, NULL, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "kind_out");
    assert(count == 99 && index == 99 && kind == 99 && figure == UNTOUCHED && reading.censor == 3);

    assert(!glyc_trace_reading(trace, 0, &reading, NULL) && reading.censor == GLYC_CENSOR_LOW);
    assert(!glyc_trace_reading(trace, 3, &reading, NULL) && reading.censor == GLYC_CENSOR_HIGH);
    assert(glyc_trace_rejected_len(trace) == 2);
    assert(!glyc_trace_rejected(trace, 0, &index, &kind, NULL));
    assert(index == 4 && kind == GLYC_REJECTED_CONFLICT);
    assert(!glyc_trace_rejected(trace, 1, &index, &kind, NULL));
    assert(index == 5 && kind == GLYC_REJECTED_MISSING);
    glyc_trace_free(trace);
}

static void panels(void) {
    glyc_error *error = NULL;
    glyc_trace *trace = NULL;
    glyc_panel *panel = NULL;
    glyc_intervals *intervals = NULL;
    int64_t times[] = {T0, T0 + STEP, T0 + 2 * STEP, T0 + 3 * STEP};
    double glucose[] = {69, 70, 180, 181}, value = UNTOUCHED, had = UNTOUCHED, needed = UNTOUCHED;
    glyc_estimate estimate = {1, 2, 3, 4, 5, 6, 7, 8};

    assert(!glyc_trace_new(times, glucose, 4, GLYC_UNIT_MG_DL, NULL, &trace, &error));
    assert(glyc_panel_new(trace, NULL, 1, &panel, NULL) == GLYC_STATUS_NULL_ARGUMENT && !panel);
    glyc_status s = glyc_panel_new(NULL, NULL, 0, &panel, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "trace");
    assert(!glyc_panel_new(trace, NULL, 0, &panel, &error));

    /* No clock was given, so fasting is missing and says why. */
    s = glyc_panel_value(panel, GLYC_MEASURE_FASTING_MG_DL, &value, &error);
    expect(s, GLYC_STATUS_NOT_ESTIMABLE, error, "no_zone", NULL);
    assert(!strcmp(glyc_panel_reason_code(panel, GLYC_MEASURE_FASTING_MG_DL), "no_zone"));
    assert(strlen(glyc_panel_reason(panel, GLYC_MEASURE_FASTING_MG_DL)) > 0);
    assert(!glyc_panel_reason_counts(panel, GLYC_MEASURE_FASTING_MG_DL, &had, &needed));
    s = glyc_panel_value(panel, 0, &value, &error);
    expect(s, GLYC_STATUS_UNKNOWN_CHOICE, error, "unknown_choice", "measure_id");
    s = glyc_panel_value(NULL, GLYC_MEASURE_N, &value, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "panel");
    assert(value == UNTOUCHED);
    assert(!glyc_panel_value(panel, GLYC_MEASURE_MEAN_MG_DL, &value, NULL) && value == 125.0);
    assert(!glyc_panel_value(panel, GLYC_MEASURE_IN_RANGE_PCT, &value, NULL) && value == 50.0);
    assert(!glyc_panel_reason(panel, GLYC_MEASURE_MEAN_MG_DL));
    assert(!glyc_panel_reason(panel, 0) && !glyc_panel_reason(panel, UINT32_MAX));
    glyc_panel_free(panel);

    s = glyc_intervals_new(trace, NULL, 0, NAN, &intervals, &error);
    expect(s, GLYC_STATUS_NOT_FINITE, error, "not_finite", "level");
    s = glyc_intervals_new(trace, NULL, 0, 1.0, &intervals, &error);
    expect(s, GLYC_STATUS_OUT_OF_RANGE, error, "out_of_range", "level");
    assert(!intervals && !glyc_intervals_new(trace, NULL, 0, 0.95, &intervals, &error));
    s = glyc_intervals_estimate(intervals, GLYC_MEASURE_MEAN_MG_DL, &estimate, &error);
    /* Without a zone there are no days: the value stands, its interval doesn't. */
    assert(!s && estimate.value == 125.0 && estimate.present == GLYC_PRESENT_VALUE);
    assert(strlen(glyc_intervals_reason(intervals, GLYC_MEASURE_MEAN_MG_DL)) > 0);
    glyc_intervals_free(intervals);
    glyc_trace_free(trace);

    /* One reading has no standard deviation: one had, two needed. */
    assert(!glyc_trace_new(times, glucose, 1, GLYC_UNIT_MG_DL, NULL, &trace, &error));
    assert(!glyc_panel_new(trace, NULL, 0, &panel, &error));
    value = UNTOUCHED;
    s = glyc_panel_value(panel, GLYC_MEASURE_SD_MG_DL, &value, NULL);
    assert(s == GLYC_STATUS_NOT_ESTIMABLE && value == UNTOUCHED);
    assert(glyc_panel_reason_counts(panel, GLYC_MEASURE_SD_MG_DL, &had, &needed));
    assert(had == 1 && needed == 2);
    glyc_panel_free(panel);
    glyc_trace_free(trace);
}

/* Ten local days whose means go up and down, so that neighbours are not alike. */
static void intervals_of_ten_days(void) {
    enum { PER_DAY = 24, DAYS = 10, N = PER_DAY * DAYS };
    static int64_t times[N];
    static double glucose[N];
    static const int order[DAYS] = {0, 9, 1, 8, 2, 7, 3, 6, 4, 5};
    glyc_clock *clock = NULL;
    glyc_trace *trace = NULL;
    glyc_intervals *intervals = NULL;
    glyc_estimate e;
    int64_t midnight = T0 - T0 % INT64_C(86400000);
    for (int i = 0; i < N; i++) {
        times[i] = midnight + i * INT64_C(3600000);
        glucose[i] = 100 + order[i / PER_DAY];
    }
    assert(!glyc_clock_fixed(0, &clock, NULL));
    assert(!glyc_trace_new(times, glucose, N, GLYC_UNIT_MG_DL, clock, &trace, NULL));
    glyc_clock_free(clock); /* the trace has its own copy */
    assert(!glyc_intervals_new(trace, NULL, 0, 0.95, &intervals, NULL));
    assert(!glyc_intervals_estimate(intervals, GLYC_MEASURE_MEAN_MG_DL, &e, NULL));
    /* Closed form: the jackknife of a mean of equal days is Student's t on the ten daily means;
     * their SD is sqrt(55 / 6), t(0.975, 9 d.f.) is 2.262157 in printed tables. */
    double half = 2.262157 * sqrt(55.0 / 6.0 / 10.0);
    assert(e.present == (GLYC_PRESENT_VALUE | GLYC_PRESENT_LOW | GLYC_PRESENT_HIGH));
    assert(fabs(e.value - 104.5) < 1e-9 && fabs(e.low - (104.5 - half)) < 1e-5);
    assert(fabs(e.high - (104.5 + half)) < 1e-5 && e.n == 10 && e.level == 0.95);
    assert(!glyc_intervals_reason(intervals, GLYC_MEASURE_MEAN_MG_DL));
    assert(strlen(glyc_intervals_method(intervals, GLYC_MEASURE_MEAN_MG_DL)) > 0);
    /* A count has a value and no interval, and says why. */
    assert(!glyc_intervals_estimate(intervals, GLYC_MEASURE_N, &e, NULL));
    assert(e.value == N && e.present == GLYC_PRESENT_VALUE && isnan(e.low) && isnan(e.high));
    assert(glyc_intervals_reason(intervals, GLYC_MEASURE_N));
    glyc_intervals_free(intervals);
    glyc_trace_free(trace);
}

static void measures(void) {
    glyc_error *error = NULL;
    uint32_t id = 99;
    assert(glyc_measure_count() > 30 && glyc_measure_id_at(glyc_measure_count()) == 0);
    for (size_t i = 0; i < glyc_measure_count(); i++) {
        uint32_t at = glyc_measure_id_at(i), back = 0;
        assert(!glyc_measure_id_from_name(glyc_measure_name(at), &back, &error) && back == at);
        assert(strlen(glyc_measure_unit(at)) > 0 && strlen(glyc_measure_what(at)) > 0);
        assert(strlen(glyc_measure_source(at)) > 0);
    }
    assert(!strcmp(glyc_measure_name(GLYC_MEASURE_MEAN_MG_DL), "mean_mg_dl"));
    assert(!strcmp(glyc_measure_unit(GLYC_MEASURE_GMI_MMOL_MOL), "mmol/mol"));
    assert(!glyc_measure_name(0) && !glyc_measure_unit(UINT32_MAX) && !glyc_measure_what(0));
    glyc_status s = glyc_measure_id_from_name("no_such_measure", &id, &error);
    expect(s, GLYC_STATUS_UNKNOWN_CHOICE, error, "unknown_choice", "name");
    s = glyc_measure_id_from_name(NULL, &id, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "name");
    assert(id == 99);
}

static void agreement(void) {
    glyc_error *error = NULL;
    double reference[] = {60, 200, 0}, measured[] = {75, 230, 100}, effective = UNTOUCHED;
    int64_t day[] = {1, 1, 1};
    size_t count = 99;
    glyc_estimate e = {1, 2, 3, 4, 5, 6, 7, 8};
    glyc_status s = glyc_agreement_within(reference, measured, NULL, 3, 15, 15, 100, 0.95, &e,
                                          &count, &effective, &error);
    expect(s, GLYC_STATUS_OUT_OF_RANGE, error, "out_of_range", "reference");
    s = glyc_agreement_within(reference, measured, NULL, 2, NAN, 15, 100, 0.95, &e, &count,
                              &effective, &error);
    expect(s, GLYC_STATUS_NOT_FINITE, error, "not_finite", "mg_dl");
    s = glyc_agreement_within(reference, measured, NULL, 0, 15, 15, 100, 0.95, &e, &count,
                              &effective, &error);
    expect(s, GLYC_STATUS_TOO_FEW_VALUES, error, "too_few_values", NULL);
    s = glyc_agreement_within(reference, measured, NULL, 2, 15, 15, 100, 0.95, NULL, &count,
                              &effective, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "share_out");
    assert(e.value == 1 && e.present == 7 && count == 99 && effective == UNTOUCHED);

    assert(!glyc_agreement_within(reference, measured, NULL, 2, 15, 15, 100, 0.95, &e, &count,
                                  &effective, &error));
    /* Two of two: the exact lower end is 0.025 to the power 1/2. */
    assert(count == 2 && e.value == 1 && e.n == 2 && effective == 2 && e.high == 1);
    assert(fabs(e.low - sqrt(0.025)) < 1e-9);
    assert(!glyc_agreement_within(reference, measured, day, 2, 15, 15, 100, 0.95, &e, NULL,
                                  &effective, NULL));
    assert(effective == 1 && fabs(e.low - 0.025) < 1e-9);
}

#ifdef PANIC_CHECK
glyc_status glyc_panic_check(glyc_error **error);

static void a_panic_does_not_cross(void) {
    glyc_error *error = NULL;
    assert(glyc_panic_check(NULL) == GLYC_STATUS_PANIC);
    glyc_status s = glyc_panic_check(&error);
    assert(strstr(glyc_error_message(error), "a planted panic"));
    expect(s, GLYC_STATUS_PANIC, error, "panic", NULL);
    puts("test_borders: a panic came back as a status");
}
#endif

int main(void) {
    versions();
    null_is_freed_and_read_as_nothing();
    areas();
    clocks();
    bad_traces();
    cleaning_and_coverage();
    panels();
    intervals_of_ten_days();
    measures();
    agreement();
#ifdef PANIC_CHECK
    a_panic_does_not_cross();
#endif
    puts("test_borders: all held");
    return 0;
}
