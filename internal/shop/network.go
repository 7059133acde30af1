package shop

// EndKind says what a run begins or ends at.
type EndKind int

// The kinds of end that a run can have.
const (
	EndNone      EndKind = iota
	EndMachine           // a machine's hood: air enters from the room
	EndRun               // the start of another run
	EndJunction          // a junction
	EndSelector          // as From: a selector's outlet; as To: one of its ports
	EndStub              // a capped end
	EndCollector         // the collector's inlet
)

// End names what a run begins or ends at.
type End struct {
	Kind EndKind
	Name string // "" for the collector
}

// Network is the drawing of the ducts of one collector.
type Network struct {
	Runs      []*Run
	Junctions []*Junction
	Stubs     []*Stub
}

// Run is a stretch of duct of one diameter and material, with its fittings in the order in which the air meets them.
type Run struct {
	Name      string
	Was       []string // earlier names
	From, To  End      // From is EndNone where the run begins at the end of the run whose To names it
	Diameter  float64  // m
	Length    float64  // m of straight duct
	Material  string   // a name from Materials, "" where Roughness was given
	Roughness float64  // m, absolute
	Flexible  bool     // flexible hose
	Stretch   float64  // factor ≥ 1 on the friction of hose that is not fully stretched; 1 when not given
	Fittings  []Fitting
	Gate      string  // name of the gate in this run; "" for none
	Tightness Leakage // the seams' leakage as designed; class A when not given
	Rating    float64 // Pa of suction; NaN: the collector's rating holds
	Line      int
}

// FittingKind says what a fitting is.
type FittingKind int

// The fittings that a run can hold.
const (
	Elbow        FittingKind = iota
	Entry                    // a hood or duct end
	Contraction              // from LargeDiameter to the run's own
	Expansion                // from the run's own to LargeDiameter
	Screen                   // Coefficient by free area
	FixedLoss                // a stated coefficient
	MeasuredLoss             // one measured point: MeasuredDrop at MeasuredFlow
)

// ElbowMake says how an elbow is made.
type ElbowMake int

// The makes of elbow.
const (
	SmoothElbow ElbowMake = iota
	GoredElbow            // Pieces pieces
	MitredElbow
)

// EntryKind says how a duct end or hood takes in air.
type EntryKind int

// The kinds of entry.
const (
	PlainEntry EntryKind = iota
	FlangedEntry
	BellmouthEntry
)

// Fitting is one fitting of a run. Which fields count depends on Kind. Every coefficient is on the velocity pressure
// in the run's own diameter.
type Fitting struct {
	Kind          FittingKind
	Angle         float64 // rad: the turn of an elbow, the full cone angle of a contraction or expansion
	RadiusRatio   float64 // centre-line radius over diameter of an elbow
	Make          ElbowMake
	Pieces        int // of a gored elbow
	Entry         EntryKind
	LargeDiameter float64 // m
	FreeArea      float64 // of a screen, 0..1
	Coefficient   float64 // of a FixedLoss
	MeasuredDrop  float64 // Pa
	MeasuredFlow  float64 // m³/s
	What          string  // the owner's words for it
	Line          int
}

// Leakage is a leak law per duct surface: Q = C·A·Δp^N.
type Leakage struct {
	Class string  // "A".."D" of EN 12237, "CL 12" of SMACNA, "none" for a duct without seams, "" where C was given
	C     float64 // m³/s per m² of duct surface at 1 Pa
	N     float64 // exponent; 0.65 when not given
}

// JunctionKind says how two streams join.
type JunctionKind int

// The kinds of junction.
const (
	Lossless JunctionKind = iota // has no loss of its own: coefficients stand on the runs
	Wye                          // a branch at Angle into a straight main
)

// Junction joins two or more runs. A wye has exactly one straight run, one branch and one run that leaves.
type Junction struct {
	Name     string
	Kind     JunctionKind
	Angle    float64 // rad between branch and main
	Straight string  // run
	Branch   string  // run
	Line     int
}

// Stub is a capped end, kept for a machine to come.
type Stub struct {
	Name string
	Line int
}

// Gate is a slide that shuts a run.
type Gate struct {
	Name     string
	Was      []string
	Open     float64 // loss coefficient when open, on the run's velocity pressure; 0.05 when not given
	SeatLeak float64 // m³/s past the shut gate at the reference suction of 1500 Pa; 0 when not given
	Position *Source // nil: not known
	Line     int
}

// Selector joins one of its ports to its outlet. A hose that is moved between machines is a selector with Hose set,
// whose ports are machines; otherwise its ports are the runs that end at it.
type Selector struct {
	Name     string
	Was      []string
	Hose     bool
	Ports    []string // machines (Hose) or runs, in the order of their numbers 1, 2, …
	SeatLeak float64  // m³/s past each shut port at 1500 Pa
	Position *Source
	Line     int
}

// Machine is a machine with the air that it needs.
type Machine struct {
	Name  string
	Was   []string
	Needs float64 // m³/s; NaN: not stated
	Line  int
}

// Setting is the position of everything that moves. A gate that is missing is shut; a selector that is missing joins
// no port.
type Setting struct {
	Open map[string]bool // by gate name
	Port map[string]int  // by selector name: 1.. of its ports, 0 for none
}
