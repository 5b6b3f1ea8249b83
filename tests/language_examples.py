"""Invented boards that the tests of the language read: whole ones, a variant of one, and one to break."""

from __future__ import annotations

CELLAR_FAN = """\
language = 1

[board]
id = "damp-room-fan"
title = "Fan of a damp room (invented)"
responds_within = "200 ms"
tolerance = "exactly"

[inputs]
damp = { kind = "sensor", unit = "%", accuracy = "± 2 %" }
boost = { kind = "switch", contact = "normally open" }
winding = { kind = "switch", contact = "normally closed", text = "opens when the motor is hot" }

[rules.rest]
kind = "delay"
why = "the motor is started from standstill only"
begins = "power_up or fan ends"
lasts = "90 s ± 10 %"
if_begun_again = "starts over"

[rules.overheat]
kind = "lockout"
trips = "winding open for 2 s"
clears = "winding closed and not rest"

[rules.overheats]
kind = "count"
counts = "overheat begins"
limit = 3
within = "1 h ± 2 %"

[rules.given_up]
kind = "lockout"
trips = "overheats reached"
clears = "only by power loss"

[outputs.fan]
on = "(damp > 70 % until < 65 % or boost closed) and not rest and not overheat and not given_up"

[lamps.status]
flash = "0.25 s lit, 0.25 s dark"
between_groups = "1.5 s dark"
lines = [
  { when = "given_up", shows = "2 flashes" },
  { when = "otherwise", shows = "steady" },
]

[requirements.rested]
never = "fan begins less than 80 s after fan ends"
"""

BURNER = """\
language = 1

[board]
id = "small-burner"
title = "Burner with one trial after another (invented)"
tolerance = "± (4 % + 0.3 s)"
responds_within = "0.5 s"
filter = "20 ms to 100 ms"
clock = "shared"

[inputs]
heat = { kind = "call" }
hot = { kind = "switch", contact = "normally closed", text = "high limit" }
flame = { kind = "signal" }
j0 = { kind = "link" }
j1 = { kind = "link" }
fast = { kind = "link", text = "service pins" }
reset = { kind = "button" }

[settings.purge_time]
read = "at power-up"
positions = [
  { when = "j1 fitted and j0 fitted", is = "15 s" },
  { when = "j1 fitted and j0 open", is = "30 s" },
  { when = "j1 open", is = "28 s to 33 s" },
]

[settings.blower_time]
read = "always"
factory = "90"
positions = [ { name = "90", is = "90 s" }, { name = "120", is = "120 s +15 s -5 s" } ]

[conditions]
safe = { is = "hot closed and not locked" }

[rules.burner]
kind = "sequence"
begins = "heat and safe and not flame"
ends = "not heat or not safe"
steps = [
  { name = "purge", lasts = "purge_time" },
  { name = "trial", until = "flame", lasts = "4 s ± 0.5 s", if_not = "purge" },
  { name = "firing", until = "not flame", then = "purge" },
]

[rules.misses]
kind = "count"
counts = "trial expires"
limit = 3
forgets = "not heat or (firing for 10 s) or reset begins"

[rules.locked]
kind = "lockout"
trips = "misses reached"
clears = "reset begins or (not heat) begins"
lasts = "1 h"

[rules.after_blow]
kind = "delay"
begins = "burner ends"
lasts = "blower_time"
if_begun_again = "starts over"
cut_by = "burner"

[rules.hours]
kind = "accumulator"
adds_while = "firing"
target = "100 h"
resets = "reset begins"
kept_without_power = true

[rules.service]
kind = "mode"
begins = "reset pressed for 5 s"
ends = "reset begins"
at_least = "1 s"
at_most = "10 min"

[rules.turn]
kind = "toggle"
flips = "burner begins"

[outputs.gas]
on = "trial or firing"

[outputs.blower]
on = "burner or after_blow"
lag = "50 ms"

[outputs.pump]
starts = "firing"
stops = "not after_blow and not burner"
contact = "normally closed"

[lamps.status]
lines = [
  { when = "locked", shows = "0.5 s lit, 0.5 s dark", means = "no flame three times", clause = "7.2" },
  { when = "service or (hours reached)", shows = "dark" },
  { when = "otherwise", shows = "steady" },
]

[requirements.short_trial]
never = "(gas and not flame) for 6 s"
except_while = "service"

[requirements.followed]
after = "locked begins"
then = "not gas"
within = "1 s"

[requirements.side_by_side]
together = ["gas", "blower"]
within = "0.1 s"

[speed_ups.service_pins]
while = "fast fitted"
times_faster = 60
what = ["burner", "after_blow", "hours"]

[[not_judged]]
signals = "all outputs"
after = "power_up"
lasts = "0.25 s exactly"
clause = "1.2"
"""

PUMPS = """\
language = 1

[board]
id = "two-pumps"
title = "Two pumps that take turns (invented)"
tolerance = "± 10 %"

[inputs]
low = { kind = "switch", contact = "normally open" }
high = { kind = "switch", contact = "normally open" }
hush = { kind = "button" }

[rules.pumping]
kind = "mode"
begins = "high closed and low closed"
ends = "low open"

[rules.second_turn]
kind = "toggle"
flips = "pumping ends"
kept_without_power = true

[rules.apart]
kind = "delay"
begins = "power_up or one begins or two begins"
lasts = "10 s"
if_begun_again = "starts over"

[rules.flood]
kind = "lockout"
trips = "high closed for 3 min"
clears = "hush begins while low open"

[outputs.one]
starts = "pumping and not apart and not second_turn"
stops = "not pumping"

[outputs.two]
starts = "pumping and not apart and second_turn"
stops = "not pumping"

[outputs.alarm]
on = "flood"
"""

EXAMPLES = {"cellar-fan": CELLAR_FAN, "burner": BURNER, "pumps": PUMPS}

VARIANT = """\
language = 1
base = "fan.toml"

[board]
id = "damp-room-fan-2"
title = "The same with a warning lamp (invented)"

[remove]
inputs = ["boost"]
lamps = ["status"]
rules = ["rest.why"]

[change.rules.overheats]
limit = 2

[change.outputs.fan]
on = "damp > 75 % until < 65 % and not rest and not overheat and not given_up"

[change.board]
responds_within = "300 ms"

[add.outputs.warning]
on = "overheat or given_up"

[add.rules.overheat]
lasts = "30 min"
"""

SMALL = """\
language = 1

[board]
id = "small"
title = "A small board (invented)"
tolerance = "± 5 %"

[inputs]
call = { kind = "call" }
limit = { kind = "switch", contact = "normally closed" }
jumper = { kind = "link" }
button = { kind = "button" }
coil = { kind = "sensor", unit = "°C" }

[settings.wait_time]
read = "always"
factory = "30"
positions = [ { name = "30", is = "30 s" }, { name = "60", is = "60 s" } ]

[rules.wait]
kind = "delay"
begins = "power_up or run ends"
lasts = "wait_time"
if_begun_again = "starts over"

[rules.trip]
kind = "lockout"
trips = "limit open and run"
clears = "not call"

[rules.trips]
kind = "count"
counts = "trip begins"
limit = 3

[rules.cold_time]
kind = "accumulator"
adds_while = "run and coil < -2 °C"
target = "30 min"

[rules.thaw]
kind = "mode"
begins = "cold_time reached"
ends = "coil > 14 °C"

[rules.turn]
kind = "toggle"
flips = "run begins"

[rules.start]
kind = "sequence"
begins = "call"
ends = "not call"
steps = [
  { name = "pre", lasts = "5 s" },
  { name = "main", until = "limit open", then = "end" },
]

[conditions]
wanted = { is = "call and not wait" }

[outputs.run]
on = "wanted and main and not trip and not trips reached"

[outputs.heater]
on = "thaw and turn"

[lamps.led]
lines = [ { when = "trip", shows = "1 s lit, 1 s dark" }, { when = "otherwise", shows = "steady" } ]
"""
