/* Control of a laundry extract fan (invented). Clauses are those of its installation leaflet. */
#include "fan.h"

/* Times are kept in ticks. */
#ifndef FAN_TIME
#define FAN_TIME uint32_t
#endif
typedef FAN_TIME fan_time;

#define MS(ms) ((uint32_t)(ms) / FAN_TICK_MS)
#define SECONDS(s) MS((s) * 1000ul)

#define STEADY_LIGHT SECONDS(45)            /* clause 3: nobody wants a fan for stepping in and out */
#define REST SECONDS(12)                    /* clause 5: a motor that coasts is not driven again */
#define COOLED_DOWN SECONDS(5 * 60)         /* clause 4: closed so long, the winding has cooled down */
#define TOO_OFTEN SECONDS(6 * 60 * 60ul)    /* clause 4: the third time within this is the last */
#define OVERHEATS 3

static const uint32_t overrun_times[] = {SECONDS(2 * 60), SECONDS(6 * 60), SECONDS(15 * 60)};

/* Inputs as they count: a contact after 50 ms, the air after half a second. */
typedef struct {
    bool level;
    uint8_t differs;
} debounced;

static debounced light, winding, damp;
static bool first;

static uint32_t now;              /* ticks since power-up; goes round after half a year */
static fan_time lit, overrun, rest, closed;
static bool occupied, cooling_down, given_up, motor;
static uint32_t overheated[OVERHEATS]; /* when, the latest last */
static uint8_t overheats;

static uint8_t lamp_shows;
static uint16_t lamp_phase;

void fan_power_up(void)
{
    first = true;
    now = 0;
    lit = overrun = closed = 0;
    rest = REST;
    occupied = cooling_down = given_up = motor = false;
    overheats = 0;
    lamp_shows = 0;
    lamp_phase = 0;
}

static void debounce(debounced *input, bool level, uint8_t ticks)
{
    if (first) {
        input->level = level;
        input->differs = 0;
    } else if (level == input->level) {
        input->differs = 0;
    } else if (++input->differs >= ticks) {
        input->level = level;
        input->differs = 0;
    }
}

static void look(const fan_inputs *in)
{
    const bool damp_now = damp.level && !first ? in->damp >= 640 : in->damp > 720; /* clause 2 */
    debounce(&light, in->light, MS(50));
    debounce(&winding, in->winding_closed, MS(50));
    debounce(&damp, damp_now, MS(500));
    first = false;
}

/* Clause 3: a room counts as occupied once its light was on for a while; the fan runs on after it. */
static void occupation(uint8_t position)
{
    if (overrun > 0)
        overrun--;
    if (light.level) {
        if (lit < STEADY_LIGHT && ++lit == STEADY_LIGHT)
            occupied = true;
    } else {
        lit = 0;
        if (occupied)
            overrun = (fan_time)overrun_times[position > 2 ? 1 : position];
        occupied = false;
    }
}

/* Clause 4: a hot winding stops the motor until it has been cool for a while, and for good when it happens too often. */
static void overheating(void)
{
    uint8_t i;
    if (winding.level) {
        if (closed < COOLED_DOWN)
            closed++;
        if (closed >= COOLED_DOWN)
            cooling_down = false;
        return;
    }
    closed = 0;
    if (cooling_down)
        return;
    cooling_down = true;
    if (overheats == OVERHEATS)
        for (i = 1; i < OVERHEATS; i++)
            overheated[i - 1] = overheated[i];
    else
        overheats++;
    overheated[overheats - 1] = now;
    if (overheats == OVERHEATS && now - overheated[0] < TOO_OFTEN)
        given_up = true;
}

/* Clause 5: between two runs the motor rests. */
static void drive(void)
{
    const bool wanted = occupied || overrun > 0 || damp.level;
    if (rest > 0)
        rest--;
    if (!wanted || cooling_down || given_up) {
        if (motor)
            rest = REST;
        motor = false;
    } else if (rest == 0) {
        motor = true;
    }
}

/* Clause 6: groups of flashes, 0.3 s lit and 0.5 s dark, with 2 s between the groups. */
static bool lamp(void)
{
    const uint8_t shows = given_up ? 4 : cooling_down ? 2 : motor ? 1 : 0;
    const uint16_t flashes = (uint16_t)(shows * MS(800) - MS(500));
    if (shows != lamp_shows)
        lamp_phase = 0;
    else if (++lamp_phase >= flashes + MS(2000))
        lamp_phase = 0;
    lamp_shows = shows;
    if (shows <= 1)
        return shows == 1;
    return lamp_phase < flashes && lamp_phase % MS(800) < MS(300);
}

void fan_tick(const fan_inputs *in, fan_outputs *out)
{
    now++;
    look(in);
    occupation(in->overrun);
    overheating();
    drive();
    out->motor = motor;
    out->lamp = lamp();
}
