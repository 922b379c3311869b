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

  let latest = 0;
  const ask = async (address, manner) => {
    const turn = ++latest;
    document.getElementById("answer").setAttribute("aria-busy", "true");
    try {
      const fresh = await fetched(address);
      if (turn !== latest) return;
      const sliders = manner.quiet ? document.querySelector(".live") : null;
      swap(fresh, "answer");
      if (sliders && document.querySelector(".live")) document.querySelector(".live").replaceWith(sliders);
      if (manner.fields) swap(fresh, "fields"); else markFaults(fresh);
      document.title = fresh.title;
      document.getElementById("spoken").textContent = (fresh.getElementById("spoken") || {}).textContent || "";
      if (manner.remember) history.pushState({}, "", address);
      if (manner.address) history.replaceState({}, "", address);
      const region = document.getElementById("answer");
      if (window.dress) window.dress(region);
      prepareSliders();
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
