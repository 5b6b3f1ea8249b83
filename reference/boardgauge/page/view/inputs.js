// What comes to the board: supply, calls, switches, links, buttons, sensors, and its settings.
//
// Law of this file: every control says in words how it stands and draws it as a contact; colour only repeats that.

const TAP = 1e6;
const KEYS = "123456789";

class Inputs {
  // `page` carries out what is clicked: page.flip(input), page.set(input, value), page.tap(input), page.turn(...).
  constructor(page, table) {
    this.page = page;
    this.table = table;
    this.rows = [];
    const list = byId("inputs");
    list.append(this.switchRow("power", { name: "supply", id: "power", states: ["off", "on"], kind: "supply" }, "0"));
    table.inputs.forEach((row, index) => {
      list.append(row.slider ? this.sensorRow(index, row) : this.switchRow(index, row, KEYS[index]));
    });
    this.settings = table.settings.map((row, index) => this.settingRow(row, index));
    byId("settings").append(...this.settings.map((one) => one.element));
    byId("settings-part").hidden = !table.settings.length;
    byId("units").hidden = !table.inputs.some((row) => row.slider && row.slider.length > 1);
  }

  switchRow(input, row, key) {
    const state = make("span", { class: "state" });
    const planned = make("span", { class: "planned" });
    const symbol = contactSymbol();
    const button = make(
      "button",
      { type: "button", role: "switch", class: "switch", "data-input": row.id, onclick: () => this.page.flip(input) },
      symbol,
      make("span", { class: "what" }, make("b", {}, capital(row.name)), kindOf(row)),
      make("span", { class: "stands" }, state, planned),
      key ? make("kbd", { "aria-hidden": "true" }, key) : null,
    );
    if (key) put(button, "aria-keyshortcuts", key);
    const parts = [button];
    let tap = null;
    if (row.kind === "button") {
      tap = make("button", { type: "button", class: "tap", "data-tap": row.id, onclick: () => this.page.tap(input) },
        "Press 1 s", make("span", { class: "hidden" }, ` ${row.name}`));
      parts.push(tap);
    }
    this.rows.push({ input, row, button, state, planned, symbol, tap });
    return make("li", { class: row.kind === "button" ? "with-tap" : null }, ...parts);
  }

  sensorRow(input, row) {
    const value = make("output", { class: "state" });
    const planned = make("span", { class: "planned" });
    const range = make("input", { type: "range", "data-input": row.id, "aria-label": capital(row.name) });
    const sensor = { input, row, range, value, planned, sensor: true };
    range.addEventListener("input", () => this.showValue(sensor));
    range.addEventListener("change", () => {
      this.page.set(input, sliderValue(this.slider(row), Number(range.value)));
    });
    this.rows.push(sensor);
    return make("li", { class: "sensor" },
      make("span", { class: "what" }, make("b", {}, capital(row.name)), kindOf(row)),
      make("span", { class: "stands" }, value, planned), range);
  }

  slider(row) {
    return row.slider.find((one) => one.unit === this.page.unit) ?? row.slider[0];
  }

  showValue({ row, range, value }) {
    const slider = this.slider(row);
    const number = (Number(range.value) * slider.step[0]) / slider.step[1];
    const text = `${number.toFixed(slider.places).replace("-", "−")} ${slider.unit}`;
    say(value, text);
    put(range, "aria-valuetext", text);
  }

  settingRow(row, index) {
    const dial = row.positions.some((position) => position.name !== null);
    const note = make("span", { class: "note" });
    const told = make("span", { class: "state" });
    let select = null;
    if (dial) {
      select = make("select", { id: `setting-${row.id}`, onchange: () => this.page.turn(index, Number(select.value)) },
        ...row.positions.map((position, at) => make("option", { value: at }, `${position.name}: ${row.lasts[at]}`)));
    }
    const name = make(dial ? "label" : "span", { class: "what", for: dial ? `setting-${row.id}` : null },
      make("b", {}, capital(row.name)), clauseOf(row));
    return { row, index, select, told, note, element: make("li", {}, name, dial ? select : told, note) };
  }

  // Bring all controls up to date; `plans` are changes that are only planned: input -> value.
  update(session, plans) {
    for (const one of this.rows) {
      const plan = plans.get(one.input);
      if (one.sensor) this.updateSensor(one, plan ?? session.valueOf(one.input), plan !== undefined);
      else this.updateSwitch(one, one.input === "power" ? session.powered : session.valueOf(one.input), plan);
    }
    const { config } = session.board;
    const picture = session.engine.picture(config);
    for (const { row, index, select, told, note } of this.settings) {
      const position = row.read === "always" && config.powered
        ? session.engine.readSetting(index, config.settings[index], picture)
        : config.settings[index];
      const read = row.read === "always" ? "read whenever a time begins" : "read at power-up";
      if (select === null) {
        say(told, config.powered ? row.lasts[position] : "not read yet");
        say(note, config.powered ? `${said(row.chosen[position], this.page.unit)}; ${read}` : read);
      } else {
        const may = session.mayTurn(index);
        put(select, "disabled", !may);
        select.value = String(position);
        say(note, may ? read : `${read}; switch the supply off to change it`);
      }
    }
  }

  updateSwitch({ row, button, state, planned, symbol, tap }, value, plan) {
    say(state, row.states[Number(value)]);
    say(planned, plan === undefined ? "" : `then ${row.states[Number(plan)]}`);
    put(button, "aria-checked", String(value));
    put(button, "data-planned", plan !== undefined);
    put(symbol, "data-closed", value);
    if (tap !== null) put(tap, "disabled", this.page.predicting || value);
  }

  updateSensor(one, value, plan) {
    const slider = this.slider(one.row);
    const steps = value === null ? slider.first : sliderSteps(slider, value);
    if (document.activeElement !== one.range || Number(one.range.value) !== steps || one.unit !== slider.unit) {
      put(one.range, "min", Math.min(slider.least, steps));
      put(one.range, "max", Math.max(slider.greatest, steps));
      one.range.value = String(steps);
      one.unit = slider.unit;
    }
    this.showValue(one);
    say(one.planned, plan ? "planned" : "");
  }
}

function kindOf(row) {
  const kind = row.contact ? `${row.contact} ${row.kind}` : row.kind;
  return make("small", {}, row.kind === "supply" ? "power to the board" : `${row.id} · ${kind}`, clauseText(row));
}

function clauseText(row) {
  return row.clause ? ` · clause ${row.clause}` : "";
}

function clauseOf(row) {
  return row.clause ? make("small", {}, `clause ${row.clause}`) : null;
}

// Draw a contact whose blade lies open or closed.
function contactSymbol() {
  return draw("svg", { class: "contact", viewBox: "0 0 44 24", "aria-hidden": "true" },
    draw("path", { d: "M2 16H13M31 16H42", class: "wire" }),
    draw("circle", { cx: 14, cy: 16, r: 2.4, class: "post" }),
    draw("circle", { cx: 30, cy: 16, r: 2.4, class: "post" }),
    draw("path", { d: "M14 16L29 5", class: "blade open" }),
    draw("path", { d: "M14 16H30", class: "blade closed" }));
}
