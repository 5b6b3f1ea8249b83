// A board in the middle of a run: the engine stepped through time.
//
// Law of this file: nothing here decides what a board does; Engine does. Here is only when: the next moment at which
// something is due is found, all that is due at it goes to one settle, and what that set going is timed. Times are
// whole microseconds and no clock is read.

const MOST_AT_ONCE = 1000;

class PlayedBoard {
  // `way` is "nominal", "earliest" or "latest"; `settings` are positions by number.
  constructor(engine, way = "nominal", settings = undefined) {
    this.engine = engine;
    this.table = engine.table;
    this.way = way;
    this.now = 0;
    this.config = engine.off(settings);
    this.terminals = new Terminals(this.table, way);
    this.showing = new Showing(this.table, way);
    this.time = new Timekeeper(this.table, way);
    this.story = [];
    this.lines = this.table.lamps.map(() => []);
  }

  copy() {
    const made = Object.assign(Object.create(PlayedBoard.prototype), this);
    made.terminals = this.terminals.copy();
    made.showing = this.showing.copy();
    made.time = this.time.copy();
    made.story = this.story.slice();
    made.lines = this.lines.map((lines) => lines.slice());
    return made;
  }

  // Say what happens next at the terminals, from now on. Throws TooShort.
  feed(changes) {
    this.terminals.feed(changes, this.now, this.config.powered);
  }

  // Turn the dial of a setting; one read at power-up only while the board is off.
  turn(setting, position) {
    const settings = this.config.settings.slice();
    settings[setting] = position;
    this.config = { ...this.config, settings };
  }

  // -- stepping ---------------------------------------------------------------------------------------------------

  // Go on to a time, everything due at it included. With `most`, stops after so many instants. Gives how many.
  advance(to, most = Infinity) {
    let atOnce = 0;
    let instants = 0;
    for (let time = this.next(); time !== null && time <= to; time = this.next()) {
      atOnce = time === this.now ? atOnce + 1 : 0;
      if (atOnce > MOST_AT_ONCE) throw new CannotSettle("the timings keep ending without any time passing");
      this.now = time;
      const entry = this.step();
      if (entry === null) continue;
      this.story.push(entry);
      this.noteLines();
      instants += 1;
      if (instants >= most) return instants;
    }
    this.now = Math.max(this.now, to);
    return instants;
  }

  // Give the next moment at which something is due, null where nothing is.
  next() {
    const found = [this.terminals.nextSupply()];
    if (this.config.powered) {
      found.push(this.time.firstEnd(), this.terminals.firstAct());
      // A speed-up counts from its terminal, so the rates are looked at as each change comes.
      if (this.table.speed_ups.length) found.push(this.terminals.firstRaw(this.now));
    }
    const times = found.filter((time) => time !== null);
    return times.length ? Math.max(this.now, Math.min(...times)) : null;
  }

  step() {
    const supply = this.terminals.takeSupply(this.now);
    if (supply !== null) return supply ? this.switchOn() : this.switchOff();
    const ending = this.time.due(this.now);
    const held = ending.filter((one) => this.terminalsFirst(one));
    const arrivals = this.terminals.due(this.now);
    const ended = ending.filter((one) => !held.includes(one) && one.going.end <= this.now);
    const rising = (list) => list.sort((a, b) => a - b);
    const over = rising(ended.filter((one) => one.region < 0).map((one) => one.going.timing));
    const dropped = rising(ended.filter((one) => one.region >= 0).map((one) => one.region));
    if (!arrivals.length && !over.length && !dropped.length) {
      this.updateRates(this.now, this.atTheTerminals());
      return null;
    }
    this.terminals.take(arrivals);
    const changes = arrivals.map(({ level, value, raw }) => ({ level, value, raw }));
    return this.instant({ changes, over, dropped, power: null }, this.levelsWith(arrivals));
  }

  levelsWith(arrivals) {
    const levels = this.config.levels.slice();
    for (const arrival of arrivals) levels[arrival.level] = arrival.value;
    return levels;
  }

  // Act now on what came at the terminals before a timing's end and stops it; tells whether that is so. The stopwatch
  // stands at the terminals: a timing whose reason went away there cannot run out afterwards.
  terminalsFirst({ going, region }) {
    const end = going.end;
    const stopped = (outcome) =>
      region >= 0
        ? outcome.counted.has(region)
        : !outcome.config.running[going.timing] || outcome.begun.has(going.timing);
    const taken = [];
    for (const batch of this.terminals.batchesBefore(end)) {
      taken.push(...batch);
      const outcome = this.tried(this.levelsWith(taken));
      if (outcome === null || !stopped(outcome)) continue;
      const act = Math.max(this.now, ...taken.map((arrival) => arrival.raw));
      for (const arrival of taken) arrival.act = Math.min(arrival.act, act);
      if (act > this.now) this.time.putOff(end, act);
      return true;
    }
    return false;
  }

  tried(levels) {
    try {
      return this.engine.settle(this.config, levels);
    } catch (error) {
      if (error instanceof CannotSettle) return null;
      throw error;
    }
  }

  // Give what the board would be in, had it taken in all that has come at its terminals.
  atTheTerminals() {
    const come = this.terminals.comeBy(this.now);
    if (!come.length || !this.table.speed_ups.length) return this.config;
    return this.tried(this.levelsWith(come))?.config ?? this.config;
  }

  instant(causes, levels) {
    const { changes, over, dropped, power } = causes;
    const outcome = this.engine.settle(this.config, levels, over, dropped, power === true);
    const within = (change) => this.table.inputs[this.table.levels[change.level].input].responds_within;
    const deadlines = [
      ...changes.map((change) => change.raw + within(change)),
      ...this.time.latestEnds(over, dropped),
    ];
    const deadline = deadlines.length ? Math.min(...deadlines) : null;
    const shows = this.showing.command(outcome.commands, this.now, deadline);
    const latest = (times) => (times.length ? Math.max(...times) : this.now);
    const origin = ({ kind, which }) => {
      if (kind === "inputs") return latest(changes.filter((c) => which.includes(c.level)).map((c) => c.raw));
      if (kind === "outputs") return latest(which.map((output) => shows.get(output) ?? this.now));
      return over.length || dropped.length || power ? this.now : latest(changes.map((c) => c.raw));
    };
    const before = this.config;
    this.config = outcome.config;
    this.time.take(this.now, outcome, over, dropped, origin);
    const onlyInputs = changes.length && !over.length && !dropped.length;
    this.updateRates(onlyInputs ? latest(changes.map((c) => c.raw)) : this.now, this.atTheTerminals());
    return { time: this.now, causes, outcome, before, config: this.config };
  }

  updateRates(time, config) {
    this.time.updateRates(time, (index) => this.engine.spedUp(config, index));
  }

  // -- the supply -------------------------------------------------------------------------------------------------

  switchOn() {
    const levels = this.terminals.switchOn(this.now);
    this.time.resume(this.now);
    const entry = this.instant({ changes: [], over: [], dropped: [], power: true }, levels);
    this.terminals.planFrom(this.now);
    return entry;
  }

  switchOff() {
    this.terminals.forget();
    this.showing.command(this.showing.notOff().map((output) => [output, false]), this.now, null);
    const before = this.config;
    this.config = this.engine.losePower(before);
    this.time.losePower(this.now, this.config);
    this.updateRates(this.now, this.config);
    const causes = { changes: [], over: [], dropped: [], power: false };
    return { time: this.now, causes, outcome: null, before, config: this.config };
  }

  noteLines() {
    this.engine.lampLines(this.config).forEach((line, lamp) => {
      const lines = this.lines[lamp];
      if (line !== (lines.length ? lines[lines.length - 1][1] : -1)) lines.push([this.now, line]);
    });
  }

  // -- what came of it --------------------------------------------------------------------------------------------

  // Give what each output shows at its terminal now.
  shown() {
    return this.showing.edges(this.now).map((edges) => (edges.length ? edges[edges.length - 1][1] : false));
  }

  // Give all that was seen at the terminals up to now, as plain values.
  run() {
    return {
      end: this.now,
      outputs: this.showing.edges(this.now),
      lamps: this.table.lamps.map((lamp, index) => lampEdges(lamp, this.lines[index], this.now, this.way)),
      stretches: this.time.stretchesUntil(this.now),
      story: this.story.map((entry) => ({
        time: entry.time,
        changes: entry.causes.changes,
        over: entry.causes.over,
        dropped: entry.causes.dropped,
        power: entry.causes.power,
        places: entry.config.places,
        levels: entry.config.levels,
        running: entry.config.running.flatMap((runs, timing) => (runs ? [timing] : [])),
        outputs: this.engine.outputs(entry.config),
        lines: this.engine.lampLines(entry.config),
        broken: entry.outcome === null ? [] : entry.outcome.broken,
      })),
    };
  }
}
