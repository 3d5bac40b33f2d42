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

  // One time of the map at a go, chosen by buttons.
  document.querySelectorAll("figure.map").forEach(function (figure) {
    var frames = Array.from(figure.querySelectorAll(".mapframe"));
    if (frames.length < 2) { return; }
    var bar = document.createElement("div"), buttons = [];
    bar.className = "times";
    bar.setAttribute("role", "group");
    bar.setAttribute("aria-label", "Time of the map");
    function choose(n) {
      frames.forEach(function (frame, i) {
        frame.hidden = i !== n;
        buttons[i].setAttribute("aria-current", String(i === n));
      });
    }
    frames.forEach(function (frame, i) {
      var b = document.createElement("button");
      b.type = "button";
      b.textContent = frame.dataset.label.replace(" UTC", "");
      b.addEventListener("click", function () { choose(i); });
      buttons.push(b);
      bar.appendChild(b);
    });
    figure.insertBefore(bar, figure.querySelector(".frames"));
    choose(0);
  });

  // The figures at the pointer (or at the arrow keys) under charts over time; the
  // line at that time is drawn in every such chart.
  var readers = [];
  document.querySelectorAll("figure[data-axis]").forEach(function (figure) {
    var axis = figure.dataset.axis.split(",").map(Number);
    var rows = Array.from(figure.querySelectorAll("tr[data-at]"));
    if (!rows.length) { return; }
    var heads = Array.from(figure.querySelectorAll("thead th")).map(function (th) {
      return th.textContent.trim();
    });
    var out = document.createElement("p"), at = -1;
    out.className = "readout";
    out.setAttribute("aria-live", "polite");
    if (!readers.length) { out.textContent = "Point at a chart, or use the arrow keys on it, to read the figures."; }
    var lines = [];
    [".wide svg", ".narrow svg"].forEach(function (where, n) {
      var svg = figure.querySelector(where);
      var line = document.createElementNS("http://www.w3.org/2000/svg", "path");
      line.setAttribute("class", "cursor");
      svg.appendChild(line);
      lines.push({ svg: svg, line: line, left: axis[2 * n], right: axis[2 * n + 1] });
      svg.addEventListener("pointermove", function (event) {
        var box = svg.getBoundingClientRect(), scale = svg.viewBox.baseVal.width / box.width;
        var share = ((event.clientX - box.left) * scale - axis[2 * n]) / (axis[2 * n + 1] - axis[2 * n]);
        var time = axis[4] + share * (axis[5] - axis[4]), best = 0, gap = Infinity;
        rows.forEach(function (row, i) {
          var off = Math.abs(Number(row.dataset.at) - time);
          if (off < gap) { gap = off; best = i; }
        });
        read(best);
      });
    });
    function read(i) {
      at = Math.max(0, Math.min(rows.length - 1, i));
      out.textContent = "";
      Array.from(rows[at].cells).forEach(function (cell, c) {
        var item = document.createElement("span"), name = document.createElement("b");
        name.textContent = heads[c];
        item.append(name, cell.textContent.trim());
        out.appendChild(item);
      });
      readers.forEach(function (mark) { mark(Number(rows[at].dataset.at)); });
    }
    readers.push(function (time) {
      var share = (time - axis[4]) / (axis[5] - axis[4]);
      lines.forEach(function (l) {
        var x = l.left + share * (l.right - l.left), inside = share >= 0 && share <= 1;
        l.line.setAttribute("d", inside ? "M" + x + " 4V" + (l.svg.viewBox.baseVal.height - 38) : "");
      });
    });
    figure.tabIndex = 0;
    figure.addEventListener("keydown", function (event) {
      if (event.target !== figure) { return; }
      var step = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
      if (step) { read(at + step); event.preventDefault(); }
    });
    figure.insertBefore(out, figure.querySelector("details"));
  });
})();
