// The few things that a page does by itself: it sends the token along, moves number and slider together, keeps the
// place of the eye and the finger when a part of it is replaced. Without this script every page still reads and prints.
"use strict";

const root = document.documentElement;
root.classList.add("live");

document.addEventListener("htmx:configRequest", (event) => {
  event.detail.headers["X-Token"] = document.body.dataset.token;
});

const field = (name) => document.getElementById(name);

document.addEventListener("input", (event) => {
  const moved = event.target;
  if (moved.dataset.moves) field(moved.dataset.moves).value = moved.value;
  else if (moved.form && moved.form.id === "wishes") {
    const slider = moved.parentElement.parentElement.querySelector("input[type=range]");
    const value = Number(moved.value.replace(",", "."));
    if (slider && moved.value && Number.isFinite(value)) slider.value = value;
  }
});

// A form that is replaced while a hand is on it: the same field is under the hand again.
let held = null;
document.addEventListener("htmx:beforeSwap", () => {
  const here = document.activeElement;
  held = here && here.closest("#wishes")
    ? { name: here.name || "", moves: here.dataset.moves || "", open: [...document.querySelectorAll("details")].map((one) => one.open), y: window.scrollY }
    : null;
});
document.addEventListener("htmx:afterSwap", () => {
  if (!held) return;
  const again = held.moves
    ? [...document.querySelectorAll("[data-moves]")].find((one) => one.dataset.moves === held.moves)
    : held.name ? field(held.name) : null;
  document.querySelectorAll("details").forEach((one, k) => { one.open = Boolean(held.open[k]); });
  if (again) again.focus({ preventScroll: true });
  window.scrollTo(0, held.y);
  held = null;
});
