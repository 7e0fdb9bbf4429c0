"use strict";
(function () {
  const run = JSON.parse(document.getElementById("run").textContent);
  const byId = (name) => document.getElementById(name);
  const times = run.times;
  const last = times.length - 1;
  const slider = byId("slider");
  const play = byId("play");
  const speed = byId("speed");
  const scan = byId("scan");
  const status = byId("status");
  const clocks = [...document.querySelectorAll("[data-clock]")];
  const chart = document.querySelector("#time svg");
  const line = chart.querySelector(".now");
  const cells = [...chart.querySelectorAll("[data-now]")];
  const buttons = [...document.querySelectorAll("[data-at]")];
  const eventTimes = [...new Set(buttons.map((each) => Number(each.dataset.at)))].sort((a, b) => a - b);
  const calm = window.matchMedia("(prefers-reduced-motion: reduce)");

  // Every byte of a frame has the parts of the page that show it.
  const parts = [];
  const owner = [];
  const rungs = run.rungs.map((data, number) => {
    const figure = document.querySelector(`figure[data-rung="${number}"]`);
    const base = parts.length;
    for (let net = 0; net < data.nets; net += 1) {
      parts.push({ nodes: [...figure.querySelectorAll(`[data-net="${net}"]`)], on: "live", off: "dead" });
      owner.push(number);
    }
    for (let element = 0; element < data.elements; element += 1) {
      const receives = data.receive.includes(element);
      const nodes = receives ? [] : [...figure.querySelectorAll(`[data-element="${element}"]`)];
      parts.push({ nodes, on: "shut", off: "open" });
      owner.push(number);
    }
    return { data, figure, base, caption: byId(`says-${number}`) };
  });
  const state = new Uint8Array(parts.length);
  let current = -1;

  function clock(ms) {
    const whole = Math.floor(ms / 1000);
    return `${whole}.${String(ms % 1000).padStart(3, "0")} s`;
  }

  // The last place of a sorted list whose value is not greater.
  function atOrBefore(list, value) {
    let low = 0;
    let high = list.length;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (list[middle] <= value) low = middle + 1;
      else high = middle;
    }
    return low - 1;
  }

  function paint(place) {
    const part = parts[place];
    const on = state[place] === 1;
    for (const node of part.nodes) {
      node.classList.toggle(part.on, on);
      node.classList.toggle(part.off, !on);
    }
  }

  function caption(rung) {
    const has = (net) => state[rung.base + net] === 1;
    const data = rung.data;
    const given = data.outputs.filter((each) => has(each[0])).map((each) => each[1]);
    let words = "";
    if (!has(0)) words = data.supply ? `No power: ${data.supply} is dead.` : "Not solved: the controller does not scan at this instant.";
    else if (given.length > 0) words = `Power reaches ${given.join(", ")}.`;
    else {
      const stop = data.lines.find((each) => !has(each[0]));
      words = stop ? `Power stops at ${stop[1]}.` : "Power reaches no output.";
    }
    rung.caption.textContent = words;
  }

  function value(band, frame, at) {
    if (band.n) return `${band.n[frame]}${band.u ? ` ${band.u}` : ""}`;
    return band.w[(band.v + Math.max(atOrBefore(band.t, at), 0)) % 2];
  }

  function show(frame, spoken) {
    const wanted = Math.min(Math.max(frame, 0), last);
    const touched = new Set();
    const flip = (place) => {
      state[place] ^= 1;
      touched.add(place);
    };
    while (current < wanted) {
      current += 1;
      run.flips[current].forEach(flip);
    }
    while (current > wanted) {
      run.flips[current].forEach(flip);
      current -= 1;
    }
    touched.forEach(paint);
    new Set([...touched].map((place) => owner[place])).forEach((number) => caption(rungs[number]));
    const fresh = new Set(current > 0 ? run.flips[current].map((place) => owner[place]) : []);
    rungs.forEach((rung, number) => rung.figure.classList.toggle("changed", fresh.has(number)));
    const at = times[current];
    const x = run.left + ((at - run.first) / run.span) * (run.right - run.left);
    line.setAttribute("x1", x);
    line.setAttribute("x2", x);
    run.bands.forEach((band, number) => {
      cells[number].textContent = value(band, current, at);
    });
    slider.value = String(current);
    slider.setAttribute("aria-valuetext", `${clock(at)}, frame ${current + 1} of ${last + 1}`);
    status.setAttribute("aria-live", spoken ? "polite" : "off");
    clocks.forEach((each) => {
      each.textContent = clock(at);
    });
    scan.textContent = `frame ${current + 1} of ${last + 1}`;
    const passed = atOrBefore(eventTimes, at);
    buttons.forEach((each) => {
      const here = passed >= 0 && Number(each.dataset.at) === eventTimes[passed];
      if (here) each.setAttribute("aria-current", "time");
      else each.removeAttribute("aria-current");
      each.querySelector(".here").hidden = !here;
    });
  }

  // ---------------------------------------------------------------- playing

  let playing = false;
  let began = 0;
  let beganAt = 0;

  function stop() {
    playing = false;
    play.setAttribute("aria-pressed", "false");
    play.textContent = "Play";
    status.setAttribute("aria-live", "polite");
  }

  function start() {
    if (current >= last) show(0, false);
    playing = true;
    play.setAttribute("aria-pressed", "true");
    play.textContent = "Pause";
    if (calm.matches) window.setTimeout(pace, 1000);
    else {
      began = performance.now();
      beganAt = times[current];
      window.requestAnimationFrame(turn);
    }
  }

  function turn(now) {
    if (!playing) return;
    const at = beganAt + (now - began) * Number(speed.value);
    const frame = atOrBefore(times, at);
    if (frame > current) show(frame, false);
    if (current >= last) stop();
    else window.requestAnimationFrame(turn);
  }

  // Whoever asks for less motion gets one change a second.
  function pace() {
    if (!playing) return;
    let frame = current + 1;
    while (frame < last && run.flips[frame].length === 0) frame += 1;
    show(frame, false);
    if (current >= last) stop();
    else window.setTimeout(pace, 1000);
  }

  function go(frame) {
    if (playing) stop();
    show(frame, true);
  }

  function goTime(at) {
    go(Math.max(atOrBefore(times, at), 0));
  }

  function goEvent(step) {
    const next = step > 0 ? eventTimes.find((each) => frameOf(each) > current) : undefined;
    const before = eventTimes.filter((each) => frameOf(each) < current);
    if (step > 0) go(next === undefined ? last : frameOf(next));
    else go(before.length > 0 ? frameOf(before[before.length - 1]) : 0);
  }

  // The first frame at or after a time: what came at it is seen there.
  function frameOf(at) {
    const frame = atOrBefore(times, at);
    if (frame >= 0 && times[frame] === at) return frame;
    return Math.min(frame + 1, last);
  }

  // ----------------------------------------------------------------- asking

  byId("first").addEventListener("click", () => go(0));
  byId("last").addEventListener("click", () => go(last));
  byId("back").addEventListener("click", () => go(current - 1));
  byId("forward").addEventListener("click", () => go(current + 1));
  byId("event-back").addEventListener("click", () => goEvent(-1));
  byId("event-forward").addEventListener("click", () => goEvent(1));
  play.addEventListener("click", () => (playing ? stop() : start()));
  slider.addEventListener("input", () => go(Number(slider.value)));
  speed.addEventListener("change", () => {
    began = performance.now();
    beganAt = times[current];
  });
  buttons.forEach((each) => each.addEventListener("click", () => go(frameOf(Number(each.dataset.at)))));

  function timeUnder(event) {
    const box = chart.getBoundingClientRect();
    const x = ((event.clientX - box.left) / box.width) * chart.viewBox.baseVal.width;
    return run.first + ((x - run.left) / (run.right - run.left)) * run.span;
  }
  chart.addEventListener("pointerdown", (event) => {
    if (event.button === 0) goTime(timeUnder(event));
  });
  chart.addEventListener("pointermove", (event) => {
    if (event.buttons === 1) goTime(timeUnder(event));
  });

  const KEYS = {
    ArrowLeft: () => go(current - 1),
    ArrowRight: () => go(current + 1),
    Home: () => go(0),
    End: () => go(last),
    " ": () => (playing ? stop() : start()),
  };
  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.altKey || event.metaKey) return;
    const name = event.target.tagName;
    if (name === "SELECT") return;
    if (event.key === " " && (name === "BUTTON" || name === "A")) return;
    if (event.shiftKey && event.key === "ArrowLeft") goEvent(-1);
    else if (event.shiftKey && event.key === "ArrowRight") goEvent(1);
    else if (!event.shiftKey && KEYS[event.key]) KEYS[event.key]();
    else return;
    event.preventDefault();
  });

  // A speed at which the whole run takes about twenty seconds.
  const whole = (times[last] - times[0]) / 20000;
  const choices = [...speed.options].map((each) => Number(each.value));
  const best = choices.reduce((a, b) => (Math.abs(Math.log(b / whole)) < Math.abs(Math.log(a / whole)) ? b : a));
  if (whole > 0) speed.value = String(best);

  if (last >= 0) {
    show(run.open, false);
    for (let place = 0; place < parts.length; place += 1) paint(place);
    rungs.forEach(caption);
  }
  document.documentElement.dataset.ready = "yes";
})();
