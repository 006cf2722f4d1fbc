// Nothing that is typed is lost in silence: whether the kernel still hears is asked every few seconds, and what was
// typed since it last answered is kept in the browser until a page that is opened again has taken it.
(() => {
  const EVERY_MS = 5000, KEY = `tourstats:${location.pathname}`;
  const base = document.body.dataset.baseUrl.replace(/voila\/$/, "");
  const bar = document.querySelector(".tourstats-gone");
  const kept = () => JSON.parse(localStorage.getItem(KEY) || "{}");
  const keep = all => Object.keys(all).length
    ? localStorage.setItem(KEY, JSON.stringify(all)) : localStorage.removeItem(KEY);
  const fields = () => [...document.querySelectorAll(
    ".tourstats-form :is(textarea, select, input:not([type=file], [type=checkbox], [type=password]))")];
  const nameOf = field => (field.labels?.[0]
    || field.closest(".widget-inline-hbox")?.querySelector(".widget-label"))?.textContent.trim() || field.ariaLabel || "";
  const named = field => {
    const name = nameOf(field);
    return `${name}#${fields().filter(one => nameOf(one) === name).indexOf(field)}`;
  };

  document.addEventListener("input", ({target}) => {
    if (!target.closest?.(".tourstats-form") || !fields().includes(target)) return;
    keep({...kept(), [named(target)]: {value: target.value, at: Date.now()}});
  }, true);

  const kernel = () => JSON.parse(document.getElementById("jupyter-config-data")?.textContent || "{}").kernelId;
  let gone = false;
  const ask = async () => {
    const asked = Date.now();
    if (!kernel()) return;
    try {
      const answer = await fetch(`${base}api/kernels/${kernel()}`, {cache: "no-store"});
      tell(!answer.ok || answer.redirected);
      // What was typed well before an answer has been heard by the kernel, which keeps its own drafts.
      if (!gone) keep(Object.fromEntries(Object.entries(kept()).filter(([, one]) => one.at > asked - EVERY_MS)));
    } catch { tell(true); }
  };
  const tell = now => {
    gone = now;
    if (gone === !bar.hidden) return;
    bar.replaceChildren();
    bar.hidden = !gone;
    if (!gone) return;
    const again = document.createElement("a");
    again.href = "";
    again.textContent = "Reload";
    bar.append("Not connected. Your words are kept here; reload. ", again);
  };
  setInterval(ask, EVERY_MS);
  for (const what of ["visibilitychange", "online", "pageshow"]) addEventListener(what, ask, true);

  // What was kept is put back once the field is there, and said to the page as if it were typed.
  const waiting = Object.entries(kept());
  const until = Date.now() + 60000;
  const restore = () => {
    for (const entry of [...waiting]) {
      const field = fields().find(one => named(one) === entry[0]);
      if (!field) continue;
      waiting.splice(waiting.indexOf(entry), 1);
      if (field.value === entry[1].value) continue;
      field.value = entry[1].value;
      for (const kind of ["input", "change"]) field.dispatchEvent(new Event(kind, {bubbles: true}));
    }
    if (waiting.length && Date.now() < until) setTimeout(restore, 500);
  };
  if (waiting.length) setTimeout(restore, 1500);

  // A page that is left through the browser's back button is alive again only in looks: ask at once.
  addEventListener("pageshow", event => event.persisted && location.reload());
})();
