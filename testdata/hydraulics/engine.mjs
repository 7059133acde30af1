// One duct network as the input of the EPANET engine, and its hydraulics solved.
//
// The engine was made for water, but its pipes know no water: head is in metres of whatever flows, and with the
// Darcy-Weisbach formula only the kinematic viscosity of the fluid counts. A suction of 2000 Pa is a head of 170 m of
// air, and a drop of 600 m³/h is a water main of 600 m³/h, so the engine works in its usual range.
//
// Inside, the engine counts in feet, with 32.2 ft/s² for gravity, 0.02517 for 8/(π²g) in minor losses, 101.94 m³/h to
// the ft³/s and 1.1e-5 ft²/s for a relative viscosity of 1. The same numbers are used here, so that they cancel.
import { Project, Workspace } from 'epanet-js';

const FOOT = 0.3048; // m
const GRAVITY = 32.2 * FOOT; // m/s²
const MINOR = 0.02517 / (8 / (Math.PI ** 2 * 32.2)); // the engine's minor losses over the exact ones
const CUBIC_FOOT = 101.94 / 3600 / FOOT ** 3; // the engine's m³/h over the exact one
const VISCOSITY = 1.1e-5 * FOOT ** 2; // m²/s

const number = (x) => x.toPrecision(12);
const toFlow = (m3s) => m3s * 3600 * CUBIC_FOOT; // m³/s to the engine's m³/h
const fromFlow = (m3h) => m3h / 3600 / CUBIC_FOOT;

// input writes the network as the engine's input file. Nodes are N0, N1, … and pipes L0, L1, … in their order; the room
// is a reservoir of head 0. The tolerances are the engine's; trials is the most Newton steps that it may take.
export function input(net, { accuracy, headError, flowChange, trials, lean }) {
  const node = new Map(net.nodes.map((name, i) => [name, `N${i}`]));
  node.set('room', 'ROOM');
  const extra = lean ? [] : ['SEP', 'FIL', 'OUT'];
  const junctions = [...net.nodes.map((_, i) => `N${i}`), ...extra];
  const pipe = (id, from, to, p) =>
    [id, from, to, number(p.length_m), number(p.diameter_m * 1000), number(p.roughness_m * 1000), number(p.loss / MINOR),
      p.shut ? 'CLOSED' : 'OPEN'].join(' ');
  const pipes = net.pipes.map((p, i) => pipe(`L${i}`, node.get(p.from), node.get(p.to), p));
  const head = (pa, density) => pa / (density * GRAVITY);
  // Straight lines keep being straight lines when the drop over a filter, a line itself, is taken off.
  const viscous = lean ? net.filter_pa_s_m3 : 0;
  const curve = net.fan.points.map(([q, p]) =>
    `FAN ${number(toFlow(q))} ${number(head(p - viscous * q, net.fan.density_kg_m3))}`);
  const most = 10 * net.fan.points.at(-1)[0];
  const inlet = node.get('inlet');
  const collector = lean
    ? { pumps: [`FAN ${inlet} ROOM HEAD FAN SPEED ${net.fan.speed}`], valves: [], pipes: [], curves: [] }
    : {
        pumps: [`FAN FIL OUT HEAD FAN SPEED ${net.fan.speed}`],
        valves: [
          `SEP ${inlet} SEP ${number(net.separator.diameter_m * 1000)} TCV ${number(net.separator.loss / MINOR)} 0`,
          `FIL SEP FIL 1000 GPV FILTER 0`,
        ],
        pipes: [pipe('DIS', 'OUT', 'ROOM', net.discharge)],
        curves: ['FILTER 0 0', `FILTER ${number(toFlow(most))} ${number(head(net.filter_pa_s_m3 * most, net.density_kg_m3))}`],
      };
  const options = [
    'UNITS CMH', 'HEADLOSS D-W', `VISCOSITY ${number(net.viscosity_pa_s / net.density_kg_m3 / VISCOSITY)}`,
    `ACCURACY ${accuracy}`, `TRIALS ${trials}`,
    ...(headError ? [`HEADERROR ${headError}`] : []), ...(flowChange ? [`FLOWCHANGE ${flowChange}`] : []),
  ];
  const section = (name, lines) => [`[${name}]`, ...lines, ''].join('\n');
  return [
    section('JUNCTIONS', junctions.map((id) => `${id} 0`)), section('RESERVOIRS', ['ROOM 0']),
    section('PIPES', [...pipes, ...collector.pipes]), section('PUMPS', collector.pumps), section('VALVES', collector.valves),
    section('CURVES', [...curve, ...collector.curves]), section('OPTIONS', options),
    section('TIMES', ['DURATION 0']), section('REPORT', ['STATUS NO', 'SUMMARY NO', 'MESSAGES NO']), '[END]\n',
  ].join('\n');
}

const NO_SAVE_INIT_FLOW = 10; // initH: flows start afresh, nothing is written
const [ITERATIONS, HEAD_ERROR, FLOW_CHANGE] = [0, 2, 3]; // of statistics
const FLOW = 8; // of links
const HEAD = 10; // of nodes

// Engine is one engine with one network open.
export class Engine {
  static async start() {
    const workspace = new Workspace();
    await workspace.loadModule();
    return new Engine(workspace);
  }

  constructor(workspace) {
    this.workspace = workspace;
  }

  open(text) {
    this.close();
    this.project = new Project(this.workspace);
    this.workspace.writeFile('net.inp', text);
    this.project.open('net.inp', 'net.rpt', 'net.out');
    this.project.openH();
  }

  close() {
    this.project?.closeH();
    this.project?.close();
    this.project = undefined;
  }

  // solve solves from a cold start, and nothing else.
  solve() {
    this.project.initH(NO_SAVE_INIT_FLOW);
    this.project.runH();
  }

  iterations() {
    return this.project.getStatistic(ITERATIONS);
  }

  // errors are what is left over: head in m, flow in m³/h.
  errors() {
    return { headError: this.project.getStatistic(HEAD_ERROR), flowChange: this.project.getStatistic(FLOW_CHANGE) };
  }

  // flow in m³/s of a link, by its name in the input.
  flow(id) {
    return fromFlow(this.project.getLinkValue(this.project.getLinkIndex(id), FLOW));
  }

  // pressure in Pa of a node: its head times the weight of the fluid.
  pressure(id, density) {
    return this.project.getNodeValue(this.project.getNodeIndex(id), HEAD) * density * GRAVITY;
  }
}
