// What the board does: its outputs and its lamps.
//
// Law of this file: on and off are said, drawn by a filled or an empty coil, and only then coloured. A lamp flashes no
// faster than three times a second, whatever its pattern; the pattern always stands beside it, drawn and in words.

const SLOWEST_FLASH = 400;
const STRIP = { width: 168, height: 26, seconds: 6e6 };

class Outputs {
  constructor(page, table) {
    this.page = page;
    this.table = table;
    this.rows = table.outputs.map((row) => this.outputRow(row));
    this.lamps = table.lamps.map((row) => this.lampRow(row));
    byId("outputs").append(...this.rows.map((one) => one.element));
    byId("lamps").append(...this.lamps.map((one) => one.element));
  }

  outputRow(row) {
    const state = make("span", { class: "state" });
    const why = make("p", { class: "why" });
    const coil = draw("svg", { class: "coil", viewBox: "0 0 28 28", "aria-hidden": "true" },
      draw("circle", { cx: 14, cy: 14, r: 10 }), draw("path", { d: "M8.5 14.5L12.5 18.5L20 9.5" }));
    const contact = row.contact === "normally closed" ? " · normally closed contact" : "";
    const what = make("span", { class: "what" }, make("b", {}, capital(row.name)),
      make("small", {}, `${row.id}${contact}${clauseText(row)}`));
    const element = make("li", { "data-output": row.id }, coil, what, make("span", { class: "stands" }, state), why);
    return { state, why, coil, element };
  }

  lampRow(row) {
    const shows = make("b", { class: "state" });
    const means = make("span", { class: "means" });
    const why = make("p", { class: "why" });
    const slow = make("small", { class: "slow" });
    const bulb = draw("svg", { class: "bulb", viewBox: "0 0 48 48", "aria-hidden": "true" },
      draw("path", { class: "rays", d: rays() }), draw("circle", { cx: 24, cy: 24, r: 11 }));
    const strip = draw("svg", { class: "strip", viewBox: `0 0 ${STRIP.width} ${STRIP.height}`, "aria-hidden": "true" });
    const element = make("li", { class: "lamp", "data-lamp": row.id }, bulb,
      make("span", { class: "what" }, make("span", { class: "lamp-name" }, capital(row.name)), shows, means),
      strip, slow, why);
    return { row, shows, means, why, slow, bulb, strip, element, line: null, parts: DARK, since: 0 };
  }

  // Bring outputs and lamps up to date; reasons are left out while a class is asked.
  update(session, hideReasons) {
    const { board, engine } = session;
    const shown = board.shown();
    const commanded = engine.outputs(board.config);
    this.rows.forEach(({ state, why, coil, element }, index) => {
      say(state, shown[index] ? "ON" : "off");
      put(coil, "data-on", shown[index]);
      put(element, "data-on", shown[index]);
      const late = shown[index] === commanded[index] ? "" : " (the relay follows in a moment)";
      say(why, hideReasons ? "" : `because: ${whyOutput(engine, board.config, index, this.page.unit)}${late}`);
    });
    engine.lampLines(board.config).forEach((line, index) => {
      const lamp = this.lamps[index];
      if (line !== lamp.line) this.showLine(lamp, line);
      say(lamp.means, line < 0 ? "no supply" : said(lamp.row.lines[line].means, this.page.unit));
      say(lamp.why, hideReasons ? "" : `because: ${whyLamp(engine, board.config, index, this.page.unit)}`);
    });
  }

  showLine(lamp, line) {
    lamp.line = line;
    lamp.since = performance.now();
    const row = line < 0 ? { parts: DARK, shows: "dark" } : lamp.row.lines[line];
    lamp.parts = row.parts;
    lamp.pace = pace(row.parts);
    say(lamp.shows, row.shows);
    say(lamp.slow, lamp.pace > 1 ? "the lamp is drawn slower than it flashes" : "");
    fill(lamp.strip, ...stripOf(row.parts));
    this.light(lamp, performance.now());
  }

  // Let the lamps flash; `now` is the page's own time in milliseconds.
  flash(now, still) {
    for (const lamp of this.lamps) this.light(lamp, now, still);
  }

  light(lamp, now, still = false) {
    const flashes = lamp.parts.length > 1;
    const time = ((now - lamp.since) * 1000) / (lamp.pace ?? 1);
    const lit = isLit(lamp.parts, 0, time, "nominal") ? "yes" : "no";
    put(lamp.bulb, "data-lit", still && flashes ? "part" : lit);
  }
}

// Give how many times slower a pattern is drawn, so that it never flashes more than three times a second.
function pace(parts) {
  if (parts.length < 2) return 1;
  const flashes = parts.map((part, index) => part.nominal + parts[(index + 1) % parts.length].nominal);
  return Math.max(1, (SLOWEST_FLASH * 1000) / Math.min(...flashes));
}

function rays() {
  return Array.from({ length: 8 }, (_, index) => {
    const [x, y] = [Math.cos((index * Math.PI) / 4), Math.sin((index * Math.PI) / 4)];
    const at = (radius) => `${(24 + radius * x).toFixed(1)} ${(24 + radius * y).toFixed(1)}`;
    return `M${at(15)}L${at(21)}`;
  }).join("");
}

// Draw a pattern over some seconds: high while lit.
function stripOf(parts) {
  const x = (time) => (time / STRIP.seconds) * (STRIP.width - 4) + 2;
  let path = "";
  let time = 0;
  for (let index = 0; time < STRIP.seconds; index = (index + 1) % parts.length) {
    const end = Math.min(STRIP.seconds, time + (parts[index].nominal ?? STRIP.seconds));
    const y = parts[index].lit ? 4 : 20;
    path += `${path ? "L" : "M"}${x(time).toFixed(2)} ${y}L${x(end).toFixed(2)} ${y}`;
    time = end;
  }
  const ticks = Array.from({ length: 7 }, (_, second) => `M${x(second * 1e6).toFixed(2)} 22V25`).join("");
  return [draw("path", { class: "ticks", d: ticks }), draw("path", { class: "wave", d: path })];
}
