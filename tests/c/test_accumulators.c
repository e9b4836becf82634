/* Histograms and streams: the same bits as the panel of the whole trace, misuse, and their way
 * into bytes and back.
 */
#undef NDEBUG
#include "glycemic.h"

#include "expect.h"

#include <assert.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { N = 1500, GAP_FROM = 700, GAP_TO = 760 }; /* five days, five hours of them missing */

static int64_t times[N];
static double mg_dl[N], mmol_l[N];
static size_t n_readings;

static void make_readings(void) {
    for (int i = 0; i < N; i++) {
        if (GAP_FROM <= i && i < GAP_TO) continue;
        times[n_readings] = T0 + i * STEP;
        double level = 110 + 45 * sin(i / 11.0) + (i * 7919) % 23;
        mg_dl[n_readings] = floor(level);
        /* Tenths as single precision has them: a trace puts them on the step, so do these. */
        mmol_l[n_readings++] = (double)(float)(floor(level / 1.8) / 10);
    }
}

static int same_bits(double a, double b) { return memcmp(&a, &b, sizeof a) == 0; }

static glyc_panel *panel_of(const double *glucose, size_t len, uint32_t unit,
                            const glyc_panel_options *options) {
    glyc_trace *trace = NULL;
    glyc_panel *panel = NULL;
    assert(!glyc_trace_new(times, glucose, len, unit, NULL, &trace, NULL));
    assert(!glyc_panel_new_with(trace, NULL, 0, options, &panel, NULL));
    glyc_trace_free(trace);
    return panel;
}

/* Compares all that a histogram has with the panel; how many values there were. */
static int same_as_panel(const glyc_histogram *histogram, const glyc_panel *panel) {
    int values = 0;
    for (size_t i = 0; i < glyc_measure_count(); i++) {
        uint32_t id = glyc_measure_id_at(i);
        double got = UNTOUCHED, wanted = UNTOUCHED;
        glyc_status s = glyc_histogram_value(histogram, id, &got, NULL);
        const char *code = glyc_histogram_reason_code(histogram, id);
        assert((s == GLYC_STATUS_OK) == (code == NULL));
        if (code && !strcmp(code, "not_computed")) continue; /* it needs the times */
        assert(glyc_panel_value(panel, id, &wanted, NULL) == s && same_bits(got, wanted));
        if (code) {
            assert(!strcmp(code, glyc_panel_reason_code(panel, id)));
            assert(!strcmp(glyc_histogram_reason(histogram, id), glyc_panel_reason(panel, id)));
        }
        values += s == GLYC_STATUS_OK;
    }
    return values;
}

static int stream_same_as_panel(const glyc_stream *stream, const glyc_panel *panel) {
    int values = 0;
    for (size_t i = 0; i < glyc_measure_count(); i++) {
        uint32_t id = glyc_measure_id_at(i);
        double got = UNTOUCHED, wanted = UNTOUCHED;
        glyc_status s = glyc_stream_value(stream, id, &got, NULL);
        const char *code = glyc_stream_reason_code(stream, id);
        assert((s == GLYC_STATUS_OK) == (code == NULL));
        if (code && !strcmp(code, "not_computed")) continue; /* it needs the whole trace */
        assert(glyc_panel_value(panel, id, &wanted, NULL) == s);
        if (!same_bits(got, wanted)) {
            fprintf(stderr, "%s: %.17g, %.17g\n", glyc_measure_name(id), got, wanted);
            abort();
        }
        if (code) assert(!strcmp(code, glyc_panel_reason_code(panel, id)));
        values += s == GLYC_STATUS_OK;
    }
    return values;
}

/* Rows of the registry that need no more than a histogram; or a stream, and the interval that it
 * is told. At least so many: the registry only grows. */
enum { OF_HISTOGRAM = 42, OF_STREAM = 42 + 15 + 1 };

static void histograms_equal_the_panel(uint32_t unit, const double *glucose) {
    glyc_histogram *odd = NULL, *even = NULL, *whole = NULL, *of_trace = NULL;
    glyc_trace *trace = NULL;
    glyc_panel *panel = panel_of(glucose, n_readings, unit, NULL);
    assert(!glyc_histogram_new(unit, NULL, &odd, NULL));
    assert(!glyc_histogram_new(unit, NULL, &even, NULL));
    for (size_t i = 0; i < n_readings; i++)
        assert(!glyc_histogram_push(i % 2 ? odd : even, glucose[i], NULL));
    assert(!glyc_histogram_clone(odd, &whole, NULL));
    assert(!glyc_histogram_merge(whole, even, NULL));
    assert(glyc_histogram_n(whole) == n_readings && glyc_histogram_n(odd) == n_readings / 2);
    assert(glyc_histogram_unit(whole) == unit);
    assert(same_as_panel(whole, panel) >= OF_HISTOGRAM);
    /* The other way round, and the array and the trace at once. */
    assert(!glyc_histogram_merge(even, odd, NULL) && same_as_panel(even, panel) >= OF_HISTOGRAM);
    assert(!glyc_histogram_new(unit, NULL, &of_trace, NULL));
    assert(!glyc_histogram_extend(of_trace, glucose, n_readings, NULL));
    assert(same_as_panel(of_trace, panel) >= OF_HISTOGRAM);
    glyc_histogram_free(of_trace);
    assert(!glyc_trace_new(times, glucose, n_readings, unit, NULL, &trace, NULL));
    assert(!glyc_histogram_new(unit, NULL, &of_trace, NULL));
    assert(!glyc_histogram_extend_trace(of_trace, trace, NULL));
    assert(same_as_panel(of_trace, panel) >= OF_HISTOGRAM);
    /* Merged with itself every reading counts twice; shares and mean stay. */
    double before, after;
    assert(!glyc_histogram_value(whole, GLYC_MEASURE_IN_RANGE_PCT, &before, NULL));
    assert(!glyc_histogram_merge(whole, whole, NULL) && glyc_histogram_n(whole) == 2 * n_readings);
    assert(!glyc_histogram_value(whole, GLYC_MEASURE_IN_RANGE_PCT, &after, NULL));
    assert(after == before);
    glyc_histogram_free(odd);
    glyc_histogram_free(even);
    glyc_histogram_free(whole);
    glyc_histogram_free(of_trace);
    glyc_trace_free(trace);
    glyc_panel_free(panel);
}

static void options_of_a_histogram(void) {
    glyc_panel_options *options = NULL;
    glyc_histogram *histogram = NULL, *plain = NULL;
    double chosen, usual;
    assert(!glyc_panel_options_new(&options, NULL));
    assert(!glyc_panel_options_set_m_reference_mg_dl(options, 80, NULL));
    assert(!glyc_panel_options_set_grade(options, GLYC_GRADE_MEDIAN, NULL));
    assert(!glyc_panel_options_set_risk_constants(options, GLYC_RISK_CONSTANTS_MMOL_L, NULL));
    glyc_panel *panel = panel_of(mg_dl, n_readings, GLYC_UNIT_MG_DL, options);
    assert(!glyc_histogram_new(GLYC_UNIT_MG_DL, options, &histogram, NULL));
    glyc_panel_options_free(options); /* the histogram has its own copy */
    assert(!glyc_histogram_new(GLYC_UNIT_MG_DL, NULL, &plain, NULL));
    assert(!glyc_histogram_extend(histogram, mg_dl, n_readings, NULL));
    assert(!glyc_histogram_merge(plain, histogram, NULL));
    assert(same_as_panel(histogram, panel) >= OF_HISTOGRAM);
    const uint32_t heeded[] = {GLYC_MEASURE_M_VALUE, GLYC_MEASURE_GRADE, GLYC_MEASURE_LBGI};
    for (int i = 0; i < 3; i++) {
        assert(!glyc_histogram_value(histogram, heeded[i], &chosen, NULL));
        assert(!glyc_histogram_value(plain, heeded[i], &usual, NULL) && usual != chosen);
    }
    glyc_histogram_free(histogram);
    glyc_histogram_free(plain);
    glyc_panel_free(panel);
}

static void histograms_refuse(void) {
    glyc_error *error = NULL;
    glyc_histogram *mg = NULL, *mmol = NULL;
    glyc_trace *trace = NULL;
    double bad[] = {100, 101, 100.5, 0}, with_nan[] = {100, NAN}, value = UNTOUCHED, had, needed;
    size_t index = 99;
    glyc_status s = glyc_histogram_new(0, NULL, &mg, &error);
    expect(s, GLYC_STATUS_UNKNOWN_CHOICE, error, "unknown_choice", "unit");
    s = glyc_histogram_new(GLYC_UNIT_MG_DL, NULL, NULL, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "histogram_out");
    assert(!mg && !glyc_histogram_new(GLYC_UNIT_MG_DL, NULL, &mg, &error) && !error);
    assert(!glyc_histogram_new(GLYC_UNIT_MMOL_L, NULL, &mmol, NULL));

    /* An empty one says that it takes a reading. */
    s = glyc_histogram_value(mg, GLYC_MEASURE_MEAN_MG_DL, &value, NULL);
    assert(s == GLYC_STATUS_NOT_ESTIMABLE && value == UNTOUCHED);
    assert(glyc_histogram_reason_counts(mg, GLYC_MEASURE_MEAN_MG_DL, &had, &needed));
    assert(had == 0 && needed == 1);
    assert(!glyc_histogram_value(mg, GLYC_MEASURE_N, &value, NULL) && value == 0);

    s = glyc_histogram_push(mg, 100.5, &error);
    assert(!glyc_error_index(error, &index));
    expect(s, GLYC_STATUS_OFF_GRID, error, "off_grid", "glucose");
    s = glyc_histogram_push(mmol, 5.55, &error);
    expect(s, GLYC_STATUS_OFF_GRID, error, "off_grid", "glucose");
    s = glyc_histogram_push(mg, 2001, &error);
    expect(s, GLYC_STATUS_OFF_GRID, error, "off_grid", "glucose");
    s = glyc_histogram_push(mg, -1, &error);
    expect(s, GLYC_STATUS_OFF_GRID, error, "off_grid", "glucose");
    s = glyc_histogram_push(mg, INFINITY, &error);
    expect(s, GLYC_STATUS_NOT_FINITE, error, "not_finite", "glucose");
    s = glyc_histogram_extend(mg, bad, 4, &error);
    assert(glyc_error_index(error, &index) && index == 2);
    expect(s, GLYC_STATUS_OFF_GRID, error, "off_grid", "glucose");
    s = glyc_histogram_extend(mg, with_nan, 2, &error);
    assert(glyc_error_index(error, &index) && index == 1);
    expect(s, GLYC_STATUS_NOT_FINITE, error, "not_finite", "glucose");
    s = glyc_histogram_extend(mg, NULL, 1, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "glucose");
    const uint32_t codes[] = {0, 2001, 65537, UINT32_MAX}; /* 65537 is 1 in 16 bits */
    for (int i = 0; i < 4; i++) {
        s = glyc_histogram_push_code(mg, codes[i], &error);
        expect(s, GLYC_STATUS_OUT_OF_RANGE, error, "out_of_range", "code");
    }
    s = glyc_histogram_push_censored(mg, 40, 3, &error);
    expect(s, GLYC_STATUS_OUT_OF_RANGE, error, "out_of_range", "censor");
    s = glyc_histogram_push(NULL, 100, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "histogram");
    assert(glyc_histogram_n(mg) == 0 && glyc_histogram_n(mmol) == 0); /* nothing was counted */
    assert(!glyc_histogram_extend(mg, NULL, 0, &error) && !error);

    assert(!glyc_histogram_push_code(mmol, 78, NULL) && !glyc_histogram_push(mmol, 7.8, NULL));
    assert(!glyc_histogram_value(mmol, GLYC_MEASURE_MIN_MG_DL, &had, NULL));
    assert(!glyc_histogram_value(mmol, GLYC_MEASURE_MAX_MG_DL, &value, NULL));
    assert(had == value && value == 7.8 * 18.0156); /* both count at one level */
    assert(!glyc_histogram_push_censored(mmol, 2.2, GLYC_CENSOR_LOW, NULL));
    assert(!glyc_histogram_value(mmol, GLYC_MEASURE_CENSORED_LOW, &value, NULL) && value == 1);
    s = glyc_histogram_merge(mg, mmol, &error);
    expect(s, GLYC_STATUS_UNKNOWN_CHOICE, error, "unknown_choice", "unit");
    s = glyc_histogram_merge(mg, NULL, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "other");
    assert(!glyc_trace_new(times, mg_dl, n_readings, GLYC_UNIT_MG_DL, NULL, &trace, NULL));
    s = glyc_histogram_extend_trace(mmol, trace, &error);
    expect(s, GLYC_STATUS_UNKNOWN_CHOICE, error, "unknown_choice", "unit");
    glyc_trace_free(trace);
    double fine[] = {100, 100.5};
    assert(!glyc_trace_new(times, fine, 2, GLYC_UNIT_MG_DL, NULL, &trace, NULL));
    s = glyc_histogram_extend_trace(mg, trace, &error);
    assert(glyc_error_index(error, &index) && index == 1);
    expect(s, GLYC_STATUS_OFF_GRID, error, "off_grid", "glucose");
    glyc_trace_free(trace);
    assert(glyc_histogram_n(mg) == 0);

    s = glyc_histogram_value(mg, 0, &value, &error);
    expect(s, GLYC_STATUS_UNKNOWN_CHOICE, error, "unknown_choice", "measure_id");
    s = glyc_histogram_value(mg, GLYC_MEASURE_MAGE_MG_DL, &value, &error);
    expect(s, GLYC_STATUS_NOT_ESTIMABLE, error, "not_computed", NULL);
    assert(!glyc_histogram_reason(mg, 0) && !glyc_histogram_reason_code(mg, UINT32_MAX));
    glyc_histogram_free(mg);
    glyc_histogram_free(mmol);
}

static void null_is_nothing(void) {
    double x = UNTOUCHED;
    glyc_histogram_free(NULL);
    glyc_stream_free(NULL);
    assert(glyc_histogram_n(NULL) == 0 && glyc_histogram_unit(NULL) == 0);
    assert(glyc_stream_n(NULL) == 0 && glyc_stream_unit(NULL) == 0);
    assert(!glyc_histogram_reason(NULL, 7) && !glyc_histogram_reason_code(NULL, 7));
    assert(!glyc_stream_reason(NULL, 7) && !glyc_stream_reason_code(NULL, 7));
    assert(!glyc_histogram_reason_counts(NULL, 7, &x, &x) && x == UNTOUCHED);
    assert(!glyc_stream_reason_counts(NULL, 7, &x, &x) && x == UNTOUCHED);
}

static glyc_stream *stream_of(const double *glucose, size_t from, size_t to, uint32_t unit) {
    glyc_stream *stream = NULL;
    assert(!glyc_stream_new(unit, 5, NULL, &stream, NULL));
    for (size_t i = from; i < to; i++) {
        uint32_t pushed = 0;
        assert(!glyc_stream_push(stream, times[i], glucose[i], &pushed, NULL));
        assert(pushed == GLYC_PUSHED_ADDED);
    }
    return stream;
}

static void streams_equal_the_panel(uint32_t unit, const double *glucose) {
    glyc_panel *panel = panel_of(glucose, n_readings, unit, NULL);
    glyc_stream *stream = stream_of(glucose, 0, n_readings, unit);
    assert(stream_same_as_panel(stream, panel) >= OF_STREAM);
    assert(glyc_stream_n(stream) == n_readings && glyc_stream_unit(stream) == unit);
    glyc_stream_free(stream);

    /* Every third reading an hour late, and all in one call. */
    static int64_t mixed_times[N];
    static double mixed[N];
    size_t k = 0, added = 99, inserted = 99, late = 0;
    for (size_t i = 0; i < n_readings + 12; i++) {
        if (i < n_readings && i % 3) {
            mixed_times[k] = times[i];
            mixed[k++] = glucose[i];
        }
        if (i >= 12 && (i - 12) % 3 == 0) {
            mixed_times[k] = times[i - 12];
            mixed[k++] = glucose[i - 12];
            late++;
        }
    }
    assert(k == n_readings && !glyc_stream_new(unit, 5, NULL, &stream, NULL));
    assert(!glyc_stream_extend(stream, mixed_times, mixed, k, &added, &inserted, NULL));
    assert(added + inserted == n_readings && inserted == late);
    assert(stream_same_as_panel(stream, panel) >= OF_STREAM);
    glyc_stream_free(stream);

    /* Cut anywhere, kept as bytes in between, and joined. */
    const size_t cuts[] = {0, 1, 40, 700, 701, 1100, n_readings - 1};
    for (int c = 0; c < 7; c++) {
        glyc_stream *first = stream_of(glucose, 0, cuts[c], unit), *back = NULL;
        glyc_stream *later = stream_of(glucose, cuts[c], n_readings, unit);
        size_t needed = 0;
        assert(!glyc_stream_save(first, NULL, 0, &needed, NULL) && needed > 0);
        uint8_t *bytes = malloc(needed);
        assert(bytes && !glyc_stream_save(first, bytes, needed, NULL, NULL));
        assert(!glyc_stream_load(bytes, needed, &back, NULL));
        free(bytes);
        assert(glyc_stream_n(back) == cuts[c] && glyc_stream_unit(back) == unit);
        assert(!glyc_stream_join(first, later, NULL));
        assert(stream_same_as_panel(first, panel) >= OF_STREAM);
        for (size_t i = cuts[c]; i < n_readings; i++)
            assert(!glyc_stream_push(back, times[i], glucose[i], NULL, NULL));
        assert(stream_same_as_panel(back, panel) >= OF_STREAM);
        glyc_stream_free(first);
        glyc_stream_free(later);
        glyc_stream_free(back);
    }
    glyc_panel_free(panel);
}

static void streams_refuse(void) {
    glyc_error *error = NULL;
    glyc_stream *stream = NULL, *other = NULL;
    glyc_clock *clock = NULL;
    double value = UNTOUCHED;
    uint32_t pushed = 99;
    size_t index = 99, added = 99;
    glyc_status s = glyc_stream_new(3, 5, NULL, &stream, &error);
    expect(s, GLYC_STATUS_UNKNOWN_CHOICE, error, "unknown_choice", "unit");
    s = glyc_stream_new(GLYC_UNIT_MG_DL, 61, NULL, &stream, &error);
    expect(s, GLYC_STATUS_OUT_OF_RANGE, error, "out_of_range", "nominal_min");
    s = glyc_stream_new(GLYC_UNIT_MG_DL, NAN, NULL, &stream, &error);
    expect(s, GLYC_STATUS_NOT_FINITE, error, "not_finite", "nominal_min");
    s = glyc_stream_new(GLYC_UNIT_MG_DL, 5, NULL, NULL, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "stream_out");
    assert(!stream && !glyc_stream_new(GLYC_UNIT_MG_DL, 5, NULL, &stream, NULL));

    s = glyc_stream_value(stream, GLYC_MEASURE_MAG_MG_DL_H, &value, NULL);
    assert(s == GLYC_STATUS_NOT_ESTIMABLE && value == UNTOUCHED);
    assert(!glyc_stream_push(stream, T0 + 26 * 12 * STEP, 100, NULL, NULL)); /* 26 h on */
    s = glyc_stream_push(stream, T0 + 26 * 12 * STEP, 101, &pushed, &error);
    expect(s, GLYC_STATUS_UNORDERED_TIME, error, "unordered_time", "times");
    s = glyc_stream_push(stream, T0, 100, &pushed, &error);
    expect(s, GLYC_STATUS_OUT_OF_RANGE, error, "out_of_range", "time_ms");
    s = glyc_stream_push(stream, T0 / 1000, 100, &pushed, &error);
    expect(s, GLYC_STATUS_IMPLAUSIBLE_TIME, error, "implausible_time", "times");
    s = glyc_stream_push(stream, T0 + 27 * 12 * STEP, 100.5, &pushed, &error);
    expect(s, GLYC_STATUS_OFF_GRID, error, "off_grid", "glucose");
    s = glyc_stream_push(stream, T0 + 27 * 12 * STEP, 0, &pushed, &error);
    expect(s, GLYC_STATUS_OUT_OF_RANGE, error, "out_of_range", "glucose");
    s = glyc_stream_push(stream, T0 + 27 * 12 * STEP, NAN, &pushed, &error);
    expect(s, GLYC_STATUS_NOT_FINITE, error, "not_finite", "glucose");
    s = glyc_stream_push(NULL, T0, 100, &pushed, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "stream");
    assert(pushed == 99 && glyc_stream_n(stream) == 1);
    assert(!glyc_stream_push(stream, T0 + 25 * 12 * STEP, 100, &pushed, NULL));
    assert(pushed == GLYC_PUSHED_INSERTED && glyc_stream_n(stream) == 2);

    /* All or none, and which one was wrong. */
    int64_t ts[] = {T0 + 27 * 12 * STEP, T0 + 28 * 12 * STEP, T0 + 28 * 12 * STEP};
    double ok[] = {100, 101, 102}, off[] = {100, 101.5, 102};
    s = glyc_stream_extend(stream, ts, off, 3, &added, NULL, &error);
    assert(glyc_error_index(error, &index) && index == 1);
    expect(s, GLYC_STATUS_OFF_GRID, error, "off_grid", "glucose");
    s = glyc_stream_extend(stream, ts, ok, 3, &added, NULL, &error);
    assert(glyc_error_index(error, &index) && index == 2);
    expect(s, GLYC_STATUS_UNORDERED_TIME, error, "unordered_time", "times");
    s = glyc_stream_extend(stream, NULL, ok, 3, &added, NULL, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "times_ms");
    s = glyc_stream_extend(stream, ts, NULL, 3, &added, NULL, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "glucose");
    assert(added == 99 && glyc_stream_n(stream) == 2);
    assert(!glyc_stream_extend(stream, ts, ok, 2, &added, NULL, NULL) && added == 2);
    assert(!glyc_stream_extend(stream, NULL, NULL, 0, &added, NULL, NULL) && added == 0);

    s = glyc_stream_join(stream, NULL, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "later");
    s = glyc_stream_join(stream, stream, &error); /* it does not begin after it ends */
    expect(s, GLYC_STATUS_OUT_OF_RANGE, error, "out_of_range", "later");
    assert(!glyc_stream_new(GLYC_UNIT_MMOL_L, 5, NULL, &other, NULL));
    s = glyc_stream_join(stream, other, &error);
    expect(s, GLYC_STATUS_UNKNOWN_CHOICE, error, "unknown_choice", "unit");
    glyc_stream_free(other);
    assert(!glyc_stream_new(GLYC_UNIT_MG_DL, 1, NULL, &other, NULL));
    s = glyc_stream_join(stream, other, &error);
    expect(s, GLYC_STATUS_OUT_OF_RANGE, error, "out_of_range", "nominal_min");
    glyc_stream_free(other);
    assert(!glyc_clock_fixed(60, &clock, NULL));
    assert(!glyc_stream_new(GLYC_UNIT_MG_DL, 5, clock, &other, NULL));
    glyc_clock_free(clock); /* the stream has its own copy */
    s = glyc_stream_join(stream, other, &error);
    expect(s, GLYC_STATUS_UNKNOWN_CHOICE, error, "unknown_choice", "clock");
    glyc_stream_free(other);
    assert(glyc_stream_n(stream) == 4);

    s = glyc_stream_value(stream, GLYC_MEASURE_FASTING_MG_DL, &value, &error);
    expect(s, GLYC_STATUS_NOT_ESTIMABLE, error, "not_computed", NULL);
    assert(strstr(glyc_stream_reason(stream, GLYC_MEASURE_FASTING_MG_DL), "whole trace"));
    s = glyc_stream_value(stream, UINT32_MAX, &value, &error);
    expect(s, GLYC_STATUS_UNKNOWN_CHOICE, error, "unknown_choice", "measure_id");
    s = glyc_stream_value(stream, GLYC_MEASURE_N, NULL, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "value_out");
    assert(value == UNTOUCHED);
    glyc_stream_free(stream);
}

/* What a getter lends lives until the next change; after it the answers are new ones. */
static void answers_follow_the_readings(void) {
    glyc_stream *stream = NULL;
    double value, had = 0;
    assert(!glyc_stream_new(GLYC_UNIT_MG_DL, 5, NULL, &stream, NULL));
    assert(glyc_stream_reason_counts(stream, GLYC_MEASURE_MEAN_MG_DL, &had, NULL) && had == 0);
    for (int i = 1; i <= 20; i++) {
        assert(!glyc_stream_push(stream, T0 + i * STEP, 100 + i, NULL, NULL));
        assert(!glyc_stream_value(stream, GLYC_MEASURE_MEAN_MG_DL, &value, NULL));
        assert(value == 100 + (i + 1) / 2.0);
        assert(!glyc_stream_reason(stream, GLYC_MEASURE_MEAN_MG_DL));
    }
    glyc_stream_free(stream);
}

static void bytes_of_a_histogram(void) {
    glyc_error *error = NULL;
    glyc_histogram *histogram = NULL, *back = NULL;
    glyc_stream *stream = NULL;
    glyc_panel *panel = panel_of(mmol_l, n_readings, GLYC_UNIT_MMOL_L, NULL);
    size_t needed = 0, wrote = 0;
    assert(!glyc_histogram_new(GLYC_UNIT_MMOL_L, NULL, &histogram, NULL));
    assert(!glyc_histogram_extend(histogram, mmol_l, n_readings, NULL));
    assert(!glyc_histogram_save(histogram, NULL, 0, &needed, &error) && !error);
    uint8_t *bytes = malloc(needed), *bad = malloc(needed);
    assert(bytes && bad);
    memset(bytes, 7, needed);
    glyc_status s = glyc_histogram_save(histogram, bytes, needed - 1, &wrote, &error);
    expect(s, GLYC_STATUS_OUT_OF_RANGE, error, "out_of_range", "size");
    assert(wrote == 0 && bytes[0] == 7);
    s = glyc_histogram_save(histogram, NULL, needed, &wrote, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "buffer");
    s = glyc_histogram_save(histogram, NULL, 0, NULL, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "needed_out");
    s = glyc_histogram_save(NULL, bytes, needed, &wrote, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "histogram");
    assert(!glyc_histogram_save(histogram, bytes, needed, &wrote, NULL) && wrote == needed);
    assert(!memcmp(bytes, "GLYC\1\1", 6));

    assert(!glyc_histogram_load(bytes, needed, NULL, &back, NULL));
    assert(glyc_histogram_unit(back) == GLYC_UNIT_MMOL_L);
    assert(same_as_panel(back, panel) >= OF_HISTOGRAM);
    glyc_histogram_free(back);
    back = NULL;
    s = glyc_histogram_load(NULL, 0, NULL, &back, &error);
    expect(s, GLYC_STATUS_BAD_BYTES, error, "bad_bytes", "bytes");
    s = glyc_histogram_load(NULL, 3, NULL, &back, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "bytes");
    s = glyc_stream_load(bytes, needed, &stream, &error);
    assert(strstr(glyc_error_message(error), "another kind"));
    expect(s, GLYC_STATUS_BAD_BYTES, error, "bad_bytes", "bytes");
    for (size_t i = 0; i < needed; i++) {
        s = glyc_histogram_load(bytes, i, NULL, &back, &error);
        expect(s, GLYC_STATUS_BAD_BYTES, error, "bad_bytes", "bytes");
        memcpy(bad, bytes, needed);
        bad[i] ^= (uint8_t)(1u << i % 8);
        s = glyc_histogram_load(bad, needed, NULL, &back, &error);
        expect(s, GLYC_STATUS_BAD_BYTES, error, "bad_bytes", "bytes");
    }
    assert(!back && !stream);
    free(bytes);
    free(bad);
    glyc_histogram_free(histogram);
    glyc_panel_free(panel);
}

static void bytes_of_a_stream(void) {
    glyc_error *error = NULL;
    glyc_clock *clock = NULL;
    glyc_stream *stream = NULL, *back = NULL;
    size_t needed = 0;
    assert(!glyc_clock_from_zone("Europe/Lisbon", &clock, NULL));
    assert(!glyc_stream_new(GLYC_UNIT_MG_DL, 5, clock, &stream, NULL));
    glyc_clock_free(clock);
    assert(!glyc_stream_extend(stream, times, mg_dl, n_readings, NULL, NULL, NULL));
    assert(!glyc_stream_save(stream, NULL, 0, &needed, NULL));
    uint8_t *bytes = malloc(needed);
    assert(bytes && !glyc_stream_save(stream, bytes, needed, &needed, NULL));
    for (size_t i = 0; i < needed; i += 211) {
        glyc_status s = glyc_stream_load(bytes, i, &back, &error);
        expect(s, GLYC_STATUS_BAD_BYTES, error, "bad_bytes", "bytes");
        bytes[i] ^= 32;
        s = glyc_stream_load(bytes, needed, &back, &error);
        expect(s, GLYC_STATUS_BAD_BYTES, error, "bad_bytes", "bytes");
        bytes[i] ^= 32;
    }
    /* The clock came along: a stream without one is not joined to it. */
    assert(!back && !glyc_stream_load(bytes, needed, &back, NULL));
    glyc_stream *plain = NULL;
    assert(!glyc_stream_new(GLYC_UNIT_MG_DL, 5, NULL, &plain, NULL));
    glyc_status s = glyc_stream_join(back, plain, &error);
    expect(s, GLYC_STATUS_UNKNOWN_CHOICE, error, "unknown_choice", "clock");
    glyc_stream_free(plain);
    glyc_stream_free(back);
    glyc_stream_free(stream);
    free(bytes);
}

int main(void) {
    make_readings();
    null_is_nothing();
    histograms_equal_the_panel(GLYC_UNIT_MG_DL, mg_dl);
    histograms_equal_the_panel(GLYC_UNIT_MMOL_L, mmol_l);
    options_of_a_histogram();
    histograms_refuse();
    streams_equal_the_panel(GLYC_UNIT_MG_DL, mg_dl);
    streams_equal_the_panel(GLYC_UNIT_MMOL_L, mmol_l);
    streams_refuse();
    answers_follow_the_readings();
    bytes_of_a_histogram();
    bytes_of_a_stream();
    puts("test_accumulators: all held");
    return 0;
}
