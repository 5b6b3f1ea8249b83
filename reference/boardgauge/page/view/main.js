// The page: the clock, the controls and the keys, and who is told of what.
//
// Law of this file: the only clock read is the page's own, to play the board's; the board goes on in hundredths of a
// second, so that every time in the log is one a person can check.

const GRAIN = 10000;
const LONGEST_FRAME = 250;
const STEP = 1e6;
const REDRAW = 90;

class Page {
  constructor(table) {
    this.table = table;
    this.session = new Session(table);
    this.unit = "°C";
    this.playing = false;
    this.speed = 1;
    this.rest = 0;
    this.last = 0;
    this.drawn = 0;
    this.still = matchMedia("(prefers-reduced-motion: reduce)");
    const sensor = table.inputs.find((row) => row.slider && row.slider.length > 1);
    if (sensor) this.unit = sensor.slider[0].unit;
    this.inputs = new Inputs(this, table);
    this.outputs = new Outputs(this, table);
    this.timers = new Timers(this);
    this.log = new Log(this);
    this.chart = new Chart(this);
    this.predict = new Predict(this);
    this.wire();
    this.refresh();
    requestAnimationFrame((now) => this.frame(now));
  }

  get predicting() {
    return byId("predict-mode").checked;
  }

  wire() {
    const click = (id, deed) => byId(id).addEventListener("click", deed);
    click("play", () => this.play(!this.playing));
    click("step", () => this.step());
    click("next", () => this.next());
    click("undo", () => this.undo());
    click("redo", () => this.redo());
    click("over", () => this.over());
    click("save", () => this.save());
    byId("keep").addEventListener("toggle", () => this.refresh());
    for (const radio of document.querySelectorAll('input[name="speed"]')) {
      radio.addEventListener("change", () => this.setSpeed(Number(radio.value)));
    }
    for (const radio of document.querySelectorAll('input[name="unit"]')) {
      put(radio, "checked", radio.value === this.unit);
      radio.checked = radio.value === this.unit;
      radio.addEventListener("change", () => {
        this.unit = radio.value;
        this.refresh();
      });
    }
    byId("way").addEventListener("change", () => {
      this.play(false);
      this.session.startOver(byId("way").value, "starting over");
      this.refresh();
      this.announce("The board starts over, with the supply off.");
    });
    byId("predict-mode").addEventListener("change", () => {
      this.play(false);
      this.predict.drop();
      this.predict.result.hidden = true;
      this.refresh();
      if (this.predicting) this.predict.part.scrollIntoView({ block: "nearest" });
    });
    document.addEventListener("keydown", (event) => this.key(event));
    addEventListener("resize", () => this.refresh());
  }

  // -- what can be done -------------------------------------------------------------------------------------------

  // Say a change in words.
  words(input, value) {
    if (input === "power") return `the supply ${value ? "comes on" : "is lost"}`;
    const row = this.table.inputs[input];
    if (!row.slider) return row.becomes[Number(value)];
    const slider = this.inputs.slider(row);
    const number = (sliderSteps(slider, value) * slider.step[0]) / slider.step[1];
    return `${row.name} is ${number.toFixed(slider.places)} ${slider.unit}`;
  }

  flip(input) {
    const planned = this.predict.plans.get(input);
    const value = input === "power" ? this.session.powered : this.session.valueOf(input);
    this.set(input, !(planned ?? value), value);
  }

  set(input, value, stands = null) {
    if (this.predicting) this.predict.plan(input, value, stands === value);
    else this.session.change([{ input, value }], this.words(input, value));
    this.refresh();
  }

  tap(input) {
    this.session.tap(input, TAP, `${this.table.inputs[input].name} is pressed for a second`);
    this.refresh();
  }

  turn(setting, position) {
    this.session.turn(setting, position, `${this.table.settings[setting].name} is set`);
    this.refresh();
  }

  play(on) {
    this.playing = on && !this.predicting && this.session.trouble === null;
    this.rest = 0;
    this.refresh();
  }

  step() {
    if (this.predicting) return;
    this.session.go(this.session.now + STEP, "a step of 1 s");
    this.refresh();
  }

  next() {
    if (this.predicting) return;
    const time = this.session.nextThing();
    if (time === null) {
      this.announce("Nothing will happen by itself. Change an input.");
      return;
    }
    this.session.go(time, "going on to the next thing");
    this.refresh();
  }

  undo() {
    this.play(false);
    const undone = this.session.undo();
    this.predict.drop();
    this.refresh();
    if (undone !== null) this.announce(`Undone: ${undone}.`);
  }

  redo() {
    this.play(false);
    const done = this.session.redo();
    this.predict.drop();
    this.refresh();
    if (done !== null) this.announce(`Done again: ${done}.`);
  }

  over() {
    this.play(false);
    this.session.startOver(this.session.way, "starting over");
    this.predict.drop();
    this.refresh();
    this.announce("The board starts over, with the supply off.");
  }

  save() {
    const address = URL.createObjectURL(new Blob([scenarioText(this.session)], { type: "text/plain" }));
    make("a", { href: address, download: `${this.table.board.id}-played.toml` }).click();
    URL.revokeObjectURL(address);
  }

  setSpeed(speed) {
    this.speed = speed;
    for (const radio of document.querySelectorAll('input[name="speed"]')) radio.checked = Number(radio.value) === speed;
    this.rest = 0;
    this.refresh();
  }

  // -- keys -------------------------------------------------------------------------------------------------------

  key(event) {
    const { target } = event;
    const typing = target.closest("select, textarea, input:not([type=range], [type=radio], [type=checkbox])") !== null;
    if (event.ctrlKey || event.metaKey || event.altKey || typing || !byId("keys-on").checked) return;
    const digit = /^[0-9]$/.test(event.key);
    const speeds = [1, 10, 60];
    const speed = (by) => this.setSpeed(speeds[Math.max(0, Math.min(2, speeds.indexOf(this.speed) + by))]);
    const deeds = {
      p: () => this.play(!this.playing), s: () => this.step(), n: () => this.next(), u: () => this.undo(),
      r: () => this.redo(), o: () => this.over(), m: () => byId("predict-mode").click(),
      w: () => this.predicting && this.predict.planWait(), "+": () => speed(1), "-": () => speed(-1),
      "?": () => { byId("keys").open = !byId("keys").open; byId("keys").scrollIntoView({ block: "nearest" }); },
    };
    const key = event.key.toLowerCase();
    if (digit) {
      const row = this.inputs.rows.find((one) => one.button?.getAttribute("aria-keyshortcuts") === event.key);
      if (!row) return;
      this.flip(row.input);
    } else if (deeds[key]) {
      deeds[key]();
    } else {
      return;
    }
    event.preventDefault();
  }

  // -- showing ----------------------------------------------------------------------------------------------------

  frame(now) {
    const passed = Math.min(LONGEST_FRAME, now - this.last);
    this.last = now;
    if (this.playing) {
      this.rest += passed * 1000 * this.speed;
      const whole = Math.floor(this.rest / GRAIN) * GRAIN;
      if (whole > 0) {
        this.rest -= whole;
        this.session.run(Math.floor((this.session.now + whole) / GRAIN) * GRAIN);
        if (this.session.trouble !== null) this.play(false);
        else if (now - this.drawn > REDRAW) {
          this.drawn = now;
          this.refresh();
        }
      }
    }
    this.outputs.flash(now, this.still.matches);
    requestAnimationFrame((later) => this.frame(later));
  }

  refresh() {
    const { session, predicting } = this;
    const asked = predicting && this.predict.ready;
    this.inputs.update(session, this.predict.plans);
    this.outputs.update(session, asked);
    this.timers.update(session);
    const latest = this.log.update(session);
    if (latest !== null) this.announce(latest);
    this.chart.update(session);
    say(byId("clock"), clockTime(Math.floor(session.now / 100000) * 100000));
    say(byId("play-word"), this.playing ? "Pause" : "Run");
    put(byId("play"), "data-playing", this.playing);
    for (const id of ["play", "step", "next"]) put(byId(id), "disabled", predicting || session.trouble !== null);
    put(byId("undo"), "disabled", !session.past.length);
    put(byId("redo"), "disabled", !session.future.length);
    byId("way").value = session.way;
    byId("predict").hidden = !predicting;
    byId("hint").hidden = session.board.story.length > 0;
    const trouble = byId("trouble");
    trouble.hidden = session.trouble === null;
    const lost = `The spec does not come to rest here: ${session.trouble}. Undo the last step.`;
    say(trouble, session.trouble === null ? "" : lost);
    if (predicting) this.predict.show();
    if (byId("keep").open && !this.playing) byId("scenario").value = scenarioText(session);
  }

  announce(text) {
    say(byId("announce"), text);
  }
}

const boardgauge = new Page(JSON.parse(byId("table").textContent));
globalThis.boardgauge = boardgauge;
