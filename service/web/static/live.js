// Answers a form without leaving the page. The page works without it: the same addresses are plain links.
"use strict";
(() => {
  const form = document.getElementById("ask");
  if (!form || !window.fetch || !window.DOMParser) return;

  const BASE = form.getAttribute("action").split("#")[0];
  const SETTLED = 700; // a change is settled when nothing follows it for so long [ms]
  const BARE = /^[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?$/i;

  const question = (extra) => {
    const pairs = new URLSearchParams();
    for (const [name, text] of new FormData(form)) {
      const said = String(text).trim();
      if (!said || name.startsWith("unit.")) continue;
      const unit = form.elements["unit." + name];
      pairs.append(name, unit && BARE.test(said) ? said + unit.value : said);
    }
    for (const [name, text] of Object.entries(extra || {})) pairs.append(name, text);
    return BASE + "?" + pairs.toString();
  };

  const fetched = async (address) => {
    const response = await fetch(address, { headers: { Accept: "text/html" } });
    return new DOMParser().parseFromString(await response.text(), "text/html");
  };

  const swap = (fresh, id) => {
    const now = document.getElementById(id);
    const then = fresh.getElementById(id);
    if (now && then) now.replaceWith(document.importNode(then, true));
  };

  // The answer anew around a picture that is being dragged: a node that leaves the page loses pointer and focus.
  const around = (fresh) => {
    const now = document.getElementById("answer");
    const then = fresh.getElementById("answer");
    const stays = (one) => one.matches(".picture, .live");
    const first = [...now.children].find(stays);
    for (const one of [...now.children]) if (!stays(one)) one.remove();
    let passed = false;
    for (const one of [...then.children]) {
      if (stays(one)) passed = true;
      else if (passed) now.append(document.importNode(one, true));
      else first.before(document.importNode(one, true));
    }
    now.className = then.className;
    now.removeAttribute("aria-busy");
  };

  let latest = 0;
  const ask = async (address, manner) => {
    const turn = ++latest;
    document.getElementById("answer").setAttribute("aria-busy", "true");
    try {
      const fresh = await fetched(address);
      if (turn !== latest) return;
      const sliders = manner.quiet ? document.querySelector(".live") : null;
      const curve = manner.along ? document.querySelector(".picture.moving") : null;
      if (curve) around(fresh); else swap(fresh, "answer");
      if (sliders && !curve && document.querySelector(".live")) document.querySelector(".live").replaceWith(sliders);
      if (!curve) prepareCurve();
      if (manner.fields) swap(fresh, "fields"); else markFaults(fresh);
      document.title = fresh.title;
      document.getElementById("spoken").textContent = (fresh.getElementById("spoken") || {}).textContent || "";
      if (manner.remember) history.pushState({}, "", address);
      if (manner.address) history.replaceState({}, "", address);
      const region = document.getElementById("answer");
      if (window.dress) window.dress(region);
      prepareSliders();
      if (curve && curve.told) curve.told();
      if (!manner.quiet) {
        region.focus({ preventScroll: true });
        region.scrollIntoView({ block: "start" });
      }
    } catch {
      location.assign(address);
    }
  };

  const markFaults = (fresh) => {
    for (const field of form.querySelectorAll(".field")) {
      const control = field.querySelector("input, select");
      const then = fresh.getElementById(control.id);
      const words = then && then.getAttribute("aria-invalid") ? then.closest(".field").querySelector(".fault") : null;
      field.classList.toggle("faulty", Boolean(words));
      field.querySelectorAll(".fault").forEach((old) => old.remove());
      control.toggleAttribute("aria-invalid", Boolean(words));
      if (words) {
        control.setAttribute("aria-invalid", "true");
        field.querySelector(".hint").before(document.importNode(words, true));
      }
      if (then) control.setAttribute("aria-describedby", then.getAttribute("aria-describedby"));
    }
  };

  let waiting;
  const settle = (act) => {
    clearTimeout(waiting);
    waiting = setTimeout(act, SETTLED);
  };

  const answered = () => Boolean(document.querySelector("#answer article"));

  form.addEventListener("submit", (event) => {
    event.preventDefault();
    clearTimeout(waiting);
    ask(question(), { remember: true });
  });

  form.addEventListener("change", (event) => {
    if (event.target.name === "electrodes" || event.target.name.endsWith(".shape")) {
      // another shape has other fields; nothing is asked until the choice is settled
      settle(async () => {
        const held = document.activeElement && document.activeElement.id;
        swap(await fetched(question({ choose: "yes" })), "fields");
        if (held && document.getElementById(held)) document.getElementById(held).focus();
        if (answered()) stale();
      });
    } else if (event.target.tagName === "SELECT" && !event.target.matches(".unit") && answered()) {
      settle(() => ask(question(), { remember: true, quiet: true }));
    }
  });

  const stale = () => document.getElementById("answer").classList.add("stale");
  form.addEventListener("input", (event) => { if (event.target.tagName === "INPUT" && answered()) stale(); });

  const prepareSliders = () => {
    const live = document.querySelector(".live");
    if (!live || live.dataset.ready) return;
    live.hidden = false;
    live.dataset.ready = "yes";
    for (const slider of live.querySelectorAll("input")) {
      const field = document.getElementById(slider.dataset.for);
      if (!field) { slider.closest("label").hidden = true; continue; }
      const start = parseFloat(field.value || field.placeholder);
      slider.addEventListener("input", () => {
        // a hundred steps are a factor of ten to either side
        const moved = start * 10 ** (Number(slider.value) / 100);
        const tail = (field.value || field.placeholder).replace(/^[+-]?[\d.]+(e[+-]?\d+)?/i, "");
        field.value = Number(moved.toPrecision(3)) + (field.value ? tail : tail);
        const details = field.closest("details");
        if (details) details.open = true;
        clearTimeout(waiting);
        waiting = setTimeout(() => ask(question(), { quiet: true, address: true }), 120);
      });
    }
  };
  prepareSliders();

  // The picture of the curve with a line at the asked gap, to be dragged, or moved by the arrow keys.
  const SVG = "http://www.w3.org/2000/svg";
  const drawn = (name, values) => {
    const made = document.createElementNS(SVG, name);
    for (const [key, value] of Object.entries(values)) made.setAttribute(key, value);
    return made;
  };
  const heights = (picture) => [...picture.querySelectorAll("path[fill=none][class*='sr-s-curve']")].map((path) =>
    path.getAttribute("d").slice(1).split("L").map((pair) => pair.split(" ").map(Number)));
  const heightAt = (lines, x) => {
    for (const line of lines) {
      const place = line.findIndex((point, n) => n > 0 && (line[n - 1][0] - x) * (point[0] - x) <= 0);
      if (place < 1) continue;
      const [before, after] = [line[place - 1], line[place]];
      return before[1] + (after[1] - before[1]) * ((x - before[0]) / (after[0] - before[0] || 1));
    }
    return null;
  };

  const prepareCurve = async () => {
    const image = document.querySelector(".picture img[data-live]");
    const field = image && document.getElementById(image.dataset.live);
    if (!field) return;
    let picture;
    try {
      const text = await (await fetch(image.getAttribute("src") + "&theme=light")).text();
      picture = document.importNode(new DOMParser().parseFromString(text, "image/svg+xml").documentElement, true);
    } catch { return; }
    if (!picture.dataset.plot || !image.isConnected) return;
    const [left, right, top, bottom, low, high] = picture.dataset.plot.split(" ").map(Number);
    const unit = picture.dataset.plot.split(" ")[6];
    const unitField = form.elements["unit." + field.name];
    if (!unitField || ![...unitField.options].some((one) => one.value === unit)) return;
    const figure = image.closest("figure");
    const lines = heights(picture);
    const span = Math.log(high / low);
    const line = drawn("line", { y1: top, y2: bottom, class: "sr-s-accent", "stroke-width": 2 });
    const grip = drawn("circle", { r: 9, class: "sr-f-accent" });
    const handle = drawn("g", { class: "handle", role: "slider", tabindex: 0, "aria-label": "Gap in " + unit,
      "aria-valuemin": Number(low.toPrecision(3)), "aria-valuemax": Number(high.toPrecision(3)) });
    handle.append(line, grip);
    picture.removeAttribute("role");
    picture.append(handle);
    let gap;
    const headline = () => (document.querySelector("#answer .sr-headline strong") || {}).textContent || "";
    figure.told = () => handle.setAttribute("aria-valuetext", `${gap} ${unit}: ${headline()}`);
    const show = (wanted) => {
      gap = Number(Math.min(Math.max(wanted, low), high).toPrecision(3));
      const x = left + (Math.log(gap / low) / span) * (right - left);
      const y = heightAt(lines, x);
      line.setAttribute("x1", x); line.setAttribute("x2", x);
      grip.setAttribute("cx", x); grip.setAttribute("cy", y === null ? bottom : y);
      handle.setAttribute("aria-valuenow", gap);
      figure.told();
    };
    const move = (wanted) => {
      show(wanted);
      field.value = gap;
      unitField.value = unit;
      clearTimeout(waiting);
      waiting = setTimeout(() => ask(question(), { quiet: true, address: true, along: true }), 120);
    };
    const STEPS = { ArrowRight: 1.02, ArrowUp: 1.02, ArrowLeft: 1 / 1.02, ArrowDown: 1 / 1.02, PageUp: 1.2, PageDown: 1 / 1.2 };
    handle.addEventListener("keydown", (event) => {
      const ends = { Home: low, End: high };
      if (!(event.key in STEPS) && !(event.key in ends)) return;
      event.preventDefault();
      move(event.key in ends ? ends[event.key] : gap * STEPS[event.key]);
    });
    picture.addEventListener("pointerdown", (event) => {
      const to = (at) => {
        const box = picture.getBoundingClientRect();
        const x = (at.clientX - box.left) * (picture.viewBox.baseVal.width / box.width);
        move(low * Math.exp(((x - left) / (right - left)) * span));
      };
      event.preventDefault();
      handle.focus({ preventScroll: true });
      picture.setPointerCapture(event.pointerId);
      to(event);
      picture.onpointermove = to;
      picture.onpointerup = picture.onpointercancel = () => { picture.onpointermove = null; };
    });
    figure.classList.add("moving", "drawn");
    image.replaceWith(picture);
    const stands = parseFloat(field.value || field.placeholder);
    const asked = Number((form.elements["unit." + field.name] || {}).value === unit ? stands : NaN);
    show(Number.isFinite(asked) ? asked : Math.sqrt(low * high));
  };
  prepareCurve();

  let shown = location.search;
  window.addEventListener("popstate", () => {
    if (location.search === shown) return; // only the place within the page changed
    shown = location.search;
    ask(BASE + location.search, { fields: true });
  });
  const push = history.pushState.bind(history);
  history.pushState = (...given) => { push(...given); shown = location.search; };
  const replace = history.replaceState.bind(history);
  history.replaceState = (...given) => { replace(...given); shown = location.search; };
})();
