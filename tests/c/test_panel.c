/* Prints every measure of a trace as "name value", or "name -" where it is missing, so that C,
 * Rust and Python can be compared to the last bit.
 *
 *   test_panel FILE [ZONE]
 *
 * FILE holds one reading a line: UTC milliseconds and glucose in mg/dL. ZONE is an IANA name.
 */
#include "glycemic.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>

static void die(const char *what, glyc_error *error) {
    const char *message = glyc_error_message(error);
    fprintf(stderr, "%s: %s\n", what, message ? message : "failed");
    glyc_error_free(error);
    exit(2);
}

/* Reads both columns into arrays that the caller frees; returns how many lines there were. */
static size_t read_readings(const char *path, int64_t **times, double **glucose) {
    size_t len = 0, room = 0;
    int64_t time;
    double value;
    int got;
    FILE *file = fopen(path, "r");
    if (!file) die(path, NULL);
    *times = NULL;
    *glucose = NULL;
    while ((got = fscanf(file, "%" SCNd64 " %lf", &time, &value)) == 2) {
        if (len == room) {
            room = room ? 2 * room : 1024;
            *times = realloc(*times, room * sizeof **times);
            *glucose = realloc(*glucose, room * sizeof **glucose);
            if (!*times || !*glucose) die("memory", NULL);
        }
        (*times)[len] = time;
        (*glucose)[len++] = value;
    }
    fclose(file);
    if (got != EOF) {
        fprintf(stderr, "%s, line %zu: needs a time and a number\n", path, len + 1);
        exit(2);
    }
    return len;
}

int main(int argc, char **argv) {
    int64_t *times;
    double *glucose;
    glyc_error *error = NULL;
    glyc_clock *clock = NULL;
    glyc_trace *trace = NULL;
    glyc_panel *panel = NULL;

    if (argc != 2 && argc != 3) {
        fprintf(stderr, "usage: test_panel FILE [ZONE]\n");
        return 2;
    }
    if (glyc_abi_version() != GLYC_ABI_VERSION) die("ABI version", NULL);

    size_t len = read_readings(argv[1], &times, &glucose);
    if (argc == 3 && glyc_clock_from_zone(argv[2], &clock, &error)) die(argv[2], error);
    if (glyc_trace_new(times, glucose, len, GLYC_UNIT_MG_DL, clock, &trace, &error))
        die(argv[1], error);
    free(times);
    free(glucose);
    glyc_clock_free(clock);
    if (glyc_panel_new(trace, NULL, 0, &panel, &error)) die("panel", error);

    for (size_t i = 0; i < glyc_measure_count(); i++) {
        uint32_t id = glyc_measure_id_at(i);
        double value;
        glyc_status status = glyc_panel_value(panel, id, &value, &error);
        if (status == GLYC_STATUS_OK) {
            printf("%s %.17g\n", glyc_measure_name(id), value);
        } else if (status == GLYC_STATUS_NOT_ESTIMABLE) {
            printf("%s -\n", glyc_measure_name(id));
            glyc_error_free(error);
        } else {
            die(glyc_measure_name(id), error);
        }
    }
    glyc_panel_free(panel);
    glyc_trace_free(trace);
    return 0;
}
