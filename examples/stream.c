/* A program that takes readings as they come and shows time in range, from C. What it knows fits
 * in some kilobytes however long it runs, and is kept as bytes from one run to the next.
 *
 *   cc stream.c $(pkg-config --cflags --libs glycemic) && ./a.out
 */
#include <glycemic.h>
#include <stdio.h>
#include <stdlib.h>

static void show(const char *when, const glyc_stream *stream) {
    const uint32_t shown[] = {GLYC_MEASURE_IN_RANGE_PCT, GLYC_MEASURE_BELOW_70_PCT,
                              GLYC_MEASURE_ABOVE_180_PCT, GLYC_MEASURE_MODD_MG_DL};
    printf("%s, %llu readings\n", when, (unsigned long long)glyc_stream_n(stream));
    for (size_t i = 0; i < sizeof shown / sizeof *shown; i++) {
        double value;
        if (glyc_stream_value(stream, shown[i], &value, NULL) == GLYC_STATUS_OK)
            printf("  %-16s %6.1f %s\n", glyc_measure_name(shown[i]), value,
                   glyc_measure_unit(shown[i]));
        else /* missing is an answer too, and says why */
            printf("  %-16s      - %s\n", glyc_measure_name(shown[i]),
                   glyc_stream_reason(stream, shown[i]));
    }
}

/* A day of readings every 5 min; three meals lift glucose for two hours each. */
static glyc_status a_day(glyc_stream *stream, int64_t midnight_ms, double meal,
                         glyc_error **error) {
    for (int i = 0; i < 288; i++) {
        int after_meal = (96 <= i && i < 120) || (150 <= i && i < 174) || (228 <= i && i < 252);
        double glucose = after_meal ? 100 + meal : 100;
        glyc_status status =
            glyc_stream_push(stream, midnight_ms + i * INT64_C(300000), glucose, NULL, error);
        if (status != GLYC_STATUS_OK) return status;
    }
    return GLYC_STATUS_OK;
}

/* Bytes of the stream, which a program would write to a file; the caller frees them. */
static uint8_t *keep(const glyc_stream *stream, size_t *size, glyc_error **error) {
    if (glyc_stream_save(stream, NULL, 0, size, error) != GLYC_STATUS_OK) return NULL;
    uint8_t *bytes = malloc(*size);
    if (bytes && glyc_stream_save(stream, bytes, *size, size, error) != GLYC_STATUS_OK) {
        free(bytes);
        return NULL;
    }
    return bytes;
}

int main(void) {
    const int64_t monday = INT64_C(1741564800000), day = INT64_C(86400000); /* 2025-03-10 UTC */
    glyc_error *error = NULL;
    glyc_stream *stream = NULL, *next_run = NULL;
    uint8_t *bytes = NULL;
    size_t size = 0;
    uint32_t pushed = 0;
    int done = 0;

    if (glyc_abi_version() != GLYC_ABI_VERSION) return 1; /* header and library do not match */
    if (glyc_stream_new(GLYC_UNIT_MG_DL, 5, NULL, &stream, &error)) goto end;
    if (a_day(stream, monday, 70, &error)) goto end;
    show("Monday", stream);

    if (!(bytes = keep(stream, &size, &error))) goto end;
    if (glyc_stream_load(bytes, size, &next_run, &error)) goto end;
    if (a_day(next_run, monday + day, 95, &error)) goto end;
    show("Monday and Tuesday", next_run);

    /* A reading that comes two hours late is put in its place; the same instant twice is not. */
    const int64_t late = monday + 2 * day - INT64_C(7350000);
    if (glyc_stream_push(next_run, late, 185, &pushed, &error)) goto end;
    printf("a late reading was %s\n", pushed == GLYC_PUSHED_INSERTED ? "inserted" : "added");
    if (glyc_stream_push(next_run, late, 185, NULL, &error) == GLYC_STATUS_UNORDERED_TIME) {
        printf("again: %s\n", glyc_error_code(error));
        glyc_error_free(error);
        error = NULL;
    }
    show("With it", next_run);
    done = 1;
end:
    if (!done) fprintf(stderr, "%s\n", error ? glyc_error_message(error) : "no memory");
    free(bytes);
    glyc_error_free(error); /* freeing NULL does nothing */
    glyc_stream_free(stream);
    glyc_stream_free(next_run);
    return !done;
}
