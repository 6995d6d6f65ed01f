// A burn at the bench: its timer, what is due, and entries that wait while the connection is down.
// Everything works without it, as plain forms. An entry is first kept in this browser under an id
// of its own and then sent, in order; the server records each id once, so sending again does no harm.
(() => {
  "use strict";

  const bench = document.querySelector("[data-burn]");
  if (!bench) return;

  // --- time: the server's clock, so that a phone that is slow reads the right minute -------------
  const apart = Number(bench.dataset.now) - Date.now();
  const lit = Number(bench.dataset.lit);
  const minutes = (at = Date.now()) => Math.max(0, (at + apart - lit) / 60000);
  const shown = (value) => `${Math.floor(value / 60)}:${String(Math.floor(value % 60)).padStart(2, "0")}`;

  // --- a store that outlives the page; a list in memory where a browser allows none --------------
  const memory = new Map();
  const opened = new Promise((resolve) => {
    try {
      const asked = indexedDB.open("pourwright-burns", 1);
      asked.onupgradeneeded = () => asked.result.createObjectStore("entries", { keyPath: "order", autoIncrement: true });
      asked.onsuccess = () => resolve(asked.result);
      asked.onerror = () => resolve(null);
    } catch { resolve(null); }
  });
  const within = async (mode, act) => {
    const base = await opened;
    if (!base) return null;
    return new Promise((resolve, reject) => {
      const step = base.transaction("entries", mode);
      const asked = act(step.objectStore("entries"));
      step.oncomplete = () => resolve(asked.result);
      step.onerror = step.onabort = () => reject(step.error);
    });
  };
  const keep = async (entry) => {
    if (await opened) return within("readwrite", (rows) => rows.put(entry));
    if (!entry.order) entry.order = Date.now() + Math.random();
    memory.set(entry.order, entry);
  };
  const drop = async (order) => {
    memory.delete(order);
    if (await opened) await within("readwrite", (rows) => rows.delete(order));
  };
  const kept = async () => ((await opened) ? within("readonly", (rows) => rows.getAll()) : [...memory.values()]);

  // --- ids: a page that is not served safely has no crypto.randomUUID, but it has random values --
  const newId = () => {
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    bytes[6] = (bytes[6] & 0x0f) | 0x40;
    bytes[8] = (bytes[8] & 0x3f) | 0x80;
    const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
    return [8, 12, 16, 20].reduceRight((text, at) => `${text.slice(0, at)}-${text.slice(at)}`, hex);
  };

  // --- what waits, in words ----------------------------------------------------------------------
  const box = bench.querySelector("[data-queue]");
  const showQueue = async (down) => {
    const rows = await kept();
    const waiting = rows.filter((row) => !row.refused);
    const refused = rows.filter((row) => row.refused);
    box.hidden = rows.length === 0;
    const words = [];
    if (waiting.length) words.push(`${waiting.length} ${waiting.length === 1 ? "entry waits" : "entries wait"} to be sent${down ? "; there is no connection. Keep this page open and go on" : ""}.`);
    if (refused.length) words.push(`${refused.length} could not be recorded.`);
    box.querySelector("[data-queue-words]").textContent = words.join(" ");
    const list = box.querySelector("[data-queue-list]");
    list.replaceChildren(...rows.map((row) => {
      const item = document.createElement("li");
      item.textContent = `${row.what}${row.refused ? `: ${row.refused}` : ""}`;
      if (row.refused) {
        const button = Object.assign(document.createElement("button"), { type: "button", className: "btn quiet small", textContent: "Put it away" });
        button.addEventListener("click", async () => { await drop(row.order); showQueue(false); });
        item.append(" ", button);
      }
      return item;
    }));
  };

  // --- sending, one after the other --------------------------------------------------------------
  let sending = false, again = false;
  const token = () => bench.querySelector("[name=csrfmiddlewaretoken]").value;
  const send = async () => {
    if (sending) { again = true; return; }
    sending = true;
    let down = false, ended = false, recorded = false;
    try {
      for (const row of (await kept()).filter((one) => !one.refused)) {
        const body = new FormData();
        row.fields.forEach(([name, value]) => body.append(name, name === "csrfmiddlewaretoken" ? token() : value));
        let answer;
        try {
          answer = await fetch(row.to, { method: "POST", body, credentials: "same-origin", headers: { "X-Burn-Entry": "1" } });
        } catch { down = true; break; }
        if (answer.ok) {
          await drop(row.order);
          recorded = true;
          ended ||= row.last && row.burn === bench.dataset.burn;
        } else if (answer.status === 422) {
          row.refused = (await answer.json()).refused || "refused";
          await keep(row);
        } else if (answer.status === 404) {
          row.refused = "that burn is not in the book any more";
          await keep(row);
        } else { down = true; break; }
      }
    } finally { sending = false; }
    await showQueue(down);
    if (ended) { location.reload(); return; }
    if (recorded && !down) await renew();
    if (again) { again = false; return send(); }
    if (down) setTimeout(send, 3000);
  };

  // --- the part of the page that changes ---------------------------------------------------------
  const renew = async () => {
    try {
      const answer = await fetch(location.pathname, { credentials: "same-origin" });
      const page = new DOMParser().parseFromString(await answer.text(), "text/html");
      if (!page.getElementById("live-due")) { location.reload(); return; } // it was put out elsewhere
      for (const id of ["live-due", "live-curve"]) document.getElementById(id).replaceChildren(...page.getElementById(id).childNodes);
      tick();
    } catch { /* no connection: what is shown stays */ }
  };

  // --- entries -----------------------------------------------------------------------------------
  bench.addEventListener("submit", async (event) => {
    const form = event.target.closest("form[data-entry]");
    if (!form) return;
    event.preventDefault();
    const at = minutes();
    form.querySelector("[name=client_id]").value = newId();
    form.querySelector("[name=elapsed]").value = at.toFixed(1);
    const fields = [...new FormData(form)];
    const figures = fields.filter(([name, value]) => !["csrfmiddlewaretoken", "client_id", "elapsed", "minute", "note"].includes(name) && value !== "" && !(value instanceof File && !value.size));
    if (!figures.length && !form.matches("[data-last], [action$='/full/']")) {
      form.querySelector("input:not([type=hidden]), select")?.focus();
      return; // nothing was read
    }
    await keep({
      to: form.action, what: `${form.dataset.entry} at ${shown(at)}`, burn: bench.dataset.burn,
      last: "last" in form.dataset, fields: fields.filter(([, value]) => !(value instanceof File && !value.size)),
    });
    form.reset();
    bench.querySelectorAll(`[data-group="${form.action.split("/").at(-2)}"]:not([data-read])`).forEach((item) => {
      if (Math.abs(at - Number(item.dataset.due)) <= Number(bench.dataset.within)) item.dataset.read = "sent";
    });
    if ("last" in form.dataset) bench.dataset.out = at;
    tick();
    await showQueue(false);
    send();
  });

  // --- the timer and what is due -----------------------------------------------------------------
  const WORDS = { read: "✓ read", sent: "✓ entered", now: "▲ now", missed: "■ missed" };
  let asked = new Set(), first = true;
  const tick = () => {
    const now = bench.dataset.out ? Number(bench.dataset.out) : minutes();
    bench.querySelector("[data-timer]").textContent = shown(now);
    const due = new Set();
    bench.querySelectorAll("[data-due]").forEach((item) => {
      const at = Number(item.dataset.due);
      let state = "later";
      if ("read" in item.dataset) state = "read";
      else if (now > at + Number(bench.dataset.within)) state = "missed";
      else if (now >= at - Number(bench.dataset.early)) state = "now";
      item.className = `due-${state}`;
      const left = Math.ceil(at - now);
      item.querySelector("[data-due-state]").textContent =
        state === "later" ? `○ ${left < 60 ? `in ${left} min` : "later"}` : WORDS[item.dataset.read === "sent" ? "sent" : state];
      if (state === "now") due.add(`${item.dataset.group} ${at}`);
    });
    const fresh = [...due].filter((one) => !asked.has(one));
    if (fresh.length && !first) {
      if (bench.querySelector("[data-beep]")?.checked) beep();
      const group = fresh[0].split(" ")[0];
      const place = document.getElementById(`entry-${group}`);
      if (place && !bench.contains(document.activeElement?.closest("details.entry"))) place.open = true;
    }
    asked = due;
    first = false;
  };
  const beep = () => {
    const sound = new AudioContext(), tone = sound.createOscillator(), loud = sound.createGain();
    tone.frequency.value = 880;
    loud.gain.value = 0.2;
    tone.connect(loud).connect(sound.destination);
    tone.start();
    tone.stop(sound.currentTime + 0.5);
    tone.onended = () => sound.close();
  };

  // A link in the list of what is due unfolds what it leads to.
  bench.addEventListener("click", (event) => {
    const link = event.target.closest("[data-due] a");
    const place = link && document.querySelector(link.getAttribute("href"));
    if (!place) return;
    event.preventDefault();
    place.open = true;
    place.scrollIntoView({ block: "center" });
    place.querySelector("input:not([type=hidden]), select")?.focus();
  });
  bench.querySelector("[data-beep]")?.addEventListener("change", ({ target }) => target.checked && beep());

  window.addEventListener("online", send);
  tick();
  setInterval(tick, 1000);
  showQueue(false).then(send);
})();
