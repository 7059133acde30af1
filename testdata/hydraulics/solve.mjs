// Solves every network of networks.json.gz and writes answers.json.gz: for each, by the order of its pipes and nodes, the
// flows in m³/s and the total pressures in Pa.
import { readFileSync, writeFileSync } from 'node:fs';
import { gunzipSync, gzipSync } from 'node:zlib';
import { Engine, input } from './engine.mjs';

// As tight as the engine goes: 1e-5 is the least accuracy that it takes. The head and flow criteria, in m and m³/h,
// have no such limit.
const TIGHT = { accuracy: 1e-5, headError: 1e-7, flowChange: 1e-6, trials: 500 };

const file = (name) => new URL(name, import.meta.url);
const significant = (x) => Number(x.toPrecision(8));

const networks = JSON.parse(gunzipSync(readFileSync(file('networks.json.gz'))));
const engine = await Engine.start();
const answers = networks.map((net) => {
  engine.open(input(net, TIGHT));
  engine.solve();
  const iterations = engine.iterations();
  const { headError, flowChange } = engine.errors();
  if (!(headError <= TIGHT.headError && flowChange <= TIGHT.flowChange)) {
    throw new Error(`${net.name}: ${headError} m and ${flowChange} m³/h are left over after ${iterations} iterations`);
  }
  return {
    name: net.name,
    iterations,
    fan_m3_s: significant(engine.flow('FAN')),
    flows_m3_s: net.pipes.map((_, i) => significant(engine.flow(`L${i}`))),
    pressures_pa: net.nodes.map((_, i) => significant(engine.pressure(`N${i}`, net.density_kg_m3))),
  };
});
engine.close();
writeFileSync(file('answers.json.gz'), gzipSync(JSON.stringify(answers), { level: 9 }));
console.log(`${answers.length} networks solved, in ${Math.max(...answers.map((a) => a.iterations))} iterations at most`);
