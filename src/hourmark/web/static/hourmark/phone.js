// What a script adds on her phone: seconds that run, a wrong clock noticed, a form that survives a bad network, a plunger to drag.
// Everything works without it.
"use strict";
(() => {
  const body = document.body, wanted = body.dataset, show = (id, shown) => { const one = document.getElementById(id); if (one) one.hidden = !shown; };
  const WRONG = 60000, DRIFT = 5000, EVERY = 60000, PATIENCE = 20000;
  const patience = () => { // an older phone has no AbortSignal.timeout
    if (AbortSignal.timeout) return AbortSignal.timeout(PATIENCE);
    const ends = new AbortController();
    setTimeout(() => ends.abort(), PATIENCE);
    return ends.signal;
  };

  // The server's clock, carried on by the time that passes here; never by what the clock of the phone says.
  let base = null, unsure = false;
  const set = (instant, since) => { base = { server: Date.parse(instant), ran: since, wall: Date.now() - (performance.now() - since) }; };
  const pace = Number(wanted.pace || 1); // more than 1 in a drill alone, whose night has a clock of its own
  const now = () => base.server + (performance.now() - base.ran) * pace;
  const strays = () => Math.abs(Date.now() - base.wall - (performance.now() - base.ran)) > DRIFT;
  const compare = (late) => {
    const off = Date.now() - now();
    show("clock-wrong", !wanted.pace && (off < -WRONG - late || off > WRONG + late));
    const local = (at) => `${String(at.getHours()).padStart(2, "0")}:${String(at.getMinutes()).padStart(2, "0")}`;
    const elsewhere = [...document.querySelectorAll("[data-wall]")].some((one) => local(new Date(one.dataset.until)) !== one.dataset.wall);
    show("zone-differs", elsewhere);
  };
  const words = (left) => {
    const away = Math.floor(Math.abs(left) / 60000), hours = Math.floor(away / 60), minutes = away % 60;
    const pattern = left > 0 ? (hours ? wanted.hours : minutes ? wanted.minutes : wanted.soon) : hours ? wanted.pastHours : minutes ? wanted.past : wanted.is;
    return pattern.replace("{hours}", hours).replace("{minutes}", minutes);
  };
  const tick = () => {
    if (strays() && !unsure) { unsure = true; check(); }
    show("not-checked", unsure);
    for (const one of document.querySelectorAll("[data-until]")) {
      const left = Date.parse(one.dataset.until) - now(), said = unsure ? "" : left <= 0 && one.dataset.hangs ? one.dataset.hangs : words(left);
      if (one.textContent !== said) one.textContent = said;
    }
    const asks = document.querySelectorAll(".late-ask"); // not needed while the parts below change at their minute
    if (unsure) { for (const one of asks) one.hidden = false; return; }
    for (const one of document.querySelectorAll("[data-after], [data-before]")) { // what is said only up to a minute, or from it on
      const { after, before } = one.dataset, stays = !(after && now() <= Date.parse(after)) && !(before && now() > Date.parse(before));
      if (one.hidden === stays) one.hidden = !stays;
    }
    for (const one of asks) one.hidden = true;
  };
  const leave = () => location.replace(location.pathname + location.search); // an answer to a form, loaded anew, would send the form again
  const check = async () => {
    const asked = performance.now();
    try {
      const answer = await fetch(wanted.sync, { cache: "no-store", signal: patience() });
      if (answer.status === 404) { // void since: gone at once, but for a report that she is writing, which is kept
        if (document.getElementById("void-now")) show("void-now", true);
        else if (!("void" in wanted)) leave(); // a page that says so already stays
        return;
      }
      if (!answer.ok) throw new Error();
      const said = await answer.json(), back = performance.now();
      set(said.now, (asked + back) / 2);
      if (said.told !== wanted.told) { // told by somebody else, or on another screen
        if (!("keeps" in wanted)) { location.reload(); return; }
        show("changed", true);
      }
      unsure = false;
      const checked = document.getElementById("checked");
      checked.textContent = checked.dataset.pattern.replace("{clock}", said.checked);
      compare(back - asked);
    } catch { unsure = true; }
    tick();
  };
  if (wanted.now) {
    const [came] = performance.getEntriesByType("navigation");
    const began = came && came.responseStart ? came.responseStart : performance.now();
    set(wanted.now, began);
    compare(began);
    tick();
    setInterval(tick, 1000);
    setInterval(check, EVERY);
    document.addEventListener("visibilitychange", () => { if (!document.hidden) check(); });
    addEventListener("pageshow", (event) => { if (event.persisted) check(); });
    addEventListener("online", check);
  }

  // A form is sent without leaving the page: where no answer comes, everything typed is still there, and the same form goes again.
  for (const form of document.querySelectorAll("form[data-sends]")) {
    form.addEventListener("submit", async (event) => {
      event.preventDefault();
      const button = form.querySelector("button");
      if (button.getAttribute("aria-disabled") === "true") return;
      const label = button.textContent;
      const again = () => { button.removeAttribute("aria-disabled"); button.textContent = label; };
      addEventListener("pageshow", again, { once: true }); // she came back to the form
      button.setAttribute("aria-disabled", "true");
      if (button.dataset.sending) button.textContent = button.dataset.sending;
      show("unsent", false);
      try {
        const sent = new URLSearchParams(new FormData(form));
        const answer = await fetch(form.action || location.href, { method: "POST", body: sent, signal: patience() });
        if (answer.redirected) { location.assign(answer.url); return; }
        if (answer.status >= 500) throw new Error();
        setTimeout(again, PATIENCE);
        form.submit(); // sent again it is the same one, and its answer is a page
      } catch {
        again();
        const unsent = document.getElementById("unsent");
        if (!unsent) { form.submit(); return; }
        show("unsent", true);
        unsent.focus();
      }
    });
  }

  for (const one of document.querySelectorAll("input[name=how]"))
    one.addEventListener("change", () => { one.closest("fieldset").querySelector("details").open ||= one.value === "wrong"; });

  for (const button of document.querySelectorAll("button[data-seconds]")) {
    button.hidden = false;
    const said = document.getElementById("timer-said");
    button.addEventListener("click", () => {
      const ends = performance.now() + button.dataset.seconds * 1000;
      button.setAttribute("aria-disabled", "true");
      if (button.running) clearInterval(button.running);
      const count = () => {
        const left = Math.ceil((ends - performance.now()) / 1000);
        if (left > 0) { button.textContent = button.dataset.left.replace("{seconds}", left); return; }
        clearInterval(button.running);
        button.removeAttribute("aria-disabled");
        button.textContent = button.dataset.over;
        said.textContent = button.dataset.over;
      };
      said.textContent = "";
      count();
      button.running = setInterval(count, 250);
    });
  }

  const barrel = document.getElementById("barrel");
  if (barrel) {
    const { top, gap, count } = barrel.dataset, field = document.getElementById("at"), stands = document.getElementById("stands");
    const numbers = barrel.dataset.numbers.split(" ").map((one) => one.split(":"));
    let at = Number(barrel.dataset.at);
    const words = () => {
      if (!at) return barrel.dataset.none;
      const [last, name] = numbers.filter(([line]) => line <= at).pop() || [0, "0"], past = at - last;
      const pattern = past === 0 ? barrel.dataset.is : past === 1 ? barrel.dataset.pastOne : barrel.dataset.past;
      return pattern.replace("{number}", name).replace("{lines}", past);
    };
    const move = (to) => {
      at = Math.max(0, Math.min(Number(count), Math.round(to)));
      document.getElementById("plunger").setAttribute("transform", `translate(0 ${Number(top) + at * gap})`);
      field.value = at;
      stands.textContent = words();
      barrel.setAttribute("aria-valuenow", at);
      barrel.setAttribute("aria-valuetext", words());
    };
    const set = { role: "slider", tabindex: 0, "aria-label": barrel.dataset.label, "aria-orientation": "vertical", "aria-valuemin": 0, "aria-valuemax": count };
    for (const [name, value] of Object.entries(set)) barrel.setAttribute(name, value);
    stands.removeAttribute("role");
    const steps = { ArrowDown: 1, ArrowRight: 1, ArrowUp: -1, ArrowLeft: -1, PageDown: 10, PageUp: -10, Home: -1e6, End: 1e6 };
    barrel.addEventListener("keydown", (event) => {
      if (!(event.key in steps)) return;
      event.preventDefault();
      move(at + steps[event.key]);
    });
    const from = (event) => (event.clientY - barrel.getBoundingClientRect().top) * (600 / barrel.getBoundingClientRect().height);
    const plunger = document.getElementById("plunger");
    let held = null;
    plunger.addEventListener("pointerdown", (event) => {
      held = from(event) - at * gap;
      plunger.setPointerCapture(event.pointerId);
      event.preventDefault();
    });
    plunger.addEventListener("pointermove", (event) => { if (held !== null) move((from(event) - held) / gap); });
    for (const ends of ["pointerup", "pointercancel"]) plunger.addEventListener(ends, () => { held = null; });
    for (const button of document.querySelectorAll("[data-by]"))
      button.addEventListener("click", (event) => { event.preventDefault(); move(at + Number(button.dataset.by)); });
    move(at);
  }
})();
