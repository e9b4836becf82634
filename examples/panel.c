/* The panel of a day of readings, from C.
 *
 *   cc panel.c $(pkg-config --cflags --libs glycemic) && ./a.out
 */
#include <glycemic.h>
#include <stdio.h>

int main(void) {
    /* A reading every 5 min, in mg/dL; a meal at hour 8 lifts it for two hours. */
    int64_t times_ms[288];
    double glucose[288];
    for (int i = 0; i < 288; i++) {
        times_ms[i] = INT64_C(1741564800000) + i * INT64_C(300000); /* 2025-03-10 00:00 UTC */
        glucose[i] = i < 96 || i >= 120 ? 95 : 140;
    }

    if (glyc_abi_version() != GLYC_ABI_VERSION) return 1; /* header and library do not match */
    glyc_error *error = NULL;
    glyc_clock *clock = NULL;
    glyc_trace *trace = NULL;
    glyc_panel *panel = NULL;
    if (glyc_clock_from_zone("Europe/Lisbon", &clock, &error) ||
        glyc_trace_new(times_ms, glucose, 288, GLYC_UNIT_MG_DL, clock, &trace, &error) ||
        glyc_panel_new(trace, NULL, 0, &panel, &error)) {
        fprintf(stderr, "%s\n", glyc_error_message(error));
    } else {
        for (size_t i = 0; i < glyc_measure_count(); i++) {
            uint32_t id = glyc_measure_id_at(i);
            double value;
            if (glyc_panel_value(panel, id, &value, NULL) == GLYC_STATUS_OK)
                printf("%-22s %8.2f %s\n", glyc_measure_name(id), value, glyc_measure_unit(id));
            else /* missing is an answer too, and says why */
                printf("%-22s        - %s\n", glyc_measure_name(id), glyc_panel_reason(panel, id));
        }
    }
    int failed = panel == NULL;
    glyc_error_free(error); /* freeing NULL does nothing */
    glyc_panel_free(panel);
    glyc_trace_free(trace);
    glyc_clock_free(clock);
    return failed;
}
