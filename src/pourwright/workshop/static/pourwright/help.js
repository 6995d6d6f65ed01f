// What a page can do better with JavaScript; everything works without it.
(() => {
  "use strict";

  // A list of rows in a form: <div data-rows="prefix"> holds the rows and a <template>.
  const addRow = (box) => {
    const total = box.querySelector(`[name="${box.dataset.rows}-TOTAL_FORMS"]`);
    const markup = box.querySelector("template").innerHTML.replaceAll("__prefix__", total.value);
    box.querySelector("[data-rows-body]").insertAdjacentHTML("beforeend", markup);
    total.value = Number(total.value) + 1;
    const added = box.querySelector("[data-rows-body]").lastElementChild;
    slides(added);
    added?.querySelector("input:not([type=hidden]), select")?.focus();
  };

  // A number that can be slid too: <input data-slide="0 15 0.1"> gets a slider beneath it.
  const slides = (place) => place?.querySelectorAll("input[data-slide]").forEach((box) => {
    const [min, max, step] = box.dataset.slide.split(" ");
    const slider = Object.assign(document.createElement("input"), { type: "range", min, max, step });
    slider.setAttribute("aria-label", `Slide: ${box.labels?.[0]?.firstChild.textContent.trim() || box.getAttribute("aria-label")}`);
    const follow = () => (slider.value = Number(box.value.replace(",", ".")) || 0);
    box.addEventListener("input", follow);
    slider.addEventListener("input", () => {
      box.value = slider.value;
      box.dispatchEvent(new Event("change", { bubbles: true }));
    });
    follow();
    box.after(slider);
  });
  slides(document);

  document.addEventListener("click", (event) => {
    const more = event.target.closest("[data-add-row]");
    if (more) {
      event.preventDefault(); // without JavaScript the button asks the server for more rows
      addRow(more.closest("[data-rows]"));
    }
    if (event.target.closest("[data-print]")) window.print();
    const sure = event.target.closest("[data-ask]");
    if (sure && !window.confirm(sure.dataset.ask)) event.preventDefault();
  });

  // Buttons that only work here are hidden until this runs.
  const ready = () => document.querySelectorAll("[data-needs-js]").forEach((it) => (it.hidden = false));
  ready();
  document.addEventListener("htmx:afterSwap", ready);

  // What was unfolded stays so when its part of the page is sent anew.
  const unfolded = new Set();
  document.addEventListener("toggle", ({ target }) => {
    if (target.id && target.matches("details")) target.open ? unfolded.add(target.id) : unfolded.delete(target.id);
  }, true);
  document.addEventListener("htmx:afterSettle", () => unfolded.forEach((id) => {
    const again = document.getElementById(id);
    if (again) again.open = true;
  }));

  // What the search box found goes away when one is done with it; arrows walk through it.
  const found = () => document.getElementById("find-results");
  document.addEventListener("click", (event) => {
    if (!event.target.closest(".spine .find")) found()?.replaceChildren();
  });
  document.addEventListener("keydown", (event) => {
    const box = event.target.closest(".spine .find");
    if (!box || !found()?.childElementCount) return;
    if (event.key === "Escape") {
      found().replaceChildren();
      document.getElementById("find-q").focus();
    }
    const step = { ArrowDown: 1, ArrowUp: -1 }[event.key];
    if (!step) return;
    event.preventDefault();
    const stops = [document.getElementById("find-q"), ...found().querySelectorAll("a")];
    const next = stops.indexOf(document.activeElement) + step;
    stops[(next + stops.length) % stops.length].focus();
  });

  // "/" goes to the search box, unless someone is typing.
  document.addEventListener("keydown", (event) => {
    if (event.key !== "/" || event.target.closest("input, textarea, select")) return;
    event.preventDefault();
    document.getElementById("find-q")?.focus();
  });
})();
