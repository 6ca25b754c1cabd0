// The page: a tray of pieces, a bench for the chosen one and one kept beside it, one lamp.

(() => {
  const byId = id => document.getElementById(id);
  const data = JSON.parse(byId("poses").textContent);
  const poses = data.poses, figures = data.figures;
  const still = matchMedia("(prefers-reduced-motion: reduce)");
  const degree = Math.PI / 180;
  const lamp = {turn: 135 * degree, height: 25 * degree, version: 1};
  const state = {chosen: null, kept: null, order: data.by || "number", better: true};

  function element(tag, text, attributes = {}) {
    const made = document.createElement(tag);
    if (text) made.textContent = text;
    for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
    return made;
  }
  const shareOf = figure => figure.unit === "";
  const value = (pose, k) => pose.figures[k][0];
  const words = (pose, k) => pose.figures[k][1];
  const known = figures.map((_, k) => poses.some(pose => value(pose, k) !== null));
  const figureOf = name => figures.findIndex(figure => figure.name === name);

  // ---- Surfaces, read when they are first needed ----

  const large = new Map();  // the latest few in full
  function readSurface(pose) {
    return light.decode(byId("surface" + pose.at).textContent, pose.width, pose.height);
  }
  async function largeSurface(pose) {
    const had = large.get(pose.at) || await readSurface(pose);
    large.delete(pose.at);
    large.set(pose.at, had);
    if (large.size > 6) large.delete(large.keys().next().value);
    return had;
  }

  // ---- The tray ----

  const tray = byId("tray");
  const inSight = new Set();
  const sight = new IntersectionObserver(entries => {
    for (const entry of entries) {
      const pose = poses[Number(entry.target.dataset.at)];
      if (entry.isIntersecting) inSight.add(pose); else inSight.delete(pose);
    }
    askForLight();
  }, {rootMargin: "120px"});

  function makeWell(pose, at) {
    pose.at = at;
    pose.lit = 0;
    const well = element("div", "", {role: "option", tabindex: "-1", "aria-selected": "false",
                                     id: "pose" + at, "data-at": at});
    const hollow = element("div", "", {class: "hollow"});
    pose.canvas = element("canvas", "", {"aria-hidden": "true"});
    hollow.append(pose.canvas);
    pose.figureLine = element("span");
    well.append(hollow, element("b", pose.name), pose.figureLine);
    well.className = "well";
    well.addEventListener("click", () => choose(pose));
    well.addEventListener("dblclick", () => keep(pose));
    well.addEventListener("focus", () => choose(pose, false));
    pose.well = well;
    sight.observe(well);
  }

  function figureLineOf(pose) {
    const shown = [];
    const first = figureOf(state.order);
    if (first >= 0) shown.push(first);
    figures.forEach((_, k) => {
      if (shown.length < 2 && k !== first && value(pose, k) !== null) shown.push(k);
    });
    return shown.map(k => figures[k].label + " " + words(pose, k));
  }

  function ranked() {
    const k = figureOf(state.order);
    const list = poses.slice();
    const sign = state.better ? 1 : -1;
    if (k < 0) return list.sort((a, b) => sign * (a.number - b.number));
    const up = (figures[k].better === "low" ? 1 : -1) * sign;
    return list.sort((a, b) => {
      const x = value(a, k), y = value(b, k);
      if (x === null || y === null) return (x === null) - (y === null) || a.number - b.number;
      return up * (x - y) || a.number - b.number;
    });
  }

  function passes(pose) {
    const wanted = byId("find").value.trim().toLowerCase();
    if (wanted && !pose.name.toLowerCase().includes(wanted)) return false;
    return figures.every((figure, k) => {
      const [low, high] = ["low", "high"].map(end => byId(end + "-" + figure.name))
        .map(input => !input || input.value === "" ? null : Number(input.value));
      if (low === null && high === null) return true;
      if (value(pose, k) === null) return false;
      const seen = value(pose, k) * (shareOf(figure) ? 100 : 1);
      return (low === null || seen >= low) && (high === null || seen <= high);
    });
  }

  function shown() {
    return [...tray.children].filter(well => !well.hidden).map(well => poses[well.dataset.at]);
  }

  function arrange() {
    for (const pose of ranked()) {
      pose.well.hidden = !passes(pose);
      const line = figureLineOf(pose);
      pose.figureLine.replaceChildren(...line.map(text => element("span", text)));
      pose.well.setAttribute("aria-label", [pose.name, ...line].join(", "));
      tray.append(pose.well);
    }
    const left = shown();
    const stop = left.includes(state.chosen) ? state.chosen : left[0];
    for (const pose of poses) pose.well.tabIndex = pose === stop ? 0 : -1;
    byId("nothing").hidden = left.length > 0 || poses.length === 0;
    byId("count").textContent = countText(left.length);
    const number = state.order === "number";
    byId("turn").textContent = number ? (state.better ? "First to last" : "Last to first")
                                      : (state.better ? "Better first" : "Worse first");
    askForLight();
  }

  function countText(count) {
    const all = poses.length;
    let text = count === all ? all + (all === 1 ? " pose" : " poses") : count + " of " + all + " poses";
    if (data.limited) text += ", the best of " + data.of;
    if (data.missing.length) text += ", " + data.missing.length + " missing";
    if (data.unusable.length) text += ", " + data.unusable.length + " not usable";
    return text;
  }

  // ---- Choosing and keeping ----

  function choose(pose, focus = true) {
    if (!pose) return;
    const changed = state.chosen !== pose;
    if (changed) {
      if (state.chosen) {
        state.chosen.well.setAttribute("aria-selected", "false");
        state.chosen.well.tabIndex = -1;
      }
      state.chosen = pose;
      for (const other of poses) other.well.tabIndex = other === pose ? 0 : -1;
      pose.well.setAttribute("aria-selected", "true");
      showBench();
    }
    if (focus && document.activeElement !== pose.well) pose.well.focus({preventScroll: false});
  }

  function keep(pose) {
    state.kept = state.kept === pose ? null : pose;
    showBench();
    say(state.kept ? pose.name + " is kept beside the next ones" : pose.name + " is put away");
  }

  function columns() {
    return getComputedStyle(tray).gridTemplateColumns.split(" ").length;
  }

  function onTrayKey(event) {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const list = shown(), at = list.indexOf(state.chosen);
    const steps = {ArrowRight: 1, ArrowLeft: -1, ArrowDown: columns(), ArrowUp: -columns(),
                   PageDown: 4 * columns(), PageUp: -4 * columns()};
    let to = null;
    if (event.key in steps) {
      to = at + steps[event.key];
      if (to < 0 || to >= list.length) {
        to = event.key.startsWith("Page") ? Math.max(0, Math.min(list.length - 1, to)) : at;
      }
    } else if (event.key === "Home") to = 0;
    else if (event.key === "End") to = list.length - 1;
    else if (event.key === "Enter" || event.key === " ") {
      event.preventDefault();
      if (state.chosen) keep(state.chosen);
      return;
    } else return;
    event.preventDefault();
    choose(list[to]);
  }

  // ---- The bench ----

  function showPiece(id, pose) {
    const figure = byId(id);
    figure.hidden = !pose;
    if (!pose) return;
    figure.querySelector("canvas").setAttribute("aria-label", pose.name + " as a struck piece");
    const role = state.kept ? (id === "kept" ? "kept" : "chosen") : "";
    figure.querySelector("figcaption").replaceChildren(pose.name, element("small", role));
  }

  function betterOf(k, a, b) {
    if (!a || !b || a === b || value(a, k) === null || value(b, k) === null) return null;
    if (words(a, k) === words(b, k)) return null;  // a difference that nobody can read is none
    return (value(a, k) > value(b, k)) === (figures[k].better === "high") ? a : b;
  }

  function figureCell(pose, k, better) {
    const cell = element("td", words(pose, k));
    if (better === pose) {
      cell.className = "better";
      cell.append(element("span", " better", {class: "sr"}));
    }
    return cell;
  }

  // Where a pose stands among all: a line for each, the better end at the right.
  function strip(k) {
    const values = poses.map(pose => value(pose, k)).filter(one => one !== null);
    const low = Math.min(...values), high = Math.max(...values);
    const svg = document.createElementNS("http://www.w3.org/2000/svg", "svg");
    svg.setAttribute("viewBox", "0 0 100 16");
    svg.setAttribute("preserveAspectRatio", "none");
    svg.setAttribute("aria-hidden", "true");
    const line = (pose, name) => {
      if (value(pose, k) === null) return;
      const share = high > low ? (value(pose, k) - low) / (high - low) : 0.5;
      const x = 1 + 98 * (figures[k].better === "high" ? share : 1 - share);
      const made = document.createElementNS(svg.namespaceURI, "line");
      for (const [key, at] of Object.entries({x1: x, x2: x, y1: name ? 0 : 4, y2: name ? 16 : 12}))
        made.setAttribute(key, at);
      made.setAttribute("vector-effect", "non-scaling-stroke");
      if (name) made.setAttribute("class", name);
      svg.append(made);
    };
    poses.forEach(pose => line(pose, ""));
    if (state.kept) line(state.kept, "at-kept");
    line(state.chosen, "at-chosen");
    return svg;
  }

  function showFigures() {
    const rows = figures.map((figure, k) => {
      if (!known[k]) return null;
      const row = element("tr");
      const better = betterOf(k, state.kept, state.chosen);
      row.append(element("th", figure.label, {scope: "row", title: figure.meaning}));
      if (state.kept) row.append(figureCell(state.kept, k, better));
      row.append(figureCell(state.chosen, k, better));
      const cell = element("td", "", {class: "strip"});
      cell.append(strip(k));
      row.append(cell);
      return row;
    });
    byId("head-kept").hidden = !state.kept;
    byId("figures").tBodies[0].replaceChildren(...rows.filter(row => row));
  }

  function showBench() {
    const {chosen, kept} = state;
    if (!chosen) return;
    showPiece("kept", kept);
    showPiece("chosen", chosen);
    for (const pose of poses) pose.well.classList.toggle("is-kept", pose === kept);
    byId("keep").textContent = kept === chosen ? "Kept" : "Keep beside";
    byId("keep").disabled = kept === chosen;
    byId("swap").disabled = !kept || kept === chosen;
    byId("away").disabled = !kept;
    byId("snippet").textContent = chosen.snippet;
    byId("lock").textContent = chosen.lock;
    byId("warnings").hidden = chosen.warnings.length === 0;
    byId("warnings").replaceChildren(...chosen.warnings.map(text => element("li", text)));
    showFigures();
    benchLit = 0;
    askForLight();
  }

  function say(text) {
    byId("said").textContent = text;
  }

  async function copy(text, what) {
    try {
      await navigator.clipboard.writeText(text);
    } catch {  // not allowed, or an old browser
      const area = element("textarea", "", {class: "sr", "aria-hidden": "true"});
      area.value = text;
      document.body.append(area);
      area.select();
      const done = document.execCommand("copy");
      area.remove();
      if (!done) return say("Not copied: the browser does not allow it; select the text instead");
    }
    say(what + " is copied");
  }

  // ---- The lamp ----

  let asked = false, benchLit = 0;
  function askForLight() {
    if (asked) return;
    asked = true;
    requestAnimationFrame(lightSome);
  }

  async function lightBench() {
    const version = lamp.version;
    for (const [id, pose] of [["kept", state.kept], ["chosen", state.chosen]]) {
      if (!pose) continue;
      const surface = await largeSurface(pose);
      if (state[id] !== pose) return askForLight();
      light.draw(byId(id).querySelector("canvas"), surface, lamp, pose.peak);
    }
    benchLit = version;
    if (version !== lamp.version) askForLight();
  }

  // The bench first, then what is seen of the tray, for a part of a frame.
  async function lightSome() {
    asked = false;
    const until = performance.now() + 11;
    if (state.chosen && benchLit !== lamp.version) await lightBench();
    for (const pose of inSight) {
      if (pose.lit === lamp.version || pose.well.hidden) continue;
      if (performance.now() > until) return askForLight();
      pose.small = pose.small || light.halved(await readSurface(pose));
      light.draw(pose.canvas, pose.small, lamp, pose.peak);
      pose.lit = lamp.version;
    }
    if (!state.chosen || benchLit === lamp.version)
      document.documentElement.dataset.lit = lamp.version;
  }

  function setLamp(turnDeg, heightDeg) {
    const turn = ((Math.round(turnDeg) % 360) + 360) % 360;
    const height = Math.min(66, Math.max(6, Math.round(heightDeg)));
    lamp.turn = turn * degree;
    lamp.height = height * degree;
    lamp.version += 1;
    document.documentElement.dataset.lamp = lamp.version;
    byId("lamp-turn").value = turn;
    byId("lamp-height").value = height;
    const names = ["the right", "the upper right", "above", "the upper left", "the left",
                   "the lower left", "below", "the lower right"];
    byId("from").textContent = names[Math.round(turn / 45) % 8] + ", " + turn + "\u00b0";
    byId("high").textContent = height + "\u00b0";
    const far = 46 * (1 - (height - 6) / 75);
    const style = document.documentElement.style;
    style.setProperty("--lamp-x", 50 + far * Math.cos(lamp.turn) + "%");
    style.setProperty("--lamp-y", 50 - far * Math.sin(lamp.turn) + "%");
    style.setProperty("--fall-x", -7 * Math.cos(lamp.turn) + "px");
    style.setProperty("--fall-y", 7 * Math.sin(lamp.turn) + "px");
    askForLight();
  }
  const turnDeg = () => Math.round(lamp.turn / degree);
  const heightDeg = () => Math.round(lamp.height / degree);

  // Over the middle of a piece the lamp stands high, at its edge low.
  function lampToPointer(event) {
    const box = event.currentTarget.getBoundingClientRect();
    const x = (event.clientX - box.left) / box.width * 2 - 1;
    const y = 1 - (event.clientY - box.top) / box.height * 2;
    const far = Math.min(1, Math.hypot(x, y));
    setLamp(far > 0.02 ? Math.atan2(y, x) / degree : turnDeg(), 66 - 60 * far);
  }

  function followPointer(target, pressedOnly) {
    target.addEventListener("pointerdown", event => {
      target.setPointerCapture(event.pointerId);
      lampToPointer(event);
    });
    target.addEventListener("pointermove", event => {
      const hovering = event.pointerType === "mouse" && !pressedOnly && !still.matches;
      if (event.buttons || hovering) lampToPointer(event);
    });
  }

  function onPageKey(event) {
    const typing = event.target.matches("input[type=search], input[type=number], select");
    if (typing || event.ctrlKey || event.metaKey || event.altKey) return;
    const moves = {",": [15, 0], ".": [-15, 0], "+": [0, 5], "=": [0, 5], "-": [0, -5]};
    const move = moves[event.key];
    if (move) setLamp(turnDeg() + move[0], heightDeg() + move[1]);
    if (event.key === "Escape" && state.kept) keep(state.kept);
  }

  // ---- Tools ----

  function makeOrder() {
    const order = byId("order");
    order.append(new Option("number", "number"));
    figures.forEach((figure, k) => {
      if (known[k] || figure.name === data.by) order.append(new Option(figure.label, figure.name));
    });
    order.value = state.order;
    order.addEventListener("change", () => {
      state.order = order.value;
      state.better = true;
      arrange();
    });
    byId("turn").addEventListener("click", () => {
      state.better = !state.better;
      arrange();
    });
  }

  function makeSieves() {
    const sieves = byId("sieves");
    figures.forEach((figure, k) => {
      if (!known[k]) return;
      const unit = shareOf(figure) ? "%" : figure.unit;
      const field = element("fieldset", "", {title: figure.meaning});
      field.append(element("legend", figure.label));
      for (const [end, word] of [["low", "from"], ["high", "to"]]) {
        field.append(element("label", word, {for: end + "-" + figure.name}),
                     element("input", "", {type: "number", step: "any", id: end + "-" + figure.name,
                                           "aria-label": figure.label + " " + word + ", " + unit}));
      }
      field.append(element("span", unit));
      sieves.append(field);
    });
    const clear = element("button", "Clear", {type: "button", id: "clear"});
    clear.addEventListener("click", () => {
      for (const input of sieves.querySelectorAll("input")) input.value = "";
      byId("find").value = "";
      arrange();
    });
    sieves.append(clear);
    sieves.addEventListener("input", arrange);
    byId("find").addEventListener("input", arrange);
    byId("sieve").addEventListener("click", event => {
      sieves.hidden = !sieves.hidden;
      event.currentTarget.setAttribute("aria-expanded", String(!sieves.hidden));
    });
  }

  function makeTheme() {
    const root = document.documentElement, light = matchMedia("(prefers-color-scheme: light)");
    const isLight = () => root.dataset.theme ? root.dataset.theme === "light" : light.matches;
    const name = () => { byId("theme").textContent = isLight() ? "Dark" : "Light"; };
    byId("theme").addEventListener("click", () => {
      root.dataset.theme = isLight() ? "dark" : "light";
      name();
    });
    light.addEventListener("change", name);
    name();
  }

  function makeBench() {
    byId("keep").addEventListener("click", () => keep(state.chosen));
    byId("away").addEventListener("click", () => keep(state.kept));
    byId("swap").addEventListener("click", () => {
      const kept = state.kept;
      state.kept = state.chosen;
      choose(kept);
    });
    byId("copy-snippet").addEventListener("click", () => copy(state.chosen.snippet, "The pose"));
    byId("copy-lock").addEventListener("click", () => copy(state.chosen.lock, "The command"));
    for (const id of ["kept", "chosen"]) followPointer(byId(id).querySelector("canvas"), false);
    followPointer(byId("dial"), true);
    byId("lamp-turn").addEventListener("input", event => setLamp(+event.target.value, heightDeg()));
    byId("lamp-height").addEventListener("input", event => setLamp(turnDeg(), +event.target.value));
    if (matchMedia("(max-width: 52rem)").matches) byId("more").open = false;
  }

  function showUnusable() {
    if (data.unusable.length === 0) return;
    byId("unusable").hidden = false;
    for (const pose of data.unusable)
      byId("unusable").querySelector("dl").append(element("dt", pose.name), element("dd", pose.reason));
  }

  function begin() {
    byId("scene").textContent = data.scene;
    poses.forEach(makeWell);
    const first = poses[0];
    if (first && Math.abs(first.width / first.height - 1) > 0.02) {
      tray.classList.add("long");
      tray.style.setProperty("--aspect", first.width + " / " + first.height);
    }
    makeOrder();
    makeSieves();
    makeTheme();
    makeBench();
    showUnusable();
    tray.addEventListener("keydown", onTrayKey);
    document.addEventListener("keydown", onPageKey);
    setLamp(135, 25);
    arrange();
    byId("bench").hidden = poses.length === 0;
    choose(shown()[0], false);
  }
  begin();
})();
