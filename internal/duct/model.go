package duct

import (
	"sync"

	"ductward/internal/shop"
)

// usualSpeed (m/s) is the speed of the air from which a solve without anything better starts.
const usualSpeed = 10.0

// dustSpeed (m/s) is about what the air has that carries dust: the one whose frictions a solve starts with.
const dustSpeed = 20.0

// room is the node outside every duct, at 0 Pa.
const room = -1

// Model is the duct model of one collector. It never changes and may be used by several goroutines at once.
type Model struct {
	shop      *shop.Collector
	reference float64 // Pa, at which added leaks are stated
	collector *collector
	inlet     int32   // the collector's node
	inletArea float64 // m², of the largest duct at the inlet

	nodes      []string // names
	edges      []edge   // the collector's is the last
	joints     []joint
	spots      []spot
	spotSquare []float64 // by spot: 1/(2A²) of its carrier, m⁻⁴
	runs       []runParts
	machines   []machineParts
	gates      [][]int32 // by gate: the edges that it shuts
	ports      [][]int32 // by selector: the edges of its ports
	designed   []placedLeak
	parts      []leakPart
	taps       []tap
	touching   [][]int32 // by node: its edges

	from, to []int32    // by edge: nodes; the room is the node after the last
	leg      []legPlace // by edge
	friction []point    // by edge: the friction at dustSpeed, to start from

	pattern *pattern
	places  places
	work    sync.Pool // of *work

	twin *twin // the same ducts with fewer nodes, for states without added leaks; nil: there are none to leave out
}

// legPlace tells of which joint an edge is a leg; -1: of none.
type legPlace struct {
	joint  int32
	branch bool
}

// edge is what lies between two nodes.
type edge struct {
	from, to int32 // nodes, or room
	pipe     pipe
	name     string
	gated    bool // a gate or selector can shut it
}

// spot is a place where a leak can let in air: a node, and the edge whose flow's velocity pressure is to be taken off the
// node's total pressure there (-1: none, still air).
type spot struct{ node, carrier int32 }

// runParts is where a run is found.
type runParts struct {
	run           *shop.Run
	first, second int32 // edges, up to the middle and from there; one and the same where nothing leaks in the middle
	middle        int32 // node; that of the end where there is none
	start         int32 // node, or room
	hood          int32 // edge of the hood's entry before the gate, where the run begins with both; -1: none
}

// machineParts is where a machine is found.
type machineParts struct {
	machine *shop.Machine
	hoods   []int32 // edges by which air enters it: hoods, and ports of moved hoses
	drop    []int32 // edges up to the first joint
	hose    []int32 // of them, those of a moved hose: they are the machine's only while its port is open
	port    int32   // that port's edge; -1: none
}

// leakPart is one part that can leak: at a spot, or across the seats of shut edges.
type leakPart struct {
	name  string
	spot  int32   // -1: at seats
	seats []int32 // edges
}

// placedLeak is a leak law at a part.
type placedLeak struct {
	law  leakLaw
	part int32
	spot int32 // -1: across an edge
	edge int32 // -1: at a spot
}

// ReferenceSuction is the suction (Pa) at which the flow of an added leak is stated.
func (m *Model) ReferenceSuction() float64 { return m.reference }

// LeakParts lists every part that may be given a leak, in the order of the shop file.
func (m *Model) LeakParts() []string {
	out := make([]string, len(m.parts))
	for i, p := range m.parts {
		out[i] = p.name
	}
	return out
}

// SensorChannels lists the channels that the model predicts, in the order of Result.Sensors.
func (m *Model) SensorChannels() []string {
	out := make([]string, len(m.taps))
	for i, t := range m.taps {
		out[i] = t.channel
	}
	return out
}
