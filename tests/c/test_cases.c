/* Runs the published cases that published.py turned into lines, and prints how many per source.
 * Exits with 1 if a number is off, with 2 if a line can't be read.
 */
#undef NDEBUG
#include "glycemic.h"

#include "cells.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { MOST = 4096, WORD = 128 };
static int failed_cases, all_cases, source_cases, source_failed;
static char source[WORD] = "";

static void unreadable(const char *what) {
    fprintf(stderr, "test_cases: after case %d of %s: %s\n", source_cases, source, what);
    exit(2);
}

static void read_word(char out[WORD]) {
    if (scanf("%127s", out) != 1) unreadable("the line ends too early");
}

static double number_of(const char *text) {
    char *end;
    errno = 0;
    double number = strtod(text, &end);
    if (end == text || *end || errno) unreadable(text);
    return number;
}

static double read_number(void) {
    char text[WORD];
    read_word(text);
    return number_of(text);
}

static size_t length(void) {
    double n = read_number();
    if (!(n >= 0 && n <= MOST) || n != floor(n)) unreadable("a length from 0 to 4096 is needed");
    return (size_t)n;
}

static size_t numbers(size_t n, double *out) {
    for (size_t i = 0; i < n; i++) out[i] = read_number();
    return n;
}

static void instants(size_t n, int64_t *out) {
    for (size_t i = 0; i < n; i++) out[i] = (int64_t)read_number(); /* below 2^53, so exact */
}

/* An answer: a number, or a status that says why there is none. */
typedef struct answer {
    glyc_status status;
    double value;
} answer;

/* Compares one answer with the next expected number; says what is off. */
static int compare(const char *call, const char *name, answer got) {
    char text[WORD];
    read_word(text);
    double tolerance = read_number();
    if (!strcmp(text, "-")) {
        if (got.status == GLYC_STATUS_NOT_ESTIMABLE) return 1;
        printf("  %s %s: got %.17g, expected nothing\n", call, name, got.value);
        return 0;
    }
    double wanted = number_of(text);
    if (got.status == GLYC_STATUS_OK && fabs(got.value - wanted) <= tolerance) return 1;
    printf("  %s %s: got %.17g (status %d), expected %.17g within %g\n", call, name, got.value,
           (int)got.status, wanted, tolerance);
    return 0;
}

static int check_area(const char *call, int incremental) {
    static double minutes[MOST], values[MOST];
    char baseline_text[WORD] = "-", name[WORD];
    double baseline = 0;
    uint32_t rule = 0;
    answer got = {GLYC_STATUS_OTHER, NAN};
    if (incremental) {
        rule = (uint32_t)read_number();
        read_word(baseline_text);
    }
    int has_baseline = strcmp(baseline_text, "-") != 0;
    if (has_baseline) baseline = number_of(baseline_text);
    size_t n = numbers(length(), minutes);
    numbers(n, values);
    if (incremental) {
        const double *from = has_baseline ? &baseline : NULL;
        got.status = glyc_area_incremental(minutes, values, n, from, rule, &got.value, NULL);
    } else {
        got.status = glyc_area_total(minutes, values, n, &got.value, NULL);
    }
    if (length() != 1) unreadable("an area has one number");
    read_word(name);
    return compare(call, name, got);
}

static int check_panel(const char *call) {
    static int64_t times[MOST];
    static double glucose[MOST];
    glyc_trace *trace = NULL;
    glyc_panel *panel = NULL;
    glyc_clock *clock = NULL;
    char zone[WORD];
    uint32_t unit = (uint32_t)read_number();
    read_word(zone);
    size_t n = length();
    instants(n, times);
    numbers(n, glucose);
    glyc_status made = 0;
    if (strcmp(zone, "-")) made = glyc_clock_from_zone(zone, &clock, NULL);
    if (!made) made = glyc_trace_new(times, glucose, n, unit, clock, &trace, NULL);
    if (!made) made = glyc_panel_new(trace, NULL, 0, &panel, NULL);
    int ok = 1;
    for (size_t k = length(); k > 0; k--) {
        char name[WORD];
        uint32_t id;
        answer got = {made, NAN};
        read_word(name);
        if (!made) got.status = glyc_measure_id_from_name(name, &id, NULL);
        if (!got.status) got.status = glyc_panel_value(panel, id, &got.value, NULL);
        ok &= compare(call, name, got);
    }
    glyc_panel_free(panel);
    glyc_trace_free(trace);
    glyc_clock_free(clock);
    return ok;
}

static int check_within(const char *call) {
    static double limits[4], reference[MOST], measured[MOST];
    glyc_estimate share = {NAN, NAN, NAN, NAN, 0, 0, 0, 0};
    size_t count = 0;
    numbers(4, limits);
    size_t n = numbers(length(), reference);
    numbers(n, measured);
    glyc_status status = glyc_agreement_within(reference, measured, NULL, n, limits[0], limits[1],
                                               limits[2], limits[3], &share, &count, NULL, NULL);
    int ok = 1;
    for (size_t k = length(); k > 0; k--) {
        char name[WORD];
        answer got = {status, NAN};
        read_word(name);
        if (!strcmp(name, "count")) got.value = (double)count;
        else if (!strcmp(name, "n")) got.value = (double)share.n;
        else if (!strcmp(name, "fraction")) got.value = share.value;
        else if (!strcmp(name, "low")) got.value = share.low;
        else if (!strcmp(name, "high")) got.value = share.high;
        else unreadable(name);
        ok &= compare(call, name, got);
    }
    return ok;
}

static int check_offset(const char *call) {
    static int64_t at[MOST];
    char zone[WORD], name[WORD];
    glyc_clock *clock = NULL;
    read_word(zone);
    size_t n = length();
    instants(n, at);
    glyc_status made = glyc_clock_from_zone(zone, &clock, NULL);
    if (length() != n) unreadable("one offset for each instant is needed");
    int ok = 1;
    for (size_t i = 0; i < n; i++) {
        int32_t offset = 0;
        answer got = {made, NAN};
        read_word(name);
        if (!made) got.status = glyc_clock_offset_min(clock, at[i], &offset, NULL);
        if (!got.status) got.value = offset;
        ok &= compare(call, name, got);
    }
    glyc_clock_free(clock);
    return ok;
}

/* Readings of 100 mg/dL every 5 min from the start of the period on. */
static int check_sufficiency(const char *call) {
    static int64_t times[MOST];
    static double glucose[MOST];
    const int64_t start = INT64_C(1741000000000);
    const int64_t period[] = {start, start + (int64_t)(read_number() * 86400000.0)};
    glyc_trace *trace = NULL;
    glyc_sufficiency *found = NULL;
    size_t n = length();
    for (size_t i = 0; i < n; i++) {
        times[i] = start + (int64_t)i * INT64_C(300000);
        glucose[i] = 100;
    }
    glyc_status made = glyc_trace_new(times, glucose, n, GLYC_UNIT_MG_DL, NULL, &trace, NULL);
    if (!made) made = glyc_sufficiency_new(trace, period, &found, NULL);
    int ok = 1;
    for (size_t k = length(); k > 0; k--) {
        char name[WORD];
        answer got = {made, NAN};
        uint32_t which = 0;
        read_word(name);
        if (!strcmp(name, "active_pct")) which = GLYC_SUFFICIENCY_ACTIVE_PCT;
        else if (!strcmp(name, "enough_days")) which = GLYC_SUFFICIENCY_ENOUGH_DAYS;
        else if (!strcmp(name, "enough_active")) which = GLYC_SUFFICIENCY_ENOUGH_ACTIVE;
        else unreadable(name);
        if (!made) got.status = glyc_sufficiency_figure(found, which, &got.value, NULL);
        ok &= compare(call, name, got);
    }
    glyc_sufficiency_free(found);
    glyc_trace_free(trace);
    return ok;
}

static int check_days_needed(const char *call) {
    char name[WORD];
    double sd = read_number(), half_width = read_number(), level = read_number();
    size_t days = 0;
    answer got = {glyc_days_needed(sd, half_width, level, &days, NULL), NAN};
    got.value = (double)days;
    if (length() != 1) unreadable("there is one number of days");
    read_word(name);
    return compare(call, name, got);
}

/* A number, or that there is none. */
static answer some(double value) {
    answer got = {isnan(value) ? GLYC_STATUS_NOT_ESTIMABLE : GLYC_STATUS_OK, value};
    return got;
}

/* The figure `name` of a table of estimates; `bias_low` is the lower end of `bias`. */
static answer estimated(const glyc_table *t, const char *name) {
    size_t rows = glyc_table_rows(t);
    if (!strcmp(name, "n")) return some((double)whole(t, "n", 0));
    for (size_t i = 0; i < rows; i++) {
        const char *own = word(t, "name", i);
        size_t len = strlen(own);
        if (strncmp(name, own, len)) continue;
        if (!name[len]) return some(number(t, "value", i));
        if (!strcmp(name + len, "_low")) return some(number(t, "low", i));
        if (!strcmp(name + len, "_high")) return some(number(t, "high", i));
    }
    unreadable(name);
    return some(NAN);
}

/* Compares each expected number with a table of estimates, and frees it. */
static int check_estimates(const char *call, glyc_status made, glyc_table *t) {
    int ok = 1;
    for (size_t k = length(); k > 0; k--) {
        char name[WORD];
        answer got = {made, NAN};
        read_word(name);
        if (!made) got = estimated(t, name);
        ok &= compare(call, name, got);
    }
    glyc_table_free(t);
    return ok;
}

static double first[MOST], second[MOST];

/* Figures of differences, or limits of agreement. */
static int check_pairs(const char *call, int summary) {
    static int64_t subjects[MOST];
    glyc_table *t = NULL;
    int grouped = (int)read_number();
    size_t n = numbers(length(), first);
    numbers(n, second);
    if (grouped) instants(n, subjects);
    const int64_t *subject = grouped ? subjects : NULL;
    glyc_status made = summary ? glyc_agreement_summary(first, second, subject, n, 0.95, &t, NULL)
                               : glyc_agreement_limits(first, second, subject, n, 0.95, &t, NULL);
    return check_estimates(call, made, t);
}

static int check_line(const char *call) {
    glyc_table *t = NULL;
    uint32_t method = (uint32_t)read_number();
    double ratio = read_number();
    size_t n = numbers(length(), first);
    numbers(n, second);
    glyc_status made = glyc_agreement_line(first, second, n, method, ratio, 0.95, &t, NULL);
    return check_estimates(call, made, t);
}

static int check_concordance(const char *call) {
    glyc_table *t = NULL;
    size_t n = numbers(length(), first);
    numbers(n, second);
    glyc_status made = glyc_agreement_concordance(first, second, n, 0.95, &t, NULL);
    return check_estimates(call, made, t);
}

/* Zones as numbers, 0 for A to 4 for E. */
static int check_grid(const char *call) {
    static uint8_t zones[MOST];
    glyc_table *t = NULL;
    uint32_t grid = (uint32_t)read_number();
    size_t n = numbers(length(), first);
    numbers(n, second);
    glyc_status made = glyc_agreement_error_grid(first, second, n, grid, zones, &t, NULL);
    glyc_table_free(t);
    if (length() != n) unreadable("one zone for each pair is needed");
    int ok = 1;
    for (size_t i = 0; i < n; i++) {
        char name[WORD];
        answer got = {made, (double)(zones[i] - 'A')};
        read_word(name);
        ok &= compare(call, name, got);
    }
    return ok;
}

/* Differences as outcomes with, beside outcomes of 0 without. */
static int check_paired(const char *call) {
    static bool with_first[MOST];
    glyc_table *t = NULL;
    char name[WORD];
    double level = read_number();
    size_t n = numbers(length(), first);
    for (size_t i = 0; i < n; i++) second[i] = 0, with_first[i] = true;
    glyc_status made = glyc_contrast_paired(first, second, with_first, n, level, &t, NULL);
    if (length() != 1) unreadable("pairs have one p value here");
    read_word(name);
    answer got = {made, NAN};
    if (!made) got = some(number(t, name, 0));
    glyc_table_free(t);
    return compare(call, name, got);
}

static int check_repeats(const char *call) {
    char name[WORD];
    bool in_pairs = read_number() == 1;
    double effect = read_number(), sd = read_number(), power = read_number(), level = read_number();
    size_t found = 0;
    answer got = {glyc_contrast_repeats(effect, sd, power, level, in_pairs, &found, NULL), NAN};
    got.value = (double)found;
    if (length() != 1) unreadable("there is one number of repeats");
    read_word(name);
    return compare(call, name, got);
}

/* One row of the curve, or the median. */
static int check_survival(const char *call) {
    static bool failed[MOST];
    char at[WORD];
    glyc_table *t = NULL;
    glyc_estimate median = {NAN, NAN, NAN, NAN, 0, 0, 0, 0};
    double level = read_number();
    read_word(at);
    size_t n = numbers(length(), first);
    for (size_t i = 0; i < n; i++) failed[i] = read_number() == 1;
    glyc_status made = glyc_survival(first, failed, n, level, &t, &median, NULL);
    size_t row = 0;
    if (strcmp(at, "-")) {
        while (row < glyc_table_rows(t) && number(t, "time", row) != number_of(at)) row++;
        if (row == glyc_table_rows(t)) unreadable("nothing failed then");
    }
    int ok = 1;
    for (size_t k = length(); k > 0; k--) {
        char name[WORD];
        answer got = {made, NAN};
        read_word(name);
        bool count = !strcmp(name, "at_risk") || !strcmp(name, "failed");
        if (made) ok &= compare(call, name, got);
        else if (count) ok &= compare(call, name, some((double)whole(t, name, row)));
        else if (strcmp(at, "-")) ok &= compare(call, name, some(number(t, name, row)));
        else if (!strcmp(name, "value")) ok &= compare(call, name, some(median.value));
        else if (!strcmp(name, "low")) ok &= compare(call, name, some(median.low));
        else if (!strcmp(name, "high")) ok &= compare(call, name, some(median.high));
        else unreadable(name);
    }
    glyc_table_free(t);
    return ok;
}

static void finish_source(void) {
    if (!source_cases) return; /* nothing in it that C has */
    printf("%-32s %3d cases, %d failed\n", source, source_cases, source_failed);
    all_cases += source_cases;
    failed_cases += source_failed;
    source_cases = source_failed = 0;
}

int main(void) {
    char call[WORD];
    if (glyc_abi_version() != GLYC_ABI_VERSION) return 2;
    while (scanf("%127s", call) == 1) {
        int ok = 0;
        if (!strcmp(call, "source")) {
            finish_source();
            read_word(source);
            continue;
        }
        if (!strcmp(call, "area.total")) ok = check_area(call, 0);
        else if (!strcmp(call, "area.incremental")) ok = check_area(call, 1);
        else if (!strcmp(call, "panel")) ok = check_panel(call);
        else if (!strcmp(call, "agreement.within")) ok = check_within(call);
        else if (!strcmp(call, "clock.offset_min")) ok = check_offset(call);
        else if (!strcmp(call, "panel.sufficiency")) ok = check_sufficiency(call);
        else if (!strcmp(call, "panel.days_needed")) ok = check_days_needed(call);
        else if (!strncmp(call, "survival.", 9)) ok = check_survival(call);
        else if (!strncmp(call, "plan.", 5)) ok = check_repeats(call);
        else if (!strcmp(call, "paired")) ok = check_paired(call);
        else if (!strcmp(call, "agreement.error_grid")) ok = check_grid(call);
        else if (!strcmp(call, "agreement.concordance")) ok = check_concordance(call);
        else if (!strcmp(call, "agreement.summary")) ok = check_pairs(call, 1);
        else if (!strcmp(call, "agreement.limits") || !strcmp(call, "agreement.bland_altman"))
            ok = check_pairs(call, 0);
        else if (!strncmp(call, "agreement.", 10)) ok = check_line(call);
        else unreadable(call);
        source_cases++;
        source_failed += !ok;
    }
    finish_source();
    printf("%d published cases in C, %d failed\n", all_cases, failed_cases);
    if (all_cases == 0) unreadable("there was no case");
    return failed_cases ? 1 : 0;
}
