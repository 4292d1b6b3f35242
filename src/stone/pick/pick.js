"use strict";
const told = JSON.parse(document.getElementById("told").textContent);
const at = (id) => document.getElementById(id);
const PARTS = ["left", "top", "width", "height"];
const LEAST = 10;
const places = { stone: told.stone, bare: told.bare };
const ENDS = ["x", "y", "to-x", "to-y"];
let mark = null;
const photo = at("photo"), copy = at("copy"), said = at("said");
const chosen = () => document.querySelector("input[name=which]:checked").value;
const choose = (which) => { document.querySelector(`input[name=which][value=${which}]`).checked = true; show(); };
const whole = (value, most) => Math.min(Math.max(Math.round(value), 0), most);

function set(which, [left, top, width, height]) {
  width = Math.max(whole(width, told.width), LEAST);
  height = Math.max(whole(height, told.height), LEAST);
  places[which] = [whole(left, told.width - width), whole(top, told.height - height), width, height];
  PARTS.forEach((part, n) => { at(`${which}-${part}`).value = places[which][n]; });
  show();
}

function setMark(ends) {
  mark = ends.map((n, i) => whole(n, i % 2 ? told.height : told.width));
  ENDS.forEach((end, n) => { at(`mark-${end}`).value = mark[n]; });
  show();
}

const markLength = () => (mark ? Math.hypot(mark[2] - mark[0], mark[3] - mark[1]) : 0);

function scale() {
  const mm = Number(at("mark-mm").value);
  if (!(mm > 0) || markLength() < 2 * LEAST) return "";
  return ` --scale "${mark[0]},${mark[1]} ${mark[2]},${mark[3]}" --scale-length ${mm}mm`;
}

function command() {
  const place = (which) => (places[which] ? places[which].join(",") : "PLACE");
  const kelvin = told.wants_light ? ` --panel-cct ${at("kelvin").value || "KELVIN"}` : "";
  return `${told.before} --stone ${place("stone")} --bare ${place("bare")}${scale()}${kelvin}${told.after}`;
}

function missing() {
  const { stone, bare } = places;
  if (!stone) return "Draw the stone.";
  if (!bare) return "Draw the bare panel.";
  const apart = (n) => stone[n] + stone[n + 2] <= bare[n] || bare[n] + bare[n + 2] <= stone[n];
  if (!apart(0) && !apart(1)) return "The two overlap: the bare panel is where no stone is.";
  if (told.wants_light && !at("kelvin").value) return "Say the colour temperature of the panel's light.";
  return "Ready to copy.";
}

function show() {
  for (const which of ["stone", "bare"]) {
    const frame = at(which), place = places[which];
    frame.hidden = !place;
    frame.classList.toggle("now", chosen() === which);
    if (!place) continue;
    const [left, top, width, height] = place;
    const called = which === "stone" ? "Stone" : "Bare panel";
    frame.setAttribute("aria-label", `${called}: left ${left}, top ${top}, width ${width}, height ${height}`);
    frame.setAttribute("aria-describedby", "help");
    frame.style.left = `${(left / told.width) * 100}%`;
    frame.style.top = `${(top / told.height) * 100}%`;
    frame.style.width = `${(width / told.width) * 100}%`;
    frame.style.height = `${(height / told.height) * 100}%`;
  }
  const line = at("mark-line");
  ["x1", "y1", "x2", "y2"].forEach((end, n) => { if (mark) line.setAttribute(end, mark[n]); });
  at("command").value = command();
  said.textContent = missing();
}

const MOVES = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
for (const which of ["stone", "bare"]) {
  at(which).addEventListener("focus", () => choose(which));
  at(which).addEventListener("keydown", (event) => {
    const move = MOVES[event.key];
    if (!move || event.ctrlKey || event.altKey || event.metaKey) return;
    event.preventDefault();
    const step = Math.max(1, Math.round(Math.max(told.width, told.height) / 100));
    const [x, y] = move.map((n) => n * step);
    const [left, top, width, height] = places[which];
    set(which, event.shiftKey ? [left, top, width + x, height + y] : [left + x, top + y, width, height]);
  });
  PARTS.forEach((part) => at(`${which}-${part}`).addEventListener("change", () => {
    const figures = PARTS.map((p) => at(`${which}-${p}`).value);
    if (figures.every((figure) => figure !== "")) set(which, figures.map(Number));
  }));
}
document.querySelectorAll("input[name=which]").forEach((radio) => radio.addEventListener("change", () => {
  // Whoever has no frame yet gets one to move.
  if (chosen() === "mark") {
    if (!mark) setMark([told.width / 4, told.height / 2, (told.width * 3) / 4, told.height / 2]);
  } else if (!places[chosen()]) set(chosen(), [told.width / 4, told.height / 4, told.width / 4, told.height / 4]);
  show();
}));
ENDS.forEach((end) => at(`mark-${end}`).addEventListener("change", () => {
  const ends = ENDS.map((e) => at(`mark-${e}`).value);
  if (ends.every((n) => n !== "")) setMark(ends.map(Number));
}));
at("mark-mm").addEventListener("input", show);
if (told.wants_light) at("kelvin").addEventListener("input", show);

let from = null;
const where = (event) => {
  const box = photo.getBoundingClientRect();
  return [((event.clientX - box.left) / box.width) * told.width, ((event.clientY - box.top) / box.height) * told.height];
};
photo.addEventListener("pointerdown", (event) => {
  if (event.button > 0) return;
  event.preventDefault();
  from = { at: where(event), which: chosen() };
  photo.setPointerCapture(event.pointerId);
});
photo.addEventListener("pointermove", (event) => {
  if (!from) return;
  const [x, y] = where(event), [a, b] = from.at;
  if (from.which === "mark") {
    setMark([a, b, x, y]);
    return;
  }
  const clip = (n, most) => Math.min(Math.max(n, 0), most);
  const [x0, x1] = [clip(Math.min(x, a), told.width), clip(Math.max(x, a), told.width)];
  const [y0, y1] = [clip(Math.min(y, b), told.height), clip(Math.max(y, b), told.height)];
  if (x1 - x0 > LEAST && y1 - y0 > LEAST) set(from.which, [x0, y0, x1 - x0, y1 - y0]);
});
for (const end of ["pointerup", "pointercancel"]) photo.addEventListener(end, () => { from = null; });

copy.hidden = false;
copy.addEventListener("click", async () => {
  const text = command();
  try {
    await navigator.clipboard.writeText(text);
  } catch {
    at("command").select();
    document.execCommand("copy");
  }
  said.textContent = "Copied.";
});
show();
