/* Runs the published cases that published.py turned into lines, and prints how many per source.
 * Exits with 1 if a number is off, with 2 if a line can't be read.
 */
#include "glycemic.h"

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

static void word(char out[WORD]) {
    if (scanf("%127s", out) != 1) unreadable("the line ends too early");
}

static double number_of(const char *text) {
    char *end;
    errno = 0;
    double number = strtod(text, &end);
    if (end == text || *end || errno) unreadable(text);
    return number;
}

static double number(void) {
    char text[WORD];
    word(text);
    return number_of(text);
}

static size_t length(void) {
    double n = number();
    if (!(n >= 0 && n <= MOST) || n != floor(n)) unreadable("a length from 0 to 4096 is needed");
    return (size_t)n;
}

static size_t numbers(size_t n, double *out) {
    for (size_t i = 0; i < n; i++) out[i] = number();
    return n;
}

static void instants(size_t n, int64_t *out) {
    for (size_t i = 0; i < n; i++) out[i] = (int64_t)number(); /* below 2^53, so exact */
}

/* An answer: a number, or a status that says why there is none. */
typedef struct answer {
    glyc_status status;
    double value;
} answer;

/* Compares one answer with the next expected number; says what is off. */
static int compare(const char *call, const char *name, answer got) {
    char text[WORD];
    word(text);
    double tolerance = number();
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
        rule = (uint32_t)number();
        word(baseline_text);
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
    word(name);
    return compare(call, name, got);
}

static int check_panel(const char *call) {
    static int64_t times[MOST];
    static double glucose[MOST];
    glyc_trace *trace = NULL;
    glyc_panel *panel = NULL;
    glyc_clock *clock = NULL;
    char zone[WORD];
    uint32_t unit = (uint32_t)number();
    word(zone);
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
        word(name);
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
        word(name);
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
    word(zone);
    size_t n = length();
    instants(n, at);
    glyc_status made = glyc_clock_from_zone(zone, &clock, NULL);
    if (length() != n) unreadable("one offset for each instant is needed");
    int ok = 1;
    for (size_t i = 0; i < n; i++) {
        int32_t offset = 0;
        answer got = {made, NAN};
        word(name);
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
    const int64_t period[] = {start, start + (int64_t)(number() * 86400000.0)};
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
        word(name);
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
    double sd = number(), half_width = number(), level = number();
    size_t days = 0;
    answer got = {glyc_days_needed(sd, half_width, level, &days, NULL), NAN};
    got.value = (double)days;
    if (length() != 1) unreadable("there is one number of days");
    word(name);
    return compare(call, name, got);
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
            word(source);
            continue;
        }
        if (!strcmp(call, "area.total")) ok = check_area(call, 0);
        else if (!strcmp(call, "area.incremental")) ok = check_area(call, 1);
        else if (!strcmp(call, "panel")) ok = check_panel(call);
        else if (!strcmp(call, "agreement.within")) ok = check_within(call);
        else if (!strcmp(call, "clock.offset_min")) ok = check_offset(call);
        else if (!strcmp(call, "panel.sufficiency")) ok = check_sufficiency(call);
        else if (!strcmp(call, "panel.days_needed")) ok = check_days_needed(call);
        else unreadable(call);
        source_cases++;
        source_failed += !ok;
    }
    finish_source();
    printf("%d published cases in C, %d failed\n", all_cases, failed_cases);
    if (all_cases == 0) unreadable("there was no case");
    return failed_cases ? 1 : 0;
}
