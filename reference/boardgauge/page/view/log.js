// What happened, in words, the latest first.
//
// Law of this file: one entry an instant, as the engine tells it; an undone instant is gone from the list.

const MOST_SHOWN = 300;

class Log {
  constructor(page) {
    this.page = page;
    this.list = byId("log");
    this.entries = [];
    this.unit = null;
  }

  update(session) {
    const { story } = session.board;
    const { unit } = this.page;
    let same = 0;
    if (unit === this.unit) {
      while (same < story.length && story[same] === this.entries[same]?.entry) same += 1;
    }
    if (same === story.length && same === this.entries.length) return null;
    for (const { element } of this.entries.splice(same)) element?.remove();
    let latest = null;
    for (const entry of story.slice(same)) {
      const words = told(session.table, session.engine, entry, unit);
      const element = words === null ? null : make("li", { class: entry.outcome?.broken.length ? "broken" : null },
        make("time", {}, clockTime(entry.time)), make("span", {}, capital(words.text)));
      if (element !== null) {
        this.list.prepend(element);
        latest = words.text;
      }
      this.entries.push({ entry, element });
    }
    while (this.list.children.length > MOST_SHOWN) this.list.lastElementChild.remove();
    this.unit = unit;
    byId("no-log").hidden = this.list.children.length > 0;
    return latest;
  }
}
