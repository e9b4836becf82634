/* What the tests of the borders share. */
#ifndef EXPECT_H
#define EXPECT_H

#include "glycemic.h"

#include <assert.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define T0 INT64_C(1741000000000) /* 2025-03-03 11:06:40 UTC */
#define STEP INT64_C(300000)
#define UNTOUCHED (-12345.5)

/* The error that came with a status has its code and names the argument; frees it. */
static void expect(glyc_status got, glyc_status wanted, glyc_error *error, const char *code,
                   const char *argument) {
    if (got != wanted || !error || strcmp(glyc_error_code(error), code)) {
        fprintf(stderr, "wanted %d %s, got %d %s\n", (int)wanted, code, (int)got,
                error ? glyc_error_code(error) : "(no error)");
        abort();
    }
    assert(glyc_error_status(error) == wanted);
    assert(strlen(glyc_error_message(error)) > 0);
    if (argument) {
        assert(glyc_error_argument(error) && !strcmp(glyc_error_argument(error), argument));
    } else {
        assert(!glyc_error_argument(error));
    }
    glyc_error_free(error);
}

#endif
