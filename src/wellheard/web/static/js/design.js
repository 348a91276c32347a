// Glue of the design page: buttons outside the drawing, and what the desk says of itself.
import { deskFor } from "./desk.js";

const page = await found(".bench");
const desk = deskFor(page.dataset.room);

/** The first element of a selector, as soon as there is one. */
function found(selector) {
  return new Promise((resolve) => {
    const look = () => {
      const there = document.querySelector(selector);
      if (there) resolve(there);
      else requestAnimationFrame(look);
    };
    look();
  });
}

const all = (selector) => [...document.querySelectorAll(selector)];
const press = (buttons, chosen) => buttons.forEach((b) => b.setAttribute("aria-pressed", String(b === chosen)));

// Symbols of the palette ------------------------------------------------------------------------

const symbols = await (await fetch("/static/symbols.json")).json();
for (const place of all("[data-symbol]")) {
  for (const part of symbols[place.dataset.symbol] ?? []) {
    const drawn = document.createElementNS("http://www.w3.org/2000/svg", part.tag);
    for (const [name, value] of Object.entries(part.attrs)) drawn.setAttribute(name, value);
    place.append(drawn);
  }
}

// Buttons ---------------------------------------------------------------------------------------

const acts = {
  undo: () => desk.undo(),
  redo: () => desk.redo(),
  restore: () => desk.restore(),
  dismiss: () => (notice.hidden = true),
  diagram: () => showView(document.querySelector('[data-view="diagram"]'), "diagram"),
  outline: (button) => {
    const on = button.getAttribute("aria-pressed") !== "true";
    button.setAttribute("aria-pressed", String(on));
    desk.sheet?.outline(on);
  },
};

document.addEventListener("click", (event) => {
  const button = event.target.closest?.("button");
  if (!button || !page.parentElement?.contains(button) && !button.closest(".top")) return;
  const { do: act, place, layer, worst, view, side } = button.dataset;
  if (act) acts[act]?.(button);
  else if (place) startPlacing(button, place);
  else if (layer) {
    const on = button.getAttribute("aria-pressed") !== "true";
    button.setAttribute("aria-pressed", String(on));
    desk.sheet?.layers({ [layer]: on });
  } else if (worst) {
    press(all("[data-worst]"), button);
    desk.show({ worst: worst === "yes" });
  } else if (view) showView(button, view);
  else if (side) showSide(side);
});

function startPlacing(button, kind) {
  const on = button.getAttribute("aria-pressed") !== "true";
  all("[data-place]").forEach((b) => b.setAttribute("aria-pressed", "false"));
  if (!on) return desk.sheet?.stopPlacing();
  showView(document.querySelector('[data-view="plan"]'), "plan");
  button.setAttribute("aria-pressed", "true");
  desk.sheet?.startPlacing(kind);
}
desk.addEventListener("placed", () => all("[data-place]").forEach((b) => b.setAttribute("aria-pressed", "false")));

document.querySelector('[data-choose="quantity"]').addEventListener("change", (event) => desk.show({ quantity: event.target.value }));
addEventListener("wellheard:unit", (event) => {
  event.preventDefault();
  desk.show({ unit: event.detail });
});

// Views -----------------------------------------------------------------------------------------

function showView(button, view) {
  press(all("[data-view]"), button);
  for (const one of all("[data-shown]")) one.hidden = one.dataset.shown !== view;
  if (view === "section") showSection();
  desk.dispatchEvent(new CustomEvent("view", { detail: view }));
}

function showSection() {
  const theme = document.documentElement.classList.contains("slate") ? "slate" : "white";
  const address = `/api/rooms/${encodeURIComponent(desk.key)}/section.svg?theme=${theme}&unit=${desk.unit}&quantity=${desk.quantity}&worst=${desk.worst}&v=${desk.version}`;
  document.querySelector("[data-section]").setAttribute("src", address);
}
const sectionShown = () => !document.querySelector('[data-shown="section"]').hidden;
desk.addEventListener("plan", () => sectionShown() && showSection());
addEventListener("wellheard:theme", () => sectionShown() && showSection());

// Side ------------------------------------------------------------------------------------------

function showSide(side) {
  press(all("[data-side]"), document.querySelector(`[data-side="${side}"]`));
  showBody(side === "room" ? "item" : side);
  if (side === "room") desk.dispatchEvent(new CustomEvent("open", { detail: "room" }));
  else if (side === "item") {
    const [first] = desk.selection;
    if (first) desk.dispatchEvent(new CustomEvent("open", { detail: first }));
  }
}
function showBody(shown) {
  for (const body of all("[data-body]")) body.hidden = body.dataset.body !== shown;
  desk.side = shown;
  desk.dispatchEvent(new CustomEvent("side", { detail: shown }));
}
desk.addEventListener("open", (event) => {
  const side = event.detail === "room" ? "room" : "item";
  press(all("[data-side]"), document.querySelector(`[data-side="${side}"]`));
  showBody("item");
});
desk.addEventListener("figures", () => {
  document.querySelector("[data-count]").textContent = desk.figures?.findings?.count_words ?? "";
});
showSide("findings");

// What is saved ---------------------------------------------------------------------------------

const status = document.querySelector("[data-status]");
const notice = document.querySelector("[data-notice]");
const SHORT = { conflict: "not saved: see above the plan", refused: "not saved: see above the plan", waiting: "not saved yet" };

/** What was not saved, or not as asked, is said at length above the plan. */
function showNotice({ state, words, notes = [], outside = false }) {
  const long = state in SHORT ? words : notes.join(" ");
  if (state !== "saving") notice.hidden = !long;
  notice.querySelector("[data-notice-words]").textContent = long;
  notice.querySelector('[data-do="restore"]').hidden = !outside;
}

function showStatus() {
  status.textContent = SHORT[desk.status.state] ?? desk.status.words;
  showNotice(desk.status);
  status.dataset.state = desk.status.state;
  for (const [name, what] of [["undo", desk.undoWords], ["redo", desk.redoWords]]) {
    const button = document.querySelector(`[data-do="${name}"]`);
    button.disabled = !what;
    button.title = what ? `${name}: ${what}` : `nothing to ${name}`;
  }
}
desk.addEventListener("status", showStatus);
desk.addEventListener("plan", () => {
  showStatus();
  const { title } = desk.plan;
  if (!title) return;
  document.querySelector(".where .here").textContent = title;
  document.title = `${title} · Wellheard`;
});
desk.addEventListener("mode", (event) => {
  document.querySelector('[data-do="outline"]').setAttribute("aria-pressed", String(event.detail === "outline"));
});
showStatus();

desk.start();
