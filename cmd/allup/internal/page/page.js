
(function () {
"use strict";
var main = document.getElementById("main"), said = document.getElementById("said"), fault = document.getElementById("fault");

// Rows and marks of one subject point at each other.
var lit = [];
function light(from) {
  lit.forEach(function (e) { e.classList.remove("on"); });
  var at = from && from.closest ? from.closest("[data-id]") : null;
  lit = at ? Array.from(document.querySelectorAll('[data-id="' + CSS.escape(at.dataset.id) + '"]')) : [];
  lit.forEach(function (e) { e.classList.add("on"); });
}
// The page may move under a pointer that lies still: what has the focus stays lit until the pointer moves.
var held = false, x = NaN, y = NaN;
document.addEventListener("pointermove", function (e) { x = e.clientX; y = e.clientY; });
document.addEventListener("pointerover", function (e) {
  if (held && Math.abs(e.clientX - x) < 1 && Math.abs(e.clientY - y) < 1) return;
  held = false;
  light(e.target);
});
document.addEventListener("focusin", function (e) { light(e.target); held = lit.length > 0; });
document.addEventListener("focusout", function () { light(null); held = false; });

// One stop of the tab key for a drawing or a table; arrows go on from there.
function stops(group) { return Array.from(group.querySelectorAll("[data-id][tabindex]")); }
document.addEventListener("keydown", function (e) {
  var step = { ArrowDown: 1, ArrowRight: 1, ArrowUp: -1, ArrowLeft: -1 }[e.key];
  var at = document.activeElement, group = at && at.matches("[data-id][tabindex]") ? at.closest("tbody, svg") : null;
  if (!step || !group) return;
  var list = stops(group), next = list[list.indexOf(at) + step];
  e.preventDefault();
  if (!next) return;
  at.setAttribute("tabindex", "-1");
  next.setAttribute("tabindex", "0");
  next.focus();
});

function value(row, column) {
  var cell = row.cells[column];
  if (cell.dataset.v !== undefined) return Number(cell.dataset.v);
  return cell.textContent === "-" || cell.textContent === "" ? null : cell.textContent;
}
function sort(table, column, down) {
  var body = table.tBodies[0], rows = Array.from(body.rows);
  rows.forEach(function (r, i) { if (r.dataset.was === undefined) r.dataset.was = i; });
  rows.sort(function (a, b) {
    var x = value(a, column), y = value(b, column), d = 0;
    if (x === null || y === null) d = (x === null) - (y === null);
    else if (typeof x === "number" && typeof y === "number") d = down ? y - x : x - y;
    else d = String(x).localeCompare(String(y), "en", { numeric: true }) * (down ? -1 : 1);
    return d || a.dataset.was - b.dataset.was;
  });
  rows.forEach(function (r) { body.appendChild(r); });
  Array.from(table.tHead.rows[0].cells).forEach(function (h, i) {
    if (i === column) h.setAttribute("aria-sort", down ? "descending" : "ascending");
    else h.removeAttribute("aria-sort");
  });
}

function wire() {
  main.querySelectorAll("table").forEach(function (table) {
    var heads = Array.from(table.tHead.rows[0].cells);
    heads.forEach(function (h, column) {
      var text = h.textContent;
      if (!text || table.tBodies[0].rows.length < 2) return;
      var button = document.createElement("button");
      button.type = "button";
      button.textContent = text;
      h.textContent = "";
      h.appendChild(button);
      button.addEventListener("click", function () {
        var down = h.getAttribute("aria-sort") === "ascending";
        sort(table, column, down);
        said.textContent = "Sorted by " + text + (down ? ", falling" : ", rising");
      });
    });
  });
  main.querySelectorAll("tbody, svg.drawing").forEach(function (group) {
    var first = stops(group)[0];
    if (first) first.setAttribute("tabindex", "0");
  });
}

// What a reader has chosen, over a new page: sorting, place, focus, what is open.
function keep() {
  var at = document.activeElement, k = { x: scrollX, y: scrollY, tables: [], focus: null, open: [] };
  main.querySelectorAll("table").forEach(function (t) {
    var heads = Array.from(t.tHead.rows[0].cells), c = heads.findIndex(function (h) { return h.hasAttribute("aria-sort"); });
    k.tables.push({ id: t.id, column: c, down: c >= 0 && heads[c].getAttribute("aria-sort") === "descending", left: t.parentNode.scrollLeft });
  });
  main.querySelectorAll("details").forEach(function (d) { k.open.push(d.open); });
  if (at && at.dataset && at.dataset.id) {
    var table = at.closest("table");
    k.focus = (table ? "#" + CSS.escape(table.id) + " " : "svg ") + '[data-id="' + CSS.escape(at.dataset.id) + '"][tabindex]';
  }
  return k;
}
function restore(k) {
  k.tables.forEach(function (s) {
    var t = document.getElementById(s.id);
    if (!t) return;
    if (s.column >= 0 && s.column < t.tHead.rows[0].cells.length) sort(t, s.column, s.down);
    t.parentNode.scrollLeft = s.left;
  });
  main.querySelectorAll("details").forEach(function (d, i) { d.open = !!k.open[i]; });
  var at = k.focus && main.querySelector(k.focus);
  if (at) at.focus({ preventScroll: true });
  scrollTo(k.x, k.y);
}

function follow() {
  var events = new EventSource("events"), shown = null;
  function tell(text) {
    fault.textContent = text;
    fault.hidden = !text;
  }
  events.addEventListener("page", function (e) {
    if (shown === e.data || shown === null && main.dataset.is === e.data) { shown = e.data; tell(""); return; }
    fetch("page?is=" + encodeURIComponent(e.data)).then(function (r) { return r.text(); }).then(function (text) {
      var next = new DOMParser().parseFromString(text, "text/html"), k = keep();
      main.replaceChildren.apply(main, Array.from(document.importNode(next.getElementById("main"), true).childNodes));
      document.title = next.title;
      wire();
      restore(k);
      shown = e.data;
      tell("");
      said.textContent = "The page follows the saved file";
    });
  });
  events.addEventListener("fault", function (e) {
    tell(JSON.parse(e.data) + "\nBelow is the last answer that worked out.");
  });
  events.onerror = function () { tell("allup no longer answers: this page stays as it was"); };
}

// On paper everything is open.
var closed = [];
addEventListener("beforeprint", function () {
  closed = Array.from(document.querySelectorAll("details:not([open])"));
  closed.forEach(function (d) { d.open = true; });
});
addEventListener("afterprint", function () { closed.forEach(function (d) { d.open = false; }); });

wire();
if (document.body.dataset.live) follow();
})();
