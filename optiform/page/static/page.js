// The few things that a page does by itself: it sends the token along and moves number and slider together.
// Without this script every page still reads and prints.
"use strict";

document.documentElement.classList.add("live");

document.addEventListener("htmx:configRequest", (event) => {
  event.detail.headers["X-Token"] = document.body.dataset.token;
  // What was said of the room of each wish is no longer so once one of them moves.
  if (event.detail.elt.id === "wishes") document.querySelectorAll(".room").forEach((one) => one.replaceChildren());
});

// A slider and its number are one control. While a slider moves, the form is sent as fast as it is answered, and says
// that it is one move: undo goes back to where it began.
let drag = "";
document.addEventListener("input", (event) => {
  const moved = event.target;
  if (moved.dataset.moves) {
    drag ||= String(Math.random());
    document.getElementById("drag").value = drag;
    document.getElementById(moved.dataset.moves).value = moved.value;
    moved.form.dispatchEvent(new Event("moved"));
  } else if (moved.form && moved.form.id === "wishes") {
    document.getElementById("drag").value = "";
    const slider = moved.closest(".end")?.querySelector("input[type=range]");
    const value = Number(moved.value.replace(",", "."));
    if (slider && moved.value && Number.isFinite(value)) slider.value = value;
  }
});

document.addEventListener("change", (event) => {
  if (event.target.dataset.moves) drag = "";
});

// Enter in a field presses the first button of its form, which only a page without scripts needs: the field was sent already.
// In a wish the hand stays where it is; in a record it goes on to the next field.
// A button that is pressed while a wish is on its way waits for it, or it would write over the version before.
let waits = null;
document.addEventListener("submit", (event) => {
  const idle = event.submitter?.closest(".without-script");
  if (idle) event.preventDefault();
  if (idle && event.target.matches(".record")) {
    const fields = [...event.target.elements].filter((one) => one.matches("input:not([type=hidden]), select"));
    fields[fields.indexOf(document.activeElement) + 1]?.focus();
  }
  const wishes = document.getElementById("wishes");
  const ours = event.target.closest("#wishes, #undo");
  if (!wishes || !ours || idle) return;
  const sending = wishes.classList.contains("htmx-request");
  if (!sending) return;
  event.preventDefault();
  waits = ours.id === "undo" ? "undo" : event.submitter;
});

document.addEventListener("htmx:afterSettle", () => {
  const wishes = document.getElementById("wishes");
  if (!waits || !wishes || wishes.classList.contains("htmx-request")) return;
  const asked = waits;
  waits = null;
  if (asked === "undo") document.querySelector("#undo form")?.requestSubmit();
  else wishes.requestSubmit(asked);
});

// A photo is on its way as soon as it is taken.
document.addEventListener("change", (event) => {
  if (event.target.id === "shot") event.target.form.requestSubmit();
});

// What was typed into a record before the scripts were there is sent as soon as they are.
document.body.addEventListener("htmx:load", (event) => {
  if (event.detail.elt !== document.body) return;
  document.querySelectorAll(".record input:not(.was)").forEach((field) => {
    if (field.value !== field.defaultValue) field.dispatchEvent(new Event("change", { bubbles: true }));
  });
});
