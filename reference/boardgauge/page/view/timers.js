// The times that run: what has gone by, what is left, what is counted.
//
// Law of this file: every figure is the engine's. A bar repeats what the words beside it say.

class Timers {
  constructor(page) {
    this.page = page;
    this.list = byId("timers");
    this.none = byId("no-timers");
    this.rows = new Map();
  }

  update(session) {
    const rows = session.timers();
    const keys = rows.map((row) => (row.count ? `count ${row.name}` : `timing ${row.timing}`));
    this.none.hidden = rows.some((row) => !row.count || row.at > 0);
    for (const [key, made] of this.rows) {
      if (keys.includes(key)) continue;
      made.element.remove();
      this.rows.delete(key);
    }
    rows.forEach((row, index) => {
      if (!this.rows.has(keys[index])) {
        const made = row.count ? this.countRow(row) : this.timingRow(row);
        this.rows.set(keys[index], made);
      }
      const made = this.rows.get(keys[index]);
      const here = this.list.children[index] ?? null;
      if (here !== made.element) this.list.insertBefore(made.element, here);
      if (row.count) this.showCount(made, row);
      else this.showTiming(made, row);
    });
  }

  timingRow(row) {
    const bar = make("progress", { "aria-label": `${row.name}, time gone by` });
    const figures = make("span", { class: "figures" });
    const rate = make("span", { class: "rate" });
    const name = make("span", { class: "what" }, make("b", {}, capital(row.name)), clauseOf(row));
    const element = make("li", { "data-timing": row.name }, name, rate, bar, figures);
    return { element, bar, figures, rate };
  }

  showTiming({ bar, figures, rate, element }, row) {
    const gone = Math.min(row.elapsed, row.lasts);
    put(bar, "max", Math.max(1, row.lasts));
    put(bar, "value", gone);
    const still = row.left === null;
    put(element, "data-still", still);
    const left = still ? "stands still" : `${clockTime(floorTenth(row.left))} left`;
    say(figures, `${clockTime(floorTenth(gone))} of ${clockTime(row.lasts)}, ${left}`);
    say(rate, row.rate > 1 ? `${row.rate}× faster` : "");
  }

  countRow(row) {
    const boxes = make("span", { class: "boxes", "aria-hidden": "true" });
    const figures = make("span", { class: "figures" });
    const name = make("span", { class: "what" }, make("b", {}, capital(row.name)), clauseOf(row));
    return { element: make("li", { "data-count": row.name }, name, boxes, figures), boxes, figures };
  }

  showCount({ boxes, figures }, row) {
    say(boxes, "■".repeat(row.at) + "□".repeat(row.limit - row.at));
    const ages = row.events.map((event) => {
      const left = event.left === null ? "" : `, counts for ${clockTime(floorTenth(event.left))} more`;
      return `one ${clockTime(floorTenth(event.elapsed))} old${left}`;
    });
    const rate = row.events.some((event) => event.rate > 1) ? [`${row.events[0].rate}× faster`] : [];
    say(figures, [`${row.at} of ${row.limit}`, ...ages, ...rate].join("; "));
  }
}

function floorTenth(time) {
  return Math.floor(time / 100000) * 100000;
}
