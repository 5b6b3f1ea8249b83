"""A fixture that speaks the line protocol: two relays and one input, to be put on hardware of your own."""

import os
import select
import time

RELAYS = {"K1": 0, "K2": 0}
WATCHDOG = 0.5  # seconds


def drive(name, level):
    RELAYS[name] = level  # your hardware: switch the relay


def look():
    return RELAYS["K1"]  # your hardware: read the input


def make_safe():
    for name in RELAYS:
        drive(name, 0)


def answer(words):
    global began, seen, fallen
    now = int((time.monotonic() - began) * 1e6)
    if not words:
        return []
    if words == ["hello", "1"]:
        watchdog = f"watchdog {int(WATCHDOG * 1e6)}"
        return ["fixture example", "drives K1", "drives K2", "sees D1", "time real", "sampled", watchdog, "ok 1"]
    if words == ["start"]:
        make_safe()
        began, seen, fallen = time.monotonic(), look(), False
        return [f"at 0 D1 {seen}", "ok 0"]
    if words == ["safe"] or words == ["bye"]:
        make_safe()
        return ["safe"]
    if fallen:
        return ["error watchdog nothing was heard"]
    if words[0] == "set":
        pairs = [word.split("=") for word in words[1:]]
        if any(name not in RELAYS or level not in ("0", "1") for name, level in pairs):
            return ["error name only K1 and K2 are driven, to 0 or 1"]
        for name, level in pairs:
            drive(name, int(level))
        return [f"ok {now}"]
    if words[0] == "wait":
        before, seen = seen, look()
        return ([f"at {now} D1 {seen}"] if seen != before else []) + [f"ok {now}"]
    return [f"error line {words[0]} is not known"]


began, seen, fallen, rest = time.monotonic(), 0, False, b""
try:
    while True:
        ready, _, _ = select.select([0], [], [], WATCHDOG)  # your hardware: wait for bytes, or for silence
        if not ready:
            make_safe()
            fallen = True
            continue
        data = os.read(0, 4096)
        if not data:
            break
        *lines, rest = (rest + data).split(b"\n")
        for line in lines:
            for row in answer(line.decode().split()):
                print(row, flush=True)
finally:
    # Whatever ends it: the end of the input, an answer that nobody is there to read any more, a slip.
    make_safe()
