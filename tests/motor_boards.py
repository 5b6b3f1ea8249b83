"""Invented boards of a motor: two with the same fault and lockout, and one that keeps what it can without power."""

from __future__ import annotations

TRIPPED = """
[rules.fault]
kind = "lockout"
trips = "(stop open and motor) for 2 s"
clears = "not call"
[rules.faults]
kind = "count"
counts = "fault begins"
limit = 2
within = "60 s"
[rules.dead]
kind = "lockout"
trips = "faults reached"
clears = "only by power loss"
[outputs.motor]
starts = "call and not rest and not fault and not dead"
stops = "not call or fault or dead"
lag = "50 ms"
[outputs.alarm]
on = "dead"
lag = "50 ms"
"""
"""What trips a motor, and locks it out the second time; its inputs and its rest are for each board to say."""

SMALL = (
    """
language = 1
[board]
id = "small"
title = "A small board, invented"
tolerance = "± (4 % + 0.1 s)"
responds_within = "0.2 s"
filter = "20 ms to 60 ms"
[inputs]
call = { kind = "call" }
stop = { kind = "switch", contact = "normally closed" }
[rules.rest]
kind = "delay"
begins = "power_up or motor ends"
lasts = "10 s"
if_begun_again = "starts over"
[rules.worn]
kind = "accumulator"
adds_while = "motor"
target = "20 s"
resets = "vent ends"
[rules.vent]
kind = "mode"
begins = "worn reached and motor"
ends = "not motor"
at_most = "5 s"
[outputs.fan]
on = "vent"
lag = "50 ms"
"""
    + TRIPPED
)

FORGETS = (
    """
language = 1
[board]
id = "forgets"
title = "A board that keeps nothing, invented"
tolerance = "± (4 % + 0.1 s)"
responds_within = "0.2 s"
filter = "20 ms to 60 ms"
same_moment = "30 ms"
[inputs]
call = { kind = "call" }
stop = { kind = "switch", contact = "normally closed" }
[settings.rest_time]
read = "at power-up"
positions = [ { when = "stop open", is = "3 s" }, { when = "stop closed", is = "10 s" } ]
[rules.rest]
kind = "delay"
begins = "power_up or motor ends"
lasts = "rest_time"
if_begun_again = "starts over"
[rules.first]
kind = "mode"
begins = "power_up while not call"
ends = "motor begins"
[outputs.ready]
on = "first"
[lamps.status]
flash = "0.25 s lit, 0.25 s dark"
between_groups = "1.5 s dark"
lines = [
  { when = "dead", shows = "2 flashes" },
  { when = "motor", shows = "0.5 s lit, 0.5 s dark" },
  { when = "otherwise", shows = "steady" },
]
"""
    + TRIPPED
)

KEEPS = """
language = 1
[board]
id = "keeps"
title = "A board that keeps what it can, invented"
tolerance = "± 5 %"
responds_within = "0.1 s"
rides_through = "40 ms to 150 ms"
[inputs]
call = { kind = "call" }
stop = { kind = "switch", contact = "normally closed" }
[rules.rest]
kind = "delay"
begins = "motor ends"
lasts = "10 s"
if_begun_again = "starts over"
kept_without_power = true
[rules.trips]
kind = "count"
counts = "stop opens"
limit = 2
within = "30 s"
kept_without_power = true
[rules.locked]
kind = "lockout"
trips = "trips reached and call"
clears = "not call"
lasts = "20 s"
kept_without_power = true
[rules.worn]
kind = "accumulator"
adds_while = "motor"
target = "15 s"
resets = "not call"
kept_without_power = true
[rules.turn]
kind = "toggle"
flips = "motor ends"
kept_without_power = true
[outputs.motor]
on = "call and stop closed and not rest and not locked"
lag = "20 ms"
[outputs.second]
on = "turn and call"
[outputs.tired]
on = "worn reached"
"""
