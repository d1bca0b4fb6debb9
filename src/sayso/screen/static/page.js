// Shows what the voice is doing. All text goes in by textContent: nothing from a procedure or a note is ever markup.
"use strict";
const at = (id) => document.getElementById(id);
const show = (id, visible) => { at(id).hidden = !visible; };
const put = (id, text) => { if (at(id).textContent !== text) at(id).textContent = text; };
const WORDS = { listening: "Listening", speaking: "Speaking", waiting: "Waiting", held: "On hold", ended: "Job over" };
let view = {};

function sure(confidence) {
  if (confidence === null || confidence === undefined) return "";
  return confidence >= 0.85 ? "sure" : confidence >= 0.6 ? "fairly sure" : "not sure";
}

function drawPath(path) {
  const list = at("path");
  while (list.children.length > path.length) list.lastChild.remove();
  path.forEach((step, i) => {
    const bead = list.children[i] || list.appendChild(document.createElement("li"));
    bead.className = step.state;
    bead.title = step.title;
    bead.setAttribute("aria-label", step.title);
    if (step.state === "now") bead.setAttribute("aria-current", "step"); else bead.removeAttribute("aria-current");
  });
}

// The largest letters that fit: read at 4 m, so start big and shrink.
function fit() {
  fitInto(at("step"));
  if (document.body.dataset.focus === "caution") fitInto(at("caution-text")); else at("caution-text").style.fontSize = "";
}
function fitInto(box) {
  let low = 18, high = Math.max(24, Math.min(window.innerWidth * 0.1, window.innerHeight * 0.24));
  const fits = (size) => {
    box.style.fontSize = `${size}px`;
    return box.scrollHeight <= box.clientHeight + 1 && box.scrollWidth <= box.clientWidth + 1;
  };
  if (fits(high)) return;
  while (high - low > 1) { const mid = (low + high) / 2; if (fits(mid)) low = mid; else high = mid; }
  fits(low);
}

function tick() {
  if (!view.timer) return;
  const left = Math.max(0, Math.ceil((view.timer.due_ms - Date.now()) / 1000));
  put("timer", `${Math.floor(left / 60)}:${String(left % 60).padStart(2, "0")}`);
}

// The drawing of the branches, with the step of now marked. Parsed as XML; the page's policy lets no script run.
let drawing = null;
async function map() {
  const open = at("map").hidden;
  if (open && !drawing) {
    const reply = await fetch("drawing.svg");
    if (reply.ok) {
      const parsed = new DOMParser().parseFromString(await reply.text(), "image/svg+xml").documentElement;
      drawing = document.importNode(parsed, true);
      at("drawing").replaceChildren(drawing);
    } else {
      at("drawing").textContent = await reply.text();
    }
  }
  at("map").hidden = !open;
  at("map-key").setAttribute("aria-expanded", String(open));
  mark();
}
function mark() {
  if (!drawing || at("map").hidden) return;
  const done = new Set(view.way || []);
  let now = null;
  for (const node of drawing.querySelectorAll("g.node")) {
    const id = node.querySelector("title").textContent;
    node.classList.toggle("done", done.has(id));
    node.classList.toggle("now", id === view.step_id);
    if (id === view.step_id) now = node;
  }
  if (now) now.scrollIntoView({ block: "center", inline: "center" });
}
at("map-key").addEventListener("click", map);
document.addEventListener("keydown", (e) => { if (e.key === "Escape" && !at("map").hidden) map(); });

function draw() {
  document.body.dataset.mode = view.mode === "ended" && view.outcome !== "complete" ? "stopped" : view.mode || "waiting";
  document.body.dataset.focus = view.focus || "step";
  if (view.focus === "caution" && !at("map").hidden) map(); // nothing may cover it
  put("job", [view.machine, view.title].filter(Boolean).join(" · ") || "sayso");
  document.body.classList.toggle("away", !view.title || view.mode === "ended"); // nobody is asking anything
  put("where", !view.step || view.mode === "ended" ? "" : !view.step.number ? "Before the first step" : `Step ${view.step.number} of ${view.step.of}${view.step.section ? " · " + view.step.section : ""}`);
  show("map-key", Boolean(view.title));
  drawPath(view.path || []);
  show("caution", Boolean(view.caution));
  if (view.caution) {
    at("caution").dataset.level = view.caution.level;
    put("signal-word", view.caution.level);
    put("caution-text", view.caution.text);
  }
  put("step-text", view.step ? view.step.text : "Waiting for a job");
  show("step-text", Boolean(at("step-text").textContent));
  const before = view.before || [];
  show("before", before.length > 0);
  if (before.join() !== [...at("before").children].map((li) => li.textContent).join())
    at("before").replaceChildren(...before.map((text) => { const li = document.createElement("li"); li.textContent = text; return li; }));
  show("question", Boolean(view.step && view.step.question));
  if (view.step) put("question", view.step.question || "");
  show("picture-box", Boolean(view.picture));
  if (view.picture && at("picture").getAttribute("src") !== view.picture.src) {
    at("picture").src = view.picture.src; at("picture").alt = view.picture.alt;
  }
  show("torque-box", Boolean(view.torque));
  if (view.torque) { put("torque", view.torque.target); put("torque-limits", view.torque.limits); put("fasteners", view.torque.fasteners); }
  show("timer-box", Boolean(view.timer));
  if (view.timer) put("timer-name", view.timer.name || "");
  show("beside", Boolean(view.picture || view.torque || view.timer));
  at("beside").parentElement.classList.toggle("with-picture", Boolean(view.picture));
  put("state-word", WORDS[view.mode] || "Waiting");
  put("by", view.heard && view.heard.by_hand ? "Key" : "Heard");
  put("heard", view.heard && view.heard.words ? `“${view.heard.words}”` : "nothing yet");
  put("sure", view.heard && view.heard.words ? sure(view.heard.confidence) : "");
  const alarm = view.muted ? "The microphone gives nothing. Is it muted or unplugged?" : view.notice || view.alarm || "";
  show("alarm", Boolean(alarm)); put("alarm", alarm);
  at("level").value = Math.max(0, 60 + (view.mic_db ?? -60));
  const held = view.mode === "held";
  at("hold-key").dataset.key = held ? "carry on" : "hold";
  at("hold-key").firstElementChild.textContent = held ? "Carry on" : "Hold";
  document.title = view.step ? `${WORDS[view.mode] || ""}: ${view.step.text}` : "sayso";
  tick(); fit(); mark();
}

async function press(body) {
  try {
    const reply = await fetch("press", { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(body) });
    if (!reply.ok) { view = { ...view, alarm: await reply.text() }; draw(); }
  } catch { contact(false); }
}

document.querySelectorAll("[data-key]").forEach((b) => b.addEventListener("click", () => press({ key: b.dataset.key })));
// A finger leaves no focus behind: the pedal's Enter would press the same key again.
document.addEventListener("click", (e) => { const b = e.target.closest("button"); if (b && e.detail) b.blur(); });
at("type").addEventListener("submit", (e) => {
  e.preventDefault();
  const words = at("words").value.trim();
  if (words) press({ words });
  at("words").value = "";
});
// The keyboard, and a foot pedal, which is a keyboard.
const KEYS = { Enter: "done", y: "yes", n: "no", r: "repeat", b: "back", h: "help", PageDown: "done", PageUp: "back" };
document.addEventListener("keydown", (e) => {
  if (document.body.classList.contains("away") || e.target.closest("input") || e.ctrlKey || e.altKey || e.metaKey) return;
  if (e.target.closest("button, a") && (e.key === "Enter" || e.key === " ")) return;
  const key = e.key === " " ? at("hold-key").dataset.key : KEYS[e.key] || KEYS[e.key.toLowerCase()];
  if (key) { e.preventDefault(); press({ key }); }
});

function theme(name) {
  document.documentElement.dataset.theme = name;
  at("theme").textContent = name === "light" ? "Dark" : "Light";
  at("theme").setAttribute("aria-pressed", String(name === "light"));
  try { localStorage.setItem("sayso-theme", name); } catch { /* private window: the choice lasts for this visit */ }
}
let chosen = null;
try { chosen = localStorage.getItem("sayso-theme"); } catch { /* as above */ }
theme(chosen || "dark");
at("theme").addEventListener("click", () => theme(document.documentElement.dataset.theme === "light" ? "dark" : "light"));

// The server sends a beat every few seconds, so that a program that hangs is noticed as well as one that is gone.
const SILENT_MS = 15000;
const RESTARTED = "sayso was started anew. Open the address that it printed.";
let stream, lastSign = Date.now();
function contact(there, why) {
  document.body.classList.toggle("lost", !there);
  show("lost", !there);
  put("lost", why || "No contact with sayso. The job goes on by voice.");
  if (!there) { document.body.dataset.mode = "waiting"; put("state-word", "No contact"); fit(); }
}
function follow() {
  stream = new EventSource("events");
  stream.onmessage = (e) => { lastSign = Date.now(); contact(true); view = JSON.parse(e.data); draw(); document.body.dataset.seen = e.lastEventId; };
  stream.addEventListener("beat", () => { lastSign = Date.now(); if (document.body.classList.contains("lost")) { contact(true); draw(); } });
  stream.onerror = async () => {
    contact(false);
    if (stream.readyState !== EventSource.CLOSED) return; // the browser tries again by itself
    stream.close();
    try {
      const reply = await fetch("drawing.svg", { method: "HEAD" });
      if (reply.status === 403) contact(false, RESTARTED); // another run has another token
    } catch { /* nobody is there yet */ }
    setTimeout(follow, 2000);
  };
}
follow();
setInterval(() => {
  tick();
  if (Date.now() - lastSign > SILENT_MS && !document.body.classList.contains("lost")) contact(false);
}, 250);
window.addEventListener("resize", fit);
