"""Scripts that measure a page in a browser."""

from __future__ import annotations

#: Contrast of every piece of visible text with what is behind it. SVG words on the map
#: carry a halo, which is then their ground; other drawings have that of their figure.
CONTRAST = """
function rgb(c) { return c.match(/[\\d.]+/g).map(Number); }
function lum(c) {
  return [0.2126, 0.7152, 0.0722].reduce(function (sum, k, i) {
    var v = c[i] / 255;
    return sum + k * (v <= 0.04045 ? v / 12.92 : Math.pow((v + 0.055) / 1.055, 2.4));
  }, 0);
}
function ground(e) {
  for (; e; e = e.parentElement) {
    var c = rgb(getComputedStyle(e).backgroundColor);
    if (c.length === 3 || c[3] > 0) { return c; }
  }
  return [255, 255, 255];
}
var low = [], seen = 0;
var walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
while (walk.nextNode()) {
  var e = walk.currentNode.parentElement;
  if (!walk.currentNode.data.trim() || ['SCRIPT', 'STYLE', 'title', 'desc'].includes(e.tagName)) {
    continue;
  }
  if (!e.getClientRects().length) { continue; }
  var s = getComputedStyle(e), svg = e instanceof SVGElement;
  var ink = rgb(svg ? s.fill : s.color), back;
  if (svg && s.stroke !== 'none') { back = rgb(s.stroke); } else { back = ground(e); }
  var a = lum(ink), b = lum(back);
  var ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
  seen += 1;
  if (ratio < 4.5) { low.push([e.tagName, e.className.baseVal || e.className, ratio]); }
}
return [seen, low];
"""
