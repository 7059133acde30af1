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
	Pulled    float64  // share of its full length to which hose is pulled out, 0.55..1; 0: not given, Stretch holds
	Fittings  []Fitting
	Gate      string  // name of the gate in this run; "" for none
	Tightness Leakage // the seams' leakage as designed; class A when not given
	Hole      float64 // m, diameter of a plain hole in its wall; 0: none
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
	HoseElbow // a bend of the hose itself
)

// PairTurn says how an elbow turns against the elbow right before it.
type PairTurn int

// The ways in which two elbows can follow each other.
const (
	NoPair  PairTurn = iota // nothing was said: each loses as if it were alone
	SameWay                 // in one plane, turning on: a U
	Back                    // in one plane, turning back: an offset, a Z
	Aside                   // into another plane
)

// EntryKind says how a duct end or hood takes in air.
type EntryKind int

// The kinds of entry.
const (
	PlainEntry EntryKind = iota
	FlangedEntry
	BellmouthEntry
	OrificeEntry // a sharp-edged opening, Bore wide, in a plate before the duct
)

// Fitting is one fitting of a run. Which fields count depends on Kind. Every coefficient is on the velocity pressure
// in the run's own diameter.
type Fitting struct {
	Kind          FittingKind
	Angle         float64 // rad: the turn of an elbow, the full cone angle of a contraction or expansion
	RadiusRatio   float64 // over diameter: centre-line radius of an elbow, rounding of a bell mouth (0: well rounded)
	Make          ElbowMake
	Pieces        int // of a gored elbow
	Pair          PairTurn
	Spacing       float64 // straight duct between the elbow before and this one, in diameters; where Pair is set
	Entry         EntryKind
	Bore          float64 // m, of an orifice entry
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
	Class string  // as the file names it: "A", "SMACNA A", "CL 12", …; "none": no seams; "": C was given
	C     float64 // m³/s per m² of duct surface at 1 Pa
	N     float64 // exponent; 0.65 when not given
}

// JunctionKind says how two streams join.
type JunctionKind int

// The kinds of junction.
const (
	Lossless JunctionKind = iota // has no loss of its own: coefficients stand on the runs
	Wye                          // a branch at Angle into a straight main; a tee is one of 90°
	Splitter                     // one drop parted to two legs, each at Angle
)

// Junction joins two or more runs. A wye has exactly one straight run, one branch and one run that leaves, a splitter
// two legs (Straight and Branch, which is which does not matter) and one run that leaves.
type Junction struct {
	Name     string
	Kind     JunctionKind
	Angle    float64 // rad between branch and main, or between each leg of a splitter and the run that leaves
	Straight string  // run
	Branch   string  // run
	Swept    float64 // radius of the corner at which the branch enters, over the branch's diameter; 0: sharp
	Handbook bool    // wide branches lose as Idelchik and Crane have it, and not as momentum alone does
	Line     int
}

// Stub is a capped end, kept for a machine to come.
type Stub struct {
	Name string
	Line int
}

// GateKind says what stands in the air's way when a gate is open.
type GateKind int

// The kinds of gate.
const (
	FullBore  GateKind = iota // the slide leaves the whole bore free
	Framed                    // its frame is narrower than the pipe: Bore
	Butterfly                 // its blade stays in the air
)

// Gate shuts a run.
type Gate struct {
	Name     string
	Was      []string
	Kind     GateKind
	Bore     float64 // m, the free bore of a Framed gate
	Opens    float64 // share of the diameter that the slide clears when open, 0.2..1; 0 for 1
	Open     float64 // loss coefficient when open, on the run's velocity pressure; NaN: it follows from the above
	SeatLeak float64 // m³/s past the shut gate at the reference suction of 1500 Pa; 0 when not given
	SeatN    float64 // exponent of that leak; 0 for 0.65
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
