// Times the engine's hydraulic solve alone for a benchmark that asks, line by line, on the standard input:
//
//   {"net": {…}, "options": {…}}    opens a network, warms up and answers {"fan_m3_s": …, "iterations": …}
//   {"seconds": 0.2}                solves for so long and answers {"us": […]}, the time in µs of each batch's solve
//
// A solve is initH from a cold start and runH; reading the network and ordering its matrix were done before.
import { createInterface } from 'node:readline';
import { Engine, input } from './engine.mjs';

const WARM_UP = 0.5; // s; the engine's code is compiled in stages as it gets hot
const BATCH = 500; // µs, far above what the clock can tell

const engine = await Engine.start();
let batch = 1; // solves

// batches solves for so many seconds and gives the time of a solve in each batch, in µs.
function batches(seconds) {
  const times = [];
  const end = performance.now() + seconds * 1000;
  do {
    const start = performance.now();
    for (let i = 0; i < batch; i++) engine.solve();
    times.push(((performance.now() - start) * 1000) / batch);
  } while (performance.now() < end);
  return times;
}

function open({ net, options }) {
  engine.open(input(net, options));
  batch = 1;
  const warm = batches(WARM_UP);
  batch = Math.max(1, Math.round(BATCH / warm.at(-1)));
  return { fan_m3_s: engine.flow('FAN'), iterations: engine.iterations() };
}

for await (const line of createInterface({ input: process.stdin })) {
  const asked = JSON.parse(line);
  console.log(JSON.stringify(asked.net ? open(asked) : { us: batches(asked.seconds) }));
}
