// The outage player: sliders ask for a ride, the chart shows it; drag across the chart to look closer, double-click for
// all of it. The numbers, the window and the dip mask come with the ride.
"use strict";

(() => {
  const form = document.getElementById("knobs");
  const place = document.getElementById("ride");
  if (!form || !place) return;
  const said = document.getElementById("verdict");
  const css = (name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim();
  const colours = ["--sea", "--amber", "--brick", "--slate", "--ink"];
  const dashes = [[], [7, 4], [2, 3], [9, 3, 2, 3], [4, 2]];
  let chart = null, names = "", busy = false, waiting = false;

  function bands(ride) {
    return (u) => {
      const ctx = u.ctx, [x0, x1] = [u.bbox.left, u.bbox.left + u.bbox.width];
      const clip = (y) => Math.min(Math.max(y, u.bbox.top), u.bbox.top + u.bbox.height);
      ctx.save();
      ctx.globalAlpha = 0.6;
      ctx.fillStyle = css("--sea2");
      const top = clip(u.valToPos(ride.window[1], "V", true)), low = clip(u.valToPos(ride.window[0], "V", true));
      ctx.fillRect(x0, top, x1 - x0, low - top);
      ctx.globalAlpha = 1;
      ctx.strokeStyle = ctx.fillStyle = css("--brick");
      ctx.setLineDash([6, 4]);
      for (const begin of ride.marks.map((m) => m.t)) {
        let from = begin;
        ctx.beginPath();
        for (const [volts, lasts] of ride.dips) {
          const y = u.valToPos(volts, "V", true);
          if (y < u.bbox.top || y > u.bbox.top + u.bbox.height) continue;
          const a = Math.max(u.valToPos(begin, "x", true), x0), b = Math.min(u.valToPos(begin + lasts, "x", true), x1);
          if (b > a) { ctx.moveTo(a, y); ctx.lineTo(b, y); }
        }
        ctx.stroke();
      }
      ctx.setLineDash([2, 4]);
      ctx.strokeStyle = ctx.fillStyle = css("--ink");
      ctx.font = `${12 * devicePixelRatio}px system-ui, sans-serif`;
      ride.marks.forEach((mark, k) => {
        const x = u.valToPos(mark.t, "x", true);
        if (x < x0 || x > x1) return;
        ctx.beginPath(); ctx.moveTo(x, u.bbox.top); ctx.lineTo(x, u.bbox.top + u.bbox.height); ctx.stroke();
        ctx.fillText(mark.name, x + 4, u.bbox.top + (14 + 14 * (k % 3)) * devicePixelRatio);
      });
      ctx.restore();
    };
  }

  function time(v) {
    const a = Math.abs(v);
    if (a === 0) return "0";
    if (a < 1e-3) return +(v * 1e6).toPrecision(4) + " µs";
    if (a < 1) return +(v * 1e3).toPrecision(5) + " ms";
    return a < 120 ? +v.toPrecision(5) + " s" : +(v / 60).toPrecision(4) + " min";
  }

  let drawn = null;
  function draw(ride) {
    drawn = ride;
    const shape = ride.series.map((s) => s.name + s.unit).join();
    const data = [ride.t, ...ride.series.map((s) => s.y)];
    if (chart && shape === names) {
      chart.setData(data, true);
      return;
    }
    if (chart) chart.destroy();
    names = shape;
    const axis = { stroke: css("--soft"), grid: { stroke: css("--line"), width: 1 }, ticks: { stroke: css("--line"), width: 1 } };
    const units = [...new Set(ride.series.map((s) => s.unit))];
    chart = new uPlot({
      width: place.clientWidth, height: Math.max(280, Math.min(420, innerHeight * 0.5)),
      scales: { x: { time: false }, ...Object.fromEntries(units.map((u) => [u, {}])) },
      axes: [
        { ...axis, values: (u, ticks) => ticks.map(time) },
        ...units.map((unit, k) => ({ ...axis, scale: unit, side: k ? 1 : 3, label: unit === "V" ? "voltage [V]" : unit === "A" ? "current [A]" : unit, size: 58, grid: k ? { show: false } : axis.grid })),
      ],
      series: [
        { label: "time", value: (u, v) => (v == null ? "–" : time(v)) },
        ...ride.series.map((s, k) => ({
          label: `${s.name} [${s.unit}]`, scale: s.unit, stroke: css(colours[k % colours.length]), width: k ? 1.5 : 2.5,
          dash: dashes[k % dashes.length], show: s.shown, value: (u, v) => (v == null ? "–" : v.toPrecision(4) + " " + s.unit),
        })),
      ],
      cursor: { drag: { x: true, y: false } },
      hooks: { drawClear: [(u) => bands(drawn)(u)] },
    }, data, place);
  }

  async function ask() {
    if (busy) { waiting = true; return; }
    busy = true;
    try {
      const began = performance.now();
      const query = new URLSearchParams(new FormData(form));
      const answer = await fetch(`${form.getAttribute("action")}/ride?${query}`);
      const ride = await answer.json();
      if (ride.wrong) {
        said.textContent = ride.wrong;
      } else {
        place.querySelector("figure")?.remove();
        draw(ride);
        said.textContent = ride.headline;
        said.className = "answer " + ride.status;
      }
      place.dataset.took = Math.round(performance.now() - began);
      place.dataset.rides = Number(place.dataset.rides || 0) + 1;
    } finally {
      busy = false;
      if (waiting) { waiting = false; ask(); }
    }
  }

  form.addEventListener("input", (event) => {
    const output = form.querySelector(`output[for="${event.target.id}"]`);
    if (output && event.target.dataset.labels) {
      output.textContent = JSON.parse(event.target.dataset.labels)[event.target.value];
      event.target.setAttribute("aria-valuetext", output.textContent);
    }
    ask();
  });
  form.addEventListener("submit", (event) => { event.preventDefault(); ask(); });
  document.addEventListener("tideover:version", ask);
  new ResizeObserver(() => { if (chart) chart.setSize({ width: place.clientWidth, height: chart.height }); }).observe(place);
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => { if (drawn) { names = ""; draw(drawn); } });
  ask();
})();
