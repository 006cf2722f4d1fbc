// Charts are drawn for the width they have: the server is told, and asked again at once where it guessed wrong.
(() => {
  const px = Math.max(320, Math.min(980, innerWidth - 48));
  const told = Number(/(?:^|; )tourstats-across=(\d+)/.exec(document.cookie)?.[1] || 0);
  const narrow = 500, drawn = told || (navigator.userAgent.includes("Mobi") ? 342 : 980);
  document.cookie = `tourstats-across=${px}; path=/; max-age=31536000; samesite=lax`;
  const wrong = (drawn < narrow) !== (px < narrow) || (px < narrow && Math.abs(drawn - px) > 16) || drawn > px + 40;
  if (wrong && document.cookie.includes(`tourstats-across=${px}`) && !sessionStorage.getItem("tourstats-width")) {
    sessionStorage.setItem("tourstats-width", px);
    location.reload();
  } else sessionStorage.removeItem("tourstats-width");
})();

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

// Tables are sorted by a press on a heading, searched, shown in full, and copied as CSV.
(() => {
  const FEW = 6;
  const cells = row => [...row.cells].map(cell => cell.textContent.trim());
  const asNumber = text => {
    const day = /^\d{1,2} [A-Z][a-z]{2} \d{4}$/.test(text) ? Date.parse(`${text} UTC`) : NaN;
    if (!Number.isNaN(day)) return day;
    const clock = /^(\d+):(\d\d)$/.exec(text);
    if (clock) return 60 * clock[1] + Number(clock[2]);
    const plain = text.replace(/[,%\u2009]/g, "").replace("\u2212", "-");
    return plain === "" || Number.isNaN(Number(plain)) ? null : Number(plain);
  };
  const sort = (table, head) => {
    const at = head.cellIndex, down = head.getAttribute("aria-sort") === "ascending";
    for (const other of table.tHead.rows[0].cells) other.removeAttribute("aria-sort");
    head.setAttribute("aria-sort", down ? "descending" : "ascending");
    const body = table.tBodies[0], rows = [...body.rows];
    const shown = rows.filter(row => !row.hidden).length, all = shown === rows.length;
    const value = row => {
      const text = cells(row)[at], number = asNumber(text);
      return text === "\u2013" || text === "" ? null : number ?? text;
    };
    const sorted = rows.map(row => [value(row), row]).sort(([a], [b]) => {
      if (a === null || b === null) return (a === null) - (b === null);
      const order = typeof a === "number" && typeof b === "number" ? a - b
        : String(a).localeCompare(String(b), undefined, {numeric: true});
      return down ? -order : order;
    });
    const finding = table.dataset.finding;
    sorted.forEach(([, row], place) => {
      if (!all && !finding) row.hidden = place >= shown;
      body.append(row);
    });
  };
  const find = (table, words) => {
    const wanted = words.trim().toLowerCase(), rows = [...table.tBodies[0].rows];
    if (wanted && !table.dataset.finding) for (const row of rows) row.dataset.was = row.hidden ? "1" : "";
    table.dataset.finding = wanted;
    for (const row of rows) row.hidden = wanted ? !row.textContent.toLowerCase().includes(wanted) : row.dataset.was === "1";
  };
  const quoted = text => /[",\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text;
  const copy = async (table, button) => {
    const heads = [...table.tHead.rows[0].cells].map(cell => cell.textContent.trim());
    const lines = [heads, ...[...table.tBodies[0].rows].map(cells)];
    const text = lines.map(line => line.map(word => quoted(word === "\u2013" ? "" : word)).join(",")).join("\n");
    try { await navigator.clipboard.writeText(text); } catch {
      const field = document.createElement("textarea");
      field.value = text;
      document.body.append(field);
      field.select();
      document.execCommand("copy");
      field.remove();
    }
    button.textContent = `Copied ${lines.length - 1} rows`;
    setTimeout(() => { button.textContent = "Copy as CSV"; }, 3000);
  };
  const furnish = table => {
    if (table.dataset.furnished || !table.tHead || table.tBodies[0].rows.length < FEW) return;
    table.dataset.furnished = "1";
    for (const head of table.tHead.rows[0].cells) {
      if (!head.textContent.trim()) continue;
      const button = document.createElement("button");
      button.type = "button";
      button.append(...head.childNodes);
      button.addEventListener("click", () => sort(table, head));
      head.append(button);
    }
    const tools = document.createElement("div"), field = document.createElement("input");
    const button = document.createElement("button");
    tools.className = "tourstats-tools";
    field.type = "search";
    field.placeholder = field.ariaLabel = "Search this table";
    field.addEventListener("input", () => find(table, field.value));
    button.type = "button";
    button.textContent = "Copy as CSV";
    button.addEventListener("click", () => copy(table, button));
    tools.append(field, button);
    table.parentElement.before(tools);
  };
  document.addEventListener("click", ({target}) => {
    const all = target.closest?.(".tourstats-all");
    if (!all) return;
    for (const row of all.parentElement.querySelectorAll("tr[hidden]")) row.hidden = false;
    all.remove();
  });
  const look = () => document.querySelectorAll("#rendered_cells table.tourstats").forEach(furnish);
  new MutationObserver(look).observe(document.documentElement, {childList: true, subtree: true});

  // What is folded is on paper too, and what was found or cut for the screen is whole there.
  addEventListener("beforeprint", () => {
    for (const part of document.querySelectorAll("#rendered_cells details:not([open])")) {
      // Of the show day the set and the whole plan go on paper, and of the rest what was opened.
      const day = part.closest(".tourstats-form")?.querySelector(".tourstats-day");
      if (day && !part.querySelector("ol.plan")) continue;
      part.open = true;
      part.dataset.folded = "1";
    }
  });
  addEventListener("afterprint", () => {
    for (const part of document.querySelectorAll("details[data-folded]")) {
      part.open = false;
      delete part.dataset.folded;
    }
  });
})();

// Each chart can be taken along, as lines or as dots.
(() => {
  const named = chart => (chart.querySelector(".role-title-text")?.textContent || "chart")
    .toLowerCase().replace(/[^\p{L}\p{N}]+/gu, "-").replace(/^-+|-+$/g, "").slice(0, 60);
  const give = (blob, name) => {
    const link = document.createElement("a");
    link.href = URL.createObjectURL(blob);
    link.download = name;
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 10000);
  };
  const lines = svg => {
    const copy = svg.cloneNode(true);
    copy.setAttribute("xmlns", "http://www.w3.org/2000/svg");
    return new XMLSerializer().serializeToString(copy);
  };
  const dots = async svg => {
    const picture = new Image(), sheet = document.createElement("canvas"), scale = 2;
    picture.src = `data:image/svg+xml,${encodeURIComponent(lines(svg))}`;
    await picture.decode();
    sheet.width = scale * svg.clientWidth;
    sheet.height = scale * svg.clientHeight;
    const draw = sheet.getContext("2d");
    draw.fillStyle = "#fff";
    draw.fillRect(0, 0, sheet.width, sheet.height);
    draw.drawImage(picture, 0, 0, sheet.width, sheet.height);
    return new Promise(done => sheet.toBlob(done, "image/png"));
  };
  const furnish = chart => {
    if (chart.dataset.furnished || !chart.querySelector("svg")) return;
    chart.dataset.furnished = "1";
    const tools = document.createElement("div");
    tools.className = "tourstats-tools tourstats-save";
    for (const kind of ["SVG", "PNG"]) {
      const button = document.createElement("button");
      button.type = "button";
      button.textContent = `Save as ${kind}`;
      button.addEventListener("click", async () => {
        const svg = chart.querySelector("svg");
        const blob = kind === "PNG" ? await dots(svg) : new Blob([lines(svg)], {type: "image/svg+xml"});
        give(blob, `${named(chart)}.${kind.toLowerCase()}`);
      });
      tools.append(button);
    }
    chart.after(tools);
  };
  const look = () => document.querySelectorAll("#rendered_cells .vega-embed").forEach(furnish);
  new MutationObserver(look).observe(document.documentElement, {childList: true, subtree: true});
})();

// On a telephone a long page shows its answer and the first part; the others are folded, with what is in them.
addEventListener("DOMContentLoaded", () => {
  const OPEN = 2, LONG = 5;
  const parts = [];
  for (const cell of document.querySelectorAll("#rendered_cells [cell-index]")) {
    const head = cell.querySelector("h2");
    if (head) parts.push({head, cell, rest: []});
    else parts.at(-1)?.rest.push(cell);
  }
  const KINDS = [["table", "table.tourstats"], ["chart", ".vega-embed, figure"], ["form", ".tourstats-form"]];
  const counted = rest => KINDS.map(([word, what]) => {
    const many = rest.reduce((sum, cell) => sum + [...cell.querySelectorAll(what)].filter(
      one => !one.closest(".celltag_for-paper, .tourstats-form .tourstats-form")).length, 0);
    return many && `${many} ${word}${many > 1 ? "s" : ""}`;
  }).filter(Boolean).join(", ");
  const fold = ({head, cell, rest}) => {
    const press = document.createElement("button"), what = document.createElement("span");
    const set = open => {
      press.ariaExpanded = String(open);
      for (const one of [cell, ...rest]) one.classList.toggle("tourstats-folded", !open);
    };
    press.type = "button";
    press.append(...head.childNodes, what);
    press.addEventListener("click", () => set(press.ariaExpanded === "false"));
    head.append(press);
    head.classList.add("tourstats-fold");
    set(false);
    const look = () => { if (what.textContent !== counted(rest)) what.textContent = counted(rest); };
    for (const one of rest) new MutationObserver(look).observe(one, {childList: true, subtree: true, attributeFilter: ["class"]});
  };
  if (innerWidth <= 600 && parts.length >= LONG) parts.slice(OPEN).forEach(fold);
});
