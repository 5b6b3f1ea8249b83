// The times of one run: what runs, since when, and when it is over.
//
// Law of this file: a timing counts from the moment at the terminals that set it going; an accumulator keeps what it
// has from reset to reset; each event of a count carries a window of its own.

class Timekeeper {
  constructor(table, way) {
    this.table = table;
    this.way = way;
    this.keys = table.timings.map((row) => row.speed_ups.join(" "));
    this.times = new Map(this.keys.map((key) => [key, new BoardTime()]));
    this.going = new Map();
    this.windows = new Map();
    this.targets = new Map();
    table.regions.forEach((region, index) => {
      if (region.kind === "count" && region.timings.length) this.windows.set(index, []);
      if (region.kind === "accumulator") this.targets.set(region.timings[0], index);
    });
    this.stretches = [];
  }

  copy() {
    const made = Object.assign(Object.create(Timekeeper.prototype), this);
    made.times = new Map([...this.times].map(([key, time]) => [key, time.copy()]));
    made.going = new Map([...this.going].map(([timing, going]) => [timing, going.copy()]));
    made.windows = new Map([...this.windows].map(([region, list]) => [region, list.map((going) => going.copy())]));
    made.stretches = this.stretches.slice();
    return made;
  }

  // -- asking -----------------------------------------------------------------------------------------------------

  all() {
    return [...this.going.values(), ...[...this.windows.values()].flat()];
  }

  boardTime(going) {
    return this.times.get(this.keys[going.timing]);
  }

  // Give the next moment at which some timing is over, null where none runs.
  firstEnd() {
    const ends = this.all().flatMap((going) => (going.since === null ? [] : [going.end]));
    return ends.length ? Math.min(...ends) : null;
  }

  // Give what is over by a time; `region` is that of a count whose oldest event is too old, -1 for a timing.
  due(time) {
    const over = (going) => going.since !== null && going.end <= time;
    const found = [...this.going.values()].filter(over).map((going) => ({ going, region: -1 }));
    for (const [region, list] of this.windows) {
      if (list.length && over(list[0])) found.push({ going: list[0], region });
    }
    return found;
  }

  // Let what would be over at `end` run until a change that will stop it.
  putOff(end, until) {
    for (const going of this.all()) {
      if (going.since !== null && going.end === end) going.notBefore = going.end = until;
    }
  }

  // Give the latest moments at which the timings that end may have ended.
  latestEnds(over, dropped) {
    const goings = [...over.map((timing) => this.going.get(timing)), ...dropped.map((r) => this.windows.get(r)[0])];
    return goings.map((going) => going.latest(this.boardTime(going)));
  }

  // -- an instant -------------------------------------------------------------------------------------------------

  // Take over what an instant set going, stopped and ended; `origin` gives where a cause counts from.
  take(time, outcome, over, dropped, origin) {
    for (const timing of over) {
      this.note(this.going.get(timing), time, "expired");
      this.going.delete(timing);
    }
    for (const region of dropped) this.note(this.windows.get(region).shift(), time, "expired");
    for (const [timing, going] of [...this.going]) {
      const target = this.targets.get(timing);
      if (target !== undefined) {
        if (outcome.paused.has(timing) && going.since !== null) {
          this.note(going, time, "stopped");
          going.pause(Math.max(going.since, origin(outcome.paused.get(timing))));
        }
        if (outcome.emptied.has(target)) this.drop(timing, time);
      } else if (!outcome.config.running[timing]) {
        this.note(going, time, "stopped");
        this.going.delete(timing);
      }
    }
    for (const timing of [...outcome.begun.keys()].sort((a, b) => a - b)) {
      this.begin(timing, time, origin(outcome.begun.get(timing)), outcome.config);
    }
    for (const region of outcome.forgot) {
      const list = this.windows.get(region) ?? [];
      list.forEach((going) => this.note(going, time, "stopped"));
      list.length = 0;
    }
    for (const region of [...outcome.counted.keys()].sort((a, b) => a - b)) {
      this.count(region, time, origin(outcome.counted.get(region)), outcome.config);
    }
  }

  begin(timing, time, origin, config) {
    let going = this.going.get(timing);
    if (going !== undefined && this.targets.has(timing) && going.since === null) {
      going.since = origin;
      going.notBefore = time;
    } else {
      if (going !== undefined) this.note(going, time, "begun again");
      going = this.fresh(timing, time, origin, config);
      this.going.set(timing, going);
    }
    going.workOut(this.boardTime(going));
  }

  fresh(timing, time, origin, config) {
    const row = this.table.timings[timing];
    const choice = row.choices[row.setting === null ? 0 : config.chosen[timing]];
    return new Going(timing, choice, choice.draws[this.way], time, origin);
  }

  count(region, time, origin, config) {
    const list = this.windows.get(region);
    if (list === undefined) return;
    const row = this.table.regions[region];
    const made = this.fresh(row.timings[0], time, origin, config);
    made.workOut(this.boardTime(made));
    list.push(made);
    list.sort((a, b) => a.end - b.end);
    if (list.length > row.places.length - 1) {
      const earlier = (a, b) => ((a.since ?? 0) - (b.since ?? 0) || a.begun - b.begun) < 0;
      const oldest = list.reduce((best, going) => (earlier(going, best) ? going : best));
      list.splice(list.indexOf(oldest), 1);
      this.note(oldest, time, "stopped");
    }
  }

  drop(timing, time) {
    this.note(this.going.get(timing), time, "begun again");
    this.going.delete(timing);
  }

  note(going, time, how) {
    if (going.since === null) return;
    const begun = going.ran.length ? going.notBefore : going.begun;
    this.stretches.push({ timing: going.timing, begun, origin: going.since, end: time, how });
  }

  // -- rates and the supply ---------------------------------------------------------------------------------------

  // Take over the rates of the speed-ups that hold, from a time on. Of several the fastest counts.
  updateRates(time, holds) {
    let changed = false;
    this.times.forEach((boardTime, key) => {
      const rates = key === "" ? [] : key.split(" ").filter((i) => holds(Number(i)));
      const rate = Math.max(1, ...rates.map((i) => this.table.speed_ups[i].times_faster));
      if (rate !== boardTime.rate) {
        boardTime.change(time, rate);
        changed = true;
      }
    });
    if (!changed) return;
    for (const going of this.all()) if (going.since !== null) going.workOut(this.boardTime(going));
  }

  // Forget what is not kept without power; what is kept stands still.
  losePower(time, config) {
    this.all().forEach((going) => this.note(going, time, "lost power"));
    for (const [timing, going] of [...this.going]) {
      const target = this.targets.get(timing);
      const kept = target !== undefined && this.table.regions[target].kept_without_power;
      if (config.running[timing] || kept) going.pause(time);
      else this.going.delete(timing);
    }
    for (const [region, list] of this.windows) {
      if (!this.table.regions[region].kept_without_power) list.length = 0;
      list.forEach((going) => going.pause(time));
    }
  }

  // Let what was kept without power run on, accumulators when they add up again.
  resume(time) {
    const kept = [...this.going].filter(([timing]) => !this.targets.has(timing)).map(([, going]) => going);
    for (const going of [...kept, ...[...this.windows.values()].flat()]) {
      going.since = going.notBefore = time;
      going.workOut(this.boardTime(going));
    }
  }

  // Give every stretch a timing ran, those still running last.
  stretchesUntil(end) {
    const running = this.all().filter((going) => going.since !== null);
    return [
      ...this.stretches,
      ...running.map((g) => ({ timing: g.timing, begun: g.begun, origin: g.since, end, how: "still running" })),
    ];
  }
}
