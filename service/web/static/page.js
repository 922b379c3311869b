// Light or dark by choice, copy buttons, print. Every page works without it.
"use strict";
(() => {
  const kept = (() => { try { return localStorage.getItem("theme"); } catch { return null; } })();
  if (kept === "light" || kept === "dark") document.documentElement.dataset.theme = kept;

  const button = (words, act) => {
    const made = document.createElement("button");
    made.type = "button";
    made.className = "quiet";
    made.textContent = words;
    made.addEventListener("click", act);
    return made;
  };

  const dress = (within) => {
    for (const block of within.querySelectorAll("pre.copy")) {
      if (block.nextElementSibling && block.nextElementSibling.matches(".copier")) continue;
      const copier = button("Copy", async () => {
        await navigator.clipboard.writeText(block.textContent.trim());
        copier.textContent = "Copied";
        setTimeout(() => { copier.textContent = "Copy"; }, 1500);
      });
      copier.classList.add("copier");
      if (navigator.clipboard) block.after(copier);
    }
  };
  window.dress = dress;

  document.addEventListener("DOMContentLoaded", () => {
    dress(document);
    const dark = () => document.documentElement.dataset.theme
      ? document.documentElement.dataset.theme === "dark" : matchMedia("(prefers-color-scheme: dark)").matches;
    const name = () => (dark() ? "Light" : "Dark");
    const look = button(name(), () => {
      const wanted = dark() ? "light" : "dark";
      document.documentElement.dataset.theme = wanted;
      try { localStorage.setItem("theme", wanted); } catch { /* private windows keep nothing */ }
      look.textContent = name();
    });
    const tools = document.createElement("p");
    tools.className = "tools no-print";
    tools.append(look, " ", button("Print", () => print()));
    document.querySelector(".running").append(tools);
  });

  addEventListener("beforeprint", () => {
    for (const one of document.querySelectorAll(".answering details")) one.open = true;
  });
})();
