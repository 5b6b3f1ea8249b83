// How long a running timing still has, while a speed-up shortens some.
//
// Law of this file: exact. Times are whole microseconds and rates whole numbers; where a percentage makes a fraction,
// whole big numbers are used, and coming back to real time rounds up. A timing uses up its nominal part in board time,
// then its seconds at rate 1; stretches in which it stands still count for nothing.

class BoardTime {
  constructor() {
    this.real = [0];
    this.board = [0];
    this.rates = [1];
  }

  copy() {
    const made = new BoardTime();
    made.real = this.real.slice();
    made.board = this.board.slice();
    made.rates = this.rates.slice();
    return made;
  }

  get rate() {
    return this.rates[this.rates.length - 1];
  }

  change(time, rate) {
    if (rate === this.rate) return;
    const from = this.real.length > 1 ? Math.max(time, this.real[this.real.length - 1]) : time;
    this.board.push(this.at(from));
    this.real.push(from);
    this.rates.push(rate);
  }

  // Give the board time of a real time.
  at(time) {
    const index = lastNotAfter(this.real, (value) => value <= time);
    return this.board[index] + (time - this.real[index]) * this.rates[index];
  }

  // Give the first whole microsecond of real time by which a board time (over, under) is reached.
  when(over, under) {
    const index = lastNotAfter(this.board, (value) => BigInt(value) * under <= over);
    const left = over - BigInt(this.board[index]) * under;
    return this.real[index] + Number(roundedUp(left, under * BigInt(this.rates[index])));
  }
}

function lastNotAfter(values, notAfter) {
  let index = values.length - 1;
  while (index > 0 && !notAfter(values[index])) index -= 1;
  return index;
}

function roundedUp(over, under) {
  const whole = over / under;
  return over % under > 0n ? whole + 1n : whole;
}

// One timing that was set going; `since` is where its present stretch counts from, null while it stands still.
class Going {
  constructor(timing, choice, draw, begun, origin) {
    this.timing = timing;
    this.choice = choice;
    this.draw = draw;
    this.begun = begun;
    this.since = origin;
    this.ran = [];
    this.notBefore = begun;
    this.end = 0;
  }

  copy() {
    const made = Object.assign(Object.create(Going.prototype), this);
    made.ran = this.ran.slice();
    return made;
  }

  pause(time) {
    if (this.since === null) return;
    if (time > this.since) this.ran.push([this.since, time]);
    this.since = null;
  }

  workOut(boardTime) {
    this.end = Math.max(this.over(boardTime, this.draw), this.notBefore);
  }

  // Give the latest end the spec allows it.
  latest(boardTime) {
    return this.over(boardTime, this.choice.last);
  }

  over(boardTime, [over, under, seconds]) {
    const parts = BigInt(under);
    let left = BigInt(over);
    let real = seconds;
    for (const [start, stop] of this.ran) {
      const began = boardTime.at(start);
      if (left > 0n) {
        const used = BigInt(boardTime.at(stop) - began) * parts;
        if (used < left) {
          left -= used;
          continue;
        }
        real = Math.max(0, real - (stop - boardTime.when(BigInt(began) * parts + left, parts)));
        left = 0n;
      } else {
        real = Math.max(0, real - (stop - start));
      }
    }
    if (left <= 0n) return this.since + Math.max(0, real);
    const reached = boardTime.when(BigInt(boardTime.at(this.since)) * parts + left, parts);
    return Math.max(this.since, reached + real);
  }

  // Give how much of it has run up to a time, in the board's own time (microseconds).
  elapsed(boardTime, time) {
    const stretches = this.since === null ? this.ran : [...this.ran, [this.since, Math.max(this.since, time)]];
    return stretches.reduce((sum, [start, stop]) => sum + boardTime.at(stop) - boardTime.at(start), 0);
  }
}
