"use strict";
(function () {
  var SVG = "http://www.w3.org/2000/svg";
  function all(where, what) { return Array.from(where.querySelectorAll(what)); }
  function made(tag, classes) {
    var e = document.createElement(tag);
    e.className = classes || "";
    return e;
  }
  function drawn(tag, classes, parent) {
    var e = document.createElementNS(SVG, tag);
    e.setAttribute("class", classes);
    parent.appendChild(e);
    return e;
  }
  function place(svg, event) {
    var m = svg.getScreenCTM();
    return m ? new DOMPoint(event.clientX, event.clientY).matrixTransform(m.inverse()) : { x: 0, y: 0 };
  }
  function inView(svg) { return svg.getClientRects().length > 0; }
  function clock(s) {
    var d = new Date(s * 1000), n = "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec".split(" ");
    return d.getUTCDate() + " " + n[d.getUTCMonth()] + " " + d.toISOString().slice(11, 16) + " UTC";
  }

  // Charts and map that show the same moment: time on passage, or time of departure.
  var links = { way: [], leave: [] };
  function tell(link, time, from) {
    (links[link] || []).forEach(function (hear) { if (hear.from !== from) { hear.at(time); } });
  }

  function readout(figure, hint) {
    var out = made("p", "readout");
    out.setAttribute("aria-live", "polite");
    out.textContent = hint;
    figure.tabIndex = 0;
    figure.insertBefore(out, figure.querySelector("details.data"));
    return out;
  }

  // Charts over time: the row of the table nearest the pointer.
  all(document, "figure[data-axis]").forEach(function (figure, order) {
    var axis = figure.dataset.axis.split(",").map(Number), link = figure.dataset.link || "way";
    var rows = all(figure, "tr[data-at]");
    var heads = all(figure, "thead th").map(function (th) { return th.textContent.trim(); });
    if (!rows.length) { rows = []; }
    var at = -1, lines = [];
    var out = rows.length ? readout(figure, order ? "" : "Point at a chart, tap it, or use the arrow keys on it, to read the figures.") : null;
    all(figure, ".wide svg, .narrow svg").forEach(function (svg, n) {
      var line = drawn("path", "cursor", svg), left = axis[2 * n], right = axis[2 * n + 1];
      lines.push({ svg: svg, line: line, left: left, right: right });
      function point(event) {
        var time = axis[4] + (place(svg, event).x - left) / (right - left) * (axis[5] - axis[4]);
        if (!rows.length) { tell(link, time, null); return; }
        read(nearest(time));
      }
      svg.addEventListener("pointermove", point);
      svg.addEventListener("pointerdown", point);
    });
    function nearest(time) {
      var best = 0, gap = Infinity;
      rows.forEach(function (row, i) {
        var off = Math.abs(Number(row.dataset.at) - time);
        if (off < gap) { gap = off; best = i; }
      });
      return best;
    }
    function words(i) {
      at = i;
      out.textContent = "";
      Array.from(rows[at].cells).forEach(function (cell, c) {
        var item = made("span"), name = made("b");
        name.textContent = heads[c];
        item.append(name, cell.textContent.trim());
        out.appendChild(item);
      });
    }
    function mark(time) {
      var share = (time - axis[4]) / (axis[5] - axis[4]);
      lines.forEach(function (l) {
        var x = l.left + share * (l.right - l.left), inside = share >= 0 && share <= 1;
        l.line.setAttribute("d", inside ? "M" + x + " 4V" + (l.svg.viewBox.baseVal.height - 38) : "");
      });
    }
    function read(i) {
      words(Math.max(0, Math.min(rows.length - 1, i)));
      var time = Number(rows[at].dataset.at);
      mark(time);
      tell(link, time, figure);
    }
    (links[link] || []).push({ from: figure, at: function (time) {
      mark(time);
      if (rows.length && time >= axis[4] - 1 && time <= axis[5] + 1) { words(nearest(time)); }
    } });
    figure.addEventListener("keydown", function (event) {
      var step = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
      if (event.target === figure && step && rows.length) { read(at + step); event.preventDefault(); }
    });
  });

  // Charts of marks: the one nearest the pointer.
  all(document, "figure.chart:not([data-axis])").forEach(function (figure) {
    var svgs = all(figure, ".wide svg, .narrow svg");
    if (!figure.querySelector("[data-read]")) { return; }
    var sets = svgs.map(function (svg) { return all(svg, "[data-read]"); });
    var out = readout(figure, "Point at a mark, tap it, or use the arrow keys here, to read it.");
    var rings = svgs.map(function (svg) { return drawn("circle", "seen", svg); }), at = -1;
    function middle(e) {
      var b = e.getBBox();
      return { x: b.x + b.width / 2, y: b.y + b.height / 2 };
    }
    function read(i, quiet) {
      var n = sets[0].length;
      at = (i + n) % n;
      sets.forEach(function (set, k) {
        if (!set[at] || !inView(svgs[k])) { return; }
        var c = middle(set[at]);
        rings[k].setAttribute("cx", c.x); rings[k].setAttribute("cy", c.y); rings[k].setAttribute("r", 9);
      });
      out.textContent = sets[0][at].dataset.read;
      if (!quiet && sets[0][at].dataset.at) { tell(figure.dataset.link, Number(sets[0][at].dataset.at), figure); }
    }
    svgs.forEach(function (svg, k) {
      function point(event) {
        var p = place(svg, event), best = -1, gap = 32;
        sets[k].forEach(function (e, i) {
          var c = middle(e), off = Math.hypot(c.x - p.x, c.y - p.y);
          if (off < gap) { gap = off; best = i; }
        });
        if (best >= 0 && best !== at) { read(best); }
      }
      svg.addEventListener("pointermove", point);
      svg.addEventListener("pointerdown", point);
    });
    figure.addEventListener("keydown", function (event) {
      var step = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
      if (event.target === figure && step) { read(at < 0 && step < 0 ? -1 : at + step); event.preventDefault(); }
    });
    if (links[figure.dataset.link]) {
      links[figure.dataset.link].push({ from: figure, at: function (time) {
        sets.forEach(function (set) {
          set.forEach(function (e) {
            e.classList.toggle("same", Math.abs(Number(e.dataset.at) - time) < 60);
          });
        });
      } });
    }
  });

  // The map: one time at a go, values under the pointer, zoom and pan.
  all(document, "figure.map").forEach(function (figure) {
    var frames = all(figure, ".mapframe"), svgs = all(figure, ".mapframe svg"), now = 0;
    var base = svgs.map(function (s) { var b = s.viewBox.baseVal; return [b.width, b.height]; });
    var buttons = [], view = { k: 1, x: 0.5, y: 0.5 };
    function bar(label) {
      var b = made("div", "times");
      b.setAttribute("role", "group");
      b.setAttribute("aria-label", label);
      figure.insertBefore(b, figure.querySelector(".frames"));
      return b;
    }
    function press(where, words, does) {
      var b = made("button");
      b.type = "button";
      b.textContent = words;
      b.addEventListener("click", does);
      where.appendChild(b);
      return b;
    }
    function choose(n) {
      now = n;
      frames.forEach(function (frame, i) {
        frame.hidden = i !== n;
        if (buttons[i]) { buttons[i].setAttribute("aria-current", String(i === n)); }
      });
    }
    if (frames.length > 1) {
      var times = bar("Time of the map");
      frames.forEach(function (frame, i) {
        buttons.push(press(times, frame.dataset.label.replace(" UTC", ""), function () {
          choose(i);
          var t = Number(frame.dataset.at);
          yacht(t);
          tell("way", t, figure);
        }));
      });
      choose(0);
    }
    var tools = bar("Zoom of the map");
    press(tools, "Closer", function () { zoom(1.6); });
    press(tools, "Wider", function () { zoom(1 / 1.6); });
    press(tools, "Whole map", function () { view = { k: 1, x: 0.5, y: 0.5 }; look(); });
    function look() {
      view.k = Math.max(1, Math.min(8, view.k));
      var half = 0.5 / view.k;
      view.x = Math.max(half, Math.min(1 - half, view.x));
      view.y = Math.max(half, Math.min(1 - half, view.y));
      svgs.forEach(function (s, i) {
        var w = base[i][0], h = base[i][1];
        s.setAttribute("viewBox", [(view.x - half) * w, (view.y - half) * h, w / view.k, h / view.k].join(" "));
      });
      figure.style.setProperty("--z", String(view.k));
      figure.classList.toggle("zoomed", view.k > 1);
    }
    function zoom(by, share) {
      var k = view.k;
      view.k = Math.max(1, Math.min(8, view.k * by));
      if (share) {
        view.x = share[0] + (view.x - share[0]) * k / view.k;
        view.y = share[1] + (view.y - share[1]) * k / view.k;
      }
      look();
    }

    // Values of the grid behind the map.
    var geo = (figure.dataset.geo || "").split("|"), deg = (geo[0] || "").split(",").map(Number);
    var grids = geo.slice(1).map(function (g) {
      var part = g.split(",");
      return { x: Number(part[0]), dx: Number(part[1]), y: part[2].split(" ").map(Number) };
    });
    var out = grids.length ? readout(figure, "Point at the sea, tap it, or use the arrow keys here, to read height and wind; + and - zoom.") : null;
    var cache = {}, spot = null;
    var crosses = svgs.map(function (s) { return drawn("path", "cross", s); });
    function values(n) {
      cache[n] = cache[n] || [frames[n].dataset.heights.split(","), frames[n].dataset.winds.split(",")];
      return cache[n];
    }
    function angle(v, letters) {
      var a = Math.round(Math.abs(v) * 60), d = Math.floor(a / 60), m = a % 60;
      return d + "\u00b0" + (m < 10 ? "0" : "") + m + "'" + letters[v < 0 ? 1 : 0];
    }
    function read(x, y, which) {
      var g = grids[which];
      if (!g || !out) { return; }
      var col = Math.round((x - g.x) / g.dx), row = 0, gap = Infinity;
      g.y.forEach(function (v, i) { if (Math.abs(v - y) < gap) { gap = Math.abs(v - y); row = i; } });
      at(row, col);
    }
    function at(row, col) {
      var g = grids[0], got = values(now), n = g.y.length, cols = got[0].length / n;
      row = Math.max(0, Math.min(n - 1, row)); col = Math.max(0, Math.min(cols - 1, col));
      spot = [row, col];
      var h = got[0][row * cols + col], w = got[1][row * cols + col];
      var lat = deg[0] + row * deg[1], lon = ((deg[2] + col * deg[3] + 540) % 360 + 360) % 360 - 180;
      out.textContent = frames[now].dataset.label + ", " + angle(lat, "NS") + " " + angle(lon, "EW") + ": " +
        (h === "" || h === undefined ? "no sea here" : "height " + (h / 10).toFixed(1) + " m") +
        (w ? ", wind " + Math.floor(w / 36) + " kn from " + ("00" + (w % 36) * 10).slice(-3) + "\u00b0" : "");
      svgs.forEach(function (s, i) {
        var q = grids[i % 2];
        crosses[i].setAttribute("d", "M" + (q.x + col * q.dx - 7) + " " + q.y[row] + "h14M" + (q.x + col * q.dx) + " " + (q.y[row] - 7) + "v14");
      });
    }

    // The yacht the page is about, at the moment the strips show.
    var track = (figure.dataset.track || "").split(";").filter(Boolean).map(function (t) { return t.split(",").map(Number); });
    var ghosts = track.length ? svgs.map(function (s) { return drawn("circle", "now", s); }) : [];
    function yacht(time) {
      if (!track.length) { return; }
      var i = track.findIndex(function (t) { return t[0] >= time; });
      if (i < 0) { i = track.length - 1; }
      var a = track[Math.max(0, i - 1)], b = track[i], f = b[0] > a[0] ? (time - a[0]) / (b[0] - a[0]) : 0;
      f = Math.max(0, Math.min(1, f));
      ghosts.forEach(function (c, n) {
        var k = 1 + 2 * (n % 2);
        c.setAttribute("cx", a[k] + f * (b[k] - a[k]));
        c.setAttribute("cy", a[k + 1] + f * (b[k + 1] - a[k + 1]));
        c.setAttribute("r", 6.5);
      });
    }
    links.way.push({ from: figure, at: function (time) {
      var best = 0, gap = Infinity;
      frames.forEach(function (f, i) {
        var off = Math.abs(Number(f.dataset.at) - time);
        if (off < gap) { gap = off; best = i; }
      });
      if (buttons.length) { choose(best); }
      yacht(time);
    } });

    // Dragging pans when zoomed; two fingers or the wheel with Ctrl zoom.
    svgs.forEach(function (s, i) {
      var held = {}, last = null;
      function share(event) { var p = place(s, event); return [p.x / base[i][0], p.y / base[i][1]]; }
      s.addEventListener("pointerdown", function (event) {
        held[event.pointerId] = [event.clientX, event.clientY];
        last = null;
        var p = place(s, event);
        read(p.x, p.y, i % 2);
        if (view.k > 1) { s.setPointerCapture(event.pointerId); }
      });
      s.addEventListener("pointermove", function (event) {
        var p = place(s, event), box = s.getBoundingClientRect(), ids = Object.keys(held);
        if (held[event.pointerId] && ids.length === 2) {
          held[event.pointerId] = [event.clientX, event.clientY];
          var a = held[ids[0]], b = held[ids[1]], wide = Math.hypot(a[0] - b[0], a[1] - b[1]);
          if (last) { zoom(wide / last, share(event)); }
          last = wide;
        } else if (held[event.pointerId] && view.k > 1) {
          var was = held[event.pointerId];
          view.x -= (event.clientX - was[0]) / box.width / view.k;
          view.y -= (event.clientY - was[1]) / box.height / view.k;
          held[event.pointerId] = [event.clientX, event.clientY];
          look();
        } else { read(p.x, p.y, i % 2); }
      });
      ["pointerup", "pointercancel", "pointerleave"].forEach(function (name) {
        s.addEventListener(name, function (event) { delete held[event.pointerId]; last = null; });
      });
      s.addEventListener("wheel", function (event) {
        if (!event.ctrlKey && view.k === 1) { return; }
        event.preventDefault();
        zoom(event.deltaY < 0 ? 1.25 : 0.8, share(event));
      }, { passive: false });
    });
    figure.tabIndex = 0;
    figure.addEventListener("keydown", function (event) {
      if (event.target !== figure) { return; }
      var step = { ArrowUp: [1, 0], ArrowDown: [-1, 0], ArrowLeft: [0, -1], ArrowRight: [0, 1] }[event.key];
      if (event.key === "+" || event.key === "=") { zoom(1.6); }
      else if (event.key === "-") { zoom(1 / 1.6); }
      else if (event.key === "0") { view = { k: 1, x: 0.5, y: 0.5 }; look(); }
      else if (step && grids.length) {
        var n = grids[0].y.length, cols = values(now)[0].length / n;
        var from = spot || [Math.round(n / 2), Math.round(cols / 2)];
        at(from[0] + step[0] * Math.sign(deg[1]), from[1] + step[1]);
        if (view.k > 1) {
          view.x = (grids[0].x + spot[1] * grids[0].dx) / base[0][0];
          view.y = grids[0].y[spot[0]] / base[0][1];
          look();
        }
      } else { return; }
      event.preventDefault();
    });
  });

  // What headings mean: all of a table's for the keyboard, one by a tap.
  function said(what, words) {
    var name = Array.from(what.childNodes, function (n) { return n.textContent.trim(); });
    return name.join(" ").trim() + ": " + words;
  }
  function asked(titled, before) {
    var line = null;
    titled.forEach(function (e) {
      e.addEventListener("click", function () {
        if (!line) { line = made("p", "said"); line.setAttribute("aria-live", "polite"); before.before(line); }
        line.textContent = said(e, e.title);
      });
    });
  }
  all(document, "table").forEach(function (table) {
    var heads = all(table, "thead th[title]"), box = table.closest(".scroll");
    if (!heads.length || !box) { return; }
    asked(heads, box);
    var more = made("details", "meant"), list = made("ul"), label = made("summary");
    label.textContent = "What the headings mean";
    heads.forEach(function (th) {
      var item = made("li");
      item.textContent = said(th, th.title);
      list.append(item);
    });
    more.append(label, list);
    box.after(more);
  });
  all(document, ".cards").forEach(function (cards) { asked(all(cards, "dt[title]"), cards); });

  // Wide tables say that there is more.
  function cues() {
    all(document, ".scroll").forEach(function (box) {
      var more = box.scrollWidth - box.clientWidth > 4, cue = box.nextElementSibling;
      if (!cue || !cue.classList.contains("cue")) {
        if (!more) { return; }
        cue = made("p", "cue");
        cue.textContent = "More columns to the right: scroll sideways.";
        box.after(cue);
      }
      cue.hidden = !more;
    });
  }
  cues();
  window.addEventListener("resize", cues);
  all(document, "details").forEach(function (d) { d.addEventListener("toggle", cues); });
})();
