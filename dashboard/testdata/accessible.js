// Looks at a page by rules of WCAG 2.2 (W3C Recommendation, 2023) and returns what breaks one, each with the number of its
// success criterion. It judges what a script can judge: names, roles, order of headings, contrast, size, language, motion.
(() => {
  const out = [];
  const shown = (e) => e.checkVisibility({ visibilityProperty: true }) && e.getClientRects().length > 0;
  const what = (e) => e.tagName.toLowerCase() + (e.id ? "#" + e.id : "") + (e.getAttribute("class") ? "." + e.getAttribute("class").split(" ")[0] : "") + " " + JSON.stringify((e.textContent || "").trim().slice(0, 30));
  const bad = (rule, e, why) => out.push(rule + " " + (typeof e === "string" ? e : what(e)) + ": " + why);
  const all = (sel) => [...document.querySelectorAll(sel)].filter(shown);

  // name is the accessible name, by the parts of accname 1.2 that these pages use.
  const byIds = (ids) => ids.split(/\s+/).map((id) => document.getElementById(id)?.textContent ?? "").join(" ").trim();
  function name(e) {
    if (e.hasAttribute("aria-labelledby")) return byIds(e.getAttribute("aria-labelledby"));
    if (e.getAttribute("aria-label")) return e.getAttribute("aria-label").trim();
    if (e.matches("input, select, textarea")) return [...(e.labels ?? [])].map((l) => l.textContent).join(" ").trim();
    if (e.tagName === "svg") return (e.querySelector(":scope > title")?.textContent ?? "").trim();
    return (e.textContent ?? "").trim();
  }

  // 3.1.1 Language of Page; 2.4.2 Page Titled; 1.4.4 Resize Text.
  if (!/^[a-z]{2}(-[A-Z]{2})?$/.test(document.documentElement.lang)) bad("3.1.1", "html", "lang " + document.documentElement.lang);
  if (document.title.split("·")[0].trim().length < 3) bad("2.4.2", "title", document.title);
  if (/user-scalable\s*=\s*no|maximum-scale/.test(document.querySelector("meta[name=viewport]").content)) bad("1.4.4", "meta", "zoom is forbidden");

  // 1.3.1 Info and Relationships: landmarks, headings, tables, lists.
  if (all("main").length !== 1) bad("1.3.1", "main", all("main").length + " of them");
  const navs = all("nav").map(name).map((n, i) => all("nav")[i].getAttribute("aria-label"));
  if (navs.some((n) => !n) || new Set(navs).size !== navs.length) bad("1.3.1", "nav", "labels " + navs);
  let level = 0;
  const heads = all("h1, h2, h3, h4, h5, h6");
  for (const h of heads) {
    const n = Number(h.tagName[1]);
    if (n > level + 1) bad("1.3.1", h, "level " + n + " after " + level);
    if (!name(h)) bad("2.4.6", h, "an empty heading");
    level = n;
  }
  if (!document.querySelector("main h1")) bad("1.3.1", "main", "no h1");
  for (const t of all("table")) {
    if (!t.querySelector("th")) bad("1.3.1", t, "no header cell");
    for (const h of t.querySelectorAll("th")) if (!["col", "row", "colgroup", "rowgroup"].includes(h.scope)) bad("1.3.1", h, "no scope");
  }
  for (const l of all("ul, ol")) for (const c of l.children) if (c.tagName !== "LI") bad("1.3.1", c, "in a list, and no item");
  for (const d of all("dl")) for (const c of d.children) if (!["DT", "DD", "DIV"].includes(c.tagName)) bad("1.3.1", c, "in a description list");

  // 1.1.1 Non-text Content.
  for (const s of all("svg")) {
    if (s.closest("[aria-hidden=true]") || s.parentElement.closest("svg")) continue;
    if (s.getAttribute("role") !== "img" || !name(s)) bad("1.1.1", s, "role " + s.getAttribute("role") + ", name " + JSON.stringify(name(s)));
  }
  for (const i of all("img")) if (!i.hasAttribute("alt")) bad("1.1.1", i, "no alt");

  // 4.1.2 Name, Role, Value; 3.3.2 Labels; 2.4.4 Link Purpose; 4.1.1 was withdrawn, but references need unique names.
  const ids = [...document.querySelectorAll("[id]")].map((e) => e.id);
  ids.filter((id, i) => ids.indexOf(id) !== i).forEach((id) => bad("4.1.2", "#" + id, "twice"));
  for (const e of document.querySelectorAll("[aria-labelledby], [aria-describedby], [aria-controls]"))
    for (const a of ["aria-labelledby", "aria-describedby", "aria-controls"])
      for (const id of (e.getAttribute(a) ?? "").split(/\s+/).filter(Boolean)) if (!document.getElementById(id)) bad("4.1.2", e, a + " names nothing: " + id);
  const roles = ["img", "region", "status", "alert", "group", "presentation", "none", "note", "list", "listitem", "switch"];
  for (const e of document.querySelectorAll("[role]")) if (!roles.includes(e.getAttribute("role"))) bad("4.1.2", e, "role " + e.getAttribute("role"));
  const can = "a[href], button, input:not([type=hidden]), select, textarea, summary, [tabindex]";
  for (const e of all(can)) {
    if (!name(e)) bad(e.matches("input, select, textarea") ? "3.3.2" : "4.1.2", e, "no name");
    if (e.tabIndex > 0) bad("2.4.3", e, "tabindex " + e.tabIndex);
    if (e.closest("[aria-hidden=true]")) bad("4.1.2", e, "can be reached, and is hidden from readers");
    if (e.hasAttribute("tabindex") && !e.matches("a, button") && !e.getAttribute("role")) bad("4.1.2", e, "can be reached, and has no role");
  }
  const goes = new Map();
  for (const a of all("main a[href]")) {
    const to = a.getAttribute("href"), n = name(a);
    if (goes.has(n) && goes.get(n) !== to) bad("2.4.4", a, "one name, two ways: " + goes.get(n) + " and " + to);
    goes.set(n, to);
  }
  for (const e of all("*")) { // 2.1.1 Keyboard: what scrolls by itself can be reached
    const s = getComputedStyle(e);
    if ((s.overflowX === "auto" || s.overflowX === "scroll") && e.scrollWidth > e.clientWidth + 1 && e.tabIndex < 0 && !e.querySelector(can)) bad("2.1.1", e, "scrolls, and cannot be reached");
  }
  for (const l of all("label")) { // 2.5.3 Label in Name is kept by using the label as the name
    if (!l.control) bad("3.3.2", l, "labels nothing");
  }

  // 2.5.8 Target Size (Minimum): 24 by 24 CSS px, but for links within a sentence.
  for (const e of all("a[href], button, input:not([type=hidden]), select, textarea, summary")) {
    if (e.matches(".skip") || e.closest("svg")) continue;
    const box = (e.type === "checkbox" || e.type === "radio" ? e.closest("label") ?? e : e).getBoundingClientRect();
    const within = e.tagName === "A" && getComputedStyle(e).display === "inline" && e.parentElement.textContent.trim() !== e.textContent.trim();
    if (!within && (box.width < 24 || box.height < 24)) bad("2.5.8", e, Math.round(box.width) + " by " + Math.round(box.height));
  }

  // 1.4.3 Contrast (Minimum) 4.5:1, large letters 3:1; 1.4.11 Non-text Contrast 3:1 for the edges of fields and buttons.
  const canvas = document.createElement("canvas").getContext("2d", { willReadFrequently: true });
  function rgba(c) { canvas.clearRect(0, 0, 1, 1); canvas.fillStyle = c; canvas.fillRect(0, 0, 1, 1); const d = canvas.getImageData(0, 0, 1, 1).data; return [d[0], d[1], d[2], d[3] / 255]; }
  const over = (a, b) => [0, 1, 2].map((i) => a[i] * a[3] + b[i] * (1 - a[3])).concat(1);
  function ground(e) {
    const stack = [];
    for (let p = e; p; p = p.parentElement) {
      const s = getComputedStyle(p), c = rgba(s.backgroundColor);
      stack.push(c);
      if (c[3] === 1) break;
    }
    return stack.reverse().reduce((under, c) => over(c, under), [255, 255, 255, 1]);
  }
  function light(c) { const l = c.slice(0, 3).map((v) => { v /= 255; return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4; }); return 0.2126 * l[0] + 0.7152 * l[1] + 0.0722 * l[2]; }
  function ratio(a, b) { const x = light(a), y = light(b); return (Math.max(x, y) + 0.05) / (Math.min(x, y) + 0.05); }
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  const told = new Set();
  for (let n = walker.nextNode(); n; n = walker.nextNode()) {
    const e = n.parentElement;
    if (!n.data.trim() || !shown(e) || e.closest(".unseen, .skip, script, style, option, title")) continue;
    const s = getComputedStyle(e), inside = e.closest("svg");
    if (inside && s.paintOrder.startsWith("stroke") && s.stroke !== "none") continue; // a halo of the ground's colour is around it
    const px = parseFloat(s.fontSize) * (inside ? (inside.getScreenCTM()?.a ?? 1) : 1);
    const least = px >= 24 || (px >= 18.66 && Number(s.fontWeight) >= 700) ? 3 : 4.5;
    const under = ground(inside ? inside.parentElement : e), ink = over(rgba(inside ? s.fill : s.color), under);
    const r = ratio(ink, under), key = s.color + s.fill + under + least;
    if (r < least && !told.has(key)) { told.add(key); bad("1.4.3", e, r.toFixed(2) + " : 1"); }
  }
  for (const e of all("input:not([type=hidden]):not([type=checkbox]), select, textarea, button, a.button")) {
    const r = ratio(over(rgba(getComputedStyle(e).borderTopColor), ground(e.parentElement)), ground(e.parentElement));
    if (r < 3) bad("1.4.11", e, "edge " + r.toFixed(2) + " : 1");
  }

  // 2.3.3 Animation from Interactions, 2.2.2 Pause, Stop, Hide: nothing moves by itself.
  for (const e of document.querySelectorAll("*")) {
    const s = getComputedStyle(e);
    if (s.animationName !== "none" || parseFloat(s.transitionDuration) > 0) bad("2.3.3", e, "moves");
  }
  if (document.querySelector("meta[http-equiv=refresh], marquee, blink, video[autoplay]")) bad("2.2.2", "page", "moves by itself");
  return out.slice(0, 25);
})()
