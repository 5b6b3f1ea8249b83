/* The extract fan on the bench: what its board does around the control, and nothing more. */
#include <string.h>

#include "boardgauge_firmware.h"
#include "fan.h"

#define TICK (FAN_TICK_MS * 1000u)

static fan_inputs in;
static fan_outputs out;
static bool supply;
static uint64_t ticked; /* microseconds up to the last tick */

int boardgauge_start(void)
{
    memset(&in, 0, sizeof in);
    memset(&out, 0, sizeof out);
    in.winding_closed = true;
    in.overrun = 1;
    supply = false;
    ticked = 0;
    return BOARDGAUGE_FIRMWARE;
}

int boardgauge_input(const char *name, double level)
{
    if (strcmp(name, "power") == 0) {
        if (level > 0.5 && !supply)
            fan_power_up();
        if (level < 0.5)
            memset(&out, 0, sizeof out);
        supply = level > 0.5;
    } else if (strcmp(name, "light") == 0) {
        in.light = level > 0.5;
    } else if (strcmp(name, "winding") == 0) {
        in.winding_closed = level > 0.5;
    } else if (strcmp(name, "damp") == 0) {
        in.damp = (int16_t)(level * 10.0 + 0.5);
    } else if (strcmp(name, "overrun_time") == 0) {
        in.overrun = (uint8_t)level;
    } else {
        return -1;
    }
    return 0;
}

uint64_t boardgauge_run(uint64_t until)
{
    while (ticked + TICK <= until) {
        const fan_outputs before = out;
        ticked += TICK;
        if (!supply)
            continue;
        fan_tick(&in, &out);
        if (before.motor != out.motor || before.lamp != out.lamp)
            return ticked;
    }
    return until;
}

int boardgauge_output(const char *name)
{
    if (strcmp(name, "fan") == 0)
        return out.motor;
    if (strcmp(name, "lamp") == 0)
        return out.lamp;
    return -1;
}
