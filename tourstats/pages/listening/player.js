// The player of the listening page: keys, speeds, marks, and the tempo curve under the clip. Nothing is fetched.
const two = (n) => String(Math.floor(n)).padStart(2, "0");
const time = (s) => {
  const t = Math.floor(Math.abs(s));
  return `${s <= -1 ? "−" : ""}${t < 3600 ? Math.floor(t / 60) : `${Math.floor(t / 3600)}:${two(t / 60 % 60)}`}:${two(t % 60)}`;
};
const SVG = "http://www.w3.org/2000/svg";

function element(name, settings = {}, ...children) {
  const made = document.createElement(name);
  Object.assign(made, settings);
  made.append(...children);
  return made;
}

function drawn(name, settings, text = "") {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(settings)) made.setAttribute(key, value);
  made.textContent = text;
  return made;
}

function render({ model, el }) {
  const audio = new Audio();
  audio.preservesPitch = true;
  let address = "";
  let asked = 0;
  const ask = (what) => {
    model.set("asks", { what, at: audio.currentTime || 0, n: ++asked });
    model.save_changes();
  };
  const go = (s) => { audio.currentTime = Math.max(0, Math.min(s, audio.duration || 0)); moved(); };
  const bar = (way) => {
    const bars = model.get("bars"), now = audio.currentTime;
    if (!bars.length) return go(now + way * 2);
    const at = way > 0 ? bars.find((b) => b > now + 0.05) : bars.filter((b) => b < now - 0.4).pop();
    go(at ?? (way > 0 ? now : 0));
  };
  const speed = (rate) => {
    audio.playbackRate = rate;
    audio.preservesPitch = true;
    for (const one of speeds) one.setAttribute("aria-pressed", String(Number(one.dataset.rate) === rate));
  };
  const toggle = () => (audio.paused ? audio.play() : audio.pause());
  // The line of the finding: M goes there, Enter and Escape come back, so that nothing is clicked.
  const line = () => document.querySelector(".tourstats-what-found input");
  const back = (event) => { if (event.target === line() && ["Enter", "Escape"].includes(event.key)) setTimeout(() => box.focus()); };
  document.addEventListener("keydown", back, true);
  const does = {
    " ": toggle, ArrowLeft: () => go(audio.currentTime - 5), ArrowRight: () => go(audio.currentTime + 5),
    ",": () => bar(-1), ".": () => bar(1), m: () => { ask("mark"); line()?.focus(); }, n: () => ask("next"), p: () => ask("previous"),
    e: () => ask("earlier"), "[": () => ask("start"), "]": () => ask("end"),
    7: () => speed(0.75), 9: () => speed(0.9), 0: () => speed(1),
  };
  const button = (text, key, label) => {
    const made = element("button", { type: "button", textContent: text });
    made.setAttribute("aria-label", label);
    made.title = `${label} (${key === " " ? "space" : key})`;
    made.addEventListener("click", does[key]);
    return made;
  };
  const heading = element("p", { className: "title" });
  const clock = element("span", { className: "clock" });
  const play = button("Play", " ", "Play");
  const speeds = [["1×", "0", 1, "Full speed"], ["0.9×", "9", 0.9, "0.9 of the speed, same pitch"],
    ["0.75×", "7", 0.75, "0.75 of the speed, same pitch"]].map(([text, key, rate, label]) => {
    const made = button(text, key, label);
    made.dataset.rate = rate;
    return made;
  });
  const earlier = button("Earlier show (E)", "e", "The same place at an earlier show, and back");
  const rows = [
    [play, button("−5 s", "ArrowLeft", "Back 5 seconds"), button("+5 s", "ArrowRight", "On 5 seconds"),
      button("‹ bar (,)", ",", "Back one bar"), button("bar › (.)", ".", "On one bar"), clock],
    [...speeds, button("Mark (M)", "m", "Mark this moment"), earlier],
    [button("‹ song (P)", "p", "Song before"), button("song › (N)", "n", "Next song"),
      button("Starts here ([)", "[", "The song starts here"), button("Ends here (])", "]", "The song ends here")],
  ].map((few) => element("div", { className: "row" }, ...few));
  const curve = drawn("svg", { viewBox: "0 0 600 130", preserveAspectRatio: "none", role: "img" });
  const named = element("div", { className: "names" });
  const marks = element("div", { className: "marks" });
  const hint = element("p", { className: "hint", textContent:
    "Keys while the player is chosen: space plays, arrows 5 s, , and . a bar, 7 9 0 speed, M marks, N and P songs, E earlier show, [ and ] start and end." });
  const box = element("div", { className: "tourstats-player", tabIndex: 0 }, heading, ...rows, curve, named, marks, hint);
  box.setAttribute("role", "group");

  // Moments are told as the tables do: of the song, from its start, and of the recording.
  const told = (s) => time(s - model.get("lead"));
  const long = () => audio.duration || model.get("seconds") || 1;
  const moved = () => {
    clock.textContent = `${told(audio.currentTime || 0)} of the song, ${time(model.get("clip_from") + (audio.currentTime || 0))} of the recording`;
    const line = curve.querySelector(".now"), x = 600 * (audio.currentTime || 0) / long();
    if (line) { line.setAttribute("x1", x); line.setAttribute("x2", x); }
  };
  const draw = () => {
    const points = model.get("curve"), usual = model.get("usual");
    const values = [...points.map(([, b]) => b), ...(usual ? [usual] : [])];
    const middle = values.length ? (Math.min(...values) + Math.max(...values)) / 2 : 0;
    const reach = values.length ? Math.max((Math.max(...values) - Math.min(...values)) / 2, middle * 0.01) : 1;
    const y = (b) => 65 - 50 * (b - middle) / reach, x = (s) => 600 * s / long();
    const parts = [];
    for (const [s] of model.get("sections")) parts.push(drawn("line", { class: "section", x1: x(s), x2: x(s), y1: 0, y2: 130 }));
    if (usual && points.length) parts.push(drawn("line", { class: "usual", x1: 0, x2: 600, y1: y(usual), y2: y(usual) }));
    if (points.length) parts.push(drawn("polyline", { class: "tempo", points: points.map(([s, b]) => `${x(s)},${y(b)}`).join(" ") }));
    for (const [s] of model.get("marks")) parts.push(drawn("line", { class: "mark", x1: x(s), x2: x(s), y1: 96, y2: 130 }));
    parts.push(drawn("line", { class: "now", x1: 0, x2: 0, y1: 0, y2: 130 }));
    curve.replaceChildren(...parts);
    const low = Math.min(...values), high = Math.max(...values);
    const said = points.length ? `Tempo ${low.toFixed(1)} to ${high.toFixed(1)} beats a minute` + (usual ? `; dashed: usual, ${usual.toFixed(1)}` : "")
      : "No sure tempo to draw";
    curve.setAttribute("aria-label", said);
    named.replaceChildren(element("span", { textContent: said }), ...model.get("sections").map(([s, name]) => {
      const one = element("button", { type: "button", textContent: `${name} ${told(s)}` });
      one.addEventListener("click", () => { go(s); audio.play(); });
      return one;
    }));
    marks.replaceChildren(...model.get("marks").map(([s, words]) => {
      const one = element("button", { type: "button", textContent: `${told(s)} ${words}` });
      one.setAttribute("aria-label", `Hear the mark at ${told(s)}: ${words}`);
      one.addEventListener("click", () => { go(s - 3); audio.play(); });
      return one;
    }));
    moved();
  };
  const load = () => {
    const sound = model.get("sound");
    const on = !audio.paused;
    if (address) URL.revokeObjectURL(address);
    address = "";
    audio.pause();
    if (sound && sound.byteLength) {
      const rate = audio.playbackRate;
      address = URL.createObjectURL(new Blob([sound], { type: "audio/mpeg" }));
      audio.src = address;
      audio.addEventListener("loadedmetadata", () => { go(model.get("at")); speed(rate); draw(); if (on) audio.play(); }, { once: true });
    }
    heading.textContent = model.get("title");
    for (const part of [...rows, curve, named, marks, hint]) part.style.display = sound && sound.byteLength ? "" : "none";
    box.setAttribute("aria-label", `Player: ${model.get("title")}`);
    draw();
  };
  curve.addEventListener("click", (event) => {
    const frame = curve.getBoundingClientRect();
    go(long() * (event.clientX - frame.left) / frame.width);
    audio.play();
  });
  box.addEventListener("keydown", (event) => {
    const key = event.key.length === 1 ? event.key.toLowerCase() : event.key;
    if (event.ctrlKey || event.metaKey || event.altKey || !(key in does)) return;
    if (key === " " && event.target !== box) return; // a button is pressed by it
    event.preventDefault();
    event.stopPropagation();
    does[key]();
  });
  for (const what of ["play", "pause", "ended"]) audio.addEventListener(what, () => {
    play.textContent = audio.paused ? "Play" : "Pause";
    play.setAttribute("aria-label", audio.paused ? "Play" : "Pause");
  });
  audio.addEventListener("timeupdate", moved);
  model.on("change:clips", load);
  model.on("change:lead change:marks change:curve change:sections change:bars change:usual", draw);
  box.audio = audio;
  el.append(box);
  speed(1);
  load();
  return () => { document.removeEventListener("keydown", back, true); audio.pause(); if (address) URL.revokeObjectURL(address); };
}

export default { render };
