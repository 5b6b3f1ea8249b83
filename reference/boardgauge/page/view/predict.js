// Say first, then see: a class tells what the board will do before it does it.
//
// Law of this file: what is right is worked out by the engine on a copy of the board, after the answers were given; the
// explanation is the rule's own. An answer left open counts neither way.

const SECOND = 1e6;

class Predict {
  constructor(page) {
    this.page = page;
    this.plans = new Map();
    this.waiting = false;
    this.asked = 0;
    this.right = 0;
    this.part = byId("predict");
    this.planned = byId("planned");
    this.questions = byId("questions");
    this.when = byId("predict-when");
    this.result = byId("predict-result");
    byId("predict-wait").addEventListener("click", () => this.planWait());
    byId("predict-drop").addEventListener("click", () => this.drop());
    byId("predict-form").addEventListener("submit", (event) => {
      event.preventDefault();
      this.check();
    });
    this.build();
  }

  build() {
    const { table } = this.page;
    this.outputs = table.outputs.map((row, index) => {
      const choice = (value, word) =>
        make("label", {}, make("input", { type: "radio", name: `predict-${index}`, value }), word);
      this.questions.append(make("fieldset", { "data-asked": row.id },
        make("legend", {}, capital(row.name)), choice("1", "on"), choice("0", "off")));
      return () => this.part.querySelector(`input[name="predict-${index}"]:checked`)?.value ?? null;
    });
    this.lamps = table.lamps.map((lamp) => {
      const patterns = [...new Set([...lamp.lines.map((line) => line.shows), "dark"])];
      const select = make("select", { id: `predict-lamp-${lamp.id}` }, make("option", { value: "" }, "no answer"),
        ...patterns.map((shows) => make("option", { value: shows }, shows)));
      this.questions.append(make("p", { class: "asked-lamp" },
        make("label", { for: select.id }, capital(lamp.name)), select));
      return select;
    });
  }

  // Plan a change; one that only says what already stands is taken back.
  plan(input, value, stands) {
    this.waiting = false;
    this.result.hidden = true;
    if (stands) this.plans.delete(input);
    else this.plans.set(input, value);
    this.show();
  }

  planWait() {
    this.plans.clear();
    this.waiting = true;
    this.result.hidden = true;
    this.show();
  }

  drop() {
    this.plans.clear();
    this.waiting = false;
    this.show();
    this.page.refresh();
  }

  get ready() {
    return this.waiting || this.plans.size > 0;
  }

  show() {
    const changes = [...this.plans].map(([input, value]) => this.page.words(input, value));
    const planned = `${changes.map(capital).join(", and ")}.`;
    const text = this.waiting ? "Time goes by until the next thing happens." : planned;
    say(this.planned, this.ready ? text : "Change an input or a switch, or let time go by. Nothing is done yet.");
    byId("predict-form").hidden = !this.ready;
    this.when.closest("p").hidden = !this.waiting;
  }

  // Compare the answers with what the board does, then let it do it.
  check() {
    const { session, unit } = this.page;
    const trial = session.trial();
    const from = session.now;
    const next = this.waiting ? session.nextThing() : from;
    if (next === null) {
      fill(this.result, make("p", {}, "Nothing will happen by itself, however long you wait."));
      this.finish(() => {});
      return;
    }
    if (this.waiting) trial.run(next);
    else {
      trial.reach();
      trial.take([...this.plans].map(([input, value]) => ({ input, value })));
    }
    const { engine } = session;
    const { config } = trial.board;
    const rows = [];
    const outputs = engine.outputs(config);
    this.page.table.outputs.forEach((row, index) => {
      const given = this.outputs[index]();
      if (given === null) return;
      const is = outputs[index] ? "on" : "off";
      rows.push([capital(row.name), given === "1" ? "on" : "off", is, whyOutput(engine, config, index, unit)]);
    });
    const lines = engine.lampLines(config);
    this.page.table.lamps.forEach((lamp, index) => {
      const given = this.lamps[index].value;
      if (given === "") return;
      const is = lines[index] < 0 ? "dark" : lamp.lines[lines[index]].shows;
      rows.push([capital(lamp.name), given, is, whyLamp(engine, config, index, unit)]);
    });
    if (this.waiting && this.when.value !== "") rows.push(this.timed(session, next - from));
    this.report(rows, trial, from);
    const { plans, waiting } = this;
    this.finish(() => {
      if (waiting) session.go(next, "the next thing");
      else session.change([...plans].map(([input, value]) => ({ input, value })), "what was predicted");
    });
  }

  // Give the row for "when": right inside what is allowed to the timing that ends, or within a second.
  timed(session, lasted) {
    const given = Math.round(Number(this.when.value) * 1e6);
    const isEnding = (row) => !row.count && row.left !== null && Math.abs(row.left - lasted) < 1000;
    const ends = session.timers().filter(isEnding);
    const range = ends.length ? session.table.timings[ends[0].timing] : null;
    const choice = range === null ? null : session.board.time.going.get(ends[0].timing).choice;
    const allowed = (length) => (choice === null ? 0 : (length - ends[0].lasts) / ends[0].rate);
    const least = lasted + Math.min(-SECOND, allowed(choice?.shortest));
    const right = given >= least && given <= lasted + Math.max(SECOND, allowed(choice?.longest));
    const rule = range === null ? null : withClause(`${range.name} lasts ${range.lasts}`, range.clause);
    return ["When", clockTime(given), clockTime(lasted), rule ?? "nothing else was due before", right];
  }

  report(rows, trial, from) {
    const { session, unit } = this.page;
    const marked = rows.map(([name, given, is, why, timed]) => ({ name, given, is, why, ok: timed ?? given === is }));
    this.asked += marked.length;
    const fresh = trial.board.story.filter((entry) => !session.board.story.includes(entry) && entry.time >= from);
    const sentences = fresh
      .map((entry) => told(session.table, session.engine, entry, unit))
      .flatMap((one) => (one === null ? [] : [capital(one.text)]));
    const body = marked.map((row) => make("tr", { class: row.ok ? "right" : "wrong" },
      make("th", { scope: "row" }, row.name),
      make("td", {}, make("span", { class: "mark" }, row.ok ? "✓ right" : "✗ not so"), ` you said ${row.given}`),
      make("td", {}, make("b", {}, row.is), `, because: ${row.why}`)));
    const columns = ["Asked", "Your answer", "What the board does"].map((text) => make("th", { scope: "col" }, text));
    const head = make("thead", {}, make("tr", {}, ...columns));
    const happened = (sentences.length ? sentences : ["Nothing changes."]).map((text) => make("li", {}, text));
    const right = marked.filter((row) => row.ok).length;
    this.right += right;
    const score = `${right} of ${marked.length} right; ${this.right} of ${this.asked} in all.`;
    fill(this.result,
      make("h3", {}, "What happened"), make("ul", {}, ...happened),
      ...(marked.length ? [make("table", {}, head, make("tbody", {}, ...body))] : []),
      ...(marked.length ? [make("p", { id: "score" }, score)] : []),
      trial.trouble === null ? "" : make("p", { class: "broken" }, trial.trouble));
  }

  finish(deed) {
    deed();
    this.plans.clear();
    this.waiting = false;
    byId("predict-form").reset();
    this.result.hidden = false;
    this.show();
    this.page.refresh();
    this.result.focus();
  }
}
