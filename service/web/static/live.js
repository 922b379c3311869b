// Answers a form without leaving the page. The page works without it: the same addresses are plain links.
"use strict";
(() => {
  const form = document.getElementById("ask");
  const answer = document.getElementById("answer");
  if (!form || !answer || !window.fetch || !window.DOMParser) return;

  const question = () => {
    const pairs = new URLSearchParams();
    for (const [name, text] of new FormData(form)) {
      if (String(text).trim()) pairs.append(name, String(text).trim());
    }
    return "/?" + pairs.toString();
  };

  const replace = (fresh, id) => {
    const now = document.getElementById(id);
    const then = fresh.getElementById(id);
    if (now && then) now.replaceWith(document.importNode(then, true));
  };

  let latest = 0;
  const ask = async (address, remember) => {
    const turn = ++latest;
    const region = document.getElementById("answer");
    region.setAttribute("aria-busy", "true");
    try {
      const response = await fetch(address, { headers: { Accept: "text/html" } });
      const fresh = new DOMParser().parseFromString(await response.text(), "text/html");
      if (turn !== latest) return;
      replace(fresh, "answer");
      markFaults(fresh);
      document.title = fresh.title;
      if (remember) history.pushState({}, "", address);
    } catch {
      location.assign(address);
    }
  };

  const markFaults = (fresh) => {
    for (const field of form.querySelectorAll(".field")) {
      const control = field.querySelector("input, select");
      const then = fresh.getElementById(control.id);
      const faulty = Boolean(then && then.getAttribute("aria-invalid"));
      field.classList.toggle("faulty", faulty);
      field.querySelectorAll(".fault").forEach((old) => old.remove());
      if (faulty) {
        control.setAttribute("aria-invalid", "true");
        const words = then.closest(".field").querySelector(".fault");
        if (words) control.after(document.importNode(words, true));
      } else {
        control.removeAttribute("aria-invalid");
      }
    }
  };

  form.addEventListener("submit", (event) => {
    event.preventDefault();
    ask(question(), true);
  });
  form.addEventListener("change", (event) => {
    if (event.target.tagName === "SELECT" && new URLSearchParams(location.search).size > 1) ask(question(), true);
  });
  window.addEventListener("popstate", () => location.reload());
})();
