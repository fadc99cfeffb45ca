// Draws the charts of a sheet: those in view first, the others while the page rests, all of them anew before print.
// plotly.js lies in the page compressed. It is unpacked at once, beside everything else, and read only when the first
// chart is due, after the page has been painted.
(() => {
  "use strict";
  const places = [...document.querySelectorAll("[data-chart]")];
  const source = document.getElementById("plotly-bundle");
  if (!places.length || !source) return;
  const page = JSON.parse(document.getElementById("chart-data").textContent);
  const darkScheme = window.matchMedia("(prefers-color-scheme: dark)");
  const onPaper = window.matchMedia("print");
  const config = { displayModeBar: false, responsive: true, scrollZoom: false, doubleClick: false };
  const PX_PER_MM = 96 / 25.4;
  const PRINT_MM = [91, 58]; // as in print.css; another chart says its own: data-print-mm="60x40"
  const LINE_PX = 10.5;
  const SHARE_MS = 90; // what a reader does not feel
  const root = document.documentElement;
  const waiting = new Set(places);
  const drawn = new Set();
  let printing = false;

  let unpacked = "";
  async function unpack() {
    const letters = atob(source.textContent.trim());
    const bytes = Uint8Array.from(letters, (letter) => letter.charCodeAt(0));
    const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("gzip"));
    unpacked = await new Response(stream).text();
  }

  function awake() {
    if (window.Plotly || !unpacked) return;
    const script = document.createElement("script");
    script.textContent = unpacked; // the page's policy knows it by its hash
    document.head.append(script);
    script.remove();
    unpacked = "";
  }

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

  // A copy in other inks; what several figures share stands once in the page, in a list that `=` points into.
  function inked(value, inks) {
    if (typeof value === "string") {
      const wash = value.match(/^rgba\((\d+,\d+,\d+),([\d.]+)\)$/);
      if (wash) return `rgba(${inks.get(wash[1]) || wash[1]},${wash[2]})`;
      return value.startsWith("#") && inks.has(value) ? inks.get(value) : value;
    }
    if (Array.isArray(value)) return value.map((inner) => inked(inner, inks));
    if (value && typeof value === "object") {
      if ("=" in value) return inked(page.parts[value["="]], inks);
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

  // Room for the numbers of the value axis, told by their letters: to have it measured doubles the time a chart takes.
  function roomAtTheLeft({ range = [], tickformat = "" }) {
    const places = Number((tickformat.match(/\.(\d)f/) || [])[1] || 0);
    const letters = Math.max(0, ...range.map((end) => end.toFixed(places).length));
    return Math.ceil(34 + 6.8 * letters);
  }

  function paperSize(place) {
    const said = (place.dataset.printMm || "").split("x").map(Number);
    const [width, height] = said.length === 2 && said.every((mm) => mm > 0) ? said : PRINT_MM;
    return { width: Math.floor(width * PX_PER_MM), height: Math.floor(height * PX_PER_MM), autosize: false };
  }

  function draw(place) {
    awake();
    if (!window.Plotly) return;
    waiting.delete(place);
    const inks = printing ? PRINT : darkScheme.matches ? DARK : LIGHT;
    const { data, layout } = inked(page.figures[place.dataset.chart], inks);
    if (printing) Object.assign(layout, paperSize(place));
    const width = printing ? layout.width : place.clientWidth;
    if (width < 480) layout.xaxis.nticks = 4;
    if (printing) layout.font.size = 10;
    if (layout.yaxis.automargin) {
      layout.yaxis.automargin = false;
      layout.margin.l = roomAtTheLeft(layout.yaxis);
    }
    if (layout.annotations) layout.annotations = uncrowded(layout, width - layout.margin.l - layout.margin.r);
    place.style.contain = "strict"; // a chart moves nothing outside itself: the page is not laid out anew for each
    drawn.add(place);
    Plotly.react(place, data, layout, config);
    if (!waiting.size && !root.dataset.charts) {
      root.dataset.charts = "drawn";
      performance.mark("charts-drawn");
    }
  }

  const ahead = new IntersectionObserver((entries) => {
    for (const { isIntersecting, target } of entries) {
      if (!isIntersecting) continue;
      ahead.unobserve(target);
      if (waiting.has(target)) draw(target);
    }
  }, { rootMargin: "400px" });

  const rest = window.requestIdleCallback || ((work) => setTimeout(work, 30));
  function drawNext() {
    const until = performance.now() + SHARE_MS; // a few at a time: each pause costs a frame
    for (;;) {
      const place = [...waiting].find((one) => one.clientWidth > 0); // what is hidden waits until it is shown
      if (!place) return;
      draw(place);
      if (performance.now() > until) break;
    }
    rest(drawNext);
  }
  // Two frames: the words are on the screen before the first chart costs anything.
  const painted = new Promise((go) => requestAnimationFrame(() => requestAnimationFrame(go)));
  const ready = unpack();
  Promise.all([ready, painted]).then(() => {
    places.forEach((place) => ahead.observe(place));
    rest(drawNext);
  }, () => {
    const words = document.createElement("p");
    words.textContent = "This browser is too old to draw the charts (before 2023). The sentence under each and the tables say the same.";
    places[0].closest("section").prepend(words);
  });

  function toPaper(now) {
    if (printing === now) return;
    printing = now;
    if (now) places.forEach(draw);
    else drawAnew();
  }
  // A chart that a filter hides has no width to be drawn at: it waits until it is shown again.
  function drawAnew() {
    for (const place of [...drawn]) {
      if (place.clientWidth > 0) {
        draw(place);
        continue;
      }
      Plotly.purge(place);
      drawn.delete(place);
      waiting.add(place);
      ahead.observe(place);
    }
  }
  darkScheme.addEventListener("change", () => printing || drawAnew());
  window.addEventListener("beforeprint", () => toPaper(true));
  window.addEventListener("afterprint", () => toPaper(false));
  onPaper.addEventListener("change", () => toPaper(onPaper.matches));
})();
