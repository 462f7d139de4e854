"use strict";
(() => {
  const root = document.documentElement;
  root.classList.add("js");
  const find = (query, within = document) => within.querySelector(query);
  const all = (query, within = document) => [...within.querySelectorAll(query)];
  const data = JSON.parse(find("#data").textContent);
  const stage = find("#stage");
  const sheets = all(".sheet");
  const steps = all(".step");
  const LEAST = 6; // px a mm: smaller, and the letters on the drawing cannot be read

  // What is kept in the browser. Where it keeps nothing (a private window, a page that may not), marks last as long as the page.
  const kept = (() => {
    const name = "placer-guide:" + data.plan;
    const fresh = { marks: {}, at: 0 };
    let held = fresh;
    try {
      const found = JSON.parse(localStorage.getItem(name) || "null");
      if (found && typeof found.marks === "object" && found.marks) held = { marks: found.marks, at: Number(found.at) || 0 };
    } catch { held = fresh; }
    return {
      get: () => held,
      save: () => { try { localStorage.setItem(name, JSON.stringify(held)); } catch { /* kept in memory only */ } },
    };
  })();

  // ---- Marks
  const ticks = all("input[data-mark]");
  const stepTick = (step) => find("input[data-mark]", step);
  function countMarks() {
    steps.forEach((step) => step.classList.toggle("done", stepTick(step).checked));
    const done = steps.filter((step) => stepTick(step).checked).length;
    find("#count").textContent = `${done} of ${steps.length} steps done`;
  }
  ticks.forEach((tick) => {
    tick.checked = kept.get().marks[tick.dataset.mark] === true;
    tick.addEventListener("change", () => {
      if (tick.checked) kept.get().marks[tick.dataset.mark] = true;
      else delete kept.get().marks[tick.dataset.mark];
      kept.save();
      countMarks();
    });
  });

  // ---- The drawing: side and size
  let side = "board";
  let scale = 0; // px a mm; 0: as large as it fits, but not too small to read
  let whole = false;
  const sheet = () => sheets.find((each) => each.dataset.sheet === side);
  function fit() {
    const { width, height } = sheet().dataset;
    return Math.max(0.5, Math.min((stage.clientWidth - 24) / width, (stage.clientHeight - 24) / height));
  }
  const across = () => (stage.clientWidth - 8) / sheet().dataset.width;
  function now() {
    if (scale) return scale;
    return whole ? fit() : Math.max(fit(), across() < LEAST ? LEAST : Math.min(across(), LEAST + 1));
  }
  function resize() {
    const size = now();
    sheets.forEach((each) => {
      const svg = find("svg", each);
      svg.style.width = each.dataset.width * size + "px";
      svg.style.height = each.dataset.height * size + "px";
    });
  }
  function zoom(factor, x = stage.clientWidth / 2, y = stage.clientHeight / 2) {
    const before = now();
    scale = Math.min(40, Math.max(fit() * 0.8, before * factor));
    const left = (stage.scrollLeft + x) * (scale / before) - x;
    const top = (stage.scrollTop + y) * (scale / before) - y;
    resize();
    stage.scrollTo({ left, top, behavior: "instant" });
  }
  function showWhole() {
    scale = 0;
    whole = true;
    resize();
  }
  function turn(to) {
    side = to;
    sheets.forEach((each) => each.classList.toggle("shown", each.dataset.sheet === side));
    all("[data-side]").forEach((each) => each.setAttribute("aria-pressed", each.dataset.side === side));
    resize();
    centre();
  }
  all("[data-side]").forEach((each) => each.addEventListener("click", () => turn(each.dataset.side)));
  all("[data-zoom]").forEach((each) => each.addEventListener("click", () => {
    if (each.dataset.zoom === "fit") showWhole();
    else zoom(each.dataset.zoom === "in" ? 1.3 : 1 / 1.3);
  }));
  stage.addEventListener("wheel", (event) => {
    if (!event.ctrlKey) return;
    event.preventDefault();
    const box = stage.getBoundingClientRect();
    zoom(event.deltaY < 0 ? 1.15 : 1 / 1.15, event.clientX - box.left, event.clientY - box.top);
  }, { passive: false });
  const apart = (touches) => Math.hypot(touches[0].clientX - touches[1].clientX, touches[0].clientY - touches[1].clientY);
  let pinch = 0;
  stage.addEventListener("touchstart", (event) => { pinch = event.touches.length === 2 ? apart(event.touches) : 0; }, { passive: true });
  stage.addEventListener("touchmove", (event) => {
    if (!pinch || event.touches.length !== 2) return;
    event.preventDefault();
    const box = stage.getBoundingClientRect();
    const [a, b] = event.touches;
    const size = apart(event.touches);
    zoom(size / pinch, (a.clientX + b.clientX) / 2 - box.left, (a.clientY + b.clientY) / 2 - box.top);
    pinch = size;
  }, { passive: false });
  window.addEventListener("resize", () => { resize(); centre(); });

  // ---- Rings about holes
  const SVG = "http://www.w3.org/2000/svg";
  let ringed = [];
  const holesOf = (each) => new Map(all("circle[data-hole]", each).map((circle) => [circle.dataset.hole, circle]));
  const known = new Map(sheets.map((each) => [each, holesOf(each)]));
  const layers = new Map(sheets.map((each) => {
    const layer = document.createElementNS(SVG, "g");
    find("svg", each).append(layer);
    return [each, layer];
  }));
  function ring(holes) {
    ringed = holes;
    sheets.forEach((each) => {
      layers.get(each).replaceChildren(...holes.filter((hole) => known.get(each).has(hole)).map((hole) => {
        const at = known.get(each).get(hole);
        const circle = document.createElementNS(SVG, "circle");
        circle.setAttribute("cx", at.getAttribute("cx"));
        circle.setAttribute("cy", at.getAttribute("cy"));
        circle.setAttribute("r", "1.25");
        circle.setAttribute("class", "ring");
        return circle;
      }));
    });
  }
  function centre() {
    const circles = all(".ring", sheet());
    if (!circles.length) return;
    const boxes = circles.map((circle) => circle.getBoundingClientRect());
    const view = stage.getBoundingClientRect();
    const left = Math.min(...boxes.map((box) => box.left)), right = Math.max(...boxes.map((box) => box.right));
    const top = Math.min(...boxes.map((box) => box.top)), bottom = Math.max(...boxes.map((box) => box.bottom));
    stage.scrollBy({ left: (left + right - view.left - view.right) / 2, top: (top + bottom - view.top - view.bottom) / 2 });
  }

  // ---- What is on the board by now
  const WORDS = ["ref", "jumper", "cut", "bridge"];
  const belongings = all(WORDS.map((word) => `.sheet g[data-${word}]`).join());
  const markOf = (group) => { const word = WORDS.find((each) => each in group.dataset); return word + ":" + group.dataset[word]; };
  const aboutOf = (element) => JSON.parse(element.dataset.about).map((pair) => pair.join(":"));
  const holesIn = (element) => JSON.parse(element.dataset.holes);
  let everything = false;
  function paint(about, before) {
    const current = new Set(about);
    belongings.forEach((group) => {
      const mark = markOf(group);
      const isNow = current.has(mark);
      group.classList.toggle("now", isNow);
      group.classList.toggle("before", !isNow && before !== null && before.has(mark));
      group.classList.toggle("later", !isNow && before !== null && !before.has(mark));
    });
  }
  let at = 0;
  let shown = null; // a list entry that is shown instead of the step
  function draw() {
    if (shown) {
      paint(aboutOf(shown), null);
      ring(holesIn(shown));
    } else if (view === "steps" && steps.length) {
      const before = new Set(steps.slice(0, at).flatMap(aboutOf));
      paint(aboutOf(steps[at]), everything ? null : before);
      ring(holesIn(steps[at]));
    } else {
      paint([], null);
      ring([]);
    }
    all(".show").forEach((each) => each.setAttribute("aria-pressed", each === shown));
  }
  find("#all").addEventListener("click", () => {
    everything = !everything;
    find("#all").setAttribute("aria-pressed", everything);
    draw();
  });

  // ---- Steps
  function go(to, { tell = true } = {}) {
    if (!steps.length) return;
    at = Math.min(steps.length - 1, Math.max(0, to));
    shown = null;
    kept.get().at = at;
    kept.save();
    const step = steps[at];
    steps.forEach((each) => {
      each.classList.toggle("current", each === step);
      const button = find(".go", each);
      if (each === step) button.setAttribute("aria-current", "step");
      else button.removeAttribute("aria-current");
    });
    draw();
    turn(["cut", "bridge"].includes(step.dataset.kind) ? "copper" : "board");
    const views = find("#views");
    views.scrollTo({ top: step.getBoundingClientRect().top - views.getBoundingClientRect().top + views.scrollTop - 40 });
    find("#prev").disabled = at === 0;
    find("#next").disabled = at === steps.length - 1;
    if (tell) find("#told").textContent = `Step ${at + 1} of ${steps.length}: ${find(".go bdi", step).textContent}. ${find(".do", step).textContent}`;
  }
  function setDone(value) {
    const tick = stepTick(steps[at]);
    tick.checked = value;
    tick.dispatchEvent(new Event("change"));
  }
  steps.forEach((step, index) => find(".go", step).addEventListener("click", () => go(index)));
  find("#prev").addEventListener("click", () => go(at - 1));
  find("#next").addEventListener("click", () => go(at + 1));
  find("#done").addEventListener("click", () => { setDone(true); go(at + 1); });
  function onSwipe(element, usable) {
    let start = null;
    element.addEventListener("touchstart", (event) => {
      start = event.touches.length === 1 && usable() ? [event.touches[0].clientX, event.touches[0].clientY] : null;
    }, { passive: true });
    element.addEventListener("touchend", (event) => {
      if (!start || view !== "steps") return;
      const dx = event.changedTouches[0].clientX - start[0], dy = event.changedTouches[0].clientY - start[1];
      start = null;
      if (Math.abs(dx) > 60 && Math.abs(dy) < Math.abs(dx) / 2) go(at + (dx < 0 ? 1 : -1));
    }, { passive: true });
  }
  onSwipe(find("#views"), () => true);
  onSwipe(stage, () => stage.scrollWidth <= stage.clientWidth + 1);

  // ---- Lists: show an entry on the board
  all(".show").forEach((button) => button.addEventListener("click", () => {
    shown = shown === button ? null : button;
    draw();
    if (shown && aboutOf(shown).some((mark) => mark.startsWith("cut:"))) turn("copper");
    else centre();
  }));

  // ---- Nets
  const lights = new Map();
  all(".sheet [data-net]").forEach((each) => {
    const name = each.dataset.net;
    if (!lights.has(name)) lights.set(name, []);
    lights.get(name).push(each);
  });
  let traced = ""; // chosen
  let lit = ""; // lit, chosen or only pointed at
  const idle = find("#trace-text").textContent;
  function light(name) {
    if (name === lit) return;
    (lights.get(lit) || []).forEach((each) => each.classList.remove("lit"));
    lit = name;
    (lights.get(lit) || []).forEach((each) => each.classList.add("lit"));
    sheets.forEach((each) => each.classList.toggle("tracing", Boolean(lit)));
    find("#trace-text").textContent = lit ? data.nets[lit] || lit : idle;
  }
  function trace(name) {
    traced = name;
    light(name);
    find("#untrace").hidden = !traced;
    find("#nets").value = lights.has(traced) || traced in data.nets ? traced : "";
    all(".net").forEach((each) => each.setAttribute("aria-pressed", each.dataset.trace === traced));
  }
  const netAt = (target) => { const found = target.closest && target.closest("[data-net]"); return found ? found.dataset.net : ""; };
  stage.addEventListener("click", (event) => { const name = netAt(event.target); trace(name === traced ? "" : name); });
  stage.addEventListener("pointerover", (event) => { if (event.pointerType === "mouse" && !traced) light(netAt(event.target)); });
  stage.addEventListener("pointerleave", () => light(traced));
  all(".net").forEach((button) => {
    const name = button.dataset.trace;
    button.addEventListener("click", () => trace(traced === name ? "" : name));
    button.addEventListener("focus", () => light(name));
    button.addEventListener("blur", () => light(traced));
    button.addEventListener("mouseenter", () => light(name));
    button.addEventListener("mouseleave", () => light(traced));
  });
  find("#nets").addEventListener("change", (event) => trace(event.target.value));
  find("#untrace").addEventListener("click", () => { trace(""); stage.focus(); });

  // ---- Sections
  let view = "";
  function open(name, { focus = false } = {}) {
    const section = document.getElementById(name);
    if (!section || !section.matches("#views > section")) return open("steps");
    view = name;
    shown = null;
    document.body.dataset.view = name;
    all("#views > section").forEach((each) => each.classList.toggle("shown", each === section));
    all("nav a").forEach((each) => {
      if (each.dataset.view === name) each.setAttribute("aria-current", "true");
      else each.removeAttribute("aria-current");
    });
    find("#views").scrollTo({ top: 0, behavior: "instant" });
    resize();
    if (name === "steps") go(at, { tell: false });
    else draw();
    if (focus) find("#views").focus();
    return undefined;
  }
  all("a[data-view]").forEach((link) => link.addEventListener("click", (event) => {
    event.preventDefault();
    open(link.dataset.view, { focus: true });
    try { history.replaceState(null, "", "#" + link.dataset.view); } catch { /* a page from disk may not */ }
  }));
  window.addEventListener("hashchange", () => open(location.hash.slice(1)));

  // ---- Light and dark
  const theme = find("#theme");
  const prefersDark = matchMedia("(prefers-color-scheme: dark)");
  const isDark = () => (root.dataset.theme ? root.dataset.theme === "dark" : prefersDark.matches);
  const sayTheme = () => theme.setAttribute("aria-pressed", isDark());
  try { const chosen = localStorage.getItem("placer-guide-theme"); if (chosen === "dark" || chosen === "light") root.dataset.theme = chosen; } catch { /* as the system says */ }
  theme.addEventListener("click", () => {
    root.dataset.theme = isDark() ? "light" : "dark";
    try { localStorage.setItem("placer-guide-theme", root.dataset.theme); } catch { /* for this page only */ }
    sayTheme();
  });
  prefersDark.addEventListener("change", sayTheme);
  sayTheme();

  // ---- Keys
  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || event.defaultPrevented) return;
    const target = event.target;
    if (event.key === "Escape") { trace(""); light(""); return; }
    if (target.matches("select, textarea, input:not([type=checkbox])")) return;
    const inStage = target === stage;
    if (!inStage && view === "steps" && event.key === "ArrowRight") { go(at + 1); event.preventDefault(); return; }
    if (!inStage && view === "steps" && event.key === "ArrowLeft") { go(at - 1); event.preventDefault(); return; }
    if (!inStage && !find("#keys").checked) return;
    if (event.key === "+" || event.key === "=") zoom(1.3);
    else if (event.key === "-") zoom(1 / 1.3);
    else if (event.key === "0") showWhole();
    else if (!find("#keys").checked) return;
    else if (event.key === "s") turn(side === "board" ? "copper" : "board");
    else if (event.key === "d" && view === "steps") setDone(!stepTick(steps[at]).checked);
    else return;
    event.preventDefault();
  });

  // ---- Print: at 1:1, as large as the drawing is
  const unsize = () => all(".sheet svg").forEach((svg) => { svg.style.width = ""; svg.style.height = ""; });
  window.addEventListener("beforeprint", unsize);
  window.addEventListener("afterprint", resize);

  at = Math.min(steps.length - 1, Math.max(0, kept.get().at));
  countMarks();
  turn("board");
  open(location.hash.slice(1) || "steps");
})();
