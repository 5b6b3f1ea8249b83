"""One nominal run of the heat-pump board as a C loop, compiled here when it is asked for.

Law of this module: the same tally as ``nominal_plain``. Where there is no C compiler, ``compiled`` gives None.
"""

from __future__ import annotations

import ctypes
import shutil
import subprocess
import tempfile
from collections.abc import Callable
from pathlib import Path

import nominal_edges as figures
import numpy as np

Columns = tuple[np.ndarray, np.ndarray, np.ndarray]

SOURCE = r"""
#include <stdint.h>
#include <string.h>
typedef int64_t t;
#define MIN(a, b) ((a) < (b) ? (a) : (b))
typedef struct {
    int powered, cc, lp_locked, hp_waits, hp_locked, defrost, adding, levels[CC], shown[5];
    t ready, bypass, defrost_end, lp_open, trips[3], cold_run, since, target, commands[5];
    int tripped;
} board;

static void show(board *b, int cc, int rv, int defrost, int alarm) {
    int now[5] = {cc, cc && !defrost, rv, defrost, alarm};
    for (int i = 0; i < 5; i++)
        if (now[i] != b->shown[i]) { b->shown[i] = now[i]; b->commands[i]++; }
}

static void off(board *b) {
    b->powered = b->cc = b->lp_locked = b->hp_waits = b->hp_locked = b->defrost = b->adding = b->tripped = 0;
    b->ready = b->bypass = b->defrost_end = b->lp_open = NEVER;
    b->cold_run = b->since = 0;
    show(b, 0, 0, 0, 0);
}

static t settle(board *b, t now) {
    int y = b->levels[Y], o = b->levels[COOLS], lps = b->levels[LPS], hps = b->levels[HPS];
    int cold = b->levels[COLD], warm = b->levels[WARM], hard;
    for (;;) {
        int before = b->cc | b->lp_locked << 1 | b->hp_waits << 2 | b->hp_locked << 3 | b->defrost << 4;
        if (!lps && b->cc && !b->defrost && now >= b->bypass) { if (b->lp_open == NEVER) b->lp_open = now; }
        else b->lp_open = NEVER;
        int lp_trip = b->lp_open != NEVER && now >= b->lp_open + LP_TRIP;
        if (lp_trip && y) b->lp_locked = 1;
        if (!y) { b->hp_waits = 0; b->tripped = 0; }
        else if (b->cc && !hps && !lp_trip && !b->hp_waits) {
            b->hp_waits = 1;
            int kept = 0;
            for (int i = 0; i < b->tripped; i++) if (now - b->trips[i] < HOUR) b->trips[kept++] = b->trips[i];
            if (kept == 3) { b->trips[0] = b->trips[1]; b->trips[1] = b->trips[2]; kept = 2; }
            b->trips[kept++] = now;
            b->tripped = kept;
            if (kept >= 3) b->hp_locked = 1;
        }
        hard = b->lp_locked || b->hp_locked;
        if (b->cc && (!y || !hps || hard)) { b->cc = 0; b->ready = now + RESTART; }
        else if (!b->cc && y && hps && !hard && now >= b->ready) {
            b->cc = 1; b->hp_waits = 0; b->bypass = now + BYPASS;
        }
        if (b->adding) b->cold_run += now - b->since;
        b->adding = b->cc && !b->defrost && !o && cold && !warm;
        b->since = now;
        if (b->adding && b->cold_run >= b->target) { b->defrost = 1; b->adding = 0; b->defrost_end = now + DEFROST; }
        else if (b->defrost && ((warm && !cold) || o || !b->cc || now >= b->defrost_end)) {
            b->defrost = 0; b->cold_run = 0;
        }
        if (before == (b->cc | b->lp_locked << 1 | b->hp_waits << 2 | b->hp_locked << 3 | b->defrost << 4)) break;
    }
    show(b, b->cc, (o || b->defrost) && !hard, b->defrost, hard);
    t due = NEVER;
    if (!b->cc && now < b->ready) due = b->ready;
    if (b->cc && now < b->bypass) due = b->bypass;
    if (b->lp_open != NEVER && now < b->lp_open + LP_TRIP) due = MIN(due, b->lp_open + LP_TRIP);
    if (b->defrost) due = MIN(due, b->defrost_end);
    if (b->adding) due = MIN(due, now + b->target - b->cold_run);
    return due;
}

void nominal_run(t count, const t *times, const t *signals, const t *values, t *tally) {
    board b;
    memset(&b, 0, sizeof b);
    off(&b);
    t raw[CC], settles[CC], due = NEVER, timing = NEVER, lamp_since = 0, seen = 0, quick = 0, slow = 0, groups[16];
    const t intervals[4] = INTERVALS;
    int flashes = 0;
    memset(raw, 0, sizeof raw);
    memset(groups, 0, sizeof groups);
    for (int i = 0; i < CC; i++) settles[i] = NEVER;
    for (t n = 0; n < count; n++) {
        t time = times[n], signal = signals[n], value = values[n];
        while (time >= due) {
            t now = due;
            for (int i = 0; i < CC; i++)
                if (settles[i] <= now) { settles[i] = NEVER; b.levels[i] = (int)raw[i]; }
            timing = b.powered ? settle(&b, now) : NEVER;
            due = timing;
            for (int i = 0; i < CC; i++) due = MIN(due, settles[i]);
        }
        if (signal == LED) {
            t length = time - lamp_since;
            lamp_since = time;
            if (value) { if (length > PAUSE) { groups[MIN(flashes, 15)]++; flashes = 0; } }
            else if (length <= QUICK) quick++;
            else if (length > SLOW) slow++;
            else flashes++;
        } else if (signal >= CC) seen++;
        else if (signal != POWER) {
            raw[signal] = value;
            if (!b.powered) continue;
            settles[signal] = b.levels[signal] == value ? NEVER : time + TAKES_IN;
            due = timing;
            for (int i = 0; i < CC; i++) due = MIN(due, settles[i]);
        } else {
            for (int i = 0; i < CC; i++) settles[i] = NEVER;
            timing = NEVER;
            if (value && !b.powered) {
                for (int i = 0; i < CC; i++) b.levels[i] = (int)raw[i];
                b.powered = 1;
                b.ready = time + POWER_UP;
                b.target = intervals[raw[J0] + 2 * raw[J1]];
                timing = settle(&b, time);
            } else if (!value) off(&b);
            due = timing;
        }
    }
    for (int i = 0; i < 5; i++) tally[i] = b.commands[i];
    tally[5] = seen; tally[6] = quick; tally[7] = slow;
    for (int i = 0; i < 7; i++) tally[8 + i] = groups[1 + i];
}
"""


def _definitions() -> str:
    rows = [f"#define {name} {value}" for name, value in vars(figures).items() if name.isupper() and type(value) is int]
    rows.append("#define INTERVALS {" + ", ".join(map(str, figures.INTERVALS)) + "}")
    return "\n".join(rows)


def compiled() -> Callable[[Columns], dict[str, int]] | None:
    """Compile the loop; None where there is no C compiler."""
    compiler = shutil.which("gcc") or shutil.which("cc")
    if compiler is None:
        return None
    with tempfile.TemporaryDirectory() as folder:
        source, library = Path(folder) / "nominal.c", Path(folder) / "nominal.so"
        source.write_text(_definitions() + SOURCE)
        subprocess.run([compiler, "-O2", "-shared", "-fPIC", "-o", str(library), str(source)], check=True)
        run = ctypes.CDLL(str(library)).nominal_run
    column = np.ctypeslib.ndpointer(np.int64, flags="C_CONTIGUOUS")
    run.argtypes = [ctypes.c_int64, column, column, column, column]
    run.restype = None

    def nominal_run(columns: Columns) -> dict[str, int]:
        tally = np.zeros(len(figures.TALLY), dtype=np.int64)
        run(len(columns[0]), *columns, tally)
        return dict(zip(figures.TALLY, tally.tolist(), strict=True))

    return nominal_run
