#!/bin/sh
# Builds the C library and its tests, runs them, and looks for leaks and stray symbols.
#
#   PROFILE=dev|release    which cargo profile (default: release)
#   REQUIRE_VALGRIND=1     fail where valgrind is not installed
#   CC, CXX, PYTHON        the tools (default: cc, c++, python3)
set -eu

here=$(cd "$(dirname "$0")" && pwd)
root=$(cd "$here/../.." && pwd)
profile=${PROFILE:-release}
target=${CARGO_TARGET_DIR:-$root/target}
case $profile in dev) folder=debug ;; *) folder=$profile ;; esac
version=$(sed -n '/^\[workspace.package\]/,/^\[/s/^version = "\(.*\)"/\1/p' "$root/Cargo.toml")
soname=libglycemic.so.${version%.*}
include=$root/glycemic-ffi/include
out=$target/c-tests
mkdir -p "$out"
cd "$root"

flags="-std=c11 -g -O1 -Wall -Wextra -Werror -Wpedantic -I$include"
compile() { # library folder, name, source, further flags
    library=$1 name=$2 source=$3
    shift 3
    # shellcheck disable=SC2086
    ${CC:-cc} $flags "$@" "$source" -o "$out/$name" -L"$library" -lglycemic -lm "-Wl,-rpath,$library"
}
under=
if command -v valgrind >/dev/null 2>&1; then
    under="valgrind --quiet --leak-check=full --show-leak-kinds=all --errors-for-leak-kinds=all --error-exitcode=9"
    under="$under --suppressions=$here/valgrind.supp"
elif [ "${REQUIRE_VALGRIND:-0}" = 1 ]; then
    echo "valgrind is required and not installed" >&2
    exit 1
else
    echo "valgrind is not installed: no leak check"
fi

# Where the run-time linker finds the library by its SONAME.
install_library() { # from, to
    mkdir -p "$2"
    cp "$1/libglycemic.so" "$2/$soname"
    ln -sf "$soname" "$2/libglycemic.so"
}

echo "== build ($profile)"
# The check for panics first, so that the library left behind is the one without it.
cargo build --quiet -p glycemic-ffi --profile "$profile" --features panic-check
install_library "$target/$folder" "$out/panic"
cargo build --quiet -p glycemic-ffi --profile "$profile"
install_library "$target/$folder" "$out/lib"

echo "== bytes there and back, in Rust"
cargo test --quiet -p glycemic-ffi

echo "== symbols and SONAME"
stray=$(nm -D --defined-only "$out/lib/libglycemic.so" | awk '{print $3}' | grep -v '^glyc_' || true)
if [ -n "$stray" ]; then
    echo "exported without glyc_: $stray" >&2
    exit 1
fi
# Every function of the header is in the library, and no other.
sed -n 's/^[a-z].*[ *]\(glyc_[a-z0-9_]*\)(.*/\1/p' "$include/glycemic.h" | sort -u >"$out/declared"
nm -D --defined-only "$out/lib/libglycemic.so" | awk '{print $3}' | sort -u >"$out/exported"
diff "$out/declared" "$out/exported" || { echo "header (<) and library (>) differ" >&2; exit 1; }
echo "$(wc -l <"$out/exported") functions, declared and exported alike, each glyc_"
readelf -d "$out/lib/libglycemic.so" | grep -qF "[$soname]" || {
    echo "the SONAME is not $soname" >&2
    exit 1
}

echo "== header as C99, C11, C17 and C++"
echo '#include "glycemic.h"' >"$out/only.c"
for std in c99 c11 c17; do
    ${CC:-cc} -std=$std -Wall -Wextra -Werror -Wpedantic -I"$include" -fsyntax-only "$out/only.c"
done
if command -v "${CXX:-c++}" >/dev/null 2>&1; then
    cp "$out/only.c" "$out/only.cpp"
    for std in c++11 c++17 c++20; do
        "${CXX:-c++}" -std=$std -Wall -Wextra -Werror -Wpedantic -I"$include" -fsyntax-only "$out/only.cpp"
    done
fi

echo "== borders"
compile "$out/lib" test_borders "$here/test_borders.c" "-DWANTED_VERSION=\"$version\""
$under "$out/test_borders"
compile "$out/panic" test_panic "$here/test_borders.c" "-DWANTED_VERSION=\"$version\"" -DPANIC_CHECK
# The report of the planted panic goes to stderr; a backtrace would keep a cache of symbols.
RUST_BACKTRACE=0 $under "$out/test_panic" 2>"$out/panic.txt" || {
    cat "$out/panic.txt" >&2
    exit 1
}

echo "== histograms and streams, tables"
compile "$out/lib" test_accumulators "$here/test_accumulators.c"
$under "$out/test_accumulators"
compile "$out/lib" test_tables "$here/test_tables.c"
$under "$out/test_tables"

echo "== agreement, pairs and lag"
compile "$out/lib" test_pairs "$here/test_pairs.c"
$under "$out/test_pairs"

echo "== meals and tolerance"
compile "$out/lib" test_meals "$here/test_meals.c"
$under "$out/test_meals"

echo "== sensor, survival"
compile "$out/lib" test_sensor "$here/test_sensor.c"
$under "$out/test_sensor"

echo "== accounts"
compile "$out/lib" test_accounts "$here/test_accounts.c"
$under "$out/test_accounts"

echo "== contrasts and planning"
compile "$out/lib" test_contrast "$here/test_contrast.c"
$under "$out/test_contrast"

echo "== panel"
awk 'BEGIN { for (i = 0; i < 4032; i++)
    printf "%.0f %d\n", 1741564800000 + i * 300000, 110 + (i * 7919) % 83 - (i % 288) / 6 }' >"$out/readings.txt"
compile "$out/lib" test_panel "$here/test_panel.c"
$under "$out/test_panel" "$out/readings.txt" >"$out/panel.txt"
$under "$out/test_panel" "$out/readings.txt" Europe/Lisbon >"$out/panel_lisbon.txt"
grep -q '^n 4032$' "$out/panel.txt" && grep -q '^fasting_mg_dl -$' "$out/panel.txt"
grep -q '^fasting_mg_dl [0-9]' "$out/panel_lisbon.txt"
echo "$(wc -l <"$out/panel.txt") measures printed"

echo "== published cases"
compile "$out/lib" test_cases "$here/test_cases.c"
"${PYTHON:-python3}" "$here/published.py" >"$out/cases.txt"
$under "$out/test_cases" <"$out/cases.txt"

echo "== examples and static library"
if command -v pkg-config >/dev/null 2>&1; then
    sed -e "s|@prefix@|$out|; s|@libdir@|$out/lib|; s|@includedir@|$include|; s|@version@|$version|" \
        "$root/glycemic-ffi/glycemic.pc.in" >"$out/glycemic.pc"
fi
for each in panel stream; do
    program=$root/examples/$each.c
    compile "$out/lib" "example_$each" "$program"
    $under "$out/example_$each" >"$out/example_$each.txt"
    # shellcheck disable=SC2086
    ${CC:-cc} $flags "$program" -o "$out/example_static" "$target/$folder/libglycemic.a" -lpthread -ldl -lm
    "$out/example_static" | cmp - "$out/example_$each.txt"
    if [ -e "$out/glycemic.pc" ]; then
        # shellcheck disable=SC2046
        ${CC:-cc} "$program" -o "$out/example_pc" \
            $(PKG_CONFIG_PATH=$out pkg-config --cflags --libs glycemic)
        LD_LIBRARY_PATH=$out/lib "$out/example_pc" | cmp - "$out/example_$each.txt"
    fi
    echo "examples/$each.c: shared, static and pkg-config print the same"
done
echo "C: all passed"
