"use strict";
(function () {
  var root = document.documentElement, button = document.getElementById("theme");
  var dark = window.matchMedia && window.matchMedia("(prefers-color-scheme: dark)").matches;
  var theme = null;
  try { theme = window.localStorage.getItem("passage-colours"); } catch (e) { theme = null; }
  function show(next) {
    root.setAttribute("data-theme", next);
    button.setAttribute("aria-pressed", String(next === "night"));
    theme = next;
  }
  show(theme === "night" || theme === "day" ? theme : dark ? "night" : "day");
  button.hidden = false;
  button.addEventListener("click", function () {
    show(theme === "night" ? "day" : "night");
    try { window.localStorage.setItem("passage-colours", theme); } catch (e) { theme = theme; }
  });
})();
