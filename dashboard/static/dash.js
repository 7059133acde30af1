"use strict";
// The pages read without this script. It keeps the first page live and draws the charts that stand there as pictures.
(function () {
  // swap puts new content into a part of the page, and leaves the focus where it was.
  function swap(part, html) {
    var can = "a[href], button, input, select, textarea, summary, [tabindex]";
    var at = part.contains(document.activeElement) ? [].indexOf.call(part.querySelectorAll(can), document.activeElement) : -1;
    part.innerHTML = html;
    var now = part.querySelectorAll(can)[at];
    if (now) now.focus({ preventScroll: true });
  }

  // live keeps the part of a page that changes up to date, and says so when it cannot.
  function live() {
    var part = document.getElementById("live");
    var age = document.getElementById("age");
    if (!part || !window.EventSource) return;
    var last = Date.now();
    var lost = document.getElementById("lost");
    var say = document.getElementById("say"); // read out when what the page says has changed
    var source = new EventSource(part.dataset.live || "/live");
    source.addEventListener("now", function (e) {
      last = Date.now();
      swap(part, e.data);
      var said = part.querySelector(".state, [data-say]");
      if (said && said.textContent !== say.textContent) say.textContent = said.textContent;
    });
    source.addEventListener("beat", function (e) {
      last = Date.now();
      age.textContent = e.data;
    });
    window.setInterval(function () {
      var silent = Date.now() - last > 15000;
      lost.hidden = !silent;
      document.body.classList.toggle("lost", silent);
    }, 2000);
    window.addEventListener("pagehide", function () { source.close(); });
  }

  // paint puts the scheme's colours where the chart's options name them: "@air" becomes the value of --air.
  function paint(option, style) {
    if (typeof option === "string") {
      return option.charAt(0) === "@" ? style.getPropertyValue("--" + option.slice(1)).trim() : option;
    }
    if (Array.isArray(option)) return option.map(function (o) { return paint(o, style); });
    if (option && typeof option === "object") {
      var out = {};
      Object.keys(option).forEach(function (k) { out[k] = paint(option[k], style); });
      return out;
    }
    return option;
  }

  // words is the pointer's text: the moment, then each line's value as the server wrote it.
  function words(points) {
    var lines = points.filter(function (p) { return p.seriesName && p.name; });
    if (!lines.length) return "";
    var at = new Date(lines[0].value[0]).toISOString();
    return [at.slice(0, 10) + " " + at.slice(11, 19)].concat(lines.map(function (p) { return p.name; })).join("\n");
  }

  // level writes an axis' number as the rest of the page does: spaces between thousands, a true minus sign.
  function level(v) {
    var parts = String(Math.abs(v)).split(".");
    parts[0] = parts[0].replace(/\B(?=(\d{3})+$)/g, "\u00a0");
    return (v < 0 ? "\u2212" : "") + parts.join(".");
  }

  function draw(box, option) {
    var style = getComputedStyle(document.documentElement);
    var chart = echarts.getInstanceByDom(box) || echarts.init(box, null, { renderer: "canvas" });
    var o = paint(option, style);
    var letters = style.getPropertyValue("--letters").trim();
    o.textStyle.fontFamily = letters;
    [].concat(o.yAxis).forEach(function (axis) { axis.axisLabel.formatter = level; });
    o.tooltip = { trigger: "axis", renderMode: "richText", formatter: words, confine: true,
      backgroundColor: style.getPropertyValue("--paper").trim(), borderColor: style.getPropertyValue("--ink").trim(),
      textStyle: { color: style.getPropertyValue("--ink").trim(), fontFamily: letters }, axisPointer: { type: "line", label: { show: false } } };
    chart.setOption(o, true);
    return chart;
  }

  // zoom opens the span that is drawn over a chart, with the finer readings of it. Steps and fields beside it do the same
  // without drawing.
  function zoom(box, chart) {
    var from = null, band = document.createElement("div");
    band.className = "zooming";
    band.hidden = true;
    box.appendChild(band);
    function inside(e) {
      var grid = chart.getModel().getComponent("grid").coordinateSystem.getRect();
      return Math.min(Math.max(e.clientX - box.getBoundingClientRect().left, grid.x), grid.x + grid.width);
    }
    function at(x) { // the axis runs on the shop's wall clock
      return new Date(chart.convertFromPixel({ xAxisIndex: 0 }, x)).toISOString().slice(0, 19);
    }
    box.addEventListener("pointerdown", function (e) {
      if (e.button === 0) from = inside(e);
    });
    box.addEventListener("pointermove", function (e) {
      if (from === null) return;
      var x = inside(e);
      band.hidden = Math.abs(x - from) < 8;
      band.style.left = Math.min(x, from) + "px";
      band.style.width = Math.abs(x - from) + "px";
    });
    function stop() { from = null; band.hidden = true; }
    box.addEventListener("pointercancel", stop);
    box.addEventListener("pointerleave", stop);
    box.addEventListener("pointerup", function (e) {
      if (from === null) return;
      var a = at(Math.min(from, inside(e))), b = at(Math.max(from, inside(e))), far = Math.abs(inside(e) - from) >= 8;
      stop();
      if (far && a < b) window.location.assign(box.dataset.zoom + "&from=" + a + "&to=" + b);
    });
  }

  function charts() {
    if (typeof echarts === "undefined") return;
    var dark = window.matchMedia("(prefers-color-scheme: dark)");
    document.querySelectorAll("[data-chart]").forEach(function (box) {
      fetch(box.dataset.chart, { headers: { Accept: "application/json" } }).then(function (r) {
        if (!r.ok) throw new Error(r.status);
        return r.json();
      }).then(function (option) {
        box.closest("figure").classList.add("drawn");
        var chart = draw(box, option);
        if (box.dataset.zoom) zoom(box, chart);
        box.dataset.ready = "yes";
        dark.addEventListener("change", function () { draw(box, option); });
        window.addEventListener("resize", function () { chart.resize(); });
      }).catch(function () { box.hidden = true; }); // the still picture stays
    });
  }

  document.querySelectorAll("[data-script]").forEach(function (e) { e.hidden = false; });

  // A button marked data-print opens the print dialogue; without the script it is not there.
  document.querySelectorAll("[data-print]").forEach(function (b) {
    b.hidden = false;
    b.addEventListener("click", function () { window.print(); });
  });

  // poll keeps a part up to date that is small and asked for by one phone; a stream would be more than it needs.
  function poll() {
    var part = document.querySelector("[data-poll]");
    if (!part) return;
    var say = document.getElementById("say"), lost = document.getElementById("lost");
    function told() { return [].map.call(part.querySelectorAll("[data-say]"), function (e) { return e.textContent; }).join(" "); }
    var last = part.innerHTML;
    window.setInterval(function () {
      if (document.hidden) return;
      fetch(part.dataset.poll).then(function (r) {
        if (!r.ok) throw new Error(r.status);
        return r.text();
      }).then(function (text) {
        lost.hidden = true;
        if (text === last) return;
        var was = told();
        last = text;
        swap(part, text);
        if (told() !== was) say.textContent = told();
      }).catch(function () { lost.hidden = false; });
    }, 3000);
  }

  live();
  poll();
  charts();
})();
