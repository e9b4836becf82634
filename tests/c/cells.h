/* Items of a table by column and row. */
#ifndef CELLS_H
#define CELLS_H

#include "glycemic.h"

#include <assert.h>
#include <math.h>

/* NaN where it is missing. */
static inline double number(const glyc_table *table, const char *column, size_t row) {
    const double *values = NULL;
    const bool *valid = NULL;
    size_t len = 0;
    assert(!glyc_table_column_f64(table, column, &values, &valid, &len, NULL));
    assert(row < len);
    return valid[row] ? values[row] : NAN;
}

static inline int64_t whole(const glyc_table *table, const char *column, size_t row) {
    const int64_t *values = NULL;
    const bool *valid = NULL;
    size_t len = 0;
    assert(!glyc_table_column_i64(table, column, &values, &valid, &len, NULL));
    assert(row < len && valid[row]);
    return values[row];
}

/* "-" where it is missing. */
static inline const char *word(const glyc_table *table, const char *column, size_t row) {
    const char *const *values = NULL;
    const bool *valid = NULL;
    size_t len = 0;
    assert(!glyc_table_column_text(table, column, &values, &valid, &len, NULL));
    assert(row < len);
    return valid[row] ? values[row] : "-";
}

#endif
