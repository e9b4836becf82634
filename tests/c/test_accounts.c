/* The accounts of a study.
 *
 *   test_accounts                        tests itself
 *   test_accounts READINGS METER ZONE    prints accounts of one sensor, to be compared with Python
 *
 * READINGS and METER hold lines "time glucose", in mg/dL.
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

enum { PER_DAY = 288, MOST = 100000 };
#define START INT64_C(1741564800000) /* 2025-03-10 00:00 UTC */
#define MINUTE INT64_C(60000)
#define DAY (1440 * MINUTE)

static int64_t times[MOST];
static double glucose[MOST];

/* Readings of 110 for so many days, every 5 minutes. */
static glyc_trace *at_110(int days) {
    glyc_trace *trace = NULL;
    for (int i = 0; i < days * PER_DAY; i++) times[i] = START + i * STEP, glucose[i] = 110;
    size_t n = (size_t)(days * PER_DAY);
    assert(!glyc_trace_new(times, glucose, n, GLYC_UNIT_MG_DL, NULL, &trace, NULL));
    return trace;
}

/* A meter that shows 100 every six hours from 03:00 on, for two days. */
static glyc_meter *at_100(void) {
    int64_t pricked[8];
    double shown[8];
    glyc_meter *meter = NULL;
    for (int i = 0; i < 8; i++) pricked[i] = START + (180 + 360 * i) * MINUTE, shown[i] = 100;
    assert(!glyc_meter_new(pricked, shown, 8, GLYC_UNIT_MG_DL, &meter, NULL));
    return meter;
}

static glyc_table *get(const glyc_accounts *accounts, uint32_t which) {
    glyc_table *t = NULL;
    assert(!glyc_accounts_table(accounts, which, &t, NULL) && t);
    return t;
}

static void three_sensors(void) {
    glyc_study *study = NULL;
    glyc_accounts *accounts = NULL;
    glyc_trace *trace = at_110(2);
    glyc_meter *meter = at_100();
    const int64_t calibrated[] = {START + 190 * MINUTE};
    assert(!glyc_study_new(&study, NULL));
    assert(!glyc_study_add_person(study, "1", meter, NULL));
    assert(!glyc_study_add_person(study, "2", meter, NULL));
    assert(!glyc_study_add_sensor(study, "1", "A", "L1", NULL, START, START + 2 * DAY, "completed", NULL, 2,
                                  trace, NULL, 0, NULL));
    /* Failed after a day; the reading at 03:00 lies ten minutes before a calibration. */
    assert(!glyc_study_add_sensor(study, "2", "B", "L2", "arm", START, START + DAY, "failed", "came off", 2,
                                  trace, calibrated, 1, NULL));
    /* Nothing came: its meter readings are under one reason. */
    assert(!glyc_study_add_sensor(study, "2", "C", NULL, NULL, START + DAY, START + 2 * DAY, "failed", NULL, 2,
                                  NULL, NULL, 0, NULL));
    assert(!glyc_study_require(study, 70, 181, NAN, NAN, 90, NULL));
    assert(!glyc_study_accounts(study, NULL, 0, 0.95, &accounts, NULL));

    glyc_table *t = get(accounts, GLYC_ACCOUNTS_FLOW);
    int64_t had = -1, left = -1, out = 0, calibration = 0, nothing = 0;
    for (size_t i = 0; i < glyc_table_rows(t); i++) {
        if (strcmp(word(t, "unit", i), "meter readings while worn")) continue;
        const char *step = word(t, "step", i);
        if (!strcmp(step, "had")) had = whole(t, "n", i);
        if (!strcmp(step, "left")) left = whole(t, "n", i);
        if (!strcmp(step, "left_out")) out += whole(t, "n", i);
        if (!strcmp(word(t, "reason", i), "calibration")) calibration = whole(t, "n", i);
        if (!strcmp(word(t, "reason", i), "sensor_without_readings")) nothing = whole(t, "n", i);
    }
    assert(had == 16 && calibration == 1 && nothing == 4 && left == 11 && out == 5);
    glyc_table_free(t);

    t = get(accounts, GLYC_ACCOUNTS_SENSORS);
    assert(glyc_table_rows(t) == 3 && whole(t, "pairs", 0) == 8 && whole(t, "pairs", 1) == 3);
    assert(fabs(number(t, "mard_pct", 0) - 10) < 1e-12 && isnan(number(t, "capture_pct", 2)));
    assert(!strcmp(word(t, "cause", 1), "came off") && !strcmp(word(t, "cause", 2), "unknown"));
    assert(!strcmp(word(t, "site", 0), "-") && !strcmp(word(t, "end", 0), "completed"));
    glyc_table_free(t);

    t = get(accounts, GLYC_ACCOUNTS_ESTIMATES);
    /* One of three lasted its two days. */
    assert(!strcmp(word(t, "name", 0), "lasts") && fabs(number(t, "value", 0) - 1 / 3.0) < 1e-12);
    assert(!strcmp(word(t, "reason_code", 1), "no_bursts"));
    glyc_table_free(t);
    t = get(accounts, GLYC_ACCOUNTS_INCIDENCE);
    assert(glyc_table_rows(t) == 2 && !strcmp(word(t, "cause", 0), "came off"));
    assert(fabs(number(t, "incidence", 0) - 1 / 3.0) < 1e-12 && number(t, "time", 0) == 1);
    glyc_table_free(t);
    t = get(accounts, GLYC_ACCOUNTS_SURVIVAL);
    assert(glyc_table_rows(t) == 1 && whole(t, "failed", 0) == 2);
    glyc_table_free(t);
    t = get(accounts, GLYC_ACCOUNTS_SUMMARY);
    /* Only one sensor has the five pairs that it takes. */
    assert(isnan(number(t, "median_mard_pct", 0)) && strcmp(word(t, "reason", 0), "-"));
    assert(number(t, "capture_pct", 0) > 99);
    glyc_table_free(t);
    t = get(accounts, GLYC_ACCOUNTS_BY_LOT);
    assert(glyc_table_rows(t) == 3 && whole(t, "n", 0) == 11 && !strcmp(word(t, "group", 1), "L1"));
    glyc_table_free(t);
    t = get(accounts, GLYC_ACCOUNTS_BY_SITE);
    assert(!strcmp(word(t, "group", 1), "unknown") && whole(t, "n", 2) == 3);
    glyc_table_free(t);
    t = get(accounts, GLYC_ACCOUNTS_BY_PART);
    assert(whole(t, "n", 0) == 11);
    glyc_table_free(t);
    t = get(accounts, GLYC_ACCOUNTS_LEVEL_RATE);
    size_t last = glyc_table_rows(t) - 1;
    assert(number(t, "pct", last) == 100 && !strcmp(word(t, "met", last), "met"));
    glyc_table_free(t);
    t = get(accounts, GLYC_ACCOUNTS_PAIRS);
    assert(glyc_table_rows(t) == 11 && number(t, "measured_mg_dl", 10) == 110);
    assert(!strcmp(word(t, "person", 8), "2") && whole(t, "wear_day", 7) == 2);
    glyc_table_free(t);
    glyc_accounts_free(accounts);
    glyc_study_free(study);
    glyc_meter_free(meter);
    glyc_trace_free(trace);
}

static void what_is_refused(void) {
    glyc_study *study = NULL;
    glyc_accounts *accounts = NULL;
    glyc_table *t = NULL;
    glyc_error *error = NULL;
    glyc_meter *meter = at_100();
    assert(!glyc_study_new(&study, NULL) && !glyc_study_add_person(study, "1", meter, NULL));
    glyc_status s = glyc_study_add_person(study, "1", meter, &error);
    expect(s, GLYC_STATUS_UNKNOWN_CHOICE, error, "unknown_choice", "person");
    s = glyc_study_add_person(study, "2", NULL, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "meter");
#define ADD(person, from, to, end, length, n) \
    glyc_study_add_sensor(study, person, "A", NULL, NULL, from, to, end, NULL, length, NULL, NULL, n, &error)
    s = ADD("2", START, START + DAY, "worn", NAN, 0);
    expect(s, GLYC_STATUS_UNKNOWN_CHOICE, error, "unknown_choice", "person");
    s = ADD("1", START, START, "worn", NAN, 0);
    expect(s, GLYC_STATUS_OUT_OF_RANGE, error, "out_of_range", "ended_ms");
    s = ADD("1", INT64_MIN, START, "worn", NAN, 0);
    expect(s, GLYC_STATUS_OUT_OF_RANGE, error, "out_of_range", "inserted_ms");
    s = ADD("1", START, START + DAY, "lost", NAN, 0);
    expect(s, GLYC_STATUS_UNKNOWN_CHOICE, error, "unknown_choice", "end");
    s = ADD("1", START, START + DAY, NULL, NAN, 0);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "end");
    s = ADD("1", START, START + DAY, "worn", 0, 0);
    expect(s, GLYC_STATUS_OUT_OF_RANGE, error, "out_of_range", "length_days");
    s = ADD("1", START, START + DAY, "worn", NAN, 2);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "calibrated_ms");
    s = glyc_study_require(study, NAN, NAN, NAN, NAN, 101, &error);
    expect(s, GLYC_STATUS_OUT_OF_RANGE, error, "out_of_range", "pct");
    s = glyc_study_accounts(study, NULL, -1, 0.95, &accounts, &error);
    expect(s, GLYC_STATUS_OUT_OF_RANGE, error, "out_of_range", "warm_up_min");
    s = glyc_study_accounts(NULL, NULL, 0, 0.95, &accounts, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "study");
    assert(!accounts);
    /* Nothing failed on the way in: no sensor is an answer, and each table is there. */
    assert(!glyc_study_accounts(study, NULL, 0, 0.95, &accounts, NULL));
    for (uint32_t which = GLYC_ACCOUNTS_FLOW; which <= GLYC_ACCOUNTS_PAIRS; which++) {
        t = get(accounts, which);
        assert(glyc_table_columns(t) > 2);
        if (which == GLYC_ACCOUNTS_ESTIMATES) assert(!strcmp(word(t, "reason_code", 0), "no_sensors"));
        glyc_table_free(t);
    }
    t = NULL;
    s = glyc_accounts_table(accounts, 12, &t, &error);
    expect(s, GLYC_STATUS_UNKNOWN_CHOICE, error, "unknown_choice", "which");
    s = glyc_accounts_table(NULL, 1, &t, &error);
    expect(s, GLYC_STATUS_NULL_ARGUMENT, error, "null_argument", "accounts");
    assert(!t);
    glyc_accounts_free(accounts);
    glyc_accounts_free(NULL);
    glyc_study_free(study);
    glyc_study_free(NULL);
    glyc_meter_free(meter);
}

static size_t load(const char *path) {
    size_t len = 0;
    FILE *file = fopen(path, "r");
    assert(file);
    while (len < MOST && fscanf(file, "%" SCNd64 " %lf", &times[len], &glucose[len]) == 2) len++;
    fclose(file);
    return len;
}

static int print(char **argv) {
    glyc_clock *clock = NULL;
    glyc_trace *trace = NULL;
    glyc_meter *meter = NULL;
    glyc_study *study = NULL;
    glyc_accounts *accounts = NULL;
    size_t len = load(argv[1]);
    assert(!glyc_clock_from_zone(argv[3], &clock, NULL));
    assert(!glyc_trace_new(times, glucose, len, GLYC_UNIT_MG_DL, clock, &trace, NULL));
    int64_t from = times[0], to = times[len - 1];
    len = load(argv[2]);
    assert(!glyc_meter_new(times, glucose, len, GLYC_UNIT_MG_DL, &meter, NULL));
    assert(!glyc_study_new(&study, NULL) && !glyc_study_add_person(study, "1", meter, NULL));
    assert(!glyc_study_add_sensor(study, "1", "A", NULL, NULL, from, to, "completed", NULL, 10, trace, NULL,
                                  0, NULL));
    assert(!glyc_study_accounts(study, NULL, 60, 0.95, &accounts, NULL));
    glyc_table *t = get(accounts, GLYC_ACCOUNTS_SENSORS);
    printf("accounts_sensor %.17g %.17g %.17g\n", number(t, "mard_pct", 0), number(t, "bias_mg_dl", 0),
           number(t, "capture_pct", 0));
    glyc_table_free(t);
    t = get(accounts, GLYC_ACCOUNTS_FLOW);
    printf("accounts_flow");
    for (size_t i = 0; i < glyc_table_rows(t); i++) printf(" %" PRId64, whole(t, "n", i));
    printf("\n");
    glyc_table_free(t);
    glyc_accounts_free(accounts);
    glyc_study_free(study);
    glyc_meter_free(meter);
    glyc_trace_free(trace);
    glyc_clock_free(clock);
    return 0;
}

int main(int argc, char **argv) {
    if (argc == 4) return print(argv);
    three_sensors();
    what_is_refused();
    puts("accounts: all passed");
    return 0;
}
