/* What a firmware offers to be tried on the bench of Boardgauge, as a shared library: four functions.
 *
 * Compile the firmware for this computer together with a small file that has these four, as a shared library
 * (cc -shared -fPIC ...), and name it in the rig file of a rig of kind "library". Time is virtual: nothing waits, so an
 * hour of the board takes as long as its ticks take to work out. Nothing is driven but this program.
 *
 * The library is loaded in a process of its own. It may keep its state in static variables; boardgauge_start begins
 * anew. The four are called one after another, never at once.
 */
#ifndef BOARDGAUGE_FIRMWARE_H
#define BOARDGAUGE_FIRMWARE_H

#include <stdint.h>

/* The version of this interface, which boardgauge_start gives. */
#define BOARDGAUGE_FIRMWARE 1

#ifdef _WIN32
#define BOARDGAUGE_CALL __declspec(dllexport)
#elif defined(__GNUC__)
#define BOARDGAUGE_CALL __attribute__((visibility("default")))
#else
#define BOARDGAUGE_CALL
#endif

#ifdef __cplusplus
extern "C" {
#endif

/* Begin anew, at time 0: a board that was never switched on, without the supply. Gives BOARDGAUGE_FIRMWARE. */
BOARDGAUGE_CALL int boardgauge_start(void);

/* From now on an input stands at a level. The name is that of the spec, or "power" for the supply.
 *
 * The level is 1 for on, closed, fitted and pressed, and 0 for off, open and released. A sensor's is its value in the
 * unit of the spec. For a setting that a person chooses it is the number of its position, the first being 0.
 *
 * The supply goes off at once: whatever the firmware drives is off from that moment.
 * Gives 0; -1 if there is nothing of that name. */
BOARDGAUGE_CALL int boardgauge_input(const char *name, double level);

/* Go on to a time, in microseconds since the start, or to the first moment at which any output has changed.
 * Gives the moment that was reached: that of the change, else the time it was told. It gets on: called again, with no
 * input told in between, it does not stop at the same moment a second time. What the inputs were told before
 * counts from where the last call ended; a firmware with a tick looks at them at its next tick. */
BOARDGAUGE_CALL uint64_t boardgauge_run(uint64_t until);

/* How an output or a lamp stands: 1 for the coil on or the lamp lit, 0 for off or dark; -1 if there is none of that
 * name. */
BOARDGAUGE_CALL int boardgauge_output(const char *name);

#ifdef __cplusplus
}
#endif

#endif
