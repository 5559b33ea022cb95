// Small help for the recipe page. Every page works without it: the buttons post the form.
(function () {
  "use strict";
  var open = [];

  function mark() {
    // What the server wrote beside a field is told to assistive technology too.
    document.querySelectorAll("p.wrong[id]").forEach(function (slot) {
      var box = document.getElementById(slot.id.replace(/-wrong$/, ""));
      if (!box) { return; }
      if (slot.textContent.trim()) { box.setAttribute("aria-invalid", "true"); } else { box.removeAttribute("aria-invalid"); }
    });
  }

  // Which line is being typed in: a line not yet finished is no fault.
  document.addEventListener("htmx:configRequest", function (event) {
    var box = document.activeElement && /^line-(\d+)-/.exec(document.activeElement.id);
    if (box) { event.detail.parameters.at = box[1]; }
  });
  document.addEventListener("focusout", function (event) {
    var line = event.target.closest("[data-line][data-new]"), to = event.relatedTarget;
    if (!line || !document.hasFocus() || line.contains(to) || (to && to.closest("button"))) { return; }
    var typed = Array.from(line.querySelectorAll("input[type=text]")).some(function (box) { return box.value.trim(); });
    if (typed) { setTimeout(function () { window.htmx.trigger("#recipe-form", "leave"); }, 0); }
  });

  // Nothing typed is lost without a word.
  var leaving = false;
  document.addEventListener("input", function (event) {
    var place = document.getElementById("unsaved");
    if (!place || !event.target.closest("#recipe-form") || /^(leave_on|size_|round_)/.test(event.target.name)) { return; }
    place.textContent = "Not saved yet";
    place.dataset.unsaved = "";
  });
  document.addEventListener("submit", function () { leaving = true; });
  window.addEventListener("pageshow", function () { leaving = false; });
  window.addEventListener("beforeunload", function (event) {
    if (!leaving && document.querySelector("[data-unsaved]")) { event.preventDefault(); }
  });

  document.addEventListener("htmx:beforeSwap", function (event) {
    // A refused form comes back as 422 with its messages; they are to be shown, not thrown away.
    if (event.detail.xhr.status === 422) { event.detail.shouldSwap = true; event.detail.isError = false; }
    if (event.detail.target.id === "results") {
      open = Array.from(document.querySelectorAll("#results details[open]"), function (d) { return d.id; });
    }
  });
  document.addEventListener("htmx:afterSettle", function () {
    var place = document.getElementById("answer-note");
    if (place) { place.className = "unseen"; }
    open.forEach(function (id) { var d = document.getElementById(id); if (d) { d.open = true; } });
    mark();
    stay();
  });

  // What is typed in stays where it is, whatever grows or shrinks above it.
  var held = null;
  document.addEventListener("htmx:beforeSwap", function () {
    var box = document.activeElement;
    held = box && box.closest("#recipe-form") ? { box: box, top: box.getBoundingClientRect().top } : null;
  });
  function moved() { return held.box.getBoundingClientRect().top - held.top; }
  function stay() {
    if (!held || !held.box.isConnected) { return; }
    var above = document.querySelector("[data-above]"), column = held.box.closest(".bench > *");
    // the room kept for an earlier notice goes first, or each change of notices would add to it
    above.style.minHeight = "";
    if (moved()) { column.scrollTop += moved(); }
    if (moved()) { window.scrollBy(0, moved()); }
    if (moved() < 0) { above.style.minHeight = above.offsetHeight - moved() + "px"; }
  }
  document.addEventListener("htmx:sendError", function () { say("The workbench does not answer. What you typed is still here; start it again and press Work it out."); });
  document.addEventListener("htmx:responseError", function () { say("The workbench could not work this out. What you typed is still here; press Work it out to see why."); });
  function say(text) { var place = document.getElementById("answer-note"); if (place) { place.textContent = text; place.className = "wrong"; } }

  window.addEventListener("beforeprint", function () {
    document.querySelectorAll(".says details:not([open]), [id^=far-]:not([open]), [id^=more-]:not([open])").forEach(function (d) { d.open = true; d.dataset.shut = "1"; });
  });
  window.addEventListener("afterprint", function () {
    document.querySelectorAll("details[data-shut]").forEach(function (d) { d.open = false; delete d.dataset.shut; });
  });
  // At the bowl: arrow keys, Page keys and Space step too, so that a foot switch or a clicker works.
  document.addEventListener("keydown", function (event) {
    if (!document.querySelector("[data-steps]") || event.ctrlKey || event.altKey || event.metaKey || event.repeat) { return; }
    var key = event.key, onLink = document.activeElement && document.activeElement.closest("a, button");
    var way = key === "ArrowRight" || key === "PageDown" || (key === " " && !onLink) ? "next" : key === "ArrowLeft" || key === "PageUp" ? "prev" : "";
    var link = way && document.querySelector("[data-steps] a[rel=" + way + "]");
    if (link) { event.preventDefault(); link.click(); }
  });
  function stayAwake() {
    var note = document.getElementById("awake");
    if (!note) { return; }
    if (!navigator.wakeLock) { note.hidden = false; return; }
    navigator.wakeLock.request("screen").catch(function () { note.hidden = false; });
  }
  document.addEventListener("DOMContentLoaded", function () {
    mark();
    stayAwake();
    var first = document.getElementById("summary");
    var wanted = document.querySelector("[autofocus]");
    if (wanted) { wanted.focus(); } else if (first && document.title.indexOf("Error") === 0) { first.focus(); }
    document.querySelectorAll("[data-print]").forEach(function (b) { b.hidden = false; b.addEventListener("click", function () { window.print(); }); });
  });
})();
