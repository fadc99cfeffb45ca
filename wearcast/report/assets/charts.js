// Charts to look into: earlier lives on demand, hours closer by buttons or by drawing over them, and what a reading
// says when it is pointed at. The drawing itself stands in the page.
(() => {
  "use strict";
  const ROOM = 22; // how near a pointer must be to a reading [px]
  const LEAST = 1; // least share of all hours in view, in hundredths
  const make = (tag, more = {}) => Object.assign(document.createElement(tag), more);

  function ready(chart) {
    const plot = chart.querySelector(".plot");
    const layer = chart.querySelector(".layer");
    const height = Number(layer.getAttribute("viewBox").split(" ")[3]);
    const [start, width] = chart.dataset.view.split(" ").map(Number);
    let view = [start, width];

    function look(from, span) {
      const wide = Math.min(100, Math.max(LEAST, span));
      view = [Math.min(Math.max(0, from), 100 - wide), wide];
      chart.style.setProperty("--x0", view[0].toFixed(3));
      chart.style.setProperty("--zx", (100 / wide).toFixed(4));
      layer.setAttribute("viewBox", `${10 * view[0]} 0 ${10 * wide} ${height}`);
      chart.classList.toggle("close", wide < 0.6 * width);
      chart.classList.toggle("every", wide > 1.4 * width);
      earlier?.setAttribute("aria-pressed", String(wide > 1.01 * width && view[0] < start));
      back.disabled = view[0] === start && wide === width;
    }

    const bar = make("div", { className: "looking" });
    const button = (text, work) => {
      const one = make("button", { type: "button", textContent: text });
      one.addEventListener("click", work);
      bar.append(one);
      return one;
    };
    let earlier;
    button("Closer", () => look(view[0] + view[1] / 4, view[1] / 2));
    button("Wider", () => look(view[0] - view[1] / 2, view[1] * 2));
    button("Sooner", () => look(view[0] - view[1] / 3, view[1]));
    button("Later", () => look(view[0] + view[1] / 3, view[1]));
    if (chart.dataset.earlier) earlier = button("All hours", () => look(0, 100));
    const back = button("As at first", () => look(start, width));
    back.disabled = true;
    chart.closest(".chart").before(bar);

    // What a reading says.
    const said = make("div", { className: "pointed", hidden: true });
    plot.append(said);
    const dots = [...plot.querySelectorAll(".dot")].map((dot) => {
      const title = dot.querySelector("title");
      const text = title.textContent;
      title.remove(); // said at once instead
      return { dot, text };
    });
    function point(event) {
      const box = plot.getBoundingClientRect();
      let near = null;
      let least = ROOM;
      for (const one of dots) {
        const at = one.dot.getBoundingClientRect();
        const away = Math.hypot(at.x + at.width / 2 - event.clientX, at.y + at.height / 2 - event.clientY);
        if (away < least) [near, least] = [one, away];
      }
      said.hidden = !near;
      if (!near) return;
      said.textContent = near.text;
      const at = near.dot.getBoundingClientRect();
      const left = at.x - box.x + 14;
      said.style.left = `${Math.max(0, left + said.offsetWidth > box.width ? left - said.offsetWidth - 24 : left)}px`;
      said.style.top = `${Math.max(0, Math.min(at.y - box.y - 10, box.height - said.offsetHeight))}px`;
    }

    // Hours drawn over are looked at closer.
    let drawn = null;
    const share = (event) => {
      const box = plot.getBoundingClientRect();
      return Math.min(Math.max((event.clientX - box.x) / box.width, 0), 1);
    };
    plot.addEventListener("pointerdown", (event) => {
      if (event.pointerType !== "mouse" || event.button) return point(event);
      drawn = { from: share(event), band: make("div", { className: "asked" }) };
      plot.append(drawn.band);
      plot.setPointerCapture(event.pointerId);
      event.preventDefault();
    });
    plot.addEventListener("pointermove", (event) => {
      if (!drawn) return point(event);
      const to = share(event);
      drawn.band.style.left = `${100 * Math.min(drawn.from, to)}%`;
      drawn.band.style.width = `${100 * Math.abs(drawn.from - to)}%`;
    });
    plot.addEventListener("pointerup", (event) => {
      if (!drawn) return;
      const [low, high] = [drawn.from, share(event)].sort((a, b) => a - b);
      drawn.band.remove();
      drawn = null;
      if (high - low > 0.02) look(view[0] + low * view[1], (high - low) * view[1]);
    });
    plot.addEventListener("pointerleave", () => { said.hidden = true; });
    plot.addEventListener("dblclick", () => look(start, width));
    window.addEventListener("beforeprint", () => look(start, width));
  }

  // Each chart is made ready when its place is first shown.
  for (const place of document.querySelectorAll("details.place")) {
    const once = () => {
      if (!place.open) return;
      place.removeEventListener("toggle", once);
      for (const chart of place.querySelectorAll(".trend")) ready(chart);
    };
    place.addEventListener("toggle", once);
    once();
  }
})();
