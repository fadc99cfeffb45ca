// Draws the charts of a sheet: those in view first, the others while the page rests, all of them before print.
(() => {
  "use strict";
  const page = JSON.parse(document.getElementById("chart-data").textContent);
  const darkScheme = window.matchMedia("(prefers-color-scheme: dark)");
  const config = { displayModeBar: false, responsive: true, scrollZoom: false, doubleClick: false };
  const PRINT_PX = { width: 343, height: 280 };
  const LINE_PX = 10.5;
  const drawn = new Set();
  let printing = false;

  // The figures are in inks for light paper; others stand in for them on dark paper and in print.
  const channels = (hex) => [1, 3, 5].map((k) => parseInt(hex.slice(k, k + 2), 16)).join(",");
  function inksFor(instead) {
    const inks = new Map(Object.entries(instead));
    for (const [light, other] of Object.entries(instead)) inks.set(channels(light), channels(other));
    return inks;
  }
  const LIGHT = new Map();
  const DARK = inksFor(page.dark);
  const PRINT = inksFor(page.print);

  function inked(value, inks) {
    if (typeof value === "string") {
      const wash = value.match(/^rgba\((\d+,\d+,\d+),([\d.]+)\)$/);
      if (wash) return `rgba(${inks.get(wash[1]) || wash[1]},${wash[2]})`;
      return value.startsWith("#") && inks.has(value) ? inks.get(value) : value;
    }
    if (Array.isArray(value)) return value.map((inner) => inked(inner, inks));
    if (value && typeof value === "object") {
      return Object.fromEntries(Object.entries(value).map(([key, inner]) => [key, inked(inner, inks)]));
    }
    return value;
  }

  // Names of verticals that would be written over each other: the first of them stays.
  function uncrowded(layout, width) {
    const [left, right] = layout.xaxis.range;
    let last = -Infinity;
    const upright = (label) => label.textangle === -90;
    const names = layout.annotations.filter(upright).sort((a, b) => a.x - b.x);
    const kept = names.filter((label) => {
      const at = ((label.x - left) / (right - left)) * width;
      if (at - last < LINE_PX) return false;
      last = at;
      return true;
    });
    return layout.annotations.filter((label) => !upright(label)).concat(kept);
  }

  function draw(place) {
    const inks = printing ? PRINT : darkScheme.matches ? DARK : LIGHT;
    const { data, layout } = inked(page.figures[place.dataset.chart], inks);
    if (printing) Object.assign(layout, PRINT_PX, { autosize: false });
    const width = printing ? PRINT_PX.width : place.clientWidth;
    if (width < 480) layout.xaxis.nticks = 4;
    if (printing) layout.font.size = 10;
    layout.annotations = uncrowded(layout, width - layout.margin.l - layout.margin.r);
    drawn.add(place);
    return Plotly.react(place, data, layout, config);
  }

  const places = [...document.querySelectorAll("[data-chart]")];
  const waiting = new Set(places);
  const ahead = new IntersectionObserver((entries) => {
    for (const entry of entries) {
      if (!entry.isIntersecting) continue;
      ahead.unobserve(entry.target);
      if (waiting.delete(entry.target)) draw(entry.target);
    }
  }, { rootMargin: "400px" });
  places.forEach((place) => ahead.observe(place));

  const rest = window.requestIdleCallback || ((work) => setTimeout(work, 30));
  function drawNext() {
    const [place] = waiting;
    if (!place) return;
    waiting.delete(place);
    draw(place);
    rest(drawNext);
  }
  window.addEventListener("load", () => rest(drawNext));

  darkScheme.addEventListener("change", () => drawn.forEach(draw));
  window.addEventListener("beforeprint", () => {
    printing = true;
    waiting.clear();
    places.forEach(draw);
  });
  window.addEventListener("afterprint", () => {
    printing = false;
    places.forEach(draw);
  });
})();
