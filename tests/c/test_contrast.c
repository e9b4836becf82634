/* Contrasts, pairs of meals, repeats, schedules. */
#undef NDEBUG
#include "glycemic.h"

#include "cells.h"
#include "expect.h"

#include <assert.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

static void with_and_without(void) {
    const double y[] = {0.5, 1.5, 2.5, 3.5, 3.5, 4.5, 5.5, 6.5};
    const bool with[] = {false, false, false, false, true, true, true, true};
    const bool few[] = {false, false, false, false, false, true, true, true};
    glyc_table *t = NULL;
    glyc_error *error = NULL;
    /* Means 2 and 5, pooled variance 5/3 on 6 degrees of freedom: the pooled t test, whose SE is
     * sqrt(5/3 * 2/4) and whose t at 0.975 is 2.4469 (any table). */
    assert(!glyc_contrast_compare(y, with, NULL, 8, 0, 0.95, &t, NULL) && glyc_table_rows(t) == 1);
    assert(fabs(number(t, "value", 0) - 3) < 1e-12);
    assert(fabs(number(t, "high", 0) - 3 - 2.446911851 * sqrt(5.0 / 6)) < 1e-8);
    assert(fabs(number(t, "residual_sd", 0) - sqrt(5.0 / 3)) < 1e-12);
    /* t = 3.286 on 6 degrees of freedom lies between the 2 % (3.143) and 1 % (3.707) points. */
    assert(number(t, "p_value", 0) < 0.02 && number(t, "p_value", 0) > 0.01);
    assert(number(t, "smallest_visible", 0) > 3);
    glyc_table_free(t);
    /* Rises of a mg/dL a gram, 10 less with: grams explain the rest. Second column: a wave. */
    const double columns[] = {10, 20, 30, 40, 15, 25, 35, 45, 1, -1, 1, -1, -1, 1, -1, 1};
    double rise[8];
    for (int i = 0; i < 8; i++) rise[i] = columns[i] - (with[i] ? 10 : 0) + 2 * columns[8 + i];
    assert(!glyc_contrast_compare(rise, with, columns, 8, 2, 0.9, &t, NULL));
    assert(fabs(number(t, "value", 0) + 10) < 1e-9 && number(t, "residual_sd", 0) < 1e-6);
    glyc_table_free(t);
    /* Three on a side: data with its reason. */
    assert(!glyc_contrast_compare(y, few, NULL, 8, 0, 0.95, &t, NULL));
    assert(isnan(number(t, "value", 0)) && isnan(number(t, "p_value", 0)));
    assert(!strcmp(word(t, "reason_code", 0), "too_few_meals"));
    glyc_table_free(t);
    /* More columns than rows hold, and no rows at all. */
    double many[80];
    for (int i = 0; i < 80; i++) many[i] = (i * 37) % 11;
    assert(!glyc_contrast_compare(y, with, many, 8, 10, 0.95, &t, NULL));
    assert(!strcmp(word(t, "reason_code", 0), "not_separable"));
    glyc_table_free(t);
    assert(!glyc_contrast_compare(NULL, NULL, NULL, 0, 3, 0.95, &t, NULL));
    assert(!strcmp(word(t, "reason_code", 0), "too_few_meals"));
    glyc_table_free(t);
    t = NULL;
    glyc_status s = glyc_contrast_compare(y, with, NULL, 8, 1, 0.95, &t, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "adjust");
    s = glyc_contrast_compare(y, with, columns, 8, SIZE_MAX / 2, 0.95, &t, &error);
    expect(s, GLYC_STATUS_OUT_OF_RANGE, error, "out_of_range", "len");
    s = glyc_contrast_compare(y, NULL, NULL, 8, 0, 0.95, &t, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "exposed");
    s = glyc_contrast_compare(y, with, NULL, 8, 0, 0.3, &t, &error);
    expect(s, GLYC_STATUS_OUT_OF_RANGE, error, "out_of_range", "level");
    assert(!t);
}

static void pair_by_pair(void) {
    /* Cross- and self-fertilised maize, eighths of an inch (Darwin 1876; Fisher, The design of
     * experiments, 1935): t 2.148 with 14 degrees of freedom, p 0.0497, by signs 1726/32768. */
    const double d[] = {49, -67, 8, 16, 6, 23, 28, 41, 14, 29, 56, 24, 75, 60, -48};
    const double nothing[15] = {0};
    const bool first[15] = {true};
    glyc_table *t = NULL;
    glyc_error *error = NULL;
    assert(!glyc_contrast_paired(d, nothing, first, 15, 0.95, &t, NULL) && glyc_table_rows(t) == 3);
    assert(fabs(number(t, "p_value", 0) - 0.0497) < 5e-5);
    assert(number(t, "p_signs", 0) == 1726.0 / 32768);
    assert(number(t, "low", 0) > 0 && !strcmp(word(t, "name", 1), "carry_over"));
    assert(!strcmp(word(t, "reason_code", 1), "too_few_pairs"));
    glyc_table_free(t);
    /* Sums 51 and 46 against 57 and 60. */
    const double with[] = {20, 24, 18, 25}, without[] = {31, 33, 28, 35};
    const bool order[] = {true, false, true, false};
    assert(!glyc_contrast_paired(with, without, order, 4, 0.95, &t, NULL));
    assert(number(t, "value", 0) == -10 && fabs(number(t, "value", 1) + 10) < 1e-9);
    glyc_table_free(t);
    t = NULL;
    glyc_status s = glyc_contrast_paired(with, without, NULL, 4, 0.95, &t, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "with_first");
    assert(!t);
}

static void how_many_repeats(void) {
    size_t n = 0;
    glyc_error *error = NULL;
    /* Half a standard deviation: 64 on each side (Cohen 1988, table 2.4.1). */
    assert(!glyc_contrast_repeats(0.5, 1, 0.8, 0.95, false, &n, NULL) && n == 64);
    /* Differences of pairs have an SD of 1 here: 34 pairs at half of it (paired t test, the
     * noncentral t distribution; common tables of power). */
    assert(!glyc_contrast_repeats(0.5, sqrt(0.5), 0.8, 0.95, true, &n, NULL) && n == 34);
    glyc_status s = glyc_contrast_repeats(0, 1, 0.8, 0.95, true, &n, &error);
    expect(s, GLYC_STATUS_OUT_OF_RANGE, error, "out_of_range", "effect");
    s = glyc_contrast_repeats(0.5, NAN, 0.8, 0.95, true, &n, &error);
    expect(s, GLYC_STATUS_NOT_FINITE, error, "not_finite", "sd");
    s = glyc_contrast_repeats(0.5, 1, 0.8, 0.95, true, NULL, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "repeats_out");
    assert(n == 34);
}

static void a_schedule(void) {
    const char *const slots[] = {"lunch", "dinner"}, *const same[] = {"lunch", "lunch"};
    const char *const hole[] = {"lunch", NULL};
    glyc_table *t = NULL, *again = NULL;
    glyc_error *error = NULL;
    const int64_t *day = NULL, *pair = NULL;
    const bool *valid = NULL, *paired = NULL;
    size_t len = 0, with[8] = {0}, without[8] = {0};
    assert(!glyc_contrast_schedule(14, 2, slots, 2, 7, "walk", "no walk", 7, &t, NULL));
    assert(!glyc_contrast_schedule(14, 2, slots, 2, 7, "walk", "no walk", 7, &again, NULL));
    assert(glyc_table_rows(t) == 2 + 14 && glyc_table_rows(again) == 2 + 14);
    assert(!glyc_table_column_i64(t, "day", &day, &valid, &len, NULL));
    assert(!glyc_table_column_i64(t, "pair", &pair, &paired, &len, NULL));
    for (size_t i = 0; i < len; i++) {
        const char *condition = word(t, "condition", i);
        assert(!strcmp(condition, word(again, "condition", i)));
        if (i < 2) {
            assert(day[i] == (int64_t)i + 1 && !paired[i] && !strcmp(condition, "masked"));
        } else {
            assert(day[i] > 2 && day[i] <= 14 && paired[i] && pair[i] >= 1 && pair[i] <= 7);
            (strcmp(condition, "walk") ? without : with)[pair[i]]++;
        }
    }
    for (int k = 1; k <= 7; k++) assert(with[k] == 1 && without[k] == 1);
    glyc_table_free(t);
    glyc_table_free(again);
    t = NULL;
    glyc_status s = glyc_contrast_schedule(14, 2, slots, 2, 13, "a", "b", 7, &t, &error);
    expect(s, GLYC_STATUS_OUT_OF_RANGE, error, "out_of_range", "pairs");
    s = glyc_contrast_schedule(14, 2, same, 2, 3, "a", "b", 7, &t, &error);
    expect(s, GLYC_STATUS_UNKNOWN_CHOICE, error, "unknown_choice", "slots");
    s = glyc_contrast_schedule(14, 2, hole, 2, 3, "a", "b", 7, &t, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "slots");
    s = glyc_contrast_schedule(14, 2, slots, 2, 3, NULL, "b", 7, &t, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "with");
    s = glyc_contrast_schedule(SIZE_MAX, 2, slots, 2, 3, "a", "b", 7, &t, &error);
    expect(s, GLYC_STATUS_OUT_OF_RANGE, error, "out_of_range", "days");
    assert(!t);
}

int main(void) {
    with_and_without();
    pair_by_pair();
    how_many_repeats();
    a_schedule();
    puts("contrasts: all passed");
    return 0;
}
