/* Meals and tolerance.
 *
 *   test_meals                         tests itself
 *   test_meals READINGS DIARY ZONE     prints what the diary gives, to be compared with Python
 *
 * READINGS as for test_panel. DIARY holds lines "M time carbs fiber protein fat tags" (nan, and -
 * for no tags) and "A start minutes kind".
 */
#undef NDEBUG
#include "glycemic.h"

#include "cells.h"
#include "expect.h"

#include <assert.h>
#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

enum { PER_DAY = 288, DAYS = 10, N = PER_DAY * DAYS, MEALS = 3 * DAYS };
#define MIDNIGHT INT64_C(1741564800000) /* 2025-03-10 00:00 UTC */
#define HOUR INT64_C(3600000)

static int64_t times[N];
static double glucose[N];
static const double doses[] = {10, 20, 30, 45, 60};

/* 100 mg/dL, and after a meal of g grams a triangle: up by g in an hour, down in another. */
static glyc_trace *make_trace(void) {
    glyc_clock *clock = NULL;
    glyc_trace *trace = NULL;
    for (int i = 0; i < N; i++) {
        times[i] = MIDNIGHT + i * STEP;
        glucose[i] = 100;
        for (int m = 0; m < MEALS; m++) {
            double hours = (double)(times[i] - (MIDNIGHT + (m / 3) * 24 * HOUR)) / (double)HOUR -
                           (8 + 5 * (m % 3));
            if (hours > 0 && hours < 2) glucose[i] += round(doses[m % 5] * (1 - fabs(hours - 1)));
        }
    }
    assert(!glyc_clock_fixed(0, &clock, NULL));
    assert(!glyc_trace_new(times, glucose, N, GLYC_UNIT_MG_DL, clock, &trace, NULL));
    glyc_clock_free(clock);
    return trace;
}

static glyc_diary *make_diary(void) {
    glyc_diary *diary = NULL;
    assert(!glyc_diary_new(&diary, NULL));
    for (int m = 0; m < MEALS; m++) {
        int64_t at = MIDNIGHT + (m / 3) * 24 * HOUR + (8 + 5 * (m % 3)) * HOUR;
        const char *tags = m == 7 ? "grain; eating-out" : "grain";
        assert(!glyc_diary_add_meal(diary, at, doses[m % 5] + 3, 3, NAN, NAN, "bowl", tags, NULL));
    }
    assert(glyc_diary_meals(diary) == MEALS);
    return diary;
}

static void a_diary_by_hand(void) {
    glyc_trace *trace = make_trace();
    glyc_diary *diary = make_diary();
    glyc_responses *responses = NULL;
    glyc_table *table = NULL;
    glyc_fit *fit = NULL;
    glyc_estimate e;
    const double *grams = NULL, *rises = NULL;
    const bool *valid = NULL;
    size_t len = 0;

    assert(!glyc_responses_new(trace, diary, 30, NAN, 30, 180, 1, &responses, NULL));
    assert(!glyc_responses_table(responses, &table, NULL) && glyc_table_rows(table) == MEALS);
    assert(!glyc_table_column_f64(table, "net_carbs_g", &grams, &valid, &len, NULL));
    assert(!glyc_table_column_f64(table, "rise_mg_dl", &rises, &valid, &len, NULL));
    for (size_t i = 0; i < len; i++) assert(valid[i] && grams[i] == rises[i]);

    /* A milligram per decilitre a gram: the target of 30 is met at 30 g. */
    assert(!glyc_fit_of_responses(responses, 30, 0.95, &fit, NULL));
    assert(glyc_fit_meals(fit) == MEALS - 1);
    assert(!glyc_fit_limit(fit, &e, NULL) && fabs(e.value - 30) < 0.5);
    assert(!glyc_fit_predict(fit, 45, &e, NULL) && fabs(e.value - 45) < 0.5);
    assert(!glyc_fit_equivalent_load(fit, 20, &e, NULL) && fabs(e.value - 20) < 0.5);
    assert(!glyc_fit_safe(fit, 0.8, &e, NULL) && e.value <= 30.5);
    /* From 100 mg/dL a peak of 120 allows 20 g; the fit knows where its meals started. */
    assert(!glyc_fit_safe_under_peak(fit, 0.8, 120, NULL, 0, &e, NULL));
    assert(fabs(e.value - 20) < 0.6);
    double before[MEALS];
    for (size_t i = 0; i < MEALS; i++) before[i] = 100;
    assert(!glyc_fit_safe_under_peak(fit, 0.8, 120, before, MEALS - 1, &e, NULL));
    assert(fabs(e.value - 20) < 0.6);
    assert(glyc_fit_safe_under_peak(fit, 0.8, 120, before, MEALS, &e, NULL) != GLYC_STATUS_OK);
    glyc_fit_free(fit);

    /* The same from the columns, all but the meal eaten out. */
    double g[MEALS], r[MEALS];
    size_t kept = 0;
    for (size_t i = 0; i < len; i++)
        if (i != 7) g[kept] = grams[i], r[kept++] = rises[i];
    assert(!glyc_fit_new(g, r, kept, 30, 0.95, 0, &fit, NULL));
    assert(!glyc_fit_limit(fit, &e, NULL) && fabs(e.value - 30) < 1e-6);
    glyc_fit_free(fit);
    glyc_table_free(table);

    assert(!glyc_responses_misfits(responses, 30, 0.1, &table, NULL));
    assert(glyc_table_rows(table) <= MEALS);
    glyc_table_free(table);
    assert(!glyc_responses_equivalent_loads(responses, 30, "eating-out", 0.95, &table, NULL));
    assert(glyc_table_rows(table) == 1);
    glyc_table_free(table);
    assert(!glyc_responses_limits_by_sort(responses, 30, 0.95, &table, NULL));
    glyc_table_free(table);
    assert(!glyc_responses_suspected(responses, &table, NULL) && glyc_table_rows(table) == 0);
    glyc_table_free(table);
    glyc_responses_free(responses);
    glyc_diary_free(diary);
    glyc_trace_free(trace);
}

/* Rises of 6 times grams to the power 0.7, give or take 1: 40 mg/dL at (40 / 6)^(1 / 0.7) g. */
static void a_form_that_saturates(void) {
    const double six[] = {10, 20, 30, 45, 60, 80}, off[] = {1, -1, 0, 1, -1};
    double grams[30], rises[30];
    glyc_fit *fit = NULL;
    glyc_table *t = NULL;
    glyc_error *error = NULL;
    for (int i = 0; i < 30; i++) {
        grams[i] = six[i % 6];
        rises[i] = 6 * pow(grams[i], 0.7) + off[i / 6];
    }
    assert(!glyc_fit_new(grams, rises, 30, 40, 0.95, 0, &fit, NULL));
    assert(!glyc_fit_saturating(fit, &t, NULL) && glyc_table_rows(t) == 2);
    assert(number(t, "power", 1) == 0.7 && number(t, "power", 0) == 1);
    assert(fabs(number(t, "limit_g", 1) - pow(40 / 6.0, 1 / 0.7)) < 0.5);
    assert(number(t, "left_out_mg_dl", 1) < number(t, "left_out_mg_dl", 0));
    assert(number(t, "weight", 1) > 0.9 && number(t, "weight", 0) + number(t, "weight", 1) == 1);
    glyc_table_free(t);
    glyc_fit_free(fit);
    t = NULL;
    assert(!glyc_fit_new(grams, rises, 2, 40, 0.95, 0, &fit, NULL));
    glyc_status s = glyc_fit_saturating(fit, &t, &error);
    expect(s, GLYC_STATUS_NOT_ESTIMABLE, error, "too_few_meals", NULL);
    s = glyc_responses_beside_grams(NULL, 5, 0.95, &t, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "responses");
    s = glyc_responses_limits_in_blood(NULL, NULL, NULL, 30, 0.8, 6, 0.95, &t, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "responses");
    s = glyc_fit_saturating(NULL, &t, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "fit");
    assert(!t);
    glyc_fit_free(fit);
}

/* A walk after each meal at 13:00 that a schedule of four pairs assigns one, but for the last. */
static void a_schedule_carried_out(void) {
    const char *const slots[] = {"lunch"};
    glyc_trace *trace = make_trace();
    glyc_diary *diary = make_diary();
    glyc_responses *responses = NULL;
    glyc_table *drawn = NULL, *answers = NULL, *sittings = NULL;
    glyc_error *error = NULL;
    const int64_t first_day = MIDNIGHT / (24 * HOUR);
    int walks = 0;
    assert(!glyc_contrast_schedule(DAYS, 2, slots, 1, 4, "walk_after", "no_walk", 3, &drawn, NULL));
    for (size_t i = 2; i < glyc_table_rows(drawn); i++) {
        if (strcmp(word(drawn, "condition", i), "walk_after") || ++walks == 4) continue;
        int64_t at = MIDNIGHT + (whole(drawn, "day", i) - 1) * 24 * HOUR + 13 * HOUR + HOUR / 4;
        assert(!glyc_diary_add_activity(diary, at, 20, "walk", "light", NULL));
    }
    assert(walks == 4);
    glyc_table_free(drawn);
    assert(!glyc_responses_new(trace, diary, 30, NAN, 30, 180, 1, &responses, NULL));
    assert(!glyc_contrast_carried_out(responses, diary, first_day, DAYS, 2, slots, 1, 4, "walk_after",
                                      "no_walk", 3, "rise", 0.95, &answers, &sittings, NULL));
    assert(glyc_table_rows(sittings) == 8 && glyc_table_rows(answers) == 4);
    int astray = 0;
    double with = 0, without = 0;
    for (size_t i = 0; i < 8; i++) {
        const char *what = word(sittings, "deviations", i);
        assert(!*what || !strcmp(what, "not_as_assigned"));
        astray += *what != 0;
        bool assigned = !strcmp(word(sittings, "assigned", i), "with");
        *(assigned ? &with : &without) += number(sittings, "outcome", i);
    }
    assert(astray == 1);
    assert(!strcmp(word(answers, "what", 0), "as_assigned") && whole(answers, "pairs", 0) == 4);
    assert(fabs(number(answers, "value", 0) - (with - without) / 4) < 1e-9);
    assert(whole(answers, "pairs", 1) == 3);
    glyc_table_free(answers);
    glyc_table_free(sittings);
    answers = sittings = NULL;
    /* A day that holds no meal: each sitting says so, and nothing is compared. */
    assert(!glyc_contrast_carried_out(responses, diary, 0, DAYS, 2, slots, 1, 4, "walk_after", "no_walk", 3,
                                      "peak", 0.95, &answers, NULL, NULL));
    assert(isnan(number(answers, "value", 0)) && strcmp(word(answers, "reason", 0), "-"));
    glyc_table_free(answers);
    answers = NULL;
    glyc_status s = glyc_contrast_carried_out(responses, diary, first_day, DAYS, 2, slots, 1, 40, "a", "b", 3,
                                              "rise", 0.95, &answers, &sittings, &error);
    expect(s, GLYC_STATUS_OUT_OF_RANGE, error, "out_of_range", "pairs");
    s = glyc_contrast_carried_out(responses, diary, first_day, DAYS, 2, slots, 1, 4, "a", "b", 3, "dip", 0.95,
                                  &answers, &sittings, &error);
    expect(s, GLYC_STATUS_UNKNOWN_CHOICE, error, "unknown_choice", "outcome");
    s = glyc_contrast_carried_out(responses, NULL, first_day, DAYS, 2, slots, 1, 4, "a", "b", 3, "rise", 0.95,
                                  &answers, &sittings, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "diary");
    /* Far outside the calendar: no overflow. */
    s = glyc_contrast_carried_out(responses, diary, INT64_MAX, DAYS, 2, slots, 1, 4, "a", "b", 3, "rise",
                                  0.95, &answers, &sittings, &error);
    expect(s, GLYC_STATUS_OUT_OF_RANGE, error, "out_of_range", "first_day");
    assert(!answers && !sittings);
    glyc_responses_free(responses);
    glyc_diary_free(diary);
    glyc_trace_free(trace);
}

static void what_is_refused(void) {
    glyc_trace *trace = make_trace();
    glyc_diary *diary = NULL;
    glyc_responses *responses = NULL;
    glyc_fit *fit = NULL;
    glyc_error *error = NULL;
    glyc_estimate e = {.value = UNTOUCHED};
    double rise = UNTOUCHED, x[] = {10, 20}, y[] = {10, NAN};

    assert(!glyc_diary_new(&diary, NULL));
    glyc_status s = glyc_diary_add_meal(diary, MIDNIGHT, -1, NAN, NAN, NAN, NULL, NULL, &error);
    expect(s, GLYC_STATUS_OUT_OF_RANGE, error, "out_of_range", "carbs_g");
    s = glyc_diary_add_meal(diary, INT64_MIN, 1, NAN, NAN, NAN, NULL, NULL, &error);
    expect(s, GLYC_STATUS_OUT_OF_RANGE, error, "out_of_range", "time_ms");
    s = glyc_diary_add_activity(diary, INT64_MAX, 10, "walk", NULL, &error);
    expect(s, GLYC_STATUS_OUT_OF_RANGE, error, "out_of_range", "start_ms");
    s = glyc_diary_add_activity(diary, 0, 10, NULL, NULL, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "kind");
    assert(!glyc_diary_add_activity(diary, MIDNIGHT, 10, "walk", "light", NULL));
    assert(glyc_diary_meals(diary) == 0 && glyc_diary_meals(NULL) == 0);
    s = glyc_responses_new(trace, NULL, 30, NAN, 30, 180, 1, &responses, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "diary");
    s = glyc_responses_new(trace, diary, 30, NAN, 1, 180, 1, &responses, &error);
    expect(s, GLYC_STATUS_OUT_OF_RANGE, error, "out_of_range", "before_min");
    assert(!responses);

    /* No meal: a fit that says so. */
    assert(!glyc_responses_new(trace, diary, 30, NAN, 30, 180, 1, &responses, NULL));
    s = glyc_responses_smallest_rise(responses, &rise, &error);
    expect(s, GLYC_STATUS_NOT_ESTIMABLE, error, "too_few_null_windows", NULL);
    assert(rise == UNTOUCHED);
    assert(!glyc_fit_of_responses(responses, 30, 0.95, &fit, NULL));
    s = glyc_fit_limit(fit, &e, &error);
    expect(s, GLYC_STATUS_NOT_ESTIMABLE, error, "too_few_meals", NULL);
    assert(e.value == UNTOUCHED);
    glyc_fit_free(fit);
    fit = NULL;
    s = glyc_fit_new(x, y, 2, 30, 0.95, 0, &fit, &error);
    expect(s, GLYC_STATUS_NOT_FINITE, error, "not_finite", "rises");
    assert(!fit && glyc_fit_meals(NULL) == 0);
    glyc_responses_free(responses);
    glyc_responses_free(NULL);
    glyc_fit_free(NULL);
    glyc_diary_free(diary);
    glyc_diary_free(NULL);
    glyc_trace_free(trace);
}

static void show_one(double value, bool there) {
    if (there) printf(" %.17g", value);
    else printf(" -");
}

static void show(const char *name, glyc_status status, const glyc_estimate *e) {
    uint32_t present = status ? 0 : e->present;
    printf("%s", name);
    show_one(e->value, present & GLYC_PRESENT_VALUE);
    show_one(e->low, present & GLYC_PRESENT_LOW);
    show_one(e->high, present & GLYC_PRESENT_HIGH);
    printf("\n");
}

static int print(char **argv) {
    glyc_trace *trace = NULL;
    glyc_clock *clock = NULL;
    glyc_diary *diary = NULL;
    glyc_responses *responses = NULL;
    glyc_fit *fit = NULL;
    glyc_estimate e;
    static int64_t at[100000];
    static double mg[100000];
    size_t len = 0;
    char kind, words[256];
    int64_t time;
    double a, b, c, d;

    FILE *file = fopen(argv[1], "r");
    assert(file);
    while (len < 100000 && fscanf(file, "%" SCNd64 " %lf", &at[len], &mg[len]) == 2) len++;
    fclose(file);
    assert(!glyc_clock_from_zone(argv[3], &clock, NULL));
    assert(!glyc_trace_new(at, mg, len, GLYC_UNIT_MG_DL, clock, &trace, NULL));
    glyc_clock_free(clock);
    assert(!glyc_diary_new(&diary, NULL));
    file = fopen(argv[2], "r");
    assert(file);
    while (fscanf(file, " %c %" SCNd64 " %lf", &kind, &time, &a) == 3) {
        if (kind == 'M') {
            assert(fscanf(file, "%lf %lf %lf %255s", &b, &c, &d, words) == 4);
            const char *tags = strcmp(words, "-") ? words : NULL;
            assert(!glyc_diary_add_meal(diary, time, a, b, c, d, NULL, tags, NULL));
        } else {
            assert(fscanf(file, "%255s", words) == 1);
            assert(!glyc_diary_add_activity(diary, time, a, words, NULL, NULL));
        }
    }
    fclose(file);
    assert(!glyc_responses_new(trace, diary, 30, 140, 30, 180, 1, &responses, NULL));
    assert(!glyc_fit_of_responses(responses, 30, 0.95, &fit, NULL));
    show("limit", glyc_fit_limit(fit, &e, NULL), &e);
    show("safe", glyc_fit_safe(fit, 0.8, &e, NULL), &e);
    show("predict", glyc_fit_predict(fit, 25, &e, NULL), &e);
    show("load", glyc_fit_equivalent_load(fit, 35, &e, NULL), &e);
    glyc_table *t = NULL;
    assert(!glyc_fit_saturating(fit, &t, NULL));
    printf("saturating %.17g %.17g %.17g\n", number(t, "power", 1), number(t, "left_out_mg_dl", 1),
           number(t, "weight", 1));
    glyc_table_free(t);
    assert(!glyc_responses_beside_grams(responses, 5, 0.95, &t, NULL) && glyc_table_rows(t) == 5);
    printf("walk_beside %.17g %.17g %.17g\n", number(t, "went_with_mg_dl", 0), number(t, "low_mg_dl", 0),
           number(t, "left_out_mg_dl", 0));
    glyc_table_free(t);
    /* As if a meter had shown every sixth reading, four fifths as high over 80. */
    glyc_meter *meter = NULL;
    size_t pricks = 0;
    for (size_t i = 0; i < len; i += 6, pricks++) at[pricks] = at[i], mg[pricks] = 80 + 0.8 * (mg[i] - 80);
    assert(!glyc_meter_new(at, mg, pricks, GLYC_UNIT_MG_DL, &meter, NULL));
    assert(!glyc_responses_limits_in_blood(responses, meter, trace, 30, 0.8, 6, 0.95, &t, NULL));
    printf("in_blood %.17g %.17g %.17g\n", number(t, "value", 0), number(t, "value", 1), number(t, "high", 2));
    glyc_table_free(t);
    glyc_meter_free(meter);
    const char *const slots[] = {"lunch", "dinner"};
    assert(!glyc_contrast_carried_out(responses, diary, at[0] / (24 * HOUR), 14, 2, slots, 2, 6, "walk_after",
                                      "no_walk", 7, "rise", 0.95, &t, NULL, NULL));
    printf("carried_out %.17g %.17g %.17g\n", number(t, "value", 0), number(t, "low", 0),
           number(t, "high", 0));
    glyc_table_free(t);
    glyc_fit_free(fit);
    glyc_responses_free(responses);
    glyc_diary_free(diary);
    glyc_trace_free(trace);
    return 0;
}

int main(int argc, char **argv) {
    if (argc == 4) return print(argv);
    a_diary_by_hand();
    a_form_that_saturates();
    a_schedule_carried_out();
    what_is_refused();
    puts("meals and tolerance: all passed");
    return 0;
}
