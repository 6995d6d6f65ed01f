// Plays a candle's section over time: a slider, and a button for those whose eyes like motion.
// Without this script the same moments stand side by side.
(() => {
  "use strict";
  const still = window.matchMedia("(prefers-reduced-motion: reduce)");
  const PLAYS_S = 12;

  const clock = (hours) => {
    const minutes = Math.round(hours * 60);
    return `${Math.floor(minutes / 60)} h ${String(minutes % 60).padStart(2, "0")} min`;
  };

  const reel = (figure) => {
    const moments = figure.dataset.film.split("\n").map((line) => {
      const [at, wax, ...rest] = line.split("|");
      return { at: Number(at), wax, states: rest.splice(-2), bands: rest };
    });
    const half = (name) => [...figure.querySelectorAll(`.film-player .${name} path`)];
    const warm = half("sp-t"), state = half("sp-s");
    return (hours) => {
      // The last moment that has come, so that nothing is shown before its time.
      const now = moments.findLast((one) => one.at <= hours + 1e-6) ?? moments[0];
      const put = (path, d) => path.setAttribute("d", d || "M0 0");
      put(warm[0], now.wax);
      put(state[0], now.wax);
      now.bands.forEach((d, place) => put(warm[place + 1], d));
      now.states.forEach((d, place) => put(state[place + 1], d));
    };
  };

  const start = (box) => {
    if (box.dataset.ready) return;
    box.dataset.ready = "yes";
    const last = Number(box.dataset.hours);
    const slider = box.querySelector("[data-film-slider]"), play = box.querySelector("[data-film-play]");
    const told = box.querySelector("[data-film-clock]");
    box.querySelectorAll(".film-player, .film-controls").forEach((it) => (it.hidden = false));
    box.classList.add("plays");
    const reels = [...box.querySelectorAll("[data-film]")].map(reel);
    const show = () => {
      const hours = (slider.value / slider.max) * last;
      reels.forEach((draw) => draw(hours));
      told.textContent = clock(hours);
      slider.setAttribute("aria-valuetext", clock(hours));
    };
    slider.addEventListener("input", () => { stop(); show(); });
    let from = null;
    const stop = () => { from = null; play.textContent = "Play"; };
    const step = (now) => {
      if (from === null || !box.isConnected) return;
      const share = Math.min((now - from) / 1000 / PLAYS_S, 1);
      slider.value = share * slider.max;
      show();
      share < 1 ? requestAnimationFrame(step) : stop();
    };
    play.addEventListener("click", () => {
      if (from !== null) return stop();
      const at = slider.value >= Number(slider.max) ? 0 : slider.value / slider.max;
      from = performance.now() - at * PLAYS_S * 1000;
      play.textContent = "Pause";
      requestAnimationFrame(step);
    });
    // Nothing moves for those who asked for that: the slider is theirs.
    const quiet = () => { play.hidden = still.matches; if (still.matches) stop(); };
    still.addEventListener("change", quiet);
    quiet();
    show();
  };

  const all = () => document.querySelectorAll("[data-films]").forEach(start);
  all();
  document.addEventListener("htmx:afterSettle", all);
})();
