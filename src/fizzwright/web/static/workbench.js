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
  });
  document.addEventListener("htmx:sendError", function () { say("The workbench does not answer. What you typed is still here; start it again and press Work it out."); });
  document.addEventListener("htmx:responseError", function () { say("The workbench could not work this out. What you typed is still here; press Work it out to see why."); });
  function say(text) { var place = document.getElementById("answer-note"); if (place) { place.textContent = text; place.className = "wrong"; } }

  window.addEventListener("beforeprint", function () {
    document.querySelectorAll(".says details:not([open]), [id^=far-]:not([open])").forEach(function (d) { d.open = true; d.dataset.shut = "1"; });
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
    if (first && document.title.indexOf("Error") === 0) { first.focus(); }
    document.querySelectorAll("[data-print]").forEach(function (b) { b.hidden = false; b.addEventListener("click", function () { window.print(); }); });
  });
})();
