// One place at a time: its panel is shown when its address is asked for, by a link of the drawing, of the list or of
// the line of places, and the others are not. Without scripts each is folded and opens in its place.
(() => {
  "use strict";
  const places = [...document.querySelectorAll("details.place")];
  if (!places.length) return;
  const root = document.documentElement;
  const PAPER = "#places-on-paper"; // asked for by the program that prints a sheet for each place
  const sectionOf = (place) => place.querySelector("section");
  root.classList.add("one-place");

  function mark(anchor) {
    for (const link of document.querySelectorAll('.along a, table.list th a, svg.shaft a')) {
      const here = link.getAttribute("href") === `#${anchor}`;
      const one = link.closest("tr") || link;
      if (here) one.setAttribute("aria-current", "true");
      else one.removeAttribute("aria-current");
    }
  }

  function show(place, scroll) {
    for (const one of places) one.open = one === place;
    mark(sectionOf(place).id);
    if (scroll) place.scrollIntoView();
  }

  function asked() {
    const anchor = decodeURIComponent(window.location.hash.slice(1));
    return places.find((place) => sectionOf(place).id === anchor);
  }

  function follow() {
    const place = asked();
    if (place) show(place, true);
  }

  // The same address asked for again brings its panel back into sight.
  document.addEventListener("click", (event) => {
    const link = event.target.closest('a[href^="#"]');
    if (link && link.getAttribute("href") === window.location.hash) follow();
  });
  window.addEventListener("hashchange", follow);
  document.addEventListener("place-asked", (event) => {
    const place = places.find((one) => sectionOf(one).id === event.detail);
    if (place) show(place, true);
  });

  for (const place of places) {
    const print = document.createElement("button");
    Object.assign(print, { type: "button", textContent: "Print this place" });
    print.addEventListener("click", () => {
      root.dataset.paper = "place";
      window.print();
    });
    place.querySelector(".steps").append(print);
    place.addEventListener("toggle", () => {
      if (!place.open) return;
      mark(sectionOf(place).id);
    });
  }
  window.addEventListener("afterprint", () => delete root.dataset.paper);

  // Where the drawing is wider than its screen, what must be done first is seen first.
  const drawing = document.querySelector(".drawing");
  const urgent = document.querySelector('.brief a[href^="#"]');
  const link = urgent && drawing && drawing.querySelector(`a[href="${urgent.getAttribute("href")}"]`);
  if (link && drawing.scrollWidth > drawing.clientWidth) {
    const [at, box] = [link.getBoundingClientRect(), drawing.getBoundingClientRect()];
    drawing.scrollLeft += at.x + at.width / 2 - box.x - box.width / 2;
  }

  // The arrows go along the shaft while the place is being read.
  document.addEventListener("keydown", (event) => {
    if (event.altKey || event.ctrlKey || event.metaKey || event.shiftKey) return;
    const place = document.activeElement?.closest?.("details.place[open]");
    const way = { ArrowLeft: "prev", ArrowRight: "next" }[event.key];
    if (!place || !way || document.activeElement.matches("input, select, textarea, .wide")) return;
    const link = place.querySelector(`.steps [rel="${way}"]`);
    if (!link) return;
    event.preventDefault();
    window.location.hash = link.hash;
    asked()?.querySelector("summary").focus();
  });

  if (window.location.hash === PAPER) {
    for (const place of places) {
      place.removeAttribute("name");
      place.open = true;
    }
    root.dataset.paper = "places";
  } else follow();
})();
