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
    double baselines[] = {100, 100, 100, 100, 100, 100, 100, 100};
    assert(!glyc_fit_safe_under_peak(fit, 0.8, 120, baselines, 8, &e, NULL));
    assert(fabs(e.value - 20) < 0.6);
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
    glyc_fit_free(fit);
    glyc_responses_free(responses);
    glyc_diary_free(diary);
    glyc_trace_free(trace);
    return 0;
}

int main(int argc, char **argv) {
    if (argc == 4) return print(argv);
    a_diary_by_hand();
    what_is_refused();
    puts("meals and tolerance: all passed");
    return 0;
}
