BEGIN TRANSACTION;
CREATE TABLE boardgauge_version (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT boardgauge_version_pkc PRIMARY KEY (version_num)
);
INSERT INTO "boardgauge_version" VALUES('0001');
CREATE TABLE boards (
	id INTEGER NOT NULL, 
	board VARCHAR(200) NOT NULL, 
	serial VARCHAR(100) NOT NULL, 
	lot VARCHAR(100), 
	CONSTRAINT pk_boards PRIMARY KEY (id), 
	CONSTRAINT uq_boards_board UNIQUE (board, serial)
);
INSERT INTO "boards" VALUES(1,'tarnbeck','1042','A');
INSERT INTO "boards" VALUES(2,'tarnbeck','1043',NULL);
CREATE TABLE deviations (
	run_id INTEGER NOT NULL, 
	position INTEGER NOT NULL, 
	time_us BIGINT NOT NULL, 
	kind VARCHAR(20) NOT NULL, 
	signal VARCHAR(200) NOT NULL, 
	channel VARCHAR(200) NOT NULL, 
	rule VARCHAR(200) NOT NULL, 
	clause VARCHAR(200), 
	earliest_us BIGINT, 
	latest_us BIGINT, 
	observed TEXT NOT NULL, 
	expected TEXT NOT NULL, 
	following BOOLEAN NOT NULL, 
	CONSTRAINT pk_deviations PRIMARY KEY (run_id, position), 
	CONSTRAINT fk_deviations_run_id FOREIGN KEY(run_id) REFERENCES runs (id)
);
INSERT INTO "deviations" VALUES(2,0,1000000,'late','cc','cc','restart_delay','2.4',NULL,NULL,'it stayed off','on',0);
CREATE TABLE files (
	sha256 VARCHAR(64) NOT NULL, 
	size BIGINT NOT NULL, 
	packing VARCHAR(10) NOT NULL, 
	content BLOB NOT NULL, 
	CONSTRAINT pk_files PRIMARY KEY (sha256)
);
INSERT INTO "files" VALUES('7e9dfba4375799ac497d40f683b875124db823e173bb99e2e9b5ceccca8bbd5d',1000,'zlib',X'789C2B4A4DCE2F4AC9CC4B573050C84F5330343031E22A1A151B151B151B566200F61F2986');
INSERT INTO "files" VALUES('d06d4784a8a64e43c0d39f4dad0c0f01d837d7403ff6d78b63df3dc9363dfae1',1000,'zlib',X'789C2B4A4DCE2F4AC9CC4B573054C84F5330343031E62A1A151B151B151B566200B7EE29EA');
CREATE TABLE rules (
	run_id INTEGER NOT NULL, 
	position INTEGER NOT NULL, 
	rule VARCHAR(200) NOT NULL, 
	kind VARCHAR(20) NOT NULL, 
	clause VARCHAR(200), 
	exercised BOOLEAN NOT NULL, 
	CONSTRAINT pk_rules PRIMARY KEY (run_id, position), 
	CONSTRAINT fk_rules_run_id FOREIGN KEY(run_id) REFERENCES runs (id)
);
INSERT INTO "rules" VALUES(1,0,'restart_delay','delay','2.4',1);
INSERT INTO "rules" VALUES(2,0,'restart_delay','delay','2.4',0);
CREATE TABLE run_files (
	run_id INTEGER NOT NULL, 
	position INTEGER NOT NULL, 
	sha256 VARCHAR(64) NOT NULL, 
	name TEXT NOT NULL, 
	CONSTRAINT pk_run_files PRIMARY KEY (run_id, position), 
	CONSTRAINT fk_run_files_run_id FOREIGN KEY(run_id) REFERENCES runs (id), 
	CONSTRAINT fk_run_files_sha256 FOREIGN KEY(sha256) REFERENCES files (sha256)
);
INSERT INTO "run_files" VALUES(1,0,'7e9dfba4375799ac497d40f683b875124db823e173bb99e2e9b5ceccca8bbd5d','1042-0.vcd');
INSERT INTO "run_files" VALUES(2,0,'d06d4784a8a64e43c0d39f4dad0c0f01d837d7403ff6d78b63df3dc9363dfae1','1043-1.vcd');
CREATE TABLE runs (
	id INTEGER NOT NULL, 
	board_id INTEGER NOT NULL, 
	visit VARCHAR(36) NOT NULL, 
	measured_at DATETIME NOT NULL, 
	added_at DATETIME NOT NULL, 
	operator VARCHAR(100), 
	rig VARCHAR(100), 
	verdict VARCHAR(20) NOT NULL, 
	known_start BOOLEAN NOT NULL, 
	length_us BIGINT NOT NULL, 
	spec_digest VARCHAR(64) NOT NULL, 
	spec_given TEXT NOT NULL, 
	wiring_id VARCHAR(200) NOT NULL, 
	wiring_text TEXT, 
	wiring_given TEXT NOT NULL, 
	start VARCHAR(20), 
	settings TEXT NOT NULL, 
	exercised INTEGER NOT NULL, 
	exercisable INTEGER NOT NULL, 
	plan_digest VARCHAR(64), 
	plan_reached INTEGER, 
	plan_missed INTEGER, 
	"plan" TEXT, 
	version VARCHAR(50) NOT NULL, 
	command TEXT NOT NULL, 
	note TEXT NOT NULL, 
	judgement TEXT NOT NULL, 
	CONSTRAINT pk_runs PRIMARY KEY (id), 
	CONSTRAINT fk_runs_board_id FOREIGN KEY(board_id) REFERENCES boards (id), 
	CONSTRAINT fk_runs_spec_digest FOREIGN KEY(spec_digest) REFERENCES specs (digest)
);
INSERT INTO "runs" VALUES(1,1,'aa28a9f946b74243823a2b753cd8cf95','2026-03-02 09:30:00.000000','2026-11-30 14:47:48.215494','kim',NULL,'conforms',1,60000000,'4dd8ea6ede8d6c81b1da9b8e01dd5919c642a9213e27434df16b9e6a25968f0c','','',NULL,'',NULL,'{}',1,1,NULL,NULL,NULL,NULL,'0.1.0','','','{"trace": "made up", "board": "tarnbeck", "verdict": "conforms", "deviations": [], "doubts": [], "coverage": {"rules": [{"rule": "restart_delay", "kind": "delay", "clause": "2.4", "exercised": true, "timings": [{"timing": "restart_delay", "clause": "2.4", "shortest": 42.9, "longest": 47.1, "ended": 1, "ended_sped_up": 0, "measured_least": 45.0, "measured_greatest": 45.1}]}], "lamps": []}, "start": "power-up", "clock_rate": null, "remarks": [], "not_wired": [], "channels_not_used": [], "spec_digest": "", "trace_digest": ""}');
INSERT INTO "runs" VALUES(2,2,'3f3f0d9457b44af2851753744ba20c20','2026-03-02 09:31:00.000000','2026-11-30 14:47:48.462327',NULL,NULL,'deviates',1,60000000,'4dd8ea6ede8d6c81b1da9b8e01dd5919c642a9213e27434df16b9e6a25968f0c','','',NULL,'',NULL,'{}',0,1,NULL,NULL,NULL,NULL,'0.1.0','','','{"trace": "made up", "board": "tarnbeck", "verdict": "deviates", "deviations": [{"time": 1.0, "signal": "cc", "kind": "late", "rule": "restart_delay", "clause": "2.4", "earliest": null, "latest": null, "observed": "it stayed off", "expected": "on", "counted_from": null, "following": false, "others": [], "spec": null}], "doubts": [], "coverage": {"rules": [{"rule": "restart_delay", "kind": "delay", "clause": "2.4", "exercised": false, "timings": [{"timing": "restart_delay", "clause": "2.4", "shortest": 42.9, "longest": 47.1, "ended": 0, "ended_sped_up": 0, "measured_least": null, "measured_greatest": null}]}], "lamps": []}, "start": "power-up", "clock_rate": null, "remarks": [], "not_wired": [], "channels_not_used": [], "spec_digest": "", "trace_digest": ""}');
CREATE TABLE specs (
	digest VARCHAR(64) NOT NULL, 
	board VARCHAR(200) NOT NULL, 
	title TEXT NOT NULL, 
	text TEXT NOT NULL, 
	CONSTRAINT pk_specs PRIMARY KEY (digest)
);
INSERT INTO "specs" VALUES('4dd8ea6ede8d6c81b1da9b8e01dd5919c642a9213e27434df16b9e6a25968f0c','tarnbeck','Tarnbeck outdoor-unit control (invented)','language = 1

[board]
id = "tarnbeck"
title = "Tarnbeck outdoor-unit control (invented)"
source = "Tarnbeck service sheet"
text = "A heat-pump outdoor-unit control. The board, its name and its times are made up."
tolerance = "± (4 % + 300 ms)"
responds_within = "300 ms"
filter = "40 ms to 150 ms"
same_moment = "100 ms"

[inputs.y]
kind = "call"
text = "compressor call"

[inputs.o]
kind = "call"
text = "cooling: the reversing valve is asked for"

[inputs.lps]
kind = "switch"
contact = "normally closed"
text = "low-pressure switch"

[inputs.hps]
kind = "switch"
contact = "normally closed"
text = "high-pressure switch"

[inputs.cold]
kind = "signal"
text = "coil at or below -2 °C"

[inputs.warm]
kind = "signal"
text = "coil at or above 14 °C"

[inputs.j0]
kind = "link"
text = "defrost-interval jumper 0"

[inputs.j1]
kind = "link"
text = "defrost-interval jumper 1"

[inputs.fast]
kind = "link"
text = "SPEED-UP pins"
clause = "11.1"

[settings.interval]
read = "at power-up"
clause = "7.3"
positions = [
  { when = "j1 fitted and j0 fitted", is = "3 min" },
  { when = "j1 fitted and j0 open", is = "5 min" },
  { when = "j1 open and j0 fitted", is = "8 min" },
  { when = "j1 open and j0 open", is = "12 min" },
]

[conditions.cold_coil]
is = "cold and not warm"
clause = "7.9"

[conditions.warm_coil]
is = "warm and not cold"
clause = "7.9"

[conditions.hard_lockout]
is = "lp_lockout or hp_lockout"
clause = "5.1"

[conditions.call_over]
is = "not y"
clause = "2.3"

[conditions.hp_open]
is = "hps open"
clause = "4.1"

[conditions.may_start]
is = "y and hps closed and not power_up_delay and not restart_delay and not hard_lockout"
clause = "2.1"

[conditions.must_stop]
is = "call_over or hp_open or hard_lockout"
clause = "2.5"

[conditions.lp_watched]
is = "cc and not bypass and not defrost"
clause = "3.1"

[conditions.lp_trip]
is = "(lps open and lp_watched) for 2 s"
clause = "3.2"

[conditions.defrost_over]
is = "warm_coil or o"
clause = "7.5"

[conditions.defrosting]
is = "defrost"
clause = "7.4"

[rules.power_up_delay]
kind = "delay"
begins = "power_up"
lasts = "30 s"
clause = "1.1"

[rules.restart_delay]
kind = "delay"
begins = "cc ends"
lasts = "45 s"
if_begun_again = "starts over"
clause = "2.4"

[rules.bypass]
kind = "delay"
begins = "cc begins"
lasts = "20 s"
if_begun_again = "starts over"
cut_by = "not cc"
why = "the low side draws down at every start"
clause = "3.1"

[rules.lp_lockout]
kind = "lockout"
trips = "y and lp_trip"
clears = "only by power loss"
title = "low-pressure hard lockout"
clause = "3.2"

[rules.hp_wait]
kind = "lockout"
trips = "cc and y and hps open and not lp_trip"
clears = "not y or cc begins"
title = "high-pressure soft lockout"
clause = "4.2"

[rules.hp_trips]
kind = "count"
counts = "hp_wait begins"
limit = 3
within = "1 h"
forgets = "not y"
clause = "4.3"

[rules.hp_lockout]
kind = "lockout"
trips = "hp_trips reached"
clears = "only by power loss"
title = "high-pressure hard lockout"
clause = "4.3"

[rules.cold_run]
kind = "accumulator"
adds_while = "cc and not defrost and not o and cold_coil"
target = "interval"
resets = "defrost ends"
clause = "7.1"

[rules.defrost_limit]
kind = "delay"
begins = "defrost begins"
lasts = "90 s"
if_begun_again = "starts over"
cut_by = "not defrost"
clause = "7.5"

[rules.defrost]
kind = "mode"
begins = "cold_run reached and cc and not o and cold_coil"
ends = "defrost_over or not cc or defrost_limit expires"
clause = "7.3"

[outputs.cc]
starts = "may_start"
stops = "must_stop"
lag = "100 ms"
text = "compressor contactor"
clause = "2.5"

[outputs.fan]
on = "cc and not defrosting"
lag = "300 ms"
text = "outdoor fan"
clause = "2.2"

[outputs.rv]
on = "(o or defrosting) and not hard_lockout"
lag = "300 ms"
text = "reversing valve, energised for cooling"
clause = "6.1"

[outputs.aux]
on = "defrosting"
lag = "300 ms"
text = "auxiliary heat"
clause = "7.8"

[outputs.alm]
on = "hard_lockout"
lag = "300 ms"
text = "alarm terminal"
clause = "9.1"

[lamps.led]
flash = "250 ms lit, 250 ms dark"
between_groups = "1.5 s dark"
tolerance = "± 20 %"
changes_within = "500 ms"
not_judged_for = "3 s"
text = "status LED"
clause = "8.9"
lines = [
  { when = "lp_lockout", shows = "5 flashes", means = "low-pressure hard lockout", do = "Do not simply reset. Look for lost charge, a dirty coil or filter, a fan that stands, an open switch circuit; then switch the supply off and on.", clause = "8.6" },
  { when = "hp_lockout", shows = "6 flashes", means = "high-pressure hard lockout", do = "The third trip of one call. Look for a blocked coil, a fan that stands, overcharge; then switch the supply off and on.", clause = "8.7" },
  { when = "hp_wait", shows = "3 flashes", means = "high-pressure soft lockout", do = "Wait: the board tries again when the switch has closed and the restart delay is over. Look at the coil and the fan meanwhile.", clause = "8.5" },
  { when = "defrost", shows = "2 flashes", means = "defrost", do = "Nothing: the fan rests and the coil is thawed. Wait for its end before you measure anything else.", clause = "8.4" },
  { when = "cc", shows = "1 s lit, 1 s dark", means = "compressor running", do = "Nothing.", clause = "8.3" },
  { when = "y", shows = "100 ms lit, 100 ms dark", means = "call present, waiting", do = "Wait out the delay. If it goes on, see whether the high-pressure switch is open.", clause = "8.2" },
  { when = "otherwise", shows = "steady", means = "standby", do = "Nothing. If the room asks for heat or cooling, see whether the call arrives at the terminal.", clause = "8.1" },
]

[requirements.fan_with_compressor]
together = ["cc", "fan"]
within = "100 ms"
except_while = "defrost"
clause = "2.2"

[speed_ups.pins]
while = "fast fitted"
times_faster = 60
what = ["power_up_delay", "restart_delay", "hp_trips", "cold_run", "defrost_limit"]

[[not_judged]]
signals = "all outputs"
after = "power_up"
lasts = "250 ms"
');
CREATE TABLE timings (
	run_id INTEGER NOT NULL, 
	position INTEGER NOT NULL, 
	timing VARCHAR(200) NOT NULL, 
	rule VARCHAR(200) NOT NULL, 
	clause VARCHAR(200), 
	shortest_us BIGINT NOT NULL, 
	longest_us BIGINT NOT NULL, 
	varies BOOLEAN NOT NULL, 
	ended INTEGER NOT NULL, 
	sped_up INTEGER NOT NULL, 
	least_us BIGINT, 
	greatest_us BIGINT, 
	CONSTRAINT pk_timings PRIMARY KEY (run_id, position), 
	CONSTRAINT fk_timings_run_id FOREIGN KEY(run_id) REFERENCES runs (id)
);
INSERT INTO "timings" VALUES(1,0,'restart_delay','restart_delay','2.4',42900000,47100000,0,1,0,45000000,45100000);
INSERT INTO "timings" VALUES(2,0,'restart_delay','restart_delay','2.4',42900000,47100000,0,0,0,NULL,NULL);
CREATE INDEX ix_runs_board_id ON runs (board_id);
CREATE INDEX ix_runs_measured_at ON runs (measured_at);
CREATE INDEX ix_runs_visit ON runs (visit);
CREATE INDEX ix_run_files_sha256 ON run_files (sha256);
CREATE INDEX ix_timings_timing ON timings (timing);
COMMIT;
