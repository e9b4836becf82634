/* Options of a panel, tables, gaps, shares, and how much data there is. */
#undef NDEBUG
#include "glycemic.h"

#include "expect.h"

#include <assert.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

enum { PER_DAY = 288, DAYS = 8, N = PER_DAY * DAYS };
#define MIDNIGHT INT64_C(1741564800000) /* 2025-03-10 00:00 UTC, a Monday */
#define HOUR INT64_C(3600000)

static int64_t times[N];
static double glucose[N];

/* Eight days at 100 + day, with a low from 03:00 and a high from 12:00, half an hour each. */
static void make_readings(void) {
    for (int i = 0; i < N; i++) {
        int in_day = i % PER_DAY;
        times[i] = MIDNIGHT + i * STEP;
        glucose[i] = 100 + i / PER_DAY;
        if (36 <= in_day && in_day < 42) glucose[i] = 60;
        if (144 <= in_day && in_day < 150) glucose[i] = 200;
    }
}

static glyc_trace *trace_at(const int64_t *at, const double *mg, size_t len, int with_clock) {
    glyc_clock *clock = NULL;
    glyc_trace *trace = NULL;
    if (with_clock) assert(!glyc_clock_fixed(0, &clock, NULL));
    assert(!glyc_trace_new(at, mg, len, GLYC_UNIT_MG_DL, clock, &trace, NULL));
    glyc_clock_free(clock);
    return trace;
}

static const double *f64s(const glyc_table *table, const char *name, const bool **valid) {
    const double *values = NULL;
    const bool *there = NULL;
    size_t len = 0;
    assert(!glyc_table_column_f64(table, name, &values, &there, &len, NULL));
    assert(len == glyc_table_rows(table));
    if (valid) *valid = there;
    return values;
}

static const int64_t *i64s(const glyc_table *table, const char *name) {
    const int64_t *values = NULL;
    const bool *valid = NULL;
    size_t len = 0;
    assert(!glyc_table_column_i64(table, name, &values, &valid, &len, NULL));
    for (size_t i = 0; i < len; i++) assert(valid[i]);
    return values;
}

static const bool *bools(const glyc_table *table, const char *name, const bool **valid) {
    const bool *values = NULL, *there = NULL;
    size_t len = 0;
    assert(!glyc_table_column_bool(table, name, &values, &there, &len, NULL));
    if (valid) *valid = there;
    return values;
}

static const char *const *texts(const glyc_table *table, const char *name) {
    const char *const *values = NULL;
    const bool *valid = NULL;
    size_t len = 0;
    assert(!glyc_table_column_text(table, name, &values, &valid, &len, NULL));
    assert(len == glyc_table_rows(table));
    return values;
}

static double measure(const glyc_panel *panel, uint32_t id) {
    double value = NAN;
    assert(!glyc_panel_value(panel, id, &value, NULL));
    return value;
}

/* Every option moves the measure that it is about, and no other option does. */
static void options_of_a_panel(void) {
    /* Steps of 20 each half hour, on days that differ by 75 and 85 in turn: the SD of the whole
     * lies above the small steps, that of a day below. From 01:00 on: the first day is partial. */
    static double waves[N];
    for (int i = 0; i < N; i++) {
        int d = i / PER_DAY;
        waves[i] = 80 + d % 2 * 80 + 5 * d + i / 6 % 2 * 20;
    }
    glyc_trace *trace = trace_at(times + 12, waves + 12, N - 12, 1);
    glyc_panel_options *o = NULL;
    glyc_panel *usual = NULL, *same = NULL, *chosen = NULL;
    const uint32_t about[] = {GLYC_MEASURE_M_VALUE, GLYC_MEASURE_GRADE, GLYC_MEASURE_LBGI,
                              GLYC_MEASURE_MAGE_MG_DL, GLYC_MEASURE_MODD_MG_DL,
                              GLYC_MEASURE_LOW_EPISODES, GLYC_MEASURE_LABILITY_INDEX,
                              GLYC_MEASURE_ACTIVE_PCT};
    assert(!glyc_panel_new(trace, NULL, 0, &usual, NULL));
    assert(!glyc_panel_new_with(trace, NULL, 0, NULL, &same, NULL));
    for (int k = 0; k < 8; k++) {
        assert(!glyc_panel_options_new(&o, NULL));
        if (k == 0) assert(!glyc_panel_options_set_m_reference_mg_dl(o, 90, NULL));
        if (k == 1) assert(!glyc_panel_options_set_grade(o, GLYC_GRADE_MEDIAN, NULL));
        const uint32_t mmol = GLYC_RISK_CONSTANTS_MMOL_L, whole = GLYC_MODD_PAIRS_WHOLE_DAYS_ONLY;
        if (k == 2) assert(!glyc_panel_options_set_risk_constants(o, mmol, NULL));
        if (k == 3) assert(!glyc_panel_options_set_mage_sd(o, GLYC_MAGE_SD_MEAN_OF_DAYS, NULL));
        if (k == 4) assert(!glyc_panel_options_set_modd_pairs(o, whole, NULL));
        if (k == 6) assert(!glyc_panel_options_set_lability(o, GLYC_LABILITY_MEAN_PER_PAIR, NULL));
        if (k == 7) {
            int64_t from = MIDNIGHT, to = MIDNIGHT + 16 * 24 * HOUR; /* about half was worn */
            assert(!glyc_panel_options_set_reporting_period(o, from, to, NULL));
        }
        assert(!glyc_panel_new_with(trace, NULL, 0, o, &chosen, NULL));
        for (int j = 0; j < 8; j++) {
            double a = measure(usual, about[j]), b = measure(chosen, about[j]);
            assert(a == measure(same, about[j]));
            if (j == k && k != 5) assert(a != b); /* episodes have a test of their own */
            if (j != k) assert(a == b);
        }
        if (k == 7) assert(measure(chosen, about[7]) == 100.0 * (N - 12) / (16 * PER_DAY));
        glyc_panel_options_free(o);
        glyc_panel_free(chosen);
    }
    glyc_panel_free(usual);
    glyc_panel_free(same);
    glyc_trace_free(trace);
}

static void options_refuse(void) {
    glyc_error *error = NULL;
    glyc_panel_options *o = NULL;
    glyc_panel_options_free(NULL);
    glyc_status s = glyc_panel_options_new(NULL, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "options_out");
    s = glyc_panel_options_set_grade(NULL, GLYC_GRADE_MEAN, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "options");
    assert(!glyc_panel_options_new(&o, NULL));
    typedef glyc_status (*setter)(glyc_panel_options *, uint32_t, glyc_error **);
    const setter set[] = {glyc_panel_options_set_grade,
                          glyc_panel_options_set_risk_constants,
                          glyc_panel_options_set_mage_sd,
                          glyc_panel_options_set_modd_pairs,
                          glyc_panel_options_set_episode_length,
                          glyc_panel_options_set_lability};
    const char *name[] = {"grade", "risk_constants", "mage_sd", "modd_pairs",
                          "episode_length", "lability"};
    for (int i = 0; i < 6; i++) {
        assert(!set[i](o, 1, NULL) && !set[i](o, 2, NULL));
        s = set[i](o, 0, &error);
        expect(s, GLYC_STATUS_UNKNOWN_CHOICE, error, "unknown_choice", name[i]);
        s = set[i](o, 3, &error);
        expect(s, GLYC_STATUS_UNKNOWN_CHOICE, error, "unknown_choice", name[i]);
    }
    s = glyc_panel_options_set_m_reference_mg_dl(o, NAN, &error);
    expect(s, GLYC_STATUS_NOT_FINITE, error, "not_finite", "m_reference_mg_dl");
    s = glyc_panel_options_set_m_reference_mg_dl(o, 6, &error);
    expect(s, GLYC_STATUS_OUT_OF_RANGE, error, "out_of_range", "m_reference_mg_dl");
    s = glyc_panel_options_set_reporting_period(o, T0, T0, &error);
    expect(s, GLYC_STATUS_OUT_OF_RANGE, error, "out_of_range", "reporting_period_ms");
    /* What was refused is not kept: the panel can still be made. */
    glyc_trace *trace = trace_at(times, glucose, N, 0);
    glyc_panel *panel = NULL;
    assert(!glyc_panel_new_with(trace, NULL, 0, o, &panel, &error) && !error);
    glyc_panel_free(panel);
    glyc_trace_free(trace);
    glyc_panel_options_free(o);
}

static void tables(void) {
    glyc_error *error = NULL;
    glyc_table *table = NULL;
    const double *values = NULL;
    const bool *valid = NULL;
    size_t len = 99;
    glyc_table_free(NULL);
    assert(glyc_table_rows(NULL) == 0 && glyc_table_columns(NULL) == 0);
    assert(!glyc_table_column_name(NULL, 0) && glyc_table_column_kind(NULL, 0) == 0);

    glyc_trace *trace = trace_at(times, glucose, N, 1);
    assert(!glyc_episodes(trace, GLYC_EPISODES_LOW, GLYC_EPISODE_LENGTH_SPAN, &table, NULL));
    assert(glyc_table_columns(table) == 9);
    const uint32_t kinds[] = {GLYC_COLUMN_TEXT, GLYC_COLUMN_I64,  GLYC_COLUMN_I64,
                              GLYC_COLUMN_F64,  GLYC_COLUMN_F64,  GLYC_COLUMN_F64,
                              GLYC_COLUMN_BOOL, GLYC_COLUMN_BOOL, GLYC_COLUMN_BOOL};
    for (size_t i = 0; i < 9; i++) assert(glyc_table_column_kind(table, i) == kinds[i]);
    assert(!strcmp(glyc_table_column_name(table, 3), "minutes"));
    assert(!glyc_table_column_name(table, 9) && glyc_table_column_kind(table, 9) == 0);
    glyc_status s = glyc_table_column_f64(table, "no_such", &values, &valid, &len, &error);
    expect(s, GLYC_STATUS_UNKNOWN_CHOICE, error, "unknown_choice", "name");
    s = glyc_table_column_f64(table, "rule", &values, &valid, &len, &error);
    expect(s, GLYC_STATUS_UNKNOWN_CHOICE, error, "unknown_choice", "name");
    s = glyc_table_column_f64(table, "start_ms", &values, &valid, &len, &error);
    expect(s, GLYC_STATUS_UNKNOWN_CHOICE, error, "unknown_choice", "name");
    s = glyc_table_column_f64(table, NULL, &values, &valid, &len, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "name");
    s = glyc_table_column_f64(table, "\xff", &values, &valid, &len, &error);
    expect(s, GLYC_STATUS_NOT_UTF8, error, "not_utf8", "name");
    s = glyc_table_column_f64(NULL, "minutes", &values, &valid, &len, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "table");
    s = glyc_table_column_f64(table, "minutes", NULL, &valid, &len, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "values_out");
    s = glyc_table_column_f64(table, "minutes", &values, NULL, &len, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "valid_out");
    s = glyc_table_column_f64(table, "minutes", &values, &valid, NULL, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "len_out");
    assert(!values && !valid && len == 99);
    glyc_table_free(table);
    glyc_trace_free(trace);
}

static void episodes(void) {
    glyc_error *error = NULL;
    glyc_table *table = NULL;
    const bool *known = NULL;
    const uint32_t count = GLYC_EPISODE_LENGTH_COUNT_TIMES_INTERVAL;
    glyc_trace *trace = trace_at(times, glucose, N, 1), *plain = trace_at(times, glucose, N, 0);
    /* One low a day: six readings from 03:00, back at 03:30, at night. */
    assert(!glyc_episodes(trace, GLYC_EPISODES_LOW, count, &table, NULL));
    assert(glyc_table_rows(table) == DAYS);
    for (int d = 0; d < DAYS; d++) {
        int64_t start = MIDNIGHT + (24 * d + 3) * HOUR;
        assert(i64s(table, "start_ms")[d] == start && i64s(table, "end_ms")[d] == start + 6 * STEP);
        assert(f64s(table, "minutes", NULL)[d] == 30);
        assert(f64s(table, "extreme_mg_dl", NULL)[d] == 60);
        assert(f64s(table, "level_mg_dl", NULL)[d] == 70);
        assert(!strcmp(texts(table, "rule")[d], "low"));
        assert(bools(table, "nocturnal", &known)[d] && known[d] && !bools(table, "cut", NULL)[d]);
    }
    glyc_table_free(table);
    /* Without a clock nobody knows whether it was night. */
    assert(!glyc_episodes(plain, GLYC_EPISODES_HIGH, count, &table, NULL));
    assert(glyc_table_rows(table) == DAYS && f64s(table, "extreme_mg_dl", NULL)[0] == 200);
    bools(table, "nocturnal", &known);
    assert(!known[0]);
    glyc_table_free(table);
    assert(!glyc_episodes(trace, GLYC_EPISODES_VERY_LOW, count, &table, NULL));
    assert(glyc_table_rows(table) == 0 && glyc_table_columns(table) == 9);
    f64s(table, "minutes", NULL); /* an empty column can be asked for */
    glyc_table_free(table);
    assert(!glyc_episodes(trace, GLYC_EPISODES_ALL, count, &table, NULL));
    assert(glyc_table_rows(table) == 2 * DAYS && !strcmp(texts(table, "rule")[DAYS], "high"));
    glyc_table_free(table);

    /* Three readings last 15 min or 10: the option decides whether they are an episode. */
    double three[] = {100, 100, 60, 60, 60, 100, 100, 100, 100, 100};
    glyc_trace *brief = trace_at(times, three, 10, 0);
    for (uint32_t length = 1; length <= 2; length++) {
        glyc_panel_options *o = NULL;
        glyc_panel *panel = NULL;
        assert(!glyc_episodes(brief, GLYC_EPISODES_LOW, length, &table, NULL));
        assert(glyc_table_rows(table) == (length == count ? 1 : 0));
        assert(!glyc_panel_options_new(&o, NULL));
        assert(!glyc_panel_options_set_episode_length(o, length, NULL));
        assert(!glyc_panel_new_with(brief, NULL, 0, o, &panel, NULL));
        assert(measure(panel, GLYC_MEASURE_LOW_EPISODES) == (double)glyc_table_rows(table));
        glyc_panel_free(panel);
        glyc_panel_options_free(o);
        glyc_table_free(table);
    }
    glyc_trace_free(brief);

    /* Levels of the caller's own: the published one gives the same, another one another. */
    assert(!glyc_episodes_beyond(trace, GLYC_SIDE_ABOVE, 180, 180, 15, 15, count, &table, NULL));
    assert(glyc_table_rows(table) == DAYS && !strcmp(texts(table, "rule")[0], "custom"));
    glyc_table_free(table);
    assert(!glyc_episodes_beyond(trace, GLYC_SIDE_ABOVE, 200, 180, 15, 15, count, &table, NULL));
    assert(glyc_table_rows(table) == 0);
    glyc_table_free(table);
    table = NULL;
    glyc_status s = glyc_episodes_beyond(trace, 3, 180, 180, 15, 15, count, &table, &error);
    expect(s, GLYC_STATUS_UNKNOWN_CHOICE, error, "unknown_choice", "side");
    s = glyc_episodes_beyond(trace, GLYC_SIDE_BELOW, 70, 60, 15, 15, count, &table, &error);
    expect(s, GLYC_STATUS_OUT_OF_RANGE, error, "out_of_range", "recovery");
    s = glyc_episodes_beyond(trace, GLYC_SIDE_BELOW, NAN, 70, 15, 15, count, &table, &error);
    expect(s, GLYC_STATUS_NOT_FINITE, error, "not_finite", "level");
    s = glyc_episodes(trace, 0, count, &table, &error);
    expect(s, GLYC_STATUS_UNKNOWN_CHOICE, error, "unknown_choice", "rule");
    s = glyc_episodes(trace, GLYC_EPISODES_LOW, 0, &table, &error);
    expect(s, GLYC_STATUS_UNKNOWN_CHOICE, error, "unknown_choice", "episode_length");
    s = glyc_episodes(NULL, GLYC_EPISODES_LOW, count, &table, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "trace");
    s = glyc_episodes(trace, GLYC_EPISODES_LOW, count, NULL, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "table_out");
    assert(!table);
    glyc_trace_free(trace);
    glyc_trace_free(plain);
}

static void modal_days(void) {
    glyc_error *error = NULL;
    glyc_table *table = NULL;
    const bool *valid = NULL;
    const double quartiles[] = {25, 50, 75}, falling[] = {50, 50};
    glyc_trace *trace = trace_at(times, glucose, N, 1), *plain = trace_at(times, glucose, N, 0);
    /* At 08:00 eight days at 100 to 107: the median is 103.5; at 03:15 all are at 60. */
    assert(!glyc_modal_day(trace, 60, GLYC_SMOOTHING_LOCAL, 30, NULL, 0, &table, NULL));
    assert(glyc_table_rows(table) == 24 && glyc_table_columns(table) == 9);
    assert(i64s(table, "minute_of_day")[8] == 480 && i64s(table, "days")[8] == DAYS);
    assert(f64s(table, "p50_mg_dl", &valid)[8] == 103.5 && valid[8]);
    glyc_table_free(table);
    assert(!glyc_modal_day(trace, 15, GLYC_SMOOTHING_NONE, 0, quartiles, 3, &table, NULL));
    assert(glyc_table_rows(table) == 96 && glyc_table_columns(table) == 7);
    assert(f64s(table, "p50_mg_dl", &valid)[32] == 103.5 && valid[32]);
    assert(f64s(table, "p25_mg_dl", NULL)[13] == 60 && f64s(table, "p75_mg_dl", NULL)[13] == 60);
    glyc_table_free(table);
    /* Four days are too few for the outer curves, and the reason is in the row. */
    glyc_trace *brief = trace_at(times, glucose, 4 * PER_DAY, 1);
    assert(!glyc_modal_day(brief, 60, GLYC_SMOOTHING_WINDOW, 30, NULL, 0, &table, NULL));
    f64s(table, "p05_mg_dl", &valid);
    assert(!valid[8] && !strcmp(texts(table, "reason")[8], "too_few_days"));
    glyc_table_free(table);
    glyc_trace_free(brief);

    table = NULL;
    glyc_status s = glyc_modal_day(plain, 15, GLYC_SMOOTHING_LOCAL, 30, NULL, 0, &table, &error);
    expect(s, GLYC_STATUS_NOT_ESTIMABLE, error, "no_zone", NULL);
    s = glyc_modal_day(trace, 7, GLYC_SMOOTHING_LOCAL, 30, NULL, 0, &table, &error);
    expect(s, GLYC_STATUS_UNKNOWN_CHOICE, error, "unknown_choice", "step_min");
    s = glyc_modal_day(trace, 15, 0, 30, NULL, 0, &table, &error);
    expect(s, GLYC_STATUS_UNKNOWN_CHOICE, error, "unknown_choice", "smoothing");
    s = glyc_modal_day(trace, 15, GLYC_SMOOTHING_NONE, 30, NULL, 0, &table, &error);
    expect(s, GLYC_STATUS_OUT_OF_RANGE, error, "out_of_range", "width_min");
    s = glyc_modal_day(trace, 15, GLYC_SMOOTHING_WINDOW, NAN, NULL, 0, &table, &error);
    expect(s, GLYC_STATUS_NOT_FINITE, error, "not_finite", "width_min");
    s = glyc_modal_day(trace, 15, GLYC_SMOOTHING_LOCAL, 30, falling, 2, &table, &error);
    expect(s, GLYC_STATUS_OUT_OF_RANGE, error, "out_of_range", "percentiles");
    s = glyc_modal_day(trace, 15, GLYC_SMOOTHING_LOCAL, 30, NULL, 2, &table, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "percentiles");
    assert(!table);
    glyc_trace_free(trace);
    glyc_trace_free(plain);
}

static void parts(void) {
    glyc_error *error = NULL;
    glyc_table *table = NULL;
    glyc_trace *trace = trace_at(times, glucose, N, 1), *plain = trace_at(times, glucose, N, 0);
    assert(!glyc_panel_by(trace, GLYC_BY_DAY, &table, NULL) && glyc_table_rows(table) == DAYS);
    assert(!strcmp(texts(table, "part")[0], "2025-03-10"));
    assert(!strcmp(texts(table, "part")[7], "2025-03-17") && i64s(table, "n")[7] == PER_DAY);
    for (int d = 0; d < DAYS; d++) { /* as the panel of that day alone has it */
        glyc_trace *day = trace_at(times + d * PER_DAY, glucose + d * PER_DAY, PER_DAY, 1);
        glyc_panel *panel = NULL;
        const uint32_t ids[] = {GLYC_MEASURE_MEAN_MG_DL, GLYC_MEASURE_LBGI,
                                GLYC_MEASURE_BELOW_70_PCT};
        assert(!glyc_panel_new(day, NULL, 0, &panel, NULL));
        for (int k = 0; k < 3; k++)
            assert(f64s(table, glyc_measure_name(ids[k]), NULL)[d] == measure(panel, ids[k]));
        glyc_panel_free(panel);
        glyc_trace_free(day);
    }
    glyc_table_free(table);
    assert(!glyc_panel_by(trace, GLYC_BY_WEEK_PART, &table, NULL) && glyc_table_rows(table) == 2);
    assert(i64s(table, "local_days")[0] == 6 && i64s(table, "local_days")[1] == 2);
    assert(!strcmp(texts(table, "part")[1], "weekend"));
    glyc_table_free(table);
    assert(!glyc_panel_by(trace, GLYC_BY_NIGHT_AND_DAY, &table, NULL));
    assert(i64s(table, "n")[0] == DAYS * 72 && i64s(table, "n")[1] == DAYS * 216);
    assert(f64s(table, "max_mg_dl", NULL)[0] == 107 && f64s(table, "min_mg_dl", NULL)[1] == 100);
    glyc_table_free(table);

    const char *names[] = {"evening", "over midnight"};
    const uint32_t from[] = {1080, 1320}, to[] = {1320, 360}, late[] = {1440, 0};
    assert(!glyc_panel_by_block(trace, names, from, to, 2, &table, NULL));
    assert(i64s(table, "n")[0] == DAYS * 48 && i64s(table, "n")[1] == DAYS * 96);
    assert(!strcmp(texts(table, "part")[1], "over midnight"));
    glyc_table_free(table);

    table = NULL;
    const char *bad_names[] = {"evening", NULL};
    glyc_status s = glyc_panel_by_block(trace, bad_names, from, to, 2, &table, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "names");
    s = glyc_panel_by_block(trace, names, late, to, 2, &table, &error);
    expect(s, GLYC_STATUS_OUT_OF_RANGE, error, "out_of_range", "from_min");
    s = glyc_panel_by_block(trace, NULL, NULL, NULL, 0, &table, &error);
    expect(s, GLYC_STATUS_TOO_FEW_VALUES, error, "too_few_values", NULL);
    s = glyc_panel_by(trace, 4, &table, &error);
    expect(s, GLYC_STATUS_UNKNOWN_CHOICE, error, "unknown_choice", "by");
    s = glyc_panel_by(plain, GLYC_BY_DAY, &table, &error);
    expect(s, GLYC_STATUS_NOT_ESTIMABLE, error, "no_zone", NULL);
    assert(!table);
    glyc_trace_free(trace);
    glyc_trace_free(plain);
}

static void targets(void) {
    glyc_error *error = NULL;
    glyc_table *table = NULL;
    glyc_panel *panel = NULL;
    const bool *met = NULL, *known = NULL;
    glyc_trace *trace = trace_at(times, glucose, N, 1);
    assert(!glyc_panel_new(trace, NULL, 0, &panel, NULL));
    assert(!glyc_panel_assess(panel, trace, GLYC_POPULATION_TYPE1, &table, NULL));
    assert(glyc_table_rows(table) == 6 && !strcmp(texts(table, "measure")[0], "in_range_pct"));
    /* 276 of 288 readings a day lie from 70 to 180: over 70 %. */
    assert(f64s(table, "value", NULL)[0] == measure(panel, GLYC_MEASURE_IN_RANGE_PCT));
    met = bools(table, "met", &known);
    assert(f64s(table, "target", NULL)[0] == 70 && met[0] && known[0]);
    assert(!strcmp(texts(table, "bound")[0], "above") && strlen(texts(table, "source")[0]) > 0);
    glyc_table_free(table);
    /* Pregnancy's own range needs the readings: 60 of an hour a night lies below 63. */
    assert(!glyc_panel_assess(panel, trace, GLYC_POPULATION_PREGNANCY, &table, NULL));
    assert(f64s(table, "value", &known)[1] == 100.0 * 6 / PER_DAY && known[1]);
    glyc_table_free(table);
    assert(!glyc_panel_assess(panel, NULL, GLYC_POPULATION_PREGNANCY, &table, NULL));
    f64s(table, "value", &known);
    assert(!known[1]);
    bools(table, "met", &known);
    assert(!known[1]);
    glyc_table_free(table);
    assert(!glyc_panel_assess(panel, trace, GLYC_POPULATION_WITHOUT_DIABETES, &table, NULL));
    assert(!strcmp(texts(table, "bound")[0], "none_set"));
    glyc_table_free(table);
    table = NULL;
    glyc_status s = glyc_panel_assess(panel, trace, 6, &table, &error);
    expect(s, GLYC_STATUS_UNKNOWN_CHOICE, error, "unknown_choice", "population");
    s = glyc_panel_assess(NULL, trace, 1, &table, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "panel");
    assert(!table);
    glyc_panel_free(panel);
    glyc_trace_free(trace);
}

static void gaps_and_breaks(void) {
    glyc_error *error = NULL;
    glyc_table *table = NULL;
    glyc_trace *two = NULL, *again = NULL;
    int64_t at[] = {T0, T0 + STEP, T0 + 2 * STEP, T0 + 7 * STEP, T0 + 8 * STEP, T0 + 9 * STEP};
    double mg[] = {100, 100, 100, 100, 100, 100}, gaps = -1;
    glyc_trace *one = trace_at(at, mg, 6, 0);
    assert(!glyc_trace_gaps(one, &table, NULL) && glyc_table_rows(table) == 1);
    assert(i64s(table, "from_ms")[0] == at[2] && i64s(table, "to_ms")[0] == at[3]);
    assert(f64s(table, "minutes", NULL)[0] == 25 && !bools(table, "sensor_change", NULL)[0]);
    glyc_table_free(table);

    const int64_t breaks[] = {T0 + 9 * STEP, T0 + 3 * STEP, T0 + 9 * STEP};
    assert(!glyc_trace_with_breaks(one, breaks, 3, &two, NULL));
    assert(glyc_trace_breaks_len(one) == 0 && glyc_trace_breaks_len(two) == 2);
    assert(glyc_trace_breaks_ms(two)[0] == breaks[1] && glyc_trace_breaks_ms(two)[1] == breaks[0]);
    assert(glyc_trace_len(two) == 6);
    assert(!glyc_trace_gaps(two, &table, NULL) && glyc_table_rows(table) == 2);
    assert(bools(table, "sensor_change", NULL)[0] && f64s(table, "minutes", NULL)[1] == 5);
    glyc_table_free(table);
    assert(!glyc_trace_coverage(two, GLYC_COVERAGE_GAPS, &gaps, NULL) && gaps == 2);
    assert(!glyc_trace_with_breaks(two, NULL, 0, &again, NULL) && !glyc_trace_breaks_len(again));

    assert(glyc_trace_breaks_len(NULL) == 0 && !glyc_trace_breaks_ms(NULL));
    glyc_status s = glyc_trace_with_breaks(one, NULL, 1, &again, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "breaks_ms");
    s = glyc_trace_gaps(NULL, &table, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "trace");
    glyc_trace_free(one);
    glyc_trace_free(two);
    glyc_trace_free(again);
}

static void shares(void) {
    glyc_error *error = NULL;
    glyc_trace *trace = NULL;
    double tenths[] = {3.4, 3.5, 7.8, 7.9}, got[] = {UNTOUCHED, UNTOUCHED};
    const double low[] = {63, 1}, high[] = {140, 63}, wrong[] = {140, 1};
    size_t index = 99;
    assert(!glyc_trace_new(times, tenths, 4, GLYC_UNIT_MMOL_L, NULL, &trace, NULL));
    glyc_status s = glyc_trace_shares(trace, low, wrong, 2, got, &error);
    assert(glyc_error_index(error, &index) && index == 1);
    expect(s, GLYC_STATUS_OUT_OF_RANGE, error, "out_of_range", "ranges");
    s = glyc_trace_shares(trace, low, high, 0, got, &error);
    expect(s, GLYC_STATUS_TOO_FEW_VALUES, error, "too_few_values", NULL);
    s = glyc_trace_shares(trace, low, NULL, 2, got, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "high_mg_dl");
    s = glyc_trace_shares(trace, low, high, 2, NULL, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "shares_out");
    assert(got[0] == UNTOUCHED && got[1] == UNTOUCHED);
    /* 63 and 140 mg/dL are 3.5 and 7.8 mmol/L, ends included. */
    assert(!glyc_trace_shares(trace, low, high, 2, got, NULL) && got[0] == 50 && got[1] == 50);
    glyc_trace_free(trace);
}

static double figure(const glyc_sufficiency *s, uint32_t which) {
    double value = NAN;
    assert(!glyc_sufficiency_figure(s, which, &value, NULL));
    return value;
}

static void enough_data(void) {
    glyc_error *error = NULL;
    glyc_sufficiency *s = NULL;
    glyc_table *table = NULL;
    double value = UNTOUCHED;
    size_t days = 99;
    int64_t period[] = {MIDNIGHT, MIDNIGHT + 14 * 24 * HOUR}, empty[] = {T0, T0};
    glyc_trace *trace = trace_at(times, glucose, N, 1), *plain = trace_at(times, glucose, N, 0);
    glyc_sufficiency_free(NULL);
    assert(!glyc_sufficiency_new(trace, NULL, &s, NULL));
    assert(figure(s, GLYC_SUFFICIENCY_N) == N && figure(s, GLYC_SUFFICIENCY_DAYS) == DAYS);
    assert(figure(s, GLYC_SUFFICIENCY_ACTIVE_PCT) == 100);
    assert(figure(s, GLYC_SUFFICIENCY_ENOUGH_DAYS) == 0);
    assert(figure(s, GLYC_SUFFICIENCY_ENOUGH_ACTIVE) == 1);
    assert(figure(s, GLYC_SUFFICIENCY_LONGEST_GAP_MIN) == 0);
    assert(figure(s, GLYC_SUFFICIENCY_DAYS_TOUCHED) == DAYS);
    assert(figure(s, GLYC_SUFFICIENCY_FULL_DAYS) == DAYS);
    const uint32_t gap_from = GLYC_SUFFICIENCY_LONGEST_GAP_FROM_MS;
    glyc_status got = glyc_sufficiency_figure(s, gap_from, &value, &error);
    expect(got, GLYC_STATUS_NOT_ESTIMABLE, error, "no_gap", NULL);
    got = glyc_sufficiency_figure(s, 10, &value, &error);
    expect(got, GLYC_STATUS_UNKNOWN_CHOICE, error, "unknown_choice", "which");
    assert(!glyc_sufficiency_hours(s, &table, NULL) && glyc_table_rows(table) == 24);
    assert(i64s(table, "readings")[23] == DAYS * 12 && !bools(table, "unseen", NULL)[23]);
    glyc_table_free(table);
    glyc_sufficiency_free(s);
    /* Of two weeks eight days were worn; then nothing until the end. */
    assert(!glyc_sufficiency_new(plain, period, &s, NULL));
    assert(fabs(figure(s, GLYC_SUFFICIENCY_ACTIVE_PCT) - 100.0 * 8 / 14) < 1e-12);
    assert(figure(s, GLYC_SUFFICIENCY_ENOUGH_DAYS) == 1);
    assert(figure(s, GLYC_SUFFICIENCY_ENOUGH_ACTIVE) == 0);
    assert(figure(s, GLYC_SUFFICIENCY_LONGEST_GAP_MIN) == 6 * 1440 + 5);
    assert(figure(s, gap_from) == (double)times[N - 1]);
    got = glyc_sufficiency_figure(s, GLYC_SUFFICIENCY_FULL_DAYS, &value, &error);
    expect(got, GLYC_STATUS_NOT_ESTIMABLE, error, "no_zone", NULL);
    table = NULL;
    got = glyc_sufficiency_hours(s, &table, &error);
    expect(got, GLYC_STATUS_NOT_ESTIMABLE, error, "no_zone", NULL);
    glyc_sufficiency_free(s);
    s = NULL;
    got = glyc_sufficiency_new(trace, empty, &s, &error);
    expect(got, GLYC_STATUS_OUT_OF_RANGE, error, "out_of_range", "reporting_period");
    assert(!s && !table && value == UNTOUCHED);

    /* 276 of 288 readings rise by 1 a day for eight days, the others don't: the SD of the daily
     * means is 276/288 of sqrt(6), 2.3474. By printed tables t(0.975) is 2.0739 with 22 d.f. and
     * 2.0687 with 23: 2.0739 x 2.3474 / sqrt(23) = 1.015, 2.0687 x 2.3474 / sqrt(24) = 0.991. */
    const uint32_t mean = GLYC_MEASURE_MEAN_MG_DL;
    assert(!glyc_trace_days_needed(trace, mean, 1, 0.95, &days, NULL) && days == 24);
    days = 99;
    got = glyc_trace_days_needed(trace, GLYC_MEASURE_SD_MG_DL, 1, 0.95, &days, &error);
    expect(got, GLYC_STATUS_NOT_ESTIMABLE, error, "not_a_mean", NULL);
    got = glyc_trace_days_needed(plain, GLYC_MEASURE_MEAN_MG_DL, 1, 0.95, &days, &error);
    expect(got, GLYC_STATUS_NOT_ESTIMABLE, error, "no_zone", NULL);
    got = glyc_trace_days_needed(trace, GLYC_MEASURE_MEAN_MG_DL, 0, 0.95, &days, &error);
    expect(got, GLYC_STATUS_OUT_OF_RANGE, error, "out_of_range", "half_width");
    got = glyc_trace_days_needed(trace, 0, 1, 0.95, &days, &error);
    expect(got, GLYC_STATUS_UNKNOWN_CHOICE, error, "unknown_choice", "measure_id");
    got = glyc_days_needed(1e6, 1e-6, 0.95, &days, &error);
    expect(got, GLYC_STATUS_NOT_ESTIMABLE, error, "out_of_reach", NULL);
    got = glyc_days_needed(-1, 1, 0.95, &days, &error);
    expect(got, GLYC_STATUS_OUT_OF_RANGE, error, "out_of_range", "sd");
    got = glyc_days_needed(1, 1, 0.95, NULL, &error);
    expect(got, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "days_out");
    assert(days == 99);
    glyc_trace_free(trace);
    glyc_trace_free(plain);
}

int main(void) {
    make_readings();
    options_of_a_panel();
    options_refuse();
    tables();
    episodes();
    modal_days();
    parts();
    targets();
    gaps_and_breaks();
    shares();
    enough_data();
    puts("test_tables: all held");
    return 0;
}
