// What comes at the terminals of a board: the supply and the inputs, past and to come.
//
// Law of this file: it keeps what was said about the terminals and which changes are still on their way in. Each change
// is taken in once, from its own time to `responds_within` later, in order for each input; changes of one moment
// together.
// A sensor's value is a fraction in its own unit, [over, under]; every other value is true or false.

// An input that the board has acted on changes back sooner than any change that counts may.
class TooShort extends Error {}

// A sensor has no value when the board is switched on.
class MissingValue extends Error {}

class Terminals {
  constructor(table, way) {
    this.table = table;
    this.way = way;
    this.raw = table.inputs.map(() => []);
    this.power = [];
    this.supply = [];
    this.supplied = false;
    this.arrivals = [];
    this.rawLevels = table.levels.map((level) => level.at_rest);
    this.lastArrival = new Map();
    this.lastAct = new Map();
  }

  copy() {
    const made = Object.assign(Object.create(Terminals.prototype), this);
    made.raw = this.raw.map((edges) => edges.slice());
    made.power = this.power.slice();
    made.supply = this.supply.slice();
    made.rawLevels = this.rawLevels.slice();
    const twins = new Map(this.arrivals.map((arrival) => [arrival, { ...arrival }]));
    made.arrivals = this.arrivals.map((arrival) => twins.get(arrival));
    made.lastArrival = new Map([...this.lastArrival].map(([k, arrival]) => [k, twins.get(arrival) ?? arrival]));
    made.lastAct = new Map(this.lastAct);
    return made;
  }

  // -- what is said about the terminals ---------------------------------------------------------------------------

  // Take in what happens next: `power` [[time, value], ...] and `inputs` {number: [[time, value], ...]}.
  feed({ power = [], inputs = {} }, now, powered) {
    const fed = this.table.inputs.map((row, index) => inputs[index] ?? []);
    fed.forEach((edges, index) => this.raw[index].push(...edges));
    this.planPower(power);
    if (powered) this.planInputs(fed, now);
  }

  planPower(given) {
    let on = this.supply.length ? this.supply[this.supply.length - 1][1] : this.supplied;
    let known = this.power.length ? this.power[this.power.length - 1][1] : false;
    const edges = given.filter(([, value]) => {
      const changes = value !== known;
      known = value;
      return changes;
    });
    this.power.push(...edges);
    for (let index = 0; index < edges.length; index += 1) {
      const [time, value] = edges[index];
      if (!value && on && index + 1 < edges.length) {
        if (!losesPower(edges[index + 1][0] - time, this.table.board.rides_through, this.way)) {
          index += 1;
          continue;
        }
      }
      if (value !== on) {
        this.supply.push([time, value]);
        on = value;
      }
    }
  }

  // Time the changes that come at the terminals until the supply next changes.
  planInputs(fed, now) {
    const until = this.supply.length ? this.supply[0][0] : Infinity;
    const coming = [];
    this.table.levels.forEach((level, index) => {
      const raw = this.levelEdges(level, this.rawLevels[index], fed[level.input]);
      const powered = raw.filter(([time]) => time < until);
      if (!powered.length) return;
      coming.push(...this.withLast(index, raw).filter((arrival) => arrival.raw < until));
      this.rawLevels[index] = powered[powered.length - 1][1];
    });
    for (const arrival of coming) this.lastArrival.set(arrival.level, arrival);
    // What is decided again does not come after what was decided of it before.
    const latest = this.withActsOf(this.arrivals);
    this.arrivals.push(...this.timed(coming, now, latest));
    this.arrivals.sort((a, b) => a.raw - b.raw || a.level - b.level);
  }

  // Give, by input, when the last of its changes is or was taken in, these among them.
  withActsOf(arrivals) {
    const found = new Map(this.lastAct);
    for (const arrival of arrivals) {
      const input = this.table.levels[arrival.level].input;
      found.set(input, Math.max(found.get(input) ?? 0, arrival.act));
    }
    return found;
  }

  withLast(index, raw) {
    // How long the last change lasted is known only now: if it was not taken in yet, that is decided again.
    const { filter, id } = this.table.inputs[this.table.levels[index].input];
    const before = this.rawLevels[index];
    const last = this.lastArrival.get(index);
    if (last !== undefined && last.value === before) {
      if (this.arrivals.includes(last)) {
        this.arrivals.splice(this.arrivals.indexOf(last), 1);
        return seenChanges(index, !last.value, [[last.raw, last.value], ...raw], filter, this.way);
      }
      if (raw[0][0] - last.raw < filter[0]) {
        throw new TooShort(`${id} changes back sooner than its filter lets through, after the board acted on it`);
      }
    }
    return seenChanges(index, before, raw, filter, this.way);
  }

  // Give the changes of a level that follow from the changes of its input.
  levelEdges(level, before, edges) {
    const found = [];
    let value = before;
    for (const [time, given] of edges) {
      const now = levelOf(level, given, value);
      if (now !== value) found.push([time, now]);
      value = now;
    }
    return found;
  }

  // Choose when the changes are taken in, none before now; gives them in the order of the terminals.
  timed(coming, now, latest) {
    const ordered = [...coming].sort((a, b) => a.raw - b.raw || a.level - b.level);
    const marks = moments(ordered, this.table.board.same_moment);
    const batches = new Map();
    ordered.forEach((arrival, index) => {
      // A value that passes several limits at once is one change of its sensor.
      const own = `${this.table.levels[arrival.level].input} ${arrival.raw}`;
      arrival.batch = `${now}: ${marks[index] >= 0 ? `moment ${marks[index]}` : own}`;
      if (!batches.has(arrival.batch)) batches.set(arrival.batch, []);
      batches.get(arrival.batch).push(arrival);
    });
    const inputOf = (arrival) => this.table.levels[arrival.level].input;
    for (const batch of batches.values()) {
      const first = Math.max(now, ...batch.map((arrival) => arrival.raw));
      const last = Math.min(...batch.map((a) => a.raw + this.table.inputs[inputOf(a)].responds_within));
      const chosen = this.way === "latest" && last > first ? last : first;
      const act = Math.max(chosen, ...batch.map((arrival) => (latest.get(inputOf(arrival)) ?? -1) + 1));
      for (const arrival of batch) {
        arrival.act = act;
        latest.set(inputOf(arrival), act);
      }
    }
    return ordered;
  }

  // Time what comes at the terminals after the supply came on.
  planFrom(now) {
    this.planInputs(this.raw.map((edges) => edges.filter(([time]) => time > now)), now);
  }

  // -- the supply -------------------------------------------------------------------------------------------------

  nextSupply() {
    return this.supply.length ? this.supply[0][0] : null;
  }

  // Give what the supply changes to now, null where it does not.
  takeSupply(now) {
    if (!this.supply.length || this.supply[0][0] > now) return null;
    [, this.supplied] = this.supply.shift();
    return this.supplied;
  }

  // Give the levels as the supply comes on.
  switchOn(now) {
    this.table.levels.forEach((level, index) => {
      const value = this.valueAt(level.input, now);
      if (value === null) throw new MissingValue(`${this.table.inputs[level.input].id} has no value`);
      this.rawLevels[index] = levelOf(level, value, false);
    });
    return this.rawLevels.slice();
  }

  // Give what stands at an input terminal at a time; null for a sensor of which nothing was said.
  valueAt(input, now) {
    let value = this.table.inputs[input].at_rest;
    for (const [time, given] of this.raw[input]) {
      if (time > now) break;
      value = given;
    }
    return value;
  }

  // Tell whether there is supply at the terminals, whatever the board has made of it.
  powerAt(now) {
    return this.power.reduce((on, [time, value]) => (time <= now ? value : on), false);
  }

  forget() {
    this.arrivals = [];
    this.lastArrival.clear();
    this.lastAct.clear();
  }

  // -- what is on its way in --------------------------------------------------------------------------------------

  firstAct() {
    return this.arrivals.length ? Math.min(...this.arrivals.map((arrival) => arrival.act)) : null;
  }

  firstRaw(now) {
    return this.arrivals.find((arrival) => arrival.raw > now)?.raw ?? null;
  }

  // Give what has come at the terminals by now and was not taken in yet.
  comeBy(now) {
    return this.arrivals.filter((arrival) => arrival.raw <= now);
  }

  // Give what is taken in now, no level twice.
  due(now) {
    const found = new Map();
    for (const arrival of this.comeBy(now)) {
      if (arrival.act <= now && !found.has(arrival.level)) found.set(arrival.level, arrival);
    }
    return [...found.values()];
  }

  // Give what comes at the terminals before a time and was not taken in yet, each with all of its moment.
  batchesBefore(end) {
    const batches = new Set(this.arrivals.filter((arrival) => arrival.raw < end).map((arrival) => arrival.batch));
    return [...batches].map((batch) => this.arrivals.filter((arrival) => arrival.batch === batch));
  }

  take(taken) {
    this.lastAct = this.withActsOf(taken);
    this.arrivals = this.arrivals.filter((arrival) => !taken.includes(arrival));
  }
}

// Give a level for a value at the terminal; `held` is the level before, for the limit where it lets go.
function levelOf(level, value, held) {
  const limit = level.limit;
  if (limit === null) return Boolean(value);
  if (held && limit.until !== null) return !compare(value, limit.until_op, limit.until);
  return compare(value, limit.op, limit.limit);
}

function compare([over, under], op, [limitOver, limitUnder]) {
  const one = BigInt(over) * BigInt(limitUnder);
  const other = BigInt(limitOver) * BigInt(under);
  return { "<": one < other, "<=": one <= other, ">": one > other, ">=": one >= other }[op];
}
