/* Control of a laundry extract fan. The fan, its board and every time of it are invented.
 *
 * Called every 5 ms, from the main loop or the timer's interrupt; it waits for nothing.
 */
#ifndef FAN_H
#define FAN_H

#include <stdbool.h>
#include <stdint.h>

#define FAN_TICK_MS 5

typedef struct {
    bool light;            /* light of the room is on */
    bool winding_closed;   /* winding thermostat of the motor is closed: not too hot */
    int16_t damp;          /* relative humidity, tenths of % */
    uint8_t overrun;       /* turn switch OVERRUN: 0 short, 1 medium, 2 long */
} fan_inputs;

typedef struct {
    bool motor;
    bool lamp;
} fan_outputs;

void fan_power_up(void);
void fan_tick(const fan_inputs *in, fan_outputs *out);

#endif
